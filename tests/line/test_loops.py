"""Things of the demo that came round twice: thing → lot → thing → lot, against sums worked out on paper."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml
from conftest import ROOT

from passport.massflow import outside_balance, shop_balance
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out
from passport.verdicts.life import Stage

LOOPS: dict[str, dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "cases" / "loops.yaml").read_text(encoding="utf-8")
)
DIMENSIONS = ("origin", "stream", "lives")


@pytest.fixture(scope="module")
def book() -> Book:
    """The demo, worked out."""
    shop, problems = read_shop(ROOT / "content")
    assert shop is not None, problems
    return work_out(shop)


def on_paper(sums: list[object]) -> Fraction:
    """The value of lines such as "11.477 / 21.467 * 0.8", read from left to right and added up."""
    total = Fraction(0)
    for line in sums:
        first, *rest = str(line).split()
        value = Fraction(first)
        for sign, number in zip(rest[::2], rest[1::2], strict=True):
            value = value / Fraction(number) if sign == "/" else value * Fraction(number)
        total += value
    return total


def test_there_are_two_full_loops(book: Book) -> None:
    """Each ends as a lot that draws on a tag whose thing was partly made of a lot that drew on a tag."""
    assert len(LOOPS) >= 2
    for lot, wanted in LOOPS.items():
        last, first = wanted["from"]
        assert [came.tag for came in book.shop.lots[lot].received.tags] == [last]  # type: ignore[union-attr]
        assert [book.lives[tag].stage for tag in (last, first)] == [Stage.CAME_BACK, Stage.CAME_BACK]
        behind = book.ledger.upstream(lot)
        assert book.lives[first].lot in behind
        assert book.lives[first].item in behind


@pytest.mark.parametrize("lot", LOOPS)
@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_shares_after_two_rounds_are_those_on_paper(book: Book, lot: str, dimension: str) -> None:
    """Origin, streams and lives of what came back twice, exactly, and nothing else is in it."""
    wanted = {name: on_paper(sums) for name, sums in LOOPS[lot][dimension].items()}
    assert sum(wanted.values()) == 1
    found = book.ledger.mixtures[lot].shares_by(dimension)
    assert {name: share.value for name, share in found.items()} == wanted


def test_both_balances_still_add_up_to_the_gram(book: Book) -> None:
    """With all that came back, was mended and went round again: by hand from the records of content/.

    Came back: 11.7 + 0.710 + 2.2 + 0.239 kg handed in, 0.205 and 1.5 kg taken out by repairs. What the shop cannot
    place is what its weighings said before any of it came back; the repairs and returns add nothing to it.
    """
    shop, outside = shop_balance(book.ledger), outside_balance(book.ledger)
    returned = Fraction("11.7") + Fraction("0.710") + Fraction("2.2") + Fraction("0.239")
    assert shop.came_back_kg == returned + Fraction("0.205") + Fraction("1.5")
    went = shop.things_out_kg + shop.sent_kg + shop.losses_kg + shop.written_off_kg + shop.stock_kg
    came = shop.received_kg + shop.came_back_kg + shop.gains_kg + shop.adjusted_kg
    assert came - went == shop.unaccounted_kg
    open_ = [c.residual_kg or Fraction(0) for c in book.ledger.closures.values()]
    differences = sum((stock.difference_kg for stock in book.ledger.stock.values()), Fraction(0))
    assert shop.unaccounted_kg == sum(open_, Fraction(0)) + differences
    assert outside.things_out_kg == outside.not_ended_kg + outside.came_back_kg + outside.gone_kg


def test_repairs_close_and_leave_no_doubt(book: Book) -> None:
    """What the demo's repairs put in and took out balances, and no thing gave more than it weighed."""
    for run in ("RP-001", "RP-002"):
        assert book.ledger.closures[run].residual_kg == 0
    assert [p.message for p in book.ledger.doubts if p.code in ("tag-overdrawn", "back-heavier")] == []
