"""Limits on substances against published figures, on their boundary days and values (cases/limits.yaml has sources)."""

from datetime import date
from decimal import Decimal

import pytest
from material_cases import cases

from passport.material.limits import SCOPES, judge, known_substances, limits_on, substance
from passport.material.tables import table

EU = frozenset({"EU"})


@pytest.mark.parametrize("case", cases("limits"), ids=lambda case: case["id"])
def test_a_content_is_judged_by_the_limit_of_its_day(case) -> None:
    """Each published figure and boundary day gives the outcome that the law's own words give."""
    contents = {name: Decimal(str(mg)) for name, mg in case["contents"].items()}
    resin = case.get("resin", "")
    limits = limits_on(case["day"], frozenset(case["scopes"]), EU, resin)
    (found,) = (j for j in judge(contents, limits, resin) if j.limit.law == case["law"])
    assert (found.limit.mg_per_kg, found.outcome.value) == (case["limit"], case["outcome"])


def test_no_limit_before_its_day() -> None:
    """The lead limit for PVC begins on 2024-11-29 (Regulation (EU) 2023/923) and not a day earlier."""
    laws = {limit.law for limit in limits_on(date(2024, 11, 28), frozenset(), EU, "PVC-U")}
    assert "lead-pvc" not in laws


def test_a_law_on_one_plastic_is_silent_about_others() -> None:
    """Entry 63 of REACH Annex XVII speaks of PVC: PP with lead in it is not judged by it."""
    assert "lead-pvc" not in {limit.law for limit in limits_on(date(2026, 1, 1), frozenset(), EU, "PP")}


def test_another_country_has_other_laws() -> None:
    """Under US rules alone no EU limit is applied; only the sorting line of practice is left."""
    assert {limit.law for limit in limits_on(date(2026, 1, 1), frozenset(SCOPES), frozenset({"US"}))} == {
        "bromine-line"
    }


def test_what_was_not_measured_is_not_judged() -> None:
    """A figure for cadmium says nothing about lead, nor about a sum without it."""
    limits = limits_on(date(2026, 1, 1), frozenset({"packaging"}), EU, "PP")
    judged = judge({"cadmium": Decimal(30)}, limits, "PP")
    assert {name for found in judged for name, _ in found.measured} == {"cadmium"}


@pytest.mark.parametrize(("said", "key"), [("Cd", "cadmium"), ("plomb", "lead"), ("pbde", "PBDE"), ("sugar", "")])
def test_substances_go_by_several_names(said: str, key: str) -> None:
    """Symbols and French names lead to the same row; others to none."""
    assert substance(said) == key


def test_every_row_is_whole() -> None:
    """Each limit has a day, a known scope and substance, words in both languages, and says how sure we are of it."""
    for law in table("limits")["laws"].values():
        assert set(law["of"]) <= set(known_substances())
        assert law["title"]["en"]
        assert law["title"]["fr"]
        assert law["at_limit"] in ("passes", "fails")
        for row in law["rows"]:
            assert row["scope"] in SCOPES
            assert isinstance(row["from"], date)
            assert row["status"] in ("seen", "second-hand", "memory")
