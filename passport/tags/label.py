"""One label: symbol, tag number, marking, and the sentence that helps when the website is gone."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from passport.problems import Problem, errors_in
from passport.tags.faces import BOLD, CAP_HEIGHT, X_HEIGHT, LabelError, face, glyph_problems, tidy
from passport.tags.geometry import Plan, Size, plan_symbol
from passport.tags.readback import unread
from passport.tags.symbol import Symbol
from passport.tags.typeset import LEAST_X_MM, Grid, Paragraph, capitals, paragraph, triangle

LEAST_NUMBER_MM = 3.0
"""Height of the tag number's capitals: read at arm's length on a worn tag (own margin)."""
MOST_NUMBER_MM = 4.2
MARKING_MM = 2.6
"""Wanted height of the marking's capitals."""
TRIANGLE_MM = 5.4
STROKE_MM = 0.45
"""Of the triangle: four dots and more at the coarsest printer, so that it does not break up."""
LEAST_COLUMN_MM = 22.0
"""Beside a symbol there is text only where a column of this width is left; else it stands below."""
RULE_MM = 0.25
GAP_MM = 1.5
SAMPLE = "SAMPLE"
RESOLUTIONS = (203, 300, 600)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelText:
    """What one label says."""

    tag: str
    """The tag number, or a lot's id."""
    payload: str
    """What the symbol carries, from tags.address."""
    marking: str = ""
    """The material marking, such as >PE-HD<; empty where there is none."""
    triangle: str = ""
    """The resin's number in the plain triangle; empty for none. It states the resin and claims nothing."""
    sentence: str = ""
    """What to do with the thing when the website is gone."""
    headline: str = ""
    """A small closing line: the workshop's name, the address in letters."""
    sample: bool = False
    """Whether SAMPLE stands across the text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSpec:
    """The size of a label and the printer it is for."""

    width_mm: float = 70.0
    height_mm: float = 37.0
    symbol_mm: float = 30.0
    """Side of the symbol with its quiet zone."""
    dpi: int = 300
    level: str = ""
    """L, M, Q or H; empty: chosen from the size."""
    distance_mm: float = 0.0
    """From how far it must be read; 0: no wish."""
    margin_mm: float = 2.0
    symbols: int = 1
    """1, or 2 for a twin: one at each end, so that a stain on one leaves the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Boxes:
    """Where things stand, in dots: left, top, width, height."""

    symbols: tuple[tuple[int, int], ...]
    text: tuple[int, int, int, int]


def label_problems(text: LabelText, spec: LabelSpec) -> tuple[Problem, ...]:
    """Everything to say about a label before it is drawn: errors, doubts and advice."""
    plan = _plan(text, spec)
    return _all_problems(text, spec, plan)


def label_image(text: LabelText, spec: LabelSpec) -> Image.Image:
    """The label in black and white, in true size at spec.dpi, read back. Raises LabelError."""
    plan = _plan(text, spec)
    errors = errors_in(_all_problems(text, spec, plan))
    if errors:
        raise LabelError(errors)
    image = _drawn(text, spec, plan)
    lost = unread(image, [text.payload] * spec.symbols)
    if lost:
        raise LabelError(lost)
    return image


def label_png(text: LabelText, spec: LabelSpec) -> bytes:
    """The label as a one-bit PNG that knows its size. Same input, same bytes. Raises LabelError."""
    return png_of(label_image(text, spec), spec.dpi)


def png_of(image: Image.Image, dpi: int) -> bytes:
    """A picture as PNG with its resolution in it."""
    made = io.BytesIO()
    image.save(made, "PNG", dpi=(dpi, dpi))
    return made.getvalue()


def _plan(text: LabelText, spec: LabelSpec) -> Plan:
    return plan_symbol(
        text.payload, side_mm=spec.symbol_mm, dpi=spec.dpi, level=spec.level, distance_mm=spec.distance_mm
    )


def _all_problems(text: LabelText, spec: LabelSpec, plan: Plan) -> tuple[Problem, ...]:
    return (
        *plan.problems,
        *glyph_problems((text.tag,), about=text.tag),
        *_text_problems(_Words.of(text), spec, plan.size),
    )


# --- what is the same on many labels --------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """The words of a label without its number: the same for all things of a batch."""

    longest_tag: int
    marking: str
    triangle: str
    sentence: str
    headline: str

    @classmethod
    def of(cls, text: LabelText) -> _Words:
        return cls(
            longest_tag=len(text.tag),
            marking=text.marking,
            triangle=text.triangle,
            sentence=text.sentence,
            headline=text.headline,
        )


@lru_cache(maxsize=256)
def _text_problems(words: _Words, spec: LabelSpec, size: Size) -> tuple[Problem, ...]:
    """Glyphs and room; drawing needs both, so the set text is asked for only when all glyphs are there."""
    missing = glyph_problems((words.marking, words.triangle, words.sentence, words.headline))
    if missing or not size.dots:
        return missing
    boxes = _boxes(spec, size)
    if boxes is None:
        return (_no_room(f"the symbol of {size.whole_mm:.1f} mm", spec),)
    block = _set(words, spec.dpi, boxes.text[2], boxes.text[3])
    return (_no_room(block, spec),) if isinstance(block, str) else ()


def _no_room(what: str, spec: LabelSpec) -> Problem:
    return Problem(
        code="label-no-room",
        message=f"{what} does not fit a label of {spec.width_mm:g} × {spec.height_mm:g} mm with a symbol of "
        f"{spec.symbol_mm:g} mm, even at the least height of letters",
        hint="shorten the words or take a larger label",
    )


@lru_cache(maxsize=64)
def _boxes(spec: LabelSpec, size: Size) -> _Boxes | None:
    """Symbol at the left and text beside it, or text below where the label is too narrow for that."""
    grid = Grid(dpi=spec.dpi)
    width, height, margin = (grid.dots(mm) for mm in (spec.width_mm, spec.height_mm, spec.margin_mm))
    side = size.whole_dots
    if side > min(width, height):
        return None
    column = width - spec.symbols * side - (3 - spec.symbols) * margin
    if column >= grid.dots(LEAST_COLUMN_MM):
        return _beside(spec, (width, height), side, margin)
    return _below((width, height), side, margin) if spec.symbols == 1 else None


def _beside(spec: LabelSpec, whole: tuple[int, int], side: int, margin: int) -> _Boxes:
    """The quiet zone is the space between symbol and text; towards the edge it may meet the cut."""
    top = (whole[1] - side) // 2
    left = margin // 2 if spec.symbols == 1 else 0
    places = [(left, top)]
    right = whole[0] - margin
    if spec.symbols > 1:
        places.append((whole[0] - side, top))
        right = whole[0] - side
    box = (left + side, margin, right - left - side, whole[1] - 2 * margin)
    return _Boxes(symbols=tuple(places), text=box)


def _below(whole: tuple[int, int], side: int, margin: int) -> _Boxes | None:
    left = (whole[0] - side) // 2
    top = side
    if whole[1] - top - margin <= 0:
        return None
    return _Boxes(symbols=((left, 0),), text=(margin, top, whole[0] - 2 * margin, whole[1] - top - margin))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Block:
    """The set words; the tag number stands above them."""

    marking: Paragraph | None
    sentence: Paragraph
    headline: Paragraph
    number_dots: int
    """Height kept for the number's capitals."""
    height_dots: int
    """Of the whole column."""


@lru_cache(maxsize=256)
def _set(words: _Words, dpi: int, width: int, height: int) -> _Block | str:
    """The column of text, or the name of what does not fit. First the small lines, then the sentence."""
    grid = Grid(dpi=dpi)
    # R is wider than most characters of a number; a wider number is drawn a little smaller
    number = capitals(
        "R" * words.longest_tag, dpi=dpi, width_dots=width, most_mm=MOST_NUMBER_MM, least_mm=LEAST_NUMBER_MM
    )
    if number is None:
        return "the tag number"
    side = grid.dots(TRIANGLE_MM) + grid.dots(GAP_MM) if words.triangle else 0
    least = LEAST_X_MM / X_HEIGHT * CAP_HEIGHT
    marking = capitals(words.marking, dpi=dpi, width_dots=width - side, most_mm=MARKING_MM, least_mm=least)
    if words.marking and marking is None:
        return f'the marking "{words.marking}"'
    headline = paragraph(words.headline, dpi=dpi, width_dots=width, height_dots=height, most_x_mm=LEAST_X_MM)
    if headline is None:
        return f'the line "{words.headline}"'
    taken = _head_dots(grid, number, words, marking) + _tail_dots(grid, headline)
    sentence = paragraph(words.sentence, dpi=dpi, width_dots=width, height_dots=height - taken)
    if sentence is None:
        return f'the sentence "{words.sentence}"'
    return _Block(
        marking=marking if words.marking else None,
        sentence=sentence,
        headline=headline,
        number_dots=round(number.first_dots),
        height_dots=round(taken + sentence.height_dots),
    )


def _row_dots(grid: Grid, words: _Words, marking: Paragraph | None) -> int:
    """Height of the row with triangle and marking."""
    if words.triangle:
        return grid.dots(TRIANGLE_MM * 3**0.5 / 2) + 1
    return round(marking.first_dots) if words.marking and marking else 0


def _head_dots(grid: Grid, number: Paragraph, words: _Words, marking: Paragraph | None) -> int:
    """From the top to the sentence."""
    row = _row_dots(grid, words, marking)
    gap = grid.dots(GAP_MM)
    head = round(number.first_dots) + gap + grid.dots(RULE_MM) + gap
    return head + (row + _under_marking(grid) if row else 0)


def _under_marking(grid: Grid) -> int:
    """A little more than elsewhere: angle brackets reach below the base line."""
    return grid.dots(1.3 * GAP_MM)


def _tail_dots(grid: Grid, headline: Paragraph) -> int:
    return grid.dots(GAP_MM) + round(headline.height_dots) if headline.lines else 0


# --- drawing --------------------------------------------------------------------------------------


def symbol_image(symbol: Symbol, size: Size) -> Image.Image:
    """The symbol with its quiet zone, each module a square of whole dots."""
    light = np.pad(~symbol.dark(), (size.whole_dots // size.dots - symbol.side) // 2, constant_values=True)
    dots = np.repeat(np.repeat(light, size.dots, axis=0), size.dots, axis=1)
    return Image.fromarray(dots)


def _drawn(text: LabelText, spec: LabelSpec, plan: Plan) -> Image.Image:
    grid = Grid(dpi=spec.dpi)
    boxes = _boxes(spec, plan.size)
    assert boxes is not None  # noqa: S101  # _text_problems has refused it
    image = Image.new("1", (grid.dots(spec.width_mm), grid.dots(spec.height_mm)), 1)
    symbol = symbol_image(plan.symbol, plan.size)
    for place in boxes.symbols:
        image.paste(symbol, place)
    left, top, width, height = boxes.text
    words, first = _words_image(_Words.of(text), spec.dpi, width, height)
    image.paste(words, (left, top))
    number = capitals(text.tag, dpi=spec.dpi, width_dots=width, most_mm=grid.mm(first), least_mm=0.0)
    canvas = ImageDraw.Draw(image)
    if number:
        number.draw(canvas, left, top + _shift(_Words.of(text), spec.dpi, width, height))
    if text.sample:
        ink, halo = _sample_masks(width, height)
        image.paste(1, (left, top), halo)
        image.paste(0, (left, top), ink)
    return image


def _shift(words: _Words, dpi: int, width: int, height: int) -> int:
    """Half of the room that is left: the column stands in the middle of the label's height."""
    block = _set(words, dpi, width, height)
    return (height - block.height_dots) // 2 if isinstance(block, _Block) else 0


@lru_cache(maxsize=256)
def _words_image(words: _Words, dpi: int, width: int, height: int) -> tuple[Image.Image, int]:
    """The column without its number, and the height of the number's capitals, in dots."""
    block = _set(words, dpi, width, height)
    assert isinstance(block, _Block)  # noqa: S101  # _text_problems has refused it
    grid = Grid(dpi=dpi)
    gap = grid.dots(GAP_MM)
    image = Image.new("1", (width, height), 1)
    canvas = ImageDraw.Draw(image)
    top = _shift(words, dpi, width, height) + block.number_dots + gap
    rule = grid.dots(RULE_MM)
    canvas.rectangle((0, top, width - 1, top + rule - 1), fill=0)
    top += rule + gap
    row = _row_dots(grid, words, block.marking)
    if row:
        _draw_marking(image, words, block.marking, grid, top)
        top += row + _under_marking(grid)
    block.sentence.draw(canvas, 0, top)
    if block.headline.lines:
        block.headline.draw(canvas, 0, top + round(block.sentence.height_dots) + gap)
    return image, block.number_dots


def _draw_marking(image: Image.Image, words: _Words, marking: Paragraph | None, grid: Grid, top: int) -> None:
    """Triangle and letters on one base line."""
    left = 0
    if words.triangle:
        image.paste(triangle(grid.dots(TRIANGLE_MM), grid.dots(STROKE_MM), words.triangle), (0, top))
        left = grid.dots(TRIANGLE_MM) + grid.dots(GAP_MM)
    if marking:
        down = round(_row_dots(grid, words, marking) - marking.first_dots)
        marking.draw(ImageDraw.Draw(image), left, top + down)


@lru_cache(maxsize=16)
def _sample_masks(width: int, height: int) -> tuple[Image.Image, Image.Image]:
    """The word SAMPLE from corner to corner of the text, and the light rim that keeps it legible."""
    angle = math.degrees(math.atan2(height, width)) * 0.9
    wanted = math.hypot(width, height) * 0.82
    em = round(wanted / (face(BOLD, 100.0).getlength(SAMPLE) / 100.0), 1)
    ink, halo = (_turned(em, rim, angle, (width, height)) for rim in (0, max(round(em * 0.045), 2)))
    return ink, halo


def _turned(em: float, rim: int, angle: float, box: tuple[int, int]) -> Image.Image:
    side = max(box) * 2
    flat = Image.new("L", (side, side), 0)
    middle, font = (side / 2, side / 2), face(BOLD, em)
    ImageDraw.Draw(flat).text(middle, SAMPLE, font=font, fill=255, anchor="mm", stroke_width=rim)
    turned = flat.rotate(angle, resample=Image.Resampling.BICUBIC)
    left, top = (side - box[0]) // 2, (side - box[1]) // 2
    part = turned.crop((left, top, left + box[0], top + box[1]))
    return part.point([0] * 128 + [255] * 128, mode="1")


def tidy_text(text: LabelText) -> str:
    """All words of a label in one line, for lists and pages beside the picture."""
    return tidy(" ".join(part for part in (text.tag, text.marking, text.sentence, text.headline) if part))
