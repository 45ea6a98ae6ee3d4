"""A publication from beginning to end: look, build aside, refuse or swap."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from passport import disk
from passport.disk import Refused, Say
from passport.publish.build import Build
from passport.publish.found import Found, look_at
from passport.publish.names import Names
from passport.publish.place import checked_place
from passport.publish.planned import Outcome, Planned, Progress
from passport.publish.shrink import refuse_to_shrink
from passport.publish.swap import finish_earlier_run, put_in_place

NOT_WRITTEN = "site-not-written"


def publish(
    planned: Iterable[Planned] | Callable[[Found], Iterable[Planned]],
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

    planned: read once, in order; contents are not kept in memory. Where it depends on what is there, a function that
        is told, once nobody else is at work.
    must_answer: paths that have to be among them (the page of each tag ever issued).
    may_shrink: allow that pages of tags and lots go which the site has now.
    sources: folders (records, themes) that the site may not be, hold or lie in.
    exchange: False goes without exchanging folders, as on systems that cannot.
    wait_s: how long to wait for another run in the same place; `say` is told once.

    Raises `Refused`. An error of the caller's own iterable passes through; the site is whole then, too.
    """
    site = checked_place(site, tuple(sources))
    with disk.locked(site.parent, wait_s=wait_s, say=say):
        with disk.worded(NOT_WRITTEN, site):
            finish_earlier_run(site)
            build = Build(site, look_at(site), whole=exchange)
        try:
            _take_all(planned(build.found) if callable(planned) else planned, build, progress)
            refuse_to_shrink(build, tuple(must_answer), may_shrink=may_shrink)
            with disk.worded(NOT_WRITTEN, site):
                return put_in_place(build, exchange=exchange)
        finally:
            build.clear()


def _take_all(planned: Iterable[Planned], build: Build, progress: Progress | None) -> None:
    """Write the plan aside. With a bad path nothing more is written, but all paths are still judged."""
    names = Names()
    for number, file in enumerate(planned, start=1):
        names.take(file.path)
        if not names.problems:
            with disk.worded(NOT_WRITTEN, build.site):
                build.take(file)
        if progress:
            progress(number, file.path)
    if names.problems:
        raise Refused(*names.problems)
