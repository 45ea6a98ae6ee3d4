"""The lots behind a lot or an item, with their shares by mass: how far back a figure may be looked for."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping
from fractions import Fraction

from passport.massflow import Ledger
from passport.massflow.operation_table import OperationKind, operation_kind
from passport.verdicts.identity import parent_shares


def lots_behind(
    ledger: Ledger, node: str, *, known: Callable[[str], bool], through: Callable[[OperationKind], bool]
) -> Mapping[str, Fraction]:
    """The nearest nodes for which something is known, with shares by mass that add up to 1.

    known: whether a node answers for itself. through: whether an operation leaves it as it was, so that the
    answer may be looked for behind it. Where neither helps, the node itself stands for its share, unknown.
    """
    place = ledger.place_in_order
    weight = {node: Fraction(1)}
    found: dict[str, Fraction] = {}
    waiting = [(-place[node], node)] if node in place else []
    while waiting:  # results before what they were made of: the whole weight of a node is known when it is met
        _, name = heapq.heappop(waiting)
        above = {} if known(name) else _drawn(ledger, name, through)
        if not above:
            found[name] = weight[name]
        for parent, share in above.items():
            if parent not in weight and parent in place:
                heapq.heappush(waiting, (-place[parent], parent))
            weight[parent] = weight.get(parent, Fraction(0)) + weight[name] * share
    return found


def _drawn(ledger: Ledger, node: str, through: Callable[[OperationKind], bool]) -> Mapping[str, Fraction]:
    """What a node was made of; empty where the run changes what is asked, or a draw was not weighed.

    Offcuts of one part are not of all that the run drew.
    """
    operation = ledger.operations.get(ledger.run_of.get(node, ""))
    if operation is None or not through(operation_kind(operation.run.operation)):
        return {}
    lot = ledger.shop.lots.get(node)
    if lot is not None and lot.part:
        return {}
    if any(weighed is None for weighed in ledger.book.draws[operation.run.id]):
        return {}
    return parent_shares(ledger, node)
