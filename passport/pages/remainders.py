"""What is in stock, as a table for the log: of what, since when, where it stands, whether it may be used."""

from __future__ import annotations

from fractions import Fraction

from passport.massflow import State
from passport.pages.pieces import Link, Table
from passport.pages.scribe import Scribe
from passport.verdicts.in_stock import Remainder, in_stock

MOST = 15
"""Lots shown, the heaviest first; the list of lots has all of them."""
KG_PLACES = 1
HEADS = ("col_lot", "resin", "col_kg", "col_since", "row_kept", "col_state", "col_doubts")


def stock_table(scribe: Scribe) -> Table | None:
    """The heaviest lots that are left, and how much the others hold together."""
    words = scribe.words
    found = sorted(in_stock(scribe.book), key=lambda row: (-(row.left_kg or Fraction(0)), row.lot.id))
    if not found:
        return None
    rows = [_row(scribe, row) for row in found[:MOST]]
    if rest := found[MOST:]:
        mass = sum((row.left_kg or Fraction(0) for row in rest), Fraction(0))
        figure = Link(text=words.number(mass, KG_PLACES))
        name = Link(text=words.some("tell.stock_more", len(rest)), href=scribe.at("/L/"))
        rows.append((name, Link(text=""), figure, *[Link(text="")] * (len(HEADS) - 3)))
    head = tuple(words(f"tell.{key}") for key in HEADS)
    return Table(title=words("tell.stock_title"), head=head, rows=tuple(rows), numeric=(2, len(HEADS) - 1))


def _row(scribe: Scribe, row: Remainder) -> tuple[Link, ...]:
    words = scribe.words
    left = words("tell.state.not_weighed") if row.left_kg is None else words.number(row.left_kg, KG_PLACES)
    resin = row.resin if row.proven else f"{row.resin}?"
    state = words("tell.stock_free") if row.state is State.FREE else words(f"tell.state.{row.state.value}")
    texts = (resin, left, scribe.day(row.lot.date))
    return (
        scribe.lot(row.lot.id),
        *(Link(text=text) for text in texts),
        _said(scribe, row.lot.kept),
        Link(text=state),
        Link(text=words.number(len(row.doubts)) if row.doubts else ""),
    )


def _said(scribe: Scribe, text: str) -> Link:
    """Where it stands, in the yard's own words."""
    said = scribe.word(text)
    return Link(text=said.text, lang=said.lang if text else "")
