"""Tag numbers, against ISO/IEC 7064 as published and as python-stdnum computes it."""

from __future__ import annotations

import doctest
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from passport.problems import Problem
from passport.reading import tag_numbers
from passport.reading.tag_numbers import (
    ALPHABET,
    TagNumber,
    check_character,
    nearest,
    next_numbers,
    read_tag_number,
)

prefixes = st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=4)


def problem(text: str, prefix: str = "RY") -> Problem:
    """The problem that reading the text gives."""
    read = read_tag_number(text, prefix)
    assert isinstance(read, Problem)
    return read


@pytest.mark.parametrize(
    ("body", "check"),
    [
        ("A12425GABC1234002", "M"),  # ISO/IEC 7064 MOD 37,36 as worked in the release-identifier standard
        ("123AB", "X"),  # worked in python-stdnum's documentation
    ],
)
def test_the_published_check_characters_come_out(body: str, check: str) -> None:
    """The worked examples of MOD 37,36 give their published check characters."""
    assert check_character(body) == check


@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=30))
def test_the_check_character_is_that_of_python_stdnum(body: str) -> None:
    """For any body the check character is the one python-stdnum computes."""
    assert check_character(body) == mod_37_36.calc_check_digit(body)


@given(prefixes, st.integers(0, 31**5 - 2000))
def test_every_issued_number_is_valid_and_readable(prefix: str, rank: int) -> None:
    """Numbers rise, keep to the 31 letters, pass python-stdnum's check and read back as themselves."""
    after = next(n for r in range(rank, rank + 999) for n in tag_numbers._numbers_from(prefix, r))
    numbers = next_numbers(prefix, after, 20)
    assert all(mod_37_36.is_valid(n.replace("-", "")) for n in numbers)
    assert all(set(n.partition("-")[2]) <= set(ALPHABET) for n in numbers)
    assert all(a < b for a, b in pairwise((after, *numbers)))
    assert [str(read_tag_number(n, prefix)) for n in numbers] == list(numbers)


def test_the_alphabet_has_31_characters_and_no_look_alikes() -> None:
    """0 and O, 1, I and L are the five of the 36 that are left out."""
    assert ALPHABET == "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def test_the_first_numbers_skip_what_has_a_look_alike_check() -> None:
    """Counting starts at 22222; 22223, 22226 and others have a check character outside the alphabet."""
    assert next_numbers("RY", None, 4) == ("RY-22222Q", "RY-22224M", "RY-22225K", "RY-22227G")
    assert check_character("RY22223") == "O"
    assert check_character("RY22226") == "I"


def test_issuing_goes_on_where_it_stopped() -> None:
    """Ten at once are the same as four and then six."""
    four = next_numbers("RY", None, 4)
    assert next_numbers("RY", None, 10) == four + next_numbers("RY", four[-1], 6)


def test_the_last_serial_is_the_end() -> None:
    """Past ZZZZZ there is no number, and none is made up."""
    last = max(tag_numbers._numbers_from("RY", 31**5 - 31))
    with pytest.raises(ValueError, match=r"^prefix RY has no 1 numbers left: take another prefix$"):
        next_numbers("RY", last, 1)


@pytest.mark.parametrize("prefix", ["", "ABCDE", "ry", "R-Y", "R Y", "É"])
def test_a_prefix_is_1_to_4_capitals_or_digits(prefix: str) -> None:
    """Anything else is refused before a number is made."""
    with pytest.raises(ValueError, match=r"is no prefix: wanted 1 to 4 capital letters or digits$"):
        next_numbers(prefix, None, 1)


TYPED = ["RY-22224M", "ry-22224m", "RY22224M", " r y 2222 4m ", "RY - 222-24M", "RY\u00a022224M"]


@pytest.mark.parametrize("text", TYPED)
def test_case_spaces_and_hyphens_do_not_matter(text: str) -> None:
    """A number is read however a person types it."""
    assert read_tag_number(text, "RY") == TagNumber(prefix="RY", serial="22224", check="M")


def test_a_look_alike_in_the_prefix_is_forgiven() -> None:
    """A prefix with an O in it is found when a zero is typed."""
    number = next_numbers("OIL", None, 1)[0]
    assert str(read_tag_number(number.replace("OIL", "011"), "OIL")) == number


SHAPELESS = ["", "RY", "22224M", "QX-22224M", "RY-2222M", "RY-222244M", "RY-2222ÄM", "RY-²2224M"]


@pytest.mark.parametrize("text", SHAPELESS)
def test_another_shape_is_named_with_an_example(text: str) -> None:
    """What is no tag number at all is told what one looks like."""
    assert problem(text) == Problem(
        code="tag-number-shape",
        message=f'"{text}" is no tag number: wanted RY, a hyphen, five characters and a check character, '
        "such as RY-22222Q",
        hint="copy the number that stands beside the symbol",
        about=text,
    )


def test_a_look_alike_letter_has_its_own_problem() -> None:
    """A zero, O, one, I or L in the serial is named, with what it may be."""
    assert problem("RY-222O4M") == Problem(
        code="tag-number-look-alike",
        message='"RY-222O4M" has "O" after its prefix; no tag number has 0, O, 1, I or L there',
        hint="look at the tag again: O or 0 may be Q, D or 8; 1, I or L may be 7, J or T",
        about="RY-222O4M",
    )


def test_a_wrong_check_character_has_its_own_problem() -> None:
    """One wrong character is always found."""
    assert problem("RY-22225M") == Problem(
        code="tag-number-check",
        message='the check character of "RY-22225M" does not fit: at least one character is wrong',
        hint="compare the number with the tag, character by character",
        about="RY-22225M",
    )


@given(st.integers(0, 5), st.sampled_from(ALPHABET))
def test_any_single_wrong_character_is_found(where: int, character: str) -> None:
    """MOD 37,36 finds every substitution of one character (ISO/IEC 7064)."""
    right = "22224M"
    wrong = right[:where] + character + right[where + 1 :]
    assert wrong == right or problem(f"RY-{wrong}").code == "tag-number-check"


@given(st.text(max_size=300))
def test_no_text_stops_the_reader(text: str) -> None:
    """Any text is a number or a problem with bounded words."""
    read = read_tag_number(text, "RY")
    assert isinstance(read, TagNumber) or len(read.message) < 250


def test_the_nearest_issued_numbers_are_offered_nearest_first() -> None:
    """One wrong character, a swap and a missing one lead to the number that was meant."""
    issued = next_numbers("RY", None, 200)
    assert nearest("ry-22242m", issued)[0] == "RY-22224M"
    assert nearest("RY-2224M", issued)[0] == "RY-22224M"
    assert nearest("RY-22X24M", issued, limit=1) == ("RY-22224M",)
    assert nearest("QQ-99999Z", issued) == ()


def test_the_examples_in_the_code_hold() -> None:
    """The doctests of the module pass."""
    assert doctest.testmod(tag_numbers).failed == 0
