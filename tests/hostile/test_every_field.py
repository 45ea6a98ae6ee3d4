"""Every text of every record made hostile at once: nothing of it becomes markup, script, formula or address.

The records are changed after they were read, so that not one field is left out because a test forgot it. What comes out
is taken apart by html5lib, the reference parser of the HTML Standard, by Python's json, csv and expat.
"""

import csv
import dataclasses
import io
import json
import re
import shutil
import typing
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import html5lib
import pytest

from passport.pages.plan import site_files
from passport.pages.theme import load_theme
from passport.reading.ancestors import _changed
from passport.reading.fields import LineField, Words, WordsField
from passport.reading.folder import read_shop
from passport.reading.records import Workshop
from passport.reading.shop import Shop
from passport.verdicts.book import Book, work_out

ROOT = Path(__file__).resolve().parents[2]
EVIL = (
    "=1+1 <script>alert(1)</script><img src=x onerror=alert(2)><!-- <style>*{display:none}</style> \"'`&lt; "
    "[x](javascript:alert(3)) ![p](//a.invalid/p.png) {{ 7*191 }} {% raw %} ]]> </title></textarea> ${x} %s "
    "<base href=//a.invalid>"
)
"""Ends of whatever may surround it, ways to run or load, a template's braces (1337 if they run), a formula."""
MEANT = frozenset(
    {
        "operation", "scale", "address", "leads_to", "reads", "says", "looks", "letters", "number", "liquid",
        "material", "part", "parts", "not_back", "frees", "sorted_as", "size", "contact", "source",
    }
)  # fmt: skip
"""Lines that the program acts on; each of them alone is poisoned below, where it may be refused."""
GIVER = "Wrenna Quillfeather 01 555 0100"


def poisoned(record: Any, text: str, only: frozenset[str] | None = None) -> Any:
    """A record with each text for people replaced; `only`: those lines instead."""
    if not dataclasses.is_dataclass(record) or isinstance(record, Words):
        return record
    hints = typing.get_type_hints(type(record), include_extras=True)
    changed = {}
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        kinds = {str(kind) for kind in (hints[field.name], *typing.get_args(hints[field.name]))}
        if isinstance(value, Words) and str(WordsField) in kinds and only is None:
            changed[field.name] = dataclasses.replace(value, texts=dict.fromkeys(value.texts, text))
        elif isinstance(value, str) and value and str(LineField) in kinds:
            if (field.name in MEANT) == (only is not None) and (only is None or field.name in only):
                changed[field.name] = text
        elif isinstance(value, tuple):
            changed[field.name] = tuple(poisoned(part, text, only) for part in value)
        elif dataclasses.is_dataclass(value):
            changed[field.name] = poisoned(value, text, only)
    return _changed(record, changed)


def poisoned_shop(shop: Shop, text: str, only: frozenset[str] | None = None) -> Shop:
    """All records of a shop poisoned."""

    def each(records: Mapping[str, Any]) -> dict[str, Any]:
        return {name: poisoned(record, text, only) for name, record in records.items()}

    return dataclasses.replace(
        shop,
        workshop=poisoned(shop.workshop, text, only),
        streams=each(shop.streams), lots=each(shop.lots), runs=each(shop.runs), products=each(shop.products),
        items=each(shop.items), recalls=each(shop.recalls),
        events=tuple(poisoned(event, text, only) for event in shop.events),
    )  # fmt: skip


def files_of(book: Book) -> dict[str, bytes]:
    """Every file of the site by path, but for pictures and sheets."""
    theme, _ = load_theme(book.shop.workshop.languages)
    texts = (leaf for leaf in site_files(book, theme, {}) if not leaf.path.endswith((".png", ".pdf")))
    return {leaf.path: leaf.content() if callable(leaf.content) else leaf.content for leaf in texts}


@pytest.fixture(scope="module")
def shop(tmp_path_factory) -> Shop:
    """The demo's records, without pictures, with remarks in every file, and something private beside them."""
    folder = tmp_path_factory.mktemp("yard")
    shutil.copytree(ROOT / "content", folder / "content")
    (folder / "private").mkdir()
    (folder / "private" / "IN-001.yaml").write_text(f"giver: {GIVER}\n", encoding="utf-8")
    for path in (folder / "content").rglob("*.yaml"):
        path.write_text(f"# {GIVER}\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    read, problems = read_shop(folder / "content")
    assert read is not None
    assert [p for p in problems if p.level.value == "error"] == []
    return dataclasses.replace(read, workshop=_changed(read.workshop, {"languages": ("en",)}))


@pytest.fixture(scope="module")
def honest(shop: Shop) -> dict[str, bytes]:
    """The site as it is."""
    return files_of(work_out(shop))


@pytest.fixture(scope="module")
def hostile(shop: Shop) -> dict[str, bytes]:
    """The site of the poisoned records."""
    bad = poisoned_shop(shop, EVIL)
    assert isinstance(bad.workshop, Workshop)
    assert bad.workshop.name == EVIL
    return files_of(work_out(bad))


Pages = list[tuple[str, Any]]


def pages(files: dict[str, bytes]) -> Pages:
    """Each page as a tree."""
    return [
        (path, html5lib.parse(content.decode(), treebuilder="etree", namespaceHTMLElements=False))
        for path, content in files.items()
        if path.endswith(".html")
    ]


@pytest.fixture(scope="module")
def honest_pages(honest: dict[str, bytes]) -> Pages:
    """The honest ones."""
    return pages(honest)


@pytest.fixture(scope="module")
def hostile_pages(hostile: dict[str, bytes]) -> Pages:
    """The poisoned ones."""
    return pages(hostile)


def shapes(of: Pages) -> set[tuple[str, str]]:
    """Every element with every attribute that stands on a page."""
    elements = (element for _, page in of for element in page.iter() if isinstance(element.tag, str))
    return {(element.tag, str(name)) for element in elements for name in ("", *element.attrib)}


MAY_COME = {
    ("a", "rel"),
    ("span", "lang"),
    ("code", ""),
    ("p", "lang"),
    ("div", "lang"),
    ("h1", "lang"),
    ("dd", "lang"),
}
"""Harmless, of our making: marks of links and of another language; words between two backticks."""


def test_no_element_comes_in(honest_pages: Pages, hostile_pages: Pages) -> None:
    """No tag and no attribute appears that the honest pages do not have."""
    assert shapes(hostile_pages) - shapes(honest_pages) <= MAY_COME


def test_nothing_runs_loads_or_sends(hostile_pages: Pages) -> None:
    """No handler, no style, no foreign load, no address but https, mail and our own; and the text itself is shown."""
    seen = 0
    for path, page in hostile_pages:
        for element in page.iter():
            if not isinstance(element.tag, str):
                continue
            for name, value in element.attrib.items():
                assert not str(name).startswith("on"), path
                assert name != "style", path
                if name in ("href", "src"):
                    assert re.match(r"(https:|mailto:|[^:]*$)", value), (path, value)
                    assert name == "href" or not value.startswith(("//", "http")), (path, value)
        whole = " ".join(page.itertext())
        seen += "<script>alert(1)</script>" in whole
        assert whole.count("1337") <= 1, path
    assert seen > 100


def test_data_stays_data(hostile: dict[str, bytes]) -> None:
    """JSON is strict JSON, feeds are XML, tables have their columns and no formula, search lists three cells."""

    def never(text: str) -> None:
        raise AssertionError(text)

    for path, content in hostile.items():
        text = content.decode("utf-8", "replace")
        if path.endswith((".json", ".webmanifest")):
            json.loads(text, parse_constant=never)
        elif path.endswith((".atom", ".xml", ".svg")):
            ET.fromstring(text)  # noqa: S314 - nobody else wrote it
        elif path.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
            assert len({len(row) for row in rows}) == 1, path
            cells = [cell for row in rows for cell in row]
            assert not [cell for cell in cells if re.match(r"\s*[=+@]|\s*-(?![0-9.]+$)", cell)], path
        elif re.fullmatch(r"find\.\w+\.txt", path):
            assert {line.count("\t") for line in text.splitlines()} == {2}, path


def test_data_in_pages_is_inert(hostile: dict[str, bytes]) -> None:
    """Each block of data in a page parses as JSON, and holds no sign that could end it (HTML Standard, 4.12.1.3)."""
    blocks = 0
    for path, content in hostile.items():
        if path.endswith(".html"):
            for block in re.findall(r'<script type="application/ld\+json">(.*?)</script>', content.decode(), re.DOTALL):
                json.loads(block)
                assert "<" not in block, path
                blocks += 1
    assert blocks > 100


def test_names_of_files_do_not_follow_texts(honest: dict[str, bytes], hostile: dict[str, bytes]) -> None:
    """No text of a record becomes part of a path."""
    assert set(hostile) == set(honest)


@pytest.mark.parametrize("name", sorted(MEANT))
def test_lines_that_the_program_acts_on(shop: Shop, name: str) -> None:
    """Alone, where the rest is honest: they are worked out without an exception, whatever they hold."""
    book = work_out(poisoned_shop(shop, "<img src=x onerror=alert(2)>", frozenset({name})))
    assert all(problem.message for problem in book.problems)


def test_lines_that_the_program_acts_on_are_inert(shop: Shop) -> None:
    """Those of them that pages show stand there as text."""
    shown = MEANT - {"address", "leads_to", "operation", "part", "parts", "not_back", "scale"}
    bad = files_of(work_out(poisoned_shop(shop, "<img src=x onerror=alert(2)>", frozenset(shown))))
    pages_of_it = {path: content for path, content in bad.items() if path.endswith(".html")}
    assert [path for path, content in pages_of_it.items() if b"<img src=x" in content] == []
    assert [path for path, content in pages_of_it.items() if b"&lt;img src=x onerror=alert(2)&gt;" in content]


def test_nothing_private_is_published(honest: dict[str, bytes]) -> None:
    """Neither what lies in private/ nor a remark in a record's file is in any published byte."""
    for path, content in honest.items():
        for encoding in ("utf-8", "utf-16-le", "utf-16-be"):
            assert GIVER.encode(encoding) not in content, path
            assert b"Quillfeather" not in content, path
