"""Every page of the built demo: well-formed, whole in itself, small, and with no figure that nobody computed."""

from __future__ import annotations

import csv
import gzip
import io
import json
import math
import re
import shutil
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from urllib.parse import unquote, urlsplit

import html5lib
import pytest

from passport.massflow import Share, of_item, of_plastic
from passport.pages.data_tables import csv_text
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

OWN = "https://pass.reedmouth.example"
"""The demo's own address: the lasting links of a page name it."""
BUDGET_BYTES = 12_000
"""What a passport page and its style may weigh over the wire (the project's own promise)."""
ATOM = "{http://www.w3.org/2005/Atom}"
Page = ET.Element


def parsed(text: str) -> Page:
    """The tree of a page. Raises html5lib's ParseError for anything that the HTML standard calls an error."""
    return html5lib.HTMLParser(html5lib.getTreeBuilder("etree"), strict=True, namespaceHTMLElements=False).parse(text)


def pages_of(site: Path) -> Iterator[tuple[str, str]]:
    """Path and text of every page."""
    for file in sorted(site.rglob("*.html")):
        yield file.relative_to(site).as_posix(), file.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def site(demo: Path) -> Path:
    """The built demo."""
    return demo / "site"


@pytest.fixture(scope="module")
def pages(site: Path) -> dict[str, Page]:
    """Every page of the site as a tree; a page that is no valid HTML fails here, with its name."""
    trees: dict[str, Page] = {}
    for name, text in pages_of(site):
        try:
            trees[name] = parsed(text)
        except html5lib.html5parser.ParseError as error:
            pytest.fail(f"{name}: {error}")
    return trees


@pytest.fixture(scope="module")
def passports(pages: dict[str, Page]) -> dict[str, Page]:
    """The pages of tags, in all languages."""
    return {name: page for name, page in pages.items() if re.match(r"T/RY-", name)}


@pytest.fixture(scope="module")
def book(demo: Path) -> Book:
    """The demo, worked out."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    return work_out(shop)


# --- form ----------------------------------------------------------------------------------------


def test_every_page_is_valid_html(pages: dict[str, Page]) -> None:
    """html5lib, strict, finds no parse error of the HTML standard on any page."""
    assert len(pages) > 300
    assert all(page.find("body") is not None for page in pages.values())


def test_every_page_names_its_language_and_title(pages: dict[str, Page]) -> None:
    """A page says what it is and in which language; French pages are those under FR/."""
    assert [n for n, page in pages.items() if not (page.findtext("head/title") or "").strip()] == []
    wrong = [n for n, page in pages.items() if page.get("lang") != ("fr" if n.endswith("FR/index.html") else "en")]
    assert wrong == []


def test_ids_are_unique_on_a_page(pages: dict[str, Page]) -> None:
    """No id stands twice on one page (HTML, 3.2.6)."""
    for name, page in pages.items():
        ids = [e.get("id") for e in page.iter() if e.get("id")]
        assert len(ids) == len(set(ids)), name


# --- links ---------------------------------------------------------------------------------------


def addresses(page: Page) -> Iterator[tuple[str, str, str]]:
    """(element, attribute, address) of everything that a page points to or loads."""
    for element in page.iter():
        for attribute in ("href", "src", "srcset", "poster", "action", "data"):
            if element.get(attribute) and isinstance(element.tag, str):
                yield element.tag, attribute, element.get(attribute, "")


def aimed_at(name: str, address: str) -> tuple[str, str]:
    """(file, anchor) of a local address on the page `name`."""
    split = urlsplit(address)
    path = unquote(split.path)
    steps = [] if path.startswith("/") else name.split("/")[:-1]
    for step in path.split("/") if path else []:
        if step == "..":
            assert steps, f"{name}: {address} leaves the site"
            steps.pop()
        elif step not in ("", "."):
            steps.append(step)
    file = "/".join(steps) if path else name
    return (f"{file}/index.html".lstrip("/") if path.endswith("/") else file), split.fragment


def test_every_local_link_leads_to_a_file(pages: dict[str, Page], site: Path) -> None:
    """Each address without a host names a file of the site, and each anchor an id on that page."""
    files = {p.relative_to(site).as_posix() for p in site.rglob("*") if p.is_file()}
    ids = {name: {e.get("id") for e in page.iter()} for name, page in pages.items()}
    dead = []
    for name, page in pages.items():
        for _, _, address in addresses(page):
            if urlsplit(address).scheme or address.startswith("//"):
                continue
            file, anchor = aimed_at(name, address)
            if file not in files or (anchor and anchor not in ids[file]):
                dead.append((name, address))
    assert dead == []


def test_no_page_needs_another_host(pages: dict[str, Page]) -> None:
    """Other hosts are named by nothing but the page's own lasting address and mail; nothing is loaded from one."""
    foreign = []
    for name, page in pages.items():
        for element, attribute, address in addresses(page):
            split = urlsplit(address)
            own = element in ("a", "link") and (address == OWN or address.startswith(f"{OWN}/"))
            letter = element == "a" and split.scheme == "mailto"
            if (split.scheme or split.netloc) and not own and not letter:
                foreign.append((name, element, attribute, address))
    assert foreign == []


def test_lasting_addresses_lead_to_pages(pages: dict[str, Page]) -> None:
    """Every canonical and alternate address of the site's own host is that of a page which exists."""
    lost = []
    for name, page in pages.items():
        for link in page.iterfind("head/link"):
            href = link.get("href", "")
            if href.startswith(f"{OWN}/") and f"{href.removeprefix(OWN)}index.html".lstrip("/") not in pages:
                lost.append((name, href))
    assert lost == []


def test_style_and_scripts_load_nothing_from_elsewhere(site: Path) -> None:
    """Neither the style sheet nor a script names another host."""
    for name in ("style.css", "find.js", "offline.js", "sw.js"):
        text = (site / name).read_text(encoding="utf-8")
        assert re.findall(r"(?:https?:)?//[\w-]+\.[a-z]+", re.sub(r"http://www\.w3\.org/\S*", "", text)) == [], name


# --- weight --------------------------------------------------------------------------------------


def test_a_passport_is_light(passports: dict[str, Page], site: Path) -> None:
    """Each passport page and its style are at most 12,000 bytes together after gzip -9."""
    style = len(gzip.compress((site / "style.css").read_bytes(), 9, mtime=0))
    heavy = {}
    for name in passports:
        size = style + len(gzip.compress((site / name).read_bytes(), 9, mtime=0))
        if size > BUDGET_BYTES:
            heavy[name] = size
    assert heavy == {}


# --- figures -------------------------------------------------------------------------------------

PERCENT = re.compile(r"(\d+(?:[.,]\d+)?)[\s\u00a0\u202f]*%")
BLOCKS = ("li", "p", "td", "th", "dd", "dt", "figcaption", "summary", "h1", "h2", "h3")


def said(element: Page) -> str:
    """All words of an element, drawings and scripts left out."""
    if element.tag in ("script", "svg", "style"):
        return ""
    inner = [(said(child), child.tail or "") for child in element if isinstance(child.tag, str)]
    return (element.text or "") + "".join(words + tail for words, tail in inner)


def percentages(page: Page) -> Iterator[str]:
    """Every percentage that stands in one block with the word recycled, in either language."""
    for element in page.iter():
        if element.tag in BLOCKS and not any(child.tag in BLOCKS for child in element.iter() if child is not element):
            words = said(element)
            if "recycl" in words.lower():
                yield from PERCENT.findall(words)
    for section in page.iter("section"):
        if section.get("id") == "recycled":
            yield from PERCENT.findall(said(section))


def floors(share: Share, *, doubtful: bool) -> int | None:
    """N of "at least N %": floor of X - 1.645 u (JCGM 106:2012, clause 8).

    100 only where all is so by record and no weighing behind it is in doubt.
    """
    if share.low == 1:
        return 99 if doubtful else 100
    if share.u is None:
        return None
    return min(99, max(0, math.floor((share.low - Fraction("1.645") * Fraction(share.u)) * 100)))


def weighing_in_doubt(book: Book, node: str) -> bool:
    """Whether a run or a draw at or above a lot or batch does not fit its weighings."""
    unfit = ("does-not-close", "overdrawn", "drawn-", "not-weighed")
    return any(problem.code.startswith(unfit) for problem in book.ledger.doubts_of(node))


def shares_of(book: Book, item: str) -> list[Share]:
    """The three shares that a page may speak of."""
    whole = of_item(book.ledger, item)
    plastic = [of_plastic(book.ledger, item), of_plastic(book.ledger, item, post_consumer_only=True)]
    return plastic + ([whole] if whole else [])


def is_computed(figure: str, shares: list[Share], *, doubtful: bool) -> bool:
    """Whether a printed figure is a floor of the ledger's, or with a decimal one of its values."""
    number = Fraction(figure.replace(",", "."))
    if number.denominator == 1 and not re.search(r"[.,]", figure):
        return int(number) in {floors(share, doubtful=doubtful) for share in shares}
    values = [v for share in shares for v in (share.value, share.low, share.high)]
    return any(abs(number - 100 * value) <= Fraction("0.05") for value in values)


def test_every_recycled_percentage_is_one_the_ledger_gives(passports: dict[str, Page], book: Book) -> None:
    """Beside the word recycled (recyclé) stands no percentage that the weighed lots do not give."""
    met, made_up = 0, []
    for name, page in passports.items():
        item = book.lives[name.split("/")[1]].item
        shares, doubtful = shares_of(book, item), weighing_in_doubt(book, item)
        figures = list(percentages(page))
        met += len(figures)
        made_up += [(name, figure) for figure in figures if not is_computed(figure, shares, doubtful=doubtful)]
    assert met > 300
    assert made_up == []


def test_the_mark_says_what_the_ledger_gives(passports: dict[str, Page], book: Book) -> None:
    """The number behind REC in a material mark is the stated share of recycled plastic."""
    for name, page in passports.items():
        item = book.lives[name.split("/")[1]].item
        for number in re.findall(r"\(REC(\d+)\)", said(page)):
            assert int(number) == floors(of_plastic(book.ledger, item), doubtful=weighing_in_doubt(book, item)), name


def test_the_log_as_data_says_what_the_ledger_gives(site: Path, book: Book) -> None:
    """Shares in lots.csv and items.csv are the ledger's, to the fourth decimal and as floors."""
    for row in rows(site / "data" / "lots.csv"):
        share = book.ledger.mixtures[row["lot"]].recycled().value
        assert row["recycled_share"] == "" or abs(Fraction(row["recycled_share"]) - share) <= Fraction("0.00005")
    for row in rows(site / "data" / "items.csv"):
        doubtful = weighing_in_doubt(book, row["batch"])
        stated = floors(of_plastic(book.ledger, row["batch"]), doubtful=doubtful)
        assert row["recycled_at_least_percent"] in ("", str(stated))


# --- data ----------------------------------------------------------------------------------------


def linked_data(page: Page) -> Iterator[dict[str, object]]:
    """Every JSON-LD block of a page."""
    for script in page.iter("script"):
        if script.get("type") == "application/ld+json":
            yield json.loads(script.text or "")


def test_json_ld_parses(passports: dict[str, Page]) -> None:
    """Each block of linked data is JSON in the schema.org vocabulary and names the tag it speaks of."""
    blocks = {name: list(linked_data(page)) for name, page in passports.items()}
    assert sum(map(len, blocks.values())) > 60
    for name, found in blocks.items():
        for block in found:
            assert str(block["@context"]).startswith("https://schema.org"), name
            assert name.split("/")[1] in str(block["@id"]), name


def test_every_json_file_parses(site: Path) -> None:
    """All JSON of the site parses, and has no key twice in one object."""

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        assert len(pairs) == len(dict(pairs))
        return dict(pairs)

    files = [*site.rglob("*.json"), site / "manifest.webmanifest"]
    assert len(files) > 30
    for file in files:
        json.loads(file.read_text(encoding="utf-8"), object_pairs_hook=once)


def rows(file: Path) -> list[dict[str, str]]:
    """A CSV table."""
    return list(csv.DictReader(io.StringIO(file.read_bytes().decode("utf-8"), newline=""), strict=True))


def test_every_table_parses(site: Path) -> None:
    """Each CSV (RFC 4180) has as many cells in every row as in its header, and its description names them all."""
    tables = sorted((site / "data").glob("*.csv"))
    assert len(tables) >= 4
    for file in tables:
        found = list(csv.reader(io.StringIO(file.read_bytes().decode("utf-8"), newline=""), strict=True))
        assert {len(row) for row in found} == {len(found[0])}, file.name
        described = json.loads(file.with_name(file.name + "-metadata.json").read_text(encoding="utf-8"))
        assert [c["name"] for c in described["tableSchema"]["columns"]] == found[0]


def xml_of(file: Path) -> Page:
    """An XML file of our own making."""
    return ET.parse(file).getroot()  # noqa: S314 - nobody else wrote it


def test_the_feed_parses(site: Path) -> None:
    """The feed is Atom (RFC 4287): an id, a title and a day in the feed and each entry, every id once."""
    feed = xml_of(site / "feed.atom")
    entries = feed.findall(f"{ATOM}entry")
    assert feed.tag == f"{ATOM}feed"
    assert len(entries) > 10
    for part in (feed, *entries):
        assert all(part.findtext(f"{ATOM}{name}") for name in ("id", "title", "updated"))
    ids = [entry.findtext(f"{ATOM}id") for entry in entries]
    assert len(ids) == len(set(ids))


def test_the_sitemap_names_pages_that_are_there(site: Path) -> None:
    """Every address in the site map is that of a page."""
    found = [e.text or "" for e in xml_of(site / "sitemap.xml").iter() if e.tag.endswith("}loc")]
    assert len(found) > 50
    assert [a for a in found if not (site / a.removeprefix(f"{OWN}/") / "index.html").is_file()] == []


# --- hostile records -----------------------------------------------------------------------------

EVIL = """<script>alert(1)</script><img src=x onerror=alert(2)>"'&{{ 7*191 }}{% raw %}]]>--></title>"""
"""Markup, quotes, a template's braces (1337 where a template runs them) and ends of what might surround it."""
EVIL_PROSE = "[here](javascript:alert(3)) <iframe src=https://a.invalid></iframe> ![p](https://a.invalid/p.png) " + EVIL
EVIL_NAME = """=1+1 <b>Yard</b> & {{7*191}}"""


def quoted(text: str) -> str:
    """A YAML text in single quotes."""
    return "'" + text.replace("'", "''") + "'"


def poison(file: Path, field: str, text: str) -> None:
    """Give the field of a record a hostile text, in whatever form it stood there."""
    before = file.read_text(encoding="utf-8")
    after = re.sub(rf"(?m)^{field}:.*\n(?:(?:[ ]+.*)?\n)*", lambda _: f"{field}: {quoted(text)}\n", before, count=1)
    assert after != before, f"{file.name} has no {field}"
    file.write_text(after, encoding="utf-8")


@pytest.fixture(scope="module")
def hostile(demo: Path, tmp_path_factory: pytest.TempPathFactory, cli) -> Path:
    """The site of a copy of the demo whose free texts are all hostile."""
    folder = tmp_path_factory.mktemp("hostile")
    shutil.copytree(demo / "content", folder / "content")
    content = folder / "content"
    poison(content / "workshop.yaml", "name", EVIL_NAME)
    for field in ("bring_back", "place"):
        poison(content / "workshop.yaml", field, EVIL)
    for field in ("about", "notes"):
        poison(content / "workshop.yaml", field, EVIL_PROSE)
    for field in ("title", "made_for", "not_for", "mend"):
        poison(content / "products" / "planter.yaml", field, EVIL)
    poison(content / "products" / "planter.yaml", "care", EVIL_PROSE)
    poison(content / "streams" / "quay-crates.yaml", "title", EVIL)
    poison(content / "streams" / "quay-crates.yaml", "collected", EVIL)
    poison(content / "streams" / "quay-crates.yaml", "notes", EVIL_PROSE)
    poison(content / "lots" / "IN-001.yaml", "notes", EVIL_PROSE)
    poison(content / "lots" / "IN-001.yaml", "colour", EVIL)
    poison(content / "items" / "PL-2024-12.yaml", "notes", EVIL_PROSE)
    poison(content / "items" / "PL-2024-12.yaml", "colour", EVIL)
    events = content / "events" / "2026.yaml"
    text = events.read_text(encoding="utf-8")
    for place in ("school garden", "ferry slip", "the tray pool"):
        assert place in text
        text = text.replace(place, quoted(EVIL))
    events.write_text(text, encoding="utf-8")
    done = cli("publish", "--folder", folder)
    assert done.returncode == 0, done.stderr
    return folder / "site"


@pytest.fixture(scope="module")
def hostile_pages(hostile: Path) -> dict[str, Page]:
    """The pages with hostile text, parsed as strictly as the others."""
    return {name: parsed(text) for name, text in pages_of(hostile)}


def test_hostile_text_is_shown_as_it_was_written(hostile_pages: dict[str, Page]) -> None:
    """A title of markup, quotes and braces stands on its page letter by letter."""
    page = hostile_pages["T/RY-22222Q/index.html"]
    assert EVIL in said(page)
    assert EVIL_NAME in said(page)


def test_hostile_text_adds_no_element(pages: dict[str, Page], hostile_pages: dict[str, Page]) -> None:
    """No element, and no attribute on one, appears that the pages of honest records do not have."""
    assert set(hostile_pages) == set(pages)

    def shapes(all_pages: dict[str, Page]) -> set[tuple[str, str]]:
        elements = (e for page in all_pages.values() for e in page.iter() if isinstance(e.tag, str))
        return {(e.tag, attribute) for e in elements for attribute in ("", *e.attrib)}

    assert shapes(hostile_pages) - shapes(pages) <= MAY_COME


MAY_COME = {("a", "rel"), ("span", "lang"), ("div", "lang")}
"""Harmless, and of our making: the mark of a link in prose, and of a title or of notes that have no French."""


def test_hostile_text_starts_nothing(hostile_pages: dict[str, Page]) -> None:
    """No script but our own files and data, no handler, no address that runs, loads or leads elsewhere."""
    for name, page in hostile_pages.items():
        for element in page.iter():
            if not isinstance(element.tag, str):
                continue
            assert not [a for a in element.attrib if a.startswith("on") or a == "style"], name
            if element.tag == "script":
                assert element.get("type") == "application/ld+json" or element.get("src", "").endswith(".js"), name
        for element, _, address in addresses(page):
            scheme = urlsplit(address).scheme
            assert scheme in ("", "https", "mailto"), (name, address)
            assert scheme != "https" or address.startswith(OWN), (name, element, address)


def test_hostile_braces_are_not_worked_out(hostile: Path, site: Path) -> None:
    """7*191 in a template's braces stays a text: no page says 1337 that did not."""
    for name, text in pages_of(hostile):
        assert text.count("1337") == (site / name).read_text(encoding="utf-8").count("1337"), name


def test_hostile_text_stays_inside_its_data(hostile: Path, hostile_pages: dict[str, Page]) -> None:
    """Linked data gives the hostile title back letter by letter; feed, site map and JSON still parse."""
    assert [block["name"] for block in linked_data(hostile_pages["T/RY-22222Q/index.html"])] == [EVIL]
    feed = xml_of(hostile / "feed.atom")
    assert any(EVIL in (e.findtext(f"{ATOM}title") or "") for e in feed.iter(f"{ATOM}entry"))
    xml_of(hostile / "sitemap.xml")
    for file in [*hostile.rglob("*.json"), hostile / "manifest.webmanifest"]:
        json.loads(file.read_text(encoding="utf-8"))


def test_no_cell_is_a_formula(hostile: Path) -> None:
    """No cell of a table begins as a formula of a spreadsheet does (OWASP, CSV injection)."""
    for file in (hostile / "data").glob("*.csv"):
        cells = [cell for row in rows(file) for cell in row.values()]
        assert [c for c in cells if re.match(r"[=+\-@\t\r\n]", c)] == [], file.name


@pytest.mark.parametrize(
    "text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", " =1", "\ufeff=1", "=cmd|' /C calc'!A0", "＝1"]
)
def test_a_formula_in_a_cell_is_disarmed(text: str) -> None:
    """A text that a spreadsheet would run gets an apostrophe before it (OWASP, CSV injection), and stays readable."""
    (row,) = csv.DictReader(io.StringIO(csv_text(["note"], [{"note": text}]), newline=""), strict=True)
    assert row["note"] == f"'{text}"


@pytest.mark.parametrize("text", ["-0.2000", "12", "a - b", 'say "when", then; stop\nhere', "", "2026-04-11"])
def test_an_honest_cell_stays_as_it_is(text: str) -> None:
    """Numbers below zero, quotes, commas and line ends come back from the table as they went in."""
    (row,) = csv.DictReader(io.StringIO(csv_text(["note", "n"], [{"note": text, "n": "1"}]), newline=""), strict=True)
    assert row["note"] == text


def test_search_lists_stay_three_cells_wide(hostile: Path) -> None:
    """No text breaks a line or a cell of the list that search reads."""
    for file in hostile.glob("find.*.txt"):
        assert {line.count("\t") for line in file.read_text(encoding="utf-8").splitlines()} == {2}
