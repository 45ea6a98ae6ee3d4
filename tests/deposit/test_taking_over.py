"""Another workshop takes over a deposit: tags answer, lots can be drawn, history and figures stay, all or nothing."""

import dataclasses
import datetime as dt
import json
import os
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import kills
import pytest
from forging import listed, sealed

from passport.deposit import bag
from passport.reading.ancestors import BY_NAME, OTHERS, RECORDS, SEQUENCES
from passport.reading.folder import read_shop
from passport.reading.shop import Shop
from passport.verdicts.book import Book, work_out

FARSHORE = """\
name: Farshore Works
prefix: FS
address: https://pass.farshore.example
country: IE
languages: [en]
scales:
  platform: {step: 0.2 kg, repeat: 0.2 kg, bias: 0.1 kg}
"""


def farshore(folder: Path, **files: str) -> Path:
    """A workshop with no records but those given: path below content/, with __ for /, and text."""
    for path, text in {"workshop.yaml": FARSHORE, **files}.items():
        target = folder / "content" / path.replace("__", "/")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
    return folder


def book_of(folder: Path) -> Book:
    """The records of a workshop, worked out; they have no errors."""
    shop, problems = read_shop(folder / "content")
    assert shop is not None
    assert [p for p in problems if p.level.value == "error"] == []
    return work_out(shop)


@pytest.fixture(scope="module")
def taken(deposit: Path, tmp_path_factory, cli) -> Path:
    """Farshore Works after it took over the deposit of Reedmouth Yard."""
    folder = farshore(tmp_path_factory.mktemp("farshore"))
    done = cli("deposit", "--take-over", deposit, "--folder", folder, "--json")
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert (said["folder"], said["workshop"], said["prefix"]) == ("content/from/RY", "Reedmouth Yard", "RY")
    return folder


@pytest.fixture(scope="module")
def before(deposit: Path) -> Book:
    """Reedmouth Yard's own book."""
    return book_of(deposit.parents[1])


@pytest.fixture(scope="module")
def after(taken: Path) -> Book:
    """Farshore's book with those records in it."""
    return book_of(taken)


def test_the_records_stay_as_they_were_written(deposit: Path, taken: Path) -> None:
    """Byte for byte in content/from/RY/, with one note on where they are from; nothing else changed."""
    tree = kills.tree(taken / "content")
    own = kills.tree(deposit.parents[1] / "content")
    assert tree.keys() == {"workshop.yaml", "from/RY/TAKEN-OVER.md", *(f"from/RY/{path}" for path in own)}
    assert {path: tree[f"from/RY/{path}"] for path in own} == own
    assert (taken / "content" / "workshop.yaml").read_text() == FARSHORE


def test_every_figure_stays(before: Book, after: Book) -> None:
    """What may be stated of each batch, and how certain it is, is the same to the last digit under the new name."""
    assert {f"RY-{name}" for name in before.items} == set(after.items)
    for name, verdicts in before.items.items():
        theirs = after.items[f"RY-{name}"]
        assert theirs.recycled.value == verdicts.recycled.value, name
        assert theirs.marks == verdicts.marks, name
        assert (
            theirs.stream.value is None
            or verdicts.stream.value is None
            or (theirs.stream.value.answer is verdicts.stream.value.answer)
        )


def test_every_balance_stays(before: Book, after: Book) -> None:
    """Each run closes as before, with the same uncertainty; each lot holds what it held."""
    assert {f"RY-{name}": c for name, c in before.ledger.closures.items()} == dict(after.ledger.closures)
    assert {f"RY-{name}": s.books_kg for name, s in before.ledger.stock.items()} == {
        name: s.books_kg for name, s in after.ledger.stock.items()
    }


def test_every_life_stays(before: Book, after: Book) -> None:
    """The tags keep their numbers, stages and ends."""
    assert before.lives.keys() == after.lives.keys()
    for tag, life in before.lives.items():
        theirs = after.lives[tag]
        assert (theirs.stage, theirs.ended, theirs.issued, theirs.piece) == (
            life.stage, life.ended, life.issued, life.piece,
        )  # fmt: skip
        assert theirs.item == f"RY-{life.item}"
        assert theirs.lot == (f"RY-{life.lot}" if life.lot else "")


def test_the_same_doubts_stand_at_the_same_lines(before: Book, after: Book) -> None:
    """Every doubt is still there, and leads to the line in the file that was taken over."""
    moved = [(p.code, p.place.file.replace("content/", "content/from/RY/", 1), p.place.line) for p in before.problems]
    assert sorted(moved) == sorted((p.code, p.place.file, p.place.line) for p in after.problems)


@pytest.fixture(scope="module")
def published(taken: Path, tmp_path_factory, cli) -> Path:
    """Farshore's site, after it drew from a lot of Reedmouth Yard, took a thing of it back, and issued a number."""
    folder = tmp_path_factory.mktemp("published")
    shutil.copytree(taken / "content", folder / "content")
    shop, _ = read_shop(folder / "content")
    assert shop is not None
    book = work_out(shop)
    stocks = book.ledger.stock
    lot = max((name for name in stocks if stocks[name].books_kg), key=lambda name: stocks[name].books_kg or 0)
    tag = next(tag for tag, life in book.lives.items() if life.stage.value == "in-use")
    (folder / "drawn.txt").write_text(f"{lot} {tag}")
    farshore(
        folder,
        **{
            "lots__SP-1.yaml": f"date: 2027-01-10\noperation: split\ndraws: [{{lot: {lot}, mass: 2 kg}}]\nmass: 2 kg\n",
            "lots__BK-1.yaml": f"date: 2027-01-12\nreceived: {{tags: [{{tag: {tag}}}]}}\nmass: 5 kg\n",
            "products__sheet.yaml": "title: Sheet\nmade_for: Trying\n",
            "items__SH-1.yaml": (
                "date: 2027-01-11\nproduct: sheet\ncount: 1\nmass: 1.9 kg each\ndraws: [{lot: SP-1, mass: 2 kg}]\n"
            ),
        },
    )
    done = cli("tag", "SH-1", "--on", "2027-01-13", "--folder", folder)
    assert (done.returncode, done.stdout[:3]) == (0, "FS-"), done.stderr
    done = cli("publish", "--folder", folder)
    assert done.returncode == 0, done.stderr
    return folder


def test_every_tag_answers(published: Path, before: Book) -> None:
    """Each number that Reedmouth Yard ever issued has its page on Farshore's site, and Farshore's first one too."""
    pages = {path.name for path in (published / "site" / "T").iterdir() if (path / "index.html").is_file()}
    assert pages >= before.lives.keys()
    assert len([page for page in pages if page.startswith("FS-")]) == 1


def test_pages_say_who_made_it(published: Path) -> None:
    """The maker stays Reedmouth Yard, the keeper of the records is Farshore; machines are told the same."""
    _, tag = (published / "drawn.txt").read_text().split()
    lives = [life for life in book_of(published).lives.values() if life.open and life.tag.startswith("RY-")]
    page = (published / "site" / "T" / lives[0].tag / "index.html").read_text(encoding="utf-8")
    assert "Reedmouth Yard" in page
    assert "Records now kept by" in page
    assert '"manufacturer":{"@type":"Organization","name":"Reedmouth Yard"' in page
    assert tag not in {life.tag for life in lives}
    method = (published / "site" / "method" / "index.html").read_text(encoding="utf-8")
    assert "Records of Reedmouth Yard" in method


def test_history_goes_on(published: Path, before: Book) -> None:
    """A lot drawn from one of theirs has its streams and shares; a thing of theirs handed back is post-consumer."""
    lot, tag = (published / "drawn.txt").read_text().split()
    book = book_of(published)
    theirs = before.ledger.mixtures[lot.removeprefix("RY-")]
    ours = book.ledger.mixtures["SP-1"]
    assert ours.recycled().value == theirs.recycled().value
    assert {f"RY-{name}" if name else name for name in theirs.shares_by("stream")} == set(ours.shares_by("stream"))
    back = book.ledger.mixtures["BK-1"]
    assert back.post_consumer().value == 1
    assert book.lives[tag].stage.value == "came-back"
    assert book.lives[tag].lot == "BK-1"
    assert any(name.startswith("RY-") for name in book.ledger.upstream("BK-1"))


def test_the_photos_come_along(published: Path, deposit: Path) -> None:
    """Pictures of the records that were taken over are on the site, as many as before."""
    with zipfile.ZipFile(deposit) as archive:
        there = [name for name in archive.namelist() if "/site/photos/" in name]
    assert there
    assert len(list((published / "site" / "photos").iterdir())) == len(there)


def test_its_own_lists_begin_with_its_own_lines(published: Path) -> None:
    """Farshore's first number follows no line of Reedmouth Yard's list: each list has its own seals."""
    lines = (published / "content" / "tags-issued.csv").read_text().splitlines()
    assert len(lines) == 2
    assert lines[1].startswith("FS-22222")


def test_a_successor_of_the_successor(published: Path, tmp_path: Path, cli) -> None:
    """What Farshore deposits holds what it took over; a third workshop gets both, each under its own names."""
    done = cli("deposit", "--folder", published, "--to", tmp_path)
    assert done.returncode == 0, done.stderr
    (packed,) = tmp_path.glob("FS-*.zip")
    third = farshore(tmp_path / "third")
    (third / "content" / "workshop.yaml").write_text(FARSHORE.replace("FS", "NS").replace("Farshore", "Northstrand"))
    done = cli("deposit", "--take-over", packed, "--folder", third)
    assert done.returncode == 0, done.stderr
    book, theirs = book_of(third), book_of(published)
    assert book.lives.keys() == theirs.lives.keys()
    assert {w.name for w in book.shop.ancestors.values()} == {"Farshore Works", "Reedmouth Yard"}
    assert book.ledger.mixtures["FS-BK-1"].post_consumer().value == 1
    assert book.shop.kept_by("lot", "FS-RY-IN-001").name == "Reedmouth Yard"
    assert book.shop.kept_by("lot", "FS-BK-1").name == "Farshore Works"
    closures = {f"FS-{name}": closure for name, closure in theirs.ledger.closures.items()}
    assert closures == dict(book.ledger.closures)


def test_new_numbers_are_ours(taken: Path, tmp_path: Path, cli) -> None:
    """What comes in, comes back or is made here begins series of our own, and the prefix is no slip."""
    folder = tmp_path / "yard"
    shutil.copytree(taken, folder)
    tag = next(tag for tag, life in book_of(folder).lives.items() if life.stage.value == "in-use")
    for args in (
        ("receive", "--opening", "--mass", "5 kg", "--on", "2027-01-08", "--quick", "--yes"),
        ("handback", tag, "--mass", "1 kg", "--on", "2027-01-09", "--yes"),
        ("event", "held", "RY-IN-001", "--on", "2027-01-10", "--yes"),
    ):
        done = cli(*args, "--folder", folder)
        assert done.returncode == 0, done.stderr
    own = kills.tree(folder / "content").keys() - {f"from/RY/{path}" for path in kills.tree(folder / "content/from/RY")}
    assert not [path for path in own if "RY-" in path.rpartition("/")[2]]
    assert "prefix-changed" not in cli("check", "--folder", folder).stderr


# --- refusals -----------------------------------------------------------------------------------------


def refused(cli, folder: Path, deposit: Path) -> str:
    """What is said of a take-over that is refused; the records are as they were."""
    was = kills.tree(folder / "content")
    done = cli("deposit", "--take-over", deposit, "--folder", folder)
    assert done.returncode == 1, done.stderr
    assert kills.tree(folder / "content") == was
    assert not (folder / "content" / ".journal").exists()
    return done.stderr.replace(str(folder), "YARD")


def test_twice(taken: Path, deposit: Path, cli) -> None:
    """A workshop is taken over once."""
    assert refused(cli, taken, deposit) == (
        "YARD/content/from/RY: error records-cannot-write: this cannot be written: it is there already, and a record "
        "is never overwritten\n"
        "    hint: nothing was written; take another name, or mend what is there by hand\n"
        "1 error\n"
    )


def test_by_a_workshop_with_the_same_prefix(deposit: Path, tmp_path: Path, cli) -> None:
    """Two workshops that issue numbers with one prefix cannot be one."""
    folder = farshore(tmp_path)
    (folder / "content" / "workshop.yaml").write_text(FARSHORE.replace("prefix: FS", "prefix: RY"))
    assert refused(cli, folder, deposit) == (
        "content/from/RY: error taken-over-clash: met tag numbers that begin with RY-, as ours or those of another "
        "workshop do\n"
        "    hint: rename ours: what was taken over stays as it was written\n"
        "1 error\n"
    )


def test_names_that_are_taken(deposit: Path, tmp_path: Path, cli) -> None:
    """Lots, scales and pictures of ours that have the new names are each named, and nothing is written."""
    folder = farshore(tmp_path, **{"streams__bay.yaml": "title: Bay\norigin: unknown\n"})
    (folder / "content" / "workshop.yaml").write_text(FARSHORE + "  RY-floor: {step: 1 kg}\n")
    farshore_lot = "date: 2026-01-01\nreceived: {stream: bay}\nmass: 1 kg\n"
    (folder / "content" / "lots").mkdir()
    (folder / "content" / "lots" / "RY-IN-001.yaml").write_text(farshore_lot)
    (folder / "content" / "photos").mkdir()
    photo = next(path.name for path in sorted((deposit.parents[1] / "content" / "photos").iterdir()))
    (folder / "content" / "photos" / f"RY-{photo}").write_bytes(b"")
    said = refused(cli, folder, deposit)
    hint = "    hint: rename ours: what was taken over stays as it was written\n"
    head = "content/from/RY: error taken-over-clash: met the "
    assert f"{head}lot RY-IN-001, which is content/lots/RY-IN-001.yaml already\n{hint}" in said
    assert f"{head}scale RY-floor, a name that is there already\n{hint}" in said
    assert f"{head}picture RY-{photo}, a name that is there already\n{hint}" in said
    assert said.endswith("3 errors\n")


def test_a_damaged_deposit(deposit: Path, tmp_path: Path, cli) -> None:
    """What is not whole is not taken over."""
    whole = bytearray(deposit.read_bytes())
    whole[len(whole) // 2] ^= 1
    (tmp_path / "bad.zip").write_bytes(whole)
    said = refused(cli, farshore(tmp_path / "f"), tmp_path / "bad.zip")
    assert "error deposit-" in said


def test_a_deposit_with_broken_records(deposit: Path, tmp_path: Path, cli) -> None:
    """Records that do not read are named with file and line, though every checksum fits."""
    base = deposit.stem + "/"
    with zipfile.ZipFile(deposit) as archive:
        files = {name.removeprefix(base): archive.read(name) for name in archive.namelist()}
    files = {name: data for name, data in files.items() if not name.startswith("data/site/")}
    files["data/content/lots/IN-001.yaml"] = b"date: soon\n"
    day = dt.date.fromisoformat(deposit.stem[-10:])
    about = bag.About(workshop="Reedmouth Yard", prefix="RY", day=day)
    (tmp_path / "bad.zip").write_bytes(sealed(listed(files, about), base, day))
    said = refused(cli, farshore(tmp_path / "f"), tmp_path / "bad.zip")
    assert 'content/from/RY/lots/IN-001.yaml:1:7: error value: met "soon"' in said


def test_a_workshop_with_errors(deposit: Path, tmp_path: Path, cli) -> None:
    """Our own records have to read before others come in."""
    said = refused(cli, farshore(tmp_path, **{"lots__IN-1.yaml": "date: soon\n"}), deposit)
    assert said.startswith("content/lots/IN-1.yaml:1:7: error ")


def test_a_folder_of_another_name(taken: Path, tmp_path: Path) -> None:
    """Somebody renames the folder: the prefix says whose it is, and the records are not read under another."""
    shutil.copytree(taken / "content", tmp_path / "content")
    (tmp_path / "content" / "from" / "RY").rename(tmp_path / "content" / "from" / "XY")
    _, problems = read_shop(tmp_path / "content")
    assert [(p.code, p.message, p.place.file) for p in problems] == [
        ("taken-over-prefix", "met the prefix RY, wanted that of the folder, XY", "content/from/XY")
    ]


@pytest.mark.parametrize("make", [lambda p: p.symlink_to("/"), lambda p: p.write_text(""), os.mkfifo])
def test_what_is_no_folder(tmp_path: Path, make) -> None:
    """A link, a file or a pipe in from/ is named and not opened."""
    folder = farshore(tmp_path)
    (folder / "content" / "from").mkdir()
    make(folder / "content" / "from" / "RY")
    _, problems = read_shop(folder / "content")
    assert [(p.code, p.message) for p in problems] == [
        ("not-a-folder", "met no folder, wanted that of a workshop, by its prefix")
    ]


def test_workshops_without_end(tmp_path: Path) -> None:
    """Folders within folders within folders end with words, not with the interpreter's stack."""
    here = tmp_path / "content"
    for depth in range(40):
        here.mkdir(parents=True)
        prefix = "FS" if depth == 0 else f"A{depth + 2}".replace("0", "Z").replace("1", "Y")
        (here / "workshop.yaml").write_text(f"name: Workshop {depth}\nprefix: {prefix}\n")
        below = f"A{depth + 3}".replace("0", "Z").replace("1", "Y")
        here = here / "from" / below
    _, problems = read_shop(tmp_path / "content")
    assert [(p.code, p.message) for p in problems] == [
        ("too-deep", "met more than 5 workshops taken over from one another")
    ]


# --- kills --------------------------------------------------------------------------------------------

PROGRAM = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.writing import sole_writer
files = [("workshop.yaml", b"name: x\\n"), ("lots/IN-1.yaml", b"mass: 1 kg\\n"), ("photos/a.jpg", b"\\0" * 9)]
with sole_writer(Path(sys.argv[2])) as writer:
    writer.write_folder("from/RY", files, lambda aside: None)
"""
WHOLE = {"from/RY/workshop.yaml", "from/RY/lots/IN-1.yaml", "from/RY/photos/a.jpg"}


@pytest.mark.skipif(kills.STRACE is None, reason=kills.WHY_SKIPPED)
def test_a_kill_before_every_call(tmp_path: Path) -> None:
    """Killed before any call that changes files, the folder is whole or not there, and the next run clears the rest."""
    from passport.writing import recover  # noqa: PLC0415

    (tmp_path / "x").mkdir()
    calls = kills.changing_calls(kills.python(PROGRAM, str(tmp_path / "x")), tmp_path / "x", tmp_path / "log")
    assert len(calls) > 10
    ends = set()
    for number, call in enumerate(calls):
        content = tmp_path / str(number)
        content.mkdir()
        kills.kill_before(kills.python(PROGRAM, str(content)), call)
        recover(content)
        there = set(kills.tree(content))
        assert there in (set(), WHOLE), call
        ends.add(len(there))
    assert ends == {0, 3}


@pytest.mark.skipif(kills.STRACE is None, reason=kills.WHY_SKIPPED)
@pytest.mark.parametrize("call", ["write:when=1", "mkdir:when=2", "rename", "syncfs"])
def test_a_disk_that_fails(tmp_path: Path, call: str) -> None:
    """An error of the disk at any step leaves the records as they were."""
    name, _, when = call.partition(":")
    fault = f"inject={name}:error=ENOSPC" + (f":{when}" if when else "")
    program = ["-qq", "-o", os.devnull, "-e", f"trace={name}", "-e", fault, *kills.python(PROGRAM, str(tmp_path))]
    done = kills.run([kills.STRACE, *program])
    assert "Refused: No space left on device" in done.stderr
    assert kills.tree(tmp_path) == {}


# --- completeness -------------------------------------------------------------------------------------


def test_every_part_of_a_shop_is_thought_of() -> None:
    """Whoever adds a field to Shop has to say how it is joined."""
    assert {*RECORDS, *BY_NAME, *SEQUENCES, *OTHERS} == {field.name for field in dataclasses.fields(Shop)}


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _texts(getattr(value, field.name))
    elif isinstance(value, tuple):
        for part in value:
            yield from _texts(part)


def test_no_old_name_is_left(before: Book, after: Book) -> None:
    """No record that was taken over names a lot, run, batch, product or stream by the name that it had."""
    old = {name for (kind, name) in before.shop.files if kind != "workshop"}
    for kind in RECORDS:
        for record in getattr(after.shop, kind).values():
            assert not old.intersection(_texts(record)), record.id
    for event in after.shop.events:
        assert not old.intersection(_texts(event)), event
