"""Tag numbers at the desk: the lines that issue the next ones, and how a thing that is gone ended."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from passport.reading.records import Item
from passport.reading.shop import Shop
from passport.reading.tag_lists import FIRST_SEAL, issued_line, own_lines, seal_in
from passport.reading.tag_numbers import next_numbers
from passport.verdicts.life import Life, Stage

LIST = "tags-issued.csv"
ENDS = {
    Stage.CAME_BACK: "came back and is material again",
    Stage.TAKEN_APART: "was taken apart",
    Stage.DESTROYED: "was destroyed",
    Stage.GIVEN_ON: "was given on",
    Stage.WITHDRAWN: "was withdrawn",
    Stage.REPLACED: "was replaced",
}
"""How a thing ended, after its number."""


def numbers_for(shop: Shop, item: Item, count: int | None, day: dt.date, pieces: Sequence[int] = ()) -> tuple[str, ...]:
    """The lines that issue numbers: to the pieces named, else to those that never had one, at most count."""
    given = {entry.piece for entry in shop.issued if entry.item == item.id}
    free = pieces or [n for n in range(1, item.count.pieces + 1) if n not in given][:count]
    own = own_lines(shop.issued)
    last = own[-1] if own else None
    numbers = next_numbers(shop.workshop.prefix, _last_of_prefix(shop), len(free))
    seal, lines = last.seal if last else FIRST_SEAL, []
    for tag, piece in zip(numbers, free, strict=True):
        lines.append(issued_line(seal, tag=tag, item=item.id, piece=piece, issued=day))
        seal = seal_in(lines[-1])
    return tuple(lines)


def _last_of_prefix(shop: Shop) -> str | None:
    """A workshop that took a new prefix begins it anew and keeps its old numbers."""
    start = f"{shop.workshop.prefix}-"
    return max((entry.tag for entry in shop.issued if entry.tag.startswith(start)), default=None)


def ended(life: Life) -> str:
    """How a thing that is gone ended, after its number."""
    return ENDS[life.stage] + (f" by {life.replaced_by}" if life.replaced_by else "")
