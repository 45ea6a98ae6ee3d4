"""What is handed to a publication, and what it says it did."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

from passport.disk import Refused
from passport.problems import Problem

Progress = Callable[[int, str], None]
"""Called after each planned file with how many there were so far, and its path."""


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """One file of the site to be.

    path: relative, with `/`.
    content: its bytes, or a function that makes them; it is only called when the disk holds something else.
    sha256: with a function, the hash of what it makes, as lower-case hexadecimal; not read otherwise.
    """

    path: str
    content: bytes | Callable[[], bytes]
    sha256: str = ""

    def digest(self) -> str:
        """The hash of the content, announced or worked out."""
        return self.sha256 if callable(self.content) else hashlib.sha256(self.content).hexdigest()

    def made(self) -> bytes:
        """The content. Raises `Refused` if it is not what was announced: a cache may be damaged."""
        if not callable(self.content):
            return self.content
        content = self.content()
        if hashlib.sha256(content).hexdigest() != self.sha256:
            raise Refused(_other_hash(self.path))
        return content


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a publication did. `problems` are doubts only: errors are raised."""

    written: tuple[str, ...] = ()
    """Paths with new content, in the order they were planned; the list of files comes last."""
    removed: tuple[str, ...] = ()
    kept: int = 0
    """How many files were left as they were."""
    problems: tuple[Problem, ...] = ()

    @property
    def changed(self) -> bool:
        """Whether anything was written at all."""
        return bool(self.written or self.removed)


@dataclass(frozen=True, slots=True)
class HeldFile:
    """A file that stays as it is: whoever plans it has looked at its bytes in this run.

    sha256: their hash, which `Found.holds` has confirmed.
    """

    path: str
    sha256: str


Planned = PlannedFile | HeldFile


def _other_hash(path: str) -> Problem:
    return Problem(
        code="site-wrong-hash",
        message=f'the content made for "{path}" is not the one that its hash announced',
        hint="throw the cache away and publish again",
        about=path,
    )
