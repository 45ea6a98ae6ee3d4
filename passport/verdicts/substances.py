"""Laboratory figures of lots against the limits in force: for a lot on the book's day, for a batch on its own day.

A batch is judged by the figures of every lot that it was made of. They are not thinned by what was blended in: a lot
above a limit is not made lawful by mixing (common practice, no source). What nobody measured says nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from passport.massflow import Ledger
from passport.material.limits import Judgement, Outcome, judge, known_substances, limits_on, substance, symbol
from passport.problems import Level, Place, Problem, did_you_mean
from passport.reading.records import Lot, SubstanceTest
from passport.verdicts.identity import Standing
from passport.verdicts.single_stream import main_resin

SCOPES_OF_USES: Mapping[str, str] = {
    "toy": "children",
    "children": "children",
    "seating": "skin",
    "packaging": "packaging",
    "electrical": "electrical",
}
"""Which uses of a product bring which scope of limits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The figures of one lot against the limits of a day."""

    lot: str
    day: date
    resin: str
    found: tuple[Judgement, ...]

    @property
    def worst(self) -> Outcome:
        """The gravest outcome; `KEEPS` where no limit speaks."""
        outcomes = {judgement.outcome for judgement in self.found}
        return next((o for o in (Outcome.BREAKS, Outcome.FLAG) if o in outcomes), Outcome.KEEPS)


def tests_of(lot: Lot) -> tuple[SubstanceTest, ...]:
    """The laboratory's figures in a lot's evidence."""
    return tuple(test for test in lot.evidence if isinstance(test, SubstanceTest))


def tested_lots(ledger: Ledger) -> tuple[str, ...]:
    """The lots with such a figure."""
    return tuple(lot.id for lot in ledger.shop.lots.values() if tests_of(lot))


def judged_lot(ledger: Ledger, standing: Standing, lot: str, day: date, uses: frozenset[str] = frozenset()) -> Judged:
    """A lot's figures on a day, for what it is to be used for."""
    resin = _resin(ledger, standing, lot)
    scopes = {SCOPES_OF_USES[use] for use in uses if use in SCOPES_OF_USES}
    if ledger.mixtures[lot].recycled().high > 0:
        scopes.add("recovered")
    limits = limits_on(day, frozenset(scopes), frozenset(ledger.shop.workshop.rules), resin)
    return Judged(lot=lot, day=day, resin=resin, found=judge(_contents(ledger.shop.lots[lot]), limits, resin))


def day_of_lot(ledger: Ledger, lot: str) -> date:
    """The day by which a lot is judged: the book's while there is any of it, else its own."""
    stock, record = ledger.stock[lot], ledger.shop.lots[lot]
    left = stock.emptied is None and (stock.books_kg is None or stock.books_kg > 0)
    return ledger.at if left and ledger.at is not None else record.date


def _resin(ledger: Ledger, standing: Standing, lot: str) -> str:
    identity = standing.own.get(lot)
    return identity.symbol if identity and identity.symbol else main_resin(ledger.mixtures[lot], standing.threshold)[0]


def _contents(lot: Lot) -> Mapping[str, Decimal]:
    """The highest figure for each substance that the table knows."""
    found: dict[str, Decimal] = {}
    for test in tests_of(lot):
        name = substance(test.substance)
        if name:
            found[name] = max(test.mg_per_kg, found.get(name, test.mg_per_kg))
    return found


# --- as problems --------------------------------------------------------------------------------------


def doubts(ledger: Ledger, judged: Judged, about: str) -> Iterator[Problem]:
    """A doubt for each figure above a limit, about the lot itself or about what was made of it."""
    kind = "item" if about in ledger.shop.items else "lot"
    place = ledger.shop.place("lot", judged.lot, "evidence", key=True)
    for found in judged.found:
        if found.outcome is not Outcome.KEEPS:
            yield _doubt(found, judged, about, ledger.shop.place("item", about, "date") if kind == "item" else place)


def _doubt(found: Judgement, judged: Judged, about: str, place: Place) -> Problem:
    limit, names = found.limit, " + ".join(name for name, _ in found.measured)
    breaks = found.outcome is Outcome.BREAKS
    made = f" under {about}" if about != judged.lot else ""
    said = f"{limit.title['en']}, since {limit.since.isoformat()}"
    silent = f"; it does not name {judged.resin or 'this resin'}" if limit.resins and not breaks else ""
    least = "less than" if limit.fails_at else "at most"
    return Problem(
        code="substance-above" if breaks else "substance-flag",
        message=f"met {found.content} mg/kg of {names} in {judged.lot}{made}, wanted {least} {limit.mg_per_kg} mg/kg"
        f" on {judged.day.isoformat()} ({said}{silent})",
        place=place,
        hint="keep it out of goods and refuse the lot (an event `refused`); call back what was made of it"
        if breaks
        else "no limit in law is broken; ask a licensed professional before it becomes goods",
        level=Level.DOUBT,
        about=about,
        facts=(
            ("substance", " + ".join(symbol(name) for name, _ in found.measured)),
            ("content", f"{found.content}"),
            ("limit", f"{limit.mg_per_kg}"),
            ("lot", judged.lot),
            ("law", limit.short),
            ("day", judged.day.isoformat()),
        ),
    )


def unknown_substances(ledger: Ledger) -> Iterator[Problem]:
    """Figures for a substance that the table does not know: they are shown, and judged by nothing."""
    for lot in ledger.shop.lots.values():
        for number, test in enumerate(lot.evidence):
            if isinstance(test, SubstanceTest) and not substance(test.substance):
                known = ", ".join(known_substances())
                yield Problem(
                    code="substance-unknown",
                    message=f'met the substance "{test.substance}" in {lot.id}, which no limit here is about',
                    place=ledger.shop.place("lot", lot.id, "evidence", number, "substance"),
                    hint=did_you_mean(test.substance, known_substances()) or f"known are {known}",
                    level=Level.ADVICE,
                    about=lot.id,
                )
