"""The one file of a deposit: a ZIP archive in which nothing is compressed, byte for byte determined by what is in it.

Written after ISO/IEC 21320-1:2015 (document container file: stored or deflated members, UTF-8 names, no encryption,
one volume) and the ZIP application note it rests on, 4.3 to 4.5 (both from memory). Members are stored as they are: the
bytes then depend on no version of a compressor, one damaged byte harms one member, and a text can be found in the file
with the plainest tools. Nothing can be a bomb, because no member is larger than its place in the file.

There is one true form. `read` takes a file only if it is exactly what `write` would have made of the same members:
hidden gaps, doubled directories, tails and misleading headers are all one fault.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import BinaryIO

from passport import disk

CHUNK = 1 << 20
MOST_MEMBERS = 1_000_000
"""More than a workshop with 100,000 tags needs; a hostile file gets no more of our memory."""
LONGEST_NAME = 1000
"""Bytes of one path."""
LARGEST_MEMBER = (1 << 32) - 2
"""Bytes: what the plain header can say. No picture, page or list comes near it."""

_LOCAL, _CENTRAL, _END = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"
_END_64, _LOCATOR_64 = b"PK\x06\x06", b"PK\x06\x07"
_LOCAL_FORM, _CENTRAL_FORM = "<4s5H3I2H", "<4s6H3I5H2I"
_LOCAL_SIZE = struct.calcsize(_LOCAL_FORM)
_NAMES_ARE_UTF8 = 0x0800
_STORED = 0
_VERSION, _VERSION_64 = 20, 45
_UNIX = 3 << 8
_PLAIN_FILE = 0o100644 << 16
_FULL_16, _FULL_32 = 0xFFFF, 0xFFFFFFFF
_FIRST_YEAR, _LAST_YEAR = 1980, 2107
"""What the dates of ZIP can say; others are written as the nearest."""


@dataclass(frozen=True, slots=True)
class Member:
    """One file within the file."""

    name: str
    """Its path, with `/`."""
    size: int
    """Bytes."""
    crc: int
    """CRC-32, which every unpacker checks."""
    sha256: str
    offset: int
    """Where its header begins."""

    @property
    def start(self) -> int:
        """Where its bytes begin."""
        return self.offset + _LOCAL_SIZE + len(self.name.encode())


class Damaged(Exception):  # noqa: N818 - it is not a fault of the program
    """A file that is not in the one true form: at which byte, and what was met."""

    def __init__(self, offset: int, met: str) -> None:
        super().__init__(f"at byte {offset}: {met}")
        self.offset = offset
        self.met = met


class Sealing:
    """Writes members one after another; `close` writes the directory. Keeps names and hashes, no contents."""

    def __init__(self, out: BinaryIO, day: date) -> None:
        self._out = out
        self._day = day
        self._at = 0
        self.members: list[Member] = []

    def add(self, name: str, content: bytes) -> Member:
        """Store one file. The caller answers for names that are unique and fit every disk."""
        member = Member(name, len(content), zlib.crc32(content), hashlib.sha256(content).hexdigest(), self._at)
        self._write(_local(member, self._day))
        self._write(content)
        self.members.append(member)
        return member

    def close(self) -> None:
        """Write the directory, without which no unpacker finds anything."""
        for part in _directory(self.members, self._day, self._at):
            self._write(part)

    def _write(self, content: bytes) -> None:
        self._out.write(content)
        self._at += len(content)


def read(file: BinaryIO, size: int, take: Callable[[str, int], bool]) -> Iterator[tuple[Member, bytes]]:
    """Every member of a file in order, each with its content where `take(name, size)` wants it, else with b"".

    Raises `Damaged` at the first byte that is not as it would have been written, which may be after the last member.
    Memory: one chunk, the members wanted, and a line for each member.
    """
    members: list[Member] = []
    day, at = None, 0
    while (head := _exactly(file, 4, at)) == _LOCAL:
        head += _exactly(file, _LOCAL_SIZE - 4, at)
        day = day or _day_in(head, at)
        member, content = _member(file, head, at, size, take)
        if _local(member, day) != head + member.name.encode():
            raise Damaged(at, f'the header of "{member.name}" is not as it was written')
        members.append(member)
        if len(members) > MOST_MEMBERS:
            raise Damaged(at, f"more than {MOST_MEMBERS} members")
        yield member, content
        at = member.start + member.size
    if not members or day is None:
        raise Damaged(0, "no first member, as every deposit has")
    _same_directory(file, head, members, day, at)


def content_of(file: BinaryIO, member: Member) -> bytes:
    """The bytes of one member that `read` gave. Raises `Damaged` if they have changed since."""
    file.seek(member.start)
    content = _exactly(file, member.size, member.start)
    if hashlib.sha256(content).hexdigest() != member.sha256:
        raise Damaged(member.start, f'"{member.name}" changed while it was being read')
    return content


def _member(file: BinaryIO, head: bytes, at: int, size: int, take: Callable[[str, int], bool]) -> tuple[Member, bytes]:
    length, name_length = struct.unpack_from("<I", head, 22)[0], struct.unpack_from("<H", head, 26)[0]
    name = _name(_exactly(file, min(name_length, LONGEST_NAME + 1), at), at)
    if length > size - file.tell():
        raise Damaged(at, f'"{name}" says that it is {length} bytes long, more than the file has left')
    kept: list[bytes] | None = [] if take(name, length) else None
    crc, digest, left = 0, hashlib.sha256(), length
    while left:
        chunk = _exactly(file, min(left, CHUNK), at)
        crc, left = zlib.crc32(chunk, crc), left - len(chunk)
        digest.update(chunk)
        if kept is not None:
            kept.append(chunk)
    return Member(name, length, crc, digest.hexdigest(), at), b"".join(kept or ())


def _name(written: bytes, at: int) -> str:
    if len(written) > LONGEST_NAME:
        raise Damaged(at, f"a path of more than {LONGEST_NAME} bytes")
    try:
        name = written.decode()
    except UnicodeDecodeError:
        raise Damaged(at, "a path that is no UTF-8 text") from None
    if fault := disk.path_fault(name):
        raise Damaged(at, f'the path "{name}", and {fault}')
    return name


def _exactly(file: BinaryIO, count: int, at: int) -> bytes:
    content = file.read(count)
    if len(content) != count:
        raise Damaged(at, "the end of the file, too early")
    return content


def _same_directory(file: BinaryIO, head: bytes, members: list[Member], day: date, at: int) -> None:
    """What follows the last member is the directory as it would have been written, and then nothing."""
    met = head
    for part in _directory(members, day, at):
        met += file.read(len(part) - len(met))
        if met != part:
            raise Damaged(at, "a directory that does not fit the members before it")
        at, met = at + len(part), b""
    if file.read(1):
        raise Damaged(at, "something after the end")


# --- the one true form --------------------------------------------------------------------------------


def _local(member: Member, day: date) -> bytes:
    """Application note, 4.3.7."""
    name = member.name.encode()
    return (
        struct.pack(
            _LOCAL_FORM, _LOCAL, _VERSION, _NAMES_ARE_UTF8, _STORED, 0, _dos_date(day), member.crc,
            member.size, member.size, len(name), 0,
        )
        + name
    )  # fmt: skip


def _directory(members: Iterable[Member], day: date, start: int) -> Iterator[bytes]:
    """The central directory and its end (4.3.12, 4.3.16), with the larger form where numbers need it (4.3.14)."""
    count = size = 0
    for member in members:
        entry = _central(member, day)
        count, size = count + 1, size + len(entry)
        yield entry
    if count >= _FULL_16 or start + size >= _FULL_32:
        yield _end_64(count, size, start)
    yield struct.pack(
        "<4s4H2IH", _END, 0, 0, min(count, _FULL_16), min(count, _FULL_16), min(size, _FULL_32), min(start, _FULL_32), 0
    )


def _central(member: Member, day: date) -> bytes:
    """Application note, 4.3.12; an offset beyond 4 GiB stands in the extra field 0001 (4.5.3)."""
    name, far = member.name.encode(), member.offset >= _FULL_32
    extra = struct.pack("<2HQ", 1, 8, member.offset) if far else b""
    version = _VERSION_64 if far else _VERSION
    return (
        struct.pack(
            _CENTRAL_FORM, _CENTRAL, _UNIX | _VERSION, version, _NAMES_ARE_UTF8, _STORED, 0, _dos_date(day), member.crc,
            member.size, member.size, len(name), len(extra), 0, 0, 0, _PLAIN_FILE, min(member.offset, _FULL_32),
        )
        + name
        + extra
    )  # fmt: skip


def _end_64(count: int, size: int, start: int) -> bytes:
    end = struct.pack("<4sQ2H2I4Q", _END_64, 44, _UNIX | _VERSION_64, _VERSION_64, 0, 0, count, count, size, start)
    return end + struct.pack("<4sIQI", _LOCATOR_64, 0, start + size, 1)


def _dos_date(day: date) -> int:
    """Years from 1980 in seven bits, months in four, days in five (4.4.6)."""
    year = min(max(day.year, _FIRST_YEAR), _LAST_YEAR)
    return (year - _FIRST_YEAR) << 9 | day.month << 5 | day.day


def _day_in(head: bytes, at: int) -> date:
    packed = struct.unpack_from("<H", head, 12)[0]
    try:
        return date((packed >> 9) + _FIRST_YEAR, packed >> 5 & 15, packed & 31)
    except ValueError:
        raise Damaged(at, "a day that no calendar has") from None
