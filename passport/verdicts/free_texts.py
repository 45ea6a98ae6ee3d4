"""Every text that people wrote into records and that may reach a page, with the way to its place.

What a record says in free words is found by the kind of its fields (`WordsField`, `LineField`, and the names of
losses), so a new field of these kinds is checked without a change here.
"""

from __future__ import annotations

import dataclasses
import re
import types
import typing
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from passport.problems import Place
from passport.reading.corrections import Correction
from passport.reading.fields import LineField, Words, WordsField
from passport.reading.marked import Step
from passport.reading.records import Event, Masses
from passport.reading.shop import Shop

CODES = frozenset(
    {
        "address", "contact", "where", "sorted_as", "operation", "scale", "liquid", "reads", "says", "looks",
        "letters", "number", "part", "material", "leads_to",
    }
)  # fmt: skip
"""Lines that name a thing of the trade or of the web and make no sentence; and the public contact, which is meant."""


WAS = "was"
"""Where a correction tells the old value."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeText:
    """One text in one language."""

    kind: str
    """workshop, stream, product, lot, run, item, recall or event."""
    id: str
    """The record's id; of an event, the lot or tag that it happened to."""
    path: tuple[Step, ...]
    """Where in its record it stands."""
    lang: str
    """The language that it says it is in, else the workshop's first."""
    text: str
    event: Event | Correction | None = None
    """The entry of a list that it stands in, where it stands in one."""


def free_texts(shop: Shop) -> Iterator[FreeText]:
    """All of them, in the order of kinds and ids."""
    first = shop.workshop.languages[0]
    for kind, record_id, record in _records(shop):
        event = record if isinstance(record, Event) else None
        for path, lang, text in _inside(record, ()):
            yield FreeText(kind=kind, id=record_id, path=path, lang=lang or first, text=text, event=event)
    for made in shop.corrections.values():
        for correction in made:
            for path, lang, text in _of_correction(correction):
                text_of = FreeText(kind=correction.kind, id=correction.name, path=path, lang=lang or first, text=text)
                yield dataclasses.replace(text_of, event=correction)


def _of_correction(correction: Correction) -> Iterator[Said]:
    """Its reason, and the old value, which stays public beside the new one; that one is in the record."""
    yield from _words(correction.because, ("because",))
    was = correction.was if isinstance(correction.was, Mapping) else {"": correction.was}
    for name, text in was.items():
        if isinstance(text, str):
            yield (WAS, name) if name else (WAS,), name, text


def _records(shop: Shop) -> Iterator[tuple[str, str, Any]]:
    yield "workshop", "", shop.workshop
    by_kind: tuple[tuple[str, Mapping[str, Any]], ...] = (
        ("stream", shop.streams),
        ("product", shop.products),
        ("lot", shop.lots),
        ("run", shop.runs),
        ("item", shop.items),
        ("recall", shop.recalls),
    )
    for kind, records in by_kind:
        for name, record in records.items():
            yield kind, name, record
    for event in shop.events:
        yield "event", str(getattr(event, "tag", "") or getattr(event, "lot", "")), event


Said = tuple[tuple[Step, ...], str, str]
"""Path, language ("" where none is said), text."""
Reader = Callable[[Any, tuple[Step, ...]], Iterator[Said]]


def _inside(record: Any, path: tuple[Step, ...]) -> Iterator[Said]:
    kind: Any = type(record)
    for name, read in _plan(kind):
        value = getattr(record, name)
        if value:
            yield from read(value, (*path, name))


@cache
def _plan(cls: Any) -> tuple[tuple[str, Reader], ...]:
    """The fields of a record class that hold text, each with its reader."""
    hints = typing.get_type_hints(cls, include_extras=True)
    readers = ((name, _reader(hint)) for name, hint in hints.items() if name not in CODES)
    return tuple((name, read) for name, read in readers if read is not None)


def _reader(hint: Any) -> Reader | None:
    plain = next((read for alias, read in _PLAIN if hint == alias), None)
    if plain is not None:
        return plain
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        return _inside if _plan(hint) else None
    if hasattr(hint, "__metadata__"):
        return _reader(hint.__origin__)
    origin = typing.get_origin(hint)
    inner = next((read for part in typing.get_args(hint) if (read := _reader(part)) is not None), None)
    if inner is not None and origin in _MANY:
        return _MANY[origin](inner)
    return inner if origin in (typing.Union, types.UnionType) else None


def _words(value: Words, path: tuple[Step, ...]) -> Iterator[Said]:
    for lang, text in value.texts:
        yield ((*path, lang) if lang else path), lang, text


def _line(value: str, path: tuple[Step, ...]) -> Iterator[Said]:
    yield path, "", value


def _names(value: Mapping[str, Any], path: tuple[Step, ...]) -> Iterator[Said]:
    for name in value:
        yield (*path, name), "", name


_PLAIN: tuple[tuple[Any, Reader], ...] = ((WordsField, _words), (LineField, _line), (Masses, _names))


def _valued(read: Reader) -> Reader:
    def all_of(values: Any, path: tuple[Step, ...]) -> Iterator[Said]:
        for name, value in values.items():
            yield from read(value, (*path, name))

    return all_of


def _each(read: Reader) -> Reader:
    def all_of(values: Any, path: tuple[Step, ...]) -> Iterator[Said]:
        for number, value in enumerate(values):
            yield from read(value, (*path, number))

    return all_of


_MANY: Mapping[Any, Callable[[Reader], Reader]] = {tuple: _each, Mapping: _valued}


def place_of(shop: Shop, said: FreeText, words: str = "") -> Place:
    """Where a text stands in its file; with `words`, where those begin. Texts of code-built shops stand nowhere."""
    if said.event is not None:
        start = shop.event_place(said.event, *said.path)
    else:
        start = shop.place(said.kind, said.id, *said.path)
    source = shop.sources.get(start.file)
    if source is None or not words.strip():
        return start
    lines = source.text.split("\n")
    before = sum(len(line) + 1 for line in lines[: start.line - 1]) + start.column - 1
    found = re.compile(r"\s+".join(map(re.escape, words.split()))).search(source.text, before)
    if found is None:
        return start
    line = source.text.count("\n", 0, found.start()) + 1
    return source.place_of(line, found.start() - source.text.rfind("\n", 0, found.start()))
