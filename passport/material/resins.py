"""The resin table: what is known of each resin that a workshop meets, one source a figure.

Resins are named by their symbol of ISO 1043-1 (`PE-HD`). A symbol may cover several grades whose figures
differ (`PP`): to name a candidate any grade will do, to melt or to use it the limits of all grades hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

from passport.material.tables import table
from passport.problems import did_you_mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A range in the unit of the field that holds it; `low == high` for a single value."""

    low: float
    high: float
    sources: tuple[str, ...]
    note: str = ""

    def holds(self, value: float, reach: float = 0.0) -> bool:
        """Whether the range, widened by `reach` at both ends, contains the value."""
        return self.low - reach <= value <= self.high + reach

    def gap_to(self, other: Figure) -> float:
        """Distance between two ranges; 0 where they touch, negative where they overlap."""
        return max(self.low - other.high, other.low - self.high)

    @property
    def from_memory(self) -> bool:
        """Whether nothing but memory stands behind it."""
        return self.sources == ("memory",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """A number and a term in one of the two packaging systems."""

    number: int
    term: str
    also: tuple[str, ...]
    sources: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """One grade of a resin. Densities in g/cm3, temperatures in degrees Celsius, shrinkage in per cent."""

    id: str
    called: Mapping[str, str]
    """In words, by language; empty where a resin has one grade."""
    density_g_cm3: Figure
    density_wide_g_cm3: Figure
    melts_c: Figure | None
    glass_c: Figure | None
    process_c: Figure | None
    never_above_c: Figure | None
    decomposes_from_c: Figure | None
    shrinkage_pct: Figure | None
    service_c: Figure
    melt_flow: Figure | None
    """Usual melt flow in g/10 min at the first of the conditions."""
    flow_conditions: tuple[tuple[Decimal, Decimal], ...]
    """Degrees Celsius and kilograms of the load, the usual one first (ISO 1133)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resin:
    """One resin by its symbol, with its grades."""

    symbol: str
    name: Mapping[str, str]
    """In words, by language."""
    family: str
    group: str
    """What an instrument may read when it cannot tell further; flows may be mixed inside one group only."""
    d7611: Code
    eu: Code
    floats_in_water: bool
    float_note: str
    flow_measure: str
    cautions: tuple[str, ...]
    grades: tuple[Grade, ...]

    @property
    def density_g_cm3(self) -> Figure:
        """Usual unfilled density of any grade."""
        return _spanning(g.density_g_cm3 for g in self.grades)

    @property
    def density_wide_g_cm3(self) -> Figure:
        """Density with fillers, plasticiser or flame retardant."""
        return _spanning(g.density_wide_g_cm3 for g in self.grades)

    @property
    def melts_c(self) -> tuple[Figure, ...]:
        """Melting ranges, one a grade; empty for a resin that only softens."""
        return tuple(g.melts_c for g in self.grades if g.melts_c)

    @property
    def process_c(self) -> Figure | None:
        """The melt window that suits every grade, because a mixed sack holds them all."""
        return _shared(g.process_c for g in self.grades)

    @property
    def never_above_c(self) -> Figure | None:
        """The melt temperature which no grade may exceed."""
        return _shared(g.never_above_c for g in self.grades)

    @property
    def service_c(self) -> Figure | None:
        """Temperatures in use that every grade bears."""
        return _shared(g.service_c for g in self.grades)

    @property
    def flow_conditions(self) -> tuple[tuple[Decimal, Decimal], ...]:
        """Test conditions named for it, the usual one first."""
        return self.grades[0].flow_conditions


def _all_sources(figures: Iterable[Figure]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for figure in figures for key in figure.sources))


def _spanning(figures: Iterable[Figure]) -> Figure:
    """The smallest range that holds them all."""
    some = tuple(figures)
    return Figure(low=min(f.low for f in some), high=max(f.high for f in some), sources=_all_sources(some))


def _shared(figures: Iterable[Figure | None]) -> Figure | None:
    """The range common to all of them; None where one is missing."""
    some = tuple(figures)
    known = tuple(f for f in some if f is not None)
    if len(known) != len(some):
        return None
    low, high = max(f.low for f in known), min(f.high for f in known)
    return Figure(low=low, high=high, sources=_all_sources(known))


def _figure(row: Mapping[str, Any] | None) -> Figure | None:
    return None if row is None else _known(row)


def _known(row: Mapping[str, Any]) -> Figure:
    low, high = (row["at"], row["at"]) if "at" in row else (row["low"], row["high"])
    return Figure(low=float(low), high=float(high), sources=tuple(row["from"]), note=row.get("note", ""))


def _code(row: Mapping[str, Any]) -> Code:
    return Code(
        number=row["number"],
        term=row["term"],
        also=tuple(row.get("also", ())),
        sources=tuple(row["from"]),
        note=row.get("note", ""),
    )


def _condition(text: str) -> tuple[Decimal, Decimal]:
    temperature, load = text.split("/")
    return Decimal(temperature), Decimal(load)


def _grade(name: str, row: Mapping[str, Any]) -> Grade:
    flow = row.get("melt_flow")
    return Grade(
        id=name,
        called=row.get("called", {}),
        density_g_cm3=_known(row["density_g_cm3"]),
        density_wide_g_cm3=_known(row["density_wide_g_cm3"]),
        melts_c=_figure(row.get("melts_c")),
        glass_c=_figure(row.get("glass_c")),
        process_c=_figure(row.get("process_c")),
        never_above_c=_figure(row.get("never_above_c")),
        decomposes_from_c=_figure(row.get("decomposes_from_c")),
        shrinkage_pct=_figure(row.get("shrinkage_pct")),
        service_c=_known(row["service_c"]),
        melt_flow=_figure(flow),
        flow_conditions=tuple(_condition(c) for c in flow["conditions"]) if flow else (),
    )


def _resin(symbol: str, row: Mapping[str, Any]) -> Resin:
    return Resin(
        symbol=symbol,
        name=row["name"],
        family=row["family"],
        group=row["group"],
        d7611=_code(row["d7611"]),
        eu=_code(row["eu"]),
        floats_in_water=row["floats_in_water"],
        float_note=row.get("float_note", ""),
        flow_measure=row.get("flow_measure", ""),
        cautions=tuple(row["cautions"]),
        grades=tuple(_grade(name, grade) for name, grade in row["grades"].items()),
    )


@cache
def resins() -> Mapping[str, Resin]:
    """Every resin of the table by its symbol, in the table's order."""
    return {symbol: _resin(symbol, row) for symbol, row in table("resins").items()}


@cache
def filled_density_g_cm3() -> Mapping[str, Figure]:
    """Density of filled grades that pass for another resin, by symbol."""
    return {symbol: _known(row["density_g_cm3"]) for symbol, row in table("filled").items()}


@cache
def groups() -> Mapping[str, frozenset[str]]:
    """Symbols by group: `PE` is PE-HD, PE-LD and PE-LLD."""
    names = dict.fromkeys(r.group for r in resins().values())
    return {name: frozenset(s for s, r in resins().items() if r.group == name) for name in names}


def symbols_for(text: str) -> frozenset[str]:
    """The resins that a symbol or a group means, empty for a word that is neither.

    >>> sorted(symbols_for("PE"))
    ['PE-HD', 'PE-LD', 'PE-LLD']
    >>> sorted(symbols_for("PS"))
    ['PS']
    """
    return frozenset({text}) if text in resins() else groups().get(text, frozenset())


def by_number(number: int) -> frozenset[str]:
    """Resins that carry a number 1 to 6 (ASTM D7611, 97/129/EC); 7 says no resin and gives none."""
    return frozenset(s for s, r in resins().items() if r.d7611.number == number and number != OTHER)


OTHER = 7
"""Another resin or a combination (ASTM D7611): a class, not a name."""


def by_term(term: str) -> frozenset[str]:
    """Resins that letters on a piece may mean: a D7611 term, a 97/129/EC term, an ISO symbol or a group."""
    found = symbols_for(term)
    for symbol, resin in resins().items():
        for code in (resin.d7611, resin.eu):
            # OTHER and O are a class, and the EU terms of class 7 are ISO symbols or groups anyway
            if code.number != OTHER and term in (code.term, *code.also):
                found |= {symbol}
    return found


@cache
def _other_names() -> Mapping[str, str]:
    """What people write where the symbol is wanted."""
    named: dict[str, str] = {}
    for symbol, resin in resins().items():
        for code in (resin.eu, resin.d7611):
            named |= {t: symbol for t in (code.term, *code.also) if code.number != OTHER and t not in named}
        named |= {text.upper(): symbol for text in resin.name.values()}
        named |= {grade.id: symbol for grade in resin.grades}
    return named | {"HIPS": "PS-HI", "EPS": "PS-E", "LLDPE": "PE-LLD", "NYLON": "PA6", "ACETAL": "POM"}


def hint_for(text: str) -> str:
    """A hint that names the symbol meant by a word which is none, or nothing.

    >>> hint_for("HDPE")
    'write the symbol of ISO 1043-1: PE-HD'
    """
    symbol = _other_names().get(text.strip().upper())
    if symbol and symbol != text:
        return f"write the symbol of ISO 1043-1: {symbol}"
    return did_you_mean(text, (*resins(), *groups()))
