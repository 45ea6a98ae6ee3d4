"""From records to the mixing graph: what each lot, item and part is made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from passport.massflow.closure import sum_of
from passport.massflow.genealogy import items_of_tags, numbers_of_things, repairs_of_tags
from passport.massflow.ingredients import FIELDS, NO_CHANGE, UNKNOWN, Change, Ingredient
from passport.massflow.masses import MassBook, Weighed
from passport.massflow.mixing import Input, Mixing, Separation
from passport.massflow.operation_table import OperationKind, operation_kind
from passport.massflow.weighing import Measured
from passport.problems import Level, Problem
from passport.reading.records import CameBack, Draw, Form, HandedOver, Inspected, Item, Lot, Stream
from passport.reading.shop import Operation, Shop

ELSEWHERE = "elsewhere"
"""Stands for the stream of a lot that came from another workshop."""
_NO_STREAM = ""
MENDED_IN_PART = Fraction(1, 2)
"""A repair that takes out less than this share of a part leaves the rest of it in (a design choice, no source)."""
_ONE = Measured(Fraction(1))
_NO_MASS = Measured(Fraction(0))
Component = tuple[str, str, Weighed]
"""A part's name, its mixing node and its mass in one thing."""
_WET_FORMS = frozenset({Form.FLAKE, Form.REGRIND})


def part_node(item: str, part: str) -> str:
    """The mixing node of a part; ids hold no slash, so that it clashes with none."""
    return f"{item}/{part}"


def run_node(run: str) -> str:
    """The mixing node of what a run had in its hands."""
    return f"{run}/"


def tag_node(tag: str) -> str:
    """The mixing node of a tagged thing that was repaired."""
    return f"{tag}/tag"


def owner(node: str) -> str:
    """The lot, item or run that a mixing node belongs to."""
    return node.partition("/")[0]


@dataclass(slots=True)
class Composer:
    """Builds the mixing graph, node by node in working order."""

    shop: Shop
    book: MassBook
    runs: Mapping[str, Operation]
    resin_of: Mapping[str, str]
    papers: Mapping[str, Mapping[str, Fraction]]
    mixing: Mixing
    unproportioned: set[str] = field(default_factory=set)
    """Runs and lots whose inputs were not weighed although it matters: their shares are unknown."""
    repaired: dict[str, tuple[Component, ...]] = field(default_factory=dict)
    """What each repaired thing is made of now, part by part, without the water in what was put in."""
    repaired_as_weighed: dict[str, tuple[Component, ...]] = field(default_factory=dict)
    """The same with that water: what balances add up."""
    taken_out: dict[tuple[str, str], tuple[tuple[str, Weighed], ...]] = field(default_factory=dict)
    """What a repair took out of a thing, as it weighed in there, by (tag, run): mixing nodes with masses."""
    after_repair: dict[tuple[str, str], Weighed] = field(default_factory=dict)
    """What a thing weighed after a repair, by (tag, run)."""
    left_as: dict[str, Weighed] = field(default_factory=dict)
    """What the things (or parts) handed back as a lot weighed when they left, by lot."""
    _run_of: Mapping[str, Operation] = field(default_factory=dict)
    _items: Mapping[str, str] = field(default_factory=dict)
    _piece_of: Mapping[str, tuple[str, int]] = field(default_factory=dict)
    """The piece that each tag stands on: a replaced tag's successor stands on the same one."""
    _left_on: Mapping[tuple[str, int], date] = field(default_factory=dict)
    _repairs: Mapping[str, tuple[Operation, ...]] = field(default_factory=dict)
    _numbers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._run_of = {result.id: op for op in self.runs.values() for result in op.results}
        self._items = items_of_tags(self.shop)
        self._piece_of = {issued.tag: (issued.item, issued.piece) for issued in self.shop.issued}
        left: dict[tuple[str, int], date] = {}
        for event in self.shop.events:
            if isinstance(event, HandedOver) and event.tag in self._piece_of:
                left.setdefault(self._piece_of[event.tag], event.date)
        self._left_on = left
        self._repairs = repairs_of_tags(self.shop, self.runs)
        self._numbers = numbers_of_things(self.shop)

    def compose(self, order: Iterable[str]) -> None:
        """Add every node in `order`, then those that a cycle kept out of it, as unknown."""
        for name in order:
            self._add(name)
        for name in (*self.shop.lots, *self.shop.items):
            if name not in self.mixing.nodes:
                self._add_unknown(name, ())
        self.compose_repaired()

    def _add(self, name: str) -> None:
        lot = self.shop.lots.get(name)
        op = self._run_of.get(name)
        if op is not None:
            self._add_hands(op)
            if lot is not None:
                self._add_result(op, lot)
        elif lot is not None and lot.received is not None:
            self._add_received(lot)
        elif name not in self.mixing.nodes:
            self._add_unknown(name, ())

    # --- received ---------------------------------------------------------------------------------

    def _add_received(self, lot: Lot) -> None:
        received = lot.received
        if received is None or received.tags:
            self._add_returned(lot, received.tags if received else ())
            return
        origins, stream = self._origins(lot, self.shop.streams.get(received.stream))
        resin = self.resin_of.get(lot.id) or UNKNOWN
        weathering = lot.weathering.value if lot.weathering else UNKNOWN
        shares = {
            Ingredient(origin, stream, resin, weathering, 0, int(origin == "post-consumer")): share
            for origin, share in origins.items()
        }
        self.mixing.add_known(lot.id, shares)

    def _origins(self, lot: Lot, stream: Stream | None) -> tuple[Mapping[str, Fraction], str]:
        if stream is not None:
            return {origin.value: share for origin, share in stream.origin.items() if share}, stream.id
        stated = {name: share for name, share in self.papers.get(lot.id, {}).items() if share > 0}
        rest = 1 - sum(stated.values(), Fraction(0))
        if rest < 0:
            return {UNKNOWN: Fraction(1)}, ELSEWHERE
        if rest:
            stated[UNKNOWN] = stated.get(UNKNOWN, Fraction(0)) + rest
        return stated, ELSEWHERE if lot.received and lot.received.source else _NO_STREAM

    def _add_returned(self, lot: Lot, tags: tuple[CameBack, ...]) -> None:
        sides = [side for came in tags for side in self._returned(lot, came)]
        self.left_as[lot.id] = sum_of(weighed for _, weighed, _ in sides)
        self._add_mixed(lot.id, sides)

    def _returned(self, lot: Lot, came: CameBack) -> Iterator[tuple[str, Weighed, Change]]:
        components = self.components(came.tag, lot.date)
        change = self._return_of(came.tag, lot.date, lot.weathering.value if lot.weathering else "")
        if not components:
            yield "", None, NO_CHANGE
        for part, node, weighed in components:
            if (not came.parts or not part or part in came.parts) and (not part or part not in came.not_back):
                yield node, weighed, change

    def components(self, tag: str, until: date) -> list[Component]:
        """What one thing is made of on a day: as made, and as repaired up to then. Empty for an unknown tag."""
        found = self._as_made(tag)
        for op in self._repairs.get(tag, ()) if found else ():
            if op.run.date <= until:
                found = [*self._kept(op, tag, found), *self._put_in(op, tag, found, dry=True)]
        return found

    def _as_made(self, tag: str) -> list[Component]:
        item = self.shop.items.get(self._items.get(tag, ""))
        if item is None:
            return []
        if len(item.parts) > 1:
            return [(p.part, self._node_of(item, p.part), self._each(item, p.part)) for p in item.parts]
        return [(item.parts[0].part if item.parts else "", item.id, self._each(item, ""))]

    def _kept(self, op: Operation, tag: str, before: list[Component]) -> list[Component]:
        """What a repair left in: it takes the old part out, or some of it."""
        out, mass = self._taken(op, tag)
        mended = [component for component in before if component[0] == out.part] if out.part else []
        kept = [component for component in before if component not in mended]
        if mended and not _only_some(mended, mass):
            return kept
        left = _less(mended or before, mass)
        return [*kept, *left] if mended else left

    def _put_in(self, op: Operation, tag: str, before: list[Component], *, dry: bool) -> list[Component]:
        """What a repair drew from lots; dry: without its water, as shares count it, else as weighed."""
        part = self._taken(op, tag)[0].part or before[0][0]
        kind = operation_kind(op.run.operation)
        draws = [(draw, w) for draw, w in zip(op.run.draws, self.book.draws[op.run.id], strict=True) if draw.lot]
        return [(part, draw.lot, self._side(op, kind, draw, w)[1] if dry else w) for draw, w in draws]

    def _taken(self, op: Operation, tag: str) -> tuple[Draw, Weighed]:
        """The draw on a thing, under whichever of its numbers."""
        numbers = self._numbers.get(tag, (tag,))
        draws = zip(op.run.draws, self.book.draws[op.run.id], strict=True)
        return next((draw, weighed) for draw, weighed in draws if draw.tag in numbers)

    def compose_repaired(self) -> None:
        """A node for each tag whose thing was repaired: composition belongs to the tag, not to the batch."""
        for tag in sorted(self._repairs):
            components = self.components(tag, date.max)
            if components:
                self.repaired[tag] = tuple(components)
                for op in self._repairs[tag]:
                    then = self.components(tag, op.run.date)
                    self.after_repair[tag, op.run.id] = sum_of(weighed for _, _, weighed in then)
                self._add_mixed(tag_node(tag), [(node, weighed, NO_CHANGE) for _, node, weighed in components])
                self._weigh_repaired(tag)

    def _weigh_repaired(self, tag: str) -> None:
        """The same as weighed, for balances, and what each repair took out by what it weighed in the thing."""
        now = self._as_made(tag)
        for op in self._repairs[tag]:
            kept = self._kept(op, tag, now)
            self.taken_out[tag, op.run.id] = tuple(_differences(now, kept))
            now = [*kept, *self._put_in(op, tag, now, dry=False)]
        self.repaired_as_weighed[tag] = tuple(now)

    def _return_of(self, tag: str, on: date, weathering: str) -> Change:
        """What coming back does: after a hand-over all of it is post-consumer and one life older."""
        weathering = weathering or self._seen_weathering(tag, on)
        piece = self._piece_of.get(tag)
        left = self._left_on.get(piece) if piece else None
        if left is None or left > on:
            return Change(weathering=weathering) if weathering else NO_CHANGE
        return Change(origin="post-consumer", lives=1, weathering=weathering)

    def _seen_weathering(self, tag: str, on: date) -> str:
        """What the last inspection up to a day found; it replaces what the material brought along."""
        piece = self._piece_of.get(tag)
        found = ""
        for event in self.shop.events:
            if not isinstance(event, Inspected) or event.date > on or event.weathering is None:
                continue
            if piece and self._piece_of.get(event.tag) == piece:
                found = event.weathering.value
        return found

    def _node_of(self, item: Item, part: str) -> str:
        node = part_node(item.id, part)
        return node if part and node in self.mixing.nodes else item.id

    def _each(self, item: Item, part: str) -> Weighed:
        weighed = self.book.parts.get((item.id, part)) if part else self.book.nodes[item.id]
        return weighed.times(Fraction(1, item.count.pieces)) if weighed else None

    # --- runs -------------------------------------------------------------------------------------

    def _add_hands(self, op: Operation) -> None:
        """What a run had in its hands, once for all its results."""
        item = self.shop.items.get(op.run.id)
        if item is not None:
            if item.id not in self.mixing.nodes:
                self._add_item(op, item)
        elif run_node(op.run.id) not in self.mixing.nodes:
            self._add_mixed(run_node(op.run.id), list(self._sides(op)))

    def _add_item(self, op: Operation, item: Item) -> None:
        if not item.parts:
            self._add_mixed(item.id, list(self._sides(op)))
            return
        for part in item.parts:
            self._add_mixed(part_node(item.id, part.part), list(self._sides(op, part.part)))
        alone = len(item.parts) == 1
        self._add_mixed(
            item.id,
            [
                (part_node(item.id, p.part), _ONE if alone else self.book.parts[item.id, p.part], NO_CHANGE)
                for p in item.parts
            ],
        )

    def _sides(self, op: Operation, part: str | None = None) -> Iterator[tuple[str, Weighed, Change]]:
        kind = operation_kind(op.run.operation)
        from_tags = kind.into_tag and any(draw.tag for draw in op.run.draws)
        parts = op.parts or ("",) * len(op.run.draws)
        for draw, weighed, of_part in zip(op.run.draws, self.book.draws[op.run.id], parts, strict=True):
            if (part is None or of_part == part) and not (from_tags and draw.lot):
                yield self._side(op, kind, draw, weighed)

    def _side(self, op: Operation, kind: OperationKind, draw: Draw, weighed: Weighed) -> tuple[str, Weighed, Change]:
        melted = Change(melts=1) if kind.melts else NO_CHANGE
        if draw.tag:
            item = self.shop.items.get(self._items.get(draw.tag, ""))
            back = self._return_of(draw.tag, op.run.date, "")
            change = Change(origin=back.origin, lives=back.lives, weathering=back.weathering, melts=melted.melts)
            return (self._node_of(item, draw.part) if item else ""), weighed, change
        moisture = self.shop.lots[draw.lot].moisture if draw.lot in self.shop.lots else None
        dry = weighed.times(1 - moisture) if weighed is not None and moisture else weighed
        return draw.lot, dry, melted

    def _add_result(self, op: Operation, lot: Lot) -> None:
        kind = operation_kind(op.run.operation)
        whole = op.run.id if op.run.id in self.shop.items else run_node(op.run.id)
        source = part_node(op.run.id, lot.part)
        if not lot.part or source not in self.mixing.nodes:
            source = whole
        if not kind.separates:
            self.mixing.add_mixed(lot.id, [Input(source=source, dry=_ONE)])
            return
        change = Change(resin=self.resin_of.get(lot.id, ""), weathering=lot.weathering.value if lot.weathering else "")
        cut = Separation(result=self._dry_result(lot), inputs=self._dry_inputs(op))
        self.mixing.add_mixed(lot.id, [Input(source=source, dry=_ONE, change=change)], cut)

    def _dry_result(self, lot: Lot) -> Weighed:
        weighed = self.book.nodes[lot.id]
        return weighed.times(1 - lot.moisture) if weighed is not None and lot.moisture else weighed

    def _dry_inputs(self, op: Operation) -> Weighed:
        return sum_of(weighed for _, weighed, _ in self._sides(op))

    # --- shared -----------------------------------------------------------------------------------

    def _add_mixed(self, name: str, sides: list[tuple[str, Weighed, Change]]) -> None:
        inputs = [
            Input(source=source, dry=weighed, change=change)
            for source, weighed, change in sides
            if weighed is not None and source in self.mixing.nodes
        ]
        if len(inputs) == len(sides) and any(i.dry.value for i in inputs):
            self.mixing.add_mixed(name, inputs)
        elif len(sides) == 1 and sides[0][0] in self.mixing.nodes:
            # a single source needs no weighing: all of it is what it came from
            self.mixing.add_mixed(name, [Input(source=sides[0][0], dry=_ONE, change=sides[0][2])])
        else:
            self._add_unknown(name, [(s, c) for s, _, c in sides])

    def _add_unknown(self, name: str, sources: Iterable[tuple[str, Change]]) -> None:
        """Proportions unknown: what all inputs agree on stays, the rest is unknown."""
        nodes = self.mixing.nodes
        known = [
            change.of(ingredient)
            for source, change in sources
            if source in nodes
            for ingredient in nodes[source].portions
        ]
        complete = all(source in nodes for source, _ in sources)
        agreed = _agreed(known) if known and complete else Ingredient(UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, 0, 0)
        if not known or not complete or len(set(known)) > 1:
            self.unproportioned.add(owner(name))
        self.mixing.add_known(name, {agreed: Fraction(1)})


def _only_some(part: list[Component], out: Weighed) -> bool:
    """Whether a repair took out less than half of a part: a slat of a seat. An old part that lost more is no part."""
    whole = sum_of(weighed for _, _, weighed in part)
    return whole is not None and out is not None and out.value < whole.value * MENDED_IN_PART


def _less(components: list[Component], out: Weighed) -> list[Component]:
    """What is left where a mass is taken out of well-mixed components; None where something was not weighed."""
    whole = sum_of(weighed for _, _, weighed in components)
    if whole is None or out is None or not whole.value:
        return [(part, node, None) for part, node, _ in components]
    found = []
    for part, node, weighed in components:
        left = weighed - out.times(weighed.value / whole.value) if weighed is not None else None
        found.append((part, node, left if left is None or left.value > 0 else _NO_MASS))
    return found


def _differences(before: list[Component], kept: list[Component]) -> Iterator[tuple[str, Weighed]]:
    """What of each mixing node went, with its mass."""
    for node in dict.fromkeys(node for _, node, _ in before):
        was = sum_of(weighed for _, of, weighed in before if of == node)
        left = sum_of(weighed for _, of, weighed in kept if of == node)
        yield node, was - left if was is not None and left is not None else None


def _agreed(ingredients: list[Ingredient]) -> Ingredient:
    first = ingredients[0]
    values = []
    for i, name in enumerate(FIELDS):
        same = all(other[i] == first[i] for other in ingredients)
        most = max((int(other[i]) for other in ingredients), default=0) if name in ("melts", "lives") else UNKNOWN
        values.append(first[i] if same else most)
    return Ingredient(*values)  # type: ignore[arg-type]


def moisture_doubts(shop: Shop, runs: Mapping[str, Operation]) -> Iterator[Problem]:
    """Lots that may be wet and of which nobody says how wet: their mass counts as dry."""
    wet = {r.id for op in runs.values() if operation_kind(op.run.operation).wets for r in op.results}
    for lot in shop.lots.values():
        flaky = lot.received is not None and lot.form in _WET_FORMS
        if lot.moisture is None and (flaky or lot.id in wet):
            yield Problem(
                code="moisture-unknown",
                message=f"met {lot.id} without its moisture, wanted it where material may be wet",
                place=shop.node_place(lot.id),
                hint="weigh a sample before and after drying and write `moisture: 0.5 %`",
                level=Level.DOUBT,
                about=lot.id,
                facts=(("lot", lot.id),),
            )


def unknown_parts(shop: Shop) -> Iterator[Problem]:
    """Hand-backs that name a part which the thing was not made with: advice, since a repair may have added it."""
    items = items_of_tags(shop)
    for lot in shop.lots.values():
        for came in lot.received.tags if lot.received else ():
            item = shop.items.get(items.get(came.tag, ""))
            known = {part.part for part in item.parts} if item else set()
            for part in (*came.parts, *came.not_back):
                if item is not None and part not in known:
                    yield _no_such_part(shop, lot, item, came.tag, part, known)


def _no_such_part(shop: Shop, lot: Lot, item: Item, tag: str, part: str, known: set[str]) -> Problem:
    parts = ", ".join(sorted(known)) or "no part by name"
    return Problem(
        code="part-unknown",
        message=f'met the part "{part}" of {tag} in {lot.id}, wanted a part that {item.id} was made with ({parts})',
        place=shop.node_place(lot.id, "received"),
        hint="the masses are counted without it; correct the name if it is a slip",
        level=Level.ADVICE,
        about=lot.id,
        facts=(("lot", lot.id), ("tag", tag), ("part", part)),
    )
