"""The log as data: CSV read by its own descriptions, nothing else.

CSVW: Model for Tabular Data and Metadata Vocabulary for Tabular Data, W3C Recommendations of 17 December 2015;
Data Package and Table Schema 1.0 (both from memory).
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest

from passport.pages.data_tables import COLUMNS, csv_text

FORMS = {
    "string": r"(?s).*",
    "date": r"\d{4}-\d\d-\d\d",
    "decimal": r"-?\d+(\.\d+)?",
    "integer": r"-?\d+",
}
"""Lexical forms of XML Schema 1.1 part 2 as far as our tables use them."""
Row = dict[str, str]


@pytest.fixture(scope="module")
def data(demo: Path) -> Path:
    """The folder of data files."""
    return demo / "site" / "data"


@pytest.fixture(scope="module")
def group(data: Path) -> dict[str, Any]:
    """The description of all tables."""
    found: dict[str, Any] = json.loads((data / "csv-metadata.json").read_text(encoding="utf-8"))
    return found


def rows(file: Path) -> list[Row]:
    """A table as text."""
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def misfits(table: dict[str, Any], found: list[Row]) -> list[str]:
    """Cells that are not what their column's description says."""
    wrong = []
    for column in table["tableSchema"]["columns"]:
        datatype = column["datatype"]
        form = re.compile(FORMS[datatype["base"] if isinstance(datatype, dict) else datatype])
        for n, row in enumerate(found, 2):
            cell = row[column["name"]]
            if not cell and column.get("required"):
                wrong.append(f"line {n}: {column['name']} is empty")
            elif cell and not form.fullmatch(cell):
                wrong.append(f"line {n}: {column['name']} is {cell!r}")
    return wrong


def test_tables_are_what_their_description_says(data: Path, group: dict[str, Any]) -> None:
    """Columns in order, types and required cells hold in every table of the demo."""
    assert len(group["tables"]) == len(COLUMNS)
    for table in group["tables"]:
        found = rows(data / table["url"])
        assert found, table["url"]
        assert list(found[0]) == [c["name"] for c in table["tableSchema"]["columns"]]
        assert misfits(table, found) == []


def test_a_wrong_date_is_found(group: dict[str, Any]) -> None:
    """A date such as 28.4.2026 does not fit its column (CSVW readers and Table Schema refuse it too)."""
    lots = next(t for t in group["tables"] if t["url"] == "lots.csv")
    row = dict.fromkeys((c["name"] for c in lots["tableSchema"]["columns"]), "") | {"lot": "A", "state": "free"}
    assert misfits(lots, [row | {"date": "28.4.2026"}]) == ["line 2: date is '28.4.2026'"]


def test_keys_hold(data: Path, group: dict[str, Any]) -> None:
    """Each primary key is there once, and each foreign key leads to a row of the table it names."""
    tables = {t["url"]: (t["tableSchema"], rows(data / t["url"])) for t in group["tables"]}
    leads = 0
    for schema, found in tables.values():
        if "primaryKey" in schema:
            keys = [row[schema["primaryKey"]] for row in found]
            assert all(keys)
            assert len(keys) == len(set(keys))
        for key in schema.get("foreignKeys", ()):
            there, theirs = key["reference"]["resource"], key["reference"]["columnReference"]
            assert {row[key["columnReference"]] for row in found} <= {row[theirs] for row in tables[there][1]}
            leads += 1
    assert leads == 4


def test_keys_of_the_package_hold(data: Path) -> None:
    """Each foreign key of the data package leads to a row, or is empty (Table Schema 1.0: null is no reference)."""
    package = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))
    keys = [(r["path"], key) for r in package["resources"] for key in r["schema"].get("foreignKeys", ())]
    assert len(keys) == 8
    for path, key in keys:
        known = {row[key["reference"]["fields"]] for row in rows(data / f"{key['reference']['resource']}.csv")}
        assert {row[key["fields"]] for row in rows(data / path)} - {""} <= known


def test_each_table_has_its_own_description(data: Path, group: dict[str, Any]) -> None:
    """`NAME.csv-metadata.json`, where a reader of one table looks first, says the same but for foreign keys."""
    for table in group["tables"]:
        alone = json.loads((data / f"{table['url']}-metadata.json").read_text(encoding="utf-8"))
        assert alone["@context"] == "http://www.w3.org/ns/csvw"
        whole = {k: v for k, v in table["tableSchema"].items() if k != "foreignKeys"}
        assert (alone["url"], alone["tableSchema"]) == (table["url"], whole)


def test_the_package_is_the_same_tables(data: Path, group: dict[str, Any]) -> None:
    """The data package names every table with the same columns and keys, its size and its hash."""
    package = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))
    assert re.fullmatch(r"[a-z0-9._/-]+", package["name"])
    assert [r["path"] for r in package["resources"]] == [t["url"] for t in group["tables"]]
    for resource, table in zip(package["resources"], group["tables"], strict=True):
        content = (data / resource["path"]).read_bytes()
        assert (resource["bytes"], resource["hash"]) == (
            len(content),
            f"sha256:{hashlib.sha256(content).hexdigest()}",
        )
        schema, theirs = resource["schema"], table["tableSchema"]
        assert [f["name"] for f in schema["fields"]] == [c["name"] for c in theirs["columns"]]
        assert {f["type"] for f in schema["fields"]} <= {"string", "date", "number", "integer"}
        assert schema.get("primaryKey") == theirs.get("primaryKey")


def test_the_licence_is_the_workshops(data: Path, group: dict[str, Any]) -> None:
    """All descriptions carry the licence that the workshop's record chooses."""
    address = "https://creativecommons.org/licenses/by/4.0/"
    package = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))
    assert group["dc:license"] == {"@id": address}
    assert package["licenses"] == [{"name": "CC-BY-4.0", "path": address}]
    assert json.loads((data / "log.json").read_text(encoding="utf-8"))["licence"] == "CC-BY-4.0"


def test_the_log_in_json_is_the_tables(data: Path) -> None:
    """log.json holds the same rows as the CSV files."""
    log = json.loads((data / "log.json").read_text(encoding="utf-8"))
    for name in COLUMNS:
        assert csv_text([c.name for c in COLUMNS[name]], log[name]) == (data / f"{name}.csv").read_bytes().decode()


def test_rfc_4180(data: Path) -> None:
    """Lines end with CRLF, and every record has as many fields as the header (RFC 4180, 2)."""
    for file in data.glob("*.csv"):
        raw = file.read_bytes().decode("utf-8")
        assert raw.endswith("\r\n")
        assert "\n" not in raw.replace("\r\n", "")
        widths = {len(row) for row in csv.reader(io.StringIO(raw, newline=""))}
        assert len(widths) == 1


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", " =1", "\ufeff=1", "＝1"])
def test_no_cell_is_a_formula(text: str) -> None:
    """What a spreadsheet would work out gets an apostrophe before it (OWASP, CSV injection)."""
    assert csv_text(["a"], [{"a": text}]).splitlines()[1].strip('"').startswith("'")


@pytest.mark.parametrize("text", ["-0.2000", "12.5", "0"])
def test_numbers_stay_numbers(text: str) -> None:
    """A negative number is no formula."""
    assert csv_text(["a"], [{"a": text}]) == f"a\r\n{text}\r\n"
