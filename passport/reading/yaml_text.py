"""A plain tree of text → the YAML that a person would have typed: the way back from `marked.read_tree`.

Fields of the record stand one under the other, what is nested stands in braces on one line, text of several
lines hangs under a bar. Nothing is quoted that the reader takes as it stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

import yaml

Value: TypeAlias = "str | Sequence[Value] | Mapping[str, Value]"
Fields: TypeAlias = Mapping[str, Value]

_WIDTH = 10_000
"""Wider than any line: a folded line would be a second place for one value."""


def record_text(fields: Fields, head: str = "") -> str:
    """The text of a record file; fields with nothing in them ("" or an empty list) are left out.

    head: a comment for the first line, without its sign.
    """
    node = _mapping(fields, flow=False)
    return (f"# {head}\n" if head else "") + _text(node)


def event_line(fields: Fields) -> str:
    """One event as one line of a list, without a line end: `- {date: 2026-06-02, tag: RY-22224M, ...}`."""
    node = yaml.SequenceNode(_SEQ, [_mapping(fields, flow=True)], flow_style=False)
    return _text(node).rstrip("\n")


def block_text(fields: Fields, head: str = "") -> str:
    """Fields within fields, each on a line of its own, and no brackets. head: as for `record_text`."""
    return (f"# {head}\n" if head else "") + _text(_block(fields))


def _block(value: Value) -> yaml.Node:
    if not isinstance(value, Mapping):
        return _node(value, flow=True, literal=False)
    pairs = [(yaml.ScalarNode(_STR, name), _block(inner)) for name, inner in value.items()]
    return yaml.MappingNode(_MAP, pairs, flow_style=False)


def flow_text(value: Value) -> str:
    """A value on one line: text as it stands, lists and fields in their brackets."""
    return value if isinstance(value, str) else _text(_node(value, flow=True, literal=False)).rstrip("\n")


_MAP, _SEQ, _STR = "tag:yaml.org,2002:map", "tag:yaml.org,2002:seq", "tag:yaml.org,2002:str"


def _text(node: yaml.Node) -> str:
    """PyYAML's base dumper has no opinion on what a text means: `0012` and `NO` need no quotes here."""
    text: str = yaml.serialize(node, Dumper=yaml.BaseDumper, width=_WIDTH, allow_unicode=True)
    return text


def _node(value: Value, *, flow: bool, literal: bool) -> yaml.Node:
    if isinstance(value, str):
        if "\n" not in value:
            return yaml.ScalarNode(_STR, value)
        return yaml.ScalarNode(_STR, f"{value.rstrip()}\n" if literal else value, style="|" if literal else '"')
    if isinstance(value, Mapping):
        return _mapping(value, flow=flow)
    return yaml.SequenceNode(_SEQ, [_node(v, flow=True, literal=False) for v in value], flow_style=flow)


def _mapping(fields: Fields, *, flow: bool) -> yaml.MappingNode:
    pairs = [
        (yaml.ScalarNode(_STR, name), _node(value, flow=flow or isinstance(value, Mapping), literal=not flow))
        for name, value in fields.items()
        if value
    ]
    return yaml.MappingNode(_MAP, pairs, flow_style=flow)
