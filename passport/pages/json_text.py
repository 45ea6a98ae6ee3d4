"""JSON as files of the site hold it: one value a line, indented by one, letters as they are.

The standard library writes indented JSON with generators in Python, which was the dearest part of a thing's data; this
gives the same text, and a test holds it to that.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from json.encoder import encode_basestring as quoted


def indented(value: object, margin: str = "\n") -> str:
    """The text that `json.dumps(value, ensure_ascii=False, indent=1)` gives. Keys of mappings are texts."""
    if isinstance(value, str):
        return quoted(value)
    inner = margin + " "
    if isinstance(value, Mapping):
        parts = [f"{quoted(key)}: {indented(part, inner)}" for key, part in value.items()]
        return "{" + inner + ("," + inner).join(parts) + margin + "}" if parts else "{}"
    if isinstance(value, list | tuple):
        parts = [indented(part, inner) for part in value]
        return "[" + inner + ("," + inner).join(parts) + margin + "]" if parts else "[]"
    return json.dumps(value)
