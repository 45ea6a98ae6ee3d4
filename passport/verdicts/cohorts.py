"""What became of the things: in use, back, lost; by the year they went out, their age, their product. With bounds.

A thing is a piece of a batch, whichever number it bears: a replaced tag's successor carries its life on. It counts
from the day it first went out; one that never did is in no cohort. What is not known to have ended is still counted as
lasting up to the ledger's day ("not known to have ended"), which says nothing about whether anybody still has it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import lru_cache

from passport.massflow import State
from passport.massflow.balances import shop_balances_by
from passport.reading.records import CameBack, HandedOver, PutUp
from passport.reading.shop import Shop
from passport.verdicts.book import Book
from passport.verdicts.life import Life, Stage
from passport.verdicts.single_stream import main_resin
from passport.verdicts.survival import Point, Spell, at_risk, cumulative_incidence, kaplan_meier, on_day

BACK, LOST, DESTROYED, ELSEWHERE = "back", "lost", "destroyed", "elsewhere"
ENDS = (BACK, LOST, DESTROYED, ELSEWHERE)
"""Ways to end, which compete: handed back; reported lost; destroyed; given on or taken apart elsewhere."""
_END_OF = {
    Stage.CAME_BACK: BACK,
    Stage.LOST: LOST,
    Stage.DESTROYED: DESTROYED,
    Stage.TAKEN_APART: ELSEWHERE,
    Stage.GIVEN_ON: ELSEWHERE,
}
AGES = ((183, "half"), (365, "one"), (730, "two"), (1826, "five"), (3652, "ten"))
"""Ages in days below which a thing belongs to a class, with the class's name; older ones are of the last, `older`."""
OLDER = "older"
HORIZONS = (91, 183, 365, 730, 1096, 1826, 3652)
"""Days after going out at which curves are read off: a quarter, a half, one, two, three, five and ten years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One thing that went out."""

    life: Life
    """Of the number that it bears now."""
    product: str
    out: date
    last: date
    """The day of its end, else the last day of the records."""
    end: str
    """One of ENDS; "" where it is not known to have ended."""

    @property
    def spell(self) -> Spell:
        """Its time out, in days."""
        return Spell(days=max((self.last - self.out).days, 0), end=self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A curve on one day after going out, with the number of things still watched that day."""

    days: int
    at_risk: int
    value: Fraction
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cohort:
    """The things that went out in one year."""

    year: int
    """0 for all years together."""
    things: tuple[Thing, ...]
    back: tuple[Point, ...]
    """Come back: cumulative incidence, the other ends competing."""
    lasting: tuple[Point, ...]
    """Not known to have ended: Kaplan-Meier over all ends."""

    def ended(self, end: str) -> int:
        """How many ended in one way; "" counts what is not known to have ended."""
        return sum(thing.end == end for thing in self.things)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fates:
    """The plastic of all things whose end is known, in kg as made, and how many things."""

    own_kg: Fraction
    """Came back and is kept as one proven resin."""
    down_kg: Fraction
    """Came back, but mixed, unproven or refused."""
    not_back_kg: Fraction
    """Parts of returned things that stayed out."""
    elsewhere_kg: Fraction
    lost_kg: Fraction
    """Lost or destroyed."""
    own: int
    """Things that came back into their own stream."""
    ended: int
    """Things whose end is known."""
    not_weighed: int = 0
    """Things left out of the masses, because nobody weighed them."""

    @property
    def ended_kg(self) -> Fraction:
        """All of it."""
        return self.own_kg + self.down_kg + self.not_back_kg + self.elsewhere_kg + self.lost_kg


@lru_cache(maxsize=2)  # every language and the tables ask for the same
def things_out(book: Book) -> tuple[Thing, ...]:
    """Every thing that ever went out, in the order of the first number it bore."""
    out = _first_out(book.shop)
    found: dict[tuple[str, int], Thing] = {}
    for life in book.lives.values():
        piece = (life.item, life.piece)
        if piece in out and life.stage is not Stage.REPLACED and life.item in book.shop.items:
            found[piece] = _thing(book, life, out[piece])
    return tuple(found.values())


def _first_out(shop: Shop) -> Mapping[tuple[str, int], date]:
    pieces = {entry.tag: (entry.item, entry.piece) for entry in shop.issued}
    found: dict[tuple[str, int], date] = {}
    for event in shop.events:
        if isinstance(event, HandedOver | PutUp) and event.tag in pieces:
            found.setdefault(pieces[event.tag], event.date)
    return found


def _thing(book: Book, life: Life, out: date) -> Thing:
    # a withdrawn number ends nothing: the thing is not watched any longer, that is all
    last = life.ended if life.ended is not None else book.today
    product = book.shop.items[life.item].product
    return Thing(life=life, product=product, out=out, last=last, end=_END_OF.get(life.stage, ""))


@lru_cache(maxsize=2)
def cohorts_of(book: Book) -> tuple[Cohort, ...]:
    """The cohorts of all things that ever went out."""
    return cohorts(things_out(book))


def cohorts(things: Iterable[Thing]) -> tuple[Cohort, ...]:
    """All things together (year 0), then each year's, in order."""
    all_things = tuple(things)
    years = sorted({thing.out.year for thing in all_things})
    groups = [(0, all_things), *((y, tuple(t for t in all_things if t.out.year == y)) for y in years)]
    return tuple(_cohort(year, group) for year, group in groups)


def _cohort(year: int, things: tuple[Thing, ...]) -> Cohort:
    spells = [thing.spell for thing in things]
    return Cohort(year=year, things=things, back=cumulative_incidence(spells, BACK), lasting=kaplan_meier(spells))


def readings(cohort: Cohort, points: Sequence[Point], *, start: int) -> tuple[Reading, ...]:
    """A curve of a cohort at the usual ages, as far as somebody is still watched. start: its value before any end."""
    spells = [thing.spell for thing in cohort.things]
    found = []
    for days in HORIZONS:
        watched = at_risk(spells, days)
        if watched:
            found.append(_reading(points, days, watched, start))
    return tuple(found)


def _reading(points: Sequence[Point], days: int, watched: int, start: int) -> Reading:
    point = on_day(points, days)
    if point is not None:
        return Reading(days=days, at_risk=watched, value=point.value, low=point.low, high=point.high)
    # nothing has ended yet: the exact bound of as many things as are still watched
    edge = float(0.025 ** (1 / watched))
    low, high = (edge, 1.0) if start else (0.0, 1 - edge)
    return Reading(days=days, at_risk=watched, value=Fraction(start), low=low, high=high)


def age_of(days: int) -> str:
    """The class of an age in days.

    >>> age_of(10), age_of(400), age_of(9999)
    ('half', 'two', 'older')
    """
    return next((name for most, name in AGES if days < most), OLDER)


def in_use_by(things: Iterable[Thing]) -> Mapping[str, Mapping[str, int]]:
    """Things not known to have ended: product → age class → how many."""
    found: dict[str, dict[str, int]] = {}
    for thing in things:
        if not thing.end and thing.life.stage is not Stage.WITHDRAWN:
            ages = found.setdefault(thing.product, {})
            age = age_of(thing.spell.days)
            ages[age] = ages.get(age, 0) + 1
    return dict(sorted(found.items()))


# --- what became of the plastic -----------------------------------------------------------------------


def fates(book: Book, things: Iterable[Thing]) -> Fates:
    """What became of the plastic of all things whose end is known, each as it weighed when it was made."""
    masses: dict[str, Fraction] = {}
    own = ended = not_weighed = 0
    came = _returns(book.shop)
    for thing in things:
        if not thing.end:
            continue
        ended += 1
        weighed = book.ledger.tag_mass(thing.life.tag)
        returns = came.get(thing.life.tag, ()) or ((thing.life.lot, None),)
        own += thing.end == BACK and all(in_own_stream(book, lot) for lot, _ in returns)
        if weighed is None:
            not_weighed += 1
            continue
        for where, mass in _fates_of(book, thing, returns, weighed.value):
            masses[where] = masses.get(where, Fraction(0)) + mass
    kilograms = {f"{key}_kg": masses.get(key, Fraction(0)) for key in ("own", "down", "not_back", "elsewhere", "lost")}
    return Fates(own=own, ended=ended, not_weighed=not_weighed, **kilograms)


Return = tuple[str, CameBack | None]
"""The lot that a thing became, or some parts of it, and which; None where a run drew on its tag."""


def _returns(shop: Shop) -> Mapping[str, tuple[Return, ...]]:
    """By tag; the parts of one thing may come back one after another."""
    found: dict[str, list[Return]] = {}
    for lot in shop.lots.values():
        for came in lot.received.tags if lot.received else ():
            found.setdefault(came.tag, []).append((lot.id, came))
    return {tag: tuple(returns) for tag, returns in found.items()}


def _fates_of(book: Book, thing: Thing, returns: Iterable[Return], whole: Fraction) -> Iterator[tuple[str, Fraction]]:
    """Where the plastic of one ended thing is; the masses add up to all of it."""
    if thing.end != BACK:
        yield "elsewhere" if thing.end == ELSEWHERE else "lost", whole
        return
    left = whole
    for lot, came in returns:
        mass = min(left, _back_kg(book, thing, came, whole))
        left -= mass
        yield "own" if in_own_stream(book, lot) else "down", mass
    yield "not_back", left


def _back_kg(book: Book, thing: Thing, came: CameBack | None, whole: Fraction) -> Fraction:
    """What of a thing's plastic is where its end says; parts that the return names as not back are not."""
    item = book.shop.items[thing.life.item]
    names = [part.part for part in item.parts]
    if came is None or len(names) < 2 or thing.life.tag in book.ledger.repaired:  # noqa: PLR2004 - one part is all
        return whole
    there = came.parts or [name for name in names if name not in came.not_back]
    parts = [book.ledger.book.parts.get((item.id, name)) for name in names if name in there]
    return min(whole, sum((w.value for w in parts if w is not None), Fraction(0)) / item.count.pieces)


def in_own_stream(book: Book, lot: str) -> bool:
    """Whether what came back as a lot is kept as one proven resin."""
    stock = book.ledger.stock.get(lot)
    if stock is None or stock.state is State.REFUSED or not book.standing.proven(lot):
        return False
    return bool(main_resin(book.ledger.mixtures[lot], book.standing.threshold)[0])


def made_by_lives(book: Book) -> Mapping[int, Fraction]:
    """Plastic made into things in kg, by how many lives it had had before: 0 for new, makers' scrap and unknown."""
    by_lives = shop_balances_by(book.ledger, "lives")
    found = {int(key): balance.things_out_kg for key, balance in by_lives.items() if key.isdigit()}
    return {lives: mass for lives, mass in sorted(found.items()) if mass}
