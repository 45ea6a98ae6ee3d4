"""How much of which lot: masses for a blend from the stock on hand, within its limits, oldest lots first.

The logarithmic rule makes ln M linear in the shares (`flow`), and weathered share and purity bound are linear
anyway, so the whole is a small linear programme, solved in whole steps of the scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from passport.amounts import MeltFlow
from passport.material.flow import BlendFlow, FlowPart, blend_flow, condition_of
from passport.material.resins import symbols_for
from passport.problems import Level, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLot:
    """A lot on hand. Shares by mass; 0 for a bound where there is none.

    at_least: lower bound of its resin's share, at the confidence shared among the samples (see purity.blend_bound).
    """

    id: str
    symbol: str
    date: date
    available_kg: Decimal
    flow: MeltFlow | None = None
    heavy_share: Fraction = Fraction(0)
    """Heavily weathered."""
    at_least: Fraction = Fraction(0)
    colour: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the blend must keep to. Flows in g/10 min; None or empty for no limit."""

    resin: str
    """A symbol, or a group such as PE."""
    lowest_flow: Decimal | None = None
    highest_flow: Decimal | None = None
    most_heavy: Fraction | None = None
    purest: Fraction | None = None
    """At least this share of the resin, as a mass-weighted sum of the lots' bounds."""
    colours: frozenset[str] = frozenset()
    step_kg: Decimal = Decimal("0.1")
    """Masses are proposed in whole steps of the scale."""

    @property
    def asks_flow(self) -> bool:
        """Whether the flow is limited, so that every lot needs one."""
        return self.lowest_flow is not None or self.highest_flow is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Masses that sum to the wanted mass, and what they give; or no masses and the reasons."""

    masses_kg: tuple[tuple[str, Decimal], ...]
    """By lot, the oldest first; empty where nothing is proposed."""
    flow: BlendFlow | None = None
    heavy_share: Fraction = Fraction(0)
    at_least: Fraction = Fraction(0)
    problems: tuple[Problem, ...] = ()
    nearest: tuple[tuple[str, Decimal], ...] = ()
    """Where nothing is feasible: the masses that break the limits least."""

    @property
    def feasible(self) -> bool:
        """Whether masses are proposed."""
        return bool(self.masses_kg)


Masses = tuple[Decimal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """One limit as sum c x <= 0, with its name: c is what a kilogram of each lot puts on it."""

    name: str
    coefficients: tuple[float, ...]

    def kept_by(self, masses: Masses) -> bool:
        off = sum(c * float(m) for c, m in zip(self.coefficients, masses, strict=True))
        return off <= _ROUNDING_KG


_ROUNDING_KG = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """The programme: sum x = wanted, 0 <= x <= available, every row <= 0, x in whole steps of the scale."""

    lots: tuple[StockLot, ...]
    wanted_kg: Decimal
    step_kg: Decimal
    rows: tuple[_Row, ...]

    def steps_of(self, lot: StockLot) -> int:
        return int(lot.available_kg // self.step_kg)

    def most_kg(self) -> list[Decimal]:
        """What each lot can give in whole steps."""
        return [self.steps_of(lot) * self.step_kg for lot in self.lots]

    def without(self, row: _Row) -> _Task:
        return replace(self, rows=tuple(r for r in self.rows if r is not row))


def propose(stock: Sequence[StockLot], wanted_mass_kg: Decimal, limits: Limits) -> Proposal:
    """Masses per lot for a blend, the oldest lots used up first."""
    return _proposed(stock, wanted_mass_kg, limits, first="")


def most_of(lot: str, stock: Sequence[StockLot], wanted_mass_kg: Decimal, limits: Limits) -> Proposal:
    """The blend that takes as much of one lot as the limits allow ("how much of the sun-worn one can go in?")."""
    return _proposed(stock, wanted_mass_kg, limits, first=lot)


def _proposed(stock: Sequence[StockLot], wanted_kg: Decimal, limits: Limits, *, first: str) -> Proposal:
    lots, left_out = _usable(stock, limits)
    task = _Task(lots=lots, wanted_kg=wanted_kg, step_kg=limits.step_kg, rows=_rows(lots, limits))
    early = _impossible(task, limits)
    if early is not None:
        return Proposal(masses_kg=(), problems=(early, *left_out))
    # the lot asked for counts for more than all ranks together, which then order the others
    cost = [-2.0 * len(lots) if lot.id == first else float(rank) for rank, lot in enumerate(lots)]
    found = _solved(task, cost)
    return _blocked(task, left_out) if found is None else _described(lots, found, left_out)


def _usable(stock: Sequence[StockLot], limits: Limits) -> tuple[tuple[StockLot, ...], tuple[Problem, ...]]:
    """Lots of the resin and colour, with a flow where one is asked for, oldest first; what is left out and why."""
    by_age = sorted(stock, key=lambda x: (x.date, x.id))
    whys = [(lot, _why_not(lot, limits)) for lot in by_age]
    left_out = tuple(
        Problem(code="blend-left-out", message=why, level=Level.ADVICE, about=lot.id)
        for lot, why in whys
        if why is not None
    )
    return tuple(lot for lot, why in whys if why is None), left_out


def _why_not(lot: StockLot, limits: Limits) -> str | None:
    if lot.symbol not in symbols_for(limits.resin):
        return f"met lot {lot.id} of {lot.symbol or 'no established resin'}, wanted {limits.resin}"
    if limits.colours and lot.colour not in limits.colours:
        return f"met lot {lot.id} in {lot.colour or 'no colour'}, wanted {' or '.join(sorted(limits.colours))}"
    if limits.asks_flow and (lot.flow is None or lot.flow.g_per_10_min <= 0):
        return f"met lot {lot.id} without a melt flow, wanted one because the blend's flow is limited"
    if lot.available_kg < limits.step_kg:
        return f"met lot {lot.id} with nothing on hand, wanted at least {limits.step_kg} kg"
    return None


def _impossible(task: _Task, limits: Limits) -> Problem | None:
    """What no choice of masses can mend."""
    if task.wanted_kg <= 0 or task.wanted_kg % task.step_kg:
        said = f"met a wanted mass of {task.wanted_kg} kg, wanted whole steps of {task.step_kg} kg"
        return Problem(code="blend-wanted", message=said)
    flows = [lot.flow for lot in task.lots if lot.flow is not None]
    if limits.asks_flow and len({condition_of(flow) for flow in flows}) > 1:
        return Problem(
            code="flow-conditions",
            message=f"met melt flows at {' and '.join(sorted({f.condition for f in flows}))}, "
            "wanted one test condition",
            hint="leave out the lots measured otherwise, or measure them again (ISO 1133)",
        )
    on_hand = sum(task.most_kg(), Decimal(0))
    if on_hand < task.wanted_kg:
        said = f"met {on_hand} kg of {limits.resin} that could go in, wanted {task.wanted_kg} kg"
        return Problem(code="blend-too-little", message=said, hint="want less, or loosen resin and colour")
    return None


def _rows(lots: Sequence[StockLot], limits: Limits) -> tuple[_Row, ...]:
    """Each limit as a row; a kilogram of a lot puts how far it is off on it."""
    rows: list[tuple[str, list[float]]] = []
    if limits.lowest_flow is not None:
        rows.append(("lowest flow", [_log(limits.lowest_flow) - _log_flow(lot) for lot in lots]))
    if limits.highest_flow is not None:
        rows.append(("highest flow", [_log_flow(lot) - _log(limits.highest_flow) for lot in lots]))
    if limits.most_heavy is not None:
        rows.append(("weathered share", [float(lot.heavy_share - limits.most_heavy) for lot in lots]))
    if limits.purest is not None:
        rows.append(("purity", [float(limits.purest - lot.at_least) for lot in lots]))
    return tuple(_Row(name=name, coefficients=tuple(off)) for name, off in rows)


def _log(flow: Decimal | None) -> float:
    return math.log(float(flow)) if flow else 0.0


def _log_flow(lot: StockLot) -> float:
    return _log(lot.flow.g_per_10_min) if lot.flow is not None else 0.0


def _solved(task: _Task, cost: Sequence[float]) -> Masses | None:
    """Masses at the smallest cost, or None where no masses keep to the limits."""
    rows = [list(row.coefficients) for row in task.rows]
    masses = _linear(task, list(cost), rows)
    # the solver allows itself a hair, the limits do not
    return masses if masses is not None and all(row.kept_by(masses) for row in task.rows) else None


SECONDS = 10.0
"""The solver stops looking for something better after so long; what it has is within the limits."""


def _linear(task: _Task, cost: list[float], rows: list[list[float]]) -> Masses | None:
    """Solve it in whole steps; columns beyond the lots are slacks of at least 0, which add no mass."""
    from scipy.optimize import linprog  # noqa: PLC0415 - slow to import, and only this needs it

    lots, slacks = len(task.lots), len(cost) - len(task.lots)
    whole: list[Literal[0, 1, 2, 3]] = [1 if column < lots else 0 for column in range(len(cost))]
    result = linprog(
        cost,
        A_ub=rows or None,
        b_ub=[0.0] * len(rows) or None,
        A_eq=[[1.0] * lots + [0.0] * slacks],
        b_eq=[float(task.wanted_kg / task.step_kg)],
        bounds=[*((0, task.steps_of(lot)) for lot in task.lots), *[(0, None)] * slacks],
        integrality=whole,
        method="highs",
        options={"time_limit": SECONDS},
    )
    return None if result.x is None else tuple(round(float(x)) * task.step_kg for x in result.x[:lots])


# --- what comes out -----------------------------------------------------------------------------------


def _described(lots: Sequence[StockLot], masses: Masses, left_out: tuple[Problem, ...] = ()) -> Proposal:
    total = Fraction(sum(masses, Decimal(0)))
    used = [(lot, mass, Fraction(mass) / total) for lot, mass in zip(lots, masses, strict=True) if mass]
    flow = blend_flow([FlowPart(share=w, symbol=lot.symbol, flow=lot.flow) for lot, _, w in used])
    doubts = flow.doubts if isinstance(flow, BlendFlow) else (flow,)
    return Proposal(
        masses_kg=tuple((lot.id, mass) for lot, mass, _ in used),
        flow=flow if isinstance(flow, BlendFlow) else None,
        heavy_share=sum((w * lot.heavy_share for lot, _, w in used), Fraction(0)),
        at_least=sum((w * lot.at_least for lot, _, w in used), Fraction(0)),
        problems=(*doubts, *left_out),
    )


def _blocked(task: _Task, left_out: tuple[Problem, ...]) -> Proposal:
    """Which single limit blocks, and the masses that come nearest."""
    free = [0.0] * len(task.lots)
    blocking = [row.name for row in task.rows if _solved(task.without(row), free) is not None]
    said = " or ".join(blocking) if blocking else " and ".join(row.name for row in task.rows)
    nearest = _nearest(task)
    problem = Problem(
        code="blend-infeasible",
        message=f"met no masses that keep to the {said}, wanted {task.wanted_kg} kg within all limits",
        hint=_nearest_in_words(nearest),
        facts=(("limits", said),),
    )
    return Proposal(masses_kg=(), problems=(problem, *left_out), nearest=nearest.masses_kg)


def _nearest(task: _Task) -> Proposal:
    """The masses that break the limits least: one slack a limit, their sum made small."""
    count = len(task.rows)
    slack = [[-float(i == j) for j in range(count)] for i in range(count)]
    rows = [[*row.coefficients, *slack[i]] for i, row in enumerate(task.rows)]
    cost = [0.0] * len(task.lots) + [1.0] * count
    masses = _linear(task, cost, rows)
    return _described(task.lots, masses) if masses is not None else Proposal(masses_kg=())


def _nearest_in_words(nearest: Proposal) -> str:
    parts = ", ".join(f"{mass} kg {name}" for name, mass in nearest.masses_kg)
    flow = "" if nearest.flow is None else f" flows at {nearest.flow.g_per_10_min:.1f} g/10 min,"
    heavy = f"{float(nearest.heavy_share * 100):.0f} % heavily weathered"
    return f"nearest: {parts};{flow} {heavy}, at least {float(nearest.at_least * 100):.0f} % of the resin"
