"""Paper for the gate: true size, each symbol read back, the same bytes each time, in two languages."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from conftest import missing
from PIL import Image

from passport.pages.theme import load_theme
from passport.tags.faces import LabelError
from passport.tags.intake import CARD_MM, COLUMNS, SHEET_ROWS, SUN, BlankCard, card_image, cards_pdf, intake_pdf
from passport.tags.readback import read_symbols

POINT_MM = 25.4 / 72
"""A point of PDF is 1/72 inch (ISO 32000-1, 8.3.2.3)."""
LOTS = [f"IN-{n:03}" for n in range(41, 51)]
CARDS = [BlankCard(lot=lot, payload=f"https://PASS.REEDMOUTH-YARD.IE/L/{lot}") for lot in LOTS]


def words(lang: str) -> dict[str, str]:
    """The words of a language, as the command hands them over."""
    said = load_theme(["en", "fr"])[0].words[lang]
    fields = {name: said(f"intake.{name}") for name in (*COLUMNS, *SUN)}
    lead = said("intake.lead", command="passport receive IN-041")
    return fields | {"title": said("intake.title", name="Reedmouth Yard"), "lead": lead}


def boxes_mm(pdf: bytes) -> list[tuple[int, int]]:
    """Width and height of each page, in whole millimetres."""
    found = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    return [(round(float(w) * POINT_MM), round(float(h) * POINT_MM)) for w, h in found]


@pytest.mark.parametrize("lang", ["en", "fr"])
def test_pages_are_a4(lang: str) -> None:
    """Ten cards are two pages of A4, upright; their sheet is one, lying (ISO 216: 210 × 297 mm)."""
    assert boxes_mm(cards_pdf(CARDS, words(lang))) == [(210, 297), (210, 297)]
    assert boxes_mm(intake_pdf(LOTS, words(lang))) == [(297, 210)]


def test_the_same_numbers_give_the_same_bytes() -> None:
    """Nothing in the files depends on the clock."""
    assert cards_pdf(CARDS[:1], words("en")) == cards_pdf(CARDS[:1], words("en"))
    assert intake_pdf(LOTS, words("en")) == intake_pdf(LOTS, words("en"))


def test_printed_cards_lead_to_their_lots(tmp_path: Path) -> None:
    """Each card of the drawn pages reads back as its own lot's address (pdftoppm and zxing-cpp)."""
    if not shutil.which("pdftoppm"):
        missing("there is no pdftoppm on this machine")
    (tmp_path / "cards.pdf").write_bytes(cards_pdf(CARDS, words("en")))
    subprocess.run(["pdftoppm", "-r", "200", "-png", tmp_path / "cards.pdf", tmp_path / "page"], check=True)
    found = [text for page in tmp_path.glob("page*.png") for text in read_symbols(Image.open(page))]
    assert sorted(found) == [card.payload for card in CARDS]


@pytest.mark.parametrize("lang", ["en", "fr"])
@pytest.mark.parametrize("sample", [False, True])
def test_nothing_of_a_card_is_cut_off(lang: str, sample: bool) -> None:  # noqa: FBT001
    """There is a white rim of a millimetre on all sides, also of a sample, so that scissors take no ink."""
    card = card_image(BlankCard(lot="IN-041", payload=CARDS[0].payload, sample=sample), words(lang))
    rim = round(1 / CARD_MM[0] * card.width)
    ink = card.point(lambda dot: 0 if dot else 255).getbbox()
    assert ink is not None
    assert min(ink[0], ink[1], card.width - ink[2], card.height - ink[3]) >= rim


def test_a_sample_is_marked() -> None:
    """Before the workshop has an address a card differs: it says SAMPLE, and its number can still be read."""
    plain, sample = (
        card_image(BlankCard(lot="IN-041", payload=CARDS[0].payload, sample=s), words("en")) for s in (0, 1)
    )
    top = (0, 0, plain.width, plain.height // 2)
    assert plain.crop(top).tobytes() == sample.crop(top).tobytes()
    assert plain.tobytes() != sample.tobytes()


def test_more_sacks_than_rows_take_another_page() -> None:
    """A sheet has as many rows as leave room for the ruler; the next sack begins a new page."""
    many = [f"IN-{n:03}" for n in range(SHEET_ROWS + 1)]
    assert len(boxes_mm(intake_pdf(many, words("en")))) == 2
    assert len(boxes_mm(intake_pdf([], words("en")))) == 1


def test_a_number_too_long_for_its_card_is_an_error() -> None:
    """It is said before a byte is written."""
    with pytest.raises(LabelError) as refused:
        cards_pdf([BlankCard(lot="I" * 40, payload=CARDS[0].payload)], words("en"))
    assert refused.value.problems[0].message == f'the number "{"I" * 40}" does not fit a card of 98 × 64 mm'
