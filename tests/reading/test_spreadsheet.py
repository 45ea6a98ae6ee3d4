"""Tables from any desk: what can be read in one way is read, what could mean two things is refused by its cell.

The forms of the files are those of RFC 4180 (quotes, doubled quotes, line ends within cells) and of spreadsheet
programs in countries with a decimal comma (semicolons, `sep=;`, Windows-1252, UTF-16 with tabs; common practice).
"""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.amounts import NotAQuantity
from passport.problems import Problem, in_words
from passport.reading.spreadsheet import column_problems, read_day, read_rows, with_points, writes_commas

TABLE = 'tag;event;note\nRY-22224M;handed-over;Pépinière, côté sud\n\nRY-22225K;lost;"two\nlines; a ""quote"""\n'
CELLS = [
    {"tag": "RY-22224M", "event": "handed-over", "note": "Pépinière, côté sud"},
    {"tag": "RY-22225K", "event": "lost", "note": 'two\nlines; a "quote"'},
]


def refused(text: str | bytes) -> list[str]:
    """What is said about a table."""
    return [in_words(problem) for problem in read_rows(text if isinstance(text, bytes) else text.encode(), "a.csv")[1]]


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_every_usual_way_of_saving_gives_the_same_rows(coding: str, separator: str, line_end: str) -> None:
    """Rows are numbered as the spreadsheet numbers them: the empty one counts, the line end in a cell does not."""
    text = TABLE.replace("lines;", "lines,").replace(";", separator).replace("\n", line_end)
    rows, problems = read_rows(text.encode(coding), "a.csv")
    assert problems == ()
    assert [row.number for row in rows] == [2, 4]
    wanted = [{**cells, "note": cells["note"].replace("lines;", "lines,")} for cells in CELLS]
    assert [{k: v.replace("\r\n", "\n") for k, v in row.cells.items()} for row in rows] == wanted


def test_the_line_that_tells_the_separator_is_no_heading() -> None:
    """Some programs write `sep=;` first; it is row 1 of the file, the headings are row 2."""
    (row,), problems = read_rows(b"sep=;\r\ntag;place\r\nRY-22224M;quay, west\r\n", "a.csv")
    assert (row.number, dict(row.cells), problems) == (3, {"tag": "RY-22224M", "place": "quay, west"}, ())


@given(
    st.lists(
        st.lists(
            st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=8), min_size=3, max_size=3
        ),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from([";", "\t", ","]),
)
def test_what_the_standard_library_writes_is_read_back(table: list[list[str]], separator: str) -> None:
    """Python's own csv writer is the reference; blanks at the ends of cells do not count, nor rows of them."""
    out = io.StringIO()
    csv.writer(out, delimiter=separator).writerows([["one", "two", "three"], *table])
    rows, problems = read_rows(out.getvalue().encode(), "a.csv")
    blanks = str.maketrans("\u00a0\u202f\u2009", "   ")
    wanted = [[cell.translate(blanks).strip() for cell in cells] for cells in table]
    assert [list(row.cells.values()) for row in rows] == [cells for cells in wanted if any(cells)]
    assert bool(problems) == (not rows)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "",
            (
                "a.csv: error empty-table: met a table without rows\n"
                "    hint: its first row holds the names of the columns, and each row under it one entry"
            ),
        ),
        (
            b"PK\x03\x04rest",
            (
                "a.csv: error not-a-table: met a spreadsheet program's own file, wanted CSV\n"
                "    hint: in the spreadsheet program: save as, CSV (UTF-8)"
            ),
        ),
        (
            "tag;Place;place\nA;B;C\n",
            (
                'a.csv:1:3: error column-twice: met the column "place" again, wanted each once\n'
                "    hint: rename or delete one of the two"
            ),
        ),
        (
            "lot,mass\nIN-1,3,4 kg\n",
            (
                'a.csv:2:3: error cell-without-heading: met "4 kg" under no heading, wanted each cell under one\n'
                '    hint: put a text that holds a comma in quotes, such as "3,4 kg", or give the column a name'
            ),
        ),
        (
            'tag;note\nA;"open\nB;c\n',
            (
                "a.csv:2:1: error bad-quote: met a quote that does not end where its cell ends, wanted a whole cell\n"
                "    hint: inside a cell in quotes, a quote is written twice; rows from here on were not read"
            ),
        ),
        (
            "tag\nA\n".encode("utf-16-le"),
            (
                "a.csv: error not-a-table: met bytes that are no text, wanted CSV in UTF-8, UTF-16 or Windows-1252\n"
                "    hint: in the spreadsheet program: save as, CSV (UTF-8)"
            ),
        ),
    ],
)
def test_a_table_that_cannot_be_read_says_where(text: str | bytes, said: str) -> None:
    """By row and column, with what to do."""
    assert refused(text) == [said]


def test_one_bad_row_does_not_hide_the_others() -> None:
    """The good rows are there, each bad one is named."""
    rows, problems = read_rows(b"a;b\n1;2\n3;4;5\n6;7\n;;8\n", "a.csv")
    assert [row.number for row in rows] == [2, 4]
    assert [str(problem.place) for problem in problems] == ["a.csv:3:3", "a.csv:5:3"]


def test_columns_are_known_or_named() -> None:
    """In any case of letters; a slip gets the nearest, a missing one is said."""
    (row,), _ = read_rows(b"Tag;Plaec\nRY-22224M;quay\n", "a.csv")
    said = [in_words(problem) for problem in column_problems(row, ("tag", "event", "place"), ("tag", "event"))]
    assert said == [
        (
            'a.csv:1:2: error unknown-column: met the column "Plaec", wanted one that is read here\n'
            '    hint: did you mean "place"?'
        ),
        'a.csv:1:1: error missing-column: met no column "event", wanted one\n    hint: the columns here are Tag, Plaec',
    ]
    assert str(row.place("Plaec")) == "a.csv:2:2"


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-04-11", date(2026, 4, 11)),
        ("2026/4/11", date(2026, 4, 11)),
        ("2026-04-11 00:00:00", date(2026, 4, 11)),
        ("25/12/2026", date(2026, 12, 25)),
        ("12.25.2026", date(2026, 12, 25)),
        ("05/05/2026", date(2026, 5, 5)),
        ("3 April 2026", date(2026, 4, 3)),
        ("1er août 2026", date(2026, 8, 1)),
        ("3-Apr-2026", date(2026, 4, 3)),
    ],
)
def test_a_day_that_can_be_one_only_is_read(text: str, day: date) -> None:
    """Year first, a day beyond 12, a month by name."""
    assert read_day(text) == day


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("03/04/2026", "this could be 2026-04-03 or 2026-03-04"),
        ("3.4.26", "write the year with four digits"),
        ("3 Foo 2026", "Foo is no month that is known here"),
        ("31/02/2026", "the calendar has no such day"),
        ("46123", "this is the number that a spreadsheet keeps for a day: format the column as year-month-day"),
        ("soon", ""),
    ],
)
def test_a_day_that_could_be_two_is_refused(text: str, hint: str) -> None:
    """With both days, or with what is wrong."""
    with pytest.raises(NotAQuantity) as slip:
        read_day(text)
    assert slip.value.hint == hint


def test_an_order_settles_the_days_of_a_table() -> None:
    """The same text, told how the table writes its days; a day that cannot be so is refused."""
    assert read_day("03/04/2026", "day-first") == date(2026, 4, 3)
    assert read_day("03/04/2026", "month-first") == date(2026, 3, 4)
    with pytest.raises(NotAQuantity):
        read_day("25/12/2026", "month-first")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("3,4 kg", "3.4 kg"),
        ("42,6 ± 0,2 kg", "42.6 ± 0.2 kg"),
        ("1.234,5 kg", "1234.5 kg"),
        ("1,234.5 kg", "1234.5 kg"),
        ("1 234,5 kg", "1234.5 kg"),
        ("0,234 kg", "0.234 kg"),
        ("1.234 kg", "1.234 kg"),
        ("6,4 g/10 min at 190 °C/2,16 kg", "6.4 g/10 min at 190 °C/2.16 kg"),
        ("not weighed", "not weighed"),
    ],
)
def test_decimal_commas_become_points(text: str, wanted: str) -> None:
    """And marks between thousands go."""
    assert with_points(text) == wanted


@pytest.mark.parametrize(("text", "commas"), [("1,234 kg", False), ("1.234 kg", True), ("1,2,3 kg", False)])
def test_a_number_that_could_be_two_is_refused(text: str, *, commas: bool) -> None:
    """A thousandfold slip would close no balance."""
    with pytest.raises(NotAQuantity):
        with_points(text, commas=commas)


def test_a_table_that_writes_commas_is_known_by_its_other_numbers() -> None:
    """There "1,234" is a decimal number after all."""
    assert writes_commas(["1,234 kg", "3,4 kg"])
    assert not writes_commas(["1,234 kg", "3.4 kg", "quay, west"])
    assert with_points("1,234 kg", commas=True) == "1.234 kg"


def test_the_separator_is_told_by_all_lines() -> None:
    """A title above the headings, or decimal commas in the cells, do not hide the semicolons between these."""
    rows, problems = read_rows(b"Day;Mass;Note\n1;62,4;a, b, c\n2;1,5;\n", "a.csv")
    assert ([dict(row.cells) for row in rows], problems) == (
        [{"Day": "1", "Mass": "62,4", "Note": "a, b, c"}, {"Day": "2", "Mass": "1,5", "Note": ""}],
        (),
    )


def test_a_cell_as_long_as_a_book_is_refused() -> None:
    """Its row is named; the rows above it are read."""
    said = refused(f"tag,note\nRY-22224M,x\nRY-22225K,{'y' * 200_000}\n")
    limit = csv.field_size_limit()
    assert len(said) == 1
    assert said[0].splitlines() == [
        f"a.csv:3:1: error long-cell: met a cell of more than {limit} signs, wanted a table to be read",
        "    hint: shorten it; rows from here on were not read",
    ]


def test_no_bytes_break_it() -> None:
    """Whatever the bytes: rows or problems, never a traceback."""

    @given(st.binary(max_size=60))
    def any_bytes(data: bytes) -> None:
        rows, problems = read_rows(data, "a.csv")
        assert rows or problems
        assert all(isinstance(problem, Problem) for problem in problems)

    any_bytes()
