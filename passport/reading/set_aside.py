"""The list of numbers set aside for sacks that are still to come in: their cards hang before their records exist.

An append-only CSV file (UTF-8, a header line), written by the tool. A number stays in it when its record comes.
Unlike tags these numbers are on no thing that left, so the list has no seal: a line may be struck out by hand
where its card was thrown away.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from passport.amounts import NotAQuantity
from passport.problems import Place, Problem
from passport.reading.fields import ID_WANTED, quoted, read_date, read_id

LIST = "numbers-set-aside.csv"
HEADER = "lot,set_aside"
_MARKS = ("<<<<<<<", "|||||||", "=======", ">>>>>>>")
RESOLVE = (
    "two copies set numbers aside apart: keep the lines of the side whose cards hang on sacks already, delete the "
    "other side's lines and the marker lines, and set new numbers aside for the others"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """One number that a card was printed for."""

    lot: str
    day: dt.date
    """The day on which it was set aside."""
    place: Place


def set_aside_line(lot: str, day: dt.date) -> str:
    """A line to append, without a line end."""
    return f"{lot},{day.isoformat()}"


def read_set_aside(text: str, file: str) -> tuple[tuple[SetAside, ...], tuple[Problem, ...]]:
    """The list and everything wrong with it. No text at all is an empty list."""
    lines = [(Place(file, n, 1, line), line) for n, line in enumerate(text.splitlines(), start=1) if line]
    if not lines:
        return (), ()
    entries = tuple(_entries(lines))
    found = tuple(entry for entry in entries if isinstance(entry, SetAside))
    return found, tuple(entry for entry in entries if isinstance(entry, Problem))


def _entries(lines: list[tuple[Place, str]]) -> Iterator[SetAside | Problem]:
    place, head = lines[0]
    if any(line.startswith(_MARKS) for _, line in lines):
        place = next(where for where, line in lines if line.startswith(_MARKS))
        yield _wrong("set-aside-conflict", place, "a merge conflict stands here", RESOLVE)
        return
    if head != HEADER:
        yield _wrong("set-aside-header", place, f'met {quoted(head)}, wanted "{HEADER}"', "put the first line back")
    seen: set[str] = set()
    for place, line in lines[1:]:
        entry = _entry(place, line)
        if isinstance(entry, SetAside) and entry.lot in seen:
            yield _wrong("set-aside-twice", place, f"met {entry.lot} again, wanted each number once", RESOLVE)
            continue
        if isinstance(entry, SetAside):
            seen.add(entry.lot)
        yield entry


def _entry(place: Place, line: str) -> SetAside | Problem:
    lot, _, day = line.partition(",")
    try:
        return SetAside(lot=read_id(lot), day=read_date(day), place=place)
    except NotAQuantity as slip:
        wanted = "a number and a day, such as IN-041,2026-05-02"
        hint = "" if slip.wanted == ID_WANTED else slip.hint
        return _wrong("set-aside-line", place, f"met {quoted(line)}, wanted {wanted}", hint)


def _wrong(code: str, place: Place, message: str, hint: str) -> Problem:
    return Problem(code=code, message=message, place=place, hint=hint)
