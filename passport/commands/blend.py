"""`blend`: how much of which lot, from the stock on hand and within limits."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

import click

from passport.amounts import MeltFlow, NotAQuantity, floor_percent, read_mass, read_melt_flow, read_share
from passport.massflow import Ledger, State
from passport.material.bench import bench_lines, closing
from passport.material.blending import Limits, Proposal, StockLot, most_of, propose
from passport.material.flow import Route, condition_of, routes_for
from passport.material.purity import lower_bound
from passport.material.resins import groups, hint_for, resins, symbols_for
from passport.material.tables import table
from passport.office import desk
from passport.office.saving import lot_file, save, taken_ids
from passport.office.stages import worked_out
from passport.problems import Level, Problem, did_you_mean
from passport.reading.fields import NOT_WEIGHED, read_id
from passport.reading.records import Form, Lot
from passport.reading.yaml_text import Fields
from passport.verdicts import flow, purity
from passport.verdicts.book import Book
from passport.verdicts.release import Release
from passport.verdicts.single_stream import main_resin

T = TypeVar("T")
READY = frozenset({Form.FLAKE, Form.REGRIND, Form.PELLETS, Form.POWDER, None})
"""Forms that can be weighed into a blend as they are; the rest is shredded first. None: nobody wrote the form."""
GRAMS = 1000


@click.command()
@click.option("--want", required=True, help='The mass of the blend, such as "50 kg".')
@click.option("--resin", help="Its resin, such as PP, or a group such as PE.")
@click.option("--flow-min", help='Such as "4 g/10 min at 230 °C/2.16 kg".')
@click.option("--flow-max", help="Likewise.")
@click.option("--weathered-max", help='Most of heavily sun-worn material, such as "30 %".')
@click.option("--purity-min", help='Least share of the resin that samples stand for, such as "90 %".')
@click.option("--colour", multiple=True, help="Only lots of this colour; may be given more than once.")
@click.option("--most", metavar="LOT", help="Take as much of this lot as the limits allow.")
@click.option("--step", default="0.1 kg", show_default=True, help="The step of the scale you weigh on.")
@click.option("--additive", multiple=True, help='Instead of lots, dose a recipe: such as "colour 2 %"; more than once.')
@click.option("--regrind", help='With --additive: the share of own regrind, such as "25 %".')
@click.option("--open-loop", is_flag=True, help="With --additive: the regrind is not of this same recipe.")
@click.option("--write", "new", metavar="ID", help="Save the proposal as a record of a lot with this id.")
@click.option("--on", "day", type=desk.DAY, help="The day of the record. Default: today.")
@desk.json_option
@desk.folder_option
def command(folder: Path, day: dt.date | None, new: str | None, *, as_json: bool, **said: Any) -> None:
    """Propose masses for a blend from the free stock on hand, the oldest lots first.

    The flow is estimated by the logarithmic rule and may be 12 % off: measure the blend. Lots without a random
    sample count as pure to 0 %.

    \b
    Example:
      passport blend --want "50 kg" --resin PP --weathered-max "30 %"
      passport blend --want "20 kg" --resin PP --most SH-007 --flow-min "10 g/10 min at 230 °C/2.16 kg"
      passport blend --want "20 kg" --resin PP --write BL-012
      passport blend --want "40 kg" --additive "colour 2 %" --regrind "25 %"
    """
    if said["additive"] or said["regrind"] or said["open_loop"]:
        _dose(said, new, as_json=as_json)
        return
    if not said["resin"]:
        raise click.UsageError("name the resin of the blend with --resin, or dose a recipe with --additive")
    wanted_kg, asked = _asked(said)
    book, problems = worked_out(folder, None)
    first = _lot_name(book, said["most"]) if said["most"] else ""
    name = _free_name(book, new) if new else ""
    stock = _stock(book, asked)
    limits = asked.limits
    lots = stock.lots
    found = most_of(first, lots, wanted_kg, limits) if first else propose(lots, wanted_kg, limits)
    if not found.feasible:
        desk.stop((*(p for p in found.problems if p.level is Level.ERROR), *stock.problems, *_advice(found)))
    report = _report(book, asked, stock, found)
    if as_json:
        click.echo(json.dumps(report, ensure_ascii=False, indent=1))
    else:
        _print(report)
    desk.show((*stock.problems, *found.problems))
    if name:
        record = lot_file(folder, name, _record(book, found, day or dt.datetime.now(tz=dt.UTC).date()))
        save(folder, (book.shop, problems), [record], yes=True)


NOT_DOSED = ("resin", "flow_min", "flow_max", "weathered_max", "purity_min", "colour", "most")


def _dose(said: Mapping[str, Any], new: str | None, *, as_json: bool) -> None:
    """A recipe with own regrind, by mass; nothing of the records is read."""
    from passport.office.dosing_lines import dosing_lines, dosing_report  # noqa: PLC0415

    for option in NOT_DOSED:
        if said[option]:
            raise click.UsageError(f"--{option.replace('_', '-')} is for a blend of lots, not for dosing a recipe")
    if new:
        raise click.UsageError("--write is for a blend of lots, not for dosing a recipe")
    want_kg = _read(read_mass, said["want"], "--want").mass_kg
    report = dosing_report(want_kg, said["additive"], said["regrind"] or "", open_loop=said["open_loop"])
    click.echo(json.dumps(report, ensure_ascii=False, indent=1) if as_json else "\n".join(dosing_lines(report)))


def _advice(found: Proposal) -> tuple[Problem, ...]:
    return tuple(p for p in found.problems if p.level is not Level.ERROR)


# --- what is asked for --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """Limits, with the one test condition of the flows asked for."""

    limits: Limits
    condition: tuple[Decimal, Decimal] | None


def _read(reader: Callable[[str], T], text: str, option: str) -> T:
    try:
        return reader(text.strip())
    except NotAQuantity as slip:
        desk.stop([Problem(code="option-unread", message=f"{slip} for {option}", hint=slip.hint)])


def _asked(said: Mapping[str, Any]) -> tuple[Decimal, _Asked]:
    least = _read(read_melt_flow, said["flow_min"], "--flow-min") if said["flow_min"] else None
    most = _read(read_melt_flow, said["flow_max"], "--flow-max") if said["flow_max"] else None
    limits = Limits(
        resin=_resin(said["resin"]),
        lowest_flow=_positive(least, "--flow-min"),
        highest_flow=_positive(most, "--flow-max"),
        most_heavy=_share(said["weathered_max"], "--weathered-max"),
        purest=_share(said["purity_min"], "--purity-min"),
        colours=frozenset(said["colour"]),
        step_kg=_step(said["step"]),
    )
    asked = _Asked(limits=limits, condition=_condition(least, most))
    return _read(read_mass, said["want"], "--want").mass_kg, asked


def _share(text: str | None, option: str) -> Fraction | None:
    return _read(read_share, text, option) if text else None


def _step(text: str) -> Decimal:
    step = _read(read_mass, text, "--step").mass_kg
    if step <= 0:
        desk.stop([Problem(code="option-unread", message=f'met "{text}" for --step, wanted more than 0 g')])
    return step


def _positive(limit: MeltFlow | None, option: str) -> Decimal | None:
    if limit is None:
        return None
    if limit.g_per_10_min <= 0:
        message = f"met a flow of {limit.g_per_10_min} g/10 min for {option}, wanted more than 0"
        desk.stop([Problem(code="option-unread", message=message)])
    return limit.g_per_10_min


def _resin(text: str) -> str:
    name = {known.upper(): known for known in (*resins(), *groups())}.get(text.strip().upper())
    if name is None:
        message = f'met "{text}" for --resin, wanted a symbol of ISO 1043-1 or a group such as PE'
        desk.stop([Problem(code="resin-unknown", message=message, hint=hint_for(text))])
    return name


def _condition(least: MeltFlow | None, most: MeltFlow | None) -> tuple[Decimal, Decimal] | None:
    flows = [limit for limit in (least, most) if limit is not None]
    if len({condition_of(limit) for limit in flows}) > 1:
        met = " and ".join(limit.condition for limit in flows)
        message = f"met flow limits at {met}, wanted one test condition"
        hint = "two conditions are not comparable (ISO 1133)"
        desk.stop([Problem(code="flow-conditions", message=message, hint=hint)])
    return condition_of(flows[0]) if flows else None


def _lot_name(book: Book, text: str) -> str:
    name = text.upper()
    if name not in book.shop.lots:
        hint = did_you_mean(name, book.shop.lots) or "lots are the files in content/lots/"
        desk.stop([Problem(code="unknown-lot", message=f'met the lot "{text}", which has no record', hint=hint)])
    return name


def _free_name(book: Book, text: str) -> str:
    name = _read(read_id, text.upper(), "--write")
    if name in taken_ids(book.shop):
        message = f'met "{name}" for --write, wanted an id that no record has'
        desk.stop([Problem(code="id-taken", message=message, hint="records are never overwritten")])
    return name


# --- the stock ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stock:
    """Lots that could go in, which of their flows are estimates, and what was left out for a reason."""

    lots: tuple[StockLot, ...]
    estimated: frozenset[str]
    problems: tuple[Problem, ...]


def _stock(book: Book, asked: _Asked) -> _Stock:
    ledger = book.ledger
    named = {name: _symbol(book, name) for name, kept in ledger.stock.items() if kept.books_kg and kept.books_kg > 0}
    of_resin = {name: s for name, s in named.items() if s in symbols_for(asked.limits.resin)}
    whys = {name: _why_not(book, name, asked) for name in of_resin}
    usable = {name: of_resin[name] for name, why in whys.items() if not why}
    parts = {name: tuple(purity.sampled_behind(ledger, name, s).values()) for name, s in usable.items()}
    each = purity.shared_confidence([part for found in parts.values() for part in found])
    bounds = {
        name: sum((w * lower_bound(s, each).at_least for w, s in found if s is not None), Fraction(0))
        for name, found in parts.items()
    }
    flows = {name: _flow(ledger, name, symbol) for name, symbol in usable.items()}
    lots = tuple(
        _stock_lot(ledger, ledger.shop.lots[name], symbol, flows[name][0], bounds[name])
        for name, symbol in usable.items()
    )
    problems = tuple(_left_out(name, why) for name, why in whys.items() if why)
    return _Stock(lots=lots, estimated=frozenset(n for n, (_, guess) in flows.items() if guess), problems=problems)


def _symbol(book: Book, name: str) -> str:
    return main_resin(book.ledger.mixtures[name], book.standing.threshold)[0]


def _why_not(book: Book, name: str, asked: _Asked) -> str:
    """Why a lot of the resin stays out, or nothing."""
    return _not_sound(book, name) or _not_fit(book, name, asked)


def _not_sound(book: Book, name: str) -> str:
    """Held, called back, made of what must not become goods, or of a resin that nobody proved."""
    state = book.ledger.stock[name].state
    if state is not State.FREE:
        return f"met lot {name}, which is {state.value}, wanted a free one"
    if called := [one.recall.id for one in book.called_back.get(name, ()) if not one.ended]:
        return f"met lot {name}, which {called[0]} calls back, wanted a sound one"
    released = book.released(name)
    if released.state is not Release.FREE:
        because = ", ".join(released.because_of)
        return f"met lot {name}, made of what is {released.state.words} ({because}), wanted what may be handed on"
    if not book.standing.proven(name):
        return f"met lot {name}, whose resin is not established, wanted a proven one"
    return ""


def _not_fit(book: Book, name: str, asked: _Asked) -> str:
    """In another form, or of a flow measured at another condition."""
    lot = book.shop.lots[name]
    if lot.form not in READY:
        form = lot.form.value if lot.form else ""
        return f"met lot {name} as {form}, wanted flake, regrind, pellets or powder"
    found, _ = _flow(book.ledger, name, _symbol(book, name))
    if asked.condition and found is not None and condition_of(found) != asked.condition:
        wanted = "/".join(str(part) for part in asked.condition)
        return f"met lot {name} with a melt flow at {found.condition}, wanted one at {wanted}"
    return ""


def _left_out(name: str, why: str) -> Problem:
    return Problem(code="blend-left-out", message=why, level=Level.ADVICE, about=name)


def _flow(ledger: Ledger, name: str, symbol: str) -> tuple[MeltFlow | None, bool]:
    """The flow of a lot, and whether it is an estimate."""
    measured = ledger.shop.lots[name].melt_flow
    if measured is not None:
        return measured, False
    found = flow.of_lot(ledger, name, symbol).value
    if found is None:
        return None, False
    temperature_c, load_kg = found.flow.condition
    value = Decimal(f"{found.flow.g_per_10_min:.2f}")
    return MeltFlow(g_per_10_min=value, temperature_c=temperature_c, load_kg=load_kg), True


def _stock_lot(ledger: Ledger, lot: Lot, symbol: str, melt_flow: MeltFlow | None, at_least: Fraction) -> StockLot:
    grams = int((ledger.stock[lot.id].books_kg or 0) * GRAMS)
    return StockLot(
        id=lot.id,
        symbol=symbol,
        date=lot.date,
        available_kg=Decimal(grams) / GRAMS,
        flow=melt_flow,
        heavy_share=ledger.mixtures[lot.id].share("weathering", flow.HEAVY).value,
        at_least=at_least,
        colour=lot.colour,
    )


# --- what is proposed ---------------------------------------------------------------------------------


def _report(book: Book, asked: _Asked, stock: _Stock, found: Proposal) -> dict[str, Any]:
    by_id = {lot.id: lot for lot in stock.lots}
    rows = [_lot_row(by_id[name], mass, guess=name in stock.estimated) for name, mass in found.masses_kg]
    symbols = {by_id[name].symbol for name, _ in found.masses_kg}
    symbol = min(symbols) if len(symbols) == 1 else ""
    report: dict[str, Any] = {
        "resin": asked.limits.resin,
        "mass_kg": str(sum((mass for _, mass in found.masses_kg), Decimal(0))),
        "lots": rows,
        "flow": _flow_words(found),
        "sun_worn": f"{float(found.heavy_share * 100):.1f} % heavily" + _not_noted(book, found),
        "purity": _purity_words(found),
    }
    if symbol:
        routes = routes_for(symbol, found.flow, found.heavy_share, book.shop.workshop.routes)
        report["suits"] = [table("routes")["routes"][r.key]["words"]["en"] for r in routes if r.suits]
        report["not"] = [_not_suited(r) for r in routes if r.suits is False]
    report["mind"] = [line.words["en"] for line in bench_lines(sorted(symbols), "melt", "flake")] + [closing()["en"]]
    return report


def _lot_row(lot: StockLot, mass: Decimal, *, guess: bool) -> dict[str, str]:
    said = f"{lot.flow.g_per_10_min} g/10 min{' (estimated)' if guess else ''}" if lot.flow else "flow not measured"
    worn = f"{float(lot.heavy_share * 100):.0f} % heavily sun-worn" if lot.heavy_share else ""
    about = ", ".join(word for word in (lot.date.isoformat(), lot.symbol, said, worn, lot.colour) if word)
    return {"lot": lot.id, "mass_kg": str(mass), "of_kg": str(lot.available_kg), "about": about}


def _flow_words(found: Proposal) -> str:
    if found.flow is None:
        return "cannot be told: measure the blend"
    temperature, load = found.flow.condition
    span = f"{found.flow.low:.1f} to {found.flow.high:.1f}"
    said = f"{found.flow.g_per_10_min:.1f} g/10 min at {temperature} °C/{load} kg"
    return f"{said}, estimated ({span}): measure the blend"


def _purity_words(found: Proposal) -> str:
    percent = floor_percent(found.at_least)
    if not percent:
        return "no bound: no pieces of these lots were drawn at random and read"
    return f"at least {percent} % of the pieces behind it, with 95 % confidence; pieces are not mass"


def _not_noted(book: Book, found: Proposal) -> str:
    """How much of it nobody looked at for weathering."""
    total = sum((mass for _, mass in found.masses_kg), Decimal(0))
    unknown = sum(
        (Fraction(m) * book.ledger.mixtures[n].share("weathering", ("unknown",)).value for n, m in found.masses_kg),
        Fraction(0),
    ) / Fraction(total)
    return f"; of {float(unknown * 100):.0f} % it was not noted" if unknown >= Fraction(1, 200) else ""


def _not_suited(route: Route) -> str:
    name = table("routes")["routes"][route.key]["words"]["en"]
    said = (p.message.removesuffix(f" for {route.key}") for p in route.reasons if p.level is Level.DOUBT)
    return f"{name}: {'; '.join(said)}"


def _print(report: Mapping[str, Any]) -> None:
    for line in _lines(report):
        click.echo(line)


def _lines(report: Mapping[str, Any]) -> Iterator[str]:
    rows = report["lots"]
    width = max(len(row["mass_kg"]) for row in rows)
    for row in rows:
        yield f"{row['mass_kg']:>{width}} kg  {row['lot']}  of {row['of_kg']} kg; {row['about']}"
    yield f"{report['mass_kg']:>{width}} kg  {report['resin']}"
    yield ""
    for label in ("flow", "sun_worn", "purity"):
        yield f"{label.replace('_', '-'):<9}{report[label]}"
    for label in ("suits", "not", "mind"):
        for i, said in enumerate(report.get(label, [])):
            yield f"{'' if i else label:<9}{said}"


# --- the record ---------------------------------------------------------------------------------------


def _record(book: Book, found: Proposal, day: dt.date) -> Fields:
    """A lot in the short form; its mass is left to the scale."""
    flow_said = "" if found.flow is None else f"Estimated melt flow {found.flow.g_per_10_min:.1f} g/10 min. "
    forms = {book.shop.lots[name].form for name, _ in found.masses_kg}
    form = forms.pop() if len(forms) == 1 else None
    return {
        "date": day.isoformat(),
        "operation": "blend",
        "draws": [{"lot": name, "mass": f"{mass} kg"} for name, mass in found.masses_kg],
        "mass": NOT_WEIGHED.value,
        "form": form.value if form else "",
        "notes": f"Proposed from the stock on hand. {flow_said}Weigh what went in and what came out, and correct\n"
        "the masses above.\n",
    }
