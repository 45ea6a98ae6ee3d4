"""Every check value of the notes on resins that this stage computes is a test here."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

HERE = Path(__file__).parent
NOTES = HERE.parents[2] / "shared" / "facts" / "resins.md"
OURS = "WEBDMFOIKP"
"""Liquids, density, mixing, filler, overlaps, identification, marks, melts; limits in law stand elsewhere."""


def wanted() -> set[str]:
    """Ids of the rows under "Check values"."""
    text = NOTES.read_text(encoding="utf-8").partition("## Check values for tests")[2]
    cells = [line.split("|")[1] for line in text.splitlines() if line.startswith("|")]
    return {name for cell in cells for name in re.findall(r"[A-Z]\d+", cell) if name[0] in OURS}


def named() -> set[str]:
    """Ids that stand in a test or a case file of this stage, with or without a letter for a part."""
    files = [path for path in HERE.rglob("*") if path.suffix in (".py", ".yaml") and path != Path(__file__)]
    found = {name for path in files for name in re.findall(r"\b([A-Z]\d+)[a-d]?\b", path.read_text(encoding="utf-8"))}
    spans = re.findall(r"\b([A-Z])(\d+) to \1?(\d+)\b", "\n".join(p.read_text(encoding="utf-8") for p in files))
    return found | {f"{letter}{n}" for letter, first, last in spans for n in range(int(first), int(last) + 1)}


def test_every_row_is_named() -> None:
    """No row of the table that touches identification, density, marks, flow or melts is without a test."""
    if not NOTES.exists():
        pytest.skip("the notes on resins are not here")
    assert len(wanted()) > 30
    assert wanted() - named() == set()
