"""The append-only lists: whatever happens to a line is noticed and named."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.problems import Place, Problem, in_words
from passport.reading import tag_lists
from passport.reading.tag_lists import (
    FIRST_SEAL,
    ISSUED_HEADER,
    PRINTED_HEADER,
    issued_line,
    line_for,
    printed_line,
    read_issued,
    read_printed,
    seal_in,
)
from passport.reading.tag_numbers import next_numbers

FILE = "content/tags-issued.csv"
DAY = dt.date(2026, 5, 20)


def issued_text(numbers: tuple[str, ...]) -> str:
    """A whole list, as the tool writes it."""
    text, seal = ISSUED_HEADER, FIRST_SEAL
    for piece, number in enumerate(numbers, start=1):
        line = issued_line(seal, tag=number, item="PL-2026-05", piece=piece, issued=DAY)
        text, seal = text + line, seal_in(line)
    return text


GOOD = issued_text(next_numbers("RY", None, 5))
LINES = GOOD.split("\n")[:-1]


def problems_of(text: str) -> tuple[Problem, ...]:
    """What is wrong with a list."""
    return read_issued(text, FILE)[1]


def codes(text: str) -> list[tuple[str, int, int]]:
    """Problem codes with line and column."""
    return [(p.code, p.place.line, p.place.column) for p in problems_of(text)]


def with_lines(*lines: str) -> str:
    """Lines as a file holds them."""
    return "\n".join(lines) + "\n"


def test_a_whole_list_is_read() -> None:
    """Each line becomes a record with its place, and nothing is wrong."""
    entries, problems = read_issued(GOOD, FILE)
    assert problems == ()
    assert [e.tag for e in entries] == list(next_numbers("RY", None, 5))
    assert (entries[1].item, entries[1].piece, entries[1].issued) == ("PL-2026-05", 2, DAY)
    assert entries[1].place == Place(FILE, 3, 1, LINES[2])


def test_no_list_yet_is_an_empty_list() -> None:
    """A workshop that never issued a number has nothing wrong; nor has one with the header alone."""
    assert read_issued("", FILE) == ((), ())
    assert read_issued(ISSUED_HEADER, FILE) == ((), ())


def test_the_seal_is_the_stated_hash() -> None:
    """The first eight digits of SHA-256 (hashlib) over the seal before and the other cells."""
    cells = "00000000,RY-22222Q,PL-2026-05,1,2026-05-20"
    assert LINES[1] == f"{cells[9:]},{hashlib.sha256(cells.encode()).hexdigest()[:8]}"


def test_an_edited_line_is_named_once() -> None:
    """A changed cell breaks that line's seal; the lines below still follow."""
    edited = GOOD.replace(",3,2026-05-20", ",4,2026-05-20")
    assert in_words(problems_of(edited)[0]) == (
        'content/tags-issued.csv:4:35: error tag-list-seal: the seal "b3fea4a3" does not fit: this line was '
        "edited, or one above it is missing or moved\n"
        "    RY-22225K,PL-2026-05,4,2026-05-20,b3fea4a3\n"
        "                                      ^\n"
        f"    hint: {tag_lists.RESTORE}"
    )
    assert len(problems_of(edited)) == 1


def test_a_missing_line_is_named_where_the_next_one_stands() -> None:
    """Without its second line the third no longer follows."""
    assert codes(with_lines(*LINES[:2], *LINES[3:])) == [("tag-list-seal", 3, 35)]


def test_a_doubled_line_is_named() -> None:
    """The second of two equal lines is the one to delete."""
    text = with_lines(*LINES[:3], LINES[2], *LINES[3:])
    assert in_words(problems_of(text)[0]) == (
        "content/tags-issued.csv:4:1: error tag-list-doubled: this line stands twice\n"
        f"    {LINES[2]}\n    ^\n"
        "    hint: delete the second one; nothing else"
    )
    assert len(problems_of(text)) == 1


def test_moved_lines_are_named() -> None:
    """Two lines that changed places break the seals and the order."""
    found = {p.code for p in problems_of(with_lines(LINES[0], LINES[2], LINES[1], *LINES[3:]))}
    assert found == {"tag-list-seal", "tag-out-of-order"}


@pytest.mark.parametrize("cut", range(1, len(LINES[-1]) + 1))
def test_a_torn_last_line_is_named(cut: int) -> None:
    """However much of the last line is missing, it is one problem, and the whole lines are read."""
    entries, problems = read_issued(GOOD[:-cut], FILE)
    assert [p.code for p in problems] == ["tag-list-torn"]
    assert problems[0].place.line == 6
    assert len(entries) == 4


def test_a_merge_conflict_says_how_to_resolve_it() -> None:
    """Two copies that both issued meet as one problem that names the numbers and the way out."""
    ours = issued_line(seal_in(LINES[4]), tag="RY-22228E", item="BX-7", piece=1, issued=DAY)
    text = with_lines(*LINES[:5], "<<<<<<< HEAD", ours[:-1], "=======", LINES[5], ">>>>>>> other")
    assert in_words(problems_of(text)[0]) == (
        "content/tags-issued.csv:6:1: error tag-list-conflict: a merge conflict stands here: both sides have "
        "RY-22228E\n    <<<<<<< HEAD\n    ^\n"
        "    hint: two copies issued numbers apart: keep the lines of the side whose tags are already stuck "
        "on things, delete the other side's lines and the marker lines, then issue new numbers for the "
        "things that lost theirs; where both are stuck on, take one tag off its thing"
    )
    assert len(problems_of(text)) == 1


def test_a_conflict_resolved_as_told_leaves_a_good_list() -> None:
    """Either side's lines alone follow from the lines above them."""
    ours = issued_line(seal_in(LINES[4]), tag="RY-22228E", item="BX-7", piece=1, issued=DAY)
    assert problems_of(with_lines(*LINES[:5]) + ours) == ()
    assert problems_of(GOOD) == ()


def test_one_number_for_two_things_is_named() -> None:
    """Both sides of a merge kept: the second line with the number is the one to give up."""
    other = issued_line(seal_in(LINES[5]), tag="RY-22224M", item="BX-7", piece=1, issued=DAY)
    twice = problems_of(GOOD + other)
    assert [p.message for p in twice] == [
        "RY-22224M stands on line 3 already, for piece 2 of PL-2026-05; a number is issued once"
    ]
    assert twice[0].place.line == 7
    assert twice[0].hint == tag_lists.RESOLVE


def test_a_number_out_of_order_is_named() -> None:
    """A number below an earlier one was typed by hand."""
    text = with_lines(LINES[0]) + issued_line(FIRST_SEAL, tag="RY-22224M", item="BX-7", piece=2, issued=DAY)
    late = issued_line(seal_in(text), tag="RY-22222Q", item="BX-7", piece=1, issued=DAY)
    assert [p.message for p in problems_of(text + late)] == [
        "RY-22222Q stands after RY-22224M; numbers are issued one after another"
    ]


def test_two_prefixes_count_apart() -> None:
    """A workshop that changed its prefix starts again at 22222 without a complaint."""
    first = next_numbers("AB", None, 1)[0]
    line = issued_line(seal_in(LINES[5]), tag=first, item="BX-7", piece=1, issued=DAY)
    assert problems_of(GOOD + line) == ()


WRONG_CHECK = 'the check character of "RY-22225M" does not fit: at least one character is wrong'
LOOK_ALIKE = '"RY-2222OM" has "O" after its prefix; no tag number has 0, O, 1, I or L there'
WRONG_CELLS = [
    ("RY-22225M,BX-7,1,2026-05-20", 1, WRONG_CHECK),
    ("RY-2222OM,BX-7,1,2026-05-20", 1, LOOK_ALIKE),
    ("ry-22224m,BX-7,1,2026-05-20", 1, 'met "ry-22224m"; wanted a tag number such as RY-22224M'),
    ("RY-22224M,bx/../7,1,2026-05-20", 11, 'met "bx/../7"; wanted an item\'s id: A-Z, 0-9 and hyphens'),
    ("RY-22224M,BX-7,0,2026-05-20", 16, 'met "0"; wanted the number of the piece, from 1'),
    ("RY-22224M,BX-7,١,2026-05-20", 16, 'met "١"; wanted the number of the piece, from 1'),
    ("RY-22224M,BX-7,1,2026-02-30", 18, 'met "2026-02-30"; wanted a date such as 2026-05-20'),
    ("RY-22224M,BX-7,1,2026-W21-3", 18, 'met "2026-W21-3"; wanted a date such as 2026-05-20'),
]  # fmt: skip


@pytest.mark.parametrize(("cells", "column", "message"), WRONG_CELLS)
def test_a_wrong_cell_is_named_with_its_column(cells: str, column: int, message: str) -> None:
    """Even a line with a right seal must hold what its columns promise."""
    found = problems_of(ISSUED_HEADER + line_for(FIRST_SEAL, *cells.split(",")))
    assert [(p.message, p.place.line, p.place.column) for p in found] == [(message, 2, column)]


WANTED = 'wanted "tag,item,piece,issued,seal"'
NO_LISTS = [
    ("tag,item\n", "tag-list-header", f'the first line is "tag,item"; {WANTED}'),
    ("\ufeff" + GOOD, "tag-list-header", f'the first line is "\ufefftag,item,piece,issued,seal"; {WANTED}'),
    ("tag", "tag-list-header", f'the first line is "tag" without a line feed; {WANTED}'),
    (
        GOOD.replace("\n", "\r\n"),
        "tag-list-line-ends",
        "the lines end in CR LF (or hold a CR); wanted LF alone",
    ),
    (GOOD + "\n", "tag-list-cells", "this line has 1 cell; wanted 5"),
    (GOOD + "a,b,c,d,e,f\n", "tag-list-cells", "this line has 6 cells; wanted 5"),
]


@pytest.mark.parametrize(("text", "code", "message"), NO_LISTS)
def test_what_is_no_such_list_is_refused(text: str, code: str, message: str) -> None:
    """A foreign header, a byte order mark, CR LF or a wrong number of cells is one clear problem."""
    assert [(p.code, p.message) for p in problems_of(text)] == [(code, message)]


@given(st.data())
def test_no_single_changed_character_goes_unnoticed(data: st.DataObject) -> None:
    """Any one character replaced by another printable one is a problem in its line or the next."""
    where = data.draw(st.integers(0, len(GOOD) - 1))
    new = data.draw(st.characters(codec="utf-8").filter(lambda c: c != GOOD[where]))
    changed = GOOD[:where] + new + GOOD[where + 1 :]
    line = GOOD[:where].count("\n") + 1
    assert any(p.place.line in (line, line + 1) for p in problems_of(changed))


@given(st.text(max_size=400))
def test_no_text_stops_the_reader(text: str) -> None:
    """Whatever stands in the file, reading ends with entries or problems."""
    for found in (read_issued(text, FILE), read_printed(ISSUED_HEADER + text, FILE)):
        assert isinstance(found, tuple)


def test_printed_labels_come_back() -> None:
    """A tag may be printed again; kind and address are kept."""
    address = "https://pass.reedmouth.example"
    text, seal = PRINTED_HEADER, FIRST_SEAL
    for kind in ("sheet", "plate"):
        line = printed_line(seal, tag="RY-22224M", printed=DAY, kind=kind, address=address)
        text, seal = text + line, seal_in(line)
    entries, problems = read_printed(text, "content/labels-printed.csv")
    assert problems == ()
    assert [(e.tag, e.printed, e.kind, e.address) for e in entries] == [
        ("RY-22224M", DAY, "sheet", address),
        ("RY-22224M", DAY, "plate", address),
    ]


@pytest.mark.parametrize("cell", ["", "a,b", 'a"b', "a\nb", "a b", "a\x00b"])
def test_a_line_that_could_not_be_read_back_is_never_made(cell: str) -> None:
    """Cells that would need quoting are refused."""
    with pytest.raises(ValueError, match="cannot stand in a tag list: no comma"):
        line_for(FIRST_SEAL, cell)
