"""Cells → a table: which rows are its headings, what units they say, which rows are no entries.

People's tables have titles above them, headings merged over several columns, units in the headings, blank rows,
headings again on each printed page, and totals at the end. What is left out is said.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from passport.problems import Level, Place, Problem
from passport.reading.fields import quoted
from passport.reading.spreadsheet import Grid

UNITS: Mapping[str, str] = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes"), "kg"),
    **dict.fromkeys(("g", "gr", "gram", "grams", "gramme", "grammes", "gramm"), "g"),
    **dict.fromkeys(("t", "tonne", "tonnes", "tonnen"), "t"),
    **dict.fromkeys(("%", "percent", "per cent", "prozent", "pour cent"), "%"),
    **dict.fromkeys(("°c", "celsius", "° c", "deg c", "grad"), "°C"),
    **dict.fromkeys(("pcs", "pieces", "pc", "st", "stk", "stck", "stück", "pce", "pces", "pièces"), "pcs"),
}
"""Units as people write them, in small letters, → as records do (English, French and German; from memory)."""
TOTALS = frozenset(
    [
        *("total", "totals", "subtotal", "grand total", "sum"),
        *("summe", "gesamt", "zwischensumme"),
        *("somme", "totaux", "sous-total", "total général"),
    ]
)
"""How rows of sums begin (from memory)."""
_IN_BRACKETS = re.compile(r"(.+?)\s*[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*")
_BEHIND = re.compile(r"(.+?)(?:\s+in\s+|\s*[,/:]\s*|_|\s+)(\S+)\s*", re.IGNORECASE)
_DATA = re.compile(r"[<>~±+-]?\s*\d")
_FEW = 2
"""Cells with text that a row of headings has at least, where the table is that wide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    number: int
    """From 1, as the file counts."""
    heading: str
    """As written; that of a heading merged over several columns before the one below it."""
    name: str
    """The heading without its unit."""
    unit: str = ""
    """The unit that the heading says, as records write it."""

    @property
    def letters(self) -> str:
        """As spreadsheets name it: A to Z, then AA."""
        letters, rest = "", self.number
        while rest:
            rest, place = divmod(rest - 1, 26)
            letters = chr(ord("A") + place) + letters
        return letters


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row under the headings."""

    number: int
    cells: Mapping[int, str]
    """Text by the column's number; blank cells are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A whole table."""

    file: str
    heading_row: int = 0
    """The last row of its headings."""
    columns: tuple[Column, ...] = ()
    entries: tuple[Entry, ...] = ()

    def column(self, heading: str) -> Column | None:
        """The column of a heading, with its unit or without, in whatever letters."""
        wanted = heading.casefold()
        found = [c for c in self.columns if wanted in (c.heading.casefold(), c.name.casefold())]
        return next(iter(found), None)

    def place(self, number: int, column: int = 0) -> Place:
        """A cell, or a row: line is the row, column the column's number."""
        return Place(self.file, number, column or 1)


def table_of(
    grid: Grid, file: str, headings: Sequence[int] = (), without: Sequence[int] = ()
) -> tuple[Table, tuple[Problem, ...]]:
    """The table in a grid, and what is wrong with it or was left out of it (as advice).

    headings: the numbers of the rows with headings, where they cannot be told; without: rows to leave out.
    """
    rows = {number: cells for number, cells in grid.rows if number not in without}
    if not rows:
        none = "met a table without rows"
        hint = "its first row holds the names of the columns, and each row under it one entry"
        problem = Problem(code="empty-table", message=none, place=Place(file), hint=hint)
        return Table(file=file), grid.problems or (problem,)
    unknown = [number for number in headings if number not in rows]
    if unknown:
        message = f"met row {unknown[0]} as a row of headings, and it is blank"
        return Table(file=file), (Problem(code="no-headings", message=message, place=Place(file, unknown[0], 1)),)
    chosen = tuple(headings) or _headings(rows)
    columns = tuple(_columns([rows[number] for number in chosen]))
    table = Table(file=file, heading_row=chosen[-1], columns=columns)
    problems = [*grid.problems, *_twice(table)]
    entries = []
    for number, cells in rows.items():
        entry = Entry(number=number, cells={i: cell for i, cell in enumerate(cells, start=1) if cell})
        left_out = _no_entry(chosen, entry, [rows[n] for n in chosen])
        if left_out is None:
            entries.append(entry)
            problems += _stray(table, entry)
        elif left_out:
            problems.append(_advice(table, number, left_out))
    return Table(file=file, heading_row=chosen[-1], columns=columns, entries=tuple(entries)), tuple(problems)


# --- headings -----------------------------------------------------------------------------------------


def _headings(rows: Mapping[int, list[str]]) -> tuple[int, ...]:
    """The row of headings, and the one below it where the first is merged over columns that this one names."""
    wide = max(sum(map(bool, cells)) for cells in rows.values()) >= _FEW
    numbers = list(rows)
    first = next((n for n in numbers if _is_heading(rows[n]) and (not wide or sum(map(bool, rows[n])) >= _FEW)), None)
    if first is None:
        return (numbers[0],)
    below = numbers[numbers.index(first) + 1 :][:1]
    if below and _is_heading(rows[below[0]]) and _names_gaps(rows[first], rows[below[0]]):
        return first, below[0]
    return (first,)


def _is_heading(cells: list[str]) -> bool:
    return any(cells) and not any(_DATA.match(cell) for cell in cells)


def _names_gaps(upper: list[str], lower: list[str]) -> bool:
    """Whether a row names columns that the one above it leaves blank, or says nothing but units."""
    pairs = list(zip_longest(upper, lower, fillvalue=""))
    units = [low for _, low in pairs if low]
    return any(low and not up for up, low in pairs) or all(_bare_unit(unit) for unit in units)


def _bare_unit(text: str) -> bool:
    return text.strip("()[] ").casefold() in UNITS


def _columns(headings: list[list[str]]) -> Iterator[Column]:
    """Columns with text in their heading; a merged heading stands before each of those below it."""
    upper, lower = (headings[0], headings[1]) if len(headings) > 1 else ([], headings[0])
    above = ""
    for number, (up, low) in enumerate(zip_longest(upper, lower, fillvalue=""), start=1):
        above = up or (above if low else "")
        joined = f"{above} ({low})" if above and _bare_unit(low) else f"{above} {low}"
        heading = " ".join((joined if low else up).split())
        if heading:
            name, unit = _named(heading)
            yield Column(number=number, heading=heading, name=name, unit=unit)


def _named(heading: str) -> tuple[str, str]:
    """A heading's name and unit: "Gewicht (kg)", "mass [g]", "Poids en kg", "mass_kg"."""
    for pattern in (_IN_BRACKETS, _BEHIND):
        found = pattern.fullmatch(heading)
        unit = UNITS.get(found[2].casefold(), "") if found else ""
        if found and unit:
            return re.sub(r"\s+(en|in)$", "", found[1], flags=re.IGNORECASE), unit
    return heading, ""


def _twice(table: Table) -> Iterator[Problem]:
    seen: dict[str, Column] = {}
    for column in table.columns:
        first = seen.setdefault(column.heading.casefold(), column)
        if first is not column:
            message = f"met the column {quoted(column.heading)} again (first in {first.letters}), wanted each once"
            place = table.place(table.heading_row, column.number)
            yield Problem(code="column-twice", message=message, place=place, hint="rename or delete one of the two")


# --- rows that are no entries -------------------------------------------------------------------------


def _no_entry(chosen: Sequence[int], entry: Entry, headings: list[list[str]]) -> str | None:
    """Why a row is no entry: "" for headings, words for what is worth saying, None for an entry."""
    if entry.number <= chosen[-1]:
        return "" if entry.number in chosen else "stands above the headings"
    texts = list(entry.cells.values())
    if any(texts == [cell for cell in cells if cell] for cells in headings):
        return "repeats the headings"
    first = texts[0].casefold().rstrip(" :")
    numbers = sum(bool(_DATA.match(text)) for text in texts[1:])
    if first in TOTALS and numbers == len(texts) - 1:
        return "holds sums"
    return None


def _advice(table: Table, number: int, why: str) -> Problem:
    message = f"left out row {number}: it {why}"
    return Problem(code="row-left-out", message=message, place=table.place(number), level=Level.ADVICE)


def _stray(table: Table, entry: Entry) -> Iterator[Problem]:
    """Text under no heading."""
    known = {column.number for column in table.columns}
    for number, cell in entry.cells.items():
        if number not in known:
            message = f"met {quoted(cell)} under no heading, wanted each cell under one"
            hint = "give the column a name, or empty the cell; a text that holds the separator stands in quotes"
            place = table.place(entry.number, number)
            yield Problem(code="cell-without-heading", message=message, place=place, hint=hint)
