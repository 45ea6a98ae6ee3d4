"""Whole pages: valid, linked, light, inert, in both languages."""

from __future__ import annotations

import gzip
import json
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import PurePosixPath
from urllib.parse import urldefrag, urljoin
from xml.etree.ElementTree import Element

import html5lib
import pytest
from page_samples import HOST, Sample

from passport.pages.extras import find_file, static_files
from passport.pages.pieces import Caution, DoubtLine, Link, Row, Said
from passport.pages.prose import to_prose
from passport.pages.render import Renderer, file_of, whole
from passport.pages.theme import load_theme
from passport.pages.views import PassportView

THEME, _ = load_theme(["en", "fr"])
RENDERER = Renderer(THEME)
VIEWS = {view.frame.path: view for lang in ("en", "fr") for view in Sample(lang).views()}
BUDGET = 12_000
"""Bytes, compressed, of a passport page with its style: below one first flight of QUIC (RFC 9002, 7.2)."""
POLICY = (
    "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'"
)


@cache
def page(path: str) -> str:
    """The HTML of a sample page."""
    return RENDERER.page(VIEWS[path])


@cache
def tree(path: str) -> Element:
    """The page as a browser reads it; any parse error fails."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(page(path))


def every(path: str, tag: str) -> list[Element]:
    """All elements of a tag."""
    return list(tree(path).iter(tag))


def text_of(element: Element) -> str:
    """All letters of an element."""
    return " ".join("".join(element.itertext()).split())


each_page = pytest.mark.parametrize("path", sorted(VIEWS))


@each_page
def test_parses_without_an_error(path: str) -> None:
    """A strict HTML parser finds nothing to complain about."""
    assert tree(path).tag == "html"


@each_page
def test_ids_are_unique(path: str) -> None:
    """No two elements of a page share an id."""
    ids = Counter(e.get("id") for e in tree(path).iter() if e.get("id"))
    assert [name for name, count in ids.items() if count > 1] == []


@each_page
def test_headings_in_order(path: str) -> None:
    """One h1, first but for a notice, and no level is skipped going down."""
    levels = [int(e.tag[1]) for e in tree(path).iter() if re.fullmatch(r"h[1-6]", str(e.tag))]
    assert levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


@each_page
def test_language_and_title(path: str) -> None:
    """A page says its language and names itself before the site."""
    assert tree(path).get("lang") == VIEWS[path].frame.lang
    assert text_of(every(path, "title")[0]).endswith("· Reedmouth Yard")


@each_page
def test_local_links_resolve(path: str) -> None:
    """Every link of the site leads to a page that is there, and every anchor to a part of it."""
    files = {file_of(p): p for p in VIEWS}
    for element in tree(path).iter():
        href = element.get("href")
        if not href or re.match(r"(https?|mailto|tel):", href):
            continue
        target, anchor = urldefrag(urljoin("/" + file_of(path), href))
        name = target.lstrip("/")
        if PurePosixPath(name).suffix != ".html":
            continue
        assert name in files, href
        assert not anchor or f'id="{anchor}"' in page(files[name]), href


@each_page
def test_links_are_relative(path: str) -> None:
    """The site works below any path and from a disk; only 404.html starts at the root."""
    addresses = [e.get("href") or e.get("src") or "" for e in tree(path).iter()]
    rooted = [a for a in addresses if a.startswith("/")]
    assert not rooted or path == "/404.html"


@each_page
def test_no_other_host_is_asked(path: str) -> None:
    """Nothing is loaded from elsewhere, and the policy that forbids it stands in the page."""
    loads = [e.get("src") for e in tree(path).iter() if e.get("src")]
    loads += [e.get("href") for e in every(path, "link") if e.get("rel") not in ("canonical", "alternate")]
    assert [a for a in loads if a and re.match(r"(\w+:)?//", a)] == []
    policies = [e.get("content") for e in every(path, "meta") if e.get("http-equiv") == "Content-Security-Policy"]
    assert policies == [POLICY]


@each_page
def test_meets_its_own_policy(path: str) -> None:
    """No inline style, no inline script, no event handler."""
    for element in tree(path).iter():
        assert element.tag != "style"
        assert not [name for name in element.attrib if name == "style" or str(name).startswith("on")]
        if element.tag == "script":
            assert element.get("src") or element.get("type") == "application/ld+json"


@each_page
def test_files_that_pages_name_are_there(path: str) -> None:
    """Style, scripts, icon and manifest are among the site's files."""
    files = static_files(THEME, "Reedmouth Yard", "en")
    named = [e.get("src") for e in every(path, "script") if e.get("src")]
    named += [e.get("href") for e in every(path, "link") if e.get("rel") in ("stylesheet", "icon", "manifest")]
    assert named
    assert all(str(name).lstrip("./") in files for name in named)


@pytest.mark.parametrize("path", sorted(p for p, v in VIEWS.items() if isinstance(v, PassportView)))
def test_light_enough(path: str) -> None:
    """A passport page with its style sheet travels in 12,000 bytes."""
    style = THEME.static["style.css"]
    size = sum(len(gzip.compress(text.encode(), 9, mtime=0)) for text in (page(path), style))
    assert size <= BUDGET


def test_doubts_come_first() -> None:
    """Doubts stand before the first answer, and again with their reasons."""
    html = page("/T/RY-2222BQ/")
    assert html.index("The number moulded in 9 pieces") < html.index("Made of")
    assert "Nothing was tested that could decide." in html
    assert "and 1 more doubt" in html


def test_a_recall_comes_before_all() -> None:
    """A notice is the first thing in the page's main part."""
    main = every("/T/RY-2222CX/", "main")[0]
    assert text_of(main).startswith("Please bring this back")


def test_a_withheld_figure_says_why() -> None:
    """Where there is no figure, the page shows the reason and no percent sign in its place."""
    section = next(e for e in every("/T/RY-2222BQ/", "section") if e.get("id") == "recycled")
    assert "Withheld: the books of one run do not close." in text_of(section)
    assert "%" not in text_of(section)


def test_charts_carry_their_figures_in_tables() -> None:
    """Every figure of a chart stands in the table beside it."""
    section = next(s for s in every("/", "section") if any(h.get("id") == "months" for h in s.iter("h2")))
    cells = [text_of(td) for td in section.iter("td")]
    bars = Sample().months()
    assert cells == [s.texts[i] for i in range(len(bars.places)) for s in bars.series]


def test_flow_has_a_list() -> None:
    """The genealogy is told in a table too, with links."""
    section = next(s for s in every("/T/RY-22224M/", "section") if s.get("id") == "origin")
    rows = [text_of(th) for th in section.iter("th") if th.get("scope") == "row"]
    assert rows[0] == "Broken crates from the harbour post-consumer"
    assert len(rows) == len(Sample().planter_flow().nodes)


def test_languages_lead_to_each_other() -> None:
    """Each language of a page links to the other, and says so to machines by its lasting address."""
    links = [(e.get("hreflang"), e.get("href")) for e in every("/T/RY-22224M/", "link") if e.get("hreflang")]
    assert links == [("fr", f"{HOST}/T/RY-22224M/FR/")]
    nav = next(a for a in every("/T/RY-22224M/FR/", "a") if a.get("hreflang") == "en")
    assert (text_of(nav), nav.get("href")) == ("English", "../../../T/RY-22224M/index.html")


def test_french_states_the_prescribed_wording() -> None:
    """The sentence is the one of the French environment code (L541-9-1, decree 2022-748)."""
    assert "Produit comportant au moins 95\u202f% de matières recyclées" in page("/T/RY-22224M/FR/")


def test_foreign_words_are_marked() -> None:
    """A doubt without French words is shown in English and marked as English."""
    assert '<span lang="en">The moisture of lot SH-030 is not known.</span>' in page("/T/RY-2222BQ/FR/")


def test_json_ld_is_whole_and_inert() -> None:
    """The data block parses, and a name in it that closes a script does not."""
    frame = Sample().frame("/T/X/", "x", json_ld='{"name":"</script><script>alert(1)</script>&<!--"}')
    html = RENDERER.page(replace(Sample().planter(), frame=frame))
    parsed = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(html)
    blocks = [s for s in parsed.iter("script") if s.get("type") == "application/ld+json"]
    assert json.loads(blocks[0].text or "") == {"name": "</script><script>alert(1)</script>&<!--"}
    assert not [s for s in parsed.iter("script") if not s.get("src") and s.get("type") is None]


EVIL = "\"'><script>alert(1)</script><img src=x onerror=alert(1)>{{ 7*7 }}"


def test_hostile_words_stay_words() -> None:
    """Whatever stands in the records, no view field becomes markup or a template."""
    base = Sample().planter()
    view = replace(
        base,
        frame=replace(base.frame, title=EVIL, workshop=EVIL, description=EVIL, as_of=EVIL),
        tag=EVIL,
        product=Link(text=EVIL, href="/P/PLANTER/", lang=EVIL),
        made=EVIL,
        facts=(Row(label=EVIL, value=EVIL, note=EVIL, lang=EVIL),),
        material=replace(base.material, name=EVIL, symbol=EVIL, marking=EVIL, basis=EVIL),
        doubts=(DoubtLine(text=EVIL, why=EVIL, lang=EVIL),),
        cautions=(Caution(text=EVIL, why=EVIL, source=EVIL, sign=EVIL),),
        care=to_prose(EVIL),
        care_points=(Said(text=EVIL, lang=EVIL),),
        tools=EVIL,
        take_apart=tuple(replace(s, text=EVIL, tool=EVIL, frees=EVIL) for s in base.take_apart),
        life=tuple(replace(e, text=EVIL, day=EVIL, note=EVIL) for e in base.life),
    )
    html = RENDERER.page(view)
    parsed = html5lib.HTMLParser(namespaceHTMLElements=False).parse(html)
    assert [s for s in parsed.iter("script") if not s.get("src") and s.get("type") is None] == []
    assert [i for i in parsed.iter("img") if i.get("src") == "x"] == []
    assert not [e for e in parsed.iter() if any(str(a).startswith("on") for a in e.attrib)]
    assert "{{ 7*7 }}" in html


def test_two_renderings_are_alike() -> None:
    """A fresh renderer gives the same bytes."""
    assert Renderer(load_theme(["en", "fr"])[0]).page(VIEWS["/"]) == page("/")


def test_search_list_has_the_name_scripts_ask_for() -> None:
    """The script and the files agree on the name of the search list."""
    assert '"find." + document.documentElement.lang + ".txt"' in THEME.static["find.js"]
    assert find_file("en") == "find.en.txt"


@pytest.mark.parametrize("path", [path for path, view in VIEWS.items() if view.frame.canonical])
def test_every_page_leads_to_the_feed(path: str) -> None:
    """A reader's program finds the Atom feed from any page (RFC 4287; autodiscovery is common practice)."""
    feeds = [e for e in every(path, "link") if e.get("type") == "application/atom+xml"]
    assert [(e.get("rel"), str(e.get("href")).endswith("feed.atom")) for e in feeds] == [("alternate", True)]


@pytest.mark.parametrize("path", [path for path in VIEWS if "/FR/" in path])
def test_no_french_line_begins_with_a_mark(path: str) -> None:
    """The space before : ; ! ? and » does not break, on whole pages and in what records say too."""
    assert re.search(r" [:;!?»]|« ", page(path)) is None


@pytest.mark.parametrize(
    ("text", "html"),
    [
        ("batch PL-2024-12, piece 1", 'batch <span class="id">PL-2024-12</span>, piece 1'),
        ("all of it is PE-HD", 'all of it is <span class="id">PE-HD</span>'),
        ("<b>A-1</b> & self-made", '&lt;b&gt;<span class="id">A-1</span>&lt;/b&gt; &amp; self-made'),
        ("UN-CEFACT-like x-A-1 A-1-b", "UN-CEFACT-like x-A-1 A-1-b"),
        ("https://pass.example/T/RY-22224M", "https://pass.example/T/RY-22224M"),
        ("no hyphen", "no hyphen"),
    ],
)
def test_numbers_of_records_are_never_broken(text: str, html: str) -> None:
    """Ids and symbols stay in one line; nothing else is touched, and what is escaped stays so."""
    assert str(whole(text)) == html
