"""Each kind of broken record gets exactly the words that a person at the bench needs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from unpacking import CASES, case_text, good_files, sections, unpack, words_of

BROKEN = sorted(path.parent for path in (CASES / "broken").glob("*/case.txt"))
PROGRAMMERS_WORDS = re.compile(
    r"pydantic|python|traceback|exception|(?-i:\bNone\b)|\bdict|\bstr\b|\bint\b|\btuple\b|mapping|scalar|\btoken\b|"
    r"validat|instance|input should|sequence|parsing|node",
    re.IGNORECASE,
)
WITHOUT_FAULT = {"byte-order-mark", "windows-line-ends"}


def met_in(case: Path, folder: Path) -> str:
    """The terminal's words for the good folder with the case's files laid over it."""
    return words_of(unpack(good_files() | sections(case_text(case / "case.txt")), folder))


def test_the_good_folder_has_nothing_to_mend(tmp_path: Path) -> None:
    """The folder that every case changes is sound, so that each case shows its own fault alone."""
    assert words_of(unpack(good_files(), tmp_path)) == ""


@pytest.mark.parametrize("case", BROKEN, ids=lambda case: case.name)
def test_a_broken_record_gets_its_exact_words(case: Path, tmp_path: Path) -> None:
    """The words, the place, the line with its caret and the hint are those written beside the case."""
    assert met_in(case, tmp_path) == (case / "expected.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("case", BROKEN, ids=lambda case: case.name)
def test_no_message_speaks_like_a_programmer(case: Path) -> None:
    """What the tool says (not what it quotes from the record) has no word of the languages it is made of."""
    said = (case / "expected.txt").read_text(encoding="utf-8").splitlines()
    own = [line for line in said if line.startswith(("content/", "    hint:"))]
    assert [line for line in own if PROGRAMMERS_WORDS.search(re.sub(r'"[^"]*"', "", line))] == []


@pytest.mark.parametrize("case", BROKEN, ids=lambda case: case.name)
def test_every_error_says_what_was_met_and_where(case: Path) -> None:
    """Every case but those of harmless oddities names file, line and column, or the file where it is a whole one."""
    heads = [line for line in (case / "expected.txt").read_text().splitlines() if not line.startswith("    ")]
    assert bool(heads) == (case.name not in WITHOUT_FAULT)
    for head in heads:
        assert re.match(r"content(/[^:]+)?(:[1-9]\d*:[1-9]\d*)?: error [a-z0-9-]+: ", head)


def test_there_are_cases_of_many_kinds() -> None:
    """The faults that people make are covered: at least 32 folders of them, in at least 25 kinds of problem."""
    text = "".join((case / "expected.txt").read_text(encoding="utf-8") for case in BROKEN)
    assert len(BROKEN) >= 32
    assert len(set(re.findall(r"error ([a-z0-9-]+):", text))) >= 25
