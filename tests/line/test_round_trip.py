"""A thing of the demo comes back: record, figures and pages, against sums done by hand from the weighings.

A bird box is 720 g of body, pressed from a blend of 10.0 kg of chairs (0.1 % water) and 20.0 kg of tubs (0.3 %
water), and 210 g of roof, pressed from crates alone.
"""

from __future__ import annotations

import csv
import shutil
from datetime import timedelta
from fractions import Fraction
from pathlib import Path

import pytest
import yard
from returning import book, shares

from passport.massflow.balances import outside_balance, shop_balance
from passport.verdicts.life import Stage

ROOT = Path(__file__).resolve().parents[2]
BATCH = "BB-2025-03"
CHAIRS, TUBS = Fraction("10.0") * (1 - Fraction("0.001")), Fraction("20.0") * (1 - Fraction("0.003"))
BODY, ROOF = Fraction(720, 930), Fraction(210, 930)


class Trip:
    """The demo before and after a bird box came back."""

    def __init__(self, folder: Path) -> None:
        """Copy the demo, hand a box over where nobody has it, take it back with 12 g of soil, publish."""
        shutil.copytree(ROOT / "content", folder / "content")
        self.folder = folder
        self.before = book(folder)
        self.tag = next(t for t, life in self.before.lives.items() if life.item == BATCH and life.open)
        day = self.before.today
        if self.before.lives[self.tag].stage is Stage.AT_WORKSHOP:
            yard.done("event", "handed-over", self.tag, "--on", day.isoformat(), "--folder", folder)
        on = ("--on", (day + timedelta(days=30)).isoformat())
        order = ("--mass", "942 g", "--scale", "bench", "--because", "soil in the joints", "--condition", "sound")
        self.said = yard.done("handback", self.tag, *on, *order, "--yes", "--folder", folder)
        self.lot = self.said.split()[-1]
        yard.done("publish", "--folder", folder)
        self.after = book(folder)

    def page(self, path: str) -> str:
        """A page of the site."""
        return (self.folder / "site" / path / "index.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def trip(tmp_path_factory: pytest.TempPathFactory) -> Trip:
    """One round trip for all tests here."""
    return Trip(tmp_path_factory.mktemp("trip"))


def test_the_lot_has_the_shares_of_the_thing(trip: Trip) -> None:
    """By stream and by resin, all of it post-consumer."""
    blend = CHAIRS + TUBS
    assert shares(trip.folder, trip.lot, "stream") == {
        "PARK-CHAIRS": BODY * CHAIRS / blend,
        "CAFE-TUBS": BODY * TUBS / blend,
        "QUAY-CRATES": ROOF,
    }
    assert shares(trip.folder, trip.lot, "resin") == {"PP": BODY, "PE-HD": ROOF}
    assert shares(trip.folder, trip.lot, "origin") == {"post-consumer": 1}
    assert trip.after.ledger.left_as[trip.lot].value == Fraction(930, 1000)


def test_both_balances_still_add_up_to_the_gram(trip: Trip) -> None:
    """942 g more came back and stand in the stock; outside, 930 g less are in use; nothing else moved."""
    shop, was = shop_balance(trip.after.ledger), shop_balance(trip.before.ledger)
    assert shop.came_back_kg - was.came_back_kg == Fraction(942, 1000)
    assert shop.stock_kg - was.stock_kg == Fraction(942, 1000)
    assert shop.unaccounted_kg == was.unaccounted_kg
    now, then = outside_balance(trip.after.ledger), outside_balance(trip.before.ledger)
    assert now.came_back_kg - then.came_back_kg == Fraction(930, 1000)
    assert now.things_out_kg == now.not_ended_kg + now.came_back_kg + now.gone_kg


def test_the_pages_say_what_became_of_it(trip: Trip) -> None:
    """The thing's page leads to the lot, the lot's page to its tag; the label is gone, the log and the feed know."""
    tag, lot = trip.page(f"T/{trip.tag}"), trip.page(f"L/{trip.lot}")
    assert "was handed back and is material again" in tag
    assert f"/L/{trip.lot}/" in tag
    kept = f'<span class="id">{trip.tag}</span>'
    assert f'<a href="../../T/{trip.tag}/index.html">Received from owners: {kept}</a>' in lot
    assert "<small>12\N{NO-BREAK SPACE}g more came back: soil, water or another scale</small>" in lot
    assert not (trip.folder / "site/T" / trip.tag / "label.png").exists()
    assert trip.lot in (trip.folder / "site/feed.atom").read_text(encoding="utf-8")


def test_the_tables_for_download_hold_it(trip: Trip) -> None:
    """The lot's row says how much came back."""
    rows = csv.DictReader((trip.folder / "site/data/lots.csv").read_text(encoding="utf-8-sig").splitlines())
    (row,) = (row for row in rows if row["lot"] == trip.lot)
    assert Fraction(row["mass_kg"]) == Fraction("0.942")
