"""Plates: outlines that are the symbol, a layer a tool, true size, clear errors."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.reading.tag_numbers import next_numbers
from passport.tags.faces import LabelError
from passport.tags.plate import PlateSpec, PlateText, light_symbol, outlines, plate_problems, plate_svg
from passport.tags.strokes import HEIGHT, LETTERS, WIDTH, stroke_problems, strokes_of, width_of
from passport.tags.symbol import Symbol, symbol_for

ADDRESS = "https://PASS.REEDMOUTH.EXAMPLE/T/RY-22224M"
PLATE = PlateText(tag="RY-22224M", payload=ADDRESS, marking=">PE-HD<", triangle="2")
SVG = "{http://www.w3.org/2000/svg}"


def filled(loops: tuple[tuple[tuple[int, int], ...], ...], side: int) -> np.ndarray:
    """Even-odd filling by counting, for each module, the upright edges to its left."""
    crossed = np.zeros((side, side), dtype=int)
    for loop in loops:
        for (x, y), (x2, y2) in pairwise([*loop, loop[0]]):
            if x == x2:
                crossed[min(y, y2) : max(y, y2), x:] += 1
    return crossed % 2 == 1


@given(st.lists(st.lists(st.booleans(), min_size=6, max_size=6), min_size=6, max_size=6))
def test_outlines_enclose_exactly_the_dark_modules(rows: list[list[bool]]) -> None:
    """Any pattern of modules comes back from its outlines, holes and corners that touch included."""
    symbol = Symbol(modules=tuple(bytes(row) for row in rows), version=1, level="Q", mask=0, payload="X")
    loops = outlines(symbol)
    assert (filled(loops, 6) == symbol.dark()).all()
    assert all(len(loop) % 2 == 0 and len(set(loop)) >= 4 for loop in loops)


def test_neighbours_share_one_outline() -> None:
    """A finder pattern is three loops: its edge, the light ring's inner and its centre (18004 5.3.2.1)."""
    rows = [b"\1\1\1\1\1\1\1", *[b"\1\0\0\0\0\0\1"], *[b"\1\0\1\1\1\0\1"] * 3, b"\1\0\0\0\0\0\1", b"\1\1\1\1\1\1\1"]
    loops = outlines(Symbol(modules=tuple(rows), version=1, level="Q", mask=0, payload="X"))
    assert sorted(loops) == [
        ((0, 0), (7, 0), (7, 7), (0, 7)),
        ((1, 1), (1, 6), (6, 6), (6, 1)),
        ((2, 2), (5, 2), (5, 5), (2, 5)),
    ]


def test_the_mask_clears_the_least() -> None:
    """No other mask has fewer dark modules."""
    dark = [int(symbol_for(ADDRESS, "Q", mask).dark().sum()) for mask in range(8)]
    assert int(light_symbol(ADDRESS).dark().sum()) == min(dark)


def test_a_plate_is_one_layer_a_tool_in_millimetres() -> None:
    """Width and viewBox agree, so a unit is a millimetre; there are paths and nothing else to draw."""
    root = ET.fromstring(plate_svg(PLATE, PlateSpec()))  # noqa: S314  # made a line above
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("80mm", "40mm", "0 0 80 40")
    assert [group.get("id") for group in root.iter(f"{SVG}g")] == ["fill", "line", "cut"]
    assert {element.tag for element in root.iter()} == {f"{SVG}{name}" for name in ("svg", "title", "g", "path")}


@pytest.mark.parametrize("tag", next_numbers("RY", None, 3))
def test_a_second_decoder_reads_the_fill(tag: str) -> None:
    """OpenCV reads the outlines of the finished file, filled here by even and odd from its path text."""
    made = plate_svg(PlateText(tag=tag, payload=f"https://PASS.REEDMOUTH.EXAMPLE/T/{tag}"), PlateSpec())
    path = re.search(r'id="fill"><path [^>]* d="([^"]*)"', made)
    assert path
    picture = np.full((800, 800), 255, dtype=np.uint8)
    loops = [
        np.array([[float(n) * 20 for n in point.split()] for point in loop[1:].split("L")]).round().astype(np.int32)
        for loop in path[1].split("z")[:-1]
    ]
    cv2.fillPoly(picture, loops, 0)
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == f"https://PASS.REEDMOUTH.EXAMPLE/T/{tag}"


def test_nothing_leaves_the_plate() -> None:
    """All points of fill and line lie on the plate, clear of the holes' column, for the longest prefix too."""
    for text in (PLATE, PlateText(tag="RYDE-22224M", payload=ADDRESS, marking=">PP+PE-HD<", sample=True)):
        made = plate_svg(text, PlateSpec(width_mm=90))
        drawn = re.search(r'id="line">.* d="([^"]*)"', made)
        assert drawn
        points = [tuple(map(float, p.split())) for p in re.split("[MLz]+", drawn[1]) if p]
        assert all(36 <= x <= 90 - 2 * 4.2 and 0 < y < 40 for x, y in points)


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        (PlateSpec(symbol_mm=26, tool_mm=0.1), "a symbol of 26 mm has modules of 0.70 mm; wanted at least 0.75 mm"),
        (PlateSpec(tool_mm=0.5), "a tool of 0.5 mm is wide for modules of 0.97 mm; advised is a third of a module"),
        (
            PlateSpec(width_mm=50),
            '"RY-22224M" does not fit beside a symbol of 36 mm on a plate of 50 × 40 mm with capitals of at least 3 mm',
        ),
    ],
)
def test_a_plate_that_cannot_be_says_why(spec: PlateSpec, message: str) -> None:
    """Module, tool and room for letters."""
    assert [problem.message for problem in plate_problems(PLATE, spec)] == [message]


def test_a_letter_without_strokes_is_named() -> None:
    """Nothing is left out in silence."""
    assert [p.message for p in stroke_problems("ÉÉ1")] == ['there is no engraved "É" for "ÉÉ1"']
    with pytest.raises(LabelError, match="there is no engraved"):
        plate_svg(PlateText(tag="É", payload=ADDRESS), PlateSpec())


def test_letters_are_distinct_and_in_their_box() -> None:
    """Every capital and digit has strokes of its own, within 4 × 6 units."""
    drawn = {letter: strokes_of(letter) for letter in LETTERS if letter.isalnum()}
    assert len(set(drawn.values())) == 36
    points = [point for strokes in drawn.values() for stroke in strokes for point in stroke]
    assert {x for x, _ in points} == set(range(WIDTH + 1))
    assert {y for _, y in points} == set(range(HEIGHT + 1))
    assert width_of("AB") == 10


def test_the_same_plate_gives_the_same_text() -> None:
    """No chance, no clock."""
    assert plate_svg(PLATE, PlateSpec()) == plate_svg(PLATE, PlateSpec())
