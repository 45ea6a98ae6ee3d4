"""Catalogues: forms of a language, gaps, and what is wrong with a catalogue."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.pages.theme import load_theme
from passport.pages.words import MissingWordError, Words, check_catalogue, fill, gaps, read_catalogue
from passport.problems import Place, Problem

THEME, PROBLEMS = load_theme(["en", "fr"])
EN, FR = THEME.words["en"], THEME.words["fr"]


def test_both_languages_are_whole() -> None:
    """English and French say every word a page may ask for, with the same gaps."""
    assert PROBLEMS == ()


@pytest.mark.parametrize("key", sorted(EN.entries))
def test_gaps_agree(key: str) -> None:
    """A sentence loses no figure in translation."""
    if key != "form.first_day":
        assert gaps(EN.entries[key]) == gaps(FR.entries[key])


# SI Brochure, 9th edition, 5.4.7 (space before %); 5.4.4 (groups of three, decimal comma or point).
# French typography: no-break narrow space before ? ! ; and in groups (Imprimerie nationale, from memory).
@pytest.mark.parametrize(
    ("words", "value", "places", "text"),
    [
        (EN, Decimal("1234.56"), 1, "1234.6"),
        (EN, 12345, 0, "12,345"),
        (FR, Decimal("12345.6"), 1, "12\u202f345,6"),
        (EN, Decimal("-0.4"), 1, "\u22120.4"),
        (EN, Fraction(1, 3), 2, "0.33"),
        (EN, 1234567, 0, "1,234,567"),
        (EN, Decimal("-0.01"), 1, "0.0"),
        (EN, Decimal("2.50"), 0, "2"),
    ],
)
def test_numbers(words: Words, value: Decimal, places: int, text: str) -> None:
    """Numbers take the language's point and groups; halves go to the even digit (ISO 80000-1, rule A)."""
    assert words.number(value, places) == text


def test_at_least_is_floored() -> None:
    """29.96 % is printed "at least 29": a floor, never the nearest (ISO 14021 practice, rule 3 of our facts)."""
    assert EN.percent(Decimal("0.2996"), down=True) == "29\u00a0%"
    assert FR.percent(Decimal("0.2996"), down=True) == "29\u202f%"


@given(st.fractions(min_value=0, max_value=1))
def test_floor_never_rises(share: Fraction) -> None:
    """No "at least" figure is above the share itself."""
    assert Fraction(EN.percent(share, down=True).split("\u00a0")[0]) <= share * 100


def test_dates() -> None:
    """Dates are words of the language; the first of a month is "1er" in French."""
    assert EN.day(date(2026, 5, 4)) == "4 May 2026"
    assert FR.day(date(2026, 5, 4)) == "4 mai 2026"
    assert FR.day(date(2026, 8, 1)) == "1er août 2026"
    assert EN.month(date(2026, 8, 1)) == "August 2026"


def test_plural() -> None:
    """Nought is many in English and one in French."""
    assert EN.some("doubts.more", 0) == "and 0 more doubts"
    assert FR.some("doubts.more", 0) == "et 0 autre doute"
    assert EN.some("doubts.more", 1) == "and 1 more doubt"


def test_lists_and_masses() -> None:
    """Lists end with "and"; small masses are grams."""
    assert EN.listed(["a", "b", "c"]) == "a, b and c"
    assert FR.listed(["a", "b"]) == "a et b"
    assert (EN.listed([]), EN.listed(["a"])) == ("", "a")
    assert EN.mass(850) == "850\u00a0g"
    assert FR.mass(12400) == "12,4\u00a0kg"


@given(st.text(), st.text())
def test_values_are_never_read_as_gaps(first: str, second: str) -> None:
    """A record's text that looks like a gap stays text."""
    assert fill("{a}|{b}", {"a": first, "b": second}) == f"{first}|{second}"


def test_missing_word_is_an_error() -> None:
    """A page that asks for an unknown word fails loudly instead of printing a hole."""
    with pytest.raises(MissingWordError, match=r"no word 'passport\.smell' in 'en'"):
        EN("passport.smell")
    with pytest.raises(MissingWordError, match=r"no value for \{day\} in 'common\.as_of'"):
        EN("common.as_of")


def test_unknown_doubt_is_said_in_english() -> None:
    """A doubt without words of its own is shown as the problem says it, marked as English."""
    problem = Problem(code="no-such-doubt", message="the lid was wet", hint="dry it")
    assert FR.doubt(problem).text == "The lid was wet."
    assert FR.doubt(problem).lang == "en"
    assert EN.doubt(problem).lang == ""


def test_known_doubt_is_worded() -> None:
    """A doubt with words takes its named facts; a missing fact falls back to English instead of failing."""
    words = Words(lang="fr", entries={**FR.entries, "doubt.wet.text": "{about} : {mass} d’eau."})
    whole = Problem(code="wet", message="wet", about="SH-1", facts=(("mass", "2 kg"),))
    assert words.doubt(whole).text == "SH-1 : 2 kg d’eau."
    assert words.doubt(Problem(code="wet", message="wet", about="SH-1")).lang == "en"


def test_facts_take_the_point_of_the_language() -> None:
    """The same doubt in two languages, its figures in the form of each."""
    facts = (("lot", "SH-1"), ("run", "MO-3"), ("over_kg", "0.5"))
    problem = Problem(code="overdrawn", message="x", facts=facts)
    assert EN.doubt(problem).text == "MO-3 took 0.5\u00a0kg more from SH-1 than the books hold."
    assert FR.doubt(problem).text == ("MO-3 a pris 0,5\u00a0kg de plus dans SH-1 que les comptes n’en contiennent.")


def told(text: str, reference: dict[str, str] | None = None) -> list[tuple[str, str, str]]:
    """Code, place and message of each problem of a catalogue."""
    entries, wrong = read_catalogue(text, "words/xx.yaml")
    found = wrong + (check_catalogue(entries, reference, "words/xx.yaml") if reference else ())
    return [(p.code, str(p.place), p.message) for p in found]


def test_what_a_catalogue_may_lack() -> None:
    """Missing, unknown and double words and gaps that nothing fills are each named."""
    reference = {"a.b": "see {n}", "a.c": "x"}
    assert told("a:\n  b: voir {m}\n  d: y\n", reference) == [
        ("word-missing", "words/xx.yaml", 'the catalogue lacks "a.c"'),
        ("word-gap", "words/xx.yaml", '"a.b" has the gap {m}, which nothing fills; it may use {n}'),
        ("word-unknown", "words/xx.yaml", 'no page asks for the word "a.d"'),
    ]


def test_catalogues_that_cannot_be_read() -> None:
    """Broken YAML, doubles and lists are errors with their place."""
    assert told("a: b\na: c\n") == [
        ("words-misplaced", "words/xx.yaml:2:4", '"a" stands twice; each key of a catalogue has one text')
    ]
    assert told("a: [b]\n") == [
        ("words-misplaced", "words/xx.yaml:1:4", '"a" is not a sentence; each key of a catalogue has one text')
    ]
    assert told("a: {b\n")[0][0] == "words-unreadable"
    assert told("a: &x {b: *x}\n")[0][0] in {"words-misplaced", "words-unreadable"}


def test_a_key_may_be_a_number() -> None:
    """Months stand under 1 to 12; keys are text."""
    assert read_catalogue("m:\n  1: Jan\n", "x")[0] == {"m.1": "Jan"}


def test_place_is_the_catalogue() -> None:
    """A language without a catalogue is one error, where it is asked for, and says which there are."""
    _, problems = load_theme(["en", "ga"])
    assert [(p.code, p.place, p.hint) for p in problems] == [
        (
            "language-unknown",
            Place("content/workshop.yaml"),
            "there are en, fr; a catalogue of your own goes into theme/words/ga.yaml",
        )
    ]


def test_french_marks_stay_with_their_word() -> None:
    """A line never begins with : ; ! ? or », nor ends with « (French typography, common practice, no source)."""
    said = THEME.words["fr"].spaced("Reçu : « oui » ; non ! 3:1")
    assert said == "Reçu\u00a0: «\u00a0oui\u00a0»\u00a0; non\u00a0! 3:1"
    assert THEME.words["en"].spaced("a : b") == "a : b"


def test_french_takes_its_own_apostrophe() -> None:
    """Between two letters of what was escaped; quotes of code, data and English stay as they are."""
    assert THEME.words["fr"].spaced("l&#39;eau n'est &#39;x&#39;") == "l’eau n'est &#39;x&#39;"
    assert THEME.words["en"].spaced("makers&#39;s") == "makers&#39;s"
