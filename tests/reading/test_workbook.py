"""Workbooks (XLSX): one sheet's cells as text; formulas are never computed, hostile files are no tables."""

from __future__ import annotations

import datetime as dt
import io
import sys
import zipfile

import openpyxl
import pytest

from passport.problems import in_words
from passport.reading.workbook import is_workbook, read_workbook


def workbook(*rows: tuple[object, ...], forms: dict[str, str] | None = None) -> bytes:
    """A workbook as the reference library writes it."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Stock"
    for row in rows:
        sheet.append(row)
    for cell, form in (forms or {}).items():
        sheet[cell].number_format = form
    book.create_sheet("Notes").append(["other"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def words(data: bytes, **how: str) -> list[str]:
    """The problems of a workbook as a person sees them, line by line."""
    return [line for problem in read_workbook(data, "t.xlsx", **how).problems for line in in_words(problem).split("\n")]


def test_cells_come_as_they_are_meant() -> None:
    """Days as year-month-day, whole numbers without a point, percent with its sign, no noise of binary numbers."""
    data = workbook(
        ("Lot", "Day", "Mass", "Water", "Wet"),
        ("IN-1", dt.datetime(2024, 3, 5), 44.0, 0.005, True),  # noqa: DTZ001
        (7, dt.date(2024, 12, 31), 0.1 + 0.2, 0.125, False),
        forms={"D2": "0.0%", "D3": "0%"},
    )
    assert is_workbook(data)
    assert read_workbook(data, "t.xlsx").rows == (
        (1, ["Lot", "Day", "Mass", "Water", "Wet"]),
        (2, ["IN-1", "2024-03-05", "44", "0.5 %", "yes"]),
        (3, ["7", "2024-12-31", "0.3", "12.5 %", "no"]),
    )


def test_rows_keep_their_numbers() -> None:
    """A problem names the row that the spreadsheet shows, blank rows counted."""
    data = workbook(("Lot",), (None,), ("IN-1",))
    assert [number for number, _ in read_workbook(data, "t.xlsx").rows] == [1, 3]


def test_another_sheet_can_be_named() -> None:
    """The first sheet is meant where nobody says which."""
    assert read_workbook(workbook(("Lot",)), "t.xlsx", "Notes").rows == ((1, ["other"]),)
    assert words(workbook(("Lot",)), sheet="Stocks") == [
        't.xlsx: error unknown-sheet: met no sheet "Stocks", wanted one of the workbook',
        '    hint: did you mean "Stock"?',
    ]


def test_a_formula_is_never_computed() -> None:
    """Without a result in the file it is a problem, with its cell; its text stands in no other place."""
    data = workbook(("Lot", "Mass"), ("IN-1", '=HYPERLINK("x")'))
    assert words(data) == [
        't.xlsx:2:2: error formula: met the formula "=HYPERLINK("x")" without its result, wanted a value',
        "    hint: open the workbook in a spreadsheet program and save it there: it then holds the results",
    ]


def test_the_result_that_a_file_holds_is_read() -> None:
    """What a spreadsheet program worked out and saved is the cell's value."""
    plain = workbook(("Lot", "Mass"), ("IN-1", "=1+1"))
    with zipfile.ZipFile(io.BytesIO(plain)) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"]
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(b"<f>1+1</f><v></v>", b"<f>1+1</f><v>2</v>").replace(
        b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"
    )
    assert parts["xl/worksheets/sheet1.xml"] != sheet
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    assert read_workbook(out.getvalue(), "t.xlsx").rows[1] == (2, ["IN-1", "2"])


@pytest.mark.parametrize("data", [b"PK\x03\x04 no more than a sign", b"PK\x03\x04" + bytes(2000)])
def test_a_damaged_file_is_no_table(data: bytes) -> None:
    """The words say what to do, whatever the file holds."""
    assert words(data) == [
        "t.xlsx: error not-a-table: met a file that cannot be read as a workbook (damaged), wanted XLSX or CSV",
        "    hint: open it and save it again, or save it as CSV",
    ]


def test_another_packed_file_is_no_table() -> None:
    """A packed folder that is no workbook is refused by what the library makes of it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("readme.txt", "hello")
    said, *_ = words(out.getvalue())
    assert said.startswith("t.xlsx: error not-a-table: met a file that cannot be read as a workbook (")


def test_a_file_that_unpacks_to_too_much_is_not_unpacked() -> None:
    """Thirty megabytes of noughts in a few kilobytes are counted, not read (CWE-409)."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", bytes(31_000_000))
    assert len(out.getvalue()) < 100_000
    assert words(out.getvalue()) == [
        "t.xlsx: error not-a-table: met a workbook that unpacks to 31000000 bytes, wanted at most 30000000",
        "    hint: save the sheet alone, as CSV",
    ]


def test_a_cell_far_away_is_not_waited_for() -> None:
    """One cell in the last row that the format has does not make a million rows."""
    book = openpyxl.Workbook()
    assert book.active is not None
    book.active["A1048576"] = "far"
    out = io.BytesIO()
    book.save(out)
    said, *_ = words(out.getvalue())
    assert said.startswith("t.xlsx: error not-a-table: met 1048576 rows and 1 columns, wanted at most 50000 and 200")


def test_without_the_library_its_name_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who reads no workbooks need not have it; who wants to is told how to get it."""
    data = workbook(("Lot",))
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    assert words(data) == [
        "t.xlsx: error no-openpyxl: met a workbook (XLSX), wanted the library that reads them",
        "    hint: install it with: pip install 'passport[xlsx]'; or save the sheet as CSV (UTF-8)",
    ]
