"""Products for food, feed, children, toys and steps need evidence; some material does not suit what it became."""

import dataclasses
from pathlib import Path

import pytest
from shops_in_code import received, shop

from passport.problems import Level
from passport.reading.decode import adapter
from passport.reading.folder import read_shop
from passport.reading.records import Product, Stream
from passport.verdicts.book import work_out
from passport.verdicts.special_uses import declared_uses, use_problems

DEMO = Path(__file__).resolve().parents[2] / "content"
TESTED = {"standard": "EN 131-7:2013", "document": "Report 26-031"}


def told(product, *, stream=None, lot=None, item=None):
    """What is said about a product of one batch, made of one lot of one stream."""
    lots = {"L-1": received("10 kg", **{"sorted_as": "PE-HD", "moisture": "0 %", **(lot or {})})}
    draws = [{"lot": "L-1", "mass": "9 kg"}]
    tree = {
        "product": "PLANTER",
        "date": "2026-05-20",
        "count": "1",
        "mass": "9 kg each",
        "draws": draws,
        **(item or {}),
    }
    made = shop(lots=lots, items={"PL-1": tree})
    record = {"id": "PLANTER", "title": "Planter", "made_for": "plants", **product}
    streams = {**made.streams}
    if stream:
        said = {"id": "POST", "title": "Crates", "origin": "post-consumer", **stream}
        streams["POST"] = adapter(Stream).validate_python(said)
    products = {"PLANTER": adapter(Product).validate_python(record)}
    return said_of(dataclasses.replace(made, products=products, streams=streams))


def said_of(made):
    """What is said about the products and batches of a shop."""
    book = work_out(made)
    return (*use_problems(made), *(problem for found in book.use_doubts.values() for problem in found))


@pytest.mark.parametrize("use", ["food", "feeding", "toy", "children", "step"])
def test_a_declared_use_needs_evidence(use: str) -> None:
    """Without it the record is an error that names what is wanted; with it, in the product or its batch, it is none."""
    (found,) = told({"uses": [use]})
    assert (found.code, found.level, found.about) == ("use-unproven", Level.ERROR, "PLANTER")
    assert f"tested_for: [{{use: {use}, standard: …, document: …}}]" in found.hint
    assert "local rules and licensed professionals come first" in found.hint
    assert told({"uses": [use], "tested_for": [{"use": use, **TESTED}]}) == ()
    assert told({"uses": [use]}, item={"tested_for": [{"use": use, **TESTED}]}) == ()


@pytest.mark.parametrize(
    ("words", "use"),
    [
        ("Bird feeder", "feeding"),
        ("Mangeoire", "feeding"),
        ("Gamelle du chien", "feeding"),
        ("Chopping board", "food"),
        ("Planche à découper", "food"),
        ("A toy boat", "toy"),
        ("Petit jouet de bain", "toy"),
        ("High chair", "children"),
        ("Pour les bébés", "children"),
        ("Step stool", "step"),
        ("Marchepied", "step"),
        ("Swing", "step"),
        ("For standing on", "step"),
    ],
)
def test_a_use_in_words_counts_as_declared(words: str, use: str) -> None:
    """A bird feeder is one whether or not `uses:` says so."""
    (found,) = told({"made_for": words})
    assert (found.level, found.facts) == (Level.ERROR, (("use", use),))


@pytest.mark.parametrize(
    "words",
    [
        "Not a toy", "Pas un jouet", "Toy box", "Coffre à jouets", "Not for food", "House plants and cuttings",
        "Two grown-ups, out of doors", "Small hole-nesting birds, on a shaded wall or trunk", "Coats and oilskins",
        "Edges of beds and paths", "Flowers and shrubs out of doors", "Bordure", "Nichoir", "Patère", "Boot rack",
        "Swing lid bin", "Doorstep mat", "Paper tray", "Porte-manteau", "Bac à compost",
    ],
)  # fmt: skip
def test_ordinary_products_need_none(words: str) -> None:
    """What is made for plants, coats and nesting birds, or says what it is not, is left alone."""
    assert told({"made_for": words}) == ()


def test_food_plants_are_a_doubt() -> None:
    """No limit was found for growing food in reclaimed plastic: a herb planter is asked for a liner or a test."""
    (found,) = told({"made_for": "Herbs and salads"})
    assert (found.level, found.facts) == (Level.DOUBT, (("use", "edible-planting"),))


def test_what_a_product_is_not_for_is_not_what_it_is_for() -> None:
    """`not_for:` may name every danger."""
    assert told({"not_for": "Food, toys, swings and bird feeders"}) == ()


@pytest.mark.parametrize(
    ("uses", "stream", "lot", "when"),
    [
        (["planting"], {"closed_loop": "yes"}, {}, "closed-loop"),
        (["animals"], {"closed_loop": "yes"}, {}, "closed-loop"),
        (["seating"], {}, {"weathering": "heavy"}, "weathered"),
        (["load"], {}, {"sorted_as": "PS"}, "caution brittle"),
    ],
)
def test_material_of_one_batch_is_a_doubt_about_that_batch(uses, stream, lot, when) -> None:
    """Crates of a closed loop under plants, sun-worn or brittle plastic under a person."""
    (found,) = told({"uses": uses}, stream=stream, lot=lot)
    assert (found.code, found.level, found.about) == ("use-material", Level.DOUBT, "PL-1")
    assert dict(found.facts)["why"] == when


def test_sound_material_is_no_doubt() -> None:
    """PE-HD that is light worn, from things of today, may carry plants and people."""
    assert told({"uses": ["planting", "seating", "load", "animals"]}, lot={"weathering": "light"}) == ()


def test_old_things_for_food_plants() -> None:
    """A stream that says `made_before` brings the doubt into what carries food plants, beside the one about the use."""
    found = told({"uses": ["edible-planting"]}, stream={"made_before": "2000-01-01"})
    assert [problem.code for problem in found] == ["use-unproven", "use-material"]


def test_a_finding_stands_at_its_word(tmp_path: Path) -> None:
    """File, line and column of the word that declares the use."""
    content = tmp_path / "content"
    (content / "products").mkdir(parents=True)
    (content / "workshop.yaml").write_text("name: Reedmouth Yard\nprefix: RY\n", encoding="utf-8")
    (content / "products" / "table.yaml").write_text(
        "title: {en: Table, fr: Table}\nmade_for: {en: A shelf and bird feeder, fr: Une étagère}\n", encoding="utf-8"
    )
    read, _ = read_shop(content)
    assert read is not None
    (found,) = use_problems(read)
    assert str(found.place) == "content/products/table.yaml:2:28"
    assert found.message.startswith(
        'met "bird feeder" in TABLE, wanted evidence for it: nobody tested it for animal feed'
    )


def test_the_demo_makes_nothing_that_it_may_not() -> None:
    """Reedmouth Yard's products stay within what reclaimed plastic may be used for, and its batches suit them."""
    read, _ = read_shop(DEMO)
    assert read is not None
    assert said_of(read) == ()


def test_every_use_is_one_that_records_may_name() -> None:
    """The table and the records speak of the same uses."""
    for row in declared_uses():
        for use in row.covers:
            adapter(Product).validate_python({"id": "X", "title": "X", "made_for": "x", "uses": [use]})
        assert row.source
