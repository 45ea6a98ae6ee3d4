"""A deposit is one plain file with all records, the site and a guide, the same bytes from the same records."""

import datetime as dt
import hashlib
import importlib.util
import io
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from fractions import Fraction
from pathlib import Path

import kills
import pytest
import yaml
from conftest import missing

from passport.deposit import bag
from passport.deposit.packing import pack
from passport.disk import Refused
from passport.problems import in_words

ABOUT = bag.About(workshop="Reedmouth Yard", prefix="RY", day=dt.date(2026, 10, 17))
BESIDE = {"READ-ME-FIRST.txt": "Read.\n"}
PAYLOAD = [("content/workshop.yaml", b"name: Reedmouth Yard\n"), ("site/index.html", b"<p>")]


@pytest.fixture(scope="module")
def unpacked(deposit: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The deposit's folder, unpacked by Python's own reader of ZIP."""
    folder = tmp_path_factory.mktemp("unpacked")
    with zipfile.ZipFile(deposit) as archive:
        assert archive.testzip() is None
        archive.extractall(folder)
    (base,) = folder.iterdir()
    return base


@pytest.mark.skipif(shutil.which("unzip") is None, reason="unzip is not on this machine; CI has it")
def test_other_unpackers_find_it_sound(deposit: Path) -> None:
    """Info-ZIP's unzip reads every member and finds no fault."""
    done = subprocess.run(["unzip", "-tqq", deposit], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.fixture(scope="module")
def small(tmp_path_factory) -> Path:
    """A workshop with one lot, and one private record beside it."""
    folder = tmp_path_factory.mktemp("small")
    for path, text in {
        "content/workshop.yaml": "name: Reedmouth Yard\nprefix: RY\n",
        "content/streams/bay.yaml": "title: Bay\norigin: post-consumer\n",
        "content/lots/IN-001.yaml": "date: 2026-01-10\nreceived: {stream: bay}\nmass: 5 kg\n",
        "private/IN-001.yaml": "giver: Wrenna Quillfeather\n",
    }.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, encoding="utf-8")
    return folder


def test_it_is_a_plain_container(deposit: Path) -> None:
    """ISO/IEC 21320-1:2015 (from memory): one volume, no encryption, UTF-8 names; here nothing is compressed either."""
    with zipfile.ZipFile(deposit) as archive:
        for member in archive.infolist():
            assert member.compress_type == zipfile.ZIP_STORED
            assert member.flag_bits == 0x800
            assert member.date_time == (2026, int(deposit.stem[-5:-3]), int(deposit.stem[-2:]), 0, 0, 0)


def test_it_is_a_bag(unpacked: Path) -> None:
    """RFC 8493, 2.1 and 3: declaration, payload below data/, and lists that name every file with its SHA-256."""
    assert (unpacked / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    payload = {p.relative_to(unpacked).as_posix() for p in (unpacked / "data").rglob("*") if p.is_file()}
    beside = {p.name for p in unpacked.iterdir() if p.is_file()}
    listed = dict(line.split("  ", 1)[::-1] for line in (unpacked / "manifest-sha256.txt").read_text().splitlines())
    own = dict(line.split("  ", 1)[::-1] for line in (unpacked / "tagmanifest-sha256.txt").read_text().splitlines())

    assert listed.keys() == payload
    assert own.keys() == beside - {"tagmanifest-sha256.txt"}
    for path, digest in (listed | own).items():
        assert hashlib.sha256((unpacked / path).read_bytes()).hexdigest() == digest
    size = sum((unpacked / path).stat().st_size for path in payload)
    assert f"Payload-Oxum: {size}.{len(payload)}\n" in (unpacked / "bag-info.txt").read_text()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not on this machine; Linux has it")
def test_the_orders_in_the_guide_work(unpacked: Path) -> None:
    """Whoever types what the guide says for Linux is told that every file is whole."""
    guide = (unpacked / "READ-ME-FIRST.txt").read_text(encoding="utf-8")
    order = re.search(r"Linux +(.+)", guide)
    assert order
    done = subprocess.run(["sh", "-c", order[1]], cwd=unpacked, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_another_reader_of_bags_finds_it_valid(unpacked: Path) -> None:
    """The library bagit, a reader of RFC 8493 that shares nothing with this program, validates the whole bag."""
    if importlib.util.find_spec("bagit") is None:
        missing("the library bagit is not installed here")
    done = subprocess.run(
        [sys.executable, "-m", "bagit", "--validate", unpacked], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr.rstrip().endswith("is valid")


def test_the_records_are_in_it_as_they_are(deposit: Path, unpacked: Path) -> None:
    """Every file of content/ with the bytes that it had."""
    content = deposit.parents[1] / "content"
    assert kills.tree(unpacked / "data" / "content") == kills.tree(content)


def test_the_site_is_in_it_as_published(demo: Path, unpacked: Path) -> None:
    """What `publish` makes of the same records, but for its own list of files."""
    published = kills.tree(demo / "site")
    del published["files.sha256"]
    assert kills.tree(unpacked / "data" / "site") == published


def test_check_says_the_same_of_the_unpacked_records(unpacked: Path, cli) -> None:
    """The fixed point: `passport check` in data/ prints CHECK.txt."""
    done = cli("check", cwd=unpacked / "data")
    assert done.returncode == 0
    assert done.stderr == (unpacked / "CHECK.txt").read_text(encoding="utf-8")


def test_a_deposit_of_the_unpacked_records_is_the_same_file(small: Path, tmp_path: Path, cli) -> None:
    """Packed anew from what was unpacked, in another zone and locale, it is equal to the byte."""
    assert cli("deposit", "--folder", small, "--to", tmp_path / "first").returncode == 0
    (first,) = (tmp_path / "first").iterdir()
    with zipfile.ZipFile(first) as archive:
        archive.extractall(tmp_path)
    done = cli(
        "deposit", "--to", tmp_path / "again", "--folder", tmp_path / first.stem / "data",
        TZ="Pacific/Kiritimati", LC_ALL="C", PYTHONHASHSEED="7",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "again" / first.name).read_bytes() == first.read_bytes()


def test_nothing_private_is_in_it(deposit: Path) -> None:
    """Neither a file of private/ nor a word of one, though there is one beside the records."""
    whole = deposit.read_bytes()
    assert b"Wrenna" not in whole
    assert b"/private/" not in whole.replace(b"data/private/", b"")
    assert b"data/private/IN" not in whole


def test_a_private_record_goes_in_by_name_alone(small: Path, tmp_path: Path, cli) -> None:
    """Asked for by name, that one record is in it, and the guide and the bag say so."""
    done = cli("deposit", "--folder", small, "--to", tmp_path, "--private", "in-001", "--json")
    assert done.returncode == 0, done.stderr
    base = "RY-deposit-2026-01-10"
    packed = tmp_path / f"{base}.zip"
    with zipfile.ZipFile(packed) as archive:
        assert json.loads(done.stdout) == {
            "file": str(packed), "sha256": hashlib.sha256(packed.read_bytes()).hexdigest(),
            "bytes": packed.stat().st_size, "files": len(archive.namelist()), "new": True,
        }  # fmt: skip
        assert archive.read(f"{base}/data/private/IN-001.yaml") == b"giver: Wrenna Quillfeather\n"
        assert b"Private-Record: IN-001\n" in archive.read(f"{base}/bag-info.txt")
        guide = archive.read(f"{base}/READ-ME-FIRST.txt").decode()
    assert "It holds these records of private/, asked for by name: IN-001. Keep it accordingly." in guide


@pytest.mark.parametrize("make", [Path.exists, Path.mkdir, lambda path: path.symlink_to("/etc/hostname"), os.mkfifo])
def test_a_private_record_that_is_not_there(small: Path, tmp_path: Path, cli, make) -> None:
    """A name without a plain file is an error, with the nearest one, and nothing is written."""
    path = small / "private" / "IN-01.yaml"
    make(path)
    done = cli("deposit", "--folder", small, "--to", tmp_path / "x", "--private", "IN-01")
    if path.is_dir() and not path.is_symlink():
        path.rmdir()
    else:
        path.unlink(missing_ok=True)
    assert done.returncode == 1
    assert done.stderr == (
        "private: error no-private-record: met no plain file for IN-01, wanted private/IN-01.yaml\n"
        '    hint: did you mean "IN-001"?\n'
        "1 error\n"
    )
    assert not (tmp_path / "x").exists()


def test_the_guide_works_out_the_number_by_hand(unpacked: Path) -> None:
    """Each line of the worked number follows from the rule above it (ISO/IEC 7064:2003, MOD 37,36)."""
    guide = (unpacked / "READ-ME-FIRST.txt").read_text(encoding="utf-8")
    running = 36
    lines = re.findall(r"^ +(\w) = +(\d+) +(\d+) \+ +(\d+) = +(\d+) +P = (\d+)$", guide, re.MULTILINE)
    assert len(lines) == 7
    for sign, value, before, added, total, after in lines:
        place = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ".index(sign)
        assert (int(value), int(before), int(added), int(total)) == (place, running, place, running + place)
        running = ((running + place - 1) % 36 + 1) * 2 % 37
        assert int(after) == running
    end = re.search(r"at the end (\d+) \+ (\d+) = (\d+), which leaves 1", guide)
    assert end
    assert int(end[1]) == running
    assert int(end[3]) == running + int(end[2])
    assert int(end[3]) % 36 == 1


def test_the_guide_works_out_a_seal(unpacked: Path) -> None:
    """The order that the guide shows gives the seal that stands in the first line of the list."""
    guide = (unpacked / "READ-ME-FIRST.txt").read_text(encoding="utf-8")
    shown = re.search(r"printf %s '(.+)' \| sha256sum +begins with (\w{8})", guide)
    assert shown
    assert hashlib.sha256(shown[1].encode()).hexdigest()[:8] == shown[2]
    first = (unpacked / "data/content/tags-issued.csv").read_text().splitlines()[1]
    assert f"00000000,{first}" == f"{shown[1]},{shown[2]}"


def test_the_guide_works_out_a_balance(unpacked: Path) -> None:
    """Each mixed step of the worked example follows from the figures in it, and so does the run's residual."""
    guide = (unpacked / "READ-ME-FIRST.txt").read_text(encoding="utf-8")
    closing = re.search(r": ([\d.]+) kg drawn \+ ([\d.]+) kg gains − ([\d.]+) kg results − ([\d.]+) kg losses\n", guide)
    assert closing
    drawn, gains, results, losses = map(Fraction, closing.groups())
    residual = re.search(r"^ += (-?[\d.]+) kg \(u ", guide[closing.end() :], re.MULTILINE)
    assert residual
    assert Fraction(residual[1]) == drawn + gains - results - losses

    mixed = re.findall(r": \((.+)\) / ([\d.]+) kg\n +=  ?([\d.]+) %", guide)
    assert mixed
    for terms, whole, share in mixed:
        parts = [(Fraction(m), Fraction(p)) for m, p in re.findall(r"([\d.]+) kg × ([\d.]+) %", terms)]
        assert abs(sum(m for m, _ in parts) - Fraction(whole)) <= Fraction(1, 500)
        assert abs(sum(m * p for m, p in parts) / Fraction(whole) - Fraction(share)) <= Fraction(2, 100)


def test_the_fields_of_every_record_are_in_the_list(unpacked: Path) -> None:
    """Whatever field a record of the demo uses stands in FIELDS.txt (read here by another YAML loader's rules)."""
    fields = set(re.findall(r"^  (\w+) \(", (unpacked / "FIELDS.txt").read_text(encoding="utf-8"), re.MULTILINE))
    for path in (unpacked / "data/content").rglob("*.yaml"):
        tree = yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader)  # noqa: S506 - it makes text alone
        for record in tree if isinstance(tree, list) else [tree]:
            assert record.keys() <= fields, path


def test_guides_in_the_languages_of_the_workshop(unpacked: Path) -> None:
    """English and French where the workshop speaks both; both say the same figures."""
    english, french = (
        [line for line in (unpacked / name).read_text(encoding="utf-8").splitlines() if line.startswith("       = ")]
        for name in ("READ-ME-FIRST.txt", "LISEZ-MOI.txt")
    )
    assert len(english) > 5
    assert english == french


# --- where it is written ------------------------------------------------------------------------------


def packed(folder: Path, payload=PAYLOAD):
    """A small deposit in a folder."""
    return pack(folder, ABOUT, BESIDE, payload)


def test_the_same_deposit_twice_is_one_file(tmp_path: Path) -> None:
    """The second time nothing is written: not even the file's time changes."""
    first = packed(tmp_path)
    before = first.path.stat()
    second = packed(tmp_path)
    assert (first.new, second.new) == (True, False)
    assert (first.size, first.sha256, first.members) == (second.size, second.sha256, second.members)
    assert second.path.stat() == before
    assert kills.names(tmp_path) == ["RY-deposit-2026-10-17.zip"]


def test_another_file_is_never_overwritten(tmp_path: Path) -> None:
    """Other content under the name is an error, and stays; nothing is left beside it."""
    first = packed(tmp_path)
    content = first.path.read_bytes()
    with pytest.raises(Refused) as refused:
        packed(tmp_path, [*PAYLOAD, ("content/lots/IN-1.yaml", b"")])
    assert in_words(refused.value.problems[0]).replace(str(tmp_path), "FOLDER") == (
        "FOLDER/RY-deposit-2026-10-17.zip: error deposit-is-there: another file has this name, and it is not the same; "
        "a deposit is never overwritten\n"
        "    hint: move it elsewhere, or choose another folder with --to"
    )
    assert first.path.read_bytes() == content
    assert len(kills.names(tmp_path)) == 1


@pytest.mark.parametrize("make", [Path.mkdir, lambda p: p.symlink_to("/etc/hostname"), os.mkfifo])
def test_whatever_has_the_name_is_left_alone(tmp_path: Path, make) -> None:
    """A folder, a link or a pipe in the file's place is refused and stays."""
    make(tmp_path / "RY-deposit-2026-10-17.zip")
    with pytest.raises(Refused, match="another file has this name"):
        packed(tmp_path)
    assert kills.names(tmp_path) == ["RY-deposit-2026-10-17.zip"]


@pytest.mark.parametrize("name", ["../x", "/x", "a//b", "CON.txt", "x" * 300, "a/\u202eb", "content/WORKSHOP.yaml"])
def test_a_path_that_some_disk_cannot_hold(tmp_path: Path, name: str) -> None:
    """It is refused by name, and nothing is left."""
    with pytest.raises(Refused, match="this file cannot be packed"):
        packed(tmp_path, [*PAYLOAD, (name, b"")])
    assert kills.names(tmp_path) == []


@pytest.mark.parametrize("inside", ["content", "site/x", "private", "theme"])
def test_never_into_the_folders_that_it_packs(tmp_path: Path, cli, inside: str) -> None:
    """A deposit in content/ or site/ would be packed into the next one."""
    (tmp_path / "content").mkdir()
    done = cli("deposit", "--folder", tmp_path, "--to", tmp_path / inside)
    assert done.returncode == 1
    assert done.stderr.replace(str(tmp_path), "YARD") == (
        f"YARD/{inside}: error deposit-inside: met a folder in {inside.partition('/')[0]}/, wanted one outside it\n"
        "    hint: the next deposit would hold this one; choose another folder with --to\n"
        "1 error\n"
    )


def test_records_with_errors_are_not_packed(tmp_path: Path, cli) -> None:
    """The errors are named, as by check, and no file is made."""
    (tmp_path / "content" / "lots").mkdir(parents=True)
    (tmp_path / "content" / "workshop.yaml").write_text("name: Reedmouth Yard\nprefix: RY\n")
    (tmp_path / "content" / "lots" / "IN-1.yaml").write_text("date: soon\n")
    done = cli("deposit", "--folder", tmp_path)
    assert done.returncode == 1
    assert "content/lots/IN-1.yaml:1:7: error" in done.stderr
    assert not (tmp_path / "deposits").exists()


def test_a_day_before_the_last_record(small: Path, tmp_path: Path, cli) -> None:
    """A deposit holds all records, so it cannot be dated before some of them."""
    done = cli("deposit", "--folder", small, "--to", tmp_path, "--at", "2025-01-01")
    assert done.returncode == 1
    assert done.stderr == (
        "content: error deposit-too-early: met records up to 2026-01-10, wanted none after 2025-01-01\n"
        "    hint: a deposit holds all records: leave --at out, or name a day that is not before them\n"
        "1 error\n"
    )
    assert kills.names(tmp_path) == []


def test_wrong_use(cli) -> None:
    """Options that exclude each other end with 2."""
    assert cli("deposit", "--verify", "a", "--take-over", "b").returncode == 2
    assert cli("deposit", "--verify", "a", "--to", "b").returncode == 2


def test_json_for_another_program(deposit: Path, cli) -> None:
    """Verifying prints name, checksum, size and number of files as JSON alone."""
    seen = json.loads(cli("deposit", "--verify", deposit, "--json").stdout)
    with zipfile.ZipFile(deposit) as archive:
        count = len(archive.namelist())
    assert seen == {
        "file": str(deposit), "sha256": hashlib.sha256(deposit.read_bytes()).hexdigest(),
        "bytes": deposit.stat().st_size, "files": count, "workshop": "Reedmouth Yard", "prefix": "RY",
        "day": deposit.stem[-10:],
    }  # fmt: skip


# --- kills and full disks -----------------------------------------------------------------------------

PROGRAM = """
import sys
sys.path.insert(0, sys.argv[1])
import datetime as dt
from pathlib import Path
from passport.deposit import bag
from passport.deposit.packing import pack
from passport.disk import Refused
from passport.problems import in_words
about = bag.About(workshop="Reedmouth Yard", prefix="RY", day=dt.date(2026, 10, 17))
try:
    pack(Path(sys.argv[2]), about, {"READ-ME-FIRST.txt": "Read.\\n"}, [
        ("content/workshop.yaml", b"name: Reedmouth Yard\\n"), ("site/index.html", b"<p>")])
except Refused as refused:
    print(in_words(refused.problems[0]))
"""
needs_tracer = pytest.mark.skipif(kills.STRACE is None, reason=kills.WHY_SKIPPED)


@needs_tracer
def test_a_kill_before_every_call(tmp_path: Path) -> None:
    """Killed before any call that changes files, the deposit is whole or not there, and the next run succeeds."""
    whole = packed(tmp_path / "whole").path.read_bytes()
    (tmp_path / "x").mkdir()
    calls = kills.changing_calls(kills.python(PROGRAM, str(tmp_path / "x")), tmp_path / "x", tmp_path / "log")
    assert len(calls) > 6
    ends = set()
    for number, call in enumerate(calls):
        folder = tmp_path / str(number)
        folder.mkdir()
        kills.kill_before(kills.python(PROGRAM, str(folder)), call)
        there = [name for name in kills.names(folder) if not name.startswith(".")]
        ends.add(len(there))
        for name in there:
            assert (folder / name).read_bytes() == whole, call
        packed(folder)
        assert kills.names(folder) == ["RY-deposit-2026-10-17.zip"], call
    assert ends == {0, 1}


@needs_tracer
def test_it_is_synced_before_it_has_its_name(tmp_path: Path) -> None:
    """Bytes first, then the name, then the folder (fsync(2))."""
    (tmp_path / "x").mkdir()
    lines = kills.trace(kills.python(PROGRAM, str(tmp_path / "x")), tmp_path / "log")
    named = next(number for number, line in enumerate(lines) if line.startswith("link("))
    calls = [line.partition("(")[0] for line in lines[:named] if ".zip.part" in line]
    assert calls[-2:] == ["write", "fsync"]
    assert lines[named + 2].startswith("fsync(")
    assert f"{tmp_path}/x>" in lines[named + 2]


@needs_tracer
@pytest.mark.parametrize(
    ("call", "error", "said"),
    [("write", "ENOSPC", "No space left on device"), ("fsync", "EIO", "Input/output error")],
)
def test_a_disk_that_fails(tmp_path: Path, call: str, error: str, said: str) -> None:
    """An error of the disk is said in words, and no half file is left."""
    fault = ["-e", f"trace={call}", "-e", f"inject={call}:error={error}:when=1"]
    done = kills.run([kills.STRACE, "-qq", "-o", os.devnull, *fault, *kills.python(PROGRAM, str(tmp_path / "x"))])
    assert done.stdout.startswith(f"{tmp_path}/x/.RY-deposit-2026-10-17.zip.part: error deposit-not-written: {said}\n")
    assert kills.names(tmp_path / "x") == []


def test_more_members_than_the_plain_form_can_count(tmp_path: Path) -> None:
    """70,000 files need the larger directory (application note, 4.3.14); Python's reader finds them all."""
    done = packed(tmp_path, ((f"content/{n}", b"") for n in range(70_000)))
    with zipfile.ZipFile(done.path) as archive:
        names = archive.namelist()
    assert len(names) == len(done.members) == 70_005
    assert names[-1] == "RY-deposit-2026-10-17/tagmanifest-sha256.txt"


def test_members_beyond_four_gigabytes(tmp_path: Path) -> None:
    """A member whose header lies beyond 4 GiB is found by its entry in the extra field (application note, 4.5.3)."""
    from passport.deposit import container  # noqa: PLC0415

    far = 5 << 30
    member = container.Member("a", 3, 0x352441C2, hashlib.sha256(b"abc").hexdigest(), far)  # CRC-32 of "abc"
    with (tmp_path / "far.zip").open("wb") as file:
        file.seek(far)
        file.write(container._local(member, ABOUT.day) + b"abc")
        for part in container._directory([member], ABOUT.day, file.tell()):
            file.write(part)
    with zipfile.ZipFile(tmp_path / "far.zip") as archive:
        assert archive.read("a") == b"abc"


def test_a_known_file(tmp_path: Path) -> None:
    """The bytes of a small deposit never change: what is kept for decades must stay what this program writes."""
    assert hashlib.sha256(packed(tmp_path).path.read_bytes()).hexdigest() == KNOWN
    with zipfile.ZipFile(io.BytesIO(packed(tmp_path).path.read_bytes())) as archive:
        assert archive.namelist() == [
            f"RY-deposit-2026-10-17/{name}"
            for name in (
                "bagit.txt",
                "READ-ME-FIRST.txt",
                "data/content/workshop.yaml",
                "data/site/index.html",
                "bag-info.txt",
                "manifest-sha256.txt",
                "tagmanifest-sha256.txt",
            )
        ]


KNOWN = "e0909139af46ee263657b804cdf7326bc586ac965f322e5fb97e5f38e9ca8583"
