"""Publishing refuses to shrink: pages that things and lots lead to do not go by accident."""

from __future__ import annotations

from passport.disk import Refused
from passport.problems import Problem
from passport.publish.build import Build
from passport.publish.found import each_of

LASTING = ("T", "H", "L")
"""Folders of pages whose addresses are printed: on things, on their sheets, and on the cards of sacks and boxes.

They are not taken away without `may_shrink`.
"""


def refuse_to_shrink(build: Build, must_answer: tuple[str, ...], *, may_shrink: bool) -> None:
    """Raise `Refused` with every lasting page that would be missing."""
    unanswered = sorted(set(must_answer) - build.hashes.keys())
    lost = [] if may_shrink else [path for path in build.removed if _lasts(path)]
    lost = [path for path in lost if path not in unanswered]
    problems = each_of(unanswered, _unanswered, "site-tag-unanswered") + each_of(lost, _lost, "site-page-lost")
    if problems:
        raise Refused(*problems)


def _lasts(path: str) -> bool:
    """Whether a path is the page of one tag or lot; pages of lists (`L/-2/`) come and go."""
    folder, _, rest = path.partition("/")
    return folder in LASTING and "/" in rest and not rest.startswith("-") and path.endswith(".html")


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
        message=f'the page "{path}" is published and would be gone; '
        "a tag on a thing or the card of a lot may lead to it",
        hint="bring back its record, or allow the site to shrink if neither tag nor card ever left the workshop",
        about=path,
    )
