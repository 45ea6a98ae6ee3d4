"""Which one-line words of the records the glossary does not say in every language of the pages."""

from __future__ import annotations

import re
from collections.abc import Iterator

from passport.problems import Level, Problem
from passport.reading.records import GivenOn, HandedOver, PutUp, Sent
from passport.reading.shop import Shop

_SHOWN = 8
_SIZE = re.compile(r"[A-Z]{1,3}\d+")
"""Sizes of screwdrivers, which are the same in every language: TX20, PZ2."""


def one_line_words(shop: Shop) -> Iterator[str]:
    """Every one-line word of the records that pages print."""
    for lot in shop.lots.values():
        yield from (lot.colour, lot.kept, *lot.losses)
    for run in shop.runs.values():
        yield from run.losses
    for item in shop.items.values():
        yield from (item.colour, *item.losses, *(part.part for part in item.parts))
        yield from (word for piece in item.hardware for word in (piece.material, piece.tool))
    for product in shop.products.values():
        yield from (word for step in product.take_apart for word in (step.tool, step.frees))
    for event in shop.events:
        if isinstance(event, HandedOver | PutUp):
            yield event.place
        elif isinstance(event, Sent):
            yield event.to
        elif isinstance(event, GivenOn):
            yield event.stream


def glossary_gaps(shop: Shop) -> Iterator[Problem]:
    """One piece of advice for each language after the first, naming what its pages print as it was written."""
    workshop = shop.workshop
    words = sorted({word for word in one_line_words(shop) if word and not _SIZE.fullmatch(word)})
    for lang in workshop.languages[1:]:
        lacking = [word for word in words if not _says(shop, word, lang)]
        if not lacking:
            continue
        more = f" and {len(lacking) - _SHOWN} more" if len(lacking) > _SHOWN else ""
        named = ", ".join(f'"{word}"' for word in lacking[:_SHOWN])
        yield Problem(
            code="glossary-gap",
            message=f"met {named}{more} without words in {lang}, wanted them in the glossary",
            place=shop.place("workshop", "", "glossary"),
            hint=f"glossary: {{{lacking[0]}: {{{lang}: …}}}} in workshop.yaml; until then pages print what was written",
            level=Level.ADVICE,
        )


def _says(shop: Shop, word: str, lang: str) -> bool:
    known = shop.workshop.glossary.get(word)
    return known is not None and any(name == lang for name, _ in known.texts)
