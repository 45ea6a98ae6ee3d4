"""Records → rows of a table, with the fields for headings: `sheets.records_of` makes the same records of it again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from passport.reading.cells import guarded
from passport.reading.decode import field_names
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
