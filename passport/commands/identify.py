"""`identify`: what a piece or a lot is made of, how well that is known, and which test would settle it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

import click

from passport.amounts import (
    NotAQuantity,
    read_mass,
    read_share,
    read_temperature_c,
)
from passport.material.bench import bench_lines, closing
from passport.material.density import (
    MINERAL_G_CM3,
    Immersion,
    PieceDensity,
    as_filled,
    candidates,
    half_and_half,
    measure,
    too_coarse,
)
from passport.material.identity import Identity, identify
from passport.material.liquids import (
    LiquidDensity,
    density_of,
    percent_by_mass_from_volume,
    read_liquid,
)
from passport.material.purity import pieces_to_read
from passport.material.resins import hint_for, resins
from passport.material.separating_liquid import Recipe, separating
from passport.office import desk
from passport.office.stages import worked_out
from passport.problems import Problem, did_you_mean
from passport.reading.records import DensityTest
from passport.verdicts import purity
from passport.verdicts.book import Book

T = TypeVar("T")
Report = dict[str, Any]

NO_BURNING = (
    "burn nothing to find out: the smoke may be poisonous, and flame retardants and fillers falsify flame and smell"
)
VAPOUR = "the vapour is flammable: no flame, no spark, open window; keep it in a closed jar"
FOAM = "foam floats in everything because of its gas cells: press a piece solid first"
FILLER = "filler, paint and bubbles change a density: take a clean, solid piece and wet it well"


@click.command()
@click.argument("lot", required=False)
@click.option("--in-air", help='At the bench: the reading in air, such as "41.52 g".')
@click.option("--in-liquid", help='The reading under the liquid, such as "7.24 g".')
@click.option("--sinker", help="For a piece that floats: the sinker alone under the liquid; --in-liquid is then both.")
@click.option(
    "--liquid", default="water", show_default=True, help='Such as "ethanol 100 % by mass" or "brine 11 % by mass".'
)
@click.option("--temperature", default="20 °C", show_default=True, help="Of the liquid.")
@click.option("--step", default="0.01 g", show_default=True, help="The smallest difference the balance shows.")
@click.option("--separate", nargs=2, metavar="RESIN RESIN", help="The liquid in which one floats and the other sinks.")
@click.option(
    "--alcohol", default="100 % by mass", show_default=True, help='Strength of what you bought; also "96 % by volume".'
)
@click.option("--plan", metavar="SHARE", help="How many pieces to read, to say at least so much of a lot is the resin.")
@click.option("--confidence", default="95 %", show_default=True, help="How sure the plan is to be.")
@click.option("--of", "planned", metavar="LOT", help="The lot that the plan is for: fewer pieces where it is small.")
@desk.json_option
@desk.folder_option
def command(folder: Path, *, as_json: bool, **said: Any) -> None:
    """Say what a piece or a lot is made of, how well that is known, and what would settle it.

    \b
    Example:
      passport identify IN-016
      passport identify --in-air "41.52 g" --in-liquid "7.24 g" \\
        --liquid "ethanol 100 % by mass" --temperature "21 °C"
      passport identify --in-air "5.000 g" --in-liquid "11.475 g" --sinker "12.000 g" --step "0.001 g"
      passport identify --separate PP PE-HD --alcohol "96 % by volume"
      passport identify --plan "95 %" --of IN-016
    """
    if said["in_air"] or said["in_liquid"]:
        report = _weighed(said)
    elif said["separate"]:
        one, other = said["separate"]
        report = _recipe_report(one, other, said["alcohol"])
    elif said["plan"]:
        report = _plan(folder, said["plan"], said["confidence"], said["planned"])
    elif said["lot"]:
        report = _of_lot(worked_out(folder, None)[0], said["lot"].upper())
    else:
        raise click.UsageError("name a LOT, or give --in-air and --in-liquid, --separate or --plan")
    _print(report, as_json=as_json)


def _print(report: Report, *, as_json: bool) -> None:
    """Lines of label and value, or JSON; a list is one line each under one label."""
    if as_json:
        click.echo(json.dumps(report, ensure_ascii=False, indent=1))
        return
    width = max(len(label) for label in report) + 2
    for label, value in report.items():
        lines = value if isinstance(value, list) else [value]
        for i, line in enumerate(lines):
            click.echo(f"{'' if i else label.replace('_', ' '):<{width}}{line}")


def _read(reader: Callable[[str], T], text: str, option: str) -> T:
    """A quantity of the command line; a slip ends the command."""
    try:
        return reader(text.strip())
    except NotAQuantity as slip:
        desk.stop([Problem(code="option-unread", message=f"{slip} for {option}", hint=slip.hint)])


# --- a piece on the balance ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bench:
    """One weighing as it was typed, read."""

    immersion: Immersion
    liquid: str
    temperature: str


def _bench(said: dict[str, Any]) -> _Bench:
    for option in ("in_air", "in_liquid"):
        if not said[option]:
            message = f"met no --{option.replace('_', '-')}, wanted both readings"
            hint = "weigh the piece in air and under the liquid"
            desk.stop([Problem(code="density-half", message=message, hint=hint)])
    temperature_c = float(_read(read_temperature_c, said["temperature"], "--temperature"))
    step_g = _grams(said["step"], "--step")
    if step_g <= 0:
        desk.stop([Problem(code="option-unread", message=f'met "{said["step"]}" for --step, wanted more than 0 g')])
    immersion = Immersion(
        in_air_g=_grams(said["in_air"], "--in-air"),
        in_liquid_g=_under_liquid_g(said["in_liquid"]),
        liquid=_liquid(said["liquid"], temperature_c),
        sinker_g=_grams(said["sinker"], "--sinker") if said["sinker"] else None,
        step_g=step_g,
    )
    return _Bench(immersion=immersion, liquid=said["liquid"].strip(), temperature=said["temperature"].strip())


def _grams(text: str, option: str) -> float:
    return float(_read(read_mass, text, option).mass_kg) * 1000


def _under_liquid_g(text: str) -> float:
    """A balance shows less than nothing where the piece pulls upwards."""
    plain = text.strip()
    if plain.lower() in ("floats", "it floats"):
        return -1.0
    below = plain.startswith(("-", "\u2212"))
    return _grams(plain.lstrip("-\u2212"), "--in-liquid") * (-1 if below else 1)


def _liquid(text: str, temperature_c: float) -> LiquidDensity:
    liquid = read_liquid(text)
    density = liquid if isinstance(liquid, Problem) else density_of(liquid, temperature_c)
    if isinstance(density, Problem):
        desk.stop([density])
    return density


def _weighed(said: dict[str, Any]) -> Report:
    bench = _bench(said)
    density = measure(bench.immersion)
    if isinstance(density, Problem):
        desk.stop([_with_foam(density)])
    refusal = too_coarse(density, candidates(density))
    if refusal is not None:
        desk.stop([refusal])
    found = identify([_as_test(bench)])
    liquid = bench.immersion.liquid
    report: Report = {
        "density": f"{density.g_cm3:.4f} ± {density.uncertainty_g_cm3:.4f} g/cm³ (one standard uncertainty)",
        "in": f"{bench.liquid} at {bench.temperature}, {liquid.g_cm3:.4f} g/cm³",
        "could_be": ", ".join(found.candidates) if found.basis[0].names else "no plain resin",
    }
    if found.filled:
        report["if_filled"] = [_as_filled(symbol, density) for symbol in found.filled]
    mixed = half_and_half(density)
    if mixed:
        report["or_mixed"] = [f"{one} and {other} in equal parts by mass weigh as much" for one, other in mixed]
    report["ruled_out"] = _excluded(found)
    report |= _next(found)
    report["mind"] = [FILLER, NO_BURNING]
    return report


def _as_filled(symbol: str, density: PieceDensity) -> str:
    """A resin with the share of mineral that would make it so heavy."""
    share = as_filled(symbol, density.g_cm3)
    return f"{symbol}, with about {share * 100:.0f} % by mass of a mineral such as talc ({MINERAL_G_CM3} g/cm³)"


def _with_foam(problem: Problem) -> Problem:
    return replace(problem, hint=f"{problem.hint}; {FOAM}") if problem.code == "density-floats" else problem


def _as_test(bench: _Bench) -> DensityTest:
    from passport.reading.decode import adapter  # noqa: PLC0415

    weighed = bench.immersion
    tree = {"test": "density", "liquid": bench.liquid, "temperature": bench.temperature}
    tree |= {"in_air": f"{weighed.in_air_g:.6f} g", "in_liquid": f"{weighed.in_liquid_g:.6f} g"}
    tree |= {} if weighed.sinker_g is None else {"sinker": f"{weighed.sinker_g:.6f} g"}
    test: DensityTest = adapter(DensityTest).validate_python(tree | {"step": f"{weighed.step_g:.6f} g"})
    return test


def _excluded(found: Identity) -> str:
    out = frozenset(symbol for seen in found.basis for symbol in seen.excludes)
    listed = ", ".join(s for s in resins() if s in out)
    return f"{listed}: never of this density" if listed else "nothing: filler makes any resin heavier"


def _next(found: Identity) -> Report:
    test = found.next_test
    if test is None:
        return {}
    report: Report = {"next_test": test.in_words()}
    if test.recipe is not None:
        report["liquid"] = _recipe_lines(test.recipe)
    return report


# --- the separating liquid ----------------------------------------------------------------------------


def _recipe_report(one: str, other: str, alcohol: str) -> Report:
    pair = [_symbol(one), _symbol(other)]
    bought = _strength(alcohol)
    found = {(up, down): separating(up, down, bought) for up, down in (pair, pair[::-1])}
    for (floats, sinks), recipe in found.items():
        if recipe is not None:
            return {"floats": floats, "sinks": sinks, "liquid": _recipe_lines(recipe), "mind": _mind(recipe)}
    return desk.stop([_inseparable(*pair)])


def _symbol(text: str) -> str:
    found = {symbol.upper(): symbol for symbol in resins()}.get(text.strip().upper())
    if found is None:
        message = f'met "{text}", wanted a symbol of ISO 1043-1 such as PP'
        desk.stop([Problem(code="resin-unknown", message=message, hint=hint_for(text))])
    return found


_STRENGTH = re.compile(r"(?P<share>[^%]+%)\s*by (?P<by>mass|volume)")
STRENGTH_WANTED = 'a strength such as "96 % by volume" or "94 % by mass"'


def _strength(text: str) -> float:
    """Per cent by mass of the alcohol that was bought."""
    found = _STRENGTH.fullmatch(text.strip())
    if found is None:
        desk.stop([Problem(code="option-unread", message=f'met "{text}" for --alcohol, wanted {STRENGTH_WANTED}')])
    percent = float(_read(read_share, found["share"].strip(), "--alcohol") * 100)
    return percent if found["by"] == "mass" else percent_by_mass_from_volume(percent)


def _inseparable(one: str, other: str) -> Problem:
    floating = next((s for s in (one, other) if resins()[s].float_note), "")
    hint = FOAM if floating else "nothing at the bench tells them apart: have a melting peak or a spectrum taken"
    density = " and ".join(
        f"{s} ({f.low:.3f} to {f.high:.3f} g/cm³)" for s in (one, other) for f in [resins()[s].density_g_cm3]
    )
    message = f"met {density}, wanted two resins with room for a liquid between them that can be mixed"
    return Problem(code="separate-none", message=message, hint=hint)


def _recipe_lines(recipe: Recipe) -> list[str]:
    """The liquid and its recipe for one kilogram, by mass."""
    said = f"{recipe.liquid} at 20 °C, {recipe.density_g_cm3:.3f} g/cm³"
    if recipe.liquid.kind == "water":
        return [said, "with a drop of soap, so that no bubbles hold pieces up"]
    if recipe.liquid.kind == "brine":
        made = f"for 1 kg: {recipe.other_g:.0f} g of salt into {recipe.water_g:.0f} g of water"
        return [said, f"{made} ({recipe.salt_g_per_100_g_water:.1f} g in 100 g water)"]
    bought = f"{recipe.bought_percent_by_mass:.1f} % by mass"
    made = f"for 1 kg: {recipe.other_g:.0f} g of alcohol ({bought}) and {recipe.water_g:.0f} g of water"
    return [said, made, "weigh both: volumes of alcohol and water do not add up"]


def _mind(recipe: Recipe) -> list[str]:
    near = f"let it stand until it is at 20 °C; the nearer resin is {recipe.margin_g_cm3:.3f} g/cm³ away"
    return [*([VAPOUR] if recipe.flammable else []), near]


# --- how many pieces ----------------------------------------------------------------------------------


def _plan(folder: Path, share: str, confidence: str, planned: str | None) -> Report:
    wanted, sure = _percent(share, "--plan"), _percent(confidence, "--confidence")
    if not 0 < sure < 1:
        message = f'met "{confidence}" for --confidence, wanted more than 0 % and less than 100 %'
        desk.stop([Problem(code="plan-confidence", message=message, hint="95 % is usual")])
    of_lot, resin = None, "the resin"
    if planned:
        book = worked_out(folder, None)[0]
        lot = book.shop.lots[_known_lot(book, planned.upper())]
        of_lot = lot.pieces.pieces if lot.pieces is not None else None
        resin = _symbol_of(book, lot.id) or resin
    number = pieces_to_read(wanted, sure, of_lot)
    if number is None:
        message = f'met "{share}" of a lot whose pieces nobody counted, wanted less than 100 %'
        desk.stop([Problem(code="plan-whole", message=message, hint="count the pieces of the lot and read them all")])
    at_least, with_ = f"{float(wanted * 100):g} %", f"{float(sure * 100):g} %"
    if of_lot is None:
        said = f"read {number} pieces drawn at random"
    elif number == of_lot:
        said = f"read all {of_lot} pieces"
    else:
        said = f"read {number} of the {of_lot} pieces, drawn at random"
    ends = f"if all are {resin}, at least {at_least} of the pieces are, with {with_} confidence"
    return {"plan": said, "then": ends, "mind": _plan_warnings()}


def _plan_warnings() -> list[str]:
    return [
        "picked pieces say nothing about the rest; a piece too dark to read counts as another resin",
        "a share of pieces is no share of mass: weigh the sample where the pieces differ",
    ]


def _percent(text: str, option: str) -> Fraction:
    plain = text.strip()
    return _read(read_share, plain if "%" in plain else f"{plain} %", option)


# --- a lot of the records -----------------------------------------------------------------------------


def _known_lot(book: Book, name: str) -> str:
    if name not in book.shop.lots:
        hint = did_you_mean(name, book.shop.lots) or "lots are the files in content/lots/"
        desk.stop([Problem(code="unknown-lot", message=f'met the lot "{name}", which has no record', hint=hint)])
    return name


def _symbol_of(book: Book, lot: str) -> str:
    """The resin that a lot is named by, from its own tests or from what it was made of; "" for none."""
    from passport.verdicts.single_stream import main_resin  # noqa: PLC0415

    identity = book.standing.own.get(lot)
    found, _ = main_resin(book.ledger.mixtures[lot], book.standing.threshold)
    return found or (identity.symbol if identity and identity.symbol else "")


def _of_lot(book: Book, name: str) -> Report:
    lot = _known_lot(book, name)
    identity = book.standing.own.get(lot)
    problems = book.standing.identity_doubts(lot)
    report: Report = {"lot": lot}
    if problems:
        report["doubts"] = [p.message for p in problems]
    if identity is None:
        report |= _inherited(book, lot)
    else:
        known = f" {identity.symbol}" if identity.symbol else ""
        report["verdict"] = f"{identity.verdict.value.replace('-', ' ')}{known}"
        report["evidence"] = list(_evidence(identity))
        report["could_be"] = ", ".join(identity.candidates)
        if identity.filled:
            report["if_filled"] = ", ".join(identity.filled)
    report |= _purity(book, lot)
    if identity is not None:
        report |= _next(identity) or {"next_test": "none: it is settled"}
    report["mind"] = [NO_BURNING, *_at_the_bench(_symbol_of(book, lot))]
    return report


def _at_the_bench(symbol: str) -> Iterator[str]:
    """How hot it may be melted and what it then gives off, or that it is not melted here."""
    if symbol:
        yield from (line.words["en"] for line in bench_lines([symbol], "melt"))
        yield closing()["en"]


def _inherited(book: Book, lot: str) -> Report:
    """A lot that was not tested is as well known as what it was made of."""
    share = float(book.standing.proven_share.get(lot, Fraction(0)) * 100)
    rests_on = ", ".join(book.standing.rests_on.get(lot, ())) or "nothing"
    verdict = _symbol_of(book, lot) if book.standing.proven(lot) else ""
    return {
        "verdict": f"established {verdict}" if verdict else "not established",
        "evidence": [f"not tested itself; rests on {rests_on}", f"{share:.0f} % of it by mass is of established resin"],
    }


def _evidence(identity: Identity) -> Iterator[str]:
    for seen in identity.basis:
        facts = dict(seen.facts)
        pieces = f", {seen.pieces} pieces" if seen.pieces else ""
        others = f", of these {facts['others']}" if facts.get("others") else ""
        support = "no evidence" if seen.support.value == "none" else seen.support.value
        yield f"{support}: {seen.said}{pieces}{others}"


def _purity(book: Book, lot: str) -> Report:
    symbol = _symbol_of(book, lot)
    if not symbol:
        return {"purity": "none: no resin is named"}
    found = purity.of_node(book.ledger, lot, symbol).value
    if found is None:
        return {"purity": f"no bound: no pieces drawn at random were read as {symbol}"}
    percent = int(found.bound.at_least * 100)
    if found.all_read:
        return {"purity": f"{percent} % of the pieces are {symbol}: all {found.read} were read; pieces are not mass"}
    sure = f"with {float(found.bound.confidence * 100):g} % confidence"
    if found.bound.of == "mass":
        flake = f"by {float(found.grams):g} g of flake read flake by flake"
        return {"purity": f"at least {percent} % of its mass is {symbol}, {sure}, {flake}; approximate"}
    by = [f"{found.read} pieces drawn at random"] if found.read else []
    by += [f"{float(found.grams):g} g of flake"] if found.grams else []
    said = f"at least {percent} % of the pieces are {symbol}, {sure}"
    return {"purity": f"{said}, by {' and '.join(by)}; pieces are not mass"}
