"""Every file of the site to be, one after another: pages in all languages, labels, pictures, data.

Pure: it takes a worked-out book, a theme and the bytes of pictures, and yields paths with their contents. Nothing
is kept: a site of ten thousand tags passes through one file at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import islice

from passport.pages import data_tables, extras, feed, machines, places, schema_org, untp
from passport.pages.calling_back import recalls_view
from passport.pages.labelling import label_spec, label_text, sample_sheet, sample_texts, sheet_words
from passport.pages.log import log_view
from passport.pages.lot import lot_view, named_resin
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
from passport.pages.prints import Prints, print_of
from passport.pages.render import INDEX, Renderer, file_of
from passport.pages.scribe import Scribe
from passport.pages.sheet import sheet_view
from passport.pages.tag import label_name, tag_view
from passport.pages.theme import Theme
from passport.pages.views import View
from passport.tags.label import label_png
from passport.verdicts.book import Book

PHOTOS = "photos"
SHEET = "labels/sample-sheet.pdf"


TOGETHER = 40
"""Tags or lots of one part: enough that handing a part to another process costs little, few enough to share out."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """One file of the site to be.

    content: its bytes, or a function that makes them. print: with a function, the fingerprint of all it reads beside
    theme and program, so that equal prints mean equal bytes.
    """

    path: str
    content: bytes | Callable[[], bytes]
    print: bytes = b""

    def made(self) -> bytes:
        """The bytes."""
        return self.content() if callable(self.content) else self.content


@dataclass(frozen=True, slots=True)
class Part:
    """A share of the site that can be made by itself, in any process that knows the same records."""

    kind: str
    names: tuple[str, ...] = ()


class Site:
    """What all parts are made from."""

    def __init__(self, book: Book, theme: Theme, pictures: Mapping[str, Ready]) -> None:
        self.book = book
        self.theme = theme
        self.pictures = pictures
        self.writers = scribes(book, theme, pictures)
        self._renderer = Renderer(theme)
        self._prints = Prints()

    @property
    def first(self) -> Scribe:
        """The scribe of the first language, in which what exists once is written."""
        return self.writers[0]

    def page(self, scribe: Scribe, view: View, path: str = "") -> Leaf:
        """The page of a view, not yet rendered."""
        told = machines.described(scribe, view)
        return Leaf(
            path or file_of(view.frame.path), lambda: self._renderer.page(told).encode(), print=self._prints.of(told)
        )


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
    """All files of the site, one after another."""
    site = Site(book, theme, pictures)
    met: list[str] = []
    for part in parts(site):
        for leaf in leaves(site, part):
            met.append(leaf.path)
            yield leaf
    yield from last_leaves(site, met)


def parts(site: Site) -> Iterator[Part]:
    """All of the site but its last files, in order; the longest single works come first.

    First of all the quiet part, whose sheet of labels takes the most memory, while there is least of all else.
    """
    shop = site.book.shop
    yield Part("quiet")
    yield Part("log")
    for scribe in site.writers:
        yield Part("lists", (scribe.lang,))
    yield Part("tables")
    for kind, names in (("tags", site.book.lives), ("lots", shop.lots), ("streams", shop.streams)):
        yield from (Part(kind, names_of) for names_of in _in_parts(names))
    for symbol in places.resin_symbols(site.first):
        yield Part("resins", (symbol,))
    for product in shop.products:
        yield Part("products", (product,))


def leaves(site: Site, part: Part) -> Iterator[Leaf]:
    """The files of one part: its pages in all languages, then what belongs to them."""
    if part.kind == "tables":
        yield from (Leaf(f"data/{name}", text.encode()) for name, text in data_tables.tables(site.book))
        return
    for name in part.names or ("",):
        for scribe in site.writers:
            for view in _views(scribe, part.kind, name):
                yield site.page(scribe, view)
        if part.kind in _BESIDE:
            yield from _BESIDE[part.kind](site, name)


def last_leaves(site: Site, met: Iterable[str]) -> Iterator[Leaf]:
    """What can only be written when all pages are known: the feed and the maps of the site."""
    pages = ["/" + path.removesuffix(INDEX) for path in met if path.endswith(INDEX)]
    yield from (Leaf(name, text.encode()) for name, text in feed.site_files(site.first, pages))


def _in_parts(names: Iterable[str]) -> Iterator[tuple[str, ...]]:
    waiting = iter(names)
    while some := tuple(islice(waiting, TOGETHER)):
        yield some


def _views(scribe: Scribe, kind: str, name: str) -> Iterator[View]:
    """The pages of a kind about one thing, in one language."""
    book = scribe.book
    match kind:
        case "log":
            yield log_view(scribe)
        case "tags":
            yield tag_view(scribe, book.lives[name])
            yield sheet_view(scribe, book.lives[name])
        case "lots":
            yield lot_view(scribe, book.shop.lots[name])
        case "streams":
            yield stream_view(scribe, book.shop.streams[name])
        case "resins":
            yield resin_view(scribe, name)
        case "products":
            yield product_view(scribe, book.shop.products[name])
        case "lists":
            yield from list_views(scribe) if name == scribe.lang else ()
        case "quiet":
            yield from (found_view(scribe), method_view(scribe), recalls_view(scribe))


def one_of_each(scribe: Scribe) -> Iterator[View]:
    """A page of every kind that this workshop has, for a theme to be tried on."""
    shop, lives = scribe.book.shop, scribe.book.lives.values()
    yield log_view(scribe)
    for wanted in (True, False):
        yield from (tag_view(scribe, life) for life in islice((one for one in lives if one.open is wanted), 1))
    yield from (sheet_view(scribe, life) for life in islice((one for one in lives if one.open), 1))
    yield from (lot_view(scribe, lot) for lot in islice(shop.lots.values(), 1))
    yield from (stream_view(scribe, stream) for stream in islice(shop.streams.values(), 1))
    yield from (resin_view(scribe, symbol) for symbol in places.resin_symbols(scribe)[:1])
    yield from (product_view(scribe, product) for product in islice(shop.products.values(), 1))
    yield from islice(list_views(scribe), 1)
    yield from (found_view(scribe), method_view(scribe), recalls_view(scribe), not_found_view(scribe))


def _each_once(pictures: Iterable[Ready]) -> Iterator[Ready]:
    by_name = {ready.name: ready for ready in pictures}
    return iter(by_name.values())


def _beside_tag(site: Site, tag: str) -> Iterator[Leaf]:
    """A label picture where the thing may be in somebody's hands, and the same facts for machines."""
    scribe, life = site.first, site.book.lives[tag]
    if life.open:
        text, spec = label_text(scribe, life), label_spec()
        yield Leaf(label_name(tag), partial(label_png, text, spec), print=print_of(text, spec))
    yield Leaf(f"T/{tag}/{machines.FACTS}", schema_org.thing_document(scribe, life).encode())
    if not untp.lacking(scribe, life):
        yield Leaf(f"T/{tag}/{machines.PASSPORT}", untp.passport(scribe, life).encode())


def _beside_lot(site: Site, lot: str) -> Iterator[Leaf]:
    yield Leaf(f"L/{lot}/lot.json", schema_org.lot_document(site.first, lot).encode())


def _beside_quiet(site: Site, _: str) -> Iterator[Leaf]:
    """What exists once: the page for what is not there, pictures, a sheet to try the printer with, style, search."""
    yield site.page(site.first, not_found_view(site.first), "404.html")
    yield from (Leaf(f"{PHOTOS}/{ready.name}", ready.content) for ready in _each_once(site.pictures.values()))
    texts, resins = sample_texts(site.first)
    words = sheet_words(site.first)
    if texts:
        yield Leaf(SHEET, partial(sample_sheet, texts, resins, words), print=print_of(texts, resins, words))
    for name, text in extras.static_files(site.theme, site.first.name, site.first.lang).items():
        yield Leaf(name, text.encode())
    for scribe in site.writers:
        for name, text in extras.find_files(scribe.lang, _findable(scribe)):
            yield Leaf(name, text.encode())
    address = site.book.shop.workshop.address
    if address:
        name, text = untp.did_document(address.rstrip("/"))
        yield Leaf(name, text.encode())


_BESIDE: Mapping[str, Callable[[Site, str], Iterator[Leaf]]] = {
    "tags": _beside_tag,
    "lots": _beside_lot,
    "quiet": _beside_quiet,
}


def _findable(scribe: Scribe) -> Iterator[extras.Findable]:
    """What search may find: tags, lots, products, streams and resins by id, each with the name of what it is."""
    book = scribe.book
    for tag, life in book.lives.items():
        name = scribe.product(book.shop.items[life.item].product).text
        yield extras.Findable(id=tag, name=name, path=scribe.at(f"/T/{tag}/"), numbered=True)
    for lot in book.shop.lots:
        resin = named_resin(scribe, lot)
        name = (
            f"{scribe.words('lot.kicker')} {resin} {scribe.resin_name(resin)}" if resin else scribe.words("lot.kicker")
        )
        yield extras.Findable(id=lot, name=name, path=scribe.at(f"/L/{lot}/"), numbered=True)
    for product in book.shop.products:
        yield extras.Findable(id=product, name=scribe.product(product).text, path=scribe.at(f"/P/{product}/"))
    for stream in book.shop.streams:
        yield extras.Findable(id=stream, name=scribe.stream(stream).text, path=scribe.at(f"/S/{stream}/"))
    for symbol in places.resin_symbols(scribe):
        yield extras.Findable(id=symbol, name=scribe.resin_name(symbol), path=scribe.at(f"/R/{symbol}/"))
