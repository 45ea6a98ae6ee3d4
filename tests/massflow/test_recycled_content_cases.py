"""Worked examples of recycled content, each with its source and how far it was confirmed."""

import math
from fractions import Fraction

import pytest
from shops_in_code import drawing, received, result, run, shop

from passport.massflow import Share, of_item, of_plastic, settle, stated_percent
from passport.massflow.recycled import DENOMINATORS, recycled_share


def lot_of(lots, name="B", **more):
    """The mixture of one lot in a shop of those lots."""
    return settle(shop(lots=lots, **more), {}).mixtures[name]


def test_post_and_pre_consumer_shares_add_up():
    """RC-01: 30 % post- and 20 % pre-consumer are 50 % recycled.

    16 CFR 260.7(e) Example 3 (1998 text), confirmed.
    """
    mix = lot_of(
        {
            "A": received("30 kg"),
            "P": received("20 kg", "PRE"),
            "V": received("50 kg", "VIRGIN"),
            "B": drawing("100 kg", ("A", "30 kg"), ("P", "20 kg"), ("V", "50 kg")),
        }
    )
    assert mix.recycled().value == Fraction(50, 100)
    assert mix.post_consumer().value == Fraction(30, 100)


def test_a_thing_of_two_parts_has_the_mass_weighted_share():
    """RC-02: two parts of equal mass with 20 % and 40 % are 30 %.

    16 CFR 260.7(e) Example 8 (1998 text), confirmed.
    """
    streams = {
        "TWENTY": {"post-consumer": "20 %", "virgin": "80 %"},
        "FORTY": {"post-consumer": "40 %", "virgin": "60 %"},
    }
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "parts": [
            {"part": "box", "mass": "1 kg", "draws": [{"lot": "A", "mass": "1 kg"}]},
            {"part": "tray", "mass": "1 kg", "draws": [{"lot": "C", "mass": "1 kg"}]},
        ],
    }
    lots = {"A": received("1 kg", "TWENTY"), "C": received("1 kg", "FORTY")}
    ledger = settle(shop(lots=lots, streams=streams, items={"I": item}), {})
    assert ledger.mixtures["I"].recycled().value == Fraction(30, 100)
    assert ledger.part_mixtures["I", "box"].recycled().value == Fraction(20, 100)


def test_bought_scrap_counts_as_pre_consumer():
    """RC-06: 25 kg of another maker's scrap, 45 kg post-consumer, 30 kg virgin: 70 %, of which 25 and 45.

    Constructed on the rule of 16 CFR 260.7(e) Example 2 (1998 text).
    """
    mix = lot_of(
        {
            "A": received("45 kg"),
            "P": received("25 kg", "PRE"),
            "V": received("30 kg", "VIRGIN"),
            "B": drawing("100 kg", ("A", "45 kg"), ("P", "25 kg"), ("V", "30 kg")),
        }
    )
    assert {k: s.value for k, s in mix.shares_by("origin").items()} == {
        "post-consumer": Fraction(45, 100),
        "virgin": Fraction(30, 100),
        "pre-consumer": Fraction(25, 100),
    }
    assert mix.recycled().value == Fraction(70, 100)


@pytest.mark.parametrize("percent", [0, 10, 25, 50, 75, 90])
def test_own_regrind_never_raises_the_share(percent):
    """RC-08 and MB-05: a recipe of 60 % post-consumer with own regrind stays at 60 %, whatever the ratio.

    Constructed on the exclusion of rework and regrind in ISO 14021 (3.1.1 and 7.8.1.1; rule confirmed).
    """
    own, fresh = Fraction(percent), 100 - Fraction(percent)
    draws = [(name, f"{float(mass):g} kg") for name, mass in (("OC", own), ("R", fresh)) if mass]
    mix = lot_of(
        {
            "A": received("120 kg"),
            "V": received("80 kg", "VIRGIN"),
            "R": drawing("200 kg", ("A", "120 kg"), ("V", "80 kg")),
            "BAR": result("EX", "5 kg"),
            "OC": result("EX", "95 kg", form="offcuts"),
            "B": drawing("100 kg", *draws),
        },
        runs={"EX": run(("R", "100 kg"), operation="extrude")},
    )
    assert mix.recycled().value == Fraction(60, 100)


def test_unspecified_material_stays_in_the_total():
    """RC-13: 600 g recycled, 300 g virgin, 100 g unspecified are 60 %, not 66.7 %.

    Constructed on EN 45557:2020, 5.2 (rule confirmed).
    """
    mix = lot_of(
        {
            "A": received("600 g"),
            "V": received("300 g", "VIRGIN"),
            "U": received("100 g", "UNKNOWN"),
            "B": drawing("1 kg", ("A", "600 g"), ("V", "300 g"), ("U", "100 g")),
        }
    )
    assert mix.recycled().value == Fraction(60, 100)


def test_water_is_not_recycled_content():
    """MB-04: 20 kg of flakes at 5 % moisture with 20 kg dry virgin are 19/39, not half.

    Constructed on the rule that losses are deducted from A (ISO 14021, 7.8.4; from memory).
    """
    mix = lot_of(
        {
            "A": received("20.0 kg", moisture="5 %"),
            "V": received("20.0 kg", "VIRGIN"),
            "B": drawing("39.0 kg", ("A", "20.0 kg"), ("V", "20.0 kg")),
        }
    )
    assert mix.recycled().value == Fraction(19, 39)
    assert round(float(mix.recycled().value) * 100, 2) == 48.72


def test_a_blend_of_three_stages_is_what_a_hand_computes():
    """Stage by stage on paper: 40/60, then 30 of it with 20 virgin, then 25 of that with 15 pre-consumer.

    First: 40 of 100 post-consumer. Second: 30 × 0.4 = 12 of 50 = 0.24. Third: 25 × 0.24 = 6 post and 15
    pre-consumer of 40: 21/40 recycled, 6/40 post-consumer. Computed by hand.
    """
    mix = lot_of(
        {
            "A": received("40 kg"),
            "V": received("80 kg", "VIRGIN"),
            "P": received("15 kg", "PRE"),
            "S1": drawing("100 kg", ("A", "40 kg"), ("V", "60 kg")),
            "S2": drawing("50 kg", ("S1", "30 kg"), ("V", "20 kg")),
            "S3": drawing("40 kg", ("S2", "25 kg"), ("P", "15 kg")),
        },
        "S3",
    )
    assert mix.recycled().value == Fraction(21, 40)
    assert mix.post_consumer().value == Fraction(6, 40)


def exact(half_width_kg):
    """A blend of 6 kg recycled and 4 kg virgin, each weighed with that half-width."""
    return lot_of(
        {
            "A": received("6 kg"),
            "V": received("4 kg", "VIRGIN"),
            "B": drawing("10 kg", ("A", f"6.00 ± {half_width_kg:.12f} kg"), ("V", f"4.00 ± {half_width_kg:.12f} kg")),
        }
    )


def test_the_share_and_its_total_are_not_taken_as_independent():
    """UN-06: 6.00 and 4.00 kg with u = 0.02 kg each give 60 % with u = 0.1442 points; UN-07's 0.2623 is the trap.

    JCGM 100:2008, 5.1.2, applied (constructed).
    """
    share = exact(0.02 * math.sqrt(3)).recycled()
    assert share.value == Fraction(60, 100)
    assert share.u is not None
    assert share.u * 100 == pytest.approx(0.1442, abs=5e-5)
    assert share.u * 100 != pytest.approx(0.2623, abs=5e-3)


@pytest.mark.parametrize(("percent", "stated"), [("31.0", 30), ("30.5", 29), ("30.988", 30), ("30.986", 29)])
def test_at_least_30_percent_needs_a_guard_band(percent, stated):
    """UN-13: with u = 0.6 points "at least 30 %" holds from 30.987 %: 31.0 passes, 30.5 fails.

    Guard band of JCGM 106:2012, clause 8 (constructed).
    """
    x = Fraction(percent) / 100
    assert stated_percent(Share(value=x, low=x, high=x, u=0.006)) == stated


@pytest.mark.parametrize(
    ("share", "u", "stated"),
    [("0.2996", 0.0, 29), ("0.996", 0.0, 99), ("0.9999999", 0.0, 99), ("1", 0.0, 100), ("0.001", 0.01, 0)],
)
def test_a_stated_figure_is_floored_and_100_is_never_rounded_to(share, u, stated):
    """RC-16: 29.96 % is "at least 29 %" (constructed); 100 only where A = P by record."""
    x = Fraction(share)
    assert stated_percent(Share(value=x, low=x, high=x, u=u)) == stated


def test_nothing_is_stated_where_a_scale_is_unknown_or_figures_are_withheld():
    """An unknown uncertainty or an open balance upstream gives no figure at all."""
    half = Fraction(1, 2)
    assert stated_percent(Share(value=half, low=half, high=half, u=None)) is None
    assert stated_percent(Share(value=half, low=half, high=half, u=0.0), withheld=True) is None


def test_plastic_hardware_counts_as_plastic_and_steel_in_the_whole_item_only():
    """10 kg recycled with 1 kg of PA plugs and 2 kg of steel: 10/11 of plastic, 10/13 of the item."""
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "mass": "5 kg each",
        "draws": [{"lot": "A", "mass": "10 kg"}],
        "hardware": [
            {"what": "plugs", "material": "PP", "mass": "0.5 kg each"},
            {"what": "screws", "material": "steel", "mass": "2 kg"},
        ],
    }
    ledger = settle(shop(lots={"A": received("10 kg")}, items={"I": item}), {})
    whole = of_item(ledger, "I")
    assert of_plastic(ledger, "I").value == Fraction(10, 11)
    assert whole is not None
    assert whole.value == Fraction(10, 13)


def test_the_same_thing_has_another_share_of_its_plastic_than_of_its_product():
    """RC-12: 92 % plastic of which 80 % post-consumer is 73.6 % of the product.

    Constructed on the two tests of the German ecolabel DE-UZ 30a (confirmed in summary).
    """
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": "92 kg",
        "parts": [{"part": "body", "draws": [{"lot": "A", "mass": "92 kg"}]}],
        "hardware": [{"what": "frame", "material": "steel", "mass": "8 kg"}],
    }
    streams = {"EIGHTY": {"post-consumer": "80 %", "virgin": "20 %"}}
    ledger = settle(shop(lots={"A": received("92 kg", "EIGHTY")}, items={"I": item}, streams=streams), {})
    found = {name: recycled_share(ledger, "I", name, part="body", post_consumer_only=True) for name in DENOMINATORS}
    assert {name: share.value for name, share in found.items()} == {
        "of_plastic": Fraction(80, 100),
        "of_product": Fraction(736, 1000),
        "of_component": Fraction(80, 100),
    }
    with pytest.raises(ValueError, match='met the denominator "of_all", wanted one of of_plastic, of_product'):
        recycled_share(ledger, "I", "of_all")
