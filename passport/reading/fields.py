"""How a text in a record becomes a value: one strict form each, and a hint for the usual slips."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from passport import amounts
from passport.amounts import Count, Mass, MeltFlow, NotAQuantity

T = TypeVar("T")

LONGEST_ID = 40
LONGEST_QUOTE = 60
_ID = re.compile(r"[A-Z0-9]+(?:-[A-Z0-9]+)*")
_DATE = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_LANGUAGE = re.compile(r"[a-z]{2}")
_TAG = re.compile(r"[0-9A-Z -]{6,16}")
_FILE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,80}")
_DEVICES = frozenset({"CON", "PRN", "AUX", "NUL", *(f"{d}{n}" for d in ("COM", "LPT") for n in range(1, 10))})
"""Names that one widespread system keeps for devices, in any case: no file may be called so."""

ID_WANTED = "an id of letters A to Z, digits and single hyphens, such as IN-031"


@dataclass(frozen=True, slots=True)
class Words:
    """Free text, once or in several languages. `""` as language stands for the workshop's first one."""

    texts: tuple[tuple[str, str], ...]

    def said(self, language: str, first: str) -> tuple[str, str]:
        """The text and the language it is in: the one asked for, else the workshop's first, else any."""
        known = {name or first: text for name, text in self.texts}
        for wanted in (language, first):
            if wanted in known:
                return known[wanted], wanted
        name, text = self.texts[0]
        return text, name or first


def refusal(met: str, wanted: str, hint: str = "", code: str = "value") -> PydanticCustomError:
    """What a field validator raises: the three parts that a problem is worded from."""
    context = {"met": met, "wanted": wanted, "hint": hint}
    return PydanticCustomError(code, "met {met}, wanted {wanted}", context)


def quoted(value: object) -> str:
    """What was met, short enough for one line."""
    if isinstance(value, str):
        return f'"{value[:LONGEST_QUOTE]}…"' if len(value) > LONGEST_QUOTE else f'"{value}"'
    return "a list" if isinstance(value, list) else "fields" if isinstance(value, dict) else str(value)


def _text_field(read: Callable[[str], T], wanted: str) -> Callable[[Any], T]:
    """A validator which takes text only, and turns NotAQuantity into a refusal."""

    def validate(value: Any) -> T:
        if not isinstance(value, str):
            if isinstance(value, list | dict):
                raise refusal(quoted(value), wanted)
            return value  # type: ignore[no-any-return]  # already read: a record built in code
        if not value:
            raise refusal("nothing", wanted, "leave the field out where nothing is known")
        try:
            return read(value)
        except NotAQuantity as slip:
            raise refusal(quoted(slip.met), slip.wanted, _with_points(read, value) or slip.hint) from None

    return validate


def _with_points(read: Callable[[str], T], text: str) -> str:
    """A hint where a text would read if its commas were decimal points."""
    pointed = text.replace(",", ".")
    if pointed == text or len(text) > LONGEST_QUOTE:
        return ""
    try:
        read(pointed)
    except NotAQuantity:
        return ""
    return f'write the decimal point: "{pointed}"'


class NotWeighed(Enum):
    """The honest answer where nobody has put a lot on a scale: it withholds figures, never work."""

    NOT_WEIGHED = "not weighed"


MOISTURE_WANTED = "water by mass below 100 %, such as 0.5 %"
NOT_WEIGHED = NotWeighed.NOT_WEIGHED
WEIGHED_WANTED = f"{amounts.MASS_WANTED}, or the words {NOT_WEIGHED.value}"


def read_weighed(text: str) -> Mass | NotWeighed:
    """A mass, or the words "not weighed"."""
    if text == NOT_WEIGHED.value:
        return NOT_WEIGHED
    try:
        return amounts.read_mass(text)
    except NotAQuantity as slip:
        raise NotAQuantity(text, WEIGHED_WANTED, slip.hint) from None


def read_matching(pattern: str, wanted: str, hint: str = "") -> Callable[[str], str]:
    """A reader of text that must match `pattern` as a whole."""

    def read(text: str) -> str:
        if not re.fullmatch(pattern, text, re.ASCII):
            raise NotAQuantity(text, wanted, hint)
        return text

    return read


def read_id(text: str) -> str:
    """A record's id in upper case. Raises NotAQuantity for what could leave the folder or clash."""
    name = text.upper() if text.isascii() else text
    if not _ID.fullmatch(name):
        raise NotAQuantity(text, ID_WANTED)
    if len(name) > LONGEST_ID:
        raise NotAQuantity(text, ID_WANTED, f"at most {LONGEST_ID} characters")
    if name in _DEVICES:
        raise NotAQuantity(text, ID_WANTED, "some systems keep this name for a device; add a number")
    return name


def read_date(text: str) -> date:
    """A date in the ISO 8601 form 2026-04-11."""
    wanted = "a date such as 2026-04-11"
    found = _DATE.fullmatch(text)
    if not found:
        raise NotAQuantity(text, wanted, "write year, month, day with hyphens")
    try:
        return date(*(int(part) for part in found.groups()))
    except ValueError:
        raise NotAQuantity(text, wanted, "the calendar has no such day") from None


def read_moisture(text: str) -> Fraction:
    """Water by mass, below the whole: what is all water is no material."""
    share = amounts.read_share(text)
    if share == 1:
        raise NotAQuantity(text, MOISTURE_WANTED, "what is all water is no material")
    return share


def read_yes_no(text: str) -> bool:
    """The words yes and no, nothing else."""
    if text not in ("yes", "no"):
        meant = {"true": "yes", "on": "yes", "y": "yes", "false": "no", "off": "no", "n": "no"}.get(text.lower())
        raise NotAQuantity(text, "yes or no", f"write {meant}" if meant else "")
    return text == "yes"


def read_line(text: str) -> str:
    """One line of text without blanks at its ends."""
    if "\n" in text.strip():
        raise NotAQuantity(text.replace("\n", " "), "one line of text")
    return text.strip()


def read_file_name(text: str) -> str:
    """The plain name of a file in the folder meant for it."""
    if not _FILE_NAME.fullmatch(text):
        raise NotAQuantity(text, "the plain name of a file, such as in-031.jpg", "no folders, no blanks")
    return text


def _read_words(value: Any) -> Words:
    wanted = "text, or text by language such as {en: …, fr: …}"
    if isinstance(value, str) and value.strip():
        return Words((("", value.strip()),))
    if isinstance(value, dict) and value:
        return Words(tuple((_language(name), _said(text, wanted)) for name, text in value.items()))
    if isinstance(value, Words):
        return value
    raise refusal(quoted(value) if value else "nothing", wanted)


def _language(name: str) -> str:
    if not _LANGUAGE.fullmatch(name):
        raise refusal(quoted(name), "a language of two small letters, such as en", code="language")
    return name


def _said(text: Any, wanted: str) -> str:
    if not isinstance(text, str) or not text.strip():
        raise refusal(quoted(text) if text else "nothing", wanted)
    return text.strip()


def _schema(pattern: str, *examples: str) -> WithJsonSchema:
    whole = pattern if pattern.startswith("^") else f"^(?:{pattern})$"
    return WithJsonSchema({"type": "string", "pattern": whole, "examples": list(examples)})


_MASS_SCHEMA = _schema(r"^\d+(\.\d+)?(\s*(±|\+/-)\s*\d+(\.\d+)?)?\s*(kg|g|t)( each)?$", "42.6 kg", "42.6 ± 0.2 kg")
_WORDS_SCHEMA = WithJsonSchema(
    {
        "oneOf": [
            {"type": "string", "minLength": 1},
            {"type": "object", "patternProperties": {"^[a-z]{2}$": {"type": "string"}}, "additionalProperties": False},
        ],
    },
)

MassField = Annotated[Mass, BeforeValidator(_text_field(amounts.read_mass, amounts.MASS_WANTED)), _MASS_SCHEMA]
WeighedField = Annotated[
    Mass | NotWeighed,
    BeforeValidator(_text_field(read_weighed, WEIGHED_WANTED)),
    _schema(
        r"^(not weighed|\d+(\.\d+)?(\s*(±|\+/-)\s*\d+(\.\d+)?)?\s*(kg|g|t)( each)?)$", "62.4 kg", NOT_WEIGHED.value
    ),
]
CountField = Annotated[
    Count,
    BeforeValidator(_text_field(amounts.read_count, amounts.COUNT_WANTED)),
    _schema(r"^\d+(\s*(pcs|pieces))?( each)?$", "24", "24 pcs", "8 each"),
]
TemperatureField = Annotated[
    Decimal,
    BeforeValidator(_text_field(amounts.read_temperature_c, amounts.TEMPERATURE_WANTED)),
    _schema(r"^-?\d+(\.\d+)?\s*°C$", "205 °C"),
]
ShareField = Annotated[
    Fraction,
    BeforeValidator(_text_field(amounts.read_share, amounts.PERCENT_WANTED)),
    _schema(r"^\d+(\.\d+)?\s*%$", "0.5 %"),
]
MoistureField = Annotated[
    Fraction,
    BeforeValidator(_text_field(read_moisture, amounts.PERCENT_WANTED)),
    _schema(r"^\d+(\.\d+)?\s*%$", "0.5 %"),
]
MeltFlowField = Annotated[
    MeltFlow,
    BeforeValidator(_text_field(amounts.read_melt_flow, amounts.MELT_FLOW_WANTED)),
    _schema(r"^\d+(\.\d+)?\s*g/10 ?min at \d+(\.\d+)?\s*°C\s*/\s*\d+(\.\d+)?\s*kg$", "6.4 g/10 min at 190 °C/2.16 kg"),
]
IdField = Annotated[
    str,
    BeforeValidator(_text_field(read_id, ID_WANTED)),
    _schema(r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$", "IN-031"),
]
TagField = Annotated[
    str,
    BeforeValidator(_text_field(lambda text: text.strip().upper(), "a tag number such as RY-22224M")),
    _schema(r"^[A-Za-z0-9]{1,4}-[0-9A-Za-z]{6}$", "RY-22224M"),
]
DateField = Annotated[
    date,
    BeforeValidator(_text_field(read_date, "a date such as 2026-04-11")),
    _schema(r"^\d{4}-\d{2}-\d{2}$", "2026-04-11"),
]
YesNoField = Annotated[
    bool, BeforeValidator(_text_field(read_yes_no, "yes or no")), WithJsonSchema({"enum": ["yes", "no"]})
]
LineField = Annotated[
    str, BeforeValidator(_text_field(read_line, "one line of text")), WithJsonSchema({"type": "string", "minLength": 1})
]
FileField = Annotated[
    str, BeforeValidator(_text_field(read_file_name, "the plain name of a file")), _schema(_FILE_NAME.pattern)
]
WordsField = Annotated[Words, BeforeValidator(_read_words), _WORDS_SCHEMA]

_COUNTRY = r"[A-Z]{2}"
_PREFIX = r"[A-HJ-NP-Z2-9]{1,4}"
_COMMODITY = r"[0-9]{4}([.][0-9]{2})?"
_CONTENT = r"[0-9]{1,6}(\.[0-9]{1,6})?"
COUNTRY_WANTED = "a country of two capital letters (ISO 3166-1), such as IE"
PREFIX_WANTED = "one to four of the letters A to Z (without I and O) and digits 2 to 9"
LANGUAGE_WANTED = "a language of two small letters, such as en"

read_country = read_matching(_COUNTRY, COUNTRY_WANTED)
read_prefix = read_matching(_PREFIX, PREFIX_WANTED)
read_language = read_matching(_LANGUAGE.pattern, LANGUAGE_WANTED)

CountryField = Annotated[str, BeforeValidator(_text_field(read_country, COUNTRY_WANTED)), _schema(_COUNTRY, "IE")]
PrefixField = Annotated[str, BeforeValidator(_text_field(read_prefix, PREFIX_WANTED)), _schema(_PREFIX, "RY")]
LanguageField = Annotated[
    str,
    BeforeValidator(_text_field(read_language, LANGUAGE_WANTED)),
    _schema(_LANGUAGE.pattern, "en", "fr"),
]
CommodityField = Annotated[
    str,
    BeforeValidator(_text_field(read_matching(_COMMODITY, "a heading of the Harmonised System"), "such a heading")),
    _schema(_COMMODITY, "3926", "3924.90"),
]
ContentField = Annotated[
    Decimal,
    BeforeValidator(_text_field(lambda t: Decimal(read_matching(_CONTENT, "a number of mg/kg")(t)), "mg/kg")),
    _schema(_CONTENT, "120"),
]
