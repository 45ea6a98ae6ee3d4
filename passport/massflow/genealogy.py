"""The family tree of material: lots and items, what each was made of, in an order that works."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from graphlib import CycleError, TopologicalSorter

from passport.massflow.operation_table import operation_kind
from passport.problems import Problem
from passport.reading.records import Draw
from passport.reading.shop import Operation, Shop


def as_of(shop: Shop, at: date | None) -> Shop:
    """The shop as its records stood at the end of a day; the whole shop for None."""
    if at is None:
        return shop
    return dataclasses.replace(
        shop,
        lots={k: v for k, v in shop.lots.items() if v.date <= at},
        runs={k: v for k, v in shop.runs.items() if v.date <= at},
        items={k: v for k, v in shop.items.items() if v.date <= at},
        recalls={k: v for k, v in shop.recalls.items() if v.date <= at},
        events=tuple(event for event in shop.events if event.date <= at),
        issued=tuple(tag for tag in shop.issued if tag.issued <= at),
    )


def items_of_tags(shop: Shop) -> Mapping[str, str]:
    """The item batch that each issued tag stands on."""
    return {issued.tag: issued.item for issued in shop.issued}


def numbers_of_things(shop: Shop) -> Mapping[str, tuple[str, ...]]:
    """All numbers that the thing of a tag ever had: what replaces a tag stands on the same piece."""
    of_piece: dict[tuple[str, int], list[str]] = {}
    for issued in shop.issued:
        of_piece.setdefault((issued.item, issued.piece), []).append(issued.tag)
    return {tag: tuple(tags) for tags in of_piece.values() for tag in tags}


def repairs_of_tags(shop: Shop, runs: Mapping[str, Operation]) -> Mapping[str, tuple[Operation, ...]]:
    """The repairs of each tagged thing, in order of date, under each of its numbers.

    A repair is a run that draws on a thing and puts something in.
    """
    numbers = numbers_of_things(shop)
    found: dict[str, list[Operation]] = {}
    for op in sorted(runs.values(), key=lambda op: (op.run.date, op.run.id)):
        if operation_kind(op.run.operation).into_tag and any(draw.lot for draw in op.run.draws):
            drawn = (number for draw in op.run.draws if draw.tag for number in numbers.get(draw.tag, (draw.tag,)))
            for tag in dict.fromkeys(drawn):
                found.setdefault(tag, []).append(op)
    return {tag: tuple(ops) for tag, ops in found.items()}


def drawn_from(draw: Draw, items: Mapping[str, str]) -> str:
    """The node that a draw takes from: a lot, or the item batch of a tag ("" where nobody knows the tag)."""
    return draw.lot or items.get(draw.tag, "")


def parents(shop: Shop, runs: Mapping[str, Operation]) -> Mapping[str, tuple[str, ...]]:
    """What each lot and item was made of, by id, each parent once, known nodes only."""
    items, repairs = items_of_tags(shop), repairs_of_tags(shop, runs)
    made_of: dict[str, tuple[str, ...]] = {}
    for name in shop.lots:
        made_of[name] = ()
    for name, lot in shop.lots.items():
        if lot.received and lot.received.tags:
            tags = [came.tag for came in lot.received.tags]
            put_in = (d.lot for tag in tags for op in repairs.get(tag, ()) for d in _until(op, lot.date))
            made_of[name] = _known(shop, (*(items.get(tag, "") for tag in tags), *put_in))
    for operation in runs.values():
        from_lots = _known(shop, (drawn_from(draw, items) for draw in operation.run.draws))
        for result in operation.results:
            made_of[result.id] = from_lots
    return made_of


def _until(op: Operation, day: date) -> tuple[Draw, ...]:
    return op.run.draws if op.run.date <= day else ()


def _known(shop: Shop, names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(n for n in names if n in shop.lots or n in shop.items))


def working_order(shop: Shop, made_of: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """Every lot and item after all that it was made of, and a problem where that cannot be.

    The order depends on ids alone, never on that of files. Members of a cycle and all that follows from them
    are left out of it.
    """
    sorter = TopologicalSorter({name: sorted(made_of[name]) for name in sorted(made_of)})
    problems: tuple[Problem, ...] = ()
    try:
        sorter.prepare()
    except CycleError as slip:
        problems = (_cycle(shop, tuple(slip.args[1])),)
    return tuple(_in_generations(sorter)), problems


def _in_generations(sorter: TopologicalSorter[str]) -> Iterator[str]:
    while sorter.is_active():
        ready = sorted(sorter.get_ready())
        if not ready:
            return
        yield from ready
        sorter.done(*ready)


def _cycle(shop: Shop, ring: tuple[str, ...]) -> Problem:
    # graphlib names the ring from source to product, its first member twice; the smallest id goes first
    members = ring[:-1]
    start = members.index(min(members))
    said = (*members[start:], *members[:start], members[start])
    message = f"met material made of itself ({' → '.join(said)}), wanted lots that come from earlier lots"
    hint = "one of these draws names the wrong lot"
    return Problem(code="cycle", message=message, place=shop.node_place(said[0]), hint=hint, about=said[0])
