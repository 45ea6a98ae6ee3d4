"""JSON Schema of each kind of record, so that editors complete and check while a person types.

Records are YAML and every value is text (the record decides what it means), so each quantity is a string
with a pattern here. A few rules between fields (gross needs tare, a draw has one source) are left to the
reader, which words them better.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any, TypeAlias

from passport.reading.corrections import Correction
from passport.reading.decode import adapter, lineage_of, meaning, members
from passport.reading.records import AnyEvent, Item, Lot, Product, Recall, Run, Stream, Workshop

Schema: TypeAlias = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"

KINDS: Mapping[str, Any] = {
    "workshop": Workshop,
    "stream": Stream,
    "lot": Lot,
    "run": Run,
    "product": Product,
    "item": Item,
    "event": AnyEvent,
    "recall": Recall,
    "correction": Correction,
}
"""The word for a kind of record → its class."""
LISTS = ("event", "correction")
"""Kinds whose files are lists: the schema is that of the list."""


def schema_of(kind: str) -> Schema:
    """The JSON Schema (draft 2020-12) of one file of a kind: "lot", "event" (a list of them) and so on.

    Raises KeyError for a word that is no kind of record.
    """
    schema = copy.deepcopy(adapter(KINDS[kind]).json_schema(mode="validation"))
    definitions: Schema = schema.pop("$defs", {})
    for cls in members(KINDS[kind]):
        _tidied(definitions.get(cls.__name__, schema), cls)
    for part in (schema, definitions):
        _open_to_numbers(part)
    body = {"type": "array", "items": schema} if kind in LISTS else schema
    return {"$schema": DIALECT, "title": f"{kind} record", **_without_title(body), "$defs": definitions}


def _tidied(schema: Schema, cls: Any) -> None:
    """Drop what the place of a file fills in and what only programs read; keep every description."""
    filled_in = lineage_of(cls)
    properties: Schema = schema["properties"]
    for name in filled_in:
        properties.pop(name, None)
    schema["required"] = [name for name in schema.get("required", ()) if name not in filled_in]
    schema["additionalProperties"] = False
    aliases = {field.alias: name for name, field in cls.__pydantic_fields__.items() if field.alias}
    for name, written in list(properties.items()):
        value = properties[name] = _never_empty(written)
        if name == "origin":
            properties[name] = value = {"anyOf": [{"$ref": "#/$defs/Origin"}, value]}
        words = meaning(cls, aliases.get(name, name))
        if words:
            value.setdefault("description", words)


def _never_empty(value: Schema) -> Schema:
    """A field's schema without its default, and without the empty value, which the reader refuses."""
    kept = {name: part for name, part in value.items() if name not in ("title", "default", "anyOf")}
    choices = [choice for choice in value.get("anyOf", ()) if choice.get("type") != "null"]
    if len(choices) == 1:
        return {**choices[0], **kept}
    return {**kept, "anyOf": choices} if choices else kept


def _open_to_numbers(node: object) -> None:
    """Editors take `count: 2` for a number before they look here: where digits will do, both may stand."""
    for inner in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        _open_to_numbers(inner)
    if isinstance(node, dict) and node.get("type") == "string":
        pattern = node.get("pattern")
        if any(re.search(pattern, digits) for digits in _DIGITS) if pattern else "minLength" in node:
            node["type"] = ["string", "number"]


_DIGITS = ("24", "2.5", "3926")


def _without_title(schema: Schema) -> Schema:
    return {name: value for name, value in schema.items() if name != "title"}
