"""The end-of-life sheet of a thing, at the short address /H/TAG: what to do with it now, on one page made for paper.

It asks first whether the thing can be mended; then how it comes apart, what belongs where, and what never to do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from passport.pages import goods
from passport.pages.ends import part_lines
from passport.pages.pieces import Link, Notice, Row, Said
from passport.pages.scribe import Scribe
from passport.pages.tag import label_name, material_of, notices_of, steps_of, tag_view
from passport.pages.views import Answer, SheetView, TombstoneView
from passport.reading.records import Item, Product
from passport.tags.address import SiteAddress, read_address
from passport.verdicts.end_of_life import EndOfLife, end_of_life
from passport.verdicts.life import Life
from passport.verdicts.single_stream import Stream

KIND = "H"
"""First part of its address, as T is of a passport's: "I have it in hand"."""
_TONES = {Stream.ONE: "good", Stream.ONE_AFTER_REMOVAL: "good"}


def sheet_path(tag: str) -> str:
    """The address of a sheet from the root of the site."""
    return f"/{KIND}/{tag}/"


def sheet_view(scribe: Scribe, life: Life) -> SheetView | TombstoneView:
    """The sheet of one thing; of one that is gone, the page that says so."""
    if not life.open:
        stone = tag_view(scribe, life)
        assert isinstance(stone, TombstoneView)  # noqa: S101 - what has ended has no passport
        return replace(stone, frame=scribe.frame(sheet_path(life.tag), f"{life.tag} {stone.title}"))
    own = life.tag in scribe.book.repaired
    return _of_one(scribe, life, _of_thing(scribe, life) if own else _of_batch(scribe, life.item))


def _of_one(scribe: Scribe, life: Life, sheet: SheetView) -> SheetView:
    """What differs from thing to thing; the rest is worked out once for all of a batch."""
    words, product = scribe.words, sheet.product.text
    released = scribe.book.released_thing(life)
    sheet = goods.end_or_stop(scribe, released, sheet)
    mark = " ".join(scribe.book.of_thing(life).marks) or words("tell.unproven")
    about = words("tell.sheet.about", what=product, tag=life.tag)
    site = _site(scribe.book.shop.workshop.address)
    return replace(
        sheet,
        frame=scribe.frame(sheet_path(life.tag), words("tell.sheet.title", tag=life.tag), about),
        tag=life.tag,
        passport=scribe.tag(life.tag),
        notices=(*notices_of(scribe, life), *sheet.notices),
        stream=goods.stream_or_stop(scribe, released, sheet.stream),
        bring_back=scribe.bring_back(life.tag, product, mark),
        address=site.in_letters(KIND, life.tag) if site else "",
        label=scribe.picture(label_name(life.tag), words("tell.label_alt", tag=life.tag)),
    )


@lru_cache(maxsize=2)
def _site(address: str) -> SiteAddress | None:
    """The workshop's address taken apart; None where it has none that can be used."""
    site = read_address(address)
    return site if address and isinstance(site, SiteAddress) else None


@lru_cache(maxsize=64)  # tags come in the order of issue, so those of one batch follow each other
def _of_batch(scribe: Scribe, item: str) -> SheetView:
    """The sheet of any thing of a batch that was not repaired."""
    unrepaired = (tag for tag in scribe.book.ledger.tags_of[item] if tag not in scribe.book.repaired)
    return _of_thing(scribe, scribe.book.lives[next(unrepaired)])


def _of_thing(scribe: Scribe, life: Life) -> SheetView:
    book, words = scribe.book, scribe.words
    item = book.shop.items[life.item]
    product, end = book.shop.products[item.product], end_of_life(book, life)
    title = scribe.product(item.product)
    return SheetView(
        frame=scribe.frame("", ""),
        tag="",
        product=title,
        passport=Link(text=""),
        material=material_of(scribe, life),
        stream=_answer(scribe, end),
        notices=tuple(_old(scribe, end)),
        doubts=scribe.doubts((*book.ledger.doubts_of(item.id), *book.standing.identity_doubts(item.id))),
        mend=tuple(_mend(scribe, item, product)),
        spares=tuple(_spares(scribe, end, title.text)),
        take_apart=tuple(steps_of(scribe, product)),
        tools=words.listed(dict.fromkeys(scribe.term(h.tool) for h in item.hardware if h.tool)),
        parts=tuple(part_lines(scribe, end, title.text)),
        total=scribe.kg(end.total_kg) if end.total_kg is not None else "",
        prepare=tuple(Said(text=text) for text in _prepare(scribe, end)),
        takers=tuple(Said(text=text) for text in _takers(scribe, end)),
        never=tuple(Said(text=text) for text in _never(scribe, end)),
    )


def _answer(scribe: Scribe, end: EndOfLife) -> Answer:
    """What kind of end it has."""
    words, key = scribe.words, f"tell.sheet.{end.stream.value}"
    foreign = (piece.hardware for piece in end.hardware if piece.hardware.material not in end.resins)
    what = words.listed(scribe.said(hardware.what).text for hardware in foreign)
    gaps = {"resin": words.listed(end.resins)} if end.proven else {}
    title = words(key, what=what) if end.stream is Stream.ONE_AFTER_REMOVAL else words(key)
    return Answer(text=title, detail=words(f"{key}_detail", **gaps), tone=_TONES.get(end.stream, "mind"))


def _old(scribe: Scribe, end: EndOfLife) -> Iterator[Notice]:
    if end.old_additives:
        yield Notice(title=scribe.words("tell.sheet.old_title"), text=scribe.words("tell.sheet.old_text"))


# --- mending ------------------------------------------------------------------------------------------


def _mend(scribe: Scribe, item: Item, product: Product) -> Iterator[Said]:
    words = scribe.words
    yield Said(text=words("tell.mend_ask"))
    if product.mend is not None:
        yield scribe.said(product.mend)
    elif item.hardware or len(item.parts) > 1:
        yield Said(text=words("tell.mend_parts", name=scribe.name))


def _spares(scribe: Scribe, end: EndOfLife, product: str) -> Iterator[Row]:
    """Where a new part comes from: the lot it was made from, else one like it, else the workshop."""
    words = scribe.words
    for part in end.parts:
        name = scribe.term(part.part) or product
        if not part.spares:
            yield Row(label=name, value=words("tell.sheet.spare_none", name=scribe.name))
        for lot in part.spares[:2]:
            left = scribe.book.ledger.stock[lot].books_kg
            key = "spare_same" if lot in part.lots else "spare_like"
            said = words(f"tell.sheet.{key}", lot=lot, mass=scribe.kg(left) if left is not None else "")
            yield Row(label=name, value=said, href=scribe.lot(lot).href)
    for piece in end.hardware:
        if piece.hardware.tool:
            what = scribe.said(piece.hardware.what)
            said = words("tell.sheet.spare_hardware", what=what.text, tool=scribe.term(piece.hardware.tool))
            yield Row(label=scribe.term(piece.hardware.material), value=said)


# --- handing it in ------------------------------------------------------------------------------------


def _prepare(scribe: Scribe, end: EndOfLife) -> Iterator[str]:
    """Rinse; the size to cut to and how to catch the shavings, or why it must not be cut."""
    words, largest = scribe.words, scribe.book.shop.workshop.largest_piece
    yield words("tell.rinse")
    if end.doubtful:
        yield words("tell.sheet.cut_not")
    else:
        yield words("tell.sheet.cut_size", size=largest) if largest else words("tell.sheet.cut_ask", name=scribe.name)
        yield words("tell.sheet.shavings")
        yield words("tell.goggles")
    yield words("tell.sheet.keep_tag")


def _takers(scribe: Scribe, end: EndOfLife) -> Iterator[str]:
    """The workshop first; otherwise the question to ask the local site."""
    words = scribe.words
    yield words("tell.taker_workshop", name=scribe.name)
    if end.stream is Stream.MIXED:
        yield words("tell.sheet.taker_mixed")
    elif not end.proven:
        yield words("tell.taker_else_unknown")
    else:
        several = "_several" if len(end.resins) > 1 else ""
        yield words(f"tell.taker_else{several}", resin=words.listed(end.resins))
    if end.old_additives:
        yield words("tell.sheet.taker_old")
    if end.recalls:
        yield words("tell.sheet.taker_recall")


def _never(scribe: Scribe, end: EndOfLife) -> Iterator[str]:
    words = scribe.words
    yield words("tell.never_burn")
    yield words("tell.sheet.never_bury")
    if end.doubtful:
        yield words("tell.sheet.never_cut")
    if not end.proven:
        yield words("tell.never_mix_unknown")
    elif len(end.resins) > 1:
        yield words("tell.never_mix_several")
    else:
        yield words("tell.never_mix", resin=words.listed(end.resins))
