"""The sample behind a lot's purity: which of its evidence counts pieces drawn at random, and how many agree."""

from __future__ import annotations

from dataclasses import replace

from passport.material.purity import Sample, sample_problem
from passport.material.resins import symbols_for
from passport.problems import Problem
from passport.reading.records import AnyEvidence, Drawn, FtirTest, Lot, NirReading

NO_READING = "no reading"


def sample_of(lot: Lot, symbol: str) -> Sample | None:
    """The largest random sample that names pieces of a lot by an instrument, or None.

    Picked pieces give none, nor does a reading of the group only: PE says nothing about PE-HD.
    """
    counted = (_counted(lot, evidence, symbol) for evidence in lot.evidence)
    samples = [s for s in counted if s is not None and sample_problem(s) is None]
    return max(samples, key=lambda s: s.read, default=None)


def _counted(lot: Lot, evidence: AnyEvidence, symbol: str) -> Sample | None:
    if not isinstance(evidence, NirReading | FtirTest) or evidence.pieces is None:
        return None
    if evidence.drawn not in (Drawn.RANDOM, Drawn.ALL):
        return None
    read = evidence.pieces.pieces
    others = other_readings(evidence)
    counts = [(evidence.reads, read - sum(others.values())), *others.items()]
    of_resin = sum(n for name, n in counts if symbols_for(name) == {symbol})
    of_lot = lot.pieces.pieces if lot.pieces is not None else None
    if evidence.drawn is Drawn.ALL and of_lot is None:
        of_lot = read
    return Sample(key=lot.id, read=read, of_resin=of_resin, of_lot=of_lot)


def other_readings(evidence: AnyEvidence) -> dict[str, int]:
    """Pieces of the same sample that read otherwise, by what they read; empty for other tests."""
    if not isinstance(evidence, NirReading):
        return {}
    return {name: count.pieces for name, count in evidence.others.items()}


def count_problems(lot: Lot) -> tuple[Problem, ...]:
    """Counts of evidence that cannot be: more pieces read than the lot holds, more others than were read."""
    problems = []
    for evidence in lot.evidence:
        read = evidence.pieces.pieces if evidence.pieces is not None else None
        if read is None:
            continue
        others = sum(other_readings(evidence).values())
        of_lot = lot.pieces.pieces if lot.pieces is not None else None
        problem = sample_problem(Sample(key=lot.id, read=read, of_resin=min(others, read + 1), of_lot=of_lot))
        if problem is not None:
            problems.append(replace(problem, about=lot.id))
    return tuple(problems)
