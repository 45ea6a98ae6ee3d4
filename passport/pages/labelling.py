"""What stands on the label of a thing, in the workshop's first language."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from passport.pages.lot import lot_view
from passport.pages.scribe import Scribe
from passport.problems import Problem
from passport.reading.records import Lot
from passport.tags.address import is_sample, lot_payload, read_address, tag_payload
from passport.tags.card import CardText
from passport.tags.intake import COLUMNS, SUN, BlankCard
from passport.tags.layout import LabelSpec, LabelText
from passport.tags.plate import PlateText
from passport.tags.print_page import PageWords
from passport.tags.sheet import SheetSpec, SheetWords, sheet_pdf
from passport.verdicts.cautions import cautions_of_item, cautions_of_thing
from passport.verdicts.life import Life
from passport.verdicts.release import Release
from passport.verdicts.single_stream import Stream

SHEET_LABELS = 12
"""So many labels show what a printer does; the whole set is printed by `labels`."""

SHOWN_LOTS = 3
"""Numbers named in the command of an intake sheet; the rest go without saying."""

MOST_NEEDED = frozenset({"not-food", "children"})
"""Cautions that stand on a label, too."""

ON_CARD = ("mass", "pieces", "form", "moisture", "weathering", "colour", "melt_flow", "melt", "stream", "kept")
"""Facts of a lot that are read across an aisle; what takes a sentence stays on the lot's page."""


def label_spec() -> LabelSpec:
    """The default label: 70 × 37 mm, a symbol of 30 mm, 300 dpi, level Q (tags.layout has the reasons)."""
    return LabelSpec()


def label_text(scribe: Scribe, life: Life) -> LabelText:
    """The words of one label.

    No triangle: the mark already says how much is recycled, and ASTM D7611, 4.2 keeps the number away from claims.
    """
    book, words = scribe.book, scribe.words
    address = book.shop.workshop.address
    verdicts = book.of_thing(life)
    stream = verdicts.stream.value
    answer = stream.answer if stream else Stream.NOT_ESTABLISHED
    name = scribe.name
    if book.released_thing(life).state > Release.HELD:
        sentence = words("tell.label_sentence_stop", name=name)
    elif answer in (Stream.ONE, Stream.ONE_AFTER_REMOVAL) and stream:
        sentence = words("tell.label_sentence", resin=stream.resins[0], name=name)
    elif answer is Stream.SEVERAL_SEPARABLE and stream:
        parts = words.listed(words("tell.stream_part", part=scribe.term(p.part), resin=p.resin) for p in stream.parts)
        sentence = words("tell.label_sentence_several", parts=parts, name=name)
    else:
        sentence = words("tell.label_sentence_unknown", name=name)
    return LabelText(
        tag=life.tag,
        payload=tag_payload(address, life.tag),
        marking=" ".join(verdicts.marks),
        sentence=sentence,
        mind=_mind(scribe, life),
        headline=_headline(scribe, address),
        sample=is_sample(address),
    )


def _mind(scribe: Scribe, life: Life) -> str:
    """The two cautions that matter most without a page; what evidence makes untrue is not said."""
    if life.tag in scribe.book.repaired:
        keys = {caution.key for caution in cautions_of_thing(scribe.book, life)}
        return scribe.words("tell.label_mind") if keys >= MOST_NEEDED else ""
    return _mind_of_batch(scribe, life.item)


@lru_cache(maxsize=64)  # tags come in the order of issue, so those of one batch follow each other
def _mind_of_batch(scribe: Scribe, item: str) -> str:
    keys = {caution.key for caution in cautions_of_item(scribe.book, scribe.book.shop.items[item])}
    return scribe.words("tell.label_mind") if keys >= MOST_NEEDED else ""


def _headline(scribe: Scribe, address: str) -> str:
    """Where to type the number when the symbol is gone; the workshop's name where there is no address yet."""
    site = read_address(address)
    if not address or isinstance(site, Problem):
        return scribe.name
    return site.host + site.path


def sample_texts(scribe: Scribe) -> tuple[tuple[LabelText, ...], tuple[str, ...]]:
    """The first labels, to try the printer with, and the resins of their things; nothing where nothing is tagged."""
    lives = [life for life in scribe.book.lives.values() if life.open][:SHEET_LABELS]
    resins = {resin for life in lives for resin in resins_of(scribe, life)}
    return tuple(label_text(scribe, life) for life in lives), tuple(sorted(resins))


def sheet_words(scribe: Scribe) -> SheetWords:
    """What a sheet says beside its labels, by the catalogue."""
    said = scribe.words
    keys = (
        "page",
        "notes",
        "head",
        "head_one",
        "head_one_page",
        "size",
        "printing",
        "rule",
        "scan",
        "tag_of",
        "these",
        "in_all",
    )
    texts = {key: said.entries[f"print.{key}"] for key in keys}
    return SheetWords(lang=scribe.lang, print_line=said.entries["print.line"], **texts)


def page_words(scribe: Scribe) -> PageWords:
    """What a page of labels for a browser says about itself."""
    return PageWords(language=scribe.lang, title=scribe.words("print.title"), how=scribe.words("print.how"))


def sample_sheet(texts: Sequence[LabelText], resins: Sequence[str], words: SheetWords | None = None) -> bytes:
    """Those labels as a sheet in true size."""
    return sheet_pdf(list(texts), SheetSpec(), list(resins), words)


def resins_of(scribe: Scribe, life: Life) -> tuple[str, ...]:
    """The resins of a tagged thing, for the advice on what to make its tag of."""
    stream = scribe.book.of_thing(life).stream.value
    return tuple(resin for resin in stream.resins if resin) if stream else ()


def plate_text(scribe: Scribe, life: Life) -> PlateText:
    """What is cut into a plate of the same resin."""
    address = scribe.book.shop.workshop.address
    return PlateText(
        tag=life.tag,
        payload=tag_payload(address, life.tag),
        marking=" ".join(scribe.book.of_thing(life).marks),
        sample=is_sample(address),
    )


def blank_card(scribe: Scribe, lot: str) -> BlankCard:
    """A card for a sack whose record is still to come."""
    address = scribe.book.shop.workshop.address
    return BlankCard(lot=lot, payload=lot_payload(address, lot), sample=is_sample(address))


def intake_words(scribe: Scribe, lots: Sequence[str]) -> dict[str, str]:
    """What stands on blank cards and on the sheet for the gate, by the names of their fields."""
    words = scribe.words
    said = {name: words(f"intake.{name}") for name in (*COLUMNS, *SUN)}
    command = f"passport receive {' '.join(lots[:SHOWN_LOTS])}{' …' if len(lots) > SHOWN_LOTS else ''}".strip()
    return said | {"title": words("intake.title", name=scribe.name), "lead": words("intake.lead", command=command)}


def card_text(scribe: Scribe, lot: Lot) -> CardText:
    """What hangs on a sack or a box: the lot's page in short."""
    address, words = scribe.book.shop.workshop.address, scribe.words
    view = lot_view(scribe, lot)
    state = f"{view.state.text} · {view.state.detail}" if view.state.detail else view.state.text
    facts = [(words("passport.made_of"), view.material.symbol if view.material.proven else view.material.name)]
    wanted = {words(f"tell.row_{key}") for key in ON_CARD}
    facts += [(row.label, row.value) for row in view.facts if row.label in wanted]
    return CardText(
        lot=lot.id,
        payload=lot_payload(address, lot.id),
        facts=(*facts, (words("lot.state"), state)),
        doubts_title=words("doubts.first") if view.doubts else "",
        doubts=tuple(doubt.text for doubt in view.doubts),
        headline=f"{view.what} · {_headline(scribe, address)}",
        sample=is_sample(address),
    )
