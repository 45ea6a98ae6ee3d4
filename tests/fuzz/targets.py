"""What may be fuzzed: a function from bytes to nothing that fails when a promise is broken, with texts to begin with.

The suite runs each for a moment (`tests/hostile/test_fuzz_targets.py`); `run.py` runs one for as long as you like.
"""

from __future__ import annotations

import contextlib
import csv
import io
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path

from passport.amounts import NotAQuantity, read_count, read_mass, read_melt_flow, read_share, read_temperature_c
from passport.deposit.container import Damaged, read
from passport.material.marking import emit, read_mark
from passport.pages.data_tables import csv_text
from passport.pages.pictures import Ready, ready_picture
from passport.pages.prose import to_prose
from passport.problems import Problem, in_words
from passport.reading.corrections import Correction
from passport.reading.decode import record_from
from passport.reading.fields import read_date, read_id
from passport.reading.marked import Source, decoded, read_tree
from passport.reading.records import AnyEvent, Item, Lot, Product, Recall, Run, Stream, Workshop
from passport.reading.spreadsheet import read_rows
from passport.reading.tag_lists import read_issued, read_printed
from passport.reading.tag_numbers import TagNumber, nearest, read_tag_number
from passport.verdicts.papers import _shares

CASES = Path(__file__).resolve().parents[1] / "reading" / "cases"
LONGEST = 2000
"""Signs of one problem in words; a hostile record gets no more of the screen."""
KINDS = (Workshop, Stream, Lot, Run, Product, Item, AnyEvent, Recall, Correction)


@dataclass(frozen=True, slots=True)
class Target:
    """One thing to fuzz."""

    run: Callable[[bytes], None]
    seeds: tuple[bytes, ...]


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape").encode("utf-8", "replace").decode("utf-8", "replace")


def said(problems: Iterable[Problem]) -> None:
    """Every problem can be said, briefly, and steers no terminal (CWE-150)."""
    for problem in problems:
        words = in_words(problem)
        assert problem.code
        assert problem.message
        assert len(problem.message) < LONGEST, problem.message[:200]
        assert all(sign.isprintable() or sign == "\n" for sign in words), words


def record(data: bytes) -> None:
    """Bytes as a file of each kind of record: a record, or problems."""
    source = decoded("content/lots/IN-1.yaml", data)
    if isinstance(source, Problem):
        said([source])
        return
    tree, problems = read_tree(source)
    said(problems)
    if tree is None:
        assert problems
        return
    for kind in KINDS:
        _one(kind, tree, source)


def _one(kind: object, tree: object, source: Source) -> None:
    lineage: dict[str, object] = (
        {"file": source.file, "number": 0} if kind in (AnyEvent, Correction) else {"id": "IN-1"}
    )
    if kind is Workshop:
        lineage = {}
    made, problems = record_from(kind, tree, source, lineage=lineage)
    said(problems)
    assert (made is None) == bool(problems)


def quantity(data: bytes) -> None:
    """Text as each kind of amount: an exact, finite value, or a refusal with words."""
    text = _text(data)
    for reader in (read_mass, read_count, read_temperature_c, read_share, read_melt_flow, read_date, read_id):
        with contextlib.suppress(NotAQuantity):
            reader(text)
    with contextlib.suppress(NotAQuantity):
        mass = read_mass(text)
        assert isinstance(mass.mass_kg, Decimal)
        assert mass.mass_kg.is_finite()
        assert mass.mass_kg >= 0
        assert mass.plus_minus_kg is None or mass.plus_minus_kg >= 0


def mark(data: bytes) -> None:
    """Text as a material mark: what reads without a problem is written and reads again as the same."""
    made, problems = read_mark(_text(data))
    said(problems)
    assert made is not None or problems
    if made is not None and not problems:
        again, more = read_mark(emit(made))
        assert (again, more) == (made, ()), emit(made)


def tag(data: bytes) -> None:
    """Text as a tag number, and the numbers near it; then as a list of tags."""
    text = _text(data)
    for prefix in ("RY", "O1L", "9"):
        number = read_tag_number(text, prefix)
        if isinstance(number, TagNumber):
            assert read_tag_number(str(number), prefix) == number
        else:
            said([number])
    nearest(text[:200], ["RY-22222Q", "RY-22224M"])
    for reader in (read_issued, read_printed):
        said(reader(text, "content/tags-issued.csv")[1])


def table(data: bytes) -> None:
    """Bytes as a spreadsheet's file: rows or problems; and as a cell of ours, which no spreadsheet runs."""
    said(read_rows(data, "events.csv")[1])
    text = _text(data).replace("\0", "")
    written = csv_text(["note", "n"], [{"note": text, "n": "1"}])
    (row,) = csv.DictReader(io.StringIO(written, newline=""), strict=True)
    assert row["n"] == "1"
    assert row["note"].removeprefix("'") == text.removeprefix("'")
    formula = re.match(r"[\s\ufeff\u200b-\u200f]*[=+\-@＝＋－＠]", row["note"])
    assert not formula or re.fullmatch(r"-?[0-9.]+", row["note"]), row["note"]


class _Harmless(HTMLParser):
    """Fails on anything that runs, sends, frames, loads or leads where it should not."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag not in {
            "script",
            "style",
            "iframe",
            "object",
            "embed",
            "form",
            "input",
            "base",
            "meta",
            "link",
            "svg",
        }
        for name, value in attrs:
            assert not name.startswith("on"), name
            assert name not in {"style", "srcset", "id", "formaction"}, name
            if name in {"href", "src"}:
                shown = re.sub(r"[\x00-\x20]", "", value or "").lower()
                assert not re.match(r"(javascript|vbscript|data|file):", shown), value
                assert not (name == "src" and re.match(r"[a-z]+:|//|\\\\", shown)), value


def prose(data: bytes) -> None:
    """Text as Markdown: nothing in it runs or loads."""
    _Harmless().feed(str(to_prose(_text(data)).html))


def picture(data: bytes) -> None:
    """Bytes as a photograph: a picture or a problem."""
    made = ready_picture("in-031.jpg", data)
    assert isinstance(made, Ready | Problem)
    if isinstance(made, Problem):
        said([made])


def deposit(data: bytes) -> None:
    """Bytes as a deposit: members or damage."""
    with contextlib.suppress(Damaged):
        for _ in read(io.BytesIO(data), len(data), lambda _name, _size: True):
            pass


def paper(data: bytes) -> None:
    """Text as another workshop's file on a lot: shares that are at most the whole, or none."""
    shares = _shares(_text(data))
    assert shares is None or 0 <= sum(shares.values()) <= 1


def _files(pattern: str) -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted(CASES.glob(pattern)) if path.is_file())


TARGETS = {
    "record": Target(
        record, (b"date: 2026-04-11\nreceived: {stream: bay}\nmass: 42.6 kg\n", *_files("broken/*/*.yaml"))
    ),
    "quantity": Target(
        quantity,
        ("42.6 ± 0.2 kg".encode(), b"24 pcs", b"205 \xc2\xb0C", b"80 %", "6.4 g/10 min at 190 °C/2.16 kg".encode()),
    ),
    "mark": Target(mark, (b">PP<", b">PE-HD(REC98)<", b">PA66-(GF25+MD15)FR(52)<", b">ABS+PC<", b">PP-TD20<")),
    "tag": Target(
        tag, (b"RY-22224M", b"ry 222 24m", b"tag,item,piece,issued,seal\nRY-22222Q,PL-1,1,2026-01-01,00000000\n")
    ),
    "table": Target(
        table, (b"date,tag,event\n2026-01-01,RY-22224M,lost\n", b'sep=;\na;b\n"1,5";=1+1\n', b"\xff\xfea\0,\0")
    ),
    "prose": Target(
        prose, (b"[a](javascript:alert(1))", b"![p](x.png) <b>x</b> `c`", b"* a\n  1. b\n\n> c\n", b"[x]: //a\n[x]")
    ),
    "picture": Target(picture, (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0\0\x10JFIF", b"RIFF\0\0\0\0WEBPVP8 ")),
    "deposit": Target(deposit, (b"PK\x03\x04", b"PK\x05\x06" + bytes(18))),
    "paper": Target(paper, (b'{"origin_at_least": {"post-consumer": "0.6"}}', b"[" * 2000, b'{"a": 1e999}')),
}
