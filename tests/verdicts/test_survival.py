"""Curves of lasting and ending: published data, another library, a bare second computation, a table by hand."""

from __future__ import annotations

import csv
import importlib
from fractions import Fraction
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import missing
from hypothesis import given
from hypothesis import strategies as st

from passport.verdicts.survival import (
    Spell,
    at_risk,
    cumulative_incidence,
    exact_interval,
    kaplan_meier,
    on_day,
)

CASES = Path(__file__).parent / "cases"
WAYS = ("back", "lost", "gone")
some_spells = st.lists(
    st.builds(Spell, days=st.integers(0, 30), end=st.sampled_from(("", "", *WAYS))), min_size=1, max_size=40
)


def table(name: str) -> list[dict[str, str]]:
    """A published table without its head of sources."""
    lines = (CASES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def remission(group: str) -> list[Spell]:
    """The published weeks of one group."""
    (weeks,) = [row["weeks"].split() for row in table("remission.csv") if row["group"] == group]
    return [Spell(days=int(week.rstrip("+")), end="" if week.endswith("+") else "back") for week in weeks]


def mice() -> list[Spell]:
    """The published days and causes."""
    return [Spell(days=int(day), end=row["end"]) for row in table("competing-ends.csv") for day in row["days"].split()]


def test_the_published_remission_curve_comes_out() -> None:
    """Numbers at risk, shares and log(-log) bounds of Freireich's 21 patients are the printed ones, to four places."""
    found = kaplan_meier(remission("drug"))
    wanted = table("remission-curve.csv")
    assert [(p.day, p.at_risk, p.ended) for p in found] == [
        (int(r["weeks"]), int(r["at_risk"]), int(r["ended"])) for r in wanted
    ]
    for point, row in zip(found, wanted, strict=True):
        printed = [float(row[key]) for key in ("share", "low", "high")]
        assert [float(point.value), point.low, point.high] == pytest.approx(printed, abs=5.1e-5)


def test_without_censoring_the_curve_is_the_plain_share() -> None:
    """Placebo: 21, 19, 17 … of 21 patients; the last one ends it."""
    spells = remission("placebo")
    for point in kaplan_meier(spells):
        assert point.value == Fraction(sum(s.days > point.day for s in spells), 21)


def test_published_competing_ends_come_to_their_plain_shares() -> None:
    """Of Hoel's 99 mice, all followed to the end, 22, 38 and 39 died of each: so end the three curves."""
    spells = mice()
    assert len(spells) == 99
    last = {end: cumulative_incidence(spells, end)[-1].value for end in dict.fromkeys(s.end for s in spells)}
    assert list(last.values()) == [Fraction(22, 99), Fraction(38, 99), Fraction(39, 99)]


def test_a_small_table_by_hand() -> None:
    """Constructed, worked on paper: six things, of which two come back, one is lost, three are not known to have ended.

    Day 2 one back (6 at risk), day 3 one last heard of, day 4 one lost (4), day 6 one back (3), days 8 and 9 one
    still there each. S: 5/6, then ·3/4 = 5/8, then ·2/3 = 5/12. Back: 1/6, then + 5/8·1/3 = 3/8. Lost: 5/6·1/4 = 5/24.
    """
    spells = [
        Spell(days=2, end="back"),
        Spell(days=3),
        Spell(days=4, end="lost"),
        Spell(days=6, end="back"),
        Spell(days=8),
        Spell(days=9),
    ]
    assert [p.value for p in kaplan_meier(spells)] == [Fraction(5, 6), Fraction(5, 8), Fraction(5, 12)]
    assert [p.value for p in cumulative_incidence(spells, "back")] == [
        Fraction(1, 6),
        Fraction(1, 6),
        Fraction(3, 8),
    ]
    assert [p.value for p in cumulative_incidence(spells, "lost")] == [0, Fraction(5, 24), Fraction(5, 24)]
    assert [at_risk(spells, day) for day in (0, 2, 3, 4, 9, 10)] == [6, 6, 5, 4, 1, 0]


@given(some_spells)
def test_shares_of_all_ways_and_of_what_is_left_add_up_to_one(spells: list[Spell]) -> None:
    """Back, lost, gone and not ended share the whole exactly, on every day."""
    left = kaplan_meier(spells)
    ways = [cumulative_incidence(spells, way) for way in WAYS]
    for i, point in enumerate(left):
        assert point.value + sum(way[i].value for way in ways) == 1


@given(some_spells)
def test_bounds_hold_their_value_and_stay_shares(spells: list[Spell]) -> None:
    """Every bound lies between 0 and 1 and on its own side of the value."""
    for points in (kaplan_meier(spells), *(cumulative_incidence(spells, way) for way in WAYS)):
        for point in points:
            assert 0 <= point.low <= float(point.value) + 1e-12
            assert float(point.value) - 1e-12 <= point.high <= 1


def bare_incidence(spells: list[Spell], end: str, day: int) -> tuple[float, float]:
    """A second computation: share and spread by matrices.

    The share is a product of transition matrices over days; its spread the infinitesimal jackknife (each thing's
    weight moved a little, the squares of what follows added up).
    """
    weights = np.ones(len(spells))

    def share(weights: np.ndarray) -> float:
        states = {"": 0, **{way: i for i, way in enumerate(sorted({s.end for s in spells if s.end}), start=1)}}
        product = np.eye(len(states))
        for when in sorted({s.days for s in spells if s.end and s.days <= day}):
            risk = sum(w for w, s in zip(weights, spells, strict=True) if s.days >= when)
            step = np.eye(len(states))
            for w, s in zip(weights, spells, strict=True):
                if s.days == when and s.end:
                    step[0, states[s.end]] += w / risk
                    step[0, 0] -= w / risk
            product = product @ step
        return float(product[0, states[end]]) if end in states else 0.0

    value, small, squares = share(weights), 1e-5, 0.0
    for i in range(len(spells)):
        moved = weights.copy()
        moved[i] += small
        squares += ((share(moved) - value) / small) ** 2
    return value, sqrt(squares)


def test_a_second_computation_agrees() -> None:
    """Transition matrices and an infinitesimal jackknife give the same share and nearly the same spread."""
    spells = [Spell(days=s.days, end=s.end if i % 4 else "") for i, s in enumerate(mice())]
    points = cumulative_incidence(spells, "thymic lymphoma")
    for day in (200, 300, 500):
        point = on_day(points, day)
        assert point is not None
        value, spread = bare_incidence(spells, "thymic lymphoma", day)
        assert float(point.value) == pytest.approx(value, abs=1e-12)
        log_value = np.log(float(point.value))
        width = np.log(np.log(point.low) / log_value) / 1.959964
        assert width * float(point.value) * abs(log_value) == pytest.approx(spread, rel=0.05)


def lifelines() -> Any:
    """Another library for the same curves."""
    try:
        return importlib.import_module("lifelines")
    except ImportError:
        missing("lifelines is not installed")


def test_another_library_draws_the_same_curve() -> None:
    """Kaplan-Meier, its numbers at risk and its log(-log) bounds agree with lifelines."""
    for spells in (remission("drug"), mice()):
        fit = lifelines().KaplanMeierFitter()
        fit.fit([s.days for s in spells], [bool(s.end) for s in spells])
        for point in kaplan_meier(spells)[:-1]:
            bounds = fit.confidence_interval_.loc[point.day]
            assert float(fit.survival_function_.loc[point.day].iloc[0]) == pytest.approx(float(point.value), abs=1e-9)
            assert int(fit.event_table.loc[point.day, "at_risk"]) == point.at_risk
            assert list(bounds) == pytest.approx([point.low, point.high], abs=1e-6)


def test_another_library_finds_the_same_incidence() -> None:
    """Aalen-Johansen and its bounds agree with lifelines, on times that no two things share.

    The very last day is left out of the bounds: with all things gone, lifelines divides nothing by nothing there.
    """
    causes = {"": 0, "thymic lymphoma": 1, "reticulum sarcoma": 2, "other": 3}
    spells = list({s.days: Spell(days=s.days, end=s.end if i % 5 else "") for i, s in enumerate(mice())}.values())
    fit = lifelines().AalenJohansenFitter(calculate_variance=True)
    fit.fit([s.days for s in spells], [causes[s.end] for s in spells], event_of_interest=1)
    for point in cumulative_incidence(spells, "thymic lymphoma")[:-1]:
        if point.value:
            assert float(fit.cumulative_density_.loc[point.day].iloc[0]) == pytest.approx(float(point.value), abs=1e-9)
            bounds = fit.confidence_interval_.loc[point.day]
            assert sorted(bounds) == pytest.approx([point.low, point.high], abs=1e-6)


def test_exact_bounds_of_a_share() -> None:
    """Clopper and Pearson: 0 of 10 is at most 30.85 %, 3 of 10 lies in 6.67 to 65.25 % (tables, from memory)."""
    assert exact_interval(0, 10) == pytest.approx((0, 0.3085), abs=5e-5)
    assert exact_interval(3, 10) == pytest.approx((0.0667, 0.6525), abs=5e-5)
    assert exact_interval(10, 10) == pytest.approx((0.6915, 1), abs=5e-5)
    with pytest.raises(ValueError, match=r"met 3 of 2, wanted a count out of at least one"):
        exact_interval(3, 2)


def test_before_the_first_end_there_is_no_point() -> None:
    """A curve that has not begun to fall has no point; on and after a day with an end it has."""
    points = kaplan_meier([Spell(days=5, end="back"), Spell(days=9)])
    assert on_day(points, 4) is None
    assert on_day(points, 5) == on_day(points, 8) == points[0]
