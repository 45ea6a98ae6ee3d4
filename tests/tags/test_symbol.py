"""QR symbols, against ISO/IEC 18004's own example, published figures and a second encoder."""

from __future__ import annotations

import csv
import hashlib
from pathlib import Path

import numpy as np
import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode import base, util
from qrcode.main import QRCode

from passport.tags import symbol as symbols
from passport.tags.codewords import codewords
from passport.tags.symbol import LEVELS, Symbol, penalties, segments_of, symbol_for, symbol_path, symbol_svg

CASES = Path(__file__).parent / "cases"
P38 = "HTTPS://PASS.EXAMPLE.ORG/I/MY-7K3M9QX2"
MIXED = "https" + P38[5:]
ANNEX_I = [util.QRData(b"01234567", mode=util.MODE_NUMBER)]

payloads = st.text("ABCXYZ0189 $%*+-./:abcxyz~_", min_size=1, max_size=90)


def rows(name: str) -> list[dict[str, str]]:
    """A table of published or measured cases."""
    with (CASES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def digest(modules: tuple[bytes, ...]) -> str:
    """SHA-256 of the rows of 0 and 1 joined by line feeds, as the case tables give it."""
    return hashlib.sha256("\n".join("".join(map(str, row)) for row in modules).encode()).hexdigest()


def by_library(payload: str, level: str, mask: int, version: int) -> tuple[bytes, ...]:
    """The same symbol drawn whole by the library."""
    drawn = QRCode(version=version, error_correction=LEVELS[level], mask_pattern=mask, border=0)
    for segment in segments_of(payload):
        drawn.add_data(segment)
    drawn.make(fit=False)
    return tuple(bytes(map(bool, row)) for row in drawn.modules)


def by_segno(made: Symbol) -> tuple[bytes, ...]:
    """The same symbol drawn by segno, given the same segments, version, level and mask."""
    names = {util.MODE_8BIT_BYTE: "byte", util.MODE_ALPHA_NUM: "alphanumeric"}
    parts = [(s.data.decode(), names[s.mode]) for s in segments_of(made.payload)]
    code = segno.make_qr(
        [(text, getattr(segno.consts, f"MODE_{mode.upper()}")) for text, mode in parts],
        version=made.version, error=made.level, mask=made.mask, boost_error=False,
    )  # fmt: skip
    return tuple(bytes(row) for row in code.matrix)


def test_the_example_of_annex_i_comes_out() -> None:
    """ISO/IEC 18004 annex I: "01234567" at 1-M, its 26 codewords, and figure I.4 with mask 2 (QR1, QR3)."""
    words = util.create_data(1, LEVELS["M"], ANNEX_I)
    assert bytes(words).hex(" ").upper() == (
        "10 20 0C 56 61 80 EC 11 EC 11 EC 11 EC 11 EC 11 A5 24 D4 C1 ED 36 C7 87 2C 55"
    )
    modules = symbols._modules(1, "M", 2, words)
    assert sum(map(sum, modules)) == 216
    assert digest(modules) == "60849ba798afd78ac74bba5d35470da20e0027742de341ed4c385752ac290abd"


def test_the_alphanumeric_example_comes_out() -> None:
    """ISO/IEC 18004 7.4.4 (from memory): AC-42 is 0010 000000101 00111001110 11100111001 000010 (QR10)."""
    buffer = util.BitBuffer()
    (segment,) = [util.QRData(b"AC-42", mode=util.MODE_ALPHA_NUM)]
    buffer.put(segment.mode, 4)
    buffer.put(len(segment), util.length_in_bits(segment.mode, 1))
    segment.write(buffer)
    bits = "".join(str(int(buffer.get(i))) for i in range(len(buffer)))
    assert bits == "00100000001010011100111011100111001000010"
    assert symbols._bits([segment], 1) == len(bits)


def test_the_penalties_are_those_published() -> None:
    """A review of 18004:2024 prints N1 to N4 of the annex I example; mask 3 is the lowest (QR4, QR5)."""
    weighed = penalties(1, util.create_data(1, LEVELS["M"], ANNEX_I))
    table = rows("penalties-annex-i.csv")
    for name, found in zip(("n1", "n2", "n3", "n4"), weighed, strict=True):
        assert found.tolist() == [int(row[name]) for row in table]
    assert sum(weighed).tolist() == [int(row["total"]) for row in table]
    assert symbols.mask_of(1, util.create_data(1, LEVELS["M"], ANNEX_I)) == 3


@pytest.mark.parametrize("row", rows("format-bits.csv"), ids=lambda r: f"{r['level']}{r['mask']}")
def test_the_format_bits_are_those_of_the_standard(row: dict[str, str]) -> None:
    """ISO/IEC 18004 annex C, table C.1 (QR2): both copies of the 15 format bits."""
    bits = symbols._format_bits(row["level"], int(row["mask"]))
    once = sum(int(bit) << place for place, bit in enumerate(bits[:15]))
    assert f"{once:04X}" == row["bits"]
    assert bits[15:30].tolist() == bits[:15].tolist()


@pytest.mark.parametrize("row", rows("symbols.csv"), ids=lambda r: r["id"])
def test_the_measured_symbols_come_out(row: dict[str, str]) -> None:
    """Symbols on which two encoders agree (QR6, QR7, QR8): version and modules."""
    made = symbol_for(row["payload"], row["level"], int(row["mask"]))
    assert made.version == int(row["version"])
    assert digest(made.modules) == row["sha256"]


@pytest.mark.parametrize("row", rows("capacity.csv"), ids=lambda r: f"{r['version']}{r['level']}")
def test_the_capacities_are_those_of_the_standard(row: dict[str, str]) -> None:
    """ISO/IEC 18004 table 7 (QR9): n characters fit a version, n + 1 need the next."""
    version = int(row["version"])
    for column, character in (("alphanumeric", "A"), ("byte", "a")):
        fits = character * int(row[column])
        assert symbols.smallest_version(segments_of(fits), row["level"]) == version
        assert symbols.smallest_version(segments_of(fits + character), row["level"]) == version + 1


@settings(max_examples=60, deadline=None)
@given(payloads, st.sampled_from("LMQH"), st.integers(0, 7))
def test_two_other_encoders_draw_the_same_modules(payload: str, level: str, mask: int) -> None:
    """Same version, level, mask and segments: the matrix is that of qrcode and of segno (QR11)."""
    made = symbol_for(payload, level, mask)
    assert made.modules == by_library(payload, level, mask, made.version)
    # segno 1.6.6 adds eight zeros to a stream that already ends on a whole codeword; 18004 7.4.10 asks for none
    if (symbols._bits(segments_of(payload), made.version) + 4) % 8:
        assert made.modules == by_segno(made)


@pytest.mark.parametrize("version", [7, 10, 27, 40])
def test_large_versions_are_the_librarys_too(version: int) -> None:
    """From version 7 on the version information is drawn as well."""
    made = symbol_for(P38, "M", 5, version)
    assert made.modules == by_library(P38, "M", 5, version)


@given(payloads, st.sampled_from("LMQH"))
def test_the_mask_has_the_lowest_penalty_by_a_plain_count(payload: str, level: str) -> None:
    """The numpy sums are those of a plain reading of 7.8.3, run by run and block by block."""
    segments = segments_of(payload)
    version = symbols.smallest_version(segments, level)
    words = util.create_data(version, LEVELS[level], segments)
    plain = [plain_penalty(m.astype(int).tolist()) for m in symbols._tried(version, words)]
    assert sum(penalties(version, words)).tolist() == plain
    assert symbol_for(payload, level).mask == plain.index(min(plain))


def plain_penalty(matrix: list[list[int]]) -> int:
    """ISO/IEC 18004 7.8.3 written out slowly, format areas light, quiet zone light for N3."""
    lines = ["".join(map(str, row)) for row in matrix]
    lines += ["".join(map(str, column)) for column in zip(*matrix, strict=True)]
    total = 0
    for line in lines:
        runs = line.replace("01", "0 1").replace("10", "1 0").split()
        total += sum(len(run) - 2 for run in runs if len(run) >= 5)
        padded = "0000" + line + "0000"
        for start in range(4, len(padded) - 10):
            if padded[start : start + 7] == "1011101":
                sides = (padded[start - 4 : start], padded[start + 7 : start + 11])
                total += 40 * ("0000" in sides)
    side = len(matrix)
    corners = [(y, x) for y in range(side - 1) for x in range(side - 1)]
    total += sum(3 for y, x in corners if sum(matrix[y][x : x + 2] + matrix[y + 1][x : x + 2]) in {0, 4})
    dark = sum(map(sum, matrix))
    return total + 10 * int(abs(100 * dark / side**2 - 50) / 5)


@given(payloads)
def test_no_split_into_segments_is_shorter(payload: str) -> None:
    """Neither all bytes nor the library's own split needs fewer bits."""
    ours = symbols._bits(segments_of(payload), 1)
    assert ours <= symbols._bits([util.QRData(payload.encode(), mode=util.MODE_8BIT_BYTE)], 1)
    theirs = list(util.optimal_data_chunks(payload, minimum=20))
    if all(s.mode != util.MODE_NUMBER for s in theirs):
        assert ours <= symbols._bits(theirs, 1)


def test_the_mixed_form_is_two_segments() -> None:
    """The scheme is a byte segment of its own, the rest alphanumeric."""
    assert [(s.data, s.mode) for s in segments_of(MIXED)] == [
        (b"https", util.MODE_8BIT_BYTE),
        (b"://PASS.EXAMPLE.ORG/I/MY-7K3M9QX2", util.MODE_ALPHA_NUM),
    ]


@pytest.mark.parametrize("payload", ["", "https://PASS.EXAMPLE/É"])
def test_only_ascii_goes_into_a_symbol(payload: str) -> None:
    """Readers disagree on other characters, so they are refused."""
    with pytest.raises(ValueError, match="cannot go into a symbol: wanted ASCII characters"):
        symbol_for(payload)


def test_a_payload_too_long_for_any_symbol_is_refused() -> None:
    """Version 40 at level H holds 1,273 bytes (18004 table 7)."""
    assert symbol_for("a" * 1273, "H").version == 40
    with pytest.raises(ValueError, match=r"^no QR symbol of level H holds 1274 characters$"):
        symbol_for("a" * 1274, "H")


def test_the_path_covers_exactly_the_dark_modules() -> None:
    """Each stroke of the SVG path is a run of dark modules, four modules from the edge."""
    made = symbol_for(MIXED)
    drawn = np.zeros((made.side + 8, made.side + 8), dtype=bool)
    for stroke in symbol_path(made).split("z")[:-1]:
        place, width = stroke[1:].split("h")[:2]
        x, y = map(int, place.split())
        drawn[y, x : x + int(width.removesuffix("v1"))] = True
    assert (drawn[4:-4, 4:-4] == made.dark()).all()
    assert drawn.sum() == made.dark().sum()
    assert f'viewBox="0 0 {made.side + 8} {made.side + 8}"' in symbol_svg(made)


def test_the_capacity_used_is_the_librarys() -> None:
    """The library's own table of data codewords stands behind the capacity of each version."""
    assert base.rs_blocks(3, LEVELS["Q"])[0].data_count * 2 * 8 == symbols._capacity_bits(3, "Q")


@pytest.mark.parametrize("level", LEVELS)
@settings(max_examples=25, deadline=None)
@given(payload=payloads, more=st.integers(0, 12))
def test_codewords_are_the_librarys(payload: str, level: str, more: int) -> None:
    """Data, padding and error correction of any version and level are the numbers that `qrcode` gives."""
    segments = segments_of(payload)
    version = min(symbols.smallest_version(segments, level) + more, 40)
    theirs = util.create_data(version, LEVELS[level], segments)
    assert codewords(version, LEVELS[level], segments).tolist() == theirs
