"""Measures publishing: `python tests/bench/publishing.py 1000 SCRATCH-FOLDER [--short]`.

A made-up workshop of so many tags is published cold on one core, then after no edit and after one, and checked; it is
compared with the bare floor and with two cores, which --short leaves out. Seconds are of processor time (the machine
may be busy), but where two cores are compared; ratios are what counts.

The bare floor is a plain loop: it reads the same YAML, renders the same templates with ready values, makes the same
symbols and label pictures, and writes and syncs the same files. Working out what stands on a page is not in it.
"""

from __future__ import annotations

import os
import platform
import resource
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import workshops
import yaml

from passport import disk
from passport.office.stages import pictures_of, themed, worked_out
from passport.pages.plan import Site, leaves, parts
from passport.publish import Found
from passport.publish.making import Plan, Source

ROOT = Path(__file__).resolve().parents[2]
SAMPLED_S = 0.2


def say(line: str) -> None:
    """One line of the report, at once."""
    print(line, flush=True)  # noqa: T201 - a script for people


def plain_read(content: Path) -> float:
    """Processor seconds of reading every record with PyYAML's own C loader and nothing else."""
    start = time.process_time()
    for path in sorted(content.rglob("*.yaml")):
        yaml.load(path.read_bytes(), Loader=yaml.CSafeLoader)
    return time.process_time() - start


def proportional_mb(pid: int) -> float:
    """Memory of a process and all below it, shared pages shared out (PSS, proc(5))."""
    total, waiting = 0.0, [pid]
    while waiting:
        one = waiting.pop()
        try:
            lines = Path(f"/proc/{one}/smaps_rollup").read_text(encoding="ascii").splitlines()
            total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024
            waiting += [int(n) for n in Path(f"/proc/{one}/task/{one}/children").read_text(encoding="ascii").split()]
        except (OSError, ValueError):
            continue
    return total


def command(folder: Path, *words: str) -> tuple[float, float, float]:
    """Run `passport` in a folder: processor seconds of all its processes, wall seconds, peak memory in MB."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    before = children_cpu()
    start = time.perf_counter()
    run = subprocess.Popen(
        [sys.executable, "-m", "passport", *words], cwd=folder, env=environment, stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    peak = [0.0]

    def look() -> None:
        while run.poll() is None:
            peak[0] = max(peak[0], proportional_mb(run.pid))
            time.sleep(SAMPLED_S)

    watcher = threading.Thread(target=look)
    watcher.start()
    _, told = run.communicate()
    watcher.join()
    wall = time.perf_counter() - start
    cpu = children_cpu() - before
    last = told.strip().splitlines()[-1:] or [""]
    say(f"  passport {' '.join(words):28} {cpu:7.2f} s processor {wall:7.2f} s wall {peak[0]:5.0f} MB   {last[0]}")
    return cpu, wall, peak[0]


def source_of(folder: Path) -> Source:
    """A workshop, worked out."""
    book, _ = worked_out(folder, None)
    theme, _ = themed(folder, book.shop)
    pictures, _ = pictures_of(folder, book.shop)
    return Source(book, theme, pictures)


def floor(folder: Path, source: Source) -> dict[str, float]:
    """Processor seconds of the plain loop, by what it does."""
    spent = {"yaml": plain_read(folder / "content"), "render and labels": 0.0, "write": 0.0}
    out = folder / "floor"
    site = Site(source.book, source.theme, source.pictures)
    for part in parts(site):
        for leaf in leaves(site, part):  # the ready values: not in the floor
            start = time.process_time()
            content = leaf.made()
            made = time.process_time()
            path = out / leaf.path
            path.parent.mkdir(parents=True, exist_ok=True)
            disk.write_new(path, content)
            spent["render and labels"] += made - start
            spent["write"] += time.process_time() - made
    start = time.process_time()
    disk.sync_disk(out)
    spent["write"] += time.process_time() - start
    shutil.rmtree(out)
    return spent


def making(source: Source, cores: int) -> tuple[float, float]:
    """Seconds of making every file, none of them written: by the clock, and of the processor that has most to do.

    The helpers take parts as they become free, so each has its share of their time.
    """
    nothing = Found(there=False, files=frozenset(), listed={}, site=Path("nowhere"))
    start, own, theirs = time.perf_counter(), time.process_time(), children_cpu()
    for _ in Plan(source, cores=cores)(nothing):
        pass
    own, theirs = time.process_time() - own, children_cpu() - theirs
    return time.perf_counter() - start, max(own, theirs / cores)


def children_cpu() -> float:
    """Processor seconds of all processes that were begun here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def edit(content: Path) -> None:
    """Another colour for one lot, as a person would type it."""
    record = content / "lots" / "IN-00001.yaml"
    lines = record.read_text(encoding="utf-8").splitlines()
    record.write_text("\n".join(["colour: faded grey" if line.startswith("colour") else line for line in lines]) + "\n")


def main() -> None:
    """All measures of one size."""
    tags, folder = int(sys.argv[1]), Path(sys.argv[2])
    folder.mkdir(parents=True)
    records = workshops.write(workshops.workshop(tags), folder)
    machine = f"{platform.machine()}, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}"
    say(f"{tags} tags, {records} record files; {machine}")
    cold, _, memory = command(folder, "publish", "--cores", "1")
    say(f"memory, cold on one core: {memory:.0f} MB")
    again(folder)
    site = sum(path.stat().st_size for path in (folder / "site").rglob("*") if path.is_file())
    files = sum(path.is_file() for path in (folder / "site").rglob("*"))
    say(f"site: {files} files, {site / 1e6:.0f} MB")
    say(f"a tag: {files / tags:.1f} files, {site / tags / 1000:.0f} kB, {cold / tags * 1000:.1f} ms")
    if "--short" in sys.argv:
        return
    source = source_of(folder)
    bare = floor(folder, source)
    say("  bare floor: " + ", ".join(f"{name} {seconds:.2f} s" for name, seconds in bare.items()))
    say(f"cold on one core, of the bare floor: {cold / sum(bare.values()):.2f}")
    alone, together = making(source, 1), making(source, 2)
    for what, one, two in zip(("by the clock", "by processor time"), alone, together, strict=True):
        say(f"all files made, one core over two, {what}: {one / two:.2f} ({one:.1f} s, {two:.1f} s)")
    *_, memory = command(folder, "publish", "--cores", "2", "--afresh")
    say(f"memory, cold on two cores, all processes: {memory:.0f} MB")


def again(folder: Path) -> None:
    """After no edit and after one, against reading alone; and the check."""
    read = plain_read(folder / "content")
    none, *_ = command(folder, "publish", "--cores", "1")
    read = min(read, plain_read(folder / "content"))
    edit(folder / "content")
    one, *_ = command(folder, "publish", "--cores", "1")
    say(f"after no edit, of the plain YAML read ({read:.2f} s): {none / read:.2f}")
    say(f"after one edited record, of the plain YAML read: {one / read:.2f}")
    checked, *_ = command(folder, "check")
    say(f"check: {checked:.2f} s")


if __name__ == "__main__":
    main()
