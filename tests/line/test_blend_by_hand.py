"""From written records to a stated figure, the whole line, against sums done by hand.

The masses of the three-stage blend are constructed. Published and constructed cases of recycled content carry
their number and status; RC-01 and RC-02 are held at the mass balance alone as well (tests/massflow).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from passport.problems import Level
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

WORKSHOP = "name: Reedmouth Yard\nprefix: RY\ncountry: IE\nlanguages: [en]\nrules: [EU]\n"
SCALE = "scales:\n  floor: {step: 0.1 kg, repeat: 0.1 kg, bias: 0.1 kg}\n"
STREAMS = {
    "post": "post-consumer",
    "pre": "pre-consumer",
    "virgin": "virgin",
    "twenty": "{post-consumer: 20 %, virgin: 80 %}",
    "forty": "{post-consumer: 40 %, virgin: 60 %}",
}
PRODUCT = "title: Planter\nmade_for: Flowers out of doors\n"


def worked_out(folder: Path, **records: str) -> Book:
    """The book of a shop whose records are texts by `kind/name`, with `_` for `-` in names."""
    texts = {"workshop.yaml": WORKSHOP + SCALE, "products/planter.yaml": PRODUCT}
    for name, origin in STREAMS.items():
        paper = "document: Supplier paper 1\n" if origin.startswith("{") else ""
        texts[f"streams/{name}.yaml"] = f"title: {name}\norigin: {origin}\n{paper}"
    for name, text in records.items():
        kind, _, stem = name.partition("_")
        texts[f"{kind}/{stem.replace('_', '-')}.yaml"] = text
    for name, text in texts.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    shop, problems = read_shop(folder)
    assert problems == ()
    assert shop is not None
    return work_out(shop)


def taken_in(stream: str, mass: str, moisture: str = "0 %") -> str:
    """A lot received from a stream."""
    return f"date: 2026-01-10\nreceived: {{stream: {stream}}}\nmass: {mass}\nmoisture: {moisture}\n"


def made(operation: str, draws: dict[str, str], mass: str, day: str, more: str = "") -> str:
    """A lot in the short form; its draws are masses by lot."""
    listed = ", ".join(f"{{lot: {lot}, mass: {drawn}}}" for lot, drawn in draws.items())
    return f"date: {day}\noperation: {operation}\ndraws: [{listed}]\nmass: {mass}\n{more}"


THREE_STAGES = {
    "lots_POST": taken_in("post", "48.0 kg", "2.0 %"),
    "lots_PRE": taken_in("pre", "30.0 kg", "1.0 %"),
    "lots_NEW": taken_in("virgin", "60.0 kg", "0.5 %"),
    "lots_B1": made("blend", {"POST": "40.0 kg", "NEW": "24.0 kg"}, "64.0 kg", "2026-02-01", "moisture: 1.2 %\n"),
    "lots_B2": made("blend", {"B1": "50.0 kg", "PRE": "30.0 kg"}, "80.0 kg", "2026-02-02", "moisture: 1.0 %\n"),
    "lots_B3": made("blend", {"B2": "35.0 kg", "NEW": "15.0 kg"}, "50.0 kg", "2026-02-03", "moisture: 0.8 %\n"),
    "items_PL_1": (
        "product: planter\ndate: 2026-02-04\noperation: mould\ncount: 2\nmass: 24.0 kg each\n"
        "draws: [{lot: B3, mass: 48.4 kg}]\nlosses: {sprues: 0.4 kg}\n"
    ),
}


@pytest.fixture(scope="module")
def three_stages(tmp_path_factory: pytest.TempPathFactory) -> Book:
    """Used flakes with virgin, then with a moulder's trim, then with virgin again, then two planters."""
    return worked_out(tmp_path_factory.mktemp("three"), **THREE_STAGES)


def shares_by_hand() -> tuple[Fraction, Fraction]:
    """(recycled, post-consumer) of the third blend, on dry mass, step by step.

    First blend:   post   40.0 x 0.980 = 39.200 kg      virgin 24.0 x 0.995 = 23.880 kg
                   all    39.200 + 23.880 = 63.080 kg   post share a = 39.200 / 63.080 = 0.62143...
    Second blend:  first  50.0 x 0.988 = 49.400 kg      pre    30.0 x 0.990 = 29.700 kg
                   all    49.400 + 29.700 = 79.100 kg
                   post   49.400 a = 30.69880... kg     post share b = 0.38810...
                   pre share c = 29.700 / 79.100 = 0.37547...
    Third blend:   second 35.0 x 0.990 = 34.650 kg      virgin 15.0 x 0.995 = 14.925 kg
                   all    34.650 + 14.925 = 49.575 kg
                   recycled 34.650 (b + c) / 49.575 = 0.53369...   post-consumer 34.650 b / 49.575 = 0.27126...
    """
    a = Fraction("39.200") / Fraction("63.080")
    b = Fraction("49.400") * a / Fraction("79.100")
    c = Fraction("29.700") / Fraction("79.100")
    third = Fraction("34.650") / Fraction("49.575")
    return third * (b + c), third * b


def test_the_hand_got_its_decimals_right() -> None:
    """The sum done on paper, to five places: 53.369 % recycled, of which 27.126 % post-consumer."""
    recycled, post = shares_by_hand()
    assert (round(float(recycled), 5), round(float(post), 5)) == (0.53369, 0.27126)


def test_a_three_stage_blend_is_what_a_hand_computes(three_stages: Book) -> None:
    """From records to the item, the recycled share is the hand's, exactly."""
    recycled, post = shares_by_hand()
    for node in ("B3", "PL-1"):
        mixture = three_stages.ledger.mixtures[node]
        assert mixture.recycled().value == recycled
        assert mixture.post_consumer().value == post


def test_what_is_stated_is_the_floor_of_the_hands_figure(three_stages: Book) -> None:
    """53.37 % and 27.13 % with weighing uncertainties of some tenths of a point say at least 52 or 53 and 26.

    The floor of X - 1.645 u (JCGM 106:2012, clause 8), u as the ledger says.
    """
    stated = three_stages.items["PL-1"].recycled.value
    assert stated is not None
    for said, value in zip(stated, shares_by_hand(), strict=True):
        assert said.share.u is not None
        assert 0 < said.share.u < 0.006
        assert said.at_least_percent == int((float(value) - 1.645 * said.share.u) * 100)


def test_the_three_stages_close_without_a_doubt(three_stages: Book) -> None:
    """The constructed records are themselves sound: no error and no doubt about a mass."""
    assert [p for p in three_stages.ledger.doubts if p.level is not Level.ADVICE] == []


def test_rc_01_pre_and_post_consumer_add_up(tmp_path: Path) -> None:
    """RC-01: 30 % post- and 20 % pre-consumer are 50 % recycled. 16 CFR 260.7(e) Example 3 (1998), confirmed."""
    book = worked_out(
        tmp_path,
        lots_A=taken_in("post", "30 kg"),
        lots_P=taken_in("pre", "20 kg"),
        lots_V=taken_in("virgin", "50 kg"),
        lots_B=made("blend", {"A": "30 kg", "P": "20 kg", "V": "50 kg"}, "100 kg", "2026-02-01"),
    )
    assert book.ledger.mixtures["B"].recycled().value == Fraction(50, 100)
    assert book.ledger.mixtures["B"].post_consumer().value == Fraction(30, 100)


def test_rc_02_two_parts_of_equal_mass(tmp_path: Path) -> None:
    """RC-02: equal parts of 20 % and 40 % make 30 %. 16 CFR 260.7(e) Example 8 (1998), confirmed."""
    book = worked_out(
        tmp_path,
        lots_A=taken_in("twenty", "20 kg"),
        lots_C=taken_in("forty", "20 kg"),
        items_BOX=(
            "product: planter\ndate: 2026-02-04\ncount: 1\nparts:\n"
            "  - {part: box, mass: 1 kg, draws: [{lot: A, mass: 1 kg}]}\n"
            "  - {part: tray, mass: 1 kg, draws: [{lot: C, mass: 1 kg}]}\n"
        ),
    )
    assert book.ledger.mixtures["BOX"].recycled().value == Fraction(30, 100)


def test_rc_08_own_regrind_raises_nothing(tmp_path: Path) -> None:
    """RC-08: a recipe of 60 % post-consumer with 25 % own regrind stays at 60 %, not 70 %.

    Constructed on the exclusion of rework and regrind in ISO 14021 (rule confirmed).
    """
    book = worked_out(
        tmp_path,
        lots_A=taken_in("post", "120 kg"),
        lots_V=taken_in("virgin", "80 kg"),
        lots_R=made("blend", {"A": "120 kg", "V": "80 kg"}, "200 kg", "2026-02-01", "moisture: 0 %\n"),
        runs_EX="date: 2026-02-02\noperation: extrude\ndraws: [{lot: R, mass: 100 kg}]\n",
        lots_BAR="date: 2026-02-02\nrun: EX\nmass: 70 kg\nmoisture: 0 %\n",
        lots_OC="date: 2026-02-02\nrun: EX\nmass: 30 kg\nform: offcuts\nmoisture: 0 %\n",
        lots_B=made("blend", {"OC": "25 kg", "R": "75 kg"}, "100 kg", "2026-02-03"),
    )
    assert book.ledger.mixtures["B"].recycled().value == Fraction(60, 100)


def test_mb_04_water_is_not_recycled_content(tmp_path: Path) -> None:
    """MB-04: 20 kg of flakes with 5 % of water and 20 kg of dry virgin are 19/39 = 48.72 %, not half.

    Constructed on the rule that what is no plastic is deducted (ISO 14021, 7.8.4; from memory).
    """
    book = worked_out(
        tmp_path,
        lots_A=taken_in("post", "20.0 kg", "5 %"),
        lots_V=taken_in("virgin", "20.0 kg"),
        lots_B=made("blend", {"A": "20.0 kg", "V": "20.0 kg"}, "39.0 kg", "2026-02-01", "losses: {water: 1.0 kg}\n"),
    )
    assert book.ledger.mixtures["B"].recycled().value == Fraction(19, 39)
    assert round(float(book.ledger.mixtures["B"].recycled().value) * 100, 2) == 48.72
