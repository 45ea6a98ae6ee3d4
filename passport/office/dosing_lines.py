"""What `blend` says about dosing: own regrind goes back into a recipe with additives, by mass."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from passport.amounts import NotAQuantity, read_share
from passport.material.dosing import Dosing, dose
from passport.office import desk
from passport.problems import Problem

_ADDITIVE = re.compile(r"(?P<name>.*\S)\s+(?P<share>[\d.]+\s*%)")
GRAMS = 1000


def dosing_report(want_kg: Decimal, additives: Sequence[str], regrind: str, *, open_loop: bool) -> dict[str, Any]:
    """Masses for the hopper; a recipe that cannot be ends the command."""
    recipe = dict(_additive(text) for text in additives)
    share = _share(regrind, "--regrind") if regrind else Fraction(0)
    try:
        found = dose(recipe, share, closed_loop=not open_loop)
    except ValueError as slip:
        hint = "shares are of the whole: additives, regrind and main material make 100 %"
        desk.stop([Problem(code="dosing-shares", message=str(slip), hint=hint)])
    return {"mass_kg": str(want_kg), "loop": "open" if open_loop else "closed", "hopper": list(_rows(found, want_kg))}


def _additive(text: str) -> tuple[str, Fraction]:
    """`colour 2 %` as a name and a share."""
    found = _ADDITIVE.fullmatch(text.strip())
    if found is None:
        message = f'met "{text}" for --additive, wanted a name and a share such as "colour 2 %"'
        desk.stop([Problem(code="option-unread", message=message)])
    return found["name"], _share(found["share"], "--additive")


def _share(text: str, option: str) -> Fraction:
    try:
        return read_share(text.strip())
    except NotAQuantity as slip:
        desk.stop([Problem(code="option-unread", message=f"{slip} for {option}", hint=slip.hint)])


def _rows(found: Dosing, want_kg: Decimal) -> Iterator[dict[str, str]]:
    yield _row("main material", found.main, want_kg)
    for name, share in found.additives.items():
        brought = found.by_regrind.get(name, Fraction(0))
        note = f"{_percent(brought)} more comes with the regrind" if brought else ""
        yield _row(name, share, want_kg, note)
    if found.regrind:
        yield _row("own regrind", found.regrind, want_kg)


def _row(what: str, share: Fraction, want_kg: Decimal, note: str = "") -> dict[str, str]:
    grams = round(share * Fraction(want_kg) * GRAMS)
    return {"what": what, "share": _percent(share), "mass_kg": f"{Decimal(grams) / GRAMS:.3f}", "note": note}


def _percent(share: Fraction) -> str:
    return f"{float(share * 100):.2f} %"


def dosing_lines(report: Mapping[str, Any]) -> Iterator[str]:
    """The report as a table, with what it rests on."""
    rows = report["hopper"]
    width = max(len(row["mass_kg"]) for row in rows)
    for row in rows:
        note = f"; {row['note']}" if row["note"] else ""
        yield f"{row['mass_kg']:>{width}} kg  {row['share']:>8}  {row['what']}{note}"
    yield ""
    if report["loop"] == "closed":
        yield "closed loop: the regrind is of this same recipe and brings its part of each additive (OPC 40082-4, 13.2)"
    else:
        yield "open loop: what is in the regrind is not known, so it is one more component (OPC 40082-4, 13.2)"
    yield "own regrind never raises the recycled share"
