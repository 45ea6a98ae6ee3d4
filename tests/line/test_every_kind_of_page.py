"""One page of every kind of the built demo in a real browser: accessible, in sight, on paper."""

from __future__ import annotations

import importlib.util
import re
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from conftest import missing

from passport.pages.render import TEMPLATE_OF

BODY = re.compile(r'<body class="([^"]*)">')
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
"""With wcag22aa axe also measures targets: 24 by 24 CSS pixels (WCAG 2.2, 2.5.8)."""


WITHOUT_SAMPLE = {"list recalls", "passport end"}
"""Kinds that tests/pages/test_browser.py has no sample of: these are looked at in every way."""
LOOKED_AT = {(390, "light", "FR"), (1280, "dark", "EN")}
"""The others, of which it looks at a sample in every way, in two: the longer words where there is least room."""


class Quiet(SimpleHTTPRequestHandler):
    """A plain static host that says nothing."""

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def site(demo: Path) -> Path:
    """The built demo."""
    return demo / "site"


@pytest.fixture(scope="module")
def base(site: Path) -> Iterator[str]:
    """Where it is served."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Quiet, directory=str(site)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def kinds(site: Path) -> dict[str, str]:
    """The largest page of every kind, by the name of its body; French ones count as kinds of their own."""
    largest: dict[str, Path] = {}
    for path in sorted(site.rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        found = BODY.search(text)
        assert found is not None, path
        kind = f"{found[1]} {'FR' if 'FR' in path.parts else 'EN'}".strip()
        if kind not in largest or path.stat().st_size > largest[kind].stat().st_size:
            largest[kind] = path
    return {kind: path.relative_to(site).as_posix() for kind, path in largest.items()}


def test_the_demo_has_a_page_of_every_kind(kinds: dict[str, str]) -> None:
    """No template is without a page in the demo, so that looking at these is looking at all."""
    assert len({kind.removesuffix(" EN").removesuffix(" FR") for kind in kinds}) >= len(set(TEMPLATE_OF.values()))


@pytest.fixture(scope="module")
def axe() -> str:
    """The checker's script."""
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        missing("axe is not installed")
    return next(Path(found.origin).parent.rglob("axe.min.js")).read_text(encoding="utf-8")


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (390, "dark"), (1280, "light"), (1280, "dark")])
def test_no_violation_on_any_kind(
    chrome: Any, base: str, axe: str, kinds: dict[str, str], width: int, scheme: str
) -> None:
    """Axe finds nothing against WCAG 2.2 AA, all folds open; nothing runs off the side (1.4.10)."""
    size = {"width": width, "height": 900}
    context = chrome.new_context(viewport=size, color_scheme=scheme, bypass_csp=True, service_workers="block")
    page = context.new_page()
    found: list[object] = []
    for kind, path in kinds.items():
        alone = kind.removesuffix(" EN").removesuffix(" FR") in WITHOUT_SAMPLE
        if not alone and (width, scheme, kind[-2:]) not in LOOKED_AT:
            continue
        page.goto(base + path)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        page.evaluate(axe)
        result = page.evaluate("tags => axe.run({runOnly: tags})", WCAG)
        found += [(kind, path, v["id"], v["nodes"][0]["html"][:200]) for v in result["violations"]]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            found.append((kind, path, "wider than the window"))
    context.close()
    assert found == []


def test_every_kind_prints_without_waste(chrome: Any, base: str, kinds: dict[str, str]) -> None:
    """A passport, its sheet and a lot's card are one page of paper each, in both languages."""
    context = chrome.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
    page = context.new_page()
    pages = {}
    for kind, path in kinds.items():
        if kind.split()[0] in ("passport", "lot"):
            page.goto(base + path)
            pages[kind] = page.pdf(prefer_css_page_size=True).count(b"/Type /Page\n")
    context.close()
    assert set(pages.values()) == {1}, pages


def test_the_first_screen_answers_for_every_batch(chrome: Any, base: str, site: Path) -> None:
    """At 390 by 844, without scrolling: what it is made of, whether it is one stream, what to do now, doubts included.

    One French page a batch, the longer words; a recall or a loss stands before and leaves the answers in sight.
    """
    batches: dict[str, Path] = {}
    for path in sorted((site / "T").glob("RY-*/FR/index.html")):
        found = re.search(r'série <span class="id">([A-Z0-9-]+)<', path.read_text(encoding="utf-8"))
        if found is not None:
            batches.setdefault(found[1], path)
    context = chrome.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
    page = context.new_page()
    low = {}
    for batch, path in batches.items():
        page.goto(base + path.relative_to(site).as_posix())
        bottoms = page.eval_on_selector_all(".three dd", "all => all.map(e => e.getBoundingClientRect().bottom)")
        assert len(bottoms) == 3, path
        if max(bottoms) > 844:
            low[batch] = max(bottoms)
    context.close()
    assert len(batches) > 10
    assert low == {}
