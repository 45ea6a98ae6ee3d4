"""The resin table: complete, cited, and findable by what people write."""

from __future__ import annotations

import pytest

from passport.material.advice import care_for, cautions, closing_words, hand_back_words
from passport.material.resins import by_number, by_term, hint_for, resins, symbols_for
from passport.material.tables import cited, sources, table

TABLES = ["resins", "filled", "liquids", "routes", "marks", "cautions", "care"]


def _cited_in(value):
    """Every source key under a table, wherever it stands."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from inner if key == "from" else _cited_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _cited_in(inner)


@pytest.mark.parametrize("name", TABLES)
def test_every_source_that_a_table_names_exists(name):
    """A figure whose source is not listed is a figure without a source."""
    keys = set(_cited_in(table(name)))
    assert keys
    assert keys <= set(sources())


@pytest.mark.parametrize("symbol", list(resins()))
def test_every_figure_of_a_resin_is_cited_and_sane(symbol):
    """Each range names a source, is the right way round, and the usual density lies inside the wide one."""
    resin = resins()[symbol]
    for grade in resin.grades:
        figures = [
            grade.density_g_cm3,
            grade.density_wide_g_cm3,
            grade.melts_c,
            grade.glass_c,
            grade.process_c,
            grade.never_above_c,
            grade.shrinkage_pct,
            grade.service_c,
            grade.melt_flow,
        ]
        assert all(f.sources and f.low <= f.high for f in figures if f is not None)
        assert grade.density_wide_g_cm3.low <= grade.density_g_cm3.low
        assert grade.density_g_cm3.high <= grade.density_wide_g_cm3.high
        if grade.never_above_c is not None and grade.decomposes_from_c is not None:
            assert grade.never_above_c.low <= grade.decomposes_from_c.low


def test_floats_and_sinks_agree_with_the_density():
    """What is said to float is lighter than water at 20 °C (0.9982 g/cm3, CIPM formula)."""
    for resin in resins().values():
        assert resin.floats_in_water == (resin.density_g_cm3.high < 0.9982)


def test_melting_points_are_not_those_of_a_faulty_review():
    """A review prints PE-HD at 200-300 °C and PP at 130 °C (PMC7186362, table 1): neither got in."""
    assert all(f.high < 140 for f in resins()["PE-HD"].melts_c)
    assert max(f.high for f in resins()["PP"].melts_c) > 160


def test_the_limits_of_a_symbol_hold_for_all_its_grades():
    """A sack of PP holds any grade: frost-tender like a homopolymer, 90 °C at most like a random copolymer."""
    service = resins()["PP"].service_c
    assert (service.low, service.high) == (0, 90)
    window = resins()["PP"].process_c
    assert (window.low, window.high) == (204, 260)


@pytest.mark.parametrize(
    ("text", "symbols"),
    [
        ("PP", {"PP"}),
        ("PE", {"PE-HD", "PE-LD", "PE-LLD"}),
        ("PS", {"PS"}),
        ("PVC", {"PVC-U"}),
        ("PA", {"PA6"}),
        ("HDPE", set()),
        ("", set()),
    ],
)
def test_a_word_means_a_symbol_or_a_group(text, symbols):
    """Symbols of ISO 1043-1 and groups are names; terms of the packaging systems are not."""
    assert symbols_for(text) == symbols


def test_numbers_and_terms_find_their_resins():
    """ASTM D7611 and 97/129/EC; 7 names no resin."""
    assert by_number(5) == {"PP"}
    assert by_number(4) == {"PE-LD", "PE-LLD"}
    assert by_number(6) == {"PS", "PS-HI", "PS-E"}
    assert by_number(7) == frozenset()
    assert by_term("PETE") == by_term("PET") == {"PET"}
    assert by_term("V") == {"PVC-U"}
    assert by_term("OTHER") == frozenset()


@pytest.mark.parametrize(
    ("word", "hint"),
    [
        ("HDPE", "write the symbol of ISO 1043-1: PE-HD"),
        ("ldpe", "write the symbol of ISO 1043-1: PE-LD"),
        ("polypropylene", "write the symbol of ISO 1043-1: PP"),
        ("polystyrène", "write the symbol of ISO 1043-1: PS"),
        ("PE-HDD", 'did you mean "PE-HD" or "PE-LD" or "PE-LLD"?'),
        ("wood", ""),
    ],
)
def test_a_near_miss_gets_a_hint(word, hint):
    """What people write where the symbol is wanted."""
    assert hint_for(word) == hint


def test_memory_is_said_to_be_memory():
    """A source that nobody looked up says so in words."""
    assert cited(("memory",)) == "from memory, not confirmed"
    assert cited(("practice",)) == "common practice, no source"


def test_every_caution_and_care_is_there_in_two_languages():
    """Words in English and French for each key that a resin names, and for each use that asks for one."""
    assert {key for r in resins().values() for key in r.cautions} <= set(cautions())
    assert all(set(advice.words) == {"en", "fr"} for advice in cautions().values())
    for symbol in resins():
        assert all(set(line.words) == {"en", "fr"} and line.sources for line in care_for(symbol).lines())
    assert set(closing_words()) == {"en", "fr"}


def test_hand_back_words_name_the_material():
    """The material's name stands in the words of each language."""
    words = hand_back_words(resins()["PP"].name)
    assert "anything that is not polypropylene" in words["en"]
    assert "polypropylène" in words["fr"]
