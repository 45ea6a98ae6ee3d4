"""Laws of the reader: ids come back, order is irrelevant, no bytes whatever make it fall over."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from unpacking import good_files, unpack, words_of

from passport.amounts import NotAQuantity
from passport.problems import Problem, in_words
from passport.reading.fields import read_id
from passport.reading.folder import read_shop
from passport.reading.marked import Source, decoded, read_tree

RECORD = "date: 2026-04-12\nreceived: {stream: harbour-crates}\nmass: 31.2 kg\n"
GOOD_TEXTS = [body for name, (_, body) in good_files().items() if name.endswith(".yaml")]
SURPRISING = ["0012", "1E3", "NO", "2024-01-05", "0X1F", "TRUE", "NULL", "010", "ON"]
"""Plain words that YAML 1.1 or 1.2 turn into something else (YAML 1.1 type repository; YAML 1.2.2, ch. 10.3.2)."""

ids = st.from_regex(r"[A-Z0-9]{1,8}(-[A-Z0-9]{1,8}){0,3}", fullmatch=True)


def with_lot(name: str, folder: Path) -> Path:
    """The good folder with one more lot, and one that draws on it by name."""
    drawing = f"date: 2026-04-20\noperation: shred\ndraws: [{{lot: {name}, mass: 9 kg}}]\nmass: 9 kg\n"
    more = {f"content/lots/{name}.yaml": ("", RECORD), "content/lots/DRAWS-ON-IT.yaml": ("", drawing)}
    return unpack(good_files() | more, folder)


@pytest.mark.parametrize("name", SURPRISING)
def test_a_surprising_id_stays_what_was_written(name: str, tmp_path: Path) -> None:
    """A lot named like a number, a date or a truth value keeps its name, as record and as reference."""
    shop, problems = read_shop(with_lot(name, tmp_path))
    assert problems == ()
    assert shop is not None
    assert shop.lots[name].id == name
    assert shop.lots["DRAWS-ON-IT"].draws[0].lot == name


@given(ids)
@settings(max_examples=25, deadline=None)
def test_any_accepted_id_comes_back(name: str) -> None:
    """Whatever id the reader accepts is found under that very id, and as the target of a draw."""
    try:
        accepted = read_id(name)
    except NotAQuantity:
        return
    with tempfile.TemporaryDirectory() as folder:
        shop, problems = read_shop(with_lot(name, Path(folder)))
    clash = accepted in {"IN-1", "BAR-1", "PL-1", "DRAWS-ON-IT"}
    assert shop is not None
    assert clash or (problems == () and shop.lots["DRAWS-ON-IT"].draws[0].lot == accepted)


@given(st.text(max_size=45))
def test_an_accepted_id_cannot_leave_its_folder(text: str) -> None:
    """An accepted id has only A to Z, digits and hyphens, and reading it again changes nothing."""
    try:
        name = read_id(text)
    except NotAQuantity:
        return
    assert set(name) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-")
    assert 1 <= len(name) <= 40
    assert read_id(name) == name


flips = st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), min_size=1, max_size=6)


@given(st.sampled_from(GOOD_TEXTS), flips)
@settings(max_examples=300, deadline=None)
def test_flipped_bytes_never_raise(text: str, changes: list[tuple[int, int]]) -> None:
    """A good file with bytes overwritten gives a tree or problems with words, never an exception."""
    data = bytearray(text.encode())
    for where, byte in changes:
        data[where % len(data)] = byte
    source = decoded("content/lots/X.yaml", bytes(data))
    problems = (source,) if isinstance(source, Problem) else read_tree(source)[1]
    assert all(in_words(problem) for problem in problems)


@given(st.sampled_from([name for name in good_files() if name.endswith((".yaml", ".csv"))]), flips)
@settings(max_examples=60, deadline=None)
def test_a_damaged_file_never_raises(name: str, changes: list[tuple[int, int]]) -> None:
    """A whole folder with one damaged file is read to the end: each problem has words and a file."""
    files = good_files()
    with tempfile.TemporaryDirectory() as folder:
        content = unpack(files, Path(folder))
        path = Path(folder) / name
        data = bytearray(path.read_bytes())
        for where, byte in changes:
            data[where % len(data)] = byte
        path.write_bytes(data)
        _, problems = read_shop(content)
    assert all(problem.place.file and problem.message for problem in problems)


def test_the_order_in_which_a_disk_lists_files_is_irrelevant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same records in another order of listing give the same shop and the same words."""
    content = with_lot("IN-9", tmp_path)
    (content / "lots" / "SH-9.yaml").write_text("date: 2026-13-01\nmass: 3\n", encoding="utf-8")
    shop, problems = read_shop(content)
    listed = Path.iterdir
    monkeypatch.setattr(Path, "iterdir", lambda self: iter(sorted(listed(self), reverse=True)))
    assert read_shop(content) == (shop, problems)


def test_the_same_folder_under_another_path_reads_alike(tmp_path: Path) -> None:
    """No path of the machine gets into records or words."""
    first = with_lot("IN-9", tmp_path / "one")
    second = shutil.copytree(first, tmp_path / "another place" / "content")
    assert read_shop(first) == read_shop(second)


BOMB = "\n".join(
    ["a: &a [" + ", ".join(["x"] * 9) + "]"]
    + [f"{n}: &{n} [" + ", ".join([f"*{p}"] * 9) + "]" for p, n in zip("abcdefgh", "bcdefghi", strict=True)]
)
"""Nine levels of nine: 387 million values for a reader that follows aliases (CWE-776)."""

HOSTILE = {
    "nested-lists": "a: " + "[" * 5000,
    "nested-lists-closed": "a: " + "[" * 5000 + "]" * 5000,
    "nested-fields": "a: " + "{a: " * 5000 + "1" + "}" * 5000,
    "nested-lines": "\n".join(" " * n + "a:" for n in range(900)),
    "nested-hyphens": "- " * 5000,
    "alias-bomb": BOMB,
    "long-line": "notes: " + "x" * 990_000,
    "long-name": "x" * 900_000 + ": 1",
    "long-digits": "mass: " + "9" * 900_000 + " kg",
    "long-blanks": "mass: 1" + " " * 900_000 + "kgx",
    "long-id": "run: " + "A-" * 400_000,
    "many-fields": "\n".join(f"f{n}: 1" for n in range(20_000)),
    "many-lines-twice": "a: 1\n" * 30_000,
    "many-draws": "date: 2026-04-12\noperation: shred\nmass: 1 kg\ndraws:\n" + "- {lot: Q}\n" * 20_000,
    "many-unknown": "date: 2026-04-12\noperation: x\nmass: 1 kg\ndraws:\n" + "- {lot: Q, mass: 1 g}\n" * 10_000,
    "many-bangs": "notes: " + "! & * %" * 50_000,
    "many-quotes": '"' * 500_000,
    "one-megabyte-more": "x" * 1_000_001,
    "question-marks": "? " * 5000,
    "separators": "a: b\u2028c: d\n",
}
SECONDS = 20
"""Far more than any of them takes, far less than a hang; the machine may be busy."""


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_text_is_refused_quickly(name: str, tmp_path: Path) -> None:
    """Text made to exhaust a reader gives a few short lines of words within seconds."""
    content = unpack(good_files() | {"content/lots/IN-2.yaml": ("", HOSTILE[name])}, tmp_path)
    began = time.monotonic()
    said = words_of(content)
    assert time.monotonic() - began < SECONDS
    assert said.startswith("content/lots/IN-2.yaml") or name == "many-unknown"
    assert max(len(line) for line in said.splitlines()) < 2_000


def test_many_bad_events_are_not_all_told(tmp_path: Path) -> None:
    """After fifty bad events of one file the reader stops: nobody reads more, and time is bounded."""
    content = unpack(good_files() | {"content/events/2027.yaml": ("", "- {event: xyz}\n" * 20_000)}, tmp_path)
    began = time.monotonic()
    _, problems = read_shop(content)
    assert time.monotonic() - began < SECONDS
    assert 50 <= len(problems) <= 60


@pytest.mark.parametrize(("depth", "codes"), [(12, []), (13, ["too-deep"])])
def test_allowed_depth(depth: int, codes: list[str]) -> None:
    """Values may be nested as deep as records need, and no deeper."""
    _, problems = read_tree(Source("x.yaml", "a: " + "[" * depth + "]" * depth))
    assert [problem.code for problem in problems] == codes


@pytest.mark.skipif(sys.platform != "linux", reason="the limit on a process's memory is set the Linux way")
@pytest.mark.parametrize("name", ["alias-bomb", "nested-lists", "many-quotes"])
def test_hostile_text_stays_in_little_memory(name: str) -> None:
    """A reader that may have 600 MB of addresses refuses the text instead of dying of it."""
    program = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (600_000_000,) * 2)\n"
        "from passport.reading.marked import Source, read_tree\n"
        "from passport.reading.decode import record_from\n"
        "from passport.reading.records import Lot\n"
        "source = Source('x.yaml', sys.stdin.read())\n"
        "tree, problems = read_tree(source)\n"
        "print(len(problems or record_from(Lot, tree, source, lineage={'id': 'X'})[1]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], input=HOSTILE[name], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.stderr == ""
    assert int(done.stdout) > 0
