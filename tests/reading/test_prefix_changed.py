"""A prefix changed after numbers were issued: old numbers hold, and the desk is told."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from passport.problems import Level
from passport.reading.folder import read_shop
from passport.reading.tag_lists import FIRST_SEAL, ISSUED_HEADER, issued_line
from passport.reading.tag_numbers import next_numbers


def test_a_changed_prefix_is_advice(tmp_path: Path) -> None:
    """It is no error, since a workshop may take a new prefix; the hint says what follows."""
    for folder in ("items", "lots", "products", "streams"):
        (tmp_path / folder).mkdir()
    (tmp_path / "workshop.yaml").write_text("name: Yard\nprefix: YD\n")
    (tmp_path / "streams/tubs.yaml").write_text("title: Tubs\norigin: post-consumer\n")
    (tmp_path / "products/pot.yaml").write_text("title: Pot\nmade_for: Plants\n")
    (tmp_path / "lots/IN-1.yaml").write_text("date: 2026-01-10\nreceived: {stream: tubs}\nmass: 1 kg\n")
    (tmp_path / "items/P-1.yaml").write_text(
        "product: pot\ndate: 2026-01-11\ncount: 1\nmass: 1 kg\ndraws: [{lot: IN-1, mass: 1 kg}]\n"
    )
    (number,) = next_numbers("RY", None, 1)
    line = issued_line(FIRST_SEAL, tag=number, item="P-1", piece=1, issued=dt.date(2026, 1, 12))
    (tmp_path / "tags-issued.csv").write_text(ISSUED_HEADER + line)
    (found,) = read_shop(tmp_path)[1]
    assert (found.level, found.code) == (Level.ADVICE, "prefix-changed")
    assert found.message == 'met the prefix "YD" after 1 tag issued with RY'
    assert found.hint == (
        "their numbers hold for ever, and new ones begin anew with this prefix; if it is a slip, put it back"
    )
    assert found.place.line == 2
