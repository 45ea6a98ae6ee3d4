"""What to tell an owner and a workshop about a resin: cautions, care, and how to hand it back. Words are data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from passport.material.resins import Figure, resins
from passport.material.tables import table


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One piece of advice in the languages it is written in, with what stands behind it."""

    key: str
    words: Mapping[str, str]
    sources: tuple[str, ...]
    reader: Literal["owner", "workshop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """How to look after a thing of one resin. Temperatures in use in degrees Celsius."""

    service_c: Figure | None
    sun: Advice
    cold: Advice
    load: Advice
    cleaning: Advice

    def lines(self) -> tuple[Advice, ...]:
        """In the order of a page."""
        return (self.sun, self.cold, self.load, self.cleaning)


def _advice(key: str, row: Mapping[str, Any], sources: Sequence[str]) -> Advice:
    words = {language: text for language, text in row.items() if language not in ("for", "from")}
    reader: Literal["owner", "workshop"] = "workshop" if row.get("for") == "workshop" else "owner"
    return Advice(key=key, words=words, sources=tuple(row.get("from", sources)), reader=reader)


@cache
def cautions() -> Mapping[str, Advice]:
    """Every caution by its key."""
    return {key: _advice(key, row, ()) for key, row in table("cautions")["cautions"].items()}


def closing_words() -> Mapping[str, str]:
    """What stands under every list of cautions, by language."""
    words: Mapping[str, str] = table("cautions")["closing"]
    return words


def care_for(symbol: str) -> Care | None:
    """How to look after a thing of a resin; None where the resin is not in the table."""
    row = table("care")["resins"].get(symbol)
    if row is None:
        return None
    said = {name: _advice(row[name], table("care")[name][row[name]], row["from"]) for name in _ASPECTS}
    return Care(
        service_c=resins()[symbol].service_c,
        sun=said["sun"],
        cold=said["cold"],
        load=said["load"],
        cleaning=said["cleaning"],
    )


_ASPECTS = ("sun", "cold", "load", "cleaning")


def found_as(symbol: str) -> Mapping[str, str]:
    """What a resin usually is when it comes in, by language (common practice, no source); empty for an unknown one."""
    words: Mapping[str, str] = table("found_as").get(symbol, {})
    return words


def hand_back_words(name: Mapping[str, str]) -> Mapping[str, str]:
    """How to hand a thing back, by language, with the material's name put in."""
    row = table("care")["hand_back"]
    return {language: row[language].format(name=text) for language, text in name.items() if language in row}
