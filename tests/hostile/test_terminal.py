"""Nothing in the records steers the terminal: signs that cannot be seen are written out (CWE-150, CWE-117)."""

import json
import shutil
import unicodedata
from pathlib import Path

import pytest
from click.testing import CliRunner

from passport.commands.main import passport

EVIL = "a\x1b[2J\x1b]0;owned\x07\u202eb\u2028c\rd\x9b31m"
"""Clears the screen, names the window, turns the direction, ends the line, and does it again in eight bits."""
WORKSHOP = "name: Reedmouth Yard\nprefix: RY\n"
LOT = "date: 2026-01-10\nreceived: {stream: bay}\nmass: 5 kg\n"


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """A small folder of sound records."""
    for path, text in {
        "workshop.yaml": WORKSHOP,
        "streams/bay.yaml": "title: Bay\norigin: post-consumer\n",
        "lots/IN-001.yaml": LOT,
    }.items():
        target = tmp_path / "content" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
    return tmp_path


def harmless(text: str) -> None:
    """No sign but line feeds that is not shown as a sign."""
    unseen = {sign for sign in text if unicodedata.category(sign) in ("Cc", "Cf", "Zl", "Zp")} - {"\n"}
    assert unseen == set(), [hex(ord(sign)) for sign in unseen]


def said(folder: Path, *args: str) -> str:
    """All that a command prints; it ends as commands end."""
    done = CliRunner().invoke(passport, [*args, "--folder", str(folder)], prog_name="passport")
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code in (0, 1), done.output
    harmless(done.output)
    return done.output


@pytest.mark.parametrize("place", ["lots", "photos", "documents", "events", ".", "from"])
def test_names_of_files(yard: Path, place: str) -> None:
    """A file or folder whose name holds escapes is named with the escapes written out."""
    folder = yard / "content" / place
    folder.mkdir(exist_ok=True)
    (folder / f"{EVIL}.yaml").write_text("x\n", encoding="utf-8")
    (folder / f"{EVIL}2.yaml").symlink_to("/etc/hostname")
    shown = said(yard, "check")
    assert "\\x1b[2J" in shown


@pytest.mark.parametrize("command", ["check", "publish", "deposit", "stock", "masses", "tag", "labels"])
def test_texts_in_records(yard: Path, command: str) -> None:
    """A record with such signs, raw or by YAML's own escapes, is refused with the line shown harmlessly."""
    (yard / "content/lots/IN-002.yaml").write_bytes((LOT + f"notes: {EVIL}\n").encode())
    (yard / "content/lots/IN-003.yaml").write_text(LOT + 'colour: "\\e[2J\\u202e"\n', encoding="utf-8")
    args = [command, "X"] if command == "tag" else [command]
    shown = said(yard, *args)
    assert "content/lots/IN-002.yaml:4:" in shown
    assert "content/lots/IN-003.yaml:4:" in shown


@pytest.mark.parametrize("name", ["tags-issued.csv", "labels-printed.csv", "numbers-set-aside.csv"])
def test_lists(yard: Path, name: str) -> None:
    """A list that somebody wrote escapes into."""
    head = {"tags-issued.csv": "tag,item,piece,issued,seal", "labels-printed.csv": "tag,printed,kind,address,seal"}
    lines = f"{head.get(name, 'lot,set_aside')}\n{EVIL},{EVIL},{EVIL},{EVIL},{EVIL}\n"
    (yard / "content" / name).write_text(lines, encoding="utf-8")
    assert "error" in said(yard, "check")


def test_tables_from_elsewhere(yard: Path) -> None:
    """A spreadsheet with escapes in its cells and headings."""
    table = yard / "fair.csv"
    for text in (f"date,lot,event\n2026-02-01,{EVIL},held\n", f"date,lot,{EVIL}\n2026-02-01,IN-001,held\n"):
        table.write_text(text, encoding="utf-8")
        assert "fair.csv" in said(yard, "event", "--csv", str(table), "--yes")


def test_papers_of_other_workshops(yard: Path) -> None:
    """A lot.json with escapes in everything it says."""
    (yard / "content" / "documents").mkdir()
    paper = {EVIL: EVIL, "origin_at_least": {EVIL: EVIL}, "name": EVIL}
    (yard / "content/documents/BL-9.json").write_text(json.dumps(paper), encoding="utf-8")
    lot = "date: 2026-01-10\nreceived: {from: https://pass.farshore.example/L/BL-9/, document: BL-9.json}\nmass: 5 kg\n"
    (yard / "content/lots/BL-9.yaml").write_text(lot, encoding="utf-8")
    assert "paper-unread" in said(yard, "check")
    said(yard, "trace", "BL-9")


def test_own_templates(yard: Path) -> None:
    """A theme's file with such a name, or such words in a catalogue."""
    for part in ("words", "templates", "static"):
        (yard / "theme" / part).mkdir(parents=True)
        (yard / "theme" / part / f"{EVIL}.html").write_text("{{", encoding="utf-8")
    (yard / "theme" / "words" / "en.yaml").write_text(f"'{EVIL}': x\n", encoding="utf-8")
    said(yard, "check")
    shutil.rmtree(yard / "theme" / "words")
    said(yard, "publish")


@pytest.mark.parametrize("args", [["trace", EVIL], ["tag", EVIL], ["labels", EVIL], ["recall", EVIL, "--reason", "x"]])
def test_what_was_typed(yard: Path, args: list[str]) -> None:
    """What a person, or a script, gave to a command and does not exist."""
    said(yard, *args)
