"""The first evening of the README, typed again at a pseudo-terminal: every command, every question, every answer."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import walkthrough
from conftest import ROOT, missing

from passport.reading.folder import read_shop
from passport.tags.readback import read_symbols

README = (ROOT / "README.md").read_text(encoding="utf-8")
THAT_DAY = "2026-03-07"
"""The day on which the README was typed; the test's own day stands for it."""
TODAY = datetime.now(tz=UTC).date().isoformat()
STEPS = walkthrough.steps_of(README.replace(THAT_DAY, TODAY), "## The first evening")
MOST_MINUTES = 15


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, list[tuple[walkthrough.Step, int, str]]]]:
    """A folder in which the whole evening was typed, and what each step ended with and showed."""
    top = tmp_path_factory.mktemp("evening")
    where, played = top, []
    for step in STEPS:
        words = shlex.split(step.command)
        if words[0] == "cd":
            where = where / words[1]
            played.append((step, 0, ""))
            continue
        if words[:2] == ["passport", "preview"]:
            played.append((step, *_previewed(words[1:], where)))
            continue
        played.append((step, *walkthrough.play(step, _command(words[1:]), where, _env())))
    yield where, played
    shutil.rmtree(top)


def _command(args: list[str]) -> list[str]:
    return [sys.executable, "-m", "passport", *args]


def _env() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT), "TERM": "dumb", "COLUMNS": "120", "LC_ALL": "C.UTF-8"}


def _previewed(args: list[str], where: Path) -> tuple[int, str]:
    """Started, read, and ended with Ctrl-C, as the line that it shows says. A port that is free: 8017 may be taken."""
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        port = str(tried.getsockname()[1])
    terminal = walkthrough.Terminal.of(_command([*args, "--port", port]), where, _env())
    terminal.read_until(re.compile(r"ends it\)\n\Z"))
    shown = terminal.shown.replace(port, "8017")
    return (0 if walkthrough.interrupt(terminal) in (0, 130, 1, -2) else 1), shown


def test_the_readme_has_an_evening() -> None:
    """The walk-through is found, begins with a new folder and comes to a printed label."""
    commands = [step.command for step in STEPS]
    assert commands[0] == "passport start yard"
    assert "passport labels POT-001" in commands
    assert len(commands) > 10


@pytest.mark.parametrize("number", range(len(STEPS)), ids=[step.command for step in STEPS])
def test_each_step_is_as_printed(number: int, evening) -> None:  # type: ignore[no-untyped-def]
    """What the README shows is what a person sees, letter by letter outside its gaps."""
    step, code, shown = evening[1][number]
    assert code == 0, shown
    assert walkthrough.difference(step.lines, shown) == "", shown


def test_the_evening_ends_with_a_tag_on_paper(evening) -> None:  # type: ignore[no-untyped-def]
    """The drawn pages of the sheet hold a symbol for each number, with the workshop's own address (zxing-cpp)."""
    if not shutil.which("pdftoppm"):
        missing("there is no pdftoppm on this machine")
    folder = evening[0]
    (sheet,) = (folder / "labels-out").glob("sheet-*.pdf")
    subprocess.run(["pdftoppm", "-r", "200", "-png", sheet, folder / "page"], check=True)
    from PIL import Image  # noqa: PLC0415

    found = [text for page in sorted(folder.glob("page*.png")) for text in read_symbols(Image.open(page))]
    assert sorted(found) == [
        f"https://PASS.REEDMOUTH-YARD.IE/T/{tag}" for tag in ("RY-22222Q", "RY-22224M", "RY-22225K")
    ]


def test_the_evening_leaves_sound_records(evening) -> None:  # type: ignore[no-untyped-def]
    """No error and no doubt is left behind, and the site has a page for each number."""
    folder = evening[0]
    shop, problems = read_shop(folder / "content")
    assert problems == ()
    assert shop is not None
    assert sorted(p.name for p in (folder / "site" / "T").glob("RY-*")) == [entry.tag for entry in shop.issued]


def test_the_evening_is_short() -> None:
    """At most 15 minutes: 5 s to read and answer a question, 8 a minute to install, 3 s a command (common practice).

    A person needs about 5 s for a question whose answer lies on the bench; the machine's own share is measured by
    the other tests, which would time out.
    """
    questions = sum(len(list(step.answers())) for step in STEPS)
    assert questions > 40
    minutes = 2 + questions * 8 / 60 + len(STEPS) * 10 / 60
    assert minutes < MOST_MINUTES


def test_a_slip_at_a_question_is_asked_again(tmp_path: Path) -> None:
    """A letter too many costs a line, not the evening: the question says what it wanted and comes again."""
    lines = ("What is your workshop called? [My workshop] Yard", "Which prefix? [YA] O1", "Which prefix? [YA] YD")
    step = walkthrough.Step(command="passport start yard", lines=lines)
    started = time.monotonic()
    code, shown = walkthrough.play(step, _command(["start", "yard"]), tmp_path, _env())
    assert code == 0
    assert (
        '  met "O1", wanted one to four of the letters A to Z (without I and O) and digits 2 to 9\nWhich prefix?'
        in shown
    )
    assert "prefix: YD" in (tmp_path / "yard/content/workshop.yaml").read_text(encoding="utf-8")
    assert time.monotonic() - started < walkthrough.PATIENCE_S


def test_a_busy_day_asks_little(evening) -> None:  # type: ignore[no-untyped-def]
    """The quick form asks for number, stream, day and weight; what it leaves out is named."""
    lines = (
        "Its number? [IN-002]",
        "Where is it from (cafe-tubs, or a new name)? [cafe-tubs]",
        f"Which day did it come in? [{TODAY}]",
        "What does it weigh with its container, in kg? 8,2",
        "And the container alone, in kg (0: weighed without one)? 0.3",
        "On which scale? [floor]",
        "Write this [Y/n]: y",
    )
    step = walkthrough.Step(command="passport receive --quick", lines=lines)
    code, shown = walkthrough.play(step, _command(["receive", "--quick"]), evening[0], _env())
    assert code == 0
    assert shown.count("? ") <= len(lines) + 1
    assert "left open too: scanner, mark-number, mark-letters, floats, weathering, colour, kept, photo" in shown
    assert (
        (evening[0] / "content/lots/IN-002.yaml").read_text(encoding="utf-8").endswith("tare: 0.3 kg\nscale: floor\n")
    )


def test_the_look_round_is_as_printed(tmp_path: Path) -> None:
    """The example, its two slips and its doubt: what the README says happens when the lines are changed as it says."""
    steps = walkthrough.steps_of(README, "## A look round with the example")
    edits = (
        (),
        (),
        (("losses:", "loses:"), ("mass: 12.2 kg", "mass: 12,2 kg")),
        (("loses:", "losses:"), ("mass: 12,2 kg", "mass: 11.6 kg")),
    )
    assert [step.command for step in steps] == ["passport start demo --example && cd demo", *["passport check"] * 3]
    for step, changes in zip(steps, edits, strict=True):
        folder = tmp_path / "demo"
        for old, new in changes:
            lot = folder / "content/lots/SH-001.yaml"
            lot.write_text(lot.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
        args = shlex.split(step.command.partition(" && ")[0])[1:]
        _, shown = walkthrough.play(step, _command(args), folder if folder.exists() else tmp_path, _env())
        assert walkthrough.difference(step.lines, shown) == "", shown
