"""A spreadsheet saved as CSV → rows of text by column, however the program that saved it writes such files.

Encodings, separators, decimal commas and forms of dates differ from desk to desk. What can be read in one way
only is read; what could mean two things is refused, with its row and column.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from passport.amounts import NotAQuantity
from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import quoted, read_date

MAX_BYTES = 10_000_000
"""Twenty thousand rows of long notes; more is no list that a person looked over."""
SEPARATORS = (";", "\t", ",")
ENOUGH_LINES = 50
"""From which the separator is told."""
_SPREADSHEET_FILES = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How the files begin that spreadsheet programs save by default (ZIP, and the older compound file)."""
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
WITH_HEADINGS = 2
_HINT_SAVE = "in the spreadsheet program: save as, CSV (UTF-8)"
_BLANKS = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " "})
"""Unbreakable and thin blanks, which programs put between digits and before units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the table."""

    number: int
    """As the spreadsheet counts: the headings are row 1."""
    cells: Mapping[str, str]
    """Text by heading, as the file writes it, without blanks at its ends; in the order of the columns."""
    file: str = ""

    def place(self, heading: str = "") -> Place:
        """The row, or one cell of it: line is the row, column the how-manieth column."""
        names = list(self.cells)
        return Place(self.file, self.number, names.index(heading) + 1 if heading in names else 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table's cells before anybody has said what is a heading."""

    rows: tuple[tuple[int, list[str]], ...] = ()
    """Number of the row as the spreadsheet counts, and its cells; rows without any text are left out."""
    problems: tuple[Problem, ...] = ()
    separator: str = ""
    """The sign between its cells."""
    encoding: str = ""
    """What its bytes were read as."""


def read_grid(data: bytes, file: str) -> Grid:
    """The cells of a table, as text without blanks at its ends. What is taken, `read_rows` says.

    Unbreakable blanks stay: they belong to text, and `tidy` makes them plain where a number is looked for.
    """
    decoded = _decoded(data, file)
    if isinstance(decoded, Problem):
        return Grid(problems=(decoded,))
    text, encoding = decoded
    separator, skipped, text = _separator(text)
    numbered, problems = _split(text, separator, skipped, file)
    return Grid(rows=tuple(numbered), problems=tuple(problems), separator=separator, encoding=encoding)


def read_rows(data: bytes, file: str) -> tuple[tuple[Row, ...], tuple[Problem, ...]]:
    """All rows under the headings, and everything wrong with the table; rows with a problem are left out.

    Takes UTF-8 with or without a mark, UTF-16 with one, and Windows-1252; cells parted by semicolons, tabs or
    commas; rows without any text are passed over.
    """
    grid = read_grid(data, file)
    numbered = [(number, [tidy(cell) for cell in cells]) for number, cells in grid.rows]
    problems, separator = list(grid.problems), grid.separator
    if len(numbered) < WITH_HEADINGS and not problems:
        hint = "its first row holds the names of the columns, and each row under it one entry"
        none = Problem(code="empty-table", message="met a table without rows", place=Place(file), hint=hint)
        return (), (none,)
    if not numbered:
        return (), tuple(problems)
    number, headings = numbered[0]
    wrong = tuple(_heading_problems(headings, number, file))
    if wrong:
        return (), (*wrong, *problems)
    rows: list[Row] = []
    for number, cells in numbered[1:]:
        stray = _stray(cells, headings)
        if stray is None:
            padded = [*cells, *[""] * (len(headings) - len(cells))]
            named = {name: cell for name, cell in zip(headings, padded, strict=False) if name}
            rows.append(Row(number=number, cells=named, file=file))
        else:
            problems.append(_without_heading(cells[stray], stray + 1, number, separator, file))
    return tuple(rows), tuple(problems)


def column_problems(row: Row, known: Iterable[str], needed: Iterable[str] = ()) -> Iterator[Problem]:
    """Headings that nobody reads, with the nearest one that somebody does; and needed ones that are not there."""
    names = tuple(known)
    head = Place(row.file, 1, 1)
    for column, heading in enumerate(row.cells, start=1):
        if heading.casefold() not in names:
            hint = did_you_mean(heading, names) or f"the columns are {', '.join(names)}"
            message = f"met the column {quoted(heading)}, wanted one that is read here"
            yield Problem(code="unknown-column", message=message, place=Place(row.file, 1, column), hint=hint)
    there = {heading.casefold() for heading in row.cells}
    for name in needed:
        if name not in there:
            hint = f"the columns here are {', '.join(row.cells)}"
            yield Problem(code="missing-column", message=f'met no column "{name}", wanted one', place=head, hint=hint)


# --- cells --------------------------------------------------------------------------------------------

DAY_WANTED = "a day that can be read in one way, such as 2026-04-11 or 11 April 2026"
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T]00:00(?::00(?:\.0+)?)?)?", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}[-/. ]\w{1,9}[-/. ]\d{2}", re.ASCII)
_NAMED_MONTH = re.compile(r"(\d{1,2})(?:er)?[ .-]+([^\W\d_]+)\.?[ .-]+(\d{4})")
_MOST_MONTHS = 12
_MONTHS = (
    ("jan", "january", "janv", "janvier"),
    ("feb", "february", "févr", "fév", "fevr", "février", "fevrier"),
    ("mar", "march", "mars"),
    ("apr", "april", "avr", "avril"),
    ("may", "mai"),
    ("jun", "june", "juin"),
    ("jul", "july", "juil", "juillet"),
    ("aug", "august", "août", "aout"),
    ("sep", "sept", "september", "septembre"),
    ("oct", "october", "octobre"),
    ("nov", "november", "novembre"),
    ("dec", "december", "déc", "décembre", "decembre"),
)
"""Names of months in English and French (from memory)."""
_MONTH = {name: number for number, names in enumerate(_MONTHS, start=1) for name in names}
ORDERS = ("day-first", "month-first")
"""What a person may say of a table whose days are written like 03/04/2026."""


def read_day(text: str, order: str = "") -> date:
    """A day in any form that can mean one day only; `order` (of ORDERS) settles forms like 03/04/2026.

    Raises NotAQuantity where two days could be meant, where the year has two digits, or where it is no day.
    """
    if found := _YEAR_FIRST.fullmatch(text):
        return _day(text, *(int(part) for part in found.groups()))
    if found := _NAMED_MONTH.fullmatch(text):
        month = _MONTH.get(found[2].casefold())
        if month is None:
            raise NotAQuantity(text, DAY_WANTED, f"{found[2]} is no month that is known here")
        return _day(text, int(found[3]), month, int(found[1]))
    if found := _YEAR_LAST.fullmatch(text):
        return _year_last(text, int(found[1]), int(found[3]), int(found[4]), order)
    hint = "write the year with four digits" if _SHORT_YEAR.fullmatch(text) else ""
    if re.fullmatch(r"\d{5}", text, re.ASCII):
        hint = "this is the number that a spreadsheet keeps for a day: format the column as year-month-day"
    raise NotAQuantity(text, DAY_WANTED, hint)


def _year_last(text: str, first: int, second: int, year: int, order: str) -> date:
    if order == "day-first" or (first > _MOST_MONTHS and not order) or first == second:
        return _day(text, year, second, first)
    if order == "month-first" or (second > _MOST_MONTHS and not order):
        return _day(text, year, first, second)
    both = " or ".join(f"{year:04}-{month:02}-{day:02}" for month, day in ((second, first), (first, second)))
    raise NotAQuantity(text, DAY_WANTED, f"this could be {both}")


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return read_date(f"{year:04}-{month:02}-{day:02}")
    except NotAQuantity as slip:
        raise NotAQuantity(text, DAY_WANTED, slip.hint) from None


NUMBER_WANTED = "a number that can be read in one way"
_NUMBER = re.compile(r"(?<![\w.,])\d[\d., ]*(?<=\d)")
_GROUPED = re.compile(r"\d{1,3}(?: \d{3})+(?:[.,]\d+)?", re.ASCII)


def writes_commas(texts: Iterable[str]) -> bool:
    """Whether a table writes decimal commas, as far as its numbers show; points then part thousands."""
    return any(re.search(r"(?<![\d.,])(?:\d+,(?:\d{1,2}|\d{4,})|0,\d+)(?![\d.,])", text, re.ASCII) for text in texts)


def with_points(text: str, *, commas: bool = False) -> str:
    """The text with each number written with a decimal point and without marks between thousands.

    commas: whether the table writes decimal commas elsewhere (`writes_commas`). Raises NotAQuantity where a
    number could mean two things: "1,234" is a little more than one, or more than a thousand.

    >>> with_points("3,4 kg")
    '3.4 kg'
    """
    return _NUMBER.sub(lambda found: _pointed(text, found[0], commas=commas), text)


def _pointed(text: str, number: str, *, commas: bool) -> str:
    if _GROUPED.fullmatch(number):
        number = number.replace(" ", "")
    if "." in number and "," in number:
        sign, other = (".", ",") if number.rindex(".") > number.rindex(",") else (",", ".")
        if re.fullmatch(rf"\d{{1,3}}(?:\{other}\d{{3}})+\{sign}\d+", number, re.ASCII):
            return number.replace(other, "").replace(sign, ".")
    unclear = "." if commas else ","
    if re.fullmatch(rf"[1-9]\d{{0,2}}\{unclear}\d{{3}}", number, re.ASCII):
        hint = (
            f"this could be {number.replace(',', '.')} or {number.replace(unclear, '')}: write one digit more or less"
        )
        raise NotAQuantity(text, NUMBER_WANTED, hint)
    if number.count(".") + number.count(",") > 1:
        raise NotAQuantity(text, NUMBER_WANTED, "write one decimal point and no marks between thousands")
    return number.replace(",", ".")


# --- the file -----------------------------------------------------------------------------------------


def _decoded(data: bytes, file: str) -> tuple[str, str] | Problem:
    """The text, and the encoding that it was in."""
    if data.startswith(_SPREADSHEET_FILES):
        return _unreadable(file, "met a spreadsheet program's own file, wanted CSV", _HINT_SAVE)
    if len(data) > MAX_BYTES:
        return _unreadable(file, f"met {len(data)} bytes, wanted at most {MAX_BYTES}", "split the table")
    marked = [coding for mark, coding in _MARKS if data.startswith(mark)]
    for coding in marked or ("utf-8", "cp1252"):
        try:
            text = data.decode(coding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        return text, coding
    return _unreadable(file, "met bytes that are no text, wanted CSV in UTF-8, UTF-16 or Windows-1252", _HINT_SAVE)


def tidy(cell: str) -> str:
    """A cell's text with plain blanks, and none at its ends."""
    return cell.translate(_BLANKS).strip()


def _unreadable(file: str, message: str, hint: str) -> Problem:
    return Problem(code="not-a-table", message=message, place=Place(file), hint=hint)


def _separator(text: str) -> tuple[str, int, str]:
    """The sign between cells, the rows above the headings, and the text without them."""
    first, _, rest = text.partition("\n")
    told = re.fullmatch(r"sep=([;,\t])\r?", first)
    if told:
        return told[1], 1, rest
    bare = [re.sub(r'"[^"]*"', "", line) for line in text.splitlines()[:ENOUGH_LINES] if line.strip()]
    return max(SEPARATORS, key=lambda sign: _agreement(bare, sign)), 0, text


def _agreement(lines: list[str], sign: str) -> tuple[int, int]:
    """In how many lines a sign stands equally often, and how often: titles and decimal commas lose against cells."""
    counts = Counter(count for line in lines if (count := line.count(sign)))
    often, agreeing = max(counts.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
    return agreeing, often


def _split(text: str, separator: str, skipped: int, file: str) -> tuple[list[tuple[int, list[str]]], list[Problem]]:
    """Numbered rows that hold any text; reading ends where a quote goes wrong, since all after it would be a guess."""
    found: list[tuple[int, list[str]]] = []
    number = skipped
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for number, cells in enumerate(reader, start=skipped + 1):
            texts = [cell.strip() for cell in cells]
            if any(texts):
                found.append((number, texts))
    except csv.Error as slip:
        return found, [_unreadable_from(number + 1, file, str(slip))]
    return found, []


def _unreadable_from(number: int, file: str, said: str) -> Problem:
    """Why reading ended at a row, from what the library said."""
    if "field limit" in said:
        message = f"met a cell of more than {csv.field_size_limit()} signs, wanted a table to be read"
        hint = "shorten it; rows from here on were not read"
        return Problem(code="long-cell", message=message, place=Place(file, number, 1), hint=hint)
    message = "met a quote that does not end where its cell ends, wanted a whole cell"
    hint = "inside a cell in quotes, a quote is written twice; rows from here on were not read"
    return Problem(code="bad-quote", message=message, place=Place(file, number, 1), hint=hint)


def _heading_problems(headings: list[str], number: int, file: str) -> Iterator[Problem]:
    seen: set[str] = set()
    for column, heading in enumerate(headings, start=1):
        if heading and heading.casefold() in seen:
            message = f"met the column {quoted(heading)} again, wanted each once"
            place = Place(file, number, column)
            yield Problem(code="column-twice", message=message, place=place, hint="rename or delete one of the two")
        seen.add(heading.casefold())


def _stray(cells: list[str], headings: list[str]) -> int | None:
    """The first cell with text under no heading. Empty cells at a row's end are left out or added by many programs."""
    return next((i for i, cell in enumerate(cells) if cell and not (i < len(headings) and headings[i])), None)


def _without_heading(cell: str, column: int, number: int, separator: str, file: str) -> Problem:
    message = f"met {quoted(cell)} under no heading, wanted each cell under one"
    hint = "give the column a name, or empty the cell"
    if separator == ",":
        hint = 'put a text that holds a comma in quotes, such as "3,4 kg", or give the column a name'
    return Problem(code="cell-without-heading", message=message, place=Place(file, number, column), hint=hint)
