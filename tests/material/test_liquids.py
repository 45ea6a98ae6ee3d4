"""Densities of the liquids, against published values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from material_cases import cases

from passport.material.liquids import (
    Liquid,
    LiquidDensity,
    density_of,
    percent_by_volume,
    read_liquid,
    strength_for,
)
from passport.problems import Problem


@pytest.mark.parametrize("case", cases("liquids"), ids=lambda c: c["id"])
def test_a_liquid_has_its_published_density(case):
    """Water, ethanol and brine agree with the formula, handbook or measurement named in the row."""
    liquid = read_liquid(case["liquid"])
    found = density_of(liquid, case["at_c"])
    assert found.g_cm3 * 1000 == pytest.approx(case["kg_m3"], abs=case["within"])


def test_a_wanted_density_gives_the_strength():
    """E3: 925 kg/m3 is 44.85 % by mass and 52.57 % by volume (OIML R 22 inverted, computed)."""
    strength = strength_for("ethanol", 925.0)
    assert strength == pytest.approx(44.85, abs=0.05)
    assert percent_by_volume(strength) == pytest.approx(52.57, abs=0.05)


@pytest.mark.parametrize(
    ("text", "message", "hint"),
    [
        ("milk", 'met "milk", wanted water, ethanol 45 % by mass or brine 11 % by mass', ""),
        (
            "alcohol 45 %",
            'met "alcohol 45 %", wanted water, ethanol 45 % by mass or brine 11 % by mass',
            "write ethanol with its strength by mass",
        ),
        (
            "ethanol 45 % vol",
            'met "ethanol 45 % vol", wanted water, ethanol 45 % by mass or brine 11 % by mass',
            "give the strength by mass; bottles say it by volume",
        ),
        (
            "brine 30 % by mass",
            "met brine 30 % by mass, wanted at most 26 % by mass",
            "more salt than that stays on the bottom",
        ),
    ],
)
def test_a_liquid_that_is_none_is_refused(text, message, hint):
    """An unknown liquid says what was met, what was wanted and what to do."""
    problem = read_liquid(text)
    assert isinstance(problem, Problem)
    assert (problem.message, problem.hint) == (message, hint)


def test_a_temperature_outside_the_table_is_refused():
    """Brine is tabled from 15 to 25 °C only."""
    problem = density_of(Liquid(kind="brine", percent_by_mass=11), 40)
    assert isinstance(problem, Problem)
    assert problem.message == "met brine at 40 °C, wanted 15 to 25 °C"


@given(st.floats(0, 100))
def test_strength_and_density_invert(percent):
    """The strength found for a density gives that density again."""
    density = density_of(Liquid(kind="ethanol", percent_by_mass=percent), 20)
    assert isinstance(density, LiquidDensity)
    assert strength_for("ethanol", density.g_cm3 * 1000) == pytest.approx(percent, abs=1e-6)
