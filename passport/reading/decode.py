"""A plain tree of text → one frozen record, or every problem of it with its place.

pydantic finds all faults at once; its wording is for programmers, so each kind of fault is put into our
own words here.
"""

from __future__ import annotations

import dataclasses
import re
import typing
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError, WithJsonSchema
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from passport.problems import Problem, did_you_mean
from passport.reading.fields import quoted
from passport.reading.marked import Source, Step
from passport.reading.records import LINEAGE

R = TypeVar("R")

MOST_FAULTS = 50
"""Of one record. Who has mended fifty sees the rest; a hostile record gets no more of our time."""


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
        hint = f"the fields of this record are {', '.join(sorted(_fields_at(kind, ())))}"
        return None, (Problem(code="not-a-record", message=message, place=source.place(*at), hint=hint),)
    claimed = tuple(_claimed_lineage(tree, lineage or {}, source, at))
    if claimed:
        return None, claimed
    try:
        return adapter(kind).validate_python({**tree, **(lineage or {})}), ()
    except ValidationError as slip:
        faults = slip.errors(include_url=False, include_input=True)[:MOST_FAULTS]
        return None, tuple(_in_our_words(fault, kind, source, at) for fault in faults)


def _claimed_lineage(
    tree: dict[str, object], lineage: Mapping[str, object], source: Source, at: tuple[Step, ...]
) -> Iterator[Problem]:
    for name in sorted(lineage.keys() & tree.keys()):
        hint = "delete the line: the name of the file is the id" if name == "id" else "delete it"
        place = source.place(*at, name, key=True)
        yield Problem(code="unknown-field", message=f'met the field "{name}", wanted none', place=place, hint=hint)


def _in_our_words(fault: ErrorDetails, kind: Any, source: Source, at: tuple[Step, ...]) -> Problem:
    wording = _WORDINGS.get(fault["type"], _by_its_parts)
    code, message, hint, on_key = wording(fault, kind)
    path = [*at, *fault["loc"]]
    if path and path[-1] == _AT_KEY:
        path, on_key = path[:-1], True
    if fault["type"] == "union_tag_invalid":
        path.append(_discriminator(fault))
    guilty = _guilty_field(fault)
    if guilty:
        path, on_key = [*path, guilty], True
    place = source.place(*path, key=on_key)
    if fault["input"] == "" and place.source_line[place.column :].lstrip().startswith("#"):
        hint = "what follows # is a remark for readers of the file: put a text that begins with # in quotes"
    return Problem(code=code, message=message, place=place, hint=hint)


_AT_KEY = "[key]"
"""pydantic's step from a mapping to one of its keys."""


def _guilty_field(fault: ErrorDetails) -> str:
    """Of a fault between several fields, the one to point at: the first that the words name and the record has.

    The words of what was met come first; of what was wanted, the last one, since the first was there before.
    """
    context, tree = fault.get("ctx", {}), fault["input"]
    if not isinstance(tree, dict) or "met" not in context:
        return ""
    met = [word for word in re.findall(r"\w+", str(context["met"])) if word in tree]
    wanted = [word for word in re.findall(r"\w+", str(context["wanted"])) if word in tree]
    return next(iter(met or wanted[::-1]), "")


Wording = tuple[str, str, str, bool]
"""Code, message, hint, and whether the place is the field's name rather than its value."""


def _by_its_parts(fault: ErrorDetails, _kind: Any) -> Wording:
    context = fault.get("ctx", {})
    if "wanted" in context:
        message = f"met {context['met']}, wanted {context['wanted']}"
        return fault["type"], message, str(context["hint"]), False
    return "value", f"met {quoted(fault['input'])}, wanted another kind of value", "", False


def _unknown_field(fault: ErrorDetails, kind: Any) -> Wording:
    *parents, name = fault["loc"]
    if re.fullmatch(r"[0-9]+ ?(kg|g|t|%|°C)?", str(name)):
        hint = "inside { } a comma parts two fields: write the decimal point, such as 12.4 kg"
        return "unknown-field", f'met "{name}" after a comma, wanted a field', hint, True
    known = sorted(_fields_at(kind, parents))
    hint = did_you_mean(str(name), known) or "the fields here are " + ", ".join(known)
    message = f"met the field {quoted(str(name))}, wanted one that this record can have"
    return "unknown-field", message, hint, True


def _missing_field(fault: ErrorDetails, kind: Any) -> Wording:
    *parents, name = fault["loc"]
    found = _fields_at(kind, parents).get(str(name))
    example = f"add `{name}: {_example(found)}`"
    told = next((_inside(words) for cls in _classes_at(kind, parents) if (words := meaning(cls, str(name)))), "")
    hint = f"{example} ({told})" if told else example
    return "missing-field", f'met no field "{name}", wanted one', hint, False


def _example(found: FieldInfo | None) -> str:
    """The first example that a field gives of itself."""
    schemas = [m.json_schema or {} for m in found.metadata if isinstance(m, WithJsonSchema)] if found else []
    given = [example for schema in schemas for example in schema.get("examples", ())]
    return str(given[0]) if given else "…"


def _inside(sentence: str) -> str:
    """A sentence, to stand inside another one."""
    words = sentence.partition("\n")[0].rstrip(".,")
    return words[:1].lower() + words[1:] if words[1:2].islower() or words[1:2] == " " else words


def _one_of(fault: ErrorDetails, _kind: Any) -> Wording:
    expected = str(fault.get("ctx", {}).get("expected", ""))
    words = [word for part in expected.replace(" or ", ", ").split(",") if (word := part.strip("' "))]
    hint = did_you_mean(str(fault["input"]), words)
    return "unknown-word", f"met {quoted(fault['input'])}, wanted one of {', '.join(words)}", hint, False


def _discriminator(fault: ErrorDetails) -> str:
    return str(fault.get("ctx", {}).get("discriminator", "")).strip("'")


def _unknown_kind(fault: ErrorDetails, _kind: Any) -> Wording:
    context = fault.get("ctx", {})
    field = _discriminator(fault)
    expected = [word.strip("' ") for word in str(context.get("expected_tags", "")).split(",")]
    tree = fault["input"]
    met = tree.get(field) if isinstance(tree, dict) else tree
    message = f"met {quoted(met)} as `{field}:`, wanted one of {', '.join(expected)}"
    return f"unknown-{field}", message, did_you_mean(str(met), expected), False


def _no_kind(fault: ErrorDetails, kind: Any) -> Wording:
    field = _discriminator(fault)
    annotations = [cls.__pydantic_fields__[field].annotation for cls in _classes_at(kind, fault["loc"])]
    words = [str(word) for annotation in annotations for word in typing.get_args(annotation)]
    return (
        "missing-field",
        f'met no field "{field}", wanted one',
        f"add `{field}:` and one of {', '.join(words)}",
        False,
    )


def _a_list(fault: ErrorDetails, _kind: Any) -> Wording:
    hint = "put square brackets [ ] round it, or begin each entry on a line of its own with `- `"
    return "not-a-list", f"met {quoted(fault['input'])}, wanted a list", hint, False


def _with_fields(fault: ErrorDetails, kind: Any) -> Wording:
    known = list(_fields_at(kind, fault["loc"]))
    example = known[0] if known else "name"
    hint = f"the fields here are {', '.join(sorted(known))}" if known else ""
    message = f"met {quoted(fault['input'])}, wanted fields such as {{{example}: …}}"
    return "not-fields", message, hint, False


def _with_names(fault: ErrorDetails, _kind: Any) -> Wording:
    message = f"met {quoted(fault['input'])}, wanted names with a value each"
    return "not-fields", message, "write the name, a colon and the value in braces, such as {dust: 0.2 kg}", False


def _text(fault: ErrorDetails, _kind: Any) -> Wording:
    return "value", f"met {quoted(fault['input'])}, wanted text", "", False


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
    "dict_type": _with_names,
    "mapping_type": _with_names,
    "model_attributes_type": _with_fields,
    "string_type": _text,
}


def field_at(kind: Any, path: tuple[Step, ...]) -> FieldInfo | None:
    """The field of a record at a path, by the names a person writes; None where it has no such field."""
    *above, name = path
    return _fields_at(kind, above).get(str(name))


def field_names(kind: Any) -> tuple[str, ...]:
    """Every field of a record, one that is a record itself with its own fields behind a point: `received.stream`."""
    names: list[str] = []
    for name, found in _fields_at(kind, ()).items():
        one = () if typing.get_origin(found.annotation) in (tuple, list) else typing.get_args(found.annotation)
        parts = [cls for cls in (found.annotation, *one) if hasattr(cls, _PYDANTIC)]
        inner = [f"{name}.{below}" for cls in parts for below in _public_fields(cls)]
        names += inner or [name]
    return tuple(names)


_PYDANTIC = "__pydantic_fields__"


def _fields_at(kind: Any, path: Iterable[Step]) -> dict[str, FieldInfo]:
    """The fields that a record can have at `path`, by the name a person writes."""
    return {name: found for cls in _classes_at(kind, path) for name, found in _public_fields(cls).items()}


def _classes_at(kind: Any, path: Iterable[Step]) -> list[Any]:
    here = _classes_in(kind)
    for step in path:
        here = [inner for cls in here for inner in _step_into(cls, step)]
    return here


def _step_into(cls: Any, step: Step) -> list[Any]:
    if not isinstance(step, str):
        return [cls]
    fields = _public_fields(cls)
    if step in fields:
        return _classes_in(fields[step].annotation)
    # a discriminated union adds the word that chose the class to the path
    words = [word for name in _CHOOSING & fields.keys() for word in typing.get_args(fields[name].annotation)]
    return [cls] if step in words or not words else []


_CHOOSING = frozenset({"test", "event"})
"""Fields whose word decides which record it is."""


def _public_fields(cls: Any) -> dict[str, FieldInfo]:
    """The fields that a person may write, by the name in the file."""
    filled_in = lineage_of(cls)
    fields: dict[str, FieldInfo] = cls.__pydantic_fields__
    return {field.alias or name: field for name, field in fields.items() if name not in filled_in}


def lineage_of(cls: Any) -> frozenset[str]:
    """The fields that the place of a file fills in: `id`, or an event's `file` and `number`."""
    fields: dict[str, FieldInfo] = cls.__pydantic_fields__
    return LINEAGE & fields.keys() if fields.keys() >= LINEAGE_OF_EVENTS else LINEAGE_OF_FILES & fields.keys()


LINEAGE_OF_FILES = frozenset({"id"})
LINEAGE_OF_EVENTS = LINEAGE - LINEAGE_OF_FILES


def meaning(cls: Any, name: str) -> str:
    """What the docstring under a field says, in the class or in the one it is inherited from ("" where none)."""
    for base in cls.__mro__:
        found = getattr(base, "__pydantic_fields__", {}).get(name)
        if found is not None and found.description:
            return str(found.description)
    return ""


def members(kind: Any) -> list[Any]:
    """Every record class that a kind is made of, each once, the kind itself first."""
    found: list[Any] = []
    waiting = _classes_in(kind)
    while waiting:
        cls = waiting.pop(0)
        if cls not in found and hasattr(cls, "__pydantic_fields__"):
            found.append(cls)
            waiting += [inner for field in cls.__pydantic_fields__.values() for inner in _classes_in(field.annotation)]
    return found


def _classes_in(kind: Any) -> list[Any]:
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        return [kind]
    return [cls for inner in typing.get_args(kind) for cls in _classes_in(inner)]
