"""`handback`: what comes back becomes a lot that draws on its tags."""

from __future__ import annotations

import json
from pathlib import Path

import click

from passport.office import desk, handing_back
from passport.office.asking import Asked


@click.command()
@click.argument("tags", nargs=-1, required=True, metavar="TAG...")
@click.option("--on", metavar="DAY", help="The day it came back. Default: today.")
@click.option("--parts", multiple=True, metavar="NAMES", help='Which parts came: "body, lid"; "TAG=body" of one thing.')
@click.option("--not-back", multiple=True, metavar="NAMES", help="Instead: which parts did not come.")
@click.option("--into", metavar="LOT", help="A new number, or a lot that stands here. Default: the next free number.")
@click.option("--gross", metavar="MASS", help="With its container, kg unless said.")
@click.option("--tare", metavar="MASS", help="The container alone; 0 without one.")
@click.option("--mass", metavar="MASS", help='Instead of both: without its container; or "?" for not weighed.')
@click.option("--scale", metavar="NAME", help="Which scale. Default: the first one.")
@click.option("--pieces", metavar="N", help="How many pieces it has.")
@click.option("--moisture", metavar="SHARE", help='Water in it: "0.5 %".')
@click.option("--form", metavar="WORD", help="pieces, mouldings, sheets and so on.")
@click.option("--weathering", metavar="WORD", help="Sun and frost on it, by eye: none, light or heavy.")
@click.option("--colour", metavar="TEXT", help="Its colour now.")
@click.option("--condition", metavar="TEXT", help="How it is, in words.")
@click.option("--kept", metavar="PLACE", help="Where it will stand.")
@click.option("--photo", metavar="FILE", help="A file in content/photos/.")
@click.option("--because", metavar="TEXT", help="Why what does not fit goes together, or what else came along.")
@click.option("--together", metavar="MASS", help="With a lot that stands here: what both weigh together.")
@click.option("--together-scale", metavar="NAME", help="On which scale that was. Default: the first one.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written; write nothing.")
@desk.json_option
@desk.folder_option
def command(
    tags: tuple[str, ...],
    parts: tuple[str, ...],
    not_back: tuple[str, ...],
    folder: Path,
    *,
    yes: bool,
    dry_run: bool,
    as_json: bool,
    **given: str | None,
) -> None:
    """Take back things with their tags: a new lot that knows from their passports what it is.

    After a hand-over all of the plastic is post-consumer and has lived one life more; what never left is an own
    offcut and keeps its shares. Whatever came before stays in its ancestry. Every question is an option too; at
    a question "?" says that nobody knows, "why" explains it, an empty line takes what stands in brackets.

    Things of different resins are not put together unless --because says why. With --into a lot that stands here,
    two records are written, both or neither: the lot of what came back, and a merging of the two.

    \b
    Example:
      passport handback RY-22224M
      passport handback RY-22224M --mass 11.7 --weathering light --condition "screws out, sound"
      passport handback RY-22229C --parts body --mass 710g --into CB-004
      passport handback RY-2223XW RY-2223ZS --gross 24.1 --tare 0.8 --into HD-020
    """
    order = handing_back.Order(
        folder=folder,
        typed=tags,
        parts=parts,
        not_back=not_back,
        ask=Asked(given={name.replace("_", "-"): text for name, text in given.items()}),
        yes=yes,
        dry_run=dry_run,
    )
    done = handing_back.take_back(order)
    if as_json:
        click.echo(json.dumps(done, ensure_ascii=False, indent=1))
    elif done["written"]:
        click.echo(done["lot"])
