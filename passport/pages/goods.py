"""What pages say about honest words and safe goods: statements, release, evidence, exceptions, figures, the bench."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from passport.massflow.custody import Custody
from passport.material.bench import bench_lines, melt_range, not_melted
from passport.material.limits import Outcome, substance
from passport.material.tables import cited
from passport.pages.pieces import Caution, Notice, Row, Said
from passport.pages.scribe import Scribe
from passport.pages.views import Answer, EndOfLife, SheetView
from passport.reading.records import Form, Item, Lot
from passport.verdicts.claim_check import exceptions_for
from passport.verdicts.recycled import Stated
from passport.verdicts.release import Release, Released
from passport.verdicts.substances import Judged, tests_of

E = TypeVar("E", EndOfLife, SheetView)

TO_SHRED = frozenset({Form.PIECES, Form.MOULDINGS, Form.OFFCUTS, Form.BARS, Form.SHEETS})
TO_MELT = frozenset({Form.FLAKE, Form.REGRIND, Form.PELLETS, Form.POWDER})
"""Forms and what is done to them next; of others nothing is said but how to keep them."""


# --- statements ---------------------------------------------------------------------------------------


def recycled_sentence(scribe: Scribe, node: str, stated: Sequence[Stated], whole: Sequence[Stated] = ()) -> str:
    """The sentence that ISO 14021 and the law of the language ask for; empty where nothing may be stated.

    It holds share, kind, denominator, day, evidence and chain-of-custody model (ISO 14021, 7.8; ISO 22095).
    whole: the statement about a thing with its hardware. It leads, because the French environment code (L541-9-1,
    decree 2022-748) prescribes the words and counts by the mass of the product; without it only the plastic is told.
    """
    words, by_kind = scribe.words, {one.kind: one for one in stated}
    day = scribe.day(scribe.book.today)
    if "recycled" not in by_kind:
        return ""
    if by_kind["recycled"].at_least_percent == 0:
        return words("tell.recycled_none", day=day)
    percent = {kind: words.percent(Fraction(one.at_least_percent, 100)) for kind, one in by_kind.items()}
    model = scribe.book.custody.get(node, Custody.NOT_KNOWN)
    post = percent.get("post-consumer", words.percent(Fraction(0)))
    key = "tell.recycled_sentence_all" if by_kind["recycled"].exactly_all else "tell.recycled_sentence"
    plastic = words(key, n=percent["recycled"], p=post, model=words(f"tell.custody.{model.words}"), day=day)
    of_all = next((one.at_least_percent for one in whole if one.kind == "recycled"), 0)
    if not of_all:
        return plastic
    return f"{words('tell.recycled_product', w=words.percent(Fraction(of_all, 100)))} {plastic}"


# --- whether it may be handed on ----------------------------------------------------------------------


def release_notices(scribe: Scribe, released: Released, lot: str = "") -> Iterator[Notice]:
    """What must be read first about a thing or lot that may not be handed on; a lot's own state is said elsewhere."""
    own = released.because_of == (lot,) and released.state is not Release.ABOVE_LIMIT
    if released.state is not Release.FREE and not own:
        key = f"tell.release.{released.state.words}"
        lots = scribe.words.listed(released.because_of)
        yield Notice(title=scribe.words(key), text=scribe.words(f"{key}_text", lots=lots, name=scribe.name))


def stream_or_stop(scribe: Scribe, released: Released, answer: Answer) -> Answer:
    """The answer to "one stream?", or that it belongs in none."""
    return _or_stop(scribe, released, "stream", answer)


def now_or_stop(scribe: Scribe, released: Released, answer: Answer) -> Answer:
    """The answer to "what now", or that nobody should use it."""
    return _or_stop(scribe, released, "now", answer)


def _or_stop(scribe: Scribe, released: Released, what: str, answer: Answer) -> Answer:
    if released.state is Release.FREE:
        return answer
    key = f"tell.{what}_{'wait' if released.state is Release.HELD else 'stop'}"
    detail = scribe.words(f"{key}_detail", name=scribe.name)
    return Answer(text=scribe.words(key), detail=detail, href="#back" if what == "now" else "", tone="mind")


def end_or_stop(scribe: Scribe, released: Released, end: E) -> E:
    """What to do at the end, or that there is one taker: no other stream gets refused material."""
    if released.state <= Release.HELD:
        return end
    words = scribe.words
    apart = words("tell.goes_unknown", name=scribe.name)
    return replace(
        end,
        mend=(),
        parts=tuple(replace(part, goes_to=apart, href="") if part.href else part for part in end.parts),
        takers=(Said(text=words("tell.stream_stop_detail", name=scribe.name)),),
        never=(Said(text=words("tell.never_burn")), Said(text=words("tell.never_mix_unknown"))),
    )


# --- evidence and exceptions --------------------------------------------------------------------------


def tested_rows(scribe: Scribe, item: Item) -> Iterator[Row]:
    """What a thing was tested for, to which standard, by which paper."""
    words, product = scribe.words, scribe.book.shop.products.get(item.product)
    for test in (*(product.tested_for if product else ()), *item.tested_for):
        said = (test.standard, test.laboratory, test.document, scribe.day(test.date) if test.date else "")
        use = words(f"tell.use.{test.use}")
        yield Row(label=words("tell.tested_for"), value=f"{use}: {', '.join(part for part in said if part)}")


def exceptions(scribe: Scribe, *records: str) -> tuple[Said, ...]:
    """Words that the workshop stands by on this page, each with its reason and paper; with no record, all of them."""
    found = exceptions_for(scribe.book.shop.workshop, *records)
    return tuple(_exception(scribe, allowed.words, scribe.said(allowed.because), allowed.evidence) for allowed in found)


def _exception(scribe: Scribe, stood_by: str, because: Said, evidence: str) -> Said:
    text = scribe.words("tell.exception", words=stood_by, because=because.text.rstrip("."), evidence=evidence)
    return Said(text=text, lang=because.lang)


# --- laboratory figures -------------------------------------------------------------------------------


def substance_rows(scribe: Scribe, lot: Lot) -> Iterator[Row]:
    """Each laboratory figure of a lot with the limit that it is held against."""
    words, judged = scribe.words, scribe.book.released(lot.id).judged
    own = next((one for one in judged if one.lot == lot.id), None)
    for test in tests_of(lot):
        figure = words("tell.content", n=words.number(test.mg_per_kg, _places(str(test.mg_per_kg))))
        value = ", ".join(part for part in (figure, test.laboratory, test.document) if part)
        yield Row(label=_called(scribe, test.substance), value=value, note=_against(scribe, own, test.substance))


def _called(scribe: Scribe, name: str) -> str:
    """A substance in the page's language, else as the record calls it."""
    key = f"tell.substance.{substance(name)}"
    return scribe.words(key) if scribe.words.has(key) else name


def _places(digits: str) -> int:
    return len(digits.partition(".")[2])


def _against(scribe: Scribe, judged: Judged | None, name: str) -> str:
    """The limits it breaks, else those it is above without breaking them, else that it keeps to them."""
    if judged is None:
        return ""
    about = [found for found in judged.found if substance(name) in dict(found.measured)]
    for outcome in (Outcome.BREAKS, Outcome.FLAG, Outcome.KEEPS):
        for found in about:
            if found.outcome is outcome:
                law = found.limit.title.get(scribe.lang) or found.limit.title["en"]
                limit = scribe.words("tell.content", n=f"{found.limit.mg_per_kg}")
                return scribe.words(f"tell.limit.{outcome.value}", limit=limit, law=law)
    return scribe.words("tell.limit.none")


# --- the bench ----------------------------------------------------------------------------------------


def melt_rows(scribe: Scribe, resin: str) -> Iterator[Row]:
    """How hot a lot may be melted, or that it is not: one line for the card on the sack."""
    words = scribe.words
    if not_melted([resin]):
        yield Row(label=words("tell.row_melt"), value=words("tell.melt_never"))
    found = melt_range([resin]) if resin else None
    if found is not None and found.fits:
        high = min(found.high_c, found.never_above_c)
        gaps = {name: words.number(round(c)) for name, c in (("low", found.low_c), ("high", high))}
        limit = words.number(round(found.never_above_c))
        yield Row(label=words("tell.row_melt"), value=words("tell.melt_range", limit=limit, **gaps))


def bench_cautions(scribe: Scribe, lot: Lot, resin: str) -> tuple[Caution, ...]:
    """What the workshop minds with a lot in its form, while there is any of it."""
    stock = scribe.book.ledger.stock[lot.id]
    if stock.emptied is not None or (stock.books_kg is not None and stock.books_kg <= 0):
        return ()
    doing = ("shred", "store") if lot.form in TO_SHRED else ("melt", "flake", "store") if lot.form in TO_MELT else ()
    lines = bench_lines([resin] if resin else [], *(doing or ("store",)))
    return tuple(
        Caution(
            text=line.words.get(scribe.lang) or line.words["en"],
            source=cited(line.sources, scribe.lang),
            sign=line.sign,
            lang="" if scribe.lang in line.words else "en",
        )
        for line in lines
    )
