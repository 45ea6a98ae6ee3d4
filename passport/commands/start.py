"""`start`: a new folder with a small commented example that publishes at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import click

from passport.commands import desk
from passport.commands.tag import LIST, numbers_for
from passport.problems import Place, Problem
from passport.reading.folder import read_shop
from passport.reading.tag_lists import ISSUED_HEADER
from passport.writing import AppendLines, NewFile, sole_writer

STARTED = dt.date(2026, 1, 31)
"""The day on which the example's tags are issued: fixed, so that everybody starts from the same records."""


@click.command()
@click.argument("name", type=click.Path(path_type=Path))
def command(name: Path) -> None:
    """Make the folder NAME with a small example in it: one stream, a few lots, a product, two things.

    Each line of the example is explained beside it; change it to your own workshop.

    \b
    Example:
      passport start demo && cd demo && passport publish
    """
    if name.exists() and (not name.is_dir() or any(name.iterdir())):
        hint = "take another name, or empty the folder first"
        message = f'met "{name}", which is there already'
        desk.stop([Problem(code="folder-taken", message=message, place=Place(str(name)), hint=hint)])
    _write(name)
    desk.say(f"{name}/ is ready. Next:")
    desk.say(f"  cd {name}\n  passport check\n  passport publish\n  passport preview")


def _write(name: Path) -> None:
    starter = files("passport") / "starter"
    content = name / "content"
    content.mkdir(parents=True)
    (name / "README.md").write_text((starter / "README.md").read_text(encoding="utf-8"), encoding="utf-8")
    (name / ".gitignore").write_text("private/\nlabels-out/\n", encoding="utf-8")
    # the seals of the lists stand over bytes: version control must not change their line ends
    (name / ".gitattributes").write_text("content/*.csv -text\n", encoding="utf-8")
    with desk.refusals(), sole_writer(content) as writer:
        writer.write([NewFile(path, text) for path, text in _records(starter / "content")])
        shop, problems = read_shop(content)
        if shop is None:
            desk.stop(problems)
        for item in shop.items.values():
            writer.write([AppendLines(LIST, numbers_for(shop, item, None, STARTED), ISSUED_HEADER.rstrip("\n"))])


def _records(folder: Traversable, above: str = "") -> Iterator[tuple[str, str]]:
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.is_dir():
            yield from _records(entry, f"{above}{entry.name}/")
        elif entry.name.endswith(".yaml"):
            yield above + entry.name, entry.read_text(encoding="utf-8")
