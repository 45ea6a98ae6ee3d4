"""Everything is at most three taps away, from the first page and from the page that a scan opens."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from posixpath import dirname, join, normpath
from urllib.parse import unquote, urlsplit

import pytest

TAPS = 3
HREF = re.compile(r'<a [^>]*?href="([^"]*)"')
ENDED = 'class="card gone"'
Site = Mapping[str, frozenset[str]]
"""Each page with the pages that its links lead to."""


@pytest.fixture(scope="module")
def links(demo: Path) -> Site:
    """The built demo as a graph of its pages, without the page for what is missing.

    A printed short address of a thing that is no more says what the page of its tag says, so nothing leads there.
    """
    root = demo / "site"
    pages = {path.relative_to(root).as_posix(): path.read_text(encoding="utf-8") for path in root.rglob("*.html")}
    pages.pop("404.html")
    for name in [name for name in pages if name.startswith("H/")]:
        if ENDED in pages[name.replace("H/", "T/", 1)]:
            pages.pop(name)
    return {name: frozenset(led_to(name, text, pages)) for name, text in pages.items()}


def led_to(name: str, text: str, pages: Mapping[str, str]) -> Iterable[str]:
    """The pages that the links of one page lead to."""
    for href in HREF.findall(text):
        parts = urlsplit(href)
        if parts.scheme or parts.netloc or not parts.path:
            continue
        found = normpath(join(dirname(name), unquote(parts.path)))
        if found in pages:
            yield found


def taps(links: Site, start: str) -> dict[str, int]:
    """How many taps each page is away from one, by the shortest way."""
    found, edge = {start: 0}, [start]
    for distance in range(1, TAPS + 1):
        edge = sorted({to for page in edge for to in links[page]} - found.keys())
        found |= dict.fromkeys(edge, distance)
    return found


def in_french(name: str) -> bool:
    """Whether a page is one of the second language."""
    return name.endswith("FR/index.html")


def too_far(links: Site, start: str) -> list[str]:
    """Pages in the language of `start` that are further than three taps, or not to be reached at all."""
    away = taps(links, start)
    alike = [page for page in links if in_french(page) == in_french(start)]
    return sorted(page for page in alike if away.get(page, TAPS + 1) > TAPS)


@pytest.mark.parametrize("start", ["index.html", "FR/index.html"])
def test_everything_is_three_taps_from_the_first_page(links: Site, start: str) -> None:
    """Every page of a language, from its first page; the other language is one tap more, at the head of each."""
    assert too_far(links, start) == []
    assert {"index.html", "FR/index.html"} - {start} <= links[start]


@pytest.mark.parametrize("lang", ["", "FR/"])
def test_everything_is_three_taps_from_a_scan(links: Site, lang: str) -> None:
    """Every page of a language, from the page of every tag, whatever became of the thing.

    The sheet of another thing hangs on the page of its tag, which is three taps away itself.
    """
    tags = [page for page in links if page.startswith("T/RY-") and in_french(page) == bool(lang)]
    assert len(tags) > 30
    far = {page: [to for to in too_far(links, page) if not to.startswith("H/")] for page in tags}
    assert {page: found for page, found in far.items() if found} == {}
