"""Corrections: made in order, laid over nothing unseen, placed where they stand."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from unpacking import good_files, unpack

from passport.amounts import Mass
from passport.problems import Place
from passport.reading.corrections import Correction, corrected, event_name, steps, value_at
from passport.reading.decode import record_from
from passport.reading.folder import read_shop
from passport.reading.marked import Source, read_tree
from passport.reading.shop import Shop, latest_date

HEAD = "content/corrections/2026.yaml"
LOT = Source("content/lots/IN-1.yaml", "date: 2026-04-11\nmass: 62.4 kg\ndraws: [{lot: A, mass: 1 kg}, {lot: B}]\n")
TEXT = st.from_regex(r"[a-z][a-z0-9 ]{0,8}[a-z]", fullmatch=True)


def shop_with(folder: Path, corrections: str, **files: str) -> Shop:
    """The sound workshop of the broken cases, with corrections; nothing may be wrong with it."""
    extra = {f"content/{name}": ("", text) for name, text in files.items()}
    shop, problems = read_shop(unpack(good_files() | {HEAD: ("", corrections)} | extra, folder))
    assert (shop is not None, problems) == (True, ())
    assert shop is not None
    return shop


def list_of(*lines: str) -> tuple[Source, list[Correction]]:
    """Corrections as they are read from a list."""
    source = Source(HEAD, "".join(f"- {{date: 2026-06-01, lot: IN-1, because: so, {line}}}\n" for line in lines))
    tree, problems = read_tree(source)
    assert problems == ()
    assert isinstance(tree, list)
    read = [
        record_from(Correction, t, source, at=(n,), lineage={"file": HEAD, "number": n}) for n, t in enumerate(tree)
    ]
    assert [problems for _, problems in read if problems] == []
    return source, [correction for correction, _ in read if correction]


def test_every_figure_follows_the_corrected_value(tmp_path: Path) -> None:
    """The record that the rest of the program sees is the corrected one."""
    shop = shop_with(
        tmp_path,
        "- {date: 2026-06-03, lot: IN-1, field: mass, was: 62.4 kg, is: 64.2 kg, because: The figures were swapped}\n",
    )
    assert shop.lots["IN-1"].mass == Mass(mass_kg=Decimal("64.2"))
    assert [c.because.said("en", "en")[0] for c in shop.corrections["lot", "IN-1"]] == ["The figures were swapped"]


def test_corrections_chain_by_their_day_whatever_the_order_in_the_file(tmp_path: Path) -> None:
    """Two people may write their lists apart: the day decides which comes first."""
    shop = shop_with(
        tmp_path,
        "- {date: 2026-06-05, lot: IN-1, field: mass, was: 64.2 kg, is: 64.1 kg, because: Weighed again}\n"
        "- {date: 2026-06-03, lot: IN-1, field: mass, was: 62.4 kg, is: 64.2 kg, because: The figures were swapped}\n",
    )
    assert shop.lots["IN-1"].mass == Mass(mass_kg=Decimal("64.1"))
    assert [c.date.day for c in shop.corrections["lot", "IN-1"]] == [3, 5]


def test_an_event_is_corrected_by_what_it_said_at_first(tmp_path: Path) -> None:
    """Also its day and its tag: later corrections go on naming it as it was first written."""
    name = "event: 2026-06-02 RY-22222Q handed-over"
    shop = shop_with(
        tmp_path,
        f"- {{date: 2026-06-03, {name}, field: tag, was: RY-22222Q, is: RY-22224M, because: The other one}}\n"
        f"- {{date: 2026-06-04, {name}, field: date, was: 2026-06-02, is: 2026-06-01, because: A day early}}\n",
    )
    (event,) = shop.events
    assert (event.tag, event.date.day) == ("RY-22224M", 1)  # type: ignore[union-attr]
    assert len(shop.corrections["event", "content/events/2026.yaml#0"]) == 2


def test_today_is_not_before_the_latest_correction(tmp_path: Path) -> None:
    """The day that pages print is that of the latest record, and a correction is one."""
    shop = shop_with(tmp_path, "- {date: 2026-09-03, lot: IN-1, field: colour, is: blue, because: Nobody had said}\n")
    assert str(latest_date(shop)) == "2026-09-03"


def test_a_doubt_about_a_corrected_value_points_to_the_correction(tmp_path: Path) -> None:
    """Whoever mends it must not look in the record, which stays as it was; places beside it stay in the record."""
    line = "- {date: 2026-06-03, lot: BAR-1, field: draws.0.mass, was: 40 kg, is: 40.1 kg, because: Read off wrongly}\n"
    shop = shop_with(tmp_path, line)
    assert shop.place("lot", "BAR-1", "draws", 0, "mass") == Place(HEAD, 1, line.index("40.1") + 1)
    assert shop.place("lot", "BAR-1", "draws", 0, "lot").file == "content/lots/BAR-1.yaml"
    assert shop.place("lot", "BAR-1", "mass").file == "content/lots/BAR-1.yaml"


def test_a_place_inside_a_corrected_list_is_found() -> None:
    """The correction's own brackets are looked into; the word that chose a kind of entry is no step of a file."""
    source, made = list_of("field: draws, was: [{lot: A, mass: 1 kg}, {lot: B}], is: [{lot: C, mass: 2 kg}]")
    right, tree, problems = corrected(LOT, read_tree(LOT)[0] or "", made, {HEAD: source})
    assert problems == ()
    assert tree == {"date": "2026-04-11", "mass": "62.4 kg", "draws": [{"lot": "C", "mass": "2 kg"}]}
    at = right.place("draws", 0, "word", "mass")
    assert (at.file, at.source_line[at.column - 1 :][:4]) == (HEAD, "2 kg")


@given(st.lists(TEXT, min_size=1, max_size=5, unique=True))
def test_a_chain_ends_at_its_last_value(values: list[str]) -> None:
    """However many corrections there are of one field, the last one holds and none is lost."""
    chain = ["62.4 kg", *values]
    source, made = list_of(*(f"field: mass, was: {a}, is: {b}" for a, b in zip(chain, values, strict=False)))
    _, tree, problems = corrected(LOT, read_tree(LOT)[0] or "", made, {HEAD: source})
    assert (value_at(tree, ("mass",)), problems) == (values[-1], ())


@given(TEXT, TEXT)
def test_a_correction_and_its_contrary_change_nothing(there: str, back: str) -> None:
    """What was set right by mistake is set back the same way."""
    lines = [f"field: colour, is: {there}", f"field: colour, was: {there}"]
    if back != there:
        lines = [lines[0], f"field: colour, was: {there}, is: {back}", f"field: colour, was: {back}"]
    source, made = list_of(*lines)
    before = read_tree(LOT)[0] or ""
    assert corrected(LOT, before, made, {HEAD: source})[1:] == (before, ())


def test_a_correction_that_cannot_be_made_changes_nothing() -> None:
    """The others are made all the same, so that one evening's mending is enough."""
    source, made = list_of("field: mass, was: 60 kg, is: 61 kg", "field: draws.1.lot, was: B, is: C")
    _, tree, problems = corrected(LOT, read_tree(LOT)[0] or "", made, {HEAD: source})
    assert [problem.code for problem in problems] == ["correction-was"]
    assert (value_at(tree, ("mass",)), value_at(tree, steps("draws.1.lot"))) == ("62.4 kg", "C")


@pytest.mark.parametrize("field", ["draws.9.lot", "draws.x.lot", "mass.0", "nothing.here"])
def test_a_path_that_leads_nowhere_is_said(field: str) -> None:
    """No step of a path is guessed."""
    source, made = list_of(f"field: {field}, was: A, is: C")
    _, _, problems = corrected(LOT, read_tree(LOT)[0] or "", made, {HEAD: source})
    assert [(problem.code, problem.place.column) for problem in problems] == [("correction-field", 53)]


def test_a_thing_that_is_no_event_has_no_name() -> None:
    """Lists with slips in them are named by their own problems."""
    assert event_name("text") == ""
    assert event_name({"date": ["x"], "tag": "ry-22222q", "event": "lost"}) == " RY-22222Q lost"
