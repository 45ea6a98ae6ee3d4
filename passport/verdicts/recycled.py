"""What may be said about recycled content: the share, its kind, its denominator, its uncertainty.

ISO 14021:2016, 7.8 (from memory): the percentage by mass, pre- and post-consumer material only, rework of
the same process excluded. EN 45557:2020, 5.2: what is unknown stays in the total and counts as primary.
The stated figure is a one-sided lower bound, floor(X − 1.645 u) (massflow.recycled).
"""

from __future__ import annotations

from dataclasses import dataclass

from passport.massflow import Ledger, Share, of_item, of_plastic, stated_percent
from passport.massflow.composition import owner
from passport.massflow.recycled import MOST_IN_DOUBT, in_doubt
from passport.massflow.recycled import of_thing as of_tag
from passport.reading.records import Item
from passport.verdicts.verdict import Verdict

SOURCE = "ISO 14021:2016, 7.8 (from memory); EN 45557:2020, 5.2; bound by JCGM 106:2012, 8"
PERCENT = 100


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
    doubtful = in_doubt(ledger, node)
    stated = tuple(_stated(kind, "plastic", share, doubtful=doubtful) for kind, share in shares)
    return Verdict(value=tuple(s for s in stated if s), basis=(node,), source=SOURCE, doubts=doubts)


def of_whole_item(ledger: Ledger, item: Item) -> Verdict[tuple[Stated, ...]]:
    """The statement about the whole thing with its hardware."""
    if item.id not in ledger.mixtures or ledger.withheld(item.id):
        return Verdict(value=None, basis=(item.id,), source=SOURCE)
    share = of_item(ledger, item.id)
    doubtful = in_doubt(ledger, item.id)
    stated = _stated("recycled", "item", share, doubtful=doubtful) if share else None
    return Verdict(value=(stated,) if stated else None, basis=(item.id,), source=SOURCE)


def of_thing(ledger: Ledger, tag: str, *, whole: bool = False) -> Verdict[tuple[Stated, ...]]:
    """The statements about one repaired thing: of its plastic, or of all of it with hardware."""
    behind = (ledger.item_of_tag[tag], *sources_of_repairs(ledger, tag))
    doubts = tuple(dict.fromkeys(doubt for node in behind for doubt in ledger.doubts_of(node)))
    if any(ledger.withheld(node) for node in behind):
        return Verdict(value=None, basis=behind, source=SOURCE, doubts=doubts)
    kinds = ("recycled",) if whole else ("recycled", "post-consumer")
    share_of = "item" if whole else "plastic"
    doubtful = any(in_doubt(ledger, node) for node in behind)
    shares = ((k, of_tag(ledger, tag, whole=whole, post_consumer_only=k != "recycled")) for k in kinds)
    stated = (_stated(kind, share_of, share, doubtful=doubtful) for kind, share in shares if share)
    return Verdict(value=tuple(s for s in stated if s), basis=behind, source=SOURCE, doubts=doubts)


def sources_of_repairs(ledger: Ledger, tag: str) -> tuple[str, ...]:
    """The lots that repairs of a thing put into it."""
    nodes = (owner(node) for _, node, _ in ledger.repaired.get(tag, ()))
    return tuple(dict.fromkeys(node for node in nodes if node in ledger.shop.lots))


def _stated(kind: str, share_of: str, share: Share, *, doubtful: bool) -> Stated | None:
    percent = stated_percent(share)
    if percent is None:
        return None
    shown = min(percent, MOST_IN_DOUBT) if doubtful else percent
    return Stated(kind=kind, share_of=share_of, at_least_percent=shown, share=share, in_doubt=doubtful)
