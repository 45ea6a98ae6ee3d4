"""The plans of tables: kept in `spreadsheets.yaml` beside content/, completed by whoever sits at the terminal."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from passport.amounts import NotAQuantity
from passport.disk import replace_file, worded
from passport.office import desk
from passport.office.asking import Question, answer, at_a_terminal
from passport.problems import Problem, did_you_mean
from passport.reading.decode import field_names, record_from
from passport.reading.marked import decoded, read_tree
from passport.reading.sheet_table import UNITS, Column, Table
from passport.reading.sheets import KINDS, NOT_READ, Plan, Plans, named_field, planned
from passport.reading.yaml_text import block_text

FILE = "spreadsheets.yaml"
_HEAD = "How tables are read, by kind: made by `passport import`, and yours to edit."
LEFT_OUT = "the column is left out"


def kept(folder: Path) -> dict[str, Plan]:
    """The plans kept so far; with problems in their file they are printed and the command ends."""
    path = folder.resolve() / FILE
    if not path.is_file():
        return {}
    source = decoded(FILE, path.read_bytes())
    if isinstance(source, Problem):
        desk.stop([source])
    tree, problems = read_tree(source)
    if problems:
        desk.stop(problems)
    plans, wrong = record_from(Plans, tree, source)
    if plans is None:
        desk.stop(wrong)
    return {kind: plan for kind in KINDS if (plan := getattr(plans, kind)) is not None}


def keep(folder: Path, plans: Mapping[str, Plan]) -> None:
    """Keep the plans that say anything, in one step; where nothing changed the file stays as it is."""
    said = {kind: _plain(plan) for kind, plan in plans.items() if _plain(plan)}
    place = folder.resolve() / FILE
    if not said or said == {kind: _plain(plan) for kind, plan in kept(folder).items()}:
        return
    with desk.refusals(), worded("plan-not-written", place):
        replace_file(place, block_text(said, _HEAD).encode())
    desk.say(f"kept in {FILE}: how such tables are read")


def _plain(plan: Plan) -> dict[str, Any]:
    fields = {f.name: getattr(plan, f.name) for f in dataclasses.fields(plan)}
    return {name: dict(value) if isinstance(value, Mapping) else value for name, value in fields.items() if value}


def merged(before: Plan | None, given: Plan) -> Plan:
    """A plan with what was given in place of what was kept."""
    if before is None:
        return given
    return _with(before, **_plain(given))


def _with(plan: Plan, **changes: Any) -> Plan:
    """A plan with changes; of mappings, entry by entry."""
    said = _plain(plan)
    for name, value in changes.items():
        said[name] = {**said.get(name, {}), **value} if isinstance(value, Mapping) else value
    return Plan(**said)


# --- asking -------------------------------------------------------------------------------------------


def asked_about(table: Table, kind: str, plan: Plan, problems_of: Callable[[Plan], Sequence[Problem]]) -> Plan:
    """The plan with every answer that is still wanted; as it was where nobody is there to answer."""
    if not at_a_terminal():
        return plan
    for column in table.columns:
        if column.number not in planned(plan, kind, table):
            plan = _with(plan, columns={column.heading: _field_of(table, kind, column)})
    for option, ask in _SETTLING.items():
        waiting = [problem for problem in problems_of(plan) if f"--{option}" in problem.hint]
        if waiting:
            plan = ask(table, plan, waiting)
    return plan


def _example(table: Table, column: Column) -> str:
    cells = [entry.cells[column.number] for entry in table.entries if column.number in entry.cells]
    return f', such as "{cells[0][:40]}"' if cells else ""


def _field_of(table: Table, kind: str, column: Column) -> str:
    names = field_names(KINDS[kind][1])
    known = (*(() if kind == "events" else ("id",)), *names, NOT_READ)
    near = did_you_mean(column.name, known).partition('"')[2].partition('"')[0]
    question = Question(
        name="map",
        asks=f'Which field is the column "{column.heading}" ({column.letters}){_example(table, column)}',
        why="the fields of a record, one column for each; - for a column that is not needed",
        cost=LEFT_OUT,
        proposal=named_field(kind, column) or near or NOT_READ,
        known=known,
    )
    return answer(question, None) or NOT_READ


def _ask_unit(table: Table, plan: Plan, waiting: Sequence[Problem]) -> Plan:
    for problem in waiting:
        column = next(c for c in table.columns if c.number == problem.place.column)
        asks = f'Which unit have the numbers under "{column.heading}"{_example(table, column)}'
        unit = answer(Question(name="unit", asks=asks, read=_unit, why=problem.message), None)
        plan = _with(plan, units={column.heading: unit})
    return plan


def _unit(text: str) -> str:
    if text.casefold() not in UNITS:
        raise NotAQuantity(text, "a unit: kg, g, t, % or °C")
    return text


def _one_of(option: str, asks: str, known: tuple[str, ...]) -> Callable[[Table, Plan, Sequence[Problem]], Plan]:
    """A question with few answers, asked with the first cell that waits for it."""

    def ask(_table: Table, plan: Plan, waiting: Sequence[Problem]) -> Plan:
        question = Question(name=option, asks=asks, why=f"{waiting[0].message}: {waiting[0].hint}", known=known)
        desk.say(f"  row {waiting[0].place.line}: {waiting[0].message}")
        return _with(plan, **{option: answer(question, None)})

    return ask


_SETTLING: Mapping[str, Callable[[Table, Plan, Sequence[Problem]], Plan]] = {
    "unit": _ask_unit,
    "dates": _one_of("dates", "In days like 03/04/2026, what comes first", ("day-first", "month-first")),
    "century": _one_of("century", "What stands before years of two digits", ("19", "20")),
    "decimal": _one_of("decimal", "Which is the decimal sign", ("comma", "point")),
}
"""Option → what asks for it, in the order in which answers follow from each other."""
