"""Whether what happened to a thing can have happened in that order: made, handed over, ended, never twice."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from passport.problems import Place, Problem
from passport.reading.records import CameBack, Ended, GivenOn, LotEvent, Repaired, Replaced, TagEvent
from passport.reading.shop import Operation, Shop, operations
from passport.verdicts.life import Life

FINAL = frozenset({"destroyed", "taken-apart", "given-on", "withdrawn", "replaced"})
"""Ends after which nothing can happen to the thing under its number; the lost may turn up."""
_NEVER_BACK = FINAL - {"taken-apart"}
"""Ends after which nothing comes back; the parts of what was taken apart may."""


def order_problems(shop: Shop, lives: Mapping[str, Life]) -> Iterator[Problem]:
    """Every event and return that cannot have happened when it says, with both dates."""
    backs, runs = _backs(shop), operations(shop)
    for life in lives.values():
        item = shop.items.get(life.item)
        if item is not None:
            yield from _too_early(shop, life, item.date)
        yield from _after_the_end(shop, life)
        yield from _after_it_came_back(shop, life)
        yield from _back_after_the_end(shop, life, backs.get(life.tag, ()))
        yield from _twice_back(shop, life, backs.get(life.tag, ()))
        yield from _wrong_repair(shop, runs, life)
        yield from _wrong_successor(shop, life, lives)
    yield from _drawn_in_vain(shop, runs, lives, backs)
    yield from _lots_too_early(shop)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Back:
    """One thing in one lot that says it came back."""

    lot: str
    day: date
    index: int
    """Where it stands in the lot's list."""
    came: CameBack


def _backs(shop: Shop) -> Mapping[str, Sequence[_Back]]:
    """What came back of each tag, in order of date."""
    found: dict[str, list[_Back]] = {}
    for lot in sorted(shop.lots.values(), key=lambda lot: (lot.date, lot.id)):
        for index, came in enumerate(lot.received.tags if lot.received else ()):
            found.setdefault(came.tag, []).append(_Back(lot=lot.id, day=lot.date, index=index, came=came))
    return found


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


def _back_after_the_end(shop: Shop, life: Life, backs: Iterable[_Back]) -> Iterator[Problem]:
    """What is destroyed or elsewhere does not come back; what was taken apart may, and under a new number it does."""
    for back in backs:
        ended = next((e for e in life.events if _kind(e) in _NEVER_BACK and e.date <= back.day), None)
        if ended is not None:
            how = f"it was {_kind(ended)} ({ended.date})"
            message = f"met {life.tag} handed back in {back.lot} on {back.day}, wanted nothing after {how}"
            hint = f"name the number that the thing has now: {life.replaced_by}" if life.replaced_by else _HINT
            place = shop.place("lot", back.lot, "received", "tags", back.index, "tag")
            yield Problem(code="after-the-end", message=message, place=place, about=life.tag, hint=hint)


def _twice_back(shop: Shop, life: Life, backs: Sequence[_Back]) -> Iterator[Problem]:
    """A thing, or a part of it, is handed back once: it cannot be in two lots."""
    for i, back in enumerate(backs):
        before = next((b for b in backs[:i] if _both(shop, life, b, back)), None)
        if before is not None:
            message = f"met {life.tag} handed back in {back.lot}, wanted it once (first in {before.lot})"
            place = shop.place("lot", back.lot, "received", "tags", back.index, "tag")
            yield Problem(code="handed-back-twice", message=message, place=place, about=back.lot, hint=_HINT)


def _both(shop: Shop, life: Life, first: _Back, second: _Back) -> bool:
    """Whether some part came twice; a thing of one piece, or one of which nobody named parts, comes whole."""
    item = shop.items.get(life.item)
    made_with = {part.part for part in item.parts} if item else set()

    def came(back: _Back) -> set[str]:
        return set(back.came.parts) or made_with - set(back.came.not_back)

    return bool(came(first) & came(second)) or not came(first) or not came(second)


def _drawn_in_vain(
    shop: Shop, runs: Mapping[str, Operation], lives: Mapping[str, Life], backs: Mapping[str, Sequence[_Back]]
) -> Iterator[Problem]:
    """A run that draws on a thing (a repair, a take-apart) before it was made, or after it was gone."""
    for name, operation in runs.items():
        for draw, path in zip(operation.run.draws, operation.draw_paths, strict=True):
            life = lives.get(draw.tag)
            found = life and _why_not(shop, operation, life, backs.get(draw.tag, ()))
            if life and found:
                code, wanted = found
                message = f"met {life.tag} drawn by {name} on {operation.run.date}, wanted {wanted}"
                yield _problem(code, message, shop.node_place(name, *path), life)


def _why_not(shop: Shop, operation: Operation, life: Life, backs: Sequence[_Back]) -> tuple[str, str] | None:
    """Why a run cannot have drawn on a thing on its day: the problem's code, and what was wanted."""
    item, day = shop.items.get(life.item), operation.run.date
    if item is not None and day < item.date:
        return "before-made", f"it after it was made ({item.date})"
    ended = next((e for e in life.events if _kind(e) in _NEVER_BACK and e.date < day), None)
    if ended is not None:
        return "after-the-end", f"nothing after it was {_kind(ended)} ({ended.date})"
    whole = next((back for back in backs if back.day < day and not back.came.not_back), None)
    if whole is not None:
        return "after-the-end", f"nothing after it became {whole.lot} ({whole.day})"
    return None


def _lots_too_early(shop: Shop) -> Iterator[Problem]:
    """A lot is weighed, held or sent once it is there."""
    for event in shop.events:
        lot = shop.lots.get(event.lot) if isinstance(event, LotEvent) else None
        if lot is not None and event.date < lot.date:
            message = f"met {lot.id} {event.event} on {event.date}, wanted it once {lot.id} was there ({lot.date})"
            place = shop.event_place(event)
            hint = "one of the two records is wrong: correct its date, or the lot that it names"
            yield Problem(code="before-made", message=message, place=place, about=lot.id, hint=hint)


def _wrong_repair(shop: Shop, runs: Mapping[str, Operation], life: Life) -> Iterator[Problem]:
    """An event that tells of a repair names a run that drew on the thing."""
    for event in life.events:
        run = runs.get(event.run) if isinstance(event, Repaired) else None
        if run is not None and life.tag not in {draw.tag for draw in run.run.draws}:
            message = f"met {life.tag} repaired in {run.run.id}, wanted a run that draws on {life.tag}"
            place = shop.event_place(event, "run")
            hint = "name the run of this repair; passport mend TAG writes both together"
            yield Problem(code="wrong-repair", message=message, place=place, about=life.tag, hint=hint)


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
