"""Tables of masses add up as printed, whatever stands in them."""

from decimal import Decimal
from fractions import Fraction

import pytest
from graphs import workshops
from hypothesis import given, settings
from hypothesis import strategies as st
from shops_in_code import shop

from passport.massflow import settle, shop_balance, shop_balances_by
from passport.massflow.rounding import account, two_way
from passport.massflow.tables import SHOP_SIGNS, outside_table, shop_table

fractions = st.fractions(min_value=-1000, max_value=1000, max_denominator=997)


def closed(row):
    """A row with a last cell that makes it add up to nothing."""
    return [*row, -sum(row, Fraction(0))]


@settings(deadline=None)
@given(st.integers(1, 6).flatmap(lambda n: st.lists(st.lists(fractions, min_size=n, max_size=n), min_size=1)))
def test_a_table_is_rounded_so_that_rows_and_columns_add_up(rows):
    """Each row closes, each column is the rounded total, and all but one row are within one unit of exact."""
    exact = [closed(row) for row in rows]
    total = account([sum(column, Fraction(0)) for column in zip(*exact, strict=True)], 1)
    printed = two_way(exact, total, 1)
    assert [sum(row) for row in printed] == [0] * len(rows)
    assert [sum(column) for column in zip(*printed, strict=True)] == total
    far = [
        r
        for r, row in enumerate(printed)
        if any(abs(p - e) >= Fraction(1, 10) for p, e in zip(map(Fraction, row), exact[r], strict=True))
    ]
    assert len(far) <= 1


def test_an_account_of_thirds_adds_up():
    """Three thirds of 1.0 kg at one place are 0.4, 0.3 and 0.3 (largest remainder)."""
    third = Fraction(1, 3)
    assert account([third, third, third, Fraction(-1)], 1) == [Decimal(x) for x in ("0.4", "0.3", "0.3", "-1.0")]
    with pytest.raises(ValueError, match=r"met terms that add up to 1\.0, wanted 0"):
        account([Fraction(1)], 1)


@settings(max_examples=40, deadline=None)
@given(workshops(), st.sampled_from(["origin", "stream", "resin"]), st.sampled_from([1, 3]))
def test_the_balances_of_any_shop_add_up_as_printed(made, dimension, places):
    """Down to the whole and along to nothing left over; every figure is within two units of the exact one."""
    lots, runs = made
    ledger = settle(shop(lots=lots, runs=runs), {"L-00": "PP"})
    for table in (shop_table(ledger, dimension, places), outside_table(ledger, dimension, places)):
        for i in range(len(table.terms)):
            assert sum((row[i] for row in table.rows.values()), Decimal(0)) == table.total[i]
    table = shop_table(ledger, dimension, places)
    signs = list(SHOP_SIGNS.values())
    for row in (*table.rows.values(), table.total):
        assert sum(sign * mass for sign, mass in zip(signs, row, strict=True)) == 0
    exact = {**shop_balances_by(ledger, dimension), "": shop_balance(ledger)}
    for name, row in (*table.rows.items(), ("", table.total)):
        for term, mass in zip(table.terms, row, strict=True):
            assert abs(Fraction(mass) - getattr(exact[name], term)) < Fraction(2, 10**places)
