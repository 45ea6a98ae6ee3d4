"""`stock`: what is left, of what, since when, where, and whether it may be used."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from fractions import Fraction
from pathlib import Path

import click

from passport.massflow import State
from passport.material.resins import hint_for, symbols_for
from passport.office import desk
from passport.office.desk import exact_kg
from passport.office.goods_in import waiting
from passport.reading.shop import Shop
from passport.verdicts.book import work_out
from passport.verdicts.in_stock import Remainder, in_stock

HEADS = ("lot", "left kg", "made of", "form", "colour", "since", "kept", "state", "doubts")
NUMERIC = (1, 8)
LONGEST = 18
"""Signs of a cell of free words; the record has the rest."""
NOT_WEIGHED = "?"
NOTHING = "nothing is in stock: passport receive takes goods in"
NARROWED = "nothing of that is in stock: passport stock shows all there is"


@click.command()
@click.option("--resin", metavar="RESIN", help="Only lots of this resin (PE-HD) or family (PE).")
@click.option("--free", is_flag=True, help="Only what may be used: neither held nor refused.")
@desk.at_option
@desk.json_option
@desk.folder_option
def command(resin: str | None, at: date | None, folder: Path, *, free: bool, as_json: bool) -> None:
    """Show what is left of every lot that is not used up, and what is doubtful about it.

    A resin with a question mark is likely and not established; a mass of ? was never weighed. `passport check`
    names the doubts, `passport trace LOT` says where a lot came from.

    \b
    Example:
      passport stock
      passport stock --resin PE-HD --free
      passport stock --json
    """
    wanted = _wanted(resin)
    book = work_out(desk.read_records(folder)[0], at)
    rows = [
        row
        for row in in_stock(book)
        if (row.resin in wanted or resin is None) and (not free or row.state is State.FREE)
    ]
    if as_json:
        click.echo(json.dumps([_plain(book.shop, row) for row in rows], ensure_ascii=False, indent=1))
        return
    for line in _table(rows) or (NARROWED if resin or free else NOTHING,):
        click.echo(line)
    _say_waiting(book.shop)


def _wanted(resin: str | None) -> frozenset[str]:
    if resin is None:
        return frozenset()
    symbols = symbols_for(resin.strip().upper())
    if not symbols:
        hint = hint_for(resin)
        raise click.UsageError(f'--resin: met "{resin}", wanted a symbol such as PE-HD or a family such as PE; {hint}')
    return symbols


def _plain(shop: Shop, row: Remainder) -> dict[str, object]:
    lot = row.lot
    return {
        "lot": lot.id,
        "left_kg": None if row.left_kg is None else exact_kg(row.left_kg),
        "resin": row.resin,
        "established": row.proven,
        "form": lot.form.value if lot.form else "",
        "colour": lot.colour,
        "since": lot.date.isoformat(),
        "kept": lot.kept,
        "state": row.state.value,
        "state_since": row.state_since.isoformat(),
        "stream": shop.streams[lot.received.stream].id if lot.received and lot.received.stream else "",
        "doubts": [problem.message for problem in row.doubts],
    }


# --- the table --------------------------------------------------------------------------------------------


def _table(rows: Sequence[Remainder]) -> tuple[str, ...]:
    return tuple(_lines(rows)) if rows else ()


def _lines(rows: Sequence[Remainder]) -> Iterator[str]:
    cells = [HEADS, *(_cells(row) for row in rows)]
    total = sum((row.left_kg or Fraction(0) for row in rows), Fraction(0))
    unweighed = sum(row.left_kg is None for row in rows)
    foot = ("together", exact_kg(total), *[""] * (len(HEADS) - 2))
    used = [i for i in range(len(HEADS)) if i < NUMERIC[-1] and any(line[i] for line in cells[1:])]
    yield from aligned([*cells, foot], (*used, NUMERIC[-1]), NUMERIC)
    if unweighed:
        yield f"and {unweighed} not weighed: passport receive --weigh LOT"


def aligned(lines: Sequence[Sequence[str]], used: Sequence[int], numeric: Iterable[int]) -> Iterator[str]:
    """Columns of one width each, figures to the right; columns of nothing are left out."""
    widths = {i: max(len(line[i]) for line in lines) for i in used}
    right = set(numeric)
    for line in lines:
        cells = (f"{line[i]:>{widths[i]}}" if i in right else f"{line[i]:<{widths[i]}}" for i in used)
        yield "  ".join(cells).rstrip()


def _cells(row: Remainder) -> tuple[str, ...]:
    lot = row.lot
    made_of = row.resin if row.proven else f"{row.resin}?"
    state = "free" if row.state is State.FREE else f"{row.state.value} since {row.state_since}"
    return (
        lot.id,
        NOT_WEIGHED if row.left_kg is None else exact_kg(row.left_kg),
        made_of,
        lot.form.value if lot.form else "",
        _short(lot.colour),
        lot.date.isoformat(),
        _short(lot.kept),
        state,
        str(len(row.doubts)) if row.doubts else "",
    )


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"


def _say_waiting(shop: Shop) -> None:
    """Numbers whose cards hang and whose records are still to come."""
    lots = waiting(shop)
    if lots:
        more = f" and {len(lots) - 1} more" if len(lots) > 1 else ""
        desk.say(f"set aside, no record yet: {lots[0]}{more}: passport receive {lots[0]}")
