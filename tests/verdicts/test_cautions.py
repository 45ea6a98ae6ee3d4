"""When each caution stands on a thing's page, and when it does not (texts and sources: material/cautions.yaml)."""

import dataclasses
from pathlib import Path

import pytest

from passport.reading.decode import adapter
from passport.reading.folder import read_shop
from passport.reading.records import Stream
from passport.verdicts.book import Book, work_out
from passport.verdicts.cautions import care_of, cautions_of_item

DEMO = Path(__file__).resolve().parents[2] / "content"


@pytest.fixture(scope="module")
def book() -> Book:
    """The demo workshop, worked out."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    return work_out(shop)


def keys(book: Book, item: str) -> list[str]:
    """The keys of a batch's cautions."""
    return [caution.key for caution in cautions_of_item(book, book.shop.items[item])]


def with_stream(book: Book, name: str, **said: str) -> Book:
    """The same workshop with one stream described otherwise."""
    text = {"id": name, "title": "Crates", "origin": "post-consumer", **said}
    streams = {**book.shop.streams, name: adapter(Stream).validate_python(text)}
    return work_out(dataclasses.replace(book.shop, streams=streams))


def test_every_thing_warns_of_food_load_children_fire_and_dust(book: Book) -> None:
    """Nothing made of plastic with an unknown past goes without these five."""
    for item in book.shop.items:
        found = set(keys(book, item))
        assert {"not-food", "children", "heat-fire", "cutting"} <= found
        assert ("load" in found) is not ("seat-load" in found)


def test_a_caution_stands_once(book: Book) -> None:
    """Two resins that share a caution do not say it twice."""
    for item in book.shop.items:
        assert len(keys(book, item)) == len(set(keys(book, item)))


def test_edible_plants_only_where_something_is_planted(book: Book) -> None:
    """A planter says it, a bird box does not."""
    assert "edible-plants" in keys(book, "PL-2024-12")
    assert "edible-plants" not in keys(book, "BB-2025-03")


def test_a_seat_is_not_told_that_nobody_may_sit_on_it(book: Book) -> None:
    """What is made to be sat on warns of the missing test instead."""
    assert "seat-load" in keys(book, "BE-2025-03")
    assert "load" not in keys(book, "BE-2025-03")
    assert "seat-load" not in keys(book, "PL-2024-12")


def test_brittle_in_the_cold_only_with_polypropylene(book: Book) -> None:
    """PP stiffens near 0 °C (Fundamentals of Materials Science, Appendix E: Tg −20 to −10 °C); PE-HD does not."""
    assert "cold-brittle" in keys(book, "BB-2025-03")
    assert "cold-brittle" not in keys(book, "PL-2024-12")


def test_old_pigments_only_from_a_stream_of_old_things(book: Book) -> None:
    """A stream that says `made_before` brings the caution into everything made of it, and takes it away again."""
    old = with_stream(book, "QUAY-CRATES", made_before="2000-01-01")
    new = with_stream(book, "QUAY-CRATES")

    assert "cadmium-toys" in keys(old, "PL-2024-12")
    assert "cadmium-toys" not in keys(new, "PL-2024-12")


def test_closed_loop_crates_only_from_a_closed_loop(book: Book) -> None:
    """Decision 2009/292/EC lets crates of a closed loop hold metals that a planter may not."""
    looped = with_stream(book, "QUAY-CRATES", closed_loop="yes")
    free = with_stream(book, "QUAY-CRATES", closed_loop="no")

    assert "crate-metals" in keys(looped, "PL-2024-12")
    assert "crate-metals" not in keys(free, "PL-2024-12")


def test_each_caution_has_words_reason_and_source(book: Book) -> None:
    """In both languages of the demo."""
    for item in book.shop.items.values():
        for caution in cautions_of_item(book, item):
            assert caution.source
            assert all(caution.text[lang] and caution.why[lang] for lang in ("en", "fr"))


def test_care_names_each_line_once() -> None:
    """Two resins with the same advice give it once."""
    both = care_of(("PP", "PE-HD"))

    assert len(both) == len(set(both))
    assert set(care_of(("PP",))) <= set(both)
