"""What is left of each lot by the books, and what the books cannot be right about."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from fractions import Fraction

from passport.amounts import Mass
from passport.massflow.closure import WITHHOLD_AT, beyond, kg
from passport.massflow.masses import MassBook, Weighed, event_key, first_weighings
from passport.massflow.weighing import Measured
from passport.problems import Level, Place, Problem
from passport.reading.records import Draw, Holding, Lot, Reweighed, Sent, WrittenOff
from passport.reading.shop import Operation, Shop

SLIP_OF_UNITS = 100
"""So many times the whole lot, taken at once, is grams written as kilograms (a design choice, no source)."""

_AnyLotEvent = Holding | Reweighed | Sent | WrittenOff


class State(Enum):
    """Whether a lot may be used."""

    FREE = "free"
    HELD = "held"
    REFUSED = "refused"


_STATES = {"held": State.HELD, "refused": State.REFUSED, "released": State.FREE}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One lot by the books, in kg, exact; None where it was not weighed."""

    books_kg: Fraction | None
    """What should be there now."""
    difference_kg: Fraction
    """What the books still held when it was emptied: positive is missing, negative was drawn beyond the books."""
    drawn_kg: Fraction
    """All that runs took."""
    sent_kg: Fraction
    written_off_kg: Fraction
    adjusted_kg: Fraction
    """What re-weighing changed: positive was found, negative is gone."""
    emptied: date | None
    state: State
    since: date
    """The day of its state: of the last hold, release or refusal, else the lot's own."""


@dataclass(frozen=True, slots=True)
class _Taking:
    """Something that happened to a lot's mass; sorts by day, then draws before sendings before weighings."""

    day: date
    rank: int
    key: str
    mass: Weighed
    draw: Draw | None = None
    run: str = ""
    place: Place = field(default_factory=lambda: Place(""))
    event: _AnyLotEvent | None = None


@dataclass(slots=True)
class _Account:
    """A lot's book while it is written up."""

    left: Weighed
    difference: Fraction = Fraction(0)
    drawn: Fraction = Fraction(0)
    sent: Fraction = Fraction(0)
    written_off: Fraction = Fraction(0)
    adjusted: Fraction = Fraction(0)
    emptied: date | None = None
    emptied_by: str = ""
    state: State = State.FREE
    since: date | None = None
    problems: list[Problem] = field(default_factory=list)
    withheld_runs: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockBook:
    """Every lot's stock, what is wrong with it, and the runs whose figures it withholds."""

    stock: Mapping[str, Stock]
    problems: tuple[Problem, ...]
    withheld_runs: frozenset[str]


def stock_book(shop: Shop, book: MassBook, runs: Mapping[str, Operation]) -> StockBook:
    """Write up every lot from its weighing through its draws and events."""
    takings = _takings(shop, book, runs)
    accounts = {
        lot.id: _written_up(book, lot, sorted(takings.get(lot.id, []), key=_when)) for lot in shop.lots.values()
    }
    return StockBook(
        stock={name: _closed(shop.lots[name], account) for name, account in accounts.items()},
        problems=tuple(p for account in accounts.values() for p in account.problems),
        withheld_runs=frozenset(run for account in accounts.values() for run in account.withheld_runs),
    )


def _when(taking: _Taking) -> tuple[date, int, str]:
    return (taking.day, taking.rank, taking.key)


def _takings(shop: Shop, book: MassBook, runs: Mapping[str, Operation]) -> Mapping[str, list[_Taking]]:
    by_lot: dict[str, list[_Taking]] = {}
    for op in runs.values():
        for i, (draw, mass) in enumerate(zip(op.run.draws, book.draws[op.run.id], strict=True)):
            if draw.lot:
                place = shop.node_place(op.run.id, *op.draw_paths[i])
                key = f"{op.run.id}:{i:04}"
                # a draw that empties comes after the others of its day
                rank = 2 if draw.empties else 1
                taking = _Taking(op.run.date, rank, key, mass, draw, op.run.id, place)
                by_lot.setdefault(draw.lot, []).append(taking)
    first = first_weighings(shop)
    for event in shop.events:
        if isinstance(event, _AnyLotEvent):
            taking = _of_event(shop, book, event, is_first=first.get(event.lot) is event)
            by_lot.setdefault(event.lot, []).append(taking)
    return by_lot


def _of_event(shop: Shop, book: MassBook, event: _AnyLotEvent, *, is_first: bool) -> _Taking:
    # a hold, a release and a first weighing count from the morning of their day, another weighing for its evening
    rank = 0 if isinstance(event, Holding) or is_first else 4 if isinstance(event, Reweighed) else 3
    key, mass = f"event:{event.file}:{event.number:05}", None
    if isinstance(event, Sent | WrittenOff | Reweighed) and isinstance(event.mass, Mass):
        key, mass = event_key(event), book.weighings.weigh(event_key(event), event.mass, event.scale)
    return _Taking(event.date, rank, key, mass, place=shop.event_place(event), event=event)


def _written_up(book: MassBook, lot: Lot, takings: list[_Taking]) -> _Account:
    account = _Account(left=book.nodes[lot.id])
    for taking in takings:
        if taking.draw is not None:
            _take(book, lot, account, taking, taking.draw)
        elif taking.event is not None:
            _happen(account, taking, taking.event)
            _check_overdrawn(book, lot, account, taking, None)
    return account


def _take(book: MassBook, lot: Lot, account: _Account, taking: _Taking, draw: Draw) -> None:
    account.problems += _misdrawn(lot, account, taking)
    if taking.mass is not None:
        account.drawn += taking.mass.value
    if account.left is not None and taking.mass is not None:
        account.left -= taking.mass
        _check_overdrawn(book, lot, account, taking, draw)
    if draw.empties:
        account.difference += account.left.value if account.left else 0
        account.left = Measured(Fraction(0)) if account.left is not None else None
        account.emptied, account.emptied_by = taking.day, taking.run


def _happen(account: _Account, taking: _Taking, event: _AnyLotEvent) -> None:
    if isinstance(event, Holding):
        account.state, account.since = _STATES[event.event], event.date
    elif isinstance(event, Reweighed) and taking.mass is not None:
        account.adjusted += taking.mass.value - account.left.value if account.left is not None else 0
        account.left = taking.mass
    elif taking.mass is not None:
        if isinstance(event, Sent):
            account.sent += taking.mass.value
        else:
            account.written_off += taking.mass.value
        account.left = account.left - taking.mass if account.left is not None else None


def _misdrawn(lot: Lot, account: _Account, taking: _Taking) -> Iterator[Problem]:
    if taking.day < lot.date:
        message = (
            f"met a draw on {lot.id} by {taking.run} on {taking.day}, wanted one on or after the day "
            f"{lot.id} was there ({lot.date})"
        )
        hint = f"one of the two dates is wrong: {taking.run} or {lot.id}"
        yield Problem(code="drawn-before-made", message=message, place=taking.place, hint=hint, about=taking.run)
    if account.emptied is not None:
        message = (
            f"met a draw on {lot.id} by {taking.run}, wanted none after {account.emptied_by} "
            f"emptied it on {account.emptied}"
        )
        hint = f"take `empties: yes` out of {account.emptied_by}, or draw on the right lot"
        facts = (("lot", lot.id), ("run", taking.run), ("emptied_by", account.emptied_by))
        yield _doubt(taking, "drawn-after-emptied", message, hint, facts)
    if account.state is not State.FREE:
        message = f"met a draw on {lot.id} by {taking.run}, wanted none while it is {account.state.value}"
        hint = f"{lot.id} is {account.state.value} since {account.since}: write an event `released` first"
        about = (("lot", lot.id), ("run", taking.run))
        yield _doubt(taking, f"drawn-while-{account.state.value}", message, hint, about)


def _check_overdrawn(book: MassBook, lot: Lot, account: _Account, taking: _Taking, draw: Draw | None) -> None:
    """More taken than the books hold, by a draw or by an event that sends or writes off."""
    left = account.left
    if left is None or left.value >= 0 or (account.emptied is not None and draw is not None):
        return  # a draw after it was emptied has its own words
    weighed = book.nodes[lot.id]
    times_u = beyond(left.value, book.weighings.u(left), weighed.value if weighed else Fraction(0))
    if not times_u:
        return
    explained = lot.because is not None or (draw is not None and draw.because is not None)
    if draw is not None and times_u == WITHHOLD_AT and not explained:
        account.withheld_runs.append(taking.run)
    over, by = kg(-left.value), taking.run or "an event"
    message = f"met {over} kg more taken from {lot.id} by {by} than the books hold, wanted what is there"
    hint = "weigh the lot (an event `weighed`), or say why with `because:` beside the draw"
    if weighed and taking.mass and taking.mass.value >= SLIP_OF_UNITS * weighed.value:
        hint = f"is that g or kg? else {hint}"
    facts = (("lot", lot.id), ("run", taking.run or lot.id), ("over_kg", over))
    account.problems.append(_doubt(taking, "overdrawn", message, hint, facts, about=taking.run or lot.id))


def _doubt(
    taking: _Taking, code: str, message: str, hint: str, facts: tuple[tuple[str, str], ...] = (), about: str = ""
) -> Problem:
    place, about = taking.place, about or taking.run
    return Problem(code=code, message=message, place=place, hint=hint, level=Level.DOUBT, about=about, facts=facts)


def _closed(lot: Lot, account: _Account) -> Stock:
    return Stock(
        books_kg=account.left.value if account.left is not None else None,
        difference_kg=account.difference,
        drawn_kg=account.drawn,
        sent_kg=account.sent,
        written_off_kg=account.written_off,
        adjusted_kg=account.adjusted,
        emptied=account.emptied,
        state=account.state,
        since=account.since or lot.date,
    )
