"""The two balances of a shop at the ledger's day, exact to the gram, whole and by class.

Shop: opening + received + came back + gains = things out + sent + losses + written off − adjustments
(− renamed) + stock + unaccounted. Unaccounted is signed, stated and never spread.
Outside: things out = not known to have ended + came back + gone.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from passport.massflow.closure import put_into_tag
from passport.massflow.composition import run_node
from passport.massflow.ingredients import UNKNOWN
from passport.massflow.ledger import Ledger
from passport.massflow.masses import Weighed
from passport.massflow.operation_table import operation_kind
from passport.massflow.stock import Stock
from passport.reading.records import Ended, GivenOn, HandedOver, TagEvent
from passport.reading.shop import Operation

TOTAL = "total"
DIMENSIONS = ("origin", "stream", "resin", "weathering")
_NONE = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopBalance:
    """All that went through the shop, in kg. What was not weighed counts with what was taken from it."""

    opening_kg: Fraction = _NONE
    received_kg: Fraction = _NONE
    came_back_kg: Fraction = _NONE
    """Things handed back, by the weighing of the lot that they became."""
    gains_kg: Fraction = _NONE
    things_out_kg: Fraction = _NONE
    """Made with a tag, and what repairs put in."""
    sent_kg: Fraction = _NONE
    losses_kg: Fraction = _NONE
    written_off_kg: Fraction = _NONE
    adjusted_kg: Fraction = _NONE
    """What re-weighings found (positive) or missed (negative)."""
    renamed_kg: Fraction = _NONE
    """What sorts named otherwise than before: positive came to this class. Adds up to 0 over all classes."""
    stock_kg: Fraction = _NONE

    @property
    def unaccounted_kg(self) -> Fraction:
        """What closes the balance: positive is missing, negative is too much."""
        came = self.opening_kg + self.received_kg + self.came_back_kg + self.gains_kg
        came += self.adjusted_kg + self.renamed_kg
        went = self.things_out_kg + self.sent_kg + self.losses_kg + self.written_off_kg + self.stock_kg
        return came - went

    def since(self, earlier: ShopBalance) -> ShopBalance:
        """The balance of the time after an earlier one, which gives the opening stock."""
        flows = {
            f.name: getattr(self, f.name) - getattr(earlier, f.name)
            for f in dataclasses.fields(self)
            if f.name not in ("opening_kg", "stock_kg")
        }
        return ShopBalance(opening_kg=earlier.stock_kg, stock_kg=self.stock_kg, **flows)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideBalance:
    """Where the things made are, in kg by the books (what each weighed when it was made)."""

    things_out_kg: Fraction = _NONE
    at_the_shop_kg: Fraction = _NONE
    """Never handed over, as far as the records tell."""
    came_back_kg: Fraction = _NONE
    gone_kg: Fraction = _NONE
    """Lost, destroyed, taken apart elsewhere or given on to another stream."""

    @property
    def not_ended_kg(self) -> Fraction:
        """Not known to have ended: in use or at the shop."""
        return self.things_out_kg - self.came_back_kg - self.gone_kg

    @property
    def in_use_kg(self) -> Fraction:
        """Handed over and not known to have ended."""
        return self.not_ended_kg - self.at_the_shop_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """What one month moved, in kg."""

    month: str
    """Such as 2026-04."""
    received_kg: Fraction = _NONE
    came_back_kg: Fraction = _NONE
    made_kg: Fraction = _NONE
    losses_kg: Fraction = _NONE
    sent_kg: Fraction = _NONE


Entry = tuple[str, Fraction, str]
"""A term's name, its mass in kg, and the mixing node whose shares it has ("" for none)."""


@lru_cache(maxsize=4)
def shop_balance(ledger: Ledger) -> ShopBalance:
    """The balance of the whole shop from its first record to the ledger's day."""
    return _shop_sums(shop_entries(ledger), lambda _: {TOTAL: Fraction(1)}).get(TOTAL, ShopBalance())


@lru_cache(maxsize=8)
def shop_balances_by(ledger: Ledger, dimension: str) -> Mapping[str, ShopBalance]:
    """The same by origin, stream, resin or weathering, in order of name; they add up to the whole."""
    return _shop_sums(shop_entries(ledger), lambda node: _shares(ledger, node, dimension))


def outside_balance(ledger: Ledger) -> OutsideBalance:
    """Where all things made are at the ledger's day."""
    sums = _sums(_outside_entries(ledger), lambda _: {TOTAL: Fraction(1)})
    return OutsideBalance(**sums.get(TOTAL, {}))


def outside_balances_by(ledger: Ledger, dimension: str) -> Mapping[str, OutsideBalance]:
    """The same by origin, stream, resin or weathering of the things when they were made."""
    sums = _sums(_outside_entries(ledger), lambda node: _shares(ledger, node, dimension))
    return {key: OutsideBalance(**terms) for key, terms in sums.items()}


def _shares(ledger: Ledger, name: str, dimension: str) -> Mapping[str, Fraction]:
    node = ledger.mixing.nodes.get(name)
    if node is None:
        return {UNKNOWN: Fraction(1)}
    out: dict[str, int] = {}
    for ingredient, portion in node.portions.items():
        key = str(getattr(ingredient, dimension))
        out[key] = out.get(key, 0) + portion
    return {key: Fraction(n, node.whole) for key, n in out.items()}


Shares = Callable[[str], Mapping[str, Fraction]]


def _sums(entries: Iterator[Entry], shares: Shares) -> dict[str, dict[str, Fraction]]:
    by_node: dict[str, dict[str, Fraction]] = {}
    for term, mass, node in entries:
        terms = by_node.setdefault(node, {})
        terms[term] = terms.get(term, _NONE) + mass
    out: dict[str, dict[str, Fraction]] = {}
    for node, terms in by_node.items():
        for key, share in shares(node).items():
            mine = out.setdefault(key, {})
            for term, mass in terms.items():
                mine[term] = mine.get(term, _NONE) + mass * share
    return dict(sorted(out.items()))


def _shop_sums(entries: Iterator[Entry], shares: Shares) -> Mapping[str, ShopBalance]:
    return {key: ShopBalance(**terms) for key, terms in _sums(entries, shares).items()}


def shop_entries(ledger: Ledger) -> Iterator[Entry]:
    """Every term of the shop's balance with its mass and whose shares it has."""
    for name, stock in ledger.stock.items():
        yield from _of_lot(ledger, name, stock)
    for op in ledger.operations.values():
        yield from _of_run(ledger, op)
    for name in ledger.shop.items:
        yield "things_out_kg", _kg(ledger.masses[name]), name


def _of_lot(ledger: Ledger, name: str, stock: Stock) -> Iterator[Entry]:
    received = ledger.shop.lots[name].received
    if received is not None:
        term = "came_back_kg" if received.tags else "received_kg"
        yield term, came_in_kg(stock), name
    yield "sent_kg", stock.sent_kg, name
    yield "written_off_kg", stock.written_off_kg, name
    yield "adjusted_kg", stock.adjusted_kg, name
    yield "stock_kg", stock.books_kg or _NONE, name


def came_in_kg(stock: Stock) -> Fraction:
    """What a lot began with: its weighing, or where there is none, all that was ever taken from it."""
    went = stock.drawn_kg + stock.sent_kg + stock.written_off_kg + stock.difference_kg
    return went - stock.adjusted_kg + (stock.books_kg or _NONE)


def _of_run(ledger: Ledger, op: Operation) -> Iterator[Entry]:
    name = op.run.id
    hands = name if name in ledger.shop.items else run_node(name)
    draws = ledger.book.draws[name]
    for draw, weighed in zip(op.run.draws, draws, strict=True):
        if draw.tag:
            yield "came_back_kg", _kg(weighed), hands
        elif _goes_into_tag(op, draws):
            yield "things_out_kg", _kg(weighed), draw.lot
    yield from (("losses_kg", _kg(weighed), hands) for weighed in ledger.book.losses[name])
    yield from (("gains_kg", _kg(weighed), "") for weighed in ledger.book.gains[name])
    for result in op.results:
        if result.kind == "lot":
            mass = came_in_kg(ledger.stock[result.id])
            yield "renamed_kg", mass, result.id
            yield "renamed_kg", -mass, _source_of(ledger, result.id)


def _source_of(ledger: Ledger, lot: str) -> str:
    inputs = ledger.mixing.nodes[lot].inputs
    return inputs[0].source if inputs else lot


def _goes_into_tag(op: Operation, draws: tuple[Weighed, ...]) -> bool:
    into = put_into_tag(op, draws)
    return into is None or bool(into.value)


def _kg(weighed: Weighed) -> Fraction:
    return weighed.value if weighed is not None else _NONE


# --- outside --------------------------------------------------------------------------------------------


def _outside_entries(ledger: Ledger) -> Iterator[Entry]:
    for name in ledger.shop.items:
        yield "things_out_kg", _kg(ledger.masses[name]), name
        yield "at_the_shop_kg", _kg(ledger.masses[name]), name
    for op in ledger.operations.values():
        yield from _of_repair(ledger, op)
    number, back, gone = _number_of(ledger), _came_back(ledger), _ended(ledger)
    for piece in sorted(_handed_over(ledger) | back.keys() | gone):
        yield from (("at_the_shop_kg", -mass, node) for _, mass, node in _now(ledger, number[piece]))
    for piece, parts in back.items():
        now = _now(ledger, number[piece])
        yield from (("came_back_kg", mass, node) for part, mass, node in now if not parts or part in parts)
    for piece in sorted(gone - back.keys()):
        yield from (("gone_kg", mass, node) for _, mass, node in _now(ledger, number[piece]))


Piece = tuple[str, int]


def _pieces(ledger: Ledger) -> Mapping[str, Piece]:
    """The piece that each tag stands on; a replaced tag's successor stands on the same one."""
    return {issued.tag: (issued.item, issued.piece) for issued in ledger.shop.issued}


def _number_of(ledger: Ledger) -> Mapping[Piece, str]:
    """The last number of each piece."""
    return {piece: tag for tag, piece in _pieces(ledger).items()}


def _now(ledger: Ledger, tag: str) -> list[tuple[str, Fraction, str]]:
    """What a thing is made of with its repairs, as weighed: part, kg and mixing node."""
    return [(part, _kg(weighed), node) for part, node, weighed in ledger.components_of(tag)]


def _handed_over(ledger: Ledger) -> set[Piece]:
    return _with_event(ledger, HandedOver)


def _ended(ledger: Ledger) -> set[Piece]:
    pieces = _pieces(ledger)
    ended = {
        pieces[event.tag]
        for event in ledger.shop.events
        if isinstance(event, Ended) and event.event != "withdrawn" and event.tag in pieces
    }
    return ended | _with_event(ledger, GivenOn)


def _with_event(ledger: Ledger, kind: type[TagEvent]) -> set[Piece]:
    pieces = _pieces(ledger)
    return {pieces[event.tag] for event in ledger.shop.events if isinstance(event, kind) and event.tag in pieces}


def _came_back(ledger: Ledger) -> Mapping[Piece, frozenset[str]]:
    """The parts that came back of each piece, or were cut up here; none named: all of it."""
    pieces = _pieces(ledger)
    out: dict[Piece, frozenset[str]] = {}
    for tag, parts in (*_handed_back(ledger), *_cut_up(ledger)):
        piece = pieces.get(tag)
        if piece is not None and piece[0] in ledger.shop.items:
            before = out.get(piece)
            out[piece] = frozenset() if before == frozenset() or not parts else (before or frozenset()) | parts
    return out


def _handed_back(ledger: Ledger) -> Iterator[tuple[str, frozenset[str]]]:
    for lot in ledger.shop.lots.values():
        for came in lot.received.tags if lot.received else ():
            known = {part for part, _, _ in ledger.components_of(came.tag)}
            named = frozenset(came.parts or known - set(came.not_back)) & known
            yield came.tag, named if known - named and named else frozenset()


def _cut_up(ledger: Ledger) -> Iterator[tuple[str, frozenset[str]]]:
    for op in ledger.operations.values():
        if not _is_repair(op):
            yield from ((draw.tag, frozenset({draw.part} - {""})) for draw in op.run.draws if draw.tag)


def _is_repair(op: Operation) -> bool:
    return operation_kind(op.run.operation).into_tag and any(draw.lot for draw in op.run.draws)


def _of_repair(ledger: Ledger, op: Operation) -> Iterator[Entry]:
    """What it put into a thing went out, what it took out came back: as it weighed in the thing."""
    if not _is_repair(op):
        return
    for draw, weighed in zip(op.run.draws, ledger.book.draws[op.run.id], strict=True):
        if draw.tag:
            for node, mass in ledger.taken_out.get((draw.tag, op.run.id), ()):
                yield "came_back_kg", _kg(mass), node
                yield "at_the_shop_kg", -_kg(mass), node
        else:
            yield "things_out_kg", _kg(weighed), draw.lot
            yield "at_the_shop_kg", _kg(weighed), draw.lot


# --- months ---------------------------------------------------------------------------------------------


def by_month(ledger: Ledger) -> tuple[Month, ...]:
    """Received, come back, made, lost and sent by month, for charts; months in which nothing moved are left out."""
    sums: dict[str, dict[str, Fraction]] = {}
    for month, term, mass in _monthly(ledger):
        terms = sums.setdefault(month, {})
        terms[term] = terms.get(term, _NONE) + mass
    return tuple(Month(month=month, **terms) for month, terms in sorted(sums.items()))


def _monthly(ledger: Ledger) -> Iterator[tuple[str, str, Fraction]]:
    for lot in ledger.shop.lots.values():
        if lot.received:
            term = "came_back_kg" if lot.received.tags else "received_kg"
            yield f"{lot.date:%Y-%m}", term, came_in_kg(ledger.stock[lot.id])
    for item in ledger.shop.items.values():
        yield f"{item.date:%Y-%m}", "made_kg", _kg(ledger.masses[item.id])
    for op in ledger.operations.values():
        for weighed in ledger.book.losses[op.run.id]:
            yield f"{op.run.date:%Y-%m}", "losses_kg", _kg(weighed)
    for lot_id, month, mass in _sendings(ledger):
        if lot_id in ledger.stock:
            yield month, "sent_kg", mass


def _sendings(ledger: Ledger) -> Iterator[tuple[str, str, Fraction]]:
    for event in ledger.shop.events:
        if getattr(event, "event", "") == "sent":
            mass = getattr(getattr(event, "mass", None), "mass_kg", 0)
            yield getattr(event, "lot", ""), f"{event.date:%Y-%m}", Fraction(mass)
