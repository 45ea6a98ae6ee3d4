"""Density by immersion, its uncertainty, and what it allows."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from material_cases import cases

from passport.material.density import (
    Immersion,
    PieceDensity,
    as_filled,
    candidates,
    filler_share,
    half_and_half,
    immersion_density,
    immersion_uncertainty,
    measure,
    mixture_density,
    overlapping_grades,
    too_coarse,
)
from passport.material.liquids import LiquidDensity
from passport.material.resins import resins
from passport.material.separating_liquid import recipe_for, separating
from passport.problems import Problem

ETHANOL = LiquidDensity(g_cm3=0.78924, uncertainty_g_cm3=0.0009, sources=("oiml-r22",))


@pytest.mark.parametrize("case", cases("density"), ids=lambda c: c["id"])
def test_immersion_gives_the_published_density(case):
    """D1 to D4: masses in, density out."""
    found = immersion_density(case["in_air"], case["in_liquid"], case["liquid"], case["air"])
    assert found == pytest.approx(case["g_cm3"], abs=case["within"])


def test_a_sinker_gives_the_specific_gravity():
    """D5: a 5.000, w 12.000, b 11.475 g is SG 0.90498 and 0.9027 g/cm3 (ASTM D792 formula, computed)."""
    assert immersion_density(5.0, 11.475 - 12.0, 1.0, 0) == pytest.approx(0.90498, abs=1e-5)
    assert immersion_density(5.0, 11.475 - 12.0, 0.9975, 0) == pytest.approx(0.9027, abs=1e-4)


def test_a_piece_held_down_by_a_sinker_is_measured():
    """D5 weighed in water of 23 °C: the density with air buoyancy, and PP among the candidates."""
    water = LiquidDensity(g_cm3=0.99754, uncertainty_g_cm3=0.0003, sources=("cipm-2001",))
    weighed = Immersion(in_air_g=5.0, in_liquid_g=11.475, sinker_g=12.0, liquid=water, step_g=0.001)
    density = measure(weighed)
    assert density.g_cm3 == pytest.approx(0.9028, abs=2e-4)
    assert candidates(density).plain == ("PP",)
    alone = Immersion(in_air_g=5.0, in_liquid_g=0.6396, liquid=ETHANOL, step_g=0.001)
    assert immersion_uncertainty(weighed) > 0
    assert density.uncertainty_g_cm3 < immersion_uncertainty(replace(alone, step_g=0.01))


@pytest.mark.parametrize(
    ("in_air", "step", "uncertainty", "within"),
    [
        (5.0, 0.01, 0.0023, 1e-4),
        (5.0, 0.001, 0.0011, 1e-4),
        (50.0, 0.01, 0.0011, 1e-4),
        (5.0, 0.1, 0.021, 5e-4),
    ],
)
def test_the_uncertainty_is_that_of_the_table(in_air, step, uncertainty, within):
    """D6 and its table: PP in ethanol, liquid known to 0.0009 g/cm3 (propagation, computed)."""
    weighed = Immersion(in_air_g=in_air, in_liquid_g=in_air * 0.12792, liquid=ETHANOL, step_g=step)
    assert immersion_uncertainty(weighed) == pytest.approx(uncertainty, abs=within)


@pytest.mark.parametrize(
    ("in_air", "in_liquid", "code", "message"),
    [
        (
            5.0,
            5.0,
            "density-not-lighter",
            "met 5 g in air and 5 g in the liquid, wanted less in the liquid than in air",
        ),
        (
            5.0,
            6.0,
            "density-not-lighter",
            "met 5 g in air and 6 g in the liquid, wanted less in the liquid than in air",
        ),
        (5.0, -0.2, "density-floats", "met 5 g in air and -0.2 g in the liquid, wanted a piece that sinks"),
        (
            0.0,
            0.0,
            "density-no-piece",
            "met 0 g in air and 0 g in the liquid, wanted a piece that weighs something in air",
        ),
    ],
)
def test_masses_that_cannot_be_give_no_number(in_air, in_liquid, code, message):
    """D7: a mass in liquid above the one in air, or a negative one, is refused."""
    problem = measure(Immersion(in_air_g=in_air, in_liquid_g=in_liquid, liquid=ETHANOL))
    assert isinstance(problem, Problem)
    assert (problem.code, problem.message) == (code, message)


def test_a_coarse_balance_is_refused():
    """A step of 0.1 g on 5 g of PP leaves PE-HD, 0.030 g/cm3 away, as well."""
    density = measure(Immersion(in_air_g=5.0, in_liquid_g=0.6396, liquid=ETHANOL, step_g=0.1))
    problem = too_coarse(density, candidates(density))
    assert problem is not None
    assert problem.message == (
        "met 0.905 ± 0.021 g/cm³, which cannot tell PP from PE-HD, wanted an uncertainty below 0.005 g/cm³"
    )


def test_a_fine_balance_names_pp():
    """With a step of 1 mg the same piece leaves PP alone."""
    density = measure(Immersion(in_air_g=5.0, in_liquid_g=0.6396, liquid=ETHANOL, step_g=0.001))
    found = candidates(density)
    assert found.plain == ("PP",)
    assert too_coarse(density, found) is None


def test_overlapping_grades_are_the_nine_pairs():
    """O1: the pairs whose usual ranges overlap (computed from the cited ranges)."""
    assert {frozenset(pair) for pair in overlapping_grades()} == {
        frozenset(pair)
        for pair in [
            ("PP-H", "PP-B"),
            ("PP-H", "PP-R"),
            ("PP-B", "PP-R"),
            ("PE-LD", "PE-LLD"),
            ("PS", "PS-HI"),
            ("PS", "ABS"),
            ("PS-HI", "ABS"),
            ("PET", "PVC-U"),
            ("PVC-U", "POM"),
        ]
    }


@pytest.mark.parametrize("symbol", list(resins()))
def test_candidates_of_every_resin_agree_with_the_overlap_list(symbol):
    """The middle of each grade's range finds that resin, and nothing else but what overlaps it."""
    overlaps = {frozenset(pair) for pair in overlapping_grades()}
    for grade in resins()[symbol].grades:
        middle = (grade.density_g_cm3.low + grade.density_g_cm3.high) / 2
        found = candidates(PieceDensity(g_cm3=middle, uncertainty_g_cm3=0.0)).plain
        assert symbol in found
        for other in set(found) - {symbol}:
            assert any(frozenset({grade.id, g.id}) in overlaps for g in resins()[other].grades)


@pytest.mark.parametrize(
    ("share", "filler", "published", "within"),
    [(0.2, 2.75, 1.05, 0.01), (0.2, 2.90, 1.05, 0.01), (0.4, 2.75, 1.22, 0.03), (0.4, 2.90, 1.22, 0.03)],
)
def test_filler_makes_the_published_densities(share, filler, published, within):
    """F1, F2: PP of 0.903 with talc agrees with the trade table's 1.05 and 1.22 (confirmed)."""
    assert mixture_density([(1 - share, 0.903), (share, filler)]) == pytest.approx(published, abs=within)


def test_a_mixture_of_pp_and_pe_hd_looks_like_pe_ld():
    """F3: half and half computes to 0.9293, where PE-LD must stay a candidate."""
    density = mixture_density([(0.5, 0.905), (0.5, 0.955)])
    assert density == pytest.approx(0.9293, abs=1e-4)
    found = PieceDensity(g_cm3=density, uncertainty_g_cm3=0.001)
    assert "PE-LD" in candidates(found).plain
    assert ("PP", "PE-HD") in half_and_half(found)


def test_the_filler_in_a_heavy_piece_of_pp():
    """F1 turned round: PP that weighs 1.05 g/cm3 holds about 20 % of mineral (trade table, confirmed)."""
    assert as_filled("PP", 1.05) == pytest.approx(0.20, abs=0.02)


@pytest.mark.parametrize(("resin", "percent"), [(0.905, 13.9), (0.955, 6.6)])
def test_the_filler_share_that_sinks_a_resin(resin, percent):
    """F4: mineral of 2.75 g/cm3 sinks PP from 13.9 % and PE-HD from 6.6 % (computed)."""
    assert 100 * filler_share(resin, 0.99821) == pytest.approx(percent, abs=0.1)


def test_the_liquid_between_pp_and_pe_hd():
    """0.925 g/cm3: 44.9 % alcohol by mass, 52.6 % by volume, weighed (OIML R 22)."""
    recipe = separating("PP", "PE-HD")
    assert recipe is not None
    assert recipe.flammable
    assert recipe.density_g_cm3 == pytest.approx(0.925)
    assert recipe.liquid.percent_by_mass == 44.9
    assert recipe.percent_by_volume == pytest.approx(52.6, abs=0.1)
    assert recipe.water_g + recipe.other_g == pytest.approx(1000)


def test_bought_alcohol_of_less_strength_takes_more_of_it():
    """The recipe counts the water that is in the bottle already."""
    recipe = recipe_for("ethanol", 0.925, bought_percent_by_mass=90.0)
    assert recipe is not None
    assert recipe.other_g * 0.9 == pytest.approx(448.5, abs=0.5)
    assert recipe_for("ethanol", 0.80, bought_percent_by_mass=90.0) is None


@pytest.mark.parametrize(("density", "percent", "salt"), [(1.080, 11.24, 12.7), (1.150, 20.3, 25.4)])
def test_brine_is_weighed_out(density, percent, salt):
    """Salt to 100 g of water (physico-chemical handbook 1974)."""
    recipe = recipe_for("brine", density)
    assert recipe is not None
    assert recipe.liquid.percent_by_mass == pytest.approx(percent, abs=0.05)
    assert recipe.salt_g_per_100_g_water == pytest.approx(salt, abs=0.1)


@pytest.mark.parametrize(("light", "heavy"), [("PP", "PE-LD"), ("PS", "ABS"), ("PMMA", "PC"), ("PS-E", "PS")])
def test_no_liquid_separates_what_overlaps(light, heavy):
    """Touching ranges, and foam, which floats for its gas cells, get no recipe."""
    assert separating(light, heavy) is None


@given(st.floats(0.8, 2.0), st.floats(1, 100), st.floats(0.0, 0.0013), st.floats(0.75, 0.79))
def test_immersion_inverts_a_weighing(density, in_air, air, liquid):
    """A piece weighed by the law of buoyancy gives its own density back."""
    volume = in_air / (density - air)
    in_liquid = in_air - volume * (liquid - air)
    assert immersion_density(in_air, in_liquid, liquid, air) == pytest.approx(density, rel=1e-9)
