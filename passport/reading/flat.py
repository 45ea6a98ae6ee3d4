"""Records → rows of a table, with the fields for headings: `sheets.records_of` makes the same records of it again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import PurePosixPath
from typing import Any

from passport.reading.cells import guarded
from passport.reading.corrections import corrected
from passport.reading.decode import field_names
from passport.reading.marked import read_tree
from passport.reading.sheets import KINDS
from passport.reading.shop import Shop, event_id
from passport.reading.yaml_text import flow_text

ID = "id"


def flat_row(record: Any, fields: Mapping[str, Any], name: str = "") -> dict[str, str]:
    """One record as cells by heading. record: its class; fields: as its file gives them; name: its id, if it has one.

    What a record has in brackets stands in one cell, in the brackets; a record within it has a column for each field.
    """
    known = set(field_names(record))
    row = {ID: name} if name else {}
    for field, value in fields.items():
        inner = {f"{field}.{below}": part for below, part in value.items()} if isinstance(value, Mapping) else {}
        row |= {
            heading: guarded(part) if isinstance(part, str) else flow_text(part)
            for heading, part in (inner if inner.keys() & known else {field: value}).items()
        }
    return row


def headings_of(record: Any, rows: Iterable[Mapping[str, str]]) -> tuple[str, ...]:
    """The columns that any of the rows has, in the order of the record's fields."""
    there = {heading for row in rows for heading in row}
    return tuple(heading for heading in (ID, *field_names(record)) if heading in there)


def tables_of(shop: Shop) -> Mapping[str, list[dict[str, str]]]:
    """Every record of the workshop itself as a row, by kind of table; corrections made.

    What was taken over from other workshops is left out: it lies in files that are never rewritten.
    """
    tables: dict[str, list[dict[str, str]]] = {kind: [] for kind in KINDS}
    word_of = {word: (kind, record) for kind, (word, record) in KINDS.items()}
    for (word, name), file in sorted(shop.files.items(), key=lambda entry: entry[1]):
        if word in word_of and shop.is_own(file):
            kind, record = word_of[word]
            fields = _as_corrected(shop, file, (word, name))
            tables[kind].append(flat_row(record, fields, PurePosixPath(file).stem))
    for file in sorted(file for file in shop.sources if "/events/" in file and shop.is_own(file)):
        tree = read_tree(shop.sources[file])[0]
        for number, entry in enumerate(tree if isinstance(tree, list) else []):
            made = shop.corrections.get(("event", event_id(file, number)), ())
            event = corrected(shop.sources[file], entry, made, shop.sources, (number,))[1]
            tables["events"].append(flat_row(KINDS["events"][1], event if isinstance(event, dict) else {}))
    return tables


def _as_corrected(shop: Shop, file: str, named: tuple[str, str]) -> Mapping[str, Any]:
    source = shop.sources[file]
    tree = corrected(source, read_tree(source)[0] or "", shop.corrections.get(named, ()), shop.sources)[1]
    return tree if isinstance(tree, dict) else {}
