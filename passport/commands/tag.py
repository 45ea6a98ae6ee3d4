"""`tag`: issue numbers for the things of an item batch."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from passport.commands import desk
from passport.problems import Place, Problem, did_you_mean, errors_in
from passport.reading.folder import read_shop
from passport.reading.records import Item
from passport.reading.shop import Shop
from passport.reading.tag_lists import FIRST_SEAL, ISSUED_HEADER, issued_line, seal_in
from passport.reading.tag_numbers import next_numbers
from passport.writing import AppendLines, sole_writer

LIST = "tags-issued.csv"


def numbers_for(shop: Shop, item: Item, count: int | None, day: dt.date) -> tuple[str, ...]:
    """The lines that issue numbers to pieces of `item` which have none yet, at most `count`."""
    given = {entry.piece for entry in shop.issued if entry.item == item.id}
    pieces = [n for n in range(1, item.count.pieces + 1) if n not in given][:count]
    last = shop.issued[-1] if shop.issued else None
    numbers = next_numbers(shop.workshop.prefix, last.tag if last else None, len(pieces))
    seal, lines = last.seal if last else FIRST_SEAL, []
    for tag, piece in zip(numbers, pieces, strict=True):
        lines.append(issued_line(seal, tag=tag, item=item.id, piece=piece, issued=day))
        seal = seal_in(lines[-1])
    return tuple(lines)


@click.command()
@click.argument("item")
@click.option("--count", type=click.IntRange(min=1), help="How many. Default: every piece that has none yet.")
@click.option("--on", "day", type=desk.DAY, help="The day of issue. Default: today.")
@desk.folder_option
def command(item: str, count: int | None, day: dt.date | None, folder: Path) -> None:
    """Issue tag numbers for the things of the batch ITEM.

    Numbers go into content/tags-issued.csv, one line each, and are never used again. Where two people
    issued numbers on two copies, the list meets as a conflict: give up the number not yet stuck on.

    \b
    Example:
      passport tag PL-2026-05
      passport tag PL-2026-05 --count 2
    """
    content = desk.content_of(folder)
    with desk.refusals(), sole_writer(content, say=desk.say) as writer:
        shop, problems = read_shop(content)
        if shop is None or errors_in(problems):
            desk.stop(problems)
        batch = shop.items.get(item.upper())
        if batch is None:
            desk.stop([_unknown_item(item, shop)])
        # the day of issue is a record, not a figure: the clock is asked here and nowhere below
        lines = numbers_for(shop, batch, count, day or dt.datetime.now(tz=dt.UTC).date())
        if lines:
            writer.write([AppendLines(LIST, lines, ISSUED_HEADER.rstrip("\n"))])
    for line in lines:
        click.echo(line.split(",")[0])
    desk.say(f"{len(lines)} issued for {batch.id}" if lines else f"every piece of {batch.id} has its number")


def _unknown_item(item: str, shop: Shop) -> Problem:
    hint = did_you_mean(item, shop.items) or "item batches are the files in content/items/"
    return Problem(
        code="unknown-item", message=f'met the item "{item}", which has no record', place=Place("tag"), hint=hint
    )
