"""New records and new lines → `content/`: all of them or none, at whatever moment the run is killed.

This is the only writer of `content/`. What is to be written is first laid down whole in a journal
folder inside `content/`, and synced. The moment the journal's plan gets its name, the change has
happened: whoever comes next (`recover`) finishes it. Before that moment it has not, and is cleared away.

Each file changes in one step, by taking the name of the one before it: no reader ever meets a torn
line. A file that a person changed while a journal was pending is left alone, and said.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from passport import disk
from passport.disk import Refused, Say
from passport.problems import Place, Problem

JOURNAL = ".journal"
"""The folder in `content/` which holds a change under way; readers of records pass it by."""

_PLAN = "plan"
_NOT_WRITTEN = "records-not-written"
_ABSENT = ""  # the hash of a file that is not there


@dataclass(frozen=True, slots=True)
class NewFile:
    """A record that does not exist yet.

    path: relative to `content/`, with `/`.
    text: all of it.
    """

    path: str
    text: str


@dataclass(frozen=True, slots=True)
class AppendLines:
    """Lines for the end of a list that only grows.

    path: relative to `content/`, with `/`; the file is made if it is not there.
    lines: one line each; the line feed at its end may be left out.
    header: the first line of a file that this makes; "" for none.
    """

    path: str
    lines: tuple[str, ...]
    header: str = ""


Change = NewFile | AppendLines


@dataclass(frozen=True, slots=True)
class _Step:
    """One file of a change: its name in the journal is its number in the plan."""

    path: str
    before: str
    """Hash of the file that is there now, or "" where there is none."""
    after: str
    """Hash of the file to come."""


# --- what others call ----------------------------------------------------------------------------


def write_changes(
    content: Path, changes: Iterable[Change], *, wait_s: float = disk.WAIT_S, say: Say | None = None
) -> None:
    """Write all changes, or none. Raises `Refused`; `Writer.write` says for what."""
    with sole_writer(content, wait_s=wait_s, say=say) as writer:
        writer.write(changes)


def as_it_will_be(content: Path, changes: Iterable[Change]) -> dict[str, bytes]:
    """Path → all bytes of each file after the changes, for whoever wants to read them before they are made."""
    return {change.path: _after(content / change.path, change) for change in changes}


@contextlib.contextmanager
def sole_writer(content: Path, *, wait_s: float = disk.WAIT_S, say: Say | None = None) -> Iterator[Writer]:
    """Hold `content/` alone, from reading what is there to writing what follows from it.

    Two runs that both look for the next free number would otherwise find the same one.
    An earlier change that was cut short is finished first.
    """
    with _held(content, shared=False, wait_s=wait_s, say=say):
        _finish_earlier_change(content)
        yield Writer(content)


@contextlib.contextmanager
def steady(content: Path, *, wait_s: float = disk.WAIT_S, say: Say | None = None) -> Iterator[None]:
    """Hold `content/` against writers while it is read; other readers may come in.

    An earlier change that was cut short is finished first, so nobody reads half of one.
    """
    while True:
        recover(content, wait_s=wait_s, say=say)
        with _held(content, shared=True, wait_s=wait_s, say=say):
            if not pending(content):  # a writer may have come, and been killed, in between
                yield
                return


def pending(content: Path) -> bool:
    """Whether a change was cut short after it had been decided: `recover` finishes it."""
    journal = content / JOURNAL
    return disk.kind_of(journal) == "folder" and disk.kind_of(journal / _PLAN) == "file"


def recover(content: Path, *, wait_s: float = disk.WAIT_S, say: Say | None = None) -> bool:
    """Finish what a killed run had decided, clear away what it had not. True if there was something to do.

    Without a journal nothing is touched, so this works on a read-only disk too.
    """
    if not disk.kind_of(content / JOURNAL):
        return False
    with _held(content, shared=False, wait_s=wait_s, say=say):
        return _finish_earlier_change(content)


@contextlib.contextmanager
def _held(content: Path, *, shared: bool, wait_s: float, say: Say | None) -> Iterator[None]:
    if not content.is_dir():
        raise Refused(_no_content(content))
    with disk.locked(content, shared=shared, wait_s=wait_s, say=say):
        yield


def _no_content(content: Path) -> Problem:
    return Problem(
        code="records-no-folder",
        message="there is no folder of records here",
        place=Place(str(content)),
        hint="run this inside a workshop's folder, or make one with the command start",
    )


class Writer:
    """Writes into a folder of records that it holds alone; `sole_writer` gives one."""

    def __init__(self, content: Path) -> None:
        self._content = content

    def write(self, changes: Iterable[Change]) -> None:
        """Write all changes, or none.

        Raises `Refused`, with a problem for each change that cannot be: a path that leaves the folder
        or does not fit every disk, a record that exists already (also in other letters), a link, two
        changes of one file, a line that is not one line. Also when the disk fails; then nothing has
        changed, unless the problem's code is `records-half-done`: the next command finishes that one.
        """
        planned = tuple(changes)
        with disk.worded(_NOT_WRITTEN, self._content):
            problems = _problems_of(self._content, planned)
        if problems:
            raise Refused(*problems)
        if planned:
            self._carry_out(planned)

    def write_folder(self, path: str, files: Iterable[tuple[str, bytes]], check: Callable[[Path], None]) -> None:
        """Write a new folder with all its files, or nothing: it takes its name in one step.

        path: relative to `content/`, with `/`; it must be free. files: path within the folder and bytes, read once,
        one at a time. check: called with the folder while it still lies aside; what it raises drops the folder.
        Raises `Refused` as `write` does.
        """
        with disk.worded(_NOT_WRITTEN, self._content):
            if fault := _path_fault(self._content, NewFile(path, "")):
                raise Refused(_cannot(self._content, NewFile(path, ""), fault))
            try:
                aside = _laid_aside(self._content, files)
                check(aside)
                _make_folders(self._content, path)
                aside.rename(self._content / path)
                disk.sync_folder((self._content / path).parent)
            finally:
                with contextlib.suppress(OSError):  # the next command clears it
                    disk.remove_tree(self._content / JOURNAL)

    def _carry_out(self, changes: tuple[Change, ...]) -> None:
        try:
            _decide(self._content, changes)
            _follow_plan(self._content)
        except OSError as error:
            if pending(self._content):
                raise Refused(_half_done(self._content, error)) from error
            raise disk.refusal_of(error, _NOT_WRITTEN, self._content) from error
        finally:
            if not pending(self._content):
                with contextlib.suppress(OSError):  # the next command clears it
                    disk.remove_tree(self._content / JOURNAL)


def _laid_aside(content: Path, files: Iterable[tuple[str, bytes]]) -> Path:
    """A folder in the journal with all the files, on the disk. Without a plan it is litter, and cleared as such."""
    aside = content / JOURNAL / "folder"
    aside.mkdir(parents=True)
    made = {aside}
    for path, data in files:
        if fault := disk.path_fault(path):
            raise Refused(_cannot(content, NewFile(path, ""), fault))
        (aside / path).parent.mkdir(parents=True, exist_ok=True)
        made.update(aside / folder for folder in Path(path).parents)
        disk.write_new(aside / path, data, sync=not disk.syncs_at_once())
    disk.sync_disk(content)
    for folder in sorted(made, reverse=True):
        disk.sync_folder(folder)
    return aside


def _half_done(content: Path, error: OSError) -> Problem:
    return Problem(
        code="records-half-done",
        message=f"the change is noted but could not be finished: {error.strerror}",
        place=Place(str(error.filename or content)),
        hint="mend the cause and run any command: it finishes this change; do not give the order again",
    )


# --- may it be? ----------------------------------------------------------------------------------


def _problems_of(content: Path, changes: tuple[Change, ...]) -> list[Problem]:
    problems: list[Problem] = []
    seen: set[str] = set()
    for change in changes:
        fault = _path_fault(content, change) or _text_fault(change)
        if not fault and disk.folded(change.path) in seen:
            fault = "the same change would write it twice"
        seen.add(disk.folded(change.path))
        if fault:
            problems.append(_cannot(content, change, fault))
    return problems


def _cannot(content: Path, change: Change, fault: str) -> Problem:
    return Problem(
        code="records-cannot-write",
        message=f"this cannot be written: {fault}",
        place=Place(str(content / change.path)),
        hint="nothing was written; take another name, or mend what is there by hand",
        about=change.path,
    )


def _path_fault(content: Path, change: Change) -> str:
    if fault := disk.path_fault(change.path):
        return fault
    if change.path.split("/")[0].startswith("."):
        return "names with a leading dot are kept for the tool itself"
    *folders, name = change.path.split("/")
    place = content
    for folder in folders:
        if fault := _folder_fault(place, folder):
            return fault
        place /= folder
    return _name_fault(place, name, change)


def _folder_fault(place: Path, folder: str) -> str:
    kind = disk.kind_of(place / folder)
    if kind not in ("", "folder"):
        return f'"{folder}" is a {kind}, where a folder is wanted'
    return _other_spelling(place, folder)


def _name_fault(place: Path, name: str, change: Change) -> str:
    kind = disk.kind_of(place / name)
    if kind and isinstance(change, NewFile):
        return "it is there already, and a record is never overwritten"
    if kind not in ("", "file"):
        return f"it is a {kind}, where a file is wanted"
    return _other_spelling(place, name)


def _other_spelling(place: Path, name: str) -> str:
    """A neighbour that some disks take for the same name (UTS #39 section 4)."""
    names = [other.name for other in place.iterdir()] if place.is_dir() else []
    others = [other for other in names if other != name and disk.folded(other) == disk.folded(name)]
    return f'some disks take it for "{others[0]}", which is there already' if others else ""


def _text_fault(change: Change) -> str:
    texts = [change.text] if isinstance(change, NewFile) else [change.header, *change.lines]
    if isinstance(change, AppendLines) and any(_line_ends(text) for text in texts):
        return "one of its lines has a line end within"
    try:
        "".join(texts).encode()
    except UnicodeEncodeError:
        return "its text holds half of a pair of signs, which UTF-8 cannot write"
    return ""


def _line_ends(text: str) -> bool:
    return _bare(text).splitlines() not in ([], [_bare(text)])


# --- deciding ------------------------------------------------------------------------------------


def _decide(content: Path, changes: tuple[Change, ...]) -> None:
    """Lay the new files down in the journal, then the plan: with its name the change has happened."""
    journal = content / JOURNAL
    journal.mkdir()
    steps = [_lay_down(content, change, journal / str(number)) for number, change in enumerate(changes)]
    plan = json.dumps([[step.path, step.before, step.after] for step in steps], ensure_ascii=False)
    disk.write_new(journal / "plan.part", plan.encode(), sync=True)
    for step in steps:
        _make_folders(content, step.path)
    disk.sync_folder(journal)
    disk.sync_folder(content)
    (journal / "plan.part").rename(journal / _PLAN)
    disk.sync_folder(journal)


def _lay_down(content: Path, change: Change, aside: Path) -> _Step:
    target = content / change.path
    old = target.read_bytes() if disk.kind_of(target) == "file" else None
    new = _after(target, change)
    mode = None if old is None else target.stat().st_mode & 0o777
    disk.write_new(aside, new, mode=mode, sync=True)
    return _Step(change.path, _ABSENT if old is None else _hash(old), _hash(new))


def _after(target: Path, change: Change) -> bytes:
    if isinstance(change, NewFile):
        return change.text.encode()
    return _grown(target.read_bytes() if disk.kind_of(target) == "file" else b"", change)


def _grown(old: bytes, change: AppendLines) -> bytes:
    """The old bytes, every one of them, and the new lines; a last line without its end is ended first."""
    header = [change.header] if change.header and not old else []
    mending = b"\n" if old and not old.endswith(b"\n") else b""
    return old + mending + "".join(f"{_bare(line)}\n" for line in [*header, *change.lines]).encode()


def _bare(line: str) -> str:
    return line.removesuffix("\n")


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _make_folders(content: Path, path: str) -> None:
    place = content
    for folder in path.split("/")[:-1]:
        if not (place / folder).is_dir():
            (place / folder).mkdir()
            disk.sync_folder(place)
        place /= folder


# --- carrying out --------------------------------------------------------------------------------


def _finish_earlier_change(content: Path) -> bool:
    journal = content / JOURNAL
    if not disk.kind_of(journal):
        return False
    with disk.worded(_NOT_WRITTEN, content):
        if pending(content):
            _follow_plan(content)
        disk.remove_tree(journal)
    return True


def _follow_plan(content: Path) -> None:
    """Do each step that has not been done; safe to be killed and begun again."""
    journal = content / JOURNAL
    steps = _read_plan(journal)
    for number, step in enumerate(steps):
        _put(journal / str(number), content, step)
    for folder in sorted({(content / step.path).parent for step in steps}):
        disk.sync_folder(folder)
    (journal / _PLAN).unlink()
    disk.sync_folder(journal)
    shutil.rmtree(journal)
    disk.sync_folder(content)


def _read_plan(journal: Path) -> list[_Step]:
    try:
        steps = [_Step(path, before, after) for path, before, after in json.loads((journal / _PLAN).read_bytes())]
        faults = [step for step in steps if disk.path_fault(step.path)]
    except (ValueError, TypeError, AttributeError) as error:
        raise Refused(_damaged_plan(journal)) from error
    if faults:
        raise Refused(_damaged_plan(journal))
    return steps


def _damaged_plan(journal: Path) -> Problem:
    return Problem(
        code="records-journal-damaged",
        message="a change was cut short, and the list of what it had left to do cannot be read",
        place=Place(str(journal / _PLAN)),
        hint="the numbered files beside it are what was to be written: put them in place by hand,"
        " then delete the folder",
    )


def _put(aside: Path, content: Path, step: _Step) -> None:
    now = _state_of(content, step.path)
    if now == step.after:
        return  # done before the kill
    if now != step.before or disk.kind_of(aside) != "file":
        raise Refused(_changed_meanwhile(aside, content, step))
    _make_folders(content, step.path)
    if step.before == _ABSENT:
        _name_anew(aside, content / step.path)
    else:
        aside.replace(content / step.path)


def _state_of(content: Path, path: str) -> str:
    """The hash of a file, "" where there is none, something else where no file may be written."""
    places = [content / path, *(content / path).parents]
    above = places[1 : places.index(content)]
    if any(disk.kind_of(place) not in ("", "folder") for place in above):
        return "led elsewhere"
    kind = disk.kind_of(content / path)
    if kind != "file":
        return kind or _ABSENT
    return _hash((content / path).read_bytes())


def _name_anew(aside: Path, target: Path) -> None:
    """Give a file a name that must be free: a link cannot overwrite, a rename could."""
    try:
        os.link(aside, target)
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links
        aside.rename(target)


def _changed_meanwhile(aside: Path, content: Path, step: _Step) -> Problem:
    return Problem(
        code="records-changed-meanwhile",
        message="a change of this file was cut short, and the file was then changed by something else",
        place=Place(str(content / step.path)),
        hint=f"{aside} is what was to be written: bring the two together by hand,"
        f" then delete the folder {aside.parent.name}",
    )
