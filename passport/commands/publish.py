"""`publish`: from records to the site, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

import click

from passport.commands import desk
from passport.commands.stages import pictures_of, themed, worded, worked_out
from passport.pages.pictures import Ready
from passport.pages.plan import site_files
from passport.pages.render import ThemeError
from passport.pages.theme import Theme
from passport.pages.words import MissingWordError
from passport.problems import errors_in
from passport.publish import PlannedFile, publish
from passport.tags.faces import LabelError
from passport.verdicts.book import Book


@click.command()
@desk.at_option
@click.option("--may-shrink", is_flag=True, help="Allow pages of tags and lots to go that the site has now.")
@desk.folder_option
def command(at: date | None, folder: Path, *, may_shrink: bool) -> None:
    """Build site/ from content/: a page and a label for each tag, and the material log.

    The new site is built aside and takes the old one's place in one step; unchanged files are left alone, and
    a second run from the same records writes nothing. With errors in the records nothing is published.

    \b
    Example:
      passport publish
      passport publish --at 2026-06-30
    """
    book, problems = worked_out(folder, at)
    theme, of_theme = themed(folder, book.shop)
    pictures, of_pictures = pictures_of(folder, book.shop)
    problems = (*problems, *of_theme, *worded(book, theme), *of_pictures)
    if errors_in(problems):
        desk.stop(problems)
    top = folder.resolve()
    with desk.refusals():
        outcome = publish(
            _planned(book, theme, pictures),
            top / "site",
            must_answer=[f"T/{tag}/index.html" for tag in book.lives],
            may_shrink=may_shrink,
            sources=[top / "content", top / "private", top / "theme"],
            progress=desk.counter("files"),
            say=desk.say,
        )
    desk.show(outcome.problems)
    doubts = desk.doubts_in(problems)
    said = f"{len(outcome.written)} written, {len(outcome.removed)} removed, {outcome.kept} unchanged"
    plural = "" if doubts == 1 else "s"
    desk.say(f"site/: {said}; {doubts} doubt{plural} on its pages (passport check names them)")


def _planned(book: Book, theme: Theme, pictures: Mapping[str, Ready]) -> Iterator[PlannedFile]:
    try:
        for leaf in site_files(book, theme, pictures):
            yield PlannedFile(leaf.path, leaf.made())
    except LabelError as slip:
        desk.stop(slip.problems)
    except (ThemeError, MissingWordError) as slip:
        desk.stop([slip.problem])
