"""Planned files → the site on the disk: whole, incremental, never smaller by accident.

This is the only writer of `site/`.

The new site grows in a folder beside the old one. A file that is unchanged is the old file itself
(a hard link: same inode, same time); nothing is judged by time, only by content. When all is written
and synced, the two folders change places in one step, so that a kill at any moment leaves the old site
or the new one. Where a system cannot exchange folders, a journal names what is left to do, and the next
run finishes it.

`files.sha256` lists what was published, in the form that `sha256sum -c` reads. It is also the mark by
which the next run knows the folder as its own: what it does not name is somebody else's, and is never
deleted.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from passport import disk
from passport.disk import Refused, Say
from passport.problems import Level, Place, Problem

LIST_NAME = "files.sha256"
"""The list of all published files, in the site itself."""

_LIST_HEAD = f'# The files of this site. In this folder, "sha256sum -c {LIST_NAME}" checks them.\n'
_LIST_LINE = re.compile(r"([0-9a-f]{64})  (.+)")

LASTING = "T/"
"""Pages below this were printed on things: they are not taken away without `may_shrink`."""

_FILE_MODE = 0o644
_FOLDER_MODE = 0o755

_LEFT_BY_DESKTOPS = frozenset([".DS_Store", "Thumbs.db", "desktop.ini"])
"""Put into any folder that somebody looks at; dropped without a word."""

_NOT_WRITTEN = "site-not-written"

NAMED_AT_MOST = 50
"""Problems of one kind that are named one by one; the rest is counted."""

Progress = Callable[[int, str], None]
"""Called after each planned file with how many there were so far, and its path."""


@dataclass(frozen=True, slots=True)
class PlannedFile:
    """One file of the site to be.

    path: relative, with `/`.
    content: its bytes, or a function that makes them; it is only called when the disk holds something else.
    sha256: with a function, the hash of what it makes, as lower-case hexadecimal; not read otherwise.
    """

    path: str
    content: bytes | Callable[[], bytes]
    sha256: str = ""

    def digest(self) -> str:
        """The hash of the content, announced or worked out."""
        return self.sha256 if callable(self.content) else hashlib.sha256(self.content).hexdigest()

    def made(self) -> bytes:
        """The content. Raises `Refused` if it is not what was announced: a cache may be damaged."""
        if not callable(self.content):
            return self.content
        content = self.content()
        if hashlib.sha256(content).hexdigest() != self.sha256:
            raise Refused(_other_hash(self.path))
        return content


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a publication did. `problems` are doubts only: errors are raised."""

    written: tuple[str, ...] = ()
    """Paths with new content, in the order they were planned; the list of files comes last."""
    removed: tuple[str, ...] = ()
    kept: int = 0
    """How many files were left as they were."""
    problems: tuple[Problem, ...] = ()

    @property
    def changed(self) -> bool:
        """Whether anything was written at all."""
        return bool(self.written or self.removed)


def publish(
    planned: Iterable[PlannedFile],
    site: Path,
    *,
    must_answer: Iterable[str] = (),
    may_shrink: bool = False,
    sources: Iterable[Path] = (),
    exchange: bool = True,
    wait_s: float = disk.WAIT_S,
    progress: Progress | None = None,
    say: Say | None = None,
) -> Outcome:
    """Make `site` hold exactly the planned files, or raise and leave it as it was.

    planned: read once, in order; contents are not kept in memory.
    must_answer: paths that have to be among them (the page of each tag ever issued).
    may_shrink: allow that pages below `T/` go which the site has now.
    sources: folders (records, themes) that the site may not be, hold or lie in.
    exchange: False goes without exchanging folders, as on systems that cannot.
    wait_s: how long to wait for another run in the same place; `say` is told once.

    Raises `Refused`. An error of the caller's own iterable passes through; the site is whole then, too.
    """
    site = _checked_place(site, tuple(sources))
    with disk.locked(site.parent, wait_s=wait_s, say=say):
        with disk.worded(_NOT_WRITTEN, site):
            _finish_earlier_run(site)
            build = _Build(site, _look_at(site), whole=exchange)
        try:
            _take_all(planned, build, progress)
            _refuse_to_shrink(build, tuple(must_answer), may_shrink=may_shrink)
            with disk.worded(_NOT_WRITTEN, site):
                return _put_in_place(build, exchange=exchange)
        finally:
            build.clear()


# --- the place -----------------------------------------------------------------------------------


def _checked_place(site: Path, sources: tuple[Path, ...]) -> Path:
    """The site's path with its parent resolved; refused where publishing would do harm."""
    kind = disk.kind_of(site)
    if kind not in ("", "folder"):
        raise Refused(_not_a_folder(site, kind))
    place = site.resolve()
    if place == place.parent or not place.parent.is_dir():
        raise Refused(_no_parent(site))
    for source in sources:
        other = source.resolve()
        if place.is_relative_to(other) or other.is_relative_to(place):
            raise Refused(_over_source(site, source))
    return place


def _not_a_folder(site: Path, kind: str) -> Problem:
    met = {"file": "a file", "link": "a symbolic link", "special": "a device or a pipe"}[kind]
    return Problem(
        code="site-not-a-folder",
        message=f"this is {met}; the site needs a folder of its own, or a name that is free",
        place=Place(str(site)),
        hint="move it elsewhere, or publish into another folder",
    )


def _no_parent(site: Path) -> Problem:
    return Problem(
        code="site-no-parent",
        message="there is no folder here to put the site into",
        place=Place(str(site)),
        hint="make the folder that is to hold it, or publish into another one",
    )


def _over_source(site: Path, source: Path) -> Problem:
    return Problem(
        code="site-over-source",
        message=f"the site would lie in, on or around {source}, from which it is made",
        place=Place(str(site)),
        hint="publish into a folder beside it",
    )


# --- the site that is there ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Found:
    """The site before this run."""

    there: bool
    files: frozenset[str]
    """Every file on the disk."""
    listed: dict[str, str]
    """What the last run wrote: path to hash."""


def _look_at(site: Path) -> _Found:
    """Walk the old site, links not followed. Raises `Refused` if anything in it is not ours."""
    if not site.is_dir():
        return _Found(there=False, files=frozenset(), listed={})
    files = frozenset(_walk(site))
    listed = _read_list(site) if LIST_NAME in files else {}
    _refuse_foreign(site, sorted(files - listed.keys() - {LIST_NAME}), known=LIST_NAME in files)
    return _Found(there=True, files=files, listed=listed)


def _walk(site: Path) -> Iterator[str]:
    waiting = [""]
    while waiting:
        folder = waiting.pop()
        with os.scandir(site / folder) as entries:
            for entry in entries:
                path = f"{folder}{entry.name}"
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(path + "/")
                elif not entry.is_file(follow_symlinks=False):
                    raise Refused(_special(site / path))
                elif entry.name not in _LEFT_BY_DESKTOPS:
                    yield path


def _special(path: Path) -> Problem:
    met = "a symbolic link" if path.is_symlink() else "a device, a pipe or a socket"
    return Problem(
        code="site-special-file",
        message=f"this is {met}; a published site holds only folders and files",
        place=Place(str(path)),
        hint="take it away, then publish again",
    )


def _read_list(site: Path) -> dict[str, str]:
    """The hashes by path. Raises `Refused` when a line is not in the form this module writes."""
    listed: dict[str, str] = {}
    text = (site / LIST_NAME).read_bytes().decode("utf-8", errors="replace")
    for number, line in enumerate(text.split("\n"), start=1):
        if not line or line.startswith("#"):
            continue
        matched = _LIST_LINE.fullmatch(line)
        if not matched or disk.path_fault(matched[2]):
            raise Refused(_damaged_list(site, number, line))
        listed[matched[2]] = matched[1]
    return listed


def _damaged_list(site: Path, number: int, line: str) -> Problem:
    return Problem(
        code="site-list-damaged",
        message="this line is not a hash, two spaces and a path, so what was published is not known",
        place=Place(str(site / LIST_NAME), number, 1, line),
        hint="bring the list back, or delete the whole site and publish it anew",
    )


def _refuse_foreign(site: Path, foreign: list[str], *, known: bool) -> None:
    if foreign and not known:
        raise Refused(_not_ours(site, foreign))
    if foreign:
        raise Refused(*_each(foreign, lambda path: _foreign(site, path), "site-foreign-file"))


def _not_ours(site: Path, foreign: list[str]) -> Problem:
    return Problem(
        code="site-not-ours",
        message=f'this folder is not empty and was not published by this tool ("{foreign[0]}" is in it)',
        place=Place(str(site)),
        hint="publish into another folder, or empty this one",
    )


def _foreign(site: Path, path: str) -> Problem:
    return Problem(
        code="site-foreign-file",
        message="this file was not published by this tool, and publishing would delete it",
        place=Place(str(site / path)),
        hint="move it out of the site, or delete it",
    )


def _each(paths: list[str], wording: Callable[[str], Problem], code: str) -> list[Problem]:
    """A problem for each path, up to a bearable number, then how many more there are."""
    named = [wording(path) for path in islice(paths, NAMED_AT_MOST)]
    if more := len(paths) - len(named):
        named.append(Problem(code=code, message=f"the same holds for {more} more"))
    return named


# --- the names of the new one --------------------------------------------------------------------


class _Names:
    """Every name of the new site, as a disk sees it that ignores case and Unicode form."""

    def __init__(self) -> None:
        self._spelled: dict[str, str] = {}
        self._folders: set[str] = set()
        self.problems: list[Problem] = []
        self.take(LIST_NAME)

    def take(self, path: str) -> None:
        """Note a path, or the problem with it."""
        if fault := disk.path_fault(path):
            self.problems.append(_bad_path(path, fault))
        elif other := self._clash(path):
            met = "it is planned twice" if other == path else f'some disks take it for "{other}"'
            self.problems.append(_bad_path(path, met))

    def _clash(self, path: str) -> str:
        *folders, _ = _steps(path)
        clashes = [self._clash_of_folder(folder) for folder in folders if folder not in self._folders]
        other = self._spelled.setdefault(disk.folded(path), "")
        if not other:
            self._spelled[disk.folded(path)] = path
        return next((clash for clash in [*clashes, other] if clash), "")

    def _clash_of_folder(self, folder: str) -> str:
        other = self._spelled.setdefault(disk.folded(folder), folder + "/")
        self._folders.add(folder)
        return "" if other == folder + "/" else other


def _steps(path: str) -> list[str]:
    """Each folder on the way, then the path itself: "T", "T/A", "T/A/index.html"."""
    ends = [place for place, sign in enumerate(path) if sign == "/"]
    return [*(path[:end] for end in ends), path]


def _bad_path(path: str, fault: str) -> Problem:
    return Problem(
        code="site-bad-path",
        message=f'"{path}" cannot be the path of a file of the site: {fault}',
        hint="rename the record it comes from",
        about=path,
    )


# --- building aside ------------------------------------------------------------------------------


def _beside(site: Path, what: str) -> Path:
    """A name beside the site, on the same disk: fixed, so that the next run finds what a killed one left."""
    return site.with_name(f".{site.name}.{what}")


class _Build:
    """The new site beside the old one. It comes onto the disk only once something differs."""

    def __init__(self, site: Path, found: _Found, *, whole: bool) -> None:
        self.site = site
        self.found = found
        self.next = _beside(site, "next")
        self.hashes: dict[str, str] = {}
        self.written: list[str] = []
        self._kept: list[str] = []
        self._started = False
        self._whole = whole
        self._folders: set[str] = set()

    @property
    def kept(self) -> int:
        """How many files stay as they are, without the list."""
        return len(self._kept)

    @property
    def removed(self) -> tuple[str, ...]:
        """What the old site has and the new one has not."""
        return tuple(sorted(self.found.files - self.hashes.keys() - {LIST_NAME}))

    def take(self, file: PlannedFile) -> None:
        """Keep the old file if it holds the same bytes, else write the new one."""
        digest = file.digest()
        self.hashes[file.path] = digest
        if self._is_there(file.path, digest):
            self._keep(file.path)
        else:
            self._write(file.path, file.made())

    def take_list(self) -> None:
        """The list of files, which does not list itself."""
        text = _LIST_HEAD + "".join(f"{self.hashes[path]}  {path}\n" for path in sorted(self.hashes))
        content = text.encode()
        if self._started or not self._is_there(LIST_NAME, hashlib.sha256(content).hexdigest()):
            self._write(LIST_NAME, content)

    def clear(self) -> None:
        """Take away what is left beside the site, unless a journal still needs it."""
        if self._started and not _beside(self.site, "journal").exists():
            with contextlib.suppress(OSError):  # the next run clears it
                disk.remove_tree(_beside(self.site, "journal.part"))
                disk.remove_tree(self.next)

    def _is_there(self, path: str, digest: str) -> bool:
        if path not in self.found.files or self.found.listed.get(path, digest) != digest:
            return False
        return _holds(self.site / path, digest)

    def _keep(self, path: str) -> None:
        self._kept.append(path)
        if self._started:
            self._link(path)

    def _write(self, path: str, content: bytes) -> None:
        if not self._started:
            self._start()
        self._folder_of(path)
        disk.write_new(f"{self.next}/{path}", content, mode=_FILE_MODE, sync=not disk.syncs_at_once())
        self.written.append(path)

    def _start(self) -> None:
        self._started = True
        _make_folder(str(self.next))
        for path in self._kept:
            self._link(path)

    def _link(self, path: str) -> None:
        if not self._whole:
            return  # the journal leaves unchanged files where they are
        self._folder_of(path)
        try:
            os.link(f"{self.site}/{path}", f"{self.next}/{path}", follow_symlinks=False)
        except OSError:  # a disk without hard links, or somebody else's file
            shutil.copy2(f"{self.site}/{path}", f"{self.next}/{path}", follow_symlinks=False)

    def _folder_of(self, path: str) -> None:
        for folder in _steps(path)[:-1]:
            if folder not in self._folders:
                _make_folder(f"{self.next}/{folder}")
                self._folders.add(folder)


def _other_hash(path: str) -> Problem:
    return Problem(
        code="site-wrong-hash",
        message=f'the content made for "{path}" is not the one that its hash announced',
        hint="throw the cache away and publish again",
        about=path,
    )


def _make_folder(path: str) -> None:
    os.mkdir(path, _FOLDER_MODE)  # noqa: PTH102 - ten thousand of these: no Path for each
    os.chmod(path, _FOLDER_MODE)  # noqa: PTH101 - whatever the umask is


def _holds(path: Path, digest: str) -> bool:
    """Whether a file has this content."""
    try:
        handle = os.open(path, os.O_RDONLY | disk.O_PLAIN)
    except PermissionError:
        return False  # written anew
    try:
        return _hash_of(handle) == digest
    finally:
        os.close(handle)


def _hash_of(handle: int) -> str:
    hashed = hashlib.sha256()
    while block := os.read(handle, 1 << 20):
        hashed.update(block)
    return hashed.hexdigest()


def _take_all(planned: Iterable[PlannedFile], build: _Build, progress: Progress | None) -> None:
    """Write the plan aside. With a bad path nothing more is written, but all paths are still judged."""
    names = _Names()
    for number, file in enumerate(planned, start=1):
        names.take(file.path)
        if not names.problems:
            with disk.worded(_NOT_WRITTEN, build.site):
                build.take(file)
        if progress:
            progress(number, file.path)
    if names.problems:
        raise Refused(*names.problems)


def _refuse_to_shrink(build: _Build, must_answer: tuple[str, ...], *, may_shrink: bool) -> None:
    unanswered = sorted(set(must_answer) - build.hashes.keys())
    lost = [] if may_shrink else [path for path in build.removed if _lasts(path)]
    lost = [path for path in lost if path not in unanswered]
    problems = _each(unanswered, _unanswered, "site-tag-unanswered") + _each(lost, _lost, "site-page-lost")
    if problems:
        raise Refused(*problems)


def _lasts(path: str) -> bool:
    return path.startswith(LASTING) and path.endswith(".html")


def _unanswered(path: str) -> Problem:
    return Problem(
        code="site-tag-unanswered",
        message=f'a tag that was issued needs the page "{path}", and it is not among those to publish',
        hint="bring back the record of its item; what is gone for good becomes a page that says so",
        about=path,
    )


def _lost(path: str) -> Problem:
    return Problem(
        code="site-page-lost",
        message=f'the page "{path}" is published and would be gone; a tag on a thing may lead to it',
        hint="bring back its record, or allow the site to shrink if the tag never left the workshop",
        about=path,
    )


# --- putting it in place -------------------------------------------------------------------------


def _put_in_place(build: _Build, *, exchange: bool) -> Outcome:
    build.take_list()
    if not build.written:
        return Outcome(kept=build.kept)
    disk.sync_disk(build.next)
    disk.sync_folder(build.next)
    _swap(build, exchange=exchange)
    return Outcome(
        written=tuple(build.written),
        removed=build.removed,
        kept=build.kept,
        problems=_clear_old(build.next),
    )


def _swap(build: _Build, *, exchange: bool) -> None:
    if not build.found.there:
        build.next.rename(build.site)
    elif not (exchange and disk.exchange(build.next, build.site)):
        _write_journal(build)
        _begin_journal(build.site)
    disk.sync_folder(build.site.parent)


def _clear_old(old: Path) -> tuple[Problem, ...]:
    """The old site has done its work. What cannot be deleted is a doubt: the new one stands."""
    try:
        disk.remove_tree(old)
    except OSError as error:
        return (
            Problem(
                code="site-litter",
                message=f"the site is published, but what was there before is still here ({error.strerror})",
                place=Place(str(old)),
                hint="delete this folder",
                level=Level.ADVICE,
            ),
        )
    return ()


# --- where folders cannot be exchanged -----------------------------------------------------------


def _write_journal(build: _Build) -> None:
    """Name all that is left to do; once this file has its name, the new site will come about."""
    part, journal = _beside(build.site, "journal.part"), _beside(build.site, "journal")
    steps = {"put": sorted(build.written, key=_turn), "drop": list(build.removed)}
    disk.write_new(part, json.dumps(steps).encode(), sync=True)
    part.rename(journal)
    disk.sync_folder(journal.parent)


def _turn(path: str) -> tuple[int, str]:
    """What pages need, then pages, then the way in, then the list: no link leads to what is not there yet."""
    if path == LIST_NAME:
        return (3, path)
    if path == "index.html":
        return (2, path)
    return (1 if path.endswith(".html") else 0, path)


def _begin_journal(site: Path) -> None:
    try:
        _follow_journal(site)
    except OSError as error:
        raise Refused(_half_done(error, site)) from error


def _half_done(error: OSError, site: Path) -> Problem:
    return Problem(
        code="site-half-done",
        message=f"the site was being replaced file by file, and that was cut short: {error.strerror}",
        place=Place(str(error.filename or site)),
        hint="mend the cause and publish again: the next run finishes what this one began",
    )


def _follow_journal(site: Path) -> None:
    """Do what the journal says and has not been done; safe to be killed and begun again."""
    journal = _beside(site, "journal")
    steps = _read_journal(journal)
    for path in steps["put"]:
        _replace(_beside(site, "next"), site, path)
    for path in steps["drop"]:
        _drop(site, path)
    disk.sync_disk(site)
    for folder in {(site / path).parent for path in steps["put"]}:
        if not disk.syncs_at_once():
            disk.sync_folder(folder)
    journal.unlink()


def _read_journal(journal: Path) -> dict[str, list[str]]:
    steps: dict[str, list[str]] = json.loads(journal.read_bytes())
    paths = [*steps["put"], *steps["drop"]]
    if any(disk.path_fault(path) for path in paths):
        raise ValueError(paths)
    return steps


def _replace(new: Path, site: Path, path: str) -> None:
    if not (new / path).exists():
        return  # done before the kill
    for folder in _steps(path)[:-1]:
        if disk.kind_of(site / folder) == "file":
            (site / folder).unlink()
        if not (site / folder).is_dir():
            _make_folder(str(site / folder))
    if disk.kind_of(site / path) == "folder":
        disk.remove_tree(site / path)  # all it held is dropped, or it would not be planned as a file
    (new / path).replace(site / path)


def _drop(site: Path, path: str) -> None:
    """Take a file away, and the folders that it leaves empty."""
    if disk.kind_of(site / path) == "file":
        (site / path).unlink()
    with contextlib.suppress(OSError):  # not empty
        for folder in reversed(_steps(path)[:-1]):
            (site / folder).rmdir()


def _finish_earlier_run(site: Path) -> None:
    """Bring a killed run to its end, or clear it away: the journal decides which."""
    journal, new = _beside(site, "journal"), _beside(site, "next")
    if journal.is_file() and site.is_dir():
        for _ in _walk(site):
            pass  # raises if a link would lead the journal out of the site
        _follow_or_refuse(site, journal)
    disk.remove_tree(journal)
    disk.remove_tree(_beside(site, "journal.part"))
    disk.remove_tree(new)


def _follow_or_refuse(site: Path, journal: Path) -> None:
    try:
        _follow_journal(site)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise Refused(_damaged_journal(journal)) from error


def _damaged_journal(journal: Path) -> Problem:
    return Problem(
        code="site-journal-damaged",
        message="an earlier run was cut short, and the list of what it had left to do cannot be read",
        place=Place(str(journal)),
        hint="delete this file and the site, then publish it anew",
    )
