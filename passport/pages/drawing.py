"""Small bricks of the drawings: numbers, escaped text, bars, patterns. Colour never stands alone."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

WIDTH = 360
"""Drawings are laid out in CSS pixels of a narrow phone and grow with the page."""

PATTERNS = {
    "solid": "",
    "stripe": '<path d="M-2 2l4-4M0 8l8-8M6 10l4-4" class="ps"/>',
    "dot": '<circle cx="2" cy="2" r="1.4" class="pf"/><circle cx="6" cy="6" r="1.4" class="pf"/>',
    "cross": '<path d="M0 4h8M4 0v8" class="ps"/>',
    "rung": '<path d="M0 2h8M0 6h8" class="ps"/>',
    "empty": "",
}
"""Each drawn on 8 × 8 pixels over the bar's own ground; told apart by shape, in print and in grey."""


def text(raw: str) -> str:
    """Text that is safe between tags and in quoted attributes; control characters are left out."""
    return escape("".join(c for c in raw if c >= " " and c != "\x7f"))


def number(value: float) -> str:
    """A length with at most one decimal and no useless zero: "12.5", "12", "0".

    >>> number(12.04), number(-0.01)
    ('12', '0')
    """
    rounded = f"{value:.1f}".removesuffix(".0")
    return "0" if rounded == "-0" else rounded


def bar(x: float, y: float, width: float, height: float, fill: str, key: str) -> str:
    """A rectangle with its pattern laid over it."""
    place = f'x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}"'
    ground = f'<rect {place} class="g {fill}"/>'
    return ground + (f'<rect {place} fill="url(#{key}-{fill})"/>' if PATTERNS[fill] else "")


def words(x: float, y: float, said: str, style: str = "", anchor: str = "") -> str:
    """A line of text with its left (or `anchor`) end at x and its base at y."""
    kind = f' class="{style}"' if style else ""
    end = f' text-anchor="{anchor}"' if anchor else ""
    return f'<text x="{number(x)}" y="{number(y)}"{kind}{end}>{text(said)}</text>'


def picture(key: str, title: str, summary: str, height: float, body: str, fills: Iterable[str]) -> str:
    """The whole drawing with its name and description for those who do not see it."""
    return (
        f'<svg class="draw" viewBox="0 0 {WIDTH} {number(height)}" role="img" '
        f'aria-labelledby="{key}-t {key}-d"><title id="{key}-t">{text(title)}</title>'
        f'<desc id="{key}-d">{text(summary)}</desc>{_patterns(key, fills)}{body}</svg>'
    )


def _patterns(key: str, fills: Iterable[str]) -> str:
    made = [
        f'<pattern id="{key}-{fill}" width="8" height="8" patternUnits="userSpaceOnUse">{PATTERNS[fill]}</pattern>'
        for fill in sorted(set(fills))
        if PATTERNS[fill]
    ]
    return f"<defs>{''.join(made)}</defs>" if made else ""
