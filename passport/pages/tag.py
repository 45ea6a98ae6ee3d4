"""The page of one tag: a passport while somebody may hold the thing, a stone once it is gone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import lru_cache

from passport.massflow.recycled import item_masses
from passport.material.resins import resins, symbols_for
from passport.material.tables import cited
from passport.pages import corrected, flowing, goods, knowing
from passport.pages.calling_back import life_lines as recall_lines
from passport.pages.calling_back import notices as recall_notices
from passport.pages.ends import METALS, part_lines
from passport.pages.pieces import Caution, EventLine, Figure, Link, Notice, PartLine, Row, Said, Step
from passport.pages.scribe import FORMAT_VERSION, Scribe
from passport.pages.views import Answer, EndOfLife, Material, PassportView, TombstoneView
from passport.problems import Problem
from passport.reading.records import (
    Ended,
    GivenOn,
    HandedOver,
    Hardware,
    Inspected,
    Item,
    Product,
    PutUp,
    Repaired,
    Replaced,
    TagEvent,
)
from passport.verdicts import cautions as verdicts_cautions
from passport.verdicts.book import Book, ItemVerdicts
from passport.verdicts.cautions import care_of, cautions_of_item, cautions_of_thing
from passport.verdicts.end_of_life import end_doubtful, end_of_life
from passport.verdicts.life import Life, Stage
from passport.verdicts.mending import Mending
from passport.verdicts.single_stream import Stream

BY_HAND = frozenset({"hand", "hands", "by hand", "none"})
"""Words for no tool at all."""


def tag_view(scribe: Scribe, life: Life) -> PassportView | TombstoneView:
    """The page of a tag at its stage of life."""
    return _passport(scribe, life) if life.open else _stone(scribe, life)


# --- passport -----------------------------------------------------------------------------------------


def _passport(scribe: Scribe, life: Life) -> PassportView:
    """What differs from thing to thing of a batch; the rest is worked out once for all of them."""
    book, words = scribe.book, scribe.words
    item, verdicts = book.shop.items[life.item], book.of_thing(life)
    batch = _of_repaired(scribe, life) if life.tag in book.repaired else _of_batch(scribe, life.item)
    title, mark = batch.product.text, " ".join(verdicts.marks)
    released = book.released_thing(life)
    sheet = Link(text=words("tell.sheet.link"), href=scribe.at(f"/H/{life.tag}/"))
    if end_doubtful(book, life):
        batch = replace(batch, end_of_life=_uncut(scribe, batch.end_of_life))
    return replace(
        batch,
        frame=scribe.frame(f"/T/{life.tag}/", f"{life.tag} {title}", batch.frame.description),
        tag=life.tag,
        made=words(
            "tell.made",
            day=scribe.day(item.date),
            batch=item.id,
            piece=words.number(life.piece),
            count=words.number(item.count.pieces),
        ),
        single_stream=goods.stream_or_stop(scribe, released, batch.single_stream),
        end_of_life=goods.end_or_stop(scribe, released, batch.end_of_life),
        now=goods.now_or_stop(scribe, released, _now(scribe, life, verdicts)),
        doubts=tuple(dict.fromkeys((*scribe.doubts(released.doubts), *batch.doubts))),
        notices=notices_of(scribe, life),
        bring_back=replace(scribe.bring_back(life.tag, title, mark or words("tell.unproven")), sheet=sheet),
        life=_in_order(scribe, life, item),
        corrected=corrected.of_thing(scribe, item, life),
        label=scribe.picture(label_name(life.tag), words("tell.label_alt", tag=life.tag)),
        header=tuple(_header(scribe, life)),
    )


@lru_cache(maxsize=64)  # tags come in the order of issue, so those of one batch follow each other
def _of_batch(scribe: Scribe, name: str) -> PassportView:
    """The page of any thing of a batch, still without what one tag alone says."""
    book, words = scribe.book, scribe.words
    item = book.shop.items[name]
    product = book.shop.products[item.product]
    verdicts = book.items[item.id]
    title = scribe.product(item.product)
    return PassportView(
        frame=scribe.frame("", "", _description(scribe, title.text, verdicts)),
        tag="",
        product=title,
        made="",
        facts=tuple(_facts(scribe, item, product)),
        material=_material(scribe, item, verdicts),
        single_stream=stream_answer(scribe, item, verdicts),
        now=Answer(text=""),
        doubts=scribe.doubts(_doubts_of(book, item)),
        recycled=recycled_figures(scribe, verdicts),
        recycled_sentence=recycled_sentence(scribe, item.id, verdicts),
        flow=flowing.flow_of_thing(scribe, item, title.text),
        care=scribe.prose(product.care),
        care_points=tuple(scribe.said(text) for text in care_of(_resins(verdicts))),
        cautions=caution_lines(scribe, item),
        take_apart=tuple(steps_of(scribe, product)),
        tools=words.listed(dict.fromkeys(scribe.term(h.tool) for h in item.hardware if h.tool)),
        end_of_life=_end_of_life(scribe, item, product, verdicts),
        evidence=knowing.evidence_lines(scribe, item.id),
        exceptions=goods.exceptions(scribe, f"products/{product.id}", f"items/{item.id}"),
        notes=scribe.prose(item.notes),
        picture=scribe.picture(item.photo or product.picture, words("tell.picture_alt", what=title.text)),
    )


def _doubts_of(book: Book, item: Item) -> tuple[Problem, ...]:
    """What speaks against its use, then what its weighings and tests leave open."""
    weighed, tested = book.ledger.doubts_of(item.id), book.standing.identity_doubts(item.id)
    return (*book.use_doubts.get(item.id, ()), *weighed, *tested)


def _of_repaired(scribe: Scribe, life: Life) -> PassportView:
    """The page of a thing that a repair changed: composition belongs to the tag, not to the batch."""
    book, verdicts = scribe.book, scribe.book.of_thing(life)
    batch, item = _of_batch(scribe, life.item), book.shop.items[life.item]
    put_in = [lot for mending in book.mendings[life.tag] for lot in mending.sources]
    problems = [p for node in (item.id, *put_in) for p in book.standing.identity_doubts(node)]
    evidence = (line for node in (item.id, *put_in) for line in knowing.evidence_lines(scribe, node))
    parts = part_lines(scribe, end_of_life(book, life), batch.product.text)
    return replace(
        batch,
        frame=scribe.frame("", "", _description(scribe, batch.product.text, verdicts)),
        facts=tuple(_facts_of_repaired(scribe, life, batch)),
        material=material_of(scribe, life),
        single_stream=stream_answer(scribe, item, verdicts),
        doubts=scribe.doubts((*book.use_doubts.get(item.id, ()), *verdicts.recycled.doubts, *problems)),
        recycled=recycled_figures(scribe, verdicts),
        recycled_sentence=recycled_sentence(scribe, life.tag, verdicts),
        flow=flowing.flow_of_repaired(scribe, life.tag, batch.product.text),
        care_points=tuple(scribe.said(text) for text in care_of(_resins(verdicts))),
        cautions=_caution_lines(scribe, cautions_of_thing(book, life)),
        end_of_life=replace(_end_of_life(scribe, item, book.shop.products[item.product], verdicts), parts=tuple(parts)),
        evidence=tuple(dict.fromkeys(evidence)),
    )


def _facts_of_repaired(scribe: Scribe, life: Life, batch: PassportView) -> Iterator[Row]:
    """Its own mass, and each repair with what it kept in use. A purity of the batch says nothing about it."""
    words, ledger = scribe.words, scribe.book.ledger
    weighed, masses = ledger.tag_mass(life.tag), item_masses(ledger, life.item)
    if weighed is not None and masses is not None:
        one = Fraction(1, scribe.book.shop.items[life.item].count.pieces)
        plastic = weighed.value + masses.plastic_hardware.value * one
        yield Row(label=words("tell.mass_one"), value=_masses(scribe, plastic, masses.other_hardware.value * one))
    for mending in scribe.book.mendings[life.tag]:
        yield _mended(scribe, mending)
    left_out = {words("tell.mass_one"), words("tell.row_purity")}
    yield from (row for row in batch.facts if row.label not in left_out)


def _masses(scribe: Scribe, plastic: Fraction, rest: Fraction) -> str:
    whole = scribe.kg(plastic + rest)
    return scribe.words("tell.mass_whole", plastic=scribe.kg(plastic), whole=whole) if rest else whole


def _mended(scribe: Scribe, mending: Mending) -> Row:
    """One repair: what was replaced, and how much plastic stayed in use. Masses alone: no other saving is known."""
    words, part = scribe.words, scribe.term(mending.part)
    masses = {
        key: scribe.kg(mass) if mass is not None else words("tell.state.not_weighed")
        for key, mass in (("put_in", mending.put_in_kg), ("taken_out", mending.taken_out_kg))
    }
    what = words("tell.mended_part", part=part) if part else words("tell.mended_some")
    kept = ""
    if mending.kept_kg is not None and mending.new_kg is not None:
        kept = words("tell.mended_kept", kept=scribe.kg(mending.kept_kg), new=scribe.kg(mending.new_kg))
    href = scribe.lot(mending.old[0]).href if mending.old else ""
    label = words("tell.mended", day=scribe.day(mending.day))
    return Row(label=label, value=words("tell.mended_text", what=what, **masses), href=href, note=kept)


def label_name(tag: str) -> str:
    """The name under which a tag's label picture is known to the scribe."""
    return f"T/{tag}/label.png"


def _resins(verdicts: ItemVerdicts) -> tuple[str, ...]:
    return verdicts.stream.value.resins if verdicts.stream.value else ()


def _material(scribe: Scribe, item: Item, verdicts: ItemVerdicts) -> Material:
    """The big letters: the resin or resins, the mixture it is, or that nobody knows well enough."""
    found = verdicts.stream.value
    if found and found.answer is Stream.MIXED:
        shares = scribe.book.ledger.mixtures[item.id].shares_by("resin")
        return scribe.mixture(tuple(name for name in shares if name in resins()))
    proven = _is_proven(verdicts)
    basis = scribe.basis(item.id, proven=proven)
    return scribe.material(_resins(verdicts), proven=proven, marks=verdicts.marks, basis=basis)


def material_of(scribe: Scribe, life: Life) -> Material:
    """The big letters of one thing as it is now."""
    book, item, verdicts = scribe.book, scribe.book.shop.items[life.item], scribe.book.of_thing(life)
    found, mixture = verdicts.stream.value, book.ledger.tag_mixture(life.tag)
    if life.tag in book.repaired and mixture is not None and found and found.answer is Stream.MIXED:
        return scribe.mixture(tuple(name for name in mixture.shares_by("resin") if name in resins()))
    return _material(scribe, item, verdicts)


def _is_proven(verdicts: ItemVerdicts) -> bool:
    answer = verdicts.stream.value.answer if verdicts.stream.value else Stream.NOT_ESTABLISHED
    return answer not in (Stream.NOT_ESTABLISHED, Stream.MIXED)


def _description(scribe: Scribe, title: str, verdicts: ItemVerdicts) -> str:
    """One line for search engines and link previews: what it is and what it is made of."""
    answer = scribe.material(_resins(verdicts), proven=_is_proven(verdicts))
    return f"{title}: {answer.name}. {scribe.name}"


def _facts(scribe: Scribe, item: Item, product: Product) -> Iterator[Row]:
    words = scribe.words
    if product.size:
        yield Row(label=words("tell.size"), value=product.size)
    masses = item_masses(scribe.book.ledger, item.id)
    if masses is not None:
        one = Fraction(1, item.count.pieces)
        plastic = (masses.plastic.value + masses.plastic_hardware.value) * one
        whole = plastic + masses.other_hardware.value * one
        both = words("tell.mass_whole", plastic=scribe.kg(plastic), whole=scribe.kg(whole))
        value = both if whole != plastic else scribe.kg(plastic)
        yield Row(label=words("tell.mass_one"), value=value, note=corrected.note_on_mass(scribe, "item", item.id))
    for key, text in (("made_for", product.made_for), ("not_for", product.not_for)):
        if text is not None:
            said = scribe.said(text)
            yield Row(label=words(f"tell.{key}"), value=said.text, lang=said.lang)
    yield from goods.tested_rows(scribe, item)
    if item.colour:
        colour = scribe.word(item.colour)
        yield Row(label=words("tell.colour"), value=colour.text, lang=colour.lang)
    resins = _resins(scribe.book.items[item.id])
    if len(resins) == 1 and resins[0]:
        yield from knowing.purity_rows(scribe, item.id, resins[0])


def stream_answer(scribe: Scribe, item: Item, verdicts: ItemVerdicts) -> Answer:
    """Is it one stream? In two words and half a sentence."""
    found, words = verdicts.stream.value, scribe.words
    if found is None or found.answer is Stream.NOT_ESTABLISHED:
        return scribe.answer("tell.stream_unknown", "mind")
    if found.answer is Stream.ONE:
        return scribe.answer("tell.stream_one", "good", resin=found.resins[0])
    if found.answer is Stream.ONE_AFTER_REMOVAL:
        what = words.listed(scribe.said(h.what).text for h in item.hardware if h.material not in found.resins)
        return scribe.answer("tell.stream_after", "good", what=what, resin=found.resins[0])
    if found.answer is Stream.MIXED:
        return scribe.answer("tell.stream_mixed", "mind")
    parts = words.listed(words("tell.stream_part", part=scribe.term(p.part), resin=p.resin) for p in found.parts)
    return scribe.answer("tell.stream_several", "mind", parts=parts)


def _now(scribe: Scribe, life: Life, verdicts: ItemVerdicts) -> Answer:
    if any(called.open for called in scribe.book.called_back.get(life.tag, ())):
        return scribe.answer("tell.now_recalled", "mind", name=scribe.name)
    if life.stage is Stage.LOST:
        return scribe.answer("tell.now_lost", "mind", name=scribe.name)
    key = "now_use" if _is_proven(verdicts) else "now_unknown"
    detail = scribe.words(f"tell.{key}_detail", name=scribe.name)
    return Answer(text=scribe.words("tell.now_use"), detail=detail, href="#back", tone="plain")


def notices_of(scribe: Scribe, life: Life) -> tuple[Notice, ...]:
    """What must be read before all else: recalls, that it may not be handed on, that it was reported lost."""
    stopped = goods.release_notices(scribe, scribe.book.released_thing(life))
    return (*recall_notices(scribe, life.tag), *stopped, *_lost(scribe, life))


def _lost(scribe: Scribe, life: Life) -> Iterator[Notice]:
    if life.stage is Stage.LOST:
        day = scribe.day(life.ended) if life.ended else ""
        text = scribe.words("tell.lost_text", name=scribe.name)
        yield Notice(title=scribe.words("tell.lost_title"), text=text, date=day)


def recycled_figures(scribe: Scribe, verdicts: ItemVerdicts) -> tuple[Figure, ...]:
    """The stated shares: of the plastic, of it post-consumer, of the whole thing."""
    if verdicts.recycled.value is None:
        return (scribe.withheld("recycled", "plastic"),)
    stated = [*verdicts.recycled.value, *(verdicts.whole.value or ())]
    shown = [s for s in stated if s.at_least_percent > 0]
    return tuple(scribe.figure(s) for s in shown)


def recycled_sentence(scribe: Scribe, node: str, verdicts: ItemVerdicts) -> str:
    """The statement about the recycled content of a batch or repaired thing."""
    return goods.recycled_sentence(scribe, node, verdicts.recycled.value or (), verdicts.whole.value or ())


def caution_lines(scribe: Scribe, item: Item) -> tuple[Caution, ...]:
    """The cautions of a batch in this language."""
    return _caution_lines(scribe, cautions_of_item(scribe.book, item))


def _caution_lines(scribe: Scribe, cautions: tuple[verdicts_cautions.Caution, ...]) -> tuple[Caution, ...]:
    return tuple(
        Caution(
            text=c.text.get(scribe.lang) or c.text["en"],
            why=c.why.get(scribe.lang) or c.why["en"],
            source=cited(c.sources, scribe.lang),
            sign=c.sign,
            lang="" if scribe.lang in c.text else "en",
        )
        for c in cautions
    )


def steps_of(scribe: Scribe, product: Product) -> Iterator[Step]:
    """How a product is taken apart, step by step."""
    for undoing in product.take_apart:
        said = scribe.said(undoing.step)
        tool = "" if undoing.tool in BY_HAND else undoing.tool
        sign = "screw" if tool else "pull"
        frees = scribe.term(undoing.frees)
        yield Step(text=said.text, lang=said.lang, tool=scribe.term(tool), frees=frees, sign=sign)


def _end_of_life(scribe: Scribe, item: Item, product: Product, verdicts: ItemVerdicts) -> EndOfLife:
    words, proven = scribe.words, _is_proven(verdicts)
    names = words.listed(r for r in _resins(verdicts) if r)
    mend = [Said(text=words("tell.mend_ask"))]
    if product.mend:
        mend.append(scribe.said(product.mend))
    elif item.hardware or len(item.parts) > 1:
        mend.append(Said(text=words("tell.mend_parts", name=scribe.name)))
    kind = "_unknown" if not proven else "_several" if len(_resins(verdicts)) > 1 else ""
    gaps = {"resin": names} if proven else {}
    taker = words(f"tell.taker_else{kind}", **gaps)
    mix = words(f"tell.never_mix{kind}", **(gaps if kind == "" else {}))
    prepare = ("rinse", "cut", "goggles")
    return EndOfLife(
        mend=tuple(mend),
        parts=tuple(_parts(scribe, item, verdicts)),
        prepare=tuple(Said(text=words(f"tell.{key}", **_when(scribe, key))) for key in prepare),
        takers=(Said(text=words("tell.taker_workshop", name=scribe.name)), Said(text=taker)),
        never=(Said(text=words("tell.never_burn")), Said(text=mix)),
    )


def _uncut(scribe: Scribe, end: EndOfLife) -> EndOfLife:
    """What may hold old additives or was recalled is neither cut nor sanded."""
    words = scribe.words
    prepare = (Said(text=words("tell.rinse")), Said(text=words("tell.sheet.cut_not")))
    return replace(end, prepare=prepare, never=(*end.never, Said(text=words("tell.sheet.never_cut"))))


def _when(scribe: Scribe, key: str) -> dict[str, str]:
    return {"when": scribe.words("tell.cut_when")} if key == "cut" else {}


def _parts(scribe: Scribe, item: Item, verdicts: ItemVerdicts) -> Iterator[PartLine]:
    found, ledger, words = verdicts.stream.value, scribe.book.ledger, scribe.words
    for part in found.parts if found else ():
        weighed = ledger.book.parts.get((item.id, part.part)) or ledger.masses.get(item.id)
        mass = scribe.kg(weighed.value / item.count.pieces) if weighed else words("tell.state.not_weighed")
        known = bool(part.resin) and _is_proven(verdicts)
        goes = words("tell.goes_resin", resin=part.resin) if known else words("tell.goes_unknown", name=scribe.name)
        name = scribe.word(part.part) if part.part else scribe.product(item.product)
        material = part.resin if known else words("tell.unproven")
        yield PartLine(
            name=name.text,
            material=material,
            mass=mass,
            goes_to=goes,
            href=scribe.at(f"/R/{part.resin}/") if known else "",
            lang=name.lang,
        )
    for piece in item.hardware:
        yield _hardware_line(scribe, item, piece)


def _hardware_line(scribe: Scribe, item: Item, piece: Hardware) -> PartLine:
    words = scribe.words
    share = 1 if piece.mass.each else Fraction(1, item.count.pieces)
    said = scribe.said(piece.what)
    resin = next(iter(symbols_for(piece.material)), "")
    key = "goes_resin" if resin else "goes_metal" if piece.material in METALS else "goes_rest"
    count = f" × {piece.count.pieces}" if piece.count else ""
    return PartLine(
        name=said.text + count,
        material=scribe.term(piece.material),
        mass=scribe.kg(Fraction(piece.mass.mass_kg) * share),
        goes_to=words(f"tell.{key}", **({"resin": resin} if resin else {})),
        lang=said.lang,
    )


def _in_order(scribe: Scribe, life: Life, item: Item) -> tuple[EventLine, ...]:
    """All that is known of a thing, recalls too, in order of date."""
    lines = [*_life(scribe, life, item), *recall_lines(scribe, life.tag), *_came_back(scribe, life)]
    return tuple(sorted(lines, key=lambda line: line.date))


def _life(scribe: Scribe, life: Life, item: Item) -> Iterator[EventLine]:
    """What happened to the thing, in order of date."""
    yield _line(scribe, item.date, scribe.words("tell.event.made", name=scribe.name), href=f"/P/{item.product}/")
    before = replaced_tags(scribe).get(life.tag)
    if before is not None and before.ended is not None:
        said = scribe.words("tell.event.replaces", tag=before.tag)
        yield _line(scribe, before.ended, said, href=f"/T/{before.tag}/")
    for event in life.events:
        yield event_line(scribe, event)


@lru_cache(maxsize=4)
def replaced_tags(scribe: Scribe) -> Mapping[str, Life]:
    """By the number of a new tag, the life of the one whose place it took."""
    return {life.replaced_by: life for life in scribe.book.lives.values() if life.replaced_by}


def event_line(scribe: Scribe, event: TagEvent) -> EventLine:
    """One event of a tag in words."""
    words = scribe.words
    note = scribe.said(event.note)
    kind = getattr(event, "event", "")
    text = (
        words(f"tell.event.{kind}")
        if words.has(f"tell.event.{kind}") and "{" not in words.entries[f"tell.event.{kind}"]
        else kind
    )
    if isinstance(event, HandedOver) and event.place:
        text = words("tell.event.handed-over-at", place=scribe.term(event.place))
    elif isinstance(event, PutUp):
        text = words(f"tell.event.{event.event}", place=scribe.term(event.place))
    elif isinstance(event, GivenOn):
        text = words("tell.event.given-on", place=scribe.term(event.stream))
    elif isinstance(event, Replaced):
        text = words("tell.event.replaced", tag=event.by)
    elif isinstance(event, Inspected):
        note = scribe.said(event.condition)
        if event.weathering is not None:
            text = words("tell.event.inspected-as", weathering=words(f"tell.weathering.{event.weathering.value}"))
    elif isinstance(event, Ended) and event.because is not None:
        note = scribe.said(event.because)
    href = _old_part(scribe, event.run) if isinstance(event, Repaired) else ""
    return _line(scribe, event.date, text, note=note.text, href=href)


def _old_part(scribe: Scribe, run: str) -> str:
    """Where the part that a repair took out went on as a lot."""
    operation = scribe.book.ledger.operations.get(run)
    lots = [result.id for result in operation.results if result.kind == "lot"] if operation else []
    return f"/L/{lots[0]}/" if lots else ""


def _line(scribe: Scribe, day: date, text: str, note: str = "", href: str = "") -> EventLine:
    return EventLine(
        date=day.isoformat(), day=scribe.day(day), text=text, note=note, href=scribe.at(href) if href else ""
    )


def _header(scribe: Scribe, life: Life) -> Iterator[Row]:
    """The particulars that EN 18223:2026 asks of every passport."""
    words, workshop = scribe.words, scribe.book.shop.workshop
    address = workshop.address.rstrip("/")
    yield Row(label=words("tell.header_id"), value=f"{address}/T/{life.tag}" if address else life.tag)
    yield Row(label=words("tell.header_level"), value=words("tell.header_level_item"))
    yield Row(label=words("tell.header_version"), value=FORMAT_VERSION)
    yield Row(label=words("tell.header_status"), value=words(f"tell.stage.{life.stage.value}"))
    yield Row(label=words("tell.header_updated"), value=scribe.day(scribe.book.today))
    maker = scribe.book.shop.kept_by("item", life.item)
    yield Row(label=words("tell.header_operator"), value=maker.name, href=maker.address.rstrip("/"))
    if maker is not workshop:
        yield Row(label=words("tell.header_keeper"), value=workshop.name, href=address)
    yield Row(label=words("tell.header_registry"), value=words("tell.header_registry_no"))


# --- stone --------------------------------------------------------------------------------------------


def _stone(scribe: Scribe, life: Life) -> TombstoneView:
    words = scribe.words
    item = scribe.book.shop.items[life.item]
    kind = life.stage.value
    place = scribe.term(life.end.stream) if isinstance(life.end, GivenOn) else ""
    because = scribe.said(life.end.because) if isinstance(life.end, Ended) and life.end.because else None
    title = words(f"tell.stone.{kind}")
    gaps = {"place": place} if "{place}" in words.entries[f"tell.stone.{kind}_text"] else {}
    return TombstoneView(
        frame=scribe.frame(f"/T/{life.tag}/", f"{life.tag} {title}"),
        tag=life.tag,
        title=title,
        text=words(f"tell.stone.{kind}_text", **gaps),
        day=scribe.day(life.ended) if life.ended else "",
        because=because,
        product=scribe.product(item.product),
        replaced_by=scribe.tag(life.replaced_by) if life.replaced_by else None,
        became=tuple(scribe.lot(lot) for lot in life.lots),
        notices=tuple(recall_notices(scribe, life.tag)),
        life=_in_order(scribe, life, item),
        corrected=corrected.of_thing(scribe, item, life),
    )


def _came_back(scribe: Scribe, life: Life) -> Iterator[EventLine]:
    if life.ended is None:
        return
    for lot in life.lots:
        text = scribe.words("tell.event.came-back", lot=lot)
        became = scribe.book.shop.lots.get(lot)
        yield _line(scribe, became.date if became else life.ended, text, href=f"/L/{lot}/")
