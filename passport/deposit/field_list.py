"""The field reference of a deposit: every field of every kind of record as plain text, out of the schemas."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from passport.reading.schemas import KINDS, Schema, schema_of

WIDTH = 100
_WHERE = {
    "workshop": "content/workshop.yaml",
    "stream": "content/streams/NAME.yaml",
    "lot": "content/lots/ID.yaml",
    "run": "content/runs/ID.yaml",
    "product": "content/products/NAME.yaml",
    "item": "content/items/ID.yaml",
    "event": "content/events/NAME.yaml, a list of events",
}
"""Kind of record → where it lies. The file's name without its ending is the record's id."""
_PLAIN_WORDS = {
    "array": "a list",
    "object": "named values",
    "string": "text",
    "number": "text",
}


def field_list() -> str:
    """All kinds of record with their fields. Depends on this program alone, not on any record."""
    parts = ["\n".join(_kind(kind)) for kind in KINDS]
    return "\n\n".join(parts) + "\n"


def _kind(kind: str) -> Iterator[str]:
    schema = schema_of(kind)
    yield from _heading(f"{kind.upper()}: {_WHERE.get(kind, f'content/{kind}s/NAME.yaml')}", "=")
    own = schema["items"] if schema.get("type") == "array" else schema
    if "properties" in own:
        yield from _record(own)
    for name, part in sorted(schema["$defs"].items()):
        yield ""
        yield from _heading(f"{kind}: {name}", "-")
        yield from _record(part)


def _heading(text: str, line: str) -> tuple[str, str]:
    return text, line * len(text)


def _record(schema: Schema) -> Iterator[str]:
    """A record, or one of the pieces that records are made of."""
    if schema.get("description"):
        yield from textwrap.wrap(schema["description"].replace("\n", " "), WIDTH)
    if "enum" in schema:
        yield "one of: " + ", ".join(map(str, schema["enum"]))
    wanted = schema.get("required", ())
    for field, value in schema.get("properties", {}).items():
        must = ", must be there" if field in wanted else ""
        yield f"  {field} ({_shape(value)}{must})"
        said = value.get("description", "")
        yield from textwrap.wrap(said, WIDTH, initial_indent="      ", subsequent_indent="      ")


def _shape(value: Schema) -> str:
    """What may stand there, in a few words: "text such as 62.4 kg", "a list of Draw"."""
    if "$ref" in value:
        return str(value["$ref"]).rpartition("/")[2]
    if "enum" in value or "const" in value:
        return "one of " + ", ".join(map(str, value.get("enum", [value.get("const")])))
    for several in ("oneOf", "anyOf"):
        if several in value:
            return " or ".join(dict.fromkeys(_shape(choice) for choice in value[several]))
    if value.get("type") == "array":
        return f"a list of {_shape(value.get('items', {}))}"
    if value.get("type") == "object":
        return _named(value)
    examples = [str(example) for example in value.get("examples", ())]
    return f"text such as {' | '.join(examples)}" if examples else _plain(value.get("type", "text"))


def _named(value: Schema) -> str:
    if "patternProperties" in value:
        return "a text for each language"
    inner = value.get("additionalProperties")
    return f"names, each with {_shape(inner)}" if isinstance(inner, dict) and inner else "named values"


def _plain(kind: Any) -> str:
    first = kind[0] if isinstance(kind, list) else kind
    return _PLAIN_WORDS.get(str(first), str(first))
