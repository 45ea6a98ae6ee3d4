"""What every page needs while it is put together: the book, one language, and the usual turns of phrase."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from urllib.parse import quote

from passport import __version__
from passport.material.resins import resins
from passport.pages.pieces import (
    DoubtLine,
    Figure,
    Frame,
    Link,
    Message,
    Picture,
    Prose,
    Said,
)
from passport.pages.prose import to_prose
from passport.pages.views import Answer, BringBack, Material
from passport.pages.words import Words
from passport.problems import Level, Problem
from passport.reading.fields import Words as Text
from passport.verdicts.book import Book
from passport.verdicts.recycled import Stated

FORMAT_VERSION = "1"
"""Version of the site's own format: addresses and data files. It changes only with a promise kept for the old one."""
GRAMS_A_KILO = 1000
RECYCLED_HELP = "/method/#recycled-content"
UNCERTAINTY_PLACES = 1
_TEST_OF = {"sorted": "sorting", "nir-none": "nir", "floats": "float", "sinks": "float", "float-bracket": "float"}
"""What was seen → the test it was seen in."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scribe:
    """Writes in one language. Addresses are from the root of the site, in the first language's form."""

    book: Book
    words: Words
    first: str
    """The workshop's first language, whose addresses have no language in them."""
    pictures: Mapping[str, Picture] = field(default_factory=dict)
    """Published pictures by the name in the records; their `alt` is still empty."""

    @property
    def lang(self) -> str:
        """The language of the page."""
        return self.words.lang

    @property
    def name(self) -> str:
        """The workshop's name."""
        return self.book.shop.workshop.name

    @property
    def suffix(self) -> str:
        """What addresses of this language end with."""
        return "" if self.lang == self.first else f"{self.lang.upper()}/"

    def at(self, path: str) -> str:
        """A page in this language: "/L/HD-031/" becomes "/L/HD-031/FR/" in French."""
        page, mark, anchor = path.partition("#")
        return page + self.suffix + mark + anchor

    # --- records' own words -----------------------------------------------------------------------

    def said(self, text: Text | None) -> Said:
        """Free text of a record, marked with its language where it is not the page's."""
        if text is None:
            return Said(text="")
        spoken, lang = text.said(self.lang, self.first)
        return Said(text=spoken, lang="" if lang == self.lang else lang)

    def word(self, text: str) -> Said:
        """A one-line word of a record in this language by the workshop's glossary, else as it was written."""
        known = self.book.shop.workshop.glossary.get(text)
        if known is not None:
            for lang, meant in known.texts:
                if (lang or self.first) == self.lang:
                    return Said(text=meant)
        return Said(text=text, lang="" if self.lang == self.first else self.first)

    def term(self, text: str) -> str:
        """A one-line word of a record where no language can be marked beside it."""
        return self.word(text).text

    def prose(self, text: Text | None) -> Prose | None:
        """Markdown of a record as cleaned HTML, addresses in this language."""
        if text is None:
            return None
        said = self.said(text)
        return to_prose(said.text, said.lang)

    # --- figures ----------------------------------------------------------------------------------

    def kg(self, mass_kg: Fraction) -> str:
        """A mass in the page's form."""
        return self.words.mass(Fraction(mass_kg) * GRAMS_A_KILO)

    def day(self, day: date) -> str:
        """A date in words; a workshop without a single dated record has none yet."""
        return self.words("tell.no_records") if day == date.min else self.words.day(day)

    def figure(self, stated: Stated) -> Figure:
        """A stated share as printed: at least so much, of what, and how exactly it is known."""
        percent = self.words.percent(Fraction(stated.at_least_percent, 100))
        key = "tell.recycled_all" if stated.exactly_all else "tell.recycled_at_least"
        return Figure(
            text=self.words(key, n=percent),
            share_of=self.words(f"tell.of_{stated.share_of}"),
            kind=self.words(f"tell.kind.{stated.kind}"),
            uncertainty=self.uncertainty(stated),
            href=self.at(RECYCLED_HELP),
        )

    def withheld(self, kind: str, share_of: str) -> Figure:
        """The place of a figure that may not be stated."""
        return Figure(
            text="",
            share_of=self.words(f"tell.of_{share_of}"),
            kind=self.words(f"tell.kind.{kind}"),
            href=self.at("/method/#doubts"),
            withheld=self.words("tell.withheld"),
        )

    def uncertainty(self, stated: Stated) -> str:
        """The well-mixed value with its standard uncertainty in points, as printed."""
        share = stated.share
        value = self.words.percent(share.value, UNCERTAINTY_PLACES)
        if share.u is None:
            return self.words("tell.uncertainty_unknown", value=value)
        points = Fraction(share.u) * 100
        if not points:
            return self.words("tell.exact_in_doubt" if stated.in_doubt else "tell.exact", value=value)
        # a tenth of a point is the finest that is printed: less is rounded up, never to nothing
        shown = max(points, Fraction(1, 10))
        return self.words("tell.uncertainty", value=value, u=self.words.number(shown, UNCERTAINTY_PLACES))

    # --- links ------------------------------------------------------------------------------------

    def lot(self, name: str, note: str = "") -> Link:
        """A link to a lot."""
        return Link(text=name, href=self.at(f"/L/{name}/"), note=note)

    def tag(self, tag: str) -> Link:
        """A link to a tag's page."""
        return Link(text=tag, href=self.at(f"/T/{tag}/"))

    def stream(self, name: str) -> Link:
        """A link to a stream by its title."""
        stream = self.book.shop.streams.get(name)
        if stream is None:
            return Link(text=self.words("tell.stream_unknown_name"))
        title = self.said(stream.title)
        return Link(text=title.text, lang=title.lang, href=self.at(f"/S/{name}/"))

    def product(self, name: str) -> Link:
        """A link to a product by its title."""
        product = self.book.shop.products.get(name)
        if product is None:
            return Link(text=name)
        title = self.said(product.title)
        return Link(text=title.text, lang=title.lang, href=self.at(f"/P/{name}/"))

    def resin(self, symbol: str) -> Link:
        """A link to a resin's page, or the words for an unknown one."""
        if symbol not in resins():
            return Link(text=self.words("tell.unproven"))
        return Link(text=symbol, href=self.at(f"/R/{symbol}/"))

    # --- frames -----------------------------------------------------------------------------------

    def frame(self, path: str, title: str, description: str = "", **more: object) -> Frame:
        """What stands around a page; `path` is its address in the first language."""
        workshop = self.book.shop.workshop
        languages = [lang for lang in workshop.languages if lang != self.lang]
        host = workshop.address.rstrip("/")
        return Frame(
            path=self.at(path),
            lang=self.lang,
            title=title,
            workshop=workshop.name,
            description=description,
            canonical=host + self.at(path) if host else "",
            suffix=self.suffix,
            others=tuple((lang, path + ("" if lang == self.first else f"{lang.upper()}/")) for lang in languages),
            as_of="" if self.book.today == date.min else self.day(self.book.today),
            made_with=f"passport {__version__} · {FORMAT_VERSION}",
            **more,  # type: ignore[arg-type]
        )

    def doubts(self, problems: tuple[Problem, ...]) -> tuple[DoubtLine, ...]:
        """Doubts in this language, each sentence once."""
        lines = (self.words.doubt(p, self.at("/method/#doubts")) for p in problems if p.level is not Level.ADVICE)
        return tuple(dict.fromkeys(lines))

    def picture(self, name: str | None, alt: str) -> Picture | None:
        """A published picture with its words."""
        found = self.pictures.get(name or "")
        if found is None:
            return None
        return Picture(src=found.src, alt=alt, width=found.width, height=found.height)

    # --- material ---------------------------------------------------------------------------------

    def material(
        self, symbols: tuple[str, ...], *, proven: bool, marks: tuple[str, ...] = (), basis: str = ""
    ) -> Material:
        """The big letters: the resin, or that it is not known."""
        known = tuple(symbol for symbol in symbols if symbol)
        if not proven or not known or len(known) < len(symbols):
            maybe = self.words.listed(known) if known else ""
            name = self.words("tell.unproven") + (f" ({maybe}?)" if maybe else "")
            return Material(symbol=self.words("tell.unproven_symbol"), name=name, basis=basis, proven=False)
        names = self.words.listed([self.resin_name(symbol) for symbol in known])
        href = self.at(f"/R/{known[0]}/") if len(known) == 1 else ""
        return Material(
            symbol=" + ".join(known), name=names, marking=" ".join(marks), basis=basis, href=href, proven=True
        )

    def mixture(self, symbols: tuple[str, ...]) -> Material:
        """The big letters of a mixture of known resins, the largest first."""
        names = self.words.listed(self.resin_name(symbol) for symbol in symbols)
        name = self.words("tell.mixture", names=names)
        return Material(symbol=" + ".join(symbols), name=name, proven=False)

    def resin_name(self, symbol: str) -> str:
        """A resin's name in words."""
        resin = resins().get(symbol)
        if resin is None:
            return symbol
        return resin.name.get(self.lang) or resin.name["en"]

    def basis(self, node: str, *, proven: bool) -> str:
        """In half a sentence, how the resin of a lot or item is known."""
        lots = self.book.standing.rests_on.get(node, ())
        found = [self.book.standing.own[lot] for lot in lots if lot in self.book.standing.own]
        if not proven:
            return self.words("tell.basis_unproven")
        tests = dict.fromkeys(_TEST_OF.get(s.code, s.code) for identity in found for s in identity.basis if s.names)
        named = [self.words(f"tell.test.{code}") for code in tests if self.words.has(f"tell.test.{code}")]
        return self.words("tell.basis_proven", tests=self.words.listed(named[:3])) if named else ""

    # --- bringing back ----------------------------------------------------------------------------

    def bring_back(self, tag: str = "", what: str = "", mark: str = "") -> BringBack:
        """Where to bring a thing, and a letter that says so."""
        workshop = self.book.shop.workshop
        when = self.said(workshop.bring_back)
        if not when.text:
            when = Said(text=self.words("tell.back_default", name=self.name))
        message = None
        if tag and "@" in workshop.contact:
            subject = self.words("tell.back_subject", tag=tag)
            body = self.words("tell.back_body", tag=tag, what=what, mark=mark)
            mailto = f"mailto:{workshop.contact}?subject={quote(subject)}&body={quote(body)}"
            message = Message(text=self.words("tell.back_write"), mailto=mailto)
        place = self.said(workshop.place)
        return BringBack(when=when, address=place.text, message=message)

    def answer(self, key: str, tone: str = "plain", **gaps: str) -> Answer:
        """An answer from the catalogue: the words of `key`, and of `key_detail` for the half sentence."""
        return Answer(text=self.words(key, **gaps), detail=self.words(f"{key}_detail", **gaps), tone=tone)
