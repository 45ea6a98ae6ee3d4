"""`trace` and `masses` on the demo: what is printed adds up, forwards and backwards, to the gram."""

from __future__ import annotations

import csv
import json
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from passport.commands.main import passport

IN = ("opening", "received", "came_back", "gains", "adjusted", "renamed")
OUT = ("things_out", "sent", "losses", "written_off", "stock", "unaccounted")
"""The shop's balance: what came in and what it became (signs as printed)."""
ENDS = ("at_the_shop", "in_use", "came_back", "gone")
"""Where the things are that were made."""


def run(*args: str | Path) -> Result:
    """One command in this process."""
    return CliRunner().invoke(passport, [str(arg) for arg in args], prog_name="passport")


def json_of(*args: str | Path) -> Any:
    """What a command prints for another program."""
    done = run(*args, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def total(balance: dict[str, str], names: tuple[str, ...]) -> Decimal:
    """The sum of some lines of a balance in kg."""
    return sum((Decimal(balance[f"{name}_kg"]) for name in names), Decimal(0))


def items_of(demo: Path) -> list[dict[str, str]]:
    """The published table of item batches."""
    with (demo / "site" / "data" / "items.csv").open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


@pytest.mark.parametrize("day", ["2024-12-31", "2025-09-30", "2026-10-17"])
def test_the_shop_adds_up_on_any_day(demo: Path, day: str) -> None:
    """Opening, received, come back, gains and adjustments are all that left, is left or is missing, to the gram."""
    shop = json_of("masses", "--at", day, "--folder", demo)["shop"]
    assert set(shop) == {f"{name}_kg" for name in (*IN, *OUT)}
    assert total(shop, IN) == total(shop, OUT)
    assert shop["received_kg"] > "0"


@pytest.mark.parametrize("day", ["2025-09-30", "2026-10-17"])
def test_the_things_made_are_all_somewhere(demo: Path, day: str) -> None:
    """Things out are at the shop, in use, come back or gone, to the gram; and both balances say so alike."""
    books = json_of("masses", "--at", day, "--folder", demo)
    assert total(books["outside"], ("things_out",)) == total(books["outside"], ENDS)
    assert books["outside"]["things_out_kg"] == books["shop"]["things_out_kg"]


@pytest.mark.parametrize("kind", ["resin", "stream", "origin"])
def test_every_class_adds_up_and_all_of_them_to_the_whole(demo: Path, kind: str) -> None:
    """By resin, stream or origin: each class balances, to the gram, and all received is the shop's.

    Classes are rounded each for itself, so their sum may be off by half a gram a class.
    """
    books = json_of("masses", "--by", kind, "--folder", demo)
    classes = books[f"by_{kind}"]
    assert len(classes) >= 2
    assert [name for name, balance in classes.items() if total(balance, IN) != total(balance, OUT)] == []
    received = sum(Decimal(balance["received_kg"]) for balance in classes.values())
    assert abs(received - Decimal(books["shop"]["received_kg"])) <= len(classes) * Decimal("0.001")


def test_what_was_received_is_what_the_records_weigh(demo: Path) -> None:
    """The received mass is the sum of the masses written in the lots from outside, added without the program.

    Read line by line from the files: each lot from a stream or another workshop, its `mass:` in kg or g, and what a
    correction made of it. IN-004 has gross and tare; IN-012 was not weighed and nothing was taken from it, so it counts
    as nothing.
    """
    weighed = Decimal(0)
    for file in (demo / "content" / "lots").glob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        lines = dict(line.split(": ", 1) for line in text.splitlines() if re.match(r"[a-z_]+: ", line))
        if lines.get("received", "").startswith(("{stream:", "{from:")):
            weighed += kg(lines["mass"]) if "mass" in lines else kg(lines["gross"]) - kg(lines["tare"])
    for file in (demo / "content" / "corrections").glob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        for was, right in re.findall(r"lot: IN-\d+, field: mass, was: ([\d.]+ k?g), is: ([\d.]+ k?g)", text):
            weighed += kg(right) - kg(was)
    assert Decimal(json_of("masses", "--folder", demo)["shop"]["received_kg"]) == weighed


def kg(text: str) -> Decimal:
    """A written mass without its ±, in kg."""
    if text == "not weighed":
        return Decimal(0)
    amount, unit = re.sub(r" *±.*?(?= k?g)", "", text).split(" #")[0].split()[:2]
    return Decimal(amount) / (1000 if unit == "g" else 1)


def test_sources_add_up_to_each_batch(demo: Path) -> None:
    """Traced back, the sources of each batch add up to its plastic and to 100.00 %, both exactly as printed."""
    items = items_of(demo)
    assert len(items) >= 15
    for row in items:
        sources = json_of("trace", row["batch"], "--folder", demo)
        assert sum(Decimal(s["mass_kg"]) for s in sources) == Decimal(row["plastic_kg"]), row["batch"]
        assert sum(Decimal(s["share"].removesuffix(" %")) for s in sources) == 100, row["batch"]


def test_forwards_and_backwards_agree(demo: Path) -> None:
    """What a recall of a lot names is what names that lot when traced back, and nothing else."""
    recalled = {row["in"] for row in json_of("trace", "IN-001", "--forward", "--folder", demo)}
    items = {row["batch"] for row in items_of(demo)}
    back = {
        item for item in items if "IN-001" in {s["lot"] for s in json_of("trace", item, "--folder", demo)}
    }  # fmt: skip
    # what came back and was used again traces to the tag's own lot: those batches are recalled, too
    assert back <= recalled & items
    again = recalled & items - back
    assert all("RT-" in str(json_of("trace", item, "--folder", demo)) for item in again)


def test_a_recall_names_only_issued_tags(demo: Path) -> None:
    """Every tag that a recall names has its page."""
    rows = json_of("trace", "IN-001", "--forward", "--folder", demo)
    tags = {tag for row in rows for tag in row["tags"].split()}
    assert len(tags) > 10
    assert [tag for tag in tags if not (demo / "site" / "T" / tag / "index.html").is_file()] == []


def test_an_explained_figure_ends_in_the_printed_one(demo: Path) -> None:
    """`--explain recycled` goes from the streams to the floor that stands on the page."""
    done = run("trace", "PL-2024-12", "--explain", "recycled", "--folder", demo)
    assert done.exit_code == 0
    last = done.stdout.splitlines()[-1]
    stated = next(r["recycled_at_least_percent"] for r in items_of(demo) if r["batch"] == "PL-2024-12")
    assert f"at least {stated} %" in last
    assert "JCGM 106:2012" in last


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["trace", "IN-O01"], 'met "IN-O01", which is no lot, item batch or issued tag'),
        (["trace", "IN-001", "--explain", "taste"], 'met the figure "taste"'),
    ],
)
def test_what_is_not_there_is_named(demo: Path, args: list[str], said: str) -> None:
    """An unknown name or figure ends with 1 and says what was met."""
    done = run(*args, "--folder", demo)
    assert done.exit_code == 1
    assert said in done.output


@pytest.mark.parametrize("args", [["trace", "RY-22222Q"], ["masses"], ["masses", "--runs"], ["masses", "--stock"]])
def test_looking_writes_nothing(demo: Path, args: list[str]) -> None:
    """`trace` and `masses` leave records and site as they were."""
    before = {p: p.stat().st_mtime_ns for p in demo.rglob("*")}
    assert run(*args, "--folder", demo).exit_code == 0
    assert {p: p.stat().st_mtime_ns for p in demo.rglob("*")} == before
