"""Paper for the gate: blank cards with numbers set aside, to hang on sacks, and a sheet to fill in by hand.

Both in true size, like the sheets of labels: black and white dots at the printer's own resolution. Each card's
symbol is read back before a byte is returned.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from PIL import Image, ImageDraw

from passport.problems import Problem, errors_in
from passport.tags.faces import BOLD, CAP_HEIGHT, REGULAR, LabelError, face, glyph_problems
from passport.tags.geometry import plan_symbol
from passport.tags.label import stamp_sample, symbol_image
from passport.tags.layout import LabelSpec
from passport.tags.pdf import pdf_of
from passport.tags.readback import unread
from passport.tags.sheet import EDGE_MM, SheetSpec, SheetWords, draw_cuts, draw_foot
from passport.tags.typeset import Grid, Paragraph, capitals, wrapped

DPI = 300
A4_MM = (210.0, 297.0)
CARD_MM = (98.0, 64.0)
GRID = (2, 4)
GAP_MM = 2.0
TOP_MM = 10.0
SYMBOL_MM = 34.0
ID_MM = (5.0, 9.0)
"""Least and greatest height of a card's number."""
MARGIN_MM = 3.0
ROW_MM = 7.2
"""A line to write on with a felt pen and cold hands (common practice, no source)."""
LABEL_MM = 2.2
"""Height of capitals of what stands before a line."""
LINE_MM, BOX_MM = 0.25, 3.4
SAMPLE_FROM_MM = 66.0
BESIDE: tuple[tuple[str, ...], ...] = (("date",), ("from",), ("gross", "tare"), ("pieces", "kept"))
"""Lines beside the symbol, each with its fields side by side."""
BELOW: tuple[tuple[str, ...], ...] = (("scanner", "mark", "letters"), ("colour", "floats", "sinks"))
SUN = ("none", "light", "heavy")

COLUMNS = {
    "number": 23.0, "from": 40.0, "date": 19.0, "gross": 20.0, "tare": 18.0, "pieces": 15.0, "scanner": 21.0,
    "mark": 14.0, "letters": 18.0, "floats": 15.0, "sinks": 15.0, "sun": 22.0, "colour": 23.0, "kept": 22.0,
}  # fmt: skip
"""Of the sheet, in the order in which `receive` asks, with their widths in mm."""
HEAD_MM, SHEET_ROW_MM, SHEET_TOP_MM = 9.5, 10.0, 30.0
SHEET_ROWS = 14
"""Sacks on a sheet: as many as leave room for the ruler."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankCard:
    """A number set aside, and what the symbol beside it carries."""

    lot: str
    payload: str
    sample: bool = False


def cards_pdf(cards: Sequence[BlankCard], words: Mapping[str, str], foot: SheetWords | None = None) -> bytes:
    """Cards of 98 × 64 mm, eight to an A4 page with cut marks.

    words: by the names of the fields; foot: the words beside the ruler.

    Raises LabelError where a symbol does not read back or a sign is not in the typeface.
    """
    _refuse_signs(cards, words)
    pages = list(_card_pages(cards, words, foot))
    return pdf_of(pages, DPI, *A4_MM, title="Sack cards")


def _refuse_signs(cards: Sequence[BlankCard], words: Mapping[str, str]) -> None:
    found = errors_in(glyph_problems((*words.values(), *(card.lot for card in cards))))
    if found:
        raise LabelError(found)


def _card_pages(cards: Sequence[BlankCard], words: Mapping[str, str], foot: SheetWords | None) -> Iterator[Image.Image]:
    spec, each = _sheet(), GRID[0] * GRID[1]
    for first in range(0, len(cards), each):
        shown = cards[first : first + each]
        page = Image.new("1", _dots(A4_MM), 1)
        for place, card in enumerate(shown):
            left, top = _dots(spec.corner_mm(place))
            picture = card_image(card, words)
            page.paste(picture, (left, top))
            draw_cuts(ImageDraw.Draw(page), Grid(dpi=DPI), (left, top, left + picture.width, top + picture.height))
        draw_foot(page, spec, f"{shown[0].lot} – {shown[-1].lot}", words=foot)
        lost = unread(page, [card.payload for card in shown])
        if lost:
            raise LabelError(lost)
        yield page


def _sheet() -> SheetSpec:
    label = LabelSpec(width_mm=CARD_MM[0], height_mm=CARD_MM[1], dpi=DPI)
    return SheetSpec(
        label=label, dpi=DPI, columns=GRID[0], rows=GRID[1], top_mm=TOP_MM, gap_x_mm=GAP_MM, gap_y_mm=GAP_MM
    )


def _dots(size_mm: tuple[float, float]) -> tuple[int, int]:
    grid = Grid(dpi=DPI)
    return grid.dots(size_mm[0]), grid.dots(size_mm[1])


def card_image(card: BlankCard, words: Mapping[str, str]) -> Image.Image:
    """One card. Raises LabelError."""
    plan = plan_symbol(card.payload, side_mm=SYMBOL_MM, dpi=DPI)
    if errors_in(plan.problems):
        raise LabelError(errors_in(plan.problems))
    image = Image.new("1", _dots(CARD_MM), 1)
    image.paste(symbol_image(plan.symbol, plan.size), (0, 0))
    canvas = ImageDraw.Draw(image)
    grid = Grid(dpi=DPI)
    right = CARD_MM[0] - MARGIN_MM
    number = _number(card, grid.dots(right - SYMBOL_MM))
    number.draw(canvas, grid.dots(SYMBOL_MM), grid.dots(MARGIN_MM))
    base = MARGIN_MM + ID_MM[1] + ROW_MM
    for names in BESIDE:
        _line(canvas, names, words, (SYMBOL_MM, right, base))
        base += ROW_MM
    base = CARD_MM[1] - MARGIN_MM - ROW_MM * len(BELOW)
    for names in BELOW:
        _line(canvas, names, words, (MARGIN_MM, right, base))
        base += ROW_MM
    _ticks(canvas, words, base)
    if card.sample:
        # beside the ticks: the number must be read and the lines written on all the same
        box = (SAMPLE_FROM_MM, base - ROW_MM + 2.2, right - SAMPLE_FROM_MM, ROW_MM - 0.4)
        left, top, width, height = (grid.dots(mm) for mm in box)
        stamp_sample(image, (left, top, width, height))
    return image


def _number(card: BlankCard, width_dots: int) -> Paragraph:
    found = capitals(card.lot, dpi=DPI, width_dots=width_dots, most_mm=ID_MM[1], least_mm=ID_MM[0])
    if found is None:
        message = f'the number "{card.lot}" does not fit a card of {CARD_MM[0]:g} × {CARD_MM[1]:g} mm'
        raise LabelError([Problem(code="card-no-room", message=message, hint="take shorter numbers", about=card.lot)])
    return found


def _line(
    canvas: ImageDraw.ImageDraw, names: Sequence[str], words: Mapping[str, str], span: tuple[float, float, float]
) -> None:
    """Fields side by side on one base line: the word, then a line to write on. span: left, right, base in mm."""
    left, right, base = span
    width = (right - left) / len(names)
    grid, font = Grid(dpi=DPI), face(REGULAR, Grid(dpi=DPI).exact(LABEL_MM) / CAP_HEIGHT)
    for number, name in enumerate(names):
        start = grid.dots(left + number * width)
        canvas.text((start, grid.dots(base)), words[name], font=font, fill=0, anchor="ls")
        begin = start + round(font.getlength(words[name])) + grid.dots(1.0)
        end = grid.dots(left + (number + 1) * width - 1.5)
        canvas.line((begin, grid.dots(base + 0.6), end, grid.dots(base + 0.6)), fill=0, width=grid.dots(LINE_MM))


def _ticks(canvas: ImageDraw.ImageDraw, words: Mapping[str, str], base: float) -> None:
    """Sun and frost, to be ticked."""
    grid, font = Grid(dpi=DPI), face(REGULAR, Grid(dpi=DPI).exact(LABEL_MM) / CAP_HEIGHT)
    x = grid.dots(MARGIN_MM)
    canvas.text((x, grid.dots(base)), words["sun"], font=font, fill=0, anchor="ls")
    x += round(font.getlength(words["sun"])) + grid.dots(2.5)
    side = grid.dots(BOX_MM)
    for state in SUN:
        top = grid.dots(base) - side + grid.dots(0.6)
        canvas.rectangle((x, top, x + side, top + side), outline=0, width=grid.dots(LINE_MM))
        canvas.text((x + side + grid.dots(1.0), grid.dots(base)), words[state], font=font, fill=0, anchor="ls")
        x += side + grid.dots(5.0) + round(font.getlength(words[state]))


# --- the sheet --------------------------------------------------------------------------------------------


def intake_pdf(lots: Sequence[str], words: Mapping[str, str], foot: SheetWords | None = None) -> bytes:
    """A4 lying, a row a sack; rows without a number where there are none left. Raises LabelError.

    words: by the names of COLUMNS, and `title` and `lead`; foot: the words beside the ruler.
    """
    found = errors_in(glyph_problems((*words.values(), *lots)))
    if found:
        raise LabelError(found)
    starts = range(0, max(len(lots), 1), SHEET_ROWS)
    pages = [_intake_page(lots[first : first + SHEET_ROWS], words, foot) for first in starts]
    return pdf_of(pages, DPI, A4_MM[1], A4_MM[0], title="Goods in")


def _intake_page(lots: Sequence[str], words: Mapping[str, str], foot: SheetWords | None) -> Image.Image:
    page = Image.new("1", _dots((A4_MM[1], A4_MM[0])), 1)
    canvas = ImageDraw.Draw(page)
    left = (A4_MM[1] - sum(COLUMNS.values())) / 2
    _write(canvas, words["title"], (left, 15.0), 5.0, BOLD)
    for number, line in enumerate(_lead(words)):
        _write(canvas, line, (left, 20.5 + number * 4.0), 2.4, REGULAR)
    _draw_rules(canvas, left)
    x = left
    for name, width in COLUMNS.items():
        _heading(canvas, words[name], x, width)
        x += width
    for row, lot in enumerate(lots):
        _write(canvas, lot, (left + 1.0, SHEET_TOP_MM + HEAD_MM + (row + 1) * SHEET_ROW_MM - 3.2), 3.4, BOLD)
    whole = SheetSpec(dpi=DPI, page_width_mm=A4_MM[1], page_height_mm=A4_MM[0])
    draw_foot(page, whole, f"{lots[0]} – {lots[-1]}" if lots else "", max(left, EDGE_MM), foot)
    return page


def _lead(words: Mapping[str, str]) -> tuple[str, ...]:
    em = Grid(dpi=DPI).exact(2.4) / CAP_HEIGHT
    lines = wrapped(words["lead"], REGULAR, em, Grid(dpi=DPI).exact(sum(COLUMNS.values())))
    return lines or (words["lead"],)


def _write(canvas: ImageDraw.ImageDraw, text: str, at_mm: tuple[float, float], cap_mm: float, weight: str) -> None:
    """Text whose base line begins at a place; cap_mm is the height of its capitals."""
    grid = Grid(dpi=DPI)
    font = face(weight, round(grid.exact(cap_mm) / CAP_HEIGHT, 1))
    canvas.text((grid.dots(at_mm[0]), grid.dots(at_mm[1])), text, font=font, fill=0, anchor="ls")


def _heading(canvas: ImageDraw.ImageDraw, text: str, left_mm: float, width_mm: float) -> None:
    """In at most two lines; smaller where a word is too wide."""
    grid = Grid(dpi=DPI)
    for cap_mm in (2.2, 1.9, 1.6, 1.3):
        lines = wrapped(text, REGULAR, grid.exact(cap_mm) / CAP_HEIGHT, grid.exact(width_mm - 1.6))
        if lines and len(lines) <= 2:  # noqa: PLR2004 - as many as the height of the heading holds
            break
    for number, line in enumerate(lines or (text,)):
        _write(canvas, line, (left_mm + 0.8, SHEET_TOP_MM + 3.6 + number * 3.9), cap_mm, REGULAR)


def _draw_rules(canvas: ImageDraw.ImageDraw, left_mm: float) -> None:
    grid, wide = Grid(dpi=DPI), Grid(dpi=DPI).dots(LINE_MM)
    right = left_mm + sum(COLUMNS.values())
    low = SHEET_TOP_MM + HEAD_MM + SHEET_ROWS * SHEET_ROW_MM
    heights = [SHEET_TOP_MM, *(SHEET_TOP_MM + HEAD_MM + row * SHEET_ROW_MM for row in range(SHEET_ROWS + 1))]
    for y in heights:
        canvas.line((grid.dots(left_mm), grid.dots(y), grid.dots(right), grid.dots(y)), fill=0, width=wide)
    x = left_mm
    for width in (*COLUMNS.values(), 0.0):
        canvas.line((grid.dots(x), grid.dots(SHEET_TOP_MM), grid.dots(x), grid.dots(low)), fill=0, width=wide)
        x += width
