"""The check of wording over all free texts of the records, and over a theme's own words.

What law or ISO 14021 does not allow is a finding with its place, its reason, its sources with their days, and the
sentence that the records would back. An exception that the workshop has evidence for is kept in `claims_allowed`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date

from passport.problems import Level, Place, Problem
from passport.reading.records import ClaimAllowed, Workshop
from passport.verdicts.backing import Backing, backing_of, sentence, streams_named
from passport.verdicts.book import Book
from passport.verdicts.claims import Met, Source, claims_in, folded
from passport.verdicts.free_texts import WAS, FreeText, free_texts, place_of

OWN_WORDS = "claims_allowed"
"""The exceptions themselves name what they except."""
THEME = "theme"
MOST_SOURCES = 3
"""Sources printed with a finding; the table has them all."""
_SPOKEN = ("en", "fr")


def claim_problems(book: Book) -> tuple[Problem, ...]:
    """Every finding in the records, and every exception that nothing needs."""
    workshop, used = book.shop.workshop, set[int]()
    found = tuple(_in_records(book, workshop, used))
    return (*found, *_unused(book, used))


def _in_records(book: Book, workshop: Workshop, used: set[int]) -> Iterator[Problem]:
    rules = frozenset[str](workshop.rules)
    for said in free_texts(book.shop):
        if said.path[0] in (OWN_WORDS, WAS):  # what was corrected is no claim any more
            continue
        for met in claims_in(said.text, rules, book.today):
            number = _exception(workshop, _record_key(said), said.text, met)
            if number is not None:
                used.add(number)
            else:
                yield from _finding(book, said, met)


def _record_key(said: FreeText) -> str:
    """How an exception names the record: workshop, products/planter, events/RY-22224M."""
    return f"{said.kind}s/{said.id}".casefold() if said.id else said.kind


def _exception(workshop: Workshop, record: str, text: str, met: Met) -> int | None:
    """The number of the exception that covers some words; none is taken from what the law bans outright."""
    if met.rule.never:
        return None
    plain, words = folded(text), folded(met.words)
    for number, allowed in enumerate(workshop.claims_allowed):
        kept = folded(allowed.words)
        if allowed.where.casefold() in ("", record) and words in kept and kept in plain:
            return number
    return None


def _unused(book: Book, used: set[int]) -> Iterator[Problem]:
    for number, allowed in enumerate(book.shop.workshop.claims_allowed):
        # a theme's words are checked apart
        if number not in used and allowed.where.casefold() != THEME:
            where = f" in {allowed.where}" if allowed.where else ""
            yield Problem(
                code="claim-exception-unused",
                message=f'met the exception "{allowed.words}"{where}, which no text needs',
                place=book.shop.place("workshop", "", OWN_WORDS, number, "words"),
                hint="delete it, or write its words and its record as they stand: products/planter, workshop",
                level=Level.ADVICE,
            )


# --- one finding --------------------------------------------------------------------------------------


def _finding(book: Book, said: FreeText, met: Met) -> Iterator[Problem]:
    rules, day = frozenset[str](book.shop.workshop.rules), book.today
    standing, coming = met.rule.standing(rules, day), met.rule.coming(rules, day)
    backing = backing_of(book, said.kind, said.id)
    judged = _judged(met, backing)
    if judged is None:
        return
    code, level, wanted, why = judged
    yield Problem(
        code=code,
        message=f'met "{met.words}", wanted {wanted}: {why} ({_cited(standing or coming)})',
        place=place_of(book.shop, said, met.words),
        hint=_better(book, said, met, backing),
        level=level if standing else Level.ADVICE,
        about=said.id,
        facts=(("words", met.words),),
    )


Judged = tuple[str, Level, str, str]
"""Code, level, what was wanted, why."""
_WANTED = {Level.ERROR: "other words", Level.DOUBT: "a figure or a condition with it"}


def _judged(met: Met, backing: Backing) -> Judged | None:
    """What is wrong with some words beside what the records back; None where nothing is."""
    rule = met.rule
    if not met.percents:
        return rule.code, rule.level, _WANTED[rule.level], rule.why
    (percent,) = met.percents
    shown = f"{float(percent):g} %"
    if not (backing.nodes or backing.shares):
        why = f"no record stands behind {shown} here"
        return "claim-unbacked", Level.DOUBT, "the figure on the thing's own page", why
    if not backing.backs(percent, met.kind, at_least=met.at_least):
        return "claim-figure", Level.ERROR, "the share that the records give", f"they do not give {shown} {met.kind}"
    if not met.based:
        return "claim-no-base", Level.DOUBT, 'the words "by mass" with it', "a share needs its base"
    return None


def _cited(found: Iterable[Source]) -> str:
    said = [f"{source.says}, since {source.since.isoformat()}" for source in found]
    more = f"; and {len(said) - MOST_SOURCES} more" if len(said) > MOST_SOURCES else ""
    return "; ".join(said[:MOST_SOURCES]) + more


def _better(book: Book, said: FreeText, met: Met, backing: Backing) -> str:
    lang = said.lang if said.lang in _SPOKEN else "en"
    better = met.rule.better[lang].format(
        backed=sentence(backing, lang), name=book.shop.workshop.name, streams=streams_named(book, backing, lang)
    )
    return f"{better}; no exception is taken from this" if met.rule.never else better


# --- a theme ------------------------------------------------------------------------------------------

_MARKUP = re.compile(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}|<(script|style)\b.*?</\1>|<[^>]*>", re.DOTALL)


def theme_problems(
    catalogues: Mapping[str, Mapping[str, str]], templates: Mapping[str, str], workshop: Workshop, day: date
) -> tuple[Problem, ...]:
    """What may not stand in a theme: catalogues of words by language, and the words of its templates.

    Figures come from the program through gaps; a percentage that a catalogue types beside "recycled" is an error.
    """
    found: list[Problem] = []
    for lang, entries in catalogues.items():
        place = Place(f"theme/words/{lang}.yaml")
        for key, text in entries.items():
            found += (replace(p, place=place, about=key) for p in _in_theme(text, lang, workshop, day))
    for name, source in templates.items():
        bare = _MARKUP.sub(lambda m: re.sub(r"[^\n]", " ", m[0]), source)
        for line, text in enumerate(bare.split("\n"), 1):
            place = Place(f"theme/templates/{name}", line, 1)
            found += (replace(p, place=place) for p in _in_theme(text, "en", workshop, day))
    return tuple(found)


def _in_theme(text: str, lang: str, workshop: Workshop, day: date) -> Iterator[Problem]:
    rules = frozenset[str](workshop.rules)
    for met in claims_in(text, rules, day):
        typed = bool(met.percents)
        standing = met.rule.standing(rules, day)
        if not standing or not (met.rule.theme or typed) or _exception(workshop, THEME, text, met) is not None:
            continue
        why = "figures come from the records through a gap such as {n}" if typed else met.rule.why
        better = met.rule.better.get(lang, met.rule.better["en"])
        yield Problem(
            code="claim-figure" if typed else met.rule.code,
            message=f'met "{met.words}", wanted {_WANTED[met.rule.level]}: {why} ({_cited(standing)})',
            hint=better.format(backed=sentence(Backing(), lang), name=workshop.name, streams=""),
            level=Level.ERROR if typed else met.rule.level,
        )


# --- exceptions on pages ------------------------------------------------------------------------------


def exceptions_for(workshop: Workshop, *records: str) -> tuple[ClaimAllowed, ...]:
    """The exceptions that a page of these records shows ("products/planter"); with none named, all of them."""
    wanted = {"", "workshop", THEME, *(record.casefold() for record in records)}
    return tuple(a for a in workshop.claims_allowed if not records or a.where.casefold() in wanted)
