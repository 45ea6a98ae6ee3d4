"""Honest words and safe goods on the built demo and on pages of records that went wrong."""

from __future__ import annotations

import copy
import dataclasses
import json
import math
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import html5lib
import pytest
from yard import done, run

from passport.massflow import Share, of_item, of_plastic
from passport.pages.labelling import card_text, label_text
from passport.pages.lot import lot_view
from passport.pages.places import method_view
from passport.pages.plan import scribes
from passport.pages.render import Renderer
from passport.pages.schema_org import lot_document, thing_document
from passport.pages.scribe import Scribe
from passport.pages.sheet import sheet_view
from passport.pages.tag import tag_view
from passport.pages.theme import load_theme
from passport.pages.views import PassportView
from passport.reading.decode import adapter
from passport.reading.folder import read_shop
from passport.reading.records import AnyEvent, ClaimAllowed, SubstanceTest, UseTest
from passport.reading.shop import Shop
from passport.verdicts.book import Book, work_out

ROOT = Path(__file__).resolve().parents[2]
Page = ET.Element
BLOCKS = frozenset({"li", "p", "td", "th", "dd", "dt", "figcaption", "summary", "h1", "h2", "h3", "title", "caption"})
PERCENT = re.compile(r"(\d+(?:[.,]\d+)?)[\s\u00a0\u202f]*%")
RECYCLED = re.compile(r"recycl", re.IGNORECASE)
"""Recycled, recyclable, recyclé, recyclage: in both languages."""


# --- every page of the built demo -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def pages(demo: Path) -> dict[str, Page]:
    """Every page of the built demo as a tree, by its folder."""
    site = demo / "site"
    trees = {}
    for file in sorted(site.rglob("*.html")):
        text = file.read_text(encoding="utf-8")
        builder = html5lib.getTreeBuilder("etree")
        trees[file.parent.relative_to(site).as_posix()] = html5lib.HTMLParser(
            builder, namespaceHTMLElements=False
        ).parse(text)
    return trees


@pytest.fixture(scope="module")
def book(demo: Path) -> Book:
    """The demo, worked out."""
    shop, _ = read_shop(demo / "content")
    assert shop is not None
    return work_out(shop)


def said(element: Page) -> str:
    """All words of an element, drawings and scripts left out."""
    if not isinstance(element.tag, str) or element.tag in ("script", "svg", "style"):
        return ""
    return (element.text or "") + "".join(said(child) + (child.tail or "") for child in element)


def beside_recycled(page: Page) -> Iterator[tuple[str, str]]:
    """Every percentage in a block with a word of recycling, or in a column of a table that has one in its head."""
    for element in page.iter():
        if element.tag in BLOCKS and not any(child.tag in BLOCKS for child in element.iter() if child is not element):
            words = said(element)
            if RECYCLED.search(words):
                yield from ((number, words) for number in PERCENT.findall(words))
    for table in page.iter("table"):
        heads = [said(cell) for cell in table.iter("th") if cell.get("scope") == "col"]
        columns = [i for i, head in enumerate(heads) if RECYCLED.search(head)]
        for row in table.iter("tr"):
            cells = [cell for cell in row if cell.tag in ("td", "th")]
            for i in columns:
                if i < len(cells) and cells[i].tag == "td":
                    yield from ((number, said(cells[i])) for number in PERCENT.findall(said(cells[i])))


def nodes_of(book: Book, folder: str) -> tuple[str, ...]:
    """The lots or batches that a page speaks of: none for pages about the whole workshop."""
    kind, _, name = folder.removesuffix("/FR").partition("/")
    if kind in ("T", "H") and name in book.lives:
        return (book.lives[name].item,)
    if kind == "L" and name in book.shop.lots:
        return (name,)
    if kind == "P" and name in book.shop.products:
        return tuple(item.id for item in book.shop.items.values() if item.product == name)
    return ()


def origins(book: Book, node: str) -> Iterator[Share]:
    """The shares of recycled material that the mass balance gives for a node."""
    yield of_plastic(book.ledger, node)
    yield of_plastic(book.ledger, node, post_consumer_only=True)
    whole = of_item(book.ledger, node) if node in book.shop.items else None
    if whole is not None:
        yield whole


def floor_of(share: Share) -> int:
    """N of "at least N %": floor of X - 1.645 u (JCGM 106:2012, clause 8); all only where all of it is."""
    if share.low == 1:
        return 100
    return max(0, min(99, math.floor((share.low - Fraction("1.645") * Fraction(share.u or 0)) * 100)))


def is_computed(book: Book, number: str, nodes: tuple[str, ...]) -> bool:
    """Whether a printed percentage is a floor of the book's, one of its values, or the 99 of a doubtful whole."""
    value = Fraction(number.replace(",", "."))
    for node in nodes:
        for share in origins(book, node):
            exact = [100 * v for v in (share.value, share.low, share.high)]
            if value in (floor_of(share), min(99, floor_of(share))) or any(
                abs(value - v) <= Fraction(1, 20) for v in exact
            ):
                return True
    return False


def test_no_percentage_beside_recycled_without_its_origin(pages: dict[str, Page], book: Book) -> None:
    """On every page, each percentage beside a word of recycling is one that the mass balance gives for that thing."""
    met, made_up = 0, []
    for folder, page in pages.items():
        nodes = nodes_of(book, folder)
        for number, words in beside_recycled(page):
            met += 1
            if not is_computed(book, number, nodes):
                made_up.append((folder, number, words[:80]))
    assert met > 600
    assert made_up == []


STATEMENT = {
    "en": (r"At least \d+\s%|\d+\s%", "of the plastic", "by mass", "recycled", "from things used before",
           "mass balance over weighed lots", r"ISO 22095|not all known", r"records up to \d+ \w+ \d{4}"),
    "fr": (r"au moins \d+\s%|\d+\s%", r"(?:du|le) plastique", "en masse", "recyclé", "déjà utilisés",
           "bilan de masse des lots pesés", r"ISO 22095|en partie inconnues",
           r"au \d+(?:er)? \w+ \d{4}"),
}  # fmt: skip
"""What ISO 14021, 7.8 and ISO 22095 ask of a statement: share, denominator, kind, evidence, model, day."""


def test_every_statement_is_whole(pages: dict[str, Page]) -> None:
    """Where a page states a share, its sentence has share, kind, denominator, evidence, custody model and day."""
    met = 0
    for folder, page in pages.items():
        lang = "fr" if folder.endswith("FR") else "en"
        for sentence in (said(p) for p in page.iter("p") if p.get("class") == "sentence" and "%" in said(p)):
            met += 1
            missing = [part for part in STATEMENT[lang] if not re.search(part, sentence)]
            assert missing == [], (folder, sentence)
    assert met > 150


def test_every_page_with_a_share_has_its_statement(pages: dict[str, Page]) -> None:
    """No page of a thing or lot gives the large figure without the sentence under it."""
    for folder, page in pages.items():
        figures = [ul for ul in page.iter("ul") if ul.get("class") == "figures"]
        shown = any("%" in said(ul) for ul in figures)
        if shown and folder[:2] in ("T/", "L/"):
            assert any(p.get("class") == "sentence" for p in page.iter("p")), folder


def test_no_loop_of_arrows_anywhere(demo: Path) -> None:
    """The sign never stands alone (ISO 14021, 5.10); we print none at all."""
    for file in sorted((demo / "site").rglob("*")):
        if file.suffix in (".html", ".json", ".txt", ".atom", ".svg", ".css", ".js", ".csv"):
            assert not re.search(r"[\u2672-\u267d]|&#(?:97[23]\d|x267[0-9a-d]);", file.read_text(encoding="utf-8")), (
                file
            )


def test_everything_in_somebodys_hands_has_cautions_and_what_is_gone_has_none(
    pages: dict[str, Page], book: Book
) -> None:
    """Fire and dust stand on each passport; the stone of a destroyed thing warns nobody."""
    for tag, life in book.lives.items():
        cautions = [s for s in pages[f"T/{tag}"].iter("section") if s.get("id") == "cautions"]
        if not life.open:
            assert cautions == [], tag
            continue
        (words,) = map(said, cautions)
        assert "Burns and drips" in words, tag
        assert "Collect the shavings" in words, tag
        assert "ask a licensed professional" in words, tag


# --- records that went wrong ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo_shop() -> Shop:
    """The demo's records."""
    shop, _ = read_shop(ROOT / "content")
    assert shop is not None
    return shop


def scribes_of(shop: Shop) -> tuple[Scribe, Scribe, Renderer]:
    """Who writes in English and in French, and what prints it."""
    theme, _ = load_theme(("en", "fr"))
    english, french = scribes(work_out(shop), theme, {})
    return english, french, Renderer(theme)


def open_tag(scribe: Scribe, item: str) -> PassportView:
    """The page of the first thing of a batch that is in somebody's hands."""
    life = next(life for life in scribe.book.lives.values() if life.item == item and life.open)
    view = tag_view(scribe, life)
    assert isinstance(view, PassportView)
    return view


def with_event(shop: Shop, **event: object) -> Shop:
    """The demo with one thing more that happened."""
    happened = adapter(AnyEvent).validate_python({"file": "events/x.yaml", "number": 0, "date": "2026-10-17", **event})
    return dataclasses.replace(shop, events=(*shop.events, happened))


@pytest.fixture(scope="module")
def refused(demo_shop: Shop) -> tuple[Scribe, Scribe, Renderer]:
    """The demo on the day when the flake behind the last planters is refused."""
    return scribes_of(with_event(demo_shop, lot="SH-011", event="refused", because="Report 26-1"))


def test_refused_comes_before_everything(refused: tuple[Scribe, Scribe, Renderer]) -> None:
    """A thing made of a refused lot says so first, belongs in no stream, and is not to be used."""
    english, french, renderer = refused
    view = open_tag(english, "PL-2026-10")
    assert [notice.title for notice in view.notices] == ["Not to be handed on"]
    assert view.notices[0].text == (
        "It holds material of SH-011, which was refused. Do not use it; bring it back to Reedmouth Yard."
    )
    assert (view.single_stream.text, view.single_stream.tone) == ("No", "mind")
    assert (view.now.text, view.now.tone) == ("Do not use it", "mind")
    html = renderer.page(view)
    assert html.index("Not to be handed on") < html.index("Made of") < html.index("Recycled content")
    assert open_tag(french, "PL-2026-10").notices[0].title == "À ne pas transmettre"


def test_refused_goods_have_one_taker(refused: tuple[Scribe, Scribe, Renderer]) -> None:
    """Nobody is told to mend them, to ask the recycling site, or to put them with their resin."""
    end = open_tag(refused[0], "PL-2026-10").end_of_life
    assert end.mend == ()
    assert [taker.text for taker in end.takers] == ["keep it out of every stream; bring it back to Reedmouth Yard"]
    assert end.parts[0].goes_to == "apart; ask Reedmouth Yard"


def test_the_owners_sheet_of_refused_goods_says_the_same(refused: tuple[Scribe, Scribe, Renderer]) -> None:
    """What to do at the end is: nothing but bring it back."""
    english = refused[0]
    life = next(life for life in english.book.lives.values() if life.item == "PL-2026-10" and life.open)
    sheet = sheet_view(english, life)
    assert sheet is not None
    assert [notice.title for notice in sheet.notices][:1] == ["Not to be handed on"]
    assert (sheet.stream.text, sheet.stream.tone) == ("No", "mind")
    assert len(sheet.takers) == 1


def test_a_label_of_refused_goods_says_to_bring_them_back(refused: tuple[Scribe, Scribe, Renderer]) -> None:
    """The one sentence that still helps when the website is gone."""
    english = refused[0]
    life = next(life for life in english.book.lives.values() if life.item == "PL-2026-10")
    assert label_text(english, life).sentence == "Do not use it or give it on. Bring it back to Reedmouth Yard."


def test_data_say_that_they_are_refused(refused: tuple[Scribe, Scribe, Renderer]) -> None:
    """Another program meets the word beside the verdict on streams: in the thing's JSON and the lot's."""
    english = refused[0]
    life = next(life for life in english.book.lives.values() if life.item == "PL-2026-10")
    assert json.loads(thing_document(english, life))["release"] == "refused"
    assert json.loads(lot_document(english, "BAR-003"))["release"] == "refused"
    assert json.loads(lot_document(english, "BAR-002"))["release"] == "free"


def test_other_things_stay_as_they_were(refused: tuple[Scribe, Scribe, Renderer]) -> None:
    """A refusal reaches what holds the lot and nothing else."""
    view = open_tag(refused[0], "PL-2025-10")
    assert view.notices == ()
    assert view.single_stream.text.startswith("Yes")


def test_held_is_a_wait_and_no_verdict(demo_shop: Shop) -> None:
    """What waits for an answer is set aside; its resin is still named."""
    english, _, _ = scribes_of(with_event(demo_shop, lot="SH-011", event="held", because="Report to come"))
    view = open_tag(english, "PL-2026-10")
    assert [notice.title for notice in view.notices] == ["On hold"]
    assert (view.single_stream.text, view.now.text) == ("Not yet", "Set it aside")


def with_figure(shop: Shop, lot: str, substance: str, mg_per_kg: str) -> Shop:
    """The demo with a laboratory's figure for one lot."""
    tree = {"test": "substance", "substance": substance, "mg_per_kg": mg_per_kg, "document": "Report 26-2"}
    test = adapter(SubstanceTest).validate_python(tree)
    return dataclasses.replace(shop, lots={**shop.lots, lot: changed(shop.lots[lot], "evidence", test)})


def changed(record: object, field: str, *more: object) -> Any:
    """A record with more in one of its lists: records are read from text, so a copy is changed in place."""
    other = copy.copy(record)
    object.__setattr__(other, field, (*getattr(record, field), *more))
    return other


def test_above_a_limit_comes_first_with_figure_limit_and_law(demo_shop: Shop) -> None:
    """The page of the thing and of the lot name what was found and what is allowed; check says the same."""
    english, _, _ = scribes_of(with_figure(demo_shop, "SH-007", "cadmium", "150"))
    view = open_tag(english, "PT-2026-02")
    assert [notice.title for notice in view.notices] == ["Above a limit in law"]
    assert view.doubts[0].text == (
        "Cd in SH-007: 150 mg/kg, where 100 mg/kg is the limit on 2026-02-14: (EC) 1907/2006, XVII 23."
    )
    card = dict(card_text(english, english.book.shop.lots["SH-007"]).facts)
    assert card["Melt"] == "204 to 260 °C, never above 280 °C"
    assert [
        (p.about, p.code) for p in english.book.problems if p.code == "substance-above" and p.about[:2] == "PT"
    ] == [
        ("PT-2026-02", "substance-above"),
        ("PT-2026-07", "substance-above"),
    ]


def test_a_lot_shows_its_figure_against_the_limit(demo_shop: Shop) -> None:
    """The refused orange crates of the demo: 210 mg/kg of cadmium in PE-HD, of which the law's list does not speak."""
    english, french, _ = scribes_of(demo_shop)
    lot = demo_shop.lots["HD-002"]
    (row,) = (row for row in lot_view(english, lot).facts if row.label == "Cadmium")
    assert row.value == "210 mg/kg, the county laboratory, Report 24-118"
    assert row.note == (
        "above 100 mg/kg, a limit that does not hold for this (Regulation (EC) 1907/2006, Annex XVII, entry 23)"
    )
    assert [row.note for row in lot_view(french, lot).facts if row.label == "Cadmium"] == [
        "au-dessus de 100 mg/kg, limite qui ne vaut pas pour ceci (règlement (CE) 1907/2006, annexe XVII, entrée 23)"
    ]


def test_the_working_side_of_a_lot_says_how_hot_and_what_to_mind(demo_shop: Shop) -> None:
    """Flake in stock: melt range, fume, spills, fire; a lot that is used up says nothing more."""
    english, _, _ = scribes_of(demo_shop)
    said_of = " ".join(c.text for c in lot_view(english, demo_shop.lots["SH-007"]).cautions)
    for part in ("never above 280 °C", "formaldehyde", "out of the drain", "Small stacks"):
        assert part in said_of
    assert lot_view(english, demo_shop.lots["BL-001"]).cautions == ()


def test_material_against_its_use_is_a_doubt_on_the_page(demo_shop: Shop) -> None:
    """Planters of crates that belonged to a closed loop say so, and carry the caution; boards do not say it."""
    crates = copy.copy(demo_shop.streams["QUAY-CRATES"])
    object.__setattr__(crates, "closed_loop", True)
    english, _, _ = scribes_of(dataclasses.replace(demo_shop, streams={**demo_shop.streams, "QUAY-CRATES": crates}))
    planter, board = open_tag(english, "PL-2026-06"), open_tag(english, "EB-2025-07")
    said_of = "Part of its material speaks against what it is meant for."
    assert said_of in [doubt.text for doubt in planter.doubts]
    assert said_of not in [doubt.text for doubt in board.doubts]
    for page in (planter, board):
        assert any("crates of a closed loop" in caution.why for caution in page.cautions)


def test_evidence_for_a_use_stands_on_the_page(demo_shop: Shop) -> None:
    """Standard, laboratory and report; and the caution that it makes untrue is gone."""
    test = adapter(UseTest).validate_python(
        {"use": "seating", "standard": "EN 581-2:2015", "document": "Report 26-3", "laboratory": "the chair laboratory"}
    )
    bench = changed(demo_shop.products["BENCH"], "tested_for", test)
    english, _, _ = scribes_of(dataclasses.replace(demo_shop, products={**demo_shop.products, "BENCH": bench}))
    view = open_tag(english, "BE-2026-08")
    (row,) = (row for row in view.facts if row.label == "Tested for")
    assert row.value == "sitting: EN 581-2:2015, the chair laboratory, Report 26-3"
    assert not any("not tested to a standard" in caution.text for caution in view.cautions)


def test_exceptions_stand_on_their_pages_and_on_the_method_page(demo_shop: Shop) -> None:
    """Words, reason and paper, on the pages of that product alone."""
    allowed = adapter(ClaimAllowed).validate_python(
        {
            "words": "long-lasting",
            "where": "products/bench",
            "because": {"en": "It is guaranteed."},
            "evidence": "Paper 4",
        }
    )
    workshop = changed(demo_shop.workshop, "claims_allowed", allowed)
    english, _, renderer = scribes_of(dataclasses.replace(demo_shop, workshop=workshop))
    sentence = "“long-lasting”: It is guaranteed (Paper 4)"
    assert [one.text for one in open_tag(english, "BE-2026-08").exceptions] == [sentence]
    assert open_tag(english, "PL-2026-10").exceptions == ()
    assert sentence in renderer.page(method_view(english))


# --- at the bench ---------------------------------------------------------------------------------------


def test_blend_and_identify_end_with_what_to_mind(tmp_path: Path) -> None:
    """Melt range, fume and spills with a blend; for PVC that it is not melted here."""
    shutil.copytree(ROOT / "content", tmp_path / "content")
    blend = done("blend", "--want", "10 kg", "--resin", "PP", "--folder", tmp_path)
    for part in ("never above 280 °C", "formaldehyde", "out of the drain", "licensed professionals come first"):
        assert part in blend
    identified = done("identify", "IN-009", "--folder", tmp_path)
    assert "PVC-U is not melted here: overheated it gives off hydrogen chloride" in identified
    assert "°C" not in identified.partition("mind")[2]


# --- check, publish and labels --------------------------------------------------------------------------


def test_a_banned_word_stops_page_and_label_but_no_weighing(tmp_path: Path) -> None:
    """Nothing is published or printed, check names the place and the better sentence, and balances still work."""
    shutil.copytree(ROOT / "content", tmp_path / "content")
    planter = tmp_path / "content" / "products" / "planter.yaml"
    planter.write_text(planter.read_text(encoding="utf-8") + "notes: {en: An eco-friendly box.}\n", encoding="utf-8")
    for command in (("publish",), ("labels", "--all"), ("check",)):
        ended = run(*command, "--folder", tmp_path)
        assert ended.exit_code == 1, command
        assert 'error claim-vague: met "eco-friendly", wanted other words' in ended.output, command
        assert "say the fact instead: of its plastic, at least " in ended.output, command
    assert not (tmp_path / "site").exists()
    assert run("masses", "--folder", tmp_path).exit_code == 0


# --- nothing of private/ --------------------------------------------------------------------------------

SPY = """
import sys
met = []
def hook(event, args):
    if event in ("open", "shutil.copyfile", "os.rename", "os.link"):
        met.extend(str(a) for a in args if isinstance(a, (str, bytes)) and "yard/private/" in str(a))
sys.addaudithook(hook)
from passport.commands.main import passport
for line in sys.argv[1].split(";"):
    try:
        passport.main(args=line.split(), prog_name="passport", standalone_mode=False)
    except SystemExit as end:
        assert not end.code, (line, end.code)
print("SPIED", met, file=sys.stderr)
"""


@pytest.fixture(scope="module")
def with_secrets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A started folder with private records beside content/."""
    folder = tmp_path_factory.mktemp("secrets")
    top = folder / "yard"
    done("start", top)
    (top / "private").mkdir(exist_ok=True)
    for name in ("IN-001.yaml", "POT-001.yaml"):
        (top / "private" / name).write_text("name: SECRETPERSON\ntelephone: 087 000 0000\n", encoding="utf-8")
    return top


COMMANDS = (
    "check", "tag POT-001 --on 2026-02-01", "masses", "publish", "labels --all", "labels --all --kind plate", "deposit",
)  # fmt: skip


def test_nothing_that_gives_anything_out_opens_private(with_secrets: Path) -> None:
    """An audit hook of the interpreter sees every file opened: none of private/, by check, labels, publish, deposit."""
    lines = ";".join(f"{command} --folder {with_secrets}" for command in COMMANDS)
    ended = subprocess.run(
        [sys.executable, "-c", SPY, lines],
        env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    assert "SPIED []" in ended.stderr


def test_the_spy_would_see_it(with_secrets: Path) -> None:
    """The hook is no blind one: a deposit that is told to take a private record in is seen to open it."""
    name = next((with_secrets / "private").glob("*.yaml")).stem
    ended = subprocess.run(
        [sys.executable, "-c", SPY, f"deposit --private {name} --to {with_secrets / 'out'} --folder {with_secrets}"],
        env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert "SPIED []" not in ended.stderr
    assert f"private/{name}.yaml" in ended.stderr


def test_no_secret_leaves(with_secrets: Path) -> None:
    """After all those commands no file outside private/ holds a word of it."""
    made = [f for f in with_secrets.rglob("*") if f.is_file() and "private" not in f.parts and "out" not in f.parts]
    assert any(f.suffix == ".html" for f in made)
    for file in made:
        assert b"SECRETPERSON" not in file.read_bytes(), file


def test_findings_are_json_for_other_programs(tmp_path: Path) -> None:
    """As `check --json`: place, code, level of a finding on wording."""
    shutil.copytree(ROOT / "content", tmp_path / "content")
    gate = tmp_path / "content" / "streams" / "gate.yaml"
    gate.write_text(
        gate.read_text(encoding="utf-8").replace("Left at the gate", "Zero waste at the gate"), encoding="utf-8"
    )
    ended = run("check", "--json", "--folder", tmp_path)
    (found,) = (each for each in json.loads(ended.stdout) if each["code"] == "claim-absolute")
    assert (found["level"], found["file"], found["line"], found["column"]) == (
        "error",
        "content/streams/gate.yaml",
        1,
        13,
    )
