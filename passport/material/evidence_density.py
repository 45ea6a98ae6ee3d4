"""Float tests and weighings under a liquid, which are one piece of evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from passport.material.density import DEFAULT_STEP_G, Immersion, PieceDensity, candidates, measure, too_coarse
from passport.material.liquids import LiquidDensity, density_of, read_liquid
from passport.material.resins import resins
from passport.material.seen import Ground, Seen, Support
from passport.problems import Level, Problem
from passport.reading.records import DensityTest, FloatTest


def _liquid(text: str, temperature_c: float) -> LiquidDensity | Problem:
    liquid = read_liquid(text)
    return liquid if isinstance(liquid, Problem) else density_of(liquid, temperature_c)


def _useless(said: str, code: str, problem: Problem) -> Seen:
    doubt = replace(problem, level=Level.DOUBT)
    return Seen(ground=Ground.DENSITY, said=said, code=code, support=Support.NONE, doubts=(doubt,))


def float_test(test: FloatTest) -> Seen:
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


def density_test(test: DensityTest) -> Seen:
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
        sinker_g=float(test.sinker.mass_kg) * 1000 if test.sinker is not None else None,
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
    return Problem(code="density-no-resin", message=f"met {said}, wanted that of a resin", hint=hint, level=Level.DOUBT)


def one_density(floats: Sequence[Seen], measured: Sequence[Seen]) -> tuple[Seen, ...]:
    """Float tests and weighings are one piece of evidence: a weighing leads, floats narrow it."""
    bracket = _bracket(floats)
    kept = [s for s in measured if s.support is Support.MEDIUM]
    if not kept:
        return (*measured, *([bracket] if bracket else floats))
    leader = kept[0]
    others = [s for s in (*measured, *floats) if s is not leader]
    disagree = [s for s in others if s.names and not s.names & leader.names]
    doubts = tuple(_densities_differ(leader, s) for s in disagree)
    return replace(leader, doubts=(*leader.doubts, *doubts)), *(_excluding_only(s) for s in others)


def _excluding_only(seen: Seen) -> Seen:
    """What further floats and weighings add to a weighing is only what they exclude."""
    if seen.support is Support.NONE:
        return seen
    return replace(seen, support=Support.EXCLUSION, names=frozenset())


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
