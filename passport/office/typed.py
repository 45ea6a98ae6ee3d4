"""What people type at the desk for a tag, a lot or a day: read generously, and named exactly where it cannot be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping

from passport.amounts import NotAQuantity
from passport.problems import NOWHERE, Place, Problem, did_you_mean
from passport.reading.fields import read_id
from passport.reading.shop import Shop
from passport.reading.tag_numbers import TagNumber, nearest, read_tag_number
from passport.verdicts.life import Life


def today() -> dt.date:
    """The day on the clock: it goes into a record, never into a figure."""
    return dt.datetime.now(tz=dt.UTC).date()


def issued_tag(typed: str, prefix: str, issued: Collection[str], place: Place = NOWHERE) -> str | Problem:
    """The issued number that somebody typed or scanned (a whole address), else the nearest issued ones."""
    typed = typed.strip().upper().rpartition("/T/")[2].rstrip("/")
    number = read_tag_number(typed, prefix)
    for tag in (str(number) if isinstance(number, TagNumber) else "", typed):
        if tag in issued:  # numbers of a former prefix do not fit the present one, and are numbers all the same
            return tag
    near = nearest(typed, issued)
    code = number.code if isinstance(number, Problem) else "unknown-tag"
    message = number.message if isinstance(number, Problem) else f"{number} was never issued"
    hint = f"the nearest issued: {', '.join(near)}" if near else "compare the number with the tag"
    return Problem(code=code, message=message, place=place, hint=hint)


def known_lot(typed: str, shop: Shop, place: Place = NOWHERE) -> str | Problem:
    """The lot that somebody typed, in any case; else the nearest ones."""
    try:
        name = read_id(typed.strip())
    except NotAQuantity:
        name = typed.strip()
    if name in shop.lots:
        return name
    if name in {entry.tag for entry in shop.issued}:
        message, hint = f"met {name}, which is a tag, wanted a lot", "this kind of event is one of lots"
        return Problem(code="tag-not-lot", message=message, place=place, hint=hint)
    hint = did_you_mean(name, shop.lots) or "lots are the files in content/lots/"
    return Problem(code="unknown-lot", message=f'met the lot "{typed}", which has no record', place=place, hint=hint)


def issued_tags(typed: Iterable[str], shop: Shop, place: Place = NOWHERE) -> tuple[str | Problem, ...]:
    """Each typed tag once, as a number or as what is wrong with it."""
    issued = {entry.tag for entry in shop.issued}
    found = (_tag_or_lot(text, shop, issued, place) for text in typed)
    return tuple(dict.fromkeys(found))


def known_lots(typed: Iterable[str], shop: Shop, place: Place = NOWHERE) -> tuple[str | Problem, ...]:
    """Each typed lot once, as an id or as what is wrong with it."""
    return tuple(dict.fromkeys(known_lot(text, shop, place) for text in typed))


def replaced_problems(known: Mapping[str, Life], tags: Iterable[str], place: Place) -> Iterator[Problem]:
    """Numbers that were replaced: what happens to the thing happens under its new one."""
    for tag in tags:
        if known[tag].replaced_by:
            message = f"met {tag}, whose tag was replaced on {known[tag].ended}"
            hint = f"the thing's number is {_newest(tag, known)} now"
            yield Problem(code="tag-replaced", message=message, place=place, hint=hint, about=tag)


def _newest(tag: str, known: Mapping[str, Life]) -> str:
    """The number that a thing has now; a tag may be replaced more than once."""
    seen = {tag}
    while (new := known[tag].replaced_by) in known and new not in seen:
        seen.add(new)
        tag = new
    return tag


def wrong(found: Iterable[str | Problem]) -> Iterator[Problem]:
    """What of typed names could not be read."""
    return (name for name in found if isinstance(name, Problem))


def _tag_or_lot(typed: str, shop: Shop, issued: Collection[str], place: Place) -> str | Problem:
    tag = issued_tag(typed, shop.workshop.prefix, issued, place)
    name = typed.strip().upper()
    if isinstance(tag, Problem) and name in shop.lots:
        message, hint = f"met {name}, which is a lot, wanted a tag", "this is for tagged things"
        return Problem(code="lot-not-tag", message=message, place=place, hint=hint)
    if isinstance(tag, Problem) and name in shop.items:
        tags = [entry.tag for entry in shop.issued if entry.item == name]
        message = f"met {name}, which is a batch of things, wanted a tag"
        hint = f"its tags: {', '.join(tags[:8])}" if tags else f"passport tag {name} issues numbers"
        return Problem(code="item-not-tag", message=message, place=place, hint=hint)
    return tag
