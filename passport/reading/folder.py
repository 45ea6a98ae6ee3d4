"""The goods-in desk: walks `content/` and turns files into records. The only reader of that folder.

`private/` lies beside `content/` and is never opened here. Links are refused, so that nothing outside the
folder is read; names are checked before any file is opened.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from passport.amounts import NotAQuantity
from passport.problems import Place, Problem, did_you_mean, in_order
from passport.reading.ancestors import Ancestor, joined
from passport.reading.corrections import Correction, corrected, event_name, in_turn, of_two, of_unknown
from passport.reading.decode import record_from
from passport.reading.fields import quoted, read_id
from passport.reading.marked import MAX_BYTES, Source, decoded, read_tree
from passport.reading.records import AnyEvent, Item, Lot, Product, Recall, Run, Stream, Workshop
from passport.reading.references import dangling
from passport.reading.set_aside import LIST as SET_ASIDE
from passport.reading.set_aside import read_set_aside
from passport.reading.shop import Shop, event_id
from passport.reading.tag_lists import FROM, read_issued, read_printed
from passport.reading.trees import Trees

KINDS: dict[str, tuple[str, Any]] = {
    "streams": ("stream", Stream),
    "lots": ("lot", Lot),
    "runs": ("run", Run),
    "products": ("product", Product),
    "items": ("item", Item),
    "recalls": ("recall", Recall),
}
"""Folder → the word for one of its records, and the class."""

OTHER_FOLDERS = ("events", "corrections", "photos", "documents", FROM)
FILES = ("workshop.yaml", "tags-issued.csv", "labels-printed.csv", SET_ASIDE)
ONE_SPACE = ("lot", "run", "item")
"""Kinds that share one space of ids: each of them is a node of the same graph."""


@dataclass
class _Desk:
    """What has been read so far."""

    root: Path
    called: str
    """The root as people name it: "content", "content/from/RY"."""
    added: Mapping[Path, bytes] = field(default_factory=dict)
    """Files that are to come, read as if they lay there: what a command is about to write is tried first."""
    trees: Trees | None = None
    problems: list[Problem] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)
    files: dict[tuple[str, str], str] = field(default_factory=dict)
    records: dict[str, dict[str, Any]] = field(default_factory=lambda: {word: {} for word, _ in KINDS.values()})
    corrections: dict[tuple[str, str], list[Correction]] = field(default_factory=dict)
    """By kind of record and its name, an event's being its `event_name`."""
    made: dict[tuple[str, str], tuple[Correction, ...]] = field(default_factory=dict)
    """Those whose record was found; an event's name is then its `event_id`."""
    event_names: list[str] = field(default_factory=list)

    def name_of(self, path: Path) -> str:
        """A file's path as a person would type it."""
        return (PurePosixPath(self.called) / path.relative_to(self.root)).as_posix()

    def bytes_of(self, path: Path) -> bytes:
        """What a file holds, up to a little more than a record may."""
        if path in self.added:
            return self.added[path]
        with path.open("rb") as stream:
            return stream.read(MAX_BYTES + 1)

    def refuse(self, path: Path, code: str, message: str, hint: str = "") -> None:
        self.problems.append(Problem(code=code, message=message, place=Place(self.name_of(path)), hint=hint))


LINK_MET = "met a link, wanted the thing itself"
LINK_HINT = "copy what it leads to in its place: links are not followed, so that nothing outside content/ is read"
MOST_BAD_EVENTS = 50
"""Of one file. Who has mended fifty sees the rest."""

MAX_PICTURE_BYTES = 30_000_000
"""A photograph straight from a telephone is a tenth of that."""

Progress = Callable[[int], None]


def read_shop(
    content: Path,
    progress: Progress | None = None,
    added: Mapping[str, bytes] | None = None,
    trees: Trees | None = None,
) -> tuple[Shop | None, tuple[Problem, ...]]:
    """All records below `content`, and every problem of every file, in order of place.

    The shop is None where there is no usable workshop record. Where problems are errors the shop is
    partial: good for looking at, not for publishing.

    added: path below `content`, with `/` → the bytes of a file which is to come there, or to stand in the
    place of the one that is there.
    trees: those kept since another run; it takes note of what is met.
    """
    to_come = {content / path: data for path, data in (added or {}).items()}
    return _read(_Desk(content, content.name, to_come, trees), progress)


def _read(desk: _Desk, progress: Progress | None) -> tuple[Shop | None, tuple[Problem, ...]]:
    """All records below the root of a desk, joined with those that were taken over."""
    content = desk.root
    if not content.is_dir() or content.is_symlink():
        hint = "stand in the workshop's folder, or make a new one with: passport start NAME"
        message = "met no folder of records, wanted content/"
        return None, (Problem(code="no-content", message=message, place=Place(desk.called), hint=hint),)
    _look_round(desk)
    workshop = _workshop(desk)
    _read_corrections(desk)
    for folder, (word, cls) in KINDS.items():
        for count, path in enumerate(_yaml_files(desk, content / folder)):
            _record(desk, word, cls, path)
            if progress and count % 200 == 0:
                progress(len(desk.sources))
    own = _shop(desk, workshop or Workshop(name="?", prefix="XX"))
    desk.problems.extend(_corrections_of_nothing(desk, own))
    shop, clashes = joined(own, tuple(_ancestors(desk)))
    dangles = (p for p in dangling(shop, workshop_read=workshop is not None) if not _was_checked(desk, p))
    return (shop if workshop else None), in_order([*desk.problems, *clashes, *dangles])


def _was_checked(desk: _Desk, problem: Problem) -> bool:
    """Records that were taken over are checked among themselves, before they are joined."""
    return problem.place.file.startswith(f"{desk.called}/{FROM}/")


MOST_GENERATIONS = 5
"""A workshop that took over one that took over one, and so on."""


def _ancestors(desk: _Desk) -> Iterator[Ancestor]:
    """The workshops in `from/`, each read as a shop of its own."""
    folder = desk.root / FROM
    if not folder.is_dir() or folder.is_symlink():
        return
    for path in sorted(folder.iterdir()):
        if _is_litter(path.name):
            continue
        if path.is_symlink() or not path.is_dir():
            desk.refuse(path, "not-a-folder", "met no folder, wanted that of a workshop, by its prefix", "move it away")
        elif f"{desk.called}/".count(f"/{FROM}/") >= MOST_GENERATIONS:
            desk.refuse(path, "too-deep", f"met more than {MOST_GENERATIONS} workshops taken over from one another")
        else:
            yield from ancestor_at(path, f"{desk.called}/{FROM}/{path.name}", desk.problems)


def ancestor_at(folder: Path, called: str, problems: list[Problem]) -> Iterator[Ancestor]:
    """The workshop whose records lie in a folder, or nothing, with its problems added to the others."""
    shop, found = _read(_Desk(folder, called), None)
    problems.extend(found)
    if shop is None:
        return
    prefix = PurePosixPath(called).name
    if shop.workshop.prefix != prefix:
        message = f"met the prefix {shop.workshop.prefix}, wanted that of the folder, {prefix}"
        hint = "name the folder by the prefix of its tag numbers"
        problems.append(Problem(code="taken-over-prefix", message=message, place=Place(called), hint=hint))
        return
    yield Ancestor(called, shop)


def _look_round(desk: _Desk) -> None:
    """Folders and files that nobody reads are slips worth naming."""
    known = (*KINDS, *OTHER_FOLDERS)
    for path in sorted(desk.root.iterdir()):
        if _is_litter(path.name) or path.name in FILES or path.suffix == ".md":
            continue
        if path.is_symlink() or not (path.is_dir() and path.name in known):
            _odd(desk, path, (*known, *FILES))


def _odd(desk: _Desk, path: Path, known: tuple[str, ...]) -> None:
    """Names what stands in content/ and has no business there."""
    if path.is_symlink():
        desk.refuse(path, "not-a-file", LINK_MET, LINK_HINT)
    elif path.name in known:
        desk.refuse(path, "not-a-folder", f'met a file called "{path.name}", wanted a folder', "rename or move it")
    else:
        hint = did_you_mean(path.name, known) or f"known are {', '.join(known)}"
        desk.refuse(path, "unknown-file", f'met "{path.name}", which is no part of content/', hint)


def _is_litter(name: str) -> bool:
    """What editors and desktops leave behind; nobody means it as a record."""
    return name.startswith(".") or name.endswith("~") or name in {"Thumbs.db", "desktop.ini"}


def _files(desk: _Desk, folder: Path) -> Iterator[Path]:
    """Plain files of a folder, in order; links and odd things are refused."""
    to_come = {path for path in desk.added if path.parent == folder}
    there = set(folder.iterdir()) if folder.is_dir() and not folder.is_symlink() else set()
    for path in sorted(there | to_come):
        if _is_litter(path.name):
            continue
        if path in to_come and path not in there:
            yield path
        elif path.is_symlink():
            desk.refuse(path, "not-a-file", LINK_MET, LINK_HINT)
        elif not stat.S_ISREG(path.lstat().st_mode):
            what = "a folder" if path.is_dir() else "a special file"
            desk.refuse(path, "not-a-file", f"met {what}, wanted a plain file", "move it elsewhere")
        else:
            yield path


def _yaml_files(desk: _Desk, folder: Path) -> Iterator[Path]:
    for path in _files(desk, folder):
        if path.suffix == ".yaml":
            yield path
        else:
            meant = path.suffix.lower() in {".yml", ".yaml"}
            hint = f"rename it to {path.stem}.yaml" if meant else "move it elsewhere, or rename it"
            desk.refuse(path, "not-a-record", f'met "{path.name}", wanted a file that ends in .yaml', hint)


def _tree(desk: _Desk, path: Path) -> tuple[Source, Any] | None:
    """The source and plain tree of a YAML file, or None with its problems noted."""
    file = desk.name_of(path)
    data = desk.bytes_of(path)
    source = decoded(file, data)
    if isinstance(source, Problem):
        desk.problems.append(source)
        return None
    desk.sources[file] = source
    tree, problems = desk.trees.read(source, data) if desk.trees else read_tree(source)
    desk.problems.extend(problems)
    return None if tree is None else (source, tree)


def _workshop(desk: _Desk) -> Workshop | None:
    path = desk.root / "workshop.yaml"
    if path not in desk.added and (not path.is_file() or path.is_symlink()):
        hint = "two lines are enough to begin with: `name: Reedmouth Yard` and `prefix: RY`"
        desk.refuse(path, "no-workshop", "met no workshop record, wanted content/workshop.yaml", hint)
        return None
    desk.files["workshop", ""] = desk.name_of(path)
    read = _tree(desk, path)
    if read is None:
        return None
    record, problems = record_from(Workshop, read[1], read[0])
    desk.problems.extend(problems)
    return record


def _record(desk: _Desk, word: str, cls: Any, path: Path) -> None:
    name = _id_of(desk, path)
    if name is None or _taken(desk, word, name, path):
        return
    desk.files[word, name] = desk.name_of(path)
    read = _tree(desk, path)
    if read is None:
        return
    source, tree = _set_right(desk, (word, name), (word, name), *read)
    record, problems = record_from(cls, tree, source, lineage={"id": name})
    desk.problems.extend(problems)
    if record is not None:
        desk.records[word][name] = record


def _read_corrections(desk: _Desk) -> None:
    for path in _yaml_files(desk, desk.root / "corrections"):
        read = _tree(desk, path)
        for correction in _entries(desk, Correction, "corrections", *read) if read else ():
            desk.corrections.setdefault((correction.kind, correction.name), []).append(correction)


def _set_right(
    desk: _Desk, named: tuple[str, str], known_as: tuple[str, str], source: Source, tree: Any, at: tuple[int, ...] = ()
) -> tuple[Source, Any]:
    """A record's source and tree with its corrections made; these are then known by what pages look for."""
    of_it = desk.corrections.get(named)
    if of_it is None:
        return source, tree
    source, tree, problems = corrected(source, tree, of_it, desk.sources, at)
    desk.problems.extend(problems)
    desk.sources[source.file] = source
    desk.made[known_as] = in_turn(of_it)
    return source, tree


def _corrections_of_nothing(desk: _Desk, shop: Shop) -> Iterator[Problem]:
    """Corrections that name what is not there, or of two like events, which one is not said."""
    written = {kind: sorted(name for word, name in desk.files if word == kind) for kind, _ in desk.corrections}
    written["event"] = sorted(set(desk.event_names))
    for (kind, name), of_it in desk.corrections.items():
        for correction in of_it if name not in written[kind] else ():
            yield of_unknown(correction, written[kind], shop.sources[correction.file])
        if kind == "event" and desk.event_names.count(name) > 1:
            yield of_two(of_it[0], shop.sources[of_it[0].file])


def _id_of(desk: _Desk, path: Path) -> str | None:
    try:
        return read_id(path.stem)
    except NotAQuantity as slip:
        message = f"met the file name {quoted(slip.met)}, wanted {slip.wanted}"
        desk.refuse(path, "bad-id", message, slip.hint or _better_name(path))
        return None


def _better_name(path: Path) -> str:
    better = "-".join(re.findall(r"[A-Za-z0-9]+", path.stem)) if path.stem.isascii() else ""
    return f"rename the file, to {better}.yaml for example" if better else "rename the file"


def _taken(desk: _Desk, word: str, name: str, path: Path) -> bool:
    space = ONE_SPACE if word in ONE_SPACE else (word,)
    other = next((desk.files[kind, name] for kind in space if (kind, name) in desk.files), None)
    if other is None:
        return False
    message = f'met the id "{name}" again (first as {other}), wanted each id once'
    desk.refuse(
        path, "duplicate-id", message, "ids are read in upper case; lots, runs and items share them: rename one"
    )
    return True


def _shop(desk: _Desk, workshop: Workshop) -> Shop:
    issued = _list(desk, "tags-issued.csv", read_issued)
    printed = _list(desk, "labels-printed.csv", read_printed)
    aside = _list(desk, SET_ASIDE, read_set_aside)
    by_id = {word: dict(sorted(records.items())) for word, records in desk.records.items()}
    return Shop(
        workshop=workshop,
        streams=by_id["stream"],
        lots=by_id["lot"],
        runs=by_id["run"],
        products=by_id["product"],
        items=by_id["item"],
        recalls=by_id["recall"],
        events=_events(desk),
        issued=issued,
        printed=printed,
        set_aside={entry.lot: entry.day for entry in aside},
        photos=frozenset(path.name for path in _files(desk, desk.root / "photos")),
        documents=_documents(desk),
        corrections=desk.made,
        sources=desk.sources,
        files=desk.files,
    )


def _list(desk: _Desk, name: str, read: Callable[[str, str], tuple[Any, tuple[Problem, ...]]]) -> Any:
    path = desk.root / name
    if not path.exists() and not path.is_symlink() and path not in desk.added:
        return ()
    if path not in desk.added and (path.is_symlink() or not path.is_file()):
        desk.refuse(path, "not-a-file", "met a link, folder or special file, wanted a plain file", LINK_HINT)
        return ()
    try:
        text = (desk.added[path] if path in desk.added else path.read_bytes()).decode("utf-8")
    except UnicodeDecodeError:
        desk.refuse(path, "not-utf-8", "met bytes that are no UTF-8 text, wanted the list as the tool wrote it")
        return ()
    entries, problems = read(text, desk.name_of(path))
    desk.problems.extend(problems)
    return entries


def _documents(desk: _Desk) -> dict[str, str]:
    texts = {}
    for path in _files(desk, desk.root / "documents"):
        data = desk.bytes_of(path) if path.suffix == ".json" else b""
        if path.suffix == ".json" and len(data) <= MAX_BYTES:
            texts[path.name] = data.decode("utf-8", "replace")
    return texts


def _events(desk: _Desk) -> tuple[AnyEvent, ...]:
    events: list[AnyEvent] = []
    for path in _yaml_files(desk, desk.root / "events"):
        read = _tree(desk, path)
        if read is not None:
            events += _entries(desk, AnyEvent, "events", *_events_set_right(desk, *read))
    return tuple(sorted(events, key=lambda event: (event.date, event.file, event.number)))


def _events_set_right(desk: _Desk, source: Source, tree: Any) -> tuple[Source, Any]:
    """A list of events with the corrections of each; they are named by what they said at first."""
    if not isinstance(tree, list) or not any(kind == "event" for kind, _ in desk.corrections):
        return source, tree
    right = []
    for number, entry in enumerate(tree):
        name, known_as = event_name(entry), event_id(source.file, number)
        desk.event_names.append(name)
        source, changed = _set_right(desk, ("event", name), ("event", known_as), source, entry, (number,))
        right.append(changed)
    return source, right


def _entries(desk: _Desk, cls: Any, what: str, source: Source, tree: Any) -> Iterator[Any]:
    """The records of a list; `what` it is a list of, in words."""
    if not isinstance(tree, list):
        message = f"met {quoted(tree)}, wanted a list of {what}"
        hint = "begin each one with `- ` and put its fields under each other, or in braces"
        desk.problems.append(Problem(code="not-a-list", message=message, place=source.place(), hint=hint))
        return
    bad = 0
    for number, entry in enumerate(tree):
        lineage = {"file": source.file, "number": number}
        record, problems = record_from(cls, entry, source, at=(number,), lineage=lineage)
        desk.problems.extend(problems)
        bad += record is None
        if record is not None:
            yield record
        elif bad > MOST_BAD_EVENTS:
            return


def read_picture(content: Path, name: str) -> bytes | None:
    """The bytes of a picture of the records, or None where it is no plain file of a bearable size.

    One that was taken over is called by the prefix of its workshop and its own name: `RY-in-031.jpg`.
    """
    folder = content / "photos"
    path = folder / name
    if not folder.is_symlink() and path.exists():
        plain = stat.S_ISREG(path.lstat().st_mode) and path.stat().st_size <= MAX_PICTURE_BYTES
        return path.read_bytes() if plain else None
    prefix, hyphen, rest = name.partition("-")
    there = content / FROM / prefix
    return read_picture(there, rest) if hyphen and there.is_dir() and not there.is_symlink() else None


def kept_files(content: Path) -> Iterator[tuple[str, bytes]]:
    """Path below `content`, with `/`, and bytes of every file that is part of the records, in order of path.

    Links and what editors leave behind are passed by; `read_shop` names them.
    """
    for path in sorted(content.iterdir()):
        if _is_litter(path.name) or path.is_symlink():
            continue
        if path.is_dir():
            yield from ((f"{path.name}/{below}", data) for below, data in kept_files(path))
        elif stat.S_ISREG(path.lstat().st_mode):
            yield path.name, path.read_bytes()
