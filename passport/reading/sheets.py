"""A table → records, by a plan that says which column is which field: all of them, or every problem by row and column.

The plan is asked once and kept in `spreadsheets.yaml` beside content/. What a table leaves open is never guessed:
it is a problem that names what would settle it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass as plain_dataclass
from dataclasses import field, replace
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import yaml
from pydantic import ConfigDict
from pydantic.dataclasses import dataclass

from passport.amounts import NotAQuantity
from passport.problems import Place, Problem, did_you_mean
from passport.reading.cells import WITH_UNIT, Ways, kind_of, refused, said
from passport.reading.corrections import steps
from passport.reading.decode import field_names, record_from
from passport.reading.fields import LineField, quoted, read_id
from passport.reading.marked import Source, Step, Tree
from passport.reading.records import AnyEvent, Item, Lot, Product, Run, Stream
from passport.reading.sheet_table import UNITS, Column, Entry, Table
from passport.reading.spreadsheet import writes_commas

_STRICT = ConfigDict(extra="forbid", use_attribute_docstrings=True)

KINDS: Mapping[str, tuple[str, Any]] = {
    "streams": ("stream", Stream),
    "products": ("product", Product),
    "lots": ("lot", Lot),
    "runs": ("run", Run),
    "items": ("item", Item),
    "events": ("event", AnyEvent),
}
"""What a table may hold → the word for one of its records, and the class."""
NOT_READ = "-"
"""Stands for the field of a column that is left out."""
_SERIES_DIGITS = 3


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Plan:
    """How tables of one kind are read."""

    columns: Mapping[str, LineField] = field(default_factory=dict)
    """Heading → field; inside others with points (`received.stream`); `-` for a column that is left out."""
    units: Mapping[str, LineField] = field(default_factory=dict)
    """Heading → unit, where the heading does not say it."""
    dates: Literal["day-first", "month-first", ""] = ""
    """How days like 03/04/2026 are meant."""
    century: Literal["19", "20", ""] = ""
    """What stands before years of two digits."""
    decimal: Literal["comma", "point", ""] = ""
    """The decimal sign."""
    words: Mapping[str, LineField] = field(default_factory=dict)
    """What the table calls something → what records call it."""
    fill: Mapping[str, LineField] = field(default_factory=dict)
    """Field → what it says where the table says nothing."""
    series: LineField = ""
    """The letters before plain numbers: with IN, 31 is IN-031; rows without a number get the next free one."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Plans:
    """`spreadsheets.yaml`: a plan for each kind of table."""

    streams: Plan | None = None
    """Tables of streams."""
    products: Plan | None = None
    """Tables of products."""
    lots: Plan | None = None
    """Tables of lots."""
    runs: Plan | None = None
    """Tables of runs."""
    items: Plan | None = None
    """Tables of item batches."""
    events: Plan | None = None
    """Tables of events."""


@plain_dataclass(frozen=True, slots=True, kw_only=True)
class SheetRecord:
    """One row as a record: its id ("" for an event) and its fields as a record writes them."""

    entry: Entry
    name: str
    fields: Mapping[str, Any]
    numbered: bool = False
    """True where the row has no id of its own and got the next free one of a series."""


def named_field(kind: str, column: Column) -> str:
    """The field that a heading means by itself, "" where it means none for certain."""
    _, record = KINDS[kind]
    for text in (column.heading, column.name):
        if text == "id" and kind != "events":
            return text
        if kind_of(record, steps(text)):
            return text
    word, _ = KINDS[kind]
    known = {heading: name for name, headings in _headings()[word].items() for heading in [name, *headings]}
    return known.get(column.name.casefold().rstrip(":"), "")


@cache
def _headings() -> Mapping[str, Mapping[str, list[str]]]:
    text = (files("passport") / "reading" / "headings.yaml").read_text(encoding="utf-8")
    found: Mapping[str, Mapping[str, list[str]]] = yaml.safe_load(text)
    return found


def planned(plan: Plan, kind: str, table: Table) -> Mapping[int, str]:
    """Column number → field, for all columns that the plan or their own headings explain."""
    wanted = {heading.casefold(): name for heading, name in plan.columns.items()}
    found = {}
    for column in table.columns:
        name = wanted.get(column.heading.casefold()) or wanted.get(column.name.casefold()) or named_field(kind, column)
        if name:
            found[column.number] = name
    return found


def records_of(
    table: Table, kind: str, plan: Plan, taken: Collection[str] = ()
) -> tuple[tuple[SheetRecord, ...], tuple[Problem, ...]]:
    """The records of all rows, and every problem by row and column. taken: ids that there are already."""
    reading = _Reading(table, kind, plan)
    problems = list(reading.problems)
    if problems:
        return (), tuple(problems)
    records: list[SheetRecord] = []
    names: dict[str, int] = {}
    numbers = _Series(plan.series, {*taken, *_given(reading)})
    for entry in table.entries:
        record, wrong = reading.record(entry, numbers)
        first = names.setdefault(record.name, entry.number) if record.name else entry.number
        if first != entry.number:
            wrong.append(reading.again(record, first))
        problems += wrong
        records += [] if wrong else [record]
    return tuple(records), tuple(problems)


class _Series:
    """Numbers of a series, the next free one on request."""

    def __init__(self, start: str, taken: set[str]) -> None:
        pattern = re.compile(rf"{re.escape(start)}-(\d+)")
        found = [match[1] for match in map(pattern.fullmatch, taken) if match]
        self.start = start
        self.digits = max((len(digits) for digits in found), default=_SERIES_DIGITS)
        self.last = max(map(int, found), default=0)

    def named(self, text: str) -> str:
        """An id of the series for a plain number; other texts as they are."""
        return f"{self.start}-{int(text):0{self.digits}}" if self.start and re.fullmatch(r"\d{1,9}", text) else text

    def following(self) -> str:
        """The next free id, "" without a series."""
        self.last += 1 if self.start else 0
        return f"{self.start}-{self.last:0{self.digits}}" if self.start else ""


def _given(reading: _Reading) -> Iterator[str]:
    """The ids that rows give themselves: none of them is free."""
    series = _Series(reading.plan.series, set())
    number = next((n for n, name in reading.fields.items() if name == "id"), 0)
    for entry in reading.table.entries:
        yield series.named(entry.cells.get(number, "")).upper()


class _Reading:
    """One table with its plan."""

    def __init__(self, table: Table, kind: str, plan: Plan) -> None:
        self.table, self.kind, self.plan = table, kind, plan
        self.record_class = KINDS[kind][1]
        self.fields = planned(plan, kind, table)
        self.columns = {column.number: column for column in table.columns}
        self.problems = tuple(self._plan_problems())
        words = {text.casefold(): meant for text, meant in plan.words.items()}
        self.shown: dict[int, bool] = {}
        names = dict.fromkeys(name.partition(".")[0] for name in field_names(self.record_class))
        self.order = {name: place for place, name in enumerate(names)}
        self.ways = Ways(dates=plan.dates, decimal=plan.decimal, century=plan.century, words=words)

    # --- is the plan whole? ---------------------------------------------------------------------------

    def _plan_problems(self) -> Iterator[Problem]:
        seen: dict[str, Column] = {}
        for column in self.table.columns:
            place = self.table.place(self.table.heading_row, column.number)
            name = self.fields.get(column.number, "")
            if not name:
                yield self._unplanned(column, place)
            elif name != NOT_READ:
                yield from self._field_problems(column, name, place)
                if name in seen:
                    yield self._planned_twice(column, seen[name], name, place)
                seen.setdefault(name, column)
        yield from self._unmet()

    def _unplanned(self, column: Column, place: Place) -> Problem:
        near = did_you_mean(column.name, field_names(self.record_class))
        say = f'say which field it is with --map "{column.heading}=FIELD", or leave it out with =-'
        message = f"met the column {quoted(column.heading)} ({column.letters}), wanted one that is known"
        return Problem(code="unknown-column", message=message, place=place, hint=f"{near} {say}".strip())

    def _field_problems(self, column: Column, name: str, place: Place) -> Iterator[Problem]:
        kind = "id" if name == "id" and self.kind != "events" else kind_of(self.record_class, steps(name))
        if not kind:
            known = field_names(self.record_class)
            hint = did_you_mean(name, known) or f"the fields are {', '.join(known)}"
            message = f"met the field {quoted(name)} for {quoted(column.heading)}, which a record does not have"
            yield Problem(code="unknown-field", message=message, place=place, hint=hint)
        elif kind in WITH_UNIT and not self._unit(column) and self._lacks_unit(column):
            message = f"met numbers without a unit under {quoted(column.heading)}, wanted {WITH_UNIT[kind]}"
            hint = f'say it with --unit "{column.heading}={WITH_UNIT[kind].split(",")[0]}", or write it in the heading'
            yield Problem(code="no-unit", message=message, place=place, hint=hint)

    def _unit(self, column: Column) -> str:
        said_so = {heading.casefold(): unit for heading, unit in self.plan.units.items()}
        unit = said_so.get(column.heading.casefold()) or said_so.get(column.name.casefold())
        return UNITS.get(unit.casefold(), unit) if unit else column.unit

    def _lacks_unit(self, column: Column) -> bool:
        cells = [entry.cells.get(column.number, "") for entry in self.table.entries]
        return any(re.fullmatch(r"\d[\d.,' ]*", cell) for cell in cells)

    def _planned_twice(self, column: Column, first: Column, name: str, place: Place) -> Problem:
        message = f"met two columns for `{name}`: {quoted(first.heading)} and {quoted(column.heading)}"
        hint = f'leave one out, such as with --map "{column.heading}=-"'
        return Problem(code="planned-twice", message=message, place=place, hint=hint)

    def _unmet(self) -> Iterator[Problem]:
        """Fields to fill in that no record has."""
        for name in self.plan.fill:
            if not kind_of(self.record_class, steps(name)):
                known = field_names(self.record_class)
                message = f"met the field {quoted(name)} to fill in, which a record does not have"
                place = self.table.place(self.table.heading_row)
                yield Problem(code="unknown-field", message=message, place=place, hint=did_you_mean(name, known))

    # --- rows -----------------------------------------------------------------------------------------

    def record(self, entry: Entry, numbers: _Series) -> tuple[SheetRecord, list[Problem]]:
        """One row as a record, and all that is wrong with it."""
        values, problems = self._values(entry)
        name = given = ""
        if self.kind != "events":
            given = str(values.pop(("id",), ""))
            name, fault = self._name(entry, numbers.named(given) or numbers.following())
            problems += fault
        for path, text in self.plan.fill.items():
            values.setdefault(steps(path), text)
        tree = _nested(values, self.order)
        at = {steps(path): number for number, path in self.fields.items()}
        source = RowSource(self.table.file, "", row=entry.number, at=at)
        lineage = {"file": self.table.file, "number": 0} if self.kind == "events" else {"id": name or "NO-1"}
        _, found = record_from(self.record_class, tree, source, lineage=lineage)
        if problems:  # what is missing may be what could not be read: only the other cells' own faults count
            own = {at[path]: value for path, value in values.items() if path in at}
            found = tuple(p for p in found if p.message.startswith(f"met {quoted(own.get(p.place.column))}"))
        problems += [in_cell(self.table, problem) for problem in found]
        numbered = self.kind != "events" and not given
        return SheetRecord(entry=entry, name=name, fields=tree, numbered=numbered), problems

    def _values(self, entry: Entry) -> tuple[dict[tuple[Step, ...], Tree], list[Problem]]:
        values: dict[tuple[Step, ...], Tree] = {}
        problems: list[Problem] = []
        for number, text in entry.cells.items():
            name = self.fields.get(number, NOT_READ)
            if name == NOT_READ:
                continue
            try:
                value = self._said(self.columns[number], name, text)
            except NotAQuantity as slip:
                place = self.table.place(entry.number, number)
                found = Problem(
                    code=f"bad-{name.rpartition('.')[2]}", message=refused(slip), place=place, hint=slip.hint
                )
                problems.append(in_cell(self.table, found))
                continue
            if value:
                values[steps(name)] = value
        return values, problems

    def _said(self, column: Column, name: str, text: str) -> Tree:
        kind = "line" if name == "id" else kind_of(self.record_class, steps(name))
        ways = replace(self.ways, commas=self._commas(column.number))
        return said(kind, text, self._unit(column), ways)

    def _commas(self, number: int) -> bool:
        """Whether a column shows decimal commas; worked out once for each."""
        if number not in self.shown:
            self.shown[number] = writes_commas(entry.cells.get(number, "") for entry in self.table.entries)
        return self.shown[number]

    def _name(self, entry: Entry, text: str) -> tuple[str, list[Problem]]:
        column = next((n for n, name in self.fields.items() if name == "id"), 0)
        place = self.table.place(entry.number, column)
        if not text:
            hint = "write one, or have numbers given with --series IN"
            return "", [Problem(code="missing-id", message="met a row without an id", place=place, hint=hint)]
        try:
            name = read_id(re.sub(r"[\s_/.]+", "-", re.sub(r"(?<=\d)\.0+$", "", text)))
        except NotAQuantity as slip:
            found = Problem(code="bad-id", message=refused(slip), place=place, hint=slip.hint)
            return "", [in_cell(self.table, found)]
        return name.lower() if self.kind in ("streams", "products") else name, []

    def again(self, record: SheetRecord, first: int) -> Problem:
        """The problem of an id that an earlier row has."""
        column = next((n for n, name in self.fields.items() if name == "id"), 0)
        message = f'met the id "{record.name}" again (first in row {first}), wanted each id once'
        hint = f"rename one, or leave this row out with --without {record.entry.number}"
        place = self.table.place(record.entry.number, column)
        return in_cell(self.table, Problem(code="duplicate-id", message=message, place=place, hint=hint))


def in_cell(table: Table, problem: Problem) -> Problem:
    """A problem with its cell's name as spreadsheets say it, before the hint."""
    column = next((c for c in table.columns if c.number == problem.place.column), None)
    if column is None or problem.place.line <= table.heading_row:
        return problem
    cell = f"{column.letters}{problem.place.line}, under {quoted(column.heading)}"
    return replace(problem, hint=f"{cell}: {problem.hint}" if problem.hint else f"in {cell}")


def _nested(values: Mapping[tuple[Step, ...], Tree], order: Mapping[str, int]) -> dict[str, Any]:
    """Fields by path as the tree that a record's file would give; numbers in paths are places in lists.

    order: where each field stands in a record that a person types.
    """
    root: dict[Any, Any] = {}
    for path, value in sorted(values.items(), key=lambda entry: order.get(str(entry[0][0]), 0)):
        here = root
        for step in path[:-1]:
            here = here.setdefault(step, {})
        here[path[-1]] = value
    tree = _listed(root)
    return tree if isinstance(tree, dict) else {}


def _listed(node: Any) -> Any:
    if not isinstance(node, dict):
        return node
    if node and all(isinstance(key, int) for key in node):
        return [_listed(node[key]) for key in sorted(node)]
    return {key: _listed(value) for key, value in node.items()}


@plain_dataclass(frozen=True, slots=True)
class RowSource(Source):
    """A row in the place of a record's file: what stands at a path stands in the column of that field."""

    row: int = 0
    at: Mapping[tuple[Step, ...], int] = field(default_factory=dict)
    """Column number by the path of its field."""

    def place(self, *path: Step, key: bool = False) -> Place:  # noqa: ARG002
        """The cell whose field is the longest beginning of the path, or lies inside it; else the row.

        The first step may be the word of an event, which no field has.
        """
        for way in (path, path[1:]):
            for end in range(len(way), 0, -1):
                if way[:end] in self.at:
                    return Place(self.file, self.row, self.at[way[:end]])
        inside = [number for at, number in self.at.items() if path and at[: len(path)] == path]
        return Place(self.file, self.row, min(inside, default=1))


def cell_of(source: Source, fields: Sequence[str], line: int, column: int) -> str:
    """Which field stands at a place of a record's text: the last one that begins at or before it; "" for none."""
    begins = [((place.line, place.column), name) for name in fields if (place := source.place(*steps(name), key=True))]
    before = [entry for entry in begins if entry[0] <= (line, column)]
    return max(before)[1] if before else ""
