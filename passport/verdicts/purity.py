"""How pure a lot or an item is: the lower bound of its resin's share, from pieces drawn at random.

A lot answers by its own sample. One without is as pure as the lots it was made of, weighted by mass, with the
chance of being wrong shared among their samples. A sort ends the search: what was read before it says nothing
about one of its heaps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache

from passport.massflow import Ledger
from passport.material.purity import CONFIDENCE, Bound, Sample, blend_bound
from passport.material.sampling import sample_of
from passport.verdicts.behind import lots_behind
from passport.verdicts.verdict import Verdict

SOURCE = "Clopper and Pearson, Biometrika 26 (1934) 404-413; shared among samples after Bonferroni"
Part = tuple[Fraction, Sample | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Purity:
    """At least so much of it is the resin: a share of pieces, which is no share of mass, unless flake was weighed."""

    symbol: str
    bound: Bound
    read: int
    """Pieces read, in all samples together; flake is weighed, not counted."""
    grams: Fraction
    """Flake read, in all samples together."""
    all_read: bool
    """Whether every piece was read, so that the share is counted, not bounded."""
    unsampled: Fraction
    """Share by mass that comes from lots without such a sample; it counts as not the resin."""
    own: bool
    """Whether it rests on a sample of the lot itself."""


@lru_cache(maxsize=64)  # each language asks
def of_node(ledger: Ledger, node: str, symbol: str) -> Verdict[Purity]:
    """The bound for a lot or an item; None where no piece behind it was drawn at random and read as the resin."""
    found = sampled_behind(ledger, node, symbol)
    parts = tuple(found.values())
    samples = tuple(sample for _, sample in parts if sample is not None)
    bound = blend_bound(parts, CONFIDENCE)
    if not bound.at_least:
        return Verdict(value=None, source=SOURCE)
    value = Purity(
        symbol=symbol,
        bound=bound,
        read=sum(sample.read for sample in samples if sample.grams is None),
        grams=sum((sample.grams for sample in samples if sample.grams is not None), Fraction(0)),
        all_read=all(sample is not None and sample.read == sample.of_lot for _, sample in parts),
        unsampled=sum((share for share, sample in parts if sample is None), Fraction(0)),
        own=node in found,
    )
    return Verdict(value=value, basis=tuple(lot for lot, part in found.items() if part[1]), source=SOURCE)


def sampled_behind(ledger: Ledger, node: str, symbol: str) -> dict[str, Part]:
    """The lots that answer for a node: share by mass, and the sample or None."""

    @cache
    def sample(name: str) -> Sample | None:
        lot = ledger.shop.lots.get(name)
        return sample_of(lot, symbol) if lot is not None and lot.evidence else None

    shares = lots_behind(
        ledger, node, known=lambda name: sample(name) is not None, through=lambda kind: not kind.separates
    )
    return {name: (share, sample(name)) for name, share in shares.items()}


def shared_confidence(parts: Sequence[Part], confidence: Fraction = CONFIDENCE) -> Fraction:
    """The confidence of each single bound, so that those of all distinct samples hold together."""
    distinct = {sample.key for _, sample in parts if sample is not None}
    return 1 - (1 - confidence) / max(len(distinct), 1)
