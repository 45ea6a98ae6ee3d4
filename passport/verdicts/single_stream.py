"""Is it one stream? A thing is one where every part is mostly one resin, the same in all parts.

A part is judged by the lower bound of its main resin's share. What is joined by screws or snaps can be
taken apart into its streams; what is glued or welded to another resin cannot.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from passport.massflow import Ledger, Mixture
from passport.reading.records import Item
from passport.reading.shop import Shop
from passport.verdicts.verdict import Verdict

UNKNOWN = "unknown"
SEPARABLE = frozenset({"", "screwed", "snapped", "loose", "hooked", "tied", "pegged"})
"""Ways of joining that come apart with a common tool (common practice, no source); none named: loose."""
SOURCE = "design for recycling guides: one resin a product, parts separable with common tools (common practice)"


class Stream(Enum):
    """What the next owner can do about it."""

    ONE = "one"
    """It can go in whole."""
    ONE_AFTER_REMOVAL = "one-after-removal"
    """It is one resin once the hardware is out."""
    SEVERAL_SEPARABLE = "several-separable"
    """Several resins that come apart."""
    MIXED = "mixed"
    """Several resins that do not come apart, or one lot that is a mixture."""
    NOT_ESTABLISHED = "not-established"
    """Nobody knows well enough what it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartStream:
    """One part with its main resin and that resin's share (lower bound, of the part's plastic)."""

    part: str
    resin: str
    """Symbol, or "" where no resin is established."""
    share: Fraction
    separable: bool
    mixed: bool = False
    """Whether it is a mixture of named resins, none of which is enough of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamVerdict:
    """The answer for a whole thing, with its parts."""

    answer: Stream
    parts: tuple[PartStream, ...]

    @property
    def resins(self) -> tuple[str, ...]:
        """The symbols of all parts, each once, in the order of the parts; "" for an unknown one."""
        return tuple(dict.fromkeys(part.resin for part in self.parts))


def main_resin(mixture: Mixture, threshold: Fraction) -> tuple[str, Fraction]:
    """The resin with the largest share and the lower bound of that share; "" where it is below `threshold`."""
    shares = mixture.shares_by("resin")
    if not shares:
        return "", Fraction(0)
    name = max(sorted(shares), key=lambda resin: shares[resin].value)
    low = shares[name].low
    return (name if name != UNKNOWN and low >= threshold else ""), low


def of_item(shop: Shop, ledger: Ledger, item: Item, *, proven: bool) -> Verdict[StreamVerdict]:
    """Whether the things of a batch are one stream, and after which steps.

    proven: whether the resin of what they are made of is established (verdicts.identity).
    """
    threshold = shop.workshop.single_stream_from
    parts = tuple(_part(ledger, item, name, joined, threshold) for name, joined in _parts_of(item))
    answer = _answer(item, parts, proven=proven)
    value = StreamVerdict(answer=answer, parts=parts)
    return Verdict(value=value, basis=(item.id,), source=SOURCE, doubts=ledger.doubts_of(item.id))


def of_repaired(shop: Shop, ledger: Ledger, item: Item, tag: str, *, proven: bool) -> Verdict[StreamVerdict]:
    """The same for one repaired thing: what a repair put in is a part of its own."""
    threshold, joined = shop.workshop.single_stream_from, {part.part: part.joined for part in item.parts}
    parts = tuple(
        _judged(name, Mixture(name=node, mixing=ledger.mixing), joined.get(name, ""), threshold)
        for name, node, _ in ledger.repaired[tag]
    )
    value = StreamVerdict(answer=_answer(item, parts, proven=proven), parts=parts)
    return Verdict(value=value, basis=(tag, item.id), source=SOURCE, doubts=ledger.doubts_of(item.id))


def _parts_of(item: Item) -> tuple[tuple[str, str], ...]:
    return tuple((part.part, part.joined) for part in item.parts) or (("", ""),)


def _part(ledger: Ledger, item: Item, name: str, joined: str, threshold: Fraction) -> PartStream:
    mixture = ledger.part_mixtures.get((item.id, name)) or ledger.mixtures.get(item.id)
    return _judged(name, mixture, joined, threshold)


def _judged(name: str, mixture: Mixture | None, joined: str, threshold: Fraction) -> PartStream:
    resin, share = main_resin(mixture, threshold) if mixture else ("", Fraction(0))
    mixed = not resin and mixture is not None and UNKNOWN not in mixture.shares_by("resin")
    return PartStream(part=name, resin=resin, share=share, separable=joined in SEPARABLE, mixed=mixed)


def _answer(item: Item, parts: tuple[PartStream, ...], *, proven: bool) -> Stream:
    found = {part.resin for part in parts}
    if "" in found:
        mixed = any(part.mixed for part in parts)
        return Stream.MIXED if proven and mixed else Stream.NOT_ESTABLISHED
    if not proven:
        return Stream.NOT_ESTABLISHED
    if len(found) > 1:
        apart = all(part.separable for part in parts)
        return Stream.SEVERAL_SEPARABLE if apart else Stream.MIXED
    return Stream.ONE_AFTER_REMOVAL if _foreign_hardware(item, found) else Stream.ONE


def _foreign_hardware(item: Item, found: set[str]) -> bool:
    """Hardware of the same resin may stay in; steel and other resins must come out."""
    return any(piece.material not in found for piece in item.hardware)
