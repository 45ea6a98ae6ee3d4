"""The typeface of labels: which characters it has, and how tall they are.

A character that a font lacks is drawn by most programs as an empty box without a word. Here it is
a problem that names the character, found in the list of what the font covers, not in the drawing.

The files in `fonts/` are a subset of an open typeface under a name of its own, made by
`tests/tags/make_fonts.py`; their licence is `fonts/OFL.txt`.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from importlib import resources

from PIL import ImageFont

from passport.problems import Problem

REGULAR = "Regular"
BOLD = "Bold"
X_HEIGHT = 0.516
"""Height of a small x in ems: OS/2 sxHeight 516 of 1000."""
CAP_HEIGHT = 0.698
"""Height of a capital in ems: OS/2 sCapHeight 698 of 1000."""
_SHOWN = 40


class LabelError(ValueError):
    """A label that cannot be printed as asked, with everything that stands in the way."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(problem.message for problem in self.problems))


@cache
def _file(weight: str) -> bytes:
    return resources.files("passport.tags").joinpath("fonts", f"TagSans-{weight}.ttf").read_bytes()


@lru_cache(maxsize=64)
def face(weight: str, em_dots: float) -> ImageFont.FreeTypeFont:
    """A weight at a size. The basic layout is the same on every machine, with or without the shaping library."""
    return ImageFont.truetype(io.BytesIO(_file(weight)), em_dots, layout_engine=ImageFont.Layout.BASIC)


@cache
def covered() -> frozenset[str]:
    """Every character that both weights draw."""
    text = resources.files("passport.tags").joinpath("fonts", "covered.txt").read_text(encoding="ascii")
    lines = [line.split("-") for line in text.splitlines() if not line.startswith("#")]
    return frozenset(chr(c) for first, last in lines for c in range(int(first, 16), int(last, 16) + 1))


def tidy(text: str) -> str:
    """Text as it is set: accents composed (Unicode NFC), any white space one space."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def _is_set(character: str) -> bool:
    """Whether it can be drawn as it stands: marks that stack on another letter cannot."""
    return character in covered() and not unicodedata.combining(character)


def glyph_problems(texts: Iterable[str], about: str = "") -> tuple[Problem, ...]:
    """One problem for each different character of each text that cannot be set. Code: label-glyph."""
    return tuple(
        _no_glyph(character, text, about)
        for text in texts
        for character in dict.fromkeys(c for c in tidy(text) if not _is_set(c))
    )


def _no_glyph(character: str, text: str, about: str) -> Problem:
    name = unicodedata.name(character, "without a name")
    shown = text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"
    return Problem(
        code="label-glyph",
        message=f'the typeface of labels has no "{character}" (U+{ord(character):04X}, {name}), met in "{shown}"',
        hint="write it in Latin, Greek or Cyrillic letters",
        about=about,
    )
