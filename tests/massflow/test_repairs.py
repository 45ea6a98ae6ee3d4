"""A repair changes one thing, not its batch: composition belongs to the tag."""

from fractions import Fraction

import pytest
from shops_in_code import received, result, run, shop

from passport.massflow import outside_balance, settle, shop_balance


@pytest.fixture(scope="module")
def ledger():
    """Two benches of 8 kg frame (used) and 2 kg seat (virgin); one seat is replaced by a used one."""
    lots = {
        "A": received("20 kg"),
        "V": received("10 kg", "VIRGIN"),
        "OLD": result("REP", "2 kg", date="2026-08-01"),
        "BACK": {"date": "2026-09-01", "received": {"tags": [{"tag": "RY-1"}]}, "mass": "10 kg"},
    }
    bench = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "mass": "10 kg each",
        "parts": [
            {"part": "frame", "mass": "8 kg", "draws": [{"lot": "A", "mass": "16 kg"}]},
            {"part": "seat", "mass": "2 kg", "draws": [{"lot": "V", "mass": "4 kg"}]},
        ],
    }
    repair = run(
        {"lot": "A", "mass": "2 kg"},
        {"tag": "RY-1", "part": "seat", "mass": "2 kg"},
        operation="repair",
        date="2026-08-01",
    )
    return settle(shop(lots=lots, runs={"REP": repair}, items={"I": bench}, tags={"RY-1": "I", "RY-2": "I"}), {})


def test_the_repaired_thing_has_its_new_part_and_its_sister_has_not(ledger):
    """RY-1 is all used plastic now, RY-2 keeps its virgin fifth, the batch as made is unchanged."""
    assert ledger.tag_mixture("RY-1").recycled().value == 1
    assert ledger.tag_mixture("RY-2").recycled().value == Fraction(4, 5)
    assert ledger.mixtures["I"].recycled().value == Fraction(4, 5)
    assert ledger.tag_mixture("RY-9") is None


def test_the_old_part_comes_out_with_its_own_composition(ledger):
    """What the repair took out is the virgin seat, and the run closes."""
    assert ledger.mixtures["OLD"].recycled().value == 0
    assert ledger.closures["REP"].residual_kg == 0


def test_what_comes_back_after_a_repair_is_the_repaired_thing(ledger):
    """Handed back, RY-1 holds no virgin stream any more."""
    assert list(ledger.mixtures["BACK"].shares_by("stream")) == ["POST"]


def test_both_balances_count_the_part_put_in_and_the_part_taken_out(ledger):
    """2 kg more went out, 2 kg came back, nothing is unaccounted."""
    balance, outside = shop_balance(ledger), outside_balance(ledger)
    assert balance.things_out_kg == 22
    assert balance.came_back_kg == 12
    assert balance.unaccounted_kg == 0
    assert outside.things_out_kg == 22
