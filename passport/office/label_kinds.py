"""What each kind of label is made with, from the options of `labels`, and the files that come out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from passport.pages.labelling import card_text, label_text, page_words, plate_text, resins_of, sheet_words
from passport.pages.scribe import Scribe
from passport.problems import Level, Problem
from passport.reading.records import Lot
from passport.tags.card import CardSpec, CardText, card_image
from passport.tags.geometry import plan_symbol, reasons
from passport.tags.label import label_png, label_problems, png_of
from passport.tags.layout import LabelSpec
from passport.tags.pdf import pdf_of
from passport.tags.plate import PlateSpec, plate_problems, plate_reasons, plate_svg
from passport.tags.print_page import print_page
from passport.tags.roll import roll_pdf
from passport.tags.sheet import EDGE_MM, FOOT_MM, SheetSpec, sheet_pdf
from passport.verdicts.life import Life

KINDS = {
    "sheet": "A4 sheets as PDF",
    "roll": "a PDF with a page a label, for a roll printer",
    "tag": "a PNG a label",
    "twin": "sheets of labels with two symbols",
    "plate": "an SVG a plate, for engraving or cutting",
    "page": "a page of vectors for a browser or a film",
    "card": "cards for lots you name",
}
FINE = frozenset({"sheet", "twin", "page"})
"""Kinds for an office printer of 600 dpi; the others are for label printers, most of which have 300."""
FINE_DPI, LABEL_DPI = 600, 300
TWIN_MM = 100.0
A4_MM = (210.0, 297.0)
PAGE_MARGINS_MM = (8.0, 10.0)

Files = dict[str, bytes]
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What was asked for; None and "" leave a choice to the kind."""

    kind: str
    dpi: int | None = None
    size_mm: Pair | None = None
    symbol_mm: float | None = None
    distance_mm: float = 0.0
    level: str = ""
    start: int = 1
    grid: Pair | None = None
    """Columns and rows."""
    margins_mm: Pair | None = None
    """Left and top."""
    gaps_mm: Pair | None = None
    bare: bool = False
    """No cut marks, ruler and page number: for bought stickers."""
    tool_mm: float | None = None
    holes: bool = True

    @property
    def dots(self) -> int:
        """Printer dots an inch."""
        return self.dpi or (FINE_DPI if self.kind in FINE else LABEL_DPI)


def label_spec(wish: Wish) -> LabelSpec:
    """The size of a label; a symbol nobody wished for is 30 mm, or as large as a smaller label lets it be."""
    plain = LabelSpec()
    twin = wish.kind == "twin"
    width, height = wish.size_mm or (TWIN_MM if twin else plain.width_mm, plain.height_mm)
    return LabelSpec(
        width_mm=width,
        height_mm=height,
        symbol_mm=wish.symbol_mm or min(plain.symbol_mm, width, height),
        dpi=wish.dots,
        level=wish.level,
        distance_mm=wish.distance_mm,
        symbols=2 if twin else 1,
    )


def sheet_spec(wish: Wish) -> SheetSpec:
    """The grid of a sheet: as asked for, else as many labels as the page holds."""
    plain, label = SheetSpec(), label_spec(wish)
    left, top = wish.margins_mm or (None, plain.top_mm)
    across, down = wish.gaps_mm or (plain.gap_x_mm, plain.gap_y_mm)
    edge, foot = (0.0, 0.0) if wish.bare else (EDGE_MM, FOOT_MM)
    width = A4_MM[0] - (left if left is not None else edge) - edge
    columns, rows = wish.grid or (
        _fit(width, label.width_mm, across),
        _fit(A4_MM[1] - top - foot, label.height_mm, down),
    )
    return SheetSpec(
        label=label,
        dpi=wish.dots,
        columns=int(columns),
        rows=int(rows),
        left_mm=left,
        top_mm=top,
        gap_x_mm=across,
        gap_y_mm=down,
        start=wish.start,
        furniture=not wish.bare,
    )


def _fit(room_mm: float, side_mm: float, gap_mm: float) -> int:
    """How many go side by side; at least one, so that what is too large is refused by its size."""
    return max(int((room_mm + gap_mm + 1e-9) // (side_mm + gap_mm)), 1)


def plate_spec(wish: Wish) -> PlateSpec:
    """The plate and its tool."""
    plain = PlateSpec()
    width, height = wish.size_mm or (plain.width_mm, plain.height_mm)
    return PlateSpec(
        width_mm=width,
        height_mm=height,
        symbol_mm=wish.symbol_mm or min(plain.symbol_mm, height),
        hole_mm=plain.hole_mm if wish.holes else 0.0,
        tool_mm=wish.tool_mm or plain.tool_mm,
        level=wish.level or plain.level,
    )


def card_spec(wish: Wish) -> CardSpec:
    """The size of a lot card."""
    plain = CardSpec()
    width, height = wish.size_mm or (plain.width_mm, plain.height_mm)
    return CardSpec(
        width_mm=width,
        height_mm=height,
        symbol_mm=wish.symbol_mm or min(plain.symbol_mm, height),
        dpi=wish.dots,
        level=wish.level,
    )


def remarks(scribe: Scribe, life: Life, wish: Wish) -> tuple[Problem, ...]:
    """What there is to say about labels of this kind beside errors: those of a batch are alike."""
    if wish.kind == "plate":
        found = plate_problems(plate_text(scribe, life), plate_spec(wish))
    else:
        found = label_problems(label_text(scribe, life), label_spec(wish))
    return tuple(problem for problem in found if problem.level is not Level.ERROR)


def explained(scribe: Scribe, life: Life, wish: Wish) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """Why the symbol of one tag is as it is, and everything wrong or doubtful about it."""
    text = label_text(scribe, life)
    if wish.kind == "plate":
        cut, plate = plate_text(scribe, life), plate_spec(wish)
        return (f"{text.tag}: {text.payload}", *plate_reasons(cut, plate)), plate_problems(cut, plate)
    spec = label_spec(wish)
    plan = plan_symbol(
        text.payload, side_mm=spec.symbol_mm, dpi=spec.dpi, level=spec.level, distance_mm=spec.distance_mm
    )
    return (f"{text.tag}: {text.payload}", *reasons(plan, spec.symbol_mm)), label_problems(text, spec)


def files_of_tags(scribe: Scribe, lives: Sequence[Life], wish: Wish) -> Files:
    """The files of a kind. Raises LabelError with everything that is wrong; then there is nothing to write."""
    if wish.kind == "plate":
        plate = plate_spec(wish)
        return {f"plate-{life.tag}.svg": plate_svg(plate_text(scribe, life), plate).encode() for life in lives}
    texts = [label_text(scribe, life) for life in lives]
    name = f"{wish.kind}-{lives[0].tag}-{len(lives)}"
    if wish.kind == "tag":
        return {f"tag-{text.tag}.png": label_png(text, label_spec(wish)) for text in texts}
    if wish.kind == "roll":
        return {f"{name}.pdf": roll_pdf(texts, label_spec(wish))}
    if wish.kind == "page":
        left, top = wish.margins_mm or PAGE_MARGINS_MM
        gap = (wish.gaps_mm or (4.0, 4.0))[0]
        said = page_words(scribe)
        page = print_page(texts, label_spec(wish), said, left_mm=left, top_mm=top, gap_mm=gap)
        return {f"{name}.html": page.encode()}
    resins = sorted({resin for life in lives for resin in resins_of(scribe, life)})
    return {f"{name}.pdf": sheet_pdf(texts, sheet_spec(wish), resins, sheet_words(scribe))}


def files_of_lots(scribe: Scribe, lots: Sequence[Lot], wish: Wish) -> Files:
    """A card a lot: each as a picture, and all in one PDF. Raises LabelError."""
    spec = card_spec(wish)
    cards = {lot.id: card_image(card_text(scribe, lot), spec) for lot in lots}
    made = {f"card-{name}.png": png_of(image, spec.dpi) for name, image in cards.items()}
    pdf = pdf_of(cards.values(), spec.dpi, spec.width_mm, spec.height_mm, title="Cards")
    return made | {f"cards-{lots[0].id}-{len(lots)}.pdf": pdf}


def reasons_of_card(text: CardText, wish: Wish) -> Iterator[str]:
    """Why the symbol of a card is as it is."""
    spec = card_spec(wish)
    plan = plan_symbol(text.payload, side_mm=spec.symbol_mm, dpi=spec.dpi, level=spec.level)
    yield f"{text.lot}: {text.payload}"
    yield from reasons(plan, spec.symbol_mm)


def unused_options(wish: Wish) -> Iterable[str]:
    """Options that the kind has no use for: better said than silently dropped."""
    on_sheet, plate = wish.kind in ("sheet", "twin"), wish.kind == "plate"
    given = {
        "--start": wish.start != 1 and not on_sheet,
        "--grid": wish.grid is not None and not on_sheet,
        "--margins": wish.margins_mm is not None and not (on_sheet or wish.kind == "page"),
        "--gaps": wish.gaps_mm is not None and not (on_sheet or wish.kind == "page"),
        "--bare": wish.bare and not on_sheet,
        "--dpi": wish.dpi is not None and plate,
        "--distance": bool(wish.distance_mm) and wish.kind in ("plate", "card"),
        "--tool": wish.tool_mm is not None and not plate,
        "--no-holes": not wish.holes and not plate,
    }
    return [option for option, useless in given.items() if useless]
