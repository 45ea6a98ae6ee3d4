"""`start`: a new folder, either with your own workshop in it or with a small example that publishes at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import click

from passport import disk
from passport.office import desk
from passport.office.asking import Asked, at_a_terminal
from passport.office.five_questions import workshop_record
from passport.office.numbers import LIST, numbers_for
from passport.problems import Place, Problem
from passport.reading.folder import read_shop
from passport.reading.tag_lists import ISSUED_HEADER
from passport.writing import AppendLines, Change, NewFile, as_it_will_be, sole_writer

STARTED = dt.date(2026, 1, 31)
"""The day on which the example's tags are issued: fixed, so that everybody starts from the same records."""
WORKSHOP = "workshop.yaml"
KEPT_OUT = "private/\nlabels-out/\ndeposits/\n"
"""What version control leaves alone."""
ATTRIBUTES = "content/*.csv -text\n"
"""The seals of the lists stand over bytes: version control must not change their line ends."""


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="NAME")
@click.option("--example", is_flag=True, help="With the example in it, whoever asks.")
@click.option("--name", metavar="TEXT", help="The workshop's name, as it stands over every page.")
@click.option("--address", metavar="URL", help="The web address of the site; it goes into every QR symbol.")
@click.option("--prefix", metavar="XX", help="First part of each tag number.")
@click.option("--languages", metavar="XX", help='Of the pages, the first one first: "en, fr".')
@click.option("--scales", metavar="TEXT", help='Each with its smallest step: "floor 0.1 kg, bench 1 g".')
def command(folder: Path, *, example: bool, **given: str | None) -> None:
    """Make the folder NAME for your workshop. Five questions are asked, and each is an option too.

    With --example, or where nobody is there to be asked, it holds a small example instead: one stream, a few lots,
    a product, two things, each line with its explanation beside it.

    \b
    Example:
      passport start yard
      passport start demo --example && cd demo && passport publish
      passport start yard --name "Reedmouth Yard" --prefix RY --languages "en, fr" --scales "floor 0.1 kg"
    """
    _refuse_taken(folder)
    own = not example and (at_a_terminal() or any(given.values()))
    if example and any(given.values()):
        raise click.UsageError("--example brings its own workshop; change content/workshop.yaml afterwards")
    starter = files("passport") / "starter"
    if own:
        ask = Asked(given=given)
        record = workshop_record(ask, (starter / "content" / WORKSHOP).read_text(encoding="utf-8"))
        ask.say_what_is_open()
        _write(folder, (starter / "README-own.md").read_text(encoding="utf-8"), {WORKSHOP: record})
    else:
        _write(folder, (starter / "README.md").read_text(encoding="utf-8"), dict(_records(starter / "content")))
    _say_next(folder, own=own)


def _say_next(folder: Path, *, own: bool) -> None:
    desk.say(f"{folder}/ is ready. Next:")
    steps = ("receive", "check") if own else ("check", "publish", "preview")
    desk.say("\n".join([f"  cd {folder}", *(f"  passport {step}" for step in steps)]))


def _refuse_taken(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        hint = "take another name, or empty the folder first"
        message = f'met "{folder}", which is there already'
        desk.stop([Problem(code="folder-taken", message=message, place=Place(str(folder)), hint=hint)])


# --- writing ----------------------------------------------------------------------------------------------


def _write(folder: Path, readme: str, records: Mapping[str, str]) -> None:
    """All under another name first, which then gets its own: a kill leaves no half of a workshop.

    Who stands in the empty folder keeps it, since it cannot be changed for another one under their feet.
    """
    target = folder.resolve()
    aside = target if target == Path.cwd() else target.with_name(f".{target.name}.part")
    with desk.refusals(), disk.worded("folder-not-made", target):
        if aside != target:
            disk.remove_tree(aside)
        _fill(aside, readme, records)
        if aside != target:
            if target.exists():
                target.rmdir()
            aside.rename(target)
            disk.sync_folder(target.parent)


def _fill(folder: Path, readme: str, records: Mapping[str, str]) -> None:
    content = folder / "content"
    content.mkdir(parents=True)
    with sole_writer(content) as writer:
        writer.write(_with_numbers(content, [NewFile(path, text) for path, text in records.items()]))
    beside = {"README.md": readme, ".gitignore": KEPT_OUT, ".gitattributes": ATTRIBUTES}
    for name, text in beside.items():
        disk.write_new(folder / name, text.encode(), sync=True)


def _with_numbers(content: Path, changes: list[Change]) -> list[Change]:
    """The records, and a number for each thing of theirs."""
    shop, problems = read_shop(content, added=as_it_will_be(content, changes))
    if shop is None:
        desk.stop(problems)
    lines = [line for item in shop.items.values() for line in numbers_for(shop, item, None, STARTED)]
    return [*changes, AppendLines(LIST, tuple(lines), ISSUED_HEADER.rstrip("\n"))] if lines else changes


def _records(folder: Traversable, above: str = "") -> Iterator[tuple[str, str]]:
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.is_dir():
            yield from _records(entry, f"{above}{entry.name}/")
        elif entry.name.endswith(".yaml"):
            yield above + entry.name, entry.read_text(encoding="utf-8")
