"""Plain trees of record files that were read without a fault, by the hash of their bytes.

The same bytes give the same tree, so a tree that was kept since another run spares the parsing. What refuses a text
is never kept: problems are found anew each time.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

from passport.problems import Problem
from passport.reading.marked import Source, Tree, read_tree


class Trees:
    """Trees known before, and those met in this run."""

    def __init__(self, known: Mapping[str, Tree] | None = None) -> None:
        self._known = known or {}
        self.met: dict[str, Tree] = {}
        """Hash → tree of every faultless file of this run; what is not here is not worth keeping."""

    @property
    def changed(self) -> bool:
        """Whether what was met differs from what was known."""
        return self.met.keys() != self._known.keys()

    def read(self, source: Source, data: bytes) -> tuple[Tree | None, tuple[Problem, ...]]:
        """The tree of a text, or the problems that refuse it; data are its bytes."""
        digest = sha256(data).hexdigest()
        tree = self._known.get(digest)
        problems: tuple[Problem, ...] = ()
        if tree is None:
            tree, problems = read_tree(source)
        if tree is not None:
            self.met[digest] = tree
        return tree, problems
