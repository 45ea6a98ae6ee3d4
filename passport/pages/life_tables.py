"""Rows of the data tables on life after the gate: curves with bounds, things in use, fates, repairs, recalls."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from passport.verdicts.book import Book
from passport.verdicts.cohorts import ENDS, Cohort, age_of, cohorts_of, fates, things_out
from passport.verdicts.life import Stage
from passport.verdicts.survival import Point, cumulative_incidence

ALL_YEARS = "all"
NOT_ENDED = "not-ended"
FATES = ("own", "down", "not_back", "elsewhere", "lost")
PLACES = 4

Row = dict[str, str]


def _plain(value: Fraction | float | None) -> str:
    """A number with four decimals; empty for an unknown one."""
    if value is None:
        return ""
    scaled = round(Fraction(value) * 10**PLACES)
    sign = "-" if scaled < 0 else ""
    return f"{sign}{abs(scaled) // 10**PLACES}.{abs(scaled) % 10**PLACES:0{PLACES}}"


def curve_rows(book: Book) -> Iterator[Row]:
    """Each step of each curve: what share has ended in a way, or not ended, from so many days after going out."""
    for cohort in cohorts_of(book):
        spells = [thing.spell for thing in cohort.things]
        for end in ENDS:
            if cohort.ended(end):
                yield from _steps(cohort, end, cumulative_incidence(spells, end))
        yield from _steps(cohort, NOT_ENDED, cohort.lasting)


def _steps(cohort: Cohort, curve: str, points: tuple[Point, ...]) -> Iterator[Row]:
    for point in points:
        yield {
            "year": str(cohort.year) if cohort.year else ALL_YEARS,
            "curve": curve,
            "days": str(point.day),
            "at_risk": str(point.at_risk),
            "ended": str(point.ended),
            "share": _plain(point.value),
            "low": _plain(point.low),
            "high": _plain(point.high),
        }


def in_use_rows(book: Book) -> Iterator[Row]:
    """How many things are not known to have ended, by product, year of going out and age."""
    counts: dict[tuple[str, int, str], int] = {}
    for thing in things_out(book):
        if not thing.end and thing.life.stage is not Stage.WITHDRAWN:
            key = (thing.product, thing.out.year, age_of(thing.spell.days))
            counts[key] = counts.get(key, 0) + 1
    for (product, year, age), things in sorted(counts.items()):
        yield {"product": product, "year": str(year), "age": age, "things": str(things)}


def fate_rows(book: Book) -> Iterator[Row]:
    """The plastic of things whose end is known, in kg as made."""
    found = fates(book, things_out(book))
    for fate in FATES:
        yield {"fate": fate, "plastic_kg": _plain(getattr(found, f"{fate}_kg"))}


def repair_rows(book: Book) -> Iterator[Row]:
    """Every repair with what it put in, took out and kept in use."""
    mendings = (mending for of_tag in book.mendings.values() for mending in of_tag)
    for m in sorted(mendings, key=lambda m: (m.run, m.tag)):
        yield {
            "run": m.run,
            "tag": m.tag,
            "date": m.day.isoformat(),
            "part": m.part,
            "put_in_kg": _plain(m.put_in_kg),
            "taken_out_kg": _plain(m.taken_out_kg),
            "kept_kg": _plain(m.kept_kg),
            "new_one_kg": _plain(m.new_kg),
        }


def recall_rows(book: Book) -> Iterator[Row]:
    """Every recall, ended or not, with the things that it reaches."""
    first = book.shop.workshop.languages[0]
    for called in sorted(book.recalls.values(), key=lambda called: called.recall.id):
        recall, ended = called.recall, called.ended
        yield {
            "recall": recall.id,
            "date": recall.date.isoformat(),
            "lot": recall.lot,
            "stream": recall.stream,
            "reason": recall.reason.said(first, first)[0],
            "because_of": recall.because_of,
            "ended": ended.date.isoformat() if ended else "",
            "tags": ";".join(thing.life.tag for thing in called.things),
        }
