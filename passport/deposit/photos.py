"""A picture as the camera made it → the same pixels without a word on who took it, where and when.

Nothing is coded anew: parts of the file that hold no pixels are left out (JPEG: ITU-T T.81 annex B; PNG: W3C PNG
third edition, clause 11; WebP: RFC 9649). Which way up it is stands in one of those parts, and is written again
alone (Exif 2.32, tag 0x0112). A colour profile stays behind too, since its text may name the camera.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterator

from PIL import Image

from passport.pages.pictures import ready_picture
from passport.problems import Level, Place, Problem

_TURN = 0x0112
_UPRIGHT = 1
_TURNS = range(2, 9)

_JPEG = b"\xff\xd8"
_APP1, _SCAN, _END = 0xE1, 0xDA, 0xD9
_JPEG_KEPT = frozenset((*range(0xC0, 0xD0), 0xDA, 0xDB, 0xDC, 0xDD, 0xE0, 0xEE))
"""Frames and their tables, scans, and what says how colours are to be taken (JFIF, Adobe)."""

_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT"})
_WEBP_KEPT = frozenset({b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ANIM", b"ANMF"})
_WEBP_FLAGS = 0x20 | 0x08 | 0x04
"""Profile, Exif and XMP in the first byte of VP8X."""


def bare_picture(name: str, data: bytes) -> bytes | Problem:
    """The picture without anything but its pixels and which way up it is; or why that cannot be had.

    Takes JPEG, PNG and WebP, told by their first bytes.
    """
    try:
        turned = _turned(data)
        if data.startswith(_JPEG):
            return _JPEG + b"".join(_jpeg(data, turned)) + bytes((0xFF, _END))
        if data.startswith(_PNG):
            return _PNG + b"".join(_png(data, turned))
        return _webp(data, turned)
    except (ValueError, OSError, SyntaxError, IndexError, EOFError, Image.DecompressionBombError):
        anew = ready_picture(name, data)  # a file that is odd, yet shows: its pixels alone
        return _left_out(name) if isinstance(anew, Problem) else anew.content


def _turned(data: bytes) -> int:
    """Which way the picture is to be turned (1 to 8); 1 where nothing says."""
    with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
        turned = opened.getexif().get(_TURN, _UPRIGHT)
    return turned if turned in _TURNS else _UPRIGHT


def _exif(turned: int) -> bytes:
    """TIFF of one entry: little-endian, tag, SHORT, one value."""
    entry = _TURN.to_bytes(2, "little") + b"\x03\x00" + (1).to_bytes(4, "little") + turned.to_bytes(4, "little")
    return b"II*\x00" + (8).to_bytes(4, "little") + b"\x01\x00" + entry + bytes(4)


def _jpeg(data: bytes, turned: int) -> Iterator[bytes]:
    """Its segments up to the end of the image; what follows that is another file."""
    if turned != _UPRIGHT:
        exif = b"Exif\x00\x00" + _exif(turned)
        yield bytes((0xFF, _APP1)) + (len(exif) + 2).to_bytes(2, "big") + exif
    at = _past_filling(data, len(_JPEG))
    while (marker := _marker(data, at)) != _END:
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if marker == _SCAN:
            end = _scanned(data, end)
        if end > len(data) or end < at + 4:
            raise ValueError
        if marker in _JPEG_KEPT:
            yield data[at:end]
        at = _past_filling(data, end)


def _past_filling(data: bytes, at: int) -> int:
    """Any number of 0xFF may stand before a marker (T.81 B.1.1.2)."""
    while data[at : at + 2] == b"\xff\xff":
        at += 1
    return at


def _marker(data: bytes, at: int) -> int:
    if data[at] != 0xFF:  # noqa: PLR2004 - every marker begins so
        raise ValueError
    return data[at + 1]


def _scanned(data: bytes, at: int) -> int:
    """Where coded data end: at the first marker that is neither a stuffed zero nor a restart."""
    while True:
        at = data.index(b"\xff", at)
        if data[at + 1] != 0 and not 0xD0 <= data[at + 1] <= 0xD7:  # noqa: PLR2004 - T.81 table B.1
            return at
        at += 2


def _png(data: bytes, turned: int) -> Iterator[bytes]:
    at = len(_PNG)
    while True:
        length, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        chunk = data[at : at + 12 + length]
        if len(chunk) != 12 + length:
            raise ValueError
        if kind == b"IDAT" and turned != _UPRIGHT:
            yield _png_chunk(b"eXIf", _exif(turned))
            turned = _UPRIGHT
        if kind in _PNG_KEPT:
            yield chunk
        if kind == b"IEND":
            return
        at += len(chunk)


def _png_chunk(kind: bytes, body: bytes) -> bytes:
    return len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")


def _webp(data: bytes, turned: int) -> bytes:
    chunks = [(kind, body) for kind, body in _riff(data) if kind in _WEBP_KEPT]
    has_turn = turned != _UPRIGHT
    if chunks[0][0] == b"VP8X":
        flags = (chunks[0][1][0] & ~_WEBP_FLAGS) | (0x08 if has_turn else 0)
        chunks[0] = (b"VP8X", bytes((flags,)) + chunks[0][1][1:])
        chunks += [(b"EXIF", _exif(turned))] if has_turn else []
    body = b"".join(kind + len(b).to_bytes(4, "little") + b + bytes(len(b) % 2) for kind, b in chunks)
    return b"RIFF" + (len(body) + 4).to_bytes(4, "little") + b"WEBP" + body


def _riff(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at, end = 12, 8 + int.from_bytes(data[4:8], "little")
    while at < min(end, len(data)):
        length = int.from_bytes(data[at + 4 : at + 8], "little")
        body = data[at + 8 : at + 8 + length]
        if len(body) != length:
            raise ValueError
        yield data[at : at + 4], body
        at += 8 + length + length % 2


def _left_out(name: str) -> Problem:
    return Problem(
        code="deposit-picture-left-out",
        message=f"met a picture that cannot be cleared of where and when it was taken, and left it out: {name}",
        place=Place(f"content/photos/{name}"),
        hint="save it as JPEG, PNG or WebP with a picture program",
        level=Level.ADVICE,
    )
