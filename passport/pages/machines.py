"""What each page says to machines: its JSON-LD, and links to the files that hold the same facts."""

from __future__ import annotations

from dataclasses import replace

from passport.pages import data_tables, schema_org, untp
from passport.pages.pieces import Frame, Link
from passport.pages.scribe import Scribe
from passport.pages.views import LogView, LotView, PassportView, ProductView, TombstoneView, View

PASSPORT, FACTS = "passport.json", "thing.json"


def described(scribe: Scribe, view: View) -> View:
    """The view with its linked data and its data links."""
    return replace(view, frame=_frame(scribe, view))


def _frame(scribe: Scribe, view: View) -> Frame:
    if isinstance(view, PassportView | TombstoneView):
        return _of_tag(scribe, view)
    if isinstance(view, LogView):
        links = tuple(Link(text=name, href=f"/data/{name}") for name in data_tables.NAMES)
        feed = (Link(text="Atom", href="/feed.atom"),) if scribe.book.shop.workshop.address else ()
        return replace(view.frame, json_ld=schema_org.log(scribe), data_links=(*links, *feed))
    return replace(view.frame, json_ld=_json_ld(scribe, view))


def _json_ld(scribe: Scribe, view: View) -> str:
    if isinstance(view, LotView):
        return schema_org.lot(scribe, scribe.book.shop.lots[view.lot])
    if isinstance(view, ProductView):
        name = view.frame.path.removesuffix(scribe.suffix).strip("/").removeprefix("P/")
        return schema_org.product(scribe, scribe.book.shop.products[name])
    return schema_org.plain_page(scribe, view.frame)


def _of_tag(scribe: Scribe, view: PassportView | TombstoneView) -> Frame:
    """A tag's own files; where the passport in the UN vocabulary is not written, the page says why."""
    life = scribe.book.lives[view.tag]
    folder = f"/T/{life.tag}/"
    lacks = untp.lacking(scribe, life)
    if lacks:
        passport = Link(text=scribe.words(f"tell.no_data_file.{lacks}"))
    else:
        passport = Link(text=scribe.words("tell.data_file", version=untp.VERSION), href=folder + PASSPORT)
    return replace(
        view.frame,
        json_ld=schema_org.thing(scribe, life, view.frame.description),
        data_file="" if lacks else folder + PASSPORT,
        data_links=(passport, Link(text=FACTS, href=folder + FACTS)),
    )
