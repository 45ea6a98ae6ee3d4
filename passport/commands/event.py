"""`event`: record what happened to things or lots, one by one or many at once from a table."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from passport.office import desk, event_desk
from passport.reading.spreadsheet import ORDERS

F = TypeVar("F", bound=Callable[..., Any])
OPTIONS = {
    "place": "Where: a coarse place only, never a street number or a name.",
    "condition": "How it is, in words (inspected).",
    "weathering": "none, light or heavy (inspected).",
    "stream": "Which other stream its material went to (given-on).",
    "because": "Why, or how.",
    "to": "To whom: a firm or a kind of taker (sent).",
    "mass": "How much, such as 3.4 kg (weighed, sent, written-off).",
    "scale": "The scale it was weighed on.",
    "run": "The run of a repair that has its record already (repaired).",
    "note": "Anything worth telling; no names of people.",
}


def _field_options(command: F) -> F:
    for name, told in reversed(OPTIONS.items()):
        command = click.option(f"--{name}", help=told)(command)
    return command


@click.command()
@click.argument("kind", required=False)
@click.argument("names", nargs=-1, metavar="[TAG|LOT]...")
@click.option("--on", "day", type=desk.DAY, help="The day it happened. Default: today.")
@_field_options
@click.option("--csv", "table", type=click.Path(dir_okay=False, path_type=Path), help="Many at once, from a table.")
@click.option("--dates", type=click.Choice(ORDERS), help="How it writes 03/04/2026.")
@click.option("--dry-run", is_flag=True, help="Show what would be written, and write nothing.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@desk.json_option
@desk.folder_option
def command(
    kind: str | None,
    names: tuple[str, ...],
    day: dt.date | None,
    table: Path | None,
    dates: str | None,
    folder: Path,
    *,
    dry_run: bool,
    yes: bool,
    as_json: bool,
    **fields: str | None,
) -> None:
    """Record what happened to tagged things, or to lots.

    \b
    Of things: handed-over, put-up, moved, inspected, taken-apart, given-on, lost,
               destroyed, withdrawn, repaired (with a run; see also: passport mend)
    Of lots:   weighed, held, released, refused, sent, written-off

    What came back has its own command (handback), and so has a new tag for an old one (tag --replaces). Whatever
    an event needs is asked, or given by its option. Nothing is recorded that cannot have happened in that order.

    A table has a row for each event and the columns date, tag or lot, event, and those of its fields; KIND, --on
    and the other options fill cells that are empty. Semicolons, tabs, decimal commas and the usual encodings are
    read. Either all rows are recorded or none.

    \b
    Example:
      passport event handed-over RY-22224M RY-22225K --place allotments
      passport event inspected RY-22224M --condition "one screw loose" --weathering light
      passport event weighed SH-021 --mass "3.4 kg" --because "moved to the dry shelf"
      passport event --csv fair.csv --dry-run
      passport event handed-over --csv fair.csv --on 2026-07-18 --place "summer fair"
    """
    given = {name: text for name, text in fields.items() if text is not None}
    order = event_desk.Order(folder=folder, kind=kind or "", names=names, day=day, given=given, dates=dates or "")
    if table is not None:
        written = event_desk.from_table(order, table, yes=yes, dry_run=dry_run)
    else:
        written = event_desk.from_names(order, yes=yes, dry_run=dry_run)
    if as_json:
        click.echo(json.dumps(written, ensure_ascii=False, indent=1))
