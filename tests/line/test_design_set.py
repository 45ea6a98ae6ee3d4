"""The example records of the format's description: all load, all close, and give what a hand computes.

The set is tests/cases/design; its numbers are those of the description, so a change of the format that would
break the description breaks this.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from passport.massflow import Verdict
from passport.problems import Level
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out
from passport.verdicts.life import Stage
from passport.verdicts.single_stream import Stream

CONTENT = Path(__file__).resolve().parents[1] / "cases" / "design" / "content"


@pytest.fixture(scope="module")
def book() -> Book:
    """The example, worked out."""
    shop, problems = read_shop(CONTENT)
    assert problems == ()
    assert shop is not None
    return work_out(shop)


def test_every_example_loads() -> None:
    """Not one problem, doubt or advice is found in reading the example records."""
    shop, problems = read_shop(CONTENT)
    assert problems == ()
    assert shop is not None
    assert (len(shop.lots), len(shop.runs), len(shop.items), len(shop.issued)) == (12, 2, 1, 2)


def test_every_run_closes(book: Book) -> None:
    """Each run of the example closes within twice its weighing uncertainty."""
    assert {name: closure.verdict for name, closure in book.ledger.closures.items()} == dict.fromkeys(
        ["BL-007", "EX-009", "PL-2026-05", "SH-021", "SO-014"], Verdict.CLOSED
    )


def test_the_residuals_are_those_that_subtraction_gives(book: Book) -> None:
    """What each run leaves open, by hand.

    SO-014: 62.4 - (55.2 + 4.1 + 2.6) - 0.4 sand = 0.1 kg. SH-021: 55.2 - 54.9 - 0.2 dust = 0.1 kg.
    BL-007: 51.6 + 8.0 - 59.5 = 0.1 kg. EX-009: 52.0 - (50.0 + 1.2 + 0.7) = 0.1 kg.
    PL-2026-05: 28 of 40 bars are 35.0 kg; 35.0 - 2 x 16.6 - 1.7 offcuts - 0.1 sawdust = 0.
    """
    assert {name: closure.residual_kg for name, closure in book.ledger.closures.items()} == {
        "SO-014": Fraction("0.1"),
        "SH-021": Fraction("0.1"),
        "BL-007": Fraction("0.1"),
        "EX-009": Fraction("0.1"),
        "PL-2026-05": 0,
    }


def test_working_out_finds_neither_error_nor_doubt(book: Book) -> None:
    """All that the whole line has to say about the example is advice."""
    assert {problem.level for problem in book.problems} <= {Level.ADVICE}
    assert [problem.code for problem in book.problems] == ["part-unknown", "melt-below-window"]


def test_the_planter_is_what_a_hand_computes(book: Book) -> None:
    """The planter's plastic by origin and by stream, on dry mass.

    Its bars are the blend BL-007 of 51.6 kg flakes with 0.5 % of water and 8.0 kg pellets with 0.1 %:

        flakes   51.6 x 0.995 = 51.342 kg dry, all post-consumer
        pellets   8.0 x 0.999 =  7.992 kg dry, 80 % post-consumer and 20 % virgin by its paper
        virgin    7.992 x 0.20 = 1.5984 kg
        all      51.342 + 7.992 = 59.334 kg
        post-consumer share = (59.334 - 1.5984) / 59.334 = 57.7356 / 59.334 = 0.97306...
    """
    planter = book.ledger.mixtures["PL-2026-05"]
    flakes, pellets = Fraction("51.342"), Fraction("7.992")
    whole = flakes + pellets
    assert planter.recycled().value == Fraction("57.7356") / Fraction("59.334")
    assert planter.post_consumer().value == planter.recycled().value
    assert {name: share.value for name, share in planter.shares_by("stream").items()} == {
        "HARBOUR-CRATES": flakes / whole,
        "BOUGHT-PELLETS": pellets / whole,
    }


def test_the_stated_figure_is_the_hand_computed_one_rounded_down(book: Book) -> None:
    """97.3 % with a weighing uncertainty of hundredths of a point is stated as at least 97 %.

    Of the whole thing: 33.2 kg of plastic and, for each of the two, 32 g of screws make 33.264 kg, so
    97.306 x 33.2 / 33.264 = 97.119 %, stated as at least 97 % (floor of X - 1.645 u, JCGM 106:2012, clause 8).
    """
    said = book.items["PL-2026-05"]
    assert said.recycled.value is not None
    assert {(s.kind, s.at_least_percent) for s in said.recycled.value} == {("recycled", 97), ("post-consumer", 97)}
    assert said.whole.value is not None
    assert [s.at_least_percent for s in said.whole.value] == [97]
    whole = Fraction("57.7356") / Fraction("59.334") * Fraction("33.2") / Fraction("33.264")
    assert [s.share.value for s in said.whole.value] == [whole]


def test_the_planter_is_one_stream_without_its_screws(book: Book) -> None:
    """All of its plastic is PE-HD; steel has to come off first."""
    stream = book.items["PL-2026-05"].stream.value
    assert stream is not None
    assert stream.answer is Stream.ONE_AFTER_REMOVAL
    assert stream.resins == ("PE-HD",)


def test_stock_is_what_subtraction_leaves(book: Book) -> None:
    """12 of 40 bars (15 kg) are left; IN-032 keeps 25.0 - 8.0 kg; what was emptied keeps nothing."""
    stock = book.ledger.stock
    assert stock["BAR-009"].books_kg == 15
    assert stock["IN-032"].books_kg == 17
    assert stock["HD-031"].emptied is not None
    assert stock["IN-031"].emptied is not None


def test_the_planter_that_came_back_is_a_lot(book: Book) -> None:
    """The second planter was handed over, came back as RT-001 and is post-consumer whole; the first stayed."""
    assert book.lives["RY-22224M"].stage is Stage.CAME_BACK
    assert book.lives["RY-22224M"].lot == "RT-001"
    assert book.lives["RY-22222Q"].stage is Stage.AT_WORKSHOP
    assert book.ledger.mixtures["RT-001"].post_consumer().value == 1
