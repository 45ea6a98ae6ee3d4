"""Whether a product may be used for what it is declared for: food, feed, toys, steps and the like need evidence.

Evidence is named in the record, in `tested_for:` of the product (its design) or of a batch. Information only: local
rules and licensed professionals come first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from passport.massflow import Ledger
from passport.material.tables import cited
from passport.problems import Level, Place, Problem
from passport.reading.records import Item, Product
from passport.reading.shop import Shop
from passport.verdicts.claims import denied, folded
from passport.verdicts.free_texts import FreeText, place_of
from passport.verdicts.made_of import made_of

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
FIELD = "tested_for"
_SAYS_WHAT_FOR = ("title", "made_for")


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """One use that needs evidence."""

    use: str
    level: Level
    why: str
    wants: str
    source: str
    covers: frozenset[str]
    """The uses whose evidence counts."""
    words: tuple[tuple[tuple[str, ...], re.Pattern[str]], ...]


@cache
def _table() -> Mapping[str, Any]:
    text = files(__package__).joinpath("special_uses.yaml").read_text(encoding="utf-8")
    loaded: dict[str, Any] = yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader
    return loaded


@cache
def declared_uses() -> tuple[Declared, ...]:
    """Every use that needs evidence, in the order of the table."""
    return tuple(
        Declared(
            use=row["use"],
            level=Level(row["level"]),
            why=row["why"],
            wants=row["wants"],
            source=cited(tuple(row["from"])),
            covers=frozenset({row["use"], *row.get("covers", ())}),
            words=tuple((tuple(stems.split("|")), re.compile(pattern)) for stems, pattern in row["words"]),
        )
        for row in _table()["declared"]
    )


def tested_uses(shop: Shop, item: Item) -> frozenset[str]:
    """The uses that the evidence of a batch or of its product names."""
    product = shop.products.get(item.product)
    tests = (*item.tested_for, *(product.tested_for if product else ()))
    return frozenset(test.use for test in tests)


def use_problems(shop: Shop) -> tuple[Problem, ...]:
    """Uses that products are declared for without evidence."""
    return tuple(problem for product in shop.products.values() for problem in _of_product(shop, product))


def material_doubts(ledger: Ledger) -> Mapping[str, tuple[Problem, ...]]:
    """Batches whose material does not suit the use of their product; those without such a doubt are left out."""
    found = {item.id: tuple(_of_item(ledger, item)) for item in ledger.shop.items.values()}
    return {name: problems for name, problems in found.items() if problems}


# --- what a product is declared for -------------------------------------------------------------------


def _of_product(shop: Shop, product: Product) -> Iterator[Problem]:
    batches = [item for item in shop.items.values() if item.product == product.id]
    known = [tested_uses(shop, item) for item in batches] or [frozenset(t.use for t in product.tested_for)]
    for row in declared_uses():
        if all(row.covers & tested for tested in known):
            continue
        met = next(_said_for(shop, product, row), None)
        if met is not None:
            words, place = met
            yield Problem(
                code="use-unproven",
                message=f'met "{words}" in {product.id}, wanted evidence for it: {row.why} ({row.source})',
                place=place,
                hint=f"name {row.wants} in `{FIELD}: [{{use: {row.use}, standard: …, document: …}}]`, or take it out;"
                " local rules and licensed professionals come first",
                level=row.level,
                about=product.id,
                facts=(("use", row.use),),
            )


def _said_for(shop: Shop, product: Product, row: Declared) -> Iterator[tuple[str, Place]]:
    """Where a product is declared for a use: in `uses:`, else in words."""
    for number, use in enumerate(product.uses):
        if use == row.use:
            yield use, shop.place("product", product.id, "uses", number)
    for name in _SAYS_WHAT_FOR:
        for lang, text in getattr(product, name).texts:
            words = _words_for(row, text)
            if words:
                path = (name, lang) if lang else (name,)
                said = FreeText(kind="product", id=product.id, path=path, lang=lang, text=text)
                yield words, place_of(shop, said, words)


def _words_for(row: Declared, text: str) -> str:
    """The words by which a text names a use; "" where it does not, or says that it is not for it."""
    plain = folded(text)
    for stems, pattern in row.words:
        if any(stem in plain for stem in stems):
            for met in pattern.finditer(plain):
                if not denied(plain, met.start()):
                    return text[met.start() : met.end()] if len(text) == len(plain) else met[0]
    return ""


# --- what a batch is made of --------------------------------------------------------------------------


def _of_item(ledger: Ledger, item: Item) -> Iterator[Problem]:
    product = ledger.shop.products.get(item.product)
    if product is None:
        return
    material, tested = made_of(ledger.mixtures[item.id], ledger.shop), tested_uses(ledger.shop, item)
    for row in _table()["material"]:
        against = [use for use in product.uses if use in row["uses"] and use not in tested]
        if against and material.has(row["when"], row.get("share", 0)):
            yield Problem(
                code="use-material",
                message=f"met {product.id} for {', '.join(against)} in {item.id}, wanted other material or evidence: "
                f"{row['why']} ({cited(tuple(row['from']))})",
                place=ledger.shop.place("item", item.id, "product"),
                hint=f"name a test in `{FIELD}:` of the batch, or use the material for something else",
                level=Level.DOUBT,
                about=item.id,
                facts=(("use", against[0]), ("why", row["when"])),
            )
