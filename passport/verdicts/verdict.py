"""The one shape of every verdict: what is said, on what basis, by which rule, and what is doubtful about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from passport.problems import Problem

V = TypeVar("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict(Generic[V]):
    """A statement with what stands behind it.

    value: the statement itself; None where it is withheld or nothing can be said.
    basis: ids of the lots, runs and tests that it rests on.
    source: the standard, law or practice that gives the rule.
    doubts: shown before the value, on every page that shows it.
    """

    value: V | None
    basis: tuple[str, ...] = ()
    source: str = ""
    doubts: tuple[Problem, ...] = ()
