"""What a recall reaches, and how it ends."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from typing import Any

from shops_in_code import drawing, received, result, run, shop

from passport.reading.decode import adapter
from passport.reading.records import Recall
from passport.reading.shop import Shop
from passport.verdicts.book import work_out
from passport.verdicts.recalls import CalledBack

THING = {"product": "planter", "date": "2026-05-01", "count": "1", "mass": "4 kg each"}


def with_recalls(built: Shop, **recalls: dict[str, Any]) -> dict[str, CalledBack]:
    """What each recall of a shop reaches."""
    read = {k: adapter(Recall).validate_python({"id": k, "reason": "lead", **v}) for k, v in recalls.items()}
    return dict(work_out(dataclasses.replace(built, recalls=read)).recalls)


def yard(**more: Any) -> Shop:
    """A (3 kg) and B (1 kg) in a blend and a thing RY-1 of it; RY-2 is of C alone, handed over and back as lot BACK."""
    lots = {
        "A": received("10 kg"),
        "B": received("10 kg", "PRE"),
        "C": received("10 kg"),
        "MIX": drawing("4 kg", ("A", "3 kg"), ("B", "1 kg")),
        "BACK": {"date": "2026-08-01", "received": {"tags": [{"tag": "RY-2"}]}, "mass": "4 kg"},
    } | more.pop("lots", {})
    items = {
        "I": THING | {"draws": [{"lot": "MIX", "mass": "4 kg"}]},
        "J": THING | {"draws": [{"lot": "C", "mass": "4 kg"}]},
    }
    events = [{"date": "2026-06-01", "tag": "RY-2", "event": "handed-over", "place": "quay"}]
    return shop(lots=lots, items=items, events=events, tags={"RY-1": "I", "RY-2": "J"}, **more)


def test_a_lot_is_followed_into_blends_things_and_returns() -> None:
    """B is a quarter of the blend and of the thing: 1 kg of its 4; C reaches what came back of it."""
    found = with_recalls(yard(), R1={"date": "2026-09-01", "lot": "B"}, R2={"date": "2026-09-02", "lot": "C"})
    assert dict(found["R1"].lots) == {"B": 1, "MIX": Fraction(1, 4)}
    assert [(t.life.tag, t.share, t.mass_kg) for t in found["R1"].things] == [("RY-1", Fraction(1, 4), 1)]
    assert dict(found["R2"].lots) == {"C": 1, "BACK": 1}
    (thing,) = found["R2"].things
    assert (thing.life.tag, getattr(thing.last, "place", ""), thing.life.lot) == ("RY-2", "quay", "BACK")


def test_a_stream_calls_back_all_its_lots() -> None:
    """POST gave A and C: three quarters of RY-1 and all of RY-2."""
    (called,) = with_recalls(yard(), R1={"date": "2026-09-01", "stream": "POST"}).values()
    assert called.roots == ("A", "C")
    assert [(t.life.tag, t.share) for t in called.things] == [("RY-1", Fraction(3, 4)), ("RY-2", Fraction(1))]


def test_a_repaired_thing_is_reached_by_what_is_in_it_now() -> None:
    """RY-1 got 2 kg of C in place of as much: C is half of it, and B only an eighth."""
    lots = {"OLD": result("REP", "2 kg", date="2026-08-05")}
    repair = run({"lot": "C", "mass": "2 kg"}, {"tag": "RY-1", "mass": "2 kg"}, operation="repair", date="2026-08-05")
    mended = yard(lots=lots, runs={"REP": repair})
    found = with_recalls(mended, R1={"date": "2026-09-01", "lot": "C"}, R2={"date": "2026-09-02", "lot": "B"})
    assert [(t.life.tag, t.share) for t in found["R1"].things] == [("RY-1", Fraction(1, 2)), ("RY-2", Fraction(1))]
    assert [(t.life.tag, t.share, t.mass_kg) for t in found["R2"].things] == [("RY-1", Fraction(1, 8), Fraction(1, 2))]


def test_a_later_record_ends_a_recall_and_deletes_nothing() -> None:
    """The recall stays with all that it reached, and names the record that ended it; recalls come in order of date."""
    found = with_recalls(
        yard(),
        R1={"date": "2026-09-05", "lot": "B"},
        R2={"date": "2026-09-01", "lot": "A"},
        R3={"date": "2026-09-09", "clears": "R1"},
    )
    assert list(found) == ["R2", "R1"]
    assert [called.open for called in found.values()] == [True, False]
    ended = found["R1"].ended
    assert ended is not None
    assert ended.id == "R3"
    assert len(found["R1"].things) == 1


def test_what_was_drawn_while_it_held_is_doubtful() -> None:
    """A blend of the day a recall begins is said, one of the day before or of the day it ended is not."""

    def doubts(**recalls: dict[str, Any]) -> list[str]:
        read = {k: adapter(Recall).validate_python({"id": k, "reason": "lead", **v}) for k, v in recalls.items()}
        book = work_out(dataclasses.replace(yard(), recalls=read))
        return [p.message for p in book.problems if p.code == "drawn-while-recalled"]

    # MIX drew on A and B on 2026-04-20
    assert doubts(R1={"date": "2026-04-20", "lot": "B"}) == [
        "met a draw on MIX by I while R1 called it back, wanted none",
        "met a draw on B by MIX while R1 called it back, wanted none",
    ]
    assert doubts(R1={"date": "2026-05-02", "lot": "B"}) == []
    assert doubts(R1={"date": "2026-04-11", "lot": "B"}, R2={"date": "2026-04-20", "clears": "R1"}) == []
