"""What was set right in the records that a page shows: the old value, what holds, the day and the reason."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from passport.amounts import NotAQuantity, read_mass, read_melt_flow, read_share, read_temperature_c
from passport.pages.pieces import CorrectedLine, Link
from passport.pages.scribe import Scribe
from passport.reading.corrections import Correction, in_turn, steps
from passport.reading.fields import NOT_WEIGHED, read_date
from passport.reading.records import Event, Item, Lot, LotEvent, TagEvent
from passport.reading.shop import event_id
from passport.reading.yaml_text import flow_text
from passport.verdicts.life import Life

ANCHOR = "corrected"
OF_MASS = frozenset({"mass", "gross", "tare"})
LATEST = 12
"""Of the log; the table of data has all."""
Named = tuple[str, str]
_LANGUAGE = re.compile(r"[a-z]{2}")
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_QUANTITIES = (read_mass, read_share, read_temperature_c, read_melt_flow)


def of_lot(scribe: Scribe, lot: Lot) -> tuple[CorrectedLine, ...]:
    """Corrections of a lot, of the run that it is a result of, and of what happened to it."""
    happened = scribe.book.ledger.events_of_lot.get(lot.id, ())
    records = [("lot", lot.id), *([("run", lot.run)] if lot.run else []), *map(_named, happened)]
    return _lines(scribe, records, lot.id)


def of_thing(scribe: Scribe, item: Item, life: Life) -> tuple[CorrectedLine, ...]:
    """Corrections of a thing's batch and product, and of what happened to it."""
    records = [("item", item.id), ("product", item.product), *map(_named, life.events)]
    return _lines(scribe, records, item.id)


def of_product(scribe: Scribe, product: str, batches: Iterable[str]) -> tuple[CorrectedLine, ...]:
    """Corrections of a product and of its batches."""
    return _lines(scribe, [("product", product), *(("item", name) for name in batches)], product)


def of_stream(scribe: Scribe, stream: str) -> tuple[CorrectedLine, ...]:
    """Corrections of a stream."""
    return _lines(scribe, [("stream", stream)], stream)


def latest(scribe: Scribe) -> tuple[CorrectedLine, ...]:
    """The newest corrections of the whole workshop, the newest first."""
    return _lines(scribe, scribe.book.shop.corrections, "", linked=True)[::-1][:LATEST]


def link_of(scribe: Scribe, kind: str, name: str) -> Link:
    """The page that shows a corrected record; plain text where there is none."""
    shop, ledger = scribe.book.shop, scribe.book.ledger
    if kind == "event":
        return _link_of_event(scribe, name)
    if kind == "run":
        results = ledger.operations[name].results if name in ledger.operations else ()
        lots = [result.id for result in results if result.kind == "lot"]
        return Link(text=name, href=scribe.lot(lots[0]).href if lots else "")
    if kind == "item":
        return Link(text=name, href=scribe.product(shop.items[name].product).href if name in shop.items else "")
    page = {"lot": scribe.lot, "stream": scribe.stream, "product": scribe.product}[kind](name)
    return Link(text=name, href=page.href)


def _link_of_event(scribe: Scribe, name: str) -> Link:
    for event in scribe.book.shop.events:
        if event_id(event.file, event.number) == name:
            if isinstance(event, TagEvent):
                return scribe.tag(event.tag)
            return scribe.lot(event.lot) if isinstance(event, LotEvent) else Link(text="")
    return Link(text="")


def _named(event: Event) -> Named:
    return "event", event_id(event.file, event.number)


def _lines(scribe: Scribe, records: Iterable[Named], own: str, *, linked: bool = False) -> tuple[CorrectedLine, ...]:
    """In order of day. own: the record whose name the page bears, so that it need not stand before each line."""
    made = scribe.book.shop.corrections
    names = {id(c): named for named in dict.fromkeys(records) for c in made.get(named, ())}
    found = {id(c): c for named in dict.fromkeys(records) for c in made.get(named, ())}
    return tuple(_line(scribe, c, names[id(c)], own, linked=linked) for c in in_turn(found.values()))


def _line(scribe: Scribe, correction: Correction, named: Named, own: str, *, linked: bool) -> CorrectedLine:
    return CorrectedLine(
        date=correction.date.isoformat(),
        day=scribe.day(correction.date),
        about=_about(scribe, named, own, linked=linked),
        text=what_changed(scribe, correction),
        because=scribe.said(correction.because),
    )


def _about(scribe: Scribe, named: Named, own: str, *, linked: bool) -> Link:
    """Which record it is; nothing on its own page, where what happened to the thing or lot is its own too."""
    link = link_of(scribe, *named)
    if linked:
        return Link(text=link.text, href=f"{link.href}#{ANCHOR}" if link.href else "")
    return Link(text="" if own == named[1] or named[0] == "event" else named[1])


def what_changed(scribe: Scribe, correction: Correction) -> str:
    """The old value and what holds, in a sentence of the page's language."""
    field = field_name(scribe, correction)
    was, now = value_words(scribe, correction.was), value_words(scribe, correction.is_)
    if correction.was is None:
        return scribe.words("tell.corrected_added", field=field, now=now)
    if correction.is_ is None:
        return scribe.words("tell.corrected_gone", field=field, was=was)
    if correction.was == NOT_WEIGHED.value:
        return scribe.words("tell.corrected_weighed", field=field, now=now)
    return scribe.words("tell.corrected", field=field, was=was, now=now)


def field_name(scribe: Scribe, correction: Correction) -> str:
    """A field in words: `draws.0.mass` is "mass (draw 1)"; of an event also its day."""
    *above, last = steps(correction.field)
    where = list(_counted(scribe, above))
    if correction.kind == "event":
        where.append(_day_of(scribe, correction.name))
    name = _field(scribe, str(last))
    return f"{name} ({scribe.words('form.comma').join(where)})" if where else name


def _counted(scribe: Scribe, path: Iterable[str | int]) -> Iterator[str]:
    """`draws.0` as "draw 1": people count from one."""
    name = ""
    for step in path:
        if isinstance(step, int):
            yield f"{name} {step + 1}"
            name = ""
        else:
            if name:
                yield name
            name = _field(scribe, step)
    if name:
        yield name


def _field(scribe: Scribe, name: str) -> str:
    key = f"tell.field.{name}"
    return scribe.words(key) if scribe.words.has(key) else name.replace("_", " ")


def _day_of(scribe: Scribe, event: str) -> str:
    try:
        return scribe.day(read_date(event.split(" ", maxsplit=1)[0]))
    except NotAQuantity:
        return event


def value_words(scribe: Scribe, value: object) -> str:
    """A value as the page says it: in its language where the record says it in several, with its decimal sign."""
    if isinstance(value, dict) and value and all(_LANGUAGE.fullmatch(str(name)) for name in value):
        return str(value.get(scribe.lang) or value.get(scribe.first) or next(iter(value.values())))
    if value == NOT_WEIGHED.value:
        return scribe.words("tell.corrected_not_weighed")
    if not isinstance(value, str):
        return flow_text(value) if isinstance(value, dict | list) else ""
    try:
        return scribe.day(read_date(value))
    except NotAQuantity:
        return _POINT.sub(scribe.words("form.decimal"), value) if _is_quantity(value) else scribe.term(value)


def _is_quantity(text: str) -> bool:
    for read in _QUANTITIES:
        try:
            read(text)
        except NotAQuantity:
            continue
        return True
    return False


def note_on_mass(scribe: Scribe, kind: str, name: str) -> str:
    """A word beside a mass that was set right, "" where it was not."""
    made = scribe.book.shop.corrections.get((kind, name), ())
    wrong = [c for c in made if c.was is not None and c.was != NOT_WEIGHED.value and OF_MASS & {c.field}]
    return scribe.words("tell.corrected_note", day=scribe.day(wrong[-1].date)) if wrong else ""
