"""The mixing graph: exact shares of every node, their bounds through sorts, and their uncertainty.

Well mixed, on dry mass: x = Σ g_k x_k / Σ g_k with g_k the dry mass drawn from k. Its first-order change is
dx = Σ (g_k/G) dx_k + Σ ((x_k − x)/G) dg_k, so that a mass weighed once and used twice stays correlated
(JCGM 100:2008, 5.1.2 and 5.2.2).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from passport.massflow.ingredients import NO_CHANGE, Change, Ingredient, Selector
from passport.massflow.weighing import Measured

Portions = Mapping[Ingredient, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """What a node takes from another: dry mass, and what happens on the way."""

    source: str
    dry: Measured
    change: Change = NO_CHANGE


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One mixture: integer portions over a common whole, in lowest terms (a share is portion/whole)."""

    portions: Portions
    whole: int
    inputs: tuple[Input, ...] = ()
    sorted_out: Separation | None = None
    loose: bool = False
    """Whether a sort stands above it or at it, so that some of its shares may be bounds only."""
    rank: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Separation:
    """A result that a sort separated: any class may have gone into it, as far as the masses allow."""

    result: Measured | None
    """Dry mass q of the result in kg; None where it was not weighed."""
    inputs: Measured | None
    """Dry mass Q of all inputs in kg."""


@dataclass(frozen=True, slots=True)
class _Slopes:
    """A sparse row: d(low)/d(source) times the source's standard uncertainty, by index of source."""

    index: npt.NDArray[np.int64]
    slope: npt.NDArray[np.float64]
    known: bool = True


_FLAT = _Slopes(np.empty(0, dtype=np.int64), np.empty(0, dtype=np.float64))
_UNKNOWN_FLAT = _Slopes(_FLAT.index, _FLAT.slope, known=False)


def lowest_terms(portions: dict[Ingredient, int], whole: int) -> tuple[dict[Ingredient, int], int]:
    """The same shares with the smallest integers; portions of nothing are left out."""
    common = math.gcd(whole, *portions.values())
    return {k: n // common for k, n in portions.items() if n}, whole // common


def from_shares(shares: Mapping[Ingredient, Fraction]) -> tuple[dict[Ingredient, int], int]:
    """Integer portions from shares that add up to 1."""
    whole = math.lcm(*(share.denominator for share in shares.values()))
    return lowest_terms({k: int(share * whole) for k, share in shares.items()}, whole)


def mixed(
    parts: Iterable[tuple[Fraction, Node, Change]],
) -> tuple[dict[Ingredient, int], int]:
    """Mass-weighted portions. The masses must not all be zero."""
    terms = list(parts)
    mass_unit = math.lcm(*(mass.denominator for mass, _, _ in terms))
    common = math.lcm(*(node.whole for _, node, _ in terms))
    out: dict[Ingredient, int] = {}
    whole = 0
    for mass, node, change in terms:
        grains = mass.numerator * (mass_unit // mass.denominator)
        factor = grains * (common // node.whole)
        whole += grains * common
        for ingredient, portion in node.portions.items():
            key = ingredient if change is NO_CHANGE else change.of(ingredient)
            out[key] = out.get(key, 0) + factor * portion
    return lowest_terms(out, whole)


@dataclass(slots=True, eq=False)
class Mixing:
    """All mixtures of a shop. Nodes are added after their inputs; queries are answered once and kept."""

    spread_kg: Mapping[str, float]
    nodes: dict[str, Node] = field(default_factory=dict)
    _bounds: dict[tuple[str, Selector], tuple[Fraction, Fraction]] = field(default_factory=dict)
    _slopes: dict[tuple[str, Selector], _Slopes] = field(default_factory=dict)
    _source_index: dict[str, int] = field(default_factory=dict)

    def add_known(self, name: str, shares: Mapping[Ingredient, Fraction]) -> None:
        """A node whose shares are given: received material."""
        portions, whole = from_shares(shares)
        self.nodes[name] = Node(portions=portions, whole=whole, rank=len(self.nodes))

    def add_mixed(self, name: str, inputs: Iterable[Input], sorted_out: Separation | None = None) -> None:
        """A node mixed from others."""
        kept = tuple(inputs)
        portions, whole = mixed((i.dry.value, self.nodes[i.source], i.change) for i in kept)
        self.nodes[name] = Node(
            portions=portions,
            whole=whole,
            inputs=kept,
            sorted_out=sorted_out,
            loose=sorted_out is not None or any(self.nodes[i.source].loose for i in kept),
            rank=len(self.nodes),
        )

    def share(self, name: str, selector: Selector) -> Fraction:
        """The exact share of a selection in a node."""
        node = self.nodes[name]
        return Fraction(_picked(node, selector), node.whole)

    def bounds(self, name: str, selector: Selector) -> tuple[Fraction, Fraction]:
        """The least and the greatest share that the sorts above a node allow."""
        for above, wanted in self._missing(name, selector, self._bounds):
            self._bounds[above, wanted] = self._bound(self.nodes[above], above, wanted)
        return self._bounds[name, selector]

    def u(self, name: str, selector: Selector) -> float | None:
        """Standard uncertainty of a share's lower bound from weighing alone; None where some scale is unknown.

        Where no sort makes a share loose, its lower bound is the share itself.
        """
        for above, wanted in self._missing(name, selector, self._slopes):
            self._slopes[above, wanted] = self._slope(self.nodes[above], above, wanted)
        row = self._slopes[name, selector]
        if not row.known:
            return None
        if not row.index.size:
            return 0.0
        return math.sqrt(float(row.slope @ row.slope))

    def contributions(self, name: str, selector: Selector) -> Mapping[str, float]:
        """What each source of uncertainty adds to u, signed, the largest first; their squares add up to u²."""
        self.u(name, selector)
        row, names = self._slopes[name, selector], list(self._source_index)
        found = {names[int(i)]: float(s) for i, s in zip(row.index, row.slope, strict=True) if s}
        return dict(sorted(found.items(), key=lambda pair: (-abs(pair[1]), pair[0])))

    def _missing(
        self, name: str, selector: Selector, answered: Mapping[tuple[str, Selector], object]
    ) -> list[tuple[str, Selector]]:
        """All questions below this one that have no answer yet, sources first."""
        waiting = [(name, selector)]
        found: dict[tuple[str, Selector], None] = {}  # a set that keeps its order, whatever the hashes
        while waiting:
            question = waiting.pop()
            if question in answered or question in found:
                continue
            found[question] = None
            if not self._settled(*question, answered):
                waiting += self.below(*question)
        return sorted(found, key=lambda q: self.nodes[q[0]].rank)

    def below(self, name: str, selector: Selector) -> Iterator[tuple[str, Selector]]:
        """What a question about a node asks of its inputs."""
        for i in self.nodes[name].inputs:
            before = i.change.before(selector)
            if before is not None:
                yield i.source, before

    def _settled(self, name: str, selector: Selector, answered: object) -> bool:
        """All or nothing is all or nothing of every input: no weighing and no sort can change it."""
        node = self.nodes[name]
        if answered is self._bounds and not node.loose:
            return True
        return _picked(node, selector) in (0, node.whole)

    def _bound(self, node: Node, name: str, selector: Selector) -> tuple[Fraction, Fraction]:
        if not node.inputs or self._settled(name, selector, self._bounds):
            exact = self.share(name, selector)
            return exact, exact
        low, high, mass = Fraction(0), Fraction(0), Fraction(0)
        for i in node.inputs:
            least, most = self._input_bounds(i, selector)
            low, high, mass = low + i.dry.value * least, high + i.dry.value * most, mass + i.dry.value
        low, high = low / mass, high / mass
        fixed = all(i.change.before(selector) is None for i in node.inputs)
        return (low, high) if node.sorted_out is None or fixed else separated(low, high, node.sorted_out)

    def _input_bounds(self, i: Input, selector: Selector) -> tuple[Fraction, Fraction]:
        before = i.change.before(selector)
        if before is None:
            all_or_nothing = Fraction(i.change.picked_after(selector))
            return all_or_nothing, all_or_nothing
        return self._bounds[i.source, before]

    def _slope(self, node: Node, name: str, selector: Selector) -> _Slopes:
        if not node.inputs or _picked(node, selector) in (0, node.whole):
            return _FLAT
        if node.sorted_out is None or not any(True for _ in self.below(name, selector)):
            return self._mixed_slope(node, selector)
        return self._sorted_slope(node, selector, node.sorted_out)

    def _mixed_slope(self, node: Node, selector: Selector) -> _Slopes:
        """A blend: dx = Σ w_k dx_k + Σ ((x_k − x)/G) dg_k."""
        mass = float(sum((i.dry.value for i in node.inputs), Fraction(0)))
        lows = [self._low_of_input(i, selector) for i in node.inputs]
        low = _mean(lows, node.inputs)
        rows, terms, known = list[_Slopes](), list[tuple[float, Measured]](), True
        for i, share in zip(node.inputs, lows, strict=True):
            row, weight = self._slopes_of_input(i, selector), float(i.dry.value) / mass
            if row.index.size and weight:
                rows.append(row if weight == 1.0 else _Slopes(row.index, row.slope * weight))
            known = known and (row.known or not weight)
            if share != low:
                terms.append((float(share - low) / mass, i.dry))
        return self._with(rows, terms, known=known)

    def _sorted_slope(self, node: Node, selector: Selector, cut: Separation) -> _Slopes:
        """A sort: low = 1 − Q(1 − x)/q: dlow = (Q/q) dx − ((1 − x)/q) dQ + (Q(1 − x)/q²) dq; flat where it is 0."""
        low = self._low_of_input(node.inputs[0], selector)
        row = self._slopes_of_input(node.inputs[0], selector)
        if cut.result is None or cut.inputs is None or not cut.result.value or not cut.inputs.value:
            return row if low == 1 else _FLAT
        if cut.result.value >= cut.inputs.value:
            return row
        if separated(low, low, cut)[0] == 0:
            return _FLAT
        result, whole, rest = float(cut.result.value), float(cut.inputs.value), float(1 - low)
        rows = [_Slopes(row.index, row.slope * (whole / result))] if row.index.size else []
        terms = [(-rest / result, cut.inputs), (whole * rest / result**2, cut.result)] if rest else []
        return self._with(rows, terms, known=row.known)

    def _with(self, rows: list[_Slopes], terms: Iterable[tuple[float, Measured]], *, known: bool) -> _Slopes:
        """Rows of other shares and slopes of weighings in one row."""
        own: dict[int, float] = {}
        for factor, weighed in terms:
            known = known and weighed.known
            for key, c in weighed.sensitivities.items():
                # a shared bias comes with several weighings and must meet itself in one entry
                at = self._source_index.setdefault(key, len(self._source_index))
                own[at] = own.get(at, 0.0) + factor * c * self.spread_kg[key]
        if own:
            rows = [*rows, _Slopes(np.array([*own], dtype=np.int64), np.array([*own.values()]))]
        return _added(rows, known=known)

    def _low_of_input(self, i: Input, selector: Selector) -> Fraction:
        before = i.change.before(selector)
        if before is None:
            return Fraction(i.change.picked_after(selector))
        source = self.nodes[i.source]
        if source.loose:
            return self.bounds(i.source, before)[0]
        return Fraction(_picked(source, before), source.whole)

    def _slopes_of_input(self, i: Input, selector: Selector) -> _Slopes:
        before = i.change.before(selector)
        return _FLAT if before is None else self._slopes[i.source, before]


def _mean(shares: list[Fraction], inputs: tuple[Input, ...]) -> Fraction:
    if all(share == shares[0] for share in shares):
        return shares[0]
    masses = [i.dry.value for i in inputs]
    weighted = (mass * share for mass, share in zip(masses, shares, strict=True))
    return sum(weighted, Fraction(0)) / sum(masses, Fraction(0))


def _picked(node: Node, selector: Selector) -> int:
    return sum(portion for ingredient, portion in node.portions.items() if selector.picks(ingredient))


def _added(rows: list[_Slopes], *, known: bool) -> _Slopes:
    if not rows:
        return _FLAT if known else _UNKNOWN_FLAT
    if len(rows) == 1 and known:
        return rows[0]
    index, where = np.unique(np.concatenate([row.index for row in rows]), return_inverse=True)
    slope = np.bincount(where, weights=np.concatenate([row.slope for row in rows]), minlength=len(index))
    return _Slopes(index, slope.astype(np.float64), known)


def separated(low: Fraction, high: Fraction, cut: Separation) -> tuple[Fraction, Fraction]:
    """Bounds of a class in one result q of a sort of Q: max(0, (T − (Q − q))/q) … min(1, T/q).

    T, the class's mass in all inputs, is between low·Q and high·Q. Where nothing is known of the masses the
    class can be all or nothing of the result, unless it is all or nothing of the inputs.
    """
    if cut.inputs is None or cut.result is None or not cut.inputs.value or not cut.result.value:
        return (Fraction(low == 1), Fraction(high != 0))
    whole = cut.inputs.value
    result = min(cut.result.value, whole)
    least = (low * whole - (whole - result)) / result
    return max(Fraction(0), least), min(Fraction(1), high * whole / result)
