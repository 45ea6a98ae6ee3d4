"""What each lot is made of, and how well that is known. Comes first: the mass balance needs the names.

A lot with evidence of its own is judged by it. One without is as well known as the material it was made of:
by mass, how much of it came from lots whose resin is established.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from passport.massflow import Ledger
from passport.material.identity import Identity, Verdict, identify_lot
from passport.problems import Problem
from passport.reading.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is known of every lot and item."""

    own: Mapping[str, Identity]
    """Lots that were tested or named by a sort."""
    proven_share: Mapping[str, Fraction]
    """For every lot and item: the share of its mass that comes from lots of established resin."""
    rests_on: Mapping[str, tuple[str, ...]]
    """For every lot and item: the nearest lots whose evidence it rests on."""
    threshold: Fraction
    """From which share on a resin counts as proven: the workshop's limit for a single stream."""

    def proven(self, node: str) -> bool:
        """Whether what a lot or item is made of is established."""
        return self.proven_share.get(node, Fraction(0)) >= self.threshold

    def identity_doubts(self, node: str) -> tuple[Problem, ...]:
        """The doubts about the resin of the lots that a node rests on."""
        lots = self.rests_on.get(node, ())
        return tuple(p for lot in lots if lot in self.own for p in self.own[lot].doubts)


def own_identities(shop: Shop) -> Mapping[str, Identity]:
    """The verdict on each lot that has evidence or a sorter's name; its doubts say which lot they are about."""
    found = {lot.id: identify_lot(lot) for lot in shop.lots.values() if lot.evidence or lot.sorted_as}
    return {name: replace(found[name], doubts=tuple(_placed(shop, name, found[name]))) for name in found}


def _placed(shop: Shop, lot: str, identity: Identity) -> Iterator[Problem]:
    for problem in identity.doubts:
        place = problem.place if problem.place.file else shop.place("lot", lot, "evidence", key=True)
        yield replace(problem, about=lot, place=place)


def resin_names(own: Mapping[str, Identity]) -> Mapping[str, str]:
    """Symbol by lot, for the mass balance; lots of unknown resin are left out."""
    return {lot: identity.symbol for lot, identity in own.items() if identity.symbol}


def standing(ledger: Ledger, own: Mapping[str, Identity]) -> Standing:
    """How well every lot and item is known, from its own evidence or from what it was made of."""
    share: dict[str, Fraction] = {}
    rests_on: dict[str, tuple[str, ...]] = {}
    for node in ledger.order:
        share[node], rests_on[node] = _known(ledger, own, node, share, rests_on)
    return Standing(own=own, proven_share=share, rests_on=rests_on, threshold=ledger.shop.workshop.single_stream_from)


def _known(
    ledger: Ledger,
    own: Mapping[str, Identity],
    node: str,
    share: Mapping[str, Fraction],
    rests_on: Mapping[str, tuple[str, ...]],
) -> tuple[Fraction, tuple[str, ...]]:
    identity = own.get(node)
    above = ledger.made_of.get(node, ())
    established = identity is not None and identity.verdict is Verdict.ESTABLISHED
    if established or not above:
        return Fraction(established), ((node,) if identity else ())
    if identity is not None and identity.verdict is Verdict.CONFLICTING:
        return Fraction(0), (node,)
    drawn = parent_shares(ledger, node)
    known = sum((part * share.get(parent, Fraction(0)) for parent, part in drawn.items()), Fraction(0))
    return known, _together([*(rests_on.get(parent, ()) for parent in above), (node,) if identity else ()])


def parent_shares(ledger: Ledger, node: str) -> Mapping[str, Fraction]:
    """The share of each lot that a node was made of, by dry mass drawn; empty where nothing was weighed."""
    run = ledger.operations.get(ledger.run_of.get(node, ""))
    if run is None:
        above = ledger.made_of.get(node, ())
        return {name: Fraction(1, len(above)) for name in above}
    dry: dict[str, Fraction] = {}
    for draw, weighed in zip(run.run.draws, ledger.book.draws[run.run.id], strict=True):
        name = draw.lot or ledger.item_of_tag.get(draw.tag, "")
        lot = ledger.shop.lots.get(name)
        if weighed is not None and name in ledger.mixtures:
            water = lot.moisture if lot is not None and lot.moisture else 0
            dry[name] = dry.get(name, Fraction(0)) + weighed.value * (1 - water)
    total = sum(dry.values(), Fraction(0))
    return {name: mass / total for name, mass in dry.items()} if total else {}


def _together(groups: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for group in groups for name in group))
