"""A lot card: what hangs on a sack or a box in the yard, read from across the aisle."""

from __future__ import annotations

from dataclasses import dataclass

from PIL import Image, ImageDraw

from passport.problems import Problem, errors_in
from passport.tags.faces import BOLD, CAP_HEIGHT, REGULAR, X_HEIGHT, LabelError, glyph_problems
from passport.tags.geometry import Plan, plan_symbol
from passport.tags.label import png_of, stamp_sample, symbol_image
from passport.tags.readback import unread
from passport.tags.typeset import LEAST_X_MM, WANTED_X_MM, Grid, Paragraph, capitals, paragraph, wrapped

LEAST_ID_MM = 6.0
"""Height of the lot's id: letters are read at 150 times their height (ANSI Z535.2), here from 0.9 m."""
MOST_ID_MM = 13.0
FACT_MM = 3.8
LEAST_FACT_MM = 2.4
TIGHTER = (1.0, 0.9, 0.8, 0.7)
"""Shares of the height of facts that are tried, before the least, where there are many facts or doubts."""
DOUBT_X_MM = 2.4
NAME_SHARE = 0.32
"""Of the column beside the symbol, for the names of facts."""
GAP_MM = 2.4
BAR_MM = 1.6
RULE_MM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CardText:
    """What a lot card says; every word in the language of the yard."""

    lot: str
    """The lot's id."""
    payload: str
    """What the symbol carries, from tags.address."""
    facts: tuple[tuple[str, str], ...]
    """What is measured and its value, such as ("Resin", "PE-HD"), ("Mass", "55.2 kg")."""
    doubts_title: str = ""
    doubts: tuple[str, ...] = ()
    """What is doubtful about the lot, a sentence each."""
    headline: str = ""
    """A small closing line."""
    sample: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CardSpec:
    """The size of a card and the printer it is for: A6 lying unless said otherwise."""

    width_mm: float = 148.0
    height_mm: float = 105.0
    symbol_mm: float = 48.0
    dpi: int = 300
    level: str = ""
    margin_mm: float = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """Paragraphs with their left and top in dots, and black rectangles."""

    lines: tuple[tuple[Paragraph, int, int], ...]
    bars: tuple[tuple[int, int, int, int], ...]
    bottom: int
    """Where the next part may begin."""


def card_image(text: CardText, spec: CardSpec) -> Image.Image:
    """The card in black and white, in true size, read back. Raises LabelError."""
    plan = plan_symbol(text.payload, side_mm=spec.symbol_mm, dpi=spec.dpi, level=spec.level)
    placed = _placed(text, spec, plan)
    image = _drawn(spec, plan, placed)
    grid = Grid(dpi=spec.dpi)
    if text.sample:
        left = plan.size.whole_dots
        stamp_sample(image, (left, 0, image.width - left, grid.dots(spec.symbol_mm)))
    lost = unread(image, [text.payload])
    if lost:
        raise LabelError(lost)
    return image


def card_png(text: CardText, spec: CardSpec) -> bytes:
    """The card as a one-bit PNG that knows its size. Raises LabelError."""
    return png_of(card_image(text, spec), spec.dpi)


def _placed(text: CardText, spec: CardSpec, plan: Plan) -> _Placed:
    words = (text.lot, text.doubts_title, *text.doubts, text.headline, *(word for fact in text.facts for word in fact))
    refused = errors_in((*plan.problems, *glyph_problems(words, about=text.lot)))
    if refused:
        raise LabelError(refused)
    for share in TIGHTER:
        try:
            return _placed_at(text, spec, plan.size.whole_dots, share)
        except LabelError:
            continue
    return _placed_at(text, spec, plan.size.whole_dots, LEAST_FACT_MM / FACT_MM)


def _placed_at(text: CardText, spec: CardSpec, side: int, share: float) -> _Placed:
    """share: of the wanted height of facts and of the space between them."""
    above = _beside_symbol(text, spec, side, share)
    below = _under_symbol(text, spec, above.bottom)
    return _Placed(lines=above.lines + below.lines, bars=above.bars + below.bars, bottom=below.bottom)


def _beside_symbol(text: CardText, spec: CardSpec, side: int, share: float) -> _Placed:
    """The id as large as its column, a rule, then a row for each fact."""
    grid = Grid(dpi=spec.dpi)
    left, top, gap = side, grid.dots(spec.margin_mm), grid.dots(GAP_MM)
    width = grid.dots(spec.width_mm) - left - grid.dots(spec.margin_mm)
    lot = capitals(text.lot, dpi=spec.dpi, width_dots=width, most_mm=MOST_ID_MM, least_mm=LEAST_ID_MM)
    if lot is None:
        raise LabelError([_no_room(text, f'the id "{text.lot}"', spec)])
    rule = top + round(lot.first_dots) + gap
    lines = [(lot, left, top)]
    y = rule + grid.dots(RULE_MM) + gap
    for name, value in text.facts:
        name_line, value_line = _fact(text, spec, (name, value), width, FACT_MM * share)
        row = max(name_line.height_dots, value_line.height_dots)
        # one base line for the first line of both
        lines.append((name_line, left, y + round(value_line.first_dots - name_line.first_dots)))
        lines.append((value_line, left + round(width * NAME_SHARE), y))
        y += round(row + gap * share)
    if y > grid.dots(spec.height_mm - 2 * spec.margin_mm):
        raise LabelError([_no_room(text, f"a list of {len(text.facts)} facts", spec)])
    return _Placed(lines=tuple(lines), bars=((left, rule, width, grid.dots(RULE_MM)),), bottom=max(y, side + gap))


def _fact(
    text: CardText, spec: CardSpec, fact: tuple[str, str], width: int, most_mm: float
) -> tuple[Paragraph, Paragraph]:
    """The name small at the left, the value bold at the right."""
    name, value = fact
    names = width * NAME_SHARE - Grid(dpi=spec.dpi).dots(GAP_MM)
    name_line = paragraph(name, dpi=spec.dpi, width_dots=names, height_dots=names, most_x_mm=WANTED_X_MM)
    value_line = _value(value, spec.dpi, width * (1 - NAME_SHARE), most_mm)
    if name_line is None or value_line is None:
        raise LabelError([_no_room(text, f'"{name}: {value}"', spec)])
    return name_line, value_line


def _value(value: str, dpi: int, width: float, most_mm: float) -> Paragraph | None:
    """One bold line, smaller where it is long; below the least height it takes further lines instead."""
    line = capitals(value, dpi=dpi, width_dots=width, most_mm=most_mm, least_mm=LEAST_FACT_MM)
    if line is not None:
        return line
    em_dots = Grid(dpi=dpi).exact(LEAST_FACT_MM) / CAP_HEIGHT
    lines = wrapped(value, BOLD, em_dots, width)
    return Paragraph(lines=lines, weight=BOLD, em_dots=em_dots) if lines else None


def _under_symbol(text: CardText, spec: CardSpec, start: int) -> _Placed:
    """Doubts behind a heavy bar, as tall as there is room for; the headline at the foot."""
    grid = Grid(dpi=spec.dpi)
    margin, gap, bar = grid.dots(spec.margin_mm), grid.dots(GAP_MM), grid.dots(BAR_MM)
    width, bottom = grid.dots(spec.width_mm) - 2 * margin, grid.dots(spec.height_mm) - margin
    foot = paragraph(text.headline, dpi=spec.dpi, width_dots=width, height_dots=bottom - start, most_x_mm=WANTED_X_MM)
    if foot is None:
        raise LabelError([_no_room(text, f'the line "{text.headline}"', spec)])
    foot_top = bottom - round(foot.height_dots)
    lines, top = [(foot, margin, foot_top)], start
    for line in _doubts(text, spec, (width - bar - gap, foot_top - gap - start)):
        lines.append((line, margin + bar + gap, top))
        top += round(line.height_dots) + gap // 2
    bars = ((margin, start, bar, top - start - gap // 2),) if text.doubts else ()
    return _Placed(lines=tuple(line for line in lines if line[0].lines), bars=bars, bottom=bottom)


def _doubts(text: CardText, spec: CardSpec, room: tuple[int, int]) -> tuple[Paragraph, ...]:
    """Title and doubts, all of one size: the largest at which all of them fit."""
    if not text.doubts:
        return ()
    steps = round((DOUBT_X_MM - LEAST_X_MM) * 10)
    for step in range(steps, -1, -1):
        found = _doubts_at(text, spec, LEAST_X_MM + step / 10, room[0])
        if sum(round(line.height_dots) + Grid(dpi=spec.dpi).dots(GAP_MM) // 2 for line in found) <= room[1]:
            return found
    raise LabelError([_no_room(text, f"a list of {len(text.doubts)} doubts", spec)])


def _doubts_at(text: CardText, spec: CardSpec, x_mm: float, width: int) -> tuple[Paragraph, ...]:
    em_dots = Grid(dpi=spec.dpi).exact(x_mm) / X_HEIGHT
    words = ((text.doubts_title, BOLD), *((doubt, REGULAR) for doubt in text.doubts))
    lines = [(wrapped(word, weight, em_dots, width), weight) for word, weight in words if word]
    if any(line is None for line, _ in lines):
        raise LabelError([_no_room(text, "a word of the doubts", spec)])
    return tuple(Paragraph(lines=line or (), weight=weight, em_dots=em_dots) for line, weight in lines)


def _no_room(text: CardText, what: str, spec: CardSpec) -> Problem:
    return Problem(
        code="card-no-room",
        message=f"{what} does not fit a card of {spec.width_mm:g} × {spec.height_mm:g} mm, even at the least height "
        "of letters",
        hint="shorten the words or take a larger card",
        about=text.lot,
    )


def _drawn(spec: CardSpec, plan: Plan, placed: _Placed) -> Image.Image:
    grid = Grid(dpi=spec.dpi)
    image = Image.new("1", (grid.dots(spec.width_mm), grid.dots(spec.height_mm)), 1)
    image.paste(symbol_image(plan.symbol, plan.size), (0, 0))
    canvas = ImageDraw.Draw(image)
    for left, top, width, height in placed.bars:
        canvas.rectangle((left, top, left + width - 1, top + height - 1), fill=0)
    for line, left, top in placed.lines:
        line.draw(canvas, left, top)
    return image
