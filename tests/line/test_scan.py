"""A person scans a label and stands on the right page: the built demo in a real browser, served on loopback."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
import zxingcpp
from PIL import Image

from passport.preview import server_for
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out

pytestmark = pytest.mark.browser

PLANTER, POT, BIRD_BOX = "RY-22222Q", "RY-2223NF", "RY-2223B4"
RESINS = {
    PLANTER: ("PE-HD", "high density polyethylene", "polyéthylène haute densité"),
    POT: ("PP", "polypropylene", "polypropylène"),
}
"""Tag → the symbol of its resin (ISO 1043-1), its name in English and in French."""
GONE = "RY-2222PF"
"""A tag whose thing was destroyed: it still answers."""
MISTYPED = "RY-22222P"
"""The planter's number with a slip in its last character."""
WALK = (
    f"T/{PLANTER}/", f"T/{PLANTER}/FR/", f"T/{BIRD_BOX}/", f"T/{GONE}/", "T/RY-22224M/", "L/IN-001/", "L/BL-001/",
    "S/QUAY-CRATES/", "R/PE-HD/", "P/PLANTER/", "T/", "found/", "method/", "", "FR/",
)  # fmt: skip
"""One page of each kind."""
SHEETS = 1
"""Sheets of A4 that a passport takes on paper: one, to be kept with the thing."""


@pytest.fixture(scope="module")
def site(demo: Path) -> Path:
    """The built demo."""
    return demo / "site"


def listening(site: Path) -> tuple[Any, str]:
    """A preview server at work in a thread, and its address."""
    server = server_for(site)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server, f"http://localhost:{server.server_port}/"


@pytest.fixture(scope="module")
def base(site: Path) -> Iterator[str]:
    """The address of the served site."""
    server, address = listening(site)
    yield address
    server.shutdown()
    server.server_close()


@pytest.fixture
def phone(chrome: Any) -> Iterator[Any]:
    """A phone's browser with nothing remembered."""
    context = chrome.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    context.set_default_timeout(20_000)
    yield context
    context.close()


def scanned(label: Path) -> str:
    """What a telephone reads from a label picture: the one symbol on it, by zxing-cpp."""
    with Image.open(label) as picture:
        found = zxingcpp.read_barcodes(picture.convert("L"))
    assert len(found) == 1
    return found[0].text


def until(page: Any, condition: str) -> None:
    """Wait for a condition in the page (its policy forbids the waiting of playwright, which evaluates text)."""
    for _ in range(200):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(100)
    pytest.fail(f"waited 20 s in vain for: {condition}")


def path_of(payload: str) -> str:
    """The path of an address, without its leading slash."""
    return urlsplit(payload).path.lstrip("/")


def test_every_label_leads_to_its_own_page(site: Path, phone: Any, base: str) -> None:
    """The symbol on each label of the demo opens the page that bears the label's number."""
    page = phone.new_page()
    labels = sorted(site.glob("T/*/label.png"))
    assert len(labels) >= 30
    for label in labels:
        tag = label.parent.name
        answer = page.goto(base + path_of(scanned(label)), wait_until="commit")
        assert answer.status == 200
        assert page.locator("main .no").first.inner_text() == tag


@pytest.mark.parametrize("tag", RESINS)
def test_a_scan_tells_the_resin_on_the_first_screen(site: Path, phone: Any, base: str, tag: str) -> None:
    """Symbol and name of the resin stand in sight on a phone at once, without scrolling or a tap."""
    page = phone.new_page()
    page.goto(base + path_of(scanned(site / "T" / tag / "label.png")))
    symbol, name, _ = RESINS[tag]
    for words in (page.locator(".made-of .letters"), page.get_by_role("link", name=name, exact=True).first):
        box = words.bounding_box()
        assert box is not None
        assert 0 <= box["y"] < box["y"] + box["height"] <= 844
    assert page.locator(".made-of .letters").inner_text() == symbol


def test_the_page_names_the_resin_that_was_worked_out(demo: Path, phone: Any, base: str) -> None:
    """The resins on each open tag's page are those of the records, worked out without the page."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    book = work_out(shop)
    page = phone.new_page()
    of_batch = {life.item: life.tag for life in book.lives.values() if life.open}
    for item, tag in of_batch.items():
        stream = book.items[item].stream.value
        page.goto(f"{base}T/{tag}", wait_until="commit")
        shown = page.locator(".made-of").inner_text()
        wanted = [resin for resin in stream.resins if resin] if stream else []
        assert [resin for resin in wanted if resin not in shown] == [], tag


def test_from_a_scan_to_bringing_it_back(site: Path, phone: Any, base: str) -> None:
    """One tap on "Bring back" shows when and where, and a letter with the number in it."""
    page = phone.new_page()
    page.goto(base + path_of(scanned(site / "T" / PLANTER / "label.png")))
    page.get_by_role("navigation", name="What now").get_by_role("link", name="Bring back").click()
    back = page.locator("#back")
    until(page, "document.querySelector('#back').getBoundingClientRect().top < innerHeight")
    assert "Tuesday evenings from six to eight" in back.inner_text()
    letter = back.get_by_role("link").first.get_attribute("href")
    assert letter.startswith("mailto:yard@reedmouth.example?subject=")
    assert PLANTER in letter


@pytest.mark.parametrize("tag", RESINS)
def test_the_other_language_is_one_tap_away(phone: Any, base: str, tag: str) -> None:
    """French and back again, and it stays the same thing."""
    page = phone.new_page()
    page.goto(f"{base}T/{tag}")
    page.get_by_role("link", name="Français").click()
    page.wait_for_url(f"**/T/{tag}/FR/**")
    assert page.locator("html").get_attribute("lang") == "fr"
    assert RESINS[tag][2] in page.locator(".made-of").inner_text().lower()
    page.get_by_role("link", name="English").click()
    page.wait_for_url(f"**/T/{tag}/index.html")
    assert page.locator("html").get_attribute("lang") == "en"


def test_a_mistyped_address_is_helped(phone: Any, base: str) -> None:
    """An address that was never issued answers 404 with the nearest number, which leads to its page."""
    page = phone.new_page()
    answer = page.goto(f"{base}T/{MISTYPED}")
    assert answer.status == 404
    page.locator("#answers a", has_text=PLANTER).click()
    page.wait_for_url(f"**/T/{PLANTER}/**")
    assert page.locator("main .no").first.inner_text() == PLANTER


def test_a_mistyped_address_is_helped_without_scripts(chrome: Any, base: str) -> None:
    """Without JavaScript the page for what is missing still says how a number looks and leads to all of them."""
    context = chrome.new_context(java_script_enabled=False)
    page = context.new_page()
    assert page.goto(f"{base}T/{MISTYPED}").status == 404
    assert PLANTER in page.locator("main").inner_text()
    page.get_by_role("link", name="All tags").first.click()
    page.get_by_role("link", name=re.compile(PLANTER)).first.wait_for()
    context.close()


def asked_for(page: Any, base: str, typed: str) -> None:
    """Type into the search box of the first page and press the button."""
    page.goto(base)
    page.get_by_role("searchbox").fill(typed)
    page.get_by_role("button", name="Find").click()


@pytest.mark.parametrize("typed", [MISTYPED, "RY-2222Q", "RY-2222Q2", "22222Q"])
def test_search_offers_the_right_number_for_a_mistyped_one(phone: Any, base: str, typed: str) -> None:
    """A number with a wrong, missing, swapped or unwritten character offers the one that was meant."""
    page = phone.new_page()
    asked_for(page, base, typed)
    page.locator("#answers a", has_text=PLANTER).click()
    page.wait_for_url(f"**/T/{PLANTER}/**")


@pytest.mark.parametrize("typed", [PLANTER, "ry-22222q", " RY 22222 Q "])
def test_search_goes_to_a_sloppily_typed_number(phone: Any, base: str, typed: str) -> None:
    """A right number in small letters or with spaces leads straight to its page."""
    page = phone.new_page()
    asked_for(page, base, typed)
    page.wait_for_url(f"**/T/{PLANTER}/**")


def test_a_destroyed_thing_still_answers(phone: Any, base: str) -> None:
    """The tag of a thing that is gone opens a page that says so, with what became of it."""
    page = phone.new_page()
    assert page.goto(f"{base}T/{GONE}").status == 200
    words = page.locator("main").inner_text()
    assert GONE in words
    assert "Went under a digger" in words


def test_no_page_complains_or_asks_another_host(phone: Any, base: str) -> None:
    """On a walk over one page of each kind the console stays empty and no request leaves this machine."""
    page = phone.new_page()
    wrong: list[str] = []
    page.on("console", lambda message: wrong.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: wrong.append(f"script: {error}"))
    page.on("request", lambda r: None if r.url.startswith((base, "data:")) else wrong.append(f"asked: {r.url}"))
    page.on("response", lambda r: wrong.append(f"{r.status}: {r.url}") if r.status >= 400 else None)
    page.on("dialog", lambda dialog: wrong.append(f"dialog: {dialog.message}"))
    for path in WALK:
        page.goto(base + path, wait_until="load")
    page.wait_for_load_state("networkidle")
    assert wrong == []


def test_a_page_once_seen_opens_where_there_is_no_signal(site: Path, phone: Any) -> None:
    """With the server gone, a page seen before reloads whole, styled, under the address that was scanned."""
    server, address = listening(site)
    page = phone.new_page()
    page.goto(f"{address}T/{PLANTER}")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until(page, f"caches.match('/T/{PLANTER}/').then(kept => !!kept)")
    until(page, "caches.match('/style.css').then(kept => !!kept)")
    server.shutdown()
    server.server_close()
    for path in (f"T/{PLANTER}", f"T/{PLANTER}/", f"T/{PLANTER}/index.html"):
        page.goto(address + path)
        assert page.locator(".made-of .letters").inner_text() == RESINS[PLANTER][0]
        assert page.evaluate("document.styleSheets[0].cssRules.length") > 10


@pytest.mark.parametrize("tag", [PLANTER, POT, BIRD_BOX, GONE])
@pytest.mark.parametrize("lang", ["", "FR/"])
def test_a_passport_fits_on_paper(phone: Any, base: str, tag: str, lang: str) -> None:
    """Printed on A4, a passport takes one sheet."""
    page = phone.new_page()
    page.goto(f"{base}T/{tag}/{lang}")
    printed = page.pdf(format="A4")
    sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", printed))
    assert sheets == SHEETS
