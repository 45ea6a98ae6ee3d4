"""How pure is a lot, from the pieces read: exact lower bounds, and how many pieces to read.

Only pieces drawn at random (or all of them) say something about the rest. A piece too dark to read counts as
not that resin, because nothing speaks for it. A share of pieces is no share of mass; weigh the sample for that.
The exact bounds are those of Clopper and Pearson, Biometrika 26 (1934) 404-413, for sampling with replacement
and their analogue on the hypergeometric distribution for a lot of known number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import comb
from typing import Literal

from passport.problems import Problem

CONFIDENCE = Fraction(95, 100)
"""Confidence of every bound that names none (common practice, no source)."""

_FINE = 10**6
"""Irrational bounds are floored to a millionth, so that a printed bound is never too high."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """Pieces drawn from a lot, and how many of them were read as the resin.

    key: names the sample, so that two lots split from one are not counted as two samples.
    read: all pieces drawn, the unreadable ones included; of_resin: those read as the resin.
    of_lot: pieces in the lot, None where nobody counted them.
    of: `pieces`, or `mass` for a weighed sample of flake.
    dark: pieces of the lot that were put aside unread before the sample was drawn, a stratum of their own.
    grams: mass of a weighed sample of flake; None for pieces.
    """

    key: str
    read: int
    of_resin: int
    of_lot: int | None = None
    of: Literal["pieces", "mass"] = "pieces"
    dark: int = 0
    grams: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The share of a resin is at least this, with the confidence named."""

    at_least: Fraction
    confidence: Fraction
    of: Literal["pieces", "mass"]


def sample_problem(sample: Sample) -> Problem | None:
    """What is wrong with the counts of a sample, or None."""
    if sample.read < 0 or not 0 <= sample.of_resin <= sample.read:
        met = f"{sample.of_resin} of {sample.read} pieces"
        return Problem(code="sample-counts", message=f"met {met}, wanted at most as many as were read")
    if sample.dark and sample.of_lot is None:
        return Problem(
            code="sample-dark",
            message=f"met {sample.dark} dark pieces set aside of a lot not counted, wanted `pieces:` of the lot",
            hint="without the number of all pieces no share can be told: count the lot",
        )
    if sample.of_lot is not None and sample.dark > sample.of_lot:
        return Problem(
            code="sample-dark",
            message=f"met {sample.dark} dark pieces set aside of a lot of {sample.of_lot}, wanted at most all of it",
            hint="correct `pieces:` of the lot or `set_aside:` of the evidence",
        )
    if sample.of_lot is not None and sample.read > sample.of_lot - sample.dark:
        if sample.dark:
            met = f"{sample.read} pieces read of {sample.of_lot - sample.dark} that were not set aside"
            return Problem(
                code="sample-above-lot",
                message=f"met {met}, wanted at most those",
                hint="correct `pieces:` of the lot, or `pieces:` and `set_aside:` of the evidence",
            )
        return Problem(
            code="sample-above-lot",
            message=f"met {sample.read} pieces read of a lot of {sample.of_lot}, wanted at most the whole lot",
            hint="correct `pieces:` of the lot or of the evidence",
        )
    return None


def lower_bound(sample: Sample, confidence: Fraction = CONFIDENCE) -> Bound:
    """The exact lower bound of the resin's share in the lot (one-sided).

    Raises ValueError for counts that cannot be.
    """
    problem = sample_problem(sample)
    if problem is not None:
        raise ValueError(problem.message)
    if sample.of_lot is None:
        share = binomial_bound(sample.of_resin, sample.read, confidence)
        return Bound(at_least=share, confidence=confidence, of=sample.of)
    light = sample.of_lot - sample.dark
    at_least = hypergeometric_bound(sample.of_resin, sample.read, light, confidence)
    share = Fraction(at_least, light) if light else Fraction(0)
    return with_dark_pieces(Bound(at_least=share, confidence=confidence, of=sample.of), light, sample.dark)


def hypergeometric_bound(of_resin: int, read: int, of_lot: int, confidence: Fraction) -> int:
    """Fewest pieces of the resin in a lot that make the sample no rarer than 1 - confidence. Exact integers.

    The bound is the smallest K with P(X >= of_resin | K) > 1 - confidence; P rises with K, so halving finds it.
    """
    low, high = of_resin, of_lot - (read - of_resin)
    while low < high:
        middle = (low + high) // 2
        if _at_least(of_resin, read, middle, of_lot) > 1 - confidence:
            high = middle
        else:
            low = middle + 1
    return low


def _at_least(of_resin: int, read: int, in_lot: int, of_lot: int) -> Fraction:
    """P(X >= of_resin) for `read` pieces drawn without replacement of a lot with `in_lot` of the resin."""
    # fewer terms on the other side: a pure sample has one, a foul one many
    below = range(max(0, read - (of_lot - in_lot)), of_resin)
    above = range(of_resin, min(read, in_lot) + 1)
    terms = above if len(above) <= len(below) else below
    ways = sum(comb(in_lot, k) * comb(of_lot - in_lot, read - k) for k in terms)
    share = Fraction(ways, comb(of_lot, read))
    return share if terms is above else 1 - share


def binomial_bound(of_resin: int, read: int, confidence: Fraction) -> Fraction:
    """Clopper-Pearson lower bound, floored to a millionth: the p with P(X >= of_resin | p) = 1 - confidence."""
    if of_resin == 0:
        return Fraction(0)
    if of_resin == read:
        bound = float(1 - confidence) ** (1 / read)
    else:
        from scipy.special import betaincinv  # noqa: PLC0415 - slow to import, seldom needed

        bound = float(betaincinv(of_resin, read - of_resin + 1, float(1 - confidence)))
    return Fraction(int(bound * _FINE), _FINE)


def pieces_to_read(share: Fraction, confidence: Fraction = CONFIDENCE, of_lot: int | None = None) -> int | None:
    """Fewest pieces to read, all of the resin, to say at least `share` with `confidence`.

    Of a lot of unknown number: the smallest n with share**n <= 1 - confidence (59 for 95 % and 95 %).
    Of a lot of known number: without replacement, never more than the lot. None where only the whole
    of an unknown lot would do (share 1).
    """
    if of_lot is not None:
        return _pieces_of_lot(share, confidence, of_lot)
    if share >= 1:
        return None
    number, left = 0, Fraction(1)
    while left > 1 - confidence:
        number, left = number + 1, left * share
    return number


def _pieces_of_lot(share: Fraction, confidence: Fraction, of_lot: int) -> int:
    # the purest lot that is still below the claim is the hardest to catch
    hardest = max(-(-of_lot * share // 1) - 1, 0)
    low, high = 0, of_lot
    while low < high:
        middle = (low + high) // 2
        if _at_least(middle, middle, int(hardest), of_lot) <= 1 - confidence:
            high = middle
        else:
            low = middle + 1
    return low


def with_dark_pieces(bound: Bound, light_pieces: int, dark_pieces: int) -> Bound:
    """The bound of a lot whose dark pieces were set aside unread: they count as not that resin.

    bound: of the readable pieces alone.
    """
    every = light_pieces + dark_pieces
    share = bound.at_least * light_pieces / every if every else Fraction(0)
    return Bound(at_least=share, confidence=bound.confidence, of=bound.of)


def flake_problem(sample_g: Fraction, of_resin_g: Fraction, heaviest_flake_g: Fraction) -> Problem | None:
    """What is wrong with the masses of a sample of flake, or None."""
    if not 0 < heaviest_flake_g <= sample_g:
        met = f"a heaviest flake of {float(heaviest_flake_g):g} g in a sample of {float(sample_g):g} g"
        wanted = "more than 0 g and at most the sample"
    elif not 0 <= of_resin_g <= sample_g:
        met = f"{float(of_resin_g):g} g of the resin in a sample of {float(sample_g):g} g"
        wanted = "at most the sample"
    else:
        return None
    return Problem(code="flake-masses", message=f"met {met}, wanted {wanted}", hint="weigh the sample again")


def flake_sample(key: str, sample_g: Fraction, of_resin_g: Fraction, heaviest_flake_g: Fraction) -> Sample:
    """A weighed, well-divided sample of flake, as so many draws of the heaviest flake.

    A sample of equal flakes holds mass / flake mass of them; with lighter ones among them it holds more, so this
    counts too few rather than too many. Approximate: flakes of one resin may be heavier than those of another.
    Raises ValueError for masses that cannot be.
    """
    problem = flake_problem(sample_g, of_resin_g, heaviest_flake_g)
    if problem is not None:
        raise ValueError(problem.message)
    draws = int(sample_g / heaviest_flake_g)
    return Sample(key=key, read=draws, of_resin=int(draws * of_resin_g / sample_g), of="mass", grams=sample_g)


def blend_bound(parts: Sequence[tuple[Fraction, Sample | None]], confidence: Fraction = CONFIDENCE) -> Bound:
    """The bound of a blend, sum w L, from (share by mass, sample of that lot or None where there is none).

    The chance of being wrong is shared equally among the distinct samples (Bonferroni), so that all bounds hold
    together; a lot without a sample adds nothing. Raises ValueError where the shares do not sum to 1.
    """
    if sum(weight for weight, _ in parts) != 1:
        raise ValueError(f"met shares that sum to {float(sum(w for w, _ in parts)):g}, wanted 1")
    distinct = {sample.key for _, sample in parts if sample is not None}
    each = 1 - (1 - confidence) / max(len(distinct), 1)
    bounds = [(w, lower_bound(s, each)) for w, s in parts if s is not None]
    share = sum((w * bound.at_least for w, bound in bounds), Fraction(0))
    of: Literal["pieces", "mass"] = "mass" if all(b.of == "mass" for _, b in bounds) else "pieces"
    return Bound(at_least=share, confidence=confidence, of=of)
