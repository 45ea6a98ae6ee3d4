"""Numbers for sacks to come: set aside in the records, printed on cards and a sheet for the gate."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import click

from passport.office import desk
from passport.office.goods_in import series_of, waiting
from passport.office.saving import next_id, taken_ids
from passport.office.stages import themed, worked_out
from passport.pages.labelling import blank_card, intake_words, sheet_words
from passport.pages.plan import scribes
from passport.pages.scribe import Scribe
from passport.problems import errors_in
from passport.reading.folder import read_shop
from passport.reading.set_aside import HEADER, LIST, set_aside_line
from passport.reading.shop import Shop
from passport.tags.faces import LabelError
from passport.tags.intake import cards_pdf, intake_pdf
from passport.writing import AppendLines, sole_writer


def set_aside(folder: Path, out: Path, count: int, day: dt.date, language: str | None) -> None:
    """Set numbers aside, then print them. Killed in between, they are printed by `--sheet`."""
    content = desk.content_of(folder)
    with desk.refusals(), sole_writer(content, say=desk.say) as writer:
        shop, problems = read_shop(content)
        if shop is None or errors_in(problems):
            desk.stop(problems)
        lots = _next_ids(shop, count)
        writer.write([AppendLines(LIST, tuple(set_aside_line(lot, day) for lot in lots), HEADER)])
    for lot in lots:
        click.echo(lot)
    desk.say(f"{_span(lots)} set aside in content/{LIST}")
    _print(_scribe(folder, language), lots, out)


def reprint(folder: Path, out: Path, language: str | None) -> None:
    """Cards and sheet for all numbers set aside that no record fills yet; a bare sheet where there are none."""
    scribe = _scribe(folder, language)
    lots = waiting(scribe.book.shop)
    if not lots:
        desk.say("no number is set aside and waiting: passport receive --reserve 10 sets some aside")
    _print(scribe, lots, out)


def _next_ids(shop: Shop, count: int) -> tuple[str, ...]:
    taken, series = list(taken_ids(shop)), series_of(shop)
    for _ in range(count):
        taken.append(next_id(taken, series))
    return tuple(taken[-count:])


def _span(lots: Sequence[str]) -> str:
    """The first and the last of several numbers."""
    return lots[0] if len(lots) == 1 else f"{lots[0]} to {lots[-1]}"


def _scribe(folder: Path, language: str | None) -> Scribe:
    from passport.office.label_files import in_language  # noqa: PLC0415

    book, _ = worked_out(folder, None)
    theme, of_theme = themed(folder, book.shop)
    if errors_in(of_theme):
        desk.stop(of_theme)
    return in_language(scribes(book, theme, {}), language)


def _print(scribe: Scribe, lots: Sequence[str], out: Path) -> None:
    from passport.office.label_files import write_files  # noqa: PLC0415

    words, foot = intake_words(scribe, lots), sheet_words(scribe)
    name = f"{lots[0]}-{len(lots)}" if lots else "blank"
    try:
        files = {f"cards-{name}.pdf": cards_pdf([blank_card(scribe, lot) for lot in lots], words, foot)} if lots else {}
        files[f"intake-{name}.pdf"] = intake_pdf(lots, words, foot)
    except LabelError as slip:
        desk.stop(slip.problems)
    write_files(out.parent, out, files)
    desk.say("Print at 100 %. Hang a card on each sack, fill in the sheet, then type it in:")
    desk.say(f"  passport receive {' '.join(lots[:3])}".rstrip())
