"""The log's part on what became of things after they went out: curves, counts, masses, each with its bounds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from passport.amounts import largest_remainder
from passport.pages.pieces import Curves, Line, Link, Table
from passport.pages.scribe import Scribe
from passport.pages.views import GatePart
from passport.verdicts.cohorts import (
    AGES,
    BACK,
    ENDS,
    HORIZONS,
    OLDER,
    Cohort,
    Fates,
    Reading,
    Thing,
    cohorts_of,
    fates,
    in_use_by,
    made_by_lives,
    readings,
    things_out,
)
from passport.verdicts.life import Stage
from passport.verdicts.survival import Point, cumulative_incidence, exact_interval

KG_PLACES = 1
MOST_YEARS = 12
"""Years of going out that the tables show; the data files have them all."""


def gate_part(scribe: Scribe) -> GatePart | None:
    """The part; None where nothing ever went out."""
    things = things_out(scribe.book)
    if not things:
        return None
    everything, *years = cohorts_of(scribe.book)
    shown = years[-MOST_YEARS:]
    ended = fates(scribe.book, things)
    repairs = _repairs(scribe)
    tables = (
        _by_year(scribe, everything, shown),
        _come_back(scribe, (*shown, everything)),
        _in_use(scribe, things),
        _in_use_by_year(scribe, things, shown),
        _fates(scribe, ended),
        _lives(scribe),
        repairs,
    )
    return GatePart(
        note=scribe.words("tell.gate.note"),
        curves=tuple(_curves(scribe, everything)),
        tables=tuple(table for table in tables if table is not None),
        recovered=_recovered(scribe, ended),
        repairs_note=scribe.words("tell.gate.repairs_note") if repairs else "",
    )


# --- figures in words ---------------------------------------------------------------------------------


def _between(scribe: Scribe, low: float, high: float) -> str:
    """Bounds in whole percent, rounded outwards."""
    words = scribe.words
    least, most = Fraction(floor(low * 100 + 1e-9), 100), Fraction(ceil(high * 100 - 1e-9), 100)
    return words("tell.gate.between", low=words.number(least * 100), high=words.percent(most))


def _cell(scribe: Scribe, text: str | int) -> Link:
    return Link(text=scribe.words.number(text) if isinstance(text, int) else text)


def _end_word(scribe: Scribe, end: str) -> str:
    return scribe.words(f"tell.gate.end.{end or 'open'}")


def _after(scribe: Scribe, days: int) -> str:
    return scribe.words(f"tell.gate.after.d{days}")


# --- curves -------------------------------------------------------------------------------------------


def _curves(scribe: Scribe, everything: Cohort) -> Iterator[Curves]:
    """How all things ended, and how long they lasted; each with its table."""
    until = max(thing.spell.days for thing in everything.things)
    if not until:
        return
    marks = tuple((float(d), _after(scribe, d)) for d in HORIZONS if d <= until)[-4:]
    yield _ends(scribe, everything, float(until), marks)
    yield _lasting(scribe, everything, float(until), marks)


def _ends(scribe: Scribe, cohort: Cohort, until: float, marks: tuple[tuple[float, str], ...]) -> Curves:
    spells = [thing.spell for thing in cohort.things]
    curves = {end: cumulative_incidence(spells, end) for end in ENDS}
    met = [end for end in ENDS if end == BACK or cohort.ended(end)]
    read = readings(cohort, curves[BACK], start=0)
    return Curves(
        title=scribe.words("tell.gate.ends_title"),
        summary=_summary(scribe, "ends", read, cohort),
        lines=tuple(Line(name=_end_word(scribe, end), points=_points(curves[end], 0)) for end in met),
        until=until,
        marks=marks,
        table=_ends_table(scribe, cohort, curves, met),
    )


def _points(points: Sequence[Point], start: int, edge: str = "value") -> tuple[tuple[float, float], ...]:
    return ((0.0, float(start)), *((float(point.day), float(getattr(point, edge))) for point in points))


def _summary(scribe: Scribe, key: str, read: Sequence[Reading], cohort: Cohort) -> str:
    """The curve in a sentence, read off at the longest usual time that still has things watched."""
    words, last = scribe.words, read[-1] if read else None
    if last is None:
        return words("tell.gate.ends_early", n=words.number(len(cohort.things)))
    gaps = {"n": words.number(len(cohort.things))} if key == "ends" else {}
    return words(
        f"tell.gate.{key}_summary",
        share=words.percent(last.value),
        after=_after(scribe, last.days),
        between=_between(scribe, last.low, last.high),
        risk=words.number(last.at_risk),
        **gaps,
    )


def _ends_table(scribe: Scribe, cohort: Cohort, curves: dict[str, tuple[Point, ...]], met: Sequence[str]) -> Table:
    """Shares at the usual times; those of one line add up to 100 % as printed."""
    words = scribe.words
    by_end = {end: readings(cohort, curves[end], start=0) for end in met}
    open_ = readings(cohort, cohort.lasting, start=1)
    rows = []
    for i, left in enumerate(open_):
        shares = [by_end[end][i].value for end in met] + [left.value]
        printed = largest_remainder([share * 100 for share in shares], 0)
        cells = (Link(text=words.percent(Fraction(share) / 100)) for share in printed)
        rows.append((Link(text=_after(scribe, left.days)), *cells, _cell(scribe, left.at_risk)))
    head = (words("tell.gate.col_after"), *(_end_word(scribe, end) for end in (*met, "")), words("tell.gate.col_risk"))
    title = words("tell.gate.ends_title")
    return Table(title=title, head=head, rows=tuple(rows), numeric=tuple(range(1, len(head))))


def _lasting(scribe: Scribe, cohort: Cohort, until: float, marks: tuple[tuple[float, str], ...]) -> Curves:
    words, read = scribe.words, readings(cohort, cohort.lasting, start=1)
    bounds = words("tell.gate.bounds")
    rows = tuple(
        (
            Link(text=_after(scribe, r.days)),
            Link(text=words.percent(r.value)),
            Link(text=_between(scribe, r.low, r.high)),
            _cell(scribe, r.at_risk),
        )
        for r in read
    )
    head = (words("tell.gate.col_after"), _end_word(scribe, ""), *_bound_heads(scribe))
    title = words("tell.gate.lasting_title")
    return Curves(
        title=title,
        summary=_summary(scribe, "lasting", read, cohort),
        lines=(
            Line(name=_end_word(scribe, ""), points=_points(cohort.lasting, 1)),
            Line(name=bounds, points=_points(cohort.lasting, 1, "low"), bound=True),
            Line(name=bounds, points=_points(cohort.lasting, 1, "high"), bound=True),
        ),
        until=until,
        marks=marks,
        table=Table(title=title, head=head, rows=rows, numeric=(1, 2, 3)),
    )


def _bound_heads(scribe: Scribe) -> tuple[str, str]:
    return scribe.words("tell.gate.col_between"), scribe.words("tell.gate.col_risk")


# --- cohorts ------------------------------------------------------------------------------------------


def _year(scribe: Scribe, cohort: Cohort) -> Link:
    return Link(text=str(cohort.year) if cohort.year else scribe.words("tell.together"))


def _by_year(scribe: Scribe, everything: Cohort, years: Sequence[Cohort]) -> Table:
    """How many went out in each year, and what is known of them now; every line adds up."""
    words = scribe.words
    met = [end for end in ENDS if end == BACK or everything.ended(end)]
    rows = tuple(
        (
            _year(scribe, cohort),
            _cell(scribe, len(cohort.things)),
            *(_cell(scribe, cohort.ended(end)) for end in (*met, "")),
        )
        for cohort in (*years, everything)
    )
    head = (words("tell.gate.col_year"), words("tell.gate.col_out"), *(_end_word(scribe, end) for end in (*met, "")))
    title = words("tell.gate.cohorts_title")
    return Table(title=title, head=head, rows=rows, numeric=tuple(range(1, len(head))))


def _come_back(scribe: Scribe, shown: Iterable[Cohort]) -> Table:
    """Come back of each year's things at the usual times, the other ends competing, with bounds and numbers watched."""
    words, rows = scribe.words, []
    for cohort in shown:
        for r in readings(cohort, cohort.back, start=0):
            cells = (words.percent(r.value), _between(scribe, r.low, r.high))
            row = (_year(scribe, cohort), Link(text=_after(scribe, r.days)), *(Link(text=c) for c in cells))
            rows.append((*row, _cell(scribe, r.at_risk)))
    head = (words("tell.gate.col_year"), words("tell.gate.col_after"), _end_word(scribe, BACK), *_bound_heads(scribe))
    return Table(title=words("tell.gate.back_title"), head=head, rows=tuple(rows), numeric=(2, 3, 4))


# --- in use -------------------------------------------------------------------------------------------


def _in_use(scribe: Scribe, things: Iterable[Thing]) -> Table | None:
    """Things not known to have ended, by product and age, with sums both ways."""
    by_product = in_use_by(things)
    names = [name for _, name in AGES] + [OLDER]
    met = [name for name in names if any(name in ages for ages in by_product.values())]
    heads = [scribe.words(f"tell.gate.age.{name}") for name in met]
    counts = {product: [ages.get(name, 0) for name in met] for product, ages in by_product.items()}
    return _counted(scribe, "in_use_title", heads, counts)


def _in_use_by_year(scribe: Scribe, things: Iterable[Thing], years: Sequence[Cohort]) -> Table | None:
    shown = [cohort.year for cohort in years]
    counts: dict[str, list[int]] = {}
    for thing in things:
        if not thing.end and thing.life.stage is not Stage.WITHDRAWN and thing.out.year in shown:
            counts.setdefault(thing.product, [0] * len(shown))[shown.index(thing.out.year)] += 1
    return _counted(scribe, "years_title", [str(year) for year in shown], dict(sorted(counts.items())))


def _counted(scribe: Scribe, title: str, heads: Sequence[str], counts: dict[str, list[int]]) -> Table | None:
    words = scribe.words
    if not counts:
        return None
    lines = [(scribe.product(product), row) for product, row in counts.items()]
    sums = [sum(row[i] for row in counts.values()) for i in range(len(heads))]
    lines.append((Link(text=words("tell.together")), sums))
    rows = tuple((name, *(_cell(scribe, n) for n in row), _cell(scribe, sum(row))) for name, row in lines)
    head = (words("tell.col_product"), *heads, words("tell.together"))
    return Table(title=words(f"tell.gate.{title}"), head=head, rows=rows, numeric=tuple(range(1, len(head))))


# --- masses -------------------------------------------------------------------------------------------


def _fates(scribe: Scribe, ended: Fates) -> Table | None:
    """Where the plastic of ended things went, in kg as made; the lines add up to the sum as printed."""
    words = scribe.words
    if not ended.ended_kg:
        return None
    keys = [key for key in ("own", "down", "not_back", "elsewhere", "lost") if getattr(ended, f"{key}_kg")]
    printed = largest_remainder([getattr(ended, f"{key}_kg") for key in keys], KG_PLACES)
    lines = [(words(f"tell.gate.fate.{key}"), mass) for key, mass in zip(keys, printed, strict=True)]
    lines.append((words("tell.together"), sum(printed, Decimal(0))))
    rows = tuple((Link(text=name), Link(text=words.number(Fraction(mass), KG_PLACES))) for name, mass in lines)
    head = (words("tell.gate.col_fate"), words("tell.col_kg"))
    return Table(title=words("tell.gate.fates_title"), head=head, rows=rows, numeric=(1,))


def _recovered(scribe: Scribe, ended: Fates) -> str:
    """The recovered share with the exact bounds that so few things allow."""
    words = scribe.words
    if not ended.ended or not ended.ended_kg:
        return words("tell.gate.recovered_none")
    low, high = exact_interval(ended.own, ended.ended)
    return words(
        "tell.gate.recovered",
        share=words.percent(ended.own_kg / ended.ended_kg),
        own=words.number(ended.own),
        ended=words.number(ended.ended),
        between=_between(scribe, low, high),
    )


def _lives(scribe: Scribe) -> Table | None:
    """Plastic made into things by the lives it had had before; adds up to all that was made."""
    words, by_lives = scribe.words, made_by_lives(scribe.book)
    if not by_lives:
        return None
    printed = largest_remainder(list(by_lives.values()), KG_PLACES)
    names = [words.some("tell.gate.lives", n) if n else words("tell.gate.lives_none") for n in by_lives]
    lines = [*zip(names, printed, strict=True), (words("tell.together"), sum(printed, Decimal(0)))]
    rows = tuple((Link(text=name), Link(text=words.number(Fraction(mass), KG_PLACES))) for name, mass in lines)
    head = (words("tell.gate.col_lives"), words("tell.col_kg"))
    return Table(title=words("tell.gate.lives_title"), head=head, rows=rows, numeric=(1,))


def _repairs(scribe: Scribe) -> Table | None:
    """Each repair with what it put in and what stayed in use."""
    words = scribe.words
    mendings = sorted(
        (m for ms in scribe.book.mendings.values() for m in ms), key=lambda m: (m.day, m.run), reverse=True
    )
    rows = tuple(
        (
            scribe.tag(m.tag),
            Link(text=scribe.day(m.day)),
            *(Link(text=scribe.kg(kg) if kg is not None else "–") for kg in (m.put_in_kg, m.kept_kg, m.new_kg)),
        )
        for m in mendings
    )
    head = ("col_tag", "col_day", "gate.col_put_in", "gate.col_kept", "gate.col_new")
    names = tuple(words(f"tell.{key}") for key in head)
    return Table(title=words("tell.gate.repairs_title"), head=names, rows=rows, numeric=(2, 3, 4)) if rows else None
