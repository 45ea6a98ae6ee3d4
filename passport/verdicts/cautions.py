"""Which cautions and care lines belong to a thing: one table of rules over its resin, uses, streams and weathering.

Information only: each list ends with the line that local rules and licensed professionals come first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from passport.massflow import Mixture
from passport.material.advice import care_for, cautions
from passport.material.tables import cited
from passport.reading.fields import Words
from passport.reading.records import Item
from passport.verdicts.book import Book
from passport.verdicts.life import Life
from passport.verdicts.made_of import MadeOf, bright_lots, made_of, measured_substances
from passport.verdicts.special_uses import tested_uses


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
    known = _Known(
        material=made_of(mixture, book.shop),
        uses=frozenset(book.shop.products[item.product].uses) if item.product in book.shop.products else frozenset(),
        tested=tested_uses(book.shop, item),
        bright=bright_lots(book.ledger, item.id),
        measured=measured_substances(book.ledger, item.id),
    )
    return tuple(_caution(rule) for rule in _rules() if _applies(rule, known))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What the rules ask about a thing."""

    material: MadeOf
    uses: frozenset[str]
    tested: frozenset[str]
    """Uses that evidence names."""
    bright: bool
    measured: frozenset[str]
    """Substances with a laboratory's figure."""


def _applies(rule: Mapping[str, Any], known: _Known) -> bool:
    """Whether a rule speaks, and nothing on record makes it untrue."""
    if known.uses & set(rule.get("unless", ())) or known.tested & set(rule.get("tested", ())):
        return False
    if known.measured & set(rule.get("untested", ())):
        return False
    return _is_so(rule, known)


def _is_so(rule: Mapping[str, Any], known: _Known) -> bool:
    when = rule["when"]
    if when == "always":
        return True
    if when == "uses":
        return bool(known.uses & set(rule["uses"]))
    if when == "bright":
        return known.bright
    mark = f"caution {rule.get('of', rule['key'])}" if when == "resin" else when
    return known.material.has(mark, rule.get("share", 0))


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
