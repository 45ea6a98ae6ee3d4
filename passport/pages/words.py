"""All wording, a catalogue a language: sentences with named gaps, numbers and dates in the language's form.

A catalogue is YAML, nested as people like it, read flat ("passport.made_of"). A missing word is an
error when the records are checked, never a hole on a page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache

import yaml

from passport.pages.pieces import DoubtLine
from passport.problems import Place, Problem, did_you_mean

NO_BREAK_SPACE = "\u00a0"
MINUS = "\u2212"
GRAMS_A_KILO = 1000
GRAMS_SHOWN_BELOW = 1000

_GAP = re.compile(r"\{([a-z_]+)\}")
_DECIMAL = re.compile(r"^-?\d+\.\d+$")
_DOUBT = "doubt."
_DEEPEST = 6
"""Levels of a catalogue; only an alias that holds itself is deeper."""


class MissingWordError(LookupError):
    """A page asked for a word, or a word for a value, that is not there: a fault of the theme."""

    @property
    def problem(self) -> Problem:
        """The same for those who print problems."""
        hint = "add it to the catalogue; a page is never published with a hole"
        return Problem(code="word-missing", message=f"{self}, which a page asks for", hint=hint)


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """The catalogue of one language. Call it with a key and the values of its gaps."""

    lang: str
    entries: Mapping[str, str]

    def __call__(self, key: str, **values: str) -> str:
        """The words of a key. Raises MissingWordError for an unknown key or an unfilled gap."""
        if key not in self.entries:
            raise MissingWordError(f"no word {key!r} in {self.lang!r}")
        return fill(self.entries[key], values, key)

    def spaced(self, text: str) -> str:
        """Text in which no line begins with a unit, or with a mark that this language sets apart with a space.

        The catalogue names such marks (`form.before_marks`); « keeps what follows it. Where it has an apostrophe of its
        own (`form.apostrophe`), one between two letters of escaped text becomes that.
        """
        spaced = _before(self.entries.get("form.before_marks", "")).sub(NO_BREAK_SPACE, text)
        own = self.entries.get("form.apostrophe", "")
        return _BETWEEN_LETTERS.sub(own, spaced) if own else spaced

    def has(self, key: str) -> bool:
        """True where the catalogue knows the key."""
        return key in self.entries

    def some(self, key: str, count: int, **values: str) -> str:
        """The words for so many: `KEY.one` or `KEY.other`, with the gap {n}."""
        one = count in ((0, 1) if self.entries.get("form.zero_is_one") == "yes" else (1,))
        return self(f"{key}.{'one' if one else 'other'}", n=self.number(count), **values)

    def number(self, value: Decimal | Fraction | int, places: int = 0, *, down: bool = False) -> str:
        """A number with so many decimals; `down` floors it, as "at least" asks.

        Digits are grouped in threes from five digits on: "1234", "12,345".
        """
        rounded = _rounded(value, places, down=down)
        digits = str(abs(rounded)).zfill(places + 1)
        whole, part = digits[: len(digits) - places], digits[len(digits) - places :]
        text = _grouped(whole, self("form.group")) + (self("form.decimal") + part if part else "")
        return (MINUS if rounded < 0 else "") + text

    def percent(self, share: Decimal | Fraction, places: int = 0, *, down: bool = False) -> str:
        """A share of 1 in percent."""
        return self.number(Fraction(share) * 100, places, down=down) + self("form.percent")

    def mass(self, grams: Decimal | Fraction | int) -> str:
        """A mass as the scale would say it: "850 g", "12.4 kg"."""
        if abs(Fraction(grams)) < GRAMS_SHOWN_BELOW:
            return f"{self.number(grams)}{NO_BREAK_SPACE}g"
        return f"{self.number(Fraction(grams) / GRAMS_A_KILO, 1)}{NO_BREAK_SPACE}kg"

    def day(self, day: date) -> str:
        """A date in words: "4 May 2026", "1er mai 2026"."""
        key = "form.first_day" if day.day == 1 else "form.day"
        return self(key, d=str(day.day), month=self(f"form.month.{day.month}"), y=f"{day.year:04}")

    def month(self, day: date) -> str:
        """A month in words: "May 2026"."""
        return self("form.month_of", month=self(f"form.month.{day.month}"), y=f"{day.year:04}")

    def listed(self, things: Iterable[str]) -> str:
        """A list in words: "a, b and c"."""
        known = list(things)
        if len(known) < 2:  # noqa: PLR2004
            return "".join(known)
        return self("form.comma").join(known[:-1]) + self("form.and") + known[-1]

    def local(self, value: str) -> str:
        """A fact that is a decimal number, with the language's point; other facts as they are."""
        if _DECIMAL.match(value):
            return value.replace(".", self("form.decimal"))
        return value.replace(" × ", f"{NO_BREAK_SPACE}×{NO_BREAK_SPACE}")

    def doubt(self, problem: Problem, href: str = "/method/#doubts") -> DoubtLine:
        """A doubt in this language by its code; without words for it, the problem's own English."""
        key = _DOUBT + problem.code
        values = {name: self.local(value) for name, value in problem.facts} | {"about": problem.about}
        try:
            said = self(f"{key}.text", **values)
            why = self(f"{key}.why", **values) if self.has(f"{key}.why") else ""
        except MissingWordError:
            other = "" if self.lang == "en" else "en"
            return DoubtLine(text=_sentence(problem.message), why=problem.hint, href=href, lang=other)
        return DoubtLine(text=said, why=why, href=href)


_BETWEEN_LETTERS = re.compile(r"&#39;(?<=\w&#39;)(?=\w)")
_UNIT = r"(?<=\d )(?=[%°]|(?:k?g|mm|g/10 min|g/cm³)(?!\w))"


@cache
def _before(marks: str) -> re.Pattern[str]:
    """The spaces that must not break. Each begins with the space itself: only then is a whole page searched quickly."""
    apart = rf"(?=[{re.escape(marks)}])|(?<=« )|" if marks else ""
    return re.compile(f" (?:{apart}{_UNIT})")


def fill(sentence: str, values: Mapping[str, str], key: str = "") -> str:
    """The sentence with its `{gaps}` filled; values are text and are never read as gaps again.

    >>> fill("{n} sacks of {what}", {"n": "3", "what": "{n}"})
    '3 sacks of {n}'
    """
    if "{" not in sentence:
        return sentence

    def one(match: re.Match[str]) -> str:
        if match[1] not in values:
            raise MissingWordError(f"no value for {{{match[1]}}} in {key!r}")
        return values[match[1]]

    return _GAP.sub(one, sentence)


def gaps(sentence: str) -> frozenset[str]:
    """The names of a sentence's gaps."""
    return frozenset(_GAP.findall(sentence))


def read_catalogue(text: str, file: str) -> tuple[dict[str, str], tuple[Problem, ...]]:
    """YAML text of a catalogue → flat key → words, and what is wrong with it (YAML, doubles, lists)."""
    try:
        root = yaml.compose(text, Loader=yaml.CSafeLoader)
    except yaml.YAMLError as error:
        return {}, (_unreadable(error, file),)
    found: dict[str, str] = {}
    problems: list[Problem] = []
    if root is not None:
        _flatten(root, "", file, found, problems)
    return found, tuple(problems)


def check_catalogue(entries: Mapping[str, str], reference: Mapping[str, str], file: str) -> tuple[Problem, ...]:
    """What a catalogue lacks, or has too much of, against the reference catalogue."""
    missing = [_missing(key, file) for key in reference if key not in entries]
    known = [key for key in entries if key in reference]
    other = [_other_gaps(k, entries, reference, file) for k in known if _gaps_differ(k, entries, reference)]
    unknown = [key for key in entries if key not in reference and not key.startswith(_DOUBT)]
    strange = [_strange(key, reference, file) for key in unknown]
    return tuple(missing + other + strange)


def _gaps_differ(key: str, entries: Mapping[str, str], reference: Mapping[str, str]) -> bool:
    return not gaps(entries[key]) <= gaps(reference[key])


def _flatten(node: yaml.Node, key: str, file: str, found: dict[str, str], problems: list[Problem]) -> None:
    if isinstance(node, yaml.MappingNode) and key.count(".") < _DEEPEST:
        for name, value in node.value:
            _flatten(value, f"{key}.{name.value}" if key else str(name.value), file, found, problems)
        return
    if not isinstance(node, yaml.ScalarNode) or not key or key in found:
        problems.append(_misplaced(node, key, file, twice=key in found))
        return
    found[key] = node.value


def _place(mark: yaml.Mark | None, file: str) -> Place:
    return Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)


def _unreadable(error: yaml.YAMLError, file: str) -> Problem:
    mark = getattr(error, "problem_mark", None)
    said = getattr(error, "problem", None) or "not YAML"
    return Problem(code="words-unreadable", message=f"the catalogue cannot be read: {said}", place=_place(mark, file))


def _misplaced(node: yaml.Node, key: str, file: str, *, twice: bool) -> Problem:
    met = f'"{key}" stands twice' if twice else f'"{key}" is not a sentence'
    return Problem(
        code="words-misplaced",
        message=f"{met}; each key of a catalogue has one text",
        place=_place(node.start_mark, file),
    )


def _missing(key: str, file: str) -> Problem:
    return Problem(
        code="word-missing",
        message=f'the catalogue lacks "{key}"',
        place=Place(file),
        hint="add it; a page is never published with a hole",
    )


def _other_gaps(key: str, entries: Mapping[str, str], reference: Mapping[str, str], file: str) -> Problem:
    unknown = sorted(gaps(entries[key]) - gaps(reference[key]))
    named = ", ".join(f"{{{gap}}}" for gap in unknown)
    known = ", ".join(f"{{{gap}}}" for gap in sorted(gaps(reference[key]))) or "none"
    return Problem(
        code="word-gap",
        message=f'"{key}" has the gap {named}, which nothing fills; it may use {known}',
        place=Place(file),
    )


def _strange(key: str, reference: Mapping[str, str], file: str) -> Problem:
    return Problem(
        code="word-unknown",
        message=f'no page asks for the word "{key}"',
        place=Place(file),
        hint=did_you_mean(key, reference),
    )


def _rounded(value: Decimal | Fraction | int, places: int, *, down: bool) -> int:
    """In units of the last place, rounded once and exactly: fractions are never turned into floats."""
    above, below = value.as_integer_ratio()
    whole: int
    whole, rest = divmod(above * 10**places, below)
    if not down and (2 * rest, whole % 2) >= (below, 1):  # half to even, as `round` does
        whole += 1
    return whole


def _grouped(whole: str, mark: str) -> str:
    if len(whole) < 5:  # noqa: PLR2004
        return whole
    head = len(whole) % 3 or 3
    return mark.join([whole[:head], *(whole[i : i + 3] for i in range(head, len(whole), 3))])


def _sentence(message: str) -> str:
    return message[:1].upper() + message[1:] + ("" if message.endswith((".", "!", "?")) else ".")
