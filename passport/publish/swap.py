"""The new site takes the old one's place: in one step, or step by step after a journal."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

from passport import disk
from passport.disk import Refused
from passport.problems import Level, Place, Problem
from passport.publish.build import Build, make_folder
from passport.publish.found import LIST_NAME, walk
from passport.publish.names import steps
from passport.publish.place import beside
from passport.publish.planned import Outcome


def put_in_place(build: Build, *, exchange: bool) -> Outcome:
    """Sync what was built, then swap it in; nothing at all where nothing was written."""
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


def _swap(build: Build, *, exchange: bool) -> None:
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


def _write_journal(build: Build) -> None:
    """Name all that is left to do; once this file has its name, the new site will come about."""
    part, journal = beside(build.site, "journal.part"), beside(build.site, "journal")
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
    journal = beside(site, "journal")
    steps = _read_journal(journal)
    for path in steps["put"]:
        _replace(beside(site, "next"), site, path)
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
    for folder in steps(path)[:-1]:
        if disk.kind_of(site / folder) == "file":
            (site / folder).unlink()
        if not (site / folder).is_dir():
            make_folder(str(site / folder))
    if disk.kind_of(site / path) == "folder":
        disk.remove_tree(site / path)  # all it held is dropped, or it would not be planned as a file
    (new / path).replace(site / path)


def _drop(site: Path, path: str) -> None:
    """Take a file away, and the folders that it leaves empty."""
    if disk.kind_of(site / path) == "file":
        (site / path).unlink()
    with contextlib.suppress(OSError):  # not empty
        for folder in reversed(steps(path)[:-1]):
            (site / folder).rmdir()


def finish_earlier_run(site: Path) -> None:
    """Bring a killed run to its end, or clear it away: the journal decides which."""
    journal, new = beside(site, "journal"), beside(site, "next")
    if journal.is_file() and site.is_dir():
        for _ in walk(site):
            pass  # raises if a link would lead the journal out of the site
        _follow_or_refuse(site, journal)
    disk.remove_tree(journal)
    disk.remove_tree(beside(site, "journal.part"))
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
