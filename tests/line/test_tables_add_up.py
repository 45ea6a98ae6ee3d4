"""Tables of masses on the built demo add up as they are printed: the log's by class, and each lot's recall."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from decimal import Decimal
from pathlib import Path

import html5lib
import pytest

LANGUAGES = (("index.html", "Together", "."), ("FR/index.html", "Ensemble", ","))
BY_CLASS = 4
"""Both balances by resin and by stream."""
OUT = {"Together": "Made into things", "Ensemble": "Devenu objets"}


def rows_of(table: ET.Element) -> list[list[str]]:
    """The cells of a table as words, line by line, the head first."""
    return [["".join(cell.itertext()).strip() for cell in row] for row in table.iter("tr")]


def tables(file: Path, last: str) -> list[list[list[str]]]:
    """The tables of a page whose last line is that of the whole."""
    tree = html5lib.parse(file.read_text(encoding="utf-8"), namespaceHTMLElements=False)
    found = [rows_of(table) for table in tree.iter("table")]
    return [rows for rows in found if rows[-1][0] == last]


def by_class(file: Path, last: str) -> list[list[list[str]]]:
    """The balances by class: those tables that say what was made into things."""
    return [rows for rows in tables(file, last) if OUT[last] in rows[0]]


def number(text: str, point: str) -> Decimal:
    """A printed figure; French pages have a decimal comma."""
    plain = text.replace(point, ".").replace("\u2212", "-").replace("\u202f", "").replace("\u00a0", "")
    return Decimal(plain or "0")


@pytest.mark.parametrize(("page", "last", "point"), LANGUAGES)
def test_every_column_of_the_log_adds_up(demo: Path, page: str, last: str, point: str) -> None:
    """Each class's figures add up to the line of the whole, in both languages."""
    found = by_class(demo / "site" / page, last)
    assert len(found) == BY_CLASS
    for _, *rows in found:
        for column in zip(*(row[1:] for row in rows), strict=True):
            *parts, whole = [number(text, point) for text in column]
            assert sum(parts) == whole


@pytest.mark.parametrize(("page", "last", "point"), LANGUAGES)
def test_every_row_of_the_log_closes(demo: Path, page: str, last: str, point: str) -> None:
    """What came in is what it became in every line, the unaccounted included."""
    words = {
        "Together": ("Received", "Come back, as weighed", "Gains", "Stock corrections", "Named anew by sorting"),
        "Ensemble": ("Reçu", "Revenu, tel que pesé", "Apports", "Corrections de stock", "Renommé par le tri"),
    }[last]
    for head, *rows in by_class(demo / "site" / page, last):
        came_in = words if words[0] in head else (OUT[last],)
        for row in rows:
            figures = dict(zip(head[1:], (number(text, point) for text in row[1:]), strict=True))
            came = sum((figures.pop(word) for word in came_in if word in figures), Decimal(0))
            assert came == sum(figures.values()), row


def test_every_recall_adds_up_to_its_lot(demo: Path) -> None:
    """On each lot's page, the places of its material add up to the last line as printed."""
    met = 0
    for file in sorted((demo / "site" / "L").glob("*/index.html")):
        for _, *rows, whole in tables(file, "Together"):
            assert sum(number(row[2], ".") for row in rows) == number(whole[2], "."), file.parent.name
            met += 1
    assert met > 40
