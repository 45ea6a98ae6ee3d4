"""Samples that are weighed, and dark pieces that were put aside: from the record to the bound."""

from __future__ import annotations

from fractions import Fraction

import pytest
from scipy import stats

from passport.material.identity import Verdict, identify
from passport.material.purity import Sample, lower_bound
from passport.material.sampling import count_problems, sample_of
from passport.reading.records import FlakeSample, Lot, NirReading


def flake(**more: str) -> FlakeSample:
    """50 g of flake, of which 48.5 g are PP."""
    said = {"test": "flake", "reads": "PP", "sample": "50 g", "of_resin": "48.5 g", "heaviest": "0.5 g", "by": "nir"}
    return FlakeSample(**({"drawn": "random"} | said | more))


def lot(*evidence: object, **more: str) -> Lot:
    """A received lot with its tests."""
    return Lot(
        id="SH-1", date="2026-04-11", received={"stream": "yard"}, mass="9.0 kg", evidence=list(evidence), **more
    )


def test_flake_is_a_sample_of_mass() -> None:
    """50 g in draws of 0.5 g are 100, of them 97: the bound is Clopper's and Pearson's (scipy's beta quantile)."""
    sample = sample_of(lot(flake()), "PP")
    assert sample == Sample(key="SH-1", read=100, of_resin=97, of="mass", grams=Fraction(50))
    bound = lower_bound(sample)
    assert float(bound.at_least) == pytest.approx(stats.beta.ppf(0.05, 97, 4), abs=1e-6)
    assert bound.of == "mass"


def test_flake_that_was_picked_bounds_nothing() -> None:
    """A sample that was not divided well says nothing about the rest, and none of one resin about another."""
    assert sample_of(lot(flake(drawn="picked")), "PP") is None
    assert sample_of(lot(flake()), "PE-HD") is None


@pytest.mark.parametrize(
    ("field", "mass", "said"),
    [
        ("of_resin", "51 g", "met 51 g of the resin in a sample of 50 g, wanted at most the sample"),
        (
            "heaviest",
            "60 g",
            "met a heaviest flake of 60 g in a sample of 50 g, wanted more than 0 g and at most the sample",
        ),
        (
            "heaviest",
            "0 g",
            "met a heaviest flake of 0 g in a sample of 50 g, wanted more than 0 g and at most the sample",
        ),
        (
            "sample",
            "0 g",
            "met a heaviest flake of 0.5 g in a sample of 0 g, wanted more than 0 g and at most the sample",
        ),
    ],
)
def test_masses_of_flake_that_cannot_be(field: str, mass: str, said: str) -> None:
    """They make no sample, and are said."""
    wrong = lot(flake(**{field: mass}))
    assert sample_of(wrong, "PP") is None
    assert [(p.code, p.message, p.about) for p in count_problems(wrong)] == [("flake-masses", said, "SH-1")]


def test_flake_names_a_resin_unless_a_tenth_is_another() -> None:
    """Flake read one by one is a scanner's reading; with 10 % of something else it is no single resin."""
    assert identify([flake()]).verdict is Verdict.ESTABLISHED
    assert identify([flake(of_resin="45 g")]).verdict is Verdict.NOT_ESTABLISHED


def dark(pieces: str, **more: str) -> NirReading:
    """A random sample of the light pieces, with dark ones put aside before."""
    return NirReading(**({"test": "nir", "reads": "PP", "drawn": "random", "pieces": pieces} | more))


def test_dark_pieces_put_aside_are_a_stratum_of_their_own() -> None:
    """All 30 light pieces of 40 read as PP: 30 of 40 are PP, whatever the 10 dark ones are."""
    sample = sample_of(lot(dark("30", set_aside="10"), pieces="40"), "PP")
    assert sample is not None
    assert lower_bound(sample).at_least == Fraction(3, 4)


def test_the_bound_of_the_light_pieces_is_that_of_their_own_number() -> None:
    """20 of the 30 light ones read: the bound of 30 (hypergeometric), thinned by the 10 dark ones."""
    mixed = lower_bound(sample_of(lot(dark("20", set_aside="10"), pieces="40"), "PP"))
    light = lower_bound(Sample(key="x", read=20, of_resin=20, of_lot=30))
    assert mixed.at_least == light.at_least * Fraction(30, 40)


@pytest.mark.parametrize(
    ("pieces", "said"),
    [
        (None, "met 10 dark pieces set aside of a lot not counted, wanted `pieces:` of the lot"),
        ("8", "met 10 dark pieces set aside of a lot of 8, wanted at most all of it"),
        ("25", "met 20 pieces read of 15 that were not set aside, wanted at most those"),
    ],
)
def test_dark_pieces_that_cannot_be(pieces: str | None, said: str) -> None:
    """Without the number of all pieces their share cannot be told; more than there are cannot be."""
    wrong = lot(dark("20", set_aside="10"), **({"pieces": pieces} if pieces else {}))
    assert sample_of(wrong, "PP") is None
    assert [p.message for p in count_problems(wrong)] == [said]


def test_dark_pieces_put_aside_are_a_doubt() -> None:
    """The page says that they were not read."""
    doubts = identify([dark("20", set_aside="10")]).doubts
    assert [p.message for p in doubts] == ["met 10 pieces too dark to read, wanted a reading of each"]
