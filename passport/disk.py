"""The few things that both writers ask of a disk: locks, syncing, exchanging, and names that fit every disk.

Nothing here knows what a site or a record is. Each function that can fail for a reason a
person can mend raises `Refused`; what is left is an `OSError`, worded by `refusal_of`.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import shutil
import stat
import sys
import time
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path

from passport.problems import Place, Problem

WAIT_S = 60.0
"""How long a run waits for another one; common practice, no source."""

NAME_BYTES = 255
"""Longest name of one file on ext4, APFS and NTFS alike (from memory)."""

# "Naming Files, Paths, and Namespaces", Windows documentation: taken in any case, with any ending.
_TAKEN_STEMS = frozenset(
    ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"]
    + [f"{port}{digit}" for port in ("COM", "LPT") for digit in "0123456789¹²³"],
)
_TAKEN_SIGNS = frozenset('<>:"\\|?*')
# Categories of the Unicode Character Database: controls, invisible formats, halves of a pair, line ends.
_UNSEEN = frozenset(["Cc", "Cf", "Cs", "Zl", "Zp"])

_AT_FDCWD = -100  # <fcntl.h>, Linux
_RENAME_EXCHANGE = 2  # renameat2(2)
# What a kernel or a disk answers when it cannot exchange at all, rename(2), section ERRORS.
_CANNOT_EXCHANGE = frozenset([errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP])

O_PLAIN = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""Flags that keep an open from following a link, from waiting on a pipe and from changing line ends."""

Say = Callable[[str], None]


class Refused(Exception):  # noqa: N818 - it is not a fault of the program
    """Work that was not done; `problems` says why, each with what to do."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__("; ".join(problem.message for problem in problems))
        self.problems = problems


def refusal_of(error: OSError, code: str, fallback: Path) -> Refused:
    """An error of the disk in words: which file, what the system said, what helps."""
    file = str(error.filename or fallback)
    said = error.strerror or str(error)
    return Refused(Problem(code=code, message=said, place=Place(file), hint=_help_for(error.errno)))


@contextlib.contextmanager
def worded(code: str, fallback: Path) -> Iterator[None]:
    """Turn an error of the disk into a refusal that a person can act upon."""
    try:
        yield
    except OSError as error:
        raise refusal_of(error, code, fallback) from error


def _help_for(number: int | None) -> str:
    if number in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return "make room on the disk and run again; what was there before is untouched"
    if number in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "give yourself leave to write there and run again; what was there before is untouched"
    return "run again once the cause is mended"


# --- names ---------------------------------------------------------------------------------------


def path_fault(path: str) -> str:
    """Why a relative path with `/` does not fit every common disk, in a few words; "" when it does.

    >>> path_fault("T/RY-22224M/index.html")
    ''
    >>> path_fault("T/../../etc")
    'it holds "..", which leads out of the folder'
    """
    if not path:
        return "it is empty"
    if path.startswith("/"):
        return "it starts at the root of the disk"
    faults = (_name_fault(part) for part in path.split("/"))
    return next((fault for fault in faults if fault), "")


def _name_fault(name: str) -> str:
    if name == "..":
        return 'it holds "..", which leads out of the folder'
    if name in ("", "."):
        return "it has an empty part"
    return _sign_fault(name) or _reserved_fault(name)


def _sign_fault(name: str) -> str:
    plain_letters = name.isascii() and name.isprintable()
    if not plain_letters and any(unicodedata.category(sign) in _UNSEEN for sign in name):
        return "it holds a sign that cannot be seen"
    if taken := sorted(_TAKEN_SIGNS.intersection(name)):
        return f'it holds "{taken[0]}", which some disks keep for themselves'
    if not unicodedata.is_normalized("NFC", name):
        return "its accents are written apart from their letters (NFC is wanted)"
    return ""


def _reserved_fault(name: str) -> str:
    if name.split(".", maxsplit=1)[0].rstrip(" ").upper() in _TAKEN_STEMS:
        return f'"{name}" is the name of a device on Windows'
    if name[-1] in ". " or name[0] == " ":
        return f'"{name}" begins or ends with a space or ends with a dot'
    if len(name.encode()) > NAME_BYTES:
        return f"a part of it is longer than {NAME_BYTES} bytes"
    return ""


def folded(path: str) -> str:
    """The path as a disk that ignores case and Unicode form sees it (UAX #15; UTS #39 section 4)."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", path).casefold())


# --- folders and files ---------------------------------------------------------------------------


def kind_of(path: Path | str) -> str:
    """What stands at a path, links not followed: "", "folder", "file", "link" or "special"."""
    try:
        mode = os.lstat(path).st_mode
    except (FileNotFoundError, NotADirectoryError):
        return ""
    if stat.S_ISLNK(mode):
        return "link"
    if stat.S_ISDIR(mode):
        return "folder"
    return "file" if stat.S_ISREG(mode) else "special"


def write_new(path: Path | str, content: bytes, *, mode: int | None = None, sync: bool = False) -> None:
    """Write a file that must not be there yet; `mode` holds whatever the umask is."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | O_PLAIN, 0o666)
    try:
        if mode is not None and os.name == "posix":
            os.fchmod(handle, mode)
        _write_all(handle, content)
        if sync:
            os.fsync(handle)
    except OSError as error:
        error.filename = os.fspath(path)  # a call by handle does not name it
        raise
    finally:
        os.close(handle)


def replace_file(path: Path, content: bytes) -> None:
    """Write a file in one step, whatever was there: a reader meets the old one or the new one, whole.

    For what the tool keeps beside the records and could make again. A name left by a killed run is reused.
    """
    if kind_of(path) == "file" and path.read_bytes() == content:
        return
    aside = path.with_name(f".{path.name}.part")
    remove_tree(aside)
    write_new(aside, content, sync=True)
    aside.replace(path)


def _write_all(handle: int, content: bytes) -> None:
    rest = memoryview(content)
    while rest:
        rest = rest[os.write(handle, rest) :]


def remove_tree(path: Path) -> None:
    """Take away a folder or a file that may be gone already; links are unlinked, never followed."""
    if kind_of(path) == "folder":
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


# --- syncing -------------------------------------------------------------------------------------


def sync_folder(folder: Path | str) -> None:
    """Bring the names in a folder to the disk: syncing a file does not promise its name, fsync(2)."""
    if os.name != "posix":
        return  # Windows has no such call
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def syncs_at_once() -> bool:
    """Whether `sync_disk` waits for everything; where it does not, each file is synced as it is written."""
    return sys.platform == "linux"


def sync_disk(folder: Path) -> None:
    """Bring everything written on this folder's disk to it, in one call (Linux), and report what failed."""
    if sys.platform != "linux":
        return
    call = getattr(_libc(), "syncfs", None)
    if call is None:
        os.sync()  # waits on Linux, sync(2), but keeps write errors to itself
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        if call(handle) != 0:
            raise _os_error(folder)
    finally:
        os.close(handle)


def exchange(one: Path, other: Path) -> bool:
    """Exchange two paths in one step, renameat2(2). False, and nothing done, where that is lacking."""
    call = getattr(_libc(), "renameat2", None) if sys.platform == "linux" else None
    if call is None:
        return False
    if call(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    if ctypes.get_errno() in _CANNOT_EXCHANGE:
        return False
    raise _os_error(other)


def _libc() -> ctypes.CDLL:
    return ctypes.CDLL(None, use_errno=True)


def _os_error(path: Path) -> OSError:
    number = ctypes.get_errno()
    return OSError(number, os.strerror(number), str(path))


# --- locks ---------------------------------------------------------------------------------------


@contextlib.contextmanager
def locked(folder: Path, *, shared: bool = False, wait_s: float = WAIT_S, say: Say | None = None) -> Iterator[None]:
    """Hold a folder: alone, or together with other readers. A killed run lets go by itself.

    On POSIX the folder itself is locked, so nothing is left lying about; Windows needs a file for it.
    Raises `Refused` when another run still holds it after `wait_s` seconds.
    """
    with worded("folder-not-locked", folder):
        handle = _open_for_locking(folder)
    try:
        _wait_for(handle, folder, shared=shared, wait_s=wait_s, say=say)
        yield
    finally:
        os.close(handle)


def _wait_for(handle: int, folder: Path, *, shared: bool, wait_s: float, say: Say | None) -> None:
    until = time.monotonic() + wait_s
    told = False
    while not _take_or_refuse(handle, folder, shared=shared):
        if time.monotonic() >= until:
            raise Refused(_busy(folder, wait_s))
        if say and not told:
            say(f"another run is at work in {folder}; waiting for it")
            told = True
        time.sleep(0.05)


def _take_or_refuse(handle: int, folder: Path, *, shared: bool) -> bool:
    with worded("folder-not-locked", folder):
        return _take_lock(handle, shared=shared)


def _busy(folder: Path, wait_s: float) -> Problem:
    return Problem(
        code="folder-busy",
        message=f"another run is still at work in this folder after {wait_s:g} seconds",
        place=Place(str(folder)),
        hint="let it end, or end it, then run again",
    )


if sys.platform == "win32":
    import msvcrt

    def _open_for_locking(folder: Path) -> int:
        return os.open(folder / ".passport-lock", os.O_RDWR | os.O_CREAT)

    def _take_lock(handle: int, *, shared: bool) -> bool:  # noqa: ARG001 - Windows locks have one kind here
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _open_for_locking(folder: Path) -> int:
        return os.open(folder, os.O_RDONLY | os.O_DIRECTORY)

    def _take_lock(handle: int, *, shared: bool) -> bool:
        try:
            fcntl.flock(handle, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
