"""Tables → records on the disk: planned, read, tried against all others, then written in one change or not at all."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

import click

from passport.office import desk
from passport.office.codes import OK, PROBLEMS
from passport.office.named_in import known_names, unknown_names
from passport.office.plans import keep, kept, merged
from passport.office.row_places import RowPlaces
from passport.office.saving import save
from passport.office.streams_in import Missing, asked_which, missing_streams, set_up
from passport.office.taking import Order, Taken, taken_by_plan
from passport.problems import Problem, errors_in, in_order
from passport.reading.folder import read_shop
from passport.reading.sheets import KINDS, Plan
from passport.reading.shop import Shop
from passport.verdicts.book import work_out
from passport.writing import Change, as_it_will_be, steady


@dataclass(frozen=True, slots=True, kw_only=True)
class _Attempt:
    """All tables of one order, with the change that would come of them."""

    content: Path
    taken: Sequence[Taken]
    changes: Sequence[Change]
    placed: RowPlaces
    new_streams: str
    """The origin of streams to set up, "" where none are to be."""


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
    taken = [taken_by_plan(shop, kind, path, merged(plans.get(kind), given), order) for kind, path in tables]
    taken, streams = _with_streams(folder, shop, taken, dict(tables), order, new_streams)
    if not dry_run and not as_json:
        keep(folder, plans | {one.kind: one.plan for one in taken if one.plan_is_whole})
    changes = [*streams, *(change for one in taken for change in one.changes(folder))]
    placed = RowPlaces(content, taken, changes)
    attempt = _Attempt(content=content, taken=taken, changes=changes, placed=placed, new_streams=new_streams)
    if as_json:
        _tell(attempt)
    _stop_at_problems(attempt)
    for one in taken:
        desk.show(one.problems)
        there = f", {one.there} there already" if one.there else ""
        desk.say(f"{one.table.file}: {len(one.records)} new {one.kind}{there}")
    if changes:
        save(folder, (shop, found), changes, yes=yes, dry_run=dry_run, placed=placed)
    else:
        desk.say("nothing to write")


def _tell(attempt: _Attempt) -> NoReturn:
    """For another program: what would be written, and what is wrong."""
    taken = attempt.taken
    problems = in_order([*(problem for one in taken for problem in one.problems), *_between(attempt)])
    new = [
        {"table": one.kind, "row": record.entry.number, "id": record.name, "fields": record.fields}
        for one in taken
        for record in one.records
    ]
    there = {one.kind: one.there for one in taken}
    told = {"problems": [desk.plain_problem(problem) for problem in problems], "new": new, "there": there}
    click.echo(json.dumps(told, ensure_ascii=False, indent=1))
    raise SystemExit(PROBLEMS if errors_in(problems) else OK)


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
            found[place] = taken_by_plan(shop, one.kind, tables[one.kind], plan, order)
        changes += set_up(folder, shop, missing, origins or dict.fromkeys([s.name for s in missing if origin], origin))
    return found, changes


def _missing(shop: Shop, one: Taken) -> tuple[Missing, ...]:
    return missing_streams(shop, one.columns, one.records) if one.kind == "lots" else ()


def _stop_at_problems(attempt: _Attempt) -> None:
    """Every error of every table, and what the rows without one get wrong about other records; then the end."""
    found = [problem for one in attempt.taken for problem in one.problems]
    if errors_in(found):
        desk.say("nothing written: every row must be right first")
        desk.stop([*found, *_between(attempt)])


def _between(attempt: _Attempt) -> tuple[Problem, ...]:
    """What the rows without an error of their own get wrong beside all other records.

    What only follows from a row that is no record yet is left out: it goes when that one is mended.
    """
    content, changes = attempt.content, attempt.changes
    missing = {f'"{name}"' for one in attempt.taken for name in _failed(one)}
    shop, found = read_shop(content, added=as_it_will_be(content, changes))
    if shop is not None and not errors_in(found):
        found = work_out(shop).problems
    ours = {f"{content.name}/{change.path}" for change in changes}
    theirs = (
        attempt.placed(problem)
        for problem in errors_in(found)
        if problem.place.file in ours and not any(name in problem.message for name in missing)
    )
    return (*theirs, *(_of_failed(shop, attempt) if shop is not None else ()))


def _of_failed(shop: Shop, attempt: _Attempt) -> Iterator[Problem]:
    """What rows that are no records yet name and nobody knows; ids of such rows count as there."""
    known = known_names(shop)
    if attempt.new_streams:
        del known["stream"]  # each will be set up
    for one in attempt.taken:
        known.get(KINDS[one.kind][0], set()).update(_failed(one))
    for one in attempt.taken:
        for entry in one.table.entries if one.whole else ():  # without a plan there is no row to look at
            if entry.number not in one.whole:
                yield from unknown_names(one.table, one.plan, one.columns, entry, known)


def _failed(one: Taken) -> Iterator[str]:
    """Ids of rows that are no records yet: that others name them is not their fault."""
    number = next((n for n, name in one.columns.items() if name == "id"), 0)
    for entry in one.table.entries:
        if entry.number not in one.whole and entry.cells.get(number):
            yield entry.cells[number].upper()
