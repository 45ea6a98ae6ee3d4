"""The two lists the tool alone writes: numbers ever issued, labels ever printed.

Both are append-only CSV files (UTF-8, LF, a header line, no quoting) whose last column, the
seal, is the first eight hexadecimal digits of SHA-256 over the seal before and this line's
other cells. An edited, missing or doubled line therefore shows. The seal is no signature: it
finds accidents and hand edits, not somebody who seals every later line anew. Lines cut off
cleanly at the end cannot be seen from the list alone; compare it with what is published.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from passport.problems import Place, Problem
from passport.reading.tag_numbers import TagNumber, read_tag_number

ISSUED_HEADER = "tag,item,piece,issued,seal\n"
PRINTED_HEADER = "tag,printed,kind,address,seal\n"
FIRST_SEAL = "00000000"
"""Stands for the seal before the first line."""

_SEAL_LENGTH = 8
_CONFLICT_MARKS = ("<<<<<<<", "|||||||", "=======", ">>>>>>>")
_ID = re.compile(r"[A-Z0-9](?:[A-Z0-9-]*[A-Z0-9])?")
_KIND = re.compile(r"[a-z][a-z-]*")
_PIECE = re.compile(r"[1-9][0-9]{0,5}")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_SEAL = re.compile(r"[0-9a-f]{8}")
_TAG = re.compile(r"([A-Z0-9]{1,4})-[A-Z0-9]{6}")
_TAG_CELL = re.compile(_TAG.pattern + ",")
_SHOWN = 60

RESTORE = "take the file back from version control or a backup; the tool alone writes it, line after line"
RESOLVE = (
    "two copies issued numbers apart: keep the lines of the side whose tags are already stuck on things, "
    "delete the other side's lines and the marker lines, then issue new numbers for the things that lost "
    "theirs; where both are stuck on, take one tag off its thing"
)
RESOLVE_PRINTED = (
    "keep the lines of one side and delete the other side's and the marker lines; at worst a label is printed again"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuedTag:
    """One line of tags-issued.csv."""

    tag: str
    """The whole number, such as RY-22224M."""
    item: str
    """Id of the item record that it was issued for."""
    piece: int
    """Which piece of that item, from 1."""
    issued: dt.date
    seal: str
    """Eight hexadecimal digits; the next line's seal builds on it."""
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedLabel:
    """One line of labels-printed.csv."""

    tag: str
    printed: dt.date
    kind: str
    """Which label: tag, sheet, roll, twin, plate, page or card."""
    address: str
    """The site's address that the symbol carries."""
    seal: str
    place: Place


FROM = "from"
"""The folder in `content/` that holds what was taken over from other workshops, with their own lists."""

Line = TypeVar("Line", IssuedTag, PrintedLabel)


def own_lines(entries: Sequence[Line]) -> tuple[Line, ...]:
    """The lines of the workshop's own list, without those of lists that were taken over: new ones follow the last."""
    return tuple(entry for entry in entries if f"/{FROM}/" not in entry.place.file)


def seal_of(previous_seal: str, cells: Sequence[str]) -> str:
    """The seal of a line: SHA-256 (FIPS 180-4) over the seal before and the other cells, joined by commas."""
    return hashlib.sha256(",".join((previous_seal, *cells)).encode()).hexdigest()[:_SEAL_LENGTH]


def line_for(previous_seal: str, *cells: str) -> str:
    """A line ready to append, with its seal and line feed.

    Raises ValueError for a cell that would need quoting: such a line could not be read back.
    """
    for cell in cells:
        if not cell or not cell.isprintable() or set(cell) & set(',"\n '):
            raise ValueError(f"{cell!r} cannot stand in a tag list: no comma, quote or space, and not empty")
    return ",".join((*cells, seal_of(previous_seal, cells))) + "\n"


def issued_line(previous_seal: str, *, tag: str, item: str, piece: int, issued: dt.date) -> str:
    """A line to append to tags-issued.csv. previous_seal is FIRST_SEAL or the last line's."""
    return line_for(previous_seal, tag, item, str(piece), issued.isoformat())


def printed_line(previous_seal: str, *, tag: str, printed: dt.date, kind: str, address: str) -> str:
    """A line to append to labels-printed.csv. previous_seal is FIRST_SEAL or the last line's."""
    return line_for(previous_seal, tag, printed.isoformat(), kind, address)


def seal_in(line: str) -> str:
    """The seal that ends a line."""
    return line.rstrip("\n").rpartition(",")[2]


def read_issued(text: str, file: str) -> tuple[tuple[IssuedTag, ...], tuple[Problem, ...]]:
    """tags-issued.csv, and everything wrong with it. No text at all is an empty list.

    While there is any problem nothing may be appended: a seal would then hide it.
    """
    lines, problems = _sealed_lines(text, file, ISSUED_HEADER)
    found = [entry for line in lines if isinstance(entry := _issued(line, problems), IssuedTag)]
    problems += _order_problems(found)
    return tuple(found), tuple(problems)


def read_printed(text: str, file: str) -> tuple[tuple[PrintedLabel, ...], tuple[Problem, ...]]:
    """labels-printed.csv, and everything wrong with it. A tag may stand there many times."""
    lines, problems = _sealed_lines(text, file, PRINTED_HEADER)
    found = [entry for line in lines if isinstance(entry := _printed(line, problems), PrintedLabel)]
    return tuple(found), tuple(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    file: str
    number: int
    text: str
    cells: tuple[str, ...]

    def place(self, cell: int = 0) -> Place:
        column = 1 + sum(len(c) + 1 for c in self.cells[:cell])
        return Place(self.file, self.number, column, self.text)


def _sealed_lines(text: str, file: str, header: str) -> tuple[list[_Line], list[Problem]]:
    """The lines under the header that have the right number of cells."""
    if not text:
        return [], []
    whole_file = _whole_file_problem(text, file, header)
    if whole_file:
        return [], [whole_file]
    lines: list[_Line] = []
    problems: list[Problem] = []
    width = header.count(",") + 1
    for line in _lines(text, file):
        if line.text.startswith(_CONFLICT_MARKS):
            problems.append(_conflict(line, text, RESOLVE if header == ISSUED_HEADER else RESOLVE_PRINTED))
            return lines, problems
        trouble = _line_trouble(line, width)
        if trouble:
            problems.append(trouble)
        else:
            lines.append(line)
    problems += _torn(text, file)
    problems += _broken_seals(lines)
    return lines, problems


def _lines(text: str, file: str) -> Iterator[_Line]:
    """The lines under the header; what follows the last line feed is no line."""
    for number, line in enumerate(text.split("\n")[1:-1], start=2):
        yield _Line(file=file, number=number, text=line, cells=tuple(line.split(",")))


def _whole_file_problem(text: str, file: str, header: str) -> Problem | None:
    """A file that cannot be read line by line: foreign line ends, or no header."""
    first = text.partition("\n")[0]
    if "\r" in text:
        line = text[: text.index("\r")].count("\n") + 1
        return Problem(
            code="tag-list-line-ends",
            message="the lines end in CR LF (or hold a CR); wanted LF alone",
            place=Place(file, line, 1),
            hint='add the line "content/*.csv -text" to .gitattributes and take the file back from there',
        )
    if first + "\n" == header and "\n" in text:
        return None
    torn = "" if "\n" in text else " without a line feed"
    return Problem(
        code="tag-list-header",
        message=f'the first line is "{_shown(first)}"{torn}; wanted "{header.strip()}"',
        place=Place(file, 1, 1, first),
        hint=RESTORE,
    )


def _shown(text: str) -> str:
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def _conflict(line: _Line, text: str, resolve: str) -> Problem:
    """One problem for the whole file: what stands below a marker says nothing until it is resolved."""
    twice = _tags_on_both_sides(text)
    what = f": both sides have {', '.join(twice)}" if twice else ""
    return Problem(
        code="tag-list-conflict",
        message=f"a merge conflict stands here{what}",
        place=line.place(),
        hint=resolve,
    )


def _tags_on_both_sides(text: str) -> tuple[str, ...]:
    """Numbers that stand more than once in a file with conflict markers, at most five."""
    counted = Counter(line.partition(",")[0] for line in text.split("\n") if _TAG_CELL.match(line))
    return tuple(sorted(tag for tag, times in counted.items() if times > 1))[:5]


def _line_trouble(line: _Line, width: int) -> Problem | None:
    if len(line.cells) == width:
        return None
    cells = "1 cell" if len(line.cells) == 1 else f"{len(line.cells)} cells"
    return Problem(
        code="tag-list-cells",
        message=f"this line has {cells}; wanted {width}",
        place=line.place(),
        hint=RESTORE,
    )


def _torn(text: str, file: str) -> list[Problem]:
    if text.endswith("\n"):
        return []
    number = text.count("\n") + 1
    last = text.rpartition("\n")[2]
    return [
        Problem(
            code="tag-list-torn",
            message="the last line is not whole: it has no line feed",
            place=Place(file, number, len(last) + 1, last),
            hint="if a number on it is on no thing yet, delete the line; otherwise " + RESTORE,
        )
    ]


def _broken_seals(lines: list[_Line]) -> list[Problem]:
    """Lines whose seal does not follow from the line above. Each break is named once."""
    problems = []
    previous = FIRST_SEAL
    seen: set[str] = set()
    for line in lines:
        seal = line.cells[-1]
        if line.text in seen:
            problems.append(_doubled(line))
            continue
        if seal != seal_of(previous, line.cells[:-1]):
            problems.append(_broken(line))
        seen.add(line.text)
        previous = seal
    return problems


def _doubled(line: _Line) -> Problem:
    return Problem(
        code="tag-list-doubled",
        message="this line stands twice",
        place=line.place(),
        hint="delete the second one; nothing else",
    )


def _broken(line: _Line) -> Problem:
    shape = "" if _SEAL.fullmatch(line.cells[-1]) else " (wanted eight of 0-9 and a-f)"
    return Problem(
        code="tag-list-seal",
        message=f'the seal "{_shown(line.cells[-1])}" does not fit{shape}: this line was edited, '
        "or one above it is missing or moved",
        place=line.place(len(line.cells) - 1),
        hint=RESTORE,
    )


def _issued(line: _Line, problems: list[Problem]) -> IssuedTag | None:
    tag, item, piece, _, seal = line.cells
    before = len(problems)
    _check_tag(line, problems)
    _check(line, 1, _ID, "an item's id: A-Z, 0-9 and hyphens", problems)
    _check(line, 2, _PIECE, "the number of the piece, from 1", problems)
    day = _check_day(line, 3, problems)
    if day is None or len(problems) > before:
        return None
    return IssuedTag(tag=tag, item=item, piece=int(piece), issued=day, seal=seal, place=line.place())


def _printed(line: _Line, problems: list[Problem]) -> PrintedLabel | None:
    tag, _, kind, address, seal = line.cells
    before = len(problems)
    _check_tag(line, problems)
    day = _check_day(line, 1, problems)
    _check(line, 2, _KIND, "the kind of label in small letters", problems)
    if day is None or len(problems) > before:
        return None
    return PrintedLabel(tag=tag, printed=day, kind=kind, address=address, seal=seal, place=line.place())


def _check(line: _Line, cell: int, shape: re.Pattern[str], wanted: str, problems: list[Problem]) -> None:
    if not shape.fullmatch(line.cells[cell]):
        problems.append(_wrong_cell(line, cell, wanted))


def _check_day(line: _Line, cell: int, problems: list[Problem]) -> dt.date | None:
    """Only YYYY-MM-DD: fromisoformat alone would let week dates and the short form in."""
    try:
        if _DATE.fullmatch(line.cells[cell]):
            return dt.date.fromisoformat(line.cells[cell])
    except ValueError:
        pass
    problems.append(_wrong_cell(line, cell, "a date such as 2026-05-20"))
    return None


def _wrong_cell(line: _Line, cell: int, wanted: str) -> Problem:
    return Problem(
        code="tag-list-cell",
        message=f'met "{_shown(line.cells[cell])}"; wanted {wanted}',
        place=line.place(cell),
        hint=RESTORE,
    )


def _check_tag(line: _Line, problems: list[Problem]) -> None:
    number = _number(line.cells[0])
    if number is None:
        problems.append(_wrong_cell(line, 0, "a tag number such as RY-22224M"))
    elif isinstance(number, Problem):
        problems.append(dataclasses.replace(number, place=line.place(), hint=RESTORE))


def _number(tag: str) -> TagNumber | Problem | None:
    """Strict, unlike what people type: the list holds numbers as the tool writes them."""
    shape = _TAG.fullmatch(tag)
    return read_tag_number(tag, shape.group(1)) if shape else None


def _order_problems(found: Sequence[IssuedTag]) -> list[Problem]:
    """A number twice, or one that stands after a later one. Each prefix counts by itself."""
    problems = []
    first_places: dict[str, IssuedTag] = {}
    last: dict[str, str] = {}
    for entry in found:
        prefix = entry.tag.partition("-")[0]
        earlier = first_places.setdefault(entry.tag, entry)
        if earlier is not entry:
            problems += _twice(earlier, entry)
        elif entry.tag < last.get(prefix, ""):
            problems.append(_out_of_order(entry, last[prefix]))
        last[prefix] = max(entry.tag, last.get(prefix, ""))
    return problems


def _twice(earlier: IssuedTag, entry: IssuedTag) -> list[Problem]:
    """Nothing for a line that is doubled whole: that one is named already."""
    if earlier.place.source_line == entry.place.source_line:
        return []
    return [
        Problem(
            code="tag-twice",
            message=f"{entry.tag} stands on line {earlier.place.line} already, for piece {earlier.piece} of "
            f"{earlier.item}; a number is issued once",
            place=entry.place,
            hint=RESOLVE,
            about=entry.tag,
        )
    ]


def _out_of_order(entry: IssuedTag, after: str) -> Problem:
    return Problem(
        code="tag-out-of-order",
        message=f"{entry.tag} stands after {after}; numbers are issued one after another",
        place=entry.place,
        hint=RESTORE,
        about=entry.tag,
    )
