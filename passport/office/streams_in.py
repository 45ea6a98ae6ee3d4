"""Streams that a table of lots names and that are not there yet: which ones they are, or set up with the lots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from passport.office.asking import Question, answer, at_a_terminal
from passport.office.saving import stream_file
from passport.office.streams_anew import ORIGINS, READY_MADE, names_of, ready_made
from passport.problems import did_you_mean
from passport.reading.sheets import SheetRecord
from passport.reading.shop import Shop
from passport.writing import Change

NEW = "new"
FIELD = "received.stream"


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A stream that lots name and that has no record."""

    name: str
    """As its file would be called."""
    text: str
    """As the table writes it, where it first does."""
    rows: int


def missing_streams(shop: Shop, columns: Mapping[int, str], records: Sequence[SheetRecord]) -> tuple[Missing, ...]:
    """The streams of a table of lots that are not there, in the order in which they come."""
    column = next((number for number, name in columns.items() if name == FIELD), 0)
    texts: dict[str, str] = {}
    rows: Counter[str] = Counter()
    for record in records:
        name = _stream_of(record)
        if name and name.upper() not in shop.streams:
            texts.setdefault(name.lower(), record.entry.cells.get(column, name))
            rows[name.lower()] += 1
    return tuple(Missing(name=name, text=text, rows=rows[name]) for name, text in texts.items())


def _stream_of(record: SheetRecord) -> str:
    received = record.fields.get("received")
    found = received.get("stream", "") if isinstance(received, Mapping) else ""
    return found if isinstance(found, str) else ""


def asked_which(shop: Shop, missing: Sequence[Missing]) -> tuple[dict[str, str], dict[str, str]]:
    """What a person says of each: the table's words → streams that are there; names of new ones → their origins."""
    words: dict[str, str] = {}
    origins: dict[str, str] = {}
    known = tuple(names_of(shop).values())
    for stream in [one for one in missing if one.name not in READY_MADE] if at_a_terminal() else ():
        near = did_you_mean(stream.name, known).partition('"')[2].partition('"')[0]
        rows = f"{stream.rows} row{'s' if stream.rows > 1 else ''}"
        question = Question(
            name="word",
            asks=f'Which stream is "{stream.text}" ({rows})',
            why="one that is there, or `new` for a stream of that name",
            proposal=near or NEW,
            known=(*known, NEW),
        )
        meant = answer(question, None)
        if meant == NEW:
            origins[stream.name] = _origin_of(stream)
        else:
            words[stream.text] = meant
    return words, origins


def _origin_of(stream: Missing) -> str:
    question = Question(
        name="new-streams",
        asks=f"  Was {stream.text} {', '.join(list(ORIGINS)[:-1])} or unknown",
        why="used: somebody had it; left over: in making something; new: bought; unknown never counts as recycled",
        proposal="unknown",
        known=tuple(ORIGINS),
    )
    return ORIGINS[answer(question, None)]


def set_up(folder: Path, shop: Shop, missing: Sequence[Missing], origins: Mapping[str, str]) -> Iterator[Change]:
    """The records of those streams that have an origin in `origins`, by name."""
    for stream in missing:
        if stream.name in READY_MADE:
            yield from ready_made(folder, shop, stream.name).changes
        elif stream.name in origins:
            yield stream_file(folder, stream.name, {"title": stream.text, "origin": origins[stream.name]})
