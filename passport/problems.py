"""One type for everything that is wrong or doubtful, and the one place that words it.

Every stage collects problems instead of stopping at the first, so that a person mends a
whole evening's typing in one go.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum

TAB_STOP = 4


class Level(Enum):
    """How much a problem matters."""

    ERROR = "error"
    """The records cannot be used as they stand: nothing is published."""
    DOUBT = "doubt"
    """The records can be used; the page says what is doubtful, first."""
    ADVICE = "advice"
    """Worth knowing at the desk; not shown to the next owner."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where in the records something stands. Lines and columns count from 1; 0 is "the file as a whole"."""

    file: str
    line: int = 0
    column: int = 0
    source_line: str = field(default="", compare=False)

    def __str__(self) -> str:
        if not self.line:
            return self.file
        return f"{self.file}:{self.line}:{self.column}"


NOWHERE = Place("")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Something wrong or doubtful, with what a person needs to mend it.

    code: stable lower-case words joined by hyphens; themes word doubts by it.
    message: what was met and what was wanted, one sentence without a full stop.
    hint: what to do about it; may be empty.
    about: the id of the lot, run, item or tag that the problem belongs to; may be empty.
    facts: named values (as printed text) for the wording of a doubt in other languages.
    """

    code: str
    message: str
    place: Place = NOWHERE
    hint: str = ""
    level: Level = Level.ERROR
    about: str = ""
    facts: tuple[tuple[str, str], ...] = ()

    def sort_key(self) -> tuple[Place, str, str, str]:
        """Order by place, then by code and words, so that two runs print alike."""
        return (self.place, self.code, self.about, self.message)


def in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Problems sorted by place, each one once."""
    return tuple(sorted(dict.fromkeys(problems), key=Problem.sort_key))


def errors_in(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Those problems that stop a publication."""
    return tuple(p for p in problems if p.level is Level.ERROR)


def did_you_mean(met: str, known: Iterable[str]) -> str:
    """A hint that names the nearest known words, or nothing.

    >>> did_you_mean("moistur", ["mass", "moisture"])
    'did you mean "moisture"?'
    """
    folded = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(met.casefold(), folded, n=3, cutoff=0.6)
    if not near:
        return ""
    return "did you mean " + " or ".join(f'"{folded[name]}"' for name in near) + "?"


def plain(text: str) -> str:
    """Text that cannot steer a terminal: control characters are shown as their escapes."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def in_words(problem: Problem) -> str:
    """A problem as the terminal shows it: place, words, the line itself with a caret, a hint."""
    head = f"{problem.place}: " if problem.place.file else ""
    lines = [plain(f"{head}{problem.level.value} {problem.code}: {problem.message}")]
    if problem.place.source_line:
        lines += _with_caret(problem.place)
    if problem.hint:
        lines.append(plain(f"    hint: {problem.hint}"))
    return "\n".join(lines)


def _with_caret(place: Place) -> list[str]:
    source = place.source_line.expandtabs(TAB_STOP)
    before = place.source_line[: max(place.column - 1, 0)].expandtabs(TAB_STOP)
    return [f"    {plain(source)}", "    " + " " * len(plain(before)) + "^"]


def tally(problems: Iterable[Problem]) -> str:
    """The closing line: "2 errors, 1 doubt", or "nothing to mend".

    >>> tally([])
    'nothing to mend'
    """
    found = tuple(problems)
    counts = [(level, sum(p.level is level for p in found)) for level in Level]
    said = [_counted(n, level) for level, n in counts if n]
    return ", ".join(said) or "nothing to mend"


def _counted(number: int, level: Level) -> str:
    plural = "" if number == 1 or level is Level.ADVICE else "s"
    return f"{number} {level.value}{plural}"
