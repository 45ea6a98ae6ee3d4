"""Rows whose record is there already: passed over where they say the same, refused where they say something else."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from passport.problems import Problem
from passport.reading.decode import record_from
from passport.reading.marked import Source
from passport.reading.records import LINEAGE
from passport.reading.sheet_table import Table
from passport.reading.sheets import KINDS, Plan, SheetRecord, in_cell, planned
from passport.reading.shop import Shop


def sorted_out(
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
