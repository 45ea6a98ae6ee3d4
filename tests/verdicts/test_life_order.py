"""What cannot have happened in that order is an error that names both dates."""

import pytest
from shops_in_code import received, shop

from passport.problems import Problem
from passport.verdicts.life import lives
from passport.verdicts.life_order import order_problems

TAG, OTHER = "RY-22224M", "RY-22225K"
ITEM = {
    "product": "planter",
    "date": "2026-05-20",
    "count": "2",
    "mass": "5 kg each",
    "draws": [{"lot": "A", "mass": "10 kg"}],
}


def found(*events: dict, lots: dict | None = None) -> list[Problem]:
    """The problems of a workshop with two tagged planters made on 20 May 2026."""
    tagged = [{"tag": TAG, **event} for event in events]
    built = shop(
        lots={"A": received("10 kg"), **(lots or {})},
        items={"PL-1": ITEM},
        tags={TAG: "PL-1", OTHER: "PL-1"},
        events=tagged,
    )
    return list(order_problems(built, lives(built)))


def back(name: str, day: str, **more: object) -> dict:
    """A lot that the thing became."""
    return {name: {"date": day, "received": {"tags": [{"tag": TAG, **more}]}, "mass": "4.9 kg"}}


def test_a_life_in_order_has_no_problem() -> None:
    """Handed over, looked at, handed back."""
    events = [
        {"date": "2026-06-01", "event": "handed-over"},
        {"date": "2027-06-01", "event": "inspected", "condition": "sound"},
    ]
    assert found(*events, lots=back("RT-1", "2028-01-01")) == []


def test_the_lost_may_turn_up() -> None:
    """Lost is no end after which nothing can happen."""
    assert found({"date": "2026-06-01", "event": "lost"}, {"date": "2026-07-01", "event": "put-up", "place": "q"}) == []


@pytest.mark.parametrize(
    ("events", "lots", "message"),
    [
        (
            [{"date": "2026-05-01", "event": "handed-over"}],
            {},
            "met RY-22224M handed-over on 2026-05-01, wanted it after it was made (2026-05-20)",
        ),
        (
            [{"date": "2026-06-01", "event": "destroyed"}, {"date": "2026-07-01", "event": "moved", "place": "q"}],
            {},
            "met RY-22224M moved on 2026-07-01, wanted nothing after it was destroyed (2026-06-01)",
        ),
        (
            [{"date": "2026-07-01", "event": "handed-over"}],
            back("RT-1", "2026-06-01"),
            "met RY-22224M handed-over on 2026-07-01, wanted nothing after it became RT-1 (2026-06-01)",
        ),
        (
            [],
            back("RT-1", "2026-05-01"),
            "met RY-22224M handed back on 2026-05-01, wanted it after it was made (2026-05-20)",
        ),
        (
            [],
            back("RT-1", "2026-06-01") | back("RT-2", "2026-07-01"),
            "met RY-22224M handed back in RT-2, wanted it once (first in RT-1)",
        ),
        (
            [{"date": "2026-06-01", "event": "replaced", "by": OTHER}],
            {},
            "met RY-22224M replaced by RY-22225K, wanted a number of the same thing (PL-1, piece 1)",
        ),
    ],
)
def test_what_cannot_have_been_is_named_with_both_records(events: list[dict], lots: dict, message: str) -> None:
    """Each impossible order, in its words."""
    assert [problem.message for problem in found(*events, lots=lots)] == [message]
