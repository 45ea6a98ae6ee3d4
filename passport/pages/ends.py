"""The parts of a thing at its end as lines of a table: what each is, what it weighs, where it goes."""

from __future__ import annotations

from collections.abc import Iterator

from passport.material.resins import symbols_for
from passport.pages.pieces import PartLine
from passport.pages.scribe import Scribe
from passport.verdicts.end_of_life import EndOfLife, HardwareEnd, PartEnd

METALS = frozenset({"steel", "stainless steel", "brass", "aluminium", "zinc", "iron", "copper"})


def part_lines(scribe: Scribe, end: EndOfLife, product: str) -> Iterator[PartLine]:
    """A line a part, then one for each piece of hardware. product: the name of a thing without named parts."""
    yield from (_part_line(scribe, part, product) for part in end.parts)
    yield from (_hardware_line(scribe, piece) for piece in end.hardware)


def _part_line(scribe: Scribe, part: PartEnd, product: str) -> PartLine:
    words = scribe.words
    goes = words("tell.goes_resin", resin=part.resin) if part.resin else words("tell.goes_unknown", name=scribe.name)
    return PartLine(
        name=scribe.term(part.part) or product,
        material=part.resin or words("tell.unproven"),
        mass=scribe.kg(part.mass_kg) if part.mass_kg is not None else words("tell.state.not_weighed"),
        goes_to=goes,
        href=scribe.at(f"/R/{part.resin}/") if part.resin else "",
    )


def _hardware_line(scribe: Scribe, piece: HardwareEnd) -> PartLine:
    words, hardware = scribe.words, piece.hardware
    resin = next(iter(symbols_for(hardware.material)), "")
    goes = words("tell.goes_resin", resin=resin) if resin else ""
    said = scribe.said(hardware.what)
    return PartLine(
        name=said.text + (f" × {hardware.count.pieces}" if hardware.count else ""),
        material=scribe.term(hardware.material),
        mass=scribe.kg(piece.mass_kg),
        goes_to=goes or words("tell.goes_metal" if hardware.material in METALS else "tell.goes_rest"),
        lang=said.lang,
    )
