"""`import`: records from spreadsheets, by a plan of columns that is asked once and kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passport.office import desk

if TYPE_CHECKING:
    from passport.reading.sheets import Plan

ORIGINS_OF_STREAMS = ("post-consumer", "pre-consumer", "virgin", "additive", "unknown")
ORDERS = {"dmy": "day-first", "mdy": "month-first", "day-first": "day-first", "month-first": "month-first"}


@click.command()
@click.argument("what", metavar="TABLE|FOLDER")
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--map", "columns", multiple=True, metavar="HEADING=FIELD", help="Which field a column is; - leaves it out."
)
@click.option(
    "--unit", "units", multiple=True, metavar="HEADING=UNIT", help="The unit of a column whose heading says none."
)
@click.option("--dates", type=click.Choice(list(ORDERS)), help="How days like 03/04/2026 are meant.")
@click.option("--century", type=click.Choice(["19", "20"]), help="What stands before years of two digits.")
@click.option("--decimal", type=click.Choice(["comma", "point"]), help="The decimal sign: 1,234 is 1.234 or 1234.")
@click.option("--word", "words", multiple=True, metavar="TEXT=WORD", help="What a cell's text is called in records.")
@click.option("--fill", multiple=True, metavar="FIELD=TEXT", help="What a field says where the table says nothing.")
@click.option(
    "--series", metavar="LETTERS", help="With IN, 31 is IN-031; a row without a number gets the next free one."
)
@click.option(
    "--new-streams",
    "origin",
    type=click.Choice(ORIGINS_OF_STREAMS),
    help="Set streams up that lots name and that are not there: where the material of all of them is from.",
)
@click.option("--without", metavar="ROWS", default="", help="Rows to leave out, such as 57,91-94.")
@click.option("--headings", metavar="ROWS", default="", help="The row or rows with headings, where they are not found.")
@click.option("--sheet", default="", help="Which sheet of a workbook. Default: the first.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written, and write nothing.")
@click.option("--json", "as_json", is_flag=True, help="For another program: what a dry run shows, as JSON.")
@desk.folder_option
def command(
    what: str,
    file: Path | None,
    columns: tuple[str, ...],
    units: tuple[str, ...],
    dates: str | None,
    century: str | None,
    decimal: str | None,
    words: tuple[str, ...],
    fill: tuple[str, ...],
    series: str | None,
    origin: str | None,
    without: str,
    headings: str,
    sheet: str,
    folder: Path,
    *,
    yes: bool,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Take a TABLE (lots, events, items, runs, streams, products) over from FILE, which is CSV or XLSX.

    Which column is which field is asked, or said with --map, and kept in spreadsheets.yaml beside content/. Every
    problem is named by row and column; nothing is written while there is one. A row whose record is there already,
    and says the same, is passed over. With a FOLDER that `passport export` wrote, all its tables are taken at once.

    \b
    Example:
      passport import lots old-lots.csv --dry-run
      passport import lots old-lots.csv --map "Gewicht (kg)=mass" --dates dmy --fill received.stream=gate
      passport import events fair.xlsx
      passport import tables
    """
    from passport.office.tables_in import take_in  # noqa: PLC0415
    from passport.office.taking import Order  # noqa: PLC0415

    given = _plan(columns, units, ORDERS.get(dates or "", ""), century, decimal, words, fill, series)
    tables = _tables(what, file)
    order = Order(without=_rows(without, "--without"), headings=_rows(headings, "--headings"), sheet=sheet)
    take_in(folder, tables, given, order, yes=yes, dry_run=dry_run, as_json=as_json, new_streams=origin or "")


def _tables(what: str, file: Path | None) -> list[tuple[str, Path]]:
    """Kind and file of each table to take in."""
    from passport.problems import did_you_mean  # noqa: PLC0415
    from passport.reading.sheets import KINDS  # noqa: PLC0415

    kinds = ", ".join(KINDS)
    if what in KINDS:
        if file is None:
            raise click.UsageError(f"name the file: passport import {what} FILE.csv")
        return [(what, file)]
    if what == "stock":
        raise click.UsageError("stock is worked out of the records, not typed: take over lots, runs, items or events")
    if file is not None or not Path(what).is_dir():
        hint = did_you_mean(what, KINDS) or f"wanted one of {kinds}, or a folder with their tables"
        raise click.UsageError(f'met "{what}"; {hint}')
    found = [(kind, Path(what) / f"{kind}.csv") for kind in KINDS if (Path(what) / f"{kind}.csv").is_file()]
    if not found:
        raise click.UsageError(f"met no table in {what}, wanted files such as lots.csv; the tables are {kinds}")
    return found


def _plan(
    columns: Sequence[str],
    units: Sequence[str],
    dates: str,
    century: str | None,
    decimal: str | None,
    words: Sequence[str],
    fill: Sequence[str],
    series: str | None,
) -> Plan:
    from passport.reading.sheets import Plan  # noqa: PLC0415

    said: dict[str, Any] = {
        "columns": _pairs(columns, "--map"),
        "units": _pairs(units, "--unit"),
        "dates": dates,
        "century": century,
        "decimal": decimal,
        "words": _pairs(words, "--word"),
        "fill": _pairs(fill, "--fill", first=True),
        "series": (series or "").upper(),
    }
    return Plan(**{name: value for name, value in said.items() if value})


def _pairs(given: Sequence[str], option: str, *, first: bool = False) -> dict[str, str]:
    """`Gewicht=mass` and its like. A heading may hold the sign =, so the last one parts; a field cannot: the first."""
    pairs = [text.partition("=") if first else text.rpartition("=") for text in given]
    for text, (left, _, right) in zip(given, pairs, strict=True):
        if not left.strip() or not right.strip():
            raise click.UsageError(f'{option}: met "{text}", wanted two texts with = between them')
    return {left.strip(): right.strip() for left, _, right in pairs}


def _rows(text: str, option: str) -> tuple[int, ...]:
    """`57,91-94` as the rows that it means."""
    numbers: list[int] = []
    for part in text.replace(" ", "").split(",") if text else ():
        first, _, last = part.partition("-")
        if not first.isdigit() or (last and not last.isdigit()) or "-" in part[-1:]:
            raise click.UsageError(f'{option}: met "{part}", wanted rows such as 57 or 91-94')
        numbers += range(int(first), min(int(last or first), int(first) + 100_000) + 1)
    return tuple(numbers)
