"""Restricted substances: which limit is in force on a day, and whether a laboratory's figures keep to it.

Limits are content by mass in mg/kg (limits.yaml has each with its law, its day and how sure we are of both). A
limit on migration cannot be judged by content and is not in the table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any

from passport.material.tables import table

SCOPES = ("article", "recovered", "children", "skin", "packaging", "electrical")
NARROWER = {"article": frozenset({"recovered", "children"}), "recovered": frozenset({"children"})}
"""A scope gives way where the same law has one of these that also holds."""


LONGEST_SYMBOL = 3


class Outcome(Enum):
    """What a limit says about a content."""

    KEEPS = "keeps"
    FLAG = "flag"
    """Above the figure of a limit that does not name this resin, or above a line of practice: no breach, but mind."""
    BREAKS = "breaks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit as it stands on a day."""

    law: str
    scope: str
    substances: tuple[str, ...]
    mg_per_kg: Decimal
    since: date
    title: Mapping[str, str]
    """The law with its clause, by language."""
    short: str
    """The law in a few signs that need no language."""
    status: str
    """seen, second-hand or memory."""
    together: bool = False
    """Whether the contents of all its substances are added up."""
    fails_at: bool = False
    """Whether exactly the figure is too much."""
    resins: tuple[str, ...] = ()
    practice: bool = False

    def exceeded(self, mg_per_kg: Decimal) -> bool:
        """Whether a content is too much by the law's own words."""
        return mg_per_kg >= self.mg_per_kg if self.fails_at else mg_per_kg > self.mg_per_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One limit against what was measured."""

    limit: Limit
    measured: tuple[tuple[str, Decimal], ...]
    """Substance and content; several where the law adds them up."""
    outcome: Outcome

    @property
    def content(self) -> Decimal:
        """What is held against the limit, in mg/kg."""
        return sum((mg for _, mg in self.measured), Decimal(0))


@cache
def _names() -> Mapping[str, str]:
    rows = table("limits")["substances"]
    return {name.casefold(): key for key, others in rows.items() for name in (key, *others)}


def known_substances() -> tuple[str, ...]:
    """The short names of the table."""
    return tuple(table("limits")["substances"])


def substance(text: str) -> str:
    """The table's short name for a substance as people write it ("Cd", "plomb"); "" for one it does not know."""
    return _names().get(text.strip().casefold(), "")


def symbol(name: str) -> str:
    """The sign of an element, else the short name: words that need no language."""
    others = table("limits")["substances"][name]
    return str(others[0]) if others and len(others[0]) <= LONGEST_SYMBOL else name


def limits_on(day: date, scopes: frozenset[str], rules: frozenset[str], resin: str = "") -> tuple[Limit, ...]:
    """The limits in force on a day for goods of these scopes under these laws; `article` is always one of them.

    resin: a symbol of ISO 1043-1; laws on one kind of plastic alone are left out for another.
    """
    held = scopes | {"article"}
    return tuple(limit for name in table("limits")["laws"] for limit in _of_law(name, day, held, rules, resin))


def _of_law(name: str, day: date, scopes: frozenset[str], rules: frozenset[str], resin: str) -> Iterator[Limit]:
    law = table("limits")["laws"][name]
    if not rules & set(law["rules"]) or (resin not in law.get("only_resins", (resin,))):
        return
    latest: dict[str, dict[str, Any]] = {}
    for row in law["rows"]:
        if row["scope"] in scopes and row["from"] <= day:
            latest[row["scope"]] = row
    for scope, row in latest.items():
        if not NARROWER.get(scope, frozenset()) & latest.keys():
            yield _limit(name, law, row)


def _limit(name: str, law: Mapping[str, Any], row: Mapping[str, Any]) -> Limit:
    return Limit(
        law=name,
        scope=row["scope"],
        substances=tuple(law["of"]),
        mg_per_kg=Decimal(str(row["mg_per_kg"])),
        since=row["from"],
        title=law["title"],
        short=law["short"],
        status=row["status"],
        together=bool(law.get("together")),
        fails_at=law["at_limit"] == "fails",
        resins=tuple(law.get("resins", ())),
        practice=bool(law.get("practice")),
    )


def judge(contents: Mapping[str, Decimal], limits: tuple[Limit, ...], resin: str = "") -> tuple[Judgement, ...]:
    """Each limit against the contents that it is about, by short name, in mg/kg; what was not measured is left out."""
    return tuple(found for limit in limits for found in _against(contents, limit, resin))


def _against(contents: Mapping[str, Decimal], limit: Limit, resin: str) -> Iterator[Judgement]:
    measured = tuple((name, contents[name]) for name in limit.substances if name in contents)
    for group in (measured,) if limit.together else tuple((one,) for one in measured):
        if group:
            content = sum((mg for _, mg in group), Decimal(0))
            yield Judgement(limit=limit, measured=group, outcome=_outcome(limit, content, resin))


def _outcome(limit: Limit, content: Decimal, resin: str) -> Outcome:
    if not limit.exceeded(content):
        return Outcome.KEEPS
    named = not limit.resins or resin in limit.resins
    return Outcome.FLAG if limit.practice or not named else Outcome.BREAKS
