"""What comes back is a lot that knows what it is; every share here is reckoned by hand from the weighings.

A box is 800 g of used PP and a lid of 200 g of used PE-HD; a jar is 150 g of used and 50 g of new PP.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest
import returning
import yard
from returning import BOX, BOX_2, JAR, JAR_2, book, out, shares

from passport.massflow.balances import shop_balance
from passport.office import asking

ON = ("--on", "2026-06-01", "--scale", "bench")


SAND = Fraction(1, 10)
"""What the first shredding of the started yard cannot account for, in kg; nothing that comes back adds to it."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The yard, made once; read it, do not change it."""
    return returning.make(tmp_path_factory.mktemp("returning") / "yard")


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of the yard."""
    return returning.copy(made, tmp_path)


def back(folder: Path, *args: str) -> str:
    """One hand-back that must be carried out; what it printed."""
    return yard.done("handback", *args, "--folder", folder)


def refused(folder: Path, *args: str, code: int = 1) -> str:
    """One that must be refused with nothing written; what it printed."""
    before = yard.bytes_of(folder)
    result = yard.run("handback", *args, "--folder", folder)
    assert result.exit_code == code, result.output
    assert yard.bytes_of(folder) == before
    return result.output


def record(folder: Path, lot: str) -> str:
    """The text of a lot's record."""
    return (folder / "content" / "lots" / f"{lot}.yaml").read_text(encoding="utf-8")


def unaccounted(folder: Path) -> Fraction:
    """What the shop's balance cannot account for, in kg."""
    return shop_balance(book(folder).ledger).unaccounted_kg


# --- what it is -----------------------------------------------------------------------------------------


def test_after_a_hand_over_all_of_it_is_post_consumer_and_a_life_older(folder: Path) -> None:
    """The new quarter of a jar has lived one life, the used three quarters two; the streams stay as ancestry."""
    out(folder, JAR)
    said = back(folder, JAR.lower(), *ON, "--mass", "198g", "--weathering", "light", "--colour", "white",
                "--condition", "sound", "--pieces", "1", "--moisture", "0")  # fmt: skip
    assert record(folder, "CB-001") == (
        f"date: 2026-06-01\nreceived: {{tags: [{{tag: {JAR}}}]}}\nmass: 198 g\nscale: bench\npieces: 1\nmoisture: 0 %\n"
        "weathering: light\ncolour: white\nnotes: sound\n"
    )
    assert said.startswith(f"{JAR}: weigh it without what is screwed or pressed in (brass hook 0.015 kg)\n")
    assert f"{JAR}: pot, PP, 0.2 kg when it left, handed over 2026-04-01\n" in said
    assert "CB-001: 0.198 kg back of 0.2 kg: 0.002 kg less than left (wear, pieces that are missing)\n" in said
    assert "CB-001: all of it is post-consumer plastic now, with one life more behind it (lives: 1 to 2)\n" in said
    assert said.endswith("CB-001\n")
    assert shares(folder, "CB-001", "origin") == {"post-consumer": 1}
    assert shares(folder, "CB-001", "stream") == {"TUBS": Fraction(3, 4), "NEW-PP": Fraction(1, 4)}
    assert shares(folder, "CB-001", "lives") == {"2": Fraction(3, 4), "1": Fraction(1, 4)}
    assert shares(folder, "CB-001", "weathering") == {"light": 1}


def test_what_never_left_is_an_own_offcut(folder: Path) -> None:
    """Its recycled share is what it was: three quarters."""
    said = back(folder, JAR, *ON, "--mass", "200 g")
    assert f"{JAR}: pot, PP, 0.2 kg when it left, never handed over\n" in said
    assert "CB-001: never handed over, so it is an own offcut; its recycled share stays as it was\n" in said
    assert shares(folder, "CB-001", "origin") == {"post-consumer": Fraction(3, 4), "virgin": Fraction(1, 4)}
    assert shares(folder, "CB-001", "lives") == {"1": Fraction(3, 4), "0": Fraction(1, 4)}


def test_several_things_in_one_lot(folder: Path) -> None:
    """One jar handed over and one not, half of the lot each: 1/2 + 1/2 × 3/4 of it is post-consumer."""
    out(folder, JAR)
    said = back(folder, JAR, JAR_2, *ON, "--mass", "400 g")
    assert "CB-001: what was handed over is post-consumer now; the rest is an own offcut (lives: 0 to 2)\n" in said
    assert shares(folder, "CB-001", "origin")["post-consumer"] == Fraction(7, 8)


def test_a_material_goes_round_twice(folder: Path) -> None:
    """Jar, lot, peg, lot: the used three quarters have lived three lives then, the new quarter two."""
    out(folder, JAR)
    back(folder, JAR, *ON, "--mass", "200 g")
    (folder / "content/items/PEG-1.yaml").write_text(
        "product: pot\ndate: 2026-06-05\ncount: 1\nmass: 200 g\nscale: bench\noperation: mould\n"
        "draws: [{lot: CB-001, mass: 200 g, scale: bench, empties: yes}]\n",
        encoding="utf-8",
    )
    peg = yard.done("tag", "PEG-1", "--on", "2026-06-06", "--folder", folder).split()[0]
    out(folder, peg, day="2026-06-07")
    back(folder, peg, "--on", "2026-08-01", "--scale", "bench", "--mass", "200 g")
    assert shares(folder, "CB-002", "lives") == {"3": Fraction(3, 4), "2": Fraction(1, 4)}
    assert shares(folder, "CB-002", "stream") == {"TUBS": Fraction(3, 4), "NEW-PP": Fraction(1, 4)}
    assert unaccounted(folder) == SAND


def test_the_parts_that_did_not_come_back_are_named(folder: Path) -> None:
    """The body now, the lid a month later into its own lot; after that nothing of the box is out."""
    out(folder, BOX)
    said = back(folder, BOX, *ON, "--parts", "body", "--mass", "790 g")
    assert f"{{tags: [{{tag: {BOX}, parts: [body], not_back: [lid]}}]}}" in record(folder, "CB-001")
    assert f"{BOX}: pot, PP, 0.8 kg when it left, handed over 2026-04-01; not back: lid\n" in said
    assert shares(folder, "CB-001", "resin") == {"PP": 1}
    back(folder, BOX, "--on", "2026-07-01", "--scale", "bench", "--mass", "200 g")
    assert f"{{tags: [{{tag: {BOX}, parts: [lid]}}]}}" in record(folder, "CB-002")
    assert shares(folder, "CB-002", "resin") == {"PE-HD": 1}
    assert book(folder).lives[BOX].lots == ("CB-001", "CB-002")
    assert refused(folder, BOX, *ON) == (
        f"handback: error came-back-already: {BOX} came back on 2026-07-01 already and is CB-002 now\n"
        "    hint: compare the number with the tag; a record that is wrong is set right with: passport correct\n"
        "1 error\n"
    )
    assert unaccounted(folder) == SAND


def test_a_thing_of_two_plastics_is_one_lot_of_both(folder: Path) -> None:
    """Nobody put them together here, so it is said and not refused: four fifths PP, one fifth PE-HD."""
    out(folder, BOX, BOX_2)
    said = back(
        folder, BOX, BOX_2, *ON, "--not-back", f"{BOX_2}=lid", "--because", "the lid is on the roof", "--mass", "1.8"
    )
    assert "CB-001: PE-HD and PP in one lot until it is taken apart or picked over\n" in said
    assert shares(folder, "CB-001", "resin") == {"PP": Fraction(1600, 1800), "PE-HD": Fraction(200, 1800)}


def test_a_mended_thing_comes_back_as_it_is_now(folder: Path) -> None:
    """A lid of 220 g of used PP in place of the old one: 1020 g, all of it PP; its sister keeps its PE-HD."""
    out(folder, BOX)
    yard.done("mend", BOX, "--part", "lid", "--from", "A", "--mass", "220g", "--old-mass", "200g", "--scale", "bench",
              "--on", "2026-05-01", "--because", "no PE-HD at hand", "--folder", folder)  # fmt: skip
    said = back(folder, BOX, *ON, "--mass", "1020 g")
    assert f"{BOX}: pot, PP, 1.02 kg when it left" in said
    assert shares(folder, "CB-001", "resin") == {"PP": 1}
    assert shares(folder, "OP-001", "resin") == {"PE-HD": 1}
    assert unaccounted(folder) == SAND


def test_what_was_called_back_is_said_as_it_comes(folder: Path) -> None:
    """Whoever takes it in keeps it apart."""
    (folder / "content/recalls").mkdir()
    (folder / "content/recalls/RC-001.yaml").write_text(
        "date: 2026-05-20\nlot: A\nreason: cadmium in the red ones\n", encoding="utf-8"
    )
    out(folder, JAR)
    assert (
        "CB-001: called back by RC-001 (cadmium in the red ones); keep it apart: passport event held CB-001\n"
    ) in back(folder, JAR, *ON, "--mass", "200 g")


# --- beside what left -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "said", "doubt"),
    [
        (["--mass", "260 g"], "0.26 kg back of 0.2 kg: 0.06 kg more than left (soil, water, what is not ours)", True),
        (["--mass", "250 g", "--moisture", "20"], "0.25 kg back of 0.2 kg, 0.05 kg of it water", False),
        (["--gross", "0.7", "--tare", "0.5"], "0.2 kg back of 0.2 kg", False),
        (["--mass", "260 g", "--because", "soil in it"], "0.06 kg more than left", False),
        (["--mass", "not weighed"], "not weighed; what left is not known by mass", False),
    ],
)
def test_a_weighed_mass_stands_beside_what_left(folder: Path, args: list[str], *, said: str, doubt: bool) -> None:
    """More than left is a doubt until somebody says what came along; water that was measured is no plastic."""
    out(folder, JAR)
    printed = back(folder, JAR, *ON, *args)
    assert said in printed
    assert ("doubt back-heavier: met CB-001 0.06 kg heavier" in printed) == doubt
    assert any(p.code == "back-heavier" for p in book(folder).problems) == doubt


# --- where it goes --------------------------------------------------------------------------------------


def test_with_a_lot_that_stands_here_both_become_one(folder: Path) -> None:
    """200 g back and the 18.1 kg left of A: 18.25 of 18.3 kg are of the tubs, all of it post-consumer."""
    out(folder, JAR)
    said = back(folder, JAR, *ON, "--mass", "200 g", "--into", "a")
    assert record(folder, "A-001").startswith(
        "date: 2026-06-01\noperation: merge\ndraws:\n- {lot: CB-001, mass: 0.2 kg, empties: yes}\n"
        "- {lot: A, mass: 18.1 kg, empties: yes}\nmass: 18.3 ± 0.15 kg\nform: pieces\n"
    )
    assert said.endswith("A-001\n")
    assert shares(folder, "A-001", "stream")["TUBS"] == Fraction(1825, 1830)
    assert shares(folder, "A-001", "origin") == {"post-consumer": 1}
    ledger = book(folder).ledger
    assert [ledger.stock[name].books_kg for name in ("A", "CB-001")] == [0, 0]
    assert float(ledger.stock["A-001"].books_kg) == 18.3
    assert unaccounted(folder) == SAND


def test_weighed_together_counts_before_the_sum(folder: Path) -> None:
    """The jar on the bench, both on the floor scale, which is the first one of the yard."""
    out(folder, JAR)
    back(folder, JAR, *ON, "--mass", "200 g", "--into", "A", "--together", "18,4")
    assert "mass: 200 g\nscale: bench\n" in record(folder, "CB-001")
    assert "mass: 18.4 kg\nscale: floor\n" in record(folder, "A-001")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((JAR, BOX_2), f"resins-differ: met different resins for one lot ({JAR} PP; {BOX_2} PE-HD and PP), wanted one"),
        ((JAR, "--into", "H"), f"resins-differ: met different resins for one lot ({JAR} PP; H PE-HD), wanted one"),
        ((JAR, "--into", "V"), "forms-differ: V is pellets; whole things put to it would have to be picked out again"),
        ((JAR, "--into", "IN-001"), "lot-empty: nothing is left of IN-001 by the books"),
    ],
)
def test_what_does_not_fit_is_refused(folder: Path, args: tuple[str, ...], said: str) -> None:
    """Another resin, another form, a lot of which nothing is left."""
    assert f"handback: error {said}" in refused(folder, *args, *ON)


def test_a_reason_makes_a_misfit_a_decision(folder: Path) -> None:
    """It is said and stands in the records of both lots."""
    said = back(folder, JAR, *ON, "--mass", "200 g", "--into", "H", "--because", "for benches that may be both")
    assert f"put together all the same: {JAR} PP; H PE-HD\n" in said
    assert "because: for benches that may be both\n" in record(folder, "CB-001")
    assert "because: for benches that may be both\n" in record(folder, "H-001")


def test_a_held_lot_takes_nothing(folder: Path) -> None:
    """Until it is released."""
    yard.done("event", "held", "A", "--on", "2026-05-01", "--folder", folder)
    said = refused(folder, JAR, *ON, "--into", "A")
    assert "error lot-held: A is held since 2026-05-01: nothing is put to it\n" in said
    assert "hint: name another lot, or first: passport event released A" in said


# --- what cannot come back ------------------------------------------------------------------------------


def test_every_number_that_cannot_come_back_is_named(folder: Path) -> None:
    """Mistyped, never issued, destroyed, replaced: all in one go."""
    yard.done("event", "destroyed", JAR_2, "--on", "2026-05-01", "--folder", folder)
    new = yard.done("tag", "--replaces", JAR, "--on", "2026-05-01", "--folder", folder).split()[0]
    said = refused(folder, "MY-22224W", "MY-2222ZZ", JAR, JAR_2, *ON)
    assert [line for line in said.splitlines() if not line.startswith("    hint: compare")] == [
        "handback: error tag-ended: MY-22227P was destroyed on 2026-05-01, wanted a thing that is about",
        "    hint: if it is there after all, that event is wrong: set it right with: passport correct",
        (
            'handback: error tag-number-check: the check character of "MY-22224W" does not fit: '
            "at least one character is wrong"
        ),
        f"    hint: the nearest issued: {BOX}, MY-22222Z, MY-22223X",
        (
            'handback: error tag-number-check: the check character of "MY-2222ZZ" does not fit: '
            "at least one character is wrong"
        ),
        "    hint: the nearest issued: MY-22222Z, MY-22223X, MY-22224V",
        f"handback: error tag-replaced: met {JAR}, whose tag was replaced on 2026-05-01",
        f"    hint: the thing's number is {new} now",
        "4 errors",
    ]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((BOX, "--parts", "bdy"), f'--parts: met "bdy" of {BOX}; did you mean "body"?'),
        ((JAR, "--parts", "lid"), f'--parts: met "lid" of {JAR}; its parts still out: it is of one piece'),
        ((BOX, "--parts", "lid", "--not-back", "body"), "--parts and --not-back exclude each other"),
        ((JAR, "--into", "JAR-1"), '--into: met "JAR-1", wanted a new number, or a lot that stands here'),
        ((JAR, "--mass", "much"), '--mass: met "much", wanted a mass with its unit'),
        ((JAR, "--on", "soon"), '--on: met "soon", wanted a date such as 2026-04-11'),
    ],
)
def test_a_wrong_order_says_what_is_wanted(folder: Path, args: tuple[str, ...], said: str) -> None:
    """Exit code 2, nothing written."""
    assert said in " ".join(refused(folder, *args, code=2).split())


@pytest.mark.parametrize(
    ("day", "said"),
    [
        ("2026-02-01", f"met {JAR} handed back on 2026-02-01, wanted it after it was made (2026-03-01)"),
        ("2026-03-15", f"met {JAR} handed-over on 2026-04-01, wanted nothing after it became CB-001 (2026-03-15)"),
    ],
)
def test_a_day_that_cannot_be_is_refused(folder: Path, day: str, said: str) -> None:
    """Before it was made; before it went out."""
    out(folder, JAR)
    assert said in refused(folder, JAR, "--on", day, "--mass", "200 g", "--scale", "bench")


# --- at the desk ----------------------------------------------------------------------------------------


def test_a_person_is_asked_in_plain_words(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Day, parts, lot, weight, scale, looks: empty lines take the proposal, "?" leaves open, slips are asked again."""
    out(folder, BOX)
    answers: Iterator[str] = iter(
        ["2026-06-01", "bdy", "body", "", "0.9", "0.1", "bench", "?", "", "light", "white", "one crack"]
    )
    asked: list[str] = []

    def prompt(text: str, **_: object) -> str:
        asked.append(text)
        return next(answers)

    monkeypatch.setattr(asking, "at_a_terminal", lambda: True)
    monkeypatch.setattr(asking.click, "prompt", prompt)
    said = back(folder, BOX, "--yes")
    assert f"Which parts of {BOX} came back (body, lid; all)? [all]" in asked
    assert "Into which lot: a new number, or one that stands here? [CB-001]" in asked
    assert 'met "bdy", wanted all, or some of body, lid; did you mean "body"?' in said
    assert "gross: 0.9 kg\ntare: 0.1 kg\nscale: bench\nweathering: light\n" in record(folder, "CB-001")
    assert "notes: one crack\n" in record(folder, "CB-001")


def test_a_dry_run_says_it_all_and_writes_nothing(folder: Path) -> None:
    """The same as figures, for another program."""
    out(folder, BOX)
    before = yard.bytes_of(folder)
    result = yard.run(
        "handback", BOX, *ON, "--parts", "body", "--mass", "790 g", "--dry-run", "--json", "--folder", folder
    )
    assert json.loads(result.stdout) == {
        "lot": "CB-001",
        "came_back_as": "CB-001",
        "left_kg": "0.8",
        "back_kg": "0.79",
        "water_kg": "0",
        "tags": [{"tag": BOX, "parts": ["body"], "not_back": ["lid"], "handed_over": "2026-04-01"}],
        "written": False,
    }
    assert yard.bytes_of(folder) == before


def test_the_series_of_the_yard_goes_on(folder: Path) -> None:
    """Whoever calls what comes back RT goes on with RT."""
    out(folder, JAR, JAR_2)
    back(folder, JAR, *ON, "--mass", "200 g", "--into", "RT-007")
    assert back(folder, JAR_2, *ON, "--mass", "200 g").endswith("RT-008\n")
