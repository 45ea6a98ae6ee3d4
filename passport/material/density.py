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
    liquid: LiquidDensity
    step_g: float = DEFAULT_STEP_G
    """Smallest difference the balance shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceDensity:
    """A density in g/cm3 with its standard uncertainty."""

    g_cm3: float
    uncertainty_g_cm3: float


def immersion_density(in_air_g: float, in_liquid_g: float, liquid_g_cm3: float, air_g_cm3: float = AIR_G_CM3) -> float:
    """Density in g/cm3 with air buoyancy: m_A (rho_L - rho_a) / (m_A - m_L) + rho_a (ISO 1183-1, method A).

    With `air_g_cm3=0` it is the plain formula of the standard. Raises ValueError where the masses allow none.
    """
    if in_air_g <= 0 or not 0 <= in_liquid_g < in_air_g:
        raise ValueError(f"met {in_air_g:g} g in air and {in_liquid_g:g} g in liquid, wanted 0 <= in liquid < in air")
    return in_air_g * (liquid_g_cm3 - air_g_cm3) / (in_air_g - in_liquid_g) + air_g_cm3


def sinker_specific_gravity(piece_in_air_g: float, sinker_in_liquid_g: float, both_in_liquid_g: float) -> float:
    """Specific gravity of a piece that floats, held down by a sinker: a / (a + w - b) (ASTM D792)."""
    displaced = piece_in_air_g + sinker_in_liquid_g - both_in_liquid_g
    if piece_in_air_g <= 0 or displaced <= 0:
        raise ValueError(f"met a displaced mass of {displaced:g} g, wanted more than 0 g")
    return piece_in_air_g / displaced


def immersion_uncertainty(immersion: Immersion) -> float:
    """Standard uncertainty in g/cm3: each reading by one step, the liquid by what is known of it (GUM, first order).

    One whole step a reading, not step/sqrt(12), because under the liquid the wire in the surface makes it flicker.
    """
    a, b, rho = immersion.in_air_g, immersion.in_liquid_g, immersion.liquid.g_cm3
    lost = a - b
    by_air = b * rho / lost**2 * immersion.step_g
    by_liquid = a * rho / lost**2 * immersion.step_g
    by_density = a / lost * immersion.liquid.uncertainty_g_cm3
    return math.hypot(by_air, by_liquid, by_density)


def mixture_density(shares: Iterable[tuple[float, float]]) -> float:
    """Density of a mixture from (share by mass, g/cm3): the inverse-mass rule 1/rho = sum w/rho."""
    return 1 / sum(share / density for share, density in shares)


def sinking_filler_share(resin_g_cm3: float, filler_g_cm3: float, liquid_g_cm3: float) -> float:
    """Share by mass of a filler from which a resin that floats sinks, by the inverse-mass rule."""
    return (1 / resin_g_cm3 - 1 / liquid_g_cm3) / (1 / resin_g_cm3 - 1 / filler_g_cm3)


def measure(immersion: Immersion) -> PieceDensity | Problem:
    """Density and uncertainty of a piece, or the problem with its masses."""
    problem = _masses_problem(immersion)
    if problem is not None:
        return problem
    return PieceDensity(
        g_cm3=immersion_density(immersion.in_air_g, immersion.in_liquid_g, immersion.liquid.g_cm3),
        uncertainty_g_cm3=immersion_uncertainty(immersion),
    )


def _masses_problem(immersion: Immersion) -> Problem | None:
    a, b = immersion.in_air_g, immersion.in_liquid_g
    met = f"met {a:g} g in air and {b:g} g in the liquid"
    if a <= 0:
        return Problem(code="density-no-piece", message=f"{met}, wanted a piece that weighs something in air")
    if b >= a:
        return Problem(
            code="density-not-lighter",
            message=f"{met}, wanted less in the liquid than in air",
            hint="a piece always loses weight under a liquid: the readings may be swapped or the balance not zeroed",
        )
    if b < 0:
        return Problem(
            code="density-floats",
            message=f"{met}, wanted a piece that sinks",
            hint="it floats: take a lighter liquid such as ethanol 100 % by mass",
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
