"""What can happen to a thing or to a lot, read off the records: each kind of event with its fields and questions."""

from __future__ import annotations

import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from passport.amounts import read_mass
from passport.office.asking import Question
from passport.office.wording import kilograms
from passport.reading.decode import meaning
from passport.reading.fields import NotWeighed, read_date, read_id, read_line, read_weighed
from passport.reading.records import LINEAGE, AnyEvent, LotEvent, Weathering
from passport.reading.shop import Shop

ELSEWHERE = {
    "replaced": "passport tag --replaces TAG gives the new number and records it",
    "handed-back": "passport handback TAG asks what came back and makes the lot of it",
    "mended": "passport mend TAG writes the repair with its run",
}
"""What has a command of its own."""
_FIRST = ("date", "tag", "lot", "event")
ASKED_BY_OPTION = ("note", "scale")
"""Fields that nobody is asked for: an option says them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventKind:
    """One kind of event."""

    word: str
    """As records write it, such as "handed-over"."""
    of_lots: bool
    needed: tuple[str, ...]
    """Fields that it cannot be without, beside date and tag or lot."""
    optional: tuple[str, ...]
    takes_unweighed: bool
    """Whether its mass may be "not weighed"."""

    @property
    def fields(self) -> tuple[str, ...]:
        """All its own fields, in the order in which a record has them."""
        return (*self.needed, *self.optional)

    @property
    def subject(self) -> str:
        """The field that says what it happened to."""
        return "lot" if self.of_lots else "tag"


@cache
def event_kinds() -> Mapping[str, EventKind]:
    """Every kind of event there is, by its word."""
    classes = typing.get_args(typing.get_args(AnyEvent)[0])
    found = (_kind(cls, word) for cls in classes for word in _words_of(cls))
    return {kind.word: kind for kind in found}


def own_fields() -> tuple[str, ...]:
    """The fields that any kind of event has of its own, each once."""
    return tuple(dict.fromkeys(name for kind in event_kinds().values() for name in kind.fields))


def _words_of(cls: Any) -> tuple[str, ...]:
    return tuple(typing.get_args(cls.__pydantic_fields__["event"].annotation))


def _kind(cls: Any, word: str) -> EventKind:
    fields = {n: f for n, f in cls.__pydantic_fields__.items() if n not in LINEAGE and n not in _FIRST}
    own = [n for n in fields if n != "note"]  # the note comes from the common fields, and stands last
    return EventKind(
        word=word,
        of_lots=issubclass(cls, LotEvent),
        needed=tuple(n for n in own if fields[n].is_required()),
        optional=(*(n for n in own if not fields[n].is_required()), "note"),
        takes_unweighed="mass" in fields and NotWeighed in typing.get_args(fields["mass"].annotation),
    )


def meaning_of(name: str) -> str:
    """What a field of events is, in the words of the records."""
    classes = typing.get_args(typing.get_args(AnyEvent)[0])
    return next((said for cls in classes if (said := meaning(cls, name))), "")


# --- questions ----------------------------------------------------------------------------------------

_ASKS: Mapping[str, tuple[str, str]] = {
    "date": ("On which day", ""),
    "place": ("Where, as coarse as you like (a quarter, a yard, a school; no street number, no name)", ""),
    "condition": ("How is it, in a few words", ""),
    "weathering": ("What have sun and frost done to it", "it counts as weathered as before"),
    "stream": ("To which other stream did its material go", ""),
    "because": ("Why, or how", ""),
    "to": ("To whom (a firm or a kind of taker, never a private person)", ""),
    "mass": ("How much, in kg", ""),
    "scale": ("On which scale", "the first one of the workshop is meant"),
    "run": ("In which run", ""),
    "by": ("By which new tag", ""),
    "note": ("Anything worth telling (no names of people)", ""),
}
_COSTS: Mapping[str, str] = {
    "place": "its page cannot say where it went",
    "because": "nobody will know why",
}


def read_as(kind: EventKind, name: str) -> Callable[[str], object]:
    """How the text of a field is read; raises NotAQuantity for what cannot be."""
    if name == "mass":
        return read_weighed if kind.takes_unweighed else read_mass
    return {"date": read_date, "run": read_id}.get(name, read_line)


def question(kind: EventKind, name: str, shop: Shop) -> Question:
    """The question for one field of one kind of event."""
    asks, cost = _ASKS.get(name, (meaning_of(name).rstrip("."), ""))
    if not cost and name in kind.optional:
        cost = _COSTS.get(name, "the record has it not")
    return Question(
        name=name,
        asks=asks,
        read=read_as(kind, name),
        why=meaning_of(name),
        cost=cost,
        known=_known(name, shop),
        tidy=kilograms if name == "mass" else str,
    )


def _known(name: str, shop: Shop) -> tuple[str, ...]:
    if name == "weathering":
        return tuple(word.value for word in Weathering)
    return {"scale": tuple(shop.workshop.scales), "run": tuple(shop.runs)}.get(name, ())
