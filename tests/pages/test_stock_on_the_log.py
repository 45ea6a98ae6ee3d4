"""The stock on the log page: the heaviest lots first, the rest in one row, nothing lost in between."""

from __future__ import annotations

from fractions import Fraction

import pytest
from conftest import ROOT

from passport.office.stages import themed
from passport.pages.plan import scribes
from passport.pages.remainders import MOST, stock_table
from passport.pages.scribe import Scribe
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out
from passport.verdicts.in_stock import in_stock


@pytest.fixture(scope="module")
def in_languages() -> list[Scribe]:
    """The demo yard in both its languages."""
    shop, _ = read_shop(ROOT / "content")
    assert shop is not None
    return scribes(work_out(shop), themed(ROOT, shop)[0], {})


def test_the_heaviest_come_first(in_languages: list[Scribe]) -> None:
    """Rows fall in mass; the last one says how many others there are, so that all lots are counted."""
    table = stock_table(in_languages[0])
    assert table is not None
    masses = [Fraction(row[2].text) for row in table.rows[:MOST]]
    assert masses == sorted(masses, reverse=True)
    assert table.rows[MOST][0].text == f"and {len(in_stock(in_languages[0].book)) - MOST} more lots"


def test_the_table_agrees_with_the_balance(in_languages: list[Scribe]) -> None:
    """All rows together are the stock of the shop's balance, within the rounding of each row (half of 0.1 kg)."""
    table = stock_table(in_languages[0])
    assert table is not None
    shown = sum(Fraction(row[2].text) for row in table.rows)
    exact = sum((row.left_kg or Fraction(0) for row in in_stock(in_languages[0].book)), Fraction(0))
    assert abs(shown - exact) <= Fraction(len(table.rows), 20)


def test_both_languages_have_the_same_rows(in_languages: list[Scribe]) -> None:
    """The French table has the same lots, in French words."""
    english, french = (stock_table(scribe) for scribe in in_languages)
    assert english is not None
    assert french is not None
    assert [row[0].text for row in english.rows[:MOST]] == [row[0].text for row in french.rows[:MOST]]
    assert french.title == "En stock"
    assert {row[5].text for row in french.rows[:MOST]} <= {"libre", "Retenu", "Refusé"}
