"""The Atom feed (RFC 4287) and the site map (sitemaps.org, protocol 0.9)."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from passport.pages.feed import sitemaps

ATOM = "{http://www.w3.org/2005/Atom}"
MAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
HOST = "https://pass.reedmouth.example"
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


@pytest.fixture(scope="module")
def feed(demo: Path) -> ET.Element:
    """The feed of the demo."""
    return ET.fromstring((demo / "site" / "feed.atom").read_bytes())  # noqa: S314 - our own file


def test_what_atom_requires_is_there_once(feed: ET.Element) -> None:
    """Feed and entries have exactly one id, title and updated; the feed an author and a self link (RFC 4287, 4.1)."""
    entries = feed.findall(f"{ATOM}entry")
    for part in (feed, *entries):
        assert [len(part.findall(f"{ATOM}{name}")) for name in ("id", "title", "updated")] == [1, 1, 1]
        assert MOMENT.fullmatch(part.findtext(f"{ATOM}updated") or "")
    assert len(feed.findall(f"{ATOM}author/{ATOM}name")) == 1
    assert [link.get("href") for link in feed.findall(f"{ATOM}link[@rel='self']")] == [f"{HOST}/feed.atom"]
    assert all(len(entry.findall(f"{ATOM}link[@rel='alternate']")) == 1 for entry in entries)


def test_the_feed_is_as_new_as_its_newest_entry(feed: ET.Element) -> None:
    """`updated` of the feed is the latest of its entries: from the records, not from a clock."""
    moments = [entry.findtext(f"{ATOM}updated") or "" for entry in feed.findall(f"{ATOM}entry")]
    assert feed.findtext(f"{ATOM}updated") == max(moments)
    assert moments == sorted(moments, reverse=True)


def test_entries_lead_to_pages(feed: ET.Element, demo: Path) -> None:
    """Each entry's id is the lasting address of a page that is there."""
    for entry in feed.findall(f"{ATOM}entry"):
        address = entry.findtext(f"{ATOM}id") or ""
        link = entry.find(f"{ATOM}link")
        assert link is not None
        assert link.get("href") == address
        page, _, anchor = address.removeprefix(f"{HOST}/").partition("#")
        text = (demo / "site" / page / "index.html").read_text(encoding="utf-8")
        assert not anchor or any(f'id="{name}"' in text for name in (anchor, anchor.rpartition("-")[0]))


def test_ids_outlive_another_name(feed: ET.Element, demo: Path, cli, tmp_path: Path) -> None:
    """A workshop that takes another name keeps every id and every `updated` of its feed."""
    shutil.copytree(demo / "content", tmp_path / "content")
    record = tmp_path / "content" / "workshop.yaml"
    text = record.read_text(encoding="utf-8").replace("name: Reedmouth Yard", "name: Reedmouth Loft")
    record.write_text(text, encoding="utf-8")
    done = cli("publish", "--folder", tmp_path)
    assert done.returncode == 0, done.stderr
    other = ET.fromstring((tmp_path / "site" / "feed.atom").read_bytes())  # noqa: S314
    assert stamps(other) == stamps(feed)


def stamps(feed: ET.Element) -> list[tuple[str | None, str | None]]:
    """Id and moment of feed and entries."""
    return [(e.findtext(f"{ATOM}id"), e.findtext(f"{ATOM}updated")) for e in (feed, *feed.findall(f"{ATOM}entry"))]


def locations(text: str) -> list[str]:
    """The addresses of a site map."""
    return [loc.text or "" for loc in ET.fromstring(text.encode()).iter(f"{MAP}loc")]  # noqa: S314


def test_the_map_is_every_page(demo: Path) -> None:
    """The site map names each page of each language once, and nothing else."""
    site = demo / "site"
    pages = {f"{HOST}/{p.parent.relative_to(site).as_posix()}/".replace("/./", "/") for p in site.rglob("index.html")}
    found = locations((site / "sitemap.xml").read_text(encoding="utf-8"))
    assert len(found) == len(set(found))
    assert set(found) == pages


def test_a_large_site_has_an_index() -> None:
    """Above 50,000 addresses there are several maps and an index of them; none holds more than 50,000."""
    paths = [f"/T/{n}/" for n in range(100_001)]
    files = dict(sitemaps(HOST, paths))
    assert list(files) == ["sitemap-1.xml", "sitemap-2.xml", "sitemap-3.xml", "sitemap.xml"]
    parts = [locations(files[name]) for name in list(files)[:3]]
    assert [len(part) for part in parts] == [50_000, 50_000, 1]
    assert [a for part in parts for a in part] == [HOST + path for path in paths]
    assert locations(files["sitemap.xml"]) == [f"{HOST}/sitemap-{n}.xml" for n in (1, 2, 3)]
    assert all(len(text.encode()) < 52_428_800 for text in files.values())


def test_exactly_full_is_one_map() -> None:
    """50,000 addresses still go into one file."""
    assert list(dict(sitemaps(HOST, ["/"] * 50_000))) == ["sitemap.xml"]
