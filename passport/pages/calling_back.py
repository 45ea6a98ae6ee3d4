"""Recalls on pages: the notice that stands first, the lines in a life, the page that lists them all."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice

from passport.pages.pieces import EventLine, Link, Notice, Table
from passport.pages.scribe import Scribe
from passport.pages.views import RecallPart, RecallsView
from passport.reading.records import HandedOver, PutUp, Recall, TagEvent
from passport.verdicts.recalls import CalledBack, ReachedThing

PAGE = "/recalls/"
SHARE_PLACES = 1
MOST_SHOWN = 400
"""Things and lots of one recall on its page; the data file has them all."""


def notices(scribe: Scribe, name: str) -> Iterator[Notice]:
    """What must be read first about a tag or a lot: every open recall that reaches it."""
    for called in scribe.book.called_back.get(name, ()):
        if called.open:
            yield notice(scribe, called, name)


def notice(scribe: Scribe, called: CalledBack, name: str) -> Notice:
    """One recall as the page of a tag or lot says it; of the log where `name` is empty."""
    reason, words = scribe.said(called.recall.reason), scribe.words
    return Notice(
        title=words("tell.recalled.title"),
        text=reason.text,
        lang=reason.lang,
        more=" ".join(_what_to_do(scribe, called, name)),
        date=scribe.day(called.recall.date),
        link=Link(text=words("tell.recalled.link", recall=called.recall.id), href=_address(scribe, called)),
    )


def _what_to_do(scribe: Scribe, called: CalledBack, name: str) -> Iterator[str]:
    words = scribe.words
    if name in called.lots:
        yield words("tell.recalled.in_lot", share=_share(scribe, called.lots[name]))
        return
    thing = next((thing for thing in called.things if thing.life.tag == name), None)
    if thing is not None:
        share = _share(scribe, thing.share)
        if called.recall.lot:
            yield words("tell.recalled.of_lot", share=share, lot=called.recall.lot)
        else:
            yield words("tell.recalled.of_stream", share=share, stream=scribe.stream(called.recall.stream).text)
    owners = scribe.said(called.recall.owners)
    yield owners.text or words("tell.recalled.owners", name=scribe.name)


def life_lines(scribe: Scribe, name: str) -> Iterator[EventLine]:
    """What recalls did to a tag or lot: when it was called back, and when that ended."""
    for called in scribe.book.called_back.get(name, ()):
        yield _line(scribe, called.recall, "began", called)
        if called.ended is not None:
            yield _line(scribe, called.ended, "ended", called)


def _line(scribe: Scribe, recall: Recall, key: str, called: CalledBack) -> EventLine:
    reason = scribe.said(recall.reason)
    return EventLine(
        date=recall.date.isoformat(),
        day=scribe.day(recall.date),
        text=scribe.words(f"tell.recalled.{key}", recall=called.recall.id),
        note=reason.text,
        href=_address(scribe, called),
    )


def recalls_view(scribe: Scribe) -> RecallsView:
    """The page of all recalls, those still open first, then the latest."""
    words = scribe.words
    ordered = sorted(scribe.book.recalls.values(), key=lambda c: (c.open, c.recall.date, c.recall.id), reverse=True)
    return RecallsView(
        frame=scribe.frame(PAGE, words("recalls.title"), words("tell.recalled.about", name=scribe.name)),
        intro=words("tell.recalled.intro" if ordered else "tell.recalled.none"),
        parts=tuple(_part(scribe, called) for called in ordered),
    )


def _part(scribe: Scribe, called: CalledBack) -> RecallPart:
    words, recall = scribe.words, called.recall
    ended = called.ended
    return RecallPart(
        anchor=_anchor(called),
        title=f"{recall.id}: {_what(scribe, recall).text}",
        state=words("tell.recalled.ended_on", day=scribe.day(ended.date)) if ended else words("tell.recalled.open"),
        open=called.open,
        day=scribe.day(recall.date),
        reason=scribe.said(recall.reason),
        paper=words("tell.recalled.paper", document=recall.because_of) if recall.because_of else "",
        ended_because=scribe.said(ended.reason) if ended else None,
        lots=tuple(scribe.lot(name, _share(scribe, share)) for name, share in islice(called.lots.items(), MOST_SHOWN)),
        things=_things(scribe, called),
    )


def _share(scribe: Scribe, share: Fraction) -> str:
    """A share in percent; one too small for its figures is never printed as none."""
    words, least = scribe.words, Fraction(1, 100 * 10**SHARE_PLACES)
    if share < least:
        return words("tell.recalled.less", n=words.percent(least, SHARE_PLACES))
    return words.percent(share, SHARE_PLACES)


def _anchor(called: CalledBack) -> str:
    return called.recall.id


def _address(scribe: Scribe, called: CalledBack) -> str:
    return scribe.at(f"{PAGE}#{_anchor(called)}")


def _what(scribe: Scribe, recall: Recall) -> Link:
    """What was called back, as a link."""
    if recall.lot:
        return Link(text=scribe.words("tell.recalled.what_lot", lot=recall.lot), href=scribe.lot(recall.lot).href)
    stream = scribe.stream(recall.stream)
    return Link(text=scribe.words("tell.recalled.what_stream", stream=stream.text), href=stream.href)


def _things(scribe: Scribe, called: CalledBack) -> Table | None:
    words = scribe.words
    rows = tuple(_thing_row(scribe, thing) for thing in called.things[:MOST_SHOWN])
    rest = len(called.things) - len(rows)
    more = Link(text=words("tell.recalled.more", n=words.number(rest)), href="/data/recalls.csv") if rest else None
    head = (
        *(words(f"tell.{key}") for key in ("col_tag", "col_product", "recalled.col_share", "col_state")),
        words("tell.recalled.col_last"),
    )
    return Table(title=words("tell.recalled.things"), head=head, rows=rows, numeric=(2,), more=more) if rows else None


def _thing_row(scribe: Scribe, thing: ReachedThing) -> tuple[Link, ...]:
    words, life = scribe.words, thing.life
    mass = scribe.kg(thing.mass_kg) if thing.mass_kg is not None else ""
    return (
        scribe.tag(life.tag),
        scribe.product(scribe.book.shop.items[life.item].product),
        Link(text=_share(scribe, thing.share), note=mass),
        Link(text=words(f"tell.stage.{life.stage.value}")),
        Link(text=last_sign(scribe, thing.last)),
    )


def last_sign(scribe: Scribe, event: TagEvent | None) -> str:
    """The last that is known of a thing: the place where its last event names one, else the event, with its day."""
    if event is None:
        return scribe.words("tell.recalled.unheard")
    kind = f"tell.stage.{getattr(event, 'event', '')}"
    if isinstance(event, HandedOver | PutUp) and event.place:
        said = scribe.term(event.place)
    elif scribe.words.has(kind):
        said = scribe.words(kind)
    else:
        said = scribe.words(f"tell.event.{getattr(event, 'event', '')}")
    return f"{said}, {scribe.day(event.date)}"


def recalls_table(scribe: Scribe) -> Table | None:
    """The recalls as the log lists them; None where there was none."""
    words = scribe.words
    ordered = sorted(scribe.book.recalls.values(), key=lambda c: (c.open, c.recall.date, c.recall.id), reverse=True)
    rows = []
    for called in ordered:
        ended = called.ended
        state = words("tell.recalled.ended_on", day=scribe.day(ended.date)) if ended else words("tell.recalled.open")
        reason = scribe.said(called.recall.reason)
        link = Link(text=called.recall.id, href=_address(scribe, called))
        cells = (Link(text=scribe.day(called.recall.date)), _what(scribe, called.recall))
        rest = (Link(text=reason.text, lang=reason.lang), Link(text=words.number(len(called.things))), Link(text=state))
        rows.append((link, *cells, *rest))
    if not rows:
        return None
    head = tuple(
        words(f"tell.{key}")
        for key in ("recalled.col_recall", "col_day", "col_what", "col_why", "recalled.col_things", "col_state")
    )
    return Table(title=words("tell.recalled.all"), head=head, rows=tuple(rows), numeric=(4,))
