"""Where printed things go: in which language they speak, and onto the disk, whole or not at all."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path

import click

from passport import disk
from passport.office import desk
from passport.office.label_kinds import Files
from passport.pages.scribe import Scribe
from passport.problems import Problem


def in_language(written: Sequence[Scribe], language: str | None) -> Scribe:
    """The scribe of a language, the first where none is asked for; another language ends the command."""
    for scribe in written:
        if language in (None, scribe.lang):
            return scribe
    known = ", ".join(scribe.lang for scribe in written)
    message = f'met "{language}" for --language, wanted one that the workshop has: {known}'
    return desk.stop(
        [Problem(code="language-unknown", message=message, hint="`languages:` in workshop.yaml names them")]
    )


def write_files(folder: Path, out: Path, files: Files) -> None:
    """All files under other names first: a full disk leaves what was there before."""
    _refuse_own_folders(folder.resolve(), out.resolve())
    parts: list[tuple[Path, Path]] = []
    try:
        with desk.refusals(), disk.worded("labels-not-written", out):
            out.mkdir(parents=True, exist_ok=True)
            for name, content in files.items():
                part = out / f".{name}.part"
                part.unlink(missing_ok=True)
                parts.append((part, out / name))
                disk.write_new(part, content, sync=True)
            for part, whole in parts:
                part.replace(whole)
                click.echo(str(whole))
    finally:
        for part, _ in parts:
            with contextlib.suppress(OSError):  # the next run clears it
                part.unlink(missing_ok=True)


def _refuse_own_folders(top: Path, out: Path) -> None:
    """site/ is built anew each time, and nothing but records lies in content/."""
    for name, why in (("site", "site/ is built anew each time"), ("content", "content/ holds records only")):
        if out.is_relative_to(top / name):
            message = f"met {out} for labels, wanted a folder outside {name}/"
            desk.stop([Problem(code=f"labels-in-{name}", message=message, hint=why)])
