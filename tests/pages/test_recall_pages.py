"""Recalls on pages: what a reader meets first, in words that fit how much of it there is, and the list of them all."""

from __future__ import annotations

import dataclasses
from typing import Any

from shops_in_code import drawing, received, shop

from passport.pages.calling_back import MOST_SHOWN, life_lines, notices, recalls_table, recalls_view
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.reading.decode import adapter
from passport.reading.records import Recall
from passport.verdicts.book import work_out

THEME, _ = load_theme(["en", "fr"])
LEAD = {"date": "2026-06-01", "lot": "B", "reason": {"en": "Lead in the white", "fr": "Du plomb dans le blanc"}}
OVER = {"date": "2026-07-01", "clears": "R1", "reason": "None found"}


def scribe(lang: str = "en", mass_of_b: str = "1 kg", things: int = 2, **recalls: dict[str, Any]) -> Scribe:
    """Things of 4 kg together (two unless said) of a blend of 3 kg of A and some of B; RY-1 went to the quay."""
    lots = {
        "A": received("10 kg"),
        "B": received("10 kg"),
        "MIX": drawing("4 kg", ("A", "3 kg"), ("B", mass_of_b)),
    }
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": str(things),
        "mass": "4 kg",
        "draws": [{"lot": "MIX", "mass": "4 kg"}],
    }
    out = [{"date": "2026-05-20", "tag": "RY-1", "event": "handed-over", "place": "quay"}]
    built = shop(lots=lots, items={"I": item}, events=out, tags={f"RY-{n}": "I" for n in range(1, things + 1)})
    read = {k: adapter(Recall).validate_python({"id": k, **v}) for k, v in recalls.items()}
    return Scribe(book=work_out(dataclasses.replace(built, recalls=read)), words=THEME.words[lang], first="en")


def test_a_thing_says_why_how_much_and_what_to_do() -> None:
    """A quarter of the plastic is of B; the owner keeps it apart and writes; the list has the rest."""
    (notice,) = notices(scribe(R1=LEAD), "RY-1")
    assert (notice.title, notice.text, notice.date) == (
        "Recalled: please read this first",
        "Lead in the white",
        "1 June 2026",
    )
    assert notice.more == (
        "25.0\u00a0% of its plastic came from lot B. "
        "Please stop using it, keep it apart from other plastic, and write to Reedmouth Yard."
    )
    assert notice.link is not None
    assert notice.link.href == "/recalls/#R1"


def test_in_the_language_of_the_page() -> None:
    """Reason and words in French; a reason in English alone is marked as such, and the rest stays French."""
    (notice,) = notices(scribe("fr", R1=LEAD), "RY-1")
    assert (notice.text, notice.lang) == ("Du plomb dans le blanc", "")
    assert notice.more.startswith("25,0")
    assert notice.link is not None
    assert notice.link.href == "/recalls/FR/#R1"
    (english,) = notices(scribe("fr", R1=LEAD | {"reason": "Lead"}), "RY-1")
    assert (english.text, english.lang) == ("Lead", "en")


def test_owners_are_told_what_the_record_says() -> None:
    """The workshop's own words replace the usual advice."""
    (notice,) = notices(scribe(R1=LEAD | {"owners": "Wash your hands; we fetch it."}), "RY-1")
    assert notice.more.endswith("of its plastic came from lot B. Wash your hands; we fetch it.")


def test_a_stream_is_named_by_its_title() -> None:
    """All lots of the stream POST were called back: all of the plastic."""
    of_stream = {"date": "2026-06-01", "stream": "POST", "reason": "Old crates"}
    (notice,) = notices(scribe(R1=of_stream), "RY-1")
    assert notice.more.startswith("100.0\u00a0% of its plastic came from: POST.")


def test_a_trace_is_never_printed_as_none() -> None:
    """1 g of B in 3 kg of A is less than a tenth of a percent, and says so."""
    (notice,) = notices(scribe(mass_of_b="1 g", R1=LEAD), "RY-1")
    assert notice.more.startswith("less than 0.1\u00a0% of its plastic came from lot B.")


def test_a_lot_says_that_nothing_new_may_be_made_of_it() -> None:
    """The blend holds a quarter of it."""
    (notice,) = notices(scribe(R1=LEAD), "MIX")
    assert notice.more == "25.0\u00a0% of it came from what was recalled. Nothing new may be made of it."


def test_what_ended_is_remembered_and_no_longer_first() -> None:
    """After the end there is no notice; the life has both days."""
    over = scribe(R1=LEAD, R2=OVER)
    assert list(notices(over, "RY-1")) == []
    assert [(line.date, line.text, line.note) for line in life_lines(over, "RY-1")] == [
        ("2026-06-01", "Recalled (R1)", "Lead in the white"),
        ("2026-07-01", "Recall R1 ended", "None found"),
    ]


def test_the_list_has_what_holds_first_with_the_last_places_known() -> None:
    """Open before ended; each with its lots, things, shares and where they were last known to be."""
    found = scribe(
        R1=LEAD, R2=OVER, R3={"date": "2026-05-30", "lot": "A", "reason": "Brittle", "because_of": "Report 3"}
    )
    first, second = recalls_view(found).parts
    assert (first.anchor, first.open, first.state, first.paper) == ("R3", True, "open", "Because of: Report 3")
    assert (second.anchor, second.open, second.state) == ("R1", False, "ended on 1 July 2026")
    assert [(to.text, to.note) for to in first.lots] == [("A", "100.0\u00a0%"), ("MIX", "75.0\u00a0%")]
    assert first.things is not None
    assert [[cell.text for cell in row] for row in first.things.rows] == [
        ["RY-1", "Planter", "75.0\u00a0%", "in use", "quay, 20 May 2026"],
        ["RY-2", "Planter", "75.0\u00a0%", "at the workshop", "nothing since it was made"],
    ]
    assert first.things.rows[0][2].note == "1.5\u00a0kg"
    listed = recalls_table(found)
    assert listed is not None
    assert [row[0].text for row in listed.rows] == ["R3", "R1"]


def test_without_a_recall_there_is_a_page_that_says_so() -> None:
    """The address always answers; the log has no empty table."""
    view = recalls_view(scribe())
    assert (view.intro, view.parts) == ("Nothing has been recalled.", ())
    assert recalls_table(scribe()) is None


def test_a_long_list_leads_to_the_data() -> None:
    """Where a recall reaches more than the page shows, it says how many more and where they all stand."""
    (part,) = recalls_view(scribe(things=MOST_SHOWN + 3, R1=LEAD)).parts
    assert part.things is not None
    assert len(part.things.rows) == MOST_SHOWN
    assert part.things.more is not None
    assert (part.things.more.text, part.things.more.href) == ("3 more, all of them in recalls.csv", "/data/recalls.csv")
