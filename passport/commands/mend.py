"""`mend`: a repair with its run, the old part as a lot, and the event; all of it or nothing."""

from __future__ import annotations

import json
from pathlib import Path

import click

from passport.office import desk, mended
from passport.office.asking import Asked


@click.command()
@click.argument("tag", metavar="TAG")
@click.option("--on", metavar="DAY", help="The day it was mended. Default: today.")
@click.option("--part", metavar="NAME", help="Which part is new, where the thing has several.")
@click.option("--from", "source", metavar="LOT", help="The lot that the new part was taken from.")
@click.option("--mass", metavar="MASS", help="What went in: a mass, kg unless said, or pieces such as 2 pcs.")
@click.option("--old-mass", metavar="MASS", help='What came out, kg unless said; "?" for not weighed.')
@click.option("--old-lot", metavar="LOT", help="The number of the old part's lot. Default: the next free one.")
@click.option("--scale", metavar="NAME", help="Which scale. Default: the first one.")
@click.option("--weathering", metavar="WORD", help="Sun and frost on the old part: none, light or heavy.")
@click.option("--because", metavar="TEXT", help="Why the new part is of another resin than the old one.")
@click.option("--note", metavar="TEXT", help="What was wrong, in words for the thing's page; no names of people.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written; write nothing.")
@desk.json_option
@desk.folder_option
def command(
    tag: str,
    source: str | None,
    folder: Path,
    *,
    yes: bool,
    dry_run: bool,
    as_json: bool,
    **given: str | None,
) -> None:
    """Record a repair that puts new material into a tagged thing and takes the old part out.

    Three things are written together: the run that draws on the lot and on the thing, the lot that the old part is
    now, and the event on the thing's page. What the thing is made of changes for this thing alone, not for its
    batch. Weigh the part that goes in, not the bar it was cut from.

    A new screw or a drop of oil is no such run: passport event inspected TAG --condition "new screw".

    \b
    Example:
      passport mend RY-22225K --part lid --from BAR-010 --mass 1.2 --old-mass 1.1
      passport mend RY-22225K --from BAR-010 --mass "2 pcs" --old-mass 2.4 --note "two slats were split"
    """
    order = mended.Order(
        folder=folder,
        typed=tag,
        ask=Asked(given={name.replace("_", "-"): text for name, text in given.items()} | {"from": source}),
        yes=yes,
        dry_run=dry_run,
    )
    done = mended.mend(order)
    if as_json:
        click.echo(json.dumps(done, ensure_ascii=False, indent=1))
    elif done["written"]:
        click.echo(done["run"])
