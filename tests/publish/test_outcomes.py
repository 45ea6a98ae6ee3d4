"""What a publication writes, keeps and removes."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import kills
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passport.disk import Refused
from passport.problems import in_words
from passport.publish import LIST_NAME, Outcome, PlannedFile, publish

SITE = {"index.html": b"<p>home", "T/A/index.html": b"<p>A", "style.css": b"p{}"}


def plan(files: dict[str, bytes]) -> list[PlannedFile]:
    """The files as publishing takes them."""
    return [PlannedFile(*item) for item in files.items()]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site that was published."""
    publish(plan(SITE), tmp_path / "site")
    return tmp_path / "site"


def test_first_time_writes_all(tmp_path: Path) -> None:
    """Everything planned is written, and a list of it."""
    outcome = publish(plan(SITE), tmp_path / "site")
    assert outcome == Outcome(written=(*SITE, LIST_NAME))
    assert {path: (tmp_path / "site" / path).read_bytes() for path in SITE} == SITE


@pytest.mark.parametrize("exchange", [True, False])
def test_second_time_writes_nothing(site: Path, *, exchange: bool) -> None:
    """From the same plan nothing is touched: no inode, no time, no mode, not even of the folder around."""
    before = kills.states(site.parent)
    assert publish(plan(SITE), site, exchange=exchange) == Outcome(kept=3)
    assert kills.states(site.parent) == before


@pytest.mark.parametrize("exchange", [True, False])
def test_unchanged_files_are_left_alone(site: Path, *, exchange: bool) -> None:
    """When one file changes, the others are still the same files with the same times."""
    before = kills.states(site)
    outcome = publish(plan({**SITE, "style.css": b"p{color:red}"}), site, exchange=exchange)
    assert outcome == Outcome(written=("style.css", LIST_NAME), kept=2)
    after = kills.states(site)
    for path in ("index.html", "T/A/index.html"):
        assert after[str(site / path)][:2] == before[str(site / path)][:2]
    assert (site / "style.css").read_bytes() == b"p{color:red}"


@pytest.mark.parametrize("exchange", [True, False])
def test_what_is_not_planned_goes(site: Path, *, exchange: bool) -> None:
    """A file that is not planned any more is removed, with the folders that it leaves empty."""
    publish(plan({**SITE, "R/X/index.html": b"x"}), site)
    outcome = publish(plan(SITE), site, exchange=exchange)
    assert outcome == Outcome(written=(LIST_NAME,), removed=("R/X/index.html",), kept=3)
    assert not (site / "R").exists()


def test_content_is_judged_not_time(site: Path) -> None:
    """A file of the same size and time but other content is written anew."""
    style = site / "style.css"
    state = style.stat()
    style.write_bytes(b"q{}")
    os.utime(style, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert publish(plan(SITE), site).written == ("style.css", LIST_NAME)
    assert style.read_bytes() == b"p{}"


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o077])
@pytest.mark.skipif(os.name != "posix", reason="Windows has no such modes")
def test_everybody_may_read(tmp_path: Path, umask: int) -> None:
    """Files are 0644 and folders 0755 under any umask: a web server is another user."""
    before = os.umask(umask)
    try:
        publish(plan(SITE), tmp_path / "site")
    finally:
        os.umask(before)
    for path in [tmp_path / "site", *(tmp_path / "site").rglob("*")]:
        assert path.stat().st_mode & 0o777 == (0o755 if path.is_dir() else 0o644), path


def test_content_is_made_only_when_needed(site: Path) -> None:
    """A function is not called for a file that the disk holds already."""
    digest = PlannedFile("x", b"p{}").digest()

    def never() -> bytes:
        raise AssertionError

    planned = [PlannedFile("style.css", never, sha256=digest)]
    planned += [file for file in plan(SITE) if file.path != "style.css"]
    assert publish(planned, site) == Outcome(kept=3)


def test_a_damaged_cache_is_not_believed(site: Path) -> None:
    """Content with another hash than announced is refused, and the site stays as it was."""
    before = kills.states(site)
    with pytest.raises(Refused) as refused:
        publish([PlannedFile("style.css", lambda: b"other", sha256="0" * 64)], site)
    assert [in_words(problem) for problem in refused.value.problems] == [
        (
            'error site-wrong-hash: the content made for "style.css" is not the one that its hash announced\n'
            "    hint: throw the cache away and publish again"
        )
    ]
    assert kills.states(site) == before
    assert kills.names(site.parent) == ["site"]


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="GNU coreutils are not on this machine")
def test_the_list_is_what_sha256sum_reads(site: Path) -> None:
    """The list checks with the common program (GNU coreutils manual, sha2 utilities), and finds damage."""
    check = ["sha256sum", "--check", "--strict", "--quiet", LIST_NAME]
    assert subprocess.run(check, cwd=site, check=False, capture_output=True).returncode == 0
    (site / "style.css").write_bytes(b"damaged")
    assert subprocess.run(check, cwd=site, check=False, capture_output=True).returncode == 1


def test_the_list_is_sorted_and_says_what_it_is(site: Path) -> None:
    """The list begins with a comment, then one line a file, by path. Hashes: sha256sum of the same bytes."""
    assert (site / LIST_NAME).read_text() == (
        '# The files of this site. In this folder, "sha256sum -c files.sha256" checks them.\n'
        "951ee2fca37f447b2ea44660af8c9126c455255b29ecc0e6c93d18dc110da4d3  T/A/index.html\n"
        "68db1a4970c9e0cc29ab46abb64c517af96cc6935223fd737cf6c27077b036fb  index.html\n"
        "806db221261eade44c886da5317adb894822d146f0f69ed009e59cae83afcbd6  style.css\n"
    )


def test_progress_is_told(tmp_path: Path) -> None:
    """After each planned file, how many there were and which."""
    told: list[tuple[int, str]] = []
    publish(plan(SITE), tmp_path / "site", progress=lambda number, path: told.append((number, path)))
    assert told == [(1, "index.html"), (2, "T/A/index.html"), (3, "style.css")]


def test_an_error_while_planning_changes_nothing(site: Path) -> None:
    """If rendering fails half way, its error passes through; the site and the folder around are as before."""

    def failing():
        yield PlannedFile("index.html", b"<p>new")
        raise ZeroDivisionError

    before = kills.states(site)
    with pytest.raises(ZeroDivisionError):
        publish(failing(), site)
    assert kills.states(site) == before
    assert kills.names(site.parent) == ["site"]


def test_litter_of_desktops_is_no_obstacle(site: Path) -> None:
    """Files that a desktop drops into any folder it shows do not stop a publication."""
    (site / "T" / ".DS_Store").write_bytes(b"x")
    assert publish(plan({**SITE, "style.css": b""}), site).changed
    assert not (site / "T" / ".DS_Store").exists()


def test_memory_does_not_hold_contents(tmp_path: Path) -> None:
    """Contents are let go one by one: a plan of 200 MB passes through a process limited to far less."""
    code = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.publish import PlannedFile, publish
publish((PlannedFile(f"{n}.bin", bytes([n]) * 10_000_000) for n in range(20)), Path(sys.argv[2]))
status = Path("/proc/self/status").read_text()
print(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))
"""
    done = kills.run(kills.python(code, str(tmp_path / "site")))
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < 80_000  # kilobytes: the peak since this program began, proc(5)


PROGRAM = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.publish import PlannedFile, publish
publish((PlannedFile(p, p.encode()) for p in {"T/A/index.html", "T/B/index.html", "index.html", "é.txt"}),
        Path(sys.argv[2]))
"""


def test_same_bytes_whatever_the_surroundings(tmp_path: Path) -> None:
    """Hash seed, time zone, locale and umask leave no trace, nor does the order of the plan."""
    trees = []
    for number, surroundings in enumerate([("0", "UTC", "C"), ("7", "Asia/Tokyo", "tr_TR.UTF-8")]):
        seed, zone, locale = surroundings
        command = [part for part in kills.python(PROGRAM, str(tmp_path / str(number))) if part != "-I"]
        done = kills.run(command, env={"PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": locale}, umask=number * 0o77)
        assert done.returncode == 0, done.stderr
        trees.append(kills.tree(tmp_path / str(number)))
    assert trees[0] == trees[1]


NAMES = st.sampled_from(["a", "b", "c", "index.html", "é"])
PLANS = st.dictionaries(st.lists(NAMES, min_size=1, max_size=3).map("/".join), st.binary(max_size=3), max_size=6)


def consistent(files: dict[str, bytes]) -> bool:
    """Whether no file would have to be a folder as well."""
    return not any(other.startswith(path + "/") for path in files for other in files)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(PLANS.filter(consistent), st.booleans()), min_size=2, max_size=4))
def test_any_site_becomes_any_other(plans: list[tuple[dict[str, bytes], bool]]) -> None:
    """Whatever was published before, and by whichever way, afterwards exactly the plan is there."""
    with tempfile.TemporaryDirectory() as scratch:
        site = Path(scratch, "site")
        for files, exchange in plans:
            publish(plan(files), site, exchange=exchange)
            there = {path: (site / path).read_bytes() for path in kills.tree(site)}
            assert {path: text for path, text in there.items() if path != LIST_NAME} == files
            assert kills.names(Path(scratch)) == ["site"]
