"""Sheets of labels in true size: an A4 PDF of black and white dots at the printer's own resolution.

Every page is decoded after it is drawn; a page that does not read back raises before any byte is returned.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from PIL import Image, ImageDraw

from passport.problems import Problem, errors_in, in_order
from passport.tags.advice import advice_lines, general_advice
from passport.tags.faces import BOLD, REGULAR, LabelError, face
from passport.tags.label import LabelSpec, LabelText, label_image, label_problems
from passport.tags.pdf import pdf_of
from passport.tags.readback import unread
from passport.tags.typeset import Grid, wrapped

RULER_MM = 100
FOOT_MM = 22.0
"""Kept at the bottom for ruler, page number and the line on printing."""
EDGE_MM = 5.0
"""What most printers leave white (common practice, no source)."""
CUT_MM, CUT_OFF_MM, STROKE_MM = 1.4, 0.4, 0.15
NOTE_MM = 20.0
"""Margin of the pages of notes."""
NOTE_LEADING = 1.35


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWords:
    """What a sheet says beside its labels, in the language of the yard. Gaps in braces are filled here."""

    lang: str = "en"
    print_line: str = "Print at 100 %, never fitted to the page: this line measures 100 mm."
    page: str = "page {page} of {pages} · {shown} of {labels} labels"
    notes: str = "notes"
    head: str = "{labels} labels on {pages} pages"
    head_one: str = "1 label on 1 page"
    head_one_page: str = "{labels} labels on 1 page"
    size: str = "{width} × {height} mm, {dpi} dots an inch."
    printing: str = "Printing"
    rule: str = "Print at 100 %, never fitted to the page, then hold a rule to the line below."
    scan: str = "Scan one label with a telephone before cutting the others."
    tag_of: str = "What to make a tag of"
    these: str = "On these pages"
    in_all: str = "{n} in all"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSpec:
    """A page and the grid of labels on it."""

    label: LabelSpec = field(default_factory=LabelSpec)
    """Its dpi is the sheet's."""
    dpi: int = 600
    columns: int = 2
    rows: int = 6
    left_mm: float | None = None
    """From the page's edge to the first label; None puts the grid in the middle."""
    top_mm: float = 12.0
    gap_x_mm: float = 4.0
    gap_y_mm: float = 4.0
    start: int = 1
    """The first place used on the first page, from 1, row by row: a sheet begun yesterday is used up."""
    furniture: bool = True
    """Cut marks, ruler, page number. False for bought sheets of stickers, which are cut already."""
    notes: bool = True
    """First pages on printing and on what to make a tag of."""
    page_width_mm: float = 210.0
    page_height_mm: float = 297.0

    @property
    def places(self) -> int:
        """Labels on a page."""
        return self.columns * self.rows

    @property
    def printed(self) -> LabelSpec:
        """The label at the sheet's resolution."""
        return replace(self.label, dpi=self.dpi)

    @property
    def width_mm(self) -> float:
        """Of the whole grid."""
        return self.columns * self.label.width_mm + (self.columns - 1) * self.gap_x_mm

    @property
    def height_mm(self) -> float:
        """Of the whole grid."""
        return self.rows * self.label.height_mm + (self.rows - 1) * self.gap_y_mm

    @property
    def start_mm(self) -> float:
        """From the page's left edge to the first label."""
        return (self.page_width_mm - self.width_mm) / 2 if self.left_mm is None else self.left_mm

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Left and top of a place, counted from 0."""
        row, column = divmod(place, self.columns)
        left = self.start_mm + column * (self.label.width_mm + self.gap_x_mm)
        return left, self.top_mm + row * (self.label.height_mm + self.gap_y_mm)


def sheet_problems(texts: Sequence[LabelText], sheet: SheetSpec) -> tuple[Problem, ...]:
    """Everything to say before a sheet is drawn. Codes: sheet-empty, sheet-start, sheet-grid, and the labels'."""
    found = [problem for text in texts for problem in label_problems(text, sheet.printed)]
    if not texts:
        found.append(Problem(code="sheet-empty", message="there is no label to print", hint="name tags, or --all"))
    if not 1 <= sheet.start <= max(sheet.places, 1):
        found.append(_wrong_start(sheet))
    trouble = _grid_trouble(sheet)
    if trouble:
        hint = "fewer columns or rows, smaller gaps, or no furniture on bought sheets"
        found.append(Problem(code="sheet-grid", message=trouble, hint=hint))
    return in_order(found)


def _wrong_start(sheet: SheetSpec) -> Problem:
    return Problem(
        code="sheet-start",
        message=f"the first place is {sheet.start}; a page has places 1 to {sheet.places}",
        hint="count the labels row by row from the top left",
    )


def _grid_trouble(sheet: SheetSpec) -> str:
    """Why the grid does not go onto the page, or nothing."""
    if min(sheet.columns, sheet.rows) < 1:
        return f"{sheet.columns} columns and {sheet.rows} rows make no grid"
    if min(sheet.gap_x_mm, sheet.gap_y_mm, sheet.top_mm, sheet.start_mm) < 0:
        return f"the grid of {sheet.width_mm:g} × {sheet.height_mm:g} mm begins outside the page or overlaps itself"
    foot = FOOT_MM if sheet.furniture else 0.0
    right, low = sheet.start_mm + sheet.width_mm, sheet.top_mm + sheet.height_mm
    if right > sheet.page_width_mm or low > sheet.page_height_mm - foot:
        return (
            f"the grid ends at {right:g} × {low:g} mm; the page has room to "
            f"{sheet.page_width_mm:g} × {sheet.page_height_mm - foot:g} mm"
        )
    return ""


def sheet_pdf(
    texts: Sequence[LabelText], sheet: SheetSpec, resins: Iterable[str] = (), words: SheetWords | None = None
) -> bytes:
    """All labels in true size as one PDF; the same input gives the same bytes.

    resins: symbols of what the tagged things are made of, for the advice in the notes.
    Raises LabelError with everything that is wrong, before anything is drawn.
    """
    errors = errors_in(sheet_problems(texts, sheet))
    if errors:
        raise LabelError(errors)
    pages = _pages(texts, sheet, tuple(resins), words or SheetWords())
    return pdf_of(pages, sheet.dpi, sheet.page_width_mm, sheet.page_height_mm, title="Labels")


def _pages(
    texts: Sequence[LabelText], sheet: SheetSpec, resins: tuple[str, ...], words: SheetWords
) -> Iterator[Image.Image]:
    if sheet.notes:
        yield from notes_pages(texts, sheet, resins, words)
    for number in range(page_count(len(texts), sheet)):
        yield page_image(texts, sheet, number, words)


def page_count(labels: int, sheet: SheetSpec) -> int:
    """Pages of labels, without the notes."""
    return -(-(labels + sheet.start - 1) // sheet.places)


def page_image(
    texts: Sequence[LabelText], sheet: SheetSpec, number: int, words: SheetWords | None = None
) -> Image.Image:
    """One page of labels, counted from 0, read back. Raises LabelError if a symbol on it does not read."""
    first = number * sheet.places - (sheet.start - 1)
    shown = texts[max(first, 0) : first + sheet.places]
    page = _blank(sheet)
    for place, text in enumerate(shown, start=max(-first, 0)):
        _put_label(page, text, sheet, place)
    if sheet.furniture:
        beside, pages = words or SheetWords(), page_count(len(texts), sheet)
        said = beside.page.format(page=number + 1, pages=pages, shown=len(shown), labels=len(texts))
        draw_foot(page, sheet, said, words=beside)
    lost = unread(page, [text.payload for text in shown for _ in range(sheet.label.symbols)])
    if lost:
        raise LabelError(lost)
    return page


def _blank(sheet: SheetSpec) -> Image.Image:
    grid = Grid(dpi=sheet.dpi)
    return Image.new("1", (grid.dots(sheet.page_width_mm), grid.dots(sheet.page_height_mm)), 1)


def _put_label(page: Image.Image, text: LabelText, sheet: SheetSpec, place: int) -> None:
    grid = Grid(dpi=sheet.dpi)
    left, top = (grid.dots(mm) for mm in sheet.corner_mm(place))
    label = label_image(text, sheet.printed)
    page.paste(label, (left, top))
    if sheet.furniture:
        draw_cuts(ImageDraw.Draw(page), grid, (left, top, left + label.width, top + label.height))


def draw_cuts(canvas: ImageDraw.ImageDraw, grid: Grid, box: tuple[int, int, int, int]) -> None:
    """Short strokes outside the four corners, along the edges."""
    near, far = grid.dots(CUT_OFF_MM), grid.dots(CUT_OFF_MM + CUT_MM)
    wide = max(grid.dots(STROKE_MM), 1)
    left, top, right, low = box
    for x, outwards in ((left, -1), (right, 1)):
        for y in (top, low):
            canvas.line((x + outwards * near, y, x + outwards * far, y), fill=0, width=wide)
    for y, outwards in ((top, -1), (low, 1)):
        for x in (left, right):
            canvas.line((x, y + outwards * near, x, y + outwards * far), fill=0, width=wide)


def draw_foot(
    page: Image.Image, sheet: SheetSpec, said: str, start_mm: float | None = None, words: SheetWords | None = None
) -> None:
    """The ruler with a tick every 10 mm, how to print, and which page this is."""
    grid = Grid(dpi=sheet.dpi)
    canvas = ImageDraw.Draw(page)
    start_mm = sheet.start_mm if start_mm is None else start_mm
    # a ruler that begins far to the right, as over a narrow grid, would leave the page
    left = grid.dots(min(max(start_mm, EDGE_MM), sheet.page_width_mm - EDGE_MM - RULER_MM))
    base = grid.dots(sheet.page_height_mm - EDGE_MM - 5.0)
    _draw_ruler(canvas, grid, left, base)
    font = face(REGULAR, grid.exact(2.9))
    canvas.text((left, base + grid.dots(3.6)), (words or SheetWords()).print_line, font=font, fill=0, anchor="ls")
    right = page.width - left
    canvas.text((right, base + grid.dots(3.6)), said, font=font, fill=0, anchor="rs")


def _draw_ruler(canvas: ImageDraw.ImageDraw, grid: Grid, left: int, base: int) -> None:
    wide = max(grid.dots(STROKE_MM), 1)
    canvas.line((left, base, left + grid.dots(RULER_MM), base), fill=0, width=wide)
    font = face(REGULAR, grid.exact(2.3))
    for mm in range(0, RULER_MM + 1, 10):
        x = left + grid.dots(mm)
        tall = 3.0 if mm in {0, RULER_MM} else 1.8
        canvas.line((x, base - grid.dots(tall), x, base), fill=0, width=wide)
        canvas.text((x, base - grid.dots(3.5)), str(mm), font=font, fill=0, anchor="ms")


# --- the pages of notes ---------------------------------------------------------------------------

Note = tuple[str, float, str, float]
"""A paragraph: words, em in mm, weight, space after it in mm."""


def notes_pages(
    texts: Sequence[LabelText], sheet: SheetSpec, resins: tuple[str, ...], words: SheetWords | None = None
) -> Iterator[Image.Image]:
    """The first pages: how to print, what to make a tag of, and which tags are on the sheets."""
    grid = Grid(dpi=sheet.dpi)
    page, top = _blank(sheet), NOTE_MM
    beside = words or SheetWords()
    for note in _notes(texts, sheet, resins, beside):
        lines, high = _set_note(note, grid, sheet.page_width_mm - 2 * NOTE_MM)
        if top + high > sheet.page_height_mm - FOOT_MM and top > NOTE_MM:
            yield _footed(page, sheet, beside)
            page, top = _blank(sheet), NOTE_MM
        _draw_note(page, grid, note, lines, top)
        top += high + note[3]
    yield _footed(page, sheet, beside)


def _footed(page: Image.Image, sheet: SheetSpec, words: SheetWords) -> Image.Image:
    draw_foot(page, sheet, words.notes, NOTE_MM, words)
    return page


def _notes(texts: Sequence[LabelText], sheet: SheetSpec, resins: tuple[str, ...], words: SheetWords) -> Iterator[Note]:
    label = sheet.label
    size = {"width": f"{label.width_mm:g}", "height": f"{label.height_mm:g}", "dpi": f"{sheet.dpi}"}
    yield _head(len(texts), page_count(len(texts), sheet), words), 7.0, BOLD, 1.0
    yield words.size.format(**size), 4.0, REGULAR, 5.0
    yield words.printing, 4.6, BOLD, 1.0
    yield words.rule, 3.8, REGULAR, 1.0
    yield words.scan, 3.8, REGULAR, 5.0
    yield words.tag_of, 4.6, BOLD, 1.0
    for paragraph in (*general_advice(words.lang), *advice_lines(resins, words.lang)):
        yield paragraph, 3.8, REGULAR, 1.6
    yield "", 1.0, REGULAR, 2.0
    yield words.these, 4.6, BOLD, 1.0
    yield tags_in_short([text.tag for text in texts], words=words), 3.8, REGULAR, 0.0


def _head(labels: int, pages: int, words: SheetWords) -> str:
    if pages != 1:
        return words.head.format(labels=labels, pages=pages)
    return words.head_one if labels == 1 else words.head_one_page.format(labels=labels)


def tags_in_short(tags: Sequence[str], most: int = 40, words: SheetWords | None = None) -> str:
    """The tags in order; a long list by its first ones, its last one and their number."""
    if len(tags) <= most:
        return ", ".join(tags)
    in_all = (words or SheetWords()).in_all.format(n=len(tags))
    return f"{', '.join(tags[: most - 1])} … {tags[-1]} ({in_all})"


def _set_note(note: Note, grid: Grid, width_mm: float) -> tuple[tuple[str, ...], float]:
    """Lines of a paragraph and its height in mm."""
    words, size_mm, weight, _ = note
    lines = wrapped(words, weight, grid.exact(size_mm), grid.exact(width_mm)) or (words,)
    return lines, len(lines) * size_mm * NOTE_LEADING


def _draw_note(page: Image.Image, grid: Grid, note: Note, lines: tuple[str, ...], top_mm: float) -> None:
    _, size_mm, weight, _ = note
    font = face(weight, grid.exact(size_mm))
    canvas = ImageDraw.Draw(page)
    for number, line in enumerate(lines):
        base = top_mm + size_mm * (1 + number * NOTE_LEADING)
        canvas.text((grid.dots(NOTE_MM), grid.dots(base)), line, font=font, fill=0, anchor="ls")
