"""What cautions and uses ask of a thing's material: streams that say something, weathering, and its resins' lists."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from passport.massflow import Ledger, Mixture
from passport.material.limits import substance
from passport.material.resins import resins
from passport.reading.records import Lot, Origin, Stream, SubstanceTest, Weathering
from passport.reading.shop import Shop

NOT_NEGLIGIBLE = Fraction(1, 100)
"""From this share on, what a stream may hold is worth a caution (a design choice, no source)."""
PERCENT = 100
_BRIGHT = re.compile(r"\b(?:red|orange|yellow|scarlet|crimson|rouges?|oranges?|jaunes?|ecarlates?)\b", re.IGNORECASE)
"""Colours whose old pigments were often of cadmium or lead (Environmental Science and Technology 2018: red and yellow
toys among the worst)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeOf:
    """Facts about what a lot or batch is made of."""

    marks: frozenset[str]
    """closed-loop, old, and `caution KEY` for each key of its resins' lists."""
    weathered: Fraction
    """The share of heavily sun-worn material."""

    def has(self, mark: str, least_percent: int = 0) -> bool:
        """Whether a fact holds; of weathering, from which share on."""
        if mark == "weathered":
            return self.weathered * PERCENT >= least_percent
        return mark in self.marks


def made_of(mixture: Mixture, shop: Shop) -> MadeOf:
    """The facts about a lot, batch or thing of this mixture, by the books."""
    marks: set[str] = set()
    for name in mixture.met("stream"):
        stream = shop.streams.get(name)
        said = _said_by(stream) if stream is not None else frozenset()
        if said and mixture.share("stream", (name,)).high >= NOT_NEGLIGIBLE:
            marks |= said
    for symbol in mixture.met("resin"):
        if symbol in resins():
            marks |= {f"caution {key}" for key in resins()[symbol].cautions}
    return MadeOf(marks=frozenset(marks), weathered=mixture.value("weathering", (Weathering.HEAVY.value,)))


def _said_by(stream: Stream) -> frozenset[str]:
    closed = {"closed-loop"} if stream.closed_loop else set()
    return frozenset(closed | ({"old"} if stream.made_before is not None else set()))


def bright_lots(ledger: Ledger, node: str) -> bool:
    """Whether a red, orange or yellow lot of used or unknown things is behind a node."""
    lots = (ledger.shop.lots.get(name) for name in ledger.upstream(node))
    return any(lot is not None and _BRIGHT.search(lot.colour) and _is_used(ledger, lot) for lot in lots)


def _is_used(ledger: Ledger, lot: Lot) -> bool:
    return bool({Origin.POST_CONSUMER.value, Origin.UNKNOWN.value} & ledger.mixtures[lot.id].met("origin"))


def measured_substances(ledger: Ledger, node: str) -> frozenset[str]:
    """The substances for which some lot behind a node has a laboratory's figure."""
    lots = (ledger.shop.lots.get(name) for name in ledger.upstream(node))
    tests = (test for lot in lots if lot is not None for test in lot.evidence if isinstance(test, SubstanceTest))
    return frozenset(substance(test.substance) for test in tests)
