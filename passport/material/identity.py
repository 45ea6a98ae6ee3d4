"""What a lot is made of: candidates, a verdict, what it rests on, what speaks against it, what would settle it.

Support is strong, medium or weak, or an exclusion; there are no published probabilities, so none are made up.
A resin is established by one strong test, or by two medium ones of different kinds, which agree and which nothing
excludes (our rule, after the reliability of each test as published). Tests that look at the same thing in two
ways are one piece of evidence: float and density, or a mark and the sorter who read it.

No burn tests. Smoke from unknown plastic may hold hydrogen chloride, styrene, formaldehyde, hydrogen cyanide or
carbon monoxide, it has to be sniffed to be read, and flame retardants and fillers falsify both flame and smell.
Float it, weigh it, scan it, or set it aside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from passport.material.evidence import seen_in
from passport.material.evidence_spectra import PET_PEAK
from passport.material.next_test import NextTest, next_test_for
from passport.material.resins import groups, resins
from passport.material.sampling import count_problems
from passport.material.seen import Ground, Seen, Support
from passport.problems import Level, Problem, in_order
from passport.reading.records import AnyEvidence, DscTest, Lot


class Verdict(Enum):
    """How well a resin is known."""

    ESTABLISHED = "established"
    LIKELY = "likely"
    CONFLICTING = "conflicting"
    NOT_ESTABLISHED = "not-established"


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """What a lot is made of, and how well that is known."""

    symbol: str | None
    """The resin where it is established or likely, else None."""
    candidates: tuple[str, ...]
    """Resins that remain, in the table's order; the whole table where nothing was seen."""
    filled: tuple[str, ...]
    """Resins that remain only if they hold filler."""
    mixture: tuple[str, ...]
    """Resins seen side by side (two melting peaks); empty otherwise."""
    verdict: Verdict
    basis: tuple[Seen, ...]
    """What was seen, the strongest first."""
    doubts: tuple[Problem, ...]
    next_test: NextTest | None
    """The test that would settle it; None where it is settled."""

    @property
    def group(self) -> str:
        """The group that all candidates belong to (`PE`), or nothing."""
        met = frozenset(self.candidates)
        return next((name for name, symbols in groups().items() if met and met <= symbols), "")


def identify_lot(lot: Lot) -> Identity:
    """What a lot is made of, from its evidence and the sorter's name for it; counts that cannot be are doubts."""
    return identify(lot.evidence, sorted_as=lot.sorted_as, doubts=count_problems(lot))


def identify(evidence: Sequence[AnyEvidence], sorted_as: str = "", doubts: Sequence[Problem] = ()) -> Identity:
    """What pieces are made of, from tests as they were recorded."""
    seen = sorted(seen_in(evidence, sorted_as), key=lambda s: s.support.rank)
    weighed = _filled_or_not(_weigh(seen), seen)
    every = in_order((*doubts, *(d for s in seen for d in s.doubts), *weighed.doubts, *_not_pet(evidence, seen)))
    symbol = weighed.names[0] if len(weighed.names) == 1 and weighed.verdict in _NAMED else None
    candidates = tuple(s for s in resins() if s in weighed.names)
    return Identity(
        symbol=symbol,
        candidates=candidates,
        filled=tuple(dict.fromkeys(f for s in seen for f in s.filled if f not in candidates)),
        mixture=next((s.mixture for s in seen if s.mixture), ()),
        verdict=weighed.verdict,
        basis=tuple(seen),
        doubts=every,
        next_test=None if weighed.verdict is Verdict.ESTABLISHED else next_test_for(candidates, seen),
    )


_NAMED = (Verdict.ESTABLISHED, Verdict.LIKELY)


def _not_pet(evidence: Sequence[AnyEvidence], seen: Sequence[Seen]) -> tuple[Problem, ...]:
    """A thing marked 1 must melt between 225 and 255 °C, which leaves glycol-modified PET out."""
    marked = any(s.code == "moulded-mark" and "PET" in s.names for s in seen)
    peaks = [float(peak) for test in evidence if isinstance(test, DscTest) for peak in test.peaks]
    off = [peak for peak in peaks if not PET_PEAK.holds(peak)]
    if not marked or not off:
        return ()
    facts = (("peak", f"{off[0]:g}"),)
    said = f"met number 1 with a melting peak at {off[0]:g} °C, wanted one between 225 and 255 °C"
    return (Problem(code="identity-not-pet", message=said, level=Level.DOUBT, facts=facts),)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Weighed:
    names: tuple[str, ...]
    verdict: Verdict
    doubts: tuple[Problem, ...] = ()


def _filled_or_not(weighed: _Weighed, seen: Sequence[Seen]) -> _Weighed:
    """A named resin that is too heavy for itself is filled or dirty: not refused, but no more than likely."""
    heavy = [s for s in seen if s.only_if_filled & frozenset(weighed.names)]
    if len(weighed.names) != 1 or weighed.verdict not in _NAMED or not heavy:
        return weighed
    (symbol,) = weighed.names
    doubt = Problem(
        code="identity-filled",
        message=f"met {heavy[0].said} where {symbol} is named, wanted the density of plain {symbol}",
        hint="it holds filler or dirt: look for a mark with a filler, or weigh the ash in a laboratory",
        level=Level.DOUBT,
        facts=(("resin", symbol), ("said", heavy[0].said)),
    )
    return replace(weighed, verdict=Verdict.LIKELY, doubts=(*weighed.doubts, doubt))


def _weigh(seen: Sequence[Seen]) -> _Weighed:
    """The rules in order: a mixture, strong tests, medium ones, weak ones, nothing."""
    if any(s.mixture for s in seen):
        return _mixed(seen)
    excluded = frozenset(symbol for s in seen for symbol in s.excludes)
    for support, rule in (
        (Support.STRONG, _by_strong),
        (Support.MEDIUM, _by_medium),
        (Support.WEAK, _by_weak),
    ):
        if any(s.support is support for s in seen):
            return rule(seen, excluded)
    left = tuple(s for s in resins() if s not in excluded)
    return _Weighed(names=left, verdict=Verdict.NOT_ESTABLISHED)


def _mixed(seen: Sequence[Seen]) -> _Weighed:
    """Two melting peaks are two resins: that is well known, but it is no single name."""
    names = next(s.mixture for s in seen if s.mixture)
    said = f"met melting peaks of {' and '.join(names)}, wanted those of one resin"
    doubt = Problem(
        code="identity-mixture",
        message=said,
        hint="sort the pieces again, or mark it as the mixture it is",
        level=Level.DOUBT,
        facts=(("resins", "+".join(names)),),
    )
    return _Weighed(names=names, verdict=Verdict.NOT_ESTABLISHED, doubts=(doubt,))


def _named_by(seen: Sequence[Seen], support: Support) -> list[Seen]:
    return [s for s in seen if s.support is support and s.names]


def _common(some: Sequence[Seen]) -> frozenset[str]:
    return frozenset.intersection(*(s.names for s in some)) if some else frozenset(resins())


def _by_strong(seen: Sequence[Seen], excluded: frozenset[str]) -> _Weighed:
    """A strong test names it, unless another strong or medium one of another kind says otherwise."""
    strong = _named_by(seen, Support.STRONG)
    agreed = _common(strong)
    names = agreed - excluded
    if not names:
        foam = _foam_instead(agreed, excluded)
        return foam if foam is not None else _conflict(strong, seen, excluded)
    medium = _named_by(seen, Support.MEDIUM)
    against = [s for s in medium if not (s.names | s.only_if_filled) & names]
    within = [s for s in medium if s.names & names]
    narrowed = names & _common(within)
    if not narrowed or (against and len(_grounds(seen, names)) < _GROUNDS_THAT_SETTLE):
        return _conflict([*strong, *(against or within)], seen, excluded)
    doubts = tuple(_contradicted(s, names) for s in [*against, *_weak_against(seen, names)])
    if len(narrowed) == 1:
        return _Weighed(names=tuple(narrowed), verdict=Verdict.ESTABLISHED, doubts=doubts)
    return _leaning(narrowed, seen, doubts)


_GROUNDS_THAT_SETTLE = 2
"""So many kinds of test must agree before a contradiction counts as settled."""


def _grounds(seen: Sequence[Seen], names: frozenset[str]) -> set[Ground]:
    """The kinds of test, medium or better, that speak for a name."""
    return {s.ground for s in seen if s.support in (Support.STRONG, Support.MEDIUM) and s.names & names}


def _weak_against(seen: Sequence[Seen], names: frozenset[str]) -> list[Seen]:
    """Weak evidence that names something else; sinking is told by its own doubt."""
    return [s for s in _named_by(seen, Support.WEAK) if not s.names & names and not s.only_if_filled & names]


def _leaning(names: frozenset[str], seen: Sequence[Seen], doubts: tuple[Problem, ...]) -> _Weighed:
    """Several remain: weak evidence may lean to one, which then is likely."""
    leaned = names & _common(_named_by(seen, Support.WEAK)) or names
    if len(leaned) == 1:
        return _Weighed(names=tuple(leaned), verdict=Verdict.LIKELY, doubts=doubts)
    return _Weighed(names=tuple(sorted(leaned)), verdict=Verdict.NOT_ESTABLISHED, doubts=doubts)


def _foam_instead(agreed: frozenset[str], excluded: frozenset[str]) -> _Weighed | None:
    """A spectrum that says PS and a piece that floats: the gas cells of foam, which a spectrum cannot see."""
    if "PS" not in agreed or "PS-E" in excluded:
        return None
    said = "met a reading of PS on a piece that floats, wanted one that sinks"
    hint = "foam floats because of its gas cells: press a piece solid and float it again"
    doubt = Problem(code="identity-foam", message=said, hint=hint, level=Level.DOUBT)
    return _Weighed(names=("PS-E",), verdict=Verdict.LIKELY, doubts=(doubt,))


def _by_medium(seen: Sequence[Seen], excluded: frozenset[str]) -> _Weighed:
    """Two medium tests of different kinds establish it, one makes it likely."""
    medium = _named_by(seen, Support.MEDIUM)
    names = (_common(medium) or _common_if_filled(medium)) - excluded
    settled = len({s.ground for s in medium}) >= _GROUNDS_THAT_SETTLE
    if not names:
        return _conflict(medium, seen, excluded)
    if _contradictory_mark(seen) and not settled:
        marked = frozenset(x for s in _named_by(seen, Support.WEAK) for x in s.names)
        return _Weighed(names=tuple(sorted(names | marked)), verdict=Verdict.CONFLICTING)
    doubts = tuple(_contradicted(s, names) for s in _weak_against(seen, names))
    if len(names) > 1:
        return _leaning(names, seen, doubts)
    verdict = Verdict.ESTABLISHED if settled else Verdict.LIKELY
    return _Weighed(names=tuple(names), verdict=verdict, doubts=doubts)


def _common_if_filled(some: Sequence[Seen]) -> frozenset[str]:
    """A mark of PP on a piece of 1.05 g/cm³ agrees with it once filler is allowed for."""
    return frozenset.intersection(*(s.names | s.only_if_filled for s in some))


def _contradictory_mark(seen: Sequence[Seen]) -> bool:
    return any(d.code == "mark-contradicts" for s in seen for d in s.doubts)


def _by_weak(seen: Sequence[Seen], excluded: frozenset[str]) -> _Weighed:
    """Weak evidence narrows, it never names; where it falls apart that is a conflict."""
    weak = _named_by(seen, Support.WEAK)
    names = _common(weak) - excluded
    if not names:
        return _conflict(weak, seen, excluded)
    verdict = Verdict.CONFLICTING if _contradictory_mark(seen) else Verdict.NOT_ESTABLISHED
    return _Weighed(names=tuple(sorted(names)), verdict=verdict)


def _conflict(named: Sequence[Seen], seen: Sequence[Seen], excluded: frozenset[str]) -> _Weighed:
    """All that was named stays a candidate until a better test settles it; a melting peak alone rules out."""
    every = frozenset(symbol for s in named for symbol in s.names)
    other = [s for s in seen if s.ground is Ground.DENSITY and s.names and s.excludes & every]
    by_heat = frozenset(symbol for s in seen if s.ground is Ground.HEAT for symbol in s.excludes)
    left = every - excluded or (every | frozenset(x for s in other for x in s.names)) - by_heat
    words = sorted({"/".join(sorted(s.names)) for s in [*named, *other]})
    doubt = Problem(
        code="identity-conflict",
        message=_conflict_in_words(words),
        hint="settle it with the test named below",
        level=Level.DOUBT,
        facts=(("resins", ", ".join(words)),),
    )
    return _Weighed(names=tuple(sorted(left)), verdict=Verdict.CONFLICTING, doubts=(doubt,))


def _conflict_in_words(words: Sequence[str]) -> str:
    if len(words) == 1:
        return f"met evidence for {words[0]} which another test rules out, wanted evidence that agrees"
    return f"met evidence for {' and for '.join(words)}, wanted evidence that agrees"


def _contradicted(against: Seen, names: frozenset[str]) -> Problem:
    """A contradiction that better evidence settled stays on the page."""
    said, settled = "/".join(sorted(against.names)), "/".join(sorted(names))
    return Problem(
        code="identity-contradicted",
        message=f"met {against.said}, which says {said}, wanted {settled} as the better evidence says",
        level=Level.DOUBT,
        facts=(("said", against.said), ("names", said), ("settled", settled)),
    )
