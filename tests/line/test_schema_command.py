"""`schema`: what editors complete and check records by, held against every record there is."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from click.testing import CliRunner, Result
from conftest import ROOT

from passport.commands.main import passport
from passport.office import desk, saving
from passport.reading.schemas import KINDS

STARTER = ROOT / "passport" / "starter" / "content"
RECORDS = sorted([*(ROOT / "content").rglob("*.yaml"), *STARTER.rglob("*.yaml")])
WORDS = {f"{kind}s": kind for kind in KINDS}
CORRECTIONS = """\
- {date: 2026-11-01, lot: IN-031, field: mass, was: 62.4 kg, is: 26.4 kg, because: The figures were swapped}
- {date: 2026-11-02, lot: 31, field: evidence.0.pieces, was: 20, is: 22, because: {en: Miscounted, fr: Mal comptées}}
- {date: 2026-11-02, event: 2026-09-30 SH-021 weighed, field: note, was: {en: Dry}, because: It was not}
"""


class Core(yaml.SafeLoader):
    """YAML as editors read it: the core schema of YAML 1.2.2, section 10.3.2."""


Core.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("null", r"null|Null|NULL|~|", "nN~"),
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    Core.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{pattern})$"), [*first])
Core.add_constructor("tag:yaml.org,2002:int", lambda _, node: int(node.value))
Core.add_constructor("tag:yaml.org,2002:float", lambda _, node: float(node.value))


def run(*args: str | Path) -> Result:
    """A command of this program."""
    return CliRunner().invoke(passport, [*map(str, args)])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workshop with its schemas written beside it."""
    folder = tmp_path_factory.mktemp("yard")
    shutil.copytree(STARTER, folder / "content")
    assert run("schema", "--write", "--folder", folder).exit_code == 0
    return folder


def schema(folder: Path, kind: str) -> Any:
    """What an editor finds."""
    return json.loads((folder / "schemas" / f"{kind}.json").read_text(encoding="utf-8"))


def faults(written: Any, text: str) -> Iterator[str]:
    """What an editor marks in a text (jsonschema, Draft 2020-12)."""
    validator: Any = jsonschema.Draft202012Validator(written)
    for fault in validator.iter_errors(yaml.load(text, Core)):  # noqa: S506 - a safe loader with fewer resolvers
        yield f"{list(fault.path)}: {fault.message}"


def test_every_kind_is_written(folder: Path) -> None:
    """schemas/ holds one file for each kind of record, and nothing else."""
    assert {path.name for path in (folder / "schemas").iterdir()} == {f"{kind}.json" for kind in KINDS}


@pytest.mark.parametrize("path", RECORDS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_record_of_demo_or_starter_is_marked_by_an_editor(folder: Path, path: Path) -> None:
    """An editor that takes digits for numbers has nothing against records that the program takes."""
    kind = "workshop" if path.name == "workshop.yaml" else WORDS[path.parent.name]
    assert list(faults(schema(folder, kind), path.read_text(encoding="utf-8"))) == []


def test_corrections_are_not_marked_either(folder: Path) -> None:
    """Text, digits and brackets may all be what a record said."""
    assert list(faults(schema(folder, "correction"), CORRECTIONS)) == []


def test_an_editor_marks_a_correction_without_a_reason(folder: Path) -> None:
    """The field that stands on the pages must be there."""
    text = "- {date: 2026-11-01, lot: IN-031, field: mass, was: 62.4 kg, is: 26.4 kg}\n"
    assert list(faults(schema(folder, "correction"), text)) == ["[0]: 'because' is a required property"]


def test_one_kind_is_printed(folder: Path) -> None:
    """Standard output is the same schema as the file, for whoever wants it elsewhere."""
    assert json.loads(run("schema", "lot").stdout) == schema(folder, "lot")


def test_the_kinds_are_listed() -> None:
    """Without a kind the command says which there are."""
    assert run("schema").stdout.split() == list(KINDS)
    assert json.loads(run("schema", "--json").stdout) == list(KINDS)


def test_an_unknown_kind_is_wrong_usage() -> None:
    """The nearest kind is named."""
    done = run("schema", "lott")
    assert (done.exit_code, 'met "lott"; did you mean "lot"?' in done.stderr) == (2, True)


def test_records_made_by_the_tool_carry_the_editors_line(folder: Path) -> None:
    """The line leads from the record to its schema, in files of one record and in lists."""
    lot = saving.lot_file(folder, "IN-040", {"date": "2026-02-20"})
    (event,) = saving.event_lines([{"date": "2026-02-20", "lot": "IN-040", "event": "held"}], folder)
    for path, text in ((lot.path, lot.text), (event.path, event.header)):
        line = text.split("\n")[0]
        found = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", line)
        assert found, line
        assert (folder / "content" / path).parent.joinpath(found[1]).resolve().is_file()


def test_without_schemas_no_line_is_written(tmp_path: Path) -> None:
    """A line that leads nowhere would make an editor complain of every record."""
    assert saving.lot_file(tmp_path, "IN-040", {"date": "2026-02-20"}).text == "date: 2026-02-20\n"


def test_the_editors_line_is_no_part_of_the_record(folder: Path) -> None:
    """A record with the line on top is read like one without."""
    path = folder / "content/lots/IN-001.yaml"
    before = desk.read_records(folder)[0].lots["IN-001"]
    text = path.read_text(encoding="utf-8")
    path.write_text(f"# {saving.editors_line(folder, 'lot')}\n{text}", encoding="utf-8")
    assert desk.read_records(folder)[0].lots["IN-001"] == before
    path.write_text(text, encoding="utf-8")


def test_writing_again_changes_nothing(folder: Path) -> None:
    """Files that are right keep their time, so that nothing that watches them stirs."""
    before = {path: path.stat().st_mtime_ns for path in (folder / "schemas").iterdir()}
    assert run("schema", "--write", "--folder", folder).exit_code == 0
    assert {path: path.stat().st_mtime_ns for path in (folder / "schemas").iterdir()} == before
