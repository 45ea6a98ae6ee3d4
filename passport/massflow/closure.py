"""Does a run close? Σ draws + gains = Σ results + losses + residual, with the residual's uncertainty."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from passport.massflow.masses import MassBook, Weighed
from passport.massflow.operation_table import operation_kind
from passport.massflow.weighing import Measured, total
from passport.problems import Level, Problem
from passport.reading.shop import Operation, Shop

DOUBT_AT = 2
"""Standard uncertainties beyond which a residual is doubtful (coverage factor 2: JCGM 100:2008, 6.3.3)."""
WITHHOLD_AT = 3
"""Standard uncertainties beyond which what follows is withheld (common practice, no source)."""
FALLBACK = Fraction(2, 100)
"""Share of the draws that stands for 2u where nothing is known of the scales (a design choice, no source)."""


class Verdict(Enum):
    """What the weighings say about a run."""

    CLOSED = "closed"
    DOUBTFUL = "doubtful"
    WITHHELD = "withheld"
    NOT_KNOWN = "not-known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """The balance of one run in kg, exact; None for a sum in which something was not weighed."""

    drawn_kg: Fraction | None
    gains_kg: Fraction | None
    results_kg: Fraction | None
    """Results, and for a repair what went into the tagged thing."""
    losses_kg: Fraction | None
    residual_kg: Fraction | None
    u_kg: float | None
    """Standard uncertainty of the residual, weighing only; None where unknown."""
    verdict: Verdict
    explained: bool = False
    """Whether a `because:` explains the residual."""


def sum_of(terms: Iterable[Weighed]) -> Weighed:
    """The sum, or None where one of them was not weighed."""
    known = []
    for term in terms:
        if term is None:
            return None
        known.append(term)
    return total(known)


def beyond(size_kg: Fraction, u_kg: float | None, reference_kg: Fraction) -> int:
    """0 within 2u, 2 beyond 2u, 3 beyond 3u. Where u is unknown or zero, 2 % of the reference stands for 2u."""
    u = Fraction(u_kg) if u_kg else abs(reference_kg) * FALLBACK / DOUBT_AT
    if abs(size_kg) > WITHHOLD_AT * u:
        return WITHHOLD_AT
    return DOUBT_AT if abs(size_kg) > DOUBT_AT * u else 0


def put_into_tag(op: Operation, draws: tuple[Weighed, ...]) -> Weighed:
    """What a repair takes from lots goes into the tagged thing; nothing for any other run."""
    from_tags = any(draw.tag for draw in op.run.draws)
    if not (from_tags and operation_kind(op.run.operation).into_tag):
        return Measured(Fraction(0))
    return sum_of(w for draw, w in zip(op.run.draws, draws, strict=True) if draw.lot)


def closure_of(shop: Shop, book: MassBook, op: Operation) -> Closure:
    """The balance of one run and what it says."""
    name = op.run.id
    drawn, gains, losses = sum_of(book.draws[name]), sum_of(book.gains[name]), sum_of(book.losses[name])
    results = sum_of([*(book.nodes[r.id] for r in op.results), put_into_tag(op, book.draws[name])])
    residual, u_kg, verdict = None, None, Verdict.NOT_KNOWN
    explained = _explained(shop, op)
    if drawn and gains and losses and results and op.results:
        left = total((drawn, gains, results.times(-1), losses.times(-1)))
        residual, u_kg = left.value, book.weighings.u(left)
        verdict = _verdict(beyond(left.value, u_kg, drawn.value), explained=explained)
    return Closure(
        drawn_kg=_value(drawn),
        gains_kg=_value(gains),
        results_kg=_value(results),
        losses_kg=_value(losses),
        residual_kg=residual,
        u_kg=u_kg,
        verdict=verdict,
        explained=explained,
    )


def _value(weighed: Weighed) -> Fraction | None:
    return None if weighed is None else weighed.value


def _verdict(times_u: int, *, explained: bool) -> Verdict:
    if times_u == 0:
        return Verdict.CLOSED
    return Verdict.WITHHELD if times_u == WITHHOLD_AT and not explained else Verdict.DOUBTFUL


def _explained(shop: Shop, op: Operation) -> bool:
    of_lots = (shop.lots[r.id].because for r in op.results if r.id in shop.lots)
    return op.run.because is not None or any(because is not None for because in of_lots)


def closure_problems(shop: Shop, book: MassBook, op: Operation, closure: Closure) -> tuple[Problem, ...]:
    """What is doubtful or unknown about a run's balance."""
    name = op.run.id
    if not op.results:
        message = f"met the run {name} without a result, wanted a lot or an item that names it"
        return (_doubt(shop, name, "no-results", message, hint=f"write `run: {name}` in each result"),)
    if closure.verdict is Verdict.NOT_KNOWN:
        return (_unweighed(shop, book, op),)
    if closure.verdict is Verdict.CLOSED or closure.residual_kg is None:
        return ()
    return (_open(shop, name, closure),)


def _unweighed(shop: Shop, book: MassBook, op: Operation) -> Problem:
    name = op.run.id
    unweighed = dict(_without_mass(book, op))
    message = f"met {', '.join(unweighed)} not weighed in {name}, wanted every mass of the run: it cannot be balanced"
    hint = _weigh_hint(shop, [result.id for result in op.results if book.nodes[result.id] is None])
    return _doubt(
        shop,
        name,
        "not-weighed",
        message,
        hint=hint,
        facts=(("run", name), ("names", ", ".join(dict.fromkeys(unweighed.values())))),
    )


def _weigh_hint(shop: Shop, results: list[str]) -> str:
    """What is still there can go onto a scale; what was drawn or lost unweighed cannot any more."""
    lots = [name for name in results if name in shop.lots]
    if lots:
        return f"no figure until it is weighed: passport receive --weigh {lots[0]}"
    return "write down what was weighed; where nothing was, no figure is published, and that is honest"


def _without_mass(book: MassBook, op: Operation) -> Iterator[tuple[str, str]]:
    """What of a run was not weighed: as a person would call it, and its bare name."""
    name = op.run.id
    for draw, weighed in zip(op.run.draws, book.draws[name], strict=True):
        if weighed is None:
            yield f"the draw on {draw.lot or draw.tag}", draw.lot or draw.tag
    yield from ((result.id, result.id) for result in op.results if book.nodes[result.id] is None)
    for kind, named, masses in (("gain", op.run.gains, book.gains), ("loss", op.run.losses, book.losses)):
        unweighed = (what for what, mass in zip(named, masses[name], strict=True) if mass is None)
        yield from ((f"the {kind} {what}", what) for what in unweighed)


def _open(shop: Shop, name: str, closure: Closure) -> Problem:
    residual = closure.residual_kg or Fraction(0)
    way = "missing" if residual > 0 else "too much"
    size, allowed = kg(abs(residual)), _allowed(closure)
    code = "does-not-close" if closure.verdict is Verdict.DOUBTFUL else "does-not-close-withheld"
    message = f"met {size} kg {way} in {name}, wanted at most {allowed} kg between draws and results"
    facts = (("run", name), ("residual_kg", kg(residual)), ("allowed_kg", allowed))
    hint = "weigh again, name the loss or gain, or say why with `because:`"
    return _doubt(shop, name, code, message, hint=hint, facts=facts)


def _allowed(closure: Closure) -> str:
    if closure.u_kg:
        return kg(Fraction(closure.u_kg) * DOUBT_AT)
    return kg((closure.drawn_kg or Fraction(0)) * FALLBACK)


def _doubt(
    shop: Shop, name: str, code: str, message: str, *, hint: str = "", facts: tuple[tuple[str, str], ...] = ()
) -> Problem:
    place = shop.node_place(name)
    return Problem(code=code, message=message, place=place, hint=hint, level=Level.DOUBT, about=name, facts=facts)


def kg(mass_kg: Fraction) -> str:
    """A mass for a sentence, to the gram, without idle zeros."""
    text = f"{float(mass_kg):.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def closures(shop: Shop, book: MassBook, runs: Mapping[str, Operation]) -> Mapping[str, Closure]:
    """The balance of every run, by its id."""
    return {name: closure_of(shop, book, op) for name, op in runs.items()}
