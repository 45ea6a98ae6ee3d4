"""Views → HTML text. The only user of Jinja.

Every template escapes by itself; what is already HTML (cleaned prose, our own drawings) comes
through functions given here, so that no template has a reason to switch escaping off.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Protocol

from jinja2 import DictLoader, Environment, StrictUndefined, Template
from markupsafe import Markup, escape

from passport.pages import views
from passport.pages.charts import letter, lying_svg, share_svg, upright_svg
from passport.pages.pieces import Bars, Flow, Frame, Link, Prose, Share
from passport.pages.theme import Theme
from passport.pages.tributaries import flow_svg

TEMPLATE_OF: dict[type, str] = {
    views.PassportView: "passport.html",
    views.TombstoneView: "tombstone.html",
    views.LotView: "lot.html",
    views.StreamView: "stream.html",
    views.ResinView: "resin.html",
    views.ProductView: "product.html",
    views.LogView: "log.html",
    views.ListView: "list.html",
    views.FoundView: "found.html",
    views.MethodView: "method.html",
    views.NotFoundView: "notfound.html",
}
INDEX = "index.html"
_OUTSIDE = re.compile(r"^(https?:|mailto:|tel:|#)", re.IGNORECASE)
_ID = re.compile(r"^[A-Z0-9]+(-[A-Z0-9]+)+$")
"""The id of a record or a tag: never broken over two lines."""
_ROOTED = re.compile(r'((?:href|src)=")(/[^"]*|photos/[^"]*)(")')
_HARMLESS = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


class Spoken(Protocol):
    """Anything with words in a language: Said, Link, Row, Step and the like."""

    @property
    def text(self) -> str:
        """The words."""
        ...

    @property
    def lang(self) -> str:
        """The language, where it is not the page's."""
        ...


class Renderer:
    """Turns views into pages with the templates and words of one theme."""

    def __init__(self, theme: Theme) -> None:
        self._words = theme.words
        self._environment = Environment(
            loader=DictLoader({name: _flush(source) for name, source in theme.templates.items()}),
            undefined=StrictUndefined,
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.globals.update(
            say=say,
            letter=letter,
            lying=_lying,
            stacked=_upright,
            flow=_flow,
            shares=_shares,
            json_ld=json_ld,
        )
        self._templates: dict[str, Template] = {}

    def page(self, view: views.View) -> str:
        """The whole HTML document of a view. Raises MissingWordError or jinja2 errors for a broken theme."""
        frame = view.frame
        name = TEMPLATE_OF[type(view)]
        if name not in self._templates:
            self._templates[name] = self._environment.get_template(name)
        words = self._words[frame.lang]
        ways = _Ways(frame, view.root if isinstance(view, views.NotFoundView) else "")
        return self._templates[name].render(
            v=view,
            f=frame,
            t=words,
            url=ways.url,
            link=ways.link,
            prose=ways.prose,
            local=ways.local,
            absolute=ways.absolute,
            home=ways.local("/"),
            language=self._language,
        )

    def _language(self, lang: str) -> str:
        return self._words[lang]("form.language")


class _Ways:
    """Addresses as seen from one page."""

    def __init__(self, frame: Frame, root: str) -> None:
        self._up = root or "../" * (frame.path.count("/") - 1) or "./"
        self._path = frame.path
        self._suffix = frame.suffix
        self._host = frame.canonical.removesuffix(frame.path) if frame.canonical else ""

    def local(self, path: str) -> str:
        """A page of the site in the language of this page."""
        return path + self._suffix

    def absolute(self, path: str) -> str:
        """The lasting address of a page; relative where the workshop has none."""
        return self._host + path if self._host else self.url(path)

    def url(self, href: str) -> str:
        """An address of the site, made relative to this page; others are left as they are."""
        if _OUTSIDE.match(href) or not href.startswith("/"):
            return href
        path, mark, anchor = href.partition("#")
        if mark and path == self._path:
            return f"#{anchor}"
        return self._up + file_of(path) + mark + anchor

    def link(self, to: Link, style: str = "") -> Markup:
        """A link, or plain words where there is nowhere to go."""
        if not to.href:
            return say(to)
        style = style or ("id" if _ID.match(to.text) else "")
        kind = Markup(' class="{}"').format(style) if style else Markup("")
        lang = Markup(' lang="{}"').format(to.lang) if to.lang else Markup("")
        return Markup('<a href="{}"{}{}>{}</a>').format(self.url(to.href), kind, lang, to.text)

    def prose(self, text: Prose) -> Markup:
        """Cleaned HTML with its addresses made relative."""
        html = _ROOTED.sub(self._rooted, text.html)
        lang = Markup(' lang="{}"').format(text.lang) if text.lang else Markup("")
        return Markup('<div class="prose"{}>{}</div>').format(
            lang,
            Markup(html),  # noqa: S704 - cleaned by prose
        )

    def _rooted(self, match: re.Match[str]) -> str:
        return match[1] + str(escape(self.url("/" + match[2].lstrip("/")))) + match[3]


def file_of(path: str) -> str:
    """The file a path of the site is served from, without a leading slash.

    >>> file_of("/T/RY-22224M/"), file_of("/"), file_of("/style.css")
    ('T/RY-22224M/index.html', 'index.html', 'style.css')
    """
    return path.removeprefix("/") + (INDEX if path.endswith("/") else "")


def say(spoken: Spoken) -> Markup:
    """Words, marked with their language where it is not the page's."""
    if not spoken.lang:
        return escape(spoken.text)
    return Markup('<span lang="{}">{}</span>').format(spoken.lang, spoken.text)


def json_ld(text: str) -> Markup:
    """A JSON-LD block that no text inside it can leave."""
    inert = "".join(_HARMLESS.get(c, c) for c in text)
    return Markup('<script type="application/ld+json">{}</script>').format(
        Markup(inert)  # noqa: S704 - no angle bracket is left in it
    )


def compact_json(data: Mapping[str, object]) -> str:
    """JSON on one line, keys in the order given, letters as they are."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def _flush(source: str) -> str:
    """A template without its indentation: bytes that nobody reads."""
    return "\n".join(line.strip() for line in source.splitlines() if line.strip())


@lru_cache(maxsize=64)
def _flow(flow: Flow, key: str) -> Markup:
    return Markup(flow_svg(flow, key))  # noqa: S704 - our own drawing


def _upright(bars: Bars, key: str) -> Markup:
    return Markup(upright_svg(bars, key))  # noqa: S704 - our own drawing


def _lying(bars: Bars, key: str) -> Markup:
    return Markup(lying_svg(bars, key))  # noqa: S704 - our own drawing


def _shares(parts: tuple[Share, ...], title: str, summary: str, key: str) -> Markup:
    return Markup(share_svg(parts, title, summary, key))  # noqa: S704 - our own drawing
