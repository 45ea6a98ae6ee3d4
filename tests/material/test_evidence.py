"""What tests say about the resin, and the verdict they make together."""

from __future__ import annotations

import ast
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import passport.material.identity as identity_module
from passport.material.identity import Verdict, identify
from passport.material.resins import resins
from passport.material.seen import Support
from passport.reading.records import (
    Appearance,
    DensityTest,
    DscTest,
    FloatTest,
    FtirTest,
    MouldedMark,
    NirReading,
    SupplierPaper,
)

ALCOHOL = "ethanol 45 % by mass"


def nir(reads, **fields):
    """A scanner reading."""
    return NirReading(test="nir", reads=reads, **fields)


def mark(number=None, letters=None):
    """A moulded mark."""
    return MouldedMark(test="moulded-mark", number=number, letters=letters)


def floating(pieces, liquid="water"):
    """Pieces that float."""
    return FloatTest(test="float", liquid=liquid, floats=str(pieces))


def sinking(pieces, liquid="water"):
    """Pieces that sink."""
    return FloatTest(test="float", liquid=liquid, sinks=str(pieces))


def dsc(*peaks):
    """Melting peaks."""
    return DscTest(test="dsc", peaks=[f"{peak} °C" for peak in peaks])


def ftir(reads):
    """An infrared spectrum."""
    return FtirTest(test="ftir", reads=reads)


def weighed(in_air, in_liquid, liquid, step="0.001 g", temperature="20 °C"):
    """A weighing under a liquid."""
    return DensityTest(
        test="density", in_air=in_air, in_liquid=in_liquid, liquid=liquid, temperature=temperature, step=step
    )


def looks(symbol):
    """An appearance."""
    return Appearance(test="appearance", looks=symbol, why="waxy, a fingernail marks it")


def paper(symbol):
    """A supplier's paper."""
    return SupplierPaper(test="paper", says=symbol, document="delivery note 7")


def doubts(found):
    """The codes of its doubts."""
    return {problem.code for problem in found.doubts}


CASES = {
    "a scanner on clean pieces": ([nir("PE-HD")], Verdict.ESTABLISHED, "PE-HD"),
    "a spectrum of PP": ([ftir("PP")], Verdict.ESTABLISHED, "PP"),
    "a mark with letters": ([mark("5", "PP")], Verdict.LIKELY, "PP"),
    "a mark with a symbol between brackets": ([mark(None, ">PE-HD<")], Verdict.LIKELY, "PE-HD"),
    "a number alone": ([mark("2")], Verdict.NOT_ESTABLISHED, None),
    "number 7 with letters": ([mark("7", "ABS")], Verdict.LIKELY, "ABS"),
    "number 7 alone": ([mark("7")], Verdict.NOT_ESTABLISHED, None),
    "mark and density": (
        [mark("2", "HDPE"), floating(3), sinking(3, ALCOHOL)],
        Verdict.ESTABLISHED,
        "PE-HD",
    ),
    "mark and paper": ([mark("5", "PP"), paper("PP")], Verdict.ESTABLISHED, "PP"),
    "a family reading": ([nir("PE")], Verdict.NOT_ESTABLISHED, None),
    "a family reading and a mark": ([nir("PE"), mark("2", "HDPE")], Verdict.ESTABLISHED, "PE-HD"),
    "a spectrum does not split PE": ([ftir("PE-HD")], Verdict.NOT_ESTABLISHED, None),
    "looks alone": ([looks("PP")], Verdict.NOT_ESTABLISHED, None),
    "float alone": ([floating(5)], Verdict.NOT_ESTABLISHED, None),
    "a peak that PP shares with POM": ([dsc(164)], Verdict.NOT_ESTABLISHED, None),
    "the same peak on a piece that floats": ([dsc(164), floating(2)], Verdict.ESTABLISHED, "PP"),
    "two spectra that differ": ([nir("PP"), ftir("PS")], Verdict.CONFLICTING, None),
    "scanner against mark": ([nir("PP"), mark("2", "HDPE")], Verdict.CONFLICTING, None),
    "scanner against float": ([nir("PE-HD"), floating(3, ALCOHOL)], Verdict.CONFLICTING, None),
    "nothing": ([], Verdict.NOT_ESTABLISHED, None),
}


@pytest.mark.parametrize("name", CASES)
def test_the_verdict(name):
    """One strong test or two kinds of medium ones establish a resin; what disagrees is a conflict (our rule)."""
    evidence, verdict, symbol = CASES[name]
    found = identify(evidence)
    assert (found.verdict, found.symbol) == (verdict, symbol)


@pytest.mark.parametrize("name", CASES)
def test_the_order_of_the_tests_does_not_matter(name):
    """Verdict, candidates and doubts are the same whatever was written down first."""
    evidence, _, _ = CASES[name]
    answers = {(f.verdict, f.candidates, f.doubts) for f in (identify(list(order)) for order in permutations(evidence))}
    assert len(answers) == 1


def test_no_reading_is_no_evidence():
    """I3: a black part on which the scanner reads nothing stays open; it is not "not PP" (limit of NIR, confirmed)."""
    found = identify([nir("no reading", pieces="6")])
    assert found.candidates == tuple(resins())
    assert [s.support for s in found.basis] == [Support.NONE]
    assert found.next_test.key == "mark"


def test_a_contradictory_mark_is_kept_and_lowers_the_verdict():
    """Number 5 is PP, letters LDPE are 4: in conflict until a better test settles it, and shown even then."""
    alone = identify([mark("5", "LDPE")])
    assert alone.verdict is Verdict.CONFLICTING
    assert alone.candidates == ("PP", "PE-LD", "PE-LLD")
    (problem,) = alone.doubts
    assert problem.message == (
        "met number 5 with letters LDPE, wanted both to name one resin: 5 is PP, LDPE is PE-LD/PE-LLD"
    )
    settled = identify([mark("5", "LDPE"), nir("PP")])
    assert (settled.verdict, settled.symbol) == (Verdict.ESTABLISHED, "PP")
    assert doubts(settled) == {"mark-contradicts"}


def test_a_sorted_heap_does_not_settle_its_own_mark():
    """The sorter read the same mark: that is one piece of evidence, not two."""
    assert identify([mark("5", "LDPE")], sorted_as="PP").verdict is Verdict.CONFLICTING
    assert identify([mark("5", "PP")], sorted_as="PP").verdict is Verdict.LIKELY


def test_float_and_density_are_one_evidence():
    """A float beside a weighing adds no second ground: the two together are no more than likely."""
    both = identify([weighed("5 g", "0.6396 g", "ethanol 100 % by mass"), floating(3)])
    assert (both.verdict, both.symbol) == (Verdict.LIKELY, "PP")


def test_a_scanner_and_a_float_settle_a_wrong_mark():
    """Two kinds of test outweigh the mark, which stays on the page."""
    found = identify([nir("PP"), mark("2", "HDPE"), floating(3, ALCOHOL), sinking(3, "ethanol 60 % by mass")])
    assert (found.verdict, found.symbol) == (Verdict.ESTABLISHED, "PP")
    assert doubts(found) == {"identity-contradicted"}


def test_pp_that_sinks_is_filled_not_refused():
    """I1: a spectrum of PP on a piece that sinks in water is filled or dirty PP (trade table of talc-filled PP)."""
    found = identify([ftir("PP"), sinking(3)])
    assert (found.verdict, found.symbol) == (Verdict.LIKELY, "PP")
    assert doubts(found) == {"identity-filled"}
    assert found.next_test.key == "filler"


def test_a_density_of_1_05_names_nothing():
    """I2: PS, PS-HI, ABS or filled PP (ranges of the table, trade table of talc-filled PP)."""
    found = identify([weighed("5 g", "0.2491 g", "water")])
    assert found.candidates == ("PS", "PS-HI", "ABS")
    assert found.filled == ("PP",)
    assert found.symbol is None


def test_two_peaks_are_a_mixture():
    """I4: peaks at 130 and 164 °C are PE-HD and PP side by side (melting ranges of the table)."""
    found = identify([dsc(130, 164)])
    assert set(found.mixture) == {"PE-HD", "PP"}
    assert found.symbol is None
    assert doubts(found) == {"identity-mixture"}


def test_number_1_that_melts_at_210_is_not_pet():
    """I5: a thing of number 1 melts between 225 and 255 °C (California PRC 18013, confirmed)."""
    found = identify([mark("1", "PET"), dsc(210)])
    assert found.symbol is None
    assert "PET" not in found.candidates
    assert "identity-not-pet" in doubts(found)


def test_foam_floats_for_its_gas_cells():
    """A reading of PS on a piece that floats is foam, never a polyolefin."""
    found = identify([nir("PS"), floating(4)])
    assert (found.verdict, found.symbol) == (Verdict.LIKELY, "PS-E")
    assert found.next_test.key == "press"


def test_other_readings_and_dark_pieces_are_doubts():
    """What read otherwise and what did not read stay on the page."""
    found = identify([nir("PE-HD", pieces="20", others={"PP": "1", "no reading": "2"})])
    assert {p.message for p in found.doubts} == {
        "met 1 × PP among pieces that read PE-HD, wanted PE-HD alone",
        "met 2 pieces too dark to read, wanted a reading of each",
    }


@pytest.mark.parametrize(
    ("test", "code"),
    [
        (floating(3, "milk"), "liquid-unknown"),
        (FloatTest(test="float", liquid="water", floats="3", sinks="2"), "float-both"),
        (weighed("5 g", "6 g", "water"), "density-not-lighter"),
        (weighed("5 g", "0.6396 g", "ethanol 100 % by mass", step="0.1 g"), "density-too-coarse"),
        (weighed("5 g", "0.6396 g", "ethanol 100 % by mass", temperature="60 °C"), "liquid-temperature"),
        (nir("HDPE"), "resin-unknown"),
        (mark("9", "ABS"), "mark-number"),
        (mark(None, "> PP <"), "mark-unread"),
    ],
)
def test_bad_evidence_is_a_doubt_and_no_evidence(test, code):
    """A test that cannot be used says why; it neither names nor excludes."""
    found = identify([test])
    assert code in doubts(found)
    assert found.verdict in (Verdict.NOT_ESTABLISHED, Verdict.LIKELY)


@pytest.mark.parametrize(
    ("evidence", "words"),
    [
        (
            [nir("PP"), mark("2", "HDPE")],
            "float a piece in 45 % alcohol by mass: PP floats, PE-HD sinks; the vapour is flammable",
        ),
        ([dsc(164)], "float a piece in water with a drop of soap: PP floats, POM sinks"),
        (
            [nir("PE")],
            "have the melting peak measured (DSC): PE-HD and PE-LD melt at different temperatures",
        ),
        ([], "read clean, light pieces with the scanner"),
    ],
)
def test_the_next_test_is_named(evidence, words):
    """The cheapest test that splits the candidates, in a technician's words."""
    assert identify(evidence).next_test.in_words() == words


def test_a_float_already_made_is_not_asked_for_again():
    """Pieces that floated in 45 % alcohol are not sent back into it."""
    asked = identify([nir("PE-HD"), floating(3, ALCOHOL)]).next_test
    assert asked.recipe is None or abs(asked.recipe.density_g_cm3 - 0.925) > 0.004


_TESTS = st.one_of(
    st.builds(nir, st.sampled_from([*resins(), "PE", "no reading"])),
    st.builds(ftir, st.sampled_from([*resins()])),
    st.builds(mark, st.sampled_from([None, *"1234567"]), st.sampled_from([None, "PP", "HDPE", "LDPE", "PS", "PVC"])),
    st.builds(floating, st.integers(1, 9), st.sampled_from(["water", ALCOHOL, "brine 11 % by mass"])),
    st.builds(sinking, st.integers(1, 9), st.sampled_from(["water", ALCOHOL, "brine 11 % by mass"])),
    st.builds(dsc, st.integers(90, 280)),
    st.builds(looks, st.sampled_from([*resins()])),
    st.builds(paper, st.sampled_from([*resins()])),
)


@given(st.lists(_TESTS, max_size=5))
def test_any_evidence_gives_an_honest_answer(evidence):
    """A name stands only under an established or likely verdict, is a candidate, and an open case names a test."""
    found = identify(evidence)
    named = found.verdict in (Verdict.ESTABLISHED, Verdict.LIKELY)
    assert (found.symbol is not None) == named
    assert found.symbol is None or found.candidates == (found.symbol,)
    assert found.verdict is Verdict.ESTABLISHED or found.next_test is not None
    if found.next_test is not None:
        assert found.next_test.in_words()


@given(st.lists(_TESTS, min_size=1, max_size=4))
def test_no_reading_changes_nothing(evidence):
    """Adding "no reading" to any evidence leaves the verdict as it was."""
    without, added = identify(evidence), identify([*evidence, nir("no reading")])
    assert (without.verdict, without.candidates) == (added.verdict, added.candidates)


def test_no_burn_test_exists_and_the_module_says_why():
    """Smoke poisons; the reason stands where somebody would add the test."""
    source = Path(identity_module.__file__).read_text(encoding="utf-8")
    assert "No burn tests. Smoke from unknown plastic" in (ast.get_docstring(ast.parse(source)) or "")
