"""What people type at the desk → the form of records: a unit where the question named it, a point for a comma."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

from passport.amounts import NotAQuantity, read_mass
from passport.material.resins import hint_for, symbols_for

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_UNITS = {
    "kg": "kg",
    "kgs": "kg",
    "kilo": "kg",
    "kilos": "kg",
    "g": "g",
    "gr": "g",
    "gram": "g",
    "grams": "g",
    "t": "t",
}
_MASS = re.compile(rf"({_NUMBER})\s*([A-Za-z]*)(\s+each)?")
_PIECES = re.compile(r"([0-9]+)\s*(?:pcs|pieces|pc|piece)", re.IGNORECASE)
NO_READING = "no reading"
GRAMS = 3
"""Places of a kilogram, where masses are printed."""


def _mass(text: str, unit: str) -> str:
    found = _MASS.fullmatch(text.strip())
    if not found or (found[2] and found[2].lower() not in _UNITS) or not (found[2] or unit):
        return text
    said = _UNITS[found[2].lower()] if found[2] else unit
    return f"{found[1].replace(',', '.')} {said}{' each' if found[3] else ''}"


def kilograms(text: str) -> str:
    """A mass whose question asks for kilograms: "62,4" and "62.4KG" are 62.4 kg; "120 g" stays grams."""
    return _mass(text, "kg")


def any_mass(text: str) -> str:
    """A mass whose unit must be said: "220g" is 220 g, "220" stays a slip."""
    return _mass(text, "")


def mass_or_pieces(text: str) -> str:
    """What is drawn: a mass in kilograms unless said otherwise, or a number of pieces such as 28 pcs."""
    found = _PIECES.fullmatch(text.strip())
    return f"{found[1]} pcs" if found else kilograms(text)


def read_drawn(text: str) -> object:
    """A mass or a number of pieces. Raises NotAQuantity."""
    return text if _PIECES.fullmatch(text) else read_mass(text)


def with_unit(unit: str) -> Callable[[str], str]:
    """For questions that name their unit: "205" and "205C" are 205 °C, "0,5" is 0.5 %."""
    letter = unit[-1]

    def tidy(text: str) -> str:
        found = re.fullmatch(rf"(-?{_NUMBER})\s*(?:°\s*)?{letter}?", text.strip(), re.IGNORECASE)
        return f"{found[1].replace(',', '.')} {unit}" if found else text

    return tidy


celsius, percent = with_unit("°C"), with_unit("%")


def yes_no(text: str) -> str:
    """Yes and no in the usual short forms."""
    return {"y": "yes", "n": "no"}.get(text.lower(), text.lower())


def resin(text: str) -> str:
    """The symbol of a resin in the letters that it is written with, where it is one: pe-hd is PE-HD."""
    return NO_READING if text.lower() == NO_READING else text.upper()


def read_resin(text: str) -> object:
    """A resin's symbol, one of its other names, or a family such as PE. Raises NotAQuantity."""
    if symbols_for(text) or text == NO_READING:
        return text
    raise NotAQuantity(text, f"a resin's symbol such as PE-HD, PP or PET, or the words {NO_READING}", hint_for(text))


def slug(text: str) -> str:
    """The name of a file that words would have: "Café tubs" is cafe-tubs. "" where nothing is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain.lower()))
