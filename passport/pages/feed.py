"""Files that other machines look for: an Atom feed (RFC 4287), sitemap.xml, robots.txt (RFC 9309).

Times come from the records, never from a clock: the same records give the same bytes. Without an address of its
own a site has no lasting links, so it has none of these files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from xml.sax.saxutils import escape, quoteattr

from passport.pages.corrected import ANCHOR, link_of, what_changed
from passport.pages.scribe import Scribe

ENTRIES = 40
MOST_ADDRESSES = 50_000
"""The limit of one sitemap file (sitemaps.org, protocol 0.9)."""


def site_files(scribe: Scribe, paths: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Name and text of each of these files; `paths` are those of all pages, from the root of the site."""
    address = scribe.book.shop.workshop.address.rstrip("/")
    if not address:
        return
    yield "feed.atom", _feed(scribe, address)
    yield from sitemaps(address, paths)
    yield "robots.txt", f"User-agent: *\nAllow: /\nSitemap: {address}/sitemap.xml\n"


def _feed(scribe: Scribe, address: str) -> str:
    entries = sorted(_entries(scribe, address), reverse=True)[:ENTRIES]
    updated = max((entry[0] for entry in entries), default=scribe.book.today)
    head = [
        '<?xml version="1.0" encoding="utf-8"?>',
        f'<feed xmlns="http://www.w3.org/2005/Atom" xml:lang={quoteattr(scribe.lang)}>',
        f"<id>{escape(address)}/</id>",
        f"<title>{escape(scribe.words('tell.log_about', name=scribe.name))}</title>",
        f"<updated>{_moment(updated)}</updated>",
        f"<author><name>{escape(scribe.name)}</name></author>",
        f'<link rel="self" href={quoteattr(address + "/feed.atom")}/>',
        f'<link rel="alternate" href={quoteattr(address + "/")}/>',
    ]
    return "\n".join([*head, *(_entry(*entry) for entry in entries), "</feed>", ""])


def _entries(scribe: Scribe, address: str) -> Iterator[tuple[date, str, str, str]]:
    """Day, lasting address, title and category of what is new: lots, batches, returns, corrections."""
    book = scribe.book
    for lot in book.shop.lots.values():
        kind = "return" if lot.received and lot.received.tags else "lot"
        yield lot.date, f"{address}/L/{lot.id}/", lot.id, kind
    for life in book.lives.values():
        item = book.shop.items[life.item]
        yield item.date, f"{address}/T/{life.tag}/", f"{life.tag} {scribe.product(item.product).text}", "item"
    for called in book.recalls.values():
        what = scribe.said(called.recall.reason).text
        place = f"{address}/recalls/#{called.recall.id}"
        said = scribe.words("tell.recalled.began", recall=called.recall.id)
        yield called.recall.date, place, f"{said}: {what}", "recall"
        if called.ended is not None:
            said = scribe.words("tell.recalled.ended", recall=called.recall.id)
            why = scribe.said(called.ended.reason).text
            yield called.ended.date, f"{place}-end", f"{said}: {why}", "recall-end"
    for (kind, name), made in book.shop.corrections.items():
        link = link_of(scribe, kind, name)
        for number, correction in enumerate(made, start=1):
            place = f"{address}{link.href or '/'}#{ANCHOR}"
            yield correction.date, f"{place}-{number}", f"{link.text}: {what_changed(scribe, correction)}", "correction"


def _entry(day: date, address: str, title: str, kind: str) -> str:
    return (
        f"<entry><id>{escape(address)}</id><title>{escape(title)}</title><updated>{_moment(day)}</updated>"
        f'<category term="{kind}"/><link rel="alternate" href={quoteattr(address)}/></entry>'
    )


def _moment(day: date) -> str:
    return f"{day.isoformat()}T00:00:00Z"


def sitemaps(address: str, paths: Sequence[str], most: int = MOST_ADDRESSES) -> Iterator[tuple[str, str]]:
    """One sitemap of all pages, or an index with several where one file may not hold them (sitemaps.org, 0.9)."""
    if len(paths) <= most:
        yield "sitemap.xml", _listed("urlset", "url", [address + path for path in paths])
        return
    names = []
    for start in range(0, len(paths), most):
        names.append(f"sitemap-{start // most + 1}.xml")
        yield names[-1], _listed("urlset", "url", [address + path for path in paths[start : start + most]])
    yield "sitemap.xml", _listed("sitemapindex", "sitemap", [f"{address}/{name}" for name in names])


def _listed(root: str, each: str, addresses: Sequence[str]) -> str:
    rows = "\n".join(f"<{each}><loc>{escape(address)}</loc></{each}>" for address in addresses)
    head = f'<?xml version="1.0" encoding="utf-8"?>\n<{root} xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">'
    return f"{head}\n{rows}\n</{root}>\n"
