"""What became of the things that went out: cohorts, ages, fates of their plastic."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from typing import Any

import pytest
from shops_in_code import received, shop

from passport.reading.decode import adapter
from passport.reading.records import Lot
from passport.reading.tag_lists import IssuedTag
from passport.verdicts.book import Book, work_out
from passport.verdicts.cohorts import (
    BACK,
    DESTROYED,
    ELSEWHERE,
    LOST,
    age_of,
    cohorts,
    fates,
    in_use_by,
    made_by_lives,
    readings,
    things_out,
)

PP = {"evidence": [{"test": "ftir", "reads": "PP", "match": "95 %"}]}
ITEM = {
    "product": "planter",
    "date": "2025-01-01",
    "count": "8",
    "mass": "10 kg each",
    "parts": [
        {"part": "body", "mass": "8 kg", "draws": [{"lot": "A", "mass": "64 kg"}]},
        {"part": "lid", "mass": "2 kg", "draws": [{"lot": "A", "mass": "16 kg"}]},
    ],
}
NUMBERS = [f"RY-{n}" for n in range(1, 9)]


def happened(tag: str, day: str, event: str, **more: str) -> dict[str, Any]:
    """One event."""
    return {"date": day, "tag": tag, "event": event, **more}


def back(day: str, tag: str, mass: str, **more: Any) -> dict[str, Any]:
    """A lot that a thing became."""
    came = {key: more.pop(key) for key in ("parts", "not_back") if key in more}
    return {"date": day, "received": {"tags": [{"tag": tag, **came}]}, "mass": mass, **more}


def yard(*extra: dict[str, Any], evidence: dict[str, Any] = PP) -> Book:
    """Eight things of 10 kg, of which seven went out in two years.

    By the end of 2026: 1 whole back, 2 back without its lid, 3 lost, 4 given on, 5 and 6 not known to have ended,
    7 destroyed; 8 never left.
    """
    out = [happened(tag, "2025-03-01", "handed-over") for tag in NUMBERS[:4]]
    out += [happened(tag, "2026-03-01", "handed-over") for tag in NUMBERS[4:7]]
    ends = [
        happened("RY-3", "2025-12-01", "lost"),
        happened("RY-4", "2026-01-01", "given-on", stream="council bring bank"),
        happened("RY-7", "2026-04-01", "destroyed"),
        happened("RY-5", "2026-12-31", "inspected", condition="sound"),
    ]
    lots = {
        "A": received("80 kg", **evidence),
        "B1": back("2025-09-01", "RY-1", "9.9 kg"),
        "B2": back("2026-09-01", "RY-2", "8 kg", not_back=["lid"]),
    }
    return work_out(shop(lots=lots, items={"I": ITEM}, events=[*out, *ends, *extra], tags=dict.fromkeys(NUMBERS, "I")))


def test_each_thing_is_counted_once_with_its_end() -> None:
    """Seven went out; the eighth never left and is in no cohort."""
    assert {t.life.tag: t.end for t in things_out(yard())} == {
        "RY-1": BACK,
        "RY-2": BACK,
        "RY-3": LOST,
        "RY-4": ELSEWHERE,
        "RY-5": "",
        "RY-6": "",
        "RY-7": DESTROYED,
    }


def test_a_found_thing_is_out_again() -> None:
    """Lost, then put up again: not known to have ended, and counted from the day it first went out."""
    (thing,) = [
        t for t in things_out(yard(happened("RY-3", "2026-02-01", "put-up", place="quay"))) if t.life.tag == "RY-3"
    ]
    assert (thing.end, thing.out.isoformat(), thing.last.isoformat()) == ("", "2025-03-01", "2026-12-31")


def test_a_new_number_carries_the_life_on() -> None:
    """RY-5 is replaced by RY-9 on the same piece: one thing, out since its hand-over under the old number."""
    built = yard(happened("RY-5", "2026-05-01", "replaced", by="RY-9")).shop
    new = IssuedTag(
        tag="RY-9", item="I", piece=5, issued=built.issued[0].issued, seal="0" * 8, place=built.issued[0].place
    )
    events = tuple(e for e in built.events if getattr(e, "event", "") != "inspected")
    found = things_out(work_out(dataclasses.replace(built, issued=(*built.issued, new), events=events)))
    assert [t.life.tag for t in found if t.life.piece == 5] == ["RY-9"]
    assert [t.out.isoformat() for t in found if t.life.piece == 5] == ["2026-03-01"]


def test_a_withdrawn_number_ends_the_watching_only() -> None:
    """Its thing is in no count of things in use, and no end is known of it."""
    found = things_out(yard(happened("RY-6", "2026-06-01", "withdrawn")))
    (thing,) = [t for t in found if t.life.tag == "RY-6"]
    assert (thing.end, thing.spell.days) == ("", 92)
    assert in_use_by(found) == {"PLANTER": {"one": 1}}


def test_cohorts_by_hand() -> None:
    """Year 2025 on paper: come back is 1/4 at first, then (3/4·2/3·1/2)·1/1 = 1/4 more.

    Four went out on 2025-03-01: one is back after 184 days, one lost after 275, one given on after 306, one back
    after 549.
    """
    everything, first, second = cohorts(things_out(yard()))
    assert (everything.year, first.year, second.year) == (0, 2025, 2026)
    assert [(p.day, p.at_risk, p.value) for p in first.back] == [
        (184, 4, Fraction(1, 4)),
        (275, 3, Fraction(1, 4)),
        (306, 2, Fraction(1, 4)),
        (549, 1, Fraction(1, 2)),
    ]
    assert [p.value for p in first.lasting] == [Fraction(3, 4), Fraction(1, 2), Fraction(1, 4), 0]
    assert [second.ended(end) for end in ("", BACK, DESTROYED)] == [2, 0, 1]


def test_curves_are_read_no_further_than_somebody_is_watched() -> None:
    """The second year's things were out for 305 days at most: a quarter and a half year, not a whole one.

    Where nothing has come back yet the exact bound stands: 0 of 2 is at most 1 − √0.025.
    """
    second = cohorts(things_out(yard()))[2]
    found = readings(second, second.back, start=0)
    assert [(r.days, r.at_risk, r.value) for r in found] == [(91, 2, 0), (183, 2, 0)]
    # the destruction after 31 days is a point of the curve, with three at risk on its morning
    assert found[0].high == pytest.approx(1 - 0.025 ** (1 / 3))
    lasting = readings(second, second.lasting, start=1)
    assert [r.value for r in lasting] == [Fraction(2, 3), Fraction(2, 3)]


def test_fates_add_up_to_all_that_ended() -> None:
    """Of five things of 10 kg: 10 + 8 kg in their own stream, 2 kg of lid not back, 10 given on, 20 lost for good."""
    book = yard()
    found = fates(book, things_out(book))
    assert (found.own_kg, found.down_kg, found.not_back_kg, found.elsewhere_kg, found.lost_kg) == (18, 0, 2, 10, 20)
    assert found.ended_kg == 50
    assert (found.own, found.ended) == (2, 5)


def test_what_is_not_proven_or_refused_has_gone_down() -> None:
    """Nobody tested it, or it was refused at the gate: it came back, but not into its own stream."""
    untested = yard(evidence={})
    found = fates(untested, things_out(untested))
    assert (found.own_kg, found.down_kg, found.own) == (0, 18, 0)
    refused = yard({"date": "2026-10-01", "lot": "B1", "event": "refused", "because": "smells of diesel"})
    found = fates(refused, things_out(refused))
    assert (found.own_kg, found.down_kg, found.own) == (8, 10, 1)


def test_things_in_use_by_age() -> None:
    """RY-5 and RY-6 have been out for 305 days: between a half and one year."""
    assert in_use_by(things_out(yard())) == {"PLANTER": {"one": 2}}
    assert [age_of(days) for days in (0, 182, 183, 364, 365, 729, 730, 3652)] == [
        *("half", "half", "one", "one", "two", "two", "five", "older"),
    ]


def test_lives_of_the_plastic_made_into_things() -> None:
    """All 80 kg had one life before."""
    assert made_by_lives(yard()) == {1: 80}


def test_parts_that_come_back_one_after_another_are_one_thing() -> None:
    """RY-2's body came first and its lid two weeks later: 10 + 8 + 2 kg in their own stream, nothing left out."""
    lid = back("2026-09-15", "RY-2", "2 kg", parts=["lid"])
    body = back("2026-09-01", "RY-2", "8 kg", parts=["body"])
    book = yard()
    lots = dict(book.shop.lots) | {
        "B2": adapter(Lot).validate_python({"id": "B2", **body}),
        "B3": adapter(Lot).validate_python({"id": "B3", **lid}),
    }
    both = work_out(dataclasses.replace(book.shop, lots=lots))
    found = fates(both, things_out(both))
    assert (found.own_kg, found.not_back_kg, found.own, found.ended) == (20, 0, 2, 5)
