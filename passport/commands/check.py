"""`check`: everything that is wrong or doubtful, in one go."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import click

from passport.office import desk
from passport.office.codes import OK, PROBLEMS
from passport.problems import Problem, errors_in, in_order, tally


@click.command()
@desk.at_option
@desk.json_option
@desk.folder_option
def command(at: date | None, folder: Path, *, as_json: bool) -> None:
    """Read all records, work everything out, and say what is wrong or doubtful.

    Errors stop a publication; doubts are shown on the pages; advice is for the desk. Ends with 1 where there
    are errors, else with 0.

    \b
    Example:
      passport check
      passport check --json
    """
    problems = in_order(_all_problems(folder, at))
    if as_json:
        click.echo(json.dumps([desk.plain_problem(problem) for problem in problems], ensure_ascii=False, indent=1))
    else:
        desk.show(problems)
        desk.say(tally(problems))
    raise SystemExit(PROBLEMS if errors_in(problems) else OK)


def _all_problems(folder: Path, at: date | None) -> tuple[Problem, ...]:
    from passport.kept.box import Boxes  # noqa: PLC0415
    from passport.kept.pictures import KeptPictures  # noqa: PLC0415
    from passport.kept.prints import program_print  # noqa: PLC0415
    from passport.office.stages import OWN_THEME, address_errors, pictures_of, themed, trial_problems, worded  # noqa: PLC0415
    from passport.reading.folder import read_shop  # noqa: PLC0415
    from passport.reading.glossary import glossary_gaps  # noqa: PLC0415
    from passport.reading.trees import Trees  # noqa: PLC0415
    from passport.verdicts.book import work_out  # noqa: PLC0415
    from passport.writing import steady  # noqa: PLC0415

    content = desk.content_of(folder)
    if not content.is_dir():
        return read_shop(content)[1]
    boxes = Boxes(content.parent, program_print())
    with desk.refusals(), steady(content, say=desk.say):
        shop, problems = read_shop(content, progress=desk.counter("records"), trees=Trees(boxes.load("records")))
    if shop is None or errors_in(problems):
        return problems
    book = work_out(shop, at)
    theme, of_theme = themed(folder, shop)
    # the theme that comes with the program is tried by its tests; the log of a large workshop takes long to print
    own = (content.parent / OWN_THEME).is_dir() and not errors_in((*book.problems, *of_theme))
    tried = trial_problems(book, theme) if own else ()
    kept = KeptPictures(boxes.load("pictures"), content.parent / "site")
    return (
        *problems,
        *address_errors(shop),
        *glossary_gaps(shop),
        *book.problems,
        *of_theme,
        *worded(book, theme),
        *tried,
        *pictures_of(folder, shop, kept.ready)[1],
    )
