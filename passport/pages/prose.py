"""Markdown of the records → HTML that can do no harm.

Markdown passes raw HTML and `javascript:` through, so two walls stand here: the converter is told
that there is no such thing as raw HTML, and what it makes is cleaned by nh3 against a short list.
"""

from __future__ import annotations

import re
from functools import lru_cache
from html import escape

import markdown
import nh3

from passport.pages.pieces import Prose

_TEXT = ("p", "br", "hr", "em", "strong", "code", "pre", "ul", "ol", "li", "blockquote", "a", "img")
_HEADS = ("h3", "h4", "h5", "h6")
_TABLES = ("table", "thead", "tbody", "tr", "th", "td")
TAGS = frozenset((*_TEXT, *_HEADS, *_TABLES))
ATTRIBUTES = {"a": {"href", "title"}, "img": {"src", "alt", "title"}, "ol": {"start"}}
LINK_SCHEMES = frozenset({"http", "https", "mailto", "tel"})
HEADINGS_BELOW = 2
"""Text of the records stands under an h2 of the page, so its own headings begin at h3."""

MOST_SIGNS = 20_000
MOST_BRACKETS = 100
"""Longer texts, and such with more links than anybody reads, are shown as they were typed."""
_NESTED = re.compile(r"^(?:[ \t]*(?:[*+-]|\d{1,9}[.]|>)[ \t]*){13}|^[ \t]{48,}(?:[*+-]|\d{1,9}[.]) ", re.MULTILINE)
"""More than a dozen lists or quotes within one another."""

_BULLET = re.compile(r"^ {0,3}([*+-]|\d{1,9}[.])\s+\S")
_HEADING = re.compile(r"<(/?)h([1-6])>")
_FENCE = re.compile(r"^ {0,3}(```|~~~)")
_SCHEME = re.compile(r"^[^/?#]*:")
_BARE_PICTURE = re.compile(r'<img(?: alt="([^"]*)")?(?: title="[^"]*")?>')


@lru_cache(maxsize=2048)
def to_prose(text: str, lang: str = "") -> Prose:
    r"""Markdown text → cleaned HTML, headings from h3 down, no picture from another host.

    >>> to_prose("Wash it:\n- soap\n- water").html
    '<p>Wash it:</p>\n<ul>\n<li>soap</li>\n<li>water</li>\n</ul>'
    """
    raw = _as_typed(text) if _is_tangled(text) else _converted(text)
    return Prose(html=_without_bare_pictures(_cleaned(_lowered(raw))).strip(), lang=lang)


def _is_tangled(text: str) -> bool:
    """Whether the converter would take minutes over a text, or end in its own recursion: nobody writes such a one.

    It looks from each opening bracket to the end, and nests a list in a list for each mark at the head of a line.
    """
    return len(text) > MOST_SIGNS or text.count("[") > MOST_BRACKETS or _NESTED.search(text) is not None


def _converted(text: str) -> str:
    try:
        return _converter().reset().convert(_prepared(text))
    except RecursionError:
        _converter.cache_clear()  # its parser was left half way
        return _as_typed(text)


def _as_typed(text: str) -> str:
    """Paragraphs of plain text, each sign standing for itself."""
    parts = re.split(r"\n[ \t]*\n", text.replace("\0", ""))
    return "\n".join(f"<p>{escape(part.strip())}</p>" for part in parts if part.strip())


@lru_cache(maxsize=1)
def _converter() -> markdown.Markdown:
    """One converter a process: building it costs more than most of the texts it turns."""
    made = markdown.Markdown(extensions=["sane_lists", "tables"], output_format="html")
    made.preprocessors.deregister("html_block")
    made.inlinePatterns.deregister("html")
    return made


def _prepared(text: str) -> str:
    """The same text with a blank line before each list that stands right under a line of text."""
    lines = re.split(r"\r\n|\r|\n", re.sub(r"[\x00\x02\x03]", "", text))
    return "\n".join(_parted(lines))


def _parted(lines: list[str]) -> list[str]:
    out: list[str] = []
    fenced = False
    for line in lines:
        fenced ^= bool(_FENCE.match(line))
        if not fenced and _opens_list(line, out[-1] if out else ""):
            out.append("")
        out.append(line)
    return out


def _opens_list(line: str, before: str) -> bool:
    """True for the first bullet under a line of text.

    A wrapped sentence may begin with "1990. ", so a number opens a list only where it is 1.
    """
    found = _BULLET.match(line)
    if not found or not before.strip() or _BULLET.match(before) or before.startswith((" ", "\t")):
        return False
    return found[1] in ("*", "+", "-", "1.")


def _lowered(html: str) -> str:
    def lower(match: re.Match[str]) -> str:
        return f"<{match[1]}h{min(int(match[2]) + HEADINGS_BELOW, 6)}>"

    return _HEADING.sub(lower, html)


def _cleaned(html: str) -> str:
    return nh3.clean(
        html,
        tags=set(TAGS),
        attributes={tag: set(names) for tag, names in ATTRIBUTES.items()},
        attribute_filter=_filtered,
        url_schemes=set(LINK_SCHEMES),
        link_rel="noopener noreferrer",
        strip_comments=True,
    )


def _filtered(tag: str, attribute: str, value: str) -> str | None:
    """Pictures only from this site, links with a known scheme or none; `//host` has no scheme but leaves."""
    if tag == "img" and attribute == "src":
        return value if _is_local(value) else None
    if tag == "a" and attribute == "href":
        return value if _is_known_way(value) else None
    return value


def _squeezed(address: str) -> str:
    """The address as a browser reads it: no blanks or controls, backslashes as slashes."""
    return re.sub(r"[\s\x00-\x20]+", "", address).replace("\\", "/")


def _is_local(address: str) -> bool:
    plain = _squeezed(address)
    return bool(plain) and not plain.startswith("//") and not _SCHEME.match(plain)


def _is_known_way(address: str) -> bool:
    plain = _squeezed(address)
    return _is_local(address) or plain.partition(":")[0].lower() in LINK_SCHEMES


def _without_bare_pictures(html: str) -> str:
    """A picture that lost its address is said in its own words."""
    return _BARE_PICTURE.sub(lambda match: match[1] or "", html)
