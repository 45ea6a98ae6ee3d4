"""The material log as data: CSV tables and one JSON file, the same figures as on the pages.

RFC 4180: UTF-8, comma, header, CRLF; `.` decimals, ISO 8601 dates, units in column names, empty for unknown,
`;` between several values; sorted by id, so that two days differ where the records do. A text that a spreadsheet
would take for a formula gets an apostrophe before it (OWASP, CSV injection).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from fractions import Fraction

from passport.massflow.trace import sources_of
from passport.pages.scribe import FORMAT_VERSION
from passport.reading.records import LotEvent, TagEvent
from passport.verdicts.book import Book

_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
Rows = list[dict[str, str]]

COLUMNS = {
    "lots": (
        ("lot", "its id"),
        ("date", "day it came in or was made"),
        ("resin", "ISO 1043-1 symbol, empty where not established"),
        ("mass_kg", "net mass as weighed"),
        ("stock_kg", "left by the books"),
        ("state", "free, held or refused"),
        ("streams", "streams it came from, largest first"),
        ("recycled_share", "well-mixed share of dry mass, 0 to 1"),
        ("post_consumer_share", "well-mixed share of dry mass, 0 to 1"),
        ("doubts", "codes"),
    ),
    "items": (
        ("batch", "its id"),
        ("product", "product id"),
        ("date", "day made"),
        ("count", "things made"),
        ("plastic_kg", "plastic of the whole batch"),
        ("marks", "material marks"),
        ("single_stream", "verdict"),
        ("recycled_at_least_percent", "of the plastic, by mass"),
        ("post_consumer_at_least_percent", "of the plastic, by mass"),
    ),
    "tags": (
        ("tag", "number"),
        ("batch", "item batch"),
        ("piece", "which of the batch"),
        ("issued", "day of issue"),
        ("stage", "stage of its life"),
        ("became_lot", "lot after it came back"),
    ),
    "events": (("date", "day"), ("about", "tag or lot"), ("event", "what happened")),
}
"""Table → its columns, each with what it holds; CSV and its description are both made from this."""


def tables(book: Book) -> Iterator[tuple[str, str]]:
    """File name and text of every data file."""
    rows = {
        "lots": list(_lots(book)),
        "items": list(_items(book)),
        "tags": list(_tags(book)),
        "events": list(_events(book)),
    }
    for name, columns in COLUMNS.items():
        yield f"{name}.csv", csv_text([column for column, _ in columns], rows[name])
        yield f"{name}.csv-metadata.json", _described(name, columns)
    log = {
        "format": FORMAT_VERSION,
        "workshop": book.shop.workshop.name,
        "records_up_to": book.today.isoformat(),
        **rows,
    }
    yield "log.json", json.dumps(log, ensure_ascii=False, indent=1) + "\n"


def csv_text(columns: list[str], rows: Rows) -> str:
    """Rows as CSV; every text cell safe to open in a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([safe_cell(row[column]) for column in columns])
    return out.getvalue()


def safe_cell(text: str) -> str:
    """A cell that no spreadsheet takes for a formula; numbers stay numbers."""
    bare = text.lstrip("\ufeff\u200b ")
    if bare.startswith(_FORMULA_SIGNS) and not _is_number(text):
        return "'" + text
    return text


def _is_number(text: str) -> bool:
    digits = text.removeprefix("-").replace(".", "", 1)
    return digits.isascii() and digits.isdigit()


def _described(name: str, columns: tuple[tuple[str, str], ...]) -> str:
    """The table's description in the W3C vocabulary for tabular data (17 December 2015)."""
    described = [
        {"name": column, "titles": column, "dc:description": text, "datatype": "string"} for column, text in columns
    ]
    metadata = {
        "@context": "http://www.w3.org/ns/csvw",
        "url": f"{name}.csv",
        "tableSchema": {"columns": described} | ({"primaryKey": columns[0][0]} if name != "events" else {}),
    }
    return json.dumps(metadata, ensure_ascii=False, indent=1) + "\n"


def _kg(mass: Fraction | None) -> str:
    """Kilograms with a fixed number of decimals, to the tenth of a gram."""
    if mass is None:
        return ""
    scaled = round(mass * 10000)
    sign = "-" if scaled < 0 else ""
    return f"{sign}{abs(scaled) // 10000}.{abs(scaled) % 10000:04}"


def _share(value: Fraction) -> str:
    return _kg(value)


def _lots(book: Book) -> Iterator[dict[str, str]]:
    for lot in book.shop.lots.values():
        weighed, stock, mixture = book.ledger.masses[lot.id], book.ledger.stock[lot.id], book.ledger.mixtures[lot.id]
        resin = next(iter(mixture.shares_by("resin")), "unknown")
        yield {
            "lot": lot.id,
            "date": lot.date.isoformat(),
            "resin": resin if book.standing.proven(lot.id) and resin != "unknown" else "",
            "mass_kg": _kg(weighed.value if weighed else None),
            "stock_kg": _kg(stock.books_kg),
            "state": stock.state.value,
            "streams": ";".join(dict.fromkeys(origin.stream for origin in sources_of(book.ledger, lot.id))),
            "recycled_share": _share(mixture.recycled().value),
            "post_consumer_share": _share(mixture.post_consumer().value),
            "doubts": ";".join(sorted({p.code for p in book.ledger.doubts_of(lot.id)})),
        }


def _items(book: Book) -> Iterator[dict[str, str]]:
    for item in book.shop.items.values():
        verdicts, weighed = book.items[item.id], book.ledger.masses[item.id]
        percent = {s.kind: str(s.at_least_percent) for s in verdicts.recycled.value or ()}
        yield {
            "batch": item.id,
            "product": item.product,
            "date": item.date.isoformat(),
            "count": str(item.count.pieces),
            "plastic_kg": _kg(weighed.value if weighed else None),
            "marks": " ".join(verdicts.marks),
            "single_stream": verdicts.stream.value.answer.value if verdicts.stream.value else "",
            "recycled_at_least_percent": percent.get("recycled", ""),
            "post_consumer_at_least_percent": percent.get("post-consumer", ""),
        }


def _tags(book: Book) -> Iterator[dict[str, str]]:
    for life in book.lives.values():
        yield {
            "tag": life.tag,
            "batch": life.item,
            "piece": str(life.piece),
            "issued": life.issued.isoformat(),
            "stage": life.stage.value,
            "became_lot": life.lot,
        }


def _events(book: Book) -> Iterator[dict[str, str]]:
    for event in book.shop.events:
        about = event.tag if isinstance(event, TagEvent) else event.lot if isinstance(event, LotEvent) else ""
        yield {"date": event.date.isoformat(), "about": about, "event": str(getattr(event, "event", ""))}
