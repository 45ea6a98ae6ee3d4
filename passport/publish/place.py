"""Where a site may be put: never over the records it is made from."""

from __future__ import annotations

from pathlib import Path

from passport import disk
from passport.disk import Refused
from passport.problems import Place, Problem


def checked_place(site: Path, sources: tuple[Path, ...]) -> Path:
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


def beside(site: Path, what: str) -> Path:
    """A name beside the site, on the same disk: fixed, so that the next run finds what a killed one left."""
    return site.with_name(f".{site.name}.{what}")
