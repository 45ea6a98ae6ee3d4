"""One table, read by its plan: its new records, those that are there already, and everything wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from passport.office.plans import asked_about
from passport.office.saving import event_lines, item_file, lot_file, product_file, run_file, stream_file, taken_ids
from passport.office.there_already import sorted_out
from passport.problems import Level, Place, Problem, in_order
from passport.reading.sheet_table import Table, table_of
from passport.reading.sheets import Plan, SheetRecord, planned, records_of
from passport.reading.shop import Shop
from passport.reading.spreadsheet import MAX_BYTES, read_grid
from passport.reading.workbook import is_workbook, read_workbook
from passport.writing import Change

FILES = {
    "streams": stream_file,
    "products": product_file,
    "lots": lot_file,
    "runs": run_file,
    "items": item_file,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What was asked of one file alone, and is not kept."""

    without: tuple[int, ...] = ()
    headings: tuple[int, ...] = ()
    sheet: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A table read by its plan: its new records, those that are there already, what is wrong."""

    kind: str
    table: Table
    plan: Plan
    records: tuple[SheetRecord, ...] = ()
    there: int = 0
    whole: frozenset[int] = frozenset()
    """The rows that are records, new or not."""
    problems: tuple[Problem, ...] = ()

    @property
    def columns(self) -> Mapping[int, str]:
        """Column number → field."""
        return planned(self.plan, self.kind, self.table)

    @property
    def plan_is_whole(self) -> bool:
        """Whether somebody explained every column."""
        return bool(self.table.columns) and all(column.number in self.columns for column in self.table.columns)

    def changes(self, folder: Path) -> list[Change]:
        """The files that its new records make."""
        if self.kind == "events":
            return list(event_lines([record.fields for record in self.records], folder))
        return [FILES[self.kind](folder, record.name, record.fields) for record in self.records]


def taken_by_plan(shop: Shop, kind: str, path: Path, plan: Plan, order: Order) -> Taken:
    """Read a file of a kind; at a terminal a person is asked for what the plan leaves open."""
    with path.open("rb") as opened:
        data = opened.read(MAX_BYTES + 1)  # what is larger is refused by its size
    grid = read_workbook(data, path.name, order.sheet) if is_workbook(data) else read_grid(data, path.name)
    table, problems = table_of(grid, path.name, order.headings, order.without)
    if not table.columns:
        return Taken(kind=kind, table=table, plan=plan, problems=problems)
    ids = taken_ids(shop)
    plan = asked_about(table, kind, plan, lambda now: records_of(table, kind, now, ids)[1])
    records, wrong = records_of(table, kind, plan, ids)
    new, differing, there = sorted_out(shop, kind, table, plan, records)
    encoding = _encoding(grid.encoding, path.name)
    return Taken(
        kind=kind,
        table=table,
        plan=plan,
        records=new,
        there=there,
        whole=frozenset(record.entry.number for record in records),
        problems=in_order([*encoding, *problems, *wrong, *differing]),
    )


def _encoding(encoding: str, file: str) -> Iterator[Problem]:
    if encoding == "cp1252":
        hint = "look whether accents came through; a file saved as CSV (UTF-8) leaves no doubt"
        message = "read as Windows-1252, since it is no UTF-8"
        yield Problem(code="encoding", message=message, place=Place(file), hint=hint, level=Level.ADVICE)
