"""Where everything on a label stands: worked out once, drawn as dots, as vectors or as cuts.

All places are in printer dots, so that the same layout comes out of every way of drawing it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from passport.problems import Problem, errors_in
from passport.tags.faces import CAP_HEIGHT, X_HEIGHT, LabelError, glyph_problems, tidy
from passport.tags.geometry import Plan, Size, plan_symbol
from passport.tags.typeset import LEAST_X_MM, Grid, Paragraph, capitals, paragraph

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
    mind: str = ""
    """What not to do with it; stands after the sentence where there is room."""
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
class Boxes:
    """Where things stand, in dots: left, top, width, height."""

    symbols: tuple[tuple[int, int], ...]
    text: tuple[int, int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The words of a label but its number, set into the text's box; places count from that box's corner."""

    number_top: int
    number_dots: int
    """Height kept for the number's capitals."""
    rule_top: int
    rule_dots: int
    """Thickness of the line under the number; it is as wide as the box."""
    triangle_top: int
    """-1 where there is no triangle; its left is 0."""
    triangle_dots: int
    """Side of the triangle."""
    triangle_stroke_dots: int
    triangle: str
    """The resin's number in the triangle."""
    lines: tuple[tuple[Paragraph, int, int], ...]
    """Paragraphs with their left and top."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One label, placed."""

    width: int
    height: int
    plan: Plan
    boxes: Boxes
    number: Paragraph
    column: Column


def label_problems(text: LabelText, spec: LabelSpec) -> tuple[Problem, ...]:
    """Everything to say about a label before it is drawn: errors, doubts and advice."""
    plan = _plan(text, spec)
    words = words_of(text)
    found = (*plan.problems, *glyph_problems((text.tag,), about=text.tag), *_text_problems(words, spec, plan.size))
    if errors_in(found) or _number(text, spec, plan):
        return found
    return (*found, _no_room(f'the tag number "{text.tag}"', spec))


def layout_of(text: LabelText, spec: LabelSpec) -> Layout:
    """Where everything stands. Raises LabelError with all errors of the label."""
    errors = errors_in(label_problems(text, spec))
    if errors:
        raise LabelError(errors)
    plan = _plan(text, spec)
    boxes, number = boxes_of(spec, plan.size), _number(text, spec, plan)
    column = column_of(words_of(text), spec.dpi, *boxes.text[2:]) if boxes else ""
    assert boxes and number and isinstance(column, Column)  # noqa: S101, PT018  # label_problems refuses the rest
    grid = Grid(dpi=spec.dpi)
    width, height = grid.dots(spec.width_mm), grid.dots(spec.height_mm)
    return Layout(width=width, height=height, plan=plan, boxes=boxes, number=number, column=column)


def _plan(text: LabelText, spec: LabelSpec) -> Plan:
    return plan_symbol(
        text.payload, side_mm=spec.symbol_mm, dpi=spec.dpi, level=spec.level, distance_mm=spec.distance_mm
    )


def _number(text: LabelText, spec: LabelSpec, plan: Plan) -> Paragraph | None:
    """The tag number at the height kept for it, smaller if it is of wide letters, never below the least."""
    boxes = boxes_of(spec, plan.size)
    column = column_of(words_of(text), spec.dpi, *boxes.text[2:]) if boxes else ""
    if boxes is None or isinstance(column, str):
        return None
    most_mm = Grid(dpi=spec.dpi).mm(column.number_dots)
    return capitals(text.tag, dpi=spec.dpi, width_dots=boxes.text[2], most_mm=most_mm, least_mm=LEAST_NUMBER_MM - 0.05)


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """The words of a label without its number: the same for all things of a batch."""

    longest_tag: int
    marking: str
    triangle: str
    sentence: str
    mind: str
    headline: str


def words_of(text: LabelText) -> Words:
    """What the label of one thing has in common with the others of its batch."""
    return Words(
        longest_tag=len(text.tag),
        marking=text.marking,
        triangle=text.triangle,
        sentence=text.sentence,
        mind=text.mind,
        headline=text.headline,
    )


@lru_cache(maxsize=256)
def _text_problems(words: Words, spec: LabelSpec, size: Size) -> tuple[Problem, ...]:
    """Glyphs and room; drawing needs both, so the set text is asked for only when all glyphs are there."""
    missing = glyph_problems((words.marking, words.triangle, words.sentence, words.mind, words.headline))
    if missing or not size.dots:
        return missing
    boxes = boxes_of(spec, size)
    if boxes is None:
        return (_no_room(f"the symbol of {size.whole_mm:.1f} mm", spec),)
    column = column_of(words, spec.dpi, *boxes.text[2:])
    return (_no_room(column, spec),) if isinstance(column, str) else ()


def _no_room(what: str, spec: LabelSpec) -> Problem:
    symbols = "a symbol" if spec.symbols == 1 else f"{spec.symbols} symbols"
    return Problem(
        code="label-no-room",
        message=f"{what} does not fit a label of {spec.width_mm:g} × {spec.height_mm:g} mm with {symbols} of "
        f"{spec.symbol_mm:g} mm, even at the least height of letters",
        hint="shorten the words or take a larger label",
    )


@lru_cache(maxsize=64)
def boxes_of(spec: LabelSpec, size: Size) -> Boxes | None:
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


def _beside(spec: LabelSpec, whole: tuple[int, int], side: int, margin: int) -> Boxes:
    """The quiet zone is the space between symbol and text; towards the edge it may meet the cut."""
    top = (whole[1] - side) // 2
    left = margin // 2 if spec.symbols == 1 else 0
    places = [(left, top)]
    right = whole[0] - margin
    if spec.symbols > 1:
        places.append((whole[0] - side, top))
        right = whole[0] - side
    box = (left + side, margin, right - left - side, whole[1] - 2 * margin)
    return Boxes(symbols=tuple(places), text=box)


def _below(whole: tuple[int, int], side: int, margin: int) -> Boxes | None:
    left = (whole[0] - side) // 2
    top = side
    if whole[1] - top - margin <= 0:
        return None
    return Boxes(symbols=((left, 0),), text=(margin, top, whole[0] - 2 * margin, whole[1] - top - margin))


@lru_cache(maxsize=256)
def column_of(words: Words, dpi: int, width: int, height: int) -> Column | str:
    """The column of text, or the name of what does not fit. First the small lines, then the sentence."""
    grid = Grid(dpi=dpi)
    # R is wider than most characters of a number; a wider number is drawn a little smaller
    number = capitals(
        "R" * words.longest_tag, dpi=dpi, width_dots=width, most_mm=MOST_NUMBER_MM, least_mm=LEAST_NUMBER_MM
    )
    side = grid.dots(TRIANGLE_MM) + grid.dots(GAP_MM) if words.triangle else 0
    least = LEAST_X_MM / X_HEIGHT * CAP_HEIGHT
    marking = capitals(words.marking, dpi=dpi, width_dots=width - side, most_mm=MARKING_MM, least_mm=least)
    headline = paragraph(words.headline, dpi=dpi, width_dots=width, height_dots=height, most_x_mm=LEAST_X_MM)
    if number is None or marking is None or headline is None:
        return _what_is_too_wide(words, number, marking)
    taken = _head_dots(grid, number, words, marking) + _tail_dots(grid, headline)
    said = (f"{words.sentence} {words.mind}", words.sentence) if words.mind else (words.sentence,)
    tried = (paragraph(each, dpi=dpi, width_dots=width, height_dots=height - taken) for each in said)
    sentence = next((each for each in tried if each is not None), None)
    if sentence is None:
        return f'the sentence "{words.sentence}"'
    # the column stands in the middle of the label's height
    top = (height - round(taken + sentence.height_dots)) // 2
    return _column(grid, words, top, number, (marking, sentence, headline))


def _what_is_too_wide(words: Words, number: Paragraph | None, marking: Paragraph | None) -> str:
    if number is None:
        return "the tag number"
    return f'the marking "{words.marking}"' if marking is None else f'the line "{words.headline}"'


def _column(
    grid: Grid, words: Words, top: int, number: Paragraph, set_words: tuple[Paragraph, Paragraph, Paragraph]
) -> Column:
    """Everything from the top down, one gap apart."""
    marking, sentence, headline = set_words
    rule_top = top + round(number.first_dots) + grid.dots(GAP_MM)
    row_top = rule_top + grid.dots(RULE_MM) + grid.dots(GAP_MM)
    side = grid.dots(TRIANGLE_MM) + grid.dots(GAP_MM) if words.triangle else 0
    sentence_top = top + _head_dots(grid, number, words, marking)
    base = row_top + _row_dots(grid, words, marking)
    lines = (
        (marking, side, round(base - marking.first_dots)),
        (sentence, 0, sentence_top),
        (headline, 0, sentence_top + round(sentence.height_dots) + grid.dots(GAP_MM)),
    )
    return Column(
        number_top=top,
        number_dots=round(number.first_dots),
        rule_top=rule_top,
        rule_dots=grid.dots(RULE_MM),
        triangle_top=row_top if words.triangle else -1,
        triangle_dots=grid.dots(TRIANGLE_MM),
        triangle_stroke_dots=grid.dots(STROKE_MM),
        triangle=words.triangle,
        lines=tuple(line for line in lines if line[0].lines),
    )


def _row_dots(grid: Grid, words: Words, marking: Paragraph) -> int:
    """Height of the row with triangle and marking."""
    if words.triangle:
        return grid.dots(TRIANGLE_MM * 3**0.5 / 2) + 1
    return round(marking.first_dots) if words.marking else 0


def _head_dots(grid: Grid, number: Paragraph, words: Words, marking: Paragraph) -> int:
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


def tidy_text(text: LabelText) -> str:
    """All words of a label in one line, for lists and pages beside the picture."""
    return tidy(" ".join(part for part in (text.tag, text.marking, text.sentence, text.headline) if part))
