"""A correction keeps its reason and the old value public: both are looked at like any other words."""

from __future__ import annotations

from conftest import ROOT

from passport.reading.folder import read_shop
from passport.verdicts.book import work_out
from passport.verdicts.claim_check import claim_problems
from passport.verdicts.privacy import privacy_problems

FILE = "content/corrections/2027.yaml"
LINES = (
    "- {date: 2026-11-01, lot: IN-013, field: kept, is: shelf, because: Call 087 555 0142 about it}\n"
    "- {date: 2026-11-02, lot: IN-013, field: kept, was: shelf, is: loft, because: Biodegradable}\n"
    "- {date: 2026-11-03, lot: IN-013, field: colour, was: blue, is: mary@reedmouth.example, because: So she said}\n"
    "- {date: 2026-11-04, lot: IN-013, field: colour, was: mary@reedmouth.example, is: blue, because: No names}\n"
    "- {date: 2026-11-05, lot: IN-013, field: notes, is: Biodegradable, because: A leaflet says so}\n"
    "- {date: 2026-11-06, lot: IN-013, field: notes, was: Biodegradable, because: It is not}\n"
)


def test_what_leads_to_a_person_is_doubted_in_reason_and_old_value() -> None:
    """Correcting a name away would show it for ever; the doubt points to the line."""
    shop, problems = read_shop(ROOT / "content", added={"corrections/2027.yaml": LINES.encode()})
    assert shop is not None
    assert [problem for problem in problems if problem.place.file == FILE] == []
    found = [problem for problem in privacy_problems(shop) if problem.place.file == FILE]
    assert [(problem.place.line, problem.message.split('"')[1]) for problem in found] == [
        (1, "087 555 0142"),
        (4, "mary@reedmouth.example"),
    ]


def test_a_reason_may_claim_no_more_than_other_words() -> None:
    """What was claimed once and is corrected away is no claim any more, and keeps nothing from being published."""
    shop, _ = read_shop(ROOT / "content", added={"corrections/2027.yaml": LINES.encode()})
    assert shop is not None
    found = [problem for problem in claim_problems(work_out(shop)) if problem.place.file == FILE]
    assert [problem.place.line for problem in found] == [2]
