"""The quieter pages: streams, resins, products, the lists of each, "I found a thing", the method, 404."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import count
from urllib.parse import urlsplit

from passport.material.advice import cautions, found_as, hand_back_words
from passport.material.flow import route_keys, route_needs
from passport.material.next_test import NextTest, taken_for
from passport.material.resins import Figure as Range
from passport.material.resins import Grade, Resin, resins, symbols_for
from passport.material.separating_liquid import separating
from passport.material.tables import cited
from passport.pages import corrected, goods, knowing
from passport.pages.log import origin_words, products_table, received_of, streams_table
from passport.pages.lot import lot_material, node_link, state_of
from passport.pages.pieces import Caution, Figure, Link, Row, Said, Table
from passport.pages.prose import to_prose
from passport.pages.scribe import Scribe
from passport.pages.tag import caution_lines, steps_of
from passport.pages.views import (
    Answer,
    FoundView,
    ListView,
    Material,
    MethodPart,
    MethodView,
    NotFoundView,
    ProductView,
    ResinView,
    StreamView,
)
from passport.reading.fields import Words as Text
from passport.reading.records import Product, Stream
from passport.verdicts.cautions import care_of

PER_PAGE = 200
ALL_OF = 20
"""Pages of a list up to which each leads to every other."""
TWO_LEVELS = 2500
"""Pages up to which two taps lead everywhere: half a million things, and a hundred links a page."""
WITHOUT_MARK = 3
"""The step that sends people to the workshop by name."""
METHOD_PARTS = ("balances", "recycled-content", "single-stream", "uncertainty", "doubts", "tags", "safety", "wording")


# --- streams ------------------------------------------------------------------------------------------


def stream_view(scribe: Scribe, stream: Stream) -> StreamView:
    """The page of one stream."""
    words = scribe.words
    title = scribe.said(stream.title)
    lots = [lot for lot in scribe.book.shop.lots.values() if lot.received and lot.received.stream == stream.id]
    return StreamView(
        frame=scribe.frame(f"/S/{stream.id}/", title.text, title.text),
        stream=stream.id,
        title=title,
        origin=Answer(text=origin_words(scribe, stream.id)),
        facts=tuple(_stream_facts(scribe, stream)),
        became=(Figure(text=received_of(scribe, stream.id), kind=words("tell.stream_received")),),
        lots=_first(scribe, lots_table(scribe, [lot.id for lot in lots], words("tell.stream_lots")), "lots", "/L/"),
        items=_reached_items(scribe, stream.id),
        corrected=corrected.of_stream(scribe, stream.id),
        notes=scribe.prose(stream.notes),
    )


def _stream_facts(scribe: Scribe, stream: Stream) -> Iterator[Row]:
    words = scribe.words
    if stream.collected:
        said = scribe.said(stream.collected)
        yield Row(label=words("tell.stream_collected"), value=said.text, lang=said.lang)
    if stream.country:
        yield Row(label=words("tell.stream_country"), value=stream.country)
    if stream.document:
        yield Row(label=words("tell.stream_paper"), value=stream.document)
    if stream.closed_loop:
        yield Row(label=words("tell.stream_closed_loop"), value="")


def _reached_items(scribe: Scribe, stream: str) -> Table | None:
    """Every batch of things that holds material of a stream, with its share."""
    words, ledger = scribe.words, scribe.book.ledger
    rows = []
    for name in _newest_batches(scribe, scribe.book.shop.items):
        share = ledger.mixtures[name].value("stream", (stream,))
        if share:
            rows.append((node_link(scribe, name), Link(text=words.percent(share, 1))))
    head = (words("tell.col_what"), words("tell.col_share"))
    table = Table(title=words("tell.stream_items"), head=head, rows=tuple(rows), numeric=(1,))
    return _first(scribe, table, "tags", "/T/")


def _newest_batches(scribe: Scribe, names: Iterable[str]) -> list[str]:
    items = scribe.book.shop.items
    return sorted(names, key=lambda name: (items[name].date, name), reverse=True)


# --- resins -------------------------------------------------------------------------------------------


def resin_symbols(scribe: Scribe) -> tuple[str, ...]:
    """The resins that occur in the records or are named on pages, in the table's order."""
    ledger = scribe.book.ledger
    met = {resin for mixture in ledger.mixtures.values() for resin in mixture.shares_by("resin")}
    met |= {identity.symbol for identity in scribe.book.standing.own.values() if identity.symbol}
    return tuple(symbol for symbol in resins() if symbol in met)


def resin_view(scribe: Scribe, symbol: str) -> ResinView:
    """The page of one resin: what it is, how to know it, where it goes."""
    words, resin = scribe.words, resins()[symbol]
    name = scribe.resin_name(symbol)
    lots = [lot for lot in scribe.book.shop.lots if symbol in scribe.book.ledger.mixtures[lot].shares_by("resin")]
    floats = words("tell.resin_floats_yes" if resin.floats_in_water else "tell.resin_floats_no")
    numbers = (
        Row(label=words("tell.resin_number"), value=_code(resin.d7611), note=cited(resin.d7611.sources, scribe.lang)),
        Row(label=words("tell.resin_term"), value=_code(resin.eu), note=cited(resin.eu.sources, scribe.lang)),
    )
    know = [
        _measured(scribe, "tell.resin_density", resin.density_g_cm3, "g/cm³", 3),
        Row(label=words("tell.resin_floats"), value=floats),
    ]
    know += [
        _measured(scribe, "tell.resin_melts", grade.melts_c, "°C", 0, _grade(scribe, resin, grade))
        for grade in resin.grades
        if grade.melts_c
    ]
    figures = [_measured(scribe, "tell.resin_process", resin.process_c, "°C", 0)] if resin.process_c else []
    return ResinView(
        frame=scribe.frame(f"/R/{symbol}/", f"{symbol} {name}", name),
        material=Material(symbol=symbol, name=name),
        about=tuple(_about(scribe, symbol)),
        numbers=numbers,
        know_it=(*dict.fromkeys(know), *_told_apart(scribe, symbol)),
        care_points=tuple(scribe.said(text) for text in care_of((symbol,))),
        cautions=tuple(_resin_cautions(scribe, resin)),
        figures=(*figures, *_hand_back(scribe, resin)),
        lots=_first(scribe, lots_table(scribe, lots, words("tell.resin_lots")), "lots", "/L/"),
        products=_resin_products(scribe, symbol),
    )


def _about(scribe: Scribe, symbol: str) -> Iterator[Said]:
    """What it usually comes in as, and on what ground that is said."""
    known = found_as(symbol)
    if known:
        said = scribe.said(Text(tuple(known.items())))
        yield Said(text=f"{said.text} {scribe.words('tell.resin_about_practice')}", lang=said.lang)


def _told_apart(scribe: Scribe, symbol: str) -> Iterator[Row]:
    """The float that rules out what the resin is most often taken for; nothing where no liquid would."""
    other = taken_for(symbol)
    recipe = other and (separating(symbol, other) or separating(other, symbol))
    if not other or not recipe:
        return
    up, down = sorted((symbol, other), key=lambda name: resins()[name].density_g_cm3.low)
    test = NextTest(key="float", floats=(up,), sinks=(down,), recipe=recipe)
    said = f"{knowing.test_in_words(scribe, test)}."
    yield Row(label=scribe.words("tell.resin_apart", other=other), value=said[:1].upper() + said[1:])


_SIGN_OF = {
    "melt": "heat",
    "fume": "heat",
    "fire": "heat",
    "cold": "cold",
    "creep": "load",
    "food": "food",
    "toys": "child",
}
"""The little drawing beside a caution, by what its key speaks of."""


def _resin_cautions(scribe: Scribe, resin: Resin) -> Iterator[Caution]:
    """What owners and workshops have to beware of with a resin."""
    for key in resin.cautions:
        advice = cautions()[key]
        said = scribe.said(Text(tuple(advice.words.items())))
        sign = next((sign for word, sign in _SIGN_OF.items() if word in key), "mind")
        yield Caution(text=said.text, source=cited(advice.sources, scribe.lang), sign=sign, lang=said.lang)


def _hand_back(scribe: Scribe, resin: Resin) -> Iterator[Row]:
    said = scribe.said(Text(tuple(hand_back_words(resin.name).items())))
    yield Row(label=scribe.words("tell.resin_goes"), value=said.text, lang=said.lang)


def _grade(scribe: Scribe, resin: Resin, grade: Grade) -> str:
    """Which grade a figure is of, where there are several."""
    if len(resin.grades) <= 1 or not grade.called:
        return ""
    return grade.called.get(scribe.lang) or grade.called["en"]


def _code(code: object) -> str:
    number = getattr(code, "number", "")
    term = getattr(code, "term", "") or getattr(code, "abbreviation", "")
    return f"{number} {term}".strip()


def _measured(scribe: Scribe, label: str, figure: Range, unit: str, places: int, of: str = "") -> Row:
    """A figure with what it is of and where it is from; what is from memory says so."""
    note = ". ".join(part for part in (of, cited(figure.sources, scribe.lang)) if part)
    return Row(label=scribe.words(label), value=_range(scribe, figure, unit, places), note=note[:1].upper() + note[1:])


def _range(scribe: Scribe, figure: Range, unit: str, places: int) -> str:
    low, high = (scribe.words.number(Decimal(str(value)), places) for value in (figure.low, figure.high))
    return f"{low} {unit}" if low == high else f"{low}–{high} {unit}"


def _resin_products(scribe: Scribe, symbol: str) -> Table | None:
    words = scribe.words
    rows = []
    for name in _newest_batches(scribe, scribe.book.items):
        verdicts = scribe.book.items[name]
        if verdicts.stream.value and symbol in verdicts.stream.value.resins:
            rows.append((node_link(scribe, name), Link(text=" ".join(verdicts.marks))))
    head = (words("tell.col_product"), words("tell.col_resin"))
    return _first(scribe, Table(title=words("tell.resin_products"), head=head, rows=tuple(rows)), "tags", "/T/")


# --- products -----------------------------------------------------------------------------------------


def product_view(scribe: Scribe, product: Product) -> ProductView:
    """The page of one product: what it is for, how it comes apart, its batches and tags."""
    words, book = scribe.words, scribe.book
    title = scribe.said(product.title)
    batches = [item for item in book.shop.items.values() if item.product == product.id]
    lives = [life for life in book.lives.values() if book.shop.items[life.item].product == product.id]
    facts = [Row(label=words("tell.size"), value=product.size)] if product.size else []
    for key, text in (("made_for", product.made_for), ("not_for", product.not_for)):
        if text is not None:
            said = scribe.said(text)
            facts.append(Row(label=words(f"tell.{key}"), value=said.text, lang=said.lang))
    cautions: dict[Caution, None] = {}
    for item in batches:
        cautions.update(dict.fromkeys(caution_lines(scribe, item)))
    return ProductView(
        frame=scribe.frame(f"/P/{product.id}/", title.text, title.text),
        title=title,
        facts=tuple(facts),
        picture=scribe.picture(product.picture, words("tell.picture_alt", what=title.text)),
        care=scribe.prose(product.care),
        take_apart=tuple(steps_of(scribe, product)),
        cautions=tuple(cautions),
        batches=_batches(scribe, [item.id for item in batches]),
        tags=_tags(scribe, [life.tag for life in lives]),
        corrected=corrected.of_product(scribe, product.id, [item.id for item in batches]),
        notes=scribe.prose(product.notes),
    )


def _batches(scribe: Scribe, names: Sequence[str]) -> Table | None:
    words, book = scribe.words, scribe.book
    rows = []
    for name in _newest_batches(scribe, names):
        item = book.shop.items[name]
        stated = next((s for s in book.items[name].recycled.value or () if s.kind == "recycled"), None)
        share = scribe.figure(stated).text if stated and stated.at_least_percent else "–"
        cells = (name, scribe.day(item.date), words.number(item.count.pieces), " ".join(book.items[name].marks), share)
        rows.append(tuple(Link(text=cell) for cell in cells))
    head = tuple(words(f"tell.col_{key}") for key in ("batch", "day", "count", "resin", "recycled"))
    table = Table(title=words("tell.batch"), head=head, rows=tuple(rows), numeric=(2, 4))
    return _first(scribe, table, "tags", "/T/")


def _tags(scribe: Scribe, tags: Sequence[str]) -> Table | None:
    words = scribe.words
    rows = tuple((scribe.tag(tag), Link(text=stage_words(scribe, tag))) for tag in reversed(tags))
    head = (words("tell.col_tag"), words("tell.col_state"))
    return _first(scribe, Table(title=words("tell.their_tags"), head=head, rows=rows), "tags", "/T/")


MOST_ROWS = 100
"""Rows of a table beside other things; the list of its own has them all, page by page."""


def _first(scribe: Scribe, table: Table, kind: str, path: str) -> Table | None:
    """The newest rows of a long table, with the way to all of them; None for an empty one."""
    if len(table.rows) <= MOST_ROWS:
        return table if table.rows else None
    more = Link(text=scribe.words(f"tell.all_{kind}"), href=scribe.at(path))
    return replace(table, rows=table.rows[:MOST_ROWS], more=more)


def stage_words(scribe: Scribe, tag: str) -> str:
    """Where a tagged thing is in its life, in a few words."""
    return scribe.words(f"tell.stage.{scribe.book.lives[tag].stage.value}")


# --- lists --------------------------------------------------------------------------------------------


def lots_table(scribe: Scribe, names: Sequence[str], title: str) -> Table:
    """Lots with day, resin and state, the newest first."""
    words, shop = scribe.words, scribe.book.shop
    newest = sorted(names, key=lambda name: (shop.lots[name].date, name), reverse=True)
    rows = []
    for name in newest:
        lot, material = shop.lots[name], lot_material(scribe, name)
        state = state_of(scribe, lot)
        resin = material.symbol if material.proven else words("tell.unproven_symbol")
        where = ", ".join(word for word in (state.text, state.detail) if word)
        cells = (Link(text=scribe.day(lot.date)), Link(text=resin), Link(text=where))
        rows.append((scribe.lot(name), *cells))
    head = tuple(words(f"tell.col_{key}") for key in ("lot", "day", "resin", "state"))
    return Table(title=title, head=head, rows=tuple(rows))


def list_views(scribe: Scribe) -> Iterator[ListView]:
    """The lists of tags, lots, streams, products and resins, paged."""
    words = scribe.words
    yield from _paged(scribe, "T", "tags", _tag_rows(scribe))
    lots = lots_table(scribe, list(scribe.book.shop.lots), words("tell.all_lots"))
    yield from _paged(scribe, "L", "lots", lots)
    for folder, kind, table in (
        ("S", "streams", streams_table(scribe)),
        ("P", "products", products_table(scribe)),
        ("R", "resins", _resin_rows(scribe)),
    ):
        if table is not None:
            yield from _paged(scribe, folder, kind, table)


def _tag_rows(scribe: Scribe) -> Table:
    words, book = scribe.words, scribe.book
    rows = []
    for tag, life in book.lives.items():
        item = book.shop.items[life.item]
        marks = " ".join(book.items[item.id].marks) or words("tell.unproven_symbol")
        rows.append(
            (scribe.tag(tag), scribe.product(item.product), Link(text=marks), Link(text=stage_words(scribe, tag)))
        )
    head = tuple(words(f"tell.col_{key}") for key in ("tag", "product", "resin", "state"))
    return Table(title=words("tell.all_tags"), head=head, rows=tuple(rows))


def _resin_rows(scribe: Scribe) -> Table:
    words = scribe.words
    rows = tuple((scribe.resin(symbol), Link(text=scribe.resin_name(symbol))) for symbol in resin_symbols(scribe))
    return Table(title=words("tell.all_resins"), head=(words("tell.col_resin"), words("tell.col_what")), rows=rows)


def _paged(scribe: Scribe, folder: str, kind: str, table: Table) -> Iterator[ListView]:
    """The pages of a list. No id begins with a hyphen, so page 2 (`/L/-2/`) can never be a lot's."""
    words = scribe.words
    title = words(f"tell.all_{kind}")
    pages = max(1, -(-len(table.rows) // PER_PAGE))
    paths = [f"/{folder}/" if n == 0 else f"/{folder}/-{n + 1}/" for n in range(pages)]
    for n, path in enumerate(paths):
        rows = table.rows[n * PER_PAGE : (n + 1) * PER_PAGE]
        links = [
            Link(text=words("tell.page", n=words.number(i + 1)), href="" if i == n else scribe.at(paths[i]))
            for i in _near(n, pages)
        ]
        yield ListView(
            frame=scribe.frame(path, title),
            title=title,
            intro=words(f"tell.list_intro.{kind}"),
            table=Table(title=title, head=table.head, rows=rows, numeric=table.numeric),
            pages=tuple(links) if pages > 1 else (),
        )


def _near(n: int, pages: int) -> list[int]:
    """The pages that page n leads to: two taps lead from any to any, in a list of many thousands three.

    A short list leads to all of itself. A long one is cut into stretches of stretches, like the figures of a number:
    each page leads to those whose number differs in one figure alone, and all later figures of which are nought.
    """
    if pages <= ALL_OF:
        return list(range(pages))
    levels = 2 if pages <= TWO_LEVELS else 3
    base = next(base for base in count(2) if base**levels >= pages)
    steps = [base**level for level in range(levels)]
    found = {n - n % (step * base) + i * step for step in steps for i in range(base)}
    return sorted({0, n, pages - 1} | {page for page in found if page < pages})


# --- found, method, 404 -------------------------------------------------------------------------------


def found_view(scribe: Scribe) -> FoundView:
    """For someone who holds a thing with a tag and cannot scan it."""
    words = scribe.words
    steps = tuple(
        Said(text=words(f"tell.found_{n}", **({"name": scribe.name} if n == WITHOUT_MARK else {}))) for n in (1, 2, 3)
    )
    return FoundView(
        frame=scribe.frame("/found/", words("found.title")),
        example=next(iter(scribe.book.lives), ""),
        steps=steps,
        bring_back=scribe.bring_back(),
        doors=(Link(text=words("tell.all_tags"), href=scribe.at("/T/")),),
    )


def method_view(scribe: Scribe) -> MethodView:
    """How the figures are made, with an anchor for each figure's link."""
    words = scribe.words
    parts = [
        MethodPart(anchor=key, title=words(f"how.{key}.title"), prose=to_prose(_explained(scribe, key)))
        for key in METHOD_PARTS
    ]
    parts.insert(METHOD_PARTS.index("uncertainty"), _routes(scribe))
    stood_by = goods.exceptions(scribe)
    if stood_by:
        text = "\n".join(f"- {said.text}" for said in stood_by)
        parts.append(MethodPart(anchor="exceptions", title=words("passport.exceptions"), prose=to_prose(text)))
    notes = scribe.prose(scribe.book.shop.workshop.notes)
    if notes is not None:
        parts.append(MethodPart(anchor="workshop", title=scribe.name, prose=notes))
    if scribe.book.shop.ancestors:
        names = words.listed(workshop.name for workshop in scribe.book.shop.ancestors.values())
        title = words("tell.taken_over", names=names)
        parts.append(MethodPart(anchor="taken-over", title=title, prose=to_prose(words("tell.taken_over_text"))))
    return MethodView(frame=scribe.frame("/method/", words("method.title")), parts=tuple(parts))


def _explained(scribe: Scribe, key: str) -> str:
    """A part of the method; that on single streams ends with the workshop's own limit and its reason."""
    said = scribe.words(f"how.{key}.text")
    if key != "single-stream":
        return said
    workshop = scribe.book.shop.workshop
    limit = scribe.words.percent(workshop.single_stream_from)
    own = workshop.single_stream_because
    why = scribe.said(own).text if own is not None else scribe.words("tell.single_stream_usual")
    return f"{said}\n\n{scribe.words('tell.single_stream_limit', n=limit, why=why)}"


def _routes(scribe: Scribe) -> MethodPart:
    """What each way of forming needs of the resins met here, with the reason and whose limit it is."""
    words, own = scribe.words, scribe.book.shop.workshop.routes
    groups = dict.fromkeys(resins()[symbol].group for symbol in resin_symbols(scribe))
    symbols = [min(symbols_for(group)) for group in groups]
    lines = []
    for key in route_keys():
        needs = [needs for symbol in symbols if (needs := route_needs(key, symbol, own)).flow is not None]
        for alike in dict.fromkeys((one.reason, one.most_heavy, one.own) for one in needs):
            same = [one for one in needs if (one.reason, one.most_heavy, one.own) == alike]
            lines.append(f"- {knowing.needs_in_words(scribe, same)}")
    text = "\n".join((words("how.routes.text"), "", *lines))
    return MethodPart(anchor="routes", title=words("how.routes.title"), prose=to_prose(text))


def not_found_view(scribe: Scribe) -> NotFoundView:
    """404.html, which may be shown at any depth."""
    words = scribe.words
    root = urlsplit(scribe.book.shop.workshop.address).path.rstrip("/") + "/"
    return NotFoundView(
        frame=scribe.frame("/", words("notfound.title")),
        example=next(iter(scribe.book.lives), ""),
        root=root,
        doors=(
            Link(text=words("tell.all_tags"), href=scribe.at("/T/")),
            Link(text=words("common.found"), href=scribe.at("/found/")),
        ),
        bring_back=scribe.bring_back(),
    )
