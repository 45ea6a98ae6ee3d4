"""Which cautions and care lines belong to a thing: one table of rules over its resin, uses, streams and weathering.

Information only: each list ends with the line that local rules and licensed professionals come first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from passport.massflow import Mixture
from passport.material.advice import care_for, cautions
from passport.material.resins import resins
from passport.material.tables import cited
from passport.reading.fields import Words
from passport.reading.records import Item
from passport.verdicts.book import Book
from passport.verdicts.life import Life

NOT_NEGLIGIBLE = Fraction(1, 100)
"""From this share on, what a stream may hold is worth a caution (a design choice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution, in words by language."""

    key: str
    sign: str
    """Which little drawing stands beside it."""
    text: Mapping[str, str]
    why: Mapping[str, str]
    source: str
    sources: tuple[str, ...]
    """Keys of the same, for pages in other languages."""


@cache
def _rules() -> tuple[Mapping[str, Any], ...]:
    text = files(__package__).joinpath("caution_rules.yaml").read_text(encoding="utf-8")
    return tuple(yaml.safe_load(text))


def cautions_of_item(book: Book, item: Item) -> tuple[Caution, ...]:
    """The cautions of a batch, in the order of the table."""
    return _cautions(book, item, book.ledger.mixtures[item.id])


def cautions_of_thing(book: Book, life: Life) -> tuple[Caution, ...]:
    """The cautions of one thing as it is now, with what repairs put in."""
    item = book.shop.items[life.item]
    return _cautions(book, item, book.ledger.tag_mixture(life.tag) or book.ledger.mixtures[item.id])


def _cautions(book: Book, item: Item, mixture: Mixture) -> tuple[Caution, ...]:
    found = frozenset(_conditions(book, mixture))
    return tuple(_caution(rule) for rule in _rules() if _applies(rule, found, book, item))


def _conditions(book: Book, mixture: Mixture) -> Iterator[str]:
    """What is so about the material of a batch: always, closed-loop, old, and `resin:KEY` for each resin's keys."""
    yield "always"
    for name, share in mixture.shares_by("stream").items():
        stream = book.shop.streams.get(name)
        if stream is not None and share.high >= NOT_NEGLIGIBLE:
            if stream.closed_loop:
                yield "closed-loop"
            if stream.made_before is not None:
                yield "old"
    for symbol in mixture.shares_by("resin"):
        if symbol in resins():
            yield from (f"resin:{key}" for key in resins()[symbol].cautions)


def _applies(rule: Mapping[str, Any], found: frozenset[str], book: Book, item: Item) -> bool:
    when = rule["when"]
    product = book.shop.products.get(item.product)
    uses = set(product.uses) if product else set()
    if uses & set(rule.get("unless", ())):
        return False
    if when == "uses":
        return bool(uses & set(rule["uses"]))
    if when == "resin":
        return f"resin:{rule['key']}" in found
    return when in found


def _caution(rule: Mapping[str, Any]) -> Caution:
    advice = cautions()[rule["key"]]
    why = {lang: str(rule[lang]) for lang in advice.words}
    return Caution(
        key=advice.key,
        sign=rule["sign"],
        text=advice.words,
        why=why,
        source=cited(advice.sources),
        sources=advice.sources,
    )


def care_of(symbols: Sequence[str]) -> tuple[Words, ...]:
    """How to look after things of these resins: sun, cold, load and cleaning, each line once."""
    found = (care_for(symbol) for symbol in symbols)
    lines = (line for care in found if care is not None for line in care.lines())
    return tuple(dict.fromkeys(Words(tuple(line.words.items())) for line in lines))
