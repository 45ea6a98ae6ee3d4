"""All tests of a lot, each by its own rule, with float and density joined into one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from passport.material.evidence_density import density_test, float_test, one_density
from passport.material.evidence_sight import appearance, moulded_mark, sorted_heap, supplier_paper
from passport.material.evidence_spectra import dsc, flake, ftir, nir
from passport.material.seen import Seen
from passport.reading.records import (
    AnyEvidence,
    Appearance,
    DensityTest,
    DscTest,
    FlakeSample,
    FloatTest,
    FtirTest,
    MouldedMark,
    NirReading,
    SupplierPaper,
)


def seen_in(evidence: Sequence[AnyEvidence], sorted_as: str = "") -> tuple[Seen, ...]:
    """What all tests say, with float and density tests joined into one."""
    single: list[Seen] = []
    floats: list[Seen] = []
    measured: list[Seen] = []
    for test in evidence:
        rule = _RULES.get(type(test))
        if rule is None:  # a test of substances says nothing about the resin
            continue
        seen = replace(rule(test), pieces=test.pieces.pieces if test.pieces is not None else None)
        into = floats if isinstance(test, FloatTest) else measured if isinstance(test, DensityTest) else single
        into.append(seen)
    if sorted_as:
        single.append(sorted_heap(sorted_as))
    return (*single, *one_density(floats, measured))


_RULES: dict[type, Callable[..., Seen]] = {
    NirReading: nir,
    FtirTest: ftir,
    FlakeSample: flake,
    DscTest: dsc,
    MouldedMark: moulded_mark,
    Appearance: appearance,
    SupplierPaper: supplier_paper,
    FloatTest: float_test,
    DensityTest: density_test,
}
