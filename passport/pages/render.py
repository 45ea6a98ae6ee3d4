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

from jinja2 import DictLoader, Environment, StrictUndefined, Template, TemplateError, TemplateSyntaxError, nodes
from markupsafe import Markup, escape

from passport.pages import views
from passport.pages.charts import letter, lying_svg, share_svg, steps_svg, upright_svg
from passport.pages.pieces import Bars, Curves, Flow, Frame, Link, Prose, Share
from passport.pages.policy import POLICY
from passport.pages.theme import Theme
from passport.pages.tributaries import flow_svg
from passport.pages.words import MissingWordError, Words, gaps
from passport.problems import Place, Problem, did_you_mean
from passport.tags.symbol import symbol_for, symbol_svg

TEMPLATE_OF: dict[type, str] = {
    views.PassportView: "passport.html",
    views.TombstoneView: "tombstone.html",
    views.SheetView: "sheet.html",
    views.RecallsView: "recalls.html",
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
_HYPHENED = re.compile(r"(?<![\w/-])[A-Z]{1,4}(?:-[A-Z0-9]+)+(?![\w-])")
_WHOLE = re.compile(r"^>[^<]+<$|" + _ID.pattern)
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


class ThemeError(Exception):
    """A page that its theme cannot print; `problem` says which template and why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


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
            whole=whole,
            letter=letter,
            lying=_lying,
            stacked=_upright,
            stepped=_stepped,
            flow=_flow,
            shares=_shares,
            json_ld=json_ld,
            qr=_qr,
            policy=Markup(POLICY),  # noqa: S704 - our own constant, without angle brackets or double quotes
        )
        self._templates: dict[str, Template] = {}

    def page(self, view: views.View) -> str:
        """The whole HTML document of a view. Raises ThemeError for a broken theme."""
        name = TEMPLATE_OF[type(view)]
        try:
            return self._words[view.frame.lang].spaced(self._rendered(view, name))
        except (TemplateError, MissingWordError) as slip:
            raise ThemeError(_unprintable(slip, name)) from slip

    def _rendered(self, view: views.View, name: str) -> str:
        frame = view.frame
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


_VIEW = re.compile(r"'passport\.pages\.\w+\.(\w+) object' has no attribute")


def _unprintable(slip: Exception, name: str) -> Problem:
    """Why a page cannot be printed, in words."""
    line = slip.lineno if isinstance(slip, TemplateSyntaxError) else 0
    met = _VIEW.sub(r"the \1 has no", str(slip))
    return Problem(
        code="theme-page",
        message=f"{met}, met while a page was printed with the template {name}",
        place=Place(f"theme/templates/{name}", line, 1 if line else 0),
        hint="compare it with the template of the same name that comes with the program",
    )


def template_problems(theme: Theme) -> tuple[Problem, ...]:
    """Templates that do not parse, and words with their gaps that a template asks for and a catalogue lacks.

    Only words named letter by letter are found; a page of each kind printed on trial finds the rest.
    """
    found: list[Problem] = []
    environment = Environment(autoescape=True)
    for name, source in sorted(theme.templates.items()):
        try:
            tree = environment.parse(source)
        except TemplateSyntaxError as slip:
            found.append(_unprintable(slip, name))
            continue
        found += [p for call in tree.find_all(nodes.Call) for p in _call_problems(call, name, theme.words)]
    return tuple(dict.fromkeys(found))


def _call_problems(call: nodes.Call, name: str, catalogues: Mapping[str, Words]) -> list[Problem]:
    """What is wrong with one `t("key", gap=…)` or `t.some("key", …)` of a template."""
    asked = _asked(call)
    if asked is None:
        return []
    key, given = asked
    place = Place(f"theme/templates/{name}", call.lineno, 1)
    missing = [lang for lang, words in catalogues.items() if not words.has(key)]
    if missing:
        known = next(iter(catalogues.values())).entries
        message = f'met the word "{key}", which the catalogue of {missing[0]} lacks'
        return [Problem(code="word-missing", message=message, place=place, hint=did_you_mean(key, known))]
    wanted = set().union(*(gaps(words.entries[key]) for words in catalogues.values()))
    open_ = sorted(wanted - given)
    if not open_:
        return []
    message = f'met the word "{key}" without a value for its gap {{{open_[0]}}}, wanted {open_[0]}=…'
    return [Problem(code="word-gap", message=message, place=place)]


def _asked(call: nodes.Call) -> tuple[str, frozenset[str]] | None:
    """The key that a call asks a word for, and the gaps it fills; None for another call."""
    function, plural = call.node, False
    if isinstance(function, nodes.Getattr) and function.attr == "some":
        function, plural = function.node, True
    if not (isinstance(function, nodes.Name) and function.name == "t" and call.args):
        return None
    key = call.args[0]
    if not isinstance(key, nodes.Const) or not isinstance(key.value, str) or call.dyn_kwargs is not None:
        return None
    given = frozenset(pair.key for pair in call.kwargs)
    return (f"{key.value}.other", given | {"n"}) if plural else (key.value, given)


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
            whole = all(_WHOLE.match(word) for word in to.text.split())
            return Markup(" ").join(_unbroken(word) for word in to.text.split()) if whole else say(to)
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


def _unbroken(text: str) -> Markup:
    """A mark such as >PE-HD(REC98)< or a symbol such as PE-HD, which no line may break."""
    return Markup('<span class="id">{}</span>').format(text)


def file_of(path: str) -> str:
    """The file a path of the site is served from, without a leading slash.

    >>> file_of("/T/RY-22224M/"), file_of("/"), file_of("/style.css")
    ('T/RY-22224M/index.html', 'index.html', 'style.css')
    """
    return path.removeprefix("/") + (INDEX if path.endswith("/") else "")


def whole(text: str) -> Markup:
    """Words in which no number of a lot, batch or tag and no symbol such as PE-HD is broken over two lines."""
    kept = str(escape(text))
    if "-" not in kept:
        return Markup(kept)  # noqa: S704 - escaped before
    return Markup(_HYPHENED.sub(r'<span class="id">\g<0></span>', kept))  # noqa: S704 - escaped before


def say(spoken: Spoken) -> Markup:
    """Words, marked with their language where it is not the page's."""
    if not spoken.lang:
        return whole(spoken.text)
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


@lru_cache(maxsize=4)  # the same lot comes once in each language
def _qr(payload: str) -> Markup:
    return Markup(symbol_svg(symbol_for(payload)))  # noqa: S704 - our own drawing


def _stepped(curves: Curves, key: str) -> Markup:
    return Markup(steps_svg(curves, key))  # noqa: S704 - our own drawing


def _upright(bars: Bars, key: str) -> Markup:
    return Markup(upright_svg(bars, key))  # noqa: S704 - our own drawing


def _lying(bars: Bars, key: str) -> Markup:
    return Markup(lying_svg(bars, key))  # noqa: S704 - our own drawing


def _shares(parts: tuple[Share, ...], title: str, summary: str, key: str) -> Markup:
    return Markup(share_svg(parts, title, summary, key))  # noqa: S704 - our own drawing
