"""The code on the printed page of a lot."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from passport.pages.lot import lot_view
from passport.pages.render import Renderer
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.reading.folder import read_shop
from passport.tags.address import is_sample
from passport.verdicts.book import work_out

DEMO = Path(__file__).resolve().parents[2] / "content"
THEME, _ = load_theme(["en", "fr"])


def card(folder: Path, address: str) -> tuple[str, str, str] | None:
    """Payload, address in letters and the word across it, of the example's first lot under an address."""
    shutil.copytree(DEMO, folder / "content")
    workshop = folder / "content" / "workshop.yaml"
    line = f"address: {address}\n" if address else ""
    workshop.write_text(workshop.read_text("utf-8").replace("address: https://pass.reedmouth.example\n", line), "utf-8")
    shop, _ = read_shop(folder / "content")
    assert shop is not None
    book = work_out(shop)
    scribe = Scribe(book=book, words=THEME.words["en"], first="en")
    symbol = lot_view(scribe, book.shop.lots["IN-001"]).symbol
    return (symbol.payload, symbol.address, symbol.sample) if symbol else None


@pytest.mark.parametrize(
    ("address", "wanted"),
    [
        ("https://pass.reedmouth.ie", ("https://PASS.REEDMOUTH.IE/L/IN-001", "pass.reedmouth.ie/L/IN-001", "")),
        (
            "https://pass.reedmouth.example",
            ("https://PASS.REEDMOUTH.EXAMPLE/L/IN-001", "pass.reedmouth.example/L/IN-001", "SAMPLE"),
        ),
        ("", ("https://SAMPLE.INVALID/L/IN-001", "Reedmouth Yard", "SAMPLE")),
        ("ftp://nowhere", None),
    ],
)
def test_the_code_leads_to_the_lots_page_or_is_a_sample(
    tmp_path: Path, address: str, wanted: tuple[str, str, str] | None
) -> None:
    """The same rule as for labels: an address that is not public is a SAMPLE, one that cannot be is none."""
    assert card(tmp_path, address) == wanted
    if wanted:
        assert bool(wanted[2]) is is_sample(address)


def test_the_page_draws_it_once() -> None:
    """The symbol stands in the page itself, with words for those who cannot see it."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    scribe = Scribe(book=work_out(shop), words=THEME.words["fr"], first="en")
    page = Renderer(THEME).page(lot_view(scribe, shop.lots["IN-001"]))
    assert page.count('aria-label="Code qui mène à la page du lot IN-001"') == 1
    assert 'viewBox="0 0 37 37"' in page
