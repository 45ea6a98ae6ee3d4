"""Tests by light and heat: near infrared, infrared spectra, melting peaks."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from passport.material.resins import Figure, resins, symbols_for
from passport.material.sampling import NO_READING, other_readings
from passport.material.seen import Ground, Seen, Support, named
from passport.problems import Level, Problem
from passport.reading.records import DscTest, FlakeSample, FtirTest, NirReading


def nir(test: NirReading) -> Seen:
    """Strong on a clean light piece; carbon black swallows the signal, so no reading is no evidence."""
    if test.reads == NO_READING:
        return Seen(
            ground=Ground.SPECTRUM,
            said="no NIR reading",
            code="nir-none",
            support=Support.NONE,
            sources=("practice",),
        )
    names, doubts = named(test.reads, "a reading")
    others = {name: n for name, n in other_readings(test).items() if n}
    read_otherwise = {name: n for name, n in others.items() if name != NO_READING}
    dark = others.get(NO_READING, 0) + (test.set_aside.pieces if test.set_aside is not None else 0)
    mixed = _is_mixed(test, sum(read_otherwise.values()), others.get(NO_READING, 0))
    if mixed:
        names |= {symbol for name in read_otherwise for symbol in symbols_for(name)}
    return Seen(
        ground=Ground.SPECTRUM,
        said=f"an NIR reading of {test.reads}",
        code="nir",
        support=(Support.WEAK if mixed else Support.STRONG) if names else Support.NONE,
        names=names,
        doubts=(*doubts, *_others_doubt(test.reads, read_otherwise), *_dark_doubt(dark)),
        sources=("practice",),
        facts=(("reads", test.reads), ("others", _counts(others))),
    )


MIXED_FROM = Fraction(1, 10)
"""From this share of otherwise read pieces on, a heap is several resins side by side and not yet one (our choice)."""


def _is_mixed(test: NirReading, otherwise: int, unread: int) -> bool:
    read = test.pieces.pieces - unread if test.pieces is not None else 0
    return read > 0 and Fraction(otherwise, read) >= MIXED_FROM


def _counts(others: dict[str, int]) -> str:
    return ", ".join(f"{n} × {name}" for name, n in others.items())


def _others_doubt(reads: str, others: dict[str, int]) -> tuple[Problem, ...]:
    if not others:
        return ()
    counts = _counts(others)
    said = f"met {counts} among pieces that read {reads}, wanted {reads} alone"
    facts = (("reads", reads), ("others", counts))
    return (Problem(code="nir-others", message=said, hint="sort again", level=Level.DOUBT, facts=facts),)


def _dark_doubt(pieces: int) -> tuple[Problem, ...]:
    if not pieces:
        return ()
    said = f"met {pieces} pieces too dark to read, wanted a reading of each"
    hint = "sort dark pieces by their moulded mark, or by floating them"
    facts = (("pieces", str(pieces)),)
    return (Problem(code="nir-dark", message=said, hint=hint, level=Level.DOUBT, facts=facts),)


def ftir(test: FtirTest) -> Seen:
    """Strong, also on black pieces; but it splits aged PE into its kinds only for 78 % (828 aged pieces)."""
    names, doubts = named(test.reads, "a spectrum")
    polyethylenes = symbols_for("PE")
    return Seen(
        ground=Ground.SPECTRUM,
        said=f"an infrared spectrum of {test.reads}",
        code="ftir",
        support=Support.STRONG if names else Support.NONE,
        names=polyethylenes if names & polyethylenes else names,
        doubts=doubts,
        sources=("aged-ftir",),
        facts=(("reads", test.reads),),
    )


def flake(test: FlakeSample) -> Seen:
    """As strong as what each flake was read with, unless a tenth of the mass was something else."""
    names, doubts = named(test.reads, "a sample of flake")
    sample, of_resin = Fraction(test.sample.mass_kg), Fraction(test.of_resin.mass_kg)
    share = of_resin / sample if sample else Fraction(0)
    several = 1 - share >= MIXED_FROM
    return Seen(
        ground=Ground.SPECTRUM,
        said=f"{float(share * 100):.1f} % {test.reads} by mass in a sample of flake",
        code="flake",
        support=(Support.WEAK if several else Support.STRONG) if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("aged-ftir",) if test.by == "ftir" else ("practice",),
        facts=(("reads", test.reads), ("share", f"{float(share * 100):.1f}"), ("sample", f"{float(sample * 1000):g}")),
    )


# --- heat ---------------------------------------------------------------------------------------------

PEAK_REACH_C = 3.0
"""How far a melting peak may lie outside a printed range (common practice, no source)."""

PET_PEAK = Figure(low=225, high=255, sources=("pet-definition",))
"""What a thing must melt at to carry number 1 (California Public Resources Code 18013, ASTM D7611-20)."""


def dsc(test: DscTest) -> Seen:
    """Strong for resins that melt; no peak excludes them. Two peaks that no single resin has are a mixture."""
    peaks = tuple(float(peak) for peak in test.peaks)
    said = "melting peaks at " + " and ".join(f"{p:g} °C" for p in peaks) if peaks else "no melting peak"
    meant = [_melting_at(peak) for peak in peaks]
    mixture = _mixture(meant)
    common = frozenset.intersection(*meant) if meant else frozenset()
    unknown = [p for p, names in zip(peaks, meant, strict=True) if not names]
    melting = frozenset(s for s, r in resins().items() if r.melts_c)
    return Seen(
        ground=Ground.HEAT,
        said=said,
        code="dsc",
        support=Support.STRONG if common and not mixture else Support.EXCLUSION,
        names=frozenset() if mixture else common,
        excludes=frozenset() if mixture else frozenset(resins()) - common if peaks else melting,
        mixture=mixture,
        doubts=tuple(_peak_doubt(peak) for peak in unknown),
        sources=("memory",),
        facts=(("peaks", ", ".join(f"{p:g}" for p in peaks)),),
    )


def _melting_at(peak_c: float) -> frozenset[str]:
    """Resins that melt at a peak: those with a confirmed range, or, where there are none, from memory."""
    met = [
        (symbol, figure)
        for symbol, resin in resins().items()
        for figure in resin.melts_c
        if figure.holds(peak_c, PEAK_REACH_C)
    ]
    confirmed = frozenset(symbol for symbol, figure in met if not figure.from_memory)
    return confirmed or frozenset(symbol for symbol, _ in met)


def _mixture(meant: Sequence[frozenset[str]]) -> tuple[str, ...]:
    """One resin a peak, where no single one has them all; of several, those of one family, which go together."""
    named = [names for names in meant if names]
    if len(named) <= 1 or frozenset.intersection(*named):
        return ()
    families = [{resins()[s].family for s in names} for names in named]
    shared = set.intersection(*families)
    if not shared:
        return tuple(sorted({min(names) for names in named}))
    family = min(shared)
    picked = [next(s for s in resins() if s in names and resins()[s].family == family) for names in named]
    return tuple(s for s in resins() if s in picked)


def _peak_doubt(peak_c: float) -> Problem:
    said = f"met a melting peak at {peak_c:g} °C, wanted one of a resin in the table"
    return Problem(code="dsc-unknown", message=said, level=Level.DOUBT, facts=(("peak", f"{peak_c:g}"),))
