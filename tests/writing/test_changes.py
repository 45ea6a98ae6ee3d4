"""What may be written into the records, and what never is."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import kills
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passport.disk import Refused
from passport.problems import in_words
from passport.writing import AppendLines, Change, NewFile, recover, sole_writer, steady, write_changes


@pytest.fixture
def content(tmp_path: Path) -> Path:
    """A folder of records with one lot and one list."""
    (tmp_path / "content" / "lots").mkdir(parents=True)
    (tmp_path / "content" / "lots" / "IN-1.yaml").write_text("mass: 1 kg\n")
    (tmp_path / "content" / "tags.csv").write_text("tag\nRY-1\n")
    return tmp_path / "content"


def refusal(content: Path, *changes: Change) -> str:
    """What a refused change says; the records are not touched by it."""
    before = kills.states(content.parent)
    with pytest.raises(Refused) as refused:
        write_changes(content, changes)
    assert kills.states(content.parent) == before
    return "\n".join(in_words(problem) for problem in refused.value.problems).replace(str(content), "CONTENT")


def test_a_new_record(content: Path) -> None:
    """A record is written as given, in UTF-8, in a folder that is made if need be."""
    write_changes(content, [NewFile("runs/SO-1.yaml", "title: é\n")])
    assert (content / "runs" / "SO-1.yaml").read_bytes() == b"title: \xc3\xa9\n"
    assert kills.names(content) == ["lots", "runs", "tags.csv"]


def test_new_lines(content: Path) -> None:
    """Lines come after those that are there; a line feed at their end may be given or not."""
    write_changes(content, [AppendLines("tags.csv", ("RY-2", "RY-3\n"))])
    assert (content / "tags.csv").read_bytes() == b"tag\nRY-1\nRY-2\nRY-3\n"


def test_a_new_list_gets_its_header(content: Path) -> None:
    """The header is written once, when the list is made."""
    for line in ("a", "b"):
        write_changes(content, [AppendLines("printed.csv", (line,), header="tag")])
    assert (content / "printed.csv").read_bytes() == b"tag\na\nb\n"


def test_a_last_line_without_its_end(content: Path) -> None:
    """A list edited by hand may lack its last line feed: the new line does not run into the old one."""
    (content / "tags.csv").write_bytes(b"tag\r\nRY-1")
    write_changes(content, [AppendLines("tags.csv", ("RY-2",))])
    assert (content / "tags.csv").read_bytes() == b"tag\r\nRY-1\nRY-2\n"


def test_the_mode_of_a_list_stays(content: Path) -> None:
    """Who may read a list is not changed by a new line."""
    (content / "tags.csv").chmod(0o640)
    write_changes(content, [AppendLines("tags.csv", ("RY-2",))])
    assert (content / "tags.csv").stat().st_mode & 0o777 == 0o640


def test_no_change_writes_nothing(content: Path) -> None:
    """Without changes nothing is touched, nor by a recovery that has nothing to do."""
    before = kills.states(content.parent)
    write_changes(content, [])
    assert not recover(content)
    with steady(content):
        pass
    assert kills.states(content.parent) == before


def test_a_record_is_never_overwritten(content: Path) -> None:
    """A new record where there is one is refused, and with it the whole change."""
    assert refusal(content, NewFile("lots/IN-2.yaml", ""), NewFile("lots/IN-1.yaml", "other")) == (
        "CONTENT/lots/IN-1.yaml: error records-cannot-write: this cannot be written: "
        "it is there already, and a record is never overwritten\n"
        "    hint: nothing was written; take another name, or mend what is there by hand"
    )


FAULTS = [
    (NewFile("../x", ""), 'it holds "..", which leads out of the folder'),
    (NewFile("/etc/x", ""), "it starts at the root of the disk"),
    (NewFile("", ""), "it is empty"),
    (NewFile("lots/CON.yaml", ""), '"CON.yaml" is the name of a device on Windows'),
    (NewFile(".journal/plan", ""), "names with a leading dot are kept for the tool itself"),
    (NewFile("lots/in-1.yaml", ""), 'some disks take it for "IN-1.yaml", which is there already'),
    (NewFile("LOTS/x.yaml", ""), 'some disks take it for "lots", which is there already'),
    (NewFile("tags.csv/x.yaml", ""), '"tags.csv" is a file, where a folder is wanted'),
    (NewFile("out/x.yaml", ""), '"out" is a link, where a folder is wanted'),
    (NewFile("dangling", ""), "it is there already, and a record is never overwritten"),
    (NewFile("x", "\ud800"), "its text holds half of a pair of signs, which UTF-8 cannot write"),
    (AppendLines("dangling", ("x",)), "it is a link, where a file is wanted"),
    (AppendLines("lots", ("x",)), "it is a folder, where a file is wanted"),
    (AppendLines("pipe", ("x",)), "it is a special, where a file is wanted"),
    (AppendLines("tags.csv", ("a\nb",)), "one of its lines has a line end within"),
    (AppendLines("tags.csv", ("a\r",)), "one of its lines has a line end within"),
    (AppendLines("tags.csv", ("a\u2028b",)), "one of its lines has a line end within"),
]


@pytest.mark.parametrize(("change", "fault"), FAULTS)
def test_what_is_refused(content: Path, change: Change, fault: str) -> None:
    """Nothing is written outside the folder, through a link (CWE-22, CWE-59), or over something else."""
    (content.parent / "elsewhere").mkdir()
    (content / "out").symlink_to(content.parent / "elsewhere")
    (content / "dangling").symlink_to(content.parent / "nowhere")
    os.mkfifo(content / "pipe")
    assert (
        refusal(content, change).split("\n")[0].endswith(f"error records-cannot-write: this cannot be written: {fault}")
    )


def test_one_file_twice(content: Path) -> None:
    """One change does not write a file twice, nor two files that are one on some disks."""
    said = refusal(content, NewFile("lots/A.yaml", ""), NewFile("lots/a.yaml", ""))
    assert "lots/a.yaml: error records-cannot-write: this cannot be written: " in said
    assert "the same change would write it twice" in said


def test_all_faults_at_once(content: Path) -> None:
    """Every change that cannot be is named in one go."""
    assert refusal(content, *(change for change, _ in FAULTS[:5])).count("records-cannot-write") == 5


def test_no_records_here(tmp_path: Path) -> None:
    """In a folder without records the message says where they were looked for."""
    with pytest.raises(Refused) as refused:
        write_changes(tmp_path / "content", [NewFile("x", "")])
    assert in_words(refused.value.problems[0]).replace(str(tmp_path), "HERE") == (
        "HERE/content: error records-no-folder: there is no folder of records here\n"
        "    hint: run this inside a workshop's folder, or make one with the command start"
    )


def test_two_writers_never_find_the_same_number(content: Path) -> None:
    """Who reads and writes while holding the folder alone sees every line of the others."""

    def issue() -> None:
        for _ in range(5):
            with sole_writer(content) as writer:
                number = len((content / "tags.csv").read_text().splitlines())
                writer.write([AppendLines("tags.csv", (f"RY-{number}",))])

    runs = [threading.Thread(target=issue) for _ in range(4)]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert (content / "tags.csv").read_text().splitlines() == ["tag", *(f"RY-{n}" for n in range(1, 22))]


def test_a_reader_holds_off_writers(content: Path) -> None:
    """While records are read no change comes in between; two readers do not hinder each other."""
    told: list[str] = []
    with steady(content), steady(content):
        writing = threading.Thread(
            target=write_changes, args=(content, [NewFile("x", "")]), kwargs={"say": told.append}
        )
        writing.start()
        time.sleep(0.2)
        assert not (content / "x").exists()
    writing.join()
    assert (content / "x").exists()
    assert told == [f"another run is at work in {content}; waiting for it"]


def test_a_second_writer_does_not_wait_for_ever(content: Path) -> None:
    """After the time to wait it gives up."""
    with sole_writer(content), pytest.raises(Refused, match="another run is still at work"):
        write_changes(content, [NewFile("x", "")], wait_s=0.1)


def test_a_callers_own_error_passes_through(content: Path) -> None:
    """An error of the disk in the caller's part is not dressed as one of writing."""
    with pytest.raises(FileNotFoundError), sole_writer(content):
        (content / "nothing").read_text()


LINES = st.lists(st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), max_size=8), max_size=4)


@settings(max_examples=25, deadline=None)
@given(st.lists(LINES, max_size=4))
def test_a_list_only_grows(tmp_path_factory: pytest.TempPathFactory, batches: list[list[str]]) -> None:
    """After any sequence of changes, the earlier bytes are the beginning of the later ones."""
    content = tmp_path_factory.mktemp("content")
    earlier = b""
    for lines in batches:
        write_changes(content, [AppendLines("list", tuple(lines))])
        later = (content / "list").read_bytes()
        assert later == earlier + "".join(f"{line}\n" for line in lines).encode()
        earlier = later
