"""`trace`: back to the streams, forward to the tags, and how a printed figure came about."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import click

from passport.amounts import largest_remainder
from passport.massflow.composition import tag_node
from passport.massflow.explain import OF, explain
from passport.massflow.rounding import account
from passport.massflow.trace import reached_from, sources_of
from passport.massflow.whereabouts import whereabouts
from passport.office import desk
from passport.office.desk import exact_kg
from passport.office.stages import worked_out
from passport.office.wording import GRAMS
from passport.problems import Place, Problem, did_you_mean
from passport.reading.tag_numbers import nearest
from passport.verdicts.book import Book

PERCENT_PLACES = 2


@click.command()
@click.argument("name", metavar="LOT|ITEM|TAG")
@click.option("--forward", is_flag=True, help="Which lots, things and tags hold material of this lot.")
@click.option(
    "--explain",
    "explain_figure",
    metavar="FIGURE",
    help="How a figure came about: recycled, post-consumer, mass, closure, stock, or such as resin:PP, stream:QUAY.",
)
@click.option("--of", type=click.Choice(OF), default=None, help="What --explain recycled is a share of.")
@click.option("--part", default="", metavar="PART", help="The part that --of component means.")
@click.option("--recall", is_flag=True, help="Where every kilogram of this lot is now; adds up to its mass.")
@desk.at_option
@desk.json_option
@desk.folder_option
def command(
    name: str,
    at: date | None,
    folder: Path,
    *,
    forward: bool,
    recall: bool,
    explain_figure: str | None,
    of: str | None,
    part: str,
    as_json: bool,
) -> None:
    """Follow a lot, an item batch or a tag back to its streams with masses, or a lot forward to its tags.

    The masses of all sources add up to the mass of what is traced.

    \b
    Example:
      passport trace RY-22224M
      passport trace IN-014 --forward
      passport trace IN-014 --recall
      passport trace PL-2026-05 --explain recycled
      passport trace PL-2026-05 --explain recycled --of component --part lid
    """
    book, _ = worked_out(folder, at)
    node = _node(book, name.upper())
    if node not in book.ledger.mixtures and explain_figure != "closure":
        message = f'met the run "{node}", wanted a lot, an item batch or a tag'
        hint = "a run has one figure: --explain closure"
        desk.stop([Problem(code="run-not-lot", message=message, place=Place("trace"), hint=hint)])
    if explain_figure:
        whose = _repaired(book, name.upper()) or node
        rows = list(_explained(book, whose, explain_figure, of or "", part))
    elif recall:
        rows = list(_recalled(book, node))
    elif forward:
        rows = list(_forward(book, node))
    else:
        own = _repaired(book, name.upper())
        rows = list(_backward(book, own or node, 1 if own else _pieces(book, name.upper())))
    if as_json:
        click.echo(json.dumps(rows, ensure_ascii=False, indent=1))
    else:
        for line in _as_table(rows):
            click.echo(line)


Row = dict[str, str]


def _node(book: Book, name: str) -> str:
    """The lot or item batch that a name stands for; a tag stands for its batch."""
    if name in book.lives:
        return book.lives[name].item
    if name in book.ledger.mixtures or name in book.ledger.operations:
        return name
    known = [*book.ledger.mixtures, *book.ledger.operations, *book.lives]
    near = nearest(name, book.lives)
    issued = f"the nearest issued: {', '.join(near)}" if near else ""
    looks_like_a_tag = name.startswith(f"{book.shop.workshop.prefix}-")
    hint = (issued if looks_like_a_tag else "") or did_you_mean(name, known) or issued
    message = f'met "{name}", which is no lot, item batch or issued tag'
    return desk.stop([Problem(code="unknown-name", message=message, place=Place("trace"), hint=hint)])


def _percent(share: object) -> str:
    return f"{float(share) * 100:.{PERCENT_PLACES}f} %"  # type: ignore[arg-type]


def _pieces(book: Book, name: str) -> int:
    """How many things share what is traced: a tag is one thing of its batch."""
    life = book.lives.get(name)
    return book.shop.items[life.item].count.pieces if life else 1


def _backward(book: Book, node: str, pieces: int) -> Iterator[Row]:
    """The sources, masses and shares each rounded together, so that the columns add up as printed."""
    origins = sources_of(book.ledger, node)
    weighed = [origin.mass_kg / pieces for origin in origins if origin.mass_kg is not None]
    masses = iter(largest_remainder(weighed, GRAMS))
    shares = largest_remainder([origin.share * 100 for origin in origins], PERCENT_PLACES)
    for origin, share in zip(origins, shares, strict=True):
        yield {
            "lot": origin.lot,
            "stream": origin.stream,
            "mass_kg": exact_kg(None if origin.mass_kg is None else Fraction(next(masses))),
            "share": f"{share} %",
        }


def _forward(book: Book, node: str) -> Iterator[Row]:
    for reached in reached_from(book.ledger, node):
        yield {
            "in": reached.node,
            "mass_kg": exact_kg(reached.mass_kg),
            "share": _percent(reached.share),
            "each_kg": exact_kg(reached.each_kg) if reached.each_kg is not None else "",
            "tags": " ".join(reached.tags),
        }


def _repaired(book: Book, name: str) -> str:
    """A repaired thing has a composition of its own; "" for any other."""
    node = tag_node(name)
    return node if node in book.ledger.mixing.nodes else ""


def _recalled(book: Book, node: str) -> Iterator[Row]:
    """Things with their tags, stock, sendings and losses, rounded so that they add up to the lot as printed."""
    if node not in book.ledger.stock:
        message = f"met {node}, which is no lot, wanted a lot to recall"
        desk.stop([Problem(code="recall-no-lot", message=message, place=Place("trace"))])
    found = whereabouts(book.ledger, node)
    masses = [row.mass_kg for row in found]
    printed = account([*masses, -sum(masses, Fraction(0))], GRAMS)
    for row, mass in zip(found, printed, strict=False):
        each = exact_kg(row.each_kg) if row.each_kg is not None else ""
        yield _recall_row(row.kind, row.node, mass, each, " ".join(row.tags))
    yield _recall_row("together", node, -printed[-1] + 0, "", "")


def _recall_row(kind: str, node: str, mass: Decimal, each: str, tags: str) -> Row:
    return {"where": kind, "in": node, "mass_kg": f"{mass:.{GRAMS}f}", "each_kg": each, "tags": tags}


def _explained(book: Book, node: str, figure: str, of: str, part: str) -> Iterator[Row]:
    """The chain of records and formulas behind a figure, sources first, as a person would check it by hand."""
    try:
        steps = explain(book.ledger, node, figure, of=of, part=part)
    except ValueError as slip:
        desk.stop([Problem(code="unknown-figure", message=str(slip), place=Place("trace"))])
    for step in steps:
        yield {
            "of": step.about,
            "value": step.value,
            "formula": step.formula,
            "rule": step.rule,
            "records": " ".join(step.records),
        }


def _as_table(rows: list[Row]) -> Iterator[str]:
    if not rows:
        yield "nothing"
        return
    columns = list(rows[0])
    width = {c: max(len(c), *(len(row[c]) for row in rows)) for c in columns}
    yield "  ".join(f"{c.replace('_kg', ' kg'):<{width[c] + (' kg' in c)}}" for c in columns).rstrip()
    for row in rows:
        yield "  ".join(f"{row[c]:<{width[c]}}" for c in columns).rstrip()
