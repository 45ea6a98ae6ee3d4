"""`export`: the records as tables for spreadsheets; an import of them changes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from passport.office import desk

if TYPE_CHECKING:
    from passport.verdicts.book import Book

STOCK = "stock"
STOCK_HEADS = ("lot", "since", "left_kg", "made_of", "established", "state", "form", "colour", "kept", "doubts")
KEPT_OUT = ("content", "site")
"""Folders that other parts of the program write alone."""


@click.command()
@click.argument("where", metavar="FOLDER|TABLE")
@click.option(
    "--semicolons", is_flag=True, help="Cells parted by semicolons, as spreadsheets in French or German want."
)
@click.option("--yes", is_flag=True, help="Write over tables that lie there without asking.")
@desk.folder_option
def command(where: str, folder: Path, *, semicolons: bool, yes: bool) -> None:
    """Write every table as CSV to FOLDER, or one TABLE to standard output.

    The tables are streams, products, lots, runs, items, events and stock. The headings of all but stock are the
    fields of the records, corrected ones as they are now; what a record has in brackets stands in one cell.
    `passport import FOLDER` takes the tables back, and finds nothing to change.

    \b
    Example:
      passport export tables
      passport export stock
      passport export lots > lots.csv
    """
    from passport.disk import replace_file, worded  # noqa: PLC0415
    from passport.office.asking import agreed  # noqa: PLC0415
    from passport.office.stages import worked_out  # noqa: PLC0415
    from passport.reading.flat import headings_of, tables_of  # noqa: PLC0415
    from passport.reading.sheets import KINDS  # noqa: PLC0415

    book, _ = worked_out(folder, None)
    sign = ";" if semicolons else ","
    texts = {
        kind: csv_text(headings_of(KINDS[kind][1], rows) or ("id",), rows, sign)
        for kind, rows in tables_of(book.shop).items()
    }
    texts[STOCK] = csv_text(STOCK_HEADS, _stock(book), sign)
    if where in texts:
        click.echo(texts[where], nl=False)
        return
    place = _folder_for(folder, where, list(texts))
    there = [f"{name}.csv" for name in texts if (place / f"{name}.csv").exists()]
    if there and not agreed(f"Write over {', '.join(there)} in {where}", yes=yes):
        desk.say("nothing written")
        return
    with desk.refusals(), worded("tables-not-written", place):
        place.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            # the mark at the beginning tells spreadsheets that the text is UTF-8
            replace_file(place / f"{name}.csv", text.encode("utf-8-sig"))
    desk.say(f"{where}: {', '.join(f'{name}.csv' for name in texts)}")


def csv_text(headings: Sequence[str], rows: Sequence[Mapping[str, str]], sign: str = ",") -> str:
    """Rows as CSV (RFC 4180), cells parted by the sign."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=sign, lineterminator="\r\n")
    writer.writerow(headings)
    writer.writerows([row.get(heading, "") for heading in headings] for row in rows)
    return out.getvalue()


def _folder_for(folder: Path, where: str, tables: list[str]) -> Path:
    from passport.problems import did_you_mean  # noqa: PLC0415

    place = Path(where)
    reserved = {(folder.resolve() / name) for name in KEPT_OUT}
    if {place.resolve(), *place.resolve().parents} & reserved:
        raise click.UsageError(f"{where} lies in a folder that this does not write to: name another, such as tables")
    hint = did_you_mean(where, tables)
    if not place.is_dir() and hint:
        raise click.UsageError(f'met "{where}", which is no table and no folder; {hint} A new folder is named tables/')
    if place.exists() and not place.is_dir():
        raise click.UsageError(f"{where} is a file, wanted a folder")
    return place


def _stock(book: Book) -> list[dict[str, str]]:
    """What is left, as the command `stock` shows it."""
    from passport.reading.cells import guarded  # noqa: PLC0415
    from passport.verdicts.in_stock import in_stock  # noqa: PLC0415

    return [
        {
            "lot": row.lot.id,
            "since": row.lot.date.isoformat(),
            "left_kg": "" if row.left_kg is None else desk.exact_kg(row.left_kg),
            "made_of": row.resin,
            "established": "yes" if row.proven else "no",
            "state": row.state.value,
            "form": row.lot.form.value if row.lot.form else "",
            "colour": guarded(row.lot.colour) if row.lot.colour else "",
            "kept": guarded(row.lot.kept) if row.lot.kept else "",
            "doubts": " ".join(sorted({problem.code for problem in row.doubts})),
        }
        for row in in_stock(book)
    ]
