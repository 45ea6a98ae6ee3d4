"""Masses that close every balance, and the weighing that is named only where it can be known."""

import pytest
from shops_in_code import drawing, received, result, run, shop

from passport.massflow import settle
from passport.massflow.reconcile import Flow, in_words, limit_for, reconcile, reconcile_shop

SIX = (101.91, 64.45, 34.65, 64.20, 36.44, 98.88)
BALANCES = ({"1": 1, "2": -1, "3": -1}, {"2": 1, "4": -1}, {"3": 1, "5": -1}, {"4": 1, "5": 1, "6": -1})


def six_flows():
    """The textbook stream that is split around a bypass and joined again."""
    return [Flow(key=str(i), mass_kg=mass, u_kg=1.0) for i, mass in enumerate(SIX, start=1)]


def test_six_flows_close_as_the_textbook_has_them():
    """MB-08: 100.22, 64.50, 35.72, 64.50, 35.72, 100.22 (textbook example, from memory, recomputed exactly)."""
    found = reconcile(six_flows(), BALANCES)
    assert [found.masses_kg[str(i)] for i in range(1, 7)] == pytest.approx(
        [100.22, 64.50, 35.72, 64.50, 35.72, 100.22], abs=0.005
    )


def test_the_adjustments_of_the_six_flows_are_standardised():
    """MB-08 with unit variances: 2.07, 0.06, 1.31, 0.37, 0.88, 1.64; none passes the limit for six."""
    found = reconcile(six_flows(), BALANCES)
    assert [found.standardised[str(i)] for i in range(1, 7)] == pytest.approx(
        [2.07, 0.06, 1.31, 0.37, 0.88, 1.64], abs=0.005
    )
    assert found.suspects == ()


def test_the_limit_for_one_weighing_is_that_of_the_normal_distribution():
    """1.96 for one, more for several (two-sided 95 %, JCGM 100:2008, table G.1)."""
    assert limit_for(1) == pytest.approx(1.96, abs=0.005)
    assert limit_for(6) > limit_for(2) > limit_for(1)


def test_in_a_single_balance_all_are_equally_suspect():
    """One run that does not close cannot say which of its weighings is wrong."""
    lots = {"A": received("60 kg"), "X": result("S", "40 kg"), "Y": result("S", "15 kg")}
    (found,) = reconcile_shop(settle(shop(lots=lots, runs={"S": run(("A", "60 kg"))}), {}))
    assert found.suspects == ("draw:S:0", "lot:X", "lot:Y")
    assert found.named == ""
    assert in_words(found) == (
        "one of these was probably mis-weighed, and the weighings cannot tell which: draw 1 of S, X, Y"
    )


def test_a_planted_slip_is_named_where_two_balances_check_it():
    """A lot weighed 21.5 kg instead of 12.5 kg, made by one run and emptied by another: it is named."""
    lots = {
        "A": received("12.7 kg"),
        "SH-021": drawing("21.5 kg", {"lot": "A", "mass": "12.6 kg", "empties": "yes"}, operation="shred"),
        "B": drawing("12.4 kg", {"lot": "SH-021", "mass": "12.5 kg", "empties": "yes"}, date="2026-05-01"),
    }
    (found,) = reconcile_shop(settle(shop(lots=lots), {}))
    assert found.named == "lot:SH-021"
    assert in_words(found) == "SH-021 was probably mis-weighed: 12.5 kg would fit"


def test_a_shop_that_closes_names_nobody():
    """Where everything closes there is no advice."""
    lots = {"A": received("60 kg"), "B": drawing("59.9 kg", {"lot": "A", "mass": "60 kg", "empties": "yes"})}
    (found,) = reconcile_shop(settle(shop(lots=lots), {}))
    assert in_words(found) == ""
