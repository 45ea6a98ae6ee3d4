"""A recall: where every kilogram of a lot is by the books, down to the tags. The masses add up to the lot's own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from passport.massflow.balances import came_in_kg, shop_entries
from passport.massflow.composition import owner
from passport.massflow.genealogy import repairs_of_tags
from passport.massflow.ledger import Ledger
from passport.massflow.trace import shares_of_lot

KINDS = {
    "things_out_kg": ("thing", 1),
    "stock_kg": ("stock", 1),
    "sent_kg": ("sent", 1),
    "losses_kg": ("loss", 1),
    "written_off_kg": ("written-off", 1),
    "came_back_kg": ("came-back", -1),
    "adjusted_kg": ("stock-correction", -1),
}
"""What each term of the shop's balance is called here, and whether it adds to or takes from what is elsewhere."""
UNACCOUNTED = "unaccounted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Whereabouts:
    """So much of the lot's material is here."""

    kind: str
    """thing, stock, sent, loss, written-off; came-back and stock-correction are counted off what left before;
    unaccounted is what no weighing tells."""
    node: str
    """The item batch, lot or run; empty for unaccounted. Of what repairs put into things, the lot it was drawn from."""
    mass_kg: Fraction
    """Signed: the masses of all add up to the lot's own."""
    tags: tuple[str, ...] = ()
    each_kg: Fraction | None = None
    """For things: that lot's material in each piece."""


@lru_cache(maxsize=16)  # each language asks
def whereabouts(ledger: Ledger, lot: str) -> tuple[Whereabouts, ...]:
    """Everything that holds or held material of a lot, by kind, then in working order. KeyError for no lot."""
    whole = came_in_kg(ledger.stock[lot])
    found = _by_place(ledger, lot)
    rows = [_row(ledger, kind, node, mass) for (kind, node), mass in found.items() if mass]
    rest = whole - sum(found.values(), Fraction(0))
    if rest:
        rows.append(Whereabouts(kind=UNACCOUNTED, node="", mass_kg=rest))
    order = [kind for kind, _ in KINDS.values()] + [UNACCOUNTED]
    return tuple(sorted(rows, key=lambda row: order.index(row.kind)))


def _by_place(ledger: Ledger, lot: str) -> dict[tuple[str, str], Fraction]:
    found: dict[tuple[str, str], Fraction] = {}
    for kind, node, mass in _parts(ledger, lot):
        found[kind, node] = found.get((kind, node), Fraction(0)) + mass
    return found


def _parts(ledger: Ledger, lot: str) -> Iterator[tuple[str, str, Fraction]]:
    places = _places(ledger)
    for node, share in shares_of_lot(ledger, lot).items():
        for kind, mass in places.get(node, ()):
            yield kind, owner(node), mass * share


def _places(ledger: Ledger) -> Mapping[str, Sequence[tuple[str, Fraction]]]:
    """Kind and signed mass of all that is or went somewhere, by mixing node."""
    kept: dict[str, list[tuple[str, Fraction]]] | None = vars(ledger).get("_places")
    if kept is None:
        # kept beside the ledger's own cached answers, because a page for each lot asks
        kept = vars(ledger)["_places"] = {}
        for term, mass, node in shop_entries(ledger):
            if term in KINDS:
                kind, sign = KINDS[term]
                kept.setdefault(node, []).append((kind, sign * mass))
    return kept


def _row(ledger: Ledger, kind: str, node: str, mass: Fraction) -> Whereabouts:
    item = ledger.shop.items.get(node) if kind == "thing" else None
    if item is None:
        mended = _mended_with(ledger, node) if kind == "thing" else ()
        return Whereabouts(kind=kind, node=node, mass_kg=mass, tags=mended)
    tags = ledger.tags_of.get(node, ())
    return Whereabouts(kind=kind, node=node, mass_kg=mass, tags=tags, each_kg=mass / item.count.pieces)


def _mended_with(ledger: Ledger, lot: str) -> tuple[str, ...]:
    """The things that repairs put material of a lot into."""
    repairs = repairs_of_tags(ledger.shop, ledger.operations).items()
    return tuple(tag for tag, ops in repairs if any(draw.lot == lot for op in ops for draw in op.run.draws))
