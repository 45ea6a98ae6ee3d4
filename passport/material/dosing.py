"""What to dose when own regrind goes back into a recipe (OPC 40082-4, 13.2).

Closed loop: the regrind has the recipe's own composition, so it brings its part of each additive and the rest
is dosed less. Open loop: its composition is not known, so it is one more component of the recipe.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Dosing:
    """Shares by mass of what goes into the hopper; they sum to 1."""

    main: Fraction
    additives: Mapping[str, Fraction]
    """Dosed fresh, by name."""
    regrind: Fraction
    by_regrind: Mapping[str, Fraction]
    """What of each additive arrives with the regrind; empty for an open loop."""


def dose(additives: Mapping[str, Fraction], regrind: Fraction, *, closed_loop: bool) -> Dosing:
    """Shares to dose from the recipe's additives and the share of regrind, all by mass of the whole.

    Raises ValueError where the shares leave nothing for the main material, or are negative.
    """
    fixed = sum(additives.values(), Fraction(0))
    room = 1 - fixed if closed_loop else 1 - fixed - regrind
    if min((*additives.values(), regrind), default=Fraction(0)) < 0 or room < 0 or regrind > 1:
        met = f"{float(fixed * 100):g} % additives and {float(regrind * 100):g} % regrind"
        raise ValueError(f"met {met}, wanted shares of at least 0 % that fit into 100 %")
    fresh = 1 - regrind if closed_loop else Fraction(1)
    by_regrind = {name: share * regrind for name, share in additives.items()} if closed_loop else {}
    return Dosing(
        main=room * fresh,
        additives={name: share * fresh for name, share in additives.items()},
        regrind=regrind,
        by_regrind=by_regrind,
    )
