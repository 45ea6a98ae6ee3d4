"""What the records back about a text's own thing: figures it may give, and the sentence to say in its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache, lru_cache
from importlib.resources import files

import yaml

from passport.massflow import Ledger, of_item, stated_percent
from passport.massflow.recycled import MOST_IN_DOUBT, in_doubt, is_plastic
from passport.material.resins import resins
from passport.reading.records import Origin
from passport.reading.shop import Shop
from passport.verdicts import recycled
from passport.verdicts.book import Book

KINDS = ("post-consumer", "recycled", "pre-consumer")
ALL = 100
"""Per cent; a whole is stated without "at least"."""
MOST_STREAMS = 3
"""Sources named in a sentence; the page has them all."""

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@cache
def _sentences(lang: str) -> Mapping[str, str]:
    """The pieces of sentences in a language, English for one that nobody wrote."""
    text = files(__package__).joinpath("backed_sentences.yaml").read_text(encoding="utf-8")
    rows: dict[str, dict[str, str]] = yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader
    return rows.get(lang, rows["en"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Backing:
    """What may be said about the lots or batches that a text is about."""

    nodes: tuple[str, ...] = ()
    least: Mapping[str, int] = field(default_factory=dict)
    """Kind of share → the largest N for which "at least N %" holds for all of them."""
    stated: Mapping[str, frozenset[int]] = field(default_factory=dict)
    """Kind of share → the figures that their pages give, where all are spoken of at once the least of each."""
    shares: Mapping[str, Fraction] = field(default_factory=dict)
    """For a stream: the share of each kind by its own record, in per cent."""
    resin: str = ""
    """The one resin of all of them by the books; "" for several."""
    hardware: bool = False
    """Whether more than plastic is on them, so that a share of the plastic must say so."""
    withheld: bool = False

    def backs(self, percent: Fraction, kind: str, *, at_least: bool) -> bool:
        """Whether a share may be given."""
        if kind in self.shares:
            return percent == self.shares[kind] or (at_least and percent < self.shares[kind])
        return percent in self.stated.get(kind, ()) or (at_least and percent <= self.least.get(kind, -1))


@lru_cache(maxsize=64)  # the texts of one record follow each other
def backing_of(book: Book, kind: str, name: str) -> Backing:
    """What the records back for the thing that a text speaks of; nothing for a text about the workshop.

    kind, name: as a FreeText has them.
    """
    if kind == "stream":
        return _of_stream(book.shop, name)
    nodes = tuple(node for node in _nodes(book, kind, name) if node in book.ledger.mixtures)
    if not nodes:
        return Backing()
    withheld = any(book.ledger.withheld(node) for node in nodes)
    figures = {of: [_figures(book.ledger, node, of) for node in nodes] for of in KINDS}
    known = {of: found for of, found in figures.items() if all(found)} if not withheld else {}
    names = {tuple(book.ledger.mixtures[node].shares_by("resin")) for node in nodes}
    only = names.pop() if len(names) == 1 else ()
    return Backing(
        nodes=nodes,
        least={of: min(max(each) for each in found) for of, found in known.items()},
        stated={of: frozenset(map(min, zip(*found, strict=False))) for of, found in known.items()},
        resin=only[0] if len(only) == 1 and only[0] in resins() else "",
        hardware=any(not is_plastic(h) for n in nodes if n in book.shop.items for h in book.shop.items[n].hardware),
        withheld=withheld,
    )


def _nodes(book: Book, kind: str, name: str) -> tuple[str, ...]:
    if kind == "product":
        return tuple(item.id for item in book.shop.items.values() if item.product == name)
    return (book.ledger.item_of_tag.get(name, name),) if kind == "event" else (name,)


def _figures(ledger: Ledger, node: str, kind: str) -> tuple[int, ...]:
    """The stated figures of one kind: of the plastic, then of the whole thing."""
    if kind == "pre-consumer":
        percent = stated_percent(ledger.mixtures[node].share("origin", (Origin.PRE_CONSUMER.value,)))
        return () if percent is None else (percent,)
    found = [s.at_least_percent for s in recycled.of_node(ledger, node).value or () if s.kind == kind]
    whole = of_item(ledger, node, post_consumer_only=kind != "recycled") if node in ledger.shop.items else None
    percent = stated_percent(whole) if whole is not None else None
    if percent is not None:
        found.append(min(percent, MOST_IN_DOUBT) if in_doubt(ledger, node) else percent)
    return tuple(found)


def _of_stream(shop: Shop, name: str) -> Backing:
    origin = shop.streams[name].origin
    post, pre = (origin.get(o, Fraction(0)) * 100 for o in (Origin.POST_CONSUMER, Origin.PRE_CONSUMER))
    return Backing(shares={"post-consumer": post, "pre-consumer": pre, "recycled": post + pre})


def sentence(backing: Backing, lang: str) -> str:
    """The sentence that the records back, in English or French (English for another language)."""
    words = _sentences(lang)
    if backing.withheld:
        return words["withheld"]
    if not backing.nodes:
        return words["elsewhere"]
    for kind in ("post-consumer", "recycled"):
        percent = max(backing.stated.get(kind, {0}))
        if percent:
            return _share_in_words(backing, words, kind, percent, lang)
    return words["none"]


def _share_in_words(backing: Backing, words: Mapping[str, str], kind: str, percent: int, lang: str) -> str:
    what = resins()[backing.resin].name.get(lang) if backing.resin else None
    said = words[kind].format(what=what or words["plastic"])
    least = "" if percent == ALL else words["least"]
    return (words["owner"] if backing.hardware else "") + f"{least}{percent} % {said}"


def streams_named(book: Book, backing: Backing, lang: str) -> str:
    """The titles of the streams behind a thing, the largest first."""
    titles = tuple(dict.fromkeys(_titles(book, backing, lang)))
    return ", ".join(titles[:MOST_STREAMS]) or _sentences(lang)["elsewhere"]


def _titles(book: Book, backing: Backing, lang: str) -> Iterator[str]:
    first = book.shop.workshop.languages[0]
    for node in backing.nodes:
        for name in book.ledger.mixtures[node].shares_by("stream"):
            if name in book.shop.streams:
                yield book.shop.streams[name].title.said(lang, first)[0]
