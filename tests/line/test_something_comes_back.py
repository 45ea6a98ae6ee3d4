"""The walk-through of the README for what comes back, typed again at a pseudo-terminal."""

from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path

import pytest
import walkthrough
import yard
from conftest import ROOT
from returning import shares

README = (ROOT / "README.md").read_text(encoding="utf-8")
STEPS = walkthrough.steps_of(README, "## When something comes back")
RECORDS = {
    "workshop.yaml": (
        "name: Reedmouth Yard\nprefix: RY\nscales:\n"
        "  floor: {step: 0.1 kg, repeat: 0.1 kg, bias: 0.1 kg}\n  bench: {step: 1 g, repeat: 1 g, bias: 1 g}\n"
    ),
    "streams/cafe-tubs.yaml": "title: Café tubs\norigin: post-consumer\n",
    "products/pot.yaml": "title: Plant pot\nmade_for: House plants\n",
    "lots/IN-001.yaml": "date: 2026-03-07\nreceived: {stream: cafe-tubs}\nmass: 12.4 kg\nsorted_as: PP\n",
    "items/POT-001.yaml": (
        "product: pot\ndate: 2026-03-07\ncount: 3\nmass: 221 g each\nscale: bench\noperation: mould\n"
        "draws: [{lot: IN-001, mass: 668 g}]\nlosses: {sprues: 5 g}\n"
    ),
}
"""What the first evening of the README leaves behind, as far as it matters here."""


@pytest.fixture
def evening(tmp_path: Path) -> Path:
    """Three pots with numbers, one of them handed over."""
    for path, text in RECORDS.items():
        target = tmp_path / "content" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
    yard.done("tag", "POT-001", "--on", "2026-03-07", "--folder", tmp_path)
    yard.done("event", "handed-over", "RY-22222Q", "--place", "allotments", "--on", "2026-03-07", "--folder", tmp_path)
    return tmp_path


def test_each_step_is_as_printed(evening: Path) -> None:
    """What the README shows is what a person sees, letter by letter outside its gaps; the lot is what it says."""
    env = os.environ | {"PYTHONPATH": str(ROOT), "TERM": "dumb", "COLUMNS": "120", "LC_ALL": "C.UTF-8"}
    assert [step.command for step in STEPS] == ["passport handback RY-22222Q"]
    for step in STEPS:
        command = [sys.executable, "-m", "passport", *shlex.split(step.command)[1:]]
        code, shown = walkthrough.play(step, command, evening, env)
        assert code == 0, shown
        assert walkthrough.difference(step.lines, shown) == "", shown
    assert shares(evening, "CB-001", "origin") == {"post-consumer": 1}
