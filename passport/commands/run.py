"""`run`: one operation of the shop, from what it draws to what it yields and loses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from passport.amounts import read_count, read_mass
from passport.massflow.operation_table import OperationKind, operation_kind
from passport.office import desk, runs_anew
from passport.office.asking import Asked, Question, answer, at_a_terminal, say_how
from passport.office.goods_in import day_question, scale_used
from passport.office.runs_anew import Floor
from passport.office.saving import lot_file, next_id, run_file, save, taken_ids, tried
from passport.office.typed import today
from passport.office.wording import kilograms, percent, read_resin, resin
from passport.reading.fields import NOT_WEIGHED, read_line
from passport.reading.records import Form
from passport.reading.yaml_text import Fields, Value
from passport.verdicts.book import work_out
from passport.verdicts.in_stock import in_stock
from passport.writing import NewFile

OF_A_RESULT = ("mass", "pieces", "form", "sorted_as", "moisture", "colour", "kept", "scale")
"""What --result may say about a lot, behind its mass."""
OF_SEVERAL = {"sort": "SO", "float-sort": "SO", "extrude": "EX", "mould": "MO", "wash": "WS"}
"""What the numbers of runs with several results begin with, where there is none yet."""
FORM_AFTER = {"shred": "flake", "extrude": "bars", "press": "sheets", "purge": "purge", "mould": "mouldings"}
"""What an operation mostly yields: proposed, never taken for granted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Typed:
    """A run as it was typed in."""

    operation: str
    shared: dict[str, Value]
    """Date, draws, losses and so on: of the run's own file, or of its one result's."""
    results: tuple[tuple[str, dict[str, Value]], ...]
    run: str
    """The number of a run with several results, where one was given."""


@click.command()
@click.argument("number", required=False, metavar="[RUN]")
@click.option("--operation", metavar="WORD", help="sort, wash, shred, blend, extrude, mould and so on.")
@click.option("--draw", "draws", multiple=True, metavar="LOT=MASS", help="What goes in; LOT=all empties it.")
@click.option(
    "--result", "results", multiple=True, metavar="LOT=MASS", help="What comes out; RJ=2.6 takes the next RJ."
)
@click.option("--loss", "losses", multiple=True, metavar="NAME=MASS", help="What was lost on the way.")
@click.option("--gain", "gains", multiple=True, metavar="NAME=MASS", help="What came in without being a lot, as water.")
@click.option("--on", metavar="DAY", help="The day. Default: today.")
@click.option("--scale", metavar="NAME", help="Which scale. Default: the first one.")
@click.option("--melt", metavar="TEMPERATURE", help="Melt temperature, °C.")
@click.option("--machine", metavar="NAME", help="Which machine.")
@click.option("--because", metavar="TEXT", help="Why it does not add up.")
@click.option("--note", metavar="TEXT", help="Anything worth telling; no names of people.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written; write nothing.")
@desk.folder_option
def command(
    number: str | None,
    draws: tuple[str, ...],
    results: tuple[str, ...],
    losses: tuple[str, ...],
    gains: tuple[str, ...],
    folder: Path,
    *,
    yes: bool,
    dry_run: bool,
    **given: str | None,
) -> None:
    """Record a run: what was drawn from stock, what came out, what was lost, and whether that adds up.

    One result carries its run in its own record; several get a run's record with theirs beside it. RUN numbers
    a run of several results. Behind a result's mass stand its other facts: "PP=4.1, sorted_as=PP, form=pieces".
    Things that leave with a tag are made by `passport make`.

    \b
    Example:
      passport run
      passport run --operation shred --draw IN-001=all --result SH=12.2 --loss dust=0.1
      passport run --operation sort --draw IN-031=all --result "HD=55.2,sorted_as=PE-HD" --result RJ=2.6
    """
    read = desk.read_records(folder)
    say_how()
    shop, _ = read
    book = work_out(shop)
    floor = Floor(book=book, stock={row.lot.id: row for row in in_stock(book)}, taken=list(taken_ids(shop)))
    ask = Asked(given=given)
    typed = _typed(ask, floor, number, draws, results, losses, gains)
    changes = _changes(folder, floor, typed)
    closure = tried(desk.content_of(folder), changes)[0].ledger.closures[_run_of(floor, typed)]
    desk.say(runs_anew.in_words(closure))
    why = runs_anew.because(ask, closure)
    if why:
        typed.shared["because"] = why
        changes = _changes(folder, floor, typed)
    ask.say_what_is_open()
    if save(folder, read, changes, yes=yes, dry_run=dry_run):
        for lot, facts in typed.results:
            click.echo(lot)
            if facts["mass"] == NOT_WEIGHED.value:
                desk.say(f"Next: passport receive --weigh {lot}    once it has been on the scale")


def _typed(
    ask: Asked,
    floor: Floor,
    number: str | None,
    draws: Sequence[str],
    results: Sequence[str],
    losses: Sequence[str],
    gains: Sequence[str],
) -> _Typed:
    name = runs_anew.operation(ask, "What was done, such as sort, wash, shred, blend, extrude, mould")
    kind = operation_kind(name)
    scripted = bool(draws or results)
    shared: dict[str, Value] = {"date": ask(day_question(today().isoformat(), "Which day")), "operation": name}
    shared["draws"] = taken = runs_anew.draws(floor, draws)
    form = _usual_form(floor, name, taken)
    found = tuple(_given_results(floor, results) if results else _asked_results(floor, kind, form))
    shared["losses"] = runs_anew.named_masses(losses, "loss", "What was lost on the way", ask_for=not scripted)
    wets = kind.wets and not scripted
    shared["gains"] = runs_anew.named_masses(gains, "gain", "What came in, such as water", ask_for=wets)
    shared |= dict(runs_anew.melt(ask, name))
    shared |= {"machine": ask.given.get("machine") or "", **dict(scale_used(ask, floor.book.shop))}
    shared["notes"] = ask.given.get("note") or ""
    return _Typed(operation=name, shared=shared, results=found, run=(number or "").strip().upper())


# --- results ----------------------------------------------------------------------------------------------


def _given_results(floor: Floor, texts: Sequence[str]) -> Iterator[tuple[str, dict[str, Value]]]:
    for text in texts:
        name, sign, rest = text.partition("=")
        if not sign:
            raise click.UsageError(f'--result: met "{text}", wanted LOT=MASS, such as SH-002=12.2 kg')
        lot = runs_anew.given_id(floor, "--result", name)
        floor.taken.append(lot)
        mass, *more = (part.strip() for part in rest.split(","))
        yield lot, {"mass": _read_mass(mass), **dict(_more(text, more))}


def _read_mass(text: str) -> str:
    return text if text == NOT_WEIGHED.value else runs_anew.must_read("--result", kilograms(text), read_mass)


def _more(text: str, facts: Sequence[str]) -> Iterator[tuple[str, Value]]:
    for fact in facts:
        name, sign, value = (part.strip() for part in fact.partition("="))
        if not sign or name not in OF_A_RESULT:
            known = ", ".join(OF_A_RESULT[1:])
            raise click.UsageError(f'--result: met "{fact}" in "{text}", wanted one of {known} with = and its value')
        yield name, value


def _usual_form(floor: Floor, operation: str, draws: Sequence[Fields]) -> str:
    """The form that the operation gives, else that of what goes in."""
    lot = floor.book.shop.lots.get(str(draws[0].get("lot", ""))) if draws else None
    return FORM_AFTER.get(operation, lot.form.value if lot and lot.form else "")


def _asked_results(floor: Floor, kind: OperationKind, form: str) -> Iterator[tuple[str, dict[str, Value]]]:
    """One result after the other; a run has at least one."""
    if not at_a_terminal():
        raise click.UsageError('--result is wanted, such as --result "SH=12.2 kg"')
    tidy, read = runs_anew.new_id(floor)
    # heaps of a sort have a series each: there is nothing to propose
    series = "" if kind.separates else runs_anew.series_for(floor, kind.name)
    asks = "What came out: its number" + (", or letters such as HD for the next of them" if kind.separates else "")
    proposal = next_id(floor.taken, series) if series else ""
    lot = answer(Question(name="result", asks=asks, proposal=proposal, read=read, tidy=tidy), None)
    while lot:
        floor.taken.append(lot)
        yield lot, dict(_about_result(kind, form))
        asks = "And another lot that came out (its number, or letters such as RJ; Enter: that is all)"
        lot = answer(Question(name="result", asks=asks, read=read, tidy=tidy, may_end=True), None)


def _about_result(kind: OperationKind, form: str) -> Iterator[tuple[str, Value]]:
    cost = "the run cannot be balanced until it is weighed"
    mass = answer(Question(name="mass", asks="  Its mass, in kg", read=read_mass, tidy=kilograms, cost=cost), None)
    yield "mass", mass or NOT_WEIGHED.value
    forms = tuple(form.value for form in Form)
    asks = f"  Its form ({', '.join(forms)})"
    cost = "blend will leave it out"
    yield "form", answer(Question(name="form", asks=asks, known=forms, cost=cost, proposal=form), None)
    if kind.separates:
        heap = Question(name="sorted_as", asks="  Sorted as which resin", read=read_resin, tidy=resin, cost="unnamed")
        yield "sorted_as", answer(heap, None)
    if kind.wets:
        cost = "figures are of dry mass; unknown water is a doubt"
        yield "moisture", answer(Question(name="moisture", asks="  Water in it, in %", tidy=percent, cost=cost), None)
    if kind.melts:
        count = Question(name="pieces", asks="  How many pieces", read=read_count, cost="drawn by mass only")
        yield "pieces", answer(count, None)
    kept = Question(name="kept", asks="  Where will it stand", read=read_line, cost="stock cannot say where it is")
    yield "kept", answer(kept, None)


# --- records ----------------------------------------------------------------------------------------------


def _run_of(floor: Floor, typed: _Typed) -> str:
    """The number of the run: its one result's, or its own."""
    if len(typed.results) == 1 and not typed.run:
        return typed.results[0][0]
    return typed.run or next_id(floor.taken, _run_series(floor, typed.operation))


def _run_series(floor: Floor, operation: str) -> str:
    shop = floor.book.shop
    known = [run.id for run in shop.runs.values() if run.operation == operation and not shop.taken_over(run.id)]
    latest = max(known, default="").rpartition("-")[0]
    return latest or OF_SEVERAL.get(operation, f"R{operation[:1].upper()}")


def _changes(folder: Path, floor: Floor, typed: _Typed) -> tuple[NewFile, ...]:
    run = _run_of(floor, typed)
    if len(typed.results) == 1 and not typed.run:
        lot, facts = typed.results[0]
        return (lot_file(folder, lot, {**typed.shared, **facts}),)
    day = typed.shared["date"]
    of_results = (lot_file(folder, lot, _result(day, run, facts, typed.shared)) for lot, facts in typed.results)
    return (run_file(folder, run, typed.shared), *of_results)


def _result(day: Value, run: str, facts: Mapping[str, Value], shared: Mapping[str, Value]) -> Fields:
    return {"date": day, "run": run, **facts, "scale": facts.get("scale") or shared.get("scale") or ""}
