"""Which words of a text law or ISO 14021 do not allow, or only with a figure or a condition beside them.

The rules are a table (claim_rules.yaml) over a table of sources (claim_sources.yaml). Nothing here knows records:
what the records would back is put beside the findings by `claim_check`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cache, lru_cache
from importlib.resources import files
from itertools import islice
from typing import Any

import yaml

from passport.problems import Level

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
NEAR_WORDS = 6
"""A percentage stands beside a word where at most so many words are between them (a design choice, no source)."""
SENTENCE = 300
"""So many signs to either side of some words are looked at for their sentence: what is longer is none."""
MOST_MET = 50
"""Of one paragraph: who has mended fifty sees the rest, and a hostile text gets no more of our time."""
MOST_IN_TEXT = 500
"""Of all its paragraphs, for the same reason."""
_KEPT = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A law, guide or standard that a rule rests on."""

    says: str
    rules: frozenset[str]
    """Where it holds: EU, UK, US, FR."""
    since: date
    """The day from which it applies."""
    status: str
    """How its wording is known: seen, second-hand or memory."""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule on wording."""

    code: str
    level: Level
    why: str
    better: Mapping[str, str]
    sources: tuple[Source, ...]
    words: tuple[tuple[tuple[str, ...], re.Pattern[str]], ...]
    """Patterns, each with the stems of which one must stand in a text before it is tried."""
    fine_with: tuple[re.Pattern[str], ...] = ()
    never: bool = False
    """Whether no exception is taken."""
    negated: bool = False
    """Whether "not" before it makes no difference."""
    figures: bool = False
    """Whether a share belongs beside the words."""
    theme: bool = False
    """Whether it holds for a theme's own words, too."""

    def standing(self, rules: frozenset[str], day: date) -> tuple[Source, ...]:
        """The sources that hold here on a day."""
        return tuple(s for s in self.sources if s.rules & rules and s.since <= day)

    def coming(self, rules: frozenset[str], day: date) -> tuple[Source, ...]:
        """The sources that will hold here later."""
        return tuple(s for s in self.sources if s.rules & rules and s.since > day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """Words that a rule is about."""

    rule: Rule
    words: str
    """As they were written, with the share beside them."""
    span: tuple[int, int, int]
    """Paragraph, begin and end: of two rules on the same words the first one counts."""
    fine: bool = False
    """Whether the paragraph says what the rule asks for."""
    percents: tuple[Fraction, ...] = ()
    """Shares beside them, in per cent."""
    kind: str = ""
    """Of a share: recycled, post-consumer or pre-consumer."""
    at_least: bool = False
    based: bool = False
    """Whether the text says what the share is a share of (mass or weight)."""


@cache
def sources() -> Mapping[str, Source]:
    """Every source by its key."""
    rows = _table("claim_sources")
    return {key: Source(**{**row, "rules": frozenset(row["rules"])}) for key, row in rows.items()}


@cache
def rules() -> tuple[Rule, ...]:
    """Every rule, in the order of the table; the first that takes some words keeps them."""
    return tuple(_rule(row) for row in _table("claim_rules"))


def _table(name: str) -> Any:
    text = files(__package__).joinpath(f"{name}.yaml").read_text(encoding="utf-8")
    return yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader


def _rule(row: Mapping[str, Any]) -> Rule:
    flags = {name: bool(row.get(name)) for name in ("never", "negated", "figures", "theme")}
    return Rule(
        code=row["code"],
        level=Level(row["level"]),
        why=row["why"],
        better=row["better"],
        sources=tuple(sources()[key] for key in row["from"]),
        words=tuple((tuple(stems.split("|")), re.compile(pattern)) for stems, pattern in row["words"]),
        fine_with=tuple(re.compile(pattern) for pattern in row.get("fine_with", ())),
        **flags,
    )


# --- reading a text -----------------------------------------------------------------------------------


def _plain(character: str) -> str:
    """A letter without its accent; one sign for one sign, so that places stay."""
    bare = unicodedata.normalize("NFD", character)[0]
    return bare.lower() if len(bare.lower()) == 1 else bare


_FOLDING = {code: _plain(chr(code)) for code in range(0x41, 0x250) if chr(code).isalpha()}
_FOLDING |= dict.fromkeys(map(ord, "\u2019\u2018\u02bc\u00b4`"), "'")
_FOLDING |= dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212"), "-")
_FOLDING |= dict.fromkeys(map(ord, "\n\r\t\u00a0\u202f\u2009"), " ")
_FOLDING |= {ord("\u2082"): "2", ord("\u0153"): "o"}


def folded(text: str) -> str:
    """A text as the patterns read it: small letters, no accents, plain apostrophes, hyphens and blanks."""
    return unicodedata.normalize("NFC", text).translate(_FOLDING)


_NOT = re.compile(
    r"\b(?:not|never|no|nor|isn't|aren't|don't|doesn't|won't|cannot|can't|neither|nobody|nothing|without"
    r"|ne|pas|jamais|non|aucune?|ni|personne|rien|sans)\b[\w\s'-]{0,40}$|\bn'[\w\s'-]{0,40}$"
)
_NOT_ONLY = re.compile(r"\b(?:not (?:only|just|merely)|non seulement|pas seulement)\b")
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)?) ?(?:%|percent\b|per cent\b|pour ?cent\b)")
_AT_LEAST = re.compile(r"\b(?:at least|more than|no less than|au moins|plus de|au minimum)\W*$")
_BASE = re.compile(r"\b(?:mass|weight|masse|poids)\b|\bproduit comportant au moins\b")
"""What a share is a share of; the words of French law imply it (Environment Code, R541-221)."""
_POST, _PRE = re.compile(r"post[- ]?con"), re.compile(r"\bpre[- ]?con")
_SENTENCE_END = re.compile(r"[.!?;](?=\s|$)|\n")
_MORE = re.compile(r" {2,}")


def claims_in(text: str, where: frozenset[str], day: date) -> tuple[Met, ...]:
    """What in a text a rule is about that holds here on a day; then what one will be about that is still to come."""
    met = met_in(text)
    standing = [m for m in met if m.rule.standing(where, day)]
    coming = [m for m in met if m not in standing and m.rule.coming(where, day)]
    kept: list[Met] = []
    for one in (*standing, *coming):
        if not any(_overlap(one.span, other.span) for other in kept):
            kept.append(one)
    return tuple(m for m in kept if not m.fine)


def _overlap(one: tuple[int, int, int], other: tuple[int, int, int]) -> bool:
    return one[0] == other[0] and one[1] < other[2] and other[1] < one[2]


@lru_cache(maxsize=_KEPT)
def met_in(text: str) -> tuple[Met, ...]:
    """Everything in a text that any rule is about, whatever the place and day, in the order of the rules."""
    found = (met for n, paragraph in enumerate(text.split("\n\n")) for met in _in_paragraph(n, paragraph))
    return tuple(islice(found, MOST_IN_TEXT))


@cache
def _by_stem() -> tuple[tuple[str, tuple[tuple[int, int], ...]], ...]:
    """For each stem, which patterns it lets in, as (rule, pattern): most texts hold no stem and are done."""
    found: dict[str, list[tuple[int, int]]] = {}
    for n, rule in enumerate(rules()):
        for i, (stems, _) in enumerate(rule.words):
            for stem in stems:
                found.setdefault(stem, []).append((n, i))
    return tuple((stem, tuple(where)) for stem, where in found.items())


def _in_paragraph(number: int, paragraph: str) -> Iterator[Met]:
    plain = folded(paragraph)
    worth_trying = sorted({at for stem, where in _by_stem() if stem in plain for at in where})
    if not worth_trying:
        return
    plain = _MORE.sub(" ", plain)
    written = paragraph if len(paragraph) == len(plain) else plain
    said = ((n, found) for n, i in worth_trying for found in rules()[n].words[i][1].finditer(plain))
    honest = ((n, found) for n, found in said if rules()[n].negated or not denied(plain, found.start()))
    fine: dict[int, bool] = {}
    for n, found in islice(honest, MOST_MET):
        if n not in fine:
            fine[n] = any(pattern.search(plain) for pattern in rules()[n].fine_with)
        yield _met(rules()[n], number, plain, written, found, fine=fine[n])


def denied(plain: str, at: int) -> bool:
    """Whether the sentence of a folded text says that what stands at a place is not so: that is left alone."""
    before = _sentence(plain, at)[0]
    return bool(_NOT.search(before)) and not _NOT_ONLY.search(before)


def _sentence(plain: str, at: int) -> tuple[str, str]:
    """The sentence round a place, in two halves."""
    first, last = max(at - SENTENCE, 0), min(at + SENTENCE, len(plain))
    start = max((m.end() for m in _SENTENCE_END.finditer(plain, first, at)), default=first)
    stop = next((m.start() for m in _SENTENCE_END.finditer(plain, at, last)), last)
    return plain[start:at], plain[at:stop]


def _met(rule: Rule, paragraph: int, plain: str, written: str, found: re.Match[str], *, fine: bool) -> Met:
    number = _share_beside(plain, found) if rule.figures else None
    begin = min(found.start(), number.start()) if number else found.start()
    end = max(found.end(), number.end()) if number else found.end()
    kind = "post-consumer" if _POST.search(found[0]) else "pre-consumer" if _PRE.search(found[0]) else "recycled"
    return Met(
        rule=rule,
        words=" ".join(written[begin:end].split()),
        span=(paragraph, *found.span()),
        fine=fine,
        percents=(Fraction(number[1].replace(",", ".")),) if number else (),
        kind=kind if rule.figures else "",
        at_least=bool(number and _AT_LEAST.search(plain, max(number.start() - SENTENCE, 0), number.start())),
        based=bool(_BASE.search(plain)),
    )


def _share_beside(plain: str, found: re.Match[str]) -> re.Match[str] | None:
    """The percentage that belongs to some words: inside them, else the nearest before, else the nearest after."""
    inside = _PERCENT.search(plain, found.start(), found.end())
    if inside:
        return inside
    before, after = _sentence(plain, found.start())
    start, stop = found.start() - len(before), found.start() + len(after)
    ahead = [m for m in _PERCENT.finditer(plain, start, found.start()) if _near(plain[m.end() : found.start()])]
    behind = [m for m in _PERCENT.finditer(plain, found.end(), stop) if _near(plain[found.end() : m.start()])]
    return ahead[-1] if ahead else behind[0] if behind else None


def _near(between: str) -> bool:
    return len(between.split()) <= NEAR_WORDS
