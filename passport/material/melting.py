"""Whether a material may be melted, and how hot: the limits of every resin in it hold together."""

from __future__ import annotations

from collections.abc import Sequence

from passport.material.resins import Resin, resins
from passport.problems import Level, Problem

NO_MELT = "no-melt"
"""Caution of resins that are handed on and never melted in an open workshop: PVC gives off hydrogen chloride,
POM formaldehyde (safety authority's sheet 13 on fume from plastics processing)."""


def melt_problems(symbols: Sequence[str], melt_c: float | None) -> tuple[Problem, ...]:
    """What speaks against melting resins together at a temperature in degrees Celsius; None: not written down.

    Errors are a no: a resin not to be melted here, or a temperature above a resin's limit. A melt below
    a melting point is a doubt, because lumps stay solid; one below the usual window is advice.
    """
    known = [resins()[s] for s in symbols if s in resins()]
    refused = [p for r in known if (p := _refused(r)) is not None]
    if refused or melt_c is None:
        return tuple(refused)
    checked = (p for r in known for p in (_too_hot(r, melt_c), _too_cold(r, melt_c)))
    return tuple(p for p in checked if p is not None)


def _refused(resin: Resin) -> Problem | None:
    facts = (("resin", resin.symbol),)
    if NO_MELT in resin.cautions:
        fume = next((c for c in resin.cautions if c.endswith("-fume")), "")
        return Problem(
            code="melt-refused",
            message=f"met {resin.symbol} in a melt, wanted a resin that may be melted in an open workshop",
            hint="hand it on unmelted: overheating sets free " + _FUMES.get(fume, "harmful fume"),
            facts=(*facts, ("caution", fume)),
        )
    if resin.process_c is None:
        said = f"met {resin.symbol} in a melt, wanted it densified first"
        return Problem(code="melt-foam", message=said, hint="foam is not melted as it is", facts=facts)
    return None


_FUMES = {"hcl-fume": "hydrogen chloride", "formaldehyde-fume": "formaldehyde"}


def _too_hot(resin: Resin, melt_c: float) -> Problem | None:
    limit = resin.never_above_c
    if limit is None or melt_c <= limit.low:
        return None
    return Problem(
        code="melt-too-hot",
        message=f"met a melt of {melt_c:g} °C with {resin.symbol} in it, wanted at most {limit.low:g} °C",
        hint="stop: it breaks down and gives off fume",
        facts=(("resin", resin.symbol), ("melt", f"{melt_c:g}"), ("limit", f"{limit.low:g}")),
    )


def _too_cold(resin: Resin, melt_c: float) -> Problem | None:
    """Lumps below the melting point; below the moulders' window only advice, because slow bars run cooler."""
    facts = (("resin", resin.symbol), ("melt", f"{melt_c:g}"))
    met = f"met a melt of {melt_c:g} °C with {resin.symbol} in it"
    melted = max((figure.high for figure in resin.melts_c), default=None)
    if melted is not None and melt_c < melted:
        return Problem(
            code="melt-too-cold",
            message=f"{met}, wanted more than its melting point of {melted:g} °C",
            hint="lumps that stay solid are weak spots and block a die",
            level=Level.DOUBT,
            facts=(*facts, ("from", f"{melted:g}")),
        )
    window = resin.process_c
    if window is None or melt_c >= window.low:
        return None
    said = f"{met}, wanted {window.low:g} °C or more by the moulders' tables"
    hint = "thick bars are made cooler; look at the fracture of a first piece"
    return Problem(code="melt-below-window", message=said, hint=hint, level=Level.ADVICE, facts=facts)
