"""Recycled content of the plastic and of the whole item, and the figure that may be stated.

X = A/P, mass of recycled material over mass of product (ISO 14021, 7.8.4; from memory). Unknown origin stays
in P and never counts in A (EN 45557:2020, 5.2).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from passport.massflow.ledger import Ledger, Mixture, Share
from passport.massflow.weighing import Measured, total
from passport.material.resins import symbols_for
from passport.reading.records import Hardware, Item

Z_ONE_SIDED_95 = Fraction("1.645")
"""One-sided 95 % of the normal distribution (JCGM 106:2012, Table 1 prints 1.64; recomputed to 1.645)."""


MOST_IN_DOUBT = 99
"""100 % is stated only where all of it is so by record; a record in doubt cannot say that."""
MASS_DOUBTS = frozenset(
    {
        "does-not-close",
        "does-not-close-withheld",
        "overdrawn",
        "tag-overdrawn",
        "drawn-after-emptied",
        "drawn-while-held",
        "drawn-while-refused",
        "not-weighed",
    }
)
"""Doubts about a weighing at or above a node: they put its shares in doubt, too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemMasses:
    """The masses of one batch of items in kg."""

    plastic: Measured
    """From lots."""
    plastic_hardware: Measured
    """Plastic that came as hardware: of unknown origin."""
    other_hardware: Measured
    """Steel, cork and the like."""


def stated_percent(share: Share, *, withheld: bool = False) -> int | None:
    """The whole number N of "at least N %": floor of (X − 1.645 u)·100, or None where none may be stated.

    X is the lower bound of the share (one-sided guard band, JCGM 106:2012, clause 8). 100 is stated only where
    all of it is so by record, never by rounding.
    """
    if withheld or share.u is None:
        return None
    if share.low == 1:
        return 100
    floor = (share.low - Z_ONE_SIDED_95 * Fraction(share.u)) * 100 // 1
    return max(0, min(99, int(floor)))


def in_doubt(ledger: Ledger, node: str) -> bool:
    """Whether a weighing at or above a lot or item is doubtful, so that it may not be stated as 100 %."""
    return any(problem.code in MASS_DOUBTS for problem in ledger.doubts_of(node))


def is_plastic(hardware: Hardware) -> bool:
    """Whether hardware counts as plastic: its material is a resin's symbol."""
    return bool(symbols_for(hardware.material))


def item_masses(ledger: Ledger, item_id: str) -> ItemMasses | None:
    """What a batch of items weighs, None where its plastic was not weighed."""
    item = ledger.shop.items[item_id]
    plastic = ledger.masses[item_id]
    if plastic is None:
        return None
    hardware = list(_hardware(ledger, item))
    return ItemMasses(
        plastic=plastic,
        plastic_hardware=total(m for h, m in hardware if is_plastic(h)),
        other_hardware=total(m for h, m in hardware if not is_plastic(h)),
    )


def _hardware(ledger: Ledger, item: Item) -> Iterator[tuple[Hardware, Measured]]:
    """Each hardware line with its mass in the whole batch: `32 g each` is per thing, not per screw."""
    weighings = ledger.book.weighings
    for i, hardware in enumerate(item.hardware):
        one = weighings.weigh(f"hardware:{item.id}:{i}", hardware.mass, weighings.finest_scale())
        yield hardware, one.times(item.count.pieces) if hardware.mass.each else one


def of_plastic(ledger: Ledger, node: str, *, post_consumer_only: bool = False) -> Share:
    """Recycled share of all plastic of a lot or item; plastic hardware counts as plastic of unknown origin."""
    share = _of_lots(ledger.mixtures[node], post_consumer_only=post_consumer_only)
    masses = item_masses(ledger, node) if node in ledger.shop.items else None
    if masses is None:
        return share
    return _diluted(ledger, share, masses.plastic, masses.plastic_hardware)


def of_item(ledger: Ledger, item_id: str, *, post_consumer_only: bool = False) -> Share | None:
    """Recycled share of the whole item with its hardware; None where its plastic was not weighed."""
    share = _of_lots(ledger.mixtures[item_id], post_consumer_only=post_consumer_only)
    masses = item_masses(ledger, item_id)
    if masses is None:
        return None
    return _diluted(ledger, share, masses.plastic, masses.plastic_hardware + masses.other_hardware)


def of_thing(ledger: Ledger, tag: str, *, whole: bool = False, post_consumer_only: bool = False) -> Share | None:
    """Recycled share of one tagged thing with what repairs put in; of its plastic, or with all hardware (`whole`).

    None where its plastic was not weighed or nobody issued the tag.
    """
    mixture, plastic = ledger.tag_mixture(tag), ledger.tag_mass(tag)
    item = ledger.shop.items.get(ledger.item_of_tag.get(tag, ""))
    if mixture is None or plastic is None or item is None:
        return None
    one = Fraction(1, item.count.pieces)
    rest = total(m.times(one) for h, m in _hardware(ledger, item) if whole or is_plastic(h))
    return _diluted(ledger, _of_lots(mixture, post_consumer_only=post_consumer_only), plastic, rest)


DENOMINATORS = ("of_plastic", "of_product", "of_component")
"""What a share is a share of; laws differ.

of_plastic: all plastic of the thing (UK Finance Act 2021, s. 47(1)(a), confirmed; Regulation (EU) 2025/40,
article 7, confirmed in summary). of_product: the whole thing (16 CFR 260.13(c); French Environment Code,
Decree 2022-748; confirmed). of_component: one named part.
"""


def recycled_share(
    ledger: Ledger, node: str, denominator: str, *, part: str = "", post_consumer_only: bool = False
) -> Share | None:
    """A recycled share over one of DENOMINATORS; None where a mass or the part is not known.

    Raises ValueError for another denominator.
    """
    if denominator not in DENOMINATORS:
        raise ValueError(f'met the denominator "{denominator}", wanted one of {", ".join(DENOMINATORS)}')
    if denominator == "of_component":
        mixture = ledger.part_mixtures.get((node, part))
        return _of_lots(mixture, post_consumer_only=post_consumer_only) if mixture else None
    if denominator == "of_product" and node in ledger.shop.items:
        return of_item(ledger, node, post_consumer_only=post_consumer_only)
    return of_plastic(ledger, node, post_consumer_only=post_consumer_only)


def _of_lots(mixture: Mixture, *, post_consumer_only: bool) -> Share:
    return mixture.post_consumer() if post_consumer_only else mixture.recycled()


def _diluted(ledger: Ledger, share: Share, plastic: Measured, rest: Measured) -> Share:
    """The share of `plastic` in plastic and rest together: X·p/(p + r).

    Its uncertainty joins that of X and that of the two masses as if apart: they share at most a scale's bias.
    """
    whole = plastic.value + rest.value
    if not rest.value or not whole:
        return share
    part = plastic.value / whole
    masses = plastic.times(rest.value / whole**2) - rest.times(plastic.value / whole**2)
    return Share(
        value=share.value * part,
        low=share.low * part,
        high=share.high * part,
        u=_joined(share, float(part), ledger.book.weighings.u(masses)),
    )


def _joined(share: Share, part: float, u_part: float | None) -> float | None:
    if share.u is None or (u_part is None and share.value):
        return None
    return float(((part * share.u) ** 2 + (float(share.value) * (u_part or 0.0)) ** 2) ** 0.5)
