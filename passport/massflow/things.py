"""What is taken out of a single thing, or comes back of it, beside what it weighed: more than all of it is doubtful."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from fractions import Fraction

from passport.massflow.closure import beyond, kg, sum_of
from passport.massflow.composition import Component, Composer
from passport.massflow.masses import MassBook, Weighed
from passport.massflow.operation_table import operation_kind
from passport.problems import Level, Place, Problem
from passport.reading.records import Draw
from passport.reading.shop import Operation, Shop

ONE_DAY = date.resolution


def thing_doubts(shop: Shop, book: MassBook, runs: Mapping[str, Operation], composer: Composer) -> Iterator[Problem]:
    """Draws on a tag that take more than the thing (or the named part) weighs, and returns heavier than what left."""
    taken: dict[str, Fraction] = {}
    for op in sorted(runs.values(), key=lambda op: (op.run.date, op.run.id)):
        for i, (draw, weighed) in enumerate(zip(op.run.draws, book.draws[op.run.id], strict=True)):
            if draw.tag and weighed is not None:
                yield from _overdrawn(shop, book, composer, op, i, taken)
                if not operation_kind(op.run.operation).into_tag:
                    taken[draw.tag] = taken.get(draw.tag, Fraction(0)) + weighed.value
    yield from _heavier(shop, book, composer)


def _overdrawn(
    shop: Shop, book: MassBook, composer: Composer, op: Operation, i: int, taken: Mapping[str, Fraction]
) -> Iterator[Problem]:
    draw, weighed = op.run.draws[i], book.draws[op.run.id][i]
    there = _there(composer.components(draw.tag, op.run.date - ONE_DAY), draw)
    if weighed is None or there is None:
        return
    over = weighed.value + taken.get(draw.tag, Fraction(0)) - there.value
    if over <= 0 or not beyond(over, book.weighings.u(weighed - there), there.value):
        return
    what = f'the part "{draw.part}" of {draw.tag}' if draw.part else draw.tag
    message = f"met {kg(over)} kg more taken from {what} by {op.run.id} than it weighs, wanted what is there"
    facts = (("tag", draw.tag), ("run", op.run.id), ("over_kg", kg(over)))
    place = shop.node_place(op.run.id, *op.draw_paths[i])
    hint = "weigh again, or name the right tag or part; soil and water are a `gains:` of the run"
    yield _doubt("tag-overdrawn", message, place, op.run.id, facts, hint)


def _there(components: list[Component], draw: Draw) -> Weighed:
    """The mass of what a draw takes from; None where it was not weighed or nobody knows the tag."""
    named = [weighed for part, _, weighed in components if part == draw.part]
    return sum_of(named or [weighed for _, _, weighed in components]) if components else None


def _heavier(shop: Shop, book: MassBook, composer: Composer) -> Iterator[Problem]:
    for name, left in composer.left_as.items():
        lot, weighed = shop.lots[name], book.nodes[name]
        back = weighed.times(1 - lot.moisture) if weighed is not None and lot.moisture else weighed
        if left is None or back is None or back.value <= left.value:
            continue
        over = back.value - left.value
        if beyond(over, book.weighings.u(back - left), left.value) and lot.because is None:
            message = f"met {name} {kg(over)} kg heavier than the things in it were when they left, wanted no more"
            hint = "rinse and dry it, then weigh again; or say with `because:` what came along"
            facts = (("lot", name), ("over_kg", kg(over)))
            yield _doubt("back-heavier", message, shop.node_place(name, "mass"), name, facts, hint)


def _doubt(code: str, message: str, place: Place, about: str, facts: tuple[tuple[str, str], ...], hint: str) -> Problem:
    return Problem(code=code, message=message, place=place, hint=hint, level=Level.DOUBT, about=about, facts=facts)
