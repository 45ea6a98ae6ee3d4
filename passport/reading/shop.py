"""The whole shop as one frozen value: every record, and the run behind every lot and item."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from passport.problems import NOWHERE, Place
from passport.reading.corrections import Correction
from passport.reading.marked import Source, Step
from passport.reading.records import (
    AnyEvent,
    Draw,
    Event,
    Item,
    Lot,
    LotEvent,
    Product,
    Recall,
    Run,
    Stream,
    TagEvent,
    Workshop,
)
from passport.reading.tag_lists import IssuedTag, PrintedLabel


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """All records of a workshop. Mappings are in order of id; events in order of date, file and line."""

    workshop: Workshop
    streams: Mapping[str, Stream] = field(default_factory=dict)
    lots: Mapping[str, Lot] = field(default_factory=dict)
    runs: Mapping[str, Run] = field(default_factory=dict)
    """Runs of the long form alone; `all_runs` adds those that lots and items carry themselves."""
    products: Mapping[str, Product] = field(default_factory=dict)
    items: Mapping[str, Item] = field(default_factory=dict)
    recalls: Mapping[str, Recall] = field(default_factory=dict)
    """Recalls and the records that end them."""
    events: tuple[AnyEvent, ...] = ()
    corrections: Mapping[tuple[str, str], tuple[Correction, ...]] = field(default_factory=dict)
    """What was set right in each record, in order, by kind and id; an event's id is its `event_id`."""
    issued: tuple[IssuedTag, ...] = ()
    printed: tuple[PrintedLabel, ...] = ()
    set_aside: Mapping[str, date] = field(default_factory=dict)
    """Numbers whose cards were printed before their goods came in, each with that day."""
    photos: frozenset[str] = frozenset()
    """Names of the files in `content/photos/`."""
    documents: Mapping[str, str] = field(default_factory=dict)
    """Text of the files in `content/documents/`, by name."""
    ancestors: Mapping[str, Workshop] = field(default_factory=dict)
    """Folder such as "content/from/RY" → the workshop whose records were taken over from there and are among these."""
    sources: Mapping[str, Source] = field(default_factory=dict)
    """The texts by file name, for the places of problems."""
    files: Mapping[tuple[str, str], str] = field(default_factory=dict)
    """File name by (kind, id), kinds being "stream", "lot", "run", "product", "item", "recall", "workshop"."""

    def place(self, kind: str, name: str, *path: Step, key: bool = False) -> Place:
        """Where a value of a record stands; NOWHERE for a shop that was built in code."""
        source = self.sources.get(self.files.get((kind, name), ""))
        return source.place(*path, key=key) if source else NOWHERE

    def kept_by(self, kind: str, name: str) -> Workshop:
        """The workshop that wrote a record: this one, or the one that it was taken over from."""
        file = self.files.get((kind, name), "")
        found = [folder for folder in self.ancestors if file.startswith(f"{folder}/")]
        return self.ancestors[max(found, key=len)] if found else self.workshop

    def is_own(self, file: str) -> bool:
        """Whether a file is the workshop's own, not one of records that were taken over and are never rewritten."""
        return not any(file.startswith(f"{folder}/") for folder in self.ancestors)

    def taken_over(self, name: str) -> bool:
        """Whether the lot, run or item called `name` was written by another workshop."""
        return bool(self.ancestors) and any(
            self.kept_by(kind, name) is not self.workshop for kind in ("lot", "run", "item")
        )

    def event_place(self, event: Event | Correction, *path: Step) -> Place:
        """Where an event, or a correction, stands."""
        source = self.sources.get(event.file)
        return source.place(event.number, *path) if source else NOWHERE

    def node_place(self, name: str, *path: Step, key: bool = False) -> Place:
        """Where a value of the lot, run or item called `name` stands."""
        for kind in ("lot", "run", "item"):
            if (kind, name) in self.files:
                return self.place(kind, name, *path, key=key)
        return NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One thing that a run yields: a lot or a batch of items."""

    kind: str
    """"lot" or "item"."""
    id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """A run with its results, whichever record it was written in (a run's file, a lot, an item batch)."""

    run: Run
    results: tuple[Result, ...]
    draw_paths: tuple[tuple[Step, ...], ...]
    """Where each draw stands in its record."""
    parts: tuple[str, ...] = ()
    """For items with parts: the part that each draw belongs to, draw by draw."""


def operations(shop: Shop) -> Mapping[str, Operation]:
    """Every run of the shop by id, in order of id, with its results.

    A lot or item that carries its own run lends it its id. Results of a run that has no record are left
    out; the check of references names them.
    """
    yielded: dict[str, list[Result]] = {}
    for lot in shop.lots.values():
        if lot.run or lot.operation:
            yielded.setdefault(lot.run or lot.id, []).append(Result(kind="lot", id=lot.id))
    for item in shop.items.values():
        yielded.setdefault(item.id, []).insert(0, Result(kind="item", id=item.id))
    runs = dict(_runs(shop))
    return {name: _operation(shop, runs[name], yielded.get(name, [])) for name in sorted(runs)}


def _runs(shop: Shop) -> Iterable[tuple[str, Run]]:
    yield from shop.runs.items()
    for lot in shop.lots.values():
        if lot.operation:
            yield lot.id, _run_of(lot, lot.draws)
    for item in shop.items.values():
        yield item.id, _run_of(item, tuple(draw for draw, _, _ in draws_of_item(item)))


_OF_A_RUN = ("losses", "gains", "returned_within", "melt", "machine", "scale", "because")
"""What a lot or an item that carries its own run says about it, beside draws, date and operation."""


def _run_of(record: Lot | Item, draws: tuple[Draw, ...]) -> Run:
    """The run that a record carries; fields left out stay left out."""
    said = {name: getattr(record, name) for name in _OF_A_RUN if getattr(record, name)}
    return Run(id=record.id, date=record.date, operation=record.operation, draws=draws, **said)


def draws_of_item(item: Item) -> tuple[tuple[Draw, tuple[Step, ...], str], ...]:
    """Each draw of an item batch with its path in the record and the part it belongs to."""
    whole = tuple((draw, ("draws", i), "") for i, draw in enumerate(item.draws))
    by_part = tuple(
        (draw, ("parts", p, "draws", i), part.part)
        for p, part in enumerate(item.parts)
        for i, draw in enumerate(part.draws)
    )
    return whole + by_part


def _operation(shop: Shop, run: Run, results: list[Result]) -> Operation:
    item = shop.items.get(run.id)
    if item is None:
        paths = tuple(("draws", i) for i in range(len(run.draws)))
        return Operation(run=run, results=tuple(results), draw_paths=paths)
    drawn = draws_of_item(item)
    return Operation(
        run=run,
        results=tuple(results),
        draw_paths=tuple(path for _, path, _ in drawn),
        parts=tuple(part for _, _, part in drawn),
    )


def tag_events(shop: Shop) -> Mapping[str, tuple[TagEvent, ...]]:
    """The events of each tag, in order of date."""
    by_tag: dict[str, list[TagEvent]] = {}
    for event in shop.events:
        if isinstance(event, TagEvent):
            by_tag.setdefault(event.tag, []).append(event)
    return {tag: tuple(events) for tag, events in by_tag.items()}


def lot_events(shop: Shop) -> Mapping[str, tuple[LotEvent, ...]]:
    """The events of each lot, in order of date."""
    by_lot: dict[str, list[LotEvent]] = {}
    for event in shop.events:
        if isinstance(event, LotEvent):
            by_lot.setdefault(event.lot, []).append(event)
    return {lot: tuple(events) for lot, events in by_lot.items()}


def event_id(file: str, number: int) -> str:
    """What an event is known by, which has no id of its own: its file and its place in the list."""
    return f"{file}#{number}"


def latest_date(shop: Shop) -> date | None:
    """The latest date in the records: the "today" of every page, so that the same records give the same pages."""
    dates = [lot.date for lot in shop.lots.values()] + [run.date for run in shop.runs.values()]
    dates += [item.date for item in shop.items.values()] + [event.date for event in shop.events]
    dates += [recall.date for recall in shop.recalls.values()]
    dates += [correction.date for made in shop.corrections.values() for correction in made]
    return max(dates, default=None)
