"""What to do with one thing when it has had its day: mend it, part it, and where each part belongs.

Mending comes before recycling (Directive 2008/98/EC, article 4(1): prevention and reuse before recycling; from
memory). What is not proven is never called a stream, and what may hold old additives is neither cut nor mixed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import islice

from passport.massflow import State
from passport.massflow.composition import owner
from passport.massflow.masses import Weighed
from passport.reading.records import Form, Hardware, Item
from passport.verdicts.book import Book
from passport.verdicts.cautions import cautions_of_item, cautions_of_thing
from passport.verdicts.life import Life
from passport.verdicts.recalls import CalledBack
from passport.verdicts.single_stream import PartStream, Stream, main_resin

OLD_SIGN = "old"
"""Sign of the cautions about additives that are no longer allowed."""


MOST_SPARES = 12
"""Lots that a repair might take from; nobody looks at more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartEnd:
    """One part of the thing as it is now."""

    part: str
    """Its name; "" for a thing without named parts."""
    resin: str
    """Symbol, or "" where none is proven."""
    mass_kg: Fraction | None
    lots: tuple[str, ...]
    """What it was made from."""
    spares: tuple[str, ...]
    """Lots with something left that a new part could be made from: the same one, or of the same resin and form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareEnd:
    """Screws and the like, with their mass in one thing."""

    hardware: Hardware
    mass_kg: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class EndOfLife:
    """Everything that the sheet of one thing says."""

    stream: Stream
    resins: tuple[str, ...]
    """Symbols of its parts, each once; empty where nothing is proven."""
    parts: tuple[PartEnd, ...]
    hardware: tuple[HardwareEnd, ...]
    old_additives: bool
    """Whether what it is made of may hold additives that are no longer allowed."""
    recalls: tuple[CalledBack, ...]
    """Open recalls that reach it."""

    @property
    def total_kg(self) -> Fraction | None:
        """The whole thing; None where a part was not weighed."""
        masses = [part.mass_kg for part in self.parts]
        known = [mass for mass in masses if mass is not None]
        hardware = sum((piece.mass_kg for piece in self.hardware), Fraction(0))
        return sum(known, hardware) if len(known) == len(masses) else None

    @property
    def proven(self) -> bool:
        """Whether its stream or streams are known."""
        return self.stream not in (Stream.NOT_ESTABLISHED, Stream.MIXED)

    @property
    def doubtful(self) -> bool:
        """Whether it must be neither cut nor put with other material before somebody has looked at it."""
        return self.old_additives or bool(self.recalls)


def end_doubtful(book: Book, life: Life) -> bool:
    """Whether a thing must be neither cut nor mixed, without working out the rest of its end."""
    if any(called.open for called in book.called_back.get(life.tag, ())):
        return True
    if life.tag in book.repaired:
        return any(caution.sign == OLD_SIGN for caution in cautions_of_thing(book, life))
    return _batch_is_old(book, life.item)


@lru_cache(maxsize=64)  # tags come in the order of issue, so those of one batch follow each other
def _batch_is_old(book: Book, item: str) -> bool:
    return any(caution.sign == OLD_SIGN for caution in cautions_of_item(book, book.shop.items[item]))


def end_of_life(book: Book, life: Life) -> EndOfLife:
    """The end of one thing, worked out from what it is made of now."""
    item, verdict = book.shop.items[life.item], book.of_thing(life).stream.value
    stream = verdict.answer if verdict else Stream.NOT_ESTABLISHED
    proven = stream not in (Stream.NOT_ESTABLISHED, Stream.MIXED)
    found = verdict.parts if verdict else ()
    return EndOfLife(
        stream=stream,
        resins=tuple(dict.fromkeys(part.resin for part in found if part.resin)) if proven else (),
        parts=tuple(_part(book, life, item, i, part, proven=proven) for i, part in enumerate(found)),
        hardware=tuple(_hardware(item)),
        old_additives=any(caution.sign == OLD_SIGN for caution in cautions_of_thing(book, life)),
        recalls=tuple(called for called in book.called_back.get(life.tag, ()) if called.open),
    )


def _part(book: Book, life: Life, item: Item, i: int, part: PartStream, *, proven: bool) -> PartEnd:
    lots = tuple(_lots(book, life, item, i, part.part))
    weighed = _weighed(book, life, item, i, part.part)
    resin = part.resin if proven else ""
    return PartEnd(
        part=part.part,
        resin=resin,
        mass_kg=weighed.value if weighed is not None else None,
        lots=lots,
        spares=tuple(islice(_spares(book, lots, resin), MOST_SPARES)),
    )


def _weighed(book: Book, life: Life, item: Item, i: int, part: str) -> Weighed:
    ledger = book.ledger
    if life.tag in ledger.repaired:
        return ledger.repaired[life.tag][i][2]
    weighed = ledger.book.parts.get((item.id, part)) or ledger.masses.get(item.id)
    return weighed.times(Fraction(1, item.count.pieces)) if weighed is not None else None


def _lots(book: Book, life: Life, item: Item, i: int, part: str) -> Iterator[str]:
    """What a part was made from: for one that a repair put in, the lot it was drawn from."""
    if life.tag in book.ledger.repaired:
        source = owner(book.ledger.repaired[life.tag][i][1])
        if source in book.shop.lots:
            yield source
            return
    draws = [draw for of in item.parts if not part or of.part == part for draw in of.draws] or item.draws
    yield from dict.fromkeys(draw.lot for draw in draws if draw.lot)


def _spares(book: Book, lots: tuple[str, ...], resin: str) -> Iterator[str]:
    """Lots that are free and hold something: those it was made from first, then those of the same resin and form."""
    yield from (lot for lot in lots if _left(book, lot))
    forms = {book.shop.lots[lot].form for lot in lots if lot in book.shop.lots} - {None}
    for lot, form, symbol in _free_lots(book) if resin else ():
        if form in forms and symbol == resin and lot not in lots:
            yield lot


@lru_cache(maxsize=2)  # every thing asks the same of the whole shop
def _free_lots(book: Book) -> tuple[tuple[str, Form | None, str], ...]:
    """Id, form and resin of every lot of an established resin that is free and holds something."""
    return tuple(
        (lot.id, lot.form, main_resin(book.ledger.mixtures[lot.id], book.standing.threshold)[0])
        for lot in book.shop.lots.values()
        if lot.form is not None and book.standing.proven(lot.id) and _left(book, lot.id)
    )


def _left(book: Book, lot: str) -> bool:
    stock = book.ledger.stock.get(lot)
    held = any(called.open for called in book.called_back.get(lot, ()))
    return stock is not None and stock.state is State.FREE and bool(stock.books_kg and stock.books_kg > 0) and not held


def _hardware(item: Item) -> Iterator[HardwareEnd]:
    for piece in item.hardware:
        share = 1 if piece.mass.each else Fraction(1, item.count.pieces)
        yield HardwareEnd(hardware=piece, mass_kg=Fraction(piece.mass.mass_kg) * share)
