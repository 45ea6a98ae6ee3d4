"""What a repair did: what it put in, what it took out, and how much plastic it kept in use.

A repair keeps all that was not replaced. Beside it stands what a new thing of the batch took; nothing is said about
energy or climate, for which these records are no basis.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from passport.massflow import Ledger
from passport.massflow.closure import sum_of
from passport.massflow.genealogy import numbers_of_things, repairs_of_tags
from passport.massflow.masses import Weighed
from passport.reading.records import Draw
from passport.reading.shop import Operation


@dataclass(frozen=True, slots=True, kw_only=True)
class Mending:
    """One repair of one thing. Masses of plastic in kg; None where something was not weighed."""

    tag: str
    run: str
    day: date
    part: str
    """The part that was replaced; "" where none was named."""
    sources: tuple[str, ...]
    """The lots that the new part was made from."""
    old: tuple[str, ...]
    """The lots that the old part became."""
    put_in_kg: Fraction | None
    taken_out_kg: Fraction | None
    kept_kg: Fraction | None
    """What stayed in use: the thing afterwards without what was put in."""
    new_kg: Fraction | None
    """What a new thing of the batch took."""


def mendings(ledger: Ledger) -> Mapping[str, tuple[Mending, ...]]:
    """The repairs of each repaired thing, in order of date."""
    repairs = repairs_of_tags(ledger.shop, ledger.operations)
    numbers = numbers_of_things(ledger.shop)
    return {
        tag: tuple(_mending(ledger, tag, op, numbers.get(tag, (tag,))) for op in ops) for tag, ops in repairs.items()
    }


def _dry(ledger: Ledger, draw: Draw, weighed: Weighed) -> Weighed:
    """What a thing's mass is counted with: without the water in the lot."""
    moisture = ledger.shop.lots[draw.lot].moisture if draw.lot in ledger.shop.lots else None
    return weighed.times(1 - moisture) if weighed is not None and moisture else weighed


def _mending(ledger: Ledger, tag: str, op: Operation, numbers: tuple[str, ...]) -> Mending:
    draws = list(zip(op.run.draws, ledger.book.draws[op.run.id], strict=True))
    put_in = sum_of(weighed for draw, weighed in draws if draw.lot)
    dry = sum_of(_dry(ledger, draw, weighed) for draw, weighed in draws if draw.lot)
    taken = sum_of(weighed for draw, weighed in draws if draw.tag in numbers)
    after = ledger.after_repair.get((tag, op.run.id))
    item = ledger.shop.items.get(ledger.item_of_tag.get(tag, ""))
    whole = ledger.masses.get(item.id) if item else None
    return Mending(
        tag=tag,
        run=op.run.id,
        day=op.run.date,
        part=next((draw.part for draw, _ in draws if draw.tag in numbers), ""),
        sources=tuple(draw.lot for draw, _ in draws if draw.lot),
        old=tuple(result.id for result in op.results),
        put_in_kg=put_in.value if put_in else None,
        taken_out_kg=taken.value if taken else None,
        kept_kg=after.value - dry.value if after and dry else None,
        new_kg=whole.value / item.count.pieces if item and whole else None,
    )
