"""Densities of water, ethanol-water and brine, and what people call them.

Liquids are made by mass: volumes of water and alcohol do not add up, and kitchen recipes that count them
as if they did are off by more than the gap between PP and PE-HD.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise
from typing import Literal

from passport.material.tables import table
from passport.problems import Problem

Kind = Literal["water", "ethanol", "brine"]
KG_M3_PER_G_CM3 = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid:
    """A liquid by kind and strength; `percent_by_mass` of the dissolved part, 0 for water."""

    kind: Kind
    percent_by_mass: float = 0.0

    def __str__(self) -> str:
        if self.kind == "water":
            return "water"
        return f"{self.kind} {self.percent_by_mass:g} % by mass"


@dataclass(frozen=True, slots=True, kw_only=True)
class LiquidDensity:
    """The density of a liquid at its temperature and how well it is known, both in g/cm3."""

    g_cm3: float
    uncertainty_g_cm3: float
    sources: tuple[str, ...]


LIQUID_WANTED = "water, ethanol 45 % by mass or brine 11 % by mass"
_LIQUID = re.compile(r"(?P<kind>ethanol|brine)\s+(?P<percent>[0-9]+(?:\.[0-9]+)?)\s*%\s*by mass", re.IGNORECASE)
_SLIPS = (
    (
        re.compile(r"by vol|vol\.? ?%|% ?vol", re.IGNORECASE),
        "give the strength by mass; bottles say it by volume",
    ),
    (re.compile(r"^(alcohol|spirit|methylated)", re.IGNORECASE), "write ethanol with its strength by mass"),
    (re.compile(r"salt", re.IGNORECASE), "write brine with its strength by mass"),
    (re.compile(r"^(ethanol|brine)", re.IGNORECASE), "give the strength, such as 45 % by mass"),
)


def read_liquid(text: str) -> Liquid | Problem:
    """A liquid from text such as "ethanol 45 % by mass", or the problem with it."""
    if text.strip().lower() == "water":
        return Liquid(kind="water")
    found = _LIQUID.fullmatch(text.strip())
    if found is None:
        hint = next((said for slip, said in _SLIPS if slip.search(text)), "")
        return Problem(code="liquid-unknown", message=f'met "{text}", wanted {LIQUID_WANTED}', hint=hint)
    kind: Kind = "ethanol" if found["kind"].lower() == "ethanol" else "brine"
    return _checked(Liquid(kind=kind, percent_by_mass=float(found["percent"])))


def strongest_percent(kind: Kind) -> float:
    """The strongest mixture that the table of a liquid holds, in per cent by mass."""
    return {"water": 0.0, "ethanol": 100.0, "brine": float(_brine_rows()[-1][0])}[kind]


def _checked(liquid: Liquid) -> Liquid | Problem:
    most = strongest_percent(liquid.kind)
    if liquid.percent_by_mass <= most:
        return liquid
    return Problem(
        code="liquid-strength",
        message=f"met {liquid}, wanted at most {most:g} % by mass",
        hint="more salt than that stays on the bottom" if liquid.kind == "brine" else "",
    )


def density_of(liquid: Liquid, temperature_c: float) -> LiquidDensity | Problem:
    """Density of a liquid at a temperature, or the problem where its table does not reach.

    Water by the CIPM formula of 2001, ethanol by OIML R 22, brine by the handbook of 1974.
    """
    row = table("liquids")[liquid.kind]
    low, high = row["range_c"]
    if not low <= temperature_c <= high:
        return Problem(
            code="liquid-temperature",
            message=f"met {liquid.kind} at {temperature_c:g} °C, wanted {low:g} to {high:g} °C",
            hint="let the liquid come to room temperature and measure it again",
        )
    return LiquidDensity(
        g_cm3=liquid_kg_m3(liquid, temperature_c) / KG_M3_PER_G_CM3,
        uncertainty_g_cm3=row["uncertainty"]["kg_m3"] / KG_M3_PER_G_CM3,
        sources=tuple(row["from"]),
    )


def liquid_kg_m3(liquid: Liquid, temperature_c: float) -> float:
    """Density of a liquid whose strength and temperature lie inside its table."""
    if liquid.kind == "water":
        return water_kg_m3(temperature_c)
    if liquid.kind == "ethanol":
        return ethanol_kg_m3(liquid.percent_by_mass, temperature_c)
    return brine_kg_m3(liquid.percent_by_mass, temperature_c)


def water_kg_m3(temperature_c: float) -> float:
    """Density of air-free water from 0 to 40 °C (CIPM formula, Metrologia 38 (2001) 301-309)."""
    t = temperature_c
    a1, a2, a3, a4, a5 = table("liquids")["water"]["coefficients"]
    density: float = a5 * (1 - (t + a1) ** 2 * (t + a2) / (a3 * (t + a4)))
    return density


def ethanol_kg_m3(percent_by_mass: float, temperature_c: float) -> float:
    """Density of an ethanol-water mixture from -20 to 40 °C (OIML R 22, general formula)."""
    row = table("liquids")["ethanol"]
    p, dt = percent_by_mass / 100, temperature_c - 20
    density: float = sum(a * p**k for k, a in enumerate(row["a"]))
    density += sum(b * dt**k for k, b in enumerate(row["b"], start=1))
    for i, coefficients in enumerate(row["c"], start=1):
        density += dt**i * sum(c * p**k for k, c in enumerate(coefficients, start=1))
    return density


@cache
def _brine_rows() -> tuple[tuple[float, float, float], ...]:
    return tuple((float(p), float(d), float(a)) for p, d, a in table("liquids")["brine"]["rows"])


def brine_kg_m3(percent_by_mass: float, temperature_c: float) -> float:
    """Density of a sodium chloride solution from 15 to 25 °C (handbook of 1974, straight between its rows)."""
    rows = _brine_rows()
    low, high = next((a, b) for a, b in pairwise(rows) if percent_by_mass <= b[0])
    part = (percent_by_mass - low[0]) / (high[0] - low[0])
    at_20 = low[1] + part * (high[1] - low[1])
    slope = low[2] + part * (high[2] - low[2])
    return at_20 - slope * (temperature_c - 20)


def percent_by_volume(percent_by_mass: float) -> float:
    """The strength by volume at 20 °C of an ethanol-water mixture, as bottles state it (OIML R 22)."""
    return percent_by_mass * ethanol_kg_m3(percent_by_mass, 20) / ethanol_kg_m3(100, 20)


def percent_by_mass_from_volume(percent_volume: float) -> float:
    """The strength by mass of an ethanol-water mixture from the one by volume at 20 °C (OIML R 22)."""
    return _bisected(percent_by_volume, percent_volume, 0.0, 100.0)


_SAME_KG_M3 = 1e-6


@lru_cache(maxsize=1024)  # lots of one kind ask alike
def strength_for(kind: Kind, density_kg_m3: float, temperature_c: float = 20.0) -> float | None:
    """Per cent by mass that gives a density at a temperature; None where the liquid never has it."""
    strongest = strongest_percent(kind)
    ends = sorted(liquid_kg_m3(Liquid(kind=kind, percent_by_mass=p), temperature_c) for p in (0.0, strongest))
    if not ends[0] - _SAME_KG_M3 <= density_kg_m3 <= ends[1] + _SAME_KG_M3:
        return None
    return _bisected(
        lambda p: liquid_kg_m3(Liquid(kind=kind, percent_by_mass=p), temperature_c),
        density_kg_m3,
        0.0,
        strongest,
    )


def _bisected(function: Callable[[float], float], wanted: float, low: float, high: float) -> float:
    """Where a monotone function takes a value."""
    rises = function(high) > function(low)
    for _ in range(60):  # 100 % halved sixty times is far below any balance
        middle = (low + high) / 2
        if (function(middle) < wanted) == rises:
            low = middle
        else:
            high = middle
    return (low + high) / 2
