"""Whether a share of recycled material reaches what a law or label asks for; each asks for another denominator.

A share passes on its lower bound less 1.645 u, as for "at least" figures (JCGM 106:2012, clause 8): who only
may have reached a limit has not. A law's own rounding comes first where it names one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files

import yaml

from passport.massflow.ledger import Ledger, Share
from passport.massflow.recycled import Z_ONE_SIDED_95, item_masses, recycled_share
from passport.verdicts.verdict import Verdict

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
PERCENT = 100
MUST_BE_NAMED_FROM = Fraction(5, 100)
"""A second material below this share of the mass may be left out of a report (Decision 2005/270 as amended)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """One row of the table."""

    name: str
    counts: str
    """recycled or post-consumer."""
    of: str
    """One of DENOMINATORS of massflow.recycled."""
    least: int
    """Percent."""
    source: str
    places: int | None = None
    """Digits of a percent to which the share is cut before it is compared; None: exact."""
    plastic_more_than: int | None = None
    """Percent of the whole product that plastic must be more than."""


@cache
def laws() -> Mapping[str, Law]:
    """Every law and label in the table by its name."""
    text = files(__package__).joinpath("recycled_laws.yaml").read_text(encoding="utf-8")
    rows = yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader
    return {name: Law(name=name, **row) for name, row in rows.items()}


def reaches(law: Law, share: Share) -> bool:
    """Whether a share is surely at least what the law asks for; never where its uncertainty is unknown."""
    if share.u is None:
        return False
    percent = (share.low - Z_ONE_SIDED_95 * Fraction(share.u)) * PERCENT
    if law.places is not None:
        percent = Fraction(percent * 10**law.places // 1, 10**law.places)
    return percent >= law.least


def of_node(ledger: Ledger, node: str, law: Law) -> Verdict[bool]:
    """Whether a lot or item batch meets a law. No answer while figures are withheld or a mass is not known."""
    post_only = law.counts == "post-consumer"
    share = recycled_share(ledger, node, law.of, post_consumer_only=post_only)
    doubts = ledger.doubts_of(node)
    if share is None or ledger.withheld(node):
        return Verdict(value=None, basis=(node,), source=law.source, doubts=doubts)
    enough_plastic = law.plastic_more_than is None or plastic_share(ledger, node) * PERCENT > law.plastic_more_than
    return Verdict(value=reaches(law, share) and enough_plastic, basis=(node,), source=law.source, doubts=doubts)


def plastic_share(ledger: Ledger, node: str) -> Fraction:
    """Plastic over the whole thing with its hardware; 1 for a lot, 0 for an item that was not weighed."""
    if node not in ledger.shop.items:
        return Fraction(1)
    masses = item_masses(ledger, node)
    if masses is None:
        return Fraction(0)
    plastic = masses.plastic.value + masses.plastic_hardware.value
    whole = plastic + masses.other_hardware.value
    return plastic / whole if whole else Fraction(0)


def main_material(masses_kg: Mapping[str, Fraction]) -> str:
    """The largest single substance: it decides what kind of component a thing is (UK tax guidance, in summary).

    The first by name where two are equal. Raises ValueError for none.
    """
    if not masses_kg:
        raise ValueError("met no material, wanted the mass of at least one")
    return min(masses_kg, key=lambda name: (-masses_kg[name], name))


def must_be_named(masses_kg: Mapping[str, Fraction]) -> tuple[str, ...]:
    """The materials that a report by mass must name: all but those below 5 % of the whole, by name.

    Decision 2005/270/EC as amended: less than 5 % of the mass may be left out (rule from its summary).
    """
    whole = sum(masses_kg.values(), Fraction(0))
    return tuple(sorted(name for name, mass in masses_kg.items() if whole and mass / whole >= MUST_BE_NAMED_FROM))
