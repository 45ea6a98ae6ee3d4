"""Lower bounds of purity, against scipy and published sampling figures."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from material_cases import cases
from scipy.stats import binomtest, hypergeom

from passport.material.purity import (
    Sample,
    binomial_bound,
    blend_bound,
    flake_sample,
    hypergeometric_bound,
    lower_bound,
    pieces_to_read,
    with_dark_pieces,
)

C95 = Fraction(95, 100)


@pytest.mark.parametrize("case", cases("sampling"), ids=lambda c: f"{c['share']}-{c['confidence']}")
def test_the_plan_is_the_published_one(case):
    """Zero-failure sample sizes as the named sources print them."""
    assert pieces_to_read(Fraction(case["share"]), Fraction(case["confidence"])) == case["pieces"]


def test_the_upper_limit_of_a_published_example():
    """5 of 100 000 at 95 %: upper limit 0.0001051275 (documentation of an R package on binomial limits)."""
    lower_for_the_rest = binomial_bound(99_995, 100_000, C95)
    assert float(1 - lower_for_the_rest) == pytest.approx(0.0001051275, abs=1.1e-6)


@given(st.integers(1, 80), st.data(), st.sampled_from([Fraction(9, 10), C95, Fraction(99, 100)]))
def test_the_binomial_bound_is_scipys(read, data, confidence):
    """Clopper-Pearson, one-sided, floored to a millionth."""
    good = data.draw(st.integers(0, read))
    wanted = binomtest(good, read, alternative="greater").proportion_ci(float(confidence), "exact").low
    found = float(binomial_bound(good, read, confidence))
    assert wanted - 1.5e-6 <= found <= wanted + 1e-9


@settings(deadline=None)
@given(st.integers(1, 60), st.data(), st.sampled_from([Fraction(9, 10), C95]))
def test_the_lot_bound_is_the_smallest_likely_lot(of_lot, data, confidence):
    """scipy: one piece fewer would make the sample rarer than 1 - confidence, the bound itself does not."""
    read = data.draw(st.integers(1, of_lot))
    good = data.draw(st.integers(0, read))
    bound = hypergeometric_bound(good, read, of_lot, confidence)
    assert hypergeom.sf(good - 1, of_lot, bound, read) > float(1 - confidence) - 1e-12
    if bound > good:
        assert hypergeom.sf(good - 1, of_lot, bound - 1, read) <= float(1 - confidence) + 1e-12


@settings(deadline=None)
@given(st.integers(2, 14), st.data())
def test_the_bound_fails_no_more_often_than_it_says(of_lot, data):
    """Counted over every sample of every lot: the bound exceeds the truth in at most 5 % of the draws."""
    read, truth = data.draw(st.integers(1, of_lot)), data.draw(st.integers(0, of_lot))
    wrong = sum(
        comb(truth, k) * comb(of_lot - truth, read - k)
        for k in range(max(0, read - of_lot + truth), min(read, truth) + 1)
        if hypergeometric_bound(k, read, of_lot, C95) > truth
    )
    assert Fraction(wrong, comb(of_lot, read)) <= 1 - C95


def test_reading_the_whole_lot_is_exact():
    """With every piece read the bound is the count."""
    assert lower_bound(Sample(key="A", read=44, of_resin=41, of_lot=44)).at_least == Fraction(41, 44)


def test_a_plan_for_a_lot_is_enough_and_no_more():
    """For 100 pieces: the plan's number proves 95 %, one fewer does not."""
    number = pieces_to_read(C95, C95, of_lot=100)
    assert lower_bound(Sample(key="A", read=number, of_resin=number, of_lot=100)).at_least >= C95
    assert lower_bound(Sample(key="A", read=number - 1, of_resin=number - 1, of_lot=100)).at_least < C95


def test_unread_dark_pieces_count_as_not_that_resin():
    """30 light pieces all read as PP beside 10 dark ones: at most three quarters can be claimed."""
    light = lower_bound(Sample(key="A", read=30, of_resin=30, of_lot=30))
    assert with_dark_pieces(light, 30, 10).at_least == Fraction(3, 4)


def test_a_blend_shares_the_confidence_among_its_samples():
    """Two samples at 97.5 % each, mass-weighted (Bonferroni); the lot without a sample adds nothing."""
    one, two = Sample(key="A", read=60, of_resin=60), Sample(key="B", read=60, of_resin=60)
    each = float(Fraction(25, 1000)) ** (1 / 60)
    parts = [(Fraction(1, 2), one), (Fraction(1, 4), two), (Fraction(1, 4), None)]
    found = blend_bound(parts)
    assert float(found.at_least) == pytest.approx(0.75 * each, abs=1e-6)
    assert found.confidence == C95


def test_lots_split_from_one_share_its_sample():
    """The same sample under two lots is one sample: its bound is that of the undivided lot."""
    sample = Sample(key="A", read=60, of_resin=60)
    assert blend_bound([(Fraction(1, 2), sample), (Fraction(1, 2), sample)]).at_least == lower_bound(sample).at_least


def test_shares_that_make_no_whole_are_refused():
    """A blend of 90 % is none."""
    with pytest.raises(ValueError, match=r"^met shares that sum to 0.9, wanted 1$"):
        blend_bound([(Fraction(9, 10), None)])


def test_more_pieces_than_the_lot_holds_are_refused():
    """Reading 50 of 44 pieces is a slip."""
    with pytest.raises(ValueError, match=r"^met 50 pieces read of a lot of 44, wanted at most the whole lot$"):
        lower_bound(Sample(key="A", read=50, of_resin=50, of_lot=44))


def test_flake_counts_as_draws_of_its_heaviest_piece():
    """100 g with 98 g of the resin and flakes of at most 0.5 g: 200 draws, 196 good, by mass."""
    sample = flake_sample("A", Fraction(100), Fraction(98), Fraction(1, 2))
    assert (sample.read, sample.of_resin, sample.of) == (200, 196, "mass")
