"""A plate of the thing's own resin, to be engraved and cut: vector paths in millimetres, a layer a tool.

    fill   the dark modules, as outlines to be cleared: what touches is one outline, so the tool lifts rarely
    line   tag number, marking and triangle, as single strokes
    cut    the edge and the holes

Engraving gives relief, not contrast: rub in paint or wax of another colour, or use two-layer sheet.
The symbol has the mask with the fewest dark modules, to clear as little as possible. That departs from
ISO/IEC 18004 7.8.3, which asks for the lowest penalty; a reader reads every mask.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from PIL import Image, ImageChops, ImageDraw

from passport.problems import Level, Problem, errors_in
from passport.tags.faces import LabelError
from passport.tags.readback import unread
from passport.tags.strokes import HEIGHT, Stroke, stroke_problems, strokes_of, width_of
from passport.tags.symbol import QUIET, Symbol, symbol_for

LEAST_CAPITAL_MM = 3.0
"""Height of the tag number's capitals."""
LEAST_MODULE_MM = 0.75
"""As for an outdoor label; a tool of a third of it clears one (common practice: 3 to 5 tool widths)."""
TOOLS_A_MODULE = 3.0
"""Widths of the tool in a module, at least (engraving practice, second-hand)."""
COLOURS = {"fill": "#000000", "line": "#0000ff", "cut": "#ff0000"}
"""A colour a tool: what most programs of engravers and laser cutters sort by (common practice, no source)."""
PROOF_DOTS = 6
"""Dots a module in the picture that is read back."""
_EDGE = 1e-9

Corner = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateSpec:
    """The plate and the tool it is for."""

    width_mm: float = 80.0
    height_mm: float = 40.0
    symbol_mm: float = 36.0
    """Side of the symbol with its quiet zone."""
    hole_mm: float = 4.2
    """Diameter of the two holes, for a 4 mm screw or rivet; 0 for none, where it is welded on."""
    corner_mm: float = 3.0
    tool_mm: float = 0.2
    """Width of the finest cut of the tool."""
    level: str = "Q"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateText:
    """What a plate says: capitals only, no sentence."""

    tag: str
    payload: str
    marking: str = ""
    triangle: str = ""
    """The resin's number in a plain triangle; empty for none."""
    sample: bool = False
    """Whether the word SAMPLE stands in the place of the triangle."""


def light_symbol(payload: str, level: str = "Q") -> Symbol:
    """The symbol whose mask has the fewest dark modules. Raises ValueError if no symbol holds the payload."""
    tried = (symbol_for(payload, level, mask) for mask in range(8))
    return min(tried, key=lambda symbol: (int(symbol.dark().sum()), symbol.mask))


# --- outlines ---------------------------------------------------------------------------------------


def outlines(symbol: Symbol) -> tuple[tuple[Corner, ...], ...]:
    """The edges of the dark modules as closed loops of corners in module units, x to the right, y down.

    Dark lies to the right of the way, so holes run the other way round; where two dark modules touch at a
    corner only, each keeps its own loop.
    """
    ways = _edges(symbol)
    loops = []
    while ways:
        start = min(ways)
        loops.append(_corners(_loop(ways, start)))
    return tuple(loops)


def _edges(symbol: Symbol) -> dict[Corner, list[Corner]]:
    """From each corner the corners that an edge leads to."""
    rows, side = symbol.modules, symbol.side
    ways: dict[Corner, list[Corner]] = {}

    def light(x: int, y: int) -> bool:
        return not (0 <= x < side and 0 <= y < side and rows[y][x])

    for y in range(side):
        for x in range(side):
            if light(x, y):
                continue
            around = [
                (light(x, y - 1), (x, y), (x + 1, y)),
                (light(x + 1, y), (x + 1, y), (x + 1, y + 1)),
                (light(x, y + 1), (x + 1, y + 1), (x, y + 1)),
                (light(x - 1, y), (x, y + 1), (x, y)),
            ]
            for open_, begin, end in around:
                if open_:
                    ways.setdefault(begin, []).append(end)
    return ways


def _loop(ways: dict[Corner, list[Corner]], start: Corner) -> list[Corner]:
    """Follow edges from a corner back to it, taking each off the map; at a crossing turn right."""
    walked = [start]
    came = (1, 0)
    while True:
        here = walked[-1]
        choices = ways[here]
        following = min(choices, key=lambda there: _turn(came, (there[0] - here[0], there[1] - here[1])))
        choices.remove(following)
        if not choices:
            del ways[here]
        came = (following[0] - here[0], following[1] - here[1])
        if following == start:
            return walked
        walked.append(following)


def _turn(came: Corner, goes: Corner) -> int:
    """0 for a turn to the right (y down), 1 straight on, 2 to the left."""
    cross = came[0] * goes[1] - came[1] * goes[0]
    return 1 - cross


def _corners(walked: list[Corner]) -> tuple[Corner, ...]:
    """Only the points where the way turns."""
    count = len(walked)
    return tuple(
        here for place, here in enumerate(walked) if not _straight(walked[place - 1], here, walked[(place + 1) % count])
    )


def _straight(before: Corner, here: Corner, after: Corner) -> bool:
    return before[0] == here[0] == after[0] or before[1] == here[1] == after[1]


# --- the plate ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A line of letters: its text, the left end of its base in mm, and the height of its capitals."""

    text: str
    left_mm: float
    top_mm: float
    capital_mm: float


def plate_problems(text: PlateText, spec: PlateSpec) -> tuple[Problem, ...]:
    """Everything to say before a plate is drawn.

    Codes: label-stroke, plate-module, plate-tool (advice), plate-small.
    """
    symbol = light_symbol(text.payload, spec.level)
    module_mm = _module_mm(symbol, spec)
    found = [*stroke_problems(text.tag + text.marking + text.triangle, text.tag)]
    if module_mm < LEAST_MODULE_MM:
        found.append(_fine_module(module_mm, symbol, spec, text.tag))
    if spec.tool_mm * TOOLS_A_MODULE > module_mm + _EDGE:
        found.append(_wide_tool(module_mm, spec, text.tag))
    if _capital_mm(text, spec) < LEAST_CAPITAL_MM or spec.symbol_mm > spec.height_mm:
        found.append(_small_plate(text, spec))
    return tuple(found)


def plate_reasons(text: PlateText, spec: PlateSpec) -> tuple[str, ...]:
    """Why the symbol on a plate is as it is, sentence by sentence, for a person at the desk."""
    symbol = light_symbol(text.payload, spec.level)
    module_mm = _module_mm(symbol, spec)
    version = (
        f"The address has {len(text.payload)} characters; at level {spec.level} version {symbol.version} is the "
        f"smallest symbol that holds it: {symbol.side} modules, and {QUIET} light ones on each side."
    )
    module = (
        f"On {spec.symbol_mm:g} mm a module has {module_mm:.3f} mm, {module_mm / spec.tool_mm:.1f} widths of a tool "
        f"of {spec.tool_mm:g} mm."
    )
    return version, module, f"Mask {symbol.mask} leaves the least to clear away."


def _module_mm(symbol: Symbol, spec: PlateSpec) -> float:
    return spec.symbol_mm / (symbol.side + 2 * QUIET)


def _fine_module(module_mm: float, symbol: Symbol, spec: PlateSpec, tag: str) -> Problem:
    needed = math.ceil(LEAST_MODULE_MM * (symbol.side + 2 * QUIET))
    return Problem(
        code="plate-module",
        message=f"a symbol of {spec.symbol_mm:g} mm has modules of {module_mm:.2f} mm; "
        f"wanted at least {LEAST_MODULE_MM:g} mm",
        hint=f"give the symbol {needed} mm, or shorten the address",
        about=tag,
    )


def _wide_tool(module_mm: float, spec: PlateSpec, tag: str) -> Problem:
    return Problem(
        code="plate-tool",
        message=f"a tool of {spec.tool_mm:g} mm is wide for modules of {module_mm:.2f} mm; "
        f"advised is a third of a module",
        hint=f"take a tool of at most {module_mm / TOOLS_A_MODULE:.2f} mm, or a larger symbol",
        level=Level.ADVICE,
        about=tag,
    )


def _small_plate(text: PlateText, spec: PlateSpec) -> Problem:
    return Problem(
        code="plate-small",
        message=f'"{text.tag}" does not fit beside a symbol of {spec.symbol_mm:g} mm on a plate of '
        f"{spec.width_mm:g} × {spec.height_mm:g} mm with capitals of at least {LEAST_CAPITAL_MM:g} mm",
        hint="take a larger plate",
        about=text.tag,
    )


def _column(spec: PlateSpec) -> tuple[float, float]:
    """Left end and width of the room for letters: beside the quiet zone, clear of the holes."""
    left = spec.symbol_mm
    kept = 2 * spec.hole_mm + 1.0 if spec.hole_mm else spec.corner_mm
    return left, spec.width_mm - left - kept


def _capital_mm(text: PlateText, spec: PlateSpec) -> float:
    """The height of capitals at which the tag number fills its room, at most a seventh of the plate."""
    return min(_column(spec)[1] / width_of(text.tag) * HEIGHT, spec.height_mm / 7)


def _lines(text: PlateText, spec: PlateSpec) -> tuple[_Line, ...]:
    """Tag number, marking and, on a sample, the word; around the middle of the height."""
    left, width = _column(spec)
    words = [text.tag, text.marking, *(["SAMPLE"] if text.sample else [])]
    capital = _capital_mm(text, spec)
    top = spec.height_mm / 2 - capital * (2.5 if text.triangle or text.sample else 1.5)
    lines = []
    for number, word in enumerate(w for w in words if w):
        size = min(capital, width / width_of(word) * HEIGHT)
        lines.append(_Line(text=word, left_mm=left, top_mm=top + number * capital * 1.8, capital_mm=size))
    return tuple(lines)


def plate_svg(text: PlateText, spec: PlateSpec) -> str:
    """The plate as SVG in millimetres, read back before it is returned. Raises LabelError."""
    errors = errors_in(plate_problems(text, spec))
    if errors:
        raise LabelError(errors)
    symbol = light_symbol(text.payload, spec.level)
    loops = outlines(symbol)
    lost = unread(_proof(loops, symbol.side), [text.payload])
    if lost:
        raise LabelError(lost)
    layers = (
        _layer("fill", _symbol_path(loops, symbol, spec)),
        _layer("line", _strokes_path(text, spec)),
        _layer("cut", _cut_path(spec)),
    )
    size = f"{_n(spec.width_mm)} {_n(spec.height_mm)}"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(spec.width_mm)}mm" height="{_n(spec.height_mm)}mm" '
        f'viewBox="0 0 {size}">\n<title>{escape(text.tag)}</title>\n'
    )
    return head + "".join(layers) + "</svg>\n"


def _proof(loops: Iterable[tuple[Corner, ...]], side: int) -> Image.Image:
    """A picture of the outlines themselves, filled by even and odd as SVG does it."""
    whole = (side + 2 * QUIET) * PROOF_DOTS
    image = Image.new("1", (whole, whole), 0)
    for loop in loops:
        one = Image.new("1", (whole, whole), 0)
        points = [((x + QUIET) * PROOF_DOTS, (y + QUIET) * PROOF_DOTS) for x, y in loop]
        ImageDraw.Draw(one).polygon(points, fill=1)
        image = ImageChops.logical_xor(image, one)
    return image.point(lambda dot: 0 if dot else 1)


def _symbol_path(loops: Iterable[tuple[Corner, ...]], symbol: Symbol, spec: PlateSpec) -> str:
    module = _module_mm(symbol, spec)
    down = (spec.height_mm - spec.symbol_mm) / 2
    placed = ([((x + QUIET) * module, (y + QUIET) * module + down) for x, y in loop] for loop in loops)
    return "".join(_path(points) + "z" for points in placed)


def _strokes_path(text: PlateText, spec: PlateSpec) -> str:
    lines = _lines(text, spec)
    drawn = [_path(points) for line in lines for points in _line_points(line)]
    if text.triangle and not text.sample:
        last = lines[-1]
        drawn += _triangle(text.triangle, last.left_mm, last.top_mm + _capital_mm(text, spec) * 1.8, spec)
    return "".join(drawn)


def _line_points(line: _Line) -> list[list[tuple[float, float]]]:
    unit = line.capital_mm / HEIGHT
    return [_placed(stroke, line.left_mm, line.top_mm, unit) for stroke in strokes_of(line.text)]


def _placed(stroke: Stroke, left: float, top: float, unit: float) -> list[tuple[float, float]]:
    return [(left + x * unit, top + y * unit) for x, y in stroke]


def _triangle(number: str, left: float, top: float, spec: PlateSpec) -> list[str]:
    """A plain triangle around the number, no arrows (ASTM D7611 since 2013)."""
    side = spec.height_mm / 5
    high = side * math.sqrt(3) / 2
    unit = high * 0.42 / HEIGHT
    corner = left + side / 2 - width_of(number) * unit / 2
    around = _path([(left + side / 2, top), (left + side, top + high), (left, top + high)]) + "z"
    return [around, *(_path(_placed(stroke, corner, top + high * 0.48, unit)) for stroke in strokes_of(number))]


def _cut_path(spec: PlateSpec) -> str:
    """The edge with round corners, and two holes at the right."""
    w, h, r = spec.width_mm, spec.height_mm, spec.corner_mm
    arc = f"a{_n(r)} {_n(r)} 0 0 1 "
    edge = (
        f"M{_n(r)} 0H{_n(w - r)}{arc}{_n(r)} {_n(r)}V{_n(h - r)}{arc}{_n(-r)} {_n(r)}"
        f"H{_n(r)}{arc}{_n(-r)} {_n(-r)}V{_n(r)}{arc}{_n(r)} {_n(-r)}z"
    )
    if not spec.hole_mm:
        return edge
    x = w - spec.hole_mm * 1.25
    return edge + "".join(_circle(x, y, spec.hole_mm / 2) for y in (spec.hole_mm * 1.25, h - spec.hole_mm * 1.25))


def _circle(x: float, y: float, radius: float) -> str:
    half = f"a{_n(radius)} {_n(radius)} 0 1 1 "
    return f"M{_n(x - radius)} {_n(y)}{half}{_n(2 * radius)} 0{half}{_n(-2 * radius)} 0z"


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points)


def _layer(name: str, path: str) -> str:
    colour = COLOURS[name]
    paint = f'fill="{colour}" fill-rule="evenodd"' if name == "fill" else f'fill="none" stroke="{colour}"'
    wide = "" if name == "fill" else ' stroke-width="0.1"'
    return f'<g id="{name}"><path {paint}{wide} d="{path}"/></g>\n'


def _n(number: float) -> str:
    """Millimetres to a thousandth, without needless noughts."""
    text = f"{number:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
