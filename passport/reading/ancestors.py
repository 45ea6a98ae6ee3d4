"""Records that were taken over from workshops that closed: joined with our own as one shop, under names of their own.

They lie in `content/from/PREFIX/` as they were deposited, byte for byte, and are never rewritten. Each id of theirs is
read as `PREFIX-ID`, pictures, papers and scales likewise; tag numbers stay what they are, since they stand on things.
From then on it is one set of books: what the other workshop received, made and gave out is in the balances at its own
dates, and its scales keep their own uncertainty.

Pure: shops in, one shop out. `folder.py` reads them.
"""

from __future__ import annotations

import copy
import dataclasses
import typing
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

from passport.problems import Place, Problem
from passport.reading.fields import FileField, IdField
from passport.reading.records import Item, Lot, Run, Workshop
from passport.reading.shop import Shop

R = TypeVar("R")
V = TypeVar("V")

RECORDS = ("streams", "lots", "runs", "products", "items", "recalls")
"""Fields of a shop that hold records by id."""
BY_NAME = ("documents", "set_aside")
"""Fields that hold something else by a name of the workshop's own."""
SEQUENCES = ("events", "issued", "printed")
OTHERS = ("workshop", "corrections", "photos", "sources", "files", "ancestors")


@dataclass(frozen=True, slots=True)
class Ancestor:
    """The records of a workshop that were taken over."""

    folder: str
    """Where they lie: "content/from/RY"."""
    shop: Shop

    @property
    def prefix(self) -> str:
        """The first part of its tag numbers."""
        return self.shop.workshop.prefix


def joined(own: Shop, ancestors: Iterable[Ancestor]) -> tuple[Shop, tuple[Problem, ...]]:
    """One shop of all records, and every name that two of them claim. The lists of tags end with our own lines."""
    problems: list[Problem] = []
    shop = own
    for ancestor in ancestors:
        problems += _clashes(shop, ancestor)
        shop = _with(shop, ancestor)
    return shop, tuple(problems)


def _with(own: Shop, ancestor: Ancestor) -> Shop:
    """Our records with theirs under their new names."""
    theirs, prefix = ancestor.shop, ancestor.prefix
    new = _Names(prefix, next(iter(theirs.workshop.scales), ""))
    changed: dict[str, Any] = {
        name: _ordered({**new.keys(new.records(getattr(theirs, name))), **getattr(own, name)}) for name in RECORDS
    }
    changed |= {name: {**new.keys(getattr(theirs, name)), **getattr(own, name)} for name in BY_NAME}
    issued = tuple(dataclasses.replace(entry, item=new.name(entry.item)) for entry in theirs.issued)
    events = (*own.events, *(new.record(event) for event in theirs.events))
    return dataclasses.replace(
        own,
        **changed,
        workshop=new.with_scales(own.workshop, theirs.workshop),
        events=tuple(sorted(events, key=lambda event: (event.date, event.file, event.number))),
        corrections={**own.corrections, **dict(new.corrections(theirs))},
        issued=(*issued, *own.issued),
        printed=(*theirs.printed, *own.printed),
        photos=own.photos | {new.name(photo) for photo in theirs.photos},
        sources={**own.sources, **theirs.sources},
        files={**own.files, **new.files(theirs)},
        ancestors={**own.ancestors, ancestor.folder: theirs.workshop, **theirs.ancestors},
    )


def _ordered(records: Mapping[str, V]) -> dict[str, V]:
    return dict(sorted(records.items()))


@dataclass(frozen=True, slots=True)
class _Names:
    """How what a workshop calls something is called in the joined shop."""

    prefix: str
    scale: str
    """The workshop's first scale, meant where a record names none."""

    def name(self, name: str) -> str:
        return f"{self.prefix}-{name}" if name else ""

    def keys(self, by_name: Mapping[str, V]) -> dict[str, V]:
        return {self.name(name): value for name, value in by_name.items()}

    def records(self, by_id: Mapping[str, R]) -> dict[str, R]:
        return {name: self.record(record) for name, record in by_id.items()}

    def files(self, theirs: Shop) -> dict[tuple[str, str], str]:
        return {(kind, self.name(name)): file for (kind, name), file in theirs.files.items() if kind != "workshop"}

    def corrections(self, theirs: Shop) -> Iterator[tuple[tuple[str, str], Any]]:
        """By kind and new name; an event is known by its file and place in it, which stay."""
        for (kind, name), made in theirs.corrections.items():
            yield (kind, name if kind == "event" else self.name(name)), tuple(map(self.record, made))

    def with_scales(self, own: Workshop, theirs: Workshop) -> Workshop:
        return _changed(own, {"scales": {**own.scales, **self.keys(theirs.scales)}}) if theirs.scales else own

    def record(self, record: R) -> R:
        """A record, or a piece of one, with every name in it that is the workshop's own changed."""
        changed: dict[str, Any] = {}
        kind: Any = type(record)
        for name in _fields(kind):
            value = getattr(record, name)
            if name == "id" or name in _named(kind) or (name == "scale" and value):
                changed[name] = self.name(value) if value else value
            elif name == "scale" and _weighs_by_itself(record):
                changed[name] = self.name(self.scale)
            elif dataclasses.is_dataclass(value) or isinstance(value, tuple):
                changed[name] = self._within(value)
        return _changed(record, {name: value for name, value in changed.items() if value is not getattr(record, name)})

    def _within(self, value: Any) -> Any:
        """A piece of a record, or several of them."""
        if isinstance(value, tuple):
            pieces = tuple(self._within(piece) for piece in value)
            return value if all(new is old for new, old in zip(pieces, value, strict=True)) else pieces
        return self.record(value) if dataclasses.is_dataclass(value) else value


def _weighs_by_itself(record: object) -> bool:
    """Whether the workshop's first scale is meant where this names none. A draw, or a result, takes its run's."""
    if isinstance(record, Lot):
        return not record.run
    return isinstance(record, Run | Item) or hasattr(record, "event")


def _changed(record: R, values: Mapping[str, Any]) -> R:
    """A copy with other values, none of them read again: they come out of a record that was read."""
    if not values:
        return record
    new = copy.copy(record)
    for name, value in values.items():
        object.__setattr__(new, name, value)
    return new


@cache
def _fields(cls: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(cls))


@cache
def _named(cls: type) -> frozenset[str]:
    """The fields that name a record or a file of the workshop, by their declaration."""
    hints = typing.get_type_hints(cls, include_extras=True)
    of_names = (name for name, hint in hints.items() if any(part in _NAMES for part in (hint, *typing.get_args(hint))))
    return frozenset(of_names)


_NAMES: tuple[Any, ...] = (IdField, FileField)


# --- clashes ------------------------------------------------------------------------------------------


def _clashes(own: Shop, ancestor: Ancestor) -> Iterator[Problem]:
    """Everything that would be there twice, each by name."""
    theirs, prefix = ancestor.shop, ancestor.prefix
    new = _Names(prefix, "")
    taken = {own.workshop.prefix, *(workshop.prefix for workshop in own.ancestors.values())}
    for met in sorted(taken & {prefix, *(workshop.prefix for workshop in theirs.ancestors.values())}):
        yield _clash(ancestor, f"tag numbers that begin with {met}-, as ours or those of another workshop do")
    tags = {entry.tag for entry in own.issued} & {entry.tag for entry in theirs.issued}
    for tag in sorted(tags):
        yield _clash(ancestor, f"the tag {tag}, which is issued already")
    for kind, name in sorted(new.files(theirs).keys() & own.files.keys()):
        yield _clash(ancestor, f"the {kind} {name}, which is {own.files[kind, name]} already")
    for what, names in (
        ("scale", new.keys(theirs.workshop.scales).keys() & own.workshop.scales.keys()),
        ("picture", {new.name(photo) for photo in theirs.photos} & own.photos),
        ("document", new.keys(theirs.documents).keys() & own.documents.keys()),
    ):
        for name in sorted(names):
            yield _clash(ancestor, f"the {what} {name}, a name that is there already")


def _clash(ancestor: Ancestor, met: str) -> Problem:
    hint = "rename ours: what was taken over stays as it was written"
    return Problem(code="taken-over-clash", message=f"met {met}", place=Place(ancestor.folder), hint=hint)
