"""How long things last, and how they end: Kaplan-Meier and Aalen-Johansen over exact counts. Knows nothing of records.

Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457-481: S(t) = Π (1 − d/n) over the days with ends.
Aalen and Johansen, Scand. J. Stat. 5 (1978) 141-150: F_k(t) = Σ S(t−)·d_k/n, the share that has ended in way k
while the other ways compete; all F_k and S add up to 1 (1 − Kaplan-Meier of one way alone would say too much).
Variances: Greenwood (1926) for S; for F_k the delta method (Marubini and Valsecchi 1995, section 10.3).
Bounds: on the scale of log(−log), so that they stay within 0 and 1 (Kalbfleisch and Prentice, section 1.4).
All of these are from memory. Where nothing or everything has ended that scale has no width: there the exact bound
of Clopper and Pearson on the things still at risk stands (the effective number of Dorey and Korn, Stat. Med. 6
(1987) 679-687, from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, log, sqrt

Z_TWO_SIDED_95 = 1.959964
"""Two-sided 95 % of the normal distribution."""
TAIL = 0.025
"""What each bound leaves out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """One thing under observation.

    days: from its first day out to its end, or to the last day it was known of.
    end: how it ended; "" where it is not known to have ended (censored).
    """

    days: int
    end: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A curve from this day until the next point."""

    day: int
    at_risk: int
    """Things still under observation on the morning of the day."""
    ended: int
    """Ends on the day: of all ways, or of the one that the curve is of."""
    value: Fraction
    low: float
    """Lower bound of the two-sided 95 %."""
    high: float


@dataclass(frozen=True, slots=True)
class _Day:
    day: int
    at_risk: int
    ends: Mapping[str, int]

    @property
    def ended(self) -> int:
        return sum(self.ends.values())


def kaplan_meier(spells: Iterable[Spell]) -> tuple[Point, ...]:
    """The share not ended after each day on which something ended, whatever the way."""
    value, greenwood, points = Fraction(1), Fraction(0), []
    for day in _days(spells):
        n, d = day.at_risk, day.ended
        value *= Fraction(n - d, n)
        greenwood += Fraction(d, n * (n - d)) if n > d else 0
        low, high = _bounds(value, value * sqrt(greenwood), n)
        points.append(Point(day=day.day, at_risk=n, ended=d, value=value, low=low, high=high))
    return tuple(points)


def cumulative_incidence(spells: Iterable[Spell], end: str) -> tuple[Point, ...]:
    """The share that has ended in one way after each day on which something ended, the other ways competing."""
    days, found = list(_days(spells)), []
    values = list(_incidences(days, end))
    for day, value, variance in zip(days, values, _variances(days, values, end), strict=True):
        low, high = _bounds(value, sqrt(max(variance, 0.0)), day.at_risk)
        ended = day.ends.get(end, 0)
        found.append(Point(day=day.day, at_risk=day.at_risk, ended=ended, value=value, low=low, high=high))
    return tuple(found)


def at_risk(spells: Iterable[Spell], day: int) -> int:
    """How many things were still under observation on the morning of a day."""
    return sum(spell.days >= day for spell in spells)


def on_day(points: Sequence[Point], day: int) -> Point | None:
    """The point whose value holds on a day; None before the first end."""
    i = bisect_right([point.day for point in points], day)
    return points[i - 1] if i else None


def exact_interval(ended: int, of: int) -> tuple[float, float]:
    """Two-sided 95 % for a share counted whole: Clopper and Pearson, Biometrika 26 (1934) 404-413.

    Raises ValueError for counts that cannot be.
    """
    if not 0 <= ended <= of or of == 0:
        raise ValueError(f"met {ended} of {of}, wanted a count out of at least one")
    from scipy.special import betaincinv  # noqa: PLC0415 - slow to import, seldom needed

    low = float(betaincinv(ended, of - ended + 1, TAIL)) if ended else 0.0
    high = float(betaincinv(ended + 1, of - ended, 1 - TAIL)) if ended < of else 1.0
    return low, high


def _days(spells: Iterable[Spell]) -> Iterator[_Day]:
    """Each day with ends, and how many were at risk on its morning; what is censored that day still counts."""
    found = sorted(spells, key=lambda spell: spell.days)
    ends: dict[int, dict[str, int]] = {}
    for spell in found:
        if spell.end:
            of_day = ends.setdefault(spell.days, {})
            of_day[spell.end] = of_day.get(spell.end, 0) + 1
    days = [spell.days for spell in found]
    gone = 0
    for day, counts in sorted(ends.items()):
        while gone < len(days) and days[gone] < day:
            gone += 1
        yield _Day(day, len(days) - gone, counts)


def _incidences(days: Sequence[_Day], end: str) -> Iterator[Fraction]:
    surviving, value = Fraction(1), Fraction(0)
    for day in days:
        value += surviving * Fraction(day.ends.get(end, 0), day.at_risk)
        surviving *= Fraction(day.at_risk - day.ended, day.at_risk)
        yield value


def _variances(days: Sequence[_Day], values: Sequence[Fraction], end: str) -> Iterator[float]:
    """Of the incidence after each day, by the delta method.

    Σ (F − F_j)²·d/(n(n−d)) + Σ S²·(k/n²)·(n−k)/n − 2 Σ (F − F_j)·S·k/n², with k the ends of the one way. The squares
    are multiplied out, so that each day adds to running sums and thousands of days stay cheap.
    """
    surviving, squares, mixed, flat = 1.0, 0.0, 0.0, 0.0
    for day, value in zip(days, values, strict=True):
        n, d, k, share = day.at_risk, day.ended, day.ends.get(end, 0), float(value)
        weight = d / (n * (n - d)) if n > d else 0.0
        cross = surviving * k / n**2
        squares += weight
        mixed += share * weight + cross
        flat += share**2 * weight + 2 * share * cross + surviving**2 * (k / n**2) * ((n - k) / n)
        yield share**2 * squares - 2 * share * mixed + flat
        surviving *= (n - d) / n


def _bounds(value: Fraction, spread: float, at_risk: int) -> tuple[float, float]:
    """95 % on the log(−log) scale; the exact bound of the things at risk where nothing or all has ended."""
    if value in (0, 1):
        edge = float(TAIL ** (1 / at_risk))
        return (edge, 1.0) if value == 1 else (0.0, 1 - edge)
    share = float(value)
    width = Z_TWO_SIDED_95 * spread / (share * abs(log(share)))
    return share ** exp(width), share ** exp(-width)
