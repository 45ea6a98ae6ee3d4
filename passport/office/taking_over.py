"""The second half of `deposit`: the records of a workshop that closed, out of its deposit, beside our own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import click

from passport.deposit.verifying import Deposit, opened
from passport.disk import Refused
from passport.office import desk
from passport.problems import Place, Problem, errors_in, in_order, plain
from passport.reading.ancestors import Ancestor, joined
from passport.reading.folder import ancestor_at, read_shop
from passport.reading.shop import Shop
from passport.reading.tag_lists import FROM
from passport.reading.tag_numbers import is_prefix
from passport.verdicts.book import work_out
from passport.writing import Writer, sole_writer

RECORDS = "data/content/"
LARGEST = 200_000_000
"""Bytes of one file that is taken over: no photograph and no paper comes near it."""
NOTE = "TAKEN-OVER.md"


def take(path: Path, folder: Path, *, as_json: bool) -> None:
    """Bring the records of a deposit into content/from/PREFIX/, or say why not and change nothing."""
    content = desk.content_of(folder)
    with desk.refusals(), opened(path) as deposit, sole_writer(content, say=desk.say) as writer:
        own, problems = read_shop(content)
        if own is None or errors_in(problems):
            desk.stop(problems)
        ancestor = _taken(writer, own, deposit)
    theirs = ancestor.shop
    said = {
        "folder": ancestor.folder,
        "workshop": theirs.workshop.name,
        "prefix": theirs.workshop.prefix,
        "lots": len(theirs.lots),
        "items": len(theirs.items),
        "tags": len(theirs.issued),
        "sha256": deposit.sha256,
    }
    if as_json:
        click.echo(json.dumps(said, ensure_ascii=False, indent=1))
    _say_what_next(ancestor)


def _say_what_next(ancestor: Ancestor) -> None:
    theirs = ancestor.shop
    desk.say(
        f"{ancestor.folder}/: {len(theirs.lots)} lots, {len(theirs.items)} batches and {len(theirs.issued)} tags of "
        f"{plain(theirs.workshop.name)}; its lot X is now {ancestor.prefix}-X, its tags keep their numbers"
    )
    if theirs.workshop.address:
        desk.say(f"its tags lead to {plain(theirs.workshop.address)}/T/…: have that address lead to yours, and publish")


def _taken(writer: Writer, own: Shop, deposit: Deposit) -> Ancestor:
    """Lay the records aside, read them, join them, and only then give them their place."""
    prefix = deposit.prefix
    called = f"content/{FROM}/{prefix}"
    if not is_prefix(prefix):
        raise Refused(_odd(deposit, f'met "{prefix}", which is no prefix of tag numbers'))
    found: list[Ancestor] = []

    def check(aside: Path) -> None:
        problems: list[Problem] = []
        found.extend(ancestor_at(aside, called, problems))
        if found and not errors_in(problems):
            whole, clashes = joined(own, found)
            problems += [*clashes, *(() if clashes else work_out(whole).problems)]
        if errors_in(problems):
            raise Refused(*in_order(errors_in(problems)))

    writer.write_folder(f"{FROM}/{prefix}", _records(deposit), check)
    return found[0]


def _records(deposit: Deposit) -> Iterator[tuple[str, bytes]]:
    """The records as they were deposited, and a note on where they are from."""
    for path, member in deposit.below(RECORDS):
        if member.size > LARGEST:
            raise Refused(_odd(deposit, f"met {path} with {member.size} bytes, wanted at most {LARGEST}"))
        if any(part.startswith(".") for part in path.split("/")):
            raise Refused(_odd(deposit, f'met "{path}", a name with a leading dot, wanted records'))
        yield path, deposit.content(member)
    name = deposit.base.rstrip("/")
    yield NOTE, f"Taken over from {name}, SHA-256 {deposit.sha256}. These files stay as they were written.\n".encode()


def _odd(deposit: Deposit, message: str) -> Problem:
    hint = "take the file that `passport deposit` wrote"
    return Problem(code="deposit-odd-records", message=message, place=Place(str(deposit.path)), hint=hint)
