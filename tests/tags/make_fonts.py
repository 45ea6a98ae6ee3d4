"""Make the two font files of the labels and the list of characters they cover.

    pip install fonttools fontpkg-ibm-plex-sans==3.201
    python tests/tags/make_fonts.py FONT.ttf passport/tags/fonts

FONT.ttf is the upright variable font of that package. The result is a modified version in the sense
of the SIL Open Font License 1.1, so it bears a name of its own (condition 3); its licence lies beside it.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

WEIGHTS = {"Regular": 400, "Bold": 600}
KEPT = [
    (0x20, 0x7E), (0xA0, 0xFF), (0x100, 0x24F), (0x259, 0x259), (0x2BC, 0x2BC), (0x300, 0x304), (0x370, 0x3FF),
    (0x400, 0x52F), (0x1E80, 0x1E85), (0x1E9E, 0x1E9E), (0x1EA0, 0x1EF9), (0x2010, 0x2026), (0x2030, 0x2033),
    (0x2044, 0x2044), (0x2070, 0x208E), (0x20AC, 0x20AC), (0x2116, 0x2116), (0x2122, 0x2122), (0x2190, 0x2193),
    (0x2039, 0x203A), (0x2212, 0x2212), (0x2248, 0x2248), (0x2260, 0x2265),
]  # fmt: skip
HEAD = "# Code points that TagSans-Regular.ttf and TagSans-Bold.ttf both draw: first-last, in hexadecimal.\n"


def made(source: Path, weight: str) -> TTFont:
    """One static weight with the kept characters and a name of its own."""
    font = instancer.instantiateVariableFont(TTFont(source), {"wght": WEIGHTS[weight], "wdth": 100})
    options = Options(layout_features=[], hinting=False, name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14], notdef_outline=True)
    cut = Subsetter(options)
    cut.populate(unicodes=[c for first, last in KEPT for c in range(first, last + 1)])
    cut.subset(font)
    names = {1: "Tag Sans", 2: weight, 3: f"TagSans-{weight}", 4: f"Tag Sans {weight}", 6: f"TagSans-{weight}"}
    for number, name in names.items():
        font["name"].setName(name, number, 3, 1, 0x409)
    font["head"].modified = font["head"].created
    font.recalcTimestamp = False
    return font


def ranges(points: list[int]) -> str:
    """Code points as lines of first-last."""
    lines: list[list[int]] = []
    for point in points:
        if lines and lines[-1][1] == point - 1:
            lines[-1][1] = point
        else:
            lines.append([point, point])
    return "".join(f"{first:04X}-{last:04X}\n" for first, last in lines)


def main(source: Path, folder: Path) -> None:
    """Write both weights and the list."""
    covered = set(range(0x110000))
    for weight in WEIGHTS:
        font = made(source, weight)
        font.save(folder / f"TagSans-{weight}.ttf")
        covered &= set(font.getBestCmap())
    (folder / "covered.txt").write_text(HEAD + ranges(sorted(covered)), encoding="ascii")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
