"""When each caution stands on a thing's page, and when it does not (texts and sources: material/cautions.yaml)."""

import dataclasses
from pathlib import Path
from typing import Any

import pytest
from shops_in_code import received, shop

from passport.reading.decode import adapter
from passport.reading.folder import read_shop
from passport.reading.records import Product, Stream
from passport.verdicts.book import Book, work_out
from passport.verdicts.cautions import _rules, care_of, cautions_of_item

DEMO = Path(__file__).resolve().parents[2] / "content"


@pytest.fixture(scope="module")
def book() -> Book:
    """The demo workshop, worked out."""
    read, _ = read_shop(DEMO)
    assert read is not None
    return work_out(read)


def keys(book: Book, item: str) -> list[str]:
    """The keys of a batch's cautions."""
    return [caution.key for caution in cautions_of_item(book, book.shop.items[item])]


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


# --- one by one ---------------------------------------------------------------------------------------

BASE: dict[str, Any] = {"resin": "PE-HD", "colour": "blue", "weathering": "none"}
TESTED = {"standard": "by a named standard", "document": "Report 7"}
CADMIUM = {"test": "substance", "substance": "cadmium", "mg_per_kg": "3"}
BROMINE = {"test": "substance", "substance": "bromine", "mg_per_kg": "40"}
CASES: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "not-food": ({}, {"tested": "food"}),
    "edible-plants": ({"uses": ["planting"]}, {"uses": ["outdoor"]}),
    "seat-load": ({"uses": ["seating"]}, {"uses": ["seating"], "tested": "seating"}),
    "load": ({}, {"uses": ["load"]}),
    "children": ({}, {"tested": "toy"}),
    "cold-brittle": ({"resin": "PP"}, {"resin": "PE-HD"}),
    "uv-unstabilised": ({"resin": "PE-HD"}, {"resin": "PMMA"}),
    "brittle": ({"resin": "PS"}, {"resin": "PE-HD"}),
    "solvent-attack": ({"resin": "PS"}, {"resin": "PP"}),
    "weathered": ({"weathering": "heavy"}, {"weathering": "light"}),
    "old-pigments": ({"stream": {"made_before": "2000-01-01"}}, {"stream": {}}),
    "bright-colours": ({"colour": "bright red"}, {"colour": "dark green"}),
    "loop-crates": ({"stream": {"closed_loop": "yes"}}, {"stream": {"closed_loop": "no"}}),
    "old-electrical": ({"resin": "ABS"}, {"resin": "ABS", "evidence": [BROMINE]}),
    "pvc-additives": ({"resin": "PVC-U"}, {"resin": "PP"}),
}
"""For each caution, a thing that carries it and one like it that does not."""
ALWAYS = {"heat-fire", "cutting"}
"""These stand on everything that somebody may hold; tests/line/test_words_and_goods.py has where they do not."""


def carried(*, uses=(), tested="", resin, colour, weathering, stream=None, evidence=(), origin="post-consumer"):
    """The cautions of one thing made of one lot."""
    lot = {
        "sorted_as": resin,
        "colour": colour,
        "weathering": weathering,
        "evidence": list(evidence),
        "moisture": "0 %",
    }
    item = {"product": "PLANTER", "date": "2026-05-20", "count": "1", "mass": "9 kg each"}
    draws = [{"lot": "L-1", "mass": "9 kg"}]
    made = shop(lots={"L-1": received("10 kg", **lot)}, items={"PL-1": {**item, "draws": draws}})
    proof = [{"use": tested, **TESTED}] if tested else []
    product = {"id": "PLANTER", "title": "Thing", "made_for": "plants", "uses": list(uses), "tested_for": proof}
    said = {"id": "POST", "title": "Crates", "origin": origin, **(stream or {})}
    changed = dataclasses.replace(
        made,
        products={"PLANTER": adapter(Product).validate_python(product)},
        streams={**made.streams, "POST": adapter(Stream).validate_python(said)},
    )
    return keys(work_out(changed), "PL-1")


def test_every_caution_of_the_table_has_its_two_cases() -> None:
    """No rule is added without saying when it speaks and when it is silent."""
    assert set(CASES) | ALWAYS == {rule["key"] for rule in _rules()}


@pytest.mark.parametrize("key", sorted(CASES))
def test_a_caution_appears_and_disappears_with_its_cause(key: str) -> None:
    """The same thing with and without what the caution is about."""
    there, not_there = CASES[key]
    assert key in carried(**{**BASE, **there})
    assert key not in carried(**{**BASE, **not_there})


def test_bright_colours_of_new_plastic_or_with_a_figure_are_none_of_our_business() -> None:
    """New pigment has no such past, and a laboratory's figure for cadmium answers the question."""
    bright = {**BASE, "colour": "orange"}
    assert "bright-colours" not in carried(**bright, origin="virgin")
    assert "bright-colours" not in carried(**bright, evidence=[CADMIUM])
    assert "bright-colours" not in carried(**{**BASE, "colour": "terracotta"})
    assert "bright-colours" in carried(**{**BASE, "colour": "jaune et bleu"})


def test_sun_wear_counts_from_a_tenth_on(book: Book) -> None:
    """Pots of a batch with chairs that stood outside for years say it; benches of crates do not."""
    assert "weathered" in keys(book, "PT-2026-02")
    assert "weathered" not in keys(book, "BE-2025-03")


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
