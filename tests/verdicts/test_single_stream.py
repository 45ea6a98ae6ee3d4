"""Is it one stream, after which steps, and which mark may stand on it (ISO 11469, via secondary texts)."""

from fractions import Fraction

import pytest
from shops_in_code import received, shop

from passport.verdicts.book import Book, work_out
from passport.verdicts.single_stream import Stream

PROVEN = [{"test": "ftir", "reads": "PP"}]
PROVEN_HD = [{"test": "dsc", "peaks": ["132 °C"]}, {"test": "moulded-mark", "number": "2", "letters": "HDPE"}]
SCREWS = [{"what": "screws", "material": "steel", "mass": "32 g each", "count": "8 each", "joined": "screwed"}]


def book_of(item: dict, **lots: dict) -> Book:
    """A workshop with one batch of planters, made from the given lots."""
    tree = {"product": "planter", "date": "2026-05-20", "count": "1", **item}
    return work_out(shop(lots=lots, items={"PL-1": tree}))


def whole(*draws: tuple[str, str], **more: object) -> dict:
    """A thing without parts."""
    mass = f"{sum(float(m.split()[0]) for _, m in draws):g} kg each"
    return {"mass": mass, "draws": [{"lot": lot, "mass": m} for lot, m in draws], **more}


def test_one_proven_resin_is_one_stream() -> None:
    """A thing of one established resin can go in whole, and bears its mark with the floored recycled share."""
    book = book_of(whole(("A", "10 kg")), A=received("10 kg", evidence=PROVEN))

    assert book.items["PL-1"].stream.value.answer is Stream.ONE
    assert book.items["PL-1"].marks == (">PP(REC100)<",)


def test_steel_screws_come_out_first() -> None:
    """Foreign hardware makes it one stream only after removal; the mark stays."""
    book = book_of(whole(("A", "10 kg"), hardware=SCREWS), A=received("10 kg", evidence=PROVEN))

    assert book.items["PL-1"].stream.value.answer is Stream.ONE_AFTER_REMOVAL


def test_screws_of_the_same_resin_may_stay() -> None:
    """Design for recycling: attachments of the same resin (common practice, no source)."""
    pegs = [{"what": "pegs", "material": "PP", "mass": "32 g each"}]
    book = book_of(whole(("A", "10 kg"), hardware=pegs), A=received("10 kg", evidence=PROVEN))

    assert book.items["PL-1"].stream.value.answer is Stream.ONE


@pytest.mark.parametrize(
    ("joined", "answer"), [("screwed", Stream.SEVERAL_SEPARABLE), ("glued", Stream.MIXED), ("welded", Stream.MIXED)]
)
def test_two_resins_are_separable_only_if_they_come_apart(joined: str, answer: Stream) -> None:
    """Parts of two resins that are screwed are two streams; glued or welded they are none."""
    parts = [
        {"part": "body", "mass": "5 kg", "draws": [{"lot": "A", "mass": "5 kg"}]},
        {"part": "roof", "mass": "2 kg", "joined": joined, "draws": [{"lot": "B", "mass": "2 kg"}]},
    ]
    book = book_of(
        {"parts": parts}, A=received("5 kg", evidence=PROVEN), B=received("2 kg", evidence=PROVEN_HD, colour="blue")
    )

    assert book.items["PL-1"].stream.value.answer is answer


def test_an_unproven_resin_has_no_mark_and_no_stream() -> None:
    """K8: unknown resin, no marking (facts on marks; rule)."""
    book = book_of(whole(("A", "10 kg")), A=received("10 kg", sorted_as="PP"))

    assert book.items["PL-1"].stream.value.answer is Stream.NOT_ESTABLISHED
    assert book.items["PL-1"].marks == ()


def test_a_little_of_the_unproven_does_not_spoil_the_proof() -> None:
    """Four per cent of a colour concentrate without tests leave 96 % proven: above the limit of 95 %."""
    lots = {"A": received("9.6 kg", evidence=PROVEN), "C": received("0.4 kg", "MASTERBATCH")}
    book = book_of(whole(("A", "9.6 kg"), ("C", "0.4 kg")), **lots)

    assert book.standing.proven_share["PL-1"] == Fraction(96, 100)
    assert book.items["PL-1"].stream.value.answer is Stream.ONE


def test_more_than_a_little_does() -> None:
    """Six per cent leave 94 %: not established."""
    lots = {"A": received("9.4 kg", evidence=PROVEN), "C": received("0.6 kg", "MASTERBATCH")}
    book = book_of(whole(("A", "9.4 kg"), ("C", "0.6 kg")), **lots)

    assert book.items["PL-1"].stream.value.answer is Stream.NOT_ESTABLISHED


def test_a_contradicting_mark_outweighs_what_it_was_made_of() -> None:
    """A lot whose own evidence conflicts is not proven, whatever its sources were."""
    conflict = [{"test": "nir", "reads": "PE-HD"}, {"test": "moulded-mark", "number": "5", "letters": "PP"}]
    book = book_of(whole(("A", "10 kg")), A=received("10 kg", evidence=conflict))

    assert not book.standing.proven("A")
    assert book.items["PL-1"].stream.value.answer is Stream.NOT_ESTABLISHED
