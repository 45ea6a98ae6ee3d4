"""Whether there is anything to publish at all: the same program, records and theme, and a site that is as it was left.

Both sides are judged by their bytes: each file of content/ and theme/ is hashed, and each file of site/. Sizes and
times would be quicker and could be wrong; a person who edited or deleted a page by hand gets it back.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from passport import disk, writing
from passport.kept.box import Boxes
from passport.kept.prints import inputs_print, program_print
from passport.office import desk
from passport.publish.cores import cores_here
from passport.publish.found import LIST_NAME, Found, holds, look_at

WORTH_SHARING = 2000
"""Fewer files than this are looked at sooner than another process is started."""


class Run:
    """One publication: where, for which day, on how many cores, and what was kept from the last one."""

    def __init__(self, folder: Path, at: date | None, cores: int | None) -> None:
        self.top = folder.resolve()
        self.at = at
        self.cores = cores or cores_here()
        self.boxes = Boxes(self.top, program_print())
        self.files = 0
        """How many files the site has, where nothing is to be done."""

    @property
    def site(self) -> Path:
        """The folder of the site."""
        return self.top / "site"

    def inputs(self) -> str:
        """The print of all that the site is made from, as it lies on the disk."""
        return inputs_print([self.top / "content", self.top / "theme"], self.at)


def unchanged(run: Run) -> int | None:
    """The number of doubts on the pages if there is nothing to do, else None. Raises `Refused`, as publishing does."""
    last = run.boxes.load("publication")
    content = run.top / "content"
    if not last or not content.is_dir() or not run.site.is_dir() or disk.kind_of(content / writing.JOURNAL):
        return None
    with writing.steady(content, say=desk.say):
        if run.inputs() != last["inputs"]:
            return None
    with disk.locked(run.top, say=desk.say), disk.worded("site-not-read", run.site):
        if _left_over(run.site) or not _as_listed(run, last["list"]):
            return None
    return int(last["doubts"])


def _left_over(site: Path) -> bool:
    """Whether a run was cut short: what it left is cleared away by a whole one."""
    return any(disk.kind_of(site.with_name(f".{site.name}.{what}")) for what in ("next", "journal", "journal.part"))


def _as_listed(run: Run, listed: str) -> bool:
    """Whether the site holds the files of its list and no others, byte for byte."""
    if disk.kind_of(run.site / LIST_NAME) != "file" or hash_of(run.site / LIST_NAME) != listed:
        return False
    found = look_at(run.site)
    run.files = len(found.listed)
    return found.files == found.listed.keys() | {LIST_NAME} and _all_held(found, run.cores)


def _all_held(found: Found, cores: int) -> bool:
    paths = sorted(found.listed)
    if cores == 1 or len(paths) < WORTH_SHARING or sys.platform != "linux":
        return _held(found, paths)
    fork = multiprocessing.get_context("fork")
    others = [fork.Process(target=_tell, args=(found, paths[turn::cores])) for turn in range(1, cores)]
    for other in others:
        other.start()
    mine = _held(found, paths[::cores])
    for other in others:
        other.join()
    return mine and all(other.exitcode == 0 for other in others)


def _tell(found: Found, paths: Sequence[str]) -> None:
    sys.exit(0 if _held(found, paths) else 1)


def _held(found: Found, paths: Sequence[str]) -> bool:
    return all(holds(f"{found.site}/{path}", found.listed[path]) for path in paths)


def hash_of(path: Path) -> str:
    """The hash of a file's bytes."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
