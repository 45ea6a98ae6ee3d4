"""Every file of the site to be, one after another: pages in all languages, labels, pictures, data.

Pure: it takes a worked-out book, a theme and the bytes of pictures, and yields paths with their contents. Nothing
is kept: a site of ten thousand tags passes through one file at a time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice

from passport.pages import data_tables, extras, feed, machines, places, schema_org, untp
from passport.pages.labelling import label_spec, label_text, sample_sheet
from passport.pages.log import log_view
from passport.pages.lot import lot_view
from passport.pages.pictures import Ready
from passport.pages.pieces import Picture
from passport.pages.places import (
    found_view,
    list_views,
    method_view,
    not_found_view,
    product_view,
    resin_view,
    stream_view,
)
from passport.pages.render import Renderer, file_of
from passport.pages.scribe import Scribe
from passport.pages.tag import label_name, tag_view
from passport.pages.theme import Theme
from passport.pages.views import View
from passport.tags.label import label_png
from passport.verdicts.book import Book

PHOTOS = "photos"
SHEET = "labels/sample-sheet.pdf"


@dataclass(frozen=True, slots=True)
class Leaf:
    """One file of the site to be."""

    path: str
    content: bytes


def scribes(book: Book, theme: Theme, pictures: Mapping[str, Ready]) -> tuple[Scribe, ...]:
    """One scribe a language, the first language first."""
    shown = {name: _shown(ready) for name, ready in pictures.items()}
    languages = book.shop.workshop.languages
    return tuple(
        Scribe(book=book, words=theme.words[lang], first=languages[0], pictures=shown | _label_pictures(book))
        for lang in languages
    )


def _shown(ready: Ready) -> Picture:
    return Picture(src=f"/{PHOTOS}/{ready.name}", alt="", width=ready.width_px, height=ready.height_px)


def _label_pictures(book: Book) -> dict[str, Picture]:
    """Where each open tag's label picture stands, and how large it is."""
    spec = label_spec()
    width, height = (round(mm / 25.4 * spec.dpi) for mm in (spec.width_mm, spec.height_mm))
    return {
        label_name(tag): Picture(src=f"/{label_name(tag)}", alt="", width=width, height=height)
        for tag, life in book.lives.items()
        if life.open
    }


def site_files(book: Book, theme: Theme, pictures: Mapping[str, Ready]) -> Iterator[Leaf]:
    """All files of the site, pages first by language."""
    renderer = Renderer(theme)
    writers = scribes(book, theme, pictures)
    paths: list[str] = []
    for scribe in writers:
        for view in views_of(scribe):
            paths.append(view.frame.path)
            yield Leaf(file_of(view.frame.path), renderer.page(machines.described(scribe, view)).encode())
    yield Leaf("404.html", renderer.page(not_found_view(writers[0])).encode())
    yield from _labels(writers[0])
    for ready in _each_once(pictures.values()):
        yield Leaf(f"{PHOTOS}/{ready.name}", ready.content)
    for name, text in extras.static_files(theme, writers[0].name, writers[0].lang).items():
        yield Leaf(name, text.encode())
    for scribe in writers:
        yield Leaf(extras.find_file(scribe.lang), extras.find_index(_findable(scribe)).encode())
    yield from _data(writers[0], paths)


def views_of(scribe: Scribe) -> Iterator[View]:
    """Every page of one language."""
    book = scribe.book
    yield log_view(scribe)
    for life in book.lives.values():
        yield tag_view(scribe, life)
    for lot in book.shop.lots.values():
        yield lot_view(scribe, lot)
    for stream in book.shop.streams.values():
        yield stream_view(scribe, stream)
    for symbol in places.resin_symbols(scribe):
        yield resin_view(scribe, symbol)
    for product in book.shop.products.values():
        yield product_view(scribe, product)
    yield from list_views(scribe)
    yield found_view(scribe)
    yield method_view(scribe)


def one_of_each(scribe: Scribe) -> Iterator[View]:
    """A page of every kind that this workshop has, for a theme to be tried on."""
    shop, lives = scribe.book.shop, scribe.book.lives.values()
    yield log_view(scribe)
    for wanted in (True, False):
        yield from (tag_view(scribe, life) for life in islice((one for one in lives if one.open is wanted), 1))
    yield from (lot_view(scribe, lot) for lot in islice(shop.lots.values(), 1))
    yield from (stream_view(scribe, stream) for stream in islice(shop.streams.values(), 1))
    yield from (resin_view(scribe, symbol) for symbol in places.resin_symbols(scribe)[:1])
    yield from (product_view(scribe, product) for product in islice(shop.products.values(), 1))
    yield from islice(list_views(scribe), 1)
    yield from (found_view(scribe), method_view(scribe), not_found_view(scribe))


def _each_once(pictures: Iterable[Ready]) -> Iterator[Ready]:
    by_name = {ready.name: ready for ready in pictures}
    return iter(by_name.values())


def _labels(scribe: Scribe) -> Iterator[Leaf]:
    """A label picture for each tag whose thing may be in somebody's hands, and a sheet to try the printer with."""
    for tag, life in scribe.book.lives.items():
        if life.open:
            yield Leaf(label_name(tag), label_png(label_text(scribe, life), label_spec()))
    sheet = sample_sheet(scribe)
    if sheet:
        yield Leaf(SHEET, sheet)


def _data(scribe: Scribe, paths: list[str]) -> Iterator[Leaf]:
    """The same figures for machines."""
    for lot in scribe.book.shop.lots:
        yield Leaf(f"L/{lot}/lot.json", schema_org.lot_document(scribe, lot).encode())
    for tag, life in scribe.book.lives.items():
        yield Leaf(f"T/{tag}/{machines.FACTS}", schema_org.thing_document(scribe, life).encode())
        if not untp.lacking(scribe, life):
            yield Leaf(f"T/{tag}/{machines.PASSPORT}", untp.passport(scribe, life).encode())
    for name, text in data_tables.tables(scribe.book):
        yield Leaf(f"data/{name}", text.encode())
    address = scribe.book.shop.workshop.address
    if address:
        name, text = untp.did_document(address.rstrip("/"))
        yield Leaf(name, text.encode())
    yield from (Leaf(name, text.encode()) for name, text in feed.site_files(scribe, paths))


def _findable(scribe: Scribe) -> Iterator[extras.Findable]:
    """What search may find: every tag and lot by its id, with the name of what it is."""
    book = scribe.book
    for tag, life in book.lives.items():
        name = scribe.product(book.shop.items[life.item].product).text
        yield extras.Findable(id=tag, name=name, path=scribe.at(f"/T/{tag}/"))
    for lot in book.shop.lots:
        yield extras.Findable(id=lot, name=scribe.words("lot.kicker"), path=scribe.at(f"/L/{lot}/"))
    for product in book.shop.products:
        yield extras.Findable(id=product, name=scribe.product(product).text, path=scribe.at(f"/P/{product}/"))
