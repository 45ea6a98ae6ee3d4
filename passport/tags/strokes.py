"""Letters as single strokes, for a tool that follows a line: an engraver, a hot wire, a laser.

Each letter is drawn here on a grid 4 wide and 6 high, y downwards; points are two digits, x then y,
strokes are separated by spaces. Round shapes have cut corners, so that worn letters stay distinct.
"""

from __future__ import annotations

from passport.problems import Problem

HEIGHT, WIDTH, ADVANCE = 6, 4, 6
"""Of a capital, of a letter, and from one letter to the next, in grid units."""

Point = tuple[float, float]
Stroke = tuple[Point, ...]

LETTERS = {
    "A": "06 01 10 30 41 46|03 43",
    "B": "00 06 36 45 44 33 03|00 30 41 42 33",
    "C": "41 30 10 01 05 16 36 45",
    "D": "00 06 26 45 41 20 00",
    "E": "40 00 06 46|03 33",
    "F": "40 00 06|03 33",
    "G": "41 30 10 01 05 16 36 45 43 23",
    "H": "00 06|40 46|03 43",
    "I": "10 30|20 26|16 36",
    "J": "20 40 45 36 16 05",
    "K": "00 06|40 03 46",
    "L": "00 06 46",
    "M": "06 00 23 40 46",
    "N": "06 00 46 40",
    "O": "10 30 41 45 36 16 05 01 10",
    "P": "06 00 30 41 42 33 03",
    "Q": "10 30 41 45 36 16 05 01 10|24 46",
    "R": "06 00 30 41 42 33 03|23 46",
    "S": "41 30 10 01 02 13 33 44 45 36 16 05",
    "T": "00 40|20 26",
    "U": "00 05 16 36 45 40",
    "V": "00 26 40",
    "W": "00 16 23 36 40",
    "X": "00 46|40 06",
    "Y": "00 23 40|23 26",
    "Z": "00 40 06 46",
    "0": "10 30 41 45 36 16 05 01 10|41 05",
    "1": "11 20 26|16 36",
    "2": "01 10 30 41 42 06 46",
    "3": "00 40 22 32 43 45 36 16 05",
    "4": "36 30 04 44",
    "5": "40 00 02 32 43 45 36 16 05",
    "6": "30 20 03 05 16 36 45 44 33 03",
    "7": "00 40 16",
    "8": "10 30 41 42 33 13 02 01 10|13 04 05 16 36 45 44 33",
    "9": "43 13 02 01 10 30 41 43 26 16",
    "-": "13 33",
    ">": "01 43 05",
    "<": "41 03 45",
    "+": "21 25|03 43",
    "(": "30 11 15 36",
    ")": "10 31 35 16",
    ",": "25 17",
    ".": "25 26",
    "/": "06 40",
    "%": "06 40|00 10 11 01 00|35 45 46 36 35",
    " ": "",
}


def strokes_of(text: str) -> tuple[Stroke, ...]:
    """The strokes of a line of capitals in grid units. Raises KeyError for a letter that has none."""
    found: list[Stroke] = []
    for place, letter in enumerate(text):
        found += _moved(LETTERS[letter], place * ADVANCE)
    return tuple(found)


def _moved(drawn: str, right: int) -> list[Stroke]:
    lines = [line.split() for line in drawn.split("|") if line]
    return [tuple((int(point[0]) + right, int(point[1])) for point in line) for line in lines]


def width_of(text: str) -> int:
    """Grid units from the left of the first letter to the right of the last one."""
    return max(len(text) * ADVANCE - (ADVANCE - WIDTH), 0)


def stroke_problems(text: str, about: str = "") -> tuple[Problem, ...]:
    """One problem for each different character that has no strokes. Code: label-stroke."""
    lacking = dict.fromkeys(c for c in text if c not in LETTERS)
    return tuple(_lacking(character, text, about) for character in lacking)


def _lacking(character: str, text: str, about: str) -> Problem:
    return Problem(
        code="label-stroke",
        message=f'there is no engraved "{character}" for "{text}"',
        hint="a plate carries capitals A to Z, digits and - > < + ( ) , . / %",
        about=about,
    )
