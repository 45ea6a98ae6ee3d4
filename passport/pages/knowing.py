"""What a page says about how a material is known: the tests in words, purity, flow, and the next test."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from math import inf

from passport.material.flow import BlendFlow, Route, RouteNeeds
from passport.material.identity import Identity, Verdict
from passport.material.liquids import Liquid, read_liquid
from passport.material.next_test import NextTest
from passport.material.sampling import NO_READING, other_readings
from passport.material.seen import Seen, Support
from passport.material.separating_liquid import Recipe
from passport.material.tables import table
from passport.pages.pieces import EvidenceLine, Row
from passport.pages.scribe import Scribe
from passport.problems import Level, Problem
from passport.reading.records import AnyEvidence
from passport.verdicts import flow, purity
from passport.verdicts.purity import Purity

FEW = 4
"""More resins than this are counted, not listed."""
TEST_OF = {"nir-none": "nir", "floats": "float", "sinks": "float", "float-bracket": "float", "sorted": ""}
"""What was seen → the test of the record it was seen in, where the names differ."""
_SEEN_IN_PERCENT = Fraction(1, 200)
"""Less than half a percent is not worth a sentence."""
_VALUES = ("reads", "number", "letters", "liquid", "looks", "says", "document")

# --- the tests ----------------------------------------------------------------------------------------


def evidence_lines(scribe: Scribe, node: str) -> tuple[EvidenceLine, ...]:
    """The tests that a lot's or an item's resin rests on, lot by lot, the strongest of each first."""
    standing = scribe.book.standing
    lots = [lot for lot in standing.rests_on.get(node, ()) if lot in standing.own]
    return tuple(line for lot in lots for line in _lines_of(scribe, lot, standing.own[lot]))


def _lines_of(scribe: Scribe, lot: str, identity: Identity) -> Iterator[EvidenceLine]:
    left = list(scribe.book.shop.lots[lot].evidence)
    for seen in identity.basis:
        test = next((t for t in left if _is_of(seen, t)), None)
        if test is not None:
            left.remove(test)
        yield _line(scribe, lot, identity, seen, test)


def _is_of(seen: Seen, test: AnyEvidence) -> bool:
    """Whether a test of the record is the one that was seen: the same kind, values and pieces."""
    if test.test != TEST_OF.get(seen.code, seen.code):
        return False
    count = test.pieces.pieces if test.pieces is not None else None
    said = dict(seen.facts)
    same = all((getattr(test, name) or "") == said[name] for name in _VALUES if name in said and hasattr(test, name))
    return same and count == seen.pieces


def _line(scribe: Scribe, lot: str, identity: Identity, seen: Seen, test: AnyEvidence | None) -> EvidenceLine:
    words = scribe.words
    pieces = words.some("tell.pieces_read", seen.pieces) if seen.pieces else ""
    note = scribe.said(test.note) if test is not None else scribe.said(None)
    return EvidenceLine(
        test=seen_in_words(scribe, seen, test),
        reads=_reads(scribe, seen),
        pieces=pieces,
        drawn=words(f"tell.drawn.{test.drawn.value}") if test is not None and test.drawn else "",
        lot=scribe.lot(lot),
        against=bool(identity.symbol and seen.names and identity.symbol not in seen.names | seen.only_if_filled),
        note=note.text,
        note_lang=note.lang,
    )


def _reads(scribe: Scribe, seen: Seen) -> str:
    """The resins it speaks for, those it rules out, or that it says nothing."""
    if seen.support is Support.NONE:
        return scribe.words("tell.seen_nothing")
    names = seen.mixture or tuple(sorted(seen.names))
    if names and len(names) <= FEW:
        side_by_side = bool(seen.mixture) or (seen.code == "nir" and seen.support is Support.WEAK)
        return scribe.words.listed(names) if side_by_side else _either(scribe, names)
    out = sorted(seen.excludes)
    if out and len(out) <= FEW:
        return scribe.words("tell.seen_not", resins=scribe.words.listed(out))
    return scribe.words("tell.seen_rules_out", n=scribe.words.number(len(out)))


def _either(scribe: Scribe, names: Sequence[str]) -> str:
    *head, last = names
    return scribe.words("tell.either", some=", ".join(head), last=last) if head else last


def seen_in_words(scribe: Scribe, seen: Seen, test: AnyEvidence | None = None) -> str:
    """One test in a sentence's part: "infrared spectrum of PP", "floats in alcohol of 52 % by mass"."""
    words = scribe.words
    facts = {name: _fact(scribe, name, value) for name, value in seen.facts}
    others = other_readings(test) if test is not None else {}
    if any(others.values()):
        facts["others"] = words.listed(_other(scribe, name, n) for name, n in others.items() if n)
    else:
        facts.pop("others", None)
    return words(f"tell.seen.{_form(seen, facts)}", **facts)


def _form(seen: Seen, facts: dict[str, str]) -> str:
    """Which of the forms of a code the facts allow."""
    said = dict(seen.facts)
    if seen.code == "nir" and "others" in facts:
        return "nir-others"
    if seen.code == "dsc" and not said["peaks"]:
        return "dsc-none"
    if seen.code == "density" and not said:
        return "density-none"
    if seen.code == "moulded-mark" and not (said["number"] and said["letters"]):
        return "mark-number" if said["number"] else "mark-letters"
    if seen.code == "float-bracket" and not (seen.sinks_above_g_cm3 and seen.floats_below_g_cm3):
        return "float-below" if seen.floats_below_g_cm3 else "float-above"
    return seen.code


def _fact(scribe: Scribe, name: str, value: str) -> str:
    """A fact of a test in the page's language."""
    if name in ("density", "uncertainty", "above", "below"):
        return scribe.words.number(Decimal(value), 3)
    if name in ("share", "sample"):
        return scribe.words.number(Decimal(value), _places(value))
    if name == "peaks":
        peaks = [part.strip() for part in value.split(",") if part.strip()]
        return scribe.words.listed(scribe.words.number(Decimal(p), _places(p)) for p in peaks)
    liquid = read_liquid(value) if name == "liquid" else None
    return liquid_in_words(scribe, liquid) if isinstance(liquid, Liquid) else value


def _places(digits: str) -> int:
    return len(digits.partition(".")[2])


def _other(scribe: Scribe, name: str, count: int) -> str:
    said = scribe.words("tell.no_reading") if name == NO_READING else name
    return f"{scribe.words.number(count)} × {said}"


def liquid_in_words(scribe: Scribe, liquid: Liquid) -> str:
    """Water, or alcohol or salt water with its strength."""
    percent = scribe.words.percent(Fraction(str(liquid.percent_by_mass)) / 100)
    return scribe.words(f"tell.liquid.{liquid.kind}", n=percent)


# --- rows of the fact sheet ---------------------------------------------------------------------------


def rows_of_lot(scribe: Scribe, lot: str, symbol: str) -> Iterator[Row]:
    """Purity, flow, what it suits, and what would settle it, where they are known."""
    if symbol:
        yield from purity_rows(scribe, lot, symbol)
        yield from _flow_rows(scribe, lot, symbol)
    yield from next_rows(scribe, lot)


def purity_rows(scribe: Scribe, node: str, symbol: str) -> Iterator[Row]:
    """The bound with what it rests on; nothing where no pieces were drawn at random."""
    verdict, words = purity.of_node(scribe.book.ledger, node, symbol), scribe.words
    found = verdict.value
    if found is None:
        return
    read = _read_in_words(scribe, found)
    where = "" if found.own else words("tell.purity_lots", lots=words.listed(verdict.basis))
    gaps = {"n": words.percent(found.bound.at_least, down=True), "resin": symbol, "read": read + where}
    if found.all_read:
        value = words("tell.purity_all", **gaps)
    else:
        key = "purity_at_least_mass" if found.bound.of == "mass" else "purity_at_least"
        value = words(f"tell.{key}", confidence=words.percent(found.bound.confidence), **gaps)
    yield Row(label=words("tell.row_purity"), value=value, note=_purity_note(scribe, found))


def _read_in_words(scribe: Scribe, found: Purity) -> str:
    """What was read: pieces, or flake by its mass."""
    words = scribe.words
    if found.all_read:
        return words.some("tell.purity_all_read", found.read)
    pieces = [words.some("tell.purity_read", found.read)] if found.read else []
    flake = [words("tell.purity_flake", mass=words.mass(found.grams))] if found.grams else []
    return words.listed(pieces + flake)


def _purity_note(scribe: Scribe, found: Purity) -> str:
    said = scribe.words("tell.purity_note_mass" if found.bound.of == "mass" else "tell.purity_note")
    if found.unsampled < _SEEN_IN_PERCENT:
        return said
    return f"{said} {scribe.words('tell.purity_unsampled', n=scribe.words.percent(found.unsampled))}"


def flow_value(scribe: Scribe, found: BlendFlow) -> str:
    """A melt flow with its condition; an estimate with its range."""
    words = scribe.words
    temperature, load = (words.number(part, _places(str(part))) for part in found.condition)
    gaps = {"n": words.number(Decimal(str(round(found.g_per_10_min, 2))), 1), "t": temperature, "load": load}
    if found.measured:
        return words("tell.flow_measured", **gaps)
    low, high = (words.number(Decimal(str(round(end, 2))), 1) for end in (found.low, found.high))
    return words("tell.flow_estimated", low=low, high=high, **gaps)


def _flow_rows(scribe: Scribe, lot: str, symbol: str) -> Iterator[Row]:
    verdict, words = flow.of_lot(scribe.book.ledger, lot, symbol), scribe.words
    found = verdict.value
    if found is None:
        return
    note = "" if found.flow.measured else words("tell.flow_from", lots=words.listed(verdict.basis))
    yield Row(label=words("tell.row_melt_flow"), value=flow_value(scribe, found.flow), note=note)
    suits = [_route_name(scribe, route) for route in found.routes if route.suits]
    if suits:
        yield Row(label=words("tell.row_suits"), value=words.listed(suits))
    for route in found.routes:
        if route.suits is False:
            why = "; ".join(_reason(scribe, p) for p in route.reasons if p.level is Level.DOUBT)
            said = words("tell.suits_not", route=_route_name(scribe, route), why=why)
            yield Row(label=words("tell.row_suits_not"), value=said, note=_route_reason(scribe, route))


def _route_reason(scribe: Scribe, route: Route | RouteNeeds) -> str:
    """The reason behind a limit, and whose limit it is."""
    key = "tell.route_own" if route.own else "tell.route_default"
    return scribe.words(key, reason=scribe.said(route.reason).text)


def _route_name(scribe: Scribe, route: Route | RouteNeeds) -> str:
    names = table("routes")["routes"][route.key]["words"]
    said: str = names.get(scribe.lang) or names["en"]
    return said


def needs_in_words(scribe: Scribe, alike: Sequence[RouteNeeds]) -> str:
    """What a way of forming needs of several groups of resins for one reason, in a sentence."""
    words, one = scribe.words, alike[0]
    return words(
        "tell.route_needs",
        route=_route_name(scribe, one),
        spans=words.listed(_span_in_words(scribe, needs) for needs in alike),
        heavy=words.percent(Fraction(str(one.most_heavy))),
        reason=_route_reason(scribe, one),
    )


def _span_in_words(scribe: Scribe, needs: RouteNeeds) -> str:
    words, flow = scribe.words, needs.flow
    temperature, load = (words.number(part, _places(str(part))) for part in needs.condition)
    low, high = (_end(scribe, flow.low), _end(scribe, flow.high)) if flow is not None else ("–", "–")
    return words("tell.route_span", group=needs.group, low=low, high=high, t=temperature, load=load)


def _end(scribe: Scribe, g_per_10_min: float) -> str:
    """One end of a span of flows; an open one as such."""
    return (
        "∞" if g_per_10_min == inf else scribe.words.number(Decimal(f"{g_per_10_min:g}"), _places(f"{g_per_10_min:g}"))
    )


def _reason(scribe: Scribe, problem: Problem) -> str:
    facts = {name: scribe.words.local(value) for name, value in problem.facts if name != "route"}
    return scribe.words(f"tell.{problem.code}", **facts)


# --- what would settle it -----------------------------------------------------------------------------


def next_rows(scribe: Scribe, node: str) -> Iterator[Row]:
    """The next test of the lots that leave the resin open, in words."""
    standing, words = scribe.book.standing, scribe.words
    if standing.proven(node):
        return
    for lot in standing.rests_on.get(node, ()):
        identity = standing.own.get(lot)
        if identity is None or identity.verdict is Verdict.ESTABLISHED or identity.next_test is None:
            continue
        where = "" if lot == node else words("tell.next_of", lot=lot) + " "
        said = f"{where}{test_in_words(scribe, identity.next_test)}."
        yield Row(label=words("tell.row_next"), value=said, note=_no_fire(scribe, identity.next_test))


def _no_fire(scribe: Scribe, test: NextTest) -> str:
    vapour = scribe.words("tell.next_vapour") + " " if test.recipe is not None and test.recipe.flammable else ""
    return vapour + scribe.words("tell.next_no_fire")


def test_in_words(scribe: Scribe, test: NextTest) -> str:
    """What to do next, with the recipe of the liquid by mass."""
    words = scribe.words
    if test.recipe is None:
        one, other = test.between or ("", "")
        return words(f"tell.next.{test.key}", one=one, other=other)
    gaps = {"floats": words.listed(test.floats), "sinks": words.listed(test.sinks)}
    return words("tell.next.float", liquid=_recipe(scribe, test.recipe), **gaps)


def _recipe(scribe: Scribe, recipe: Recipe) -> str:
    words = scribe.words
    if recipe.liquid.kind == "brine":
        return words("tell.recipe.brine", n=words.number(round(recipe.salt_g_per_100_g_water)))
    if recipe.liquid.kind == "ethanol":
        grams = {"other": words.number(round(recipe.other_g)), "water": words.number(round(recipe.water_g))}
        return words("tell.recipe.ethanol", **grams)
    return words("tell.recipe.water")
