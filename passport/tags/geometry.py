"""From millimetres to printer dots: how large a module is, and whether that lasts outdoors.

A module is a whole number of printer dots; a symbol is never scaled by a fraction. The limits
are measured ones: labels were worn, photographed and read by two decoders, 100 seeds a cell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from passport.problems import Level, Problem
from passport.tags.symbol import QUIET, Symbol, symbol_for

INCH_MM = 25.4
"""International yard and pound agreement of 1959: an inch is exactly 25.4 mm."""
LEAST_MODULE_MM = 0.5
"""Below it hardly any worn label was read (measured, labels of 20 mm against 30 mm)."""
GOOD_MODULE_MM = 0.75
"""What a hand-held outdoor label of 30 mm keeps at level Q (measured)."""
SMALL_LABEL_MM = 25.0
"""Under this side level M with its larger modules is read more often than Q (measured)."""
DISTANCE_PER_MODULE = 756
"""A phone frame of 1920 pixels over 60 degrees, 2.2 pixels a module (measured): 1920 / (2 tan 30° · 2.2)."""
DISTANCE_PER_SIDE = 10
"""Rule of thumb, in no standard: the distance is ten times the symbol's side."""
DEFAULT_LEVEL = "Q"
SMALL_LEVEL = "M"


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A symbol on the grid of a printer."""

    modules: int
    """Along a side, without the quiet zone."""
    dots: int
    """Printer dots a module; 0 where the printer cannot hold it."""
    dpi: int

    @property
    def module_mm(self) -> float:
        """The X dimension."""
        return self.dots * INCH_MM / self.dpi

    @property
    def symbol_mm(self) -> float:
        """The side without the quiet zone."""
        return self.modules * self.module_mm

    @property
    def whole_mm(self) -> float:
        """The side with the quiet zone."""
        return (self.modules + 2 * QUIET) * self.module_mm

    @property
    def whole_dots(self) -> int:
        """The side with the quiet zone, in printer dots."""
        return (self.modules + 2 * QUIET) * self.dots

    @property
    def reach_mm(self) -> float:
        """The farthest that a phone resolves the modules, in good light."""
        return DISTANCE_PER_MODULE * self.module_mm

    @property
    def easy_reach_mm(self) -> float:
        """The distance of the ten-to-one rule of thumb."""
        return DISTANCE_PER_SIDE * self.symbol_mm


def size_of(side_mm: float, dpi: int, modules: int) -> Size:
    """The largest size with whole dots a module whose quiet zone ends within side_mm.

    dots = ⌊side / 25.4 · dpi / (modules + 8)⌋.
    """
    # the small addition keeps a side that is a whole number of dots from losing one to rounding
    dots = math.floor(side_mm / INCH_MM * dpi / (modules + 2 * QUIET) + 1e-9)
    return Size(modules=modules, dots=dots, dpi=dpi)


def least_side_mm(module_mm: float, dpi: int, modules: int) -> float:
    """The smallest side with quiet zone at which a module has at least module_mm."""
    dots = math.ceil(module_mm / INCH_MM * dpi - 1e-9)
    return (modules + 2 * QUIET) * dots * INCH_MM / dpi


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A symbol, its size, and what there is to say about both."""

    symbol: Symbol
    size: Size
    problems: tuple[Problem, ...]


def plan_symbol(payload: str, *, side_mm: float, dpi: int, level: str = "", distance_mm: float = 0.0) -> Plan:
    """Version, level and module size for a payload on a label. level "" leaves the choice to the plan.

    Raises ValueError for a payload that no symbol holds. A plan may hold an error: look before printing.
    """
    symbol = symbol_for(payload, level or _level_for(payload, side_mm, dpi))
    size = size_of(side_mm, dpi, symbol.side)
    return Plan(symbol=symbol, size=size, problems=_verdicts(size, symbol.level, side_mm, distance_mm))


def _level_for(payload: str, side_mm: float, dpi: int) -> str:
    """Q, but M on a small label, or where only the larger modules of M are large enough."""
    if side_mm < SMALL_LABEL_MM:
        return SMALL_LEVEL
    if size_of(side_mm, dpi, symbol_for(payload, DEFAULT_LEVEL).side).module_mm >= LEAST_MODULE_MM:
        return DEFAULT_LEVEL
    larger = size_of(side_mm, dpi, symbol_for(payload, SMALL_LEVEL).side).module_mm >= LEAST_MODULE_MM
    return SMALL_LEVEL if larger else DEFAULT_LEVEL


@lru_cache(maxsize=256)
def _verdicts(size: Size, level: str, side_mm: float, distance_mm: float) -> tuple[Problem, ...]:
    """All that is wrong or doubtful about a size; the same for every label of a sheet."""
    found = (
        _module_problem(size, side_mm),
        _level_problem(level, side_mm),
        _distance_problem(size, distance_mm),
    )
    return tuple(problem for problem in found if problem)


def _module_problem(size: Size, side_mm: float) -> Problem | None:
    if size.module_mm >= GOOD_MODULE_MM:
        return None
    bad = size.module_mm < LEAST_MODULE_MM
    wanted = LEAST_MODULE_MM if bad else GOOD_MODULE_MM
    needed = least_side_mm(wanted, size.dpi, size.modules)
    return Problem(
        code="label-module-small" if bad else "label-module-fine",
        message=f"on {side_mm:g} mm at {size.dpi} dpi a module has {size.dots} dots, {size.module_mm:.3f} mm; "
        f"wanted at least {wanted:g} mm",
        hint=f"give the symbol a side of at least {math.ceil(needed * 10) / 10:g} mm, shorten the address, "
        "or print with more dots an inch",
        level=Level.ERROR if bad else Level.ADVICE,
    )


def _level_problem(level: str, side_mm: float) -> Problem | None:
    small = side_mm < SMALL_LABEL_MM
    if level == "H":
        said = "level H gains little against stains over Q and loses on blur and distance"
    elif level == "L" or (level == "M" and not small):
        said = f"level {level} on {side_mm:g} mm stands fewer stains than Q"
    elif level == "Q" and small:
        said = f"level Q on {side_mm:g} mm has smaller modules than M, which is read more often there"
    else:
        return None
    return Problem(
        code="label-level",
        message=f"{said}; wanted {SMALL_LEVEL if small else DEFAULT_LEVEL}",
        hint="leave the level out and the label chooses it",
        level=Level.ADVICE,
    )


def _distance_problem(size: Size, distance_mm: float) -> Problem | None:
    if distance_mm <= size.reach_mm:
        return None
    needed = least_side_mm(distance_mm / DISTANCE_PER_MODULE, size.dpi, size.modules)
    return Problem(
        code="label-too-far",
        message=f"modules of {size.module_mm:.3f} mm are read from {size.reach_mm / 1000:.2f} m at most; "
        f"wanted {distance_mm / 1000:.2f} m",
        hint=f"give the symbol a side of at least {math.ceil(needed)} mm",
        level=Level.DOUBT,
    )


def reasons(plan: Plan, side_mm: float) -> tuple[str, ...]:
    """Why the symbol is as it is, sentence by sentence, for a person at the desk."""
    symbol, size = plan.symbol, plan.size
    return (
        _why_version(symbol),
        f"Level {symbol.level}: {_why_level(symbol.level, side_mm)}",
        _why_size(size, side_mm),
        _why_distance(size),
        f"Mask {symbol.mask} has the lowest penalty by ISO/IEC 18004 7.8.3.",
    )


def _why_version(symbol: Symbol) -> str:
    return (
        f"The address has {len(symbol.payload)} characters; at level {symbol.level} version {symbol.version} is "
        f"the smallest symbol that holds it: {symbol.side} modules, and {QUIET} light ones on each side."
    )


def _why_size(size: Size, side_mm: float) -> str:
    return (
        f"On {side_mm:g} mm at {size.dpi} dpi a module has {size.dots} whole dots, {size.module_mm:.3f} mm; the "
        f"symbol is {size.symbol_mm:.1f} mm, with its quiet zone {size.whole_mm:.1f} mm."
    )


def _why_distance(size: Size) -> str:
    return (
        f"A phone resolves it from {size.reach_mm / 1000:.2f} m at most (2.2 pixels a module, 1920 pixels over "
        f"60°); easy reading is within {size.easy_reach_mm / 1000:.2f} m (ten times its side, a rule of thumb)."
    )


def _why_level(level: str, side_mm: float) -> str:
    """The measured ground for a level: share of worn labels still read."""
    if level == DEFAULT_LEVEL:
        return "with 6 to 10 % of its data stained, 13 to 24 points more labels were read than at M (measured)."
    if level == SMALL_LEVEL and side_mm < SMALL_LABEL_MM:
        return f"under {SMALL_LABEL_MM:g} mm its larger modules count for more than the recovery of Q (measured)."
    if level == SMALL_LEVEL:
        return "asked for, or the modules of Q would be below the least size here."
    return "asked for."
