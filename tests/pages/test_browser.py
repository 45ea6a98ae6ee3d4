"""The pages in a real browser: no error, no foreign request, no accessibility violation, search, offline, paper."""

from __future__ import annotations

import http.server
import io
import os
import shutil
import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from page_samples import TAG, Sample

from passport.pages.extras import Findable, find_file, find_index, static_files
from passport.pages.render import Renderer, file_of
from passport.pages.theme import load_theme

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
REQUIRED = bool(os.environ.get("CI"))
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="no chromium on this machine"),
]
DRAWN = '<svg xmlns="http://www.w3.org/2000/svg" width="354" height="354"><path d="M9 9h90v90H9z"/></svg>'


class Served(http.server.SimpleHTTPRequestHandler):
    """Answers as a plain static host does: folders by their index, 404.html for what is not there."""

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:  # noqa: ARG002
        """The site's own page for what is missing."""
        body = (Path(self.directory) / "404.html").read_bytes()
        self.send_response(code)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample pages as files."""
    folder = tmp_path_factory.mktemp("site")
    theme, _ = load_theme(["en", "fr"])
    renderer = Renderer(theme)
    files = static_files(theme, "Reedmouth Yard", "en")
    for lang in ("en", "fr"):
        views = Sample(lang).views()
        files |= {file_of(view.frame.path): renderer.page(view) for view in views}
        tags = [Findable(id=v.tag, name=v.frame.title, path=v.frame.path) for v in views if hasattr(v, "tag")]
        files[find_file(lang)] = find_index(tags)
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "labels").mkdir()
    (folder / "labels" / f"{TAG}.png").write_text(DRAWN)
    return folder


@pytest.fixture(scope="module")
def base(site: Path) -> Iterator[str]:
    """Address of the served site."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(Served, directory=str(site)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def browser() -> Iterator[playwright.Browser]:
    """One headless chromium."""
    with playwright.sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield started
        started.close()


@pytest.fixture
def phone(browser: playwright.Browser) -> Iterator[playwright.BrowserContext]:
    """A phone's window with nothing remembered."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    yield context
    context.close()


KINDS = {
    "/": "log",
    f"/T/{TAG}/": "passport",
    "/T/RY-2222A5/": "two resins",
    "/T/RY-2222BQ/": "unproven",
    "/T/RY-2222CX/": "recall",
    "/T/RY-2222DG/": "gone",
    "/L/SH-021/": "lot",
    "/S/HARBOUR-CRATES/": "stream",
    "/R/PP/": "resin",
    "/P/PLANTER/": "product",
    "/T/": "list",
    f"/H/{TAG}/": "end of life",
    "/recalls/": "recalls",
    "/found/": "found",
    "/method/": "method",
    "/404.html": "not found",
    f"/T/{TAG}/FR/": "French",
}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_no_accessibility_violation(browser: playwright.Browser, base: str, width: int, scheme: str) -> None:
    """Axe finds nothing against WCAG 2.2 AA on any kind of page, with all its folds open."""
    run = pytest.importorskip("axe_playwright_python", reason="axe is not installed")
    script = next(Path(run.__file__).parent.rglob("axe.min.js")).read_text(encoding="utf-8")
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        color_scheme=scheme,
        bypass_csp=True,
        service_workers="block",
    )
    page = context.new_page()
    found = []
    for path in KINDS:
        page.goto(base + file_of(path))
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        page.evaluate(script)
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
        result = page.evaluate("tags => axe.run({runOnly: tags})", tags)
        found += [(path, v["id"], v["nodes"][0]["html"]) for v in result["violations"]]
    context.close()
    assert found == []


def test_no_error_and_no_foreign_request(phone: playwright.BrowserContext, base: str) -> None:
    """No page writes to the console, asks another host or fails to load a file of its own."""
    page = phone.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda r: None if r.url.startswith((base, "data:")) else said.append(r.url))
    page.on("response", lambda r: said.append(r.url) if r.status >= 400 else None)
    for path in KINDS:
        page.goto(base + file_of(path), wait_until="networkidle")
    assert said == []


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_runs_off_the_side(browser: playwright.Browser, base: str, width: int) -> None:
    """Pages reflow at 320 px (WCAG 2.2, 1.4.10) and above."""
    context = browser.new_context(viewport={"width": width, "height": 700})
    page = context.new_page()
    wide = []
    for path in KINDS:
        page.goto(base + file_of(path))
        if page.evaluate("document.documentElement.scrollWidth") > width:
            wide.append(path)
    context.close()
    assert wide == []


@pytest.mark.parametrize("path", [f"/T/{TAG}/", "/T/RY-2222A5/", "/T/RY-2222BQ/", f"/T/{TAG}/FR/"])
def test_first_screen_answers(phone: playwright.BrowserContext, base: str, path: str) -> None:
    """Without scrolling, a phone shows what it is, whether it is one stream, and what to do now."""
    page = phone.new_page()
    page.goto(base + file_of(path))
    bottoms = page.eval_on_selector_all(".three dd", "all => all.map(e => e.getBoundingClientRect().bottom)")
    assert len(bottoms) == 3
    assert max(bottoms) <= 844


def test_from_scan_to_bring_back(phone: playwright.BrowserContext, base: str) -> None:
    """The scanned address opens the page; one tap leads to when and where, and to a letter with the number."""
    page = phone.new_page()
    page.goto(f"{base}T/{TAG}/")
    page.get_by_role("link", name="Bring back").click()
    assert page.locator("#back .when").is_visible()
    href = page.get_by_role("link", name="Write to the yard").get_attribute("href")
    assert str(href).startswith("mailto:")
    assert TAG in str(href)


def test_language_switch(phone: playwright.BrowserContext, base: str) -> None:
    """One tap changes the language and stays with the thing."""
    page = phone.new_page()
    page.goto(f"{base}T/{TAG}/")
    page.get_by_role("link", name="Français").click()
    assert page.locator("h1").inner_text() == "JARDINIÈRE"


@pytest.mark.parametrize("typed", ["RY-22224N", "ry22224m ", "RY-22242M", "RY-2224M"])
def test_search_forgives(phone: playwright.BrowserContext, base: str, typed: str) -> None:
    """A number typed with a mistake offers the nearest issued one; a sloppy right one goes there."""
    page = phone.new_page()
    page.goto(base + "index.html")
    page.get_by_role("searchbox").fill(typed)
    page.get_by_role("button", name="Find").click()
    if typed.strip().upper().replace("-", "") != TAG.replace("-", ""):
        page.locator("#answers a").first.click()
    page.wait_for_url(f"**/T/{TAG}/index.html")


def test_a_slip_is_named(phone: playwright.BrowserContext, base: str) -> None:
    """The check character tells a slip of the pen from a number that was never given out."""
    page = phone.new_page()
    page.goto(base + "index.html")
    page.get_by_role("searchbox").fill("RY-22224N")
    page.keyboard.press("Enter")
    page.locator("#answers a").first.wait_for()
    assert "slip of the pen" in page.locator("#answers").inner_text()


def test_search_by_name(phone: playwright.BrowserContext, base: str) -> None:
    """Names are found by a part of them, accents or none."""
    page = phone.new_page()
    page.goto(base + "FR/index.html")
    page.get_by_role("searchbox").fill("jardiniere")
    page.keyboard.press("Enter")
    page.locator("#answers a").first.wait_for()
    assert page.locator("#answers a").count() >= 2


def test_a_mistyped_address_is_helped(phone: playwright.BrowserContext, base: str) -> None:
    """The page for what is missing offers the tags near the address that was typed."""
    page = phone.new_page()
    page.goto(f"{base}T/ry-22224n")
    page.locator("#answers a").first.click()
    page.wait_for_url(f"**/T/{TAG}/index.html")


def test_works_without_scripts(browser: playwright.Browser, base: str) -> None:
    """Without scripts the list leads to the page, and no dead search box shows."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(base + "index.html")
    assert not page.get_by_role("searchbox").is_visible()
    page.locator(".doors").get_by_role("link", name="All tags").click()
    page.get_by_role("link", name=TAG).click()
    assert urlsplit(page.url).path == f"/T/{TAG}/index.html"
    context.close()


def test_works_from_a_disk(phone: playwright.BrowserContext, site: Path) -> None:
    """Opened as a file, the site has its style and its links."""
    page = phone.new_page()
    page.goto((site / "index.html").as_uri())
    page.locator(".doors").get_by_role("link", name="All tags").click()
    page.get_by_role("link", name=TAG).click()
    assert page.locator(".card").evaluate("e => getComputedStyle(e).borderTopWidth") == "2px"


def test_answers_offline_once_seen(phone: playwright.BrowserContext, base: str) -> None:
    """A page seen once is there again without a network, by the scanned address too."""
    page = phone.new_page()
    page.goto(f"{base}T/{TAG}/")
    page.evaluate("navigator.serviceWorker.ready")
    page.wait_for_function("path => caches.match(path).then(found => !!found)", arg=f"/T/{TAG}/", timeout=10_000)
    phone.set_offline(offline=True)
    page.goto(f"{base}T/{TAG}")
    assert page.locator("h1").inner_text() == "PLANTER"
    assert page.locator(".card").evaluate("e => getComputedStyle(e).borderTopWidth") == "2px"


@pytest.mark.parametrize("path", [f"/T/{TAG}/", "/T/RY-2222A5/", f"/T/{TAG}/FR/", "/L/SH-021/"])
def test_one_sheet_of_paper(phone: playwright.BrowserContext, base: str, path: str) -> None:
    """A passport and a lot card print on one A4 page."""
    page = phone.new_page()
    page.goto(base + file_of(path))
    pdf = page.pdf(prefer_css_page_size=True)
    assert pdf.count(b"/Type /Page\n") == 1


def test_the_card_on_a_box_reads_back(phone: playwright.BrowserContext, base: str) -> None:
    """Printed, a lot's page bears its address as a code that zxing-cpp reads, and says that it is only a sample."""
    zxing = pytest.importorskip("zxingcpp", reason="zxing-cpp is not installed")
    pillow = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
    page = phone.new_page()
    page.goto(base + "L/SH-021/index.html")
    code, sample = page.locator(".code"), page.locator(".sample")
    assert (code.is_visible(), sample.is_visible()) == (False, False)
    page.emulate_media(media="print")
    assert (code.is_visible(), sample.is_visible()) == (True, True)
    picture = pillow.open(io.BytesIO(code.screenshot()))
    assert [found.text for found in zxing.read_barcodes(picture)] == ["https://PASS.REEDMOUTH.EXAMPLE/L/SH-021"]


def test_words_of_another_language_are_marked_for_the_eye(phone: playwright.BrowserContext, base: str) -> None:
    """What is not said in the page's language is followed by the language it is in."""
    page = phone.new_page()
    page.goto(f"{base}T/RY-2222BQ/FR/index.html")
    mark = "e => getComputedStyle(e, '::after').content"
    assert page.locator("main span[lang=en]").first.evaluate(mark) == '" en"'
