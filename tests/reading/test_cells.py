"""Cells of people's tables: read where they mean one thing, refused with what would settle them where they do not."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.amounts import NotAQuantity
from passport.reading.cells import Ways, guarded, kind_of, said, unguarded
from passport.reading.corrections import steps
from passport.reading.records import AnyEvent, Item, Lot
from passport.reading.spreadsheet import read_grid

OPEN = Ways()


@pytest.mark.parametrize(
    ("record", "path", "kind"),
    [
        (Lot, "mass", "mass"),
        (Lot, "gross", "mass"),
        (Lot, "pieces", "count"),
        (Lot, "moisture", "share"),
        (Lot, "melt", "temperature"),
        (Lot, "melt_flow", "flow"),
        (Lot, "date", "date"),
        (Lot, "weathering", "choice"),
        (Lot, "received.stream", "id"),
        (Lot, "colour", "line"),
        (Lot, "notes", "words"),
        (Lot, "evidence", "fields"),
        (Lot, "losses", "fields"),
        (Lot, "draws.0.empties", "yes-no"),
        (Item, "count", "count"),
        (Item, "hardware", "fields"),
        (AnyEvent, "event", "choice"),
        (AnyEvent, "place", "line"),
        (Lot, "masse", ""),
        (Lot, "received.streams", ""),
    ],
)
def test_the_record_says_what_a_column_holds(record: object, path: str, kind: str) -> None:
    """Nobody tells the import what a mass is: the declaration of the field does."""
    assert kind_of(record, steps(path)) == kind


@pytest.mark.parametrize(
    ("kind", "text", "unit", "wanted"),
    [
        ("mass", "62,4", "kg", "62.4 kg"),
        ("mass", "62.4 kg", "", "62.4 kg"),
        ("mass", "62,4 KG", "", "62.4 kg"),
        ("mass", "620 g", "kg", "620 g"),
        ("mass", "1.234,5", "kg", "1234.5 kg"),
        ("mass", "1,234.5", "kg", "1234.5 kg"),
        ("mass", "1 234,5", "kg", "1234.5 kg"),
        ("mass", "1\u202f234,5", "kg", "1234.5 kg"),
        ("mass", "1'234.5", "kg", "1234.5 kg"),
        ("mass", "42.6 ± 0.2 kg", "", "42.6 ± 0.2 kg"),
        ("mass", "16,6 kg each", "", "16.6 kg each"),
        ("mass", "not weighed", "kg", "not weighed"),
        ("mass", "–", "kg", ""),
        ("mass", "n/a", "kg", ""),
        ("count", "44 Stk.", "", "44"),
        ("count", "44,0", "", "44"),
        ("count", "8 each", "", "8 each"),
        ("share", "0,5", "%", "0.5 %"),
        ("share", "0.5 %", "", "0.5 %"),
        ("temperature", "205", "°C", "205 °C"),
        ("flow", "6,4 g/10 min at 190 °C/2,16 kg", "", "6.4 g/10 min at 190 °C/2.16 kg"),
        ("date", "2024-03-05", "", "2024-03-05"),
        ("date", "2024-03-05 00:00:00", "", "2024-03-05"),
        ("date", "05.03.2024", "", "2024-03-05"),
        ("date", "25/03/2024", "", "2024-03-25"),
        ("date", "14. März 2024", "", "2024-03-14"),
        ("date", "3 mars 2024", "", "2024-03-03"),
        ("date", "March 5, 2024", "", "2024-03-05"),
        ("date", "1er août 2024", "", "2024-08-01"),
        ("id", "Quay crates", "", "Quay-crates"),
        ("id", "31.0", "", "31"),
        ("id", "Parkstühle", "", "Parkstuhle"),
        ("choice", "Handed over", "", "handed-over"),
        ("yes-no", "TRUE", "", "yes"),
        ("words", "{en: Wet, fr: Mouillé}", "", {"en": "Wet", "fr": "Mouillé"}),
        ("fields", "[{lot: IN-031, mass: 2 kg}]", "", [{"lot": "IN-031", "mass": "2 kg"}]),
        ("line", "= the best", "", "= the best"),
    ],
)
def test_what_means_one_thing_is_read(kind: str, text: str, unit: str, wanted: object) -> None:
    """Signs, units, days and words of several desks come out as records write them."""
    assert said(kind, text, unit, OPEN) == wanted


@pytest.mark.parametrize(
    ("kind", "text", "unit", "met", "hint"),
    [
        ("mass", "62,4", "", "62,4", "neither the cell nor the heading says the unit; say it with --unit"),
        ("mass", "1,234", "kg", "1,234", "this could be 1.234 or 1234; say which with --decimal"),
        ("date", "05/03/2024", "", "05/03/2024", "this could be 2024-03-05 or 2024-05-03; say which with --dates"),
        ("date", "5.3.24", "", "5.3.24", "say which century with --century 20"),
        ("date", "3 Mar 24", "", "3 Mar 24", "say which century with --century 20"),
        ("date", "31.02.2024", "", "31.02.2024", "the calendar has no such day"),
        (
            *("date", "45000", "", "45000"),
            "this is the number that a spreadsheet keeps for a day: format the column as year-month-day",
        ),
        ("id", "Mole & Kai", "", "Mole & Kai", 'say what it is called with --word "Mole & Kai=WORD"'),
        ("fields", "[{lot: IN-1", "", "[{lot: IN-1", "met a bracket { whose fields do not end well"),
    ],
)
def test_what_could_mean_two_things_is_refused(kind: str, text: str, unit: str, met: str, hint: str) -> None:
    """Nothing is guessed: the hint names the option, or the cell to mend."""
    with pytest.raises(NotAQuantity) as slip:
        said(kind, text, unit, OPEN)
    assert (slip.value.met, slip.value.hint) == (met, hint)


@pytest.mark.parametrize(
    ("ways", "kind", "text", "wanted"),
    [
        (Ways(decimal="comma"), "mass", "1.234", "1234 kg"),
        (Ways(decimal="comma"), "mass", "1,234", "1.234 kg"),
        (Ways(decimal="point"), "mass", "1,234", "1234 kg"),
        (Ways(decimal="point"), "mass", "1.234", "1.234 kg"),
        (Ways(decimal="point"), "mass", "62,4", "62.4 kg"),
        (Ways(dates="day-first"), "date", "05/03/2024", "2024-03-05"),
        (Ways(dates="month-first"), "date", "05/03/2024", "2024-05-03"),
        (Ways(dates="month-first"), "date", "05.03.2024", "2024-03-05"),
        (Ways(century="20"), "date", "5.3.24", "2024-03-05"),
        (Ways(century="19", dates="day-first"), "date", "5/3/98", "1998-03-05"),
        (Ways(words={"kaikisten": "quay-crates"}), "id", "Kaikisten", "quay-crates"),
        (Ways(words={"ca. 60": "60 ± 5 kg"}), "mass", "ca. 60", "60 ± 5 kg"),
        (Ways(words={"-": "not weighed"}), "mass", "-", "not weighed"),
    ],
)
def test_what_somebody_said_settles_it(ways: Ways, kind: str, text: str, wanted: str) -> None:
    """Order of days, decimal sign, century and the table's own words are told once."""
    assert said(kind, text, "kg", ways) == wanted


@given(st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1))
def test_text_survives_the_way_out_and_back(text: str) -> None:
    """Whatever a record says, the table says it without a formula, and the import says it again."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([["a", "b"], [guarded(text), "x"]])
    (_, (_, cells)) = read_grid(out.getvalue().encode("utf-8-sig"), "t.csv").rows
    for kind in ("line", "words"):
        assert said(kind, cells[0], "", OPEN) == text.strip()


@given(st.text(max_size=6))
def test_a_guarded_cell_is_no_formula(text: str) -> None:
    """No spreadsheet computes it (OWASP, CSV injection), and the guard comes off again."""
    assert not guarded(text).startswith(("=", "+", "@", "\t", "\r"))
    assert unguarded(guarded(text)) == text


def test_a_negative_number_stays_a_number() -> None:
    """Not every cell that begins with a sign is an attack."""
    assert (guarded("-3.5"), guarded("-3+cmd")) == ("-3.5", "'-3+cmd")
