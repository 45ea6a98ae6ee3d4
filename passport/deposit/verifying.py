"""Is a deposit whole? Every file's checksum, nothing too much, nothing missing, no path that leads out.

Nothing is unpacked for this: the file is read once from its first byte to its last. A deposit is taken only in the one
form in which it is written, so that no two readers can see different things in it.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import BinaryIO

from passport import disk
from passport.deposit import bag
from passport.deposit.container import CHUNK, Damaged, Member, content_of, read
from passport.disk import Refused
from passport.problems import Place, Problem, in_order

MOST_TEXT = 200_000_000
"""Bytes of a list of checksums that is read: that of a million files."""
NAMED_AT_MOST = 50

_KEPT = (bag.BAGIT, bag.INFO, bag.MANIFEST, bag.TAG_MANIFEST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deposit:
    """A deposit that was found whole, still open."""

    path: Path
    base: str
    """The folder that all its files lie in, with `/`."""
    info: dict[str, str]
    """What bag-info.txt says, by label."""
    members: tuple[Member, ...]
    size: int
    sha256: str
    """Of the whole file."""
    file: BinaryIO

    @property
    def day(self) -> date:
        """The day of the records in it."""
        return date.fromisoformat(self.info["Bagging-Date"])

    @property
    def prefix(self) -> str:
        """The first part of its tag numbers."""
        return self.info["Tag-Prefix"]

    def below(self, folder: str) -> Iterator[tuple[str, Member]]:
        """The files below a folder such as "data/content/", each with its path in there."""
        start = self.base + folder
        return ((m.name.removeprefix(start), m) for m in self.members if m.name.startswith(start))

    def content(self, member: Member) -> bytes:
        """The bytes of a file, checked again. Raises `Refused` if the deposit changed meanwhile."""
        try:
            return content_of(self.file, member)
        except Damaged as damage:
            raise Refused(_damaged(self.path, damage)) from damage


@contextlib.contextmanager
def opened(path: Path) -> Iterator[Deposit]:
    """A deposit that is whole, open until the block ends. Raises `Refused` with everything that is wrong with it."""
    with disk.worded("deposit-not-read", path):
        if disk.kind_of(path) != "file":
            raise Refused(_no_file(path))
        handle = os.open(path, os.O_RDONLY | disk.O_PLAIN)
        with os.fdopen(handle, "rb", CHUNK) as file:
            yield _checked(path, file)


class _Counting:
    """A file that hashes what is read of it, in order."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self.digest = hashlib.sha256()

    def read(self, count: int) -> bytes:
        content = self._file.read(count)
        self.digest.update(content)
        return content

    def tell(self) -> int:
        return self._file.tell()


def _checked(path: Path, file: BinaryIO) -> Deposit:
    size = os.fstat(file.fileno()).st_size
    counting, members, texts = _Counting(file), [], {}
    try:
        for member, content in read(counting, size, _Wanted()):  # type: ignore[arg-type]  # only these two are called
            members.append(member)
            if content:
                texts[member.name] = content
    except Damaged as damage:
        raise Refused(_damaged(path, damage)) from damage
    base = members[0].name.partition("/")[0] + "/"
    problems = list(_faults(path, base, members, {name.removeprefix(base): text for name, text in texts.items()}))
    if problems:
        raise Refused(*in_order(problems))
    info = bag.read_info(texts[base + bag.INFO].decode())
    return Deposit(
        path=path, base=base, info=info, members=tuple(members), size=size, sha256=counting.digest.hexdigest(),
        file=file,
    )  # fmt: skip


class _Wanted:
    """The texts that say what ought to be there: those right in the first folder, of a bearable size."""

    def __init__(self) -> None:
        self._base = ""

    def __call__(self, name: str, size: int) -> bool:
        base, _, rest = name.partition("/")
        self._base = self._base or base
        return base == self._base and rest in _KEPT and size <= MOST_TEXT


# --- what is wrong with it ----------------------------------------------------------------------------


def _faults(path: Path, base: str, members: Sequence[Member], texts: dict[str, bytes]) -> Iterator[Problem]:
    lacking = [name for name in _KEPT if name not in texts]
    if lacking:
        message = f"met no {' and no '.join(lacking)} in its first folder, wanted the files of a bag (RFC 8493)"
        yield Problem(code="deposit-not-a-bag", message=message, place=Place(str(path)), hint=_NOT_OURS)
        return
    yield from _names(path, base, members)
    found = {member.name.removeprefix(base): member.sha256 for member in members}
    payload = {name: digest for name, digest in found.items() if name.startswith(bag.PAYLOAD)}
    own = {name: digest for name, digest in found.items() if name not in payload and name != bag.TAG_MANIFEST}
    yield from _list_faults(path, bag.MANIFEST, texts, payload)
    yield from _list_faults(path, bag.TAG_MANIFEST, texts, own)
    yield from _info_faults(path, base, members, texts)


def _names(path: Path, base: str, members: Sequence[Member]) -> Iterator[Problem]:
    """Every file in the one folder, and no two that some disks take for one."""
    seen: dict[str, str] = {}
    folders = {disk.folded(folder): folder for member in members for folder in _folders(member.name)}
    for member in members:
        name = disk.folded(member.name)
        if not member.name.startswith(base):
            yield _file_fault(path, "deposit-extra", member.name, "it lies outside the folder of the deposit")
        other = seen.get(name) or folders.get(name)
        if other:
            met = "it is there twice" if other == member.name else f'some disks take it for "{other}"'
            yield _file_fault(path, "deposit-clash", member.name.removeprefix(base), met)
        seen[name] = member.name


def _folders(name: str) -> Iterator[str]:
    return (name[:end] for end, sign in enumerate(name) if sign == "/")


def _list_faults(path: Path, name: str, texts: dict[str, bytes], found: dict[str, str]) -> Iterator[Problem]:
    """A list of checksums against the files: each difference by name, or the list as a whole."""
    written = texts[name]
    if written == bag.manifest(found.items()).encode():
        return
    listed = bag.read_manifest(written.decode("utf-8", "replace"))
    faults = [("deposit-missing", file, f"it is named in {name} and is not there") for file in listed.keys() - found]
    faults += [("deposit-extra", file, f"it is there and not named in {name}") for file in found.keys() - listed]
    changed = [file for file in found.keys() & listed if found[file] != listed[file]]
    faults += [("deposit-changed", file, f"its SHA-256 is not the one in {name}") for file in changed]
    for code, file, fault in sorted(faults)[:NAMED_AT_MOST]:
        yield _file_fault(path, code, file, fault)
    if len(faults) > NAMED_AT_MOST:
        yield _file_fault(path, faults[0][0], name, f"the same holds for {len(faults) - NAMED_AT_MOST} more")
    if not faults:
        yield _file_fault(path, "deposit-list", name, "it is not written as this program writes it")


def _info_faults(path: Path, base: str, members: Sequence[Member], texts: dict[str, bytes]) -> Iterator[Problem]:
    """The facts of the bag: declaration, number and size of files, day, form."""
    if texts[bag.BAGIT] != bag.DECLARATION.encode():
        yield _file_fault(path, "deposit-not-a-bag", bag.BAGIT, "it is not the declaration of BagIt 1.0")
    if not _is_utf8(texts[bag.INFO]):
        yield _file_fault(path, "deposit-name", bag.INFO, "it is no UTF-8 text")
    info = bag.read_info(texts[bag.INFO].decode("utf-8", "replace"))
    if info.get("Deposit-Form") != bag.FORM:
        met = f"it says form {info.get('Deposit-Form', 'none')}, and this program reads form {bag.FORM}"
        yield _file_fault(path, "deposit-form", bag.INFO, met)
    kept = [member.size for member in members if member.name.startswith(base + bag.PAYLOAD)]
    if info.get("Payload-Oxum") != f"{sum(kept)}.{len(kept)}":
        met = f"it says {info.get('Payload-Oxum', 'nothing')} of size and number, and met {sum(kept)}.{len(kept)}"
        yield _file_fault(path, "deposit-count", bag.INFO, met)
    if info.get("External-Identifier") != base.rstrip("/") or not _is_named(info) or "Source-Organization" not in info:
        yield _file_fault(path, "deposit-name", bag.INFO, f'it does not fit the folder "{base.rstrip("/")}"')


def _is_utf8(text: bytes) -> bool:
    try:
        text.decode()
    except UnicodeDecodeError:
        return False
    return True


def _is_named(info: dict[str, str]) -> bool:
    try:
        day = date.fromisoformat(info.get("Bagging-Date", ""))
    except ValueError:
        return False
    about = bag.About(workshop="", prefix=info.get("Tag-Prefix", ""), day=day)
    return info.get("External-Identifier") == bag.base_name(about)


_NOT_OURS = "take the file that `passport deposit` wrote, or another copy of it"


def _file_fault(path: Path, code: str, file: str, fault: str) -> Problem:
    hint = "unzip still opens what is good in it; bring another copy of the deposit"
    return Problem(code=code, message=f"{file}: {fault}", place=Place(str(path)), hint=hint, about=file)


def _damaged(path: Path, damage: Damaged) -> Problem:
    message = f"met {damage.met} (byte {damage.offset}), wanted a deposit as it was written"
    return Problem(code="deposit-damaged", message=message, place=Place(str(path)), hint=_NOT_OURS)


def _no_file(path: Path) -> Problem:
    what = {"": "nothing", "folder": "a folder", "link": "a link", "special": "a device or a pipe"}
    message = f"met {what[disk.kind_of(path)]}, wanted the file of a deposit"
    return Problem(code="deposit-no-file", message=message, place=Place(str(path)), hint=_NOT_OURS)
