"""Where a tagged thing is in its life, from its events and from the lots that say it came back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import Enum

from passport.massflow.operation_table import operation_kind
from passport.reading.records import Ended, GivenOn, HandedOver, PutUp, Replaced, TagEvent
from passport.reading.shop import Shop, operations, tag_events


class Stage(Enum):
    """The stage of a thing's life; all but the first three are ends."""

    AT_WORKSHOP = "at-workshop"
    IN_USE = "in-use"
    LOST = "lost"
    """Reported lost: it may turn up, so its passport stays."""
    CAME_BACK = "came-back"
    TAKEN_APART = "taken-apart"
    DESTROYED = "destroyed"
    GIVEN_ON = "given-on"
    WITHDRAWN = "withdrawn"
    REPLACED = "replaced"


OPEN = frozenset({Stage.AT_WORKSHOP, Stage.IN_USE, Stage.LOST})
"""Stages in which somebody may hold the thing in hand: these keep a whole passport."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """The life of one tagged thing so far."""

    tag: str
    item: str
    piece: int
    issued: date
    events: tuple[TagEvent, ...] = ()
    stage: Stage = Stage.AT_WORKSHOP
    ended: date | None = None
    end: TagEvent | None = None
    lots: tuple[str, ...] = ()
    """The lots that it became, where it came back: more than one where its parts came one after the other."""
    replaced_by: str = ""

    @property
    def lot(self) -> str:
        """The last lot that it became; "" where it did not come back."""
        return self.lots[-1] if self.lots else ""

    @property
    def open(self) -> bool:
        """Whether the thing may still be in somebody's hands."""
        return self.stage in OPEN


def lives(shop: Shop) -> Mapping[str, Life]:
    """The life of every tag ever issued, in the order of issue."""
    happened = tag_events(shop)
    back = _came_back(shop)
    found: dict[str, Life] = {}
    in_use: set[str] = set()
    for entry in shop.issued:
        events = happened.get(entry.tag, ())
        start = Life(tag=entry.tag, item=entry.item, piece=entry.piece, issued=entry.issued, events=events)
        life = _lived(start, back.get(entry.tag, ()), in_use=entry.tag in in_use)
        found[entry.tag] = life
        if life.replaced_by and (entry.tag in in_use or any(isinstance(e, HandedOver | PutUp) for e in events)):
            in_use.add(life.replaced_by)
    return found


Back = tuple[tuple[date, str], ...]
"""The days on which a thing or parts of it became lots, in order."""


def _came_back(shop: Shop) -> Mapping[str, Back]:
    """What each thing became: handed back, or drawn into a run that is no repair."""
    found: dict[str, set[tuple[date, str]]] = {}
    for lot in shop.lots.values():
        for came in lot.received.tags if lot.received else ():
            found.setdefault(came.tag, set()).add((lot.date, lot.id))
    for operation in operations(shop).values():
        run = operation.run
        if not operation_kind(run.operation).into_tag and operation.results:
            for tag in (draw.tag for draw in run.draws if draw.tag):
                found.setdefault(tag, set()).add((run.date, operation.results[0].id))
    return {tag: tuple(sorted(back)) for tag, back in found.items()}


def _lived(life: Life, back: Back, *, in_use: bool) -> Life:
    """in_use: the thing had gone out under the number that this one replaces."""
    came_back = back[-1][0] if back else None
    stage, end, ended = Stage.IN_USE if in_use else Stage.AT_WORKSHOP, None, None
    replaced_by = ""
    for event in life.events:
        if isinstance(event, Ended | GivenOn | Replaced):
            stage, end, ended = Stage(event.event), event, event.date
            replaced_by = event.by if isinstance(event, Replaced) else ""
        elif isinstance(event, HandedOver | PutUp):
            stage, end, ended = Stage.IN_USE, None, None
    if came_back is not None and (ended is None or ended <= came_back):
        stage, end, ended = Stage.CAME_BACK, None, came_back
    return Life(
        tag=life.tag, item=life.item, piece=life.piece, issued=life.issued, events=life.events,
        stage=stage, ended=ended, end=end, lots=tuple(lot for _, lot in back), replaced_by=replaced_by,
    )  # fmt: skip
