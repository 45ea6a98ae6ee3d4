"""What the bench may get wrong about a material, each with the whole of what is said: the reason and what to do."""

from __future__ import annotations

from fractions import Fraction

import pytest

from passport.amounts import read_melt_flow
from passport.material.flow import FlowPart, blend_flow
from passport.material.identity import identify, identify_lot
from passport.material.melting import melt_problems
from passport.problems import Problem
from passport.reading.records import AnyEvidence, DensityTest, FloatTest, Lot, MouldedMark, NirReading


def weighed(in_air: str, in_liquid: str, liquid: str = "water", temperature: str = "20 °C") -> DensityTest:
    """A piece on a balance with a step of 1 mg."""
    said = {"in_air": in_air, "in_liquid": in_liquid, "liquid": liquid, "temperature": temperature}
    return DensityTest(test="density", step="0.001 g", **said)


def lettered(letters: str, number: str | None = None) -> MouldedMark:
    """A moulded mark."""
    return MouldedMark(test="moulded-mark", letters=letters, number=number)


EVIDENCE: dict[str, tuple[list[AnyEvidence], str, str]] = {
    "heavier in the liquid than in air": (
        [weighed("5 g", "6 g")],
        "met 5 g in air and 6 g in the liquid, wanted less in the liquid than in air",
        "a piece always loses weight under a liquid: the readings may be swapped or the balance not zeroed",
    ),
    "foam": (
        [NirReading(test="nir", reads="PS"), FloatTest(test="float", liquid="water", floats="4")],
        "met a reading of PS on a piece that floats, wanted one that sinks",
        "foam floats because of its gas cells: press a piece solid and float it again",
    ),
    "an unknown liquid": (
        [FloatTest(test="float", liquid="milk", floats="3")],
        'met "milk", wanted water, ethanol 45 % by mass or brine 11 % by mass',
        "",
    ),
    "a liquid out of its range": (
        [weighed("5 g", "0.64 g", "ethanol 100 % by mass", "60 °C")],
        "met ethanol at 60 °C, wanted -20 to 40 °C",
        "let the liquid come to room temperature and measure it again",
    ),
    "a mark with spaces": (
        [lettered("> PP <")],
        'met "> PP <", wanted a mark such as >PP<, >PP+PE-HD< or >PP-TD20<',
        "a mark has no spaces",
    ),
    "a mark in small letters": (
        [lettered(">pp<")],
        'met ">pp<", wanted a mark such as >PP<, >PP+PE-HD< or >PP-TD20<',
        "a mark is written in capitals",
    ),
    "a number that no standard has": (
        [lettered("ABS", "9")],
        'met number "9" in a mark, wanted 1 to 7',
        "lists with longer numbers exist elsewhere; keep the letters",
    ),
}


@pytest.mark.parametrize("case", EVIDENCE)
def test_bad_evidence_is_said_with_the_reason(case: str) -> None:
    """The doubt stands beside the lot, word for word, with what to do about it."""
    evidence, said, hint = EVIDENCE[case]
    assert (said, hint) in {(problem.message, problem.hint) for problem in identify(evidence).doubts}


def test_more_pieces_read_than_the_lot_has() -> None:
    """Counts that cannot be stop the records."""
    reading = NirReading(test="nir", reads="PP", pieces="20", drawn="random")
    lot = Lot(id="IN-1", date="2026-04-11", received={"stream": "yard"}, mass="9 kg", pieces="18", evidence=[reading])
    (problem,) = identify_lot(lot).doubts
    assert (problem.message, problem.hint, problem.about) == (
        "met 20 pieces read of a lot of 18, wanted at most the whole lot",
        "correct `pieces:` of the lot or of the evidence",
        "IN-1",
    )


def part(share: str, at: str) -> FlowPart:
    """One lot of a blend of PP."""
    flow = read_melt_flow(f"4 g/10 min at {at}")
    return FlowPart(share=Fraction(share), symbol="PP", flow=flow)


@pytest.mark.parametrize(
    ("parts", "said", "hint"),
    [
        (
            [part("0.5", "230 °C/2.16 kg"), part("0.5", "190 °C/2.16 kg")],
            "met melt flows at 190/2.16 and 230/2.16, wanted one test condition",
            "flows at two conditions are not comparable: measure again at one (ISO 1133)",
        ),
        (
            [part("0.5", "230 °C/2.16 kg"), part("0.4", "230 °C/2.16 kg")],
            "met shares that sum to 90 %, wanted 100 %",
            "give every lot of the blend its mass",
        ),
    ],
)
def test_blends_that_cannot_be_worked_out(parts: list[FlowPart], said: str, hint: str) -> None:
    """Two test conditions and weights that are no whole are refused."""
    problem = blend_flow(parts)
    assert isinstance(problem, Problem)
    assert (problem.message, problem.hint) == (said, hint)


@pytest.mark.parametrize(
    ("resin", "melt", "said", "hint"),
    [
        (
            "PP",
            290,
            "met a melt of 290 °C with PP in it, wanted at most 280 °C",
            "stop: it breaks down and gives off fume",
        ),
        (
            "PVC-U",
            190,
            "met PVC-U in a melt, wanted a resin that may be melted in an open workshop",
            "hand it on unmelted: overheating sets free hydrogen chloride",
        ),
        (
            "POM",
            None,
            "met POM in a melt, wanted a resin that may be melted in an open workshop",
            "hand it on unmelted: overheating sets free formaldehyde",
        ),
    ],
)
def test_melts_that_must_not_be(resin: str, melt: float | None, said: str, hint: str) -> None:
    """Above a resin's limit, or of a resin that is never melted here, with the caution."""
    (problem,) = melt_problems([resin], melt)
    assert (problem.message, problem.hint) == (said, hint)
