"""Corrections on pages: the figure that holds, and beside it the old value, the day and the reason."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from conftest import ROOT

from passport.pages.corrected import of_stream
from passport.pages.data_tables import tables
from passport.pages.feed import site_files
from passport.pages.log import log_view
from passport.pages.lot import lot_view
from passport.pages.places import product_view
from passport.pages.scribe import Scribe
from passport.pages.tag import tag_view
from passport.pages.theme import load_theme
from passport.pages.views import LogView, LotView, PassportView
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out

THEME, _ = load_theme(["en", "fr"])
LINES = """\
- {date: 2026-11-01, lot: IN-013, field: mass, was: 96.2 kg, is: 96.0 kg, because: {en: Read wrongly, fr: Mal lu}}
- {date: 2026-11-02, lot: IN-013, field: moisture, is: 0.5 %, because: Measured since}
- {date: 2026-11-02, lot: IN-012, field: mass, was: not weighed, is: 18.2 kg, because: Dry at last}
- {date: 2026-11-03, item: PL-2026-06, field: parts.0.draws.0.pieces, was: 14, is: 15, because: Miscounted}
- {date: 2026-11-03, run: EX-001, field: machine, was: bar line, because: Nobody remembers}
- {date: 2026-11-04, stream: gate, field: country, was: IE, is: FR, because: "<script>alert(1)</script>"}
- {date: 2026-11-05, event: 2026-08-22 RY-22227G lost, field: date, was: 2026-08-22, is: 2026-08-23, because: Late}
"""


@cache
def scribe(lang: str) -> Scribe:
    """The demo with some corrections, in a language."""
    content: Path = ROOT / "content"
    shop, _ = read_shop(content)
    assert shop is not None
    lines = LINES.replace("bar line", shop.runs["EX-001"].machine)
    shop, problems = read_shop(content, added={"corrections/2027.yaml": lines.encode()})
    assert shop is not None
    assert [problem.message for problem in problems if "correction" in problem.place.file] == []
    return Scribe(book=work_out(shop), words=THEME.words[lang], first="en")


def lot(lang: str = "en", name: str = "IN-013") -> LotView:
    """A lot's page."""
    return lot_view(scribe(lang), scribe(lang).book.shop.lots[name])


def test_a_lots_page_shows_what_holds_and_what_was() -> None:
    """The row of the mass has the corrected figure and says so; the old one stands below with day and reason."""
    row = next(row for row in lot().facts if row.label == "Mass")
    assert (row.value, row.note) == ("96.0\u00a0kg", "set right on 1 November 2026")
    assert [(line.date, line.about.text, line.text, line.because.text) for line in lot().corrected] == [
        ("2026-11-01", "", "mass was 96.2 kg, is 96.0 kg", "Read wrongly"),
        ("2026-11-02", "", "water, by mass was not given, is 0.5 %", "Measured since"),
    ]


def test_french_pages_say_it_in_french() -> None:
    """Field, values, day and reason are in the page's language where the record has them in it."""
    first, second = lot("fr").corrected
    assert (first.day, first.text) == ("1er novembre 2026", "masse : 96,2 kg, en réalité 96,0 kg")
    assert (first.because.text, first.because.lang) == ("Mal lu", "")
    assert (second.because.text, second.because.lang) == ("Measured since", "en")


def test_a_first_weighing_is_no_mistake() -> None:
    """A lot that waited for a dry month was right to say so: the words blame nobody."""
    (line,) = lot(name="IN-012").corrected
    assert line.text == "mass was not weighed at first, is 18.2 kg"
    assert lot("fr", "IN-012").corrected[0].text == "masse : non pesé d’abord, désormais 18,2 kg"
    assert [row.note for row in lot(name="IN-012").facts if row.label == "Mass"] == [""]


def test_a_result_shows_what_was_set_right_in_its_run() -> None:
    """A lot's page holds its run's balance, so it holds the run's corrections, under the run's name."""
    result = next(name for name, lot in scribe("en").book.shop.lots.items() if lot.run == "EX-001")
    (line,) = lot(name=result).corrected
    assert (line.about.text, line.because.text) == ("EX-001", "Nobody remembers")
    assert line.text.startswith("machine was ")
    assert line.text.endswith(", is not known")


def test_a_tags_page_shows_corrections_of_its_batch() -> None:
    """Fields inside others are named as people count."""
    book = scribe("en").book
    life = next(life for life in book.lives.values() if life.item == "PL-2026-06")
    view = tag_view(scribe("en"), life)
    assert isinstance(view, PassportView)
    assert [(line.about.text, line.text) for line in view.corrected] == [
        ("", "pieces (part 1, draw 1) was 14, is 15"),
    ]
    product = product_view(scribe("en"), book.shop.products["PLANTER"])
    assert [(line.about.text, line.text) for line in product.corrected] == [
        ("PL-2026-06", "pieces (part 1, draw 1) was 14, is 15"),
    ]


def test_a_tags_page_shows_corrections_of_what_happened_to_it() -> None:
    """The life is told as it was; the note says what was written first."""
    view = tag_view(scribe("en"), scribe("en").book.lives["RY-22227G"])
    assert [line.day for line in view.life if "ost" in line.text] == ["23 August 2026"]
    assert [line.text for line in view.corrected] == ["day (22 August 2026) was 22 August 2026, is 23 August 2026"]


def test_a_streams_page_shows_its_corrections() -> None:
    """Where material comes from is as public as what it weighs."""
    assert [line.text for line in of_stream(scribe("en"), "GATE")] == ["country was IE, is FR"]


def test_the_log_lists_the_newest_first_with_their_pages() -> None:
    """Whoever follows the workshop sees what was set right, and where."""
    view = log_view(scribe("en"))
    assert isinstance(view, LogView)
    newest = [(line.date, line.about.text, line.about.href) for line in view.corrected][:2]
    assert newest == [
        ("2026-11-05", "RY-22227G", "/T/RY-22227G/#corrected"),
        ("2026-11-04", "GATE", "/S/GATE/#corrected"),
    ]


def test_the_feed_announces_them() -> None:
    """A correction is news, under an address of its own (RFC 4287: ids are unique)."""
    feed = dict(site_files(scribe("en"), []))["feed.atom"]
    for number in (1, 2):
        assert feed.count(f"/L/IN-013/#corrected-{number}</id>") == 1
    assert "<title>IN-013: mass was 96.2 kg, is 96.0 kg</title>" in feed


def test_the_table_of_corrections_holds_all_of_them() -> None:
    """The data say what the pages say, in the words of the records."""
    text = dict(tables(scribe("en").book))["corrections.csv"]
    assert "2026-11-01,lot,IN-013,mass,96.2 kg,96.0 kg,Read wrongly\r\n" in text
    assert "2026-11-05,event,2026-08-22 RY-22227G lost,date,2026-08-22,2026-08-23,Late\r\n" in text
    assert len(text.splitlines()) == 1 + sum(map(len, scribe("en").book.shop.corrections.values()))


@pytest.mark.parametrize("lang", ["en", "fr"])
def test_a_reason_is_text_and_nothing_else(lang: str) -> None:
    """What looks like markup stays what a person reads: templates escape it."""
    (line,) = of_stream(scribe(lang), "GATE")
    assert line.because.text == "<script>alert(1)</script>"
