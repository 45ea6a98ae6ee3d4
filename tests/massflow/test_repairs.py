"""A repair changes one thing, not its batch: composition belongs to the tag."""

import dataclasses
from datetime import date
from fractions import Fraction

import pytest
from shops_in_code import received, result, run, shop

from passport.massflow import outside_balance, settle, shop_balance
from passport.massflow.balances import outside_balances_by
from passport.problems import NOWHERE
from passport.reading.tag_lists import IssuedTag


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


def mended_box(*events, back=True, moisture="10 %"):
    """The books of two boxes (800 g used body, 200 g virgin lid); RY-1 gets a lid of 220 g of a wet used lot."""
    lots = {
        "A": received("20 kg", moisture=moisture),
        "V": received("10 kg", "VIRGIN"),
        "OLD": result("REP", "190 g", date="2026-08-01"),
    }
    if back:
        lots["BACK"] = {"date": "2026-09-01", "received": {"tags": [{"tag": "RY-1"}]}, "mass": "1 kg"}
    box = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "parts": [
            {"part": "body", "mass": "800 g", "draws": [{"lot": "A", "mass": "1600 g"}]},
            {"part": "lid", "mass": "200 g", "draws": [{"lot": "V", "mass": "400 g"}]},
        ],
    }
    repair = run(
        {"lot": "A", "mass": "220 g"},
        {"tag": "RY-1", "part": "lid", "mass": "190 g"},
        operation="repair",
        date="2026-08-01",
    )
    tags = {"RY-1": "I", "RY-2": "I"}
    return settle(shop(lots=lots, runs={"REP": repair}, items={"I": box}, tags=tags, events=events), {})


OUT = {"date": "2026-06-01", "tag": "RY-1", "event": "handed-over", "place": "allotments"}


def test_nothing_is_left_outside_of_a_repaired_thing_that_came_back():
    """Out 2000 + 220 g; back the old lid as it went out (200 g) and the thing as it is now (1020 g); RY-2 is here."""
    ledger = mended_box(OUT)
    outside = outside_balance(ledger)
    assert [outside.things_out_kg * 1000, outside.came_back_kg * 1000] == [2220, 1220]
    assert [outside.at_the_shop_kg * 1000, outside.in_use_kg] == [1000, 0]
    for dimension in ("origin", "stream"):
        by_class = outside_balances_by(ledger, dimension)
        assert {name: balance.in_use_kg for name, balance in by_class.items()} == dict.fromkeys(by_class, 0)


def test_a_thing_mended_before_it_leaves_is_at_the_shop_whole():
    """Nothing was handed over: both boxes stand here, one of them 20 g heavier than it was made."""
    outside = outside_balance(mended_box(back=False))
    assert [outside.at_the_shop_kg * 1000, outside.in_use_kg, outside.gone_kg] == [2020, 0, 0]


def test_a_repaired_thing_that_is_lost_is_gone_as_it_is_now():
    """1020 g, as weighed with the water in its new lid."""
    lost = {"date": "2026-09-01", "tag": "RY-1", "event": "lost"}
    outside = outside_balance(mended_box(OUT, lost, back=False))
    assert [outside.gone_kg * 1000, outside.in_use_kg] == [1020, 0]


def test_a_repair_stays_with_the_thing_when_its_number_is_replaced():
    """Mended as RY-1, handed back as RY-3: no virgin plastic comes back."""
    lots = {
        "A": received("20 kg"),
        "V": received("10 kg", "VIRGIN"),
        "OLD": result("REP", "2 kg", date="2026-08-01"),
        "BACK": {"date": "2026-09-01", "received": {"tags": [{"tag": "RY-3"}]}, "mass": "10 kg"},
    }
    bench = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "parts": [
            {"part": "frame", "mass": "8 kg", "draws": [{"lot": "A", "mass": "8 kg"}]},
            {"part": "seat", "mass": "2 kg", "draws": [{"lot": "V", "mass": "2 kg"}]},
        ],
    }
    draws = ({"lot": "A", "mass": "2 kg"}, {"tag": "RY-1", "part": "seat", "mass": "2 kg"})
    built = shop(
        lots=lots,
        runs={"REP": run(*draws, operation="repair", date="2026-08-01")},
        items={"I": bench},
        events=[{"date": "2026-08-15", "tag": "RY-1", "event": "replaced", "by": "RY-3"}],
    )
    numbers = tuple(
        IssuedTag(tag=tag, item="I", piece=1, issued=date(2026, 5, 20), seal="0" * 8, place=NOWHERE)
        for tag in ("RY-1", "RY-3")
    )
    ledger = settle(dataclasses.replace(built, issued=numbers), {})
    assert list(ledger.mixtures["BACK"].shares_by("stream")) == ["POST"]
    assert ledger.tag_mixture("RY-3").recycled().value == 1
    assert outside_balance(ledger).not_ended_kg == 0


def test_what_is_cut_up_here_is_not_in_use():
    """A thing that never left and was shredded: 1 kg came back, nothing of it is at the shop or outside."""
    lots = {
        "A": received("20 kg"),
        "CUT": {
            "date": "2026-08-01",
            "operation": "shred",
            "draws": [{"tag": "RY-1", "mass": "1 kg"}],
            "mass": "1 kg",
        },
    }
    pot = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "mass": "1 kg each",
        "draws": [{"lot": "A", "mass": "2 kg"}],
    }
    outside = outside_balance(settle(shop(lots=lots, items={"I": pot}, tags={"RY-1": "I", "RY-2": "I"}), {}))
    assert [outside.came_back_kg, outside.at_the_shop_kg, outside.in_use_kg] == [1, 1, 0]
