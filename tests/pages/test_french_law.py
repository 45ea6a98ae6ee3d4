"""The words that French law prescribes for recycled content, and what their figure is a share of."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from passport.massflow import of_item, stated_percent
from passport.massflow.recycled import MOST_IN_DOUBT
from passport.pages.scribe import Scribe
from passport.pages.tag import recycled_sentence
from passport.pages.theme import load_theme
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

DEMO = Path(__file__).resolve().parents[2] / "content"
THEME, _ = load_theme(["en", "fr"])
PRESCRIBED = re.compile(r"^Produit comportant au moins (\d+)\u202f% de matières recyclées")
"""Environment code, L541-9-1, and decree 2022-748 (confirmed): the words, with a share of the product by mass."""


@pytest.fixture(scope="module")
def book() -> Book:
    """The example, worked out."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    return work_out(shop)


def sentence(book: Book, item: str, lang: str = "fr") -> str:
    """What the pages of a batch state."""
    scribe = Scribe(book=book, words=THEME.words[lang], first="en")
    return recycled_sentence(scribe, item, book.items[item])


def test_the_words_are_those_of_the_law_and_the_figure_is_of_the_whole_product(book: Book) -> None:
    """The number is the floor of the share of the whole thing with its hardware, not of its plastic alone."""
    said = 0
    for item in book.shop.items:
        found = PRESCRIBED.match(sentence(book, item))
        if found is None:
            continue
        share = of_item(book.ledger, item)
        assert share is not None
        assert int(found[1]) in {stated_percent(share), min(stated_percent(share) or 0, MOST_IN_DOUBT)}
        said += 1
    assert said > 10


def test_a_bench_with_a_steel_frame_is_not_said_to_be_98_percent_recycled(book: Book) -> None:
    """Its plastic is 98 % recycled, but two fifths of its mass are steel: the sentence of the law says 59 %."""
    said = sentence(book, "BE-2026-08")
    assert said.startswith(
        "Produit comportant au moins 59\u202f% de matières recyclées (part de l’objet entier, en masse). "
    )
    assert "Au moins 98\u202f% de matières recyclées (part du plastique, en masse)" in said


def test_the_prescribed_words_are_never_rounded_away(book: Book) -> None:
    """The law knows "at least" alone: it stays even where all of the plastic is recycled by record."""
    for item in book.shop.items:
        said = sentence(book, item)
        assert "Produit comportant" not in said or PRESCRIBED.match(said)


def test_nothing_is_stated_where_nothing_may_be(book: Book) -> None:
    """Where figures are withheld or nothing is recycled the prescribed words do not appear."""
    silent = [item for item, verdicts in book.items.items() if not verdicts.whole.value]
    for item in silent:
        assert "Produit comportant" not in sentence(book, item)


def test_the_method_page_says_whose_words_they_are() -> None:
    """Article, decree, denominator and whom the duty binds, in both languages."""
    for lang in ("en", "fr"):
        text = THEME.words[lang]("how.recycled-content.text")
        assert "L541-9-1" in text
        assert "2022-748" in text
