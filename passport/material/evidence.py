"""What each recorded test says about the resin: one rule a test, with the reason for its weight beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from passport.material.density import DEFAULT_STEP_G, Immersion, PieceDensity, candidates, measure, too_coarse
from passport.material.liquids import LiquidDensity, density_of, read_liquid
from passport.material.marking import read_mark
from passport.material.resins import (
    OTHER,
    Figure,
    by_number,
    by_term,
    hint_for,
    resins,
    symbols_for,
)
from passport.material.sampling import NO_READING, other_readings
from passport.problems import Level, Problem
from passport.reading.records import (
    AnyEvidence,
    Appearance,
    DensityTest,
    DscTest,
    FloatTest,
    FtirTest,
    MouldedMark,
    NirReading,
    SupplierPaper,
)


class Support(Enum):
    """How much a test speaks for the resins it names."""

    STRONG = "strong"
    MEDIUM = "medium"
    WEAK = "weak"
    EXCLUSION = "exclusion"
    NONE = "none"

    @property
    def rank(self) -> int:
        """The strongest first."""
        return list(Support).index(self)


class Ground(Enum):
    """What a test looks at. Two tests on one ground are one piece of evidence."""

    SPECTRUM = "spectrum"
    HEAT = "heat"
    DENSITY = "density"
    SIGHT = "sight"
    PAPER = "paper"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one piece of evidence says. Symbols of ISO 1043-1."""

    ground: Ground
    said: str
    """In short English words, as printed in a doubt."""
    code: str
    """Stable words by which themes word it; `facts` are its values."""
    support: Support
    names: frozenset[str] = frozenset()
    """What it speaks for; several where it cannot tell further."""
    excludes: frozenset[str] = frozenset()
    only_if_filled: frozenset[str] = frozenset()
    """What remains possible only with filler or dirt."""
    mixture: tuple[str, ...] = ()
    doubts: tuple[Problem, ...] = ()
    sources: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    pieces: int | None = None
    floats_below_g_cm3: float | None = None
    sinks_above_g_cm3: float | None = None
    """For float tests: the bounds that they put on the density."""

    @property
    def filled(self) -> tuple[str, ...]:
        """Resins possible only with filler, in the table's order."""
        return tuple(s for s in resins() if s in self.only_if_filled)


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
        into = (
            floats if isinstance(test, FloatTest) else measured if isinstance(test, DensityTest) else single
        )
        into.append(seen)
    if sorted_as:
        single.append(_sorted(sorted_as))
    return (*single, *_one_density(floats, measured))


def _unknown(word: str, what: str) -> Problem:
    said = f'met "{word}" as {what}, wanted a symbol of ISO 1043-1 or a group such as PE'
    return Problem(
        code="resin-unknown", message=said, hint=hint_for(word), level=Level.DOUBT, facts=(("word", word),)
    )


def _named(word: str, what: str) -> tuple[frozenset[str], tuple[Problem, ...]]:
    names = symbols_for(word)
    return names, () if names else (_unknown(word, what),)


# --- spectra ------------------------------------------------------------------------------------------


def _nir(test: NirReading) -> Seen:
    """Strong on a clean light piece; carbon black swallows the signal, so no reading is no evidence."""
    if test.reads == NO_READING:
        return Seen(
            ground=Ground.SPECTRUM,
            said="no NIR reading",
            code="nir-none",
            support=Support.NONE,
            sources=("practice",),
        )
    names, doubts = _named(test.reads, "a reading")
    others = {name: n for name, n in other_readings(test).items() if n}
    read_otherwise = {name: n for name, n in others.items() if name != NO_READING}
    return Seen(
        ground=Ground.SPECTRUM,
        said=f"an NIR reading of {test.reads}",
        code="nir",
        support=Support.STRONG if names else Support.NONE,
        names=names,
        doubts=(*doubts, *_others_doubt(test.reads, read_otherwise), *_dark_doubt(others.get(NO_READING, 0))),
        sources=("practice",),
        facts=(("reads", test.reads), ("others", _counts(others))),
    )


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


def _ftir(test: FtirTest) -> Seen:
    """Strong, also on black pieces; but it splits aged PE into its kinds only for 78 % (828 aged pieces)."""
    names, doubts = _named(test.reads, "a spectrum")
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


# --- heat ---------------------------------------------------------------------------------------------

PEAK_REACH_C = 3.0
"""How far a melting peak may lie outside a printed range (common practice, no source)."""

PET_PEAK = Figure(low=225, high=255, sources=("pet-definition",))
"""What a thing must melt at to carry number 1 (California Public Resources Code 18013, ASTM D7611-20)."""


def _dsc(test: DscTest) -> Seen:
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


# --- what a person sees on a piece --------------------------------------------------------------------


def _mark(test: MouldedMark) -> Seen:
    """Medium with letters, weak with a number alone; moulds are reused, imports and caps differ."""
    by_letters, doubts = _lettered(test.letters or "")
    number = (test.number or "").strip().lstrip("0")
    by_digit = by_number(int(number)) if number.isdigit() else frozenset()
    if number and not by_digit and number != str(OTHER):
        doubts = (*doubts, _number_doubt(test.number or ""))
    both = by_letters & by_digit
    contradicts = bool(by_letters and (by_digit or number == str(OTHER)) and not both) and not _other(
        number, by_letters
    )
    said = "a mark " + " ".join(word for word in (test.number, test.letters) if word)
    return Seen(
        ground=Ground.SIGHT,
        said=said,
        code="moulded-mark",
        support=_mark_support(by_letters, by_digit, contradicts=contradicts),
        names=both or (by_letters | by_digit),
        doubts=(*doubts, *(_contradicts(test, by_digit, by_letters) if contradicts else ())),
        sources=("astm-d7611", "eu-97-129", "iso-1043-1"),
        facts=(("number", test.number or ""), ("letters", test.letters or "")),
    )


def _other(number: str, by_letters: frozenset[str]) -> bool:
    """Number 7 beside the letters of a resin without a number of its own: they agree."""
    return number == str(OTHER) and all(resins()[s].d7611.number == OTHER for s in by_letters)


def _mark_support(by_letters: frozenset[str], by_digit: frozenset[str], *, contradicts: bool) -> Support:
    if contradicts or not (by_letters or by_digit):
        return Support.WEAK if contradicts else Support.NONE
    return Support.MEDIUM if by_letters else Support.WEAK


def _lettered(letters: str) -> tuple[frozenset[str], tuple[Problem, ...]]:
    """Resins that letters mean: a mark such as >PP-TD20<, a term, a symbol, or a class that names none."""
    if not letters or letters.upper() in ("OTHER", "O"):
        return frozenset(), ()
    if ">" in letters or "<" in letters:
        mark, problems = read_mark(letters)
        single = mark is not None and len(mark.symbols) == 1
        return by_term(mark.symbols[0]) if mark is not None and single else frozenset(), problems
    names = by_term(letters.upper())
    return names, () if names else (_unknown(letters, "letters of a mark"),)


def _number_doubt(number: str) -> Problem:
    said = f'met number "{number}" in a mark, wanted 1 to 7'
    hint = "lists with longer numbers exist elsewhere; keep the letters"
    return Problem(
        code="mark-number", message=said, hint=hint, level=Level.DOUBT, facts=(("number", number),)
    )


def _contradicts(
    test: MouldedMark, by_digit: frozenset[str], by_letters: frozenset[str]
) -> tuple[Problem, ...]:
    digit = "/".join(sorted(by_digit)) or "another resin"
    said = (
        f"met number {test.number} with letters {test.letters}, wanted both to name one resin: "
        f"{test.number} is {digit}, {test.letters} is {'/'.join(sorted(by_letters))}"
    )
    facts = (
        ("number", test.number or ""),
        ("letters", test.letters or ""),
        ("by_number", digit),
        ("by_letters", "/".join(sorted(by_letters))),
    )
    return (Problem(code="mark-contradicts", message=said, level=Level.DOUBT, facts=facts),)


def _looks(test: Appearance) -> Seen:
    """A hint: the fingernail, the sound and the feel name a kind of plastic, not a resin (conservation handbook)."""
    names, doubts = _named(test.looks, "an appearance")
    return Seen(
        ground=Ground.SIGHT,
        said=f"an appearance of {test.looks}",
        code="appearance",
        support=Support.WEAK if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("conservation",),
        facts=(("looks", test.looks),),
    )


def _sorted(sorted_as: str) -> Seen:
    """The heap it was sorted into: as good as the eye that sorted, and one with the mark that the eye read."""
    names, doubts = _named(sorted_as, "the name of a heap")
    return Seen(
        ground=Ground.SIGHT,
        said=f"sorted as {sorted_as}",
        code="sorted",
        support=Support.MEDIUM if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("practice",),
        facts=(("sorted_as", sorted_as),),
    )


def _paper(test: SupplierPaper) -> Seen:
    """Medium: it speaks of what was sent, by somebody who knows, but nobody looked at the pieces."""
    names, doubts = _named(test.says, "a paper's word")
    return Seen(
        ground=Ground.PAPER,
        said=f"a paper that says {test.says}",
        code="paper",
        support=Support.MEDIUM if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("practice",),
        facts=(("says", test.says), ("document", test.document)),
    )


# --- density ------------------------------------------------------------------------------------------


def _liquid(text: str, temperature_c: float) -> LiquidDensity | Problem:
    liquid = read_liquid(text)
    return liquid if isinstance(liquid, Problem) else density_of(liquid, temperature_c)


def _useless(said: str, code: str, problem: Problem) -> Seen:
    doubt = replace(problem, level=Level.DOUBT)
    return Seen(ground=Ground.DENSITY, said=said, code=code, support=Support.NONE, doubts=(doubt,))


def _float(test: FloatTest) -> Seen:
    """Weak: it excludes better than it names.

    Floating excludes what is always heavier; sinking excludes only foam, because filler makes anything sink.
    """
    floats = test.floats.pieces if test.floats is not None else 0
    sinks = test.sinks.pieces if test.sinks is not None else 0
    said = f"{floats} floating and {sinks} sinking in {test.liquid}"
    liquid = _liquid(test.liquid, float(test.temperature))
    if isinstance(liquid, Problem):
        return _useless(said, "float", liquid)
    if (floats and sinks) or not (floats or sinks):
        return _useless(said, "float", _both_ways(floats, sinks, test.liquid))
    names, excludes, filled = _floating(liquid.g_cm3) if floats else _sinking(liquid.g_cm3)
    return Seen(
        ground=Ground.DENSITY,
        said=said,
        code="floats" if floats else "sinks",
        support=Support.WEAK,
        names=names,
        excludes=excludes,
        only_if_filled=filled,
        sources=("iso-1183-1", *liquid.sources),
        facts=(("liquid", test.liquid), ("pieces", str(floats or sinks)), ("density", f"{liquid.g_cm3:.3f}")),
        floats_below_g_cm3=liquid.g_cm3 if floats else None,
        sinks_above_g_cm3=liquid.g_cm3 if sinks else None,
    )


def _both_ways(floats: int, sinks: int, liquid: str) -> Problem:
    said = f"met {floats} floating and {sinks} sinking in {liquid}, wanted all one way"
    hint = "sort the pieces that float from those that sink" if floats else "write how many float or sink"
    facts = (("floats", str(floats)), ("sinks", str(sinks)), ("liquid", liquid))
    return Problem(code="float-both", message=said, hint=hint, facts=facts)


_Allowed = tuple[frozenset[str], frozenset[str], frozenset[str]]


def _floating(liquid_g_cm3: float) -> _Allowed:
    """Names those that may be lighter; excludes those that never are. Foam is never excluded by floating."""
    names = frozenset(s for s, r in resins().items() if r.density_g_cm3.low < liquid_g_cm3)
    never = frozenset(s for s, r in resins().items() if r.density_wide_g_cm3.low >= liquid_g_cm3)
    return names, never, frozenset()


def _sinking(liquid_g_cm3: float) -> _Allowed:
    """Names those that may be heavier; excludes foam; keeps the lighter ones as filled or dirty."""
    names = frozenset(s for s, r in resins().items() if r.density_g_cm3.high > liquid_g_cm3)
    foam = frozenset(s for s, r in resins().items() if r.float_note)
    return names - foam, foam, frozenset(resins()) - names - foam


def _density(test: DensityTest) -> Seen:
    """Medium on a solid piece by a fit balance; excludes what is never so light. Filler imitates heavier resins."""
    liquid = _liquid(test.liquid, float(test.temperature))
    said = f"a weighing in {test.liquid}"
    if isinstance(liquid, Problem):
        return _useless(said, "density", liquid)
    step = float(test.step.mass_kg) * 1000 if test.step is not None else DEFAULT_STEP_G
    weighed = Immersion(
        in_air_g=float(test.in_air.mass_kg) * 1000,
        in_liquid_g=float(test.in_liquid.mass_kg) * 1000,
        liquid=liquid,
        step_g=step,
    )
    density = measure(weighed)
    if isinstance(density, Problem):
        return _useless(said, "density", density)
    return _density_seen(density, liquid)


def _density_seen(density: PieceDensity, liquid: LiquidDensity) -> Seen:
    found = candidates(density)
    said = f"a density of {density.g_cm3:.3f} ± {density.uncertainty_g_cm3:.3f} g/cm³"
    refusal = too_coarse(density, found)
    if refusal is not None:
        return _useless(said, "density", refusal)
    heaviest = density.g_cm3 + 2 * density.uncertainty_g_cm3
    lightest = density.g_cm3 - 2 * density.uncertainty_g_cm3
    wide = {s: r.density_wide_g_cm3 for s, r in resins().items()}
    foam = frozenset(s for s, r in resins().items() if r.float_note and wide[s].high < lightest)
    return Seen(
        ground=Ground.DENSITY,
        said=said,
        code="density",
        support=Support.MEDIUM if found.plain else Support.EXCLUSION,
        names=frozenset(found.plain),
        excludes=frozenset(s for s in wide if wide[s].low > heaviest) | foam,
        only_if_filled=frozenset(found.filled),
        doubts=() if found.plain or found.filled else (_no_resin(said),),
        sources=("iso-1183-1", *liquid.sources),
        facts=(("density", f"{density.g_cm3:.3f}"), ("uncertainty", f"{density.uncertainty_g_cm3:.3f}")),
    )


def _no_resin(said: str) -> Problem:
    hint = "foam, bubbles, paint or filler make a density say something else"
    return Problem(
        code="density-no-resin", message=f"met {said}, wanted that of a resin", hint=hint, level=Level.DOUBT
    )


def _one_density(floats: Sequence[Seen], measured: Sequence[Seen]) -> tuple[Seen, ...]:
    """Float tests and weighings are one piece of evidence: a weighing leads, floats narrow it."""
    bracket = _bracket(floats)
    kept = [s for s in measured if s.support is Support.MEDIUM]
    if not kept:
        return (*measured, *([bracket] if bracket else floats))
    leader = kept[0]
    others = [s for s in (*measured[1:], *floats) if s is not leader]
    # what floats and weighings add to a weighing is only what they exclude
    demoted = [
        replace(s, support=Support.EXCLUSION, names=frozenset()) if s.support is not Support.NONE else s
        for s in (*(m for m in measured if m is not leader), *floats)
    ]
    disagree = [s for s in others if s.names and not s.names & leader.names]
    doubts = tuple(_densities_differ(leader, s) for s in disagree)
    return (replace(leader, doubts=(*leader.doubts, *doubts)), *demoted)


def _densities_differ(one: Seen, other: Seen) -> Problem:
    said = f"met {one.said} and {other.said}, wanted tests that agree"
    facts = (("one", one.said), ("other", other.said))
    return Problem(
        code="density-differs",
        message=said,
        hint="pieces differ, or one holds air or filler",
        level=Level.DOUBT,
        facts=facts,
    )


NARROW_G_CM3 = 0.08
"""Two liquids so close together bracket a density about as well as a bench balance finds it (our choice)."""


def _bracket(floats: Sequence[Seen]) -> Seen | None:
    """Float tests joined: floats in one liquid and sinks in a lighter one bracket the density."""
    useful = [s for s in floats if s.support is Support.WEAK]
    if len(useful) < 2:  # noqa: PLR2004 - a bracket has two ends
        return None
    above = max((s.sinks_above_g_cm3 for s in useful if s.sinks_above_g_cm3 is not None), default=None)
    below = min((s.floats_below_g_cm3 for s in useful if s.floats_below_g_cm3 is not None), default=None)
    names = frozenset.intersection(*(s.names for s in useful))
    close = above is not None and below is not None and 0 < below - above <= NARROW_G_CM3
    return Seen(
        ground=Ground.DENSITY,
        said=" and ".join(s.said for s in useful),
        code="float-bracket",
        support=Support.MEDIUM if close and names else Support.WEAK,
        names=names,
        excludes=frozenset(x for s in useful for x in s.excludes),
        only_if_filled=frozenset.intersection(*(s.only_if_filled | s.names for s in useful)) - names,
        doubts=tuple(d for s in floats for d in s.doubts),
        sources=tuple(dict.fromkeys(key for s in useful for key in s.sources)),
        floats_below_g_cm3=below,
        sinks_above_g_cm3=above,
        facts=(
            ("above", f"{above or 0:.3f}"),
            ("below", f"{below or 0:.3f}"),
            ("said", " and ".join(s.said for s in useful)),
        ),
    )


_RULES: dict[type, Callable[..., Seen]] = {
    NirReading: _nir,
    FtirTest: _ftir,
    DscTest: _dsc,
    MouldedMark: _mark,
    Appearance: _looks,
    SupplierPaper: _paper,
    FloatTest: _float,
    DensityTest: _density,
}
