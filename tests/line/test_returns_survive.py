"""A hand-back or a repair with its event that is killed leaves the records as they were, or whole.

The kills are those of tests/publish/kills.py: SIGKILL from the system-call tracer, before calls that change files.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
import returning
import yard
from returning import BOX, JAR, out

sys.path.insert(0, str(Path(__file__).parents[1] / "publish"))
import kills

from passport.reading.folder import read_shop
from passport.writing import recover

pytestmark = pytest.mark.skipif(kills.STRACE is None, reason=kills.WHY_SKIPPED)
RUN = """
import sys
sys.path.insert(0, sys.argv[1])
sys.argv = ["passport", *sys.argv[2:]]
from passport.commands.main import run
run()
"""
HANDBACK = ("handback", JAR, "--on", "2026-06-01", "--mass", "0.2", "--scale", "bench", "--into", "A", "--yes")
MEND = ("mend", BOX, "--on", "2026-06-01", "--part", "lid", "--from", "H", "--mass", "220g", "--old-mass", "200g",
        "--scale", "bench", "--yes")  # fmt: skip
WRITTEN = {
    HANDBACK: {"lots/CB-001.yaml", "lots/A-001.yaml"},
    MEND: {"runs/RP-001.yaml", "lots/OP-001.yaml"},
}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The yard with a jar and a box handed over; read it, do not change it."""
    folder = returning.make(tmp_path_factory.mktemp("survive") / "yard")
    out(folder, JAR, BOX)
    return folder


def command(folder: Path, order: tuple[str, ...]) -> list[str]:
    """The order as a process of its own."""
    return [sys.executable, "-B", "-c", RUN, str(kills.REPOSITORY), *order, "--folder", str(folder)]


@pytest.mark.parametrize("order", [HANDBACK, MEND], ids=["handback", "mend"])
def test_a_kill_leaves_the_records_whole_or_not_there(made: Path, tmp_path: Path, order: tuple[str, ...]) -> None:
    """Before the decision nothing of it is there; after it, with one file in place, all of it follows.

    The tests of writing kill before every call.
    """
    shutil.copytree(made, tmp_path / "whole")
    calls = kills.changing_calls(command(tmp_path / "whole", order), tmp_path / "whole", tmp_path / "log")
    before, after = yard.bytes_of(made), yard.bytes_of(tmp_path / "whole")
    assert set(after) - set(before) == WRITTEN[order]
    names = [call for call in calls if call[0] in ("rename", "renameat2", "link")]
    assert len(names) > len(WRITTEN[order])
    ends = []
    for number, call in enumerate(names[:2]):
        folder = tmp_path / str(number)
        shutil.copytree(made, folder)
        kills.kill_before(command(folder, order), call)
        recover(folder / "content")
        assert yard.bytes_of(folder) in (before, after), call
        ends.append(yard.bytes_of(folder) == after)
        assert not any(problem.level.value == "error" for problem in read_shop(folder / "content")[1]), call
    assert ends == [False, True]
