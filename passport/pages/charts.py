"""Charts of the material log as inline SVG, each drawn from the same view as the table beside it.

Pure: the same view gives the same text. No style attributes (the page's security policy forbids
them); the series differ by pattern, so that grey paper and colour-blind eyes lose nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from math import floor, log10

from passport.pages import drawing
from passport.pages.pieces import Bars, Curves, Line, Series, Share

SERIES = ("solid", "stripe", "dot", "empty", "cross", "rung")
LEFT = 40
PLOT = 170
LEGEND_LINE = 22
LEGEND_COLUMNS = 2
ALPHABET = 26
LYING_ROW = 44
SHARE_ROW = 24
SHORTEST_LETTERED = 0.08
TICKS = 4


def upright_svg(bars: Bars, key: str) -> str:
    """Upright bars, a place each: series stacked upwards, the last `bars.below` of them downwards."""
    top = _legend_height(bars) + 24
    scale = _scale(bars)
    body = _legend(bars, key) + _ticks(scale, bars.unit, top) + _stacks(bars, key, top, scale)
    return drawing.picture(key, bars.title, bars.summary, top + PLOT + 24, body, SERIES[: len(bars.series)])


def lying_svg(bars: Bars, key: str) -> str:
    """Lying bars, a place each: name and figure in a line, the bar beneath it."""
    top = _legend_height(bars) if len(bars.series) > 1 else 0
    most = max([*_sums(bars.series, bars), 1e-9])
    body = (_legend(bars, key) if top else "") + "".join(
        _lying_row(bars, i, key, top + i * LYING_ROW, most) for i in range(len(bars.places))
    )
    height = top + len(bars.places) * LYING_ROW
    return drawing.picture(key, bars.title, bars.summary, height, body, SERIES[: len(bars.series)])


def share_svg(shares: tuple[Share, ...], title: str, summary: str, key: str) -> str:
    """One bar of the whole, cut into its shares, each with the letter of its line in the table."""
    ends = [0.0, *accumulate(share.part for share in shares)]
    body = "".join(
        _share_cut(i, ends[i] * drawing.WIDTH, share.part * drawing.WIDTH, key) for i, share in enumerate(shares)
    )
    fills = [SERIES[i % len(SERIES)] for i in range(len(shares))]
    return drawing.picture(key, title, summary, SHARE_ROW + 20, body, fills)


def steps_svg(curves: Curves, key: str) -> str:
    """Stepped lines between 0 and 100 %, told apart by their dashes; bounds are thin and dotted."""
    named = [line for line in curves.lines if not line.bound]
    top = LEGEND_LINE * -(-(len(named) + any(line.bound for line in curves.lines)) // LEGEND_COLUMNS) + 12
    scale = (drawing.WIDTH - LEFT) / max(curves.until, 1)
    body = _line_legend(curves.lines) + "".join(_share_ticks(top))
    body += "".join(_day_mark(day, said, scale, top) for day, said in curves.marks)
    body += "".join(_stepped(line, _dashes(line, named), scale, top, curves.until) for line in curves.lines)
    return drawing.picture(key, curves.title, curves.summary, top + PLOT + 24, body, ())


DASHES = ("", "9 4", "3 3", "9 3 2 3", "14 4")
"""How lines are told apart without colour, the first one whole."""
DOTS = "1 3"


def _dashes(line: Line, named: list[Line]) -> str:
    return DOTS if line.bound else DASHES[named.index(line) % len(DASHES)]


def _line_legend(lines: tuple[Line, ...]) -> str:
    named = [line for line in lines if not line.bound]
    shown = named + [line for line in lines if line.bound][:1]
    made = []
    for i, line in enumerate(shown):
        x, y = (i % LEGEND_COLUMNS) * drawing.WIDTH / LEGEND_COLUMNS, (i // LEGEND_COLUMNS) * LEGEND_LINE + 9
        made.append(_drawn(f"M{drawing.number(x)} {y}h26", _dashes(line, named), thin=line.bound))
        made.append(drawing.words(x + 32, y + 4, line.name, "m"))
    return "".join(made)


def _share_ticks(top: float) -> Iterator[str]:
    for i in range(TICKS + 1):
        y = top + PLOT * (1 - i / TICKS)
        yield f'<path d="M{LEFT} {drawing.number(y)}H{drawing.WIDTH}" class="{"tick" if i else "axis"}"/>'
        yield drawing.words(LEFT - 6, y + 4, f"{100 * i // TICKS}", "t", "end")
    yield drawing.words(LEFT, top - 4, "%", "t")


def _day_mark(day: float, said: str, scale: float, top: float) -> str:
    x = LEFT + day * scale
    foot = f'<path d="M{drawing.number(x)} {drawing.number(top + PLOT)}v5" class="axis"/>'
    return foot + drawing.words(x, top + PLOT + 18, said, "t", "end" if x > drawing.WIDTH - LEFT else "middle")


def _stepped(line: Line, dashes: str, scale: float, top: float, until: float) -> str:
    made, pen = "", "M"
    for day, share in line.points:
        x, y = drawing.number(LEFT + day * scale), drawing.number(top + PLOT * (1 - share))
        made += f"{pen}{x} {y}" if pen == "M" else f"H{x}V{y}"
        pen = "H"
    return _drawn(f"{made}H{drawing.number(LEFT + until * scale)}", dashes, thin=line.bound) if made else ""


def _drawn(path: str, dashes: str, *, thin: bool) -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="{1 if thin else 2.5}"{dashed}/>'


def letter(place: int) -> str:
    """A, B, C … for the cuts of a share bar; after Z, AA.

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    head = letter(place // ALPHABET - 1) if place >= ALPHABET else ""
    return head + chr(ord("A") + place % ALPHABET)


def round_step(least: float) -> float:
    """The smallest of 1, 2, 5 × 10^n that is not below `least`.

    >>> [round_step(x) for x in (0.3, 1, 13, 21, 60)]
    [0.5, 1, 20, 50, 100]
    """
    if least <= 0:
        return 1
    power = 10.0 ** floor(log10(least))
    step = next(power * n for n in (1, 2, 5, 10) if power * n >= least * (1 - 1e-9))
    return int(step) if step >= 1 else step


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Steps above and beneath the line of an upright chart, and the pixels of one."""

    step: float
    above: int
    beneath: int
    pixels: float


def _sums(chosen: tuple[Series, ...], bars: Bars) -> list[float]:
    return [sum(series.values[i] for series in chosen) for i in range(len(bars.places))]


def _legend_height(bars: Bars) -> float:
    return LEGEND_LINE * -(-len(bars.series) // LEGEND_COLUMNS)


def _legend(bars: Bars, key: str) -> str:
    made = []
    for i, series in enumerate(bars.series):
        x = (i % LEGEND_COLUMNS) * drawing.WIDTH / LEGEND_COLUMNS
        y = (i // LEGEND_COLUMNS) * LEGEND_LINE
        made.append(_filled(drawing.bar(x, y + 1, 16, 14, SERIES[i % len(SERIES)], key), i))
        made.append(drawing.words(x + 22, y + 13, series.name, "m"))
    return "".join(made)


def _filled(shape: str, place: int) -> str:
    return f'<g class="s{place % len(SERIES)}">{shape}</g>'


def _scale(bars: Bars) -> _Scale:
    rising = len(bars.series) - bars.below
    up = max([*_sums(bars.series[:rising], bars), 0])
    down = max([*_sums(bars.series[rising:], bars), 0])
    step = round_step((up + down) / TICKS or 1)
    above, beneath = -(-up // step), -(-down // step)
    return _Scale(step=step, above=int(above), beneath=int(beneath), pixels=PLOT / max(above + beneath, 1))


def _ticks(scale: _Scale, unit: str, top: float) -> str:
    made = []
    for i in range(-scale.beneath, scale.above + 1):
        y = top + scale.pixels * (scale.above - i)
        style = "axis" if i == 0 else "tick"
        made.append(f'<path d="M{LEFT} {drawing.number(y)}H{drawing.WIDTH}" class="{style}"/>')
        made.append(drawing.words(LEFT - 6, y + 4, f"{abs(i) * scale.step:g}", "t", "end"))
    return "".join(made) + drawing.words(LEFT, top - 8, unit, "t")


def _stacks(bars: Bars, key: str, top: float, scale: _Scale) -> str:
    slot = (drawing.WIDTH - LEFT) / max(len(bars.places), 1)
    zero = top + scale.pixels * scale.above
    made = []
    for i in range(len(bars.places)):
        x = LEFT + slot * (i + 0.14)
        made.append(_stack(bars, i, x, slot * 0.72, zero, scale, key))
        if i < len(bars.marks) and bars.marks[i]:
            made.append(drawing.words(x, top + PLOT + 16, bars.marks[i], "t"))
    return "".join(made)


def _stack(bars: Bars, i: int, x: float, wide: float, zero: float, scale: _Scale, key: str) -> str:
    """One place's bars: rising series from the line up, the others from the line down."""
    rising = len(bars.series) - bars.below
    roof = cellar = zero
    made = []
    for j, series in enumerate(bars.series):
        tall = max(series.values[i], 0) / scale.step * scale.pixels
        if j < rising:
            roof -= tall
        y = roof if j < rising else cellar
        if j >= rising:
            cellar += tall
        if tall:
            made.append(_filled(drawing.bar(x, y, wide, tall, SERIES[j % len(SERIES)], key), j))
    return "".join(made)


def _lying_row(bars: Bars, i: int, key: str, y: float, most: float) -> str:
    said = drawing.words(0, y + 14, bars.places[i].text, "k")
    parts = [series.texts[i] for series in bars.series]
    total = bars.totals[i] if i < len(bars.totals) else " + ".join(parts)
    said += drawing.words(drawing.WIDTH, y + 14, total, "k", "end")
    x, made = 0.0, []
    for j, series in enumerate(bars.series):
        wide = drawing.WIDTH * max(series.values[i], 0) / most
        if wide > 0:
            made.append(_filled(drawing.bar(x, y + 20, wide, 14, SERIES[j % len(SERIES)], key), j))
        x += wide
    return said + "".join(made)


def _share_cut(i: int, x: float, wide: float, key: str) -> str:
    cut = _filled(drawing.bar(x, 0, wide, SHARE_ROW, SERIES[i % len(SERIES)], key), i)
    if wide < SHORTEST_LETTERED * drawing.WIDTH:
        return cut
    return cut + drawing.words(x + wide / 2, SHARE_ROW + 16, letter(i), "t", "middle")
