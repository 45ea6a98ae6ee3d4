"""Problems are worded in one place, sorted, counted, and cannot steer a terminal."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from passport.problems import Level, Place, Problem, did_you_mean, errors_in, in_order, in_words, plain, tally


def test_a_problem_in_words() -> None:
    """Place, level, code and words; then the line with a caret under the guilty sign; then the hint."""
    place = Place("content/lots/IN-1.yaml", 3, 7, "mass: 31.2")
    problem = Problem(code="mass", message="met a bare number, wanted a unit", place=place, hint='write "31.2 kg"')
    assert in_words(problem) == (
        "content/lots/IN-1.yaml:3:7: error mass: met a bare number, wanted a unit\n"
        "    mass: 31.2\n"
        "          ^\n"
        '    hint: write "31.2 kg"'
    )


def test_a_problem_without_a_place() -> None:
    """What belongs to no file is told without one."""
    assert in_words(Problem(code="late", message="it is late", level=Level.ADVICE)) == "advice late: it is late"


def test_a_caret_behind_a_tab() -> None:
    """A tab is widened for both lines, so that the caret stays under its sign."""
    words = in_words(Problem(code="x", message="m", place=Place("f", 1, 2, "\tab"))).splitlines()
    assert words[1].index("a") == words[2].index("^")


def test_problems_are_in_order_of_place_each_once() -> None:
    """By file, line and column as numbers, then by code; a problem found twice is told once."""
    tenth, second = (Problem(code="a", message="m", place=Place("f", line, 1)) for line in (10, 2))
    other = Problem(code="b", message="m", place=Place("f", 2, 1))
    assert in_order([tenth, other, second, tenth]) == (second, other, tenth)


def test_only_errors_stop_a_publication() -> None:
    """Doubts and advice are no errors."""
    problems = [Problem(code=level.value, message="m", level=level) for level in Level]
    assert [problem.code for problem in errors_in(problems)] == ["error"]


def test_the_tally() -> None:
    """The closing line counts each level, with its plural."""
    problems = [Problem(code="c", message="m", level=level) for level in (Level.ERROR, Level.ERROR, Level.DOUBT)]
    assert tally(problems) == "2 errors, 1 doubt"
    assert tally([]) == "nothing to mend"


def test_near_misses() -> None:
    """Case does not matter for a near miss; nothing near gives no hint."""
    assert did_you_mean("MOISTUR", ["mass", "moisture"]) == 'did you mean "moisture"?'
    assert did_you_mean("xyzzy", ["mass", "moisture"]) == ""


@given(st.text())
def test_words_cannot_steer_a_terminal(text: str) -> None:
    """No control, escape or direction sign of a record reaches the terminal (CWE-150)."""
    assert plain(text).isprintable()
    shown = in_words(Problem(code="c", message=text, place=Place("f", 1, 1, text), hint=text))
    assert all(line.isprintable() for line in shown.split("\n"))
