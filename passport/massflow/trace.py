"""Where material came from and where it went, with masses: backwards to lots and streams, forwards to tags.

Shares are well mixed and exact; a trace's masses add up to the mass of what was traced.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from passport.massflow.composition import owner, tag_node
from passport.massflow.ledger import Ledger
from passport.massflow.mixing import Mixing

A_TAG = tag_node("")
"""What the mixing node of a repaired thing ends with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """One received lot behind a node."""

    lot: str
    """Its id; the id of the run or lot where the proportions are unknown and the trace ends."""
    stream: str
    """The stream it was received from, "elsewhere" for another workshop's, "unknown" where the trace ends."""
    share: Fraction
    mass_kg: Fraction | None
    """Its material in the node; None where the node was not weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """One lot or item that holds material of a traced lot."""

    node: str
    share: Fraction
    mass_kg: Fraction | None
    """That lot's material in all of it; None where it was not weighed."""
    tags: tuple[str, ...] = ()
    """For items: the tags issued for them."""
    each_kg: Fraction | None = None
    """For items: that lot's material in each piece."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """Material of `source` in `target`, in kg; None where the target was not weighed."""

    source: str
    target: str
    mass_kg: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ancestor:
    """One node of a drawn family tree."""

    kind: str
    """"stream", "lot" or "item"."""
    id: str
    mass_kg: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lineage:
    """The family tree above a node, sources first."""

    nodes: tuple[Ancestor, ...]
    edges: tuple[Edge, ...]


@lru_cache(maxsize=64)  # pages of each language and data ask
def sources_of(ledger: Ledger, node: str) -> tuple[Origin, ...]:
    """The received lots behind a lot or item, the largest first."""
    whole = _mass(ledger, node)
    found: dict[tuple[str, str], Fraction] = {}
    for name, share in _leaves(ledger.mixing, node):
        streams = {ingredient.stream for ingredient in ledger.mixing.nodes[name].portions}
        key = (owner(name), min(streams))
        found[key] = found.get(key, Fraction(0)) + share
    ordered = sorted(found.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple(
        Origin(lot=lot, stream=stream, share=share, mass_kg=_times(whole, share)) for (lot, stream), share in ordered
    )


def _leaves(mixing: Mixing, node: str) -> Iterator[tuple[str, Fraction]]:
    for name, share in _unmixed(mixing, node):
        if not mixing.nodes[name].inputs:
            yield name, share


def _unmixed(mixing: Mixing, node: str) -> Iterator[tuple[str, Fraction]]:
    """Every mixing node at and above one, with its share in it, results before sources."""
    shares = {node: Fraction(1)}
    waiting = [(-mixing.nodes[node].rank, node)]
    while waiting:
        _, name = heapq.heappop(waiting)
        yield name, shares[name]
        for source, part in _proportions(mixing, name):
            if source not in shares:
                shares[source] = Fraction(0)
                heapq.heappush(waiting, (-mixing.nodes[source].rank, source))
            shares[source] += shares[name] * part


@lru_cache(maxsize=8192)  # the pages of all lots above a node ask
def _proportions(mixing: Mixing, name: str) -> tuple[tuple[str, Fraction], ...]:
    inputs = mixing.nodes[name].inputs
    mass = sum((i.dry.value for i in inputs), Fraction(0))
    return tuple((i.source, i.dry.value / mass) for i in inputs if i.dry.value)


def reached_from(ledger: Ledger, lot: str) -> tuple[Reached, ...]:
    """All lots and items that hold material of a lot, in working order, itself left out."""
    shares = shares_of_lot(ledger, lot)
    return tuple(_reached(ledger, name, share) for name, share in shares.items() if _shown(name, lot))


def shares_of_lot(ledger: Ledger, lot: str) -> Mapping[str, Fraction]:
    """How much of each mixing node is material of a lot, in working order; 1 for the lot itself."""
    shares = {lot: Fraction(1)}
    for name in _downstream(ledger, lot):
        share = sum((part * shares.get(s, 0) for s, part in _proportions(ledger.mixing, name)), Fraction(0))
        if share:
            shares[name] = share
    return shares


def _downstream(ledger: Ledger, lot: str) -> list[str]:
    found: dict[str, None] = {}
    waiting = [lot]
    while waiting:
        fresh = [name for name in ledger.feeds.get(waiting.pop(), ()) if name not in found]
        found.update(dict.fromkeys(fresh))
        waiting += fresh
    return sorted(found, key=lambda name: ledger.mixing.nodes[name].rank)


def _shown(name: str, lot: str) -> bool:
    return name != lot and "/" not in name


def _reached(ledger: Ledger, name: str, share: Fraction) -> Reached:
    mass = _times(_mass(ledger, name), share)
    item = ledger.shop.items.get(name)
    if item is None:
        return Reached(node=name, share=share, mass_kg=mass)
    tags = ledger.tags_of.get(name, ())
    return Reached(
        node=name, share=share, mass_kg=mass, tags=tags, each_kg=_times(mass, Fraction(1, item.count.pieces))
    )


def lineage(ledger: Ledger, node: str) -> Lineage:
    """The family tree of a lot or item: streams → lots → the node, with the mass along each edge."""
    names = sorted(ledger.upstream(node), key=lambda name: (ledger.mixing.nodes[name].rank, name))
    edges = [edge for name in names for edge in _edges(ledger, name)]
    streams: dict[str, Fraction] = {}
    for edge in edges:
        if edge.source in ledger.shop.streams and edge.target in ledger.shop.lots and _received(ledger, edge):
            streams[edge.source] = streams.get(edge.source, Fraction(0)) + (edge.mass_kg or 0)
    heads = [Ancestor(kind="stream", id=name, mass_kg=mass) for name, mass in sorted(streams.items())]
    bodies = [Ancestor(kind=_kind(ledger, name), id=name, mass_kg=_mass(ledger, name)) for name in names]
    return Lineage(nodes=(*heads, *bodies), edges=tuple(edges))


def _received(ledger: Ledger, edge: Edge) -> bool:
    received = ledger.shop.lots[edge.target].received
    return received is not None and received.stream == edge.source


def _edges(ledger: Ledger, name: str) -> Iterator[Edge]:
    lot = ledger.shop.lots.get(name)
    if lot is not None and lot.received is not None and lot.received.stream:
        yield Edge(source=lot.received.stream, target=name, mass_kg=_mass(ledger, name))
    whole = _mass(ledger, name)
    for source, share in _direct(ledger, name).items():
        yield Edge(source=source, target=name, mass_kg=_times(whole, share))


def _direct(ledger: Ledger, name: str) -> Mapping[str, Fraction | None]:
    """The nearest lots and items above one, with their shares; None where nobody weighed the proportions.

    Runs and parts have nodes of their own in the mixing graph, which are looked through.
    """
    shares: dict[str, Fraction | None] = {}
    waiting = list(_proportions(ledger.mixing, name))
    while waiting:
        source, share = waiting.pop(0)
        if "/" in source or (source not in ledger.made_of.get(name, ()) and source in ledger.shop.items):
            waiting += [(above, share * part) for above, part in _proportions(ledger.mixing, source)]
        else:
            shares[source] = (shares.get(source) or Fraction(0)) + share
    for above in ledger.made_of.get(name, ()):
        shares.setdefault(above, None)
    return shares


def _kind(ledger: Ledger, name: str) -> str:
    return "item" if name in ledger.shop.items else "lot"


def _mass(ledger: Ledger, name: str) -> Fraction | None:
    weighed = ledger.tag_mass(owner(name)) if name.endswith(A_TAG) else ledger.masses.get(name)
    return weighed.value if weighed is not None else None


def _times(mass: Fraction | None, share: Fraction | None) -> Fraction | None:
    return None if mass is None or share is None else mass * share
