"""The material log: the community's page. What came in, where it is, what became of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

from passport.massflow.balances import (
    Month,
    by_month,
    shop_balances_by,
)
from passport.massflow.tables import SHOP_SIGNS, BalanceTable, outside_table, shop_table
from passport.pages import corrected
from passport.pages.calling_back import notice, recalls_table
from passport.pages.gate import gate_part
from passport.pages.lot import node_link
from passport.pages.pieces import Balance, Bars, DoubtLine, EventLine, Figure, Link, Row, Series, Table
from passport.pages.remainders import stock_table
from passport.pages.scribe import Scribe
from passport.pages.tag import event_line
from passport.pages.views import LogView
from passport.reading.records import TagEvent
from passport.verdicts.life import Stage

LATEST = 8
MOST_DOUBTS = 12
MOST_MONTHS = 24
KG_PLACES = 1


def log_view(scribe: Scribe) -> LogView:
    """The home page."""
    book, words = scribe.book, scribe.words
    example = next(iter(book.lives), "")
    return LogView(
        frame=scribe.frame("/", words("tell.log_about", name=scribe.name), words("tell.log_about", name=scribe.name)),
        notices=tuple(notice(scribe, called, "") for called in book.recalls.values() if called.open),
        recalls=recalls_table(scribe),
        gate=gate_part(scribe),
        about=scribe.prose(book.shop.workshop.about),
        headline=tuple(_headline(scribe)),
        balances=(_shop(scribe), _outside(scribe)),
        by_class=tuple(_by_class(scribe)),
        months=_months(scribe),
        resins=_resins(scribe),
        stock=stock_table(scribe),
        streams=_with_list(scribe, streams_table(scribe), "streams", "/S/"),
        products=_with_list(scribe, products_table(scribe), "products", "/P/"),
        latest=tuple(_latest(scribe)),
        corrected=corrected.latest(scribe),
        doubts=tuple(_open_doubts(scribe))[:MOST_DOUBTS],
        doors=tuple(_doors(scribe)),
        bring_back=scribe.bring_back(),
        example=example,
    )


def _open_doubts(scribe: Scribe) -> Iterator[DoubtLine]:
    """Doubts about what is still there or was made, each with the record it began at."""
    stock, shop = scribe.book.ledger.stock, scribe.book.shop
    for problem in scribe.book.problems:
        lot = stock.get(problem.about)
        used_up = lot is not None and (lot.emptied is not None or not lot.books_kg)
        if not used_up:
            href = scribe.lot(problem.about).href if problem.about in shop.lots else scribe.at("/method/#doubts")
            for line in scribe.doubts((problem,)):
                yield dataclasses.replace(line, text=f"{problem.about}: {line.text}", href=href)


def _doors(scribe: Scribe) -> Iterator[Link]:
    for key, path in (("tags", "/T/"), ("lots", "/L/"), ("resins", "/R/")):
        yield Link(text=scribe.words(f"tell.all_{key}"), href=scribe.at(path))
    yield Link(text=scribe.words("common.found"), href=scribe.at("/found/"))
    yield Link(text=scribe.words("common.method"), href=scribe.at("/method/"))
    yield Link(text=scribe.words("recalls.title"), href=scribe.at("/recalls/"))


def _with_list(scribe: Scribe, rows: Table | None, kind: str, path: str) -> Table | None:
    """A table with the way to the page that has it alone."""
    if rows is None:
        return None
    return dataclasses.replace(rows, more=Link(text=scribe.words(f"tell.all_{kind}"), href=scribe.at(path)))


def _headline(scribe: Scribe) -> Iterator[Figure]:
    """A few large figures, each the one that stands in a balance below, rounded the same way."""
    ledger, help_ = scribe.book.ledger, scribe.at("/method/#balances")
    shop_rows = shop_table(ledger, "", KG_PLACES)
    shop = dict(zip(shop_rows.terms, shop_rows.total, strict=True))
    _, _, in_use, back, _ = outside_table(ledger, "", KG_PLACES).total
    rows = (
        ("received", shop["received_kg"]),
        ("stock", shop["stock_kg"]),
        ("items", shop["things_out_kg"]),
        ("in_use", in_use),
        ("back", back),
    )
    for key, mass in rows:
        yield Figure(text=_kg(scribe, Fraction(abs(mass))), kind=scribe.words(f"tell.figure_{key}"), href=help_)


# --- the two balances ---------------------------------------------------------------------------------

Term = tuple[str, Decimal]
WORD_OF = {"came_back_kg": "come_back", "adjusted_kg": "adjustments"}
"""Terms of the balances that pages word otherwise than the core calls them."""


def _heading(table: str, term: str) -> str:
    """Outside the gate, what came back counts as it was made; in the shop, as it was weighed."""
    return "come_back_as_made" if table.startswith("outside") and term == "came_back_kg" else _word(term)


def _word(term: str) -> str:
    return WORD_OF.get(term, term.removesuffix("_kg"))


def _shop(scribe: Scribe) -> Balance:
    """Every term on the side where it counts up; the figures are those of the tables by class."""
    table = shop_table(scribe.book.ledger, "", KG_PLACES)
    signed = [(_word(t), s * m) for t, s, m in zip(table.terms, SHOP_SIGNS.values(), table.total, strict=True)]
    left = [(key, mass) for key, mass in signed if mass > 0]
    right = [(key, -mass) for key, mass in signed if mass < 0]
    return _account(scribe, "shop", left, right, note=scribe.words("tell.shop_note"))


def _outside(scribe: Scribe) -> Balance:
    out, waiting, in_use, back, gone = outside_table(scribe.book.ledger, "", KG_PLACES).total
    right: list[Term] = [("not_known_to_have_ended", waiting + in_use), ("come_back_as_made", back), ("gone", gone)]
    return _account(scribe, "outside", [("out", out)], [(key, mass) for key, mass in right if mass])


def _account(scribe: Scribe, name: str, left: list[Term], right: list[Term], note: str = "") -> Balance:
    """Both sides with the same printed total."""
    words = scribe.words
    return Balance(
        title=words(f"tell.{name}_balance"),
        summary=words(f"tell.{name}_summary", **_day_gap(scribe, name)),
        left_name=words("tell.side_in"),
        left=tuple(_terms(scribe, left)),
        right_name=words("tell.side_out"),
        right=tuple(_terms(scribe, right)),
        total=_kg(scribe, sum((Fraction(mass) for _, mass in left), Fraction(0))),
        note=note,
    )


def _day_gap(scribe: Scribe, name: str) -> dict[str, str]:
    return {"day": scribe.day(scribe.book.today)} if name == "shop" else {}


BEHIND = {
    "received": "/S/",
    "come_back": "/T/",
    "come_back_as_made": "/T/",
    "things_out": "/P/",
    "out": "/P/",
    "not_known_to_have_ended": "/T/",
    "gone": "/T/",
    "stock": "/L/",
    "sent": "/L/",
    "losses": "/L/",
    "written_off": "/L/",
}
"""What stands behind a term of a balance: the list it can be added up from; for the others, how it is worked out."""


def _terms(scribe: Scribe, terms: list[Term]) -> Iterator[Row]:
    for key, mass in terms:
        href = scribe.at(BEHIND.get(key, "/method/#balances"))
        yield Row(label=scribe.words(f"tell.term.{key}"), value=_kg(scribe, Fraction(mass)), href=href)


def _by_class(scribe: Scribe) -> Iterator[Table]:
    """Both balances by resin and by stream; rows and columns add up as printed."""
    for dimension in ("resin", "stream"):
        for place, table_of in (("shop", shop_table), ("outside", outside_table)):
            table = table_of(scribe.book.ledger, dimension, KG_PLACES)
            if table.rows:
                yield _class_table(scribe, f"{place}_by_{dimension}", dimension, table)


def _class_table(scribe: Scribe, key: str, dimension: str, table: BalanceTable) -> Table:
    words, used = scribe.words, table.used()
    name_of = scribe.resin if dimension == "resin" else scribe.stream
    lines = [(name_of(name), row) for name, row in table.rows.items() if any(row)]
    lines.append((Link(text=words("tell.together")), table.total))
    rows = tuple((name, *(Link(text=words.number(Fraction(row[i]), KG_PLACES)) for i in used)) for name, row in lines)
    head = (words(f"tell.{dimension}"), *(words(f"tell.term.{_heading(key, table.terms[i])}") for i in used))
    return Table(title=words(f"tell.{key}"), head=head, rows=rows, numeric=tuple(range(1, len(head))))


def _kg(scribe: Scribe, mass_kg: Fraction) -> str:
    half_up = Fraction(int(mass_kg * 10**KG_PLACES + Fraction(1, 2)), 10**KG_PLACES)
    return f"{scribe.words.number(half_up, KG_PLACES)}\u00a0kg"


# --- charts -------------------------------------------------------------------------------------------


def _months(scribe: Scribe) -> Bars | None:
    """Received and made by month, the last two years of them."""
    months = _without_gaps(by_month(scribe.book.ledger))[-MOST_MONTHS:]
    if not months:
        return None
    words = scribe.words
    days = [date.fromisoformat(f"{month.month}-01") for month in months]
    series = (
        _series(scribe, "series_received", [m.received_kg + m.came_back_kg for m in months]),
        _series(scribe, "series_made", [m.made_kg for m in months]),
    )
    return Bars(
        title=words("tell.months_title"),
        summary=words("tell.months_summary"),
        unit=words("tell.kilograms"),
        place_name=words("tell.month"),
        places=tuple(Link(text=words.month(day)) for day in days),
        series=series,
        below=1,
        marks=tuple(_mark(scribe, day) for day in days),
    )


QUARTER, JANUARY = 3, 1


def _mark(scribe: Scribe, day: date) -> str:
    """Under a bar: the year at each January, a short name at the other quarters, else nothing."""
    if day.month == JANUARY:
        return str(day.year)
    return scribe.words(f"form.short.{day.month}") if day.month % QUARTER == JANUARY else ""


def _without_gaps(months: Sequence[Month]) -> list[Month]:
    """Every month from the first to the last: one in which nothing moved is shown as such."""
    by_name = {month.month: month for month in months}
    names = sorted(by_name)
    filled, name = [], names[0] if names else ""
    while names and name <= names[-1]:
        filled.append(by_name.get(name, Month(month=name)))
        year, month = int(name[:4]), int(name[5:])
        name = f"{year + month // 12:04}-{month % 12 + 1:02}"
    return filled


def _resins(scribe: Scribe) -> Bars | None:
    by_resin = {k: b for k, b in shop_balances_by(scribe.book.ledger, "resin").items() if b.stock_kg or b.things_out_kg}
    if not by_resin:
        return None
    names = sorted(by_resin, key=lambda name: (-(by_resin[name].stock_kg + by_resin[name].things_out_kg), name))
    words = scribe.words
    return Bars(
        title=words("tell.resins_title"),
        summary=words("tell.resins_summary"),
        unit=words("tell.kilograms"),
        place_name=words("tell.resin"),
        places=tuple(scribe.resin(name) for name in names),
        series=(
            _series(scribe, "series_stock", [by_resin[name].stock_kg for name in names]),
            _series(scribe, "series_made", [by_resin[name].things_out_kg for name in names]),
        ),
        totals=tuple(words.mass(1000 * (by_resin[name].stock_kg + by_resin[name].things_out_kg)) for name in names),
    )


def _series(scribe: Scribe, key: str, masses_kg: list[Fraction]) -> Series:
    texts = tuple(scribe.words.number(mass, KG_PLACES) for mass in masses_kg)
    return Series(name=scribe.words(f"tell.{key}"), values=tuple(max(float(m), 0.0) for m in masses_kg), texts=texts)


# --- tables -------------------------------------------------------------------------------------------


def streams_table(scribe: Scribe) -> Table | None:
    """Each stream with what was received of it."""
    words, shop = scribe.words, scribe.book.shop
    if not shop.streams:
        return None
    rows = [
        (scribe.stream(name), Link(text=origin_words(scribe, name)), Link(text=received_of(scribe, name)))
        for name in shop.streams
    ]
    head = (words("tell.col_stream"), words("stream.origin"), words("tell.col_received"))
    return Table(title=words("tell.streams_title"), head=head, rows=tuple(rows), numeric=(2,))


def origin_words(scribe: Scribe, stream: str) -> str:
    """The origin classes of a stream in words, with shares where there are several."""
    origin = scribe.book.shop.streams[stream].origin
    if len(origin) == 1:
        return scribe.words(f"tell.origin.{next(iter(origin)).value}")
    parts = (
        f"{scribe.words.percent(share)} {scribe.words(f'tell.origin.{key.value}')}" for key, share in origin.items()
    )
    return scribe.words.listed(parts)


def received_of(scribe: Scribe, stream: str) -> str:
    """The mass received from a stream so far."""
    ledger = scribe.book.ledger
    lots = [lot.id for lot in ledger.shop.lots.values() if lot.received and lot.received.stream == stream]
    weighed = [mass.value for mass in (ledger.masses.get(lot) for lot in lots) if mass is not None]
    missing = len(lots) - len(weighed)
    if not missing:
        return scribe.kg(sum(weighed, Fraction(0)))
    rest = scribe.words.some("tell.lots_not_weighed", missing)
    return f"{scribe.kg(sum(weighed, Fraction(0)))} + {rest}" if weighed else rest


def products_table(scribe: Scribe) -> Table | None:
    """Each product with how many were made, are in use and came back."""
    words, book = scribe.words, scribe.book
    if not book.shop.products:
        return None
    rows = []
    for name in book.shop.products:
        items = [item for item in book.shop.items.values() if item.product == name]
        lives = [life for life in book.lives.values() if book.shop.items[life.item].product == name]
        in_use = sum(life.stage is Stage.IN_USE for life in lives)
        back = sum(life.stage is Stage.CAME_BACK for life in lives)
        counts = (sum(item.count.pieces for item in items), in_use, back)
        rows.append((scribe.product(name), *(Link(text=words.number(n)) for n in counts)))
    head = tuple(words(f"tell.col_{key}") for key in ("product", "count", "in_use", "back"))
    return Table(title=words("tell.products_title"), head=head, rows=tuple(rows), numeric=(1, 2, 3))


# --- latest -------------------------------------------------------------------------------------------


def _latest(scribe: Scribe) -> Iterator[EventLine]:
    """The newest lots, batches and events, the newest first."""
    book, words = scribe.book, scribe.words
    happened: list[tuple[date, str, EventLine]] = []
    for lot in book.shop.lots.values():
        if lot.received and lot.received.stream:
            text = f"{lot.id}: " + words("tell.event.received", stream=scribe.stream(lot.received.stream).text)
            happened.append((lot.date, lot.id, _line(scribe, lot.date, text, scribe.lot(lot.id).href)))
    for item in book.shop.items.values():
        link = node_link(scribe, item.id)
        text = f"{words.number(item.count.pieces)} × {link.text}"
        happened.append((item.date, item.id, _line(scribe, item.date, text, link.href)))
    for event in book.shop.events:
        if isinstance(event, TagEvent):
            line = event_line(scribe, event)
            text = f"{event.tag}: {line.text}"
            happened.append((event.date, event.tag, _line(scribe, event.date, text, scribe.tag(event.tag).href)))
    newest = sorted(happened, key=lambda entry: (entry[0], entry[1]), reverse=True)
    return (line for _, _, line in newest[:LATEST])


def _line(scribe: Scribe, day: date, text: str, href: str) -> EventLine:
    return EventLine(date=day.isoformat(), day=scribe.day(day), text=text, href=href)
