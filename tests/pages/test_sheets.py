"""The end-of-life sheet: what it says for each kind of thing, in both languages, and in which order."""

from __future__ import annotations

import dataclasses
import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from shops_in_code import SCALES, received, result, run, shop

from passport.pages.pieces import Said
from passport.pages.render import Renderer
from passport.pages.scribe import Scribe
from passport.pages.sheet import sheet_view
from passport.pages.tag import tag_view
from passport.pages.theme import load_theme
from passport.pages.views import PassportView, SheetView, TombstoneView
from passport.reading.decode import adapter
from passport.reading.records import Product, Recall, Stream, Workshop
from passport.verdicts.book import Book, work_out

THEME, _ = load_theme(["en", "fr"])
PP = {"evidence": [{"test": "ftir", "reads": "PP", "match": "95 %"}], "form": "sheets"}
PE = {"evidence": [{"test": "nir", "reads": "PE-HD", "pieces": "20", "drawn": "random"}], "form": "sheets"}
NOBODY_KNOWS = {"form": "sheets"}
STEEL = {"what": "steel screws", "material": "steel", "mass": "20 g each", "joined": "screwed", "tool": "PZ2"}
WORKSHOP = {
    "name": "Reedmouth Yard",
    "prefix": "RY",
    "languages": ["en", "fr"],
    "contact": "yard@reedmouth.example",
    "address": "https://pass.reedmouth.example",
    "scales": SCALES,
}
BOX = {
    "id": "PLANTER",
    "title": "Planter",
    "made_for": "plants",
    "mend": "The roof can be had alone.",
    "take_apart": [
        {"step": "Undo the roof", "tool": "PZ2", "frees": "roof"},
        {"step": "Turn it over", "tool": "hands"},
    ],
}
LEAD = {"R": {"date": "2026-06-01", "lot": "A", "reason": "Lead in the white", "because_of": "Report 7"}}
OLD = adapter(Stream).validate_python(
    {"id": "POST", "title": "old", "origin": "post-consumer", "made_before": "2001-01-01"}
)


def yard(*, roof: dict[str, Any] = PP, steel: bool = False, joined: str = "screwed", **more: Any) -> Book:
    """A box of 1.6 kg body (PP) and 0.4 kg roof."""
    lots = {"A": received("10 kg", **PP), "B": received("10 kg", **roof)} | more.pop("lots", {})
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": "2 kg each",
        "parts": [
            {"part": "body", "mass": "1.6 kg", "joined": joined, "draws": [{"lot": "A", "mass": "1.6 kg"}]},
            {"part": "roof", "mass": "0.4 kg", "joined": joined, "draws": [{"lot": "B", "mass": "0.4 kg"}]},
        ],
        "hardware": [STEEL] if steel else [],
    }
    recalls = {k: adapter(Recall).validate_python({"id": k, **v}) for k, v in more.pop("recalls", {}).items()}
    old, size, tags = more.pop("old", False), more.pop("size", ""), more.pop("tags", {"RY-22222Q": "I"})
    built = shop(lots=lots, items={"I": item}, tags=tags, **more)
    workshop = adapter(Workshop).validate_python(WORKSHOP | ({"largest_piece": size} if size else {}))
    product = adapter(Product).validate_python(BOX)
    streams = {**built.streams, "POST": OLD} if old else built.streams
    return work_out(
        dataclasses.replace(built, workshop=workshop, recalls=recalls, streams=streams, products={"PLANTER": product})
    )


def scribe(book: Book, lang: str = "en") -> Scribe:
    """Who writes in a language."""
    return Scribe(book=book, words=THEME.words[lang], first="en")


def sheet(book: Book, lang: str = "en", tag: str = "RY-22222Q") -> SheetView:
    """The sheet of the thing."""
    view = sheet_view(scribe(book, lang), book.lives[tag])
    assert isinstance(view, SheetView)
    return view


def lines(said: tuple[Said, ...]) -> str:
    """All points of a list."""
    return " | ".join(point.text for point in said)


def test_one_stream_can_go_round_whole() -> None:
    """PP throughout: whole, as PP, with no other plastic; the question for another taker names it."""
    view = sheet(yard())
    assert (view.stream.text, view.stream.tone) == ("One stream", "good")
    assert view.stream.detail == "all of its plastic is PP: whole, it can go round again"
    assert 'Otherwise ask your local recycling site: "Do you take rigid PP?"' in lines(view.takers)
    assert "Do not put it with other plastics than PP." in lines(view.never)


def test_what_must_come_off_first_is_named() -> None:
    """One resin and steel screws: one stream without the screws."""
    view = sheet(yard(steel=True))
    assert view.stream.text == "One stream, without the steel screws"
    assert [(p.name, p.material, p.goes_to) for p in view.parts][-1] == ("steel screws", "steel", "with scrap metal")


def test_several_parts_go_each_by_itself() -> None:
    """PP body, PE-HD roof: two lines with their masses and places, and never together again."""
    view = sheet(yard(roof=PE))
    assert (view.stream.text, view.stream.detail) == ("Several streams", "PP and PE-HD come apart; each goes by itself")
    assert [(p.name, p.material, p.mass, p.goes_to) for p in view.parts] == [
        ("body", "PP", "1.6\u00a0kg", "with PP only"),
        ("roof", "PE-HD", "400\u00a0g", "with PE-HD only"),
    ]
    assert view.total == "2.0\u00a0kg"
    assert "whether they take rigid PP and PE-HD, each by itself" in lines(view.takers)
    assert "Do not put its parts together again; each resin goes by itself." in lines(view.never)


def test_a_mixture_that_does_not_part_is_no_stream() -> None:
    """Glued PP and PE-HD: whole and by itself; the question asks for mixed plastic."""
    view = sheet(yard(roof=PE, joined="glued"))
    assert (view.stream.text, view.stream.tone) == ("No stream", "mind")
    assert "Where do I take mixed rigid plastic?" in lines(view.takers)
    assert "Do not put it with sorted plastic." in lines(view.never)


def test_an_unproven_thing_stays_whole_and_apart() -> None:
    """Nobody tested the roof: no resin is named anywhere on the sheet, and no spare of a like resin is offered."""
    view = sheet(yard(roof=NOBODY_KNOWS))
    assert view.stream.text == "Not proven"
    assert {p.material for p in view.parts} == {"Resin not established"}
    assert "Otherwise keep it apart and ask your local recycling site" in lines(view.takers)
    assert "PP" not in lines(view.takers) + lines(view.never) + view.stream.detail


@pytest.mark.parametrize(("lang", "words"), [("en", "Do not cut it."), ("fr", "Ne le coupez pas.")])
@pytest.mark.parametrize("made", [{"recalls": LEAD}, {"old": True}], ids=["recalled", "old additives"])
def test_what_may_hold_old_additives_is_not_cut(made: dict[str, Any], lang: str, words: str) -> None:
    """A notice first, no size to cut to, no word on shavings, and the taker is told; so says the passport too."""
    book = yard(size="400 mm", **made)
    view = sheet(book, lang)
    assert len(view.notices) == 1
    assert words in lines(view.prepare)
    assert "400 mm" not in lines(view.prepare)
    assert len(view.takers) == 3
    passport = tag_view(scribe(book, lang), book.lives["RY-22222Q"])
    assert isinstance(passport, PassportView)
    assert words in lines(passport.end_of_life.prepare)
    assert "400 mm" in lines(sheet(yard(size="400 mm"), lang).prepare)


def test_the_size_to_cut_to_and_the_shavings() -> None:
    """The workshop's own size where it says one; else the owner asks before sawing."""
    told, untold = lines(sheet(yard(size="400 × 120 mm")).prepare), lines(sheet(yard()).prepare)
    assert "into pieces of 400 × 120 mm at most" in told
    assert "ask Reedmouth Yard before you saw it" in untold
    for said in (told, untold):
        assert "Gather the shavings in a bag" in said
        assert said.startswith("Rinse off soil")


def test_mending_comes_first_with_the_sources_of_parts() -> None:
    """The first question is whether it can be mended; each part says which lot a new one would come from."""
    view = sheet(yard(roof=PE, steel=True))
    assert [said.text for said in view.mend] == [
        "Can it be mended? A new part keeps all the rest in use.",
        "The roof can be had alone.",
    ]
    assert [(row.label, row.value, row.href) for row in view.spares] == [
        ("body", "A, which it was made from: 8.4\u00a0kg left", "/L/A/"),
        ("roof", "B, which it was made from: 9.6\u00a0kg left", "/L/B/"),
        ("steel", "steel screws: any shop for screws; undone with PZ2", ""),
    ]


def test_the_order_on_paper_is_mend_apart_hand_in_never() -> None:
    """Notice, what it is, mend, take apart in order with the tool, where it goes, prepare, takers, never."""
    book = yard(recalls=LEAD)
    page = Renderer(THEME).page(sheet(book))
    text = re.sub(r"<[^>]+>", " ", page[page.index("<main") :])
    marks = [
        "Lead in the white",
        "RY-22222Q",
        "Can it be mended?",
        "Undo the roof",
        "PZ2",
        "frees: roof",
        "Turn it over",
    ]
    marks += ["What goes where", "Before you hand it in", "Who takes it", "Never", "Bring it back"]
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)


@pytest.mark.parametrize("lang", ["en", "fr"])
def test_the_letter_carries_tag_and_mark(lang: str) -> None:
    """Subject and body name the tag, the body the marking; an unproven thing says that instead of a mark."""
    for book, mark in ((yard(), ">PP(REC100)<"), (yard(roof=NOBODY_KNOWS), THEME.words[lang]("tell.unproven"))):
        view = sheet(book, lang)
        assert view.bring_back is not None
        assert view.bring_back.message is not None
        parts = urlsplit(view.bring_back.message.mailto)
        said = parse_qs(parts.query)
        assert parts.path == "yard@reedmouth.example"
        assert "RY-22222Q" in said["subject"][0]
        assert "RY-22222Q" in said["body"][0]
        assert mark in said["body"][0]


def test_the_sheet_of_a_mended_thing_is_its_own() -> None:
    """A roof of PP in place of PE-HD: one stream, and the passport says what the repair kept in use."""
    lots = {"OLD": result("REP", "0.4 kg", date="2026-08-01")}
    new, old = {"lot": "A", "mass": "0.5 kg"}, {"tag": "RY-22222Q", "part": "roof", "mass": "0.4 kg"}
    book = yard(roof=PE, lots=lots, runs={"REP": run(new, old, operation="repair", date="2026-08-01")})
    view = sheet(book)
    assert view.stream.text == "One stream"
    assert [p.mass for p in view.parts] == ["1.6\u00a0kg", "500\u00a0g"]
    passport = tag_view(scribe(book), book.lives["RY-22222Q"])
    assert isinstance(passport, PassportView)
    (row,) = [fact for fact in passport.facts if fact.label.startswith("Mended on")]
    assert (row.label, row.value) == (
        "Mended on 1 August 2026",
        "roof replaced: 500\u00a0g put in, 400\u00a0g taken out.",
    )
    assert row.note == "1.6\u00a0kg of plastic stayed in use; a new one takes 2.0\u00a0kg."
    assert passport.material.symbol == "PP"


def test_what_is_gone_says_so_at_its_short_address() -> None:
    """Destroyed: a stone at /H/TAG/, with the same words as at /T/TAG/."""
    book = yard(events=[{"date": "2026-06-01", "tag": "RY-22222Q", "event": "destroyed"}])
    stone, page = (view(scribe(book), book.lives["RY-22222Q"]) for view in (sheet_view, tag_view))
    assert isinstance(stone, TombstoneView)
    assert isinstance(page, TombstoneView)
    assert (stone.frame.path, page.frame.path) == ("/H/RY-22222Q/", "/T/RY-22222Q/")
    assert stone.text == page.text


def test_the_address_of_a_product_record_is_not_needed() -> None:
    """A product without steps or words on mending still has a whole sheet."""
    book = yard()
    bare = adapter(Product).validate_python({"id": "PLANTER", "title": "Planter", "made_for": "plants"})
    view = sheet(work_out(dataclasses.replace(book.shop, products={"PLANTER": bare})))
    assert view.take_apart == ()
    assert "Reedmouth Yard can tell you which bars or screws fit." in lines(view.mend)
    assert Renderer(THEME).page(view)
