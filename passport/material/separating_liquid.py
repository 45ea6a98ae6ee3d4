"""The liquid in which one resin floats and another sinks, with its recipe by mass."""

from __future__ import annotations

from dataclasses import dataclass

from passport.material.liquids import (
    KG_M3_PER_G_CM3,
    Kind,
    Liquid,
    liquid_kg_m3,
    percent_by_volume,
    strength_for,
    strongest_percent,
    water_kg_m3,
)
from passport.material.resins import Resin, resins

ROOM_C = 20.0
SAFE_MARGIN_G_CM3 = 0.005
"""A liquid nearer to a resin than this decides nothing: bubbles and soap do (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A liquid made by mass, and what it separates. Masses are for one kilogram of liquid."""

    liquid: Liquid
    density_g_cm3: float
    water_g: float
    other_g: float
    """Grams of salt or of the bought alcohol; 0 for plain water."""
    bought_percent_by_mass: float
    """Strength of the alcohol that is weighed in; 100 for salt."""
    margin_g_cm3: float
    """Distance of the liquid from the nearer of the two ranges."""

    @property
    def flammable(self) -> bool:
        """Whether its vapour burns: no flame, no spark, open window."""
        return self.liquid.kind == "ethanol"

    @property
    def salt_g_per_100_g_water(self) -> float:
        """Salt to a hundred grams of water, as people weigh it at the sink."""
        return 100 * self.other_g / self.water_g if self.liquid.kind == "brine" else 0.0

    @property
    def percent_by_volume(self) -> float:
        """Strength by volume of the alcohol, for comparing with a bottle; 0 for the other liquids."""
        return percent_by_volume(self.liquid.percent_by_mass) if self.liquid.kind == "ethanol" else 0.0


def separating(floats: str, sinks: str, bought_percent_by_mass: float = 100.0) -> Recipe | None:
    """The recipe for a liquid at 20 °C in which the first resin floats and the second sinks.

    None where their usual densities overlap or lie too close, or where neither alcohol nor salt reaches between.
    Raises KeyError for a symbol that the table does not hold.
    """
    light, heavy = resins()[floats], resins()[sinks]
    low, high = light.density_g_cm3.high, heavy.density_g_cm3.low
    if _foam(light) or high - low <= 0:
        return None
    return _recipe(low, high, bought_percent_by_mass)


def _foam(resin: Resin) -> bool:
    """Foam floats because of its gas cells: floating tells nothing about the resin."""
    return bool(resin.float_note)


def _recipe(low_g_cm3: float, high_g_cm3: float, bought_percent: float) -> Recipe | None:
    """Plain water where it lies safely in the gap, else the middle of the gap from alcohol or salt."""
    water = water_kg_m3(ROOM_C) / KG_M3_PER_G_CM3
    if low_g_cm3 + SAFE_MARGIN_G_CM3 <= water <= high_g_cm3 - SAFE_MARGIN_G_CM3:
        return recipe_for("water", water, min(water - low_g_cm3, high_g_cm3 - water), bought_percent)
    reachable = strongest_density_g_cm3("brine")
    middle = (low_g_cm3 + min(high_g_cm3, reachable)) / 2
    margin = min(middle - low_g_cm3, high_g_cm3 - middle)
    if margin < SAFE_MARGIN_G_CM3:
        return None
    kind: Kind = "ethanol" if middle < water else "brine"
    return recipe_for(kind, middle, margin, bought_percent)


def strongest_density_g_cm3(kind: Kind) -> float:
    """Density of the strongest mixture of a kind at 20 °C."""
    strongest = Liquid(kind=kind, percent_by_mass=strongest_percent(kind))
    return liquid_kg_m3(strongest, ROOM_C) / KG_M3_PER_G_CM3


def recipe_for(
    kind: Kind, density_g_cm3: float, margin_g_cm3: float = 0.0, bought_percent_by_mass: float = 100.0
) -> Recipe | None:
    """One kilogram of a liquid of a density at 20 °C; None where the kind or the bought alcohol never has it."""
    percent = 0.0 if kind == "water" else strength_for(kind, density_g_cm3 * KG_M3_PER_G_CM3)
    bought = bought_percent_by_mass if kind == "ethanol" else 100.0
    if percent is None or percent > bought:
        return None
    other_g = 1000 * percent / bought
    return Recipe(
        liquid=Liquid(kind=kind, percent_by_mass=round(percent, 1)),
        density_g_cm3=density_g_cm3,
        water_g=1000 - other_g,
        other_g=other_g,
        bought_percent_by_mass=bought,
        margin_g_cm3=margin_g_cm3,
    )
