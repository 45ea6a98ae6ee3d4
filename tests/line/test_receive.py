"""Goods in: a sack gets its number and its record; weighed now, later, or never."""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path

import pytest
from yard import done, run, shop_of, yard

from passport.verdicts.book import work_out

ON = ("--on", "2026-02-20")


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A started folder with a public address."""
    return yard(tmp_path_factory.mktemp("base") / "yard", 2)


@pytest.fixture
def folder(base: Path, tmp_path: Path) -> Path:
    """A copy of it to work in."""
    return Path(shutil.copytree(base, tmp_path / "yard"))


def text_of(folder: Path, path: str) -> str:
    """A record as it was written."""
    return (folder / "content" / path).read_text(encoding="utf-8")


def files(folder: Path) -> dict[str, bytes]:
    """All files of the records."""
    content = folder / "content"
    return {p.relative_to(content).as_posix(): p.read_bytes() for p in content.rglob("*") if p.is_file()}


def test_all_answers_make_one_record(folder: Path) -> None:
    """Every question is an option; the record has the order in which a person would write it."""
    said = done(
        "receive", "--stream", "tubs", *ON, "--gross", "13,1", "--tare", "0.7kg", "--scale", "floor",
        "--pieces", "160", "--form", "pieces", "--moisture", "0.2 %", "--scanner", "pp", "--scanned", "20",
        "--drawn", "random", "--mark-number", "5", "--mark-letters", "PP", "--marked", "12", "--floats", "3",
        "--weathering", "none", "--colour", "white", "--kept", "loft", "--note", "rinsed", "--folder", folder,
    )  # fmt: skip
    assert text_of(folder, "lots/IN-002.yaml") == (
        "date: 2026-02-20\n"
        "received: {stream: tubs}\n"
        "gross: 13.1 kg\n"
        "tare: 0.7 kg\n"
        "scale: floor\n"
        "pieces: 160\n"
        "form: pieces\n"
        "moisture: 0.2 %\n"
        "evidence:\n"
        "- {test: nir, reads: PP, pieces: 20, drawn: random}\n"
        "- {test: moulded-mark, number: 5, letters: PP, pieces: 12, drawn: picked}\n"
        "- {test: float, liquid: water, floats: 3}\n"
        "weathering: none\n"
        "colour: white\n"
        "kept: loft\n"
        "notes: rinsed\n"
    )
    assert "left open: photo is not known: no picture on its page\n" in said
    assert run("check", "--folder", folder).exit_code == 0


def test_an_unknown_answer_says_its_cost(folder: Path) -> None:
    """Not knowing the weight is an answer: the record says so, and what it will cost is said."""
    said = done("receive", "--stream", "tubs", *ON, "--gross", "?", "--folder", folder)
    assert "mass: not weighed\n" in text_of(folder, "lots/IN-002.yaml")
    cost = "figures are withheld until it is weighed: passport receive --weigh IN-002"
    assert f"left open: gross is not known: {cost}\n" in said
    assert "passport receive --weigh IN-002    once it has been on the scale\n" in said


def test_a_net_mass_needs_no_container(folder: Path) -> None:
    """A container of 0, and --mass, both give the net mass."""
    done("receive", "--stream", "tubs", *ON, "--gross", "5", "--tare", "0", "--folder", folder)
    done("receive", "--stream", "tubs", *ON, "--mass", "5", "--folder", folder)
    assert "mass: 5 kg\n" in text_of(folder, "lots/IN-002.yaml")
    assert text_of(folder, "lots/IN-002.yaml") == text_of(folder, "lots/IN-003.yaml")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (
            ("--stream", "tub", "--mass", "5"),
            'Error: --stream: met "tub"; did you mean "tubs"?; a new one wants --origin too\n',
        ),
        (
            ("--stream", "tubs", "--mass", "5 lb"),
            (
                'Error: --mass: met "5 lb", wanted a mass with its unit, such as 42.6 kg, 42.6 ± 0.2 kg or 120 g; '
                "give kilograms or grams; 1 lb is 0.45359237 kg\n"
            ),
        ),
        (("--stream", "tubs", "--gross", "5"), "Error: --tare is wanted: And the container alone, in kg"),
        (
            ("--stream", "tubs", "--gross", "5", "--tare", "6"),
            'Error: --tare: met "6 kg", wanted less than the 5 kg of both together\n',
        ),
        (
            ("--stream", "tubs", "--scanner", "HDPE"),
            (
                'Error: --scanner: met "HDPE", wanted a resin\'s symbol such as PE-HD, PP or PET, or the words '
                "no reading; write the symbol of ISO 1043-1: PE-HD\n"
            ),
        ),
        (
            ("--stream", "tubs", "--photo", "in.jpg"),
            (
                'Error: --photo: met "in.jpg", wanted the name of a file in content/photos/; '
                "put the file there first, and name it\n"
            ),
        ),
        (
            ("--stream", "tubs", "--opening"),
            "Error: --stream, --from, --opening and --untagged exclude each other\n",
        ),
        (("IN-007", "IN-008", "--mass", "5"), "Error: a mass is of one sack; name one lot with it\n"),
    ],
)
def test_wrong_answers_end_with_2_and_write_nothing(folder: Path, options: tuple[str, ...], said: str) -> None:
    """An option that cannot be is named with what was wanted and what to do."""
    before = files(folder)
    result = run("receive", *options, *ON, "--folder", folder)
    assert result.exit_code == 2
    assert said in result.output
    assert files(folder) == before


def test_a_new_stream_comes_with_its_first_sack(folder: Path) -> None:
    """Stream and lot are written in one change, the stream's origin in the words of the standard."""
    options = ("--stream", "Crates from the quay", "--origin", "used", "--country", "ie", "--mass", "62.4")
    done("receive", *options, *ON, "--folder", folder)
    assert text_of(folder, "streams/crates-from-the-quay.yaml") == (
        "title: Crates from the quay\norigin: post-consumer\ncountry: IE\n"
    )
    assert "received: {stream: crates-from-the-quay}\n" in text_of(folder, "lots/IN-002.yaml")


def test_a_stream_is_found_by_its_words(folder: Path) -> None:
    """Small and capital letters and blanks are no reason for a second stream."""
    done("receive", "--stream", "TUBS", "--mass", "5", *ON, "--folder", folder)
    assert "received: {stream: tubs}\n" in text_of(folder, "lots/IN-002.yaml")


def test_another_workshops_lot_brings_its_paper(folder: Path, tmp_path: Path) -> None:
    """The other workshop's file is copied into the records, and its shares count."""
    paper = tmp_path / "BL-9.json"
    paper.write_text('{"origin_at_least": {"post-consumer": "0.7"}}', encoding="utf-8")
    address = "https://pass.other-workshop.ie/L/BL-9/"
    done("receive", "--from", address, "--document", paper, "--mass", "25", *ON, "--folder", folder)
    assert f"received: {{from: '{address}', document: BL-9.json}}\n" in text_of(folder, "lots/IN-002.yaml").replace(
        f"from: {address}", f"from: '{address}'"
    )
    book = work_out(shop_of(folder))
    assert book.ledger.mixtures["IN-002"].post_consumer().value == Fraction(7, 10)


def test_opening_stock_is_of_unknown_origin(folder: Path) -> None:
    """What was there on day one never counts as recycled, and its stream says why (EN 45557:2020, 5.2: unknown)."""
    for _ in range(2):
        done("receive", "--opening", "--mass", "20", *ON, "--folder", folder)
    book = work_out(shop_of(folder))
    assert text_of(folder, "streams/opening-stock.yaml").startswith("title: There before we kept records\n")
    for lot in ("IN-002", "IN-003"):
        assert book.ledger.mixtures[lot].recycled().value == 0
        assert book.ledger.mixtures[lot].share("origin", ("unknown",)).value == 1


def test_a_thing_without_its_tag_is_material_again(folder: Path) -> None:
    """It was used, so it is post-consumer material (ISO 14021:2016, 7.8.1.1 a 2), known by its own tests alone."""
    done("receive", "--untagged", "--mass", "0.4", "--scanner", "PP", "--scanned", "1", *ON, "--folder", folder)
    shop = shop_of(folder)
    assert shop.lots["IN-002"].received.stream == "CAME-BACK-UNTAGGED"
    assert work_out(shop).ledger.mixtures["IN-002"].post_consumer().value == 1


def test_a_dry_run_writes_nothing(folder: Path) -> None:
    """The record is shown, and the folder is as before."""
    before = files(folder)
    said = done("receive", "--stream", "tubs", "--mass", "5", *ON, "--dry-run", "--folder", folder)
    assert "content/lots/IN-002.yaml\n  date: 2026-02-20\n" in said
    assert said.endswith("nothing written: a dry run\n")
    assert files(folder) == before


# --- number now, weigh later ----------------------------------------------------------------------------


def test_reserved_numbers_are_given_out_once(folder: Path) -> None:
    """Two orders give different numbers, the next sack gets another one, and a card's number is filled by its sack."""
    first = done("receive", "--reserve", "2", *ON, "--folder", folder)
    second = done("receive", "--reserve", "1", *ON, "--folder", folder)
    assert first.startswith("IN-002\nIN-003\n")
    assert second.startswith("IN-004\n")
    assert "\nIN-005\n" in done("receive", "--stream", "tubs", "--mass", "5", *ON, "--folder", folder)
    done("receive", "IN-003", "--stream", "tubs", "--mass", "5", *ON, "--folder", folder)
    waiting = run("stock", "--folder", folder).output
    assert "set aside, no record yet: IN-002 and 1 more: passport receive IN-002\n" in waiting
    assert run("check", "--folder", folder).exit_code == 0


def test_a_sheet_is_typed_in_one_go(folder: Path) -> None:
    """Several numbers are asked one after the other and written together or not at all."""
    done("receive", "--reserve", "2", *ON, "--folder", folder)
    done("receive", "in-002", "IN-003", "--stream", "tubs", "--colour", "red", *ON, "--folder", folder)
    assert text_of(folder, "lots/IN-002.yaml") == text_of(folder, "lots/IN-003.yaml")
    before = files(folder)
    again = run("receive", "IN-006", "IN-003", "--stream", "tubs", *ON, "--folder", folder)
    assert again.exit_code == 1
    assert "met IN-003, which has its record already, wanted the number of a new lot\n" in again.output
    assert "hint: to weigh it: passport receive --weigh IN-003\n" in again.output
    assert files(folder) == before


def test_figures_come_with_the_weighing(folder: Path) -> None:
    """A lot taken in unweighed has no mass; weighed later it has one, and its record stays as it was written."""
    done("receive", "--stream", "tubs", "--quick", *ON, "--folder", folder)
    record = text_of(folder, "lots/IN-002.yaml")
    assert work_out(shop_of(folder)).ledger.masses["IN-002"] is None
    done("receive", "--weigh", "in-002", "--mass", "62,4", "--on", "2026-02-21", "--folder", folder)
    assert text_of(folder, "lots/IN-002.yaml") == record
    assert text_of(folder, "events/2026.yaml") == (
        "- {date: 2026-02-21, lot: IN-002, event: weighed, mass: 62.4 kg, scale: floor, because: first weighing}\n"
    )
    ledger = work_out(shop_of(folder)).ledger
    assert ledger.masses["IN-002"].value == Fraction("62.4")
    assert ledger.stock["IN-002"].adjusted_kg == 0


def test_what_was_weighed_is_not_weighed_first_again(folder: Path) -> None:
    """A second first weighing would move what came in: it is refused, with the way to weigh for the books."""
    result = run("receive", "--weigh", "IN-001", "--mass", "5", "--folder", folder)
    assert result.exit_code == 1
    assert "met IN-001, which was weighed already, wanted a lot that was not\n" in result.output
    assert "hint: to weigh it again, for the books: passport event weighed IN-001\n" in result.output


def test_cards_and_sheet_are_printed_again(folder: Path) -> None:
    """What was set aside and is not filled in is printed again, nothing else; without any, the sheet is bare."""
    bare = done("receive", "--sheet", "--folder", folder)
    assert "intake-blank.pdf\n" in bare
    assert "cards-" not in bare
    done("receive", "--reserve", "3", *ON, "--folder", folder)
    done("receive", "IN-002", "--stream", "tubs", *ON, "--folder", folder)
    again = done("receive", "--sheet", "--folder", folder)
    assert "cards-IN-003-2.pdf\n" in again
    assert "intake-IN-003-2.pdf\n" in again
