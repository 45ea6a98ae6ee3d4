"""What is left in the shop, lot by lot: of what, how much, since when, where, and whether it may be used."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from passport.massflow import State
from passport.problems import Level, Problem, in_order
from passport.reading.records import Lot
from passport.verdicts.book import Book
from passport.verdicts.single_stream import main_resin


@dataclass(frozen=True, slots=True, kw_only=True)
class Remainder:
    """One lot of which something is left by the books."""

    lot: Lot
    left_kg: Fraction | None
    """None where it was not weighed; below zero where more was drawn than the books hold."""
    resin: str
    """Its main resin, or the one its tests make likely; "" for none."""
    proven: bool
    state: State
    state_since: date
    doubts: tuple[Problem, ...]
    """About it, its run and all that it was made of."""


def in_stock(book: Book) -> tuple[Remainder, ...]:
    """Every lot that the books do not say is used up, in order of id."""
    return tuple(
        _remainder(book, book.shop.lots[name])
        for name, stock in book.ledger.stock.items()
        if stock.emptied is None and stock.books_kg != 0
    )


def _remainder(book: Book, lot: Lot) -> Remainder:
    stock = book.ledger.stock[lot.id]
    resin, _ = main_resin(book.ledger.mixtures[lot.id], book.standing.threshold)
    identity = book.standing.own.get(lot.id)
    found = (*book.ledger.doubts_of(lot.id), *book.standing.identity_doubts(lot.id))
    return Remainder(
        lot=lot,
        left_kg=stock.books_kg,
        resin=resin or (identity.symbol if identity and identity.symbol else ""),
        proven=book.standing.proven(lot.id) and bool(resin),
        state=stock.state,
        state_since=stock.since,
        doubts=in_order(problem for problem in found if problem.level is Level.DOUBT),
    )
