"""The tables on life after the gate: curves that follow from their own counts, and the same sums as the pages."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

Row = dict[str, str]
ENDS = ("back", "lost", "destroyed", "elsewhere")


@pytest.fixture(scope="module")
def data(demo: Path) -> Path:
    """The folder of data files."""
    return demo / "site" / "data"


def rows(data: Path, name: str) -> list[Row]:
    """A table as text."""
    with (data / f"{name}.csv").open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def near(printed: str, value: Fraction) -> bool:
    """Equal as far as four decimals go."""
    return abs(Fraction(printed) - value) <= Fraction(1, 20000)


def test_every_curve_follows_from_its_own_counts(data: Path) -> None:
    """Worked out again from the columns at_risk and ended alone.

    Not ended: the product of 1 − ended/at_risk over the days. Ended in one way: the sum over the days of what had not
    ended before, times ended/at_risk. Kaplan and Meier 1958; Aalen and Johansen 1978 (from memory).
    """
    found = rows(data, "curves")
    years = dict.fromkeys(row["year"] for row in found)
    assert list(years) == ["all", "2025", "2026"]
    for year in years:
        left, before = Fraction(1), {}
        for row in (r for r in found if r["year"] == year and r["curve"] == "not-ended"):
            before[row["days"]] = left
            left *= 1 - Fraction(int(row["ended"]), int(row["at_risk"]))
            assert near(row["share"], left)
        for end in ENDS:
            share = Fraction(0)
            for row in (r for r in found if r["year"] == year and r["curve"] == end):
                share += before[row["days"]] * Fraction(int(row["ended"]), int(row["at_risk"]))
                assert near(row["share"], share)


def test_bounds_stand_around_their_share(data: Path) -> None:
    """Every row has bounds between 0 and 1 on either side."""
    for row in rows(data, "curves"):
        assert 0 <= float(row["low"]) <= float(row["share"]) <= float(row["high"]) <= 1


def test_ends_and_things_in_use_are_all_that_went_out(data: Path) -> None:
    """What ended in the curves of all years, and what is in use, are the 17 things that events say went out."""
    ended = sum(int(row["ended"]) for row in rows(data, "curves") if row["year"] == "all" and row["curve"] in ENDS)
    in_use = sum(int(row["things"]) for row in rows(data, "in_use"))
    out = {row["tag"] for row in rows(data, "events") if row["event"] in ("handed-over", "put-up")}
    assert ended + in_use == len(out) == 17


def test_fates_are_the_plastic_of_things_whose_end_is_known(data: Path) -> None:
    """By hand from content/items, in kg as made.

    Own stream: planter 11.8, bird box body 0.72, board 2.2, pot 0.24. Not back: bird box roof 0.21. Elsewhere: hook
    rail 0.76, bench 13.6. Lost or destroyed: bird box 0.93, board 2.2.
    """
    assert {row["fate"]: row["plastic_kg"] for row in rows(data, "fates")} == {
        "own": "14.9600",
        "down": "0.0000",
        "not_back": "0.2100",
        "elsewhere": "14.3600",
        "lost": "3.1300",
    }


def test_repairs_keep_what_they_do_not_replace(data: Path) -> None:
    """By hand: 930 − 210 g of bird box; a planter of 16.4 kg less the bar of 1.5 kg that came out."""
    found = {row["tag"]: row for row in rows(data, "repairs")}
    assert [found["RY-2223C2"][key] for key in ("put_in_kg", "taken_out_kg", "kept_kg", "new_one_kg")] == [
        *("0.2120", "0.2050", "0.7200", "0.9300"),
    ]
    assert [found["RY-222398"][key] for key in ("put_in_kg", "taken_out_kg", "kept_kg", "new_one_kg")] == [
        *("1.5320", "1.5000", "14.9000", "16.4000"),
    ]


def test_recalls_name_their_things_and_their_end(data: Path) -> None:
    """One holds and reaches the five rails of black trays, one ended."""
    found = {row["recall"]: row for row in rows(data, "recalls")}
    assert list(found) == ["RC-001", "RC-003"]
    assert found["RC-003"]["tags"].split(";") == ["RY-2222T7", "RY-2222U5", "RY-2222V3", "RY-2223PB", "RY-2223Q9"]
    assert (found["RC-001"]["ended"], found["RC-003"]["ended"]) == ("2025-11-04", "")
