"""`tag`: issue numbers for the things of an item batch."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import click

from passport.office import desk
from passport.office.numbers import LIST, ended, numbers_for
from passport.office.typed import issued_tag
from passport.problems import Place, Problem, did_you_mean, errors_in
from passport.reading.folder import read_shop
from passport.reading.records import Item
from passport.reading.shop import Shop
from passport.reading.tag_lists import ISSUED_HEADER, RESTORE
from passport.verdicts.life import Life, Stage, lives
from passport.writing import AppendLines, Change, NewFile, sole_writer

HERE = Place("tag")


@click.command()
@click.argument("item", required=False)
@click.option("--count", type=click.IntRange(min=1), help="How many. Default: every piece that has none yet.")
@click.option(
    "--piece", "pieces", type=click.IntRange(min=1), multiple=True, help="Only this piece; may stand several times."
)
@click.option("--replaces", metavar="TAG", help="A new number for the thing whose tag TAG is lost or spoilt.")
@click.option("--on", "day", type=desk.DAY, help="The day of issue. Default: today.")
@desk.folder_option
def command(
    item: str | None,
    count: int | None,
    pieces: tuple[int, ...],
    replaces: str | None,
    day: dt.date | None,
    folder: Path,
) -> None:
    """Issue tag numbers for the things of the batch ITEM.

    Numbers go into content/tags-issued.csv, one line each, and are never used again. Things sold before they
    had a tag get theirs in the same way: write the batch's record, with its count, and name the piece.

    A tag that is lost or spoilt is replaced by --replaces: the thing gets a new number, the page of the old one
    leads to the new one, and both are recorded together.

    Where two people issued numbers on two copies, the list meets as a conflict, never as two things with one
    number. Keep the lines of the side whose tags are already stuck on things, delete the other side's lines and
    the marker lines, and issue again: the number not yet stuck on is given up. Where both are stuck on, take one
    tag off its thing first.

    \b
    Example:
      passport tag PL-2026-05
      passport tag PL-2026-05 --count 2
      passport tag PL-2024-12 --piece 3
      passport tag --replaces RY-22224M
    """
    _refuse_wrong_use(item, count, pieces, replaces)
    content = desk.content_of(folder)
    # the day of issue is a record, not a figure: the clock is asked here and nowhere below
    on = day or dt.datetime.now(tz=dt.UTC).date()
    with desk.refusals(), sole_writer(content, say=desk.say) as writer:
        shop, problems = read_shop(content)
        if shop is None or errors_in(problems):
            desk.stop(problems)
        old = _replaced(shop, replaces) if replaces else None
        batch = _batch(shop, old.item if old else item or "")
        asked = (old.piece,) if old else tuple(dict.fromkeys(pieces))
        if not old:
            _refuse_pieces(shop, batch, asked)
        try:
            lines = numbers_for(shop, batch, count, on, asked)
        except ValueError as slip:
            desk.stop([Problem(code="numbers-used-up", message=str(slip), place=HERE)])
        numbers = [line.split(",")[0] for line in lines]
        _refuse_published(folder, numbers)
        changes: list[Change] = [AppendLines(LIST, lines, ISSUED_HEADER.rstrip("\n"))] if lines else []
        if old:
            changes.append(_event(old, numbers[0], on))
        writer.write(changes)
    for number in numbers:
        click.echo(number)
    desk.say(_said(batch, numbers, count, old))


def _refuse_wrong_use(item: str | None, count: int | None, pieces: Sequence[int], replaces: str | None) -> None:
    if bool(item) == bool(replaces):
        raise click.UsageError("name the batch ITEM, or --replaces TAG, one of the two")
    if count and pieces:
        raise click.UsageError("--count and --piece exclude each other")
    if replaces and (count or pieces):
        raise click.UsageError("--replaces is for one thing; it takes neither --count nor --piece")


def _said(batch: Item, numbers: Sequence[str], count: int | None, old: Life | None) -> str:
    if old:
        return f"{old.tag} is replaced by {numbers[0]}: piece {old.piece} of {batch.id}"
    if not numbers:
        return f"every piece of {batch.id} has its number"
    if count and len(numbers) < count:
        return f"{len(numbers)} issued for {batch.id}, not {count}: its record counts {batch.count.pieces} pieces"
    return f"{len(numbers)} issued for {batch.id}"


def _batch(shop: Shop, item: str) -> Item:
    batch = shop.items.get(item.upper())
    if batch is None:
        hint = did_you_mean(item.upper(), shop.items) or "item batches are the files in content/items/"
        message = f'met the item "{item}", which has no record'
        desk.stop([Problem(code="unknown-item", message=message, place=HERE, hint=hint)])
    return batch


def _refuse_pieces(shop: Shop, batch: Item, pieces: Sequence[int]) -> None:
    """A piece has one number at a time; one whose number was withdrawn before it was stuck on may get another."""
    used = {life.piece: life for life in lives(shop).values() if life.item == batch.id}
    found = []
    for piece in pieces:
        life = used.get(piece)
        if piece > batch.count.pieces:
            message = f"met piece {piece} of {batch.id}, which has {batch.count.pieces}"
            found.append(Problem(code="no-such-piece", message=message, place=HERE, hint="see `count:` in its record"))
        elif life and life.stage is not Stage.WITHDRAWN:
            which = "" if life.open else f", which {ended(life)}"
            message = f"piece {piece} of {batch.id} has the number {life.tag}{which}"
            hint = f"if that tag is lost or spoilt: passport tag --replaces {life.tag}" if life.open else "name another"
            found.append(Problem(code="piece-has-number", message=message, place=HERE, hint=hint))
    if found:
        desk.stop(found)


def _replaced(shop: Shop, typed: str) -> Life:
    """The thing whose tag is to be replaced, still about."""
    known = lives(shop)
    tag = issued_tag(typed, shop.workshop.prefix, known, HERE)
    if isinstance(tag, Problem):
        desk.stop([tag])
    life = known[tag]
    if not life.open:
        hint = "a number that has ended stays so; a thing that is there after all needs its event put right"
        desk.stop([Problem(code="tag-ended", message=f"{life.tag} {ended(life)}", place=HERE, hint=hint)])
    return life


def _event(old: Life, new: str, on: dt.date) -> NewFile:
    """The event in a file of its own, so that no file written by a person is touched."""
    text = f'- {{date: {on.isoformat()}, tag: "{old.tag}", event: replaced, by: "{new}"}}\n'
    return NewFile(f"events/replaced-{old.tag}.yaml", text)


def _refuse_published(folder: Path, numbers: Sequence[str]) -> None:
    """A number that has a page already was issued once: the end of the list is lost."""
    pages = folder.resolve() / "site" / "T"
    there = [number for number in numbers if (pages / number).exists()]
    if there:
        message = f"met a page of {there[0]} in site/, which the list does not have: lines are missing at its end"
        desk.stop([Problem(code="tag-list-short", message=message, place=Place(f"content/{LIST}"), hint=RESTORE)])
