"""Killed, or met by a disk that fails, before any call that changes files, each command leaves all or nothing."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import kills
import pytest

from passport.writing import JOURNAL, recover

ROOT = Path(__file__).resolve().parents[2]
ON = ("--on", "2026-02-01")
YARD = {
    "workshop.yaml": (
        "name: Reedmouth Yard\nprefix: RY\naddress: https://pass.reedmouth-yard.ie\ncountry: IE\n"
        "scales:\n  floor: {step: 1 g, repeat: 1 g, bias: 1 g}\n"
    ),
    "streams/bay.yaml": "title: Bay\norigin: post-consumer\n",
    "lots/IN-001.yaml": "date: 2026-01-10\nreceived: {stream: bay}\nmass: 5 kg\nmoisture: 0 %\nsorted_as: PP\n",
    "products/pot.yaml": "title: Pot\nmade_for: Plants\n",
    "items/POT-001.yaml": (
        "date: 2026-01-20\nproduct: pot\ncount: 3\nmass: 1 kg each\noperation: mould\n"
        "draws: [{lot: IN-001, mass: 3 kg}]\n"
    ),
}
"""A small yard with a real-looking address (invented), since labels for example addresses are samples."""


def yard(folder: Path) -> Path:
    """The records, before any command."""
    for path, text in YARD.items():
        target = folder / "content" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
    return folder


def run(cli, folder: Path, *args: str) -> str:
    """A command that ends well."""
    done = cli(*args, "--folder", folder)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def issued(tmp_path_factory, cli) -> Path:
    """The yard after its three pots got their numbers and two went out."""
    folder = yard(tmp_path_factory.mktemp("issued"))
    run(cli, folder, "tag", "POT-001", *ON)
    run(cli, folder, "event", "handed-over", *tags_of(folder)[:2], "--on", "2026-02-02", "--yes")
    return folder


@pytest.fixture(scope="module")
def changed(issued: Path, tmp_path_factory, cli) -> Path:
    """The same with its site, and a record that changed since."""
    folder = tmp_path_factory.mktemp("changed") / "yard"
    shutil.copytree(issued, folder)
    run(cli, folder, "publish")
    (folder / "content/products/pot.yaml").write_text("title: Flower pot\nmade_for: Plants\n", encoding="utf-8")
    return folder


def tags_of(folder: Path) -> list[str]:
    """Numbers in the list."""
    return [line.split(",")[0] for line in (folder / "content/tags-issued.csv").read_text().splitlines()[1:]]


COMMANDS = {
    "tag": ["tag", "POT-001", "--on", "2026-02-01"],
    "event": ["event", "put-up", "{0}", "--on", "2026-03-01", "--place", "allotments", "--yes"],
    "handback": ["handback", "{0}", "--on", "2026-03-02", "--mass", "0.9 kg", "--yes"],
    "receive": ["receive", "--stream", "bay", "--mass", "4 kg", "--on", "2026-03-03", "--quick", "--yes"],
    "correct": ["correct", "IN-001", "mass", "5.1 kg", "--because", "misread", "--on", "2026-03-04", "--yes"],
    "recall": ["recall", "IN-001", "--reason", "Found lead", "--on", "2026-03-05", "--yes"],
    "run": [
        *("run", "--operation", "sort", "--on", "2026-03-06", "--draw", "IN-001=1.5 kg", "--yes"),
        *("--result", "HD-001=1 kg,sorted_as=PE-HD", "--result", "RJ-001=0.5 kg"),
    ],
    "import": ["import", "lots", "{table}", "--yes"],
    "labels": ["labels", "--on", "2026-02-03"],
    "publish": ["publish"],
}
"""Those that write. The deposit is killed at every call in tests/deposit/."""
WORDS = {"ENOSPC": "No space left on device", "EROFS": "Read-only file system"}
EVERY = os.environ.get("PASSPORT_EVERY_STEP") == "1"
"""Set to 1 to stop at every call, which takes many minutes; else at some, and at the last, which decide."""
SLOW = frozenset({"labels", "publish"})
"""They draw or render before they write."""


@pytest.fixture(scope="module")
def stopped(issued: Path, changed: Path, tmp_path_factory) -> dict[str, tuple[Path, Path, dict[str, list[dict]]]]:
    """By command: the folder before, the folder of all runs, and how each run ended, by fault."""
    work = tmp_path_factory.mktemp("work")
    templates = {"tag": yard(work / "before"), "publish": changed}
    table = work / "sacks.csv"
    table.write_text("id,date,stream,mass\nIN-002,2026-03-07,bay,4 kg\nIN-003,2026-03-08,bay,6 kg\n", encoding="utf-8")
    jobs = []
    for name, args in COMMANDS.items():
        template = templates.get(name, issued)
        said = args if name == "tag" else [arg.format(*tags_of(template), table=table) for arg in args]
        spread = 1 if EVERY else 10_000 if name in SLOW else 9
        last = 1 if name in SLOW else 2
        hows = {"kill": (spread, last + 1), "ENOSPC": (spread, last), "EROFS": (10_000, 0)}
        jobs.append({"template": str(template), "work": str(work / name), "args": said, "hows": hows})
    done = subprocess.run(
        [sys.executable, "-B", str(Path(__file__).with_name("one_by_one.py"))],
        input=json.dumps({"root": str(ROOT), "jobs": jobs}),
        capture_output=True, text=True, check=False, env=os.environ | {"OMP_NUM_THREADS": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = {}
    for job, runs in zip(jobs, json.loads(done.stdout), strict=True):
        assert runs["whole"][0]["code"] == 0, runs["whole"]
        assert all(runs.values()), job
        found[job["args"][0]] = (Path(job["template"]), Path(job["work"]), runs)
    return found


def records(folder: Path) -> dict[str, str]:
    """Every record outside the journal."""
    return {path: sha for path, sha in kills.tree(folder / "content").items() if JOURNAL not in path.split("/")}


def beside(folder: Path) -> dict[str, str]:
    """What a command made beside content/ and site/, but for what only the program keeps for itself."""
    found = kills.tree(folder)
    kept = {path: sha for path, sha in found.items() if path.split("/")[0] not in ("content", "site")}
    return {path: sha for path, sha in kept.items() if not any(part.startswith(".") for part in path.split("/"))}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_kill_before_a_call(name: str, stopped) -> None:
    """Old records or new ones, whole, with every line of the lists; the old site or the new; sheets whole or absent."""
    template, work, runs = stopped[name]
    whole = work / "whole-1"
    old, new, made = records(template), records(whole), beside(whole)
    sites = (kills.tree(template / "site"), kills.tree(whole / "site"))
    assert (new, made, sites[1]) != (old, beside(template), sites[0])
    for one in runs["kill"]:
        assert one["killed"], one
        folder = work / f"kill{one['step']}"
        for path, sha in records(folder).items():
            assert sha in (old.get(path), new.get(path)), (one, path)
        recover(folder / "content")
        assert records(folder) in (old, new), one
        assert beside(folder).items() <= made.items(), one
        assert kills.tree(folder / "site") in sites, one


@pytest.mark.parametrize("how", WORDS)
@pytest.mark.parametrize("name", COMMANDS)
def test_a_disk_that_fails(name: str, how: str, stopped) -> None:
    """A full or read-only disk, from any call on: exit code 1 and words, no traceback, all or nothing."""
    template, work, runs = stopped[name]
    old, new = records(template), records(work / "whole-1")
    sites = (kills.tree(template / "site"), kills.tree(work / "whole-1" / "site"))
    for one in runs[how]:
        folder = work / f"{how}{one['step']}"
        recovered = recover(folder / "content")
        assert kills.tree(folder / "site") in sites, one
        if one["code"] == 0:  # it failed while tidying up: the work itself is done
            assert (records(folder), kills.tree(folder / "site")) == (new, sites[1]), one
            continue
        assert one["code"] == 1, one
        assert WORDS[how] in one["said"], one
        assert records(folder) in (old, new), one
        if "records-half-done" in one["said"]:
            assert recovered, one
            assert records(folder) == new, one
        if how == "EROFS":
            assert (records(folder), kills.tree(folder / "site")) == (old, sites[0]), one


def test_numbers_issued_at_once(tmp_path: Path) -> None:
    """Five runs that issue numbers at the same moment wait for one another: every number once, every seal right."""
    folder = yard(tmp_path)
    batch = folder / "content/items/POT-001.yaml"
    batch.write_text(batch.read_text().replace("count: 3", "count: 5").replace("mass: 1 kg", "mass: 0.6 kg"))
    command = [sys.executable, "-m", "passport", "tag", "POT-001", "--count", "1", *ON, "--folder", str(folder)]
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    running = [
        subprocess.Popen(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) for _ in range(5)
    ]
    printed = sorted(process.communicate()[0].strip() for process in running)
    assert [process.returncode for process in running] == [0] * 5
    assert printed == tags_of(folder)
    from passport.reading.tag_lists import read_issued  # noqa: PLC0415

    entries, problems = read_issued((folder / "content/tags-issued.csv").read_text(), "list")
    assert problems == ()
    assert sorted(entry.piece for entry in entries) == [1, 2, 3, 4, 5]
