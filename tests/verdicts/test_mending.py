"""What is said about a repaired thing: its own shares, its own stream, what was replaced and what stayed in use."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from shops_in_code import received, result, run, shop

from passport.massflow.composition import tag_node
from passport.massflow.trace import sources_of
from passport.verdicts.book import Book, work_out
from passport.verdicts.single_stream import Stream

PROOF = {"evidence": [{"test": "ftir", "reads": "PP", "match": "95 %"}]}
OTHER = {"evidence": [{"test": "nir", "reads": "PE-HD", "pieces": "20", "drawn": "random"}]}
BENCH = {
    "product": "planter",
    "date": "2026-05-01",
    "count": "2",
    "mass": "10 kg each",
    "parts": [
        {"part": "frame", "mass": "8 kg", "joined": "screwed", "draws": [{"lot": "A", "mass": "16 kg"}]},
        {"part": "seat", "mass": "2 kg", "joined": "screwed", "draws": [{"lot": "V", "mass": "4 kg"}]},
    ],
}


def book(*, new: dict[str, Any] = PROOF, part: str = "seat", mass: str = "2 kg") -> Book:
    """Two benches of PP: 8 kg used frame and 2 kg virgin seat; RY-1 gets 2 kg of lot N in place of its old part."""
    lots = {
        "A": received("20 kg", **PROOF),
        "V": received("10 kg", "VIRGIN", **PROOF),
        "N": received("10 kg", **new),
        "OLD": result("REP", mass, date="2026-08-01"),
    }
    old = {"tag": "RY-1", "mass": mass} | ({"part": part} if part else {})
    repair = run({"lot": "N", "mass": "2 kg"}, old, operation="repair", date="2026-08-01")
    return work_out(shop(lots=lots, runs={"REP": repair}, items={"I": BENCH}, tags={"RY-1": "I", "RY-2": "I"}))


def test_the_repaired_thing_has_figures_of_its_own() -> None:
    """All of RY-1 is used plastic now; its sister keeps the figure of the batch, 8 of 10 kg less the guard band."""
    found = book()
    mended, sister = found.of_thing(found.lives["RY-1"]), found.of_thing(found.lives["RY-2"])
    assert [s.share.value for s in mended.recycled.value or ()] == [1, 1]
    assert [s.share.value for s in sister.recycled.value or ()] == [Fraction(4, 5), Fraction(4, 5)]
    assert sister is found.items["I"]
    assert mended.marks == (">PP(REC100)<",)


def test_a_new_part_of_another_resin_makes_two_streams() -> None:
    """PE-HD screwed onto PP: no more one stream, but it comes apart; the batch stays one stream."""
    found = book(new=OTHER)
    answers = [found.of_thing(found.lives[tag]).stream.value for tag in ("RY-1", "RY-2")]
    assert [a.answer for a in answers if a] == [Stream.SEVERAL_SEPARABLE, Stream.ONE]
    assert answers[0] is not None
    assert [(p.part, p.resin) for p in answers[0].parts] == [("frame", "PP"), ("seat", "PE-HD")]


def test_an_unproven_part_leaves_the_whole_thing_unproven() -> None:
    """What nobody tested went in: the thing is not established any more."""
    found = book(new={})
    stream = found.of_thing(found.lives["RY-1"]).stream.value
    assert stream is not None
    assert stream.answer is Stream.NOT_ESTABLISHED


@pytest.mark.parametrize(("part", "kept"), [("seat", 8), ("", 8)])
def test_a_repair_keeps_in_use_what_it_did_not_replace(part: str, kept: int) -> None:
    """2 kg in, 2 kg out of 10 kg: 8 kg stayed in use, where a new bench takes 10 kg."""
    (mending,) = book(part=part).mendings["RY-1"]
    assert (mending.put_in_kg, mending.taken_out_kg, mending.kept_kg, mending.new_kg) == (2, 2, kept, 10)
    assert (mending.sources, mending.old, mending.run) == (("N",), ("OLD",), "REP")


def test_what_was_not_weighed_saves_nothing_that_could_be_said() -> None:
    """An old part that nobody weighed, of a thing without named part, leaves what stayed in use unknown."""
    (mending,) = book(part="", mass="not weighed").mendings["RY-1"]
    assert mending.kept_kg is None
    assert mending.new_kg == 10


def test_the_model_of_custody_is_that_of_the_thing_as_it_is_now() -> None:
    """Used and virgin lots were blended by weight in the batch; the mended bench holds used lots only."""
    found = book()
    assert found.custody["I"].words == "controlled-blending"
    assert found.custody["RY-1"].words == "segregated"


def test_a_trace_of_the_thing_is_of_what_is_in_it_now() -> None:
    """8 kg of lot A and 2 kg of lot N: the masses of a trace add up to the mended bench, not to its batch."""
    ledger = book().ledger
    traced = {origin.lot: origin.mass_kg for origin in sources_of(ledger, tag_node("RY-1"))}
    assert traced == {"A": 8, "N": 2}
    assert {origin.lot: origin.mass_kg for origin in sources_of(ledger, "I")} == {"A": 16, "V": 4}
