"""No figure on the demo lacks its way back: every printed share and mass is found again by `--explain`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from passport.massflow.composition import tag_node
from passport.massflow.explain import explain
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

MARKUP = re.compile(r"<[^>]+>")
SPACES = re.compile(r"\s+")


@pytest.fixture(scope="module")
def book(demo: Path) -> Book:
    """The demo, worked out."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    return work_out(shop)


def text_of(file: Path) -> str:
    """The words of a page in one line."""
    return SPACES.sub(" ", MARKUP.sub(" ", file.read_text(encoding="utf-8")))


def explained(book: Book, node: str, figure: str) -> list[str]:
    """Every value on the way back of one figure."""
    return [step.value for step in explain(book.ledger, node, figure)]


def percents(page: str) -> set[int]:
    """Every "at least N %" on a page."""
    return {int(n) for n in re.findall(r"at least (\d+)\s?%", page, re.IGNORECASE)}


def pages(demo: Path, book: Book) -> Iterator[tuple[str, str, str]]:
    """(kind, node, words) of each lot's and each standing tag's page in the first language."""
    for lot in book.ledger.shop.lots:
        yield "lot", lot, text_of(demo / "site" / "L" / lot / "index.html")
    for tag, life in book.lives.items():
        yield "tag", life.item, text_of(demo / "site" / "T" / tag / "index.html")


def section(page: str, start: str, ends: tuple[str, ...]) -> str:
    """What stands between a heading and the next one of some."""
    _, found, rest = page.partition(start)
    stops = [rest.index(end) for end in ends if end in rest]
    return rest[: min(stops)] if found and stops else rest if found else ""


def test_every_stated_share_ends_an_explanation(demo: Path, book: Book) -> None:
    """Each "at least N %" about recycled content on a lot's or thing's page is the last value of some explanation."""
    met = 0
    for kind, node, page in pages(demo, book):
        said = section(page, "Recycled content", ("What it is made of", "Care", "Where it came from", "Evidence"))
        values = " ".join([*explained(book, node, "recycled"), *explained(book, node, "post-consumer")])
        known = {int(n) for n in re.findall(r"at least (\d+) %", values)}
        assert percents(said) <= known, (kind, node, percents(said), known)
        met += len(percents(said))
    assert met > 50


def test_every_origin_resin_and_stream_has_its_way_back(book: Book) -> None:
    """Each share that a lot or batch has is explained from its streams to the same value."""
    for node, mixture in book.ledger.mixtures.items():
        for dimension in ("origin", "resin", "stream", "weathering", "melts", "lives"):
            for name, share in mixture.shares_by(dimension).items():
                last = explain(book.ledger, node, f"{dimension}:{name}")[-1]
                assert float(last.value.split(" %")[0]) == pytest.approx(float(share.value * 100), rel=1e-3), (
                    node,
                    name,
                )
                assert last.records


def test_every_mass_stock_and_balance_has_its_way_back(book: Book) -> None:
    """Masses of all lots and batches, stocks of all lots, balances of all runs: each is explained with its records."""
    for node in book.ledger.mixtures:
        assert explain(book.ledger, node, "mass")[0].records
    for lot in book.ledger.stock:
        assert explain(book.ledger, lot, "stock")[0].records
    for run in book.ledger.operations:
        assert len(explain(book.ledger, run, "closure")[0].records) >= 2


def test_a_repaired_thing_is_explained_by_its_own_node(book: Book) -> None:
    """Where a thing was repaired, its explanation begins with the material that the repair put in."""
    repaired = [tag for tag in book.lives if tag_node(tag) in book.ledger.mixing.nodes]
    for tag in repaired:
        assert explain(book.ledger, tag_node(tag), "recycled")[-1].value.startswith(("at least", "no figure"))
