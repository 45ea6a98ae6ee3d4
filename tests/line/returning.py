"""A small yard of which everything can be reckoned by hand, for tests of what comes back."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

import yard

from passport.verdicts.book import Book, work_out

RECORDS = {
    "streams/new-pp.yaml": "title: New PP\norigin: virgin\n",
    "lots/A.yaml": "date: 2026-02-01\nreceived: {stream: tubs}\nmass: 20 kg\nsorted_as: PP\nform: pieces\n",
    "lots/V.yaml": "date: 2026-02-01\nreceived: {stream: new-pp}\nmass: 10 kg\nsorted_as: PP\nform: pellets\n",
    "lots/H.yaml": "date: 2026-02-01\nreceived: {stream: tubs}\nmass: 10 kg\nsorted_as: PE-HD\nform: pieces\n",
    "items/BOX-1.yaml": (
        "product: pot\ndate: 2026-03-01\ncount: 2\nscale: bench\nparts:\n"
        "  - {part: body, mass: 800 g, joined: screwed, draws: [{lot: A, mass: 1600 g, scale: bench}]}\n"
        "  - {part: lid, mass: 200 g, joined: screwed, draws: [{lot: H, mass: 400 g, scale: bench}]}\n"
    ),
    "items/JAR-1.yaml": (
        "product: pot\ndate: 2026-03-01\ncount: 2\nmass: 200 g each\nscale: bench\noperation: mould\n"
        "draws: [{lot: A, mass: 300 g, scale: bench}, {lot: V, mass: 100 g, scale: bench}]\n"
        "hardware:\n  - {what: brass hook, material: brass, mass: 30 g}\n"
    ),
}
BOX, BOX_2, JAR, JAR_2 = "MY-22224V", "MY-22225T", "MY-22226R", "MY-22227P"


def make(folder: Path) -> Path:
    """Two boxes (800 g body of used PP, 200 g lid of used PE-HD), two jars (150 g used, 50 g new PP, a 15 g hook)."""
    yard.yard(folder, 2)
    for path, text in RECORDS.items():
        target = folder / "content" / path
        target.write_text(text, encoding="utf-8")
    for batch in ("BOX-1", "JAR-1"):
        yard.done("tag", batch, "--on", "2026-03-02", "--folder", folder)
    return folder


def copy(made: Path, folder: Path) -> Path:
    """The records of a yard that was made before, in a folder of their own."""
    for path, data in yard.bytes_of(made).items():
        target = folder / "content" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    return folder


def book(folder: Path) -> Book:
    """Everything worked out from the records as they stand."""
    return work_out(yard.shop_of(folder))


def shares(folder: Path, lot: str, dimension: str) -> Mapping[str, Fraction]:
    """A lot's shares by origin, stream, resin or lives."""
    found = book(folder).ledger.mixtures[lot].shares_by(dimension)
    return {name: share.value for name, share in found.items()}


def out(folder: Path, *tags: str, day: str = "2026-04-01") -> None:
    """Hand things over."""
    yard.done("event", "handed-over", *tags, "--place", "allotments", "--on", day, "--folder", folder)
