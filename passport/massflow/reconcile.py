"""Weighted least squares over all balances that hang together: advice on which weighing is likely wrong.

Pages use the recorded masses; this only advises. With measured flows m, variances V and balances A·x = 0 the
closest masses that close every balance are m − a with a = V Aᵀ (A V Aᵀ)⁻¹ A m, and V(a) = V Aᵀ (A V Aᵀ)⁻¹ A V
(steady-state linear data reconciliation, textbook form; from memory). Each weighing stands alone here: biases
shared by a scale are part of each variance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_matrix, diags
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from passport.massflow.ledger import Ledger
from passport.massflow.masses import Weighed
from passport.reading.shop import Operation

CONFIDENCE = 0.95
"""Of the whole test, over all weighings of a part together."""
LEAD = 1.1
"""A weighing is named only if it leads the next by a tenth (a design choice, no source)."""

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """One weighing: what it is of, its mass and its standard uncertainty in kg."""

    key: str
    mass_kg: float
    u_kg: float


Balance = Mapping[str, float]
"""Coefficients by key of flow: in positive, out negative; they should add up to nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciled:
    """The masses that close every balance of one connected part, and who is under suspicion."""

    masses_kg: Mapping[str, float]
    """What would close all balances at the least cost."""
    standardised: Mapping[str, float]
    """|a|/√V(a) by weighing; 0 where no balance checks it."""
    limit: float
    """What the largest of them must pass to mean something."""
    suspects: tuple[str, ...]
    """Those that pass and cannot be told apart, the likeliest first; empty where all is well."""
    would_fit_kg: Mapping[str, float]
    """For each suspect, the mass that the other weighings ask for."""

    @property
    def named(self) -> str:
        """The one weighing that is probably wrong; empty where none or several could be."""
        return self.suspects[0] if len(self.suspects) == 1 else ""


def limit_for(weighings: int) -> float:
    """Two-sided normal limit for the largest of several (Šidák's correction of a 95 % test; from memory)."""
    each = 1 - CONFIDENCE ** (1 / max(weighings, 1))
    return NormalDist().inv_cdf(1 - each / 2)


def reconcile(flows: Sequence[Flow], balances: Sequence[Balance]) -> Reconciled:
    """Close every balance at the least cost. Flows need u > 0; balances must be independent."""
    measured = np.array([flow.mass_kg for flow in flows])
    variances = np.array([flow.u_kg**2 for flow in flows])
    matrix = _matrix(flows, balances)
    adjustments, spread = _adjusted(matrix, measured, variances)
    sizes = np.divide(np.abs(adjustments), spread, out=np.zeros_like(spread), where=spread > 0)
    limit = limit_for(int(np.count_nonzero(spread)))
    keys = [flow.key for flow in flows]
    suspects = _suspects(keys, sizes, limit)
    # leaving a weighing out altogether moves it by a·V/V(a)
    moved = np.divide(adjustments * variances, spread**2, out=np.zeros_like(spread), where=spread > 0)
    return Reconciled(
        masses_kg=dict(zip(keys, (measured - adjustments).tolist(), strict=True)),
        standardised=dict(zip(keys, sizes.tolist(), strict=True)),
        limit=limit,
        suspects=suspects,
        would_fit_kg={key: float(measured[keys.index(key)] - moved[keys.index(key)]) for key in suspects},
    )


def _matrix(flows: Sequence[Flow], balances: Sequence[Balance]) -> csc_matrix:
    column = {flow.key: i for i, flow in enumerate(flows)}
    entries = [(r, column[key], c) for r, balance in enumerate(balances) for key, c in balance.items()]
    rows, columns, values = zip(*entries, strict=True)
    return csc_matrix((values, (rows, columns)), shape=(len(balances), len(flows)))


def _adjusted(matrix: csc_matrix, measured: Vector, variances: Vector) -> tuple[Vector, Vector]:
    """Adjustments and their standard deviations."""
    weighted = (matrix @ diags(variances)).tocsc()
    solver = splu((weighted @ matrix.T).tocsc())
    adjustments: Vector = weighted.T @ solver.solve(matrix @ measured)
    variance = np.empty(len(measured))
    for start in range(0, len(measured), 256):
        block = weighted[:, start : start + 256].toarray()
        variance[start : start + 256] = np.sum(block * solver.solve(block), axis=0)
    return adjustments, np.sqrt(np.maximum(variance, 0.0))


def _suspects(keys: Sequence[str], sizes: Vector, limit: float) -> tuple[str, ...]:
    largest = float(sizes.max(initial=0.0))
    if largest <= limit:
        return ()
    near = [i for i, size in enumerate(sizes) if size * LEAD >= largest]
    return tuple(keys[i] for i in sorted(near, key=lambda i: (-round(float(sizes[i]), 9), keys[i])))


# --- of a shop ------------------------------------------------------------------------------------------


def reconcile_shop(ledger: Ledger) -> tuple[Reconciled, ...]:
    """One reconciliation for each part of the shop whose balances hang together, in order of their first key.

    Keys are "lot:ID", "item:ID", "draw:RUN:N", "pieces:RUN:N" (how far drawn pieces differ from their lot's
    mean), "loss:RUN:NAME" and "gain:RUN:NAME". Runs in which something
    was not weighed, or of which no uncertainty is known, are left out.
    """
    flows: dict[str, Flow] = {}
    balances = [balance for balance in _balances(ledger, flows) if balance]
    parts = _connected(balances)
    return tuple(reconcile([flows[key] for key in sorted({k for b in part for k in b})], part) for part in parts)


def _balances(ledger: Ledger, flows: dict[str, Flow]) -> Iterator[Balance]:
    for op in ledger.operations.values():
        terms = list(_of_run(ledger, op))
        if op.results and op.run.draws and not any(draw.tag for draw in op.run.draws):
            yield _balance(ledger, flows, terms)
    for name, stock in ledger.stock.items():
        if stock.emptied is not None and not (stock.sent_kg or stock.written_off_kg or stock.adjusted_kg):
            yield _balance(ledger, flows, list(_of_emptied(ledger, name)))


Term = tuple[str, Weighed, float]
"""Key, mass and sign."""


def _balance(ledger: Ledger, flows: dict[str, Flow], terms: Iterable[Term]) -> Balance:
    """A balance over weighings with a known spread, or nothing where one is missing."""
    balance: dict[str, float] = {}
    fresh: dict[str, Flow] = {}
    for key, weighed, sign in terms:
        u = ledger.book.weighings.u(weighed) if weighed is not None else None
        if weighed is None or not u:
            return {}
        fresh.setdefault(key, Flow(key=key, mass_kg=float(weighed.value), u_kg=u))
        balance[key] = balance.get(key, 0.0) + sign
    flows.update(fresh)
    return {key: c for key, c in balance.items() if abs(c) > 1e-12}  # noqa: PLR2004 - rounding of n/N


def _of_run(ledger: Ledger, op: Operation) -> Iterator[Term]:
    name = op.run.id
    for i in range(len(op.run.draws)):
        yield from _of_draw(ledger, op, i, 1.0)
    for kind, sign, named, weighed in (
        ("gain", 1.0, op.run.gains, ledger.book.gains[name]),
        ("loss", -1.0, op.run.losses, ledger.book.losses[name]),
    ):
        yield from ((f"{kind}:{name}:{what}", w, sign) for what, w in zip(named, weighed, strict=True))
    for result in op.results:
        yield f"{result.kind}:{result.id}", ledger.masses[result.id], -1.0


def _of_draw(ledger: Ledger, op: Operation, i: int, sign: float) -> Iterator[Term]:
    """A draw by pieces is so much of its lot's one weighing, and how far those pieces differ from its mean."""
    draw, weighed = op.run.draws[i], ledger.book.draws[op.run.id][i]
    lot = ledger.masses.get(draw.lot)
    if draw.pieces is None or weighed is None or lot is None or not lot.value:
        yield f"draw:{op.run.id}:{i}", weighed, sign
        return
    share = weighed.value / lot.value
    yield f"lot:{draw.lot}", lot, sign * float(share)
    uneven = weighed - lot.times(share)
    if ledger.book.weighings.u(uneven):
        yield f"pieces:{op.run.id}:{i}", uneven, sign


def _of_emptied(ledger: Ledger, name: str) -> Iterator[Term]:
    yield f"lot:{name}", ledger.masses[name], 1.0
    for op in ledger.operations.values():
        for i, draw in enumerate(op.run.draws):
            if draw.lot == name:
                yield from _of_draw(ledger, op, i, -1.0)


def _connected(balances: Sequence[Balance]) -> list[list[Balance]]:
    keys = {key: i for i, key in enumerate(dict.fromkeys(k for b in balances for k in b))}
    if not keys:
        return []
    entries = [(r, keys[k]) for r, balance in enumerate(balances) for k in balance]
    rows, columns = zip(*entries, strict=True)
    size = len(balances) + len(keys)
    shifted = [len(balances) + c for c in columns]
    graph = csc_matrix((np.ones(len(rows)), (rows, shifted)), shape=(size, size))
    _, labels = connected_components(graph, directed=False)
    parts: dict[int, list[Balance]] = {}
    for balance, label in zip(balances, labels, strict=False):
        parts.setdefault(int(label), []).append(balance)
    return sorted(parts.values(), key=lambda part: min(k for b in part for k in b))


def in_words(found: Reconciled) -> str:
    """The advice in one sentence; empty where all is well."""
    if not found.suspects:
        return ""
    if found.named:
        fits = found.would_fit_kg[found.named]
        return f"{_label(found.named)} was probably mis-weighed: {_grams(fits)} kg would fit"
    names = ", ".join(_label(key) for key in found.suspects)
    return f"one of these was probably mis-weighed, and the weighings cannot tell which: {names}"


def _label(key: str) -> str:
    kind, name, *rest = key.split(":")
    if kind in ("lot", "item"):
        return name
    if kind in ("draw", "pieces"):
        return f"{'draw' if kind == 'draw' else 'the pieces in draw'} {int(rest[0]) + 1} of {name}"
    return f"the {kind} {' '.join(rest)} of {name}"


def _grams(mass_kg: float) -> str:
    digits = 3 if math.fabs(mass_kg) < 1 else 1
    return f"{mass_kg:.{digits}f}"
