"""A correction as a line to append, made from the records as they stand: for every command that sets one right."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from passport.office.saving import correction_lines
from passport.reading.corrections import corrected, event_name, value_at
from passport.reading.corrections import steps as steps_of
from passport.reading.marked import Step, Tree, read_tree
from passport.reading.shop import Shop, event_id
from passport.reading.yaml_text import Value
from passport.writing import AppendLines


def said(shop: Shop, kind: str, name: str, field: str) -> Tree | None:
    """What a record says at a field now, earlier corrections made; None where it has no such field or is not there.

    kind: of `corrections.KINDS`; name: the record's id, for an event its `event_name`.
    """
    file, at = _where(shop, kind, name)
    source = shop.sources.get(file)
    if source is None:
        return None
    tree = value_at(read_tree(source)[0] or "", at)
    known_as = event_id(file, int(at[0])) if at else name
    made = shop.corrections.get((kind, known_as), ())
    return None if tree is None else value_at(corrected(source, tree, made, shop.sources, at)[1], steps_of(field))


def event_names(shop: Shop) -> tuple[str, ...]:
    """The events of a shop as a correction names them, in order of their files."""
    return tuple(event_name(entry) for file in _event_files(shop) for entry in _entries(shop, file))


def correction(
    folder: Path,
    shop: Shop,
    kind: str,
    name: str,
    field: str,
    value: Value,
    *,
    because: Value,
    day: dt.date,
) -> AppendLines:
    """The change that sets a field right: `correction(folder, shop, "lot", "IN-031", "mass", "41.2 kg", ...)`.

    value: what is right, "" where the field is to go. Whether the records hold with it, `saving.save` tries.
    """
    was = said(shop, kind, name, field)
    fields: dict[str, Value] = {"date": day.isoformat(), kind: name, "field": field}
    fields |= {"was": was} if was is not None else {}
    fields |= {"is": value} if value else {}
    return correction_lines([fields | {"because": because}], folder)[0]


def _event_files(shop: Shop) -> list[str]:
    return sorted(file for file in shop.sources if "/events/" in file and shop.is_own(file))


def _entries(shop: Shop, file: str) -> list[Tree]:
    tree = read_tree(shop.sources[file])[0]
    return tree if isinstance(tree, list) else []


def _where(shop: Shop, kind: str, name: str) -> tuple[str, tuple[Step, ...]]:
    """The file of a record, and its path in it."""
    if kind != "event":
        return shop.files.get((kind, name), ""), ()
    for file in _event_files(shop):
        for number, entry in enumerate(_entries(shop, file)):
            if event_name(entry) == name:
                return file, (number,)
    return "", ()
