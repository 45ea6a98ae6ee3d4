"""When it runs, the program connects to nothing, starts nothing, opens nothing private and writes nowhere else.

Watched through CPython's audit events (PEP 578), which come before the call.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
RECORDS = {
    "content/workshop.yaml": "name: Reedmouth Yard\nprefix: RY\naddress: https://pass.reedmouth-yard.ie\ncountry: IE\n",
    "content/streams/bay.yaml": "title: Bay\norigin: post-consumer\n",
    "content/lots/IN-001.yaml": (
        "date: 2026-01-10\nreceived: {stream: bay}\nmass: 5 kg\nsorted_as: PP\n"
        "notes: '![p](https://a.invalid/p.png) [a](file:///etc/passwd) <img src=//a.invalid/x>'\n"
    ),
    "content/products/pot.yaml": "title: Pot\nmade_for: Plants\n",
    "content/items/POT-001.yaml": (
        "date: 2026-01-20\nproduct: pot\ncount: 1\nmass: 1 kg each\noperation: mould\n"
        "draws: [{lot: IN-001, mass: 1 kg}]\n"
    ),
    "private/IN-001.yaml": "giver: Wrenna Quillfeather\n",
}
WATCHED = """
import json, os, sys
folder, root, met = sys.argv[1], sys.argv[2], []
def watch(name, args):
    if name.startswith(("socket.connect", "socket.getaddrinfo", "socket.bind", "subprocess.", "os.exec", "os.system",
                        "os.posix_spawn", "webbrowser.", "urllib.", "smtplib.")):
        met.append([name, str(args[:1])])
    if name == "open" and isinstance(args[0], (str, bytes)):
        path = os.path.abspath(os.fsdecode(args[0]))
        writing = isinstance(args[2], int) and args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
        if "/private/" in path[len(folder):] or writing and not path.startswith((folder, "/dev/null", "/dev/shm")):
            met.append([name, path])
sys.path.insert(0, root)
sys.addaudithook(watch)
from passport.commands.main import passport
for args in json.loads(sys.argv[3]):
    try:
        passport([*args, "--folder", folder], prog_name="passport")
    except SystemExit as ended:
        assert not ended.code, (args, ended.code)
print("MET " + json.dumps(met))
"""
COMMANDS = [
    ["tag", "POT-001", "--on", "2026-02-01"],
    ["check"], ["masses"], ["stock"], ["trace", "POT-001"], ["identify", "IN-001"],
    ["publish"], ["publish"], ["labels", "--on", "2026-02-02"], ["deposit"],
]  # fmt: skip


@pytest.mark.skipif(os.name != "posix", reason="paths are compared as POSIX writes them")
def test_nothing_goes_out(tmp_path: Path) -> None:
    """From numbers to the deposit: no connection, no other program, nothing of private/, no file outside the folder."""
    for path, text in RECORDS.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text, encoding="utf-8")
    command = [sys.executable, "-B", "-c", WATCHED, str(tmp_path), str(ROOT), json.dumps(COMMANDS)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    met = json.loads(done.stdout.rpartition("MET ")[2])
    assert met == []
    assert (tmp_path / "site/T").is_dir()
    assert not [
        p
        for p in tmp_path.rglob("*")
        if p.is_file() and b"Quillfeather" in p.read_bytes() and p.parent.name != "private"
    ]
