"""Where publishing refuses: the message in full, and a site that was not touched."""

from __future__ import annotations

import os
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import kills
import pytest

from passport.disk import Refused, locked
from passport.problems import in_words
from passport.publish import LIST_NAME, PlannedFile, publish

SITE = {"index.html": b"<p>home", "T/A/index.html": b"<p>A", "T/B/index.html": b"<p>B"}
OTHER = {**SITE, "index.html": b"<p>another"}


def plan(files: dict[str, bytes]) -> list[PlannedFile]:
    """The files as publishing takes them."""
    return [PlannedFile(*item) for item in files.items()]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site that was published."""
    publish(plan(SITE), tmp_path / "site")
    return tmp_path / "site"


def untouched(site: Path) -> dict[str, tuple[int, ...]]:
    """All but the time of the last change of state: counting the names of a file moves it (link(2))."""
    return (
        {path: (inode, written, mode, size) for path, (inode, written, _, mode, size) in kills.states(site).items()}
        if site.is_dir()
        else {}
    )


def refusal(files: dict[str, bytes], site: Path, **options) -> str:
    """What a refused publication says; neither the site nor the names around it are touched by it."""
    names = sorted(path.name for path in site.parent.iterdir())
    before = untouched(site)
    with pytest.raises(Refused) as refused:
        publish(plan(files), site, **options)
    assert sorted(path.name for path in site.parent.iterdir()) == names
    assert before == untouched(site)
    return "\n".join(in_words(problem) for problem in refused.value.problems).replace(str(site), "SITE")


def test_an_issued_tag_needs_its_page(site: Path) -> None:
    """A page that an issued tag leads to must be planned, even where shrinking is allowed."""
    assert refusal(SITE, site, must_answer=["T/A/index.html", "T/C/index.html"], may_shrink=True) == (
        'error site-tag-unanswered: a tag that was issued needs the page "T/C/index.html", '
        "and it is not among those to publish\n"
        "    hint: bring back the record of its item; what is gone for good becomes a page that says so"
    )


def test_a_published_page_does_not_vanish(site: Path) -> None:
    """A page below T/ that was published and is not planned is named."""
    assert refusal({"index.html": b"", "T/A/index.html": b""}, site) == (
        'error site-page-lost: the page "T/B/index.html" is published and would be gone; '
        "a tag on a thing or the card of a lot may lead to it\n"
        "    hint: bring back its record, or allow the site to shrink if neither tag nor card ever left the workshop"
    )


def test_pages_of_lots_do_not_vanish(site: Path) -> None:
    """The card on a sack carries its lot's address, as another workshop's record may: that page stays, too."""
    lots = {
        **SITE,
        "L/IN-1/index.html": b"",
        "L/IN-1/FR/index.html": b"",
        "L/IN-1/lot.json": b"{}",
        "L/-2/index.html": b"",
    }
    publish(plan(lots), site)
    told = refusal(SITE, site)
    assert [line.split('"')[1] for line in told.split("\n") if line.startswith("error site-page-lost: ")] == [
        "L/IN-1/FR/index.html",
        "L/IN-1/index.html",
    ]


def test_pages_of_lists_may_vanish(site: Path) -> None:
    """Of a list that grew shorter the last pages go without a word: nobody prints their address."""
    publish(plan({**SITE, "T/-2/index.html": b"", "L/-2/FR/index.html": b""}), site)
    assert publish(plan(SITE), site).removed == ("L/-2/FR/index.html", "T/-2/index.html")


def test_shrinking_can_be_allowed(site: Path) -> None:
    """With leave, a page below T/ goes."""
    assert publish(plan({"index.html": b""}), site, may_shrink=True).removed == (
        "T/A/index.html",
        "T/B/index.html",
    )


def test_many_lost_pages_are_counted(tmp_path: Path) -> None:
    """Fifty are named one by one, the rest as a number: a person can still read the message."""
    publish(plan({f"T/{number}/index.html": b"" for number in range(60)}), tmp_path / "site")
    assert refusal({}, tmp_path / "site").endswith("error site-page-lost: the same holds for 10 more")


def test_foreign_files_are_not_deleted(site: Path) -> None:
    """A file that was not published is named, and everything stays."""
    (site / "notes").mkdir()
    (site / "notes" / "mine.txt").write_text("mine")
    assert refusal(OTHER, site) == (
        "SITE/notes/mine.txt: error site-foreign-file: this file was not published by this tool, "
        "and publishing would delete it\n"
        "    hint: move it out of the site, or delete it"
    )


def test_a_folder_of_somebody_else(tmp_path: Path) -> None:
    """A folder with files but no list of ours is not published into."""
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "summer.jpg").write_bytes(b"x")
    assert refusal(SITE, tmp_path / "photos").replace(str(tmp_path), "HERE") == (
        "SITE: error site-not-ours: this folder is not empty and was not published by this tool "
        '("summer.jpg" is in it)\n'
        "    hint: publish into another folder, or empty this one"
    )


def test_an_empty_folder_will_do(tmp_path: Path) -> None:
    """A folder that is there and empty is published into."""
    (tmp_path / "site").mkdir()
    assert publish(plan(SITE), tmp_path / "site").changed


@pytest.mark.parametrize(
    ("make", "met"),
    [
        (lambda path: path.write_text("x"), "a file"),
        (lambda path: path.symlink_to(path.parent), "a symbolic link"),
        (os.mkfifo, "a device or a pipe"),
    ],
)
def test_the_site_must_be_a_folder(tmp_path: Path, make, met: str) -> None:
    """A file, a link or a pipe in the site's place is refused."""
    make(tmp_path / "place")
    with pytest.raises(Refused) as refused:
        publish(plan(SITE), tmp_path / "place")
    assert in_words(refused.value.problems[0]).replace(str(tmp_path), "HERE") == (
        f"HERE/place: error site-not-a-folder: this is {met}; "
        "the site needs a folder of its own, or a name that is free\n"
        "    hint: move it elsewhere, or publish into another folder"
    )


def test_the_folder_around_must_exist(tmp_path: Path) -> None:
    """No chain of folders is made out of a mistyped path."""
    with pytest.raises(Refused) as refused:
        publish(plan(SITE), tmp_path / "a" / "site")
    assert in_words(refused.value.problems[0]).replace(str(tmp_path), "HERE") == (
        "HERE/a/site: error site-no-parent: there is no folder here to put the site into\n"
        "    hint: make the folder that is to hold it, or publish into another one"
    )


def test_the_root_of_the_disk_is_no_site() -> None:
    """The root has no folder around it."""
    with pytest.raises(Refused, match="there is no folder here to put the site into"):
        publish(plan(SITE), Path("/"))


@pytest.mark.parametrize("place", ["content", "content/site", "."])
def test_the_site_is_not_its_own_source(tmp_path: Path, place: str) -> None:
    """The site may not be the records, lie in them, or hold them."""
    (tmp_path / "shop" / "content").mkdir(parents=True)
    site, content = tmp_path / "shop" / place, tmp_path / "shop" / "content"
    with pytest.raises(Refused) as refused:
        publish(plan(SITE), site, sources=[content])
    assert in_words(refused.value.problems[0]) == (
        f"{site}: error site-over-source: the site would lie in, on or around {content}, from which it is made\n"
        "    hint: publish into a folder beside it"
    )


def test_a_name_that_only_begins_alike_is_another_folder(tmp_path: Path) -> None:
    """`content-site` is not inside `content` (CWE-22: a check by text prefix is wrong)."""
    (tmp_path / "content").mkdir()
    assert publish(plan(SITE), tmp_path / "content-site", sources=[tmp_path / "content"]).changed


@pytest.mark.parametrize("target", ["/etc/hostname", "/etc", "index.html", "nowhere"])
@pytest.mark.parametrize("exchange", [True, False])
def test_links_in_the_old_site(site: Path, target: str, *, exchange: bool) -> None:
    """A link in the site (out, to a folder, within, dangling) is refused, and what it points to stays."""
    (site / "T" / "A" / "link").symlink_to(target)
    assert refusal(OTHER, site, exchange=exchange) == (
        "SITE/T/A/link: error site-special-file: this is a symbolic link; "
        "a published site holds only folders and files\n"
        "    hint: take it away, then publish again"
    )


def test_pipes_and_sockets_in_the_old_site(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pipe is not waited for, a socket not read."""
    os.mkfifo(site / "pipe")
    assert "SITE/pipe: error site-special-file: this is a device, a pipe or a socket;" in refusal(OTHER, site)
    (site / "pipe").unlink()
    monkeypatch.chdir(site)  # the path of a socket may have 107 bytes at most, unix(7)
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("door")
        assert "SITE/door: error site-special-file: this is a device, a pipe or a socket;" in refusal(OTHER, site)


@pytest.mark.parametrize("line", ["<<<<<<< HEAD", "0" * 64 + "  ../../x", "0" * 64, "\x1b[31m"])
def test_a_damaged_list(site: Path, line: str) -> None:
    """A list that was merged or edited badly is shown with its line; nothing is guessed."""
    with (site / LIST_NAME).open("a") as opened:
        opened.write(line + "\n")
    said = refusal(OTHER, site)
    assert said.startswith(
        "SITE/files.sha256:5:1: error site-list-damaged: this line is not a hash, two spaces and a path, "
        "so what was published is not known\n"
    )
    assert said.endswith("    hint: bring the list back, or delete the whole site and publish it anew")
    assert "\x1b" not in said


def test_a_damaged_journal(site: Path) -> None:
    """A journal that would lead out of the site, or is no journal, is not followed."""
    for text in ('{"put": ["../x"], "drop": []}', "[]", "{", '{"put": 1, "drop": []}', '{"put": [1], "drop": []}'):
        (site.parent / ".site.journal").write_text(text)
        assert refusal(OTHER, site).split("\n")[0].replace(str(site.parent), "HERE") == (
            "HERE/.site.journal: error site-journal-damaged: an earlier run was cut short, "
            "and the list of what it had left to do cannot be read"
        )


BAD = {
    "": "it is empty",
    "/etc/passwd": "it starts at the root of the disk",
    "T/../../x": 'it holds "..", which leads out of the folder',
    "T//x": "it has an empty part",
    "T/./x": "it has an empty part",
    "T/": "it has an empty part",
    "T\\x": 'it holds "\\\\", which some disks keep for themselves',
    "C:/x": 'it holds ":", which some disks keep for themselves',
    "x\n": "it holds a sign that cannot be seen",
    "x\x00y": "it holds a sign that cannot be seen",
    "x\u202ey": "it holds a sign that cannot be seen",
    "x\ud800": "it holds a sign that cannot be seen",
    "T/con.html": '"con.html" is the name of a device on Windows',
    "LPT1": '"LPT1" is the name of a device on Windows',
    "x.": '"x." begins or ends with a space or ends with a dot',
    "x /y": '"x " begins or ends with a space or ends with a dot',
    "e\u0301": "its accents are written apart from their letters (NFC is wanted)",
    "x" * 256: "a part of it is longer than 255 bytes",
    LIST_NAME: "it is planned twice",
}


@pytest.mark.parametrize("path", BAD)
def test_hostile_paths(site: Path, path: str) -> None:
    """A path that leaves the site or does not fit every disk ("Naming Files", Windows documentation) is refused."""
    said = refusal({**OTHER, path: b"x"}, site)
    assert said.split("\n")[0].endswith(f"cannot be the path of a file of the site: {BAD[path]}".replace("\\\\", "\\"))


@pytest.mark.parametrize(
    ("one", "other", "fault"),
    [
        ("T/x1/a", "T/X1/b", 'some disks take it for "T/x1/"'),
        ("straße", "STRASSE", 'some disks take it for "straße"'),
        ("a", "a/b", 'some disks take it for "a"'),
        ("a/b", "a", 'some disks take it for "a/"'),
        ("ﬁ", "fi", 'some disks take it for "ﬁ"'),
    ],
)
def test_clashing_paths(site: Path, one: str, other: str, fault: str) -> None:
    """Two paths that are one on a disk which ignores case or Unicode form are refused, both named."""
    assert refusal({one: b"1", other: b"2"}, site, may_shrink=True).split("\n")[0] == (
        f'error site-bad-path: "{other}" cannot be the path of a file of the site: {fault}'
    )


def test_all_bad_paths_are_named_at_once(site: Path) -> None:
    """One run names every bad path."""
    assert refusal({"../x": b"", "y/": b""}, site).count("site-bad-path") == 2


PROGRAM = """
import os, resource, signal, sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from passport.disk import Refused
from passport.problems import in_words
from passport.publish import PlannedFile, publish
site = Path(sys.argv[2])
if sys.argv[3] == "full":
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
elif os.geteuid() == 0:
    os.setuid(65534)
try:
    publish([PlannedFile("index.html", b"x" * 5000), PlannedFile("a", b"a")], site, exchange=sys.argv[3] != "journal")
except Refused as refused:
    print(in_words(refused.problems[0]))
"""


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that another user may enter, as pytest's own may not."""
    with tempfile.TemporaryDirectory() as scratch:
        Path(scratch).chmod(0o755)
        yield Path(scratch)


@pytest.mark.parametrize("old", [SITE, None])
def test_a_full_disk(tmp_path: Path, old: dict[str, bytes] | None) -> None:
    """When a write fails (RLIMIT_FSIZE, setrlimit(2)) the old site is untouched and nothing is left about."""
    if old is not None:
        publish(plan({"index.html": b"<p>home", "a": b"a"}), tmp_path / "site")
    before = untouched(tmp_path / "site")
    done = kills.run(kills.python(PROGRAM, str(tmp_path / "site"), "full"))
    assert done.stdout.replace(str(tmp_path), "HERE") == (
        "HERE/.site.next/index.html: error site-not-written: File too large\n"
        "    hint: make room on the disk and run again; what was there before is untouched\n"
    ), done.stderr
    assert kills.names(tmp_path) == (["site"] if old else [])
    assert before == untouched(tmp_path / "site")


@pytest.mark.parametrize("how", ["exchange", "journal"])
def test_a_place_that_may_not_be_written(open_folder: Path, how: str) -> None:
    """Without leave to write there, the message says so and the site is untouched."""
    publish(plan({"index.html": b"<p>home"}), open_folder / "site")
    before = untouched(open_folder)
    open_folder.chmod(0o555)
    done = kills.run(kills.python(PROGRAM, str(open_folder / "site"), how))
    open_folder.chmod(0o755)
    assert done.stdout.replace(str(open_folder), "HERE") == (
        "HERE/.site.next: error site-not-written: Permission denied\n"
        "    hint: give yourself leave to write there and run again; what was there before is untouched\n"
    ), done.stderr
    assert untouched(open_folder) == before


def test_the_second_run_waits(site: Path) -> None:
    """A run that finds another at work says so once, waits, and then does its work."""
    told: list[str] = []
    with locked(site.parent):
        waiting = threading.Thread(target=lambda: publish(plan(OTHER), site, say=told.append))
        waiting.start()
        time.sleep(0.3)
        assert (site / "index.html").read_bytes() == b"<p>home"
    waiting.join()
    assert told == [f"another run is at work in {site.parent}; waiting for it"]
    assert (site / "index.html").read_bytes() == b"<p>another"


def test_the_second_run_does_not_wait_for_ever(site: Path) -> None:
    """After the time to wait it gives up."""
    with locked(site.parent):
        said = refusal(OTHER, site, wait_s=0.1)
    assert said.replace(str(site.parent), "HERE") == (
        "HERE: error folder-busy: another run is still at work in this folder after 0.1 seconds\n"
        "    hint: let it end, or end it, then run again"
    )


def test_many_runs_at_once(tmp_path: Path) -> None:
    """Of runs that start together each does its work whole; the site is one of theirs, nothing is left about."""
    plans = [{"index.html": bytes([65 + number]), "same": b"s"} for number in range(6)]
    runs = [threading.Thread(target=publish, args=(plan(files), tmp_path / "site")) for files in plans]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert {path: (tmp_path / "site" / path).read_bytes() for path in ("index.html", "same")} in plans
    assert kills.names(tmp_path) == ["site"]
