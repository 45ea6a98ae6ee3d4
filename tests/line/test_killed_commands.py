"""A command that records something may be killed at any moment: all of its change is there afterwards, or nothing.

The program is forked and ends itself, as SIGKILL would end it, before a chosen call that changes files; Python names
these calls to an audit hook (PEP 578). Power cuts are the matter of the tests of writing.
"""

from __future__ import annotations

import os
import shutil
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from yard import done, run, yard

from passport.writing import recover

CHANGING = frozenset({"os.link", "os.rename", "os.mkdir", "os.remove", "os.rmdir"})
WRITING = os.O_WRONLY | os.O_RDWR
KILLED = 137
"""As a shell reports SIGKILL."""
FEW = (0, 8, 14)
"""Calls before which each command is killed; one command is killed before every second one."""
MANY = 5
"""Moments at which a run must have been killed for the test to say something."""
ON = ("--on", "2026-02-20")
COMMANDS = {
    "receive": ("receive", "--stream", "Nets", "--origin", "used", "--mass", "5", *ON),
    "weigh": ("receive", "--weigh", "IN-002", "--mass", "5", *ON),
    "reserve": ("receive", "--reserve", "2", *ON),
    "make": (
        "make",
        "--product",
        "Hook",
        "--made-for",
        "Coats",
        "--count",
        "1",
        "--each",
        "9 kg",
        "--draw",
        "IN-003=9",
        *ON,
    ),
    "already-out": ("make", "--already-out", "--product", "pot", "--count", "2", *ON),
}
SORT = ("run", "--operation", "sort", "--draw", "IN-003=all", "--result", "PPW=7", "--result", "RJ=2.9", *ON)


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an unweighed sack and a weighed one."""
    folder = yard(tmp_path_factory.mktemp("killed") / "yard", 2)
    done("receive", "--stream", "tubs", "--quick", *ON, "--folder", folder)
    done("receive", "--stream", "tubs", "--mass", "10", *ON, "--folder", folder)
    return folder


def files(folder: Path) -> dict[str, bytes]:
    """All files below a folder."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def killed_at(moment: int, *args: str | Path) -> bool:
    """Run a command in a fork that dies before its moment-th changing call; False where it came to its end before."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # no other thread is at work in these tests
        child = os.fork()
    if not child:
        _die(moment, args)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == KILLED


def _die(moment: int, args: tuple[str | Path, ...]) -> None:
    left = moment

    def hook(event: str, details: tuple[object, ...]) -> None:
        nonlocal left
        writes = event == "open" and isinstance(details[2], int) and bool(details[2] & WRITING)
        if (event in CHANGING or writes) and "/dev/" not in str(details[0]):
            left -= 1
            if left < 0:
                os._exit(KILLED)

    sys.addaudithook(hook)
    os._exit(0 if run(*args).exit_code == 0 else 1)


def moments(folder: Path, *args: str) -> Iterator[tuple[int, Path]]:
    """A copy of the folder for every second changing call of a command, killed before that call."""
    number = 0
    while True:
        copy = folder.with_name(f"{folder.name}-{number}")
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(folder, copy)
        if not killed_at(number, *args, "--folder", copy):
            return
        yield number, copy
        number += 2


def test_a_run_killed_all_along(before: Path) -> None:
    """A run of three records: the kill leaves the old records or, recovered, the new ones."""
    old = files(before / "content")
    whole = before.with_name("whole")
    shutil.copytree(before, whole)
    done(*SORT, "--folder", whole)
    ends = []
    for number, copy in moments(before, *SORT):
        recover(copy / "content")
        now = files(copy / "content")
        assert now in (old, files(whole / "content")), number
        ends.append(now != old)
    assert len(ends) > MANY
    assert ends == sorted(ends)
    assert set(ends) == {False, True}


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_killed_at_some_moments(name: str, before: Path, tmp_path: Path) -> None:
    """Whatever moment it was, the records hold, and are those of before or of the whole change."""
    args, old = COMMANDS[name], files(before / "content")
    whole = tmp_path / "whole"
    shutil.copytree(before, whole)
    done(*args, "--folder", whole)
    new, seen = files(whole / "content"), set()
    for moment in FEW:
        copy = tmp_path / str(moment)
        shutil.copytree(before, copy)
        killed_at(moment, *args, "--folder", copy)
        recover(copy / "content")
        now = files(copy / "content")
        assert now in (old, new), moment
        seen.add(now == new)
    assert seen == {False, True}


def test_a_start_killed_at_every_moment(tmp_path: Path) -> None:
    """No half of a workshop is left under its name, and the same command then makes it whole."""
    number = 0
    while killed_at(number, "start", tmp_path / "yard", "--name", "Yard"):
        if (tmp_path / "yard").exists():
            assert run("check", "--folder", tmp_path / "yard").exit_code == 0, number
        else:
            done("start", tmp_path / "yard", "--name", "Yard")
        assert [p.name for p in tmp_path.iterdir()] == ["yard"], number
        assert "README.md" in files(tmp_path / "yard"), number
        shutil.rmtree(tmp_path / "yard")
        number += 1
    assert number > 10
