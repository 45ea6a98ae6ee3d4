"""What laws ask for, each over its own denominator; every case says whether it was published or constructed."""

from fractions import Fraction

import pytest
from shops_in_code import drawing, received, shop

from passport.massflow import settle
from passport.massflow.recycled import DENOMINATORS
from passport.verdicts.thresholds import laws, main_material, must_be_named, of_node, plastic_share

EXACT = "0.000000"
"""A half-width of nothing: the cases state masses without uncertainty."""


def blend(recycled_g, whole_g):
    """A lot of so many grams of used plastic in so many of all, weighed exactly."""
    used, rest = Fraction(recycled_g), Fraction(whole_g) - Fraction(recycled_g)
    draws = [(name, f"{float(mass):.4f} ± {EXACT} g") for name, mass in (("A", used), ("V", rest))]
    lots = {"A": received("1 kg"), "V": received("1 kg", "VIRGIN"), "B": drawing(f"{whole_g} ± {EXACT} g", *draws)}
    return settle(shop(lots=lots), {})


@pytest.mark.parametrize(
    ("law", "recycled_g", "whole_g", "passes"),
    [
        ("uk-plastic-packaging-tax", "2.99", "10.00", False),
        ("uk-plastic-packaging-tax", "3.00", "10.00", True),
        ("california-containers", "12.50", "50.00", True),
        ("california-containers", "12.495", "50.00", False),
    ],
)
def test_a_limit_is_reached_or_missed_by_a_hundredth(law, recycled_g, whole_g, passes):
    """RC-09: 29.9 % is taxed, 30.0 % is not; RC-11: 25.00 % passes, 24.99 % fails.

    Constructed on the UK Finance Act 2021, s. 47(1)(a), and 14 CCR 17945.5 (both rules confirmed).
    """
    assert of_node(blend(recycled_g, whole_g), "B", laws()[law]).value is passes


def test_a_share_that_only_may_have_reached_the_limit_has_not():
    """RC-16: 29.96 % fails a limit of 30, and 30.0 % known to 0.1 points fails it, too (constructed)."""
    law = laws()["uk-plastic-packaging-tax"]
    assert of_node(blend("29.96", "100.00"), "B", law).value is False
    lots = {
        "A": received("1 kg"),
        "V": received("1 kg", "VIRGIN"),
        "B": drawing("100 g", ("A", "30.0 ± 0.2 g"), ("V", "70.0 ± 0.2 g")),
    }
    assert of_node(settle(shop(lots=lots), {}), "B", law).value is False


def framed(plastic_kg, steel_kg, share="80 %"):
    """A thing of plastic of that post-consumer share and a steel frame."""
    rest = f"{100 - int(share.removesuffix(' %'))} %"
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": f"{plastic_kg} ± 0 kg",
        "parts": [{"part": "body", "draws": [{"lot": "A", "mass": f"{plastic_kg} ± 0 kg"}]}],
        "hardware": [{"what": "frame", "material": "steel", "mass": f"{steel_kg} ± 0 kg"}],
    }
    streams = {"MIXED": {"post-consumer": share, "virgin": rest}}
    lots = {"A": received(f"{plastic_kg} ± 0 kg", "MIXED")}
    return settle(shop(lots=lots, items={"I": item}, streams=streams), {})


def test_the_german_label_asks_two_questions():
    """RC-12: 92 % plastic, 80 % of it post-consumer passes both; 90 % plastic or 79 % post-consumer fails.

    Constructed on DE-UZ 30a (confirmed in summary).
    """
    law = laws()["germany-de-uz-30a"]
    assert plastic_share(framed(92, 8), "I") == Fraction(92, 100)
    assert of_node(framed(92, 8), "I", law).value is True
    assert of_node(framed(90, 10), "I", law).value is False
    assert of_node(framed(92, 8, "79 %"), "I", law).value is False


def test_the_largest_single_material_decides_what_a_thing_is():
    """RC-10: 4 g plastic, 3 g aluminium, 3 g card: a plastic component of 10 g, although plastic is only 40 %.

    UK Plastic Packaging Tax guidance (confirmed in summary).
    """
    masses = {"plastic": Fraction(4), "aluminium": Fraction(3), "card": Fraction(3)}
    assert main_material(masses) == "plastic"
    assert masses["plastic"] / sum(masses.values()) == Fraction(40, 100)
    with pytest.raises(ValueError, match="met no material, wanted the mass of at least one"):
        main_material({})


@pytest.mark.parametrize(("second_g", "named"), [(4, ("PP",)), (6, ("PP", "steel"))])
def test_a_second_material_of_less_than_five_percent_may_be_left_out(second_g, named):
    """RC-17: 4 % may be skipped, 6 % must be reported (constructed on Decision 2005/270 as amended)."""
    assert must_be_named({"PP": Fraction(100 - second_g), "steel": Fraction(second_g)}) == named


def test_withheld_figures_meet_no_law_and_say_so():
    """An open balance above gives no answer, with the doubt beside it."""
    lots = {"A": received("60 kg"), "B": drawing("50 kg", ("A", "60 kg"))}
    found = of_node(settle(shop(lots=lots), {}), "B", laws()["uk-plastic-packaging-tax"])
    assert found.value is None
    assert [p.code for p in found.doubts] == ["does-not-close-withheld"]


def test_every_law_names_its_source_and_a_known_denominator():
    """Each row of the table says where it is from and over what it counts."""
    for law in laws().values():
        assert law.of in DENOMINATORS
        assert law.counts in ("recycled", "post-consumer")
        assert "confirmed" in law.source
