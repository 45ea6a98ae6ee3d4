"""The material log as data: CSV tables and one JSON file, the same figures as on the pages.

RFC 4180: UTF-8, comma, header, CRLF; `.` decimals, ISO 8601 dates, units in column names, empty for unknown,
`;` between several values; sorted by id, so that two days differ where the records do. A text that a spreadsheet
would take for a formula gets an apostrophe before it (OWASP, CSV injection).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256

from passport.massflow.trace import sources_of
from passport.pages import life_tables
from passport.pages.json_text import indented
from passport.pages.scribe import FORMAT_VERSION
from passport.reading.corrections import in_turn
from passport.reading.records import LotEvent, TagEvent
from passport.reading.yaml_text import flow_text
from passport.verdicts.book import Book

_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
Rows = list[dict[str, str]]

LICENCES = {
    "CC-BY-4.0": "https://creativecommons.org/licenses/by/4.0/",
    "CC0-1.0": "https://creativecommons.org/publicdomain/zero/1.0/",
}
"""The workshop's choice → its address. There is no default that nobody chose."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table."""

    name: str
    holds: str
    kind: str = "string"
    """string, date, decimal or integer, as CSVW calls them."""
    required: bool = False
    refers_to: str = ""
    """The table whose key it holds."""
    separator: str = ""
    """What stands between several values."""


COLUMNS: dict[str, tuple[Column, ...]] = {
    "lots": (
        Column("lot", "its id", required=True),
        Column("date", "day it came in or was made", "date", required=True),
        Column("resin", "ISO 1043-1 symbol, empty where not established"),
        Column("mass_kg", "net mass as weighed", "decimal"),
        Column("stock_kg", "left by the books", "decimal"),
        Column("state", "free, held or refused", required=True),
        Column("streams", "streams it came from, largest first", separator=";"),
        Column("recycled_share", "well-mixed share of dry mass, 0 to 1", "decimal"),
        Column("post_consumer_share", "well-mixed share of dry mass, 0 to 1", "decimal"),
        Column("doubts", "codes", separator=";"),
    ),
    "products": (
        Column("product", "its id", required=True),
        Column("title", "what it is called", required=True),
        Column("commodity_code", "heading of the Harmonized System"),
    ),
    "items": (
        Column("batch", "its id", required=True),
        Column("product", "product id", required=True, refers_to="products"),
        Column("date", "day made", "date", required=True),
        Column("count", "things made", "integer", required=True),
        Column("plastic_kg", "plastic of the whole batch", "decimal"),
        Column("marks", "material marks", separator=" "),
        Column("single_stream", "verdict"),
        Column("release", "whether it may be handed on: free, held, above-limit (of a law) or refused", required=True),
        Column("recycled_at_least_percent", "of the plastic, by mass", "integer"),
        Column("post_consumer_at_least_percent", "of the plastic, by mass", "integer"),
    ),
    "tags": (
        Column("tag", "number", required=True),
        Column("batch", "item batch", required=True, refers_to="items"),
        Column("piece", "which of the batch", "integer", required=True),
        Column("issued", "day of issue", "date", required=True),
        Column("stage", "stage of its life", required=True),
        Column("became_lot", "lot after it came back", refers_to="lots"),
    ),
    "events": (
        Column("date", "day", "date", required=True),
        Column("tag", "the tag it is about", refers_to="tags"),
        Column("lot", "the lot it is about", refers_to="lots"),
        Column("event", "what happened", required=True),
    ),
    "corrections": (
        Column("date", "day", "date", required=True),
        Column("record", "lot, run, item, stream, product or event", required=True),
        Column("id", "the record's id; of an event its day, tag or lot, and word", required=True),
        Column("field", "which field was wrong", required=True),
        Column("was", "what the record says; empty where it did not have the field"),
        Column("is", "what holds; empty where the field is gone"),
        Column("because", "why", required=True),
    ),
    "curves": (
        Column("year", "year in which the things went out, or all", required=True),
        Column("curve", "come-back (back), lost, destroyed, elsewhere: share ended so; not-ended", required=True),
        Column("days", "days after going out, from which the share holds", "integer", required=True),
        Column("at_risk", "things still watched on the morning of that day", "integer", required=True),
        Column("ended", "things that ended on that day", "integer", required=True),
        Column("share", "of the things, 0 to 1", "decimal", required=True),
        Column("low", "lower bound, two-sided 95 %", "decimal", required=True),
        Column("high", "upper bound, two-sided 95 %", "decimal", required=True),
    ),
    "in_use": (
        Column("product", "product id", required=True, refers_to="products"),
        Column("year", "year in which the things went out", "integer", required=True),
        Column("age", "half: under half a year, one: under one, two, five, ten, older", required=True),
        Column("things", "not known to have ended", "integer", required=True),
    ),
    "fates": (
        Column("fate", "own stream, down, not_back (parts), elsewhere, lost or destroyed", required=True),
        Column("plastic_kg", "of things whose end is known, as made", "decimal", required=True),
    ),
    "repairs": (
        Column("run", "the repair", required=True),
        Column("tag", "the thing", required=True, refers_to="tags"),
        Column("date", "day", "date", required=True),
        Column("part", "which part was replaced"),
        Column("put_in_kg", "plastic put in", "decimal"),
        Column("taken_out_kg", "plastic taken out", "decimal"),
        Column("kept_kg", "plastic that stayed in use", "decimal"),
        Column("new_one_kg", "plastic of a new thing of the batch", "decimal"),
    ),
    "recalls": (
        Column("recall", "its id", required=True),
        Column("date", "day from which it holds", "date", required=True),
        Column("lot", "the lot called back", refers_to="lots"),
        Column("stream", "the stream called back"),
        Column("reason", "why", required=True),
        Column("because_of", "the paper or test behind it"),
        Column("ended", "day on which it ended", "date"),
        Column("tags", "things that hold it", separator=";"),
    ),
}
"""Table → its columns. The CSV, its two descriptions and the data set of the home page are all made from this."""
KEYED = tuple(name for name in COLUMNS if name not in ("events", "corrections", "curves", "in_use", "repairs"))
"""Tables whose first column is their key."""
NAMES = (*(f"{name}.csv" for name in COLUMNS), "log.json", "datapackage.json", "csv-metadata.json")
"""The files that the home page lists."""


def measured() -> Iterator[str]:
    """The names of all columns that hold numbers, each once."""
    numbers = (c.name for columns in COLUMNS.values() for c in columns if c.kind in ("decimal", "integer"))
    return iter(dict.fromkeys(numbers))


def tables(book: Book) -> Iterator[tuple[str, str]]:
    """File name and text of every data file."""
    rows: dict[str, Rows] = {
        "lots": list(_lots(book)),
        "products": list(_products(book)),
        "items": list(_items(book)),
        "tags": list(_tags(book)),
        "events": list(_events(book)),
        "corrections": list(_corrections(book)),
        "curves": list(life_tables.curve_rows(book)),
        "in_use": list(life_tables.in_use_rows(book)),
        "fates": list(life_tables.fate_rows(book)),
        "repairs": list(life_tables.repair_rows(book)),
        "recalls": list(life_tables.recall_rows(book)),
    }
    texts = {name: csv_text([c.name for c in columns], rows[name]) for name, columns in COLUMNS.items()}
    licence = book.shop.workshop.licence
    for name, text in texts.items():
        yield f"{name}.csv", text
        yield f"{name}.csv-metadata.json", _json({"@context": _CSVW, **_dc(licence), **_described(name)})
    yield "csv-metadata.json", _json(_group(licence))
    yield "datapackage.json", _json(_package(book, texts))
    yield "log.json", _json(_log(book, rows))


def _log(book: Book, rows: dict[str, Rows]) -> dict[str, object]:
    return {
        "format": FORMAT_VERSION,
        "workshop": book.shop.workshop.name,
        "licence": book.shop.workshop.licence,
        "records_up_to": book.today.isoformat(),
        **rows,
    }


def _json(document: Mapping[str, object]) -> str:
    return indented(document) + "\n"


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


# --- the tables described -----------------------------------------------------------------------------

_CSVW = "http://www.w3.org/ns/csvw"


def _dc(licence: str) -> dict[str, object]:
    return {"dc:license": {"@id": LICENCES[licence]}} if licence else {}


def _described(name: str, *, keys: bool = False) -> dict[str, object]:
    """One table in the W3C vocabulary for tabular data (17 December 2015); foreign keys only within a group.

    A cell that may be empty is no foreign key here: readers take an empty one for a broken link. The data package,
    whose readers do not, has those too.
    """
    schema: dict[str, object] = {"columns": [_column(c) for c in COLUMNS[name]]}
    if name in KEYED:
        schema["primaryKey"] = COLUMNS[name][0].name
    foreign = [
        {"columnReference": c.name, "reference": {"resource": f"{c.refers_to}.csv", "columnReference": _key(c)}}
        for c in COLUMNS[name]
        if c.refers_to and c.required
    ]
    if keys and foreign:
        schema["foreignKeys"] = foreign
    return {"url": f"{name}.csv", "dialect": {"lineTerminators": ["\r\n"]}, "tableSchema": schema}


def _key(column: Column) -> str:
    return COLUMNS[column.refers_to][0].name


def _column(column: Column) -> dict[str, object]:
    more: dict[str, object] = {"separator": column.separator} if column.separator else {}
    if column.required:
        more["required"] = True
    datatype = {"base": "date", "format": "yyyy-MM-dd"} if column.kind == "date" else column.kind
    return {
        "name": column.name,
        "titles": column.name,
        "dc:description": column.holds,
        "datatype": datatype,
        **more,
    }


def _group(licence: str) -> dict[str, object]:
    """All tables together, with the keys from one to another."""
    return {"@context": _CSVW, **_dc(licence), "tables": [_described(name, keys=True) for name in COLUMNS]}


_FIELD_TYPES = {"decimal": "number"}


def _package(book: Book, texts: Mapping[str, str]) -> dict[str, object]:
    """The same tables as a Data Package (Table Schema), each with its size and hash."""
    workshop = book.shop.workshop
    package: dict[str, object] = {
        "profile": "tabular-data-package",
        "name": "material-log",
        "title": workshop.name,
        "version": FORMAT_VERSION,
        "resources": [_resource(name, text.encode()) for name, text in texts.items()],
    }
    if workshop.licence:
        package["licenses"] = [{"name": workshop.licence, "path": LICENCES[workshop.licence]}]
    return package


def _resource(name: str, content: bytes) -> dict[str, object]:
    return {
        "profile": "tabular-data-resource",
        "name": name,
        "path": f"{name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{sha256(content).hexdigest()}",
        "schema": _table_schema(name),
    }


def _table_schema(name: str) -> dict[str, object]:
    schema: dict[str, object] = {"fields": [_field(c) for c in COLUMNS[name]], "missingValues": [""]}
    if name in KEYED:
        schema["primaryKey"] = COLUMNS[name][0].name
    foreign = [
        {"fields": c.name, "reference": {"resource": c.refers_to, "fields": _key(c)}}
        for c in COLUMNS[name]
        if c.refers_to
    ]
    return schema | ({"foreignKeys": foreign} if foreign else {})


def _field(column: Column) -> dict[str, object]:
    kind = _FIELD_TYPES.get(column.kind, column.kind)
    field: dict[str, object] = {"name": column.name, "description": column.holds, "type": kind}
    return field | ({"constraints": {"required": True}} if column.required else {})


# --- their rows ---------------------------------------------------------------------------------------


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


def _products(book: Book) -> Iterator[dict[str, str]]:
    first = book.shop.workshop.languages[0]
    for product in book.shop.products.values():
        title, _ = product.title.said(first, first)
        yield {"product": product.id, "title": title, "commodity_code": product.commodity_code}


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
            "release": book.released(item.id).state.words,
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
        yield {
            "date": event.date.isoformat(),
            "tag": event.tag if isinstance(event, TagEvent) else "",
            "lot": event.lot if isinstance(event, LotEvent) else "",
            "event": str(getattr(event, "event", "")),
        }


def _corrections(book: Book) -> Iterator[dict[str, str]]:
    first = book.shop.workshop.languages[0]
    for correction in in_turn(c for made in book.shop.corrections.values() for c in made):
        yield {
            "date": correction.date.isoformat(),
            "record": correction.kind,
            "id": correction.name,
            "field": correction.field,
            "was": "" if correction.was is None else flow_text(correction.was),
            "is": "" if correction.is_ is None else flow_text(correction.is_),
            "because": correction.because.said(first, first)[0],
        }
