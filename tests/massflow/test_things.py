"""What is drawn on a single thing, or comes back of it, beside what it weighed."""

from fractions import Fraction

import pytest
from shops_in_code import received, result, run, shop

from passport.massflow import settle
from passport.problems import Level

BOX = {
    "product": "planter",
    "date": "2026-05-01",
    "count": "2",
    "mass": "1000 g each",
    "scale": "bench",
    "parts": [
        {"part": "body", "mass": "800 g", "draws": [{"lot": "A", "mass": "1600 g"}]},
        {"part": "lid", "mass": "200 g", "draws": [{"lot": "V", "mass": "400 g"}]},
    ],
}


def settled(lots=None, runs=None):
    """Two boxes of 800 g body (used) and 200 g lid (virgin), weighed on the bench."""
    sources = {"A": received("20 kg"), "V": received("10 kg", "VIRGIN")}
    return settle(shop(lots=sources | (lots or {}), runs=runs, items={"I": BOX}, tags={"RY-1": "I", "RY-2": "I"}), {})


def mended(old="200 g", new="220 g"):
    """A repair of RY-1: a new lid of lot A in, the old one out."""
    draws = ({"lot": "A", "mass": new}, {"tag": "RY-1", "part": "lid", "mass": old})
    lots = {"OLD": result("REP", old, date="2026-08-01", scale="bench")}
    return settled(lots, {"REP": run(*draws, operation="repair", date="2026-08-01", scale="bench")})


def said(ledger, code):
    """The messages of one kind of doubt."""
    found = [problem for problem in ledger.doubts if problem.code == code]
    assert all(problem.level is Level.DOUBT for problem in found)
    return [problem.message for problem in found]


def test_a_repaired_thing_weighs_what_was_left_and_what_was_put_in():
    """1000 g − 200 g + 220 g; its sister keeps its 1000 g; nobody knows a tag that was never issued."""
    ledger = mended()
    assert [ledger.tag_mass(tag).value * 1000 for tag in ("RY-1", "RY-2")] == [1020, 1000]
    assert ledger.tag_mass("RY-9") is None
    assert [part for part, _, _ in ledger.repaired["RY-1"]] == ["body", "lid"]
    assert "RY-2" not in ledger.repaired


def test_a_repair_of_some_of_a_part_leaves_the_rest_of_it_in():
    """50 g of a lid of 200 g came out and 60 g went in: 1010 g, of which 150 g are the old lid's virgin plastic."""
    ledger = mended(old="50 g", new="60 g")
    assert ledger.tag_mass("RY-1").value * 1000 == 1010
    assert [(part, weighed.value * 1000) for part, _, weighed in ledger.repaired["RY-1"]] == [
        ("body", 800),
        ("lid", 150),
        ("lid", 60),
    ]
    assert ledger.tag_mixture("RY-1").share("origin", ["virgin"]).value == Fraction(150, 1010)


def test_a_repair_without_a_part_takes_its_mass_off_all_parts_alike():
    """100 g out of 1000 g: a tenth of the body and a tenth of the lid, as the old lot holds them."""
    draws = ({"lot": "A", "mass": "100 g"}, {"tag": "RY-1", "mass": "100 g"})
    lots = {"OLD": result("REP", "100 g", date="2026-08-01", scale="bench")}
    ledger = settled(lots, {"REP": run(*draws, operation="repair", date="2026-08-01", scale="bench")})
    assert [weighed.value * 1000 for _, _, weighed in ledger.repaired["RY-1"]] == [720, 180, 100]
    assert ledger.mixtures["OLD"].share("origin", ["virgin"]).value == Fraction(1, 5)


def test_a_repair_cannot_take_out_more_than_the_part_weighs():
    """A lid of 200 g gave 260 g: a doubt; 201 g lies within what the scale can tell."""
    assert said(mended(old="201 g"), "tag-overdrawn") == []
    assert said(mended(old="260 g"), "tag-overdrawn") == [
        'met 0.06 kg more taken from the part "lid" of RY-1 by REP than it weighs, wanted what is there'
    ]


@pytest.mark.parametrize(("first", "second", "over"), [("600 g", "390 g", None), ("600 g", "460 g", "0.06")])
def test_a_thing_cut_up_twice_gives_no_more_than_it_weighed(first, second, over):
    """What two runs drew on one tag counts together."""
    lots = {"S1": result("R1", first, date="2026-07-01"), "S2": result("R2", second, date="2026-07-02")}
    runs = {
        name: run({"tag": "RY-1", "mass": mass}, operation="shred", date=day, scale="bench")
        for name, mass, day in (("R1", first, "2026-07-01"), ("R2", second, "2026-07-02"))
    }
    wanted = [f"met {over} kg more taken from RY-1 by R2 than it weighs, wanted what is there"] if over else []
    assert said(settled(lots, runs), "tag-overdrawn") == wanted


def back(mass, **came):
    """RY-1 handed back as lot BACK."""
    more = {name: came.pop(name) for name in ("because", "moisture") if name in came}
    tags = [{"tag": "RY-1", **came}]
    return {"BACK": {"date": "2026-09-01", "received": {"tags": tags}, "mass": mass, "scale": "bench", **more}}


def test_what_comes_back_heavier_than_it_left_is_doubtful_until_somebody_says_why():
    """A body of 800 g that weighs 950 g has soil in it; lighter things are no doubt, and a reason settles it."""
    assert said(settled(back("950 g", parts=["body"])), "back-heavier") == [
        "met BACK 0.15 kg heavier than the things in it were when they left, wanted no more"
    ]
    assert said(settled(back("990 g")), "back-heavier") == []
    assert said(settled(back("950 g", parts=["body"], because="soil in the joints")), "back-heavier") == []


def test_water_that_somebody_measured_is_no_weight_too_much():
    """950 g with 16 % of water are 798 g of plastic; with 5 % they are 102 g too many."""
    assert said(settled(back("950 g", parts=["body"], moisture="16 %")), "back-heavier") == []
    assert said(settled(back("950 g", parts=["body"], moisture="5 %")), "back-heavier") == [
        "met BACK 0.102 kg heavier than the things in it were when they left, wanted no more"
    ]


def test_the_mass_that_left_is_known_for_each_return():
    """The body alone left with 800 g; the books keep that beside what came back."""
    ledger = settled(back("790 g", not_back=["lid"]))
    assert ledger.left_as["BACK"].value * 1000 == 800
