"""From answers to records: tried against all the others first, shown, then written whole or not at all.

A command that writes a record first reads the workshop as it would be with it. What is an error then never
reaches the disk; what is a doubt is said before somebody agrees.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import NoReturn

from passport.office import desk
from passport.office.asking import agreed
from passport.problems import Level, Problem, errors_in, in_order
from passport.reading.folder import read_shop
from passport.reading.shop import Shop
from passport.reading.yaml_text import Fields, event_line, record_text
from passport.verdicts.book import Book, work_out
from passport.verdicts.public_words import public_problems
from passport.writing import AppendLines, Change, NewFile, as_it_will_be, sole_writer, steady

Placed = Callable[[Problem], Problem]
PHOTOS = "photos"
SCHEMAS = "schemas"
"""Beside content/: where editors find what a record may say, once it has been written there."""
MOST_SHOWN = 12
"""Files shown before somebody agrees: nobody reads two hundred."""
MOST_LINES = 60
"""Lines of one file shown before somebody agrees."""
_EDITORS_LINE = "yaml-language-server: $schema=../../schemas/{kind}.json"


def lot_file(folder: Path, name: str, fields: Fields) -> NewFile:
    """A new lot's file."""
    return _file(folder, "lots", "lot", name, fields)


def run_file(folder: Path, name: str, fields: Fields) -> NewFile:
    """A new run's file."""
    return _file(folder, "runs", "run", name, fields)


def item_file(folder: Path, name: str, fields: Fields) -> NewFile:
    """A new item batch's file."""
    return _file(folder, "items", "item", name, fields)


def stream_file(folder: Path, name: str, fields: Fields) -> NewFile:
    """A new stream's file; streams are named in small letters."""
    return _file(folder, "streams", "stream", name, fields)


def product_file(folder: Path, name: str, fields: Fields) -> NewFile:
    """A new product's file; products are named in small letters."""
    return _file(folder, "products", "product", name, fields)


def event_lines(events: Iterable[Fields], folder: Path | None = None) -> tuple[AppendLines, ...]:
    """Lines for the yearly lists of events, one change for each year. Each event has its `date`.

    folder: the workshop's, so that a list which this begins carries the editors' line.
    """
    return _list_lines("events", "event", events, folder)


def correction_lines(corrections: Iterable[Fields], folder: Path | None = None) -> tuple[AppendLines, ...]:
    """Likewise for the yearly lists of corrections."""
    return _list_lines("corrections", "correction", corrections, folder)


def _list_lines(where: str, kind: str, entries: Iterable[Fields], folder: Path | None) -> tuple[AppendLines, ...]:
    by_year: dict[str, list[str]] = {}
    for fields in entries:
        by_year.setdefault(str(fields["date"])[:4], []).append(event_line(fields))
    head = editors_line(folder, kind) if folder else ""
    header = f"# {head}" if head else ""
    return tuple(AppendLines(f"{where}/{year}.yaml", tuple(lines), header) for year, lines in sorted(by_year.items()))


def next_id(taken: Iterable[str], start: str) -> str:
    """The next free number of a series: `next_id(["IN-009", "IN-031"], "IN")` is "IN-032".

    As many digits as the series has, three where it is new.
    """
    pattern = re.compile(rf"{re.escape(start)}-(\d+)")
    found = [match[1] for match in map(pattern.fullmatch, taken) if match]
    number = max((int(digits) for digits in found), default=0) + 1
    return f"{start}-{number:0{max((len(digits) for digits in found), default=3)}d}"


def taken_ids(shop: Shop) -> tuple[str, ...]:
    """All ids that a lot, a run or an item has, and those set aside for lots to come: they share one space."""
    return (*shop.lots, *shop.runs, *shop.items, *shop.set_aside)


def save(
    folder: Path,
    read: tuple[Shop, tuple[Problem, ...]],
    changes: Sequence[Change],
    *,
    yes: bool = False,
    dry_run: bool = False,
    at: date | None = None,
    told: Callable[[Book], None] | None = None,
    placed: Placed | None = None,
) -> bool:
    """Try, show, ask, write. True where it was written.

    told: says what follows from the change, from the book as it would be, before somebody is asked.
    placed: gives a problem the place that a person knows, such as a row of the table the change came from.

    read: the workshop and its problems as `desk.read_records` gave them. With errors in what would follow, they
    are printed and the command ends with 1, nothing written. Between trying and writing another person may have
    written: under the lock it is tried again.
    """
    content = desk.content_of(folder)
    with desk.refusals(), steady(content, say=desk.say):
        stood = _as_it_stands(content)
        book, problems = tried(content, changes, at, placed)
        _show(changes if dry_run else changes[:MOST_SHOWN], whole=dry_run)
        if not dry_run and len(changes) > MOST_SHOWN:
            desk.say(f"… and {len(changes) - MOST_SHOWN} more files; --dry-run shows all of them")
        if told:
            told(book)
        desk.show((*_new_doubts(read, problems, at), *_public_words(book, content, changes)))
    if dry_run:
        desk.say("nothing written: a dry run")
        return False
    if not agreed("Write this", yes=yes):
        desk.say("nothing written")
        return False
    with desk.refusals(), sole_writer(content, say=desk.say) as writer:
        if _as_it_stands(content) != stood:
            tried(content, changes, at, placed)
        writer.write(changes)
    paths = [f"content/{change.path}" for change in changes]
    desk.say(f"written: {', '.join(paths) if len(paths) <= MOST_SHOWN else f'{len(paths)} files'}")
    return True


def _as_it_stands(content: Path) -> str:
    """A hash of all records: what was tried on just these need not be tried again. Pictures count by their names."""
    found = hashlib.sha256()
    for path in sorted(content.rglob("*")):
        hidden = any(part.startswith(".") for part in path.relative_to(content).parts)
        if not hidden and not path.is_symlink() and path.is_file():
            found.update(f"{path}\0".encode())
            found.update(b"" if path.parent.name == PHOTOS else path.read_bytes())
    return found.hexdigest()


def tried(
    content: Path, changes: Sequence[Change], at: date | None = None, placed: Placed | None = None
) -> tuple[Book, tuple[Problem, ...]]:
    """The book as it would be after the changes, and its problems; with errors they are printed and it ends with 1."""
    shop, found = read_shop(content, added=as_it_will_be(content, changes))
    if shop is None or errors_in(found):
        _refuse(found, placed)
    book = work_out(shop, at)
    problems = (*found, *book.problems)
    if errors_in(problems):
        _refuse(problems, placed)
    return book, problems


def _refuse(problems: Iterable[Problem], placed: Placed | None) -> NoReturn:
    desk.say("nothing written: with this the records would not hold")
    desk.stop(map(placed, errors_in(problems)) if placed else errors_in(problems))


def _new_doubts(
    read: tuple[Shop, tuple[Problem, ...]], problems: Iterable[Problem], at: date | None
) -> tuple[Problem, ...]:
    """What the change adds to the doubts and advice that stood before."""
    shop, found = read
    known = {_same(problem) for problem in (*found, *work_out(shop, at).problems)}
    return in_order(p for p in problems if p.level is not Level.ERROR and _same(p) not in known)


def _public_words(book: Book, content: Path, changes: Sequence[Change]) -> Iterator[Problem]:
    """What the new words say in public: a street address, a banned claim. It keeps nothing from being recorded."""
    after = as_it_will_be(content, changes)
    new = {f"{content.name}/{c.path}": _first_line(c, after[c.path]) for c in changes}
    for problem in public_problems(book):
        if problem.place.line >= new.get(problem.place.file, problem.place.line + 1):
            yield problem


def _first_line(change: Change, after: bytes) -> int:
    """The first line that a change adds to a file."""
    return 1 if isinstance(change, NewFile) else after.count(b"\n") - len(change.lines) + 1


def _same(problem: Problem) -> tuple[str, str, str]:
    """A problem without its place, which moves when lines are added."""
    return problem.code, problem.about, problem.message


def _show(changes: Sequence[Change], *, whole: bool) -> None:
    for change in changes:
        desk.say(f"content/{change.path}")
        lines = change.text.rstrip("\n").split("\n") if isinstance(change, NewFile) else change.lines
        shown = lines if whole else lines[:MOST_LINES]
        desk.say("\n".join(f"  {line}" for line in shown))
        if len(shown) < len(lines):
            desk.say(f"  … and {len(lines) - len(shown)} more lines; --dry-run shows all of them")


def _file(folder: Path, where: str, kind: str, name: str, fields: Fields) -> NewFile:
    return NewFile(f"{where}/{name}.yaml", record_text(fields, editors_line(folder, kind)))


def editors_line(folder: Path, kind: str) -> str:
    """What tells an editor where the schema lies, "" where the workshop has none."""
    known = (folder.resolve() / SCHEMAS / f"{kind}.json").is_file()
    return _EDITORS_LINE.format(kind=kind) if known else ""
