"""From the scan of a label to the message that hands the thing back: the built demo in a real browser."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
import zxingcpp
from PIL import Image

from passport.preview import server_for
from passport.reading.folder import read_shop
from passport.tags.address import LONGEST_AT_3_Q, sheet_payload, tag_payload
from passport.tags.symbol import Symbol, symbol_for

PLANTER, MENDED, RECALLED, GONE = "RY-22222Q", "RY-2223C2", "RY-2222U5", "RY-2222PF"
"""Things of the demo: sound; with a new roof; of recalled trays; destroyed."""
MARKS = {PLANTER: ">PE-HD(REC98)<", MENDED: ">PP< >PE-HD<"}
ADDRESS = "https://pass.reedmouth.example"
browser_test = pytest.mark.browser


@pytest.fixture(scope="module")
def site(demo: Path) -> Path:
    """The built demo."""
    return demo / "site"


@pytest.fixture(scope="module")
def base(site: Path) -> Iterator[str]:
    """The address of the served site."""
    server = server_for(site)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://localhost:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture
def phone(chrome: Any) -> Iterator[Any]:
    """A phone's browser with nothing remembered and no script: every step must work as it stands."""
    context = chrome.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=False)
    context.set_default_timeout(20_000)
    yield context
    context.close()


def read(picture: Image.Image) -> str:
    """What a telephone reads: the one symbol, by zxing-cpp."""
    (found,) = zxingcpp.read_barcodes(picture.convert("L"))
    return found.text


def drawn(symbol: Symbol, module_px: int = 6, quiet: int = 4) -> Image.Image:
    """The symbol in black on white with its quiet zone."""
    side = len(symbol.modules)
    flat = Image.new("L", (side, side))
    flat.putdata([0 if dark else 255 for row in symbol.modules for dark in row])
    large = flat.resize((side * module_px,) * 2, Image.Resampling.NEAREST)
    whole = Image.new("L", ((side + 2 * quiet) * module_px,) * 2, 255)
    whole.paste(large, (quiet * module_px,) * 2)
    return whole


def path_of(payload: str) -> str:
    """The path of an address, without its leading slash."""
    return urlsplit(payload).path.lstrip("/")


def message(href: str) -> tuple[str, str, str]:
    """To whom, subject and body of a mail link (RFC 6068)."""
    parts = urlsplit(href)
    assert parts.scheme == "mailto"
    said = parse_qs(parts.query, strict_parsing=True)
    return parts.path, said["subject"][0], said["body"][0]


@browser_test
@pytest.mark.parametrize(("lang", "have"), [("", "Write that you have it"), ("fr", "Écrire que vous l’avez")])
@pytest.mark.parametrize("tag", MARKS)
def test_from_the_scan_to_the_message(site: Path, phone: Any, base: str, tag: str, lang: str, have: str) -> None:
    """Scan, passport, bring back, the sheet, the letter: it names tag and mark, and no step needs a script or form."""
    page = phone.new_page()
    with Image.open(site / "T" / tag / "label.png") as label:
        page.goto(base + path_of(read(label)))
    if lang:
        page.locator(f".mast a[hreflang={lang}]").click()
    page.locator(".doors a[href='#back']").click()
    page.locator("#back a.go").click()
    assert urlsplit(page.url).path.startswith(f"/H/{tag}/")
    assert page.locator("main .no").first.inner_text() == tag
    letter = page.get_by_role("link", name=have).first
    to, subject, body = message(letter.get_attribute("href"))
    assert to == "yard@reedmouth.example"
    assert tag in subject
    assert tag in body
    assert MARKS[tag] in body
    assert page.locator("form:visible, iframe, object, embed").count() == 0


@browser_test
def test_the_letter_is_in_sight_at_once(phone: Any, base: str) -> None:
    """On a phone the sheet's first screen says what the thing is and holds the button of the letter."""
    page = phone.new_page()
    page.goto(f"{base}H/{PLANTER}/index.html")
    for thing in (page.locator(".made-of .letters"), page.locator("a.button").first):
        box = thing.bounding_box()
        assert box is not None
        assert 0 <= box["y"] < box["y"] + box["height"] <= 844


@browser_test
def test_a_recalled_thing_says_so_first(phone: Any, base: str) -> None:
    """On its passport and on its sheet the recall stands above all else, and leads to the list."""
    page = phone.new_page()
    for kind in ("T", "H"):
        page.goto(f"{base}{kind}/{RECALLED}/index.html")
        notice = page.locator("main .notice").first
        assert "bromine" in notice.inner_text()
        assert notice.bounding_box()["y"] < page.locator("main h1").bounding_box()["y"]
    notice.get_by_role("link").click()
    assert page.locator("#RC-003").inner_text().upper().startswith("RC-003: LOT IN-006")


@browser_test
@pytest.mark.parametrize("tag", [PLANTER, MENDED, RECALLED])
@pytest.mark.parametrize("lang", ["", "FR/"])
def test_a_sheet_is_one_sheet_of_paper(phone: Any, base: str, tag: str, lang: str) -> None:
    """A4, one page, in both languages (PDF 1.7, ISO 32000-1, 7.7.3.2: a page tree says how many leaves it has)."""
    page = phone.new_page()
    page.goto(f"{base}H/{tag}/{lang}index.html")
    pdf = page.pdf(format="A4", prefer_css_page_size=True)
    assert max(int(n) for n in re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", pdf)) == 1


def test_the_short_address_is_as_short_as_a_tags(demo: Path) -> None:
    """A sheet's address fits the symbol of a passport's: version 3 at level Q, read back by another decoder."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    for entry in shop.issued[::7]:
        address = sheet_payload(ADDRESS, entry.tag)
        assert len(address) == len(tag_payload(ADDRESS, entry.tag)) <= LONGEST_AT_3_Q
        symbol = symbol_for(address)
        assert (symbol.version, symbol.level) == (3, "Q")
        assert read(drawn(symbol)) == address


def test_every_number_ever_given_out_has_an_answer_at_its_short_address(demo: Path) -> None:
    """Open things have a sheet; what is gone has the page that says so, at both addresses and in both languages."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    for entry in shop.issued:
        folder = demo / "site" / path_of(sheet_payload(ADDRESS, entry.tag))
        for page in (folder / "index.html", folder / "FR" / "index.html"):
            assert entry.tag in page.read_text(encoding="utf-8")
    gone = (demo / "site/H" / GONE / "index.html").read_text(encoding="utf-8")
    assert "The thing with this tag is no more." in gone
    assert "mailto:" not in gone
