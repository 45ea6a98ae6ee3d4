"""A repair from the command line: run, old part and event together, and the thing is what it is now.

A box is 800 g of used PP and a lid of 200 g of used PE-HD; a jar is 150 g of used and 50 g of new PP.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
import returning
import yard
from returning import BOX, BOX_2, JAR, book, out, shares

from passport.massflow.balances import outside_balance, shop_balance
from passport.verdicts.mending import mendings

ON = ("--on", "2026-05-01", "--scale", "bench")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The yard, with a box handed over; read it, do not change it."""
    folder = returning.make(tmp_path_factory.mktemp("mending") / "yard")
    out(folder, BOX)
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of the yard."""
    return returning.copy(made, tmp_path)


def mend(folder: Path, *args: str) -> str:
    """One repair that must be recorded; what it printed."""
    return yard.done("mend", *args, "--folder", folder)


def refused(folder: Path, *args: str, code: int = 1) -> str:
    """One that must be refused with nothing written; what it printed."""
    before = yard.bytes_of(folder)
    result = yard.run("mend", *args, "--folder", folder)
    assert result.exit_code == code, result.output
    assert yard.bytes_of(folder) == before
    return result.output


def test_run_old_part_and_event_are_written_together(folder: Path) -> None:
    """As a person would have typed them; the thing weighs 1000 − 200 + 220 g, its sister what it weighed."""
    said = mend(folder, BOX.lower(), *ON, "--part", "lid", "--from", "h", "--mass", "220g", "--old-mass", "200g",
                "--weathering", "heavy", "--note", "the lid was split")  # fmt: skip
    content = folder / "content"
    assert (content / "runs/RP-001.yaml").read_text(encoding="utf-8") == (
        "date: 2026-05-01\noperation: repair\ndraws:\n- {lot: H, mass: 220 g}\n"
        f"- {{tag: {BOX}, part: lid, mass: 200 g}}\nscale: bench\n"
    )
    assert (content / "lots/OP-001.yaml").read_text(encoding="utf-8") == (
        "date: 2026-05-01\nrun: RP-001\nmass: 200 g\nscale: bench\nform: pieces\nweathering: heavy\n"
    )
    assert (content / "events/2026.yaml").read_text(encoding="utf-8").splitlines()[-1] == (
        f"- {{date: 2026-05-01, tag: {BOX}, event: repaired, run: RP-001, note: the lid was split}}"
    )
    assert f"{BOX}: pot, 1 kg before, 1.02 kg now\n" in said
    assert "OP-001: the old part, post-consumer\n" in said
    ledger = book(folder).ledger
    assert [ledger.tag_mass(tag).value for tag in (BOX, BOX_2)] == [Fraction(102, 100), 1]
    assert ledger.closures["RP-001"].residual_kg == 0


def test_balances_hold_what_went_in_and_what_came_out(folder: Path) -> None:
    """220 g more went out, 200 g came back, nothing is lost in the books; 800 g were kept in use."""
    before = shop_balance(book(folder).ledger)
    mend(folder, BOX, *ON, "--part", "lid", "--from", "H", "--mass", "220g", "--old-mass", "200g")
    ledger = book(folder).ledger
    after = shop_balance(ledger)
    assert after.things_out_kg - before.things_out_kg == Fraction(220, 1000)
    assert after.came_back_kg - before.came_back_kg == Fraction(200, 1000)
    assert after.unaccounted_kg == before.unaccounted_kg
    assert outside_balance(ledger).things_out_kg == after.things_out_kg
    ((done,),) = (mendings(ledger)[tag] for tag in (BOX,))
    assert done.kept_kg == Fraction(800, 1000)


def test_some_of_a_thing_of_one_piece_is_mended(folder: Path) -> None:
    """40 g of a jar of 200 g out, 50 g of used PP in: 210 g, of which 160 × 1/4 g are new plastic."""
    mend(folder, JAR, *ON, "--from", "A", "--mass", "50g", "--old-mass", "40g")
    ledger = book(folder).ledger
    assert ledger.tag_mass(JAR).value == Fraction(210, 1000)
    assert ledger.tag_mixture(JAR).share("origin", ["virgin"]).value == Fraction(40, 210)
    assert shares(folder, "OP-001", "origin") == {"post-consumer": Fraction(3, 4), "virgin": Fraction(1, 4)}


def test_repairs_are_numbered_on(folder: Path) -> None:
    """The next run and the next old part go on after the last."""
    order = (*ON, "--part", "lid", "--from", "H", "--mass", "220g", "--old-mass", "200g")
    mend(folder, BOX, *order, "--old-lot", "LID-01")
    done = json.loads(yard.run("mend", BOX_2, *order, "--json", "--folder", folder).stdout)
    assert done == {"tag": BOX_2, "run": "RP-002", "old_part": "LID-02", "written": True}


def test_a_part_of_another_resin_wants_a_reason(folder: Path) -> None:
    """It would make two streams of one; a reason stands in the run's notes."""
    order = (BOX, *ON, "--part", "lid", "--from", "A", "--mass", "220g", "--old-mass", "200g")
    assert "error resins-differ: met A of PP for a part of PE-HD, wanted the same resin" in refused(folder, *order)
    mend(folder, *order, "--because", "no PE-HD at hand")
    assert "notes: no PE-HD at hand\n" in (folder / "content/runs/RP-001.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        ((BOX, "--part", "ldi"), 2, '--part: met "ldi", wanted one of its parts: body, lid; did you mean "lid"?'),
        ((BOX, "--part", "lid", "--from", "HH"), 2, '--from: met "HH", wanted a lot; did you mean "H"?'),
        ((BOX, "--part", "lid", "--from", "H"), 2, "--mass is wanted: How much of H went in"),
        ((BOX,), 2, "--part is wanted: Which part is new (body, lid)"),
        (("MY-22224W",), 1, f"hint: the nearest issued: {BOX}"),
    ],
)
def test_a_wrong_order_says_what_is_wanted(folder: Path, args: tuple[str, ...], code: int, said: str) -> None:
    """Whatever cannot be answered for; nothing is written."""
    assert said in " ".join(refused(folder, *args, code=code).split())


def test_more_out_than_there_was_is_a_doubt(folder: Path) -> None:
    """An old lid of 260 g out of a lid of 200 g is said before it is written."""
    said = mend(folder, BOX, *ON, "--part", "lid", "--from", "H", "--mass", "220g", "--old-mass", "260g")
    assert f'doubt tag-overdrawn: met 0.06 kg more taken from the part "lid" of {BOX} by RP-001 than it weighs' in said


def test_what_is_gone_is_not_mended(folder: Path) -> None:
    """Destroyed first; and not before it was made."""
    order = (BOX, "--part", "lid", "--from", "H", "--mass", "220g", "--old-mass", "200g", "--scale", "bench", "--on")
    assert "wanted it after it was made (2026-03-01)" in refused(folder, *order, "2026-02-20")
    yard.done("event", "destroyed", BOX, "--on", "2026-04-20", "--folder", folder)
    assert f"error tag-ended: {BOX} was destroyed on 2026-04-20" in refused(folder, *order, "2026-05-01")
