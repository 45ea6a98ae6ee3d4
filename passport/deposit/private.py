"""The one reader of `private/`, and only of what is asked for by name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from passport import disk
from passport.amounts import NotAQuantity
from passport.disk import Refused
from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import read_id

FOLDER = "private"
LARGEST = 1_000_000
"""Bytes of one private record."""


def private_records(workshop: Path, names: Iterable[str]) -> Iterator[tuple[str, bytes]]:
    """`private/ID.yaml` and its bytes for each id. Raises `Refused` for one that is not there, before any is read."""
    folder = workshop / FOLDER
    wanted = {_id(name): folder / f"{_id(name)}.yaml" for name in names}
    there = {path.stem: path for path in folder.iterdir()} if disk.kind_of(folder) == "folder" else {}
    missing = [name for name, path in wanted.items() if disk.kind_of(path) != "file" or path.stat().st_size > LARGEST]
    if missing:
        raise Refused(*(_missing(name, there.keys() - missing) for name in missing))
    return ((f"{FOLDER}/{name}.yaml", path.read_bytes()) for name, path in sorted(wanted.items()))


def _id(typed: str) -> str:
    try:
        return read_id(typed)
    except NotAQuantity as slip:
        message = f'met "{typed}", wanted the id of a private record'
        raise Refused(Problem(code="no-private-record", message=message, place=Place(FOLDER), hint=slip.hint)) from slip


def _missing(name: str, there: Iterable[str]) -> Problem:
    return Problem(
        code="no-private-record",
        message=f"met no plain file for {name}, wanted private/{name}.yaml",
        place=Place(FOLDER),
        hint=did_you_mean(name, there) or "name a record as its file is called, in capital letters",
    )
