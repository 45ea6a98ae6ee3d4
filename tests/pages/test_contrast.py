"""The style sheet's colours, by WCAG 2.2 (1.4.3 text 4.5:1, 1.4.11 other things 3:1), light and dark."""

from __future__ import annotations

import re

import pytest

from passport.pages.theme import load_theme

STYLE = load_theme(["en"])[0].static["style.css"]
LIGHT, DARK = ({}, {})
_BLOCKS = re.findall(r":root\{(.*?)\}", STYLE, re.DOTALL)
LIGHT.update(re.findall(r"--(\w+(?:-\w+)?):(#[0-9a-f]+)", _BLOCKS[0]))
DARK.update(LIGHT | dict(re.findall(r"--(\w+(?:-\w+)?):(#[0-9a-f]+)", _BLOCKS[1])))
PRINT = LIGHT | dict(re.findall(r"--(\w+(?:-\w+)?):(#[0-9a-f]+)", _BLOCKS[2]))

TEXT = [
    *[(ink, ground) for ink in ("ink", "soft", "sea", "oxide") for ground in ("paper", "card")],
    ("on-sea", "sea"),
    ("ink", "blush"),
    ("soft", "blush"),
    ("oxide", "blush"),
    ("sea", "blush"),
    ("ink", "wash"),
    ("soft", "wash"),
    ("card", "ink"),
]
SHAPES = [("rule", "paper"), ("rule", "card"), ("sea", "paper"), ("ink", "card"), ("oxide", "blush")]


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb` or `#rgb` (WCAG 2.2, definitions)."""
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(c * 2 for c in digits)
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    r, g, b = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definitions)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


# Luminance and ratio on white, computed from the W3C formula of WCAG 2.2; #767676 / #777777 and
# #949494 / #959595 are the known edges of 4.5 and 3.
@pytest.mark.parametrize(
    ("colour", "light", "ratio"),
    [
        ("#000000", 0, 21.0000),
        ("#595959", 0.099899, 7.0047),
        ("#767676", 0.181164, 4.5422),
        ("#777777", 0.184475, 4.4781),
        ("#949494", 0.296138, 3.0335),
        ("#959595", 0.300544, 2.9953),
        ("#ff0000", 0.212600, 3.9985),
        ("#00ff00", 0.715200, 1.3722),
        ("#0000ff", 0.072200, 8.5925),
    ],
)
def test_the_formula(colour: str, light: float, ratio: float) -> None:
    """Our measure agrees with values computed from the text of WCAG 2.2."""
    assert luminance(colour) == pytest.approx(light, abs=1e-6)
    assert contrast(colour, "#fff") == pytest.approx(ratio, abs=5e-5)


def test_on_a_dark_ground() -> None:
    """The pair #8AB4F8 on #121212 measures 8.8892 (same formula)."""
    assert contrast("#8ab4f8", "#121212") == pytest.approx(8.8892, abs=5e-5)


@pytest.mark.parametrize("colours", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
@pytest.mark.parametrize(("ink", "ground"), TEXT)
def test_text_can_be_read(colours: dict[str, str], ink: str, ground: str) -> None:
    """Every pair of text and ground has at least 4.5:1, compared unrounded."""
    assert contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize("colours", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
@pytest.mark.parametrize(("shape", "ground"), SHAPES)
def test_shapes_can_be_seen(colours: dict[str, str], shape: str, ground: str) -> None:
    """Rules, icons and bars have at least 3:1."""
    assert contrast(colours[shape], colours[ground]) >= 3


def test_nothing_comes_from_elsewhere() -> None:
    """The style sheet asks no other host for anything."""
    assert not re.search(r"url\(|@import|https?:", STYLE)
