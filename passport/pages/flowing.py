"""The genealogy of a thing or a lot as a drawing: streams → the lots it was made of → itself.

At most a dozen nodes: small sources are folded into one, and the whole list stands on the lot's page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from passport.massflow import Ledger
from passport.pages.pieces import Flow, FlowLink, FlowNode, Link
from passport.pages.scribe import GRAMS_A_KILO, Scribe
from passport.reading.records import Item
from passport.verdicts.identity import parent_shares

MOST_STREAMS, MOST_LOTS = 5, 5
FOLDED = "folded"
UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class _Band:
    """Material of one stream that came through one lot."""

    stream: str
    lot: str
    mass_kg: Fraction


def flow_of_thing(scribe: Scribe, item: Item, title: str) -> Flow | None:
    """Where the plastic of one thing of a batch came from, masses per thing."""
    weighed = scribe.book.ledger.masses.get(item.id)
    if weighed is None:
        return None
    return _flow(scribe, item.id, title, weighed.value / item.count.pieces, scribe.lot(item.id))


def flow_of_repaired(scribe: Scribe, tag: str, title: str) -> Flow | None:
    """The same for a thing with what repairs put in; None where a part of it was not weighed."""
    ledger = scribe.book.ledger
    weighed = ledger.tag_mass(tag)
    if weighed is None or not weighed.value:
        return None
    bands = [
        _Band(stream, lot, mass.value * share * part.value)
        for _, node, mass in ledger.repaired[tag]
        if mass is not None
        for lot, share in _nearest_lots(ledger, node).items()
        for stream, part in ledger.mixtures[lot].shares_by("stream").items()
    ]
    return _drawn(scribe, bands, tag, title, weighed.value, scribe.lot(ledger.item_of_tag[tag]))


def _nearest_lots(ledger: Ledger, node: str) -> dict[str, Fraction]:
    """The lots that a part or batch was drawn from, with their shares by dry mass."""
    if node in ledger.shop.lots:
        return {node: Fraction(1)}
    inputs = ledger.mixing.nodes[node].inputs
    total = sum((i.dry.value for i in inputs), Fraction(0))
    found: dict[str, Fraction] = {}
    for i in inputs:
        for lot, share in _nearest_lots(ledger, i.source).items() if total else ():
            found[lot] = found.get(lot, Fraction(0)) + share * i.dry.value / total
    return found


def flow_of_lot(scribe: Scribe, lot: str) -> Flow | None:
    """Where the plastic of a lot came from; None for a lot that was received or not weighed."""
    weighed = scribe.book.ledger.masses.get(lot)
    if weighed is None or not scribe.book.ledger.made_of.get(lot):
        return None
    return _flow(scribe, lot, lot, weighed.value, None)


def _bands(ledger: Ledger, node: str, mass_kg: Fraction) -> Iterator[_Band]:
    for parent, share in parent_shares(ledger, node).items():
        for stream, part in ledger.mixtures[parent].shares_by("stream").items():
            yield _Band(stream, parent, mass_kg * share * part.value)


def _flow(scribe: Scribe, node: str, title: str, mass_kg: Fraction, more: Link | None) -> Flow | None:
    return _drawn(scribe, list(_bands(scribe.book.ledger, node, mass_kg)), node, title, mass_kg, more)


def _drawn(
    scribe: Scribe, bands: list[_Band], node: str, title: str, mass_kg: Fraction, more: Link | None
) -> Flow | None:
    if not bands:
        return None
    streams = _largest(_sums(bands, "stream"), MOST_STREAMS)
    lots = _largest(_sums(bands, "lot"), MOST_LOTS)
    merged: dict[tuple[str, str], Fraction] = {}
    for band in bands:
        key = (streams.get(band.stream, FOLDED), lots.get(band.lot, FOLDED))
        merged[key] = merged.get(key, Fraction(0)) + band.mass_kg
    nodes = [*_stream_nodes(scribe, merged, bands, streams), *_lot_nodes(scribe, merged, bands, lots)]
    nodes.append(_node(scribe, f"thing:{node}", title, mass_kg, "item"))
    return Flow(
        nodes=tuple(nodes),
        links=tuple(_links(scribe, merged, node)),
        title=scribe.words("tell.flow_title", what=title),
        summary=_summary(scribe, streams, lots),
        folded=more if more and len(nodes) > MOST_STREAMS + MOST_LOTS else None,
    )


def _sums(bands: list[_Band], side: str) -> dict[str, Fraction]:
    sums: dict[str, Fraction] = {}
    for band in bands:
        name = getattr(band, side)
        sums[name] = sums.get(name, Fraction(0)) + band.mass_kg
    return sums


def _largest(sums: Mapping[str, Fraction], most: int) -> dict[str, str]:
    """The names that are drawn by themselves, each to itself; with one too many, the rest is folded."""
    ranked = sorted(sums, key=lambda name: (-sums[name], name))
    kept = ranked if len(ranked) <= most else ranked[: most - 1]
    return {name: name for name in kept}


def _summary(scribe: Scribe, streams: Mapping[str, str], lots: Mapping[str, str]) -> str:
    names = scribe.words.listed(scribe.stream(name).text for name in streams)
    return scribe.words("tell.flow_summary", streams=names, lots=scribe.words.listed(lots))


def _stream_nodes(
    scribe: Scribe, merged: Mapping[tuple[str, str], Fraction], bands: list[_Band], kept: Mapping[str, str]
) -> Iterator[FlowNode]:
    for name in [*kept, FOLDED]:
        mass = sum((m for (stream, _), m in merged.items() if stream == name), Fraction(0))
        if name == FOLDED and mass:
            yield _folded(scribe, f"stream:{FOLDED}", mass, len(_sums(bands, "stream")) - len(kept))
        elif mass:
            link = scribe.stream(name)
            origin = _origin(scribe, name)
            note = _origin_note(scribe, name)
            yield _node(scribe, f"stream:{name}", link.text, mass, origin, href=link.href, note=note)


def _lot_nodes(
    scribe: Scribe, merged: Mapping[tuple[str, str], Fraction], bands: list[_Band], kept: Mapping[str, str]
) -> Iterator[FlowNode]:
    for name in [*kept, FOLDED]:
        mass = sum((m for (_, lot), m in merged.items() if lot == name), Fraction(0))
        if name == FOLDED and mass:
            yield _folded(scribe, f"lot:{FOLDED}", mass, len(_sums(bands, "lot")) - len(kept))
        elif mass:
            href = scribe.lot(name).href if name in scribe.book.shop.lots else ""
            yield _node(scribe, f"lot:{name}", name, mass, "lot", href=href)


def _origin(scribe: Scribe, stream: str) -> str:
    """The class that most of a stream belongs to, for its pattern in the drawing."""
    record = scribe.book.shop.streams.get(stream)
    if record is None:
        return UNKNOWN
    return max(record.origin, key=lambda origin: record.origin[origin]).value


def _origin_note(scribe: Scribe, stream: str) -> str:
    """Every origin class of a stream in short words, with shares where there are several."""
    record = scribe.book.shop.streams.get(stream)
    if record is None:
        return scribe.words("tell.origin_short.unknown")
    if len(record.origin) == 1:
        return scribe.words(f"tell.origin_short.{next(iter(record.origin)).value}")
    parts = ((scribe.words.percent(s), scribe.words(f"tell.origin_short.{o.value}")) for o, s in record.origin.items())
    return scribe.words.listed(f"{share} {origin}" for share, origin in parts)


def _node(
    scribe: Scribe, name: str, label: str, mass_kg: Fraction, kind: str, *, href: str = "", note: str = ""
) -> FlowNode:
    grams = float(mass_kg * GRAMS_A_KILO)
    return FlowNode(id=name, label=label, mass=scribe.kg(mass_kg), mass_g=grams, kind=kind, href=href, note=note)


def _folded(scribe: Scribe, name: str, mass_kg: Fraction, count: int) -> FlowNode:
    label = scribe.words("tell.flow_more", n=scribe.words.number(count))
    return _node(scribe, name, label, mass_kg, FOLDED)


def _links(scribe: Scribe, merged: Mapping[tuple[str, str], Fraction], node: str) -> Iterator[FlowLink]:
    into: dict[str, Fraction] = {}
    for (stream, lot), mass in merged.items():
        if mass:
            into[lot] = into.get(lot, Fraction(0)) + mass
            yield _link(scribe, f"stream:{stream}", f"lot:{lot}", mass)
    for lot, mass in into.items():
        yield _link(scribe, f"lot:{lot}", f"thing:{node}", mass)


def _link(scribe: Scribe, source: str, target: str, mass_kg: Fraction) -> FlowLink:
    return FlowLink(source=source, target=target, mass_g=float(mass_kg * GRAMS_A_KILO), mass=scribe.kg(mass_kg))
