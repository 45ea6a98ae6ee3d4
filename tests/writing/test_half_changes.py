"""A kill at any moment leaves all of a change or nothing of it, and no line torn or lost."""

from __future__ import annotations

import random
import subprocess
import time
from pathlib import Path

import kills
import pytest

from passport.disk import Refused
from passport.problems import in_words
from passport.writing import JOURNAL, AppendLines, NewFile, pending, recover, write_changes

OLD = {"tags.csv": b"tag,item\nRY-1,A\n", "lots/IN-1.yaml": b"mass: 1 kg\n"}
NEW = {
    **OLD,
    "tags.csv": b"tag,item\nRY-1,A\nRY-2,B\nRY-3,B\n",
    "printed.csv": b"tag\nRY-2\n",
    "lots/IN-2.yaml": b"mass: 2 kg\n",
    "events/2026.yaml": b"[]\n",
}
PROGRAM = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.writing import AppendLines, NewFile, write_changes
write_changes(Path(sys.argv[2]), [
    AppendLines("tags.csv", ("RY-2,B", "RY-3,B")),
    NewFile("lots/IN-2.yaml", "mass: 2 kg\\n"),
    AppendLines("printed.csv", ("RY-2",), header="tag"),
    NewFile("events/2026.yaml", "[]\\n"),
])
"""

needs_tracer = pytest.mark.skipif(kills.STRACE is None, reason=kills.WHY_SKIPPED)


def fresh(content: Path) -> Path:
    """Records as they were before the change."""
    (content / "lots").mkdir(parents=True)
    for path, text in OLD.items():
        (content / path).write_bytes(text)
    return content


def records(content: Path) -> dict[str, bytes]:
    """Every file outside the journal."""
    return {
        path.relative_to(content).as_posix(): path.read_bytes()
        for path in content.rglob("*")
        if path.is_file() and JOURNAL not in path.parts
    }


def half_written(tmp_path: Path) -> Path:
    """Records with a change that was decided, and of which one step was done when the power failed."""
    content = fresh(tmp_path / "content")
    command = kills.python(PROGRAM, str(content))
    calls = kills.changing_calls(kills.python(PROGRAM, str(fresh(tmp_path / "x"))), tmp_path / "x", tmp_path / "log")
    kills.kill_before(command, next(call for call in calls if call[0] == "link"))
    return content


@needs_tracer
def test_a_kill_before_every_call(tmp_path: Path) -> None:
    """Killed before any call that changes files: each file is old or new, and recovery makes it all or none."""
    calls = kills.changing_calls(kills.python(PROGRAM, str(fresh(tmp_path / "x"))), tmp_path / "x", tmp_path / "log")
    assert len(calls) > 20
    ends = []
    for number, call in enumerate(calls):
        content = fresh(tmp_path / str(number))
        kills.kill_before(kills.python(PROGRAM, str(content)), call)
        decided = pending(content)
        for path, text in records(content).items():
            assert text in (OLD.get(path), NEW[path]), (call, path)
        if not decided:
            assert records(content) in (OLD, NEW), call
        recover(content)
        ends.append(records(content) == NEW)
        assert records(content) == (NEW if ends[-1] else OLD), call
        assert ends[-1] or not decided, call
        assert not (content / JOURNAL).exists(), call
        assert not recover(content), call
    assert ends == sorted(ends)
    assert set(ends) == {True, False}


@needs_tracer
def test_a_kill_during_recovery(tmp_path: Path) -> None:
    """Recovery itself may be killed before any call, and the next one still finishes the change."""
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); from pathlib import Path\n"
        "from passport.writing import recover; recover(Path(sys.argv[2]))"
    )
    content = half_written(tmp_path)
    subprocess.run(["cp", "-a", content, tmp_path / "y"], check=True)
    calls = kills.changing_calls(kills.python(code, str(tmp_path / "y")), tmp_path / "y", tmp_path / "log")
    for number, call in enumerate(calls):
        copy = tmp_path / str(number)
        subprocess.run(["cp", "-a", content, copy], check=True)
        kills.kill_before(kills.python(code, str(copy)), call)
        recover(copy)
        assert records(copy) == NEW, call


@needs_tracer
def test_all_is_synced_before_it_is_decided(tmp_path: Path) -> None:
    """Every new file and the journal's names are on the disk before the plan gets its name (fsync(2))."""
    lines = kills.trace(kills.python(PROGRAM, str(fresh(tmp_path / "c"))), tmp_path / "log")
    decided = next(number for number, line in enumerate(lines) if line.startswith("rename(") and "plan" in line)
    written = [line for line in lines[:decided] if line.startswith("write(")]
    synced = [line.partition("<")[2].partition(">")[0] for line in lines[:decided] if line.startswith("fsync(")]
    assert len(written) == 5
    for line in written:
        assert line.partition("<")[2].partition(">")[0] in synced
    assert str(tmp_path / "c" / JOURNAL) in synced


def test_random_kills(tmp_path: Path) -> None:
    """Killed at any time while it writes on and on, the list has whole lines, in order, none lost."""
    code = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.writing import AppendLines, NewFile, write_changes
for number in range(int(sys.argv[3]), 1000):
    write_changes(Path(sys.argv[2]), [AppendLines("list", (f"line {number} is whole",)), NewFile(f"{number}", "x")])
"""
    content = tmp_path / "content"
    content.mkdir()
    chance = random.Random(20260421)  # noqa: S311 - times to kill at, the same in each run
    had: list[str] = []
    for _ in range(12):
        command = kills.python(code, str(content), str(len(had)))
        with subprocess.Popen(command, start_new_session=True) as running:
            time.sleep(chance.uniform(0.05, 0.2))
            running.kill()
        recover(content)
        lines = (content / "list").read_text().splitlines() if (content / "list").exists() else []
        assert lines == [f"line {number} is whole" for number in range(len(lines))]
        assert len(lines) >= len(had)
        assert kills.names(content) == sorted([*map(str, range(len(lines))), *(["list"] if lines else [])])
        had = lines
    assert had


@needs_tracer
def test_a_file_changed_in_between_is_not_overwritten(tmp_path: Path) -> None:
    """If a person edits a list while a change of it is pending, both stay, and the message says where."""
    content = fresh(tmp_path / "content")
    x = fresh(tmp_path / "x")
    calls = kills.changing_calls(kills.python(PROGRAM, str(x)), x, tmp_path / "log")
    decided = [call for call in calls if call[0] == "rename"]
    kills.kill_before(kills.python(PROGRAM, str(content)), decided[1])
    assert pending(content)
    (content / "tags.csv").write_bytes(b"tag,item\nRY-1,A\nRY-9,mine\n")
    with pytest.raises(Refused) as refused:
        recover(content)
    assert in_words(refused.value.problems[0]).replace(str(content), "CONTENT") == (
        "CONTENT/tags.csv: error records-changed-meanwhile: a change of this file was cut short, "
        "and the file was then changed by something else\n"
        "    hint: CONTENT/.journal/0 is what was to be written: bring the two together by hand, "
        "then delete the folder .journal"
    )
    assert (content / "tags.csv").read_bytes() == b"tag,item\nRY-1,A\nRY-9,mine\n"
    assert (content / JOURNAL / "0").read_bytes() == NEW["tags.csv"]


@pytest.mark.parametrize("plan", ["{", "[1]", '[["../x", "", ""]]', '[["a", 1]]', "null", '[["/etc/x", "", ""]]'])
def test_a_damaged_plan_is_not_followed(tmp_path: Path, plan: str) -> None:
    """A plan that cannot be read, or leads out of the folder, is refused and kept for a person to see."""
    content = fresh(tmp_path / "content")
    (content / JOURNAL).mkdir()
    (content / JOURNAL / "plan").write_text(plan)
    with pytest.raises(Refused) as refused:
        write_changes(content, [NewFile("a", "x")])
    assert in_words(refused.value.problems[0]).replace(str(content), "CONTENT") == (
        "CONTENT/.journal/plan: error records-journal-damaged: a change was cut short, "
        "and the list of what it had left to do cannot be read\n"
        "    hint: the numbered files beside it are what was to be written: put them in place by hand, "
        "then delete the folder"
    )
    assert records(content) == OLD


def test_a_journal_that_is_a_link_is_not_followed(tmp_path: Path) -> None:
    """A link in the journal's place (CWE-59) is taken away, and what it points to is not touched."""
    content = fresh(tmp_path / "content")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "plan").write_text('[["tags.csv", "", ""]]')
    (content / JOURNAL).symlink_to(tmp_path / "elsewhere")
    assert not pending(content)
    write_changes(content, [AppendLines("tags.csv", ("RY-2,B",))])
    assert kills.names(tmp_path / "elsewhere") == ["plan"]
    assert not (content / JOURNAL).is_symlink()


FULL = """
import resource, sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.disk import Refused
from passport.problems import in_words
from passport.writing import AppendLines, NewFile, write_changes
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
try:
    write_changes(Path(sys.argv[2]), [NewFile("small", "x"), AppendLines("tags.csv", ("x" * 2000,))])
except Refused as refused:
    print(in_words(refused.problems[0]))
"""


def test_a_full_disk(tmp_path: Path) -> None:
    """When a write fails (RLIMIT_FSIZE, setrlimit(2)) nothing has changed and nothing is left about."""
    content = fresh(tmp_path / "content")
    done = kills.run(kills.python(FULL, str(content)))
    assert done.stdout.replace(str(content), "CONTENT") == (
        "CONTENT/.journal/1: error records-not-written: File too large\n"
        "    hint: make room on the disk and run again; what was there before is untouched\n"
    ), done.stderr
    assert records(content) == OLD
    assert kills.names(content) == ["lots", "tags.csv"]


@needs_tracer
def test_an_error_once_decided(tmp_path: Path) -> None:
    """If the disk fails after the change was decided, the message says that it will be finished, and it is."""
    content = fresh(tmp_path / "content")
    told = (
        "import sys\n"
        "def tell(kind, error, trace):\n"
        "    from passport.problems import in_words\n"
        "    print(in_words(error.problems[0]))\n"
        "sys.excepthook = tell\n"
    )
    fault = "inject=rename:error=ENOSPC:when=2+"  # the first one decides
    command = kills.python(told + PROGRAM, str(content))
    done = kills.run([kills.STRACE, "-qq", "-o", str(tmp_path / "log"), "-e", "trace=rename", "-e", fault, *command])
    assert done.stdout.replace(str(content), "CONTENT") == (
        "CONTENT/.journal/0: error records-half-done: the change is noted but could not be finished: "
        "No space left on device\n"
        "    hint: mend the cause and run any command: it finishes this change; do not give the order again\n"
    ), done.stderr
    assert pending(content)
    assert recover(content)
    assert records(content) == NEW
