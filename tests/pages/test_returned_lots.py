"""The page of a lot that came back, and the life of a thing in words."""

from __future__ import annotations

from typing import Any

from shops_in_code import received, result, run, shop

from passport.pages.lot import lot_view
from passport.pages.scribe import Scribe
from passport.pages.tag import tag_view
from passport.pages.theme import load_theme
from passport.pages.views import LotView, PassportView
from passport.verdicts.book import work_out

THEME, _ = load_theme(["en", "fr"])
BOX = {
    "product": "planter",
    "date": "2026-05-01",
    "count": "1",
    "mass": "1000 g",
    "scale": "bench",
    "parts": [
        {"part": "body", "mass": "800 g", "draws": [{"lot": "A", "mass": "800 g"}]},
        {"part": "lid", "mass": "200 g", "draws": [{"lot": "V", "mass": "200 g"}]},
    ],
}
OUT = {"date": "2026-06-01", "tag": "RY-1", "event": "handed-over", "place": "quay"}


def scribe(*events: dict[str, Any], lots: dict[str, Any] | None = None, **more: Any) -> Scribe:
    """A box of 800 g body (used before) and 200 g lid (new), handed over."""
    all_lots = {"A": received("10 kg"), "V": received("10 kg", "VIRGIN"), **(lots or {})}
    built = shop(lots=all_lots, items={"I": BOX}, tags={"RY-1": "I"}, events=[OUT, *events], **more)
    return Scribe(book=work_out(built), words=THEME.words["en"], first="en")


def back(mass: str, **came: Any) -> LotView:
    """The page of the lot that the box became."""
    lot = {"date": "2026-09-01", "received": {"tags": [{"tag": "RY-1", **came}]}, "mass": mass, "scale": "bench"}
    writer = scribe(lots={"BACK": lot})
    return lot_view(writer, writer.book.shop.lots["BACK"])


def facts(view: LotView) -> dict[str, tuple[str, str]]:
    """Label → value and note."""
    return {row.label: (row.value, row.note) for row in view.facts}


def test_what_left_stands_beside_what_came_back() -> None:
    """800 g of body left, 790 g came: ten grams less, and the lid is named as not back."""
    found = facts(back("790 g", not_back=["lid"]))
    assert found["Mass"][0] == "790\u00a0g"
    assert found["When it left"] == ("800\u00a0g", "10\u00a0g less came back: wear, a missing piece or another scale")
    assert found["Not come back"] == ("lid", "")


def test_more_than_left_is_soil_or_water() -> None:
    """1050 g of a box of 1000 g: said, with its difference."""
    assert facts(back("1050 g"))["When it left"][1] == "50\u00a0g more came back: soil, water or another scale"


def test_the_same_mass_needs_no_note() -> None:
    """1000 g left and came."""
    assert facts(back("1000 g"))["When it left"] == ("1.0\u00a0kg", "")


def test_lives_are_told_by_share() -> None:
    """The used body has had two lives now, the new lid one: 80 and 20 %."""
    assert facts(back("1000 g"))["Lives so far"][0] == "80.0\u00a0% 2 lives and 20.0\u00a0% 1 life"


def test_a_lot_from_a_stream_says_nothing_of_lives() -> None:
    """One life at most: no row."""
    writer = scribe()
    assert "Lives so far" not in facts(lot_view(writer, writer.book.shop.lots["A"]))


def test_a_life_tells_weathering_and_leads_to_the_old_part() -> None:
    """An inspection says what sun and frost did; a repair leads to the lot that the old part became."""
    seen = {"date": "2026-07-01", "tag": "RY-1", "event": "inspected", "condition": "sound", "weathering": "light"}
    mended = {"date": "2026-08-01", "tag": "RY-1", "event": "repaired", "run": "REP"}
    draws = ({"lot": "A", "mass": "210 g"}, {"tag": "RY-1", "part": "lid", "mass": "200 g"})
    writer = scribe(
        seen,
        mended,
        lots={"OLD": result("REP", "200 g", date="2026-08-01", scale="bench")},
        runs={"REP": run(*draws, operation="repair", date="2026-08-01", scale="bench")},
    )
    view = tag_view(writer, writer.book.lives["RY-1"])
    assert isinstance(view, PassportView)
    assert [(line.text, line.note, line.href) for line in view.life[2:]] == [
        ("Looked at: light weathering", "sound", ""),
        ("Mended", "", "/L/OLD/"),
    ]
