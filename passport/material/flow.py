"""Melt flow of a blend, and the ways of forming that it suits.

A measured flow always beats an estimate. The estimate is the logarithmic rule, ln M = sum w ln M, inside one
group of resins and one test condition (polymer rheology text 1977; deviation at most 12 % in Polymers 2023, 15,
1717). PP with PE follows no such rule, and flows at two conditions are two different things (ISO 1133).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from passport.amounts import MeltFlow
from passport.material.resins import Figure, resins
from passport.material.tables import table
from passport.problems import Level, Problem
from passport.reading.fields import Words
from passport.reading.records import RouteLimit

WIDE_RATIO = 3.28
"""Beyond this ratio of flows a trade note does not trust the logarithmic rule: said, not forbidden."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowPart:
    """One lot of a blend: share by mass, symbol of its resin, flow measured or None."""

    share: Fraction
    symbol: str
    flow: MeltFlow | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlendFlow:
    """A melt flow in g/10 min, measured or estimated between low and high."""

    g_per_10_min: float
    low: float
    high: float
    condition: tuple[Decimal, Decimal]
    """Degrees Celsius and kilograms of the load."""
    measured: bool
    doubts: tuple[Problem, ...] = ()
    sources: tuple[str, ...] = ()


def condition_of(flow: MeltFlow) -> tuple[Decimal, Decimal]:
    """The test condition of a flow as numbers, so that 230 and 230.0 are one."""
    return flow.temperature_c, flow.load_kg


def as_measured(flow: MeltFlow) -> BlendFlow:
    """A measured flow, which stands by itself."""
    value = float(flow.g_per_10_min)
    return BlendFlow(
        g_per_10_min=value,
        low=value,
        high=value,
        condition=condition_of(flow),
        measured=True,
        sources=("iso-1133",),
    )


def blend_flow(parts: Sequence[FlowPart], measured: MeltFlow | None = None) -> BlendFlow | Problem:
    """Flow of a blend: the measured one where there is one, else the logarithmic rule, else why not."""
    if measured is not None:
        return as_measured(measured)
    problem = shares_problem([p.share for p in parts]) or _unlike(parts)
    if problem is not None:
        return problem
    flows = [(p.share, p.flow) for p in parts if p.flow is not None and p.share]
    return _estimated(flows)


def shares_problem(shares: Sequence[Fraction]) -> Problem | None:
    """Shares of a blend that do not make one whole, or None."""
    total = sum(shares, Fraction(0))
    if total == 1 and all(share >= 0 for share in shares):
        return None
    return Problem(
        code="blend-shares",
        message=f"met shares that sum to {float(total * 100):g} %, wanted 100 %",
        hint="give every lot of the blend its mass",
    )


def _unlike(parts: Sequence[FlowPart]) -> Problem | None:
    """Why the flows of a blend must not be mixed, or None."""
    used = [p for p in parts if p.share]
    unmeasured = [p.symbol for p in used if p.flow is None or p.flow.g_per_10_min <= 0]
    if unmeasured:
        return Problem(
            code="flow-unknown",
            message=f"met {len(unmeasured)} of {len(used)} lots without a melt flow, wanted one for each",
            hint="measure the blend itself: that beats any estimate",
            level=Level.ADVICE,
        )
    groups = sorted({resins()[p.symbol].group if p.symbol in resins() else p.symbol for p in used})
    if len(groups) > 1:
        return Problem(
            code="flow-families",
            message=f"met {' and '.join(groups)} in one blend, wanted melt flows of one group of resins",
            hint="no mixing rule holds across groups: measure the blend",
        )
    return _one_condition([p.flow for p in used if p.flow is not None])


def _one_condition(flows: Sequence[MeltFlow]) -> Problem | None:
    conditions = {condition_of(flow): flow.condition for flow in flows}
    if len(conditions) <= 1:
        return None
    met = " and ".join(sorted(conditions.values()))
    return Problem(
        code="flow-conditions",
        message=f"met melt flows at {met}, wanted one test condition",
        hint="flows at two conditions are not comparable: measure again at one (ISO 1133)",
    )


def _estimated(flows: Sequence[tuple[Fraction, MeltFlow]]) -> BlendFlow:
    value = log_rule([(float(share), float(flow.g_per_10_min)) for share, flow in flows])
    off = table("routes")["uncertainty"]["relative"]
    return BlendFlow(
        g_per_10_min=value,
        low=value * (1 - off),
        high=value * (1 + off),
        condition=condition_of(flows[0][1]),
        measured=False,
        doubts=_wide([float(flow.g_per_10_min) for _, flow in flows]),
        sources=("rheology-1977", *table("routes")["uncertainty"]["from"]),
    )


def log_rule(parts: Sequence[tuple[float, float]]) -> float:
    """exp(sum w ln M) of (share by mass, flow in g/10 min). Raises ValueError for a flow that is not positive."""
    return math.exp(sum(share * math.log(flow) for share, flow in parts))


def _wide(flows: Sequence[float]) -> tuple[Problem, ...]:
    ratio = max(flows) / min(flows)
    if ratio <= WIDE_RATIO:
        return ()
    said = f"met flows in a ratio of {ratio:.1f}, wanted at most {WIDE_RATIO} for a sure estimate"
    facts = (("ratio", f"{ratio:.1f}"),)
    return (Problem(code="flow-wide", message=said, hint="measure the blend", level=Level.DOUBT, facts=facts),)


# --- the ways of forming ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Whether a way of forming suits a material, and why. `suits` is None where that is not known."""

    key: str
    suits: bool | None
    reasons: tuple[Problem, ...]
    usual_flow: Figure | None
    sources: tuple[str, ...]
    reason: Words
    """Why it needs what it needs, from the table or from the workshop."""
    own: bool = False
    """Whether the workshop's own limits were used."""


WORKSHOP = "workshop"
"""The source of limits that the workshop's record sets."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteNeeds:
    """What a way of forming needs of one resin: the table's figures, or the workshop's own in their place."""

    key: str
    group: str
    """Of the resin; flows are compared inside a group."""
    flow: Figure | None
    """Melt flow in g/10 min at `condition`; None where nothing is said of this resin."""
    condition: tuple[Decimal, Decimal]
    """Degrees Celsius and kilograms of the load."""
    most_heavy: float
    """Most of heavily weathered material, by mass."""
    reason: Words
    """Why: the table's reason, or the workshop's."""
    own: bool = False


def route_keys() -> tuple[str, ...]:
    """The ways of forming, in the table's order."""
    return tuple(table("routes")["routes"])


def route_needs(key: str, symbol: str, own: Sequence[RouteLimit] = ()) -> RouteNeeds:
    """What a route needs of a resin. own: the limits of the workshop, of which the last for the resin holds."""
    row = table("routes")["routes"][key]
    group = resins()[symbol].group if symbol in resins() else ""
    span, wanted = row["flow"].get(group), table("routes")["conditions"].get(group, "0/0")
    needs = RouteNeeds(
        key=key,
        group=group,
        flow=Figure(low=span[0], high=span[1], sources=tuple(row["from"])) if span else None,
        condition=(Decimal(wanted.split("/")[0]), Decimal(wanted.split("/")[1])),
        most_heavy=row["most_heavy_share"],
        reason=Words(tuple(row["reason"].items())),
    )
    for limit in own:
        if limit.route == key and limit.resin in ("", symbol, group):
            needs = _overruled(needs, limit)
    return needs


def _overruled(needs: RouteNeeds, limit: RouteLimit) -> RouteNeeds:
    """The needs with what the workshop found in place of them; an end it does not name stays open."""
    flows = [flow for flow in (limit.flow_from, limit.flow_to) if flow is not None]
    if flows:
        low = float(limit.flow_from.g_per_10_min) if limit.flow_from else 0.0
        high = float(limit.flow_to.g_per_10_min) if limit.flow_to else math.inf
        span = Figure(low=low, high=high, sources=(WORKSHOP,))
        needs = replace(needs, flow=span, condition=condition_of(flows[0]))
    if limit.most_weathered is not None:
        needs = replace(needs, most_heavy=float(limit.most_weathered))
    return replace(needs, reason=limit.because, own=True)


def routes_for(
    symbol: str, flow: BlendFlow | None, heavy_share: Fraction = Fraction(0), own: Sequence[RouteLimit] = ()
) -> tuple[Route, ...]:
    """Each way of forming with its verdict, from the flow and the share by mass of heavily weathered material."""
    return tuple(_route(route_needs(key, symbol, own), flow, heavy_share) for key in table("routes")["routes"])


def _route(needs: RouteNeeds, flow: BlendFlow | None, heavy_share: Fraction) -> Route:
    reasons = tuple(p for p in (_flow_reason(needs, flow), _weather_reason(needs, heavy_share)) if p is not None)
    blocked = any(p.level is Level.DOUBT for p in reasons)
    unknown = any(p.level is Level.ADVICE for p in reasons)
    suits = False if blocked else None if unknown else True
    sources = (WORKSHOP,) if needs.own else tuple(table("routes")["routes"][needs.key]["from"])
    return Route(
        key=needs.key,
        suits=suits,
        reasons=reasons,
        usual_flow=needs.flow,
        sources=sources,
        reason=needs.reason,
        own=needs.own,
    )


def _flow_reason(needs: RouteNeeds, flow: BlendFlow | None) -> Problem | None:
    """Why the flow speaks against a route (doubt), or cannot speak (advice); None where it suits."""
    key, usual = needs.key, needs.flow
    if flow is None or usual is None:
        said = f"met no melt flow to compare, wanted one for {key}"
        return Problem(code="route-flow-unknown", message=said, level=Level.ADVICE, facts=(("route", key),))
    if flow.condition != needs.condition:
        wanted = "/".join(str(part) for part in needs.condition)
        said = f"met a flow at {flow.condition[0]}/{flow.condition[1]}, wanted one at {wanted}"
        return Problem(code="route-condition", message=said, level=Level.ADVICE, facts=(("wanted", wanted),))
    if flow.high < usual.low:
        return _flow_doubt("route-too-stiff", key, flow, f"at least {usual.low:g}")
    if flow.low > usual.high:
        return _flow_doubt("route-too-runny", key, flow, f"at most {usual.high:g}")
    return None


def _flow_doubt(code: str, key: str, flow: BlendFlow, wanted: str) -> Problem:
    said = f"met {flow.g_per_10_min:.1f} g/10 min, wanted {wanted} for {key}"
    facts = (("route", key), ("flow", f"{flow.g_per_10_min:.1f}"), ("wanted", wanted.rsplit(maxsplit=1)[-1]))
    return Problem(code=code, message=said, level=Level.DOUBT, facts=facts)


def _weather_reason(needs: RouteNeeds, share: Fraction) -> Problem | None:
    """Cut chains raise the flow and take the strength, so the flow alone does not speak for weathered material."""
    key, most = needs.key, needs.most_heavy
    if float(share) <= most:
        return None
    said = f"met {float(share * 100):.0f} % heavily weathered, wanted at most {most * 100:.0f} % for {key}"
    facts = (("route", key), ("share", f"{float(share * 100):.0f}"), ("wanted", f"{most * 100:.0f}"))
    hint = "dilute it with sounder material of the same resin"
    return Problem(code="route-weathered", message=said, hint=hint, level=Level.DOUBT, facts=facts)
