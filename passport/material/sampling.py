"""The sample behind a lot's purity: which of its evidence counts pieces drawn at random, and how many agree."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from passport.material.purity import Sample, flake_problem, flake_sample, sample_problem
from passport.material.resins import symbols_for
from passport.problems import Problem
from passport.reading.records import AnyEvidence, Drawn, FlakeSample, FtirTest, Lot, NirReading

NO_READING = "no reading"


def sample_of(lot: Lot, symbol: str) -> Sample | None:
    """The largest random sample that names pieces or flakes of a lot by an instrument, or None.

    Picked pieces give none, nor does a reading of the group only: PE says nothing about PE-HD.
    """
    counted = (_counted(lot, evidence, symbol) for evidence in lot.evidence)
    samples = [s for s in counted if s is not None and sample_problem(s) is None]
    return max(samples, key=lambda s: s.read, default=None)


def _counted(lot: Lot, evidence: AnyEvidence, symbol: str) -> Sample | None:
    if evidence.drawn not in (Drawn.RANDOM, Drawn.ALL):
        return None
    if isinstance(evidence, FlakeSample):
        return _weighed(lot, evidence, symbol)
    if not isinstance(evidence, NirReading | FtirTest) or evidence.pieces is None:
        return None
    read = evidence.pieces.pieces
    others = other_readings(evidence)
    counts = [(evidence.reads, read - sum(others.values())), *others.items()]
    of_resin = sum(n for name, n in counts if symbols_for(name) == {symbol})
    return Sample(
        key=lot.id, read=read, of_resin=of_resin, of_lot=_pieces_of(lot, evidence, read), dark=_set_aside(evidence)
    )


def _pieces_of(lot: Lot, evidence: AnyEvidence, read: int) -> int | None:
    """Pieces of the lot; where nobody counted them but all were read, those that were read."""
    if lot.pieces is not None:
        return lot.pieces.pieces
    return read + _set_aside(evidence) if evidence.drawn is Drawn.ALL else None


def _weighed(lot: Lot, evidence: FlakeSample, symbol: str) -> Sample | None:
    masses = _flake_g(evidence)
    if symbols_for(evidence.reads) != {symbol} or flake_problem(*masses) is not None:
        return None
    return flake_sample(lot.id, *masses)


def _flake_g(evidence: FlakeSample) -> tuple[Fraction, Fraction, Fraction]:
    """The sample, what of it is the resin, and its heaviest flake."""
    sample, of_resin, heaviest = (
        Fraction(m.mass_kg) * 1000 for m in (evidence.sample, evidence.of_resin, evidence.heaviest)
    )
    return sample, of_resin, heaviest


def _set_aside(evidence: AnyEvidence) -> int:
    """Pieces put aside unread, of which the sample says nothing."""
    return evidence.set_aside.pieces if isinstance(evidence, NirReading) and evidence.set_aside is not None else 0


def other_readings(evidence: AnyEvidence) -> dict[str, int]:
    """Pieces of the same sample that read otherwise, by what they read; empty for other tests."""
    if not isinstance(evidence, NirReading):
        return {}
    return {name: count.pieces for name, count in evidence.others.items()}


def count_problems(lot: Lot) -> tuple[Problem, ...]:
    """Counts and masses of evidence that cannot be: more read than the lot holds, more others than were read."""
    found = (_count_problem(lot, evidence) for evidence in lot.evidence)
    return tuple(replace(problem, about=lot.id) for problem in found if problem is not None)


def _count_problem(lot: Lot, evidence: AnyEvidence) -> Problem | None:
    if isinstance(evidence, FlakeSample):
        return flake_problem(*_flake_g(evidence))
    if evidence.pieces is None:
        return None
    read = evidence.pieces.pieces
    others = sum(other_readings(evidence).values())
    of_lot, of_resin = _pieces_of(lot, evidence, read), min(others, read + 1)
    return sample_problem(Sample(key=lot.id, read=read, of_resin=of_resin, of_lot=of_lot, dark=_set_aside(evidence)))
