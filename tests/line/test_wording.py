"""What people type → the form of records: generous with commas and units, never guessing what was not asked."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.amounts import NotAQuantity, read_mass, read_share, read_temperature_c
from passport.office.five_questions import prefix_of
from passport.office.wording import any_mass, celsius, kilograms, mass_or_pieces, percent, read_resin, resin, slug
from passport.reading.fields import read_prefix

NUMBERS = st.decimals(min_value=0, max_value=9999, places=2)


@given(NUMBERS, st.sampled_from([",", "."]), st.sampled_from(["", "kg", " kg", "KG", " kilos"]))
def test_kilograms_are_read_as_meant(number: Decimal, point: str, unit: str) -> None:
    """A comma, a missing or an odd unit: the mass is the number of kilograms."""
    assert read_mass(kilograms(f"{number}".replace(".", point) + unit)).mass_kg == number


@given(NUMBERS)
def test_grams_stay_grams(number: Decimal) -> None:
    """A unit that was typed is never replaced by the one of the question."""
    assert read_mass(kilograms(f"{number} g")).mass_kg == number / 1000


def test_a_unit_that_no_question_names_is_not_guessed() -> None:
    """220 could be grams or kilograms: a thing of 220 kg would be believed for ever."""
    with pytest.raises(NotAQuantity):
        read_mass(any_mass("220"))
    assert any_mass("220G") == "220 g"


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("4pcs", "4 pcs"), ("4 pieces", "4 pcs"), ("4", "4 kg"), ("1,5", "1.5 kg"), ("120g", "120 g"), ("a lot", "a lot")],
)
def test_draws_by_mass_or_by_piece(typed: str, meant: str) -> None:
    """A bare number is kilograms; pieces say so."""
    assert mass_or_pieces(typed) == meant


@given(st.integers(min_value=0, max_value=400))
def test_units_of_the_question_may_be_left_out(number: int) -> None:
    """205, 205C and 205 °C are one temperature, 5 and 5 % one share."""
    for typed in (f"{number}", f"{number}C", f"{number} °c"):
        assert read_temperature_c(celsius(typed)) == number
    for typed in (f"{number % 100}", f"{number % 100}%"):
        assert read_share(percent(typed)) * 100 == number % 100


def test_resins_are_read_in_any_case() -> None:
    """Small letters are the same symbol; an everyday name is refused with the symbol that is meant (ISO 1043-1)."""
    assert [resin(text) for text in ("pe-hd", "No reading")] == ["PE-HD", "no reading"]
    with pytest.raises(NotAQuantity) as refused:
        read_resin(resin("hdpe"))
    assert refused.value.hint == "write the symbol of ISO 1043-1: PE-HD"


@given(st.text(max_size=40))
def test_every_name_has_a_prefix_that_tags_may_have(name: str) -> None:
    """Whatever a workshop is called, what is proposed can be taken."""
    read_prefix(prefix_of(name))


@given(st.text(max_size=40))
def test_a_file_name_made_of_words_is_one(words: str) -> None:
    """Letters, figures and single hyphens, or nothing where nothing is left."""
    made = slug(words)
    assert made == "" or all(part.isascii() and part.isalnum() for part in made.split("-"))
    assert slug("Café tubs!") == "cafe-tubs"
