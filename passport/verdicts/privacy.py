"""Ways to reach or find a person in what will be public: e-mail addresses, telephone numbers, street addresses.

A doubt, since a pattern cannot know whose number it is. The workshop's own `contact` is meant to be public, and
`place` and `bring_back` are there to say where it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import islice
from typing import Any

import yaml

from passport.problems import Level, Problem
from passport.reading.shop import Shop
from passport.verdicts.free_texts import FreeText, free_texts, place_of

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
STREET = "street-address"
MOST_MET = 50
"""Of one kind in one text: who has mended fifty sees the rest, and a hostile text gets no more of our time."""
_OWN_PLACE = frozenset({"place", "bring_back"})
"""Fields of the workshop that say where it is."""
_MAY_HOLD = re.compile(r"@|\d")
"""Without one of these there is nothing to find."""
_DIGIT = re.compile(r"\d")
_HINTS = {
    "e-mail": "leave it out, or keep it in private/, which no page is made from",
    "telephone": "leave it out, or keep it in private/, which no page is made from",
    STREET: "a coarse place is enough; the address of the workshop belongs into `place:` or `bring_back:`",
}
_NAMES = {"e-mail": "an e-mail address", "telephone": "a telephone number", STREET: "a street address"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One row of the table."""

    kind: str
    pattern: re.Pattern[str]
    digits: tuple[int, int] = (0, 99)
    """How many digits it must have, least and most."""
    stems: tuple[str, ...] = ()
    """One of these must stand in the text, where there are any."""


@cache
def patterns() -> tuple[Pattern, ...]:
    """Every pattern of contact_patterns.yaml, in its order."""
    text = files(__package__).joinpath("contact_patterns.yaml").read_text(encoding="utf-8")
    rows = yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader
    return tuple(_pattern(row) for row in rows)


def _pattern(row: Mapping[str, Any]) -> Pattern:
    low, high = row.get("digits", (0, 99))
    return Pattern(
        kind=row["kind"],
        pattern=re.compile(row["pattern"]),
        digits=(low, high),
        stems=tuple(row.get("stems", ())),
    )


def contacts_in(text: str) -> tuple[tuple[str, str], ...]:
    """What looks like a contact in a text, as (kind, as written); each place once."""
    if not _MAY_HOLD.search(text):
        return ()
    found: list[tuple[str, str]] = []
    taken: list[tuple[int, int]] = []
    small, digits = text.lower(), _digits(text)
    for row in patterns():
        low, high = row.digits
        if digits < low or (row.stems and not any(stem in small for stem in row.stems)):
            continue
        for met in islice(row.pattern.finditer(text), MOST_MET):
            fits = low <= _digits(met[0]) <= high
            if fits and not any(start < met.end() and met.start() < end for start, end in taken):
                taken.append(met.span())
                found.append((row.kind, " ".join(met[0].split())))
    return tuple(found)


def _digits(text: str) -> int:
    return len(_DIGIT.findall(text))


def privacy_problems(shop: Shop) -> tuple[Problem, ...]:
    """A doubt for each contact in the free texts of the records, with its place."""
    return tuple(problem for said in free_texts(shop) for problem in _in_text(shop, said))


def _in_text(shop: Shop, said: FreeText) -> Iterator[Problem]:
    for kind, words in contacts_in(said.text):
        own_place = said.kind == "workshop" and said.path[0] in _OWN_PLACE
        if words == shop.workshop.contact or (kind == STREET and own_place):
            continue
        yield Problem(
            code="private-words",
            message=f'met "{words}", which reads like {_NAMES[kind]}, wanted nothing that leads to a person',
            place=place_of(shop, said, words),
            hint=_HINTS[kind],
            level=Level.DOUBT,
            about=said.id,
            facts=(("kind", kind),),
        )
