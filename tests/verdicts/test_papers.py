"""A lot from another workshop comes in by that workshop's own file, with its shares; what they leave is unknown."""

import dataclasses
import json
from fractions import Fraction

import pytest
from shops_in_code import SCALES, drawing, received, shop

from passport.pages.schema_org import lot_document
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.verdicts.book import Book, work_out

FOREIGN = {
    "date": "2026-06-01",
    "received": {"from": "https://pass.farshore.example/L/BL-9/", "document": "BL-9.json"},
    "mass": "20 kg",
}


def with_document(text: str) -> Book:
    """A workshop that received one lot from another, with this text as its document."""
    built = shop(lots={"F": FOREIGN}, scales=SCALES)
    return work_out(dataclasses.replace(built, documents={"BL-9.json": text}))


def test_stated_shares_come_in_and_the_rest_is_unknown() -> None:
    """60 % post-consumer and 30 % virgin leave 10 % unknown, which never counts as recycled (EN 45557:2020, 5.2)."""
    book = with_document(json.dumps({"origin_at_least": {"post-consumer": "0.6", "virgin": "0.3"}}))
    shares = {name: share.value for name, share in book.ledger.mixtures["F"].shares_by("origin").items()}

    assert shares == {"post-consumer": Fraction(6, 10), "virgin": Fraction(3, 10), "unknown": Fraction(1, 10)}
    assert book.ledger.mixtures["F"].recycled().value == Fraction(6, 10)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "not JSON",
        "[]",
        '{"origin_at_least": {}}',
        '{"origin_at_least": {"post-consumer": 0.6}}',
        '{"origin_at_least": {"post-consumer": "1.2"}}',
        '{"origin_at_least": {"post-consumer": "0.6", "virgin": "0.6"}}',
        '{"origin_at_least": {"green": "0.6"}}',
        '{"origin_at_least": {"post-consumer": "NaN"}}',
    ],
)
def test_a_document_that_cannot_be_believed_leaves_the_lot_unknown(text: str) -> None:
    """It is a doubt, shown with the lot, and no reason to stop."""
    book = with_document(text)

    assert list(book.ledger.mixtures["F"].shares_by("origin")) == ["unknown"]
    assert [(p.code, p.about, p.message) for p in book.problems] == [
        (
            "paper-unread",
            "F",
            "met BL-9.json for F, wanted the other workshop's lot.json with its shares by origin",
        )
    ]


def test_one_workshop_reads_what_another_publishes() -> None:
    """The published lot.json of a blend, taken in elsewhere, gives the blend's shares back to the millionth."""
    lots = {
        "A": received("12 kg"),
        "B": received("8 kg", "VIRGIN"),
        "BL-9": drawing("20 kg", ("A", "12 kg"), ("B", "8 kg")),
    }
    ours = work_out(shop(lots=lots))
    words = load_theme(["en"])[0].words["en"]
    published = lot_document(Scribe(book=ours, words=words, first="en"), "BL-9")

    theirs = with_document(published).ledger.mixtures["F"].recycled().value

    assert theirs == ours.ledger.mixtures["BL-9"].recycled().value == Fraction(12, 20)
