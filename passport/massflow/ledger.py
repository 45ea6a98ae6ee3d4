"""The settled books of a shop: balances, mixtures, stocks and doubts, computed once from the records."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from functools import cached_property

from passport.massflow.closure import Closure, Verdict, closure_problems, closures, sum_of
from passport.massflow.composition import (
    Component,
    Composer,
    moisture_doubts,
    part_node,
    tag_node,
    unknown_parts,
)
from passport.massflow.genealogy import as_of, items_of_tags, parents, working_order
from passport.massflow.ingredients import RECYCLED, Ingredient, Selector, selecting
from passport.massflow.masses import MassBook, Weighed, mass_book
from passport.massflow.mixing import Mixing
from passport.massflow.operation_table import operation_table
from passport.massflow.stock import Stock, stock_book
from passport.massflow.things import thing_doubts
from passport.problems import Level, Problem, did_you_mean, in_order
from passport.reading.records import LotEvent
from passport.reading.shop import Operation, Shop, latest_date, lot_events, operations


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share of dry plastic mass, between 0 and 1."""

    value: Fraction
    """Well mixed."""
    low: Fraction
    """The least that the sorts above allow; claims use it. Equal to `value` where no sort makes it loose."""
    high: Fraction
    """The most that the sorts above allow."""
    u: float | None
    """Standard uncertainty of `low` from weighing alone; None where some scale is unknown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """What one lot, item or part is made of."""

    name: str
    mixing: Mixing = field(repr=False, compare=False)

    @property
    def portions(self) -> Mapping[Ingredient, Fraction]:
        """Exact joint shares; they add up to 1."""
        node = self.mixing.nodes[self.name]
        return {ingredient: Fraction(n, node.whole) for ingredient, n in node.portions.items()}

    def share(self, dimension: str, values: Iterable[str | int]) -> Share:
        """The share of everything whose `dimension` is one of `values`."""
        return self._share(selecting(dimension, values))

    def shares_by(self, dimension: str) -> Mapping[str, Share]:
        """Shares by origin, stream, resin, weathering, melts or lives; the largest first, then by name."""
        met = {getattr(ingredient, dimension) for ingredient in self.mixing.nodes[self.name].portions}
        shares = {str(value): self.share(dimension, (value,)) for value in met}
        return dict(sorted(shares.items(), key=lambda pair: (-pair[1].value, pair[0])))

    def met(self, dimension: str) -> frozenset[str]:
        """The origins, streams, resins … that occur in it, whatever their share."""
        return frozenset(str(getattr(i, dimension)) for i in self.mixing.nodes[self.name].portions)

    def value(self, dimension: str, values: Iterable[str | int]) -> Fraction:
        """The well-mixed share alone, which is far cheaper than its bounds and uncertainty."""
        return self.mixing.share(self.name, selecting(dimension, values))

    def recycled(self) -> Share:
        """Pre- and post-consumer material together (ISO 14021:2016, 7.8.1.1)."""
        return self.share("origin", RECYCLED)

    def post_consumer(self) -> Share:
        """Post-consumer material alone."""
        return self.share("origin", ("post-consumer",))

    def _share(self, selector: Selector) -> Share:
        value = self.mixing.share(self.name, selector)
        low, high = self.mixing.bounds(self.name, selector)
        return Share(value=value, low=low, high=high, u=self.mixing.u(self.name, selector))


@dataclass(frozen=True, kw_only=True, eq=False)
class Ledger:
    """Everything that the masses in the records say. Masses in kg, exact.

    Equal to itself alone, so that answers can be kept by it.
    """

    shop: Shop
    """The shop as of the ledger's day."""
    at: date | None
    """The ledger's day: as asked for, else the latest date in the records."""
    operations: Mapping[str, Operation]
    made_of: Mapping[str, tuple[str, ...]]
    """The lots and items that each lot and item was made of."""
    order: tuple[str, ...]
    """Every lot and item after all that it was made of."""
    book: MassBook
    closures: Mapping[str, Closure]
    """The balance of each run."""
    mixing: Mixing
    mixtures: Mapping[str, Mixture]
    """What each lot and item is made of."""
    part_mixtures: Mapping[tuple[str, str], Mixture]
    """What each part of an item is made of, by (item, part)."""
    stock: Mapping[str, Stock]
    """What is left of each lot."""
    repaired: Mapping[str, tuple[Component, ...]]
    """What each repaired thing is made of now: part, mixing node and mass in kg."""
    after_repair: Mapping[tuple[str, str], Weighed]
    """What a thing weighed after a repair, in kg, by (tag, run)."""
    repaired_as_weighed: Mapping[str, tuple[Component, ...]]
    """The same with the water in what was put in: what balances add up."""
    taken_out: Mapping[tuple[str, str], tuple[tuple[str, Weighed], ...]]
    """What a repair took out of a thing, as it weighed in there, by (tag, run): mixing nodes with masses in kg."""
    left_as: Mapping[str, Weighed]
    """What the things handed back as a lot weighed when they left, in kg, by lot; None where nobody knows."""
    doubts: tuple[Problem, ...]
    """All that is wrong or doubtful, in order of place."""
    withheld_by: frozenset[str]
    """Runs and lots that withhold the figures of all that follows from them."""

    @property
    def masses(self) -> Mapping[str, Weighed]:
        """The mass of each lot and item batch; None where it was not weighed."""
        return self.book.nodes

    def tag_mixture(self, tag: str) -> Mixture | None:
        """What one tagged thing is made of, with what repairs put in; None for a tag that nobody issued."""
        if tag_node(tag) in self.mixing.nodes:
            return Mixture(name=tag_node(tag), mixing=self.mixing)
        return self.mixtures.get(self.item_of_tag.get(tag, ""))

    def components_of(self, tag: str) -> tuple[Component, ...]:
        """What one tagged thing is made of now, as weighed: part, mixing node, mass in kg. Empty for an unknown tag."""
        if tag in self.repaired_as_weighed:
            return self.repaired_as_weighed[tag]
        item = self.shop.items.get(self.item_of_tag.get(tag, ""))
        if item is None:
            return ()
        if len(item.parts) > 1:
            each = Fraction(1, item.count.pieces)
            weighed = ((part.part, self.book.parts.get((item.id, part.part))) for part in item.parts)
            return tuple((name, part_node(item.id, name), mass.times(each) if mass else None) for name, mass in weighed)
        return ((item.parts[0].part if item.parts else "", item.id, self.tag_mass(tag)),)

    def tag_mass(self, tag: str) -> Weighed:
        """The plastic of one tagged thing in kg, with what repairs put in and took out; None where unknown."""
        if tag in self.repaired:
            return sum_of(weighed for _, _, weighed in self.repaired[tag])
        item = self.shop.items.get(self.item_of_tag.get(tag, ""))
        whole = self.masses.get(item.id) if item else None
        return whole.times(Fraction(1, item.count.pieces)) if item and whole is not None else None

    @cached_property
    def run_of(self) -> Mapping[str, str]:
        """The run that each lot or item came from."""
        return {result.id: op.run.id for op in self.operations.values() for result in op.results}

    @cached_property
    def place_in_order(self) -> Mapping[str, int]:
        """Where each lot and item stands in `order`."""
        return {name: place for place, name in enumerate(self.order)}

    @cached_property
    def drawn_by(self) -> Mapping[str, tuple[tuple[Operation, int], ...]]:
        """The runs that drew on each lot, each with the place of the draw in it."""
        found: dict[str, list[tuple[Operation, int]]] = {}
        for operation in self.operations.values():
            for place, draw in enumerate(operation.run.draws):
                found.setdefault(draw.lot, []).append((operation, place))
        return {lot: tuple(draws) for lot, draws in found.items()}

    @cached_property
    def events_of_lot(self) -> Mapping[str, tuple[LotEvent, ...]]:
        """The events of each lot, in order of date."""
        return lot_events(self.shop)

    @cached_property
    def item_of_tag(self) -> Mapping[str, str]:
        """The item batch that each issued tag stands on."""
        return items_of_tags(self.shop)

    @cached_property
    def tags_of(self) -> Mapping[str, tuple[str, ...]]:
        """The tags issued for each item batch, in order of issue."""
        found: dict[str, list[str]] = {}
        for issued in self.shop.issued:
            found.setdefault(issued.item, []).append(issued.tag)
        return {item: tuple(tags) for item, tags in found.items()}

    @cached_property
    def feeds(self) -> Mapping[str, tuple[str, ...]]:
        """The mixing nodes that each mixing node went into."""
        found: dict[str, list[str]] = {}
        for name, node in self.mixing.nodes.items():
            for source in dict.fromkeys(i.source for i in node.inputs):
                found.setdefault(source, []).append(name)
        return {source: tuple(names) for source, names in found.items()}

    def upstream(self, node: str) -> tuple[str, ...]:
        """The node, then all lots and items above it, each once, nearest first."""
        if node not in self._above:
            found = dict.fromkeys([node])
            waiting = [node]
            for name in waiting:
                fresh = [above for above in self.made_of.get(name, ()) if above not in found]
                waiting += fresh
                found.update(dict.fromkeys(fresh))
            self._above[node] = tuple(found)
        return self._above[node]

    def doubts_of(self, node: str) -> tuple[Problem, ...]:
        """The doubts of a lot or item and of its run, then those inherited; `about` names where each began."""
        if node not in self._doubts_at:
            seen: dict[Problem, None] = {}
            for name in self.upstream(node):
                for about in (name, self.run_of.get(name, name)):
                    seen.update(dict.fromkeys(self._doubts_about.get(about, ())))
            self._doubts_at[node] = tuple(seen)
        return self._doubts_at[node]

    def withheld(self, node: str) -> bool:
        """Whether an open balance at or above the node withholds its "at least" figures."""
        return node in self._withheld

    @cached_property
    def _above(self) -> dict[str, tuple[str, ...]]:
        """The answers of `upstream`: several rules ask, for each thing."""
        return {}

    @cached_property
    def _doubts_at(self) -> dict[str, tuple[Problem, ...]]:
        """The answers of `doubts_of`: several figures of a page ask, in each language."""
        return {}

    @cached_property
    def _doubts_about(self) -> Mapping[str, tuple[Problem, ...]]:
        by: dict[str, tuple[Problem, ...]] = {}
        for problem in self.doubts:
            by[problem.about] = (*by.get(problem.about, ()), problem)
        return by

    @cached_property
    def _withheld(self) -> frozenset[str]:
        found: set[str] = set()
        for name in self.order:
            itself = name in self.withheld_by or self.run_of.get(name, "") in self.withheld_by
            if itself or any(above in found for above in self.made_of[name]):
                found.add(name)
        return frozenset(found | (self.made_of.keys() - set(self.order)))


def settle(
    shop: Shop,
    resin_of: Mapping[str, str],
    at: date | None = None,
    papers: Mapping[str, Mapping[str, Fraction]] | None = None,
) -> Ledger:
    """Settle the books of a shop at the end of a day (None: of all records).

    resin_of: the resin that each lot was named by, where it was. papers: origin shares (by class) of lots
    from other workshops whose document could be read; without one their origin is unknown.
    Raises nothing: what is wrong is in `doubts`, with its level.
    """
    now = as_of(shop, at)
    runs = operations(now)
    made_of = parents(now, runs)
    order, cycles = working_order(now, made_of)
    book = mass_book(now, runs)
    balances = closures(now, book, runs)
    stocks = stock_book(now, book, runs)
    mixing = Mixing(spread_kg=book.weighings.spread_kg)
    composer = Composer(now, book, runs, resin_of, papers or {}, mixing)
    composer.compose(order)
    open_runs = {name for name, c in balances.items() if c.verdict is Verdict.WITHHELD}
    problems = [*cycles, *book.problems, *stocks.problems, *_problems(now, book, runs, balances)]
    problems += thing_doubts(now, book, runs, composer)
    problems = list(_outside_cycles(problems, frozenset(made_of) - frozenset(order), runs))
    return Ledger(
        shop=now,
        at=at or latest_date(now),
        operations=runs,
        made_of=made_of,
        order=order,
        book=book,
        closures=balances,
        mixing=mixing,
        mixtures={name: Mixture(name=name, mixing=mixing) for name in made_of},
        part_mixtures=dict(_parts(now, mixing)),
        stock=stocks.stock,
        repaired=composer.repaired,
        repaired_as_weighed=composer.repaired_as_weighed,
        taken_out=composer.taken_out,
        after_repair=composer.after_repair,
        left_as=composer.left_as,
        doubts=in_order(problems),
        withheld_by=frozenset(open_runs | stocks.withheld_runs | composer.unproportioned),
    )


def _outside_cycles(
    problems: Iterable[Problem], stuck: frozenset[str], runs: Mapping[str, Operation]
) -> Iterator[Problem]:
    """Of material made of itself the circle is said and nothing that follows from it: no sum there means anything."""
    of_stuck = stuck | {name for name, op in runs.items() if any(result.id in stuck for result in op.results)}
    return (p for p in problems if p.level is Level.ERROR or p.about not in of_stuck)


def _parts(shop: Shop, mixing: Mixing) -> Iterator[tuple[tuple[str, str], Mixture]]:
    for item in shop.items.values():
        for part in item.parts:
            name = part_node(item.id, part.part)
            if name in mixing.nodes:
                yield (item.id, part.part), Mixture(name=name, mixing=mixing)


def _problems(
    shop: Shop, book: MassBook, runs: Mapping[str, Operation], balances: Mapping[str, Closure]
) -> Iterator[Problem]:
    for name, op in runs.items():
        yield from closure_problems(shop, book, op, balances[name])
        yield from _unknown_operation(shop, op)
        yield from _drawn_twice(shop, op)
        yield from _nothing_out(shop, op)
    yield from _taken_in_unweighed(shop, book)
    yield from moisture_doubts(shop, runs)
    yield from unknown_parts(shop)


def _taken_in_unweighed(shop: Shop, book: MassBook) -> Iterator[Problem]:
    """Goods in that still wait for the scale: nothing is wrong, and nobody should forget them."""
    for lot in shop.lots.values():
        if lot.received is not None and book.nodes[lot.id] is None:
            yield Problem(
                code="lot-not-weighed",
                message=f"met {lot.id} not weighed, wanted its mass: figures that need it are withheld",
                place=shop.place("lot", lot.id, "mass"),
                hint=f"when it has been on the scale: passport receive --weigh {lot.id}",
                level=Level.ADVICE,
                about=lot.id,
            )


def _unknown_operation(shop: Shop, op: Operation) -> Iterator[Problem]:
    if op.run.operation not in operation_table():
        yield Problem(
            code="unknown-operation",
            message=f'met the operation "{op.run.operation}", wanted one of the table of operations',
            place=shop.node_place(op.run.id, "operation"),
            hint=did_you_mean(op.run.operation, operation_table()) or "the words are " + ", ".join(operation_table()),
            about=op.run.id,
        )


def _drawn_twice(shop: Shop, op: Operation) -> Iterator[Problem]:
    """One lot in two draws is a slip of the pen, unless they are for two parts of a thing."""
    parts = op.parts or ("",) * len(op.run.draws)
    seen: set[tuple[str, str]] = set()
    for draw, path, part in zip(op.run.draws, op.draw_paths, parts, strict=True):
        if draw.lot and (draw.lot, part) in seen:
            message = f"met {draw.lot} drawn twice by {op.run.id}, wanted each lot once"
            place = shop.node_place(op.run.id, *path)
            hint = "add the two masses up"
            yield Problem(code="drawn-twice", message=message, place=place, hint=hint, about=op.run.id)
        seen.add((draw.lot, part))


def _nothing_out(shop: Shop, op: Operation) -> Iterator[Problem]:
    for result in op.results:
        made = shop.lots.get(result.id) or shop.items.get(result.id)
        mass = getattr(made, "mass", None)
        if made is not None and op.run.draws and getattr(mass, "mass_kg", None) == 0:
            message = f"met {made.id} with a mass of 0 made by {op.run.id}, wanted what it weighs"
            yield Problem(
                code="zero-mass",
                message=message,
                place=shop.node_place(made.id, "mass"),
                hint="`mass: not weighed` is allowed; a result of nothing needs no record",
                level=Level.DOUBT,
                about=made.id,
                facts=(("lot", made.id), ("run", op.run.id)),
            )
