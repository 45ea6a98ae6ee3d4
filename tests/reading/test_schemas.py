"""The JSON Schemas that editors use agree with the reader."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest
from unpacking import CASES, case_text, good_files, sections

from passport.reading.marked import Source, read_tree
from passport.reading.schemas import KINDS, schema_of

DEMO = Path(__file__).parents[2] / "content"
FOLDERS = {
    "streams": "stream",
    "lots": "lot",
    "runs": "run",
    "products": "product",
    "items": "item",
    "events": "event",
    "recalls": "recall",
}


def kind_of(name: str) -> str | None:
    """The kind of record that lies under `content/…`."""
    _, *folders = name.split("/")
    if not name.endswith(".yaml"):
        return None
    return "workshop" if folders == ["workshop.yaml"] else FOLDERS.get(folders[0])


def faults(kind: str, text: str) -> list[str]:
    """What the jsonschema library (Draft 2020-12) has against a record read as text alone."""
    tree, problems = read_tree(Source("record.yaml", text))
    assert problems == ()
    validator: Any = jsonschema.Draft202012Validator(schema_of(kind))
    return [f"{list(fault.path)}: {fault.message}" for fault in validator.iter_errors(tree)]


@pytest.mark.parametrize("kind", KINDS)
def test_each_schema_is_one(kind: str) -> None:
    """Every schema is a valid schema of the dialect it names (JSON Schema 2020-12 meta-schema)."""
    jsonschema.Draft202012Validator.check_schema(schema_of(kind))


@pytest.mark.parametrize("kind", KINDS)
def test_lineage_is_no_field(kind: str) -> None:
    """What the name and place of a file say is not offered as a field to type."""
    schema = schema_of(kind)
    for part in (schema, *schema["$defs"].values()):
        offered = part.get("properties", {})
        assert not {"id", "file"} & offered.keys()
        assert not {"id", "file"} & set(part.get("required", ()))


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_says_what_it_means(kind: str) -> None:
    """An editor can show a sentence for each field but those that name the kind of test or event."""
    schema = schema_of(kind)
    parts = [part for part in (schema, *schema["$defs"].values()) if "properties" in part]
    silent = [name for part in parts for name, field in part["properties"].items() if "description" not in field]
    assert set(silent) <= {"test", "event"}


@pytest.mark.parametrize("name", [name for name in good_files() if kind_of(name)])
def test_good_records_fit(name: str) -> None:
    """Records that the reader accepts fit their schema."""
    kind = kind_of(name)
    assert kind is not None
    assert faults(kind, good_files()[name][1]) == []


def test_the_demo_fits() -> None:
    """Every record of the demo workshop fits its schema."""
    files = sorted(DEMO.rglob("*.yaml"))
    found = {path.name: faults(kind, path.read_text(encoding="utf-8")) for path in files if (kind := _kind(path))}
    assert {name: said for name, said in found.items() if said} == {}


def _kind(path: Path) -> str | None:
    return kind_of(path.relative_to(DEMO.parent).as_posix())


@pytest.mark.parametrize(
    "case",
    [
        "unknown-field",
        "unknown-field-inside",
        "missing-field",
        "missing-field-inside",
        "mass-without-unit",
        "mass-negative",
        "share-without-sign",
        "date-in-another-form",
        "unknown-word",
        "unknown-event",
        "unknown-test",
        "yes-or-no",
        "list-where-fields-are-wanted",
        "text-where-a-list-is-wanted",
        "photo-outside",
        "bad-id-in-a-reference",
        "empty-value",
    ],
)
def test_an_editor_marks_what_the_reader_refuses(case: str) -> None:
    """The slips that are visible in one field are marked while a person types."""
    written = sections(case_text(CASES / "broken" / case / "case.txt"))
    assert any(faults(kind, body) for name, (_, body) in written.items() if (kind := kind_of(name)))


@pytest.mark.parametrize(
    ("kind", "field", "value"),
    [("item", "count", 2), ("lot", "pieces", 44), ("stream", "origin", "virgin")],
)
def test_plain_digits_are_not_marked(kind: str, field: str, value: object) -> None:
    """An editor that takes `count: 2` for a number does not mark it."""
    jsonschema.validate(value, {**schema_of(kind)["properties"][field], "$defs": schema_of(kind)["$defs"]})


def test_an_unknown_kind_is_a_key_error() -> None:
    """Only kinds of records have a schema."""
    with pytest.raises(KeyError):
        schema_of("sack")
