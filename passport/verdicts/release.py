"""Whether a lot or batch may be handed on: not where something in it is refused, held, or above a limit in law.

What a lot becomes is as free as the lot: a refusal after the fact reaches everything made of it. It comes first on
every page, before any word on streams.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum

from passport.massflow import Ledger, State
from passport.material.limits import Outcome
from passport.problems import Level, Problem
from passport.verdicts.identity import Standing
from passport.verdicts.substances import Judged, day_of_lot, doubts, judged_lot, tested_lots, tests_of

MOST_NAMED = 8
"""Lots named with a batch; a recall finds them all."""


class Release(IntEnum):
    """From free to never, so that the graver one of two is the greater."""

    FREE = 0
    HELD = 1
    """A lot in it waits for an answer."""
    ABOVE_LIMIT = 2
    """A lot in it is above a limit in law on the day that counts."""
    REFUSED = 3
    """A lot in it must not become goods."""

    @property
    def words(self) -> str:
        """As pages key it: "above-limit" and so on."""
        return self.name.lower().replace("_", "-")


@dataclass(frozen=True, slots=True, kw_only=True)
class Released:
    """The answer for one lot or batch, with the lots that it comes from."""

    state: Release
    because_of: tuple[str, ...] = ()
    judged: tuple[Judged, ...] = ()
    """Laboratory figures of lots in it, where there are any."""
    doubts: tuple[Problem, ...] = ()


FREE = Released(state=Release.FREE)


def releases(ledger: Ledger, standing: Standing) -> Mapping[str, Released]:
    """The answer for every lot and batch that is not simply free, or that a laboratory's figure reaches."""
    state = {name: stock.state for name, stock in ledger.stock.items() if stock.state is not State.FREE}
    marked = _reaching(ledger, {*state, *tested_lots(ledger)})
    return {name: _released(ledger, standing, name, lots) for name, lots in marked.items()}


def _reaching(ledger: Ledger, marks: set[str]) -> Mapping[str, tuple[str, ...]]:
    """For each node, the marked lots that it is or was made of; nodes without any are left out."""
    found: dict[str, tuple[str, ...]] = {}
    if not marks:
        return found
    for name in ledger.order:
        above = (lot for parent in ledger.made_of.get(name, ()) for lot in found.get(parent, ()))
        lots = tuple(dict.fromkeys((*([name] if name in marks else []), *above)))
        if lots:
            found[name] = lots
    return found


def _released(ledger: Ledger, standing: Standing, node: str, lots: tuple[str, ...]) -> Released:
    judged = tuple(_judged(ledger, standing, node, lot) for lot in lots if tests_of(ledger.shop.lots[lot]))
    grounds = dict(_grounds(ledger, lots, judged))
    state = max(grounds.values(), default=Release.FREE)
    because_of = tuple(lot for lot, ground in grounds.items() if ground is state)[:MOST_NAMED] if state else ()
    found = [problem for one in judged for problem in doubts(ledger, one, node)]
    return Released(state=state, because_of=because_of, judged=judged, doubts=tuple(found))


def _judged(ledger: Ledger, standing: Standing, node: str, lot: str) -> Judged:
    """A lot's figures on the day of the batch made of it, else on the day that counts for a lot."""
    item = ledger.shop.items.get(node)
    if item is None:
        return judged_lot(ledger, standing, lot, day_of_lot(ledger, node))
    product = ledger.shop.products.get(item.product)
    return judged_lot(ledger, standing, lot, item.date, frozenset(product.uses) if product else frozenset())


_OF_STATE = {State.REFUSED: Release.REFUSED, State.HELD: Release.HELD, State.FREE: Release.FREE}


def _grounds(ledger: Ledger, lots: Iterable[str], judged: Iterable[Judged]) -> Iterator[tuple[str, Release]]:
    """Each marked lot with the graver of its own state and its figures."""
    above = {one.lot for one in judged if one.worst is Outcome.BREAKS}
    for lot in lots:
        own = _OF_STATE[ledger.stock[lot].state]
        yield lot, max(own, Release.ABOVE_LIMIT) if lot in above else own


def release_problems(ledger: Ledger, found: Mapping[str, Released]) -> Iterator[Problem]:
    """What `check` says: figures above limits, and batches made of what must not become goods."""
    for node, released in found.items():
        if node in ledger.shop.items or any(lot == node for lot in (one.lot for one in released.judged)):
            yield from released.doubts
        if node in ledger.shop.items and released.state in (Release.REFUSED, Release.HELD):
            yield _made_of(ledger, node, released)


def _made_of(ledger: Ledger, item: str, released: Released) -> Problem:
    lots, state = ", ".join(released.because_of), released.state.words
    return Problem(
        code=f"made-of-{state}",
        message=f"met {item} made of {lots}, which is {state}, wanted material that is free",
        place=ledger.shop.place("item", item),
        hint="do not hand it on; call back what is out, or release the lot with its reason (an event `released`)",
        level=Level.DOUBT,
        about=item,
        facts=(("lot", lots),),
    )
