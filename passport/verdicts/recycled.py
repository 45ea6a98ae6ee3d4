"""What may be said about recycled content: the share, its kind, its denominator, its uncertainty.

ISO 14021:2016, 7.8 (from memory): the percentage by mass, pre- and post-consumer material only, rework of
the same process excluded. EN 45557:2020, 5.2: what is unknown stays in the total and counts as primary.
The stated figure is a one-sided lower bound, floor(X − 1.645 u) (massflow.recycled).
"""

from __future__ import annotations

from dataclasses import dataclass

from passport.massflow import Ledger, Share, of_item, of_plastic, stated_percent
from passport.reading.records import Item
from passport.verdicts.verdict import Verdict

SOURCE = "ISO 14021:2016, 7.8 (from memory); EN 45557:2020, 5.2; bound by JCGM 106:2012, 8"
PERCENT = 100
MOST_IN_DOUBT = 99
"""100 % is stated only where all of it is so by record; a record in doubt cannot say that."""
MASS_DOUBTS = frozenset(
    {
        "does-not-close",
        "does-not-close-withheld",
        "overdrawn",
        "drawn-after-emptied",
        "drawn-while-held",
        "drawn-while-refused",
        "not-weighed",
    }
)
"""Doubts about a mass at or above a node: they put the shares in doubt, not only the mass."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """One share as it may be stated."""

    kind: str
    """recycled, post-consumer or pre-consumer."""
    share_of: str
    """plastic or item."""
    at_least_percent: int
    share: Share
    in_doubt: bool = False
    """Whether a weighing at or above it is doubtful."""

    @property
    def exactly_all(self) -> bool:
        """Whether all of it is so by record: only then may 100 % be printed."""
        return self.at_least_percent == PERCENT


def of_node(ledger: Ledger, node: str) -> Verdict[tuple[Stated, ...]]:
    """The statements about the plastic of a lot or an item batch, the total first."""
    doubts = ledger.doubts_of(node)
    if node not in ledger.mixtures or ledger.withheld(node):
        return Verdict(value=None, basis=(node,), source=SOURCE, doubts=doubts)
    shares = (
        ("recycled", of_plastic(ledger, node)),
        ("post-consumer", of_plastic(ledger, node, post_consumer_only=True)),
    )
    in_doubt = _in_doubt(ledger, node)
    stated = tuple(_stated(kind, "plastic", share, in_doubt=in_doubt) for kind, share in shares)
    return Verdict(value=tuple(s for s in stated if s), basis=(node,), source=SOURCE, doubts=doubts)


def of_whole_item(ledger: Ledger, item: Item) -> Verdict[tuple[Stated, ...]]:
    """The statement about the whole thing with its hardware."""
    if item.id not in ledger.mixtures or ledger.withheld(item.id):
        return Verdict(value=None, basis=(item.id,), source=SOURCE)
    share = of_item(ledger, item.id)
    in_doubt = _in_doubt(ledger, item.id)
    stated = _stated("recycled", "item", share, in_doubt=in_doubt) if share else None
    return Verdict(value=(stated,) if stated else None, basis=(item.id,), source=SOURCE)


def _in_doubt(ledger: Ledger, node: str) -> bool:
    return any(problem.code in MASS_DOUBTS for problem in ledger.doubts_of(node))


def _stated(kind: str, share_of: str, share: Share, *, in_doubt: bool) -> Stated | None:
    percent = stated_percent(share)
    if percent is None:
        return None
    shown = min(percent, MOST_IN_DOUBT) if in_doubt else percent
    return Stated(kind=kind, share_of=share_of, at_least_percent=shown, share=share, in_doubt=in_doubt)
