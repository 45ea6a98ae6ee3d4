"""The page of a lot: what it is, where it stands, what it was made of and where it went."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from passport.amounts import Mass
from passport.massflow import Ledger, State
from passport.massflow.closure import Closure
from passport.massflow.closure import Verdict as Closing
from passport.massflow.ledger import Share as BoundedShare
from passport.massflow.operation_table import operation_table
from passport.massflow.rounding import account
from passport.massflow.trace import sources_of
from passport.massflow.whereabouts import Whereabouts, whereabouts
from passport.pages import corrected, flowing, goods, knowing
from passport.pages.calling_back import life_lines as recall_lines
from passport.pages.calling_back import notices as recall_notices
from passport.pages.pieces import Balance, EventLine, Link, Row, Share, Symbol, Table
from passport.pages.scribe import Scribe
from passport.pages.views import Answer, LotView, Material
from passport.problems import Problem
from passport.reading.records import Holding, Lot, LotEvent, Reweighed, Sent, WrittenOff
from passport.reading.shop import Operation
from passport.tags.address import is_sample, read_address
from passport.verdicts import flow, recycled
from passport.verdicts.release import Release
from passport.verdicts.single_stream import main_resin

UNKNOWN = "unknown"
RECALL_PLACES = 2
GRAM_PLACES = 3
MOST_TAGS = 24
"""Tags named in one line of a recall (the batch's page has them all), and linked from the lot that they became."""


def lot_view(scribe: Scribe, lot: Lot) -> LotView:
    """The page of one lot."""
    book, words = scribe.book, scribe.words
    material = lot_material(scribe, lot.id)
    stated = recycled.of_node(book.ledger, lot.id)
    released = book.released(lot.id)
    refused = released.state is Release.REFUSED
    figures = tuple(scribe.figure(s) for s in stated.value or () if s.at_least_percent > 0 and not refused)
    return LotView(
        frame=scribe.frame(f"/L/{lot.id}/", f"{lot.id} {material.name}", f"{lot.id}: {material.name}. {scribe.name}"),
        lot=lot.id,
        what=_what(scribe, lot),
        material=material,
        state=state_of(scribe, lot),
        facts=tuple(_facts(scribe, lot)),
        doubts=scribe.doubts(_doubts(scribe, lot.id)),
        notices=(*recall_notices(scribe, lot.id), *goods.release_notices(scribe, released, lot.id)),
        recycled=figures if stated.value is not None else (scribe.withheld("recycled", "plastic"),),
        recycled_sentence="" if refused else goods.recycled_sentence(scribe, lot.id, stated.value or ()),
        shares=tuple(_shares(scribe, lot.id)),
        flow=flowing.flow_of_lot(scribe, lot.id),
        ancestors=_ancestors(scribe, lot.id),
        went_to=_went_to(scribe, lot.id),
        recall=_recall(scribe, lot.id),
        balance=_balance(scribe, lot.id),
        evidence=knowing.evidence_lines(scribe, lot.id),
        cautions=goods.bench_cautions(scribe, lot, named_resin(scribe, lot.id)),
        life=tuple(sorted((*_life(scribe, lot), *recall_lines(scribe, lot.id)), key=lambda line: line.date)),
        corrected=corrected.of_lot(scribe, lot),
        notes=scribe.prose(lot.notes),
        picture=scribe.picture(lot.photo, words("tell.lot_picture_alt", lot=lot.id)),
        symbol=_symbol(scribe, lot.id),
    )


def _symbol(scribe: Scribe, lot: str) -> Symbol | None:
    """The code on the printed card; a card of an address that is not public says SAMPLE, as labels do."""
    address = scribe.book.shop.workshop.address
    site = read_address(address)
    if isinstance(site, Problem):
        return None
    return Symbol(
        payload=site.payload("L", lot),
        alt=scribe.words("tell.symbol_alt", lot=lot),
        address=site.in_letters("L", lot) if address else scribe.name,
        sample=scribe.words("tell.sample") if is_sample(address) else "",
    )


def _doubts(scribe: Scribe, lot: str) -> tuple[Problem, ...]:
    """What its weighings, its tests and its flow leave in doubt, those of its ancestors among them."""
    book, resin = scribe.book, named_resin(scribe, lot)
    by_flow = flow.of_lot(book.ledger, lot, resin).doubts if resin else ()
    weighed, tested = book.ledger.doubts_of(lot), book.standing.identity_doubts(lot)
    return (*book.released(lot).doubts, *weighed, *tested, *by_flow)


def lot_material(scribe: Scribe, node: str) -> Material:
    """The big letters of a lot: its main resin where that is established."""
    book = scribe.book
    resin, _ = main_resin(book.ledger.mixtures[node], book.standing.threshold)
    proven = book.standing.proven(node)
    basis = scribe.basis(node, proven=proven)
    return scribe.material((named_resin(scribe, node),), proven=proven and bool(resin), basis=basis)


def named_resin(scribe: Scribe, node: str) -> str:
    """The resin of a lot by the books, else the one its tests make likely; "" for none."""
    book = scribe.book
    resin, _ = main_resin(book.ledger.mixtures[node], book.standing.threshold)
    identity = book.standing.own.get(node)
    return resin or (identity.symbol if identity and identity.symbol else "")


def operation_words(scribe: Scribe, operation: str) -> str:
    """An operation in words, as the past of its verb."""
    kind = operation_table().get(operation)
    return (kind.words.get(scribe.lang) or kind.words["en"]) if kind else operation


def _what(scribe: Scribe, lot: Lot) -> str:
    if lot.received is not None:
        return scribe.words("tell.lot_received", day=scribe.day(lot.date))
    run = scribe.book.ledger.operations.get(scribe.book.ledger.run_of.get(lot.id, ""))
    said = operation_words(scribe, run.run.operation) if run else ""
    return scribe.words("tell.lot_made", operation=said[:1].upper() + said[1:], day=scribe.day(lot.date))


def state_of(scribe: Scribe, lot: Lot) -> Answer:
    """Where a lot stands: free and how much, used up, held or refused."""
    stock = scribe.book.ledger.stock[lot.id]
    if stock.state is State.REFUSED:
        answer = scribe.answer("tell.state.refused", "mind")
        because = _held_because(scribe, lot)
        return Answer(text=answer.text, detail=because or answer.detail, tone="mind")
    if stock.state is State.HELD:
        return scribe.answer("tell.state.held", "mind")
    if stock.books_kg is None:
        return scribe.answer("tell.state.not_weighed", "mind")
    if stock.emptied is not None or stock.books_kg <= 0:
        return scribe.answer("tell.state.used_up")
    return scribe.answer("tell.state.in_stock", "good", mass=scribe.kg(stock.books_kg))


def _held_because(scribe: Scribe, lot: Lot) -> str:
    """The reason of the last hold or refusal, in the record's own words."""
    holds = [e for e in scribe.book.ledger.events_of_lot.get(lot.id, ()) if isinstance(e, Holding) and e.because]
    return scribe.said(holds[-1].because).text if holds else ""


def _facts(scribe: Scribe, lot: Lot) -> Iterator[Row]:
    words, weighed = scribe.words, scribe.book.ledger.masses.get(lot.id)
    mass = scribe.kg(weighed.value) if weighed else words("tell.state.not_weighed")
    yield Row(label=words("tell.row_mass"), value=mass, note=corrected.note_on_mass(scribe, "lot", lot.id))
    yield from _left_as(scribe, lot)
    if lot.pieces:
        yield Row(label=words("tell.row_pieces"), value=words.number(lot.pieces.pieces))
    if lot.form:
        yield Row(label=words("tell.row_form"), value=words(f"tell.form.{lot.form.value}"))
    if lot.moisture is not None:
        yield Row(label=words("tell.row_moisture"), value=words.percent(lot.moisture, 1))
    yield from _worn(scribe, lot)
    if lot.colour:
        colour = scribe.word(lot.colour)
        yield Row(label=words("tell.row_colour"), value=colour.text, lang=colour.lang)
    resin = named_resin(scribe, lot.id)
    yield from knowing.rows_of_lot(scribe, lot.id, resin)
    yield from goods.melt_rows(scribe, resin)
    yield from goods.substance_rows(scribe, lot)
    if lot.received and lot.received.stream:
        link = scribe.stream(lot.received.stream)
        yield Row(label=words("tell.row_stream"), value=link.text, href=link.href, lang=link.lang)
    if lot.kept:
        kept = scribe.word(lot.kept)
        yield Row(label=words("tell.row_kept"), value=kept.text, lang=kept.lang)


def _left_as(scribe: Scribe, lot: Lot) -> Iterator[Row]:
    """For things handed back: what they weighed when they left, beside what came back, and parts that did not."""
    ledger, words = scribe.book.ledger, scribe.words
    left, back = ledger.left_as.get(lot.id), ledger.masses.get(lot.id)
    if left is not None:
        # water that somebody measured is no plastic
        over = back.value * (1 - (lot.moisture or 0)) - left.value if back is not None else Fraction(0)
        note = words(f"tell.left_{'more' if over > 0 else 'less'}", mass=scribe.kg(abs(over))) if over else ""
        yield Row(label=words("tell.row_left"), value=scribe.kg(left.value), note=note)
    parts = [scribe.term(part) for came in (lot.received.tags if lot.received else ()) for part in came.not_back]
    if parts:
        yield Row(label=words("tell.row_not_back"), value=words.listed(parts))
    lives = ledger.mixtures[lot.id].shares_by("lives")
    if any(int(name) > 1 for name in lives):
        said = (_lives(scribe, name, share.value) for name, share in lives.items())
        yield Row(label=words("tell.row_lives"), value=words.listed(said))


def _lives(scribe: Scribe, lives: str, share: Fraction) -> str:
    """How much of a lot has had so many lives in things."""
    words = scribe.words
    said = words.some("tell.gate.lives", int(lives)) if int(lives) else words("tell.gate.lives_none")
    return words("tell.lives_share", share=words.percent(share, 1), lives=said)


def _worn(scribe: Scribe, lot: Lot) -> Iterator[Row]:
    """How sun-worn it is, by the record or by what it was made of, and how often it was melted here."""
    words, mixture = scribe.words, scribe.book.ledger.mixtures[lot.id]
    worn = _parts(scribe, mixture.shares_by("weathering"))
    if lot.weathering:
        yield Row(label=words("tell.row_weathering"), value=words(f"tell.weathering.{lot.weathering.value}"))
    elif set(worn) != {UNKNOWN}:
        said = words.listed(_with_share(part, words(f"tell.weathering.{name}")) for name, part in worn.items())
        yield Row(label=words("tell.row_weathering"), value=said)
    melted = _parts(scribe, mixture.shares_by("melts"))
    if set(melted) != {"0"}:
        said = words.listed(_with_share(part, _times(scribe, int(n))) for n, part in melted.items())
        yield Row(label=words("tell.row_melted"), value=said, note=words("tell.melted_note"))


def _times(scribe: Scribe, melts: int) -> str:
    return scribe.words.some("tell.melted", melts) if melts else scribe.words("tell.melted_never")


LEAST_PART = Fraction(1, 200)
"""Less than half a percent is not worth a word."""


def _parts(scribe: Scribe, shares: Mapping[str, BoundedShare]) -> dict[str, str]:
    """The classes that matter with their shares as printed, the largest first; one alone has no share."""
    large = {str(name): share.value for name, share in shares.items() if share.value >= LEAST_PART}
    ordered = sorted(large, key=lambda name: (-large[name], name))
    return {name: scribe.words.percent(large[name]) if len(ordered) > 1 else "" for name in ordered}


def _with_share(share: str, words: str) -> str:
    return f"{words} ({share})" if share else words


def _shares(scribe: Scribe, node: str) -> Iterator[Share]:
    """Shares by resin, then by origin, where there is more than one of either; else the one there is."""
    mixture = scribe.book.ledger.mixtures[node]
    for key, share in mixture.shares_by("origin").items():
        yield Share(
            label=scribe.words(f"tell.origin.{key}"),
            figure=scribe.words.percent(share.value, 1),
            part=float(share.value),
        )


def _ancestors(scribe: Scribe, node: str) -> Table | None:
    """Every received lot behind this one, with its mass and share."""
    words = scribe.words
    found = sources_of(scribe.book.ledger, node)
    if not scribe.book.ledger.made_of.get(node) or not found:
        return None
    rows = tuple(
        (
            scribe.lot(origin.lot) if origin.lot in scribe.book.shop.lots else Link(text=origin.lot),
            scribe.stream(origin.stream),
            Link(text=scribe.kg(origin.mass_kg) if origin.mass_kg is not None else "–"),
            Link(text=words.percent(origin.share, 1)),
        )
        for origin in found
    )
    head = (words("tell.col_lot"), words("tell.col_stream"), words("tell.col_mass"), words("tell.col_share"))
    return Table(title=words("tell.ancestors"), head=head, rows=rows, numeric=(2, 3))


def node_link(scribe: Scribe, name: str) -> Link:
    """A link to a lot, or to the product of an item batch with the batch in words."""
    item = scribe.book.shop.items.get(name)
    if item is None:
        return scribe.lot(name)
    product = scribe.product(item.product)
    return Link(text=f"{product.text} {name}", href=product.href, lang=product.lang)


def _went_to(scribe: Scribe, lot: str) -> Table | None:
    words, ledger = scribe.words, scribe.book.ledger
    rows = []
    for operation, place in ledger.drawn_by.get(lot, ()):
        weighed = ledger.book.draws[operation.run.id][place]
        into = words.listed(node_link(scribe, result.id).text for result in operation.results)
        first = operation.results[0].id if operation.results else operation.run.id
        mass = scribe.kg(weighed.value) if weighed else "–"
        link = Link(text=into, href=node_link(scribe, first).href)
        rows.append((Link(text=scribe.day(operation.run.date)), link, Link(text=mass)))
    if not rows:
        return None
    head = (words("tell.col_day"), words("tell.col_what"), words("tell.col_mass"))
    return Table(title=words("tell.went_to"), head=head, rows=tuple(rows), numeric=(2,))


def _recall(scribe: Scribe, lot: str) -> Table | None:
    """Where every kilogram of a lot that went anywhere is now; the masses add up to its own as printed."""
    words, found = scribe.words, whereabouts(scribe.book.ledger, lot)
    if all(row.node in ("", lot) for row in found):
        return None
    printed = _printed_recall(scribe.book.ledger, lot)
    rows = [
        (
            Link(text=words(f"tell.where.{row.kind}")),
            _place_of(scribe, row),
            Link(text=words.number(Fraction(mass), RECALL_PLACES)),
            Link(text=words.number(row.each_kg, GRAM_PLACES) if row.each_kg is not None else ""),
            Link(text=_some_tags(row.tags)),
        )
        for row, mass in zip(found, printed, strict=False)
    ]
    total = words.number(Fraction(-printed[-1]), RECALL_PLACES)
    rows.append((Link(text=words("tell.together")), Link(text=lot), Link(text=total), Link(text=""), Link(text="")))
    head = tuple(words(f"tell.col_{key}") for key in ("where", "what", "kg", "each_kg", "tags"))
    return Table(title=words("tell.recall"), head=head, rows=tuple(rows), numeric=(2, 3))


@lru_cache(maxsize=16)  # each language asks
def _printed_recall(ledger: Ledger, lot: str) -> tuple[Decimal, ...]:
    """The masses of a recall as printed, then less their sum: together nothing."""
    masses = [row.mass_kg for row in whereabouts(ledger, lot)]
    return tuple(account([*masses, -sum(masses, Fraction(0))], RECALL_PLACES))


def _place_of(scribe: Scribe, row: Whereabouts) -> Link:
    if row.node in scribe.book.shop.items or row.node in scribe.book.shop.lots:
        return node_link(scribe, row.node)
    return Link(text=row.node)


def _some_tags(tags: tuple[str, ...]) -> str:
    more = f" + {len(tags) - MOST_TAGS}" if len(tags) > MOST_TAGS else ""
    return " ".join(tags[:MOST_TAGS]) + more


# --- the run it came from -----------------------------------------------------------------------------


def _balance(scribe: Scribe, lot: str) -> Balance | None:
    ledger = scribe.book.ledger
    run = ledger.run_of.get(lot, "")
    if not run:
        return None
    return run_balance(scribe, ledger.operations[run], ledger.closures[run])


def run_balance(scribe: Scribe, operation: Operation, closure: Closure) -> Balance:
    """A run as an account: what went in, what came out, and what nobody can place."""
    words = scribe.words
    summary = _closing(scribe, closure)
    if operation.run.because is not None:
        summary += " " + words("tell.because", text=scribe.said(operation.run.because).text)
    total = scribe.kg((closure.drawn_kg or Fraction(0)) + (closure.gains_kg or Fraction(0)))
    return Balance(
        title=words(
            "tell.run_balance", run=operation.run.id, operation=operation_words(scribe, operation.run.operation)
        ),
        summary=summary,
        left_name=words("tell.run_in"),
        left=tuple(_went_in(scribe, operation, closure)),
        right_name=words("tell.run_out"),
        right=tuple(_came_out(scribe, operation, closure)),
        total=total if closure.residual_kg is not None else "–",
    )


def _closing(scribe: Scribe, closure: Closure) -> str:
    if closure.verdict is Closing.NOT_KNOWN or closure.residual_kg is None:
        return scribe.words("tell.run_unknown")
    if closure.verdict is Closing.CLOSED:
        return scribe.words("tell.run_closed")
    return scribe.words("tell.run_open", residual=scribe.kg(closure.residual_kg))


def _went_in(scribe: Scribe, operation: Operation, closure: Closure) -> Iterator[Row]:
    draws = scribe.book.ledger.book.draws[operation.run.id]
    for draw, weighed in zip(operation.run.draws, draws, strict=True):
        name = draw.lot or draw.tag
        href = scribe.lot(name).href if draw.lot in scribe.book.shop.lots else ""
        yield Row(label=name, value=scribe.kg(weighed.value) if weighed else "–", href=href)
    if closure.gains_kg:
        yield Row(label=scribe.words("tell.run_gains"), value=scribe.kg(closure.gains_kg))


def _came_out(scribe: Scribe, operation: Operation, closure: Closure) -> Iterator[Row]:
    ledger = scribe.book.ledger
    for result in operation.results:
        weighed = ledger.masses.get(result.id)
        link = node_link(scribe, result.id)
        yield Row(label=link.text, value=scribe.kg(weighed.value) if weighed else "–", href=link.href, lang=link.lang)
    if closure.losses_kg:
        note = scribe.words.listed(scribe.term(name) for name in operation.run.losses)
        yield Row(label=scribe.words("tell.run_losses"), value=scribe.kg(closure.losses_kg), note=note)
    if closure.residual_kg:
        yield Row(label=scribe.words("tell.run_residual"), value=scribe.kg(closure.residual_kg))


# --- its life -----------------------------------------------------------------------------------------


def _life(scribe: Scribe, lot: Lot) -> Iterator[EventLine]:
    words = scribe.words
    if lot.received and lot.received.stream:
        text = words("tell.event.received", stream=scribe.stream(lot.received.stream).text)
        yield _line(scribe, lot.date, text)
    elif lot.received and len(lot.received.tags) > MOST_TAGS:
        tags = words.listed(came.tag for came in lot.received.tags)
        yield _line(scribe, lot.date, words("tell.event.received_back", tags=tags))
    elif lot.received and lot.received.tags:
        for came in lot.received.tags:
            text = words("tell.event.received_back", tags=came.tag)
            yield dataclasses.replace(_line(scribe, lot.date, text), href=f"/T/{came.tag}/")
    elif lot.received:
        yield _line(scribe, lot.date, words("tell.event.received_from"))
    for event in scribe.book.ledger.events_of_lot.get(lot.id, ()):
        yield _event_line(scribe, event)


def _event_line(scribe: Scribe, event: LotEvent) -> EventLine:
    words = scribe.words
    because = getattr(event, "because", None)
    note = scribe.said(because if because is not None else event.note).text
    kind = getattr(event, "event", "")
    if isinstance(event, Holding):
        return _line(scribe, event.date, words(f"tell.event.{kind}"), note)
    mass = getattr(event, "mass", None)
    said = scribe.kg(Fraction(mass.mass_kg)) if isinstance(mass, Mass) else words("tell.state.not_weighed")
    gaps = {"mass": said} | ({"place": scribe.term(event.to)} if isinstance(event, Sent) else {})
    if isinstance(event, Sent | Reweighed | WrittenOff):
        return _line(scribe, event.date, words(f"tell.event.{kind}", **gaps), note)
    return _line(scribe, event.date, kind, note)


def _line(scribe: Scribe, day: date, text: str, note: str = "") -> EventLine:
    return EventLine(date=day.isoformat(), day=scribe.day(day), text=text, note=note)
