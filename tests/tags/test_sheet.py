"""Sheets: true size, every symbol readable, the same bytes each time, clear errors."""

from __future__ import annotations

import io
import re
import shutil
import struct
import subprocess
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from passport.reading.tag_numbers import next_numbers
from passport.tags.advice import advice_for, advice_lines, general_advice
from passport.tags.faces import LabelError
from passport.tags.label import LabelSpec, LabelText
from passport.tags.pdf import group4, pdf_of
from passport.tags.readback import read_symbols
from passport.tags.roll import roll_pdf
from passport.tags.sheet import (
    SheetSpec,
    SheetWords,
    _head,
    notes_pages,
    page_count,
    page_image,
    sheet_pdf,
    sheet_problems,
    tags_in_short,
)

TAGS = next_numbers("RY", None, 14)
COARSE = SheetSpec(dpi=300)


def label(tag: str, sentence: str = "All of it is polypropylene. Bring it back to the yard.") -> LabelText:
    """A label of the demo yard."""
    return LabelText(
        tag=tag, payload=f"https://PASS.REEDMOUTH.EXAMPLE/T/{tag}", marking=">PP<", triangle="5", sentence=sentence
    )


LABELS = [label(tag) for tag in TAGS]


def pictures(pdf: bytes) -> list[tuple[int, int, bytes]]:
    """Width, height and T.6 data of each picture, cut out by its dictionary."""
    found = re.finditer(rb"/Width (\d+) /Height (\d+) .*?/Filter /CCITTFaxDecode .*?/Length (\d+) >>\nstream\n", pdf)
    return [(int(m[1]), int(m[2]), pdf[m.end() : m.end() + int(m[3])]) for m in found]


def page_boxes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page in points."""
    return [(float(w), float(h)) for w, h in re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)]


@pytest.mark.parametrize(("dpi", "wide", "high"), [(300, 595.20, 841.92), (600, 595.32, 841.92)])
def test_pages_are_a4_in_true_size(dpi: int, wide: float, high: float) -> None:
    """A4 at whole dots is as large as another writer of PDF makes it (measured with Pillow), to 0.1 pt.

    The picture's own size in points is its dots × 72 / dpi, so a millimetre on it is a millimetre on paper.
    """
    pdf = sheet_pdf(LABELS[:1], SheetSpec(dpi=dpi))
    assert page_boxes(pdf) == [pytest.approx((wide, high), abs=0.1)] * 2
    drawn = re.findall(rb"q ([\d.]+) 0 0 ([\d.]+) 0 (-?[\d.]+) cm", pdf)
    assert [(float(a), float(b)) for a, b, _ in drawn] == [pytest.approx((wide, high), abs=0.01)] * 2
    assert [float(b) + float(down) for _, b, down in drawn] == [pytest.approx(841.890, abs=0.01)] * 2


def test_the_file_is_read_by_another_program(tmp_path: Path) -> None:
    """Poppler draws the pages at 300 dpi and every symbol reads from its drawing, nothing turned to white on black."""
    if not shutil.which("pdftoppm"):
        pytest.skip("needs pdftoppm of poppler-utils")
    (tmp_path / "sheet.pdf").write_bytes(sheet_pdf(LABELS, COARSE, ["PP"]))
    subprocess.run(["pdftoppm", "-r", "300", "-gray", "sheet.pdf", "page"], cwd=tmp_path, check=True)
    pages = [Image.open(path) for path in sorted(tmp_path.glob("page-*.pgm"))]
    assert [page.size for page in pages] == [(2480, 3508)] * 3 or [page.size for page in pages] == [(2481, 3508)] * 3
    assert all(np.asarray(page).mean() > 200 for page in pages)
    read = [text for page in pages for text in read_symbols(page)]
    assert sorted(read) == sorted(text.payload for text in LABELS)


def test_a_second_decoder_reads_the_page() -> None:
    """OpenCV, which shares no code with the decoder used in the proof, reads a page of labels."""
    grey = np.asarray(page_image(LABELS, COARSE, 0).convert("L"))
    spec = COARSE.printed
    found = set()
    for place in range(12):
        left, top = (round(mm / 25.4 * 300) for mm in COARSE.corner_mm(place))
        cut = grey[top : top + round(spec.height_mm / 25.4 * 300), left : left + round(32 / 25.4 * 300)]
        found.add(cv2.QRCodeDetector().detectAndDecode(np.ascontiguousarray(cut))[0])
    assert found == {text.payload for text in LABELS[:12]}


def test_the_same_labels_give_the_same_bytes_and_no_date() -> None:
    """Nothing in the file depends on the clock or on chance."""
    pdf = sheet_pdf(LABELS, COARSE, ["PP", "PE-HD"])
    assert pdf == sheet_pdf(LABELS, COARSE, ["PE-HD", "PP"])
    assert not re.search(rb"CreationDate|ModDate|/ID", pdf)


def test_each_object_stands_where_the_table_says() -> None:
    """The cross-reference table (ISO 32000-1 7.5.4) points at every object."""
    pdf = sheet_pdf(LABELS[:1], COARSE)
    start = int(re.search(rb"startxref\n(\d+)", pdf)[1])  # type: ignore[index]
    places = [int(line[:10]) for line in re.findall(rb"\d{10} \d{5} n ", pdf[start:])]
    assert [pdf[place:].split(b" obj")[0] for place in places] == [
        f"{number} 0".encode() for number in range(1, len(places) + 1)
    ]


def test_group_four_data_is_the_picture() -> None:
    """Wrapped into a TIFF by hand (TIFF 6.0), the data gives back every dot."""
    dots = np.random.default_rng(7).random((40, 53)) < 0.5
    image = Image.fromarray(dots)
    assert (np.asarray(tiff_of(group4(image), image.size)) == dots).all()


def tiff_of(data: bytes, size: tuple[int, int]) -> Image.Image:
    """T.6 data as a one-strip TIFF that says 1 is white."""
    sides = [(256, size[0]), (257, size[1]), (278, size[1])]
    entries = sorted([*sides, (258, 1), (259, 4), (262, 1), (273, 134), (279, len(data))])
    body = struct.pack("<H", len(entries))
    body += b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in entries) + bytes(4)
    head = b"II*\0" + struct.pack("<I", 8)
    whole = head + body
    image = Image.open(io.BytesIO(whole + bytes(134 - len(whole)) + data))
    image.load()
    return image


def test_modules_have_whole_dots_on_the_page() -> None:
    """At 600 dpi every run of dark dots in a row of a symbol is a multiple of the module."""
    page = np.asarray(page_image(LABELS[:1], SheetSpec(furniture=False), 0))
    left, top = (round(mm / 25.4 * 600) for mm in SheetSpec().corner_mm(0))
    block = ~page[top : top + 874, left : left + 700]
    rows = [row for row in block if row.any()]
    edges = {int(e) for row in rows for e in np.flatnonzero(np.diff(row.astype(int)))}
    assert {(e - min(edges)) % 19 for e in edges} == {0}  # 30 mm, version 3, 600 dpi: 19 dots a module


def test_labels_stand_on_the_grid_in_millimetres() -> None:
    """The second column begins a label and a gap after the first; the grid is in the middle of the page."""
    sheet = SheetSpec(label=LabelSpec(width_mm=60, height_mm=30), columns=3, rows=8, gap_x_mm=3, gap_y_mm=2)
    assert sheet.corner_mm(0) == (12.0, 12.0)
    assert sheet.corner_mm(4) == (75.0, 44.0)


def test_a_sheet_begun_yesterday_is_used_up() -> None:
    """With place 12 first, the first page has one label and the next twelve stand on the second."""
    begun = replace(COARSE, start=12)
    assert page_count(len(LABELS), begun) == 3
    assert read_symbols(page_image(LABELS, begun, 0)) == (LABELS[0].payload,)
    assert sorted(read_symbols(page_image(LABELS, begun, 1))) == sorted(text.payload for text in LABELS[1:13])


def test_the_ruler_is_100_mm_long() -> None:
    """The longest dark run of the page's foot is 100 mm at 600 dpi, to a dot and the end stroke."""
    foot = ~np.asarray(page_image(LABELS[:1], SheetSpec(), 0))[-600:]
    longest = max(max(map(len, "".join(map(str, row.astype(int))).split("0"))) for row in foot)
    assert longest == pytest.approx(100 / 25.4 * 600, abs=4)


def said(texts: Sequence[LabelText], sheet: SheetSpec) -> list[str]:
    """The messages about a sheet."""
    return [problem.message for problem in sheet_problems(texts, sheet)]


@pytest.mark.parametrize(
    ("sheet", "message"),
    [
        (replace(COARSE, start=13), "the first place is 13; a page has places 1 to 12"),
        (replace(COARSE, columns=0), "0 columns and 6 rows make no grid"),
        (replace(COARSE, columns=3), "the grid of 218 × 242 mm begins outside the page or overlaps itself"),
        (replace(COARSE, rows=7), "the grid ends at 177 × 295 mm; the page has room to 210 × 275 mm"),
        (
            replace(COARSE, gap_x_mm=-1),
            "the grid of 139 × 242 mm begins outside the page or overlaps itself",
        ),
    ],
)
def test_a_grid_that_cannot_be_is_refused(sheet: SheetSpec, message: str) -> None:
    """The message says what was met and how much room there is."""
    assert message in said(LABELS[:1], sheet)
    with pytest.raises(LabelError, match=re.escape(message)):
        sheet_pdf(LABELS[:1], sheet)


def test_no_labels_make_no_sheet() -> None:
    """An empty list is said, not printed as an empty page."""
    assert said([], COARSE) == ["there is no label to print"]


def test_the_labels_own_errors_come_before_anything_is_drawn() -> None:
    """A glyph that is missing on the last label stops the whole sheet and is named."""
    with pytest.raises(LabelError, match=r"U\+9262"):
        sheet_pdf([*LABELS[:2], label(TAGS[2], "鉢")], COARSE)


def test_bought_sheets_carry_no_furniture() -> None:
    """24 labels of 70 × 37 mm fill A4 without marks; a 3 × 8 sheet leaves half a millimetre at top and foot."""
    bought = SheetSpec(dpi=300, columns=3, rows=8, gap_x_mm=0, gap_y_mm=0, top_mm=0.5, furniture=False, notes=False)
    assert said(LABELS, bought) == []
    assert len(page_boxes(sheet_pdf(LABELS, bought))) == 1


def test_notes_run_on_to_further_pages() -> None:
    """Advice on very many resins is continued, never drawn over the ruler or off the page."""
    resins = tuple(f"R{number}" for number in range(40))
    pages = list(notes_pages(LABELS, COARSE, resins))
    assert len(pages) > 1
    foot = round(22 / 25.4 * 300)
    assert all(np.asarray(page)[-foot : -round(16 / 25.4 * 300)].all() for page in pages)


def test_advice_names_its_source() -> None:
    """Each row of the table says where it is from."""
    assert advice_for("PE-LLD").source == "recyclers' design guidelines for PE-HD and PP containers, 2021-2023"
    assert advice_for("PEEK") == advice_for("no resin")
    assert all(line.endswith(").") for line in (*advice_lines(["PP", "PS", "PVC-U", "X"]), *general_advice()))


def test_a_long_list_of_tags_is_shortened() -> None:
    """The first ones, the last one and their number."""
    assert tags_in_short(["A", "B"]) == "A, B"
    assert tags_in_short(["A", "B", "C", "D"], most=3) == "A, B … D (4 in all)"


def test_a_roll_has_a_page_a_label() -> None:
    """Each page is as large as the label: 70 × 37 mm are 198.425 × 104.882 pt."""
    pdf = roll_pdf(LABELS[:3], LabelSpec(dpi=203))
    assert page_boxes(pdf) == [pytest.approx((198.425, 104.882), abs=0.001)] * 3
    assert [(w, h) for w, h, _ in pictures(pdf)] == [(559, 296)] * 3


def test_pages_are_taken_one_at_a_time() -> None:
    """Pages may come from a generator: none is asked for before the one before it is packed."""
    pages = (Image.new("1", (80, 80), 1) for _ in range(3))
    assert len(page_boxes(pdf_of(pages, 203, 10, 10))) == 3


def test_advice_is_in_french_too() -> None:
    """Every row of the table has its words and its source in French, with the space before its marks."""
    lines = (*advice_lines(["PP", "PS", "PVC-U", "X"], "fr"), *general_advice("fr"))
    assert all(line.endswith(").") for line in lines)
    assert advice_for("PE-HD", "fr").plate == "une plaque découpée dans un PE du même symbole"
    english = {*advice_lines(["PP", "PS", "PVC-U", "X"]), *general_advice()}
    assert not english & set(lines)


def test_a_language_without_advice_gets_the_english() -> None:
    """What is lacking in a language is said in English, never left out."""
    assert general_advice("ga") == general_advice()
    assert advice_for("PP", "ga") == advice_for("PP")


def test_the_head_counts_in_whole_words() -> None:
    """One label on one page, several on one, several on several."""
    words = SheetWords()
    assert [_head(*counts, words) for counts in ((1, 1), (3, 1), (14, 2))] == [
        "1 label on 1 page",
        "3 labels on 1 page",
        "14 labels on 2 pages",
    ]
