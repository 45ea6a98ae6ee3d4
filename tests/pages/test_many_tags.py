"""Lists of a workshop with more than a thousand tags."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from passport.pages.places import MOST_ROWS, PER_PAGE, _near, list_views, product_view
from passport.pages.render import Renderer
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.pages.views import ListView
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out

DEMO = Path(__file__).resolve().parents[2] / "content"
MANY = 1201
THEME, _ = load_theme(["en", "fr"])


@pytest.fixture(scope="module")
def pages() -> list[ListView]:
    """The pages of the list of tags, of the example with its first thing made 1,201 times."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    book = work_out(shop)
    one = next(iter(book.lives.values()))
    lives = {f"RY-{n:06}": replace(one, tag=f"RY-{n:06}") for n in range(MANY)}
    scribe = Scribe(book=replace(book, lives=lives), words=THEME.words["fr"], first="en")
    return [view for view in list_views(scribe) if view.frame.path.startswith("/T/")]


def test_every_tag_stands_on_one_page(pages: list[ListView]) -> None:
    """1,201 tags at 200 a page are seven pages; none is lost or said twice."""
    assert len(pages) == -(-MANY // PER_PAGE)
    counted = Counter(row[0].text for page in pages for row in page.table.rows)
    assert len(counted) == MANY
    assert set(counted.values()) == {1}
    assert max(len(page.table.rows) for page in pages) <= PER_PAGE


def test_every_page_of_the_list_is_one_tap_from_every_other(pages: list[ListView]) -> None:
    """First page, list, page of the list, tag: four taps at most from anywhere."""
    paths = {page.frame.path for page in pages}
    for page in pages:
        assert {link.href for link in page.pages if link.href} == paths - {page.frame.path}
        assert [link.text for link in page.pages if not link.href] == [f"Page {pages.index(page) + 1}"]


def test_no_page_of_a_list_can_be_a_thing(pages: list[ListView]) -> None:
    """No id begins with a hyphen, so the address of a later page is never that of a tag."""
    assert [page.frame.path for page in pages][:3] == ["/T/FR/", "/T/-2/FR/", "/T/-3/FR/"]


def test_a_page_says_which_it_is(pages: list[ListView]) -> None:
    """The present page of the list is marked for those who cannot see it."""
    html = Renderer(THEME).page(pages[2])
    assert html.count('aria-current="page"') == 1
    assert 'aria-current="page">Page 3<' in html


def test_a_product_with_many_tags_shows_the_newest() -> None:
    """A page beside lists no more than a hundred and leads to the list that has them all."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    book = work_out(shop)
    one = next(iter(book.lives.values()))
    lives = {f"RY-{n:06}": replace(one, tag=f"RY-{n:06}") for n in range(MANY)}
    scribe = Scribe(book=replace(book, lives=lives), words=THEME.words["en"], first="en")
    tags = product_view(scribe, shop.products[shop.items[one.item].product]).tags
    assert tags is not None
    assert (len(tags.rows), tags.rows[0][0].text) == (MOST_ROWS, "RY-001200")
    assert tags.more is not None
    assert (tags.more.text, tags.more.href) == ("All tags", "/T/")


@pytest.mark.parametrize("pages", [1, 2, 20, 21, 50, 100, 500, 2500])
def test_two_taps_lead_from_any_page_of_a_list_to_any(pages: int) -> None:
    """First page, list, stretch, page, tag: four taps however long the list; and no page leads to thousands."""
    leads = [set(_near(n, pages)) for n in range(pages)]
    for n in {0, pages // 2, pages - 1}:
        assert set().union(*(leads[other] for other in leads[n])) == set(range(pages))
    assert max(len(found) for found in leads) <= max(20, 2 * pages**0.5 + 3)
    assert all(n in found for n, found in enumerate(leads))
