"""What every command shares: where the folder is, reading it, printing problems, ending with the right code."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from passport.disk import Refused
from passport.office.codes import PROBLEMS
from passport.problems import Level, Problem, errors_in, in_order, in_words, tally

if TYPE_CHECKING:  # the readers are heavy, and a run that has nothing to do needs none of them
    from passport.reading.shop import Shop
    from passport.reading.trees import Trees

WORTH_COUNTING = 200
"""Files from which on a person wants to see that something moves."""

F = TypeVar("F", bound=Callable[..., Any])


class _Day(click.ParamType):  # type: ignore[type-arg]  # generic only in newer versions
    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        from passport.amounts import NotAQuantity  # noqa: PLC0415
        from passport.reading.fields import read_date  # noqa: PLC0415

        if isinstance(value, date):
            return value
        try:
            return read_date(value)
        except NotAQuantity as slip:
            self.fail(f"{slip}; {slip.hint}", param, ctx)


DAY = _Day()

folder_option = click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="The workshop's folder, the one that holds content/. Default: where you stand.",
)
at_option = click.option("--at", type=DAY, help="As of this day (2026-04-11). Default: the latest date in the records.")
json_option = click.option("--json", "as_json", is_flag=True, help="For another program: JSON on standard output.")


def say(text: str = "") -> None:
    """A line for the person, on standard error: standard output is for results."""
    click.echo(text, err=True)


def show(problems: Iterable[Problem]) -> None:
    """Print problems in order of place."""
    for problem in in_order(problems):
        say(in_words(problem))


def stop(problems: Iterable[Problem]) -> NoReturn:
    """Print problems and end with 1."""
    found = in_order(problems)
    show(found)
    say(tally(found))
    raise SystemExit(PROBLEMS)


@contextmanager
def refusals() -> Iterator[None]:
    """Turn a refusal of the disk's stages into printed problems and exit code 1."""
    try:
        yield
    except Refused as refused:
        stop(refused.problems)


def read_records(folder: Path, trees: Trees | None = None) -> tuple[Shop, tuple[Problem, ...]]:
    """The shop of a folder with its doubts; with errors, they are printed and the command ends."""
    from passport.reading.folder import read_shop  # noqa: PLC0415
    from passport.writing import steady  # noqa: PLC0415

    content = content_of(folder)
    with refusals():
        if not content.is_dir():
            shop, problems = read_shop(content)
        else:
            with steady(content, say=say):
                shop, problems = read_shop(content, progress=counter("records"), trees=trees)
    if shop is None or errors_in(problems):
        stop(problems)
    return shop, problems


def content_of(folder: Path) -> Path:
    """The folder of records."""
    return folder.resolve() / "content"


def counter(what: str) -> Callable[..., None] | None:
    """A running count on a terminal; nothing where the output goes to a file."""
    if not sys.stderr.isatty():
        return None

    def tick(number: int, *_: object) -> None:
        if number >= WORTH_COUNTING:  # what is done at once needs no count
            click.echo(f"\r{number} {what} \r", nl=False, err=True)

    return tick


def doubts_in(problems: Iterable[Problem]) -> int:
    """How many of the problems are doubts."""
    return sum(problem.level is Level.DOUBT for problem in problems)


def exact_kg(mass: Fraction | None) -> str:
    """Kilograms to the gram, as text; "not weighed" for none."""
    if mass is None:
        return "not weighed"
    grams = round(mass * 1000)
    return f"{'-' if grams < 0 else ''}{abs(grams) // 1000}.{abs(grams) % 1000:03}"


def plain_problem(problem: Problem) -> dict[str, object]:
    """A problem for another program."""
    place = problem.place
    return {
        "level": problem.level.value,
        "code": problem.code,
        "file": place.file,
        "line": place.line,
        "column": place.column,
        "message": problem.message,
        "hint": problem.hint,
        "about": problem.about,
    }
