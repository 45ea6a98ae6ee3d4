"""Number now, weigh later: a lot without a mass gets the figures of its first weighing."""

from __future__ import annotations

from fractions import Fraction

import shops_in_code as made

from passport.massflow import settle


def weighed(lot, mass, day="2026-04-30", **more):
    """A weighing of a lot."""
    return {"date": day, "lot": lot, "event": "weighed", "mass": mass, "because": "first weighing", **more}


def books(*events, lots):
    """The settled books of a shop."""
    return settle(made.shop(lots=lots, events=events), {})


def test_the_first_weighing_gives_the_mass() -> None:
    """A lot taken in unweighed has no mass; once weighed it has what was found, and no stock difference."""
    lots = {"IN-1": made.received("not weighed")}
    before, after = books(lots=lots), books(weighed("IN-1", "62.4 kg"), lots=lots)
    assert before.masses["IN-1"] is None
    assert before.stock["IN-1"].books_kg is None
    assert after.masses["IN-1"].value == Fraction("62.4")
    assert after.stock["IN-1"].books_kg == Fraction("62.4")
    assert after.stock["IN-1"].adjusted_kg == 0


def test_what_was_taken_before_counts() -> None:
    """10 kg were drawn, 5 kg sent, then 47.4 kg weighed: the lot came in with 62.4 kg (own sum)."""
    lots = {"IN-1": made.received("not weighed"), "BL-1": made.drawing("10 kg", ("IN-1", "10 kg"))}
    sent = {"date": "2026-04-21", "lot": "IN-1", "event": "sent", "to": "a school", "mass": "5 kg"}
    after = books(sent, weighed("IN-1", "47.4 kg"), lots=lots)
    assert after.masses["IN-1"].value == Fraction("62.4")
    assert after.stock["IN-1"].books_kg == Fraction("47.4")
    assert after.stock["IN-1"].adjusted_kg == 0


def test_weighed_in_the_morning_and_used_up_the_same_day() -> None:
    """A first weighing comes before what its day takes: 4.5 kg weighed and drawn leave nothing and no doubt."""
    draw = {"lot": "IN-1", "mass": "4.5 kg", "empties": "yes"}
    lots = {"IN-1": made.received("not weighed"), "BL-1": made.drawing("4.5 kg", draw)}
    after = books(weighed("IN-1", "4.5 kg", "2026-04-20"), lots=lots)
    assert after.masses["IN-1"].value == Fraction("4.5")
    assert after.stock["IN-1"].books_kg == 0
    assert after.stock["IN-1"].difference_kg == 0
    assert after.doubts == ()


def test_what_was_taken_unweighed_leaves_it_open() -> None:
    """Where something left unweighed before, what came in cannot be told; what is there now can."""
    lots = {"IN-1": made.received("not weighed"), "BL-1": made.drawing("10 kg", ("IN-1", "not weighed"))}
    after = books(weighed("IN-1", "47.4 kg"), lots=lots)
    assert after.masses["IN-1"] is None
    assert after.stock["IN-1"].books_kg == Fraction("47.4")


def test_a_second_weighing_is_an_adjustment() -> None:
    """Only the first weighing stands for what came in: the next one is a signed stock adjustment."""
    lots = {"IN-1": made.received("not weighed")}
    after = books(weighed("IN-1", "62.4 kg"), weighed("IN-1", "62.1 kg", "2026-05-02"), lots=lots)
    assert after.masses["IN-1"].value == Fraction("62.4")
    assert after.stock["IN-1"].adjusted_kg == Fraction("-0.3")


def test_a_weighed_lot_keeps_its_mass() -> None:
    """A lot that was weighed when it came in is not weighed anew by a later weighing."""
    after = books(weighed("IN-1", "60 kg"), lots={"IN-1": made.received("62.4 kg")})
    assert after.masses["IN-1"].value == Fraction("62.4")


def test_runs_close_once_all_is_weighed() -> None:
    """A run whose result was weighed the next day closes as if it had been weighed at once."""
    lots = {
        "IN-1": made.received("62.4 kg"),
        "SH-1": made.drawing("not weighed", ("IN-1", "62.4 kg"), operation="shred"),
    }
    before, after = books(lots=lots), books(weighed("SH-1", "62.3 kg"), lots=lots)
    assert before.closures["SH-1"].residual_kg is None
    assert after.closures["SH-1"].residual_kg == Fraction("0.1")
    assert [p.code for p in before.doubts if p.code == "not-weighed"] == ["not-weighed"]
    assert [p.code for p in after.doubts if p.code == "not-weighed"] == []


def test_a_weighing_on_the_same_scale_shares_its_bias() -> None:
    """The mass has the scale of the weighing: 0.1 kg step and repeat, 0.1 kg bias (JCGM 100:2008, 4.3.7, F.2.2.1).

    u² = (0.05² + 0.1²)/3 + 0.1²/3.
    """
    after = books(weighed("IN-1", "62.4 kg", scale="floor"), lots={"IN-1": made.received("not weighed")})
    mass = after.masses["IN-1"]
    assert abs(after.book.weighings.u(mass) - ((0.05**2 + 0.1**2 + 0.1**2) / 3) ** 0.5) < 1e-12
