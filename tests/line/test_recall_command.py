"""`recall`: from a lot or stream to the things, on their pages first, ended by a later record alone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from conftest import ROOT
from yard import yard

from passport.commands.main import passport
from passport.massflow import State
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out

DAY = ("--on", "2026-10-20")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A workshop of its own to write in: the demo's records."""
    shutil.copytree(ROOT / "content", tmp_path / "content")
    return tmp_path


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's records for tests that write nothing."""
    folder = tmp_path_factory.mktemp("still")
    shutil.copytree(ROOT / "content", folder / "content")
    return folder


def recall(folder: Path, *args: str) -> Result:
    """The command, where nobody is there to ask."""
    return CliRunner().invoke(passport, ["recall", *args, "--folder", str(folder)])


def done(folder: Path, *args: str) -> Result:
    """The command, which must end well."""
    result = recall(folder, *args)
    assert result.exit_code == 0, result.output
    return result


def book(folder: Path) -> Book:
    """All that the records say now."""
    shop, problems = read_shop(folder / "content")
    assert shop is not None, problems
    return work_out(shop)


def files(folder: Path) -> dict[str, bytes]:
    """Every file of the records."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_lot_is_called_back_with_its_record_and_its_things(folder: Path) -> None:
    """The record says what, why and on what ground; standard output lists the things with the last place known."""
    said = done(folder, "in-011", "--reason", "Lead in the grey", "--because-of", "Report 26-140", *DAY)
    assert (folder / "content/recalls/RC-004.yaml").read_text(encoding="utf-8") == (
        "date: 2026-10-20\nlot: IN-011\nreason: Lead in the grey\nbecause_of: Report 26-140\n"
    )
    lines = {line.split()[0]: line.split() for line in said.stdout.splitlines()}
    assert lines["RY-2223XW"][-3:] == ["handed-over", "2026-05-16", "allotments"]
    reached = {thing.life.tag for thing in book(folder).recalls["RC-004"].things}
    assert lines.keys() - {"tag"} == reached


def test_a_stream_is_called_back_in_two_languages(folder: Path) -> None:
    """All lots of the caps from the school; the reason stands in both languages of the pages."""
    words = ("--reason", "Magnets in some lids", "--reason", "fr=Des aimants dans certains couvercles")
    done(folder, "school-caps", *words, *DAY)
    called = book(folder).recalls["RC-004"]
    assert called.roots == ("IN-004",)
    assert called.recall.reason.texts == (
        ("en", "Magnets in some lids"),
        ("fr", "Des aimants dans certains couvercles"),
    )


def test_for_another_program(still: Path) -> None:
    """JSON has the lots with shares, the things with places, and the notice in each language of the pages."""
    told: dict[str, Any] = json.loads(
        done(still, "SH-010", "--reason", "Mould smell", "--json", "--dry-run", *DAY).stdout
    )
    assert (told["recall"], told["written"], told["open"]) == ("RC-004", False, True)
    assert [lot["lot"] for lot in told["lots"]] == ["SH-010", "BL-004", "RT-004"]
    assert [thing["tag"] for thing in told["things"]] == ["RY-22244E", "RY-22245C", "RY-22246A", "RY-222478"]
    # 699.598 g of 5694.598 g dry: 12.29 % of a pot of 240 g is 29.5 g
    assert (told["things"][0]["share"], told["things"][0]["mass_kg"]) == ("12.3 %", "0.029")
    assert told["notices"]["en"].startswith("Recalled: please read this first · Mould smell 12.3")
    assert sorted(told["notices"]) == ["en", "fr"]


def test_a_dry_run_writes_nothing(still: Path) -> None:
    """Not a byte of the records changes."""
    before = files(still)
    assert "nothing written: a dry run" in done(still, "IN-011", "--reason", "Lead", "--hold", "--dry-run", *DAY).stderr
    assert files(still) == before


def test_stock_is_held_with_the_recall_or_not_at_all(folder: Path) -> None:
    """What is left of a reached lot is held by the same change; used-up lots are let be."""
    done(folder, "BAR-002", "--reason", "Splits in frost", "--hold", *DAY)
    stock = book(folder).ledger.stock
    held = {lot for lot in book(folder).recalls["RC-004"].lots if stock[lot].state is State.HELD}
    assert held == {"BAR-002", "OC-009", "OB-001"}


def test_the_pages_show_it_first_until_it_is_cleared(tmp_path: Path) -> None:
    """Tag, lot and log show the reason before all else; once cleared, only their life and the list remember it."""
    folder = yard(tmp_path / "yard", 2)
    publish = ["publish", "--folder", str(folder)]
    done(folder, "SH-001", "--reason", "Smells of diesel", "--on", "2026-10-20")
    assert CliRunner().invoke(passport, publish).exit_code == 0
    site = folder / "site"
    tag = next(path.name for path in (site / "T").iterdir() if path.is_dir())
    pages = [site / name / "index.html" for name in (f"T/{tag}", f"H/{tag}", "L/SH-001", "")]
    for page in pages:
        assert "Smells of diesel" in above_the_title(page)
    assert "Recalled (RC-001): Smells of diesel" in (site / "feed.atom").read_text(encoding="utf-8")
    done(folder, "--clear", "rc-001", "--reason", "It was the van", "--on", "2026-10-21")
    assert (folder / "content/recalls/RC-001.yaml").exists()
    assert CliRunner().invoke(passport, publish).exit_code == 0
    for page in pages:
        assert "Smells of diesel" not in above_the_title(page)
    life = pages[0].read_text(encoding="utf-8")
    assert 0 < life.index("Smells of diesel") < life.index("It was the van")
    assert "ended on 21 October 2026" in (site / "recalls/index.html").read_text(encoding="utf-8")
    assert "Recall RC-001 ended: It was the van" in (site / "feed.atom").read_text(encoding="utf-8")


def above_the_title(page: Path) -> str:
    """What a reader meets before the name of the thing."""
    text = page.read_text(encoding="utf-8")
    return text[text.index("<main") : text.index("<h1")]


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("SH-0099",), 'recall: error unknown-lot: met "SH-0099", which is no lot and no stream\n'),
        (("RY-22222Q",), "recall: error tag-not-lot: met RY-22222Q, which is a tag, wanted a lot or a stream\n"),
        (("IN-006",), "recall: error recall-open: met IN-006, which RC-003 has called back already (2026-10-13)\n"),
        (("--clear", "RC-9"), 'recall: error unknown-recall: met "RC-9", which is no recall\n'),
        (("--clear", "RC-002"), 'recall: error unknown-recall: met "RC-002", which is no recall\n'),
        (("--clear", "RC-001"), "recall: error recall-ended: met RC-001, which RC-002 has ended already\n"),
    ],
)
def test_what_cannot_be_called_back_is_named(still: Path, args: tuple[str, ...], words: str) -> None:
    """The name is no lot, a tag, recalled already; the recall to end is none or has ended: nothing is written."""
    before = files(still)
    result = recall(still, *args, "--reason", "Lead", *DAY)
    assert (result.exit_code, result.stderr.startswith(words)) == (1, True), result.stderr
    assert files(still) == before


def test_an_end_before_its_beginning_is_refused_whole(still: Path) -> None:
    """The recall holds from 13 October: an end on the 12th does not read, so it never reaches the disk."""
    before = files(still)
    result = recall(still, "--clear", "RC-003", "--reason", "none", "--on", "2026-10-12")
    assert result.exit_code == 1
    assert "met RC-003 ended on 2026-10-12, wanted an end after it began (2026-10-13)" in result.stderr
    assert files(still) == before


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--reason", "x"), "name what is called back, LOT or STREAM, or --clear RECALL, one of the two"),
        (("IN-011",), "--reason is wanted: it stands first on the pages of the things"),
        (("--clear", "RC-003", "--hold", "--reason", "x"), "--hold goes with a recall"),
    ],
)
def test_wrong_use_ends_with_2(still: Path, args: tuple[str, ...], words: str) -> None:
    """What the command lacks is said, and nothing is read or written."""
    result = recall(still, *args)
    assert result.exit_code == 2
    assert words in result.stderr
