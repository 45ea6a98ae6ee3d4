"""What a gram of plastic can be: the joint classes that shares are counted in, and what operations do to them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

UNKNOWN = "unknown"
FIELDS = ("origin", "stream", "resin", "weathering", "melts", "lives")
RECYCLED = ("pre-consumer", "post-consumer")
"""The classes that count as recycled content (ISO 14021:2016, 7.8.1.1)."""


class Ingredient(NamedTuple):
    """One joint class of material. Portions of one mixture differ in at least one field."""

    origin: str
    stream: str
    resin: str
    weathering: str
    melts: int
    """Times melted here; earlier melts are unknown."""
    lives: int
    """Uses behind it: 1 for post-consumer, 0 for virgin and pre-consumer, one more at each return."""


class Selector(NamedTuple):
    """Which ingredients a share is about: those whose `field` is one of `values`."""

    field: str
    values: frozenset[str | int]

    def picks(self, ingredient: Ingredient) -> bool:
        """Whether the ingredient counts."""
        return getattr(ingredient, self.field) in self.values


def selecting(field: str, values: Iterable[str | int]) -> Selector:
    """A selector of one field's values."""
    return Selector(field, frozenset(values))


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What happens to material on its way from one node to the next; empty text leaves a field alone."""

    origin: str = ""
    resin: str = ""
    weathering: str = ""
    melts: int = 0
    lives: int = 0

    def of(self, ingredient: Ingredient) -> Ingredient:
        """The ingredient afterwards."""
        return Ingredient(
            self.origin or ingredient.origin,
            ingredient.stream,
            self.resin or ingredient.resin,
            self.weathering or ingredient.weathering,
            ingredient.melts + self.melts,
            ingredient.lives + self.lives,
        )

    def before(self, selector: Selector) -> Selector | None:
        """The selector that picked the same material before the change; None where all or nothing is picked."""
        if selector.field in ("melts", "lives"):
            added: int = getattr(self, selector.field)
            shifted = (v - added for v in selector.values if isinstance(v, int))
            return Selector(selector.field, frozenset(shifted)) if added else selector
        replaced = selector.field != "stream" and getattr(self, selector.field)
        return None if replaced else selector

    def picked_after(self, selector: Selector) -> bool:
        """Where `before` is None: whether the change makes everything picked."""
        return getattr(self, selector.field) in selector.values


NO_CHANGE = Change()
