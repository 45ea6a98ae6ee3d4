"""Numbers set aside for sacks to come: a list that only grows, and what can be wrong with it."""

from __future__ import annotations

from datetime import date

import pytest

from passport.problems import in_words
from passport.reading.set_aside import HEADER, read_set_aside, set_aside_line


def test_what_is_written_is_read() -> None:
    """Lines that the tool writes read back as they were meant."""
    text = f"{HEADER}\n{set_aside_line('IN-041', date(2026, 5, 2))}\n{set_aside_line('IN-042', date(2026, 5, 2))}\n"
    entries, problems = read_set_aside(text, "content/numbers-set-aside.csv")
    assert problems == ()
    assert [(entry.lot, entry.day) for entry in entries] == [
        ("IN-041", date(2026, 5, 2)),
        ("IN-042", date(2026, 5, 2)),
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "lot,set_aside\nIN-041,2026-05-02\nIN-041,2026-05-03\n",
            "x.csv:3:1: error set-aside-twice: met IN-041 again, wanted each number once",
        ),
        (
            "lot,set_aside\nIN-041;2\n",
            'x.csv:2:1: error set-aside-line: met "IN-041;2", wanted a number and a day, such as IN-041,2026-05-02',
        ),
        ("IN-041,2026-05-02\n", 'x.csv:1:1: error set-aside-header: met "IN-041,2026-05-02", wanted "lot,set_aside"'),
        (
            "lot,set_aside\n<<<<<<< HEAD\nIN-041,2026-05-02\n=======\nIN-041,2026-05-03\n>>>>>>> other\n",
            "x.csv:2:1: error set-aside-conflict: a merge conflict stands here",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_line(text: str, said: str) -> None:
    """Two people who set the same number aside meet as an error, not as two sacks with one number."""
    _, problems = read_set_aside(text, "x.csv")
    assert [in_words(problem).split("\n")[0] for problem in problems] == [said]
