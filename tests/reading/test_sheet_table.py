"""Which rows of a table are its headings, which its entries, and what is said of the rest."""

from __future__ import annotations

import pytest

from passport.problems import in_words
from passport.reading.sheet_table import Table, table_of
from passport.reading.spreadsheet import read_grid


def read(text: str, **how: object) -> tuple[Table, list[str]]:
    """A table, and its problems as a person sees them."""
    table, problems = table_of(read_grid(text.encode(), "t.csv"), "t.csv", **how)  # type: ignore[arg-type]
    return table, [in_words(problem).partition("\n")[0] for problem in problems]


def columns(text: str) -> list[tuple[int, str, str]]:
    """Number, name and unit of each column."""
    return [(column.number, column.name, column.unit) for column in read(text)[0].columns]


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("Gewicht (kg)", "Gewicht", "kg"),
        ("mass [g]", "mass", "g"),
        ("Poids en kg", "Poids", "kg"),
        ("Weight in kg", "Weight", "kg"),
        ("mass_kg", "mass", "kg"),
        ("Weight, kg", "Weight", "kg"),
        ("Feuchte %", "Feuchte", "%"),
        ("melt (°C)", "melt", "°C"),
        ("Menge (Stk)", "Menge", "pcs"),
        ("Gewicht (netto)", "Gewicht (netto)", ""),
        ("Lot no.", "Lot no.", ""),
        ("kg", "kg", ""),
    ],
)
def test_units_are_read_out_of_headings(heading: str, name: str, unit: str) -> None:
    """However a heading says its unit; what is no unit stays in the name."""
    assert columns(f"Nr;{heading}\nA;1\n")[1] == (2, name, unit)


def test_a_heading_merged_over_columns_stands_before_each() -> None:
    """A merged cell has its text in its first column alone."""
    text = "Nr;Gewicht;;Herkunft\n;brutto (kg);tara (kg);\nIN-1;62,4;2,1;gate\n"
    assert columns(text) == [
        (1, "Nr", ""),
        (2, "Gewicht brutto", "kg"),
        (3, "Gewicht tara", "kg"),
        (4, "Herkunft", ""),
    ]


def test_a_row_of_units_belongs_to_the_headings() -> None:
    """Some write the units under the names."""
    assert columns("Lot;Mass;Water\n;kg;%\nIN-1;62,4;0,5\n") == [(1, "Lot", ""), (2, "Mass", "kg"), (3, "Water", "%")]


def test_a_first_row_of_words_is_no_second_heading() -> None:
    """Entries without a single number are entries, where the headings leave no gap."""
    table, _ = read("Tag;What\nRY-A;handed over\n")
    assert [entry.cells for entry in table.entries] == [{1: "RY-A", 2: "handed over"}]


def test_what_is_left_out_is_said() -> None:
    """Titles, sums and headings again are no entries; blank rows are not worth a word."""
    text = "Stock of 2023;;\n;;\nLot;Mass (kg);Note\nA;1;x\n;;\nLot;Mass (kg);Note\nB;2;\nTotal;3;\n"
    table, said = read(text)
    assert [entry.cells[1] for entry in table.entries] == ["A", "B"]
    assert said == [
        "t.csv:1:1: advice row-left-out: left out row 1: it stands above the headings",
        "t.csv:6:1: advice row-left-out: left out row 6: it repeats the headings",
        "t.csv:8:1: advice row-left-out: left out row 8: it holds sums",
    ]


def test_a_lot_called_total_is_an_entry() -> None:
    """Only a row of bare sums is left out."""
    table, said = read("Lot;Mass (kg);Note\nTotal;1;leftovers\n")
    assert ([entry.number for entry in table.entries], said) == ([2], [])


def test_rows_can_be_named() -> None:
    """Where the headings cannot be told, somebody says which rows they are; rows can be left out."""
    table, said = read("1;2\nA;B\nx;3\ny;4\n", headings=(2,), without=(4,))
    assert [column.heading for column in table.columns] == ["A", "B"]
    assert [entry.number for entry in table.entries] == [3]
    assert said == ["t.csv:1:1: advice row-left-out: left out row 1: it stands above the headings"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "t.csv: error empty-table: met a table without rows"),
        (
            "Lot;Mass;lot\nA;1;B\n",
            't.csv:1:3: error column-twice: met the column "lot" again (first in A), wanted each once',
        ),
        (
            "Lot;Mass\nA;1;stray\n",
            't.csv:2:3: error cell-without-heading: met "stray" under no heading, wanted each cell under one',
        ),
    ],
)
def test_a_table_with_a_fault_is_said(text: str, said: str) -> None:
    """Nothing that stands in a cell is dropped without a word."""
    assert read(text)[1] == [said]


def test_columns_have_the_letters_of_spreadsheets() -> None:
    """The twenty-seventh column is AA."""
    table, _ = read(";".join(f"h{n}" for n in range(1, 29)) + "\nx\n")
    assert [table.columns[place].letters for place in (0, 25, 26, 27)] == ["A", "Z", "AA", "AB"]
