"""What comes back: used, one life older, as weathered as the last inspection found it."""

from shops_in_code import received, shop

from passport.massflow import settle
from passport.problems import Level, in_words


def handed_back(*events, tag="RY-1", tags=None, **came):
    """The books of a planter made of virgin plastic without weathering and handed back as lot BACK."""
    lots = {
        "V": received("10 kg", "VIRGIN", weathering="none"),
        "BACK": {"date": "2026-09-01", "received": {"tags": [{"tag": tag, **came}]}, "mass": "10 kg"},
    }
    planter = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": "10 kg",
        "parts": [{"part": "body", "draws": [{"lot": "V", "mass": "10 kg"}]}],
    }
    return settle(shop(lots=lots, items={"I": planter}, events=events, tags=tags or {"RY-1": "I"}), {})


def out(tag="RY-1"):
    """The hand-over."""
    return {"date": "2026-06-01", "tag": tag, "event": "handed-over", "place": "allotments"}


def seen(day, weathering):
    """An inspection."""
    return {"date": day, "tag": "RY-1", "event": "inspected", "condition": "as found", "weathering": weathering}


def test_an_inspection_replaces_the_inherited_weathering():
    """The last inspection up to the hand-back counts; a later one does not, and without one it is inherited."""
    assert list(handed_back(out()).mixtures["BACK"].shares_by("weathering")) == ["none"]
    twice = handed_back(out(), seen("2026-07-01", "light"), seen("2026-08-01", "heavy"), seen("2026-10-01", "none"))
    assert list(twice.mixtures["BACK"].shares_by("weathering")) == ["heavy"]


def test_a_hand_over_makes_all_of_it_post_consumer_and_a_life_older():
    """Virgin plastic that was handed over comes back post-consumer; never handed over it stays virgin."""
    used, own = handed_back(out()).mixtures["BACK"], handed_back().mixtures["BACK"]
    assert used.post_consumer().value == 1
    assert list(used.shares_by("lives")) == ["1"]
    assert own.recycled().value == 0


def test_a_part_that_the_thing_was_not_made_with_is_advice():
    """`not_back: [lid]` of a planter without a lid loads, closes, and is said at the desk only."""
    ledger = handed_back(out(), not_back=["lid"])
    (said,) = ledger.doubts
    assert said.level is Level.ADVICE
    assert (
        in_words(said)
        .splitlines()[0]
        .endswith('advice part-unknown: met the part "lid" of RY-1 in BACK, wanted a part that I was made with (body)')
    )
    assert ledger.mixtures["BACK"].post_consumer().value == 1
