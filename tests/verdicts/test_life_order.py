"""What cannot have happened in that order is an error that names both dates."""

import pytest
from shops_in_code import received, result, run, shop

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


BOX = {
    "product": "planter",
    "date": "2026-05-20",
    "count": "2",
    "parts": [
        {"part": "body", "mass": "4 kg", "draws": [{"lot": "A", "mass": "8 kg"}]},
        {"part": "lid", "mass": "1 kg", "draws": [{"lot": "A", "mass": "2 kg"}]},
    ],
}


def in_two_parts(*lots: dict, item: dict = BOX) -> list[str]:
    """What is said about lots that took a box, or parts of it, back."""
    merged = {name: lot for each in lots for name, lot in each.items()}
    built = shop(lots={"A": received("10 kg"), **merged}, items={"PL-1": item}, tags={TAG: "PL-1"})
    return [problem.message for problem in order_problems(built, lives(built))]


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


@pytest.mark.parametrize("end", ["destroyed", "withdrawn"])
def test_what_is_no_more_does_not_come_back(end: str) -> None:
    """On the day of its end or later; what was taken apart may come back in parts."""
    (problem,) = found({"date": "2026-06-01", "event": end}, lots=back("RT-1", "2026-06-01"))
    assert problem.message == (
        f"met RY-22224M handed back in RT-1 on 2026-06-01, wanted nothing after it was {end} (2026-06-01)"
    )
    assert found({"date": "2026-06-01", "event": "taken-apart"}, lots=back("RT-1", "2026-06-01")) == []


def test_a_replaced_number_is_not_handed_back_but_its_successor() -> None:
    """The hint names the number that the thing has now."""
    built = shop(
        lots={"A": received("10 kg"), **back("RT-1", "2026-07-01")},
        items={"PL-1": ITEM | {"count": "1", "mass": "5 kg"}},
        tags={TAG: "PL-1"},
        events=[{"date": "2026-06-01", "tag": TAG, "event": "replaced", "by": OTHER}],
    )
    (problem,) = order_problems(built, lives(built))
    assert problem.hint == f"name the number that the thing has now: {OTHER}"


def test_each_part_comes_back_once() -> None:
    """Body and lid in two lots are fine; the lid twice, or the whole after a part, is not."""
    body, lid = back("RT-1", "2026-06-01", parts=["body"], not_back=["lid"]), back("RT-2", "2026-07-01", parts=["lid"])
    assert in_two_parts(body, lid) == []
    twice = "met RY-22224M handed back in RT-3, wanted it once (first in {})"
    assert in_two_parts(body, lid, back("RT-3", "2026-08-01", parts=["lid"])) == [twice.format("RT-2")]
    assert in_two_parts(body, lid, back("RT-3", "2026-08-01")) == [twice.format("RT-1")]
    assert in_two_parts(body, back("RT-3", "2026-08-01", not_back=["body"])) == []
    assert in_two_parts(back("RT-1", "2026-06-01"), back("RT-3", "2026-06-02", parts=["all"]), item=ITEM) == [
        twice.format("RT-1")
    ]


@pytest.mark.parametrize(
    ("day", "events", "lots", "wanted"),
    [
        ("2026-05-01", [], {}, "it after it was made (2026-05-20)"),
        (
            "2026-06-02",
            [{"date": "2026-06-01", "event": "destroyed"}],
            {},
            "nothing after it was destroyed (2026-06-01)",
        ),
        ("2026-06-02", [], back("RT-1", "2026-06-01"), "nothing after it became RT-1 (2026-06-01)"),
    ],
)
def test_a_thing_is_mended_while_it_is_about(day: str, events: list[dict], lots: dict, wanted: str) -> None:
    """A repair before it was made, after it was gone, after it had become material."""
    draws = ({"lot": "A", "mass": "1 kg"}, {"tag": TAG, "mass": "1 kg"})
    built = shop(
        lots={"A": received("20 kg"), "OLD": result("REP", "1 kg", date=day), **lots},
        runs={"REP": run(*draws, operation="repair", date=day)},
        items={"PL-1": ITEM},
        tags={TAG: "PL-1"},
        events=[{"tag": TAG, **event} for event in events],
    )
    assert [p.message for p in order_problems(built, lives(built))] == [
        f"met RY-22224M drawn by REP on {day}, wanted {wanted}"
    ]


def test_a_repair_names_the_run_that_drew_on_the_thing() -> None:
    """The run of another thing's repair is a slip."""
    draws = ({"lot": "A", "mass": "1 kg"}, {"tag": OTHER, "mass": "1 kg"})
    built = shop(
        lots={"A": received("20 kg"), "OLD": result("REP", "1 kg", date="2026-06-01")},
        runs={"REP": run(*draws, operation="repair", date="2026-06-01")},
        items={"PL-1": ITEM},
        tags={TAG: "PL-1", OTHER: "PL-1"},
        events=[{"date": "2026-06-01", "tag": TAG, "event": "repaired", "run": "REP"}],
    )
    (problem,) = order_problems(built, lives(built))
    assert problem.message == "met RY-22224M repaired in REP, wanted a run that draws on RY-22224M"


def test_a_lot_is_weighed_once_it_is_there() -> None:
    """And held or sent; on its own day is early enough."""
    events = [
        {"date": "2026-04-10", "lot": "A", "event": "held"},
        {"date": "2026-04-11", "lot": "A", "event": "weighed", "mass": "9 kg", "because": "scale"},
    ]
    built = shop(lots={"A": received("10 kg")}, events=events)
    (problem,) = order_problems(built, lives(built))
    assert problem.message == "met A held on 2026-04-10, wanted it once A was there (2026-04-11)"
