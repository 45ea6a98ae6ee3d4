"""A deposit → the disk: whole under its name, or not there.

The file grows under a name with a leading dot in the folder where it is to stand, is synced, and takes its name in one
step that cannot overwrite. A file that is there already is left alone: if it is the same, that is all; if not, the
person decides.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

from passport import disk
from passport.deposit import bag
from passport.deposit.container import CHUNK, LARGEST_MEMBER, LONGEST_NAME, MOST_MEMBERS, Member, Sealing
from passport.disk import Refused, Say
from passport.problems import Place, Problem

ENDING = ".zip"
_NOT_WRITTEN = "deposit-not-written"


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A deposit that stands on the disk."""

    path: Path
    size: int
    """Bytes."""
    sha256: str
    """Of the whole file; written down elsewhere, it tells whether this is the same one."""
    members: tuple[Member, ...]
    new: bool
    """False: the same file was there already."""


def pack(
    folder: Path,
    about: bag.About,
    beside: Mapping[str, str],
    payload: Iterable[tuple[str, bytes]],
    *,
    wait_s: float = disk.WAIT_S,
    say: Say | None = None,
) -> Packed:
    """Write the deposit into a folder, which is made if it is not there.

    beside: plain texts that stand at the top, by name; payload: path below data/ and content, read once.
    Raises `Refused`: another file has the name, a path does not fit every disk, the disk fails. Then nothing is left.
    """
    name = bag.base_name(about) + ENDING
    with disk.worded(_NOT_WRITTEN, folder):
        folder.mkdir(parents=True, exist_ok=True)
    with disk.locked(folder, wait_s=wait_s, say=say), disk.worded(_NOT_WRITTEN, folder / name):
        part = folder / f".{name}.part"
        disk.remove_tree(part)  # of a run that was killed
        try:
            members, digest = _written(part, about, beside, payload)
            return _named(part, folder / name, members, digest)
        finally:
            with contextlib.suppress(OSError):  # the next run clears it
                disk.remove_tree(part)


class _Hashing:
    """A file that knows the hash of what went into it."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self.digest = hashlib.sha256()

    def write(self, content: bytes) -> None:
        self._file.write(content)
        self.digest.update(content)


def _written(
    part: Path, about: bag.About, beside: Mapping[str, str], payload: Iterable[tuple[str, bytes]]
) -> tuple[tuple[Member, ...], str]:
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | disk.O_PLAIN, 0o644)
    try:
        with open(handle, "wb", closefd=False, buffering=CHUNK) as file:
            out = _Hashing(file)
            members = _filled(Sealing(cast("BinaryIO", out), about.day), about, beside, payload)
        os.fsync(handle)
    except OSError as error:
        error.filename = os.fspath(part)  # a call by handle does not name it
        raise
    finally:
        os.close(handle)
    return members, out.digest.hexdigest()


def _filled(
    sealing: Sealing, about: bag.About, beside: Mapping[str, str], payload: Iterable[tuple[str, bytes]]
) -> tuple[Member, ...]:
    """The files in their order: declaration, texts, payload, facts, lists of checksums."""
    base = bag.base_name(about) + "/"
    seen: set[str] = set()

    def add(name: str, content: bytes) -> Member:
        _refuse_odd(name, content, seen)
        return sealing.add(base + name, content)

    tags = [add(bag.BAGIT, bag.DECLARATION.encode())]
    tags += [add(name, text.encode()) for name, text in beside.items()]
    kept = [add(bag.PAYLOAD + name, content) for name, content in payload]
    tags.append(add(bag.INFO, bag.info(about, (member.size for member in kept)).encode()))
    tags.append(add(bag.MANIFEST, bag.manifest(_relative(base, kept)).encode()))
    add(bag.TAG_MANIFEST, bag.manifest(_relative(base, tags)).encode())
    if len(sealing.members) > MOST_MEMBERS:
        raise Refused(_odd("", f"there are more than {MOST_MEMBERS} files"))
    sealing.close()
    return tuple(sealing.members)


def _relative(base: str, members: Iterable[Member]) -> Iterator[tuple[str, str]]:
    return ((member.name.removeprefix(base), member.sha256) for member in members)


def _refuse_odd(name: str, content: bytes, seen: set[str]) -> None:
    fault = disk.path_fault(name)
    if len(name.encode()) > LONGEST_NAME // 2 or len(content) > LARGEST_MEMBER:
        fault = "it is too long for this file"
    if disk.folded(name) in seen:
        fault = "some disks take it for another one of these"
    seen.add(disk.folded(name))
    if fault:
        raise Refused(_odd(name, f"this file cannot be packed: {fault}"))


def _odd(name: str, message: str) -> Problem:
    return Problem(
        code="deposit-cannot-hold",
        message=message,
        place=Place(name.removeprefix(bag.PAYLOAD)),
        hint="rename it, or move it out of the folder; nothing was written",
    )


def _named(part: Path, path: Path, members: tuple[Member, ...], digest: str) -> Packed:
    """Give the file its name, unless that is taken."""
    size = part.stat().st_size
    new = not disk.kind_of(path)
    if new:
        _link(part, path)
        disk.sync_folder(path.parent)
    elif disk.kind_of(path) != "file" or path.stat().st_size != size or _hash(path) != digest:
        raise Refused(_taken(path))
    return Packed(path=path, size=size, sha256=digest, members=members, new=new)


def _link(part: Path, path: Path) -> None:
    """A link cannot overwrite, a rename could; on a disk without hard links the lock on the folder has to do."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise Refused(_taken(path)) from None
    except OSError:
        part.rename(path)


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _taken(path: Path) -> Problem:
    return Problem(
        code="deposit-is-there",
        message="another file has this name, and it is not the same; a deposit is never overwritten",
        place=Place(str(path)),
        hint="move it elsewhere, or choose another folder with --to",
    )
