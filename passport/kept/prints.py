"""Prints of what a run is made from: the program itself with its libraries, and the records of a workshop."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from passport import __version__

BLOCK = 1 << 16
_PACKAGE = Path(__file__).resolve().parents[1]
_THEMES = _PACKAGE.parent / "themes"
"""Where the theme lies in a checkout; inside the package in an installed one."""


def program_print() -> str:
    """The print of this program: every file of it, its libraries' versions, and the interpreter's.

    The version alone would not do: whoever changes a rule would be shown the pages of the old one.
    """
    known = hashlib.sha256(f"{__version__} {sys.version} {sys.platform}\n".encode())
    for name in sorted(_installed()):
        known.update(f"{name}\n".encode())
    for folder in (_PACKAGE, _THEMES):
        for line in tree_lines(folder):
            known.update(line)
    return known.hexdigest()


def _installed() -> Iterator[str]:
    """Name and version of every distribution that could be imported, as its folder of metadata is called (PEP 376)."""
    for folder in sys.path:
        with contextlib.suppress(OSError):
            yield from (
                entry.name
                for entry in Path(folder or ".").iterdir()
                if entry.name.endswith((".dist-info", ".egg-info"))
            )


def inputs_print(folders: list[Path], *options: object) -> str:
    """The print of all files below some folders, and of options."""
    known = hashlib.sha256(repr(options).encode())
    for folder in folders:
        known.update(f"\n{folder.name}\n".encode())
        for line in tree_lines(folder):
            known.update(line)
    return known.hexdigest()


def tree_lines(folder: Path) -> Iterator[bytes]:
    """A line a file, in order of path: its path and the hash of its bytes; what cannot be read is named so."""
    for path, kind in sorted(_entries(folder)):
        held = kind
        if kind == "file":
            try:
                held = _hash(f"{folder}/{path}")
            except OSError:
                held = "unreadable"
        yield f"{held} {path}\n".encode("utf-8", "surrogateescape")


def _entries(folder: Path) -> Iterator[tuple[str, str]]:
    """Everything below a folder that is no folder: path and kind."""
    waiting = [""] if folder.is_dir() else []
    while waiting:
        inner = waiting.pop()
        with os.scandir(folder / inner) as entries:
            for entry in entries:
                path = f"{inner}{entry.name}"
                if entry.name == "__pycache__":
                    continue
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(f"{path}/")
                else:
                    yield path, "file" if entry.is_file(follow_symlinks=False) else "other"


def _hash(path: str) -> str:
    handle = os.open(path, os.O_RDONLY)
    try:
        known = hashlib.sha256()
        while block := os.read(handle, BLOCK):
            known.update(block)
        return known.hexdigest()
    finally:
        os.close(handle)
