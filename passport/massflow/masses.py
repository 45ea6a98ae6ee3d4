"""Every mass of the shop as a measured value: lots, items and their parts, draws, losses and gains.

None stands for "not weighed": it withholds figures, never work. A lot that got its number first and went onto
a scale later has what its first weighing found, and what had been taken by then.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from passport.amounts import Mass
from passport.massflow.weighing import Measured, Weighings, total
from passport.problems import Problem
from passport.reading.fields import NOT_WEIGHED, NotWeighed
from passport.reading.records import Draw, Item, Lot, Part, Reweighed, Sent, WrittenOff
from passport.reading.shop import Operation, Shop

Weighed = Measured | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MassBook:
    """All masses in kg, by what they belong to."""

    weighings: Weighings
    nodes: Mapping[str, Weighed]
    """Each lot, and each item batch as a whole (plastic, before the hardware goes in)."""
    parts: Mapping[tuple[str, str], Weighed]
    """Each part of an item batch, in all its pieces together."""
    draws: Mapping[str, tuple[Weighed, ...]]
    """Each draw of each run, in the order of the record."""
    losses: Mapping[str, tuple[Weighed, ...]]
    gains: Mapping[str, tuple[Weighed, ...]]
    problems: tuple[Problem, ...]


def mass_book(shop: Shop, runs: Mapping[str, Operation]) -> MassBook:
    """Weigh everything that the records state."""
    weighings = Weighings(shop.workshop.scales)
    run_of = {result.id: op.run.id for op in runs.values() for result in op.results}
    run_scale = {name: op.run.scale for name, op in runs.items()}
    nodes: dict[str, Weighed] = {
        lot.id: _of_lot(weighings, lot, run_scale.get(run_of.get(lot.id, ""), "")) for lot in shop.lots.values()
    }
    nodes |= dict(_weighed_later(shop, weighings, runs))
    parts = {
        (item.id, part.part): _of_part(weighings, item, part) for item in shop.items.values() for part in item.parts
    }
    nodes |= {item.id: _of_item(weighings, item, parts) for item in shop.items.values()}
    return MassBook(
        weighings=weighings,
        nodes=nodes,
        parts=parts,
        draws={name: tuple(_draws(shop, weighings, nodes, op)) for name, op in runs.items()},
        losses={name: tuple(_named(weighings, op, "loss", op.run.losses)) for name, op in runs.items()},
        gains={name: tuple(_named(weighings, op, "gain", op.run.gains)) for name, op in runs.items()},
        problems=tuple(p for op in runs.values() for p in _uncounted(shop, op)),
    )


def _of_lot(weighings: Weighings, lot: Lot, run_scale: str) -> Weighed:
    key = f"lot:{lot.id}"
    if lot.gross is not None and lot.tare is not None:
        return weighings.net(key, lot.gross, lot.tare, lot.scale, run_scale)
    if not isinstance(lot.mass, Mass):
        return None
    one = weighings.weigh(key, lot.mass, lot.scale, run_scale)
    return one.times(lot.pieces.pieces) if lot.mass.each and lot.pieces else one


def event_key(event: Reweighed | Sent | WrittenOff) -> str:
    """The name of an event's weighing among all weighings."""
    return f"event:{event.file}:{event.number:05}"


def draw_key(run: str, number: int) -> str:
    """The name of a draw's weighing among all weighings."""
    return f"draw:{run}:{number}"


def first_weighings(shop: Shop) -> Mapping[str, Reweighed]:
    """The first weighing of each lot that was taken in or made unweighed.

    It stands for the morning of its day, since things are weighed before they are used; every later weighing is
    one for the books and stands for the evening.
    """
    return {
        event.lot: event
        for event in reversed(shop.events)
        if isinstance(event, Reweighed) and event.lot in shop.lots and shop.lots[event.lot].mass is NOT_WEIGHED
    }


def _weighed_later(shop: Shop, weighings: Weighings, runs: Mapping[str, Operation]) -> Iterator[tuple[str, Measured]]:
    """Lots without a mass of their own: what the first weighing found, and all that was taken before.

    Where something was taken unweighed, or the lot was said to be empty by then, nobody can tell.
    """
    first = first_weighings(shop)
    taken: dict[str, list[Weighed]] = {lot: [] for lot in first}
    for lot, weighed in _takings(shop, weighings, runs, first):
        taken[lot].append(weighed)
    for lot, event in first.items():
        known = [weighed for weighed in taken[lot] if weighed is not None]
        if len(known) == len(taken[lot]):
            yield lot, total((weighings.weigh(event_key(event), event.mass, event.scale), *known))


def _takings(
    shop: Shop, weighings: Weighings, runs: Mapping[str, Operation], first: Mapping[str, Reweighed]
) -> Iterator[tuple[str, Weighed]]:
    """What was taken from each lot on the days before its first weighing."""
    for op in runs.values():
        for i, draw in enumerate(op.run.draws):
            if draw.lot in first and op.run.date < first[draw.lot].date:
                mass, key = draw.mass, draw_key(op.run.id, i)
                if isinstance(mass, Mass) and not draw.empties:
                    yield draw.lot, weighings.weigh(key, mass, draw.scale, op.run.scale)
                else:
                    yield draw.lot, None
    for event in shop.events:
        if isinstance(event, Sent | WrittenOff) and event.lot in first and event.date < first[event.lot].date:
            mass = event.mass
            yield event.lot, weighings.weigh(event_key(event), mass, event.scale) if isinstance(mass, Mass) else None


def _of_part(weighings: Weighings, item: Item, part: Part) -> Weighed:
    """A part's mass stands for one thing: "its mass in each thing"."""
    if part.mass is None:
        return None
    return weighings.weigh(f"part:{item.id}:{part.part}", part.mass, item.scale).times(item.count.pieces)


def _of_item(weighings: Weighings, item: Item, parts: Mapping[tuple[str, str], Weighed]) -> Weighed:
    if isinstance(item.mass, Mass):
        one = weighings.weigh(f"item:{item.id}", item.mass, item.scale)
        return one.times(item.count.pieces) if item.mass.each else one
    if isinstance(item.mass, NotWeighed):
        return None
    whole = Measured(Fraction(0))
    for part in item.parts:
        weighed = parts[item.id, part.part]
        if weighed is None:
            return None
        whole += weighed
    return whole


def _draws(shop: Shop, weighings: Weighings, nodes: Mapping[str, Weighed], op: Operation) -> Iterator[Weighed]:
    for i, draw in enumerate(op.run.draws):
        key = draw_key(op.run.id, i)
        if draw.pieces is not None:
            yield _of_pieces(shop, weighings, nodes, key, draw)
        elif isinstance(draw.mass, Mass):
            yield weighings.weigh(key, draw.mass, draw.scale, op.run.scale)
        else:
            yield None


def _of_pieces(shop: Shop, weighings: Weighings, nodes: Mapping[str, Weighed], key: str, draw: Draw) -> Weighed:
    lot = shop.lots.get(draw.lot)
    weighed = nodes.get(draw.lot)
    if lot is None or weighed is None or draw.pieces is None or not lot.pieces or not lot.pieces.pieces:
        return None
    spread = float(lot.piece_spread.mass_kg) if lot.piece_spread else 0.0
    return weighings.of_pieces(key, draw.pieces.pieces, lot.pieces.pieces, weighed, spread)


def _named(
    weighings: Weighings, op: Operation, kind: str, masses: Mapping[str, Mass | NotWeighed]
) -> Iterator[Weighed]:
    for name, mass in masses.items():
        if isinstance(mass, Mass):
            yield weighings.weigh(f"{kind}:{op.run.id}:{name}", mass, op.run.scale)
        else:
            yield None


def _uncounted(shop: Shop, op: Operation) -> Iterator[Problem]:
    for draw, path in zip(op.run.draws, op.draw_paths, strict=True):
        lot = shop.lots.get(draw.lot)
        if draw.pieces is not None and lot is not None and not (lot.pieces and lot.pieces.pieces):
            message = (
                f"met {draw.pieces.pieces} pieces of {lot.id} drawn by {op.run.id}, "
                f"wanted the number of pieces in {lot.id}"
            )
            yield Problem(
                code="pieces-without-count",
                message=message,
                place=shop.node_place(op.run.id, *path, "pieces"),
                hint=f"write `pieces:` in {lot.id}, or `mass:` here",
                about=op.run.id,
            )
