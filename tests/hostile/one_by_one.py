"""Runs commands many times, each time stopped at another step: before a call that changes files.

A program of its own, told by JSON on standard input: `root` (this project) and `jobs`, each with `template` (a folder
as it was before), `work` (where copies go), `args` (of the command), and `hows`: "kill" or the name of an errno, each
with two numbers (which steps: the first and every how-manieth, and how many at the end). For each job it answers with
a mapping from each how, and from "whole" for the run that is not stopped, to a list, a run an entry: which step, the
call there, how it ended, and what was printed.

The modules are loaded once and each run is a fork. Calls are met through CPython's audit events, which come before
the call, and by standing in for the few that have none (write, fsync, syncfs, renameat2).
"""

from __future__ import annotations

import contextlib
import errno
import importlib
import io
import json
import os
import shutil
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

CHANGING = {
    "os.mkdir", "os.rmdir", "os.remove", "os.rename", "os.link", "os.symlink", "os.chmod", "os.utime", "os.truncate",
}  # fmt: skip
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC


class Watch:
    """Counts calls below a folder and stops the run at one of them, or at none."""

    def __init__(self, folder: Path, stop: int, how: str) -> None:
        self.folder, self.stop, self.how = str(folder), stop, how
        self.met: list[str] = []
        self.off = False

    def step(self, call: str, path: str = "") -> None:
        """One call is about to be made."""
        if self.off:
            return
        self.met.append(call)
        if len(self.met) <= self.stop or self.stop < 0:
            return
        if self.how == "kill":
            report({"step": self.stop, "call": call})
            os.killpg(0, signal.SIGKILL)
        number = getattr(errno, self.how)
        raise OSError(number, os.strerror(number), path or None)

    def event(self, name: str, args: tuple[Any, ...]) -> None:
        """An audit event (PEP 578)."""
        if name == "open":
            path, _, flags = args
            if isinstance(flags, int) and flags & WRITING and str(path).startswith(self.folder):
                self.step("open", str(path))
        elif name in CHANGING and str(args[0]).startswith(self.folder):
            self.step(name, str(args[0]))

    def instead(self, place: Any, name: str) -> None:
        """Meet a call that has no audit event."""
        real: Callable[..., Any] = getattr(place, name)

        def met(*args: Any, **options: Any) -> Any:
            self.step(name, str(args[0]) if name in ("sync_disk", "exchange") else "")
            return real(*args, **options)

        setattr(place, name, met)


def report(what: dict[str, Any]) -> None:
    """One line for the parent."""
    REAL_WRITE(PIPE, (json.dumps(what) + "\n").encode())


REAL_WRITE = os.write
PIPE = -1


def child(args: list[str], folder: Path, stop: int, how: str) -> None:
    """One run, in a process group of its own."""
    os.setpgid(0, 0)
    from passport import disk  # noqa: PLC0415
    from passport.commands.main import passport  # noqa: PLC0415

    watch = Watch(folder, stop, how)
    for place, name in ((os, "write"), (os, "fsync"), (disk, "sync_disk"), (disk, "exchange")):
        watch.instead(place, name)
    sys.addaudithook(watch.event)
    out = io.StringIO()
    code: object = None
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        try:
            passport([*args, "--folder", str(folder)], prog_name="passport")
        except SystemExit as ended:
            code = ended.code
        except BaseException as slip:  # noqa: BLE001 - a traceback is what the test looks for
            code = f"traceback: {slip!r}"
    watch.off = True
    report(
        {"step": stop, "call": watch.met[-1] if watch.met else "", "code": code, "said": out.getvalue()}
        | {"all": watch.met}
    )


def one(told: dict[str, Any], how: str, stop: int) -> dict[str, Any]:
    """Fork, run, and hear how it ended."""
    global PIPE
    folder = Path(told["work"]) / f"{how}{stop}"
    shutil.copytree(told["template"], folder, symlinks=True)
    ear, PIPE = os.pipe()
    number = os.fork()
    if number == 0:
        os.close(ear)
        child(told["args"], folder, stop, how)
        os._exit(0)
    os.close(PIPE)
    with os.fdopen(ear, encoding="utf-8") as heard:
        lines = heard.read().splitlines()
    _, status = os.waitpid(number, 0)
    return json.loads(lines[-1]) | {"killed": os.WIFSIGNALED(status)}


def job(told: dict[str, Any]) -> dict[str, list[dict[str, Any]]]:
    """All runs of a command: first one that is not stopped, to know the calls."""
    whole = one(told, "whole", -1)
    count, found = len(whole["all"]), {"whole": [whole]}
    for how, (spread, last) in told["hows"].items():
        chosen = sorted({*range(0, count, spread), *range(max(0, count - last), count)})
        found[how] = [one(told, how, step) for step in chosen]
    return found


def main() -> None:
    """Every job in its turn."""
    told = json.load(sys.stdin)
    sys.path.insert(0, told["root"])
    from passport.commands.main import MODULES  # noqa: PLC0415

    for name in sorted({task["args"][0] for task in told["jobs"]}):
        importlib.import_module(f"passport.commands.{MODULES.get(name, name)}")
    for name in ("office.stages", "pages.plan", "tags.sheet", "tags.readback", "writing"):
        importlib.import_module(f"passport.{name}")
    print(json.dumps([job(task) for task in told["jobs"]]))  # noqa: T201 - its answer


if __name__ == "__main__":
    main()
