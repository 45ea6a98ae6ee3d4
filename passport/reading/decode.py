"""A plain tree of text → one frozen record, or every problem of it with its place.

pydantic finds all faults at once; its wording is for programmers, so each kind of fault is put into our
own words here.
"""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import quoted
from passport.reading.marked import Source, Step
from passport.reading.records import LINEAGE

R = TypeVar("R")


@cache
def adapter(kind: Any) -> TypeAdapter[Any]:
    """The validator of a kind of record, built once."""
    return TypeAdapter(kind)


def record_from(
    kind: Callable[..., R] | Any,
    tree: object,
    source: Source,
    *,
    at: tuple[Step, ...] = (),
    lineage: Mapping[str, object] | None = None,
) -> tuple[R | None, tuple[Problem, ...]]:
    """The record of class `kind` in `tree`, or all its problems.

    at: the path of `tree` within the file, for lists of records; lineage: fields that come from where the
    record lies (`id`, or `file` and `number`).
    """
    if not isinstance(tree, dict):
        message = f"met {quoted(tree)}, wanted fields such as `date: 2026-04-11`"
        return None, (Problem(code="not-a-record", message=message, place=source.place(*at)),)
    claimed = tuple(_claimed_lineage(tree, source, at))
    if claimed:
        return None, claimed
    try:
        return adapter(kind).validate_python({**tree, **(lineage or {})}), ()
    except ValidationError as slip:
        faults = slip.errors(include_url=False, include_input=True)
        return None, tuple(_in_our_words(fault, kind, source, at) for fault in faults)


def _claimed_lineage(tree: dict[str, object], source: Source, at: tuple[Step, ...]) -> Iterator[Problem]:
    for name in sorted(LINEAGE & tree.keys()):
        hint = "the name of the file is the id"
        place = source.place(*at, name, key=True)
        yield Problem(code="unknown-field", message=f'met the field "{name}", wanted none', place=place, hint=hint)


def _in_our_words(fault: ErrorDetails, kind: Any, source: Source, at: tuple[Step, ...]) -> Problem:
    path = (*at, *fault["loc"])
    wording = _WORDINGS.get(fault["type"], _by_its_parts)
    code, message, hint, on_key = wording(fault, kind)
    place: Place = source.place(*path, key=on_key)
    return Problem(code=code, message=message, place=place, hint=hint)


Wording = tuple[str, str, str, bool]
"""Code, message, hint, and whether the place is the field's name rather than its value."""


def _by_its_parts(fault: ErrorDetails, _kind: Any) -> Wording:
    context = fault.get("ctx", {})
    if "wanted" in context:
        message = f"met {context['met']}, wanted {context['wanted']}"
        return fault["type"], message, str(context["hint"]), False
    return "value", f"met {quoted(fault['input'])}: {fault['msg'].lower()}", "", False


def _unknown_field(fault: ErrorDetails, kind: Any) -> Wording:
    *parents, name = fault["loc"]
    known = _fields_at(kind, parents)
    hint = did_you_mean(str(name), known) or "the fields here are " + ", ".join(known)
    return "unknown-field", f'met the field "{name}", which no record has here', hint, True


def _missing_field(fault: ErrorDetails, _kind: Any) -> Wording:
    return "missing-field", f'met no "{fault["loc"][-1]}", wanted the field', "", False


def _one_of(fault: ErrorDetails, _kind: Any) -> Wording:
    expected = str(fault.get("ctx", {}).get("expected", ""))
    words = [part.strip("' ") for part in expected.replace(" or ", ", ").split(",")]
    met = str(fault["input"])
    return (
        "unknown-word",
        f"met {quoted(fault['input'])}, wanted one of {', '.join(words)}",
        did_you_mean(met, words),
        False,
    )


def _unknown_kind(fault: ErrorDetails, _kind: Any) -> Wording:
    context = fault.get("ctx", {})
    field = str(context.get("discriminator", "")).strip("'")
    expected = [word.strip("' ") for word in str(context.get("expected_tags", "")).split(",")]
    met = str(context.get("tag", ""))
    message = f'met "{met}" as `{field}:`, wanted one of {", ".join(expected)}'
    return f"unknown-{field}", message, did_you_mean(met, expected), False


def _no_kind(fault: ErrorDetails, _kind: Any) -> Wording:
    field = str(fault.get("ctx", {}).get("discriminator", "")).strip("'")
    return "missing-field", f'met no "{field}", wanted the field', "", False


def _a_list(fault: ErrorDetails, _kind: Any) -> Wording:
    return "not-a-list", f"met {quoted(fault['input'])}, wanted a list", "begin each entry with `- `", False


def _with_fields(fault: ErrorDetails, _kind: Any) -> Wording:
    return "not-fields", f"met {quoted(fault['input'])}, wanted fields such as {{lot: IN-031}}", "", False


_WORDINGS: dict[str, Callable[[ErrorDetails, Any], Wording]] = {
    "unexpected_keyword_argument": _unknown_field,
    "missing": _missing_field,
    "enum": _one_of,
    "literal_error": _one_of,
    "union_tag_invalid": _unknown_kind,
    "union_tag_not_found": _no_kind,
    "tuple_type": _a_list,
    "list_type": _a_list,
    "dataclass_type": _with_fields,
    "dict_type": _with_fields,
    "mapping_type": _with_fields,
    "model_attributes_type": _with_fields,
}


def _fields_at(kind: Any, path: list[Step]) -> list[str]:
    """The names of the fields that the record has at `path`, for hints."""
    here = _classes_in(kind)
    for step in path:
        here = [inner for cls in here for inner in _step_into(cls, step)]
    return sorted({name for cls in here for name in _public_fields(cls)})


def _step_into(cls: Any, step: Step) -> list[Any]:
    if not isinstance(step, str):
        return [cls]
    hints = _hints(cls)
    if step in hints and step in _public_fields(cls):
        return _classes_in(hints[step])
    # a discriminated union adds the word that chose the class to the path
    words = [a for name in ("test", "event") if name in hints for a in typing.get_args(hints[name])]
    return [cls] if step in words else []


@cache
def _hints(cls: Any) -> dict[str, Any]:
    return typing.get_type_hints(cls)


def _public_fields(cls: Any) -> list[str]:
    names = (("from" if f.name == "source" else f.name) for f in dataclasses.fields(cls))
    return [name for name in names if name not in LINEAGE]


def _classes_in(kind: Any) -> list[Any]:
    if dataclasses.is_dataclass(kind):
        return [kind]
    return [cls for inner in typing.get_args(kind) for cls in _classes_in(inner)]
