"""A cell's text → what a record says: numbers with a point, units, days as year-month-day, words of the trade.

What can be meant in one way only is taken. What could be two things is refused, with what would settle it.
"""

from __future__ import annotations

import re
import typing
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any

from pydantic import WithJsonSchema

from passport.amounts import Count, Mass, MeltFlow, NotAQuantity
from passport.reading.decode import field_at
from passport.reading.fields import ID_WANTED, NOT_WEIGHED, Words, quoted
from passport.reading.marked import Source, Tree, read_tree
from passport.reading.sheet_table import UNITS
from passport.reading.spreadsheet import read_day, tidy, with_points

BLANK = frozenset({"", "-", "–", "—", "?", "n/a", "na", "#n/a", "k.a.", "k. a.", "nc", "n.c."})
"""Cells that say nothing (from memory)."""
WITH_UNIT = {"mass": "kg, g or t", "share": "%", "temperature": "°C"}
"""Kinds of value that are nothing without their unit, and the units."""
_GROUPS = {"comma": (r"[. ']", ","), "point": (r"[, ']", ".")}
"""What parts thousands, and the decimal sign, where a table writes decimal commas, or points."""
_QUANTITY = re.compile(r"(\d[^A-Za-z°%µ]*?)\s*([A-Za-z°%][\w°%. ]*?)?(\s+each)?", re.ASCII | re.IGNORECASE)
_GERMAN = ("jan", "feb", "mär", "apr", "mai", "jun", "jul", "aug", "sep", "okt", "nov", "dez")
"""Beginnings of German names of months; English and French ones are read elsewhere (from memory)."""
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october")
_ENGLISH = (*_MONTHS, "november", "december")
_MONTH_FIRST = re.compile(r"([^\W\d_]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})")
_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th|er|\.)?[ .-]*([^\W\d_]{3,})\.?[ .,-]*(\d{2}|\d{4})")
_SHORT = re.compile(r"(\d{1,2}[-/.]\d{1,2}[-/.])(\d{2})", re.ASCII)
_ID_SCHEMA = "^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """How a table writes things, as far as somebody said or its own cells show.

    dates: "day-first" or "month-first" for days like 03/04/2026; "" where nobody said.
    decimal: "comma" or "point"; "" where nobody said. commas: whether the column shows decimal commas.
    century: "19" or "20" for years of two digits; "" where nobody said.
    words: what the table calls something, in small letters → what records call it.
    """

    dates: str = ""
    decimal: str = ""
    commas: bool = False
    century: str = ""
    words: Mapping[str, str] = field(default_factory=dict)


@cache
def kind_of(record: Any, path: tuple[str | int, ...]) -> str:
    """What a field of a record holds, "" where the record has no such field.

    One of mass, count, share, temperature, flow, number, date, choice, yes-no, id, words, fields, line.
    """
    found = field_at(record, path)
    if found is None:
        return ""
    kinds = set(_kinds(found.annotation, found.metadata))
    return next((kind for kind in _ORDER if kind in kinds), "line")


_ORDER = (
    "words",
    "fields",
    "mass",
    "count",
    "share",
    "flow",
    "date",
    "yes-no",
    "choice",
    "temperature",
    "number",
    "id",
)
_OF_TYPE: Mapping[Any, str] = {
    Mass: "mass",
    Count: "count",
    Fraction: "share",
    MeltFlow: "flow",
    date: "date",
    bool: "yes-no",
    Words: "words",
}


def _kinds(annotation: Any, metadata: list[Any]) -> Iterator[str]:
    """Every kind of value that an annotation allows; entries of lists are fields as a whole."""
    schema = next((m.json_schema or {} for m in metadata if isinstance(m, WithJsonSchema)), {})
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        inner, *more = typing.get_args(annotation)
        yield from _kinds(inner, more)
    elif annotation in _OF_TYPE:
        yield _OF_TYPE[annotation]
    elif annotation is Decimal:
        yield "temperature" if "°C" in str(schema.get("pattern", "")) else "number"
    elif annotation is str:
        yield "id" if schema.get("pattern") == _ID_SCHEMA else "line"
    elif origin is typing.Literal or (isinstance(annotation, type) and issubclass(annotation, Enum)):
        yield "choice"
    elif origin in (tuple, list, Mapping, dict, typing.get_origin(Mapping[str, str])) or _is_record(annotation):
        yield "fields"
    else:
        for inner in typing.get_args(annotation):
            yield from _kinds(inner, metadata)


def _is_record(annotation: Any) -> bool:
    return isinstance(annotation, type) and hasattr(annotation, "__pydantic_fields__")


def said(kind: str, text: str, unit: str, ways: Ways) -> Tree:
    """What a cell says in a record's form; "" for a cell that says nothing.

    unit: that of the column, "" where its heading says none. Raises NotAQuantity: what was met, what was wanted,
    what would settle it.
    """
    meant = ways.words.get(tidy(text).casefold())
    if meant is not None:
        return meant
    if text.casefold() in BLANK:
        return ""
    plain = unguarded(text)
    if kind in ("line", "words", "fields"):
        return _bracketed(plain) if plain == text and kind != "line" and text.startswith(("{", "[")) else plain
    return _READERS[kind](tidy(plain), unit, ways)


# --- formulas -----------------------------------------------------------------------------------------

_SIGNS = re.compile(r"[=+\-@＝＋－＠\t\r{\[]")


def guarded(text: str) -> str:
    """A text as a cell that neither a spreadsheet takes for a formula nor an import for more than text.

    An apostrophe stands before it then (OWASP, CSV injection); numbers stay numbers.
    """
    if re.fullmatch(r"-?\d+(\.\d+)?", text, re.ASCII):
        return text
    return f"'{text}" if _is_more(text.lstrip("'")) else text


def unguarded(text: str) -> str:
    """The way back."""
    return text[1:] if text.startswith("'") and _is_more(text.lstrip("'")) else text


def _is_more(text: str) -> bool:
    return bool(_SIGNS.match(text)) or text.casefold() in BLANK


# --- numbers and units --------------------------------------------------------------------------------


def _plain_number(text: str, ways: Ways) -> str:
    """The text with its numbers written with a decimal point and without marks between thousands."""
    text = re.sub(r"(?<=\d)['’](?=\d{3})", "", text)
    if ways.decimal:
        group, sign = _GROUPS[ways.decimal]
        number = rf"(?<![\w.,])\d{{1,3}}(?:{group}\d{{3}})+(?:\{sign}\d+)?(?![\d.,])|(?<![\w.,])\d+\{sign}\d+(?![\d.,])"
        text = re.sub(number, lambda found: re.sub(group, "", found[0]).replace(",", "."), text, flags=re.ASCII)
        return with_points(text)
    try:
        return with_points(text, commas=ways.commas)
    except NotAQuantity as slip:
        hint = slip.hint.partition(":")[0] + "; say which with --decimal" if "could be" in slip.hint else slip.hint
        raise NotAQuantity(slip.met, slip.wanted, hint) from None


def _quantity(text: str, unit: str, ways: Ways, wanted: str) -> str:
    """A number with its unit: the cell's own, else the column's."""
    plain = _plain_number(text, ways)
    found = _QUANTITY.fullmatch(plain)
    own = (found[2] or "").casefold().rstrip(".") if found else ""
    if not found or (own and own not in UNITS):
        return plain  # the record's own reader says what it wants
    unit = UNITS[own] if own else unit
    if not unit:
        raise NotAQuantity(text, wanted, "neither the cell nor the heading says the unit; say it with --unit")
    return f"{found[1].strip()} {unit}{(found[3] or '').lower()}"


def _mass(text: str, unit: str, ways: Ways) -> str:
    if text.casefold() == NOT_WEIGHED.value:
        return NOT_WEIGHED.value
    return _quantity(text, unit, ways, "a mass with its unit")


def _share(text: str, unit: str, ways: Ways) -> str:
    return _quantity(text, unit, ways, "a share with its sign %")


def _temperature(text: str, unit: str, ways: Ways) -> str:
    return _quantity(text, unit, ways, "a temperature with its unit")


def _count(text: str, unit: str, ways: Ways) -> str:
    plain = _quantity(text, unit or "pcs", ways, "a whole number of pieces")
    return re.sub(r"(?<=\d)\.0+(?!\d)", "", plain).removesuffix(" pcs").replace(" pcs each", " each")


def _flow(text: str, unit: str, ways: Ways) -> str:
    return f"{_plain_number(text, ways)} {unit}".strip()


def _number(text: str, _unit: str, ways: Ways) -> str:
    return _plain_number(text, ways)


# --- days ---------------------------------------------------------------------------------------------


def _day(text: str, _unit: str, ways: Ways) -> str:
    text = re.sub(r"[ T]00:00(:00(\.0+)?)?$", "", " ".join(text.split()))
    if found := _MONTH_FIRST.fullmatch(text):
        text = f"{found[2]} {found[1]} {found[3]}"
    if found := _NAMED.fullmatch(text):
        text = f"{found[1]} {_english(found[2])} {_year(found[3], text, ways)}"
    if found := _SHORT.fullmatch(text):
        text = found[1] + _year(found[2], text, ways)
    order = "day-first" if "." in text else ways.dates  # common practice, no source: points part day, month and year
    try:
        return read_day(text, order).isoformat()
    except NotAQuantity as slip:
        hint = f"{slip.hint}; say which with --dates" if "could be" in slip.hint else slip.hint
        raise NotAQuantity(text, slip.wanted, hint) from None


def _english(month: str) -> str:
    start = month.casefold()[:3]
    return _ENGLISH[_GERMAN.index(start)] if start in _GERMAN and start != "mai" else month


def _year(digits: str, text: str, ways: Ways) -> str:
    if len(digits) > 2:  # noqa: PLR2004 - the year is whole
        return digits
    if not ways.century:
        raise NotAQuantity(text, "a day with all four digits of the year", "say which century with --century 20")
    return ways.century + digits


# --- words --------------------------------------------------------------------------------------------


def _choice(text: str, _unit: str, _ways: Ways) -> str:
    return text.casefold().replace(" ", "-") if text.replace(" ", "").isalpha() and text[:1].isupper() else text


def _id(text: str, _unit: str, _ways: Ways) -> str:
    """Blanks, points, strokes and underlines between the parts of an id become hyphens, accents go."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    name = re.sub(r"[\s_/.]+", "-", re.sub(r"(?<=\d)\.0+$", "", plain))
    if not re.fullmatch(_ID_SCHEMA, name, re.ASCII):
        raise NotAQuantity(text, ID_WANTED, f'say what it is called with --word "{text[:40]}=WORD"')
    return name


def _bracketed(text: str) -> Tree:
    tree, problems = read_tree(Source("cell", text))
    if tree is None or problems:
        first = problems[0]
        met, _, wanted = first.message.removeprefix("met ").partition(", wanted ")
        raise NotAQuantity(text, wanted or "brackets and commas as in a record", f"met {met}")
    return tree


def _yes_no(text: str, _unit: str, _ways: Ways) -> str:
    return {"true": "yes", "false": "no"}.get(text.casefold(), text.casefold())


_READERS: Mapping[str, Callable[[str, str, Ways], str]] = {
    "mass": _mass,
    "count": _count,
    "share": _share,
    "temperature": _temperature,
    "flow": _flow,
    "number": _number,
    "date": _day,
    "choice": _choice,
    "yes-no": _yes_no,
    "id": _id,
}


def refused(slip: NotAQuantity) -> str:
    """The sentence of a problem."""
    return f"met {quoted(slip.met)}, wanted {slip.wanted}"
