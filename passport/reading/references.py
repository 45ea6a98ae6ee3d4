"""Whether what records name exists: streams, lots, runs, products, tags, scales, pictures."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from functools import partial
from pathlib import PurePosixPath

from passport.problems import Level, Place, Problem, did_you_mean
from passport.reading.marked import Step
from passport.reading.records import (
    AnyEvent,
    Draw,
    Item,
    Lot,
    LotEvent,
    Recall,
    Repaired,
    Replaced,
    Reweighed,
    Run,
    Sent,
    TagEvent,
    WrittenOff,
)
from passport.reading.shop import Shop
from passport.reading.tag_lists import own_lines
from passport.reading.tag_numbers import nearest, read_tag_number

Path = tuple[Step, ...]
Where = Callable[[], Place]
"""A place is worked out only for a problem: it takes another look at the text."""


def dangling(shop: Shop, *, workshop_read: bool = True) -> Iterator[Problem]:
    """Every reference that leads nowhere, with its place and the nearest name there is.

    A record that exists but could not be read counts as there: its own problem is enough to mend.
    workshop_read: False where the workshop's record has a problem, so that neither scales nor tag numbers
    can be judged.
    """
    known = _Known(shop, workshop_read=workshop_read)
    for lot in shop.lots.values():
        yield from _of_lot(known, lot)
    for run in shop.runs.values():
        yield from _of_draws(known, "run", run.id, [(draw, ("draws", i)) for i, draw in enumerate(run.draws)])
        yield from known.check_scale("run", run.id, run.scale, ("scale",))
        yield from known.check_photo("run", run.id, run.photo, ("photo",))
        yield from _yields_something(known, run)
        if not run.draws:
            yield _draws_nothing(run.operation, shop.place("run", run.id, "draws"), run.id)
    for item in shop.items.values():
        yield from _of_item(known, item)
    for product in shop.products.values():
        yield from known.check_photo("product", product.id, product.picture, ("picture",))
    for event in shop.events:
        yield from _of_event(known, event)
    for recall in shop.recalls.values():
        yield from _of_recall(known, recall)
    yield from _of_tag_list(known)
    yield from _language_names(shop)


def _language_names(shop: Shop) -> Iterator[Problem]:
    """An id that is a language's code would take the address of the list in that language (`/L/FR/`)."""
    codes = {language.upper() for language in shop.workshop.languages}
    for (_, name), file in shop.files.items():
        if name in codes:
            message = f'met the id "{name}", which stands for a language in addresses'
            yield Problem(
                code="bad-id", message=message, place=Place(file), hint="rename the file, such as " + name + "-1"
            )


class _Known:
    """The names there are, and the one wording for a name there is not."""

    def __init__(self, shop: Shop, *, workshop_read: bool) -> None:
        self.shop = shop
        self.workshop_read = workshop_read
        self.names = {
            kind: {name for k, name in shop.files if k == kind}
            for kind in ("stream", "lot", "run", "product", "item", "recall")
        }
        for kind, records in (
            ("stream", shop.streams),
            ("lot", shop.lots),
            ("run", shop.runs),
            ("product", shop.products),
            ("item", shop.items),
            ("recall", shop.recalls),
        ):
            self.names[kind] |= set(records)
        self.tags = {entry.tag for entry in shop.issued}
        self.results = {lot.run for lot in shop.lots.values()} | {lot.id for lot in shop.lots.values() if lot.operation}

    def check(self, kind: str, name: str, where: Where) -> Iterator[Problem]:
        if name and name not in self.names[kind]:
            stem = name.lower() if kind in _LOWER_CASE else name
            near = did_you_mean(name, (self.as_written(kind, known) for known in sorted(self.names[kind])))
            hint = near or f"its record would be content/{kind}s/{stem}.yaml"
            message = f'met the {kind} "{name}", which has no record'
            yield Problem(code=f"unknown-{kind}", message=message, place=where(), hint=hint)

    def as_written(self, kind: str, name: str) -> str:
        """A record's id as its file writes it: people look for `harbour-crates`, not for HARBOUR-CRATES."""
        file = self.shop.files.get((kind, name), "")
        return PurePosixPath(file).stem or name

    def check_tag(self, tag: str, where: Where) -> Iterator[Problem]:
        if not tag or tag in self.tags or not self.workshop_read:
            return
        number = read_tag_number(tag, self.shop.workshop.prefix)
        if isinstance(number, Problem):
            hint = _nearest_hint(tag, self.tags) or number.hint
            yield Problem(code=number.code, message=number.message, place=where(), hint=hint)
        else:
            hint = _nearest_hint(tag, self.tags) or "issue numbers with: passport tag ITEM"
            message = f'met the tag "{tag}", which was never issued'
            yield Problem(code="unknown-tag", message=message, place=where(), hint=hint)

    def check_scale(self, kind: str, owner: str, scale: str, path: Path) -> Iterator[Problem]:
        yield from self.check_scale_at(scale, partial(self.shop.place, kind, owner, *path))

    def check_scale_at(self, scale: str, where: Where) -> Iterator[Problem]:
        scales = self.shop.workshop.scales
        if scale and scale not in scales and self.workshop_read:
            message = f'met the scale "{scale}", which the workshop\'s record does not have'
            hint = did_you_mean(scale, scales) or f"its `scales:` are {', '.join(scales) or 'not given'}"
            yield Problem(code="unknown-scale", message=message, place=where(), hint=hint)

    def check_photo(self, kind: str, owner: str, photo: str | None, path: Path) -> Iterator[Problem]:
        if photo and photo not in self.shop.photos:
            place = self.shop.place(kind, owner, *path)
            hint = did_you_mean(photo, sorted(self.shop.photos)) or "put the file there"
            message = f'met the picture "{photo}", which is not in content/photos/'
            yield Problem(code="unknown-picture", message=message, place=place, hint=hint)


_LOWER_CASE = ("stream", "product")
"""Kinds whose files are named in small letters by custom."""


def _nearest_hint(tag: str, tags: Collection[str]) -> str:
    near = nearest(tag, sorted(tags))
    return f"the nearest issued: {', '.join(near)}" if near else ""


def _of_lot(known: _Known, lot: Lot) -> Iterator[Problem]:
    place = known.shop.place
    if lot.run not in known.names["item"]:
        yield from known.check("run", lot.run, partial(place, "lot", lot.id, "run"))
    if lot.received:
        yield from known.check("stream", lot.received.stream, partial(place, "lot", lot.id, "received", "stream"))
        for i, back in enumerate(lot.received.tags):
            yield from known.check_tag(back.tag, partial(place, "lot", lot.id, "received", "tags", i, "tag"))
    yield from _of_draws(known, "lot", lot.id, [(draw, ("draws", i)) for i, draw in enumerate(lot.draws)])
    if lot.operation and not lot.draws:
        yield _draws_nothing(lot.operation, place("lot", lot.id, "operation"), lot.id)
    yield from known.check_scale("lot", lot.id, lot.scale, ("scale",))
    yield from known.check_photo("lot", lot.id, lot.photo, ("photo",))


def _of_item(known: _Known, item: Item) -> Iterator[Problem]:
    yield from known.check("product", item.product, partial(known.shop.place, "item", item.id, "product"))
    whole = [(draw, ("draws", i)) for i, draw in enumerate(item.draws)]
    by_part = [
        (draw, ("parts", p, "draws", i)) for p, part in enumerate(item.parts) for i, draw in enumerate(part.draws)
    ]
    yield from _of_draws(known, "item", item.id, [*whole, *by_part])
    yield from known.check_scale("item", item.id, item.scale, ("scale",))
    yield from known.check_photo("item", item.id, item.photo, ("photo",))


def _of_draws(known: _Known, kind: str, owner: str, draws: list[tuple[Draw, Path]]) -> Iterator[Problem]:
    for draw, path in draws:
        place = known.shop.place
        yield from known.check("lot", draw.lot, partial(place, kind, owner, *path, "lot"))
        yield from known.check_tag(draw.tag, partial(place, kind, owner, *path, "tag"))
        yield from known.check_scale(kind, owner, draw.scale, (*path, "scale"))


def _draws_nothing(operation: str, place: Place, about: str) -> Problem:
    message = f'met the operation "{operation}" without draws, wanted at least one'
    hint = "add `draws: [{lot: IN-031, mass: 62.4 kg}]`; what came in from outside has `received:` and no operation"
    return Problem(code="no-draws", message=message, place=place, hint=hint, about=about)


def _yields_something(known: _Known, run: Run) -> Iterator[Problem]:
    if run.id not in known.results and not any(lot not in known.shop.lots for lot in known.names["lot"]):
        message = f'met the run "{run.id}" without a result, wanted a lot that says `run: {run.id}`'
        hint = "even rejects are a lot; a run that only loses material is a written-off event"
        yield Problem(code="no-result", message=message, place=known.shop.place("run", run.id), hint=hint, about=run.id)


def _of_event(known: _Known, event: AnyEvent) -> Iterator[Problem]:
    where = known.shop.event_place
    if isinstance(event, TagEvent):
        yield from known.check_tag(event.tag, partial(where, event, "tag"))
    if isinstance(event, LotEvent):
        yield from known.check("lot", event.lot, partial(where, event, "lot"))
    if isinstance(event, Repaired):
        yield from known.check("run", event.run, partial(where, event, "run"))
    if isinstance(event, Replaced):
        yield from known.check_tag(event.by, partial(where, event, "by"))
    if isinstance(event, Reweighed | Sent | WrittenOff):
        yield from known.check_scale_at(event.scale, partial(where, event, "scale"))


def _of_recall(known: _Known, recall: Recall) -> Iterator[Problem]:
    """What it calls back must be there; an end must end a recall that began, once."""
    shop = known.shop
    for kind, name, field in (("lot", recall.lot, "lot"), ("stream", recall.stream, "stream")):
        yield from known.check(kind, name, partial(shop.place, "recall", recall.id, field))
    place = shop.place("recall", recall.id, "clears")
    yield from known.check("recall", recall.clears, lambda: place)
    ended = shop.recalls.get(recall.clears)
    if ended is None:
        return
    if ended.clears:
        message = f'met the end of "{ended.id}", which is itself the end of {ended.clears}'
        hint = f"a thing called back anew gets a new recall; to end that one, name {ended.clears}"
        yield Problem(code="recall-end", message=message, place=place, hint=hint, about=recall.id)
    elif recall.date < ended.date:
        message = f"met {ended.id} ended on {recall.date}, wanted an end after it began ({ended.date})"
        yield Problem(
            code="recall-end", message=message, place=place, hint="one of the dates is wrong", about=recall.id
        )


def _of_prefix(known: _Known) -> Iterator[Problem]:
    """A prefix that was changed after numbers were issued: both hold, which is worth knowing before it goes on."""
    prefix = known.shop.workshop.prefix
    ours = [entry.tag.partition("-")[0] for entry in own_lines(known.shop.issued)]
    others = sorted({*ours} - {prefix})
    if others and known.workshop_read:
        number = sum(began != prefix for began in ours)
        met = f"{number} {'tag' if number == 1 else 'tags'} issued with {' and '.join(others)}"
        yield Problem(
            code="prefix-changed",
            message=f'met the prefix "{prefix}" after {met}',
            place=known.shop.place("workshop", "", "prefix"),
            hint="their numbers hold for ever, and new ones begin anew with this prefix; if it is a slip, put it back",
            level=Level.ADVICE,
        )


def _of_tag_list(known: _Known) -> Iterator[Problem]:
    """An issued number whose item is gone would have no page: numbers are for ever."""
    yield from _of_prefix(known)
    for entry in known.shop.issued:
        if entry.item not in known.names["item"]:
            message = f'met the item "{entry.item}" of the issued tag {entry.tag}, which has no record'
            hint = "put the item's record back; what no longer exists gets a `withdrawn` or `destroyed` event instead"
            yield Problem(code="orphan-tag", message=message, place=entry.place, hint=hint, about=entry.tag)
            continue
        item = known.shop.items.get(entry.item)
        if item and entry.piece > item.count.pieces:
            message = f"met piece {entry.piece} of {entry.item}, which has {item.count.pieces}"
            hint = f"set `count:` of {entry.item} right; a tag too many gets a `withdrawn` event"
            yield Problem(code="piece-beyond-count", message=message, place=entry.place, hint=hint, about=entry.tag)
    yield from _of_printed_list(known)


def _of_printed_list(known: _Known) -> Iterator[Problem]:
    """A label of a number that the list of issued ones lacks: lines cut off its end would be issued again."""
    lost = {label.tag: label.place for label in reversed(known.shop.printed) if label.tag not in known.tags}
    hint = "lines are missing at the end of tags-issued.csv: take the file back from version control or a backup"
    for tag, place in lost.items():
        message = f"a label of {tag} was printed, and tags-issued.csv does not have that number"
        yield Problem(code="printed-not-issued", message=message, place=place, hint=hint, about=tag)
