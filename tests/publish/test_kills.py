"""A kill at any moment leaves the old site or the new one (rename(2), renameat2 in the Linux manual)."""

from __future__ import annotations

import os
import random
import subprocess
import threading
import time
from pathlib import Path

import kills
import pytest

from passport.publish import PlannedFile, publish

OLD = {
    "T/A/index.html": b"<p>old A",
    "T/B/index.html": b"<p>B, the same",
    "gone/old.txt": b"gone",
    "index.html": b"<p>old home",
    "turns": b"a file that becomes a folder",
    "was/a/folder.txt": b"a folder that becomes a file",
}
NEW = {
    "T/A/index.html": b"<p>new A",
    "T/B/index.html": b"<p>B, the same",
    "T/C/index.html": b"<p>new C",
    "index.html": b"<p>new home",
    "turns/inside.txt": b"a folder now",
    "was/a": b"a file now",
}
PROGRAM = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.publish import PlannedFile, publish
plan = eval(sys.argv[3])
publish([PlannedFile(*item) for item in plan.items()], Path(sys.argv[2]), may_shrink=True,
        exchange=sys.argv[4] == "exchange")
"""

needs_tracer = pytest.mark.skipif(kills.STRACE is None, reason=kills.WHY_SKIPPED)


def put(site: Path, files: dict[str, bytes], *, exchange: bool = True) -> None:
    """Publish in this process, whole."""
    publish([PlannedFile(*item) for item in files.items()], site, may_shrink=True, exchange=exchange)


def fresh(folder: Path, old: dict[str, bytes] | None) -> Path:
    """A folder that holds nothing but the old site, if there is one."""
    folder.mkdir()
    if old is not None:
        put(folder / "site", old)
    return folder / "site"


def expected(files: dict[str, bytes], scratch: Path) -> dict[str, str]:
    """The tree that a publication into an empty place gives."""
    put(scratch, files)
    return kills.tree(scratch)


def command(site: Path, how: str) -> list[str]:
    """A program of its own that publishes the new site, to be killed."""
    return kills.python(PROGRAM, str(site), repr(NEW), how)


@needs_tracer
@pytest.mark.parametrize("old", [OLD, None], ids=["over an old site", "first time"])
def test_exchange_survives_a_kill_before_every_call(tmp_path: Path, old: dict[str, bytes] | None) -> None:
    """Killed before any call that changes files, the site is the old or the new one, and a rerun mends all."""
    before = {} if old is None else expected(old, tmp_path / "before")
    after = expected(NEW, tmp_path / "after")
    first = fresh(tmp_path / "traced", old)
    calls = kills.changing_calls(command(first, "exchange"), first.parent, tmp_path / "log")
    assert len(calls) > 20
    seen = set()
    for number, call in enumerate(calls):
        site = fresh(tmp_path / str(number), old)
        kills.kill_before(command(site, "exchange"), call)
        met = kills.tree(site)
        assert met in (before, after), call
        seen.add(met == after)
        put(site, NEW)
        assert kills.tree(site) == after, call
        assert kills.names(site.parent) == ["site"], call
    assert seen == {True, False}


@needs_tracer
def test_journal_survives_a_kill_before_every_call(tmp_path: Path) -> None:
    """Without exchange each file is whole at any kill, and the next run finishes what was begun."""
    before, after = expected(OLD, tmp_path / "before"), expected(NEW, tmp_path / "after")
    first = fresh(tmp_path / "traced", OLD)
    calls = kills.changing_calls(command(first, "journal"), first.parent, tmp_path / "log")
    assert any(name == "unlink" for name, _ in calls)
    for number, call in enumerate(calls):
        site = fresh(tmp_path / str(number), OLD)
        kills.kill_before(command(site, "journal"), call)
        for path, digest in kills.tree(site).items():
            assert digest in (before.get(path), after.get(path)), (call, path)
        decided = (site.parent / ".site.journal").exists()
        put(site, NEW if decided else OLD, exchange=bool(number % 2))
        assert kills.tree(site) == (after if decided else kills.tree(tmp_path / "before")), call
        assert kills.names(site.parent) == ["site"], call


@needs_tracer
def test_a_decided_journal_is_finished_before_anything_else(tmp_path: Path) -> None:
    """A run that refuses its own plan has still finished the run before it."""
    site = fresh(tmp_path / "killed", OLD)
    calls = kills.changing_calls(command(fresh(tmp_path / "x", OLD), "journal"), tmp_path / "x", tmp_path / "log")
    into_place = [call for call in calls if call[0] == "rename"]
    kills.kill_before(command(site, "journal"), into_place[2])
    with pytest.raises(Exception, match="cannot be the path of a file of the site"):
        put(site, {"../x": b""})
    assert kills.tree(site) == expected(NEW, tmp_path / "after")


@needs_tracer
def test_a_disk_that_cannot_exchange_falls_back(tmp_path: Path) -> None:
    """EINVAL from renameat2 (what a file system without support answers) still ends in the new site."""
    site = fresh(tmp_path / "a", OLD)
    lines = kills.trace(command(site, "exchange"), tmp_path / "log", "-e", "inject=renameat2:error=EINVAL")
    assert any("renameat2" in line and "EINVAL" in line for line in lines)
    assert kills.tree(site) == expected(NEW, tmp_path / "after")
    assert kills.names(site.parent) == ["site"]


@needs_tracer
def test_a_disk_without_hard_links(tmp_path: Path) -> None:
    """EPERM from link (what such disks answer, link(2)): the unchanged file is copied, with its time."""
    site = fresh(tmp_path / "a", OLD)
    before = (site / "T/B/index.html").stat()
    lines = kills.trace(command(site, "exchange"), tmp_path / "log", "-e", "inject=link,linkat:error=EPERM")
    assert any(line.startswith("link") and "EPERM" in line for line in lines)
    assert kills.tree(site) == expected(NEW, tmp_path / "after")
    after = (site / "T/B/index.html").stat()
    assert (after.st_mtime_ns, after.st_mode) == (before.st_mtime_ns, before.st_mode)


@needs_tracer
@pytest.mark.parametrize("call", ["syncfs", "renameat2", "write"])
def test_a_disk_that_fails_at_the_last_moment(tmp_path: Path, call: str) -> None:
    """EIO from syncing, exchanging or writing leaves the old site, and nothing beside it."""
    site = fresh(tmp_path / "a", OLD)
    fault = f"inject={call}:error=EIO"
    done = kills.run(
        [str(kills.STRACE), "-qq", "-o", os.devnull, "-e", f"trace={call}", "-e", fault, *command(site, "exchange")]
    )
    assert done.returncode != 0, done
    assert kills.tree(site) == expected(OLD, tmp_path / "before")
    assert kills.names(site.parent) == ["site"]


@needs_tracer
def test_the_disk_is_synced_before_the_swap(tmp_path: Path) -> None:
    """Everything is on the disk before the folders change places, and their names after it (fsync(2))."""
    site = fresh(tmp_path / "a", OLD)
    names = [line.partition("(")[0] for line in kills.trace(command(site, "exchange"), tmp_path / "log")]
    swap = names.index("renameat2")
    last_written = max(number for number, name in enumerate(names[:swap]) if name in ("write", "link"))
    assert names.index("syncfs") > last_written
    assert names[names.index("syncfs") : swap] == ["syncfs", "openat", "fsync"]
    assert "fsync" in names[swap:]


def test_random_kills(tmp_path: Path) -> None:
    """Killed at any time, with the whole process group, the site is the old or the new one."""
    before, after = expected(OLD, tmp_path / "before"), expected(NEW, tmp_path / "after")
    chance = random.Random(20260420)  # noqa: S311 - times to kill at, the same in each run
    for number in range(15):
        site = fresh(tmp_path / str(number), OLD)
        with subprocess.Popen(command(site, "exchange"), start_new_session=True) as running:
            time.sleep(chance.uniform(0.01, 0.12))
            running.kill()
        assert kills.tree(site) in (before, after)
        put(site, NEW)
        assert kills.tree(site) == after
        assert kills.names(site.parent) == ["site"]


def test_a_reader_never_finds_the_site_absent(tmp_path: Path) -> None:
    """A visitor who asks without pause finds the way in at every moment, and one site or the other."""
    site = fresh(tmp_path / "a", OLD)
    met: list[bytes | None] = []
    done = threading.Event()

    def read() -> None:
        while not done.is_set():
            try:
                met.append((site / "index.html").read_bytes())
            except OSError:
                met.append(None)

    reader = threading.Thread(target=read)
    reader.start()
    for number in range(30):
        put(site, OLD if number % 2 else NEW)
    done.set()
    reader.join()
    assert set(met) == {OLD["index.html"], NEW["index.html"]}
