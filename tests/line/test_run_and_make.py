"""A run and a batch of things from their options: records, sums said at once, and what is refused."""

from __future__ import annotations

import json
import shutil
from fractions import Fraction
from pathlib import Path

import pytest
from yard import done, run, shop_of, yard

from passport.verdicts.book import work_out

ON = ("--on", "2026-02-20")


@pytest.fixture
def folder(base: Path, tmp_path: Path) -> Path:
    """A copy of it to work in."""
    return Path(shutil.copytree(base, tmp_path / "yard"))


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A started folder with a public address and a new sack of 10 kg, IN-002."""
    made = yard(tmp_path_factory.mktemp("base") / "yard", 2)
    done("receive", "--stream", "tubs", "--mass", "10", *ON, "--folder", made)
    return made


def text_of(folder: Path, path: str) -> str:
    """A record as it was written."""
    return (folder / "content" / path).read_text(encoding="utf-8")


def test_one_result_carries_its_run(folder: Path) -> None:
    """The short form; letters alone take the next number of their series; `all` empties the lot."""
    options = ("--operation", "shred", "--draw", "in-002=all", "--result", "SH=9.8,form=flake", "--loss", "dust=0.1")
    said = done("run", *options, *ON, "--scale", "floor", "--folder", folder)
    assert text_of(folder, "lots/SH-002.yaml") == (
        "date: 2026-02-20\n"
        "operation: shred\n"
        "draws:\n"
        "- {lot: IN-002, mass: 10 kg, empties: yes}\n"
        "losses: {dust: 0.1 kg}\n"
        "scale: floor\n"
        "mass: 9.8 kg\n"
        "form: flake\n"
    )
    assert said.startswith(
        "10 kg went in, 9.8 kg came out, 0.1 kg was lost: 0.1 kg missing, within what the scales can tell\n"
    )
    assert said.endswith("SH-002\n")


def test_several_results_get_a_run_of_their_own(folder: Path) -> None:
    """A sort writes its run and each heap in one change; the residual is what the heaps leave (10 − 8 − 1.9)."""
    heaps = ("--result", "PPW=8,sorted_as=PP,form=pieces", "--result", "RJ=1.9")
    done("run", "--operation", "sort", "--draw", "IN-002=10,empties", *heaps, *ON, "--folder", folder)
    assert "draws:\n- {lot: IN-002, mass: 10 kg, empties: yes}\n" in text_of(folder, "runs/SO-001.yaml")
    assert text_of(folder, "lots/PPW-001.yaml").startswith("date: 2026-02-20\nrun: SO-001\nmass: 8 kg\nsorted_as: PP\n")
    assert work_out(shop_of(folder)).ledger.closures["SO-001"].residual_kg == Fraction("0.1")


def test_a_run_that_does_not_add_up_says_so_and_is_written(folder: Path) -> None:
    """A doubt is no refusal: who weighed honestly may write it down, with or without a reason."""
    options = ("--operation", "shred", "--draw", "IN-002=all", "--result", "SH=9")
    said = done("run", *options, *ON, "--folder", folder)
    assert "10 kg went in, 9 kg came out: 1 kg missing, more than the scales explain, and far more\n" in said
    assert "doubt does-not-close-withheld: met 1 kg missing in SH-002" in said
    assert (folder / "content/lots/SH-002.yaml").exists()


def test_pieces_are_drawn_by_their_number(folder: Path) -> None:
    """4 of 160 pieces of 12.4 kg are 0.31 kg (own sum); the record says pieces."""
    done("receive", "--stream", "tubs", "--mass", "12.4", "--pieces", "160", *ON, "--folder", folder)
    options = ("--operation", "cut", "--draw", "IN-003=4pcs", "--result", "CT=300 g")
    done("run", *options, *ON, "--folder", folder)
    assert "- {lot: IN-003, pieces: 4}\n" in text_of(folder, "lots/CT-001.yaml")
    assert work_out(shop_of(folder)).ledger.closures["CT-001"].drawn_kg == Fraction("0.31")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--operation", "shredd", "--draw", "IN-002=1"), 'Error: --operation: met "shredd"; did you mean "shred"?\n'),
        (
            ("--operation", "shred", "--draw", "IN-02=1"),
            'Error: --draw: met "IN-02", wanted a lot that has its record; did you mean "IN-002"?\n',
        ),
        (
            ("--operation", "shred", "--draw", "IN-002"),
            'Error: --draw: met "IN-002", wanted LOT=MASS, such as SH-001=12.2 kg or SH-001=all\n',
        ),
        (("--operation", "shred"), 'Error: --draw is wanted, such as --draw "SH-001=12.2 kg"\n'),
        (
            ("--operation", "shred", "--draw", "IN-002=1", "--result", "SH-001=1"),
            'Error: --result: met "SH-001", wanted a number that no record has\n',
        ),
        (
            ("--operation", "shred", "--draw", "IN-002=1", "--result", "SH=1,flake"),
            (
                'Error: --result: met "flake" in "SH=1,flake", wanted one of pieces, form, sorted_as, moisture, '
                "colour, kept, scale with = and its value\n"
            ),
        ),
    ],
)
def test_wrong_use_ends_with_2(folder: Path, options: tuple[str, ...], said: str) -> None:
    """What an option wanted is said, with the nearest name."""
    result = run("run", *options, *ON, "--folder", folder)
    assert result.exit_code == 2
    assert result.output.endswith(said)


# --- things ---------------------------------------------------------------------------------------------


def test_a_batch_of_things(folder: Path) -> None:
    """The README's three pots, from options; the next command is named."""
    said = done(
        "make", "--product", "pot", "--count", "3", "--each", "221g", "--draw", "SH-001=668 g", "--operation", "mould",
        "--melt", "220", "--loss", "sprues=5 g", "--colour", "white", "--scale", "bench", "--on", "2026-02-07",
        "--folder", folder,
    )  # fmt: skip
    assert text_of(folder, "items/POT-002.yaml") == (
        "product: pot\n"
        "date: 2026-02-07\n"
        "count: 3\n"
        "mass: 221 g each\n"
        "scale: bench\n"
        "operation: mould\n"
        "draws:\n"
        "- {lot: SH-001, mass: 668 g}\n"
        "melt: 220 °C\n"
        "losses: {sprues: 5 g}\n"
        "colour: white\n"
    )
    assert "Next: passport tag POT-002 " in said
    assert done("tag", "POT-002", *ON, "--folder", folder).endswith("3 issued for POT-002\n")


def test_a_thing_of_parts_with_screws(folder: Path) -> None:
    """Each part has its draws and its mass in one thing; hardware counts and weighs per thing."""
    done(
        "make", "--product", "Bench", "--made-for", "Sitting", "--count", "1", "--draw", "seat/SH-001=3 kg",
        "--draw", "legs/IN-002=2", "--part-mass", "seat=2.95 kg", "--part-mass", "legs=1.9kg", "--operation", "press",
        "--hardware", "steel screws, steel, 8, 32g, screwed, TX20", *ON, "--folder", folder,
    )  # fmt: skip
    assert text_of(folder, "items/BEN-001.yaml") == (
        "product: bench\n"
        "date: 2026-02-20\n"
        "count: 1\n"
        "scale: floor\n"
        "operation: press\n"
        "parts:\n"
        "- {part: seat, draws: [{lot: SH-001, mass: 3 kg}], mass: 2.95 kg}\n"
        "- {part: legs, draws: [{lot: IN-002, mass: 2 kg}], mass: 1.9 kg}\n"
        "hardware:\n"
        "- {what: steel screws, material: steel, count: 8 each, mass: 32 g each, joined: screwed, tool: TX20}\n"
    )
    assert text_of(folder, "products/bench.yaml") == "title: Bench\nmade_for: Sitting\n"


@pytest.mark.parametrize(("each", "whole"), [(("--each", "220 g"), Fraction("2.64")), ((), None)])
def test_things_already_out_are_of_unknown_history(folder: Path, each: tuple[str, ...], whole: Fraction | None) -> None:
    """Twelve pots sold before the records: their origin is unknown, their shop still adds up, and a tag can be had."""
    options = ("--already-out", "--product", "pot", "--count", "12", *each, "--on", "2024-06-01")
    done("make", *options, "--folder", folder)
    book = work_out(shop_of(folder))
    weighed = book.ledger.masses["POT-002"]
    assert (weighed.value if weighed else None) == whole
    assert book.ledger.mixtures["POT-002"].recycled().value == 0
    assert book.ledger.stock["OLD-001"].emptied is not None
    assert done("tag", "POT-002", "--piece", "3", *ON, "--folder", folder).endswith("1 issued for POT-002\n")
    assert run("publish", "--folder", folder).exit_code == 0
    (tag,) = (entry.tag for entry in shop_of(folder).issued if entry.item == "POT-002")
    page = (folder / "site" / "T" / tag / "index.html").read_text(encoding="utf-8")
    assert "Resin not established" in page
    assert "None of it is stated as recycled" in page
    assert ("There before we kept records" in page) is (whole is not None)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (
            ("--product", "pott", "--count", "1", "--each", "1 kg", "--draw", "SH-001=1"),
            'Error: --product: met "pott"; did you mean "pot"?; a new one wants --made-for too\n',
        ),
        (("--product", "pot", "--draw", "SH-001=1"), "Error: --count is wanted: How many\n"),
        (
            ("--product", "pot", "--count", "1", "--each", "220", "--draw", "SH-001=1"),
            (
                'Error: --each: met "220", wanted a mass with its unit, such as 42.6 kg, 42.6 ± 0.2 kg or 120 g; '
                'a number without a unit could be kilograms or grams: write "220 kg" or "220 g"\n'
            ),
        ),
        (
            ("--product", "pot", "--count", "1", "--each", "1 kg", "--draw", "a/SH-001=1", "--draw", "IN-002=1"),
            'Error: --draw: met "IN-002=1", wanted PART/LOT=MASS, since other draws name their part\n',
        ),
        (
            ("--product", "pot", "--count", "1", "--each", "1 kg", "--draw", "SH-001=1", "--hardware", "screws, 8"),
            (
                'Error: --hardware: met "screws, 8", wanted what, material, how many, mass of all in one thing, '
                "how joined, tool\n"
            ),
        ),
    ],
)
def test_what_a_batch_cannot_be(folder: Path, options: tuple[str, ...], said: str) -> None:
    """Wrong use ends with 2 and says what was wanted."""
    result = run("make", *options, *ON, "--folder", folder)
    assert result.exit_code == 2
    assert result.output.endswith(said)


# --- stock ----------------------------------------------------------------------------------------------


def test_stock_lists_what_is_left(folder: Path) -> None:
    """Figures stand under each other and add up; a lot without a weight is counted apart."""
    done("receive", "--stream", "tubs", "--quick", *ON, "--folder", folder)
    lines = run("stock", "--folder", folder).output.splitlines()
    assert lines[0].split() == ["lot", "left", "kg", "made", "of", "form", "colour", "since", "state", "doubts"]
    assert [line.split()[:2] for line in lines[1:4]] == [["IN-002", "10.000"], ["IN-003", "?"], ["SH-001", "11.755"]]
    assert lines[4] == "together   21.755"
    assert lines[5] == "and 1 not weighed: passport receive --weigh LOT"
    assert len({line.index(figure) + len(figure) for line, figure in zip(lines[1:2], ["10.000"], strict=True)}) == 1


def test_stock_for_another_program(folder: Path) -> None:
    """The same as JSON, of one resin, and only what is free."""
    found = json.loads(run("stock", "--resin", "pp", "--free", "--json", "--folder", folder).stdout)
    assert [(row["lot"], row["left_kg"], row["resin"], row["state"]) for row in found] == [
        ("SH-001", "11.755", "PP", "free")
    ]
    wrong = run("stock", "--resin", "HDPE", "--folder", folder)
    assert wrong.exit_code == 2
    assert "write the symbol of ISO 1043-1: PE-HD" in wrong.output


def test_held_stock_is_not_free(folder: Path) -> None:
    """A held lot says so with its day, and --free leaves it out."""
    held = "- {date: 2026-02-21, lot: IN-002, event: held, because: smells of solvent}\n"
    (folder / "content/events").mkdir(exist_ok=True)
    (folder / "content/events/2026.yaml").write_text(held, encoding="utf-8")
    assert "held since 2026-02-21" in run("stock", "--folder", folder).output
    assert "IN-002" not in run("stock", "--free", "--folder", folder).output
