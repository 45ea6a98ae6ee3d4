"""One file of kept things: a line that says for whom it is and what its bytes hash to, then JSON."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from passport import disk

FOLDER = ".passport"
"""Beside `content/`; hidden, and told to version control and backups as not worth keeping."""

_MARK = "passport-kept-1"
_ASIDE = {
    ".gitignore": "*\n",
    # Cache Directory Tagging Specification (bford.info/cachedir), the signature as given there
    "CACHEDIR.TAG": "Signature: 8a477f597d28d172789f06886806bc55\n# Kept from run to run; may be deleted.\n",
}


class Boxes:
    """The kept things of one workshop, as far as this very program filled them."""

    def __init__(self, workshop: Path, program: str) -> None:
        self._folder = workshop / FOLDER
        self._program = program

    def load(self, name: str) -> dict[str, Any]:
        """What was kept under a name; empty where there is nothing, or anything about it is not as it was written."""
        path = self._folder / name
        try:
            if disk.kind_of(self._folder) != "folder" or disk.kind_of(path) != "file":
                return {}
            return _opened(path.read_bytes(), self._head(name))
        except OSError:
            return {}

    def save(self, name: str, things: Mapping[str, Any]) -> None:
        """Keep things for the next run. A disk that is full or read-only costs time then, no more."""
        body = json.dumps(things, ensure_ascii=False, separators=(",", ":")).encode()
        head = f"{self._head(name)} {hashlib.sha256(body).hexdigest()}\n".encode()
        with contextlib.suppress(OSError):
            self._make_folder()
            part = self._folder / f"{name}.part"
            part.unlink(missing_ok=True)  # of a run that was killed
            disk.write_new(part, head + body)
            part.replace(self._folder / name)

    def forget(self) -> None:
        """Throw everything away, if it is ours."""
        with contextlib.suppress(OSError):
            if disk.kind_of(self._folder) == "folder" and disk.kind_of(self._folder / "CACHEDIR.TAG") == "file":
                disk.remove_tree(self._folder)

    def _head(self, name: str) -> str:
        return f"{_MARK} {name} {self._program}"

    def _make_folder(self) -> None:
        if disk.kind_of(self._folder) == "folder":
            return
        self._folder.mkdir()
        for name, text in _ASIDE.items():
            (self._folder / name).write_text(text, encoding="utf-8")


def _opened(data: bytes, head: str) -> dict[str, Any]:
    first, _, body = data.partition(b"\n")
    if first.decode("ascii", "replace") != f"{head} {hashlib.sha256(body).hexdigest()}":
        return {}
    things = json.loads(body)
    return things if isinstance(things, dict) else {}
