"""A deposit that is not exactly as it was packed is named as such, with what is wrong, in bounded time and memory."""

import hashlib
import io
import os
import struct
import sys
import time
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import kills
import pytest
from forging import ABOUT, BASE, listed, members, sealed
from hypothesis import given
from hypothesis import strategies as st

from passport.deposit.packing import pack
from passport.deposit.verifying import opened
from passport.disk import Refused
from passport.problems import in_words

PAYLOAD = {"content/workshop.yaml": b"name: Reedmouth Yard\n", "content/lots/IN-1.yaml": b"mass: 1 kg\n"}
ORDER = ("bagit.txt", "READ-ME-FIRST.txt", *(f"data/{name}" for name in PAYLOAD))


@pytest.fixture(scope="module")
def good(tmp_path_factory) -> bytes:
    """The bytes of a small deposit that is whole."""
    packed = pack(tmp_path_factory.mktemp("good"), ABOUT, {"READ-ME-FIRST.txt": "Read.\n"}, PAYLOAD.items())
    return packed.path.read_bytes()


def said_of(content: bytes, folder: Path) -> str:
    """Everything that is said about a file with this content; "" when it is whole."""
    path = folder / "it.zip"
    path.write_bytes(content)
    try:
        with opened(path):
            return ""
    except Refused as refused:
        return "\n".join(in_words(p) for p in refused.problems).replace(str(folder), "FOLDER")


def test_a_whole_one(good: bytes, tmp_path: Path) -> None:
    """What was packed is found whole, and says what it is."""
    assert said_of(good, tmp_path) == ""
    with opened(tmp_path / "it.zip") as deposit:
        assert (deposit.prefix, deposit.day, deposit.base) == ("RY", ABOUT.day, BASE)
        content = {name: deposit.content(member) for name, member in deposit.below("data/")}
    assert content == PAYLOAD


def test_the_forger_is_as_good_as_the_packer(good: bytes) -> None:
    """The files that the tests below bend are, unbent, those of a real deposit to the byte."""
    assert sealed(listed(members(good))) == good


@given(data=st.data())
def test_any_byte_changed(good: bytes, tmp_path_factory, data) -> None:
    """Whichever byte is changed in whichever way, it shows: headers, names, times, contents, directory, end."""
    at = data.draw(st.integers(0, len(good) - 1))
    value = data.draw(st.integers(0, 255).filter(lambda v: v != good[at]))
    assert said_of(good[:at] + bytes([value]) + good[at + 1 :], tmp_path_factory.getbasetemp()) != ""


def test_a_bit_flipped(good: bytes, tmp_path: Path) -> None:
    """A flipped bit at every other place in turn: none goes unseen."""
    for at in range(0, len(good), 2):
        assert said_of(good[:at] + bytes([good[at] ^ 1 << at % 8]) + good[at + 1 :], tmp_path) != "", at


@given(cut=st.floats(0, 1, exclude_max=True), tail=st.binary(min_size=1, max_size=30))
def test_cut_or_grown(good: bytes, tmp_path_factory, cut: float, tail: bytes) -> None:
    """A file that ends too early or goes on too long is damaged, wherever that is."""
    folder = tmp_path_factory.getbasetemp()
    assert said_of(good[: int(cut * len(good))], folder).startswith("FOLDER/it.zip: error deposit-")
    assert said_of(good + tail, folder).startswith("FOLDER/it.zip: error deposit-damaged: met ")


HINT = "\n    hint: unzip still opens what is good in it; bring another copy of the deposit"
OURS = "\n    hint: take the file that `passport deposit` wrote, or another copy of it"
LOT = "data/content/lots/IN-1.yaml"


def changed(files: dict[str, bytes]) -> dict[str, bytes]:
    """One record is another."""
    return files | {LOT: b"mass: 9 kg\n"}


def without(files: dict[str, bytes]) -> dict[str, bytes]:
    """One record is gone."""
    return {name: data for name, data in files.items() if name != LOT}


def with_one_more(files: dict[str, bytes]) -> dict[str, bytes]:
    """A record too many."""
    return {"data/content/lots/IN-2.yaml": b"mass: 1 kg\n"} | files


def with_a_script_on_top(files: dict[str, bytes]) -> dict[str, bytes]:
    """A program beside the guide."""
    return {"run-me.bat": b"del\n"} | files


def list_changed_too(files: dict[str, bytes]) -> dict[str, bytes]:
    """A changed record, and the list changed to fit it."""
    forged = listed(changed(files))
    return files | {LOT: forged[LOT], "manifest-sha256.txt": forged["manifest-sha256.txt"]}


def list_with_a_remark(files: dict[str, bytes]) -> dict[str, bytes]:
    """A line end too many in the last list, which no other list watches."""
    return files | {"tagmanifest-sha256.txt": files["tagmanifest-sha256.txt"] + b"\n"}


DIFFERENT: list[tuple[Callable, list[tuple[str, str]]]] = [
    (
        changed,
        [("deposit-changed", f"{LOT}: its SHA-256 is not the one in manifest-sha256.txt")],
    ),
    (
        without,
        [
            ("deposit-count", "bag-info.txt: it says 32.2 of size and number, and met 21.1"),
            ("deposit-missing", f"{LOT}: it is named in manifest-sha256.txt and is not there"),
        ],
    ),
    (
        with_one_more,
        [
            ("deposit-count", "bag-info.txt: it says 32.2 of size and number, and met 43.3"),
            (
                "deposit-extra",
                "data/content/lots/IN-2.yaml: it is there and not named in manifest-sha256.txt",
            ),
        ],
    ),
    (
        with_a_script_on_top,
        [("deposit-extra", "run-me.bat: it is there and not named in tagmanifest-sha256.txt")],
    ),
    (
        list_changed_too,
        [("deposit-changed", "manifest-sha256.txt: its SHA-256 is not the one in tagmanifest-sha256.txt")],
    ),
    (
        list_with_a_remark,
        [("deposit-list", "tagmanifest-sha256.txt: it is not written as this program writes it")],
    ),
]


@pytest.mark.parametrize(("bend", "wanted"), DIFFERENT, ids=lambda value: getattr(value, "__name__", ""))
def test_what_differs_is_named(good: bytes, tmp_path: Path, bend: Callable, wanted: list[tuple[str, str]]) -> None:
    """Changed, missing and added files are each named, with the list that says so."""
    assert said_of(sealed(bend(members(good))), tmp_path) == "\n".join(
        f"FOLDER/it.zip: error {code}: {message}{HINT}" for code, message in wanted
    )


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("../../x", 'it holds "..", which leads out of the folder'),
        ("data/../../../etc/cron.d/x", 'it holds "..", which leads out of the folder'),
        ("data/./x", "it has an empty part"),
        ("data//x", "it has an empty part"),
        ("data/C:x", 'it holds ":", which some disks keep for themselves'),
        ("data\\x", 'it holds "\\", which some disks keep for themselves'),
        ("data/nul.yaml", '"nul.yaml" is the name of a device on Windows'),
        ("data/x\u202eyaml", "it holds a sign that cannot be seen"),
        ("data/x\0", "it holds a sign that cannot be seen"),
        ("data/e\u0301", "its accents are written apart from their letters (NFC is wanted)"),
    ],
)
def test_paths_that_lead_out_or_deceive(good: bytes, tmp_path: Path, name: str, fault: str) -> None:
    """CWE-22: the first such path ends the reading, even where all checksums fit."""
    said = said_of(sealed(listed({name: b"x"} | members(good))), tmp_path)
    assert said.startswith("FOLDER/it.zip: error deposit-damaged: met the path ")
    assert fault in said
    assert said.endswith(OURS)
    assert "\u202e" not in said
    assert "\0" not in said


def test_an_absolute_path(good: bytes, tmp_path: Path) -> None:
    """A path from the root of the disk is refused."""
    assert said_of(sealed(listed(members(good)), base="/" + BASE), tmp_path) == (
        'FOLDER/it.zip: error deposit-damaged: met the path "/RY-deposit-2026-10-17/bagit.txt", and it starts at the '
        "root of the disk (byte 0), wanted a deposit as it was written" + OURS
    )


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["data/a", "data/a"], "data/a: it is there twice"),
        (["data/a", "data/A"], f'data/A: some disks take it for "{BASE}data/a"'),
        (["data/a", "data/a/b"], "data/a: it is there twice"),
    ],
)
def test_files_that_unpack_over_one_another(good: bytes, tmp_path: Path, names: list[str], said: str) -> None:
    """CWE-178: two members that some disk takes for one are named, whatever the lists say."""
    files = [*members(good).items(), *((name, b"") for name in names)]
    assert f"FOLDER/it.zip: error deposit-clash: {said}{HINT}" in said_of(sealed(files), tmp_path)


def test_files_outside_the_one_folder(good: bytes, tmp_path: Path) -> None:
    """A second folder at the top is too much."""
    files = [(BASE + name, data) for name, data in members(good).items()]
    assert "deposit-extra: elsewhere/x: it lies outside the folder of the deposit" in said_of(
        sealed([*files, ("elsewhere/x", b"")], base=""), tmp_path
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"Deposit-Form: 1": "Deposit-Form: 2"}, "deposit-form: bag-info.txt: it says form 2, and this program reads"),
        ({"Bagging-Date: 2026-10-17": "Bagging-Date: 2026-10-18"}, "deposit-name: bag-info.txt: it does not fit"),
        ({"Bagging-Date: 2026-10-17": "Bagging-Date: soon"}, "deposit-name: bag-info.txt: it does not fit"),
        ({"Tag-Prefix: RY": "Tag-Prefix: FS"}, "deposit-name: bag-info.txt: it does not fit"),
        ({"Source-Organization": "Source"}, "deposit-name: bag-info.txt: it does not fit"),
    ],
)
def test_facts_that_do_not_fit(good: bytes, tmp_path: Path, change: dict[str, str], said: str) -> None:
    """Number of the form, day, prefix and folder have to agree."""
    files = members(good)
    for old, new in change.items():
        files["bag-info.txt"] = files["bag-info.txt"].replace(old.encode(), new.encode())
    assert said in said_of(sealed(files), tmp_path)


def test_facts_in_another_encoding(good: bytes, tmp_path: Path) -> None:
    """bag-info.txt in another encoding is named, though its checksum fits."""
    files = members(good)
    files["bag-info.txt"] = files["bag-info.txt"].replace(b"Reedmouth", b"R\xe9edmouth")
    lines = files["tagmanifest-sha256.txt"].decode().splitlines()
    digest = hashlib.sha256(files["bag-info.txt"]).hexdigest()
    fitting = [f"{digest}  bag-info.txt" if line.endswith("  bag-info.txt") else line for line in lines]
    files["tagmanifest-sha256.txt"] = "".join(f"{line}\n" for line in fitting).encode()
    assert said_of(sealed(files), tmp_path) == (
        f"FOLDER/it.zip: error deposit-name: bag-info.txt: it is no UTF-8 text{HINT}"
    )


def test_no_bag_at_all(tmp_path: Path) -> None:
    """Some other archive in the same form is not a deposit."""
    assert said_of(sealed({"x": b""}), tmp_path) == (
        "FOLDER/it.zip: error deposit-not-a-bag: met no bagit.txt and no bag-info.txt and no manifest-sha256.txt and "
        "no tagmanifest-sha256.txt in its first folder, wanted the files of a bag (RFC 8493)" + OURS
    )


def test_packed_by_another_program(good: bytes, tmp_path: Path) -> None:
    """The same files packed anew by another program, compressed or not, are not the file that was deposited."""
    for kind in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", kind) as archive:
            for name, content in members(good).items():
                archive.writestr(BASE + name, content)
        assert said_of(out.getvalue(), tmp_path).startswith("FOLDER/it.zip: error deposit-damaged: met ")


def test_two_directories(good: bytes, tmp_path: Path) -> None:
    """Readers that look from the end and readers that look from the start must see the same files."""
    for joined in (good + good, b"MZ" + good, good[: good.index(b"PK\x01\x02")] + good):
        assert said_of(joined, tmp_path).startswith("FOLDER/it.zip: error deposit-damaged: met ")


BOMBS = {
    "zeros": lambda: _deflated(b"\0" * 200_000_000),
    "a-large-claim": lambda: _claim(0xFFFFFFF0),
    "empty": lambda: b"",
    "only-an-end": lambda: b"PK\x05\x06" + b"\0" * 18,
    "many-nothings": lambda: sealed([(f"{n}", b"") for n in range(20_000)]),
    "text": lambda: b"PK\x03\x04" * 100_000,
}


def _deflated(content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(BASE + "bagit.txt", content)
    return out.getvalue()


def _claim(size: int) -> bytes:
    """A header that says its file is four gigabytes long."""
    name = f"{BASE}bagit.txt".encode()
    head = struct.pack("<4s5H3I2H", b"PK\x03\x04", 20, 0x800, 0, 0, 0x5D51, zlib.crc32(b""), size, size, len(name), 0)
    return head + name


LIMITED = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (700_000_000, 700_000_000))
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.deposit.verifying import opened
from passport.disk import Refused
try:
    with opened(Path(sys.argv[2])): print("whole")
except Refused as refused:
    print(refused.problems[0].code)
"""


@pytest.mark.parametrize("bomb", BOMBS)
def test_bombs(tmp_path: Path, bomb: str) -> None:
    """Refused in seconds, with 700 MB of memory for the whole program: nothing is unpacked, no claim believed."""
    (tmp_path / "it.zip").write_bytes(BOMBS[bomb]())
    began = time.monotonic()
    done = kills.run([sys.executable, "-c", LIMITED, str(kills.REPOSITORY), str(tmp_path / "it.zip")])
    assert done.stdout.strip() in ("deposit-damaged", "deposit-not-a-bag"), done.stderr
    assert time.monotonic() - began < 20


@pytest.mark.parametrize(
    ("make", "met"),
    [
        (Path.exists, "nothing"),
        (Path.mkdir, "a folder"),
        (lambda path: path.symlink_to("/dev/zero"), "a link"),
        (os.mkfifo, "a device or a pipe"),
    ],
)
def test_no_file(tmp_path: Path, make: Callable, met: str) -> None:
    """What is no plain file is not opened: a pipe would wait for ever."""
    make(tmp_path / "it.zip")
    with pytest.raises(Refused) as refused:
        opened(tmp_path / "it.zip").__enter__()
    assert in_words(refused.value.problems[0]).replace(str(tmp_path), "FOLDER") == (
        f"FOLDER/it.zip: error deposit-no-file: met {met}, wanted the file of a deposit{OURS}"
    )


def test_many_faults_are_counted(good: bytes, tmp_path: Path) -> None:
    """Fifty are named one by one, the rest is counted."""
    more = {f"data/content/{n:03}": b"" for n in range(120)}
    said = said_of(sealed(more | members(good)), tmp_path)
    assert said.count("it is there and not named in manifest-sha256.txt") == 50
    assert "manifest-sha256.txt: the same holds for 70 more" in said


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """A deposit with a photograph of 300 MB is verified by a program that may have 250 MB in all."""
    photo = ("content/photos/a.jpg", bytes(300_000_000))
    packed = pack(tmp_path, ABOUT, {"READ-ME-FIRST.txt": "Read.\n"}, [photo])
    program = LIMITED.replace("700_000_000", "250_000_000")
    done = kills.run([sys.executable, "-c", program, str(kills.REPOSITORY), str(packed.path)])
    packed.path.unlink()
    assert done.stdout == "whole\n", done.stderr


def test_the_command_names_the_fault(good: bytes, tmp_path: Path, cli) -> None:
    """`deposit --verify` ends with 1 and the words, with nothing on standard output."""
    (tmp_path / "it.zip").write_bytes(good[:-1])
    done = cli("deposit", "--verify", tmp_path / "it.zip")
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.replace(str(tmp_path), "FOLDER") == (
        "FOLDER/it.zip: error deposit-damaged: met a directory that does not fit the members before it "
        f"(byte {len(good) - 22}), wanted a deposit as it was written{OURS}\n1 error\n"
    )


def test_no_word_of_a_deposit_steers_the_terminal(good: bytes, tmp_path: Path, cli) -> None:
    """CWE-150: a workshop's name with escape sequences is shown with the signs written out."""
    files = members(good)
    name = b"Source-Organization: \x1b[2J\x1b]0;x\x07"
    files["bag-info.txt"] = files["bag-info.txt"].replace(b"Source-Organization: Reedmouth Yard", name)
    hashes = files["tagmanifest-sha256.txt"].decode().splitlines()
    digest = hashlib.sha256(files["bag-info.txt"]).hexdigest()
    lines = [f"{digest}  bag-info.txt" if line.endswith("bag-info.txt") else line for line in hashes]
    files["tagmanifest-sha256.txt"] = "".join(f"{line}\n" for line in lines).encode()
    (tmp_path / "it.zip").write_bytes(sealed(files))
    done = cli("deposit", "--verify", tmp_path / "it.zip")
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout + done.stderr
    assert "\\x1b[2J" in done.stderr
