"""How a figure came about: each step with its formula, its records and its rule, sources first.

The steps are what a person would check with pencil and paper; figures in them are rounded to be read, the
computation behind them is exact.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from passport.massflow.closure import kg
from passport.massflow.composition import owner, part_node
from passport.massflow.ingredients import RECYCLED, Selector, selecting
from passport.massflow.ledger import Ledger, Mixture, Share
from passport.massflow.mixing import Input, Node
from passport.massflow.recycled import MOST_IN_DOUBT, in_doubt, item_masses, of_item, of_plastic, stated_percent

FIGURES = ("recycled", "post-consumer", "mass", "closure", "stock")
OF = ("plastic", "item", "component")
"""What a recycled share is a share of (DENOMINATORS of massflow.recycled, as people say them)."""
MOST = 3
"""Sources of uncertainty that an explanation names."""
MIXED = "shares of dry mass, well mixed"
SORTED = "a sort separates every share: max(0, (T − (Q − q))/q) to min(1, T/q)"
STATED = "at least: floor(X − 1.645 u), JCGM 106:2012, clause 8"
IN_DOUBT = "not all of it: a weighing above is in doubt"
ALL = 100
RECYCLED_RULE = "ISO 14021:2016, 7.8.1.1: pre- and post-consumer material by mass"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of an explanation."""

    about: str
    """The lot, item or run that it is about."""
    formula: str
    """Such as "(6 kg × 100 % + 4 kg × 0 %) / 10 kg"."""
    value: str
    """What comes out, with its unit."""
    rule: str
    """Why it is computed so."""
    records: tuple[str, ...] = ()
    """The records whose figures stand in it."""


def explain(ledger: Ledger, node: str, figure: str = "recycled", *, of: str = "", part: str = "") -> tuple[Step, ...]:
    """The steps behind one figure of a lot, item, run or repaired thing (its node is `tag_node(tag)`).

    figure: one of FIGURES, or "DIMENSION:VALUE" such as "resin:PP". of: one of OF, what a recycled share is a
    share of; empty gives all that pages print. part: the part of an item that "component" means. Raises KeyError
    for an id that the ledger does not know and ValueError for another figure, denominator or part.
    """
    node = _over(ledger, node, of, part)
    if figure == "closure":
        return tuple(_closure(ledger, node))
    if figure == "mass":
        return (_mass(ledger, node),)
    if figure == "stock":
        return (_stock(ledger, node),)
    steps = tuple(_shares(ledger, node, _selector(figure)))
    if figure in ("recycled", "post-consumer"):
        return (*steps, *_stated(ledger, node, figure, of))
    return steps


def _over(ledger: Ledger, node: str, of: str, part: str) -> str:
    """The node whose share is asked for: a part's own for "component"."""
    if of and of not in OF:
        raise ValueError(f'met "of {of}", wanted of {", of ".join(OF)}')
    if of == "item" and node not in ledger.shop.items:
        raise ValueError(f"met {node}, which is no item batch, wanted one: a lot has no hardware")
    if of != "component":
        return node
    parts = [name for item, name in ledger.part_mixtures if item == node]
    if not part and len(parts) == 1:
        part = parts[0]
    if part not in parts:
        raise ValueError(f'met the part "{part}", wanted one that {node} was made with: {", ".join(parts) or "none"}')
    return part_node(node, part)


def _selector(figure: str) -> Selector:
    if figure == "recycled":
        return selecting("origin", RECYCLED)
    if figure == "post-consumer":
        return selecting("origin", ("post-consumer",))
    dimension, colon, value = figure.partition(":")
    if not colon:
        raise ValueError(f'met the figure "{figure}", wanted one of {", ".join(FIGURES)} or such as resin:PP')
    number = dimension in ("melts", "lives") and value.isdigit()
    return selecting(dimension, (int(value) if number else value,))


def _shares(ledger: Ledger, node: str, selector: Selector) -> Iterator[Step]:
    mixing = ledger.mixing
    found: dict[tuple[str, Selector], None] = {}
    waiting = [(node, selector)]
    while waiting:
        question = waiting.pop()
        if question not in found:
            found[question] = None
            waiting += mixing.below(*question)
    for name, wanted in sorted(found, key=lambda question: mixing.nodes[question[0]].rank):
        yield _step(ledger, name, mixing.nodes[name], wanted)


def _step(ledger: Ledger, name: str, node: Node, selector: Selector) -> Step:
    value = percent(ledger.mixing.share(name, selector))
    if not node.inputs:
        return _received(ledger, name, value)
    formula = _formula(ledger, node, selector)
    records = tuple(dict.fromkeys([owner(name), *(owner(i.source) for i in node.inputs)]))
    low, high = ledger.mixing.bounds(name, selector)
    rule = MIXED
    if node.sorted_out is not None and low != high:
        value, rule = f"{value} ({percent(low)} to {percent(high)})", SORTED
    return Step(about=_called(name), formula=formula, value=value, rule=rule, records=records)


def _called(name: str) -> str:
    """Runs and parts have nodes of their own: "EX-009/" is what the run had in hand, "PL-1/lid" a part."""
    head, slash, part = name.partition("/")
    return name if not slash else f"{head}, {part}" if part else f"{head}, all it drew"


def _formula(ledger: Ledger, node: Node, selector: Selector) -> str:
    if len(node.inputs) == 1:
        return _single(node.inputs[0], selector)
    terms = [f"{kg(i.dry.value)} kg × {percent(_of_input(ledger, i, selector))}" for i in node.inputs]
    whole = sum((i.dry.value for i in node.inputs), Fraction(0))
    return f"({' + '.join(terms)}) / {kg(whole)} kg"


def _single(taken: Input, selector: Selector) -> str:
    if taken.change.before(selector) is None:
        named = getattr(taken.change, selector.field)
        return f"as {_called(taken.source)}, from here on {named}"
    return f"as {_called(taken.source)}"


def _of_input(ledger: Ledger, taken: Input, selector: Selector) -> Fraction:
    before = taken.change.before(selector)
    if before is None:
        return Fraction(taken.change.picked_after(selector))
    return ledger.mixing.share(taken.source, before)


def _received(ledger: Ledger, name: str, value: str) -> Step:
    lot = ledger.shop.lots.get(owner(name))
    stream = ledger.shop.streams.get(lot.received.stream) if lot and lot.received else None
    if stream is None:
        return Step(
            about=_called(name),
            formula="by its papers, else unknown",
            value=value,
            rule=RECYCLED_RULE,
            records=(owner(name),),
        )
    origins = ", ".join(f"{origin.value} {percent(share)}" for origin, share in stream.origin.items())
    return Step(
        about=_called(name),
        formula=f"received from {stream.id}: {origins}",
        value=value,
        rule=RECYCLED_RULE,
        records=(owner(name), stream.id),
    )


def _stated(ledger: Ledger, node: str, figure: str, of: str) -> Iterator[Step]:
    """How sure the shares are, then each share that may be stated with its floor."""
    only = figure == "post-consumer"
    yield from _how_sure(ledger, node, _selector(figure))
    if of == "item" or (not of and node in ledger.shop.items and ledger.shop.items[node].hardware):
        yield from _of_item(ledger, node, only=only)
    if of != "item":
        yield from _of_plastic(ledger, node, only=only)


def _how_sure(ledger: Ledger, node: str, selector: Selector) -> Iterator[Step]:
    parts = ledger.mixing.contributions(node, selector)
    if not parts:
        return
    largest = ", ".join(f"{key.removeprefix('weighing:')} {_small(abs(c))}" for key, c in list(parts.items())[:MOST])
    u = ledger.mixing.u(node, selector)
    yield Step(
        about=_called(node),
        formula=f"√Σ(c·u)² over {len(parts)} sources, the largest: {largest}",
        value=f"u {_small(u)}" if u is not None else "u unknown",
        rule="first order, JCGM 100:2008, equation 10; what one scale shares counts once",
        records=(owner(node),),
    )


def _mixture(ledger: Ledger, node: str) -> Mixture:
    return Mixture(name=node, mixing=ledger.mixing)


def _of_plastic(ledger: Ledger, node: str, *, only: bool) -> Iterator[Step]:
    masses = item_masses(ledger, node) if node in ledger.shop.items else None
    own = _mixture(ledger, node).post_consumer() if only else _mixture(ledger, node).recycled()
    share = of_plastic(ledger, node, post_consumer_only=only) if node in ledger.mixtures else own
    if masses is not None and masses.plastic_hardware.value:
        lots, plugs = masses.plastic.value, masses.plastic_hardware.value
        yield Step(
            about=node,
            formula=f"{kg(lots)} kg × {percent(own.low)} / ({kg(lots)} kg + {kg(plugs)} kg plastic hardware)",
            value=f"{percent(share.low)} of the plastic",
            rule="plastic hardware counts as plastic of unknown origin",
            records=(node,),
        )
    yield _floor(ledger, node, share, "the plastic" if "/" not in node else "this part")


def _of_item(ledger: Ledger, node: str, *, only: bool) -> Iterator[Step]:
    masses = item_masses(ledger, node)
    whole = of_item(ledger, node, post_consumer_only=only)
    if masses is None or whole is None:
        return
    own = ledger.mixtures[node].post_consumer() if only else ledger.mixtures[node].recycled()
    lots, more = masses.plastic.value, masses.plastic_hardware.value + masses.other_hardware.value
    yield Step(
        about=node,
        formula=f"{kg(lots)} kg × {percent(own.low)} / ({kg(lots)} kg + {kg(more)} kg hardware)",
        value=f"{percent(whole.low)} of the whole thing",
        rule="ISO 14021, 7.8.4 (from memory): X = A/P with the mass of the whole product",
        records=(node,),
    )
    yield _floor(ledger, node, whole, "the whole thing")


def _floor(ledger: Ledger, node: str, share: Share, of: str) -> Step:
    home = ledger.item_of_tag.get(owner(node), owner(node))
    withheld = ledger.withheld(home)
    number = stated_percent(share, withheld=withheld)
    doubtful = number == ALL and in_doubt(ledger, home)
    if doubtful:
        number = MOST_IN_DOUBT
    u = "unknown" if share.u is None else _small(share.u)
    return Step(
        about=_called(node),
        formula="withheld: a balance above is open" if withheld else f"{percent(share.low)} − 1.645 × {u}",
        value=f"at least {number} % of {of}" if number is not None else "no figure",
        rule=f"{STATED}; {IN_DOUBT}" if doubtful else STATED,
        records=(owner(node),),
    )


def _small(share: float) -> str:
    return f"{share * 100:.2g} %"


def _mass(ledger: Ledger, node: str) -> Step:
    weighed = ledger.masses[node]
    if weighed is None:
        rule = "not weighed: figures are withheld"
        return Step(about=node, formula="not weighed", value="unknown", rule=rule, records=(node,))
    u = ledger.book.weighings.u(weighed)
    return Step(
        about=node,
        formula=", ".join(sorted(weighed.sensitivities)) or "as written",
        value=f"{kg(weighed.value)} kg" + (f", u {u:.2g} kg" if u is not None else ", u unknown"),
        rule="a half-width a is a rectangle: u = a/√3, JCGM 100:2008, 4.3.7",
        records=(node,),
    )


def _closure(ledger: Ledger, run: str) -> Iterator[Step]:
    closure, op = ledger.closures[run], ledger.operations[run]
    sums = (closure.drawn_kg, closure.gains_kg, closure.results_kg, closure.losses_kg)
    drawn, gains, results, losses = ("?" if mass is None else kg(mass) for mass in sums)
    residual = "unknown" if closure.residual_kg is None else f"{kg(closure.residual_kg)} kg"
    u = "unknown" if closure.u_kg is None else f"{closure.u_kg:.2g} kg"
    records = tuple(dict.fromkeys([run, *(d.lot or d.tag for d in op.run.draws), *(r.id for r in op.results)]))
    yield Step(
        about=run,
        formula=f"{drawn} kg drawn + {gains} kg gains − {results} kg results − {losses} kg losses",
        value=f"{residual} (u {u}): {closure.verdict.value}",
        rule="doubtful beyond 2 u, withheld beyond 3 u",
        records=records,
    )


def _stock(ledger: Ledger, lot: str) -> Step:
    stock, weighed = ledger.stock[lot], ledger.masses[lot]
    terms = [f"{kg(weighed.value)} kg" if weighed else "not weighed", f"− {kg(stock.drawn_kg)} kg drawn"]
    went = ((stock.sent_kg, "sent"), (stock.written_off_kg, "written off"), (stock.difference_kg, "difference"))
    for mass, word in went:
        if mass:
            terms.append(f"− {kg(mass)} kg {word}")
    if stock.adjusted_kg:
        terms.append(f"+ {kg(stock.adjusted_kg)} kg found by weighing")
    value = "unknown" if stock.books_kg is None else f"{kg(stock.books_kg)} kg"
    drew = (name for name, op in ledger.operations.items() if any(draw.lot == lot for draw in op.run.draws))
    told = sorted({event.file for event in ledger.shop.events if getattr(event, "lot", "") == lot})
    records = (lot, *drew, *told)
    return Step(about=lot, formula=" ".join(terms), value=value, rule="books of the lot", records=records)


def percent(share: Fraction) -> str:
    """A share to be read, with up to four significant digits of a percent: "48.72 %"."""
    return f"{float(share * 100):.4g} %" if share in (0, 1) or share < Fraction(9999, 10000) else "99.99 %"
