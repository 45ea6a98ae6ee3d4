"""Setting text into a box: it wraps, shrinks to the least legal height, and then is an error.

Heights are those of a small x or of a capital in millimetres, as the law and people measure them.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache

from PIL import Image, ImageDraw

from passport.tags.faces import BOLD, CAP_HEIGHT, REGULAR, X_HEIGHT, face, tidy
from passport.tags.geometry import INCH_MM

LEAST_X_MM = 1.2
"""Regulation (EU) 1169/2011 art. 13(2), for food; taken here as the least for any label."""
WANTED_X_MM = 1.5
"""The legal least with a quarter added for weather (own margin)."""
LARGEST_X_MM = 1.8
_STEP_MM = 0.1
LEADING = 1.26
"""Distance of base lines in ems (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Millimetres on a printer's grid of dots."""

    dpi: int

    def dots(self, length_mm: float) -> int:
        """The nearest whole number of dots."""
        return round(length_mm * self.dpi / INCH_MM)

    def exact(self, length_mm: float) -> float:
        """The same, not rounded: the size of type may be any."""
        return length_mm * self.dpi / INCH_MM

    def mm(self, dots: float) -> float:
        """The length of some dots."""
        return dots * INCH_MM / self.dpi


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Lines of one size, ready to draw."""

    lines: tuple[str, ...]
    weight: str
    em_dots: float

    @property
    def leading_dots(self) -> float:
        """From one base line to the next."""
        return self.em_dots * LEADING

    @property
    def first_dots(self) -> float:
        """From the top of the box to the first base line: the height of a capital."""
        return self.em_dots * CAP_HEIGHT

    @property
    def height_dots(self) -> float:
        """From the top of the first capital to the deepest tail of the last line."""
        tail = self.em_dots * 0.22
        return self.first_dots + self.leading_dots * (len(self.lines) - 1) + tail if self.lines else 0.0

    def width_of(self, line: str) -> float:
        """How wide a line runs, in dots."""
        return face(self.weight, self.em_dots).getlength(line)

    def draw(self, canvas: ImageDraw.ImageDraw, left: float, top: float) -> None:
        """Black, from the left."""
        font = face(self.weight, self.em_dots)
        for number, line in enumerate(self.lines):
            base = top + self.first_dots + number * self.leading_dots
            canvas.text((round(left), round(base)), line, font=font, fill=0, anchor="ls")


def wrapped(text: str, weight: str, em_dots: float, width_dots: float) -> tuple[str, ...] | None:
    """Text broken at spaces into lines that fit, or None if a single word is too wide."""
    font = face(weight, em_dots)
    lines: list[str] = []
    for word in tidy(text).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(longer) <= width_dots:
            lines[-1] = longer
        elif font.getlength(word) <= width_dots:
            lines.append(word)
        else:
            return None
    # a dot that parts two names needs no second name beside it on the line
    return tuple(line.removesuffix(" ·") for line in lines)


@lru_cache(maxsize=512)
def paragraph(
    text: str, *, dpi: int, width_dots: float, height_dots: float, most_x_mm: float = LARGEST_X_MM
) -> Paragraph | None:
    """Running text at the largest height of x that fits the box, or None if the legal least does not."""
    steps = round((most_x_mm - LEAST_X_MM) / _STEP_MM)
    for step in range(steps, -1, -1):
        em_dots = Grid(dpi=dpi).exact(LEAST_X_MM + step * _STEP_MM) / X_HEIGHT
        lines = wrapped(text, REGULAR, em_dots, width_dots)
        if lines is None:
            continue
        found = Paragraph(lines=lines, weight=REGULAR, em_dots=em_dots)
        if found.height_dots <= height_dots:
            return _evened(found, text, width_dots)
    return None


def _evened(found: Paragraph, text: str, width_dots: float) -> Paragraph:
    """As many lines, as even as can be, so that no single word is left for the last one."""
    best = found.lines
    for share in range(98, 60, -2):
        lines = wrapped(text, found.weight, found.em_dots, width_dots * share / 100)
        if lines is None or len(lines) > len(best):
            break
        best = lines
    return dataclasses.replace(found, lines=best)


def capitals(text: str, *, dpi: int, width_dots: float, most_mm: float, least_mm: float) -> Paragraph | None:
    """One bold line at the largest height of capitals that fits the width, or None below least_mm."""
    wide = face(BOLD, 100.0).getlength(tidy(text)) / 100.0
    most = Grid(dpi=dpi).exact(most_mm) / CAP_HEIGHT
    least = Grid(dpi=dpi).exact(least_mm) / CAP_HEIGHT
    em_dots = min(most, width_dots / wide) if wide else most
    if em_dots < least:
        return None
    return Paragraph(lines=(tidy(text),), weight=BOLD, em_dots=round(em_dots - 0.05, 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class TriangleShape:
    """A plain triangle around a number, in dots; outer and inner edge are three corners each."""

    outer: tuple[tuple[float, float], ...]
    inner: tuple[tuple[float, float], ...]
    number_at: tuple[float, float]
    """Middle of the number's base line."""
    em_dots: float


def triangle_shape(side_dots: int, stroke_dots: int) -> TriangleShape:
    """The sign of ASTM D7611 since 2013: no arrows. Its number is set in bold."""
    height = side_dots * 3**0.5 / 2
    outer = ((side_dots / 2, 0.0), (float(side_dots), height), (0.0, height))
    centre = (side_dots / 2, height * 2 / 3)
    # the centre of an equilateral triangle is a third of its height from each side
    share = 1 - stroke_dots / (height / 3)
    inner = tuple((centre[0] + (x - centre[0]) * share, centre[1] + (y - centre[1]) * share) for x, y in outer)
    base = height * 0.9 - stroke_dots
    return TriangleShape(outer=outer, inner=inner, number_at=(side_dots / 2, base), em_dots=height * 0.4 / CAP_HEIGHT)


def triangle(side_dots: int, stroke_dots: int, number: str) -> Image.Image:
    """The same as a picture."""
    shape = triangle_shape(side_dots, stroke_dots)
    image = Image.new("1", (side_dots + 1, round(shape.outer[1][1]) + 1), 1)
    canvas = ImageDraw.Draw(image)
    canvas.polygon(shape.outer, fill=0)
    canvas.polygon(shape.inner, fill=1)
    x, base = shape.number_at
    canvas.text((round(x), round(base)), number, font=face(BOLD, shape.em_dots), fill=0, anchor="ms")
    return image
