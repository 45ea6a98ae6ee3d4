"""The site that is there: what is in it, whose it is, and whether a file still holds what was published."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from passport import disk
from passport.disk import Refused
from passport.problems import Place, Problem

LIST_NAME = "files.sha256"
"""The list of all published files, in the site itself."""

_LIST_LINE = re.compile(r"([0-9a-f]{64})  (.+)")

_LEFT_BY_DESKTOPS = frozenset([".DS_Store", "Thumbs.db", "desktop.ini"])
"""Put into any folder that somebody looks at; dropped without a word."""

BLOCK = 1 << 16
"""Bytes read at once: most files whole, and still memory that is given out without asking the system."""

NAMED_AT_MOST = 50
"""Problems of one kind that are named one by one; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Found:
    """The site before this run."""

    there: bool
    files: frozenset[str]
    """Every file on the disk."""
    listed: dict[str, str]
    """What the last run wrote: path to hash."""
    site: Path
    list_hash: str = ""
    """Hash of that list itself; empty where there is none."""

    def holds(self, path: str, digest: str) -> bool:
        """Whether the site has this very content at a path, as listed and as its bytes are now."""
        if path not in self.files or self.listed.get(path, digest) != digest:
            return False
        return holds(f"{self.site}/{path}", digest)


def look_at(site: Path) -> Found:
    """Walk the old site, links not followed. Raises `Refused` if anything in it is not ours."""
    if not site.is_dir():
        return Found(there=False, files=frozenset(), listed={}, site=site)
    files = frozenset(walk(site))
    listed = read_list(site) if LIST_NAME in files else {}
    _refuse_foreign(site, sorted(files - listed.keys() - {LIST_NAME}), known=LIST_NAME in files)
    list_hash = hashlib.sha256((site / LIST_NAME).read_bytes()).hexdigest() if listed else ""
    return Found(there=True, files=files, listed=listed, site=site, list_hash=list_hash)


def walk(site: Path) -> Iterator[str]:
    """The path of every file, links not followed. Raises `Refused` for what is neither file nor folder."""
    waiting = [""]
    while waiting:
        folder = waiting.pop()
        with os.scandir(site / folder) as entries:
            for entry in entries:
                path = f"{folder}{entry.name}"
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(path + "/")
                elif not entry.is_file(follow_symlinks=False):
                    raise Refused(_special(site / path))
                elif entry.name not in _LEFT_BY_DESKTOPS:
                    yield path


def _special(path: Path) -> Problem:
    met = "a symbolic link" if path.is_symlink() else "a device, a pipe or a socket"
    return Problem(
        code="site-special-file",
        message=f"this is {met}; a published site holds only folders and files",
        place=Place(str(path)),
        hint="take it away, then publish again",
    )


def read_list(site: Path) -> dict[str, str]:
    """The hashes by path. Raises `Refused` when a line is not in the form this module writes."""
    listed: dict[str, str] = {}
    text = (site / LIST_NAME).read_bytes().decode("utf-8", errors="replace")
    for number, line in enumerate(text.split("\n"), start=1):
        if not line or line.startswith("#"):
            continue
        matched = _LIST_LINE.fullmatch(line)
        if not matched or disk.path_fault(matched[2]):
            raise Refused(_damaged_list(site, number, line))
        listed[matched[2]] = matched[1]
    return listed


def _damaged_list(site: Path, number: int, line: str) -> Problem:
    return Problem(
        code="site-list-damaged",
        message="this line is not a hash, two spaces and a path, so what was published is not known",
        place=Place(str(site / LIST_NAME), number, 1, line),
        hint="bring the list back, or delete the whole site and publish it anew",
    )


def _refuse_foreign(site: Path, foreign: list[str], *, known: bool) -> None:
    if foreign and not known:
        raise Refused(_not_ours(site, foreign))
    if foreign:
        raise Refused(*each_of(foreign, lambda path: _foreign(site, path), "site-foreign-file"))


def _not_ours(site: Path, foreign: list[str]) -> Problem:
    return Problem(
        code="site-not-ours",
        message=f'this folder is not empty and was not published by this tool ("{foreign[0]}" is in it)',
        place=Place(str(site)),
        hint="publish into another folder, or empty this one",
    )


def _foreign(site: Path, path: str) -> Problem:
    return Problem(
        code="site-foreign-file",
        message="this file was not published by this tool, and publishing would delete it",
        place=Place(str(site / path)),
        hint="move it out of the site, or delete it",
    )


def each_of(paths: list[str], wording: Callable[[str], Problem], code: str) -> list[Problem]:
    """A problem for each path, up to a bearable number, then how many more there are."""
    named = [wording(path) for path in islice(paths, NAMED_AT_MOST)]
    if more := len(paths) - len(named):
        named.append(Problem(code=code, message=f"the same holds for {more} more"))
    return named


def holds(path: Path | str, digest: str) -> bool:
    """Whether a file has this content."""
    try:
        handle = os.open(path, os.O_RDONLY | disk.O_PLAIN)
    except PermissionError:
        return False  # written anew
    try:
        return _hash_of(handle) == digest
    finally:
        os.close(handle)


def _hash_of(handle: int) -> str:
    hashed = hashlib.sha256()
    while block := os.read(handle, BLOCK):
        hashed.update(block)
    return hashed.hexdigest()
