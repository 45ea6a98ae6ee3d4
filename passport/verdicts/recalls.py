"""What a recall reaches: every lot that holds material of what was called back, and every thing with its last sign.

Shares are well mixed. A sort may have left a result without any of it, but the records cannot tell, so it is reached.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from passport.massflow import Ledger
from passport.massflow.composition import tag_node
from passport.massflow.trace import shares_of_lot
from passport.problems import Level, Problem
from passport.reading.marked import Step
from passport.reading.records import Recall, Replaced, TagEvent
from passport.verdicts.life import Life


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachedThing:
    """One thing that holds called-back material."""

    life: Life
    share: Fraction
    """Of its plastic, by mass."""
    mass_kg: Fraction | None
    """Called-back material in it; None where it was not weighed."""
    last: TagEvent | None
    """The last that is known of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalledBack:
    """A recall with all that it reaches."""

    recall: Recall
    ended: Recall | None
    """The later record that ended it."""
    roots: tuple[str, ...]
    """The lots called back themselves."""
    lots: Mapping[str, Fraction]
    """Every lot that holds some of it, with the share, the roots first; in working order."""
    things: tuple[ReachedThing, ...]
    """In the order of issue."""

    @property
    def open(self) -> bool:
        """Whether it still holds."""
        return self.ended is None


def recalled(ledger: Ledger, lives: Mapping[str, Life]) -> Mapping[str, CalledBack]:
    """Every recall by its id, in order of date, with what it reaches."""
    ends = {end.clears: end for end in ledger.shop.recalls.values() if end.clears}
    begun = [recall for recall in ledger.shop.recalls.values() if not recall.clears]
    ordered = sorted(begun, key=lambda recall: (recall.date, recall.id))
    return {recall.id: _called_back(ledger, lives, recall, ends.get(recall.id)) for recall in ordered}


def reach(ledger: Ledger, lives: Mapping[str, Life], recall: Recall) -> CalledBack:
    """What a recall reaches, recorded or only thought of."""
    return _called_back(ledger, lives, recall, None)


def by_name(recalls: Iterable[CalledBack]) -> Mapping[str, tuple[CalledBack, ...]]:
    """The recalls that reach each lot and tag, those still open first, then the latest."""
    found: dict[str, list[CalledBack]] = {}
    for called in sorted(recalls, key=lambda c: (c.open, c.recall.date), reverse=True):
        for name in (*called.lots, *(thing.life.tag for thing in called.things)):
            found.setdefault(name, []).append(called)
    return {name: tuple(reaching) for name, reaching in found.items()}


def recall_doubts(ledger: Ledger, recalls: Iterable[CalledBack]) -> Iterator[Problem]:
    """Runs that drew on material while it was called back: something new was made of what must not be used."""
    for called in recalls:
        begin, end = called.recall.date, called.ended.date if called.ended else None
        for op in ledger.operations.values():
            for draw, path in zip(op.run.draws, op.draw_paths, strict=True):
                during = begin <= op.run.date and (end is None or op.run.date < end)
                if during and draw.lot in called.lots and op.run.operation != TAKE_APART:
                    yield _drawn_on(ledger, called, op.run.id, draw.lot, path)


TAKE_APART = "take-apart"
"""The one operation that recalled material may go through: it makes nothing new."""


def _drawn_on(ledger: Ledger, called: CalledBack, run: str, lot: str, path: tuple[Step, ...]) -> Problem:
    recall = called.recall.id
    return Problem(
        code="drawn-while-recalled",
        message=f"met a draw on {lot} by {run} while {recall} called it back, wanted none",
        place=ledger.shop.node_place(run, *path),
        hint=f"put what came of it aside; where {recall} is over, end it: passport recall --clear {recall}",
        level=Level.DOUBT,
        about=run,
        facts=(("lot", lot), ("run", run), ("recall", recall)),
    )


def _called_back(ledger: Ledger, lives: Mapping[str, Life], recall: Recall, ended: Recall | None) -> CalledBack:
    roots = tuple(_roots(ledger, recall))
    shares = _shares(ledger, roots)
    return CalledBack(
        recall=recall,
        ended=ended,
        roots=roots,
        lots={name: share for name, share in shares.items() if name in ledger.shop.lots},
        things=tuple(_things(ledger, lives, shares)),
    )


def _roots(ledger: Ledger, recall: Recall) -> Iterator[str]:
    if recall.lot in ledger.shop.lots:
        yield recall.lot
    for lot in ledger.shop.lots.values():
        if recall.stream and lot.received is not None and lot.received.stream == recall.stream:
            yield lot.id


def _shares(ledger: Ledger, roots: Iterable[str]) -> dict[str, Fraction]:
    """How much of each mixing node comes from the roots; received lots of one stream never hold each other."""
    found: dict[str, Fraction] = {}
    for root in roots:
        for name, share in shares_of_lot(ledger, root).items():
            found[name] = found.get(name, Fraction(0)) + share
    return found


def _things(ledger: Ledger, lives: Mapping[str, Life], shares: Mapping[str, Fraction]) -> Iterator[ReachedThing]:
    heard = _last_heard(lives)
    for life in lives.values():
        repaired = life.tag in ledger.repaired
        share = shares.get(tag_node(life.tag) if repaired else life.item, Fraction(0))
        if share:
            weighed = ledger.tag_mass(life.tag)
            mass = weighed.value * share if weighed else None
            last = heard.get((life.item, life.piece))
            yield ReachedThing(life=life, share=share, mass_kg=mass, last=last)


def _last_heard(lives: Mapping[str, Life]) -> Mapping[tuple[str, int], TagEvent]:
    """The last event of each piece, whichever number it bore then: a new tag says nothing of where the thing is."""
    found: dict[tuple[str, int], TagEvent] = {}
    for life in lives.values():
        for event in life.events:
            before = found.get((life.item, life.piece))
            if not isinstance(event, Replaced) and (before is None or before.date <= event.date):
                found[life.item, life.piece] = event
    return found
