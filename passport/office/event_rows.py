"""A table of events → events, or every problem of every row by its column: all of the table or none of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from passport.amounts import NotAQuantity
from passport.office.event_kinds import ELSEWHERE, EventKind, event_kinds, own_fields, read_as
from passport.office.typed import issued_tag, known_lot
from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import quoted
from passport.reading.records import Weathering
from passport.reading.shop import Shop
from passport.reading.spreadsheet import Row, column_problems, read_day, with_points, writes_commas

UNITS = {"mass_kg": "kg", "mass_g": "g"}
"""Columns of bare numbers, and the unit that their heading says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowEvent:
    """One event of a table: its fields as a record writes them, and where they stand."""

    row: Row
    fields: Mapping[str, str]

    @property
    def about(self) -> str:
        """The tag or lot that it happened to."""
        return self.fields.get("tag") or self.fields.get("lot") or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """How a table is to be read.

    given: fields for all rows whose own cell is empty, such as the day of a fair.
    order: how it writes days like 03/04/2026, one of `spreadsheet.ORDERS`; "" where nobody said.
    """

    shop: Shop
    issued: frozenset[str]
    given: Mapping[str, str] = field(default_factory=dict)
    order: str = ""
    commas: bool = False
    """Whether its numbers are written with decimal commas."""


def events_of(table: Table, rows: Sequence[Row]) -> tuple[tuple[RowEvent, ...], tuple[Problem, ...]]:
    """The events of all rows in their order, and what is wrong with any of them."""
    if not rows:
        return (), ()
    wrong = tuple(_columns(table, rows[0]))
    if wrong:
        return (), wrong
    texts = (cell for row in rows for name, cell in row.cells.items() if name.casefold().startswith("mass"))
    table = dataclasses.replace(table, commas=writes_commas(texts))
    found: list[RowEvent] = []
    problems: list[Problem] = []
    for row in rows:
        event = _event(table, row)
        problems += event if isinstance(event, list) else ()
        found += [event] if isinstance(event, RowEvent) else []
    return tuple(found), (*problems, *_twice(found))


def _columns(table: Table, first: Row) -> Iterator[Problem]:
    known = ("date", "tag", "lot", "event", *own_fields(), *UNITS)
    yield from column_problems(first, known, tuple(name for name in ("date", "event") if name not in table.given))
    if not {"tag", "lot"} & {name.casefold() for name in first.cells}:
        hint = "a column `tag` for events of things, `lot` for those of lots, or both"
        message = 'met neither a column "tag" nor a column "lot", wanted one'
        yield Problem(code="missing-column", message=message, place=Place(first.file, 1, 1), hint=hint)


def _event(table: Table, row: Row) -> RowEvent | list[Problem]:
    """One row as an event, or all that is wrong with it."""
    cells = {name.casefold(): (name, cell) for name, cell in row.cells.items() if cell}
    word = cells["event"][1] if "event" in cells else table.given.get("event", "")
    kind = event_kinds().get(word.lower().replace(" ", "-"))
    if kind is None or kind.word in ELSEWHERE:
        return [_no_kind(row, cells, word)]
    problems: list[Problem] = []
    fields: dict[str, str] = {}
    for name in ("date", kind.subject, "event", *kind.fields):
        text = kind.word if name == "event" else _text(table, row, cells, kind, name, problems)
        if text:
            fields[name] = text
    used = {"date", kind.subject, "event", *kind.fields, *(UNITS if "mass" in kind.fields else ())}
    problems += [_idle(row, heading, kind) for name, (heading, _) in cells.items() if name not in used]
    return problems or RowEvent(row=row, fields=fields)


Cells = Mapping[str, tuple[str, str]]


def _text(table: Table, row: Row, cells: Cells, kind: EventKind, name: str, problems: list[Problem]) -> str:
    """The text of one field, read as its record will read it; a problem is added where it cannot be."""
    heading, cell, unit = _cell(cells, name)
    cell = cell or table.given.get(name, "")
    needed = name in ("date", kind.subject, *kind.needed)
    place = row.place(heading)
    if not cell:
        if needed:
            column = next((written for written in row.cells if written.casefold() == name), "")
            hint = "leave out the row, or fill in the cell" if column else f"give the table a column `{name}`"
            message = f'met no {name} for "{kind.word}", wanted one'
            problems.append(_problem("missing-cell", message, row.place(column), hint))
        return ""
    try:
        return _read(table, kind, name, f"{cell} {unit}".strip(), place, problems)
    except NotAQuantity as slip:
        message = f"met {quoted(cell)} as {name}, wanted {slip.wanted}"
        problems.append(_problem(f"bad-{name}", message, place, slip.hint))
        return ""


def _cell(cells: Cells, name: str) -> tuple[str, str, str]:
    """Heading, text and unit of a field's cell; three times nothing where it is empty."""
    if name == "mass":
        for column, unit in UNITS.items():
            if column in cells:
                return (*cells[column], unit)
    return (*cells.get(name, ("", "")), "")


def _read(table: Table, kind: EventKind, name: str, text: str, place: Place, problems: list[Problem]) -> str:
    if name == "date":
        return read_day(text, table.order).isoformat()
    if name in ("tag", "lot"):
        prefix = table.shop.workshop.prefix
        found = issued_tag(text, prefix, table.issued, place) if name == "tag" else known_lot(text, table.shop, place)
        problems += [found] if isinstance(found, Problem) else []
        return found if isinstance(found, str) else ""
    if name == "mass":
        text = with_points(text, commas=table.commas)
    if name == "weathering":
        text = text.lower()
        if text not in (words := [word.value for word in Weathering]):
            raise NotAQuantity(text, f"one of {', '.join(words)}", did_you_mean(text, words))
    read_as(kind, name)(text)
    return text


def _no_kind(row: Row, cells: Cells, word: str) -> Problem:
    heading = cells["event"][0] if "event" in cells else ""
    if not word:
        return _problem(
            "missing-cell", "met no event, wanted one", row.place(heading), "leave out the row, or fill it in"
        )
    known = [name for name in event_kinds() if name not in ELSEWHERE]
    hint = ELSEWHERE.get(word) or did_you_mean(word, known) or f"the events are {', '.join(known)}"
    return _problem(
        "unknown-event", f"met {quoted(word)} as event, wanted one of a table's events", row.place(heading), hint
    )


def _idle(row: Row, heading: str, kind: EventKind) -> Problem:
    message = (
        f"met {quoted(row.cells[heading])} as {heading}, wanted the cell empty: {kind.word} has no {heading.casefold()}"
    )
    return _problem(
        "idle-cell", message, row.place(heading), f"its columns are {', '.join((kind.subject, *kind.fields))}"
    )


def _twice(events: Sequence[RowEvent]) -> Iterator[Problem]:
    first: dict[tuple[tuple[str, str], ...], int] = {}
    for event in events:
        key = tuple(event.fields.items())
        if key in first:
            message = f"met row {first[key]} again, wanted each event once"
            yield _problem("row-twice", message, event.row.place(), "delete one of the two")
        first.setdefault(key, event.row.number)


def _problem(code: str, message: str, place: Place, hint: str) -> Problem:
    return Problem(code=code, message=message, place=place, hint=hint)


# --- back from the records ----------------------------------------------------------------------------


def placed_in(events: Sequence[RowEvent], lines: Mapping[tuple[str, int], RowEvent]) -> Callable[[Problem], Problem]:
    """Gives a problem of the records the row that it came from.

    lines: the event on each line that is to be written, by file and line number. A problem about an older
    event of a thing in the table keeps that place in its hint.
    """
    by_name = {event.about: event for event in reversed(events)}

    def placed(problem: Problem) -> Problem:
        of_line = lines.get((problem.place.file, problem.place.line))
        event = of_line or by_name.get(problem.about)
        if event is None:
            return problem
        hint = problem.hint if of_line else f"{problem.hint}; see {problem.place} too".lstrip("; ")
        return dataclasses.replace(problem, place=event.row.place(), hint=hint)

    return placed
