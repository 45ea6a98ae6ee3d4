"""Runs a program under the system-call tracer, and kills it before chosen calls that change files."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
STRACE = shutil.which("strace")
WHY_SKIPPED = "strace is not on this machine; CI has it"

# Each call of Linux that changes a file, a name or a folder, or brings them to the disk.
CHANGING = (
    "openat,write,pwrite64,ftruncate,mkdir,mkdirat,rmdir,unlink,unlinkat,rename,renameat,renameat2,"
    "link,linkat,symlink,chmod,fchmod,fchmodat,utimensat,fsync,fdatasync,syncfs,sync"
)
_CALL = re.compile(r"(?:\d+ +)?(\w+)\(")


def python(code: str, *arguments: str) -> list[str]:
    """A command that runs code with this project importable, and nothing else that is installed."""
    return [sys.executable, "-I", "-S", "-B", "-c", code, str(REPOSITORY), *arguments]


def run(command: list[str], **options) -> subprocess.CompletedProcess[str]:
    """Run to the end, with the output as text."""
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60, **options)


def trace(command: list[str], log: Path, *options: str) -> list[str]:
    """The calls of a run that change files, in order, each with the paths behind its handles."""
    done = run([STRACE, "-f", "-y", "-qq", "-o", str(log), "-e", f"trace={CHANGING}", *options, *command])
    assert done.returncode == 0, done.stderr
    return [_CALL.sub(r"\1(", line, count=1) for line in log.read_text().splitlines() if _CALL.match(line)]


def changing_calls(command: list[str], folder: Path, log: Path) -> list[tuple[str, int]]:
    """The calls that change something below a folder: name, and the how-manieth of that name in the run."""
    met: Counter[str] = Counter()
    found = []
    for line in trace(command, log):
        name = line.partition("(")[0]
        met[name] += 1
        if name in ("sync", "fsync", "write") or str(folder) in line:
            found += [(name, met[name])] if name != "openat" or "O_CREAT" in line else []
    return found


def kill_before(command: list[str], call: tuple[str, int]) -> None:
    """Run until just before one call; SIGKILL gives the program no chance to tidy up."""
    name, number = call
    injected = f"inject={name}:signal=KILL:when={number}"
    done = run([STRACE, "-f", "-qq", "-o", os.devnull, "-e", f"trace={name}", "-e", injected, *command])
    assert done.returncode in (-9, 137), f"not killed before {call}: {done.returncode} {done.stderr}"


def tree(folder: Path) -> dict[str, str]:
    """The hash of each file below a folder by its path; the whole truth about a site."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def states(folder: Path) -> dict[str, tuple[int, ...]]:
    """Inode, times and mode of everything below a folder, and of the folder: what "not touched" means."""
    return {
        str(path): (state.st_ino, state.st_mtime_ns, state.st_ctime_ns, state.st_mode, state.st_size)
        for path in [folder, *sorted(folder.rglob("*"))]
        for state in [path.lstat()]
    }


def names(folder: Path) -> list[str]:
    """What lies in a folder, to find what was left lying about."""
    return sorted(path.name for path in folder.iterdir())
