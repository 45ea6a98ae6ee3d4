"""Reads a walk-through out of a Markdown file and types it again in a pseudo-terminal."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

GAP = "…"
"""Stands in the walk-through for lines, or part of a line, that are left out."""
_PROMPT = re.compile(r"(\?( \[[^\]]*\])? |\[[Yy]/[Nn]\]: )\Z")
_TYPED = re.compile(r"^(?P<asks> *\S.*?(?:\??(?: \[[Yy]/[Nn]\]:)|\?(?: \[[^\]]*\])?))(?: (?P<answer>.*))?$")
PATIENCE_S = 60
OFTEN = 5
"""Times that one question may come before something must be wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A command and what stands under it."""

    command: str
    lines: tuple[str, ...]

    def answers(self) -> Iterator[tuple[str, str]]:
        """Each question that the walk-through shows, and what is typed there."""
        for line in self.lines:
            met = _TYPED.match(line)
            if met and line != GAP and not line.lstrip().startswith("hint:"):
                yield met["asks"].strip(), met["answer"] or ""


def steps_of(text: str, heading: str) -> list[Step]:
    """The commands of the indented blocks under a heading, in order."""
    section = text.split(f"\n{heading}\n", 1)[1]
    section = re.split(r"\n##+ ", section, maxsplit=1)[0]
    steps: list[Step] = []
    for line in section.splitlines():
        if line.startswith("    $ "):
            steps.append(Step(command=line[6:], lines=()))
        elif line.startswith("    ") and steps:
            steps[-1] = Step(command=steps[-1].command, lines=(*steps[-1].lines, line[4:]))
    return steps


def as_pattern(text: str) -> str:
    """A text as a regular expression in which the gap sign stands for anything."""
    return ".*".join(re.escape(part) for part in text.split(GAP))


def difference(lines: Sequence[str], shown: str) -> str:
    """The first line of the walk-through that was not shown in its place, or nothing. GAP stands for any lines."""
    met = [line.rstrip() for line in shown.strip("\n").splitlines()]
    at, loose = 0, False
    for line in lines:
        if line == GAP:
            loose = True
            continue
        wanted = as_pattern(line.rstrip())
        places = range(at, len(met)) if loose else range(at, min(at + 1, len(met)))
        found = next((n for n in places if re.fullmatch(wanted, met[n])), None)
        if found is None:
            return line
        at, loose = found + 1, False
    return "" if loose or at == len(met) else f"and then: {met[at]}"


@dataclass(slots=True)
class Terminal:
    """One program at a pseudo-terminal."""

    process: subprocess.Popen[bytes]
    handle: int
    shown: str = ""

    @classmethod
    def of(cls, command: list[str], cwd: Path, env: Mapping[str, str]) -> Terminal:
        """Start a program whose three streams are a terminal of its own."""
        ours, theirs = pty.openpty()
        process = subprocess.Popen(
            command, cwd=cwd, env=dict(env), stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True
        )
        os.close(theirs)
        return cls(process, ours)

    def read_until(self, wanted: re.Pattern[str]) -> bool:
        """Read on; True once what is shown ends as wanted, False at the end of the program."""
        until = time.monotonic() + PATIENCE_S
        while not wanted.search(self.shown):
            ready, _, _ = select.select([self.handle], [], [], max(until - time.monotonic(), 0))
            if not ready:
                self.process.kill()
                raise AssertionError(f"nothing came for {PATIENCE_S} s after:\n{self.shown}")
            try:
                more = os.read(self.handle, 65536)
            except OSError:  # Linux: the other end was closed
                more = b""
            if not more:
                return False
            self.shown += more.decode("utf-8", "replace").replace("\r\n", "\n")
        return True

    def type(self, answer: str) -> None:
        """Type an answer and Enter; the terminal echoes it, as it does for a person."""
        before = self.shown
        os.write(self.handle, f"{answer}\n".encode())
        self.shown = before

    def end(self) -> int:
        """Wait for the program and give its exit code."""
        code = self.process.wait(PATIENCE_S)
        os.close(self.handle)
        return code


def play(step: Step, command: list[str], cwd: Path, env: Mapping[str, str]) -> tuple[int, str]:
    """Type one step, with an empty line where it shows no question. Gives the exit code and all that was shown."""
    terminal = Terminal.of(command, cwd, env)
    answers = list(step.answers())
    asked: Counter[str] = Counter()
    while terminal.read_until(_PROMPT):
        asks = terminal.shown.rpartition("\n")[2].strip()
        asked[asks] += 1
        if asked[asks] > OFTEN:
            terminal.process.kill()
            raise AssertionError(f"asked again and again: {asks}\n{terminal.shown}")
        if answers and re.fullmatch(as_pattern(answers[0][0]), asks):
            terminal.type(answers.pop(0)[1])
        else:
            terminal.type("")
        _past_the_echo(terminal)
    assert not answers, f"never asked: {answers[0][0]}\n{terminal.shown}"
    return terminal.end(), terminal.shown


def _past_the_echo(terminal: Terminal) -> None:
    """Until the typed line is on the screen: its question is then no longer the last line."""
    lines = terminal.shown.count("\n")
    until = time.monotonic() + PATIENCE_S
    while terminal.shown.count("\n") == lines and time.monotonic() < until:
        ready, _, _ = select.select([terminal.handle], [], [], 1)
        if ready:
            try:
                terminal.shown += os.read(terminal.handle, 65536).decode("utf-8", "replace").replace("\r\n", "\n")
            except OSError:
                return


def interrupt(terminal: Terminal) -> int:
    """What Ctrl-C does."""
    os.killpg(terminal.process.pid, signal.SIGINT)
    return terminal.end()
