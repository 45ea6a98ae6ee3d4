"""The chain-of-custody model of each lot and item in the words of ISO 22095:2020, the weakest input deciding.

Identity preserved (3.3.1), segregated (3.3.2), controlled blending (3.3.3); clause meanings confirmed. Which
model a pool of lots has is a rule of our own, consistent with those definitions. Mass balance and book-and-claim
(3.3.4, 3.3.5) are never used: a passport speaks of the thing in hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from passport.massflow.composition import owner, tag_node
from passport.massflow.ingredients import UNKNOWN, Selector, selecting
from passport.massflow.ledger import Ledger
from passport.massflow.mixing import Mixing, Node


class Custody(IntEnum):
    """The models from the strongest to the weakest."""

    IDENTITY_PRESERVED = 1
    """One received lot, kept apart to the end."""
    SEGREGATED = 2
    """Pooled lots of the same resin and the same origin class."""
    CONTROLLED_BLENDING = 3
    """A known proportion of each class."""
    NOT_KNOWN = 4
    """Proportions or origins are not known: no model can be claimed."""

    @property
    def words(self) -> str:
        """As pages key it: "identity-preserved" and so on."""
        return self.name.lower().replace("_", "-")


@dataclass(frozen=True, slots=True)
class _Kept:
    model: Custody
    lot: str
    """The one lot that all of it came from; empty once pooled."""


def custody(ledger: Ledger) -> Mapping[str, Custody]:
    """The model of every lot and item, and of every repaired thing by its tag."""
    kept: dict[str, _Kept] = {}
    for name, node in ledger.mixing.nodes.items():
        kept[name] = _leaf(name, node) if not node.inputs else _pooled(ledger.mixing, name, node, kept)
    things = {tag: kept[tag_node(tag)].model for tag in ledger.repaired}
    return {name: kept[name].model for name in ledger.made_of if name in kept} | things


def _leaf(name: str, node: Node) -> _Kept:
    origins = {ingredient.origin for ingredient in node.portions}
    if UNKNOWN in origins:
        return _Kept(Custody.NOT_KNOWN, owner(name))
    # a stream of stated shares is a blend that somebody else controlled
    model = Custody.IDENTITY_PRESERVED if len(origins) == 1 else Custody.CONTROLLED_BLENDING
    return _Kept(model, owner(name))


def _pooled(mixing: Mixing, name: str, node: Node, kept: Mapping[str, _Kept]) -> _Kept:
    sources = [kept[i.source] for i in node.inputs if i.dry.value]
    weakest = max(source.model for source in sources)
    lots = {source.lot for source in sources}
    lot = lots.pop() if len(lots) == 1 else ""
    if _loose(mixing, name, node):
        return _Kept(Custody.NOT_KNOWN, lot)
    if lot:
        return _Kept(weakest, lot)
    return _Kept(max(weakest, _model_of_pool(node)), "")


def _model_of_pool(node: Node) -> Custody:
    origins = {ingredient.origin for ingredient in node.portions}
    resins = {ingredient.resin for ingredient in node.portions}
    alike = len(origins) == 1 and len(resins) == 1 and UNKNOWN not in resins
    return Custody.SEGREGATED if alike else Custody.CONTROLLED_BLENDING


def _loose(mixing: Mixing, name: str, node: Node) -> bool:
    """Whether a sort left some origin's share known by bounds only."""
    if not node.loose:
        return False
    wanted = {ingredient.origin for ingredient in node.portions}
    return any(_open(mixing, name, selecting("origin", (origin,))) for origin in wanted)


def _open(mixing: Mixing, name: str, selector: Selector) -> bool:
    low, high = mixing.bounds(name, selector)
    return low != high
