"""Marks, numbers and terms."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from material_cases import cases

from passport.material.marking import (
    Filler,
    Mark,
    code_for,
    emit,
    flame_retardant_problem,
    known_symbols,
    mark_for,
    number_of_glyph,
    read_mark,
)


@pytest.mark.parametrize("case", cases("marks"), ids=lambda c: c["mark"])
def test_a_mark_makes_the_round_trip(case):
    """K5, K9: read and written again it is the same text, and it means what the row says."""
    mark, problems = read_mark(case["mark"])
    assert problems == ()
    assert mark == Mark(
        symbols=tuple(case["symbols"]),
        layered=case.get("layered", False),
        plasticisers=tuple(case.get("plasticisers", ())),
        recyclate=case.get("recyclate", False),
        recyclate_percent=case.get("percent"),
        fillers=tuple(Filler(code=c, percent=n) for c, n in case.get("fillers", {}).items()),
        flame_retardants=tuple(case.get("flame_retardants", ())),
    )
    assert emit(mark) == case["mark"]


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("> PP <", "a mark has no spaces"),
        ("PP", "a mark stands between > and <: >PP<"),
        (">pp<", "a mark is written in capitals"),
        ("PP<", "a mark opens with > and closes with <"),
    ],
)
def test_a_mark_that_does_not_read_is_refused(text, hint):
    """K10: capitals, no spaces, between > and < (ISO 11469)."""
    mark, (problem,) = read_mark(text)
    assert mark is None
    assert problem.message == f'met "{text}", wanted a mark such as >PP<, >PP+PE-HD< or >PP-TD20<'
    assert problem.hint == hint


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (">PP-T20<", 'met filler "T" in ">PP-T20<", wanted its material and form such as TD'),
        (">PP-GF<", 'met filler "GF" without a share in ">PP-GF<", wanted one such as GF20'),
    ],
)
def test_a_sloppy_filler_is_read_with_a_doubt(text, message):
    """K10: the form letter or the share is missing (ISO 1043-2)."""
    mark, (problem,) = read_mark(text)
    assert mark is not None
    assert problem.message == message


def test_a_number_word_is_no_symbol():
    """`>HDPE<` names the symbol it should be."""
    mark, (problem,) = read_mark(">HDPE<")
    assert mark is None
    assert problem.hint == "write the symbol of ISO 1043-1: PE-HD"


def test_vehicle_makers_form_is_read_and_never_written():
    """`>P-PP-(GF10+MD5)<` is read as PP; written it has no P-."""
    mark, problems = read_mark(">P-PP-(GF10+MD5)<")
    assert mark is not None
    assert problems == ()
    assert emit(mark) == ">PP-(GF10+MD5)<"


def test_an_older_space_before_fr_is_read():
    """Older editions print a space before FR; ours does not."""
    mark, _ = read_mark(">PA66-GF25 FR(52)<")
    assert mark is not None
    assert emit(mark) == ">PA66-GF25-FR(52)<"


@pytest.mark.parametrize("number", range(1, 80))
def test_flame_retardants_stop_the_work(number):
    """18 to 21, 23 and 24 are rejected, the other halogenated ones (10 to 29) stop and ask, the rest pass."""
    problem = flame_retardant_problem(number)
    wanted = None
    if 10 <= number <= 29:
        wanted = "flame-retardant-reject" if number in (18, 19, 20, 21, 23, 24) else "flame-retardant-ask"
    assert (problem.code if problem else None) == wanted


@pytest.mark.parametrize(
    ("shares", "wanted"),
    [
        ({"PP": "0.62", "PE-HD": "0.38"}, ">PP+PE-HD<"),
        ({"PP": "0.38", "PE-HD": "0.62"}, ">PE-HD+PP<"),
    ],
)
def test_the_larger_part_comes_first(shares, wanted):
    """K6: main component first (ISO 1043-1 via secondary texts)."""
    assert str(mark_for({s: Fraction(w) for s, w in shares.items()})) == wanted


def test_recyclate_is_rounded_down():
    """K7: at least 87.4 % is REC87, because the figure is a minimum."""
    assert str(mark_for({"PP": Fraction(1)}, Fraction("0.874"))) == ">PP(REC87)<"


@pytest.mark.parametrize("shares", [{}, {"?": Fraction(1)}, {"PP": Fraction(1, 2), "": Fraction(1, 2)}])
def test_an_unknown_resin_gets_no_mark(shares):
    """K8: no mark and no number."""
    assert mark_for(shares) is None
    assert code_for(tuple(shares)) is None


@pytest.mark.parametrize(
    ("symbol", "number", "d7611", "eu"),
    [
        ("PP", 5, "PP", "PP"),
        ("PE-HD", 2, "HDPE", "HDPE"),
        ("PVC-U", 3, "PVC", "PVC"),
        ("PE-LD", 4, "LDPE", "LDPE"),
        ("PS", 6, "PS", "PS"),
        ("PS-E", 6, "PS", "PS"),
        ("PET", 1, "PET", "PET"),
        ("ABS", 7, "OTHER", "ABS"),
    ],
)
def test_a_resin_has_its_number_and_terms(symbol, number, d7611, eu):
    """K1 to K3: ASTM D7611 and 97/129/EC; foam takes the number of the solid."""
    code = code_for((symbol,))
    assert (code.number, code.d7611_term, code.eu_term) == (number, d7611, eu)


def test_a_blend_is_the_class_of_combinations():
    """PP with PE-HD is 7 (ASTM D7611: another resin or a combination)."""
    assert code_for(("PP", "PE-HD")).number == 7


def test_the_arrow_glyphs_mean_their_numbers():
    """K4: U+2677 means 5 in the withdrawn arrow form (Unicode table)."""
    assert number_of_glyph("\u2677") == 5
    assert number_of_glyph("\u267a") is None
    assert number_of_glyph("5") is None


_FILLER = st.builds(Filler, code=st.sampled_from(["GF", "TD", "MD", "GB"]), percent=st.integers(1, 60))


@given(
    st.lists(st.sampled_from(sorted(known_symbols())), min_size=1, max_size=3, unique=True),
    st.lists(_FILLER, max_size=2),
    st.one_of(st.none(), st.integers(1, 100)),
    st.lists(st.sampled_from([30, 40, 52, 60]), max_size=1),
)
def test_every_mark_we_write_reads_back(symbols, fillers, percent, retardants):
    """Writing and reading are inverse."""
    mark = Mark(
        symbols=tuple(symbols),
        recyclate=percent is not None,
        recyclate_percent=percent,
        fillers=tuple(fillers),
        flame_retardants=tuple(retardants),
    )
    assert read_mark(emit(mark)) == (mark, ())
