"""What another workshop's data file says about a lot that came from there: its shares by origin class.

The file is the `lot.json` that every published lot has. Its shares are lower bounds; what they leave over counts
as unknown (EN 45557:2020, 5.2). A file that is missing or does not read leaves the whole lot unknown, with a doubt.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from fractions import Fraction

from passport.problems import Level, Problem
from passport.reading.records import Lot, Origin
from passport.reading.shop import Shop

FIELD = "origin_at_least"
"""The field of `lot.json` that maps an origin class to its least share, as decimal text."""
_SHARE = re.compile(r"[01](\.[0-9]{1,9})?")
Shares = Mapping[str, Fraction]


def papers(shop: Shop) -> tuple[Mapping[str, Shares], tuple[Problem, ...]]:
    """Origin shares of each lot that names a document, and the documents that say nothing."""
    read: dict[str, Shares] = {}
    problems: list[Problem] = []
    for lot in shop.lots.values():
        if lot.received is None or not lot.received.source:
            continue
        found = _shares(shop.documents.get(lot.received.document or "", ""))
        if found is None:
            problems.append(_unread(shop, lot))
        else:
            read[lot.id] = found
    return read, tuple(problems)


def _shares(text: str) -> Shares | None:
    """The shares that a document states, or None where it states none that can be believed."""
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):  # nested without end
        return None
    stated = document.get(FIELD) if isinstance(document, dict) else None
    if not isinstance(stated, dict) or not stated:
        return None
    known = {origin.value for origin in Origin}
    if any(name not in known or not _is_share(share) for name, share in stated.items()):
        return None
    shares = {name: Fraction(share) for name, share in stated.items()}
    return shares if sum(shares.values(), Fraction(0)) <= 1 else None


def _is_share(share: object) -> bool:
    return isinstance(share, str) and bool(_SHARE.fullmatch(share))


def _unread(shop: Shop, lot: Lot) -> Problem:
    name = lot.received.document if lot.received and lot.received.document else "no document"
    return Problem(
        code="paper-unread",
        message=f"met {name} for {lot.id}, wanted the other workshop's lot.json with its shares by origin",
        place=shop.place("lot", lot.id, "received"),
        hint="put its lot.json into content/documents/ and name it in `document:`; until then its origin is unknown",
        level=Level.DOUBT,
        about=lot.id,
        facts=(("lot", lot.id),),
    )
