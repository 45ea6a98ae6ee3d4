"""Tables → records on the disk: planned, read, tried against all others, then written in one change or not at all."""

from __future__ import annotations

import dataclasses
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import click

from passport.commands import desk
from passport.commands.check import plain_problem
from passport.commands.main import OK, PROBLEMS
from passport.commands.named_in import known_names, unknown_names, which
from passport.commands.plans import asked_about, keep, kept, merged
from passport.commands.saving import (
    event_lines,
    item_file,
    lot_file,
    product_file,
    run_file,
    save,
    stream_file,
    taken_ids,
)
from passport.commands.streams_in import Missing, asked_which, missing_streams, set_up
from passport.problems import Level, Place, Problem, errors_in, in_order
from passport.reading.decode import record_from
from passport.reading.folder import read_shop
from passport.reading.marked import Source
from passport.reading.records import LINEAGE
from passport.reading.sheet_table import Table, table_of
from passport.reading.sheets import KINDS, Plan, SheetRecord, cell_of, in_cell, planned, records_of
from passport.reading.shop import Shop
from passport.reading.spreadsheet import MAX_BYTES, read_grid
from passport.reading.workbook import is_workbook, read_workbook
from passport.verdicts.book import work_out
from passport.writing import AppendLines, Change, as_it_will_be, steady

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


def take_in(
    folder: Path,
    tables: Sequence[tuple[str, Path]],
    given: Plan,
    order: Order,
    *,
    yes: bool,
    dry_run: bool,
    as_json: bool = False,
    new_streams: str = "",
) -> None:
    """Take tables in: all their records in one change, or every problem by row and column.

    given: what the options say of the plan; it stands before what was kept, and is kept in its turn.
    as_json: tell another program what a dry run would show, and end. new_streams: the origin of streams that lots
    name and that are not there yet, which are then set up with them.
    """
    content = desk.content_of(folder)
    with desk.refusals(), steady(content, say=desk.say):
        shop, found = read_shop(content)
    if shop is None:
        desk.stop(found)
    plans = kept(folder)
    taken = [_taken(shop, kind, path, merged(plans.get(kind), given), order) for kind, path in tables]
    taken, streams = _with_streams(folder, shop, taken, dict(tables), order, new_streams)
    if not dry_run and not as_json:
        keep(folder, plans | {one.kind: one.plan for one in taken if _plan_is_whole(one)})
    changes = [*streams, *(change for one in taken for change in _changes(folder, one))]
    placed = _Placed(content, taken, changes)
    if as_json:
        _tell(taken, _between(content, taken, changes, placed, new_streams))
    _stop_at_problems(content, taken, changes, placed, new_streams)
    for one in taken:
        desk.show(one.problems)
        there = f", {one.there} there already" if one.there else ""
        desk.say(f"{one.table.file}: {len(one.records)} new {one.kind}{there}")
    if changes:
        save(folder, (shop, found), changes, yes=yes, dry_run=dry_run, placed=placed)
    else:
        desk.say("nothing to write")


def _tell(taken: Sequence[Taken], between: Sequence[Problem]) -> NoReturn:
    """For another program: what would be written, and what is wrong."""
    problems = in_order([*(problem for one in taken for problem in one.problems), *between])
    new = [
        {"table": one.kind, "row": record.entry.number, "id": record.name, "fields": record.fields}
        for one in taken
        for record in one.records
    ]
    there = {one.kind: one.there for one in taken}
    told = {"problems": [plain_problem(problem) for problem in problems], "new": new, "there": there}
    click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    raise SystemExit(PROBLEMS if errors_in(problems) else OK)


def _plan_is_whole(one: Taken) -> bool:
    columns = planned(one.plan, one.kind, one.table)
    return bool(one.table.columns) and all(column.number in columns for column in one.table.columns)


def _taken(shop: Shop, kind: str, path: Path, plan: Plan, order: Order) -> Taken:
    with path.open("rb") as opened:
        data = opened.read(MAX_BYTES + 1)  # what is larger is refused by its size
    grid = read_workbook(data, path.name, order.sheet) if is_workbook(data) else read_grid(data, path.name)
    table, problems = table_of(grid, path.name, order.headings, order.without)
    if not table.columns:
        return Taken(kind=kind, table=table, plan=plan, problems=problems)
    ids = taken_ids(shop)
    plan = asked_about(table, kind, plan, lambda now: records_of(table, kind, now, ids)[1])
    records, wrong = records_of(table, kind, plan, ids)
    new, differing, there = _sorted_out(shop, kind, table, plan, records)
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


def _with_streams(
    folder: Path, shop: Shop, taken: Sequence[Taken], tables: Mapping[str, Path], order: Order, origin: str
) -> tuple[list[Taken], list[Change]]:
    """The tables with what was asked about streams that are not there, and the records of new ones."""
    brought = {record.name for one in taken if one.kind == "streams" for record in one.records}
    found: list[Taken] = list(taken)
    changes: list[Change] = []
    for place, one in enumerate(taken):
        missing = [stream for stream in _missing(shop, one) if stream.name not in brought]
        words, origins = asked_which(shop, missing) if missing and not origin else ({}, {})
        if words:
            plan = merged(one.plan, Plan(words=words))
            found[place] = _taken(shop, one.kind, tables[one.kind], plan, order)
        changes += set_up(folder, shop, missing, origins or dict.fromkeys([s.name for s in missing if origin], origin))
    return found, changes


def _missing(shop: Shop, one: Taken) -> tuple[Missing, ...]:
    columns = planned(one.plan, one.kind, one.table)
    return missing_streams(shop, columns, one.records) if one.kind == "lots" else ()


def _encoding(encoding: str, file: str) -> Iterator[Problem]:
    if encoding == "cp1252":
        hint = "look whether accents came through; a file saved as CSV (UTF-8) leaves no doubt"
        message = "read as Windows-1252, since it is no UTF-8"
        yield Problem(code="encoding", message=message, place=Place(file), hint=hint, level=Level.ADVICE)


# --- what is there already ----------------------------------------------------------------------------


def _sorted_out(
    shop: Shop, kind: str, table: Table, plan: Plan, records: Sequence[SheetRecord]
) -> tuple[tuple[SheetRecord, ...], list[Problem], int]:
    """Records that are new, problems of those that differ from what is there, and how many are there already."""
    if kind == "events":
        return _new_events(shop, table, records)
    by_id: Mapping[str, Any] = getattr(shop, kind)
    claimed = {record.name.upper() for record in records}
    new, problems = [], []
    for record in records:
        before = by_id.get(record.name.upper())
        if before is None and record.numbered:
            before = _alike(by_id, _decoded(kind, record), claimed)
        if before is None:
            new.append(record)
        elif differing := _differing(before, _decoded(kind, record)):
            problems.append(_differs(shop, kind, table, plan, record, differing))
    return tuple(new), problems, len(records) - len(new) - len(problems)


def _alike(by_id: Mapping[str, Any], now: Any, claimed: set[str]) -> Any:
    """A record that says the same as a row without a number, and that no other row claims; None where there is none."""
    found = next((r for name, r in by_id.items() if name not in claimed and not _differing(r, now)), None)
    claimed |= {found.id} if found else set()
    return found


def _decoded(kind: str, record: SheetRecord) -> Any:
    lineage = {"file": "", "number": 0} if kind == "events" else {"id": record.name.upper()}
    return record_from(KINDS[kind][1], record.fields, Source("", ""), lineage=lineage)[0]


def _said_by(record: Any) -> dict[str, Any]:
    return {f.name: getattr(record, f.name) for f in dataclasses.fields(record) if f.name not in LINEAGE}


def _differing(before: Any, now: Any) -> list[str]:
    said, says = _said_by(before), _said_by(now)
    return [name for name in said if said[name] != says.get(name)]


def _differs(shop: Shop, kind: str, table: Table, plan: Plan, record: SheetRecord, differing: Sequence[str]) -> Problem:
    columns = planned(plan, kind, table)
    column = next((n for n, name in columns.items() if name.partition(".")[0] in differing), 0)
    file = shop.files[KINDS[kind][0], record.name.upper()]
    message = f"met {', '.join(f'`{name}`' for name in differing)} of {record.name} other than {file} says"
    hint = (
        f"what was published is set right with: passport correct {record.name} {differing[0]}; else leave the row out"
    )
    place = table.place(record.entry.number, column)
    return in_cell(table, Problem(code="import-differs", message=message, place=place, hint=hint))


def _new_events(
    shop: Shop, table: Table, records: Sequence[SheetRecord]
) -> tuple[tuple[SheetRecord, ...], list[Problem], int]:
    """Events have no id: one that says the same as one there is counts as that one, a second in the table is a slip."""
    known = Counter(map(_event_key, shop.events))
    first: dict[tuple[object, ...], int] = {}
    new, problems, there = [], [], 0
    for record in records:
        key = _event_key(_decoded("events", record))
        if known[key]:
            known[key] -= 1
            there += 1
        elif key in first:
            message = f"met the same event again (first in row {first[key]}), wanted each once"
            hint = f"leave this row out with --without {record.entry.number}, or say in its note how it differs"
            place = table.place(record.entry.number)
            problems.append(Problem(code="duplicate-event", message=message, place=place, hint=hint))
        else:
            first[key] = record.entry.number
            new.append(record)
    return tuple(new), problems, there


def _event_key(event: Any) -> tuple[object, ...]:
    return tuple(_said_by(event).items())


# --- changes, and the rows they came from -------------------------------------------------------------


def _changes(folder: Path, one: Taken) -> list[Change]:
    if one.kind == "events":
        return list(event_lines([record.fields for record in one.records], folder))
    return [FILES[one.kind](folder, record.name, record.fields) for record in one.records]


class _Placed:
    """Gives a problem of a record to come the place of the cell that it came from."""

    def __init__(self, content: Path, taken: Sequence[Taken], changes: Sequence[Change]) -> None:
        self.rows: dict[tuple[str, int], tuple[Taken, SheetRecord]] = {}
        self.sources: dict[str, Source] = {}
        before = as_it_will_be(content, changes)
        for change in changes:
            file = f"{content.name}/{change.path}"
            self.sources[file] = Source(file, before[change.path].decode())
        for one in taken:
            if one.kind == "events":
                self._events(content, one, changes)
            else:
                for record in one.records:
                    self.rows[f"{content.name}/{one.kind}/{record.name}.yaml", 0] = one, record

    def _events(self, content: Path, one: Taken, changes: Sequence[Change]) -> None:
        """An event's line in its list, from the list's end."""
        for change in changes:
            if isinstance(change, AppendLines) and change.path.startswith("events/"):
                year = change.path.removeprefix("events/").removesuffix(".yaml")
                records = [record for record in one.records if str(record.fields["date"]).startswith(year)]
                file = f"{content.name}/{change.path}"
                last = self.sources[file].text.count("\n")
                for number, record in enumerate(records, start=last - len(records) + 1):
                    self.rows[file, number] = one, record

    def __call__(self, problem: Problem) -> Problem:
        place = problem.place
        found = self.rows.get((place.file, 0)) or self.rows.get((place.file, place.line))
        if found is None:
            return problem
        one, record = found
        columns = {name: number for number, name in planned(one.plan, one.kind, one.table).items()}
        at = "" if one.kind != "events" else f"{self._entry(place)}."
        names = [f"{at}{name}" for name in columns if name != "id"]
        field = cell_of(self.sources[place.file], names, place.line, place.column).removeprefix(at)
        number = columns.get(field, 0)
        moved = dataclasses.replace(problem, place=one.table.place(record.entry.number, number))
        if problem.code == "unknown-stream" and number:
            near = problem.hint if problem.hint.startswith("did you mean") else ""
            text = record.entry.cells.get(number, "")
            moved = dataclasses.replace(moved, hint=near or which(text, "stream"))
        return in_cell(one.table, moved)

    def _entry(self, place: Place) -> int:
        """The number of the entry that stands on a line of a list."""
        lines = self.sources[place.file].text.split("\n")[: place.line]
        return sum(line.startswith("- ") for line in lines) - 1


def _stop_at_problems(
    content: Path, taken: Sequence[Taken], changes: Sequence[Change], placed: _Placed, new_streams: str
) -> None:
    """Every error of every table, and what the rows without one get wrong about other records; then the end."""
    found = [problem for one in taken for problem in one.problems]
    if errors_in(found):
        desk.say("nothing written: every row must be right first")
        desk.stop([*found, *_between(content, taken, changes, placed, new_streams)])


def _between(
    content: Path, taken: Sequence[Taken], changes: Sequence[Change], placed: _Placed, new_streams: str
) -> tuple[Problem, ...]:
    """What the rows without an error of their own get wrong beside all other records.

    What only follows from a row that is no record yet is left out: it goes when that one is mended.
    """
    missing = {f'"{name}"' for one in taken for name in _failed(one)}
    shop, found = read_shop(content, added=as_it_will_be(content, changes))
    if shop is not None and not errors_in(found):
        found = work_out(shop).problems
    ours = {f"{content.name}/{change.path}" for change in changes}
    theirs = (
        placed(problem)
        for problem in errors_in(found)
        if problem.place.file in ours and not any(name in problem.message for name in missing)
    )
    return (*theirs, *(_of_failed(shop, taken, new_streams) if shop is not None else ()))


def _of_failed(shop: Shop, taken: Sequence[Taken], new_streams: str) -> Iterator[Problem]:
    """What rows that are no records yet name and nobody knows; ids of such rows count as there."""
    known = known_names(shop)
    if new_streams:
        del known["stream"]  # each will be set up
    for one in taken:
        kind = KINDS[one.kind][0]
        if kind in known:
            known[kind] |= {name.strip('"') for name in _failed(one)}
    for one in taken:
        columns = planned(one.plan, one.kind, one.table)
        for entry in one.table.entries if one.whole else ():  # without a plan there is no row to look at
            if entry.number not in one.whole:
                yield from unknown_names(one.table, one.plan, columns, entry, known)


def _failed(one: Taken) -> Iterator[str]:
    """Ids of rows that are no records yet: that others name them is not their fault."""
    number = next((n for n, name in planned(one.plan, one.kind, one.table).items() if name == "id"), 0)
    for entry in one.table.entries:
        if entry.number not in one.whole and entry.cells.get(number):
            yield entry.cells[number].upper()
