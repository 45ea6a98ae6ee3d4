"""Spreadsheets in and out: a messy table of old lots taken over, and every table written so that it comes back."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import os
import shutil
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import make_messy_sheet as messy
import openpyxl
import pytest
import walkthrough
from click.testing import CliRunner, Result
from conftest import ROOT

from passport.commands.main import passport
from passport.reading.folder import read_shop
from passport.reading.shop import Shop

CASES = Path(__file__).parent / "cases"
OLD_LOTS = CASES / "old-lots.csv"
MAPPED = ("--map", "Gewicht brutto=gross", "--map", "Gewicht tara=tare", "--series", "ALT")
WAYS = ("--dates", "dmy", "--century", "20", "--decimal", "comma")
STREAMS = ("--word", "Kaikisten=quay-crates", "--word", "Parkstühle=park-chairs")
MEANT = {
    "31.02.2022": "2022-02-28",
    "ca. 60": "60 ± 5 kg",
    "44811": "2022-09-07",
    "gestern": "2023-03-01",
    "zwölf": "12",
    "quai-crates": "quay-crates",
    "12 lbs": "5.44 kg",
}
MENDED = [part for text, word in MEANT.items() for part in ("--word", f"{text}={word}")]
HARMLESS = (102, 111)
"""Slips that cost nothing: a sack without a number gets the next free one, marks between thousands are told."""
WITHOUT = "21,48,63,138,145,153,168,175,183,205,212"
"""Rows that no word can mend: ids that are there twice or are none, and what only the sack can tell."""


def run(*args: str | Path) -> Result:
    """A command of this program, where nobody is there to ask."""
    return CliRunner().invoke(passport, [*map(str, args)])


def shop_of(folder: Path) -> Shop:
    """The records of a folder, in which nothing is an error."""
    shop, _ = read_shop(folder / "content")
    assert shop is not None
    return shop


def files_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A workshop of its own to write in: the demo's records."""
    shutil.copytree(ROOT / "content", tmp_path / "yard" / "content")
    return tmp_path / "yard"


# --- a messy table ------------------------------------------------------------------------------------


def test_the_messy_table_is_what_its_maker_makes() -> None:
    """The case can be made anew, byte for byte."""
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\r\n").writerows(messy.rows())
    assert OLD_LOTS.read_bytes() == out.getvalue().encode("cp1252")


def test_columns_that_nobody_explained_are_asked_for_first(folder: Path) -> None:
    """Where nobody is there to answer, the option is named; nothing is written, and nothing of a plan is kept."""
    before = files_of(folder)
    done = run("import", "lots", OLD_LOTS, "--folder", folder)
    assert done.exit_code == 1
    assert [line for line in done.stderr.splitlines() if " error " in line] == [
        'old-lots.csv:4:3: error unknown-column: met the column "Gewicht brutto (kg)" (C), wanted one that is known',
        'old-lots.csv:4:4: error unknown-column: met the column "Gewicht tara (kg)" (D), wanted one that is known',
    ]
    assert files_of(folder) == before


@pytest.mark.parametrize(
    ("options", "expected"),
    [((), "old-lots-at-first.txt"), ((*WAYS, *STREAMS), "old-lots-when-told.txt")],
)
def test_every_problem_is_named_by_row_and_column(folder: Path, options: tuple[str, ...], expected: str) -> None:
    """The whole list, first with nothing told, then with what holds for all rows told; nothing is written."""
    before = files_of(folder / "content")
    done = run("import", "lots", OLD_LOTS, *MAPPED, *options, "--folder", folder)
    assert done.exit_code == 1
    assert done.stderr == (CASES / expected).read_text(encoding="utf-8")
    assert files_of(folder / "content") == before


def test_the_first_list_names_every_cell_that_could_be_two_things() -> None:
    """Days, years, masses and streams that need a word, and the slips: by cell, worked out from the table's maker."""
    text = (CASES / "old-lots-at-first.txt").read_text(encoding="utf-8")
    named = {tuple(map(int, line.split(":")[1:3])) for line in text.splitlines() if " error " in line}
    row_of = {number: place for place, row in enumerate(messy.rows(), start=1) for number in lots_of(row)}
    assert len(row_of) == messy.LOTS
    open_cells = {(row_of[number], column) for number in row_of for column in open_columns(number)}
    slips = {(row_of[number], FIELDS.index(name) + 1) for number, slip in messy.SLIPS.items() for name in slip}
    # the next free number; the gross without a tare is named instead; one way to read it, while nobody has said more
    harmless = {(row_of[102], 1), (row_of[126], 4), (row_of[170], 2)}
    assert named == (open_cells | slips | {(row_of[126], 3)}) - harmless


FIELDS = ("nr", "date", "gross", "tare", "stream", "pieces", "colour", "moisture", "note")


def lots_of(row: list[str]) -> list[int]:
    """The lot that a row is of, if it is of one."""
    return [number for number in range(1, messy.LOTS + 1) if row == messy.row(number)]


def open_columns(number: int) -> list[int]:
    """The columns of a lot's row that mean nothing, or two things, as long as nobody has said more."""
    day, slip = messy.meant(number)[0], messy.SLIPS.get(number, {})
    two_days = number % 6 == 3 and day.day <= 12 and day.day != day.month
    found = {
        "date": two_days or number % 6 == 5,
        "gross": number % 4 == 3,
        "stream": number % 5 in (1, 2),
    }
    return [FIELDS.index(name) + 1 for name, is_open in found.items() if is_open and name not in slip]


def test_the_list_names_every_slip_and_no_other_row() -> None:
    """What the maker of the table did wrong on purpose is found, lot by lot, and nothing else is."""
    text = (CASES / "old-lots-when-told.txt").read_text(encoding="utf-8")
    named = {int(line.split(":")[1]) for line in text.splitlines() if " error " in line}
    rows = dict(enumerate(messy.rows(), start=1))
    slipped = {number for number, row in rows.items() if row in [messy.row(lot) for lot in messy.SLIPS]}
    harmless = {number for number, row in rows.items() if row in [messy.row(lot) for lot in HARMLESS]}
    assert named == slipped - harmless


def test_mended_by_options_the_table_is_taken_over(folder: Path) -> None:
    """Day and net mass of each lot are those that its maker meant, worked out apart from the program."""
    done = run(
        *("import", "lots", OLD_LOTS, *MAPPED, *WAYS, *STREAMS, *MENDED),
        *("--without", WITHOUT, "--yes", "--folder", folder),
    )
    assert done.exit_code == 0, done.stderr
    assert "old-lots.csv: 189 new lots\n" in done.stderr
    shop, told_apart = shop_of(folder), set()
    with (CASES / "old-lots-meant.csv").open(encoding="utf-8") as opened:
        for row in csv.DictReader(opened):
            lot = shop.lots.get(f"ALT-{int(row['number']):03}")
            if lot is None or int(row["number"]) in messy.SLIPS:
                told_apart.add(int(row["number"]))
                continue
            assert (lot.date.isoformat(), lot.gross.mass_kg - lot.tare.mass_kg) == (row["day"], Decimal(row["net_kg"]))
    assert told_apart == set(messy.SLIPS)
    assert shop.lots["ALT-201"].date == messy.meant(102)[0]


def test_the_same_table_again_changes_nothing(folder: Path) -> None:
    """Every row is there already, also the one that got its number from the program."""
    words = ("import", "lots", OLD_LOTS, *MAPPED, *WAYS, *STREAMS, *MENDED, "--without", WITHOUT, "--yes")
    assert run(*words, "--folder", folder).exit_code == 0
    before = files_of(folder)
    again = run(*words, "--folder", folder)
    assert again.stderr.endswith("old-lots.csv: 0 new lots, 189 there already\nnothing to write\n"), again.stderr
    assert files_of(folder) == before


def test_the_plan_is_kept_and_told_no_more(folder: Path, tmp_path: Path) -> None:
    """What was said once is in a small file beside the records; another table of the kind is read by it."""
    one = tmp_path / "one.csv"
    one.write_text("Sack;Kam am;Wiegt\nA-1;05/03/2024;62,4\n", encoding="utf-8")
    said = ("--map", "Kam am=date", "--map", "Wiegt=mass", "--unit", "Wiegt=kg", "--dates", "dmy")
    fill = ("--fill", "received.stream=gate", "--fill", "notes=a = b")
    assert run("import", "lots", one, *said, *fill, "--yes", "--folder", folder).exit_code == 0
    assert (folder / "spreadsheets.yaml").read_text(encoding="utf-8") == (
        "# How tables are read, by kind: made by `passport import`, and yours to edit.\n"
        "lots:\n"
        "  columns:\n"
        "    Kam am: date\n"
        "    Wiegt: mass\n"
        "  units:\n"
        "    Wiegt: kg\n"
        "  dates: day-first\n"
        "  fill:\n"
        "    received.stream: gate\n"
        "    notes: a = b\n"
    )
    two = tmp_path / "two.csv"
    two.write_text("Sack;Kam am;Wiegt\nA-2;06/03/2024;7,5\n", encoding="utf-8")
    assert run("import", "lots", two, "--yes", "--folder", folder).exit_code == 0
    assert (folder / "content/lots/A-2.yaml").read_text(encoding="utf-8") == (
        "date: 2024-03-06\nreceived: {stream: gate}\nmass: 7.5 kg\nnotes: a = b\n"
    )


def test_a_plan_with_a_slip_has_its_place(folder: Path, tmp_path: Path) -> None:
    """The file may be edited by hand, so its problems are those of any record."""
    (folder / "spreadsheets.yaml").write_text("lots:\n  date: dmy\n", encoding="utf-8")
    table = tmp_path / "t.csv"
    table.write_text("id,date\nA-1,2024-03-05\n", encoding="utf-8")
    done = run("import", "lots", table, "--folder", folder)
    assert done.exit_code == 1
    assert done.stderr == (
        'spreadsheets.yaml:2:3: error unknown-field: met the field "date", wanted one that this record can have\n'
        "      date: dmy\n"
        "      ^\n"
        '    hint: did you mean "dates"?\n'
        "1 error\n"
    )


def test_columns_are_asked_for_at_a_terminal(folder: Path, tmp_path: Path) -> None:
    """A person is asked for each column that is not known, and for the order of days; the answers are kept."""
    (tmp_path / "t.csv").write_text("Sack;Kam am\nA-1;05/03/2024\n", encoding="utf-8")
    fill = ["--fill", "received.stream=gate", "--fill", "mass=not weighed"]
    step = walkthrough.Step(
        command="import",
        lines=(
            'Which field is the column "Kam am" (B), such as "05/03/2024"? [-] date',
            "In days like 03/04/2026, what comes first? day-first",
            "Write this [Y/n]: y",
        ),
    )
    command = [sys.executable, "-m", "passport", "import", "lots", "t.csv", *fill, "--folder", str(folder)]
    code, shown = walkthrough.play(step, command, tmp_path, os.environ | {"PYTHONPATH": str(ROOT), "TERM": "dumb"})
    assert code == 0, shown
    assert (folder / "content/lots/A-1.yaml").read_text(encoding="utf-8") == (
        "date: 2024-03-05\nreceived: {stream: gate}\nmass: not weighed\n"
    )
    assert "Kam am: date" in (folder / "spreadsheets.yaml").read_text(encoding="utf-8")


STREAMS_TABLE = "Sack;Date;From;Mass (kg)\n1;2024-03-05;Kaikisten;2\n2;2024-03-06;Gâte;3\n3;2024-03-06;Kaikisten;4\n"


def test_streams_are_set_up_with_the_lots_that_name_them(folder: Path, tmp_path: Path) -> None:
    """One word says where the material of all new ones is from; they are called what the table calls them."""
    (tmp_path / "t.csv").write_text(STREAMS_TABLE, encoding="utf-8")
    words = ("import", "lots", tmp_path / "t.csv", "--map", "From=received.stream", "--series", "ALT", "--yes")
    refused = run(*words, "--folder", folder)
    say = 'say which it is with --word "Kaikisten=STREAM", or set new ones up with --new-streams'
    hints = [line for line in refused.stderr.splitlines() if "hint" in line]
    assert hints == [f'    hint: C{row}, under "From": {say}' for row in (2, 4)]
    done = run(*words, "--new-streams", "post-consumer", "--folder", folder)
    assert done.exit_code == 0, done.stderr
    path = folder / "content/streams/kaikisten.yaml"
    assert path.read_text(encoding="utf-8") == "title: Kaikisten\norigin: post-consumer\n"
    assert [shop_of(folder).lots[f"ALT-00{n}"].received.stream for n in (1, 2, 3)] == ["KAIKISTEN", "GATE", "KAIKISTEN"]


def test_streams_are_asked_for_at_a_terminal(folder: Path, tmp_path: Path) -> None:
    """Each once, with how many rows name it: one that is there, or a new one and where it is from."""
    (tmp_path / "t.csv").write_text(STREAMS_TABLE.replace("Gâte", "Strandgut"), encoding="utf-8")
    step = walkthrough.Step(
        command="import",
        lines=(
            'Which stream is "Kaikisten" (2 rows)? [new] quay-crates',
            'Which stream is "Strandgut" (1 row)? [strand] new',
            "  Was Strandgut used, left over, new, additive or unknown? [unknown] used",
            "Write this [Y/n]: y",
        ),
    )
    args = ["import", "lots", "t.csv", "--map", "From=received.stream", "--series", "ALT", "--folder", str(folder)]
    env = os.environ | {"PYTHONPATH": str(ROOT), "TERM": "dumb"}
    code, shown = walkthrough.play(step, [sys.executable, "-m", "passport", *args], tmp_path, env)
    assert code == 0, shown
    lots = shop_of(folder).lots
    assert [lots[f"ALT-00{n}"].received.stream for n in (1, 2, 3)] == ["QUAY-CRATES", "STRANDGUT", "QUAY-CRATES"]
    assert "Kaikisten: quay-crates" in (folder / "spreadsheets.yaml").read_text(encoding="utf-8")


def test_a_dry_run_shows_every_record_and_writes_nothing(folder: Path, tmp_path: Path) -> None:
    """Not even the plan is kept."""
    rows = "".join(f"A-{n},2024-03-05,gate,{n} kg\n" for n in range(1, 21))
    (tmp_path / "t.csv").write_text(f"id,date,stream,mass\n{rows}", encoding="utf-8")
    before = files_of(folder)
    done = run("import", "lots", tmp_path / "t.csv", "--century", "20", "--dry-run", "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert all(f"content/lots/A-{n}.yaml\n" in done.stderr for n in range(1, 21))
    assert done.stderr.endswith("nothing written: a dry run\n")
    assert files_of(folder) == before


def test_another_program_is_told_the_same(folder: Path, tmp_path: Path) -> None:
    """`--json` says what would be written and what is wrong, by row and column, and writes nothing."""
    text = "id,date,stream,mass\nA-1,2024-03-05,gate,1 kg\nA-2,2024-03-05,gaate,2 kg\nA-3,05/03/2024,gate,2 kg\n"
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    before = files_of(folder)
    done = run("import", "lots", tmp_path / "t.csv", "--json", "--folder", folder)
    told = json.loads(done.stdout)
    assert done.exit_code == 1
    assert [(p["line"], p["column"], p["code"]) for p in told["problems"]] == [
        (3, 3, "unknown-stream"),
        (4, 2, "bad-date"),
    ]
    assert told["new"][0] == {
        "table": "lots",
        "row": 2,
        "id": "A-1",
        "fields": {"date": "2024-03-05", "received": {"stream": "gate"}, "mass": "1 kg"},
    }
    assert files_of(folder) == before


def test_cells_without_a_heading_do_not_hide_other_problems(folder: Path, tmp_path: Path) -> None:
    """Every problem of a table is named in one go, whatever kind it is of."""
    (tmp_path / "t.csv").write_text("id,date,stream,mass\nA-1,2024-03-05,gate,1 kg,x\nA-2,soon,gate,2 kg\n")
    done = run("import", "lots", tmp_path / "t.csv", "--folder", folder)
    assert [line.split(":")[1:4] for line in done.stderr.splitlines() if " error " in line] == [
        ["2", "5", " error cell-without-heading"],
        ["3", "2", " error bad-date"],
    ]


def test_what_is_wrong_between_records_has_its_cell_too(folder: Path, tmp_path: Path) -> None:
    """A problem that only shows beside all other records points into the table, not at a file that is not there."""
    text = "id,date,run,mass,photo\nA-1,2024-03-05,EX-001,1 kg,\nA-2,2024-03-05,EX-01,1 kg,crate.png\n"
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    done = run("import", "lots", tmp_path / "t.csv", "--yes", "--folder", folder)
    assert done.exit_code == 1
    assert done.stderr.split("\n", 1)[1] == (
        "nothing written: with this the records would not hold\n"
        't.csv:3:3: error unknown-run: met the run "EX-01", which has no record\n'
        '    hint: C3, under "run": did you mean "EX-001" or "EX-005" or "EX-004"?\n'
        't.csv:3:5: error unknown-picture: met the picture "crate.png", which is not in content/photos/\n'
        '    hint: E3, under "photo": did you mean "crates.png" or "planter.png"?\n'
        "2 errors\n"
    )


def test_a_record_that_is_there_and_says_something_else_is_not_overwritten(folder: Path, tmp_path: Path) -> None:
    """What was published is set right by a correction; the table's row has to go."""
    (tmp_path / "t.csv").write_text("id,date,stream,mass\nIN-013,2025-06-14,quay-crates,90 kg\n", encoding="utf-8")
    done = run("import", "lots", tmp_path / "t.csv", "--yes", "--folder", folder)
    assert done.exit_code == 1
    assert "t.csv:2:4: error import-differs: met `mass`, `pieces`, " in done.stderr
    assert "passport correct IN-013 mass; else leave the row out" in done.stderr


# --- events and items ---------------------------------------------------------------------------------


def test_events_are_taken_over_once(folder: Path, tmp_path: Path) -> None:
    """An event that is there already is passed over; the same twice in the table is a slip."""
    there = "2025-01-18,RY-22222Q,Handed over,school yard\n"
    new = "2026-11-02,RY-22222Q,Moved,harbour\n"
    (tmp_path / "t.csv").write_text(f"Day,Tag,What,Where\n{there}{new}", encoding="utf-8")
    done = run("import", "events", tmp_path / "t.csv", "--yes", "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert "t.csv: 1 new events, 1 there already" in done.stderr
    last = (folder / "content/events/2026.yaml").read_text(encoding="utf-8").splitlines()[-1]
    assert last == "- {date: 2026-11-02, tag: RY-22222Q, event: moved, place: harbour}"
    (tmp_path / "t.csv").write_text(f"Day,Tag,What,Where\n{new}{new.replace('11', '12')}{new.replace('11', '12')}")
    done = run("import", "events", tmp_path / "t.csv", "--yes", "--folder", folder)
    assert done.exit_code == 1
    assert (
        "t.csv:4:1: error duplicate-event: met the same event again (first in row 3), wanted each once" in done.stderr
    )


def test_a_problem_of_an_event_between_records_has_its_row(folder: Path, tmp_path: Path) -> None:
    """Events stand in a list with others; the row that is wrong is named all the same."""
    rows = "2026-11-02,RY-22222Q,moved,quay\n2026-11-03,RY-22222X,moved,quay\n2025-11-03,RY-22224M,moved,quay\n"
    (tmp_path / "t.csv").write_text(f"date,tag,event,place\n{rows}", encoding="utf-8")
    done = run("import", "events", tmp_path / "t.csv", "--yes", "--folder", folder)
    assert done.exit_code == 1
    (line,) = [line for line in done.stderr.splitlines() if " error " in line]
    assert line.startswith("t.csv:3:2: error ")


def test_items_come_with_what_they_draw_in_brackets(folder: Path, tmp_path: Path) -> None:
    """What a record has in brackets stands in one cell, or each value in a column of its own."""
    text = "Batch;Product;Day;Count;Mass;draws\nX-1;planter;2026-10-20;1;9,8 kg each;[{lot: BAR-002, pieces: 1}]\n"
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    text = "Batch;Product;Day;Count;Mass;draws.0.lot;draws.0.pieces\nX-2;planter;2026-10-20;1;9,8 kg each;BD-001;1\n"
    (tmp_path / "b.csv").write_text(text, encoding="utf-8")
    for name in ("a", "b"):
        done = run("import", "items", tmp_path / f"{name}.csv", "--yes", "--folder", folder)
        assert done.exit_code == 0, done.stderr
    items = shop_of(folder).items
    assert [(items[n].draws[0].lot, items[n].draws[0].pieces.pieces) for n in ("X-1", "X-2")] == [
        ("BAR-002", 1),
        ("BD-001", 1),
    ]


def test_a_workbook_is_taken_like_any_table(folder: Path, tmp_path: Path) -> None:
    """Days and numbers of a workbook leave nothing to ask."""
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in (("Sack", "Day", "Weight (kg)", "Stream"), ("A-1", messy.FIRST_DAY, 62.4, "gate")):
        book.active.append(row)
    book.save(tmp_path / "t.xlsx")
    done = run("import", "lots", tmp_path / "t.xlsx", "--yes", "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert (folder / "content/lots/A-1.yaml").read_text(encoding="utf-8") == (
        "date: 2022-01-10\nreceived: {stream: gate}\nmass: 62.4 kg\n"
    )


HOSTILE = '"=HYPERLINK(""http://x"")"', "{{7*7}}", "<script>alert(1)</script>", "'; DROP TABLE lots; --", "a: [b, &c *c"


@pytest.mark.parametrize("cell", HOSTILE)
def test_hostile_cells_are_text(folder: Path, tmp_path: Path, cell: str) -> None:
    """A cell is never computed, run or read as more than the text of its field."""
    table = f'id,date,stream,mass,notes\nA-1,2024-03-05,gate,1 kg,"{cell.strip(chr(34))}"\n'
    (tmp_path / "t.csv").write_text(table, encoding="utf-8")
    done = run("import", "lots", tmp_path / "t.csv", "--yes", "--folder", folder)
    if cell.startswith("{{"):
        assert (done.exit_code, "error bad-notes" in done.stderr) == (1, True)
        return
    assert done.exit_code == 0, done.stderr
    notes = shop_of(folder).lots["A-1"].notes
    assert notes is not None
    assert notes.texts == (("", cell.strip(chr(34)).replace('""', '"')),)


# --- out and back -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's tables."""
    out = tmp_path_factory.mktemp("out") / "tables"
    done = run("export", out, "--folder", ROOT)
    assert done.exit_code == 0, done.stderr
    return out


def as_said(record: Any) -> tuple[object, ...]:
    """A record but for the place of its file."""
    names = [field.name for field in dataclasses.fields(record) if field.name not in ("file", "number")]
    return (type(record).__name__, *(getattr(record, name) for name in names))


def test_an_import_of_an_export_changes_nothing(folder: Path, tables: Path) -> None:
    """In the same workshop every record is there already, and not a byte changes."""
    before = files_of(folder)
    done = run("import", tables, "--yes", "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert done.stderr.endswith("nothing to write\n")
    assert files_of(folder) == before


def test_an_empty_workshop_gets_the_same_records_back(tables: Path, tmp_path: Path) -> None:
    """All tables in one change: lots, runs and items name each other, and tags their things."""
    yard = tmp_path / "content"
    yard.mkdir()
    for name in ("workshop.yaml", "tags-issued.csv", "labels-printed.csv"):
        if (ROOT / "content" / name).exists():
            shutil.copy(ROOT / "content" / name, yard / name)
    for name in ("photos", "documents", "recalls"):
        if (ROOT / "content" / name).exists():
            shutil.copytree(ROOT / "content" / name, yard / name)
    done = run("import", tables, "--yes", "--folder", tmp_path)
    assert done.exit_code == 0, done.stderr
    ours, theirs = shop_of(ROOT), shop_of(tmp_path)
    for kind in ("streams", "products", "lots", "runs", "items"):
        assert getattr(theirs, kind) == getattr(ours, kind)
    assert [as_said(event) for event in theirs.events] == [as_said(event) for event in ours.events]


def test_no_cell_of_a_table_is_a_formula(tables: Path) -> None:
    """A table opens in a spreadsheet as what it is (OWASP, CSV injection)."""
    for path in tables.iterdir():
        with path.open(encoding="utf-8-sig", newline="") as opened:
            cells = [cell for row in csv.reader(opened) for cell in row]
        assert [cell for cell in cells if cell.startswith(("=", "+", "@", "\t"))] == []


def test_the_stock_is_that_of_the_command(tables: Path) -> None:
    """The table of stock has a row for each lot that `stock` shows, with the same mass."""
    shown = json.loads(run("stock", "--json", "--folder", ROOT).stdout)
    with (tables / "stock.csv").open(encoding="utf-8-sig", newline="") as opened:
        rows = list(csv.DictReader(opened))
    weighed = {row["lot"]: None if row["left_kg"] is None else Decimal(row["left_kg"]) for row in shown}
    assert {row["lot"]: Decimal(row["left_kg"]) if row["left_kg"] else None for row in rows} == weighed
    assert len(rows) > 10


def test_one_table_goes_to_standard_output(tables: Path) -> None:
    """Another program reads the same table as the file, without the mark of UTF-8."""
    text = (tables / "lots.csv").read_bytes().decode("utf-8-sig")
    assert run("export", "lots", "--folder", ROOT).stdout.replace("\r\n", "\n") == text.replace("\r\n", "\n")


def test_tables_are_not_written_over_without_a_word(tmp_path: Path) -> None:
    """A table of somebody's own may lie under the same name: a person is asked, a script says --yes or takes it so."""
    (tmp_path / "lots.csv").write_text("mine", encoding="utf-8")
    step = walkthrough.Step(command="export", lines=("Write over lots.csv in . [Y/n]: n",))
    command = [sys.executable, "-m", "passport", "export", ".", "--folder", str(ROOT)]
    code, shown = walkthrough.play(step, command, tmp_path, os.environ | {"PYTHONPATH": str(ROOT), "TERM": "dumb"})
    assert (code, "nothing written" in shown) == (0, True)
    assert files_of(tmp_path) == {"lots.csv": b"mine"}


def test_semicolons_come_back_as_well(folder: Path, tmp_path: Path) -> None:
    """Spreadsheets in French or German part cells by semicolons."""
    assert run("export", tmp_path / "out", "--semicolons", "--folder", folder).exit_code == 0
    assert (tmp_path / "out/lots.csv").read_bytes().startswith(b"\xef\xbb\xbfid;date;")
    assert run("import", tmp_path / "out", "--folder", folder).stderr.endswith("nothing to write\n")


def test_a_corrected_value_is_exported_as_it_is_now(tables: Path) -> None:
    """The table says what holds; what was said first stays in the records."""
    with (tables / "lots.csv").open(encoding="utf-8-sig", newline="") as opened:
        mass = {row["id"]: row["mass"] for row in csv.DictReader(opened)}
    assert mass["IN-014"] == "52.0 kg"


def test_records_taken_over_are_no_rows(folder: Path, tmp_path: Path) -> None:
    """What another workshop wrote lies as it was deposited; the tables hold what is our own."""
    shutil.copytree(ROOT / "passport/starter/content", folder / "content/from/MY")
    assert run("export", tmp_path / "out", "--folder", folder).exit_code == 0
    with (tmp_path / "out/lots.csv").open(encoding="utf-8-sig", newline="") as opened:
        rows = [row["id"] for row in csv.DictReader(opened)]
    assert "MY-IN-001" in shop_of(folder).lots
    assert len(rows) == len(set(rows)) == len(list((folder / "content/lots").iterdir()))
    assert run("correct", "MY-IN-001", "colour", "red", "--because", "x", "--folder", folder).exit_code == 1


def test_a_workshop_with_errors_may_get_what_mends_them(folder: Path, tmp_path: Path) -> None:
    """A lot that names a run which has no record yet is an error; the table that brings the run is no slip."""
    (folder / "content/lots/NEW-1.yaml").write_text("date: 2026-10-20\nrun: NEW-9\nmass: 0.1 kg\n", encoding="utf-8")
    text = 'id,date,operation,draws\nNEW-9,2026-10-20,cut,"[{lot: BAR-002, mass: 0.1 kg}]"\n'
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    assert run("check", "--folder", folder).exit_code == 1
    done = run("import", "runs", tmp_path / "t.csv", "--yes", "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert run("check", "--folder", folder).exit_code == 0


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("export", "lotts"), 'met "lotts", which is no table and no folder; did you mean "lots"?'),
        (("export", "content/tables"), "content/tables lies in a folder that this does not write to"),
        (("import", "lotts", "README.md"), 'met "lotts"; did you mean "lots"?'),
        (("import", "stock", "README.md"), "stock is worked out of the records, not typed"),
        (("import", "lots"), "name the file: passport import lots FILE.csv"),
        (("import", "lots", "README.md", "--map", "mass"), '--map: met "mass", wanted two texts with = between them'),
        (("import", "lots", "README.md", "--without", "7-"), '--without: met "7-", wanted rows such as 57 or 91-94'),
    ],
)
def test_wrong_usage_is_said(args: tuple[str, ...], words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit code 2, and what to do instead."""
    monkeypatch.chdir(ROOT)
    done = run(*args)
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.split())
