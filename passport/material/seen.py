"""What one piece of evidence says about the resin: the common form of every rule on tests."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from passport.material.resins import hint_for, resins, symbols_for
from passport.problems import Level, Problem


class Support(Enum):
    """How much a test speaks for the resins it names."""

    STRONG = "strong"
    MEDIUM = "medium"
    WEAK = "weak"
    EXCLUSION = "exclusion"
    NONE = "none"

    @property
    def rank(self) -> int:
        """The strongest first."""
        return list(Support).index(self)


class Ground(Enum):
    """What a test looks at. Two tests on one ground are one piece of evidence."""

    SPECTRUM = "spectrum"
    HEAT = "heat"
    DENSITY = "density"
    SIGHT = "sight"
    PAPER = "paper"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one piece of evidence says. Symbols of ISO 1043-1."""

    ground: Ground
    said: str
    """In short English words, as printed in a doubt."""
    code: str
    """Stable words by which themes word it; `facts` are its values."""
    support: Support
    names: frozenset[str] = frozenset()
    """What it speaks for; several where it cannot tell further."""
    excludes: frozenset[str] = frozenset()
    only_if_filled: frozenset[str] = frozenset()
    """What remains possible only with filler or dirt."""
    mixture: tuple[str, ...] = ()
    doubts: tuple[Problem, ...] = ()
    sources: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    pieces: int | None = None
    floats_below_g_cm3: float | None = None
    sinks_above_g_cm3: float | None = None
    """For float tests: the bounds that they put on the density."""

    @property
    def filled(self) -> tuple[str, ...]:
        """Resins possible only with filler, in the table's order."""
        return tuple(s for s in resins() if s in self.only_if_filled)


def unknown_word(word: str, what: str) -> Problem:
    """The doubt about a word that is neither a symbol nor a group; `what` says where it stood."""
    said = f'met "{word}" as {what}, wanted a symbol of ISO 1043-1 or a group such as PE'
    return Problem(code="resin-unknown", message=said, hint=hint_for(word), level=Level.DOUBT, facts=(("word", word),))


def named(word: str, what: str) -> tuple[frozenset[str], tuple[Problem, ...]]:
    """The resins that a word means, with the doubt where it means none."""
    names = symbols_for(word)
    return names, () if names else (unknown_word(word, what),)
