"""Labels as one HTML page of vector pictures, for printing from a browser or for a film.

The page carries the typeface of labels inside itself and asks no other host for anything. Every
place is a whole number of the printer's dots, so that module edges fall between dots.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib import resources

from passport.tags.faces import BOLD, REGULAR, LabelError
from passport.tags.label import symbol_image
from passport.tags.layout import Column, LabelSpec, LabelText, Layout, layout_of
from passport.tags.readback import unread
from passport.tags.symbol import symbol_path
from passport.tags.typeset import Paragraph, triangle_shape

_STYLE = """@page{{size:A4;margin:{top:g}mm {left:g}mm}}
body{{margin:0;font-family:Tag,sans-serif}}
@media screen{{body{{padding:{top:g}mm {left:g}mm}}}}
svg{{display:block;break-inside:avoid;margin:0 {gap:g}mm {gap:g}mm 0;outline:.1mm solid #bbb}}
main{{display:flex;flex-wrap:wrap}}
p{{font-size:3.2mm;margin:0 0 3mm}}
.ruler{{width:100mm;height:2mm;border:solid #000;border-width:0 .2mm .2mm;outline:0}}
@font-face{{font-family:Tag;font-weight:400;src:url(data:font/ttf;base64,{regular})}}
@font-face{{font-family:Tag;font-weight:600;src:url(data:font/ttf;base64,{bold})}}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageWords:
    """What the page says about itself, in the language of the yard."""

    language: str = "en"
    title: str = "Labels"
    how: str = "Print at 100 %, never fitted to the page. The line below measures 100 mm."


def print_page(
    texts: Sequence[LabelText],
    spec: LabelSpec,
    words: PageWords | None = None,
    *,
    left_mm: float = 8.0,
    top_mm: float = 10.0,
    gap_mm: float = 4.0,
) -> str:
    """A whole HTML document with one SVG a label. Raises LabelError; each symbol is read back first."""
    said = words or PageWords()
    style = _STYLE.format(top=top_mm, left=left_mm, gap=gap_mm, regular=_font(REGULAR), bold=_font(BOLD))
    labels = "\n".join(label_svg(text, spec) for text in texts)
    return (
        f'<!doctype html>\n<html lang="{escape(said.language)}">\n<meta charset="utf-8">\n'
        f"<title>{escape(said.title)}</title>\n<style>\n{style}\n</style>\n<body>\n"
        f'<p>{escape(said.how)}</p>\n<p class="ruler"></p>\n<main>\n{labels}\n</main>\n</body>\n</html>\n'
    )


@cache
def _font(weight: str) -> str:
    data = resources.files("passport.tags").joinpath("fonts", f"TagSans-{weight}.ttf").read_bytes()
    return base64.b64encode(data).decode("ascii")


def label_svg(text: LabelText, spec: LabelSpec) -> str:
    """One label as SVG in true size; a unit is a printer's dot. Raises LabelError."""
    layout = layout_of(text, spec)
    lost = unread(symbol_image(layout.plan.symbol, layout.plan.size), [text.payload])
    if lost:
        raise LabelError(lost)
    left, top, width, height = layout.boxes.text
    parts = [*_symbols(layout), _number(layout), *_column(layout.column, (left, top), width)]
    if text.sample:
        parts.append(_sample(left, top, width, height))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{spec.width_mm:g}mm" height="{spec.height_mm:g}mm" '
        f'viewBox="0 0 {layout.width} {layout.height}" role="img" aria-label="{escape(text.tag)}">'
        f'<path fill="#fff" d="M0 0h{layout.width}v{layout.height}H0z"/>{"".join(parts)}</svg>'
    )


def _symbols(layout: Layout) -> list[str]:
    path = symbol_path(layout.plan.symbol)
    dots = layout.plan.size.dots
    return [
        f'<path shape-rendering="crispEdges" transform="translate({x} {y}) scale({dots})" d="{path}"/>'
        for x, y in layout.boxes.symbols
    ]


def _number(layout: Layout) -> str:
    left, top = layout.boxes.text[:2]
    return _text(layout.number, left, top + layout.column.number_top)


def _column(column: Column, corner: tuple[int, int], width: int) -> list[str]:
    left, top = corner
    parts = [f'<path d="M{left} {top + column.rule_top}h{width}v{column.rule_dots}h-{width}z"/>']
    if column.triangle:
        parts.append(_triangle(column, left, top + column.triangle_top))
    return parts + [_text(line, left + x, top + y) for line, x, y in column.lines]


def _text(words: Paragraph, left: int, top: int) -> str:
    """A line an element, each as wide as it was measured: a browser's own spacing cannot make it overflow."""
    weight = 600 if words.weight == BOLD else 400
    lines = []
    for number, line in enumerate(words.lines):
        base = top + words.first_dots + number * words.leading_dots
        lines.append(
            f'<text x="{left}" y="{base:.1f}" font-size="{words.em_dots:.2f}" font-weight="{weight}" '
            f'textLength="{words.width_of(line):.1f}" lengthAdjust="spacingAndGlyphs">{escape(line)}</text>'
        )
    return "".join(lines)


def _triangle(column: Column, left: int, top: int) -> str:
    shape = triangle_shape(column.triangle_dots, column.triangle_stroke_dots)
    rings = "".join("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in ring) + "z" for ring in (shape.outer, shape.inner))
    x, base = shape.number_at
    return (
        f'<g transform="translate({left} {top})"><path fill-rule="evenodd" d="{rings}"/>'
        f'<text x="{x:.1f}" y="{base:.1f}" font-size="{shape.em_dots:.1f}" font-weight="600" text-anchor="middle">'
        f"{escape(column.triangle)}</text></g>"
    )


def _sample(left: int, top: int, width: int, height: int) -> str:
    """The word along the diagonal of the text's box."""
    x, y = left + width / 2, top + height / 2
    size = (width**2 + height**2) ** 0.5 * 0.2
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:.1f}" font-weight="600" text-anchor="middle" '
        f'dominant-baseline="central" transform="rotate(-36 {x:.1f} {y:.1f})" stroke="#fff" '
        f'stroke-width="{size * 0.09:.1f}" paint-order="stroke">SAMPLE</text>'
    )
