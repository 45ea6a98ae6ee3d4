"""`publish`: from records to the site, whole or not at all."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from passport.office import desk
from passport.office.unchanged import Run, unchanged


@click.command()
@desk.at_option
@click.option("--may-shrink", is_flag=True, help="Allow pages of tags and lots to go that the site has now.")
@click.option("--cores", type=click.IntRange(1, 64), help="How many to use. Default: all there are, four at most.")
@click.option("--afresh", is_flag=True, help="Make everything anew, and forget what was kept in .passport/.")
@desk.folder_option
def command(at: date | None, folder: Path, *, may_shrink: bool, cores: int | None, afresh: bool) -> None:
    """Build site/ from content/: a page and a label for each tag, and the material log.

    The new site is built aside and takes the old one's place in one step; unchanged files are left alone, and
    a second run from the same records writes nothing. With errors in the records nothing is published.

    \b
    Example:
      passport publish
      passport publish --at 2026-06-30
    """
    run = Run(folder, at, cores)
    if afresh:
        run.boxes.forget()
    with desk.refusals():
        doubts = unchanged(run)
        if doubts is not None:
            desk.say(summary(0, 0, run.files, doubts))
            return
    from passport.office.publishing import publish_anew  # noqa: PLC0415

    outcome, doubts = publish_anew(run, may_shrink=may_shrink)
    desk.show(outcome.problems)
    desk.say(summary(len(outcome.written), len(outcome.removed), outcome.kept, doubts))


def summary(written: int, removed: int, kept: int, doubts: int) -> str:
    """The one line that says what a publication did."""
    plural = "" if doubts == 1 else "s"
    said = f"{written} written, {removed} removed, {kept} unchanged"
    return f"site/: {said}; {doubts} doubt{plural} on its pages (passport check names them)"
