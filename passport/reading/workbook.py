"""A workbook (XLSX, ECMA-376) → the cells of one sheet as text; needs the library openpyxl, an extra of this package.

Nothing is computed: of a formula the result that the file holds is read, and a formula without one is a problem.
Days come as year-month-day, numbers as they are meant (fifteen digits, as spreadsheets keep them).
"""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from passport.problems import Place, Problem, did_you_mean
from passport.reading.spreadsheet import Grid

MAX_BYTES = 10_000_000
MAX_UNPACKED = 30_000_000
"""A workbook is packed: what it unpacks to is counted before anything is read (CWE-409)."""
MAX_ROWS, MAX_COLUMNS = 50_000, 200
SIGN = b"PK\x03\x04"
_NEEDED = Problem(
    code="no-openpyxl",
    message="met a workbook (XLSX), wanted the library that reads them",
    hint="install it with: pip install 'passport[xlsx]'; or save the sheet as CSV (UTF-8)",
)


@dataclass(frozen=True, slots=True)
class _Cell:
    """A cell's value, and what it is computed by ("" for a plain one)."""

    value: Any
    form: str
    formula: str


def is_workbook(data: bytes) -> bool:
    """Whether the bytes begin as a workbook's do."""
    return data.startswith(SIGN)


def read_workbook(data: bytes, file: str, sheet: str = "") -> Grid:
    """The cells of one sheet: the one named, else the first. Whatever is wrong is a problem of the grid."""
    fault = _unpacked_fault(data, file)
    if fault:
        return Grid(problems=(fault,))
    try:
        import openpyxl  # noqa: PLC0415 - an extra: who reads no workbooks need not have it
    except ImportError:
        return Grid(problems=(_at(_NEEDED, file),))
    try:
        values = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
        written = openpyxl.load_workbook(io.BytesIO(data), data_only=False)
        name = sheet or next((s.title for s in values.worksheets if s.sheet_state == "visible"), "")
        if name not in [s.title for s in values.worksheets]:
            return Grid(problems=(_no_sheet(file, name, [s.title for s in values.worksheets]),))
        return _grid(values[name], written[name], file)
    except Exception as error:  # noqa: BLE001 - whatever a hostile file makes the library raise, it is no table
        return Grid(problems=(_unreadable(file, type(error).__name__),))


def _at(problem: Problem, file: str) -> Problem:
    return Problem(code=problem.code, message=problem.message, hint=problem.hint, place=Place(file))


def _unpacked_fault(data: bytes, file: str) -> Problem | None:
    if len(data) > MAX_BYTES:
        return Problem(
            code="not-a-table",
            message=f"met {len(data)} bytes, wanted at most {MAX_BYTES}",
            place=Place(file),
            hint="save the sheet alone, or as CSV",
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(entry.file_size for entry in packed.infolist())
    except zipfile.BadZipFile:
        return _unreadable(file, "damaged")
    if size > MAX_UNPACKED:
        message = f"met a workbook that unpacks to {size} bytes, wanted at most {MAX_UNPACKED}"
        return Problem(code="not-a-table", message=message, place=Place(file), hint="save the sheet alone, as CSV")
    return None


def _unreadable(file: str, why: str) -> Problem:
    message = f"met a file that cannot be read as a workbook ({why}), wanted XLSX or CSV"
    return Problem(
        code="not-a-table", message=message, place=Place(file), hint="open it and save it again, or save it as CSV"
    )


def _no_sheet(file: str, name: str, known: list[str]) -> Problem:
    hint = did_you_mean(name, known) or f"its sheets are {', '.join(known)}"
    message = f'met no sheet "{name}", wanted one of the workbook'
    return Problem(code="unknown-sheet", message=message, place=Place(file), hint=hint)


def _grid(values: Any, written: Any, file: str) -> Grid:
    rows: list[tuple[int, list[str]]] = []
    problems: list[Problem] = []
    if values.max_row > MAX_ROWS or values.max_column > MAX_COLUMNS:
        met = f"met {values.max_row} rows and {values.max_column} columns"
        message = f"{met}, wanted at most {MAX_ROWS} and {MAX_COLUMNS}"
        return Grid(problems=(Problem(code="not-a-table", message=message, place=Place(file), hint="split the sheet"),))
    for number, cells in enumerate(_cells(values, written), start=1):
        texts = [_text(cell) for cell in cells]
        for column, cell in enumerate(cells, start=1):
            if cell.formula and cell.value is None:
                problems.append(_not_computed(cell, file, number, column))
        if any(texts):
            rows.append((number, texts))
    return Grid(rows=tuple(rows), problems=tuple(problems), encoding="xlsx")


def _cells(values: Any, written: Any) -> Iterator[list[_Cell]]:
    for row, same in zip(values.iter_rows(), written.iter_rows(), strict=True):
        yield [
            _Cell(cell.value, str(cell.number_format), str(other.value) if other.data_type == "f" else "")
            for cell, other in zip(row, same, strict=True)
        ]


def _not_computed(cell: _Cell, file: str, number: int, column: int) -> Problem:
    hint = "open the workbook in a spreadsheet program and save it there: it then holds the results"
    message = f'met the formula "{cell.formula[:60]}" without its result, wanted a value'
    return Problem(code="formula", message=message, place=Place(file, number, column), hint=hint)


def _text(cell: _Cell) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime | dt.date):
        return f"{value.year:04}-{value.month:02}-{value.day:02}"
    if isinstance(value, int | float):
        return _number(value, percent="%" in cell.form)
    return str(value).strip()


def _number(value: float, *, percent: bool) -> str:
    """A number as text; a cell that shows percent holds hundredths."""
    shown = value * 100 if percent else value
    text = f"{shown:.15f}".rstrip("0").rstrip(".") if abs(shown) < 1 else f"{shown:.15g}"
    return f"{text} %" if percent else text
