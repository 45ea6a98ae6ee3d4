"""What waits for the scale, and slips whose hint says the likeliest thing."""

from __future__ import annotations

import shops_in_code as made

from passport.massflow import settle
from passport.problems import Level


def problems(lots, events=(), **more):
    """Level, code, message and hint of everything the books say."""
    found = settle(made.shop(lots=lots, events=events, **more), {}).doubts
    return [(p.level.value, p.code, p.message, p.hint) for p in found]


def test_goods_in_that_wait_for_the_scale_are_advice() -> None:
    """An unweighed sack is no doubt about anything yet; the desk is told how to weigh it, until it was."""
    lots = {"IN-1": made.received("not weighed")}
    assert problems(lots) == [
        (
            "advice",
            "lot-not-weighed",
            "met IN-1 not weighed, wanted its mass: figures that need it are withheld",
            "when it has been on the scale: passport receive --weigh IN-1",
        )
    ]
    event = {"date": "2026-04-30", "lot": "IN-1", "event": "weighed", "mass": "5 kg", "because": "first weighing"}
    assert problems(lots, [event]) == []


def test_an_unweighed_result_can_still_be_weighed() -> None:
    """The hint names the lot that is there; where only a draw was not weighed, it says that nothing can be done."""
    source = {"A": made.received("62.4 kg")}
    result = problems(source | {"B": made.drawing("not weighed", ("A", "62.4 kg"), operation="shred")})
    drawn = problems(source | {"B": made.drawing("5 kg", ("A", "not weighed"), operation="shred")})
    assert [hint for _, code, _, hint in result if code == "not-weighed"] == [
        "no figure until it is weighed: passport receive --weigh B"
    ]
    assert [hint for _, code, _, hint in drawn if code == "not-weighed"] == [
        "write down what was weighed; where nothing was, no figure is published, and that is honest"
    ]


def test_a_hundred_times_too_much_is_a_slip_of_units() -> None:
    """220 kg from a lot of 0.45 kg are 220 g; 0.6 kg from it are a matter for the scale (one of a gram)."""
    for mass, asks in (("220 kg", True), ("0.6 kg", False)):
        lots = {"A": made.received("450 g", scale="bench"), "B": made.drawing(mass, ("A", mass), scale="bench")}
        found = problems(lots)
        hints = [hint for _, code, _, hint in found if code == "overdrawn"]
        assert len(hints) == 1
        assert hints[0].startswith("is that g or kg? ") is asks


def test_a_circle_is_said_once() -> None:
    """A lot that draws on itself is one error; that its sums do not close follows from it and is not said."""
    lots = {"A": made.received("10 kg"), "B": made.drawing("8 kg", ("A", "2 kg"), ("B", "9 kg"))}
    found = settle(made.shop(lots=lots), {}).doubts
    assert [(p.level, p.code) for p in found] == [(Level.ERROR, "cycle")]
