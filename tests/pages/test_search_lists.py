"""The lists behind the search box: of a size that does not grow with the workshop, and found in with slips."""

from __future__ import annotations

from typing import Any

import pytest
from page_samples import Sample

from passport.pages.extras import MOST_TOGETHER, Findable, find_files, static_files
from passport.pages.render import Renderer, file_of
from passport.pages.theme import load_theme
from passport.pages.views import FoundView
from passport.reading.tag_numbers import next_numbers

NUMBERS = next_numbers("RY", None, 5_000)
HOST = "http://pass.reedmouth.example/"


def things(count: int) -> list[Findable]:
    """A product and so many tags."""
    tags = [Findable(id=tag, name="Planter", path=f"/T/{tag}/", numbered=True) for tag in NUMBERS[:count]]
    return [Findable(id="PLANTER", name="Planter", path="/P/PLANTER/"), *tags]


def lines(text: str) -> list[list[str]]:
    """The cells of each line."""
    return [line.split("\t") for line in text.splitlines()]


def test_a_small_workshop_has_one_list() -> None:
    """Up to the limit everything stands in one list, which names work for, too."""
    [(path, text)] = find_files("en", things(MOST_TOGETHER - 1))
    assert path == "find.en.txt"
    assert len(lines(text)) == MOST_TOGETHER


def test_no_list_of_a_large_workshop_is_long() -> None:
    """Beyond it, numbers stand in lists by how they begin: none is long, and each thing is in exactly one."""
    files = dict(find_files("en", things(5_000)))
    first = lines(files.pop("find.en.txt"))
    assert first[0] == ["PLANTER", "Planter", "P/PLANTER/index.html"]
    assert [cells[2] for cells in first[1:]] == list(files)
    assert max(len(lines(text)) for text in files.values()) <= 31 * 31
    assert [cells[0] for text in files.values() for cells in lines(text)] == sorted(NUMBERS)


def test_one_more_tag_changes_one_short_list() -> None:
    """The lists that a new number does not belong to stay as they are, byte for byte."""
    before, after = dict(find_files("en", things(4_999))), dict(find_files("en", things(5_000)))
    assert [path for path, text in after.items() if before.get(path) != text] == [f"find/en/{NUMBERS[4_999][:-3]}.txt"]


@pytest.mark.browser
@pytest.mark.parametrize("slip", ["none", "wrong sign", "missing sign", "wrong beginning"])
def test_a_large_workshop_is_searched_with_slips(chrome: Any, slip: str) -> None:
    """A number typed right leads to its page; one with a slip, even in its beginning, is among those offered."""
    theme, _ = load_theme(["en", "fr"])
    view = next(view for view in Sample("en").views() if isinstance(view, FoundView))
    files = {file_of(view.frame.path): Renderer(theme).page(view), **static_files(theme, "Reedmouth Yard", "en")}
    files |= dict(find_files("en", things(5_000)))
    tag = NUMBERS[2_345]
    typed = {"none": tag, "wrong sign": f"{tag[:6]}Z{tag[7:]}", "missing sign": tag[:5] + tag[6:]}
    asked = typed.get(slip, f"RX{tag[2:]}")

    def answer(route: Any) -> None:
        path = route.request.url.removeprefix(HOST) or "index.html"
        name = path + "index.html" if path.endswith("/") else path
        kind = {"html": "text/html", "css": "text/css", "js": "text/javascript"}.get(
            name.rpartition(".")[2], "text/plain"
        )
        known = name in files
        route.fulfill(status=200 if known else 404, body=files.get(name, "no such page"), content_type=kind)

    page = chrome.new_context(service_workers="block").new_page()
    page.route("**/*", answer)
    page.goto(f"{HOST}found/")
    page.fill("#wanted", asked)
    page.press("#wanted", "Enter")
    if slip == "none":
        page.wait_for_url(f"{HOST}T/{tag}/index.html")
    else:
        page.wait_for_selector(f'#answers a[href$="T/{tag}/index.html"]')
    page.context.close()
