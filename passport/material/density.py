"""Density of a piece by immersion (ISO 1183-1, method A): masses in, candidates and uncertainty out.

Good for solid pieces without voids: foam, bubbles, paint and filler make the result say something else.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from passport.material.liquids import LiquidDensity
from passport.material.resins import Figure, Grade, Resin, filled_density_g_cm3, resins
from passport.problems import Problem

AIR_G_CM3 = 0.0012
"""Density of air in a room (balance makers' manuals for density kits)."""

DEFAULT_STEP_G = 0.01
"""Step of the balance where the record names none: a common bench balance (common practice, no source)."""

REACH = 2
"""A candidate lies within so many standard uncertainties (about 95 %, GUM)."""

REAL_GAP_G_CM3 = 0.02
"""Two resins further apart than this are told apart by any fit balance, so a result that still allows both
is no result (our choice: PP and PE-HD are 0.030 apart)."""

STEPS_PER_GAP = 6
"""To separate two resins the uncertainty stays below a sixth of their gap: 0.005 for PP and PE-HD."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Immersion:
    """One piece, weighed in air and under a liquid. Grams."""

    in_air_g: float
    in_liquid_g: float
    """The piece under the liquid; with a sinker, sinker and piece together."""
    liquid: LiquidDensity
    sinker_g: float | None = None
    """For a piece that floats: the sinker alone under the liquid (ASTM D792)."""
    step_g: float = DEFAULT_STEP_G
    """Smallest difference the balance shows."""

    @property
    def pull_g(self) -> float:
        """What the piece alone would show under the liquid: less than nothing where it pulls upwards."""
        return self.in_liquid_g - (self.sinker_g or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceDensity:
    """A density in g/cm3 with its standard uncertainty."""

    g_cm3: float
    uncertainty_g_cm3: float


def immersion_density(in_air_g: float, in_liquid_g: float, liquid_g_cm3: float, air_g_cm3: float = AIR_G_CM3) -> float:
    """Density in g/cm3 with air buoyancy: m_A (rho_L - rho_a) / (m_A - m_L) + rho_a (ISO 1183-1, method A).

    With `air_g_cm3=0` it is the plain formula of the standard. A piece held down by a sinker shows less than
    nothing under the liquid, both together less the sinker: a / (a + w - b) times the liquid (ASTM D792).
    Raises ValueError where the masses allow none.
    """
    if in_air_g <= 0 or in_liquid_g >= in_air_g:
        raise ValueError(f"met {in_air_g:g} g in air and {in_liquid_g:g} g in liquid, wanted less in the liquid")
    return in_air_g * (liquid_g_cm3 - air_g_cm3) / (in_air_g - in_liquid_g) + air_g_cm3


def immersion_uncertainty(immersion: Immersion) -> float:
    """Standard uncertainty in g/cm3: each reading by one step, the liquid by what is known of it (GUM, first order).

    One whole step a reading, not step/sqrt(12), because under the liquid the wire in the surface makes it flicker.
    """
    a, b, rho = immersion.in_air_g, immersion.pull_g, immersion.liquid.g_cm3
    lost = a - b
    by_air = b * rho / lost**2 * immersion.step_g
    # with a sinker two readings are taken under the liquid
    readings = 1 if immersion.sinker_g is None else 2
    by_liquid = a * rho / lost**2 * immersion.step_g * math.sqrt(readings)
    by_density = a / lost * immersion.liquid.uncertainty_g_cm3
    return math.hypot(by_air, by_liquid, by_density)


def measure(immersion: Immersion) -> PieceDensity | Problem:
    """Density and uncertainty of a piece, or the problem with its masses."""
    problem = _masses_problem(immersion)
    if problem is not None:
        return problem
    return PieceDensity(
        g_cm3=immersion_density(immersion.in_air_g, immersion.pull_g, immersion.liquid.g_cm3),
        uncertainty_g_cm3=immersion_uncertainty(immersion),
    )


def _masses_problem(immersion: Immersion) -> Problem | None:
    a, b = immersion.in_air_g, immersion.pull_g
    by_sinker = (
        "" if immersion.sinker_g is None else f" ({immersion.in_liquid_g:g} less the sinker's {immersion.sinker_g:g})"
    )
    met = f"met {a:g} g in air and {b:g} g in the liquid{by_sinker}"
    if a <= 0:
        return Problem(code="density-no-piece", message=f"{met}, wanted a piece that weighs something in air")
    if b >= a:
        return Problem(
            code="density-not-lighter",
            message=f"{met}, wanted less in the liquid than in air",
            hint="a piece always loses weight under a liquid: the readings may be swapped or the balance not zeroed",
        )
    if b < 0 and immersion.sinker_g is None:
        return Problem(
            code="density-floats",
            message=f"{met}, wanted a piece that sinks",
            hint="it floats: take a lighter liquid such as ethanol 100 % by mass, or hold it down with a sinker",
        )
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class DensityCandidates:
    """What a density allows. Symbols of ISO 1043-1."""

    plain: tuple[str, ...]
    """Unfilled resins whose usual range it meets."""
    filled: tuple[str, ...]
    """Resins that it allows only with filler."""
    told_apart: tuple[tuple[str, str], ...]
    """Pairs that a better balance would tell apart, while this one leaves both."""


def candidates(density: PieceDensity) -> DensityCandidates:
    """Resins whose usual range the density meets within two standard uncertainties."""
    reach = REACH * density.uncertainty_g_cm3
    met = tuple((r, g) for r in resins().values() for g in r.grades if g.density_g_cm3.holds(density.g_cm3, reach))
    plain = tuple(dict.fromkeys(resin.symbol for resin, _ in met))
    filled = tuple(s for s, f in filled_density_g_cm3().items() if s not in plain and f.holds(density.g_cm3, reach))
    return DensityCandidates(plain=plain, filled=filled, told_apart=_told_apart(met))


def mixture_density(shares: Iterable[tuple[float, float]]) -> float:
    """Density of a mixture from (share by mass, g/cm3): the inverse-mass rule 1/rho = sum w/rho."""
    return 1 / sum(share / density for share, density in shares)


MINERAL_G_CM3 = 2.75
"""Density of talc and chalk, the fillers most often met (material data sheets; from memory)."""


def filler_share(resin_g_cm3: float, g_cm3: float, filler_g_cm3: float = MINERAL_G_CM3) -> float:
    """Share by mass of a filler that brings a resin to a density, by the inverse-mass rule."""
    return (1 / resin_g_cm3 - 1 / g_cm3) / (1 / resin_g_cm3 - 1 / filler_g_cm3)


def as_filled(symbol: str, g_cm3: float) -> float:
    """Share by mass of mineral at which a resin, of the middle of its usual densities, weighs so much."""
    usual = resins()[symbol].density_g_cm3
    return filler_share((usual.low + usual.high) / 2, g_cm3)


def half_and_half(density: PieceDensity) -> tuple[tuple[str, str], ...]:
    """Pairs of resins that float in water whose equal parts by mass weigh as much: what looks like one may be two.

    Only pairs that are not candidates themselves: PP with PE-HD looks like PE-LD.
    """
    reach = REACH * density.uncertainty_g_cm3
    plain = candidates(density).plain
    light = [s for s, r in resins().items() if r.floats_in_water and not r.float_note and s not in plain]
    return tuple(
        (one, other)
        for one, other in combinations(light, 2)
        if _mixed_span(resins()[one].density_g_cm3, resins()[other].density_g_cm3).holds(density.g_cm3, reach)
    )


def _mixed_span(one: Figure, other: Figure) -> Figure:
    low, high = (mixture_density([(0.5, a), (0.5, b)]) for a, b in ((one.low, other.low), (one.high, other.high)))
    return Figure(low=low, high=high, sources=("iso-1183-1",))


def _told_apart(met: tuple[tuple[Resin, Grade], ...]) -> tuple[tuple[str, str], ...]:
    pairs = combinations(met, 2)
    return tuple(
        dict.fromkeys(
            (a.symbol, b.symbol)
            for (a, _), (b, _) in pairs
            if a.symbol != b.symbol and a.density_g_cm3.gap_to(b.density_g_cm3) >= REAL_GAP_G_CM3
        )
    )


def too_coarse(density: PieceDensity, found: DensityCandidates) -> Problem | None:
    """The refusal where the balance leaves two resins that are far apart; None where it is fit."""
    if not found.told_apart:
        return None
    one, other = found.told_apart[0]
    gap = resins()[one].density_g_cm3.gap_to(resins()[other].density_g_cm3)
    needed = gap / STEPS_PER_GAP
    said = f"{density.g_cm3:.3f} ± {density.uncertainty_g_cm3:.3f} g/cm³"
    return Problem(
        code="density-too-coarse",
        message=f"met {said}, which cannot tell {one} from {other}, wanted an uncertainty below {needed:.3f} g/cm³",
        hint="weigh a larger piece or take a balance with a finer step",
        facts=(("density", said), ("one", one), ("other", other), ("needed", f"{needed:.3f}")),
    )


def overlapping_grades() -> tuple[tuple[str, str], ...]:
    """Grades whose usual densities overlap: nothing on a balance tells these apart."""
    grades = [(g.id, g.density_g_cm3) for r in resins().values() for g in r.grades]
    return tuple((a, b) for (a, fa), (b, fb) in combinations(grades, 2) if _overlap(fa, fb))


def _overlap(one: Figure, other: Figure) -> bool:
    return one.gap_to(other) < 0
