"""Each figure on a resin's page names where it is from."""

from __future__ import annotations

from pathlib import Path

import pytest

from passport.material.resins import resins
from passport.material.tables import sources
from passport.pages.places import resin_view
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

DEMO = Path(__file__).resolve().parents[2] / "content"
THEME, _ = load_theme(["en", "fr"])


@pytest.fixture(scope="module")
def book() -> Book:
    """The example, worked out."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    return work_out(shop)


@pytest.mark.parametrize("lang", ["en", "fr"])
@pytest.mark.parametrize("symbol", list(resins()))
def test_every_figure_has_its_source(book: Book, symbol: str, lang: str) -> None:
    """Densities, melting ranges, windows, numbers and terms: a source each, in the language of the page."""
    view = resin_view(Scribe(book=book, words=THEME.words[lang], first="en"), symbol)
    rows = [*view.numbers, *view.know_it, *view.figures]
    measured = [row for row in rows if any(unit in row.value for unit in ("g/cm³", "°C"))]
    measured = [row for row in measured if row.value[0].isdigit()]
    assert measured
    known = {source.said(lang) for source in sources().values()}
    for row in [*view.numbers, *measured]:
        assert any(said.casefold() in row.note.casefold() for said in known), row


@pytest.mark.parametrize(("lang", "said"), [("en", "from memory, not confirmed"), ("fr", "de mémoire, non vérifié")])
def test_memory_says_that_it_is_memory(book: Book, lang: str, said: str) -> None:
    """A melting range that nobody looked up is said to be from memory."""
    view = resin_view(Scribe(book=book, words=THEME.words[lang], first="en"), "PA6")
    assert any(said in row.note for row in view.know_it)
