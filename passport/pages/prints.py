"""The fingerprint of a view: equal prints, equal pages, as long as program and theme are the same.

A page is a function of its view. So a view that has the print it had when its page was made need not be rendered
again. The print is taken of the whole view, never of a list of what somebody thought it depends on.
"""

from __future__ import annotations

import dataclasses
from collections import OrderedDict
from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from hashlib import blake2b
from operator import attrgetter
from typing import Any

SIZE = 16
"""Bytes of a print: as good as never equal by chance."""
KEPT = 2048
"""Prints of large parts that many views share (what all things of a batch say), kept while they are in use."""

_PLAIN = (str, int, float, bool, type(None), Fraction, Decimal, date, bytes)


def print_of(*values: object) -> bytes:
    """The print of some values: texts, numbers, dates, and tuples, mappings and frozen dataclasses of such.

    Raises TypeError for anything else: a value that could change unseen must not hide in a view.
    """
    return blake2b(
        repr(tuple(_flat(value) for value in values)).encode("utf-8", "surrogatepass"), digest_size=SIZE
    ).digest()


class Prints:
    """Prints of views whose parts are often the very same objects: each is looked at once."""

    def __init__(self) -> None:
        self._kept: OrderedDict[int, tuple[object, bytes]] = OrderedDict()

    def of(self, view: Any) -> bytes:
        """The print of a dataclass."""
        fields = _fields_of(type(view))  # type: ignore[arg-type]  # a class can be hashed
        return print_of(type(view).__qualname__, *(self._part(value) for value in fields(view)))

    def _part(self, value: object) -> object:
        if type(value) in _PLAIN_SET:
            return value
        known = self._kept.get(id(value))
        if known is not None and known[0] is value:
            return known[1]
        made = print_of(value)
        self._kept[id(value)] = (value, made)  # holding the value keeps its id from being given away
        if len(self._kept) > KEPT:
            self._kept.popitem(last=False)
        return made


@cache
def _fields_of(kind: type[Any]) -> Callable[[Any], tuple[object, ...]]:
    names = [field.name for field in dataclasses.fields(kind)]
    get = attrgetter(*names) if names else None
    if get is None:
        return lambda _: ()
    return get if len(names) > 1 else lambda value: (get(value),)


def _flat(value: object) -> object:
    """Nested tuples of plain values; the name of each class stands before its fields."""
    kind = type(value)
    if kind in _PLAIN_SET:
        return value
    if kind is tuple or kind is list:
        return _flat_all(value)  # type: ignore[arg-type]
    if isinstance(value, Enum):
        return (kind.__qualname__, value.name)
    if isinstance(value, dict):
        return ("dict", *((_flat(key), _flat(part)) for key, part in value.items()))
    if dataclasses.is_dataclass(kind):
        return (kind.__qualname__, *_flat_all(_fields_of(kind)(value)))
    raise TypeError(f"{kind.__qualname__} has no print")


def _flat_all(values: Iterable[object]) -> tuple[object, ...]:
    # most values are texts: a call for each would take longer than all the rest
    return tuple([value if type(value) in _PLAIN_SET else _flat(value) for value in values])


_PLAIN_SET = frozenset(_PLAIN)
