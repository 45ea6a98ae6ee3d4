"""Parts of the site → planned files, on one core or several, without making what is there already.

Each part is made by whichever process is free; what comes back is taken in the order of the plan, so the site is the
same on any number of cores. A file is not made at all when three things agree: the print of its view, the hash that
the last run listed under that print, and the bytes that the site holds now.
"""

from __future__ import annotations

import gc
import hashlib
import multiprocessing
import os
import sys
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field

from passport.disk import Refused
from passport.pages.pictures import Ready
from passport.pages.plan import Leaf, Part, Site, last_leaves, leaves, parts
from passport.pages.render import ThemeError
from passport.pages.theme import Theme
from passport.pages.words import MissingWordError
from passport.problems import Problem
from passport.publish.found import Found
from passport.publish.planned import HeldFile, Planned, PlannedFile
from passport.tags.faces import LabelError
from passport.verdicts.book import Book

AHEAD = 8
"""Parts that a core may be ahead of what has been taken: it bounds the memory for results that wait."""
WORTH_SHARING = 400
"""Fewer tags and lots than this are made sooner than other processes are started and have read the templates."""
_LOOK_S = 1.0


@dataclass(frozen=True, slots=True)
class Source:
    """What a site is made from; other processes get it whole."""

    book: Book
    theme: Theme
    pictures: Mapping[str, Ready]


@dataclass(frozen=True, slots=True)
class _Made:
    """One file of a part. content: None where the site holds it already."""

    path: str
    sha256: str
    content: bytes | None
    print: bytes


@dataclass(slots=True)
class Plan:
    """All planned files of a site; remembers the print of each for the next run."""

    source: Source
    prints: Mapping[str, str] = field(default_factory=dict)
    """Path → print of the last run, in hexadecimal."""
    of_list: str = ""
    """Hash of the list of files that the last run wrote: its prints say nothing about any other site."""
    cores: int = 1
    fresh: dict[str, str] = field(default_factory=dict)
    """Path → print of this run."""

    def __call__(self, found: Found) -> Iterator[Planned]:
        """The files in order. Raises `Refused` with what keeps a page or a label from being made."""
        site = _site_of(self.source)
        known = self.prints if self.of_list and self.of_list == found.list_hash else {}
        met: list[str] = []
        for made in self._all(site, found, known):
            met.append(made.path)
            if made.print:
                self.fresh[made.path] = made.print.hex()
            yield _planned(made)
        for leaf in last_leaves(site, met):
            yield PlannedFile(leaf.path, leaf.made())

    def _all(self, site: Site, found: Found, known: Mapping[str, str]) -> Iterator[_Made]:
        todo = list(parts(site))
        maker = _Maker(site, found, known)
        if self.cores == 1 or sum(len(part.names) for part in todo) < WORTH_SHARING:
            for part in todo:
                yield from _good(maker.make(part))
        else:
            yield from _shared(todo, self.cores, (self.source, found, known))


def _site_of(source: Source) -> Site:
    return Site(source.book, source.theme, source.pictures)


def _planned(made: _Made) -> Planned:
    if made.content is None:
        return HeldFile(made.path, made.sha256)
    return PlannedFile(made.path, made.content)


def _good(result: list[_Made] | tuple[Problem, ...]) -> list[_Made]:
    if isinstance(result, tuple):
        raise Refused(*result)
    return result


class _Maker:
    """Makes parts, in the process that it lives in."""

    def __init__(self, site: Site, found: Found, prints: Mapping[str, str]) -> None:
        self._site = site
        self._found = found
        self._prints = prints

    def make(self, part: Part) -> list[_Made] | tuple[Problem, ...]:
        """The files of a part, or the problems that keep one from being made."""
        try:
            return [self._made(leaf) for leaf in leaves(self._site, part)]
        except LabelError as slip:
            return tuple(slip.problems)
        except (ThemeError, MissingWordError) as slip:
            return (slip.problem,)

    def _made(self, leaf: Leaf) -> _Made:
        listed = self._found.listed.get(leaf.path, "")
        known = leaf.print and self._prints.get(leaf.path) == leaf.print.hex()
        if known and listed and self._found.holds(leaf.path, listed):
            return _Made(leaf.path, listed, None, leaf.print)
        content = leaf.made()
        digest = hashlib.sha256(content).hexdigest()
        held = self._found.holds(leaf.path, digest)
        return _Made(leaf.path, digest, None if held else content, leaf.print)


# --- several processes ---------------------------------------------------------------------------


def _shared(todo: Iterable[Part], cores: int, known: tuple[Source, Found, Mapping[str, str]]) -> Iterator[_Made]:
    """Parts made by other processes, in the order of the plan."""
    # copies of this process share its memory until one of them writes; the collector would write everywhere
    gc.collect()
    gc.freeze()
    start = multiprocessing.get_context(start_method())
    pool = ProcessPoolExecutor(cores, mp_context=start, initializer=_begin, initargs=(os.getpid(), *known))
    try:
        yield from _in_turn(pool, todo, AHEAD * cores)
    except BrokenProcessPool as slip:
        raise Refused(_helper_gone()) from slip
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        gc.unfreeze()


def start_method() -> str:
    """Copies of this process begin with all that it knows; elsewhere than on Linux libraries may not bear it."""
    return "fork" if sys.platform == "linux" else "spawn"


def _in_turn(pool: ProcessPoolExecutor, todo: Iterable[Part], ahead: int) -> Iterator[_Made]:
    waiting: deque[Future[list[_Made] | tuple[Problem, ...]]] = deque()
    for part in todo:
        waiting.append(pool.submit(_make, part))
        if len(waiting) > ahead:
            yield from _good(waiting.popleft().result())
    while waiting:
        yield from _good(waiting.popleft().result())


_makers: list[_Maker] = []
"""In a helping process: the one maker that lives there."""


def _begin(parent: int, source: Source, found: Found, prints: Mapping[str, str]) -> None:
    _makers.append(_Maker(_site_of(source), found, prints))
    threading.Thread(target=_leave_with, args=(parent,), daemon=True).start()


def _leave_with(parent: int) -> None:
    """A helper does not outlive a run that was killed."""
    while os.getppid() == parent:
        time.sleep(_LOOK_S)
    os._exit(1)


def _make(part: Part) -> list[_Made] | tuple[Problem, ...]:
    return _makers[0].make(part)


def _helper_gone() -> Problem:
    return Problem(
        code="helper-gone",
        message="a process that helped to make the pages was ended from outside; nothing was changed",
        hint="run again, on fewer cores if memory is short: passport publish --cores 1",
    )
