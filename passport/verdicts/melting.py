"""Whether each run that melts stays within what its resins bear (material.melting has the limits)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from passport.massflow import Ledger
from passport.massflow.operation_table import operation_kind
from passport.material.melting import melt_problems
from passport.material.resins import resins
from passport.problems import Level, Problem
from passport.reading.shop import Shop


def doubts(shop: Shop, ledger: Ledger) -> Iterator[Problem]:
    """What is wrong with the temperature or the resin of each melting run, placed at its `melt:`.

    The melt is done and cannot be refused any more: the page carries it as a doubt.
    """
    for name, operation in ledger.operations.items():
        run = operation.run
        if not operation_kind(run.operation).melts:
            continue
        lots = [draw.lot for draw in run.draws if draw.lot in ledger.mixtures]
        names = {resin for lot in lots for resin in ledger.mixtures[lot].shares_by("resin")}
        symbols = [symbol for symbol in resins() if symbol in names]
        melt_c = float(run.melt) if run.melt is not None else None
        for problem in melt_problems(symbols, melt_c):
            yield replace(problem, place=shop.node_place(name, "melt"), about=name, level=_as_doubt(problem.level))


def _as_doubt(level: Level) -> Level:
    return Level.DOUBT if level is Level.ERROR else level
