"""Masses for a blend from the stock on hand."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passport.amounts import read_melt_flow
from passport.material.blending import Limits, StockLot, most_of, propose


def lot(name, day, available, flow="6", **fields):
    """A blue lot of PP, unless said otherwise."""
    measured = read_melt_flow(f"{flow} g/10 min at 230 °C/2.16 kg") if flow else None
    given_fields = {"symbol": "PP", "at_least": Fraction(97, 100), "colour": "blue"} | fields
    return StockLot(id=name, date=date(2026, 1, day), available_kg=Decimal(available), flow=measured, **given_fields)


STOCK = (
    lot("NEW", 20, "60"),
    lot("SUN", 3, "40", flow="22", heavy_share=Fraction(1), at_least=Fraction(90, 100)),
    lot("OLD", 10, "25", flow="8"),
)


def test_the_oldest_lot_goes_first():
    """Without other limits the blend uses up what has lain longest."""
    found = propose(STOCK, Decimal(50), Limits(resin="PP"))
    assert found.masses_kg == (("SUN", Decimal("40.0")), ("OLD", Decimal("10.0")))


def test_how_much_of_the_sun_worn_lot_can_go_in():
    """30 % weathered at most of 50 kg: 15 kg of it, the rest oldest first (own case, by hand)."""
    found = most_of("SUN", STOCK, Decimal(50), Limits(resin="PP", most_heavy=Fraction(3, 10)))
    assert found.masses_kg == (("SUN", Decimal("15.0")), ("OLD", Decimal("25.0")), ("NEW", Decimal("10.0")))
    assert found.heavy_share == Fraction(3, 10)


def test_the_flow_limit_is_the_logarithmic_rule():
    """Two lots of 22 and 6 with at most 11.489 g/10 min: half and half, ln being linear (own case)."""
    stock = (lot("A", 1, "100", flow="22"), lot("B", 2, "100", flow="6"))
    found = propose(stock, Decimal(100), Limits(resin="PP", highest_flow=Decimal("11.490")))
    assert found.masses_kg == (("A", Decimal("50.0")), ("B", Decimal("50.0")))
    assert found.flow.g_per_10_min == pytest.approx((22 * 6) ** 0.5)


def test_resin_colour_and_flow_leave_lots_out_with_the_reason():
    """What cannot go in is named, as advice."""
    stock = (
        *STOCK,
        lot("HD", 1, "9", symbol="PE-HD"),
        lot("RED", 1, "9", colour="red"),
        lot("RAW", 1, "9", flow=None),
    )
    limits = Limits(resin="PP", colours=frozenset({"blue"}), highest_flow=Decimal(30))
    found = propose(stock, Decimal(10), limits)
    assert [p.message for p in found.problems if p.code == "blend-left-out"] == [
        "met lot HD of PE-HD, wanted PP",
        "met lot RAW without a melt flow, wanted one because the blend's flow is limited",
        "met lot RED in red, wanted blue",
    ]


def test_an_infeasible_wish_names_the_limit_and_the_nearest():
    """The one limit whose fall would free it is named, with what comes nearest."""
    found = propose(STOCK, Decimal(110), Limits(resin="PP", most_heavy=Fraction(1, 10)))
    assert not found.feasible
    problem = found.problems[0]
    assert problem.message == ("met no masses that keep to the weathered share, wanted 110 kg within all limits")
    assert dict(found.nearest)["SUN"] == Decimal("25.0")
    assert problem.hint.startswith("nearest: 25.0 kg SUN, 25.0 kg OLD, 60.0 kg NEW;")


@pytest.mark.parametrize(
    ("wanted", "message"),
    [
        ("500", "met 125.0 kg of PP that could go in, wanted 500 kg"),
        ("0", "met a wanted mass of 0 kg, wanted whole steps of 0.1 kg"),
        ("10.05", "met a wanted mass of 10.05 kg, wanted whole steps of 0.1 kg"),
    ],
)
def test_a_mass_that_cannot_be_is_refused(wanted, message):
    """More than there is, nothing, and less than the scale shows."""
    assert propose(STOCK, Decimal(wanted), Limits(resin="PP")).problems[0].message == message


def test_two_test_conditions_are_refused_where_flow_is_limited():
    """230/2.16 and 190/2.16 are not comparable (ISO 1133)."""
    other = StockLot(
        id="X",
        symbol="PP",
        date=date(2026, 1, 1),
        available_kg=Decimal(9),
        flow=read_melt_flow("3 g/10 min at 190 °C/2.16 kg"),
    )
    found = propose((*STOCK, other), Decimal(10), Limits(resin="PP", lowest_flow=Decimal(1)))
    assert found.problems[0].message == "met melt flows at 190/2.16 and 230/2.16, wanted one test condition"


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 600), st.integers(0, 10), st.integers(80, 100), st.integers(1, 28)),
        min_size=1,
        max_size=6,
    ),
    st.integers(1, 1500),
    st.integers(0, 10),
    st.integers(80, 100),
)
def test_a_proposal_keeps_to_every_limit(stock, wanted, most_heavy, purest):
    """Masses are whole steps that sum to the wanted mass, within stock, weathered share and purity."""
    lots = [
        lot(
            f"L{i}",
            day,
            str(Decimal(tenths) / 10),
            heavy_share=Fraction(heavy, 10),
            at_least=Fraction(pure, 100),
        )
        for i, (tenths, heavy, pure, day) in enumerate(stock)
    ]
    limits = Limits(resin="PP", most_heavy=Fraction(most_heavy, 10), purest=Fraction(purest, 100))
    found = propose(lots, Decimal(wanted) / 10, limits)
    if not found.feasible:
        assert found.problems
        return
    masses = dict(found.masses_kg)
    assert sum(masses.values()) == Decimal(wanted) / 10
    assert all(0 < mass <= next(x for x in lots if x.id == name).available_kg for name, mass in masses.items())
    assert all(mass % limits.step_kg == 0 for mass in masses.values())
    assert found.heavy_share <= limits.most_heavy + Fraction(1, 10**8)
    assert found.at_least >= limits.purest - Fraction(1, 10**8)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 9), st.integers(0, 10), st.integers(80, 100)), min_size=1, max_size=3),
    st.integers(1, 18),
    st.integers(0, 10),
    st.integers(80, 100),
)
def test_a_proposal_is_found_whenever_there_is_one(stock, wanted, most_heavy, purest):
    """Against trying every combination of steps: feasible exactly where one of them is."""
    lots = [
        lot(f"L{i}", 1, str(Decimal(n) / 10), heavy_share=Fraction(h, 10), at_least=Fraction(p, 100))
        for i, (n, h, p) in enumerate(stock)
    ]
    limits = Limits(resin="PP", most_heavy=Fraction(most_heavy, 10), purest=Fraction(purest, 100))
    tried = [steps for steps in product(*(range(n + 1) for n, _, _ in stock)) if sum(steps) == wanted]
    exists = any(
        sum(n * h for n, (_, h, _) in zip(steps, stock, strict=True)) <= wanted * most_heavy
        and sum(n * p for n, (_, _, p) in zip(steps, stock, strict=True)) >= wanted * purest
        for steps in tried
    )
    assert propose(lots, Decimal(wanted) / 10, limits).feasible == exists
