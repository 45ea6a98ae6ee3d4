"""How a lot flows when it is melted, and which ways of forming it suits.

A measured flow stands by itself. A lot that was only blended, shredded or washed gets an estimate from the
nearest lots behind it which were measured, by the logarithmic rule. Melting and sorting end the search: the one
changes the flow, the other the material.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from passport.amounts import MeltFlow
from passport.massflow import Ledger
from passport.massflow.operation_table import OperationKind
from passport.material.flow import BlendFlow, FlowPart, Route, blend_flow, routes_for
from passport.problems import Level, Problem
from passport.reading.records import Lot
from passport.verdicts.behind import lots_behind
from passport.verdicts.single_stream import main_resin
from passport.verdicts.verdict import Verdict

HEAVY = ("heavy",)
SOURCE = "ISO 1133-1 for measured flows; the logarithmic rule, at most 12 % off (Polymers 2023, 15, 1717)"


@dataclass(frozen=True, slots=True, kw_only=True)
class LotFlow:
    """A flow with what it suits."""

    flow: BlendFlow
    heavy_share: Fraction
    """Heavily sun-worn, by mass."""
    routes: tuple[Route, ...]


@lru_cache(maxsize=64)  # each language asks
def of_lot(ledger: Ledger, lot: str, symbol: str) -> Verdict[LotFlow]:
    """Flow and routes of a lot of one resin; None with advice where the flow cannot be told.

    Doubts are those of the flow itself, such as flows too far apart for a sure estimate.
    """
    found, basis = _flow(ledger, lot)
    if isinstance(found, Problem):
        return Verdict(value=None, basis=basis, source=SOURCE, doubts=(replace(found, level=Level.ADVICE),))
    heavy = ledger.mixtures[lot].share("weathering", HEAVY).value
    routes = routes_for(symbol, found, heavy, ledger.shop.workshop.routes)
    value = LotFlow(flow=found, heavy_share=heavy, routes=routes)
    return Verdict(value=value, basis=basis, source=SOURCE, doubts=found.doubts)


def _flow(ledger: Ledger, lot: str) -> tuple[BlendFlow | Problem, tuple[str, ...]]:
    lots = ledger.shop.lots
    shares = lots_behind(ledger, lot, known=lambda name: _measured(lots, name) is not None, through=_leaves_flow)
    parts = [
        FlowPart(share=share, symbol=_resin(ledger, name), flow=_measured(lots, name)) for name, share in shares.items()
    ]
    return blend_flow(parts, _measured(lots, lot)), tuple(shares)


def _measured(lots: Mapping[str, Lot], name: str) -> MeltFlow | None:
    return lots[name].melt_flow if name in lots else None


def _leaves_flow(kind: OperationKind) -> bool:
    return not (kind.melts or kind.separates or kind.into_tag)


def _resin(ledger: Ledger, node: str) -> str:
    return main_resin(ledger.mixtures[node], ledger.shop.workshop.single_stream_from)[0]
