"""Whether what happened to a thing can have happened in that order: made, handed over, ended, never twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from passport.problems import Place, Problem
from passport.reading.records import Ended, GivenOn, Replaced, TagEvent
from passport.reading.shop import Shop
from passport.verdicts.life import Life

FINAL = frozenset({"destroyed", "taken-apart", "given-on", "withdrawn", "replaced"})
"""Ends after which nothing can happen to the thing under its number; the lost may turn up."""


def order_problems(shop: Shop, lives: Mapping[str, Life]) -> Iterator[Problem]:
    """Every event and return that cannot have happened when it says, with both dates."""
    yield from _twice_back(shop)
    for life in lives.values():
        item = shop.items.get(life.item)
        if item is not None:
            yield from _too_early(shop, life, item.date)
        yield from _after_the_end(shop, life)
        yield from _after_it_came_back(shop, life)
        yield from _wrong_successor(shop, life, lives)


def _too_early(shop: Shop, life: Life, made: date) -> Iterator[Problem]:
    for event in life.events:
        if event.date < made:
            what = f"{life.tag} {_kind(event)} on {event.date}"
            yield _problem(
                "before-made", f"met {what}, wanted it after it was made ({made})", shop.event_place(event), life
            )
    lot = shop.lots.get(life.lot)
    if lot is not None and lot.date < made:
        message = f"met {life.tag} handed back on {lot.date}, wanted it after it was made ({made})"
        yield _problem("before-made", message, shop.place("lot", lot.id, "date"), life)


def _after_the_end(shop: Shop, life: Life) -> Iterator[Problem]:
    ended: TagEvent | None = None
    for event in life.events:
        if ended is not None:
            met = f"met {life.tag} {_kind(event)} on {event.date}"
            message = f"{met}, wanted nothing after it was {_kind(ended)} ({ended.date})"
            yield _problem("after-the-end", message, shop.event_place(event), life)
        elif isinstance(event, Ended | GivenOn | Replaced) and _kind(event) in FINAL:
            ended = event


def _after_it_came_back(shop: Shop, life: Life) -> Iterator[Problem]:
    lot = shop.lots.get(life.lot)
    for event in life.events:
        if lot is not None and event.date > lot.date:
            message = (
                f"met {life.tag} {_kind(event)} on {event.date}, wanted nothing after it became {lot.id} ({lot.date})"
            )
            yield _problem("after-the-end", message, shop.event_place(event), life)


def _twice_back(shop: Shop) -> Iterator[Problem]:
    """One thing is handed back once: it cannot be in two lots."""
    first: dict[str, str] = {}
    for lot in shop.lots.values():
        for i, came in enumerate(lot.received.tags if lot.received else ()):
            if came.tag in first and not came.parts:
                message = f"met {came.tag} handed back in {lot.id}, wanted it once (first in {first[came.tag]})"
                place = shop.place("lot", lot.id, "received", "tags", i, "tag")
                yield Problem(code="handed-back-twice", message=message, place=place, about=lot.id, hint=_HINT)
            first.setdefault(came.tag, lot.id)


def _wrong_successor(shop: Shop, life: Life, lives: Mapping[str, Life]) -> Iterator[Problem]:
    new = lives.get(life.replaced_by)
    if new is not None and (new.item, new.piece) != (life.item, life.piece) and life.end is not None:
        message = (
            f"met {life.tag} replaced by {new.tag}, wanted a number of the same thing ({life.item}, piece {life.piece})"
        )
        yield _problem("wrong-successor", message, shop.event_place(life.end, "by"), life)


_HINT = "one of the two records is wrong: correct its date, or the tag that it names"


def _problem(code: str, message: str, place: Place, life: Life) -> Problem:
    return Problem(code=code, message=message, place=place, about=life.tag, hint=_HINT)


def _kind(event: TagEvent) -> str:
    return str(getattr(event, "event", "something"))
