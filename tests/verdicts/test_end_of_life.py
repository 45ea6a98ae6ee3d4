"""The end of a thing: its parts, what each weighs, where a new one comes from, what is doubtful about it."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from typing import Any

import pytest
from shops_in_code import received, result, run, shop

from passport.reading.decode import adapter
from passport.reading.records import Recall, Stream
from passport.verdicts.book import Book, work_out
from passport.verdicts.end_of_life import EndOfLife, end_of_life
from passport.verdicts.single_stream import Stream as Answer

PP = {"evidence": [{"test": "ftir", "reads": "PP", "match": "95 %"}], "form": "sheets"}
PE = {
    "evidence": [{"test": "nir", "reads": "PE-HD", "pieces": "20", "drawn": "random"}],
    "form": "sheets",
}
STEEL = {"what": "screws", "material": "steel", "mass": "40 g", "count": "4 each", "joined": "screwed", "tool": "PZ2"}


def box(*, body: dict[str, Any] = PP, roof: dict[str, Any] = PE, joined: str = "screwed", **more: Any) -> Book:
    """Two boxes of 1.6 kg body (lot A) and 0.4 kg roof (lot B), with 20 g of steel screws each."""
    lots = {
        "A": received("10 kg", **body),
        "B": received("10 kg", **roof),
        "S": received("3 kg", "PRE", **PE),
    } | more.pop("lots", {})
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "mass": "2 kg each",
        "parts": [
            {"part": "body", "mass": "1.6 kg", "joined": joined, "draws": [{"lot": "A", "mass": "3.2 kg"}]},
            {"part": "roof", "mass": "0.4 kg", "joined": joined, "draws": [{"lot": "B", "mass": "0.8 kg"}]},
        ],
        "hardware": [STEEL],
    }
    recalls = more.pop("recalls", {})
    built = shop(lots=lots, items={"I": item}, tags={"RY-1": "I", "RY-2": "I"}, **more)
    read = {k: adapter(Recall).validate_python({"id": k, "reason": "lead", **v}) for k, v in recalls.items()}
    streams = {**built.streams, "POST": adapter(Stream).validate_python(_old_stream())}
    return work_out(dataclasses.replace(built, recalls=read, streams=streams if more.get("streams") else built.streams))


def _old_stream() -> dict[str, str]:
    return {"id": "POST", "title": "old crates", "origin": "post-consumer", "made_before": "2001-01-01"}


def end(book: Book, tag: str = "RY-1") -> EndOfLife:
    """The end of one of them."""
    return end_of_life(book, book.lives[tag])


def test_parts_hardware_and_masses_add_up_to_the_whole() -> None:
    """1.6 + 0.4 kg of plastic and 20 g of steel: 2.02 kg, each part with its resin and its lot."""
    found = end(box())
    assert [(p.part, p.resin, p.mass_kg, p.lots) for p in found.parts] == [
        ("body", "PP", Fraction(8, 5), ("A",)),
        ("roof", "PE-HD", Fraction(2, 5), ("B",)),
    ]
    assert [piece.mass_kg for piece in found.hardware] == [Fraction(20, 1000)]
    assert found.total_kg == Fraction(202, 100)
    assert found.resins == ("PP", "PE-HD")


@pytest.mark.parametrize(
    ("made", "answer", "proven"),
    [
        ({}, Answer.SEVERAL_SEPARABLE, True),
        ({"roof": PP}, Answer.ONE_AFTER_REMOVAL, True),
        ({"joined": "glued"}, Answer.MIXED, False),
        ({"roof": {"form": "sheets"}}, Answer.NOT_ESTABLISHED, False),
    ],
)
def test_each_kind_of_thing_has_its_own_sheet(made: dict[str, Any], answer: Answer, *, proven: bool) -> None:
    """Two resins that part; one once the screws are out; two glued for good; nobody knows."""
    found = end(box(**made))
    assert (found.stream, found.proven) == (answer, proven)
    assert bool(found.resins) == proven
    assert not found.doubtful


def test_a_spare_comes_from_the_same_lot_or_from_its_like() -> None:
    """Body: what is left of A. Roof: what is left of B, then S, its like; what is held is no spare."""
    found = end(box())
    assert [part.spares for part in found.parts] == [("A",), ("B", "S")]
    held = [{"date": "2026-06-01", "lot": "B", "event": "held", "because": "wet"}]
    assert end(box(events=held)).parts[1].spares == ("S",)
    assert end(box(recalls={"R": {"date": "2026-06-01", "lot": "S"}})).parts[1].spares == ("B",)


def test_an_open_recall_makes_it_doubtful_and_an_ended_one_does_not() -> None:
    """Lot B is in every roof; when the recall is cleared, the sheet is as before."""
    called = {"R": {"date": "2026-06-01", "lot": "B"}}
    found = end(box(recalls=called))
    assert (found.doubtful, [c.recall.id for c in found.recalls]) == (True, ["R"])
    cleared = called | {"R2": {"date": "2026-07-01", "clears": "R"}}
    assert (end(box(recalls=cleared)).doubtful, end(box(recalls=cleared)).recalls) == (False, ())


def test_material_old_enough_for_banned_pigments_makes_it_doubtful() -> None:
    """A stream of things made before 2001 may hold them."""
    assert end(box(streams={"POST": "post-consumer"})).old_additives
    assert not end(box()).old_additives


def test_a_mended_thing_has_the_sheet_of_what_it_is_now() -> None:
    """RY-1 has a roof of PP from lot A now: one stream; RY-2 still has two."""
    lots = {"OLD": result("REP", "0.4 kg", date="2026-08-01")}
    repair = run(
        {"lot": "A", "mass": "0.5 kg"},
        {"tag": "RY-1", "part": "roof", "mass": "0.4 kg"},
        operation="repair",
        date="2026-08-01",
    )
    book = box(lots=lots, runs={"REP": repair})
    mended, sister = end(book), end(book, "RY-2")
    assert (mended.stream, sister.stream) == (Answer.ONE_AFTER_REMOVAL, Answer.SEVERAL_SEPARABLE)
    assert [(p.part, p.resin, p.mass_kg, p.lots) for p in mended.parts] == [
        ("body", "PP", Fraction(8, 5), ("A",)),
        ("roof", "PP", Fraction(1, 2), ("A",)),
    ]
