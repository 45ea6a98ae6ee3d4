"""The reading guide of a deposit: how a person reads these records with a text editor and a pencil.

Pure: a worked-out book in, plain text out. The text around the worked examples lies in guide.xx.txt, one file a
language; steps of a computation are shown as the program works them out, in English.
"""

from __future__ import annotations

import importlib.resources
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from string import Template

from passport.massflow.explain import Step, explain
from passport.problems import Level, Problem, in_words, tally
from passport.reading.shop import operations
from passport.reading.tag_lists import FIRST_SEAL, IssuedTag
from passport.reading.tag_numbers import check_character
from passport.verdicts.book import Book

NAMES = {"en": "READ-ME-FIRST.txt", "fr": "LISEZ-MOI.txt"}
"""Language → the file's name. A workshop in neither language gets the English one."""
FIELDS, CHECK = "FIELDS.txt", "CHECK.txt"
MOST_DOUBTS = 100
"""Named in the guide; CHECK.txt has them all."""
MOST_STEPS = 60
"""A balance with more steps is no example."""

_WORDS = {
    "en": {
        "private": "It holds these records of private/, asked for by name: {names}. Keep it accordingly.",
        "no_private": "It holds nothing of the folder private/ (names of givers, telephone numbers).",
        "worked": "   An example, worked out: {item}, a batch of {count} (product {product}), {day}.",
        "closure": "   Its run, {item}: what was drawn and what came of it",
        "share": "   Its recycled share, from the sources down",
        "no_worked": "   No batch of things in these records has a balance that could be worked out.\n",
        "tag": "   {tag}: {number}",
        "end": "     at the end {p} + {value} = {total}, which leaves 1: the number is right.",
        "no_tag": "   No number was issued yet.",
        "seal": " The first line:\n   {cells}\n   printf %s '{sealed}' | sha256sum    begins with {seal}",
        "none": "     none",
        "no_licence": "none was given: ask the workshop or its successor",
        "more": "     and {n} more",
    },
    "fr": {
        "private": "Il contient ces fiches de private/, demandées par leur nom : {names}. Gardez-le en conséquence.",
        "no_private": "Il ne contient rien du dossier private/ (noms des donneurs, numéros de téléphone).",
        "worked": "   Un exemple : {item}, série de {count} (produit {product}), {day} (pas à pas, en anglais).",
        "closure": "   Son opération, {item} : ce qui a été prélevé et ce qui en est sorti",
        "share": "   Sa part recyclée, des sources vers l'objet",
        "no_worked": "   Aucune série d'objets de ces fiches n'a de bilan calculable.\n",
        "tag": "   {tag} : {number}",
        "end": "     à la fin {p} + {value} = {total}, qui laisse 1 : le numéro est juste.",
        "no_tag": "   Aucun numéro n'a encore été donné.",
        "seal": " La première ligne :\n   {cells}\n   printf %s '{sealed}' | sha256sum    commence par {seal}",
        "none": "     aucun",
        "no_licence": "aucune n'a été donnée : demandez à l'atelier ou à son successeur",
        "more": "     et {n} de plus",
    },
}


def guides(book: Book, problems: Sequence[Problem], base: str, private: Sequence[str]) -> dict[str, str]:
    """File name → text of every plain-text file that stands beside the data, but for the field list.

    base: the folder's name; private: the ids asked for by name; problems: all that `check` says.
    """
    languages = [lang for lang in book.shop.workshop.languages if lang in NAMES] or ["en"]
    texts = {NAMES[lang]: _guide(book, problems, base, private, lang) for lang in languages}
    return texts | {CHECK: check_text(problems)}


def check_text(problems: Sequence[Problem]) -> str:
    """What `passport check` prints of these problems, line by line."""
    return "".join(f"{line}\n" for line in [*map(in_words, problems), tally(problems)])


def _guide(book: Book, problems: Sequence[Problem], base: str, private: Sequence[str], lang: str) -> str:
    """The template of a language with this workshop's own figures and examples."""
    words, shop = _WORDS[lang], book.shop
    doubts = [problem for problem in problems if problem.level is Level.DOUBT]
    path, example = _example(book)
    text = importlib.resources.files("passport.deposit").joinpath(f"guide.{lang}.txt").read_text(encoding="utf-8")
    return Template(text).substitute(
        workshop=shop.workshop.name,
        prefix=shop.workshop.prefix,
        day=book.today.isoformat(),
        base=base,
        lots=len(shop.lots),
        runs=len(operations(shop)),
        items=len(shop.items),
        tags=len(shop.issued),
        events=len(shop.events),
        private_said=words["private"].format(names=", ".join(private)) if private else words["no_private"],
        example_path=path,
        example=textwrap.indent(example.rstrip("\n"), "     | ", lambda _: True),
        worked="".join(f"{line}\n" for line in _worked(book, lang)),
        tag_worked="\n".join(_tag_worked(book, lang)),
        seal_worked=_seal_worked(_own_first(book), lang),
        doubts=len(doubts),
        doubt_list="\n".join(_doubt_list(doubts, lang)),
        licence=shop.workshop.licence or words["no_licence"],
    )


def _example(book: Book) -> tuple[str, str]:
    """Path and text of the record of the lot that was made last, which shows most of what there is."""
    lots = sorted(book.shop.lots.values(), key=lambda lot: (bool(lot.operation), lot.date, lot.id))
    named = [book.shop.files.get(("lot", lot.id), "") for lot in reversed(lots)]
    file = next((name for name in named if name in book.shop.sources), "content/workshop.yaml")
    source = book.shop.sources.get(file)
    return file.removeprefix("content/"), source.text if source else ""


# --- the balance ---------------------------------------------------------------------------------------


def _worked(book: Book, lang: str) -> Iterator[str]:
    words = _WORDS[lang]
    for item in sorted(book.shop.items.values(), key=lambda item: (item.date, item.id), reverse=True):
        closure = book.ledger.closures.get(item.id)
        if closure is None or closure.residual_kg is None or item.id not in book.ledger.mixtures:
            continue
        share = explain(book.ledger, item.id, "recycled")
        if len(share) > MOST_STEPS:
            continue
        day = item.date.isoformat()
        yield words["worked"].format(item=item.id, count=item.count.pieces, product=item.product, day=day)
        yield words["closure"].format(item=item.id)
        yield from _steps(explain(book.ledger, item.id, "closure"))
        yield words["share"]
        yield from _steps(share)
        return
    yield words["no_worked"]


def _steps(steps: Iterable[Step]) -> Iterator[str]:
    for step in steps:
        yield f"     {step.about}: {step.formula}"
        yield f"       = {step.value}    ({step.rule})"


# --- the number ----------------------------------------------------------------------------------------


def _own_first(book: Book) -> IssuedTag | None:
    """The first line of the workshop's own list."""
    return next((entry for entry in book.shop.issued if "/from/" not in f"/{entry.place.file}"), None)


def _tag_worked(book: Book, lang: str) -> Iterator[str]:
    """MOD 37,36 of the first number issued, sign by sign (ISO/IEC 7064:2003)."""
    words = _WORDS[lang]
    first = _own_first(book)
    if first is None:
        yield words["no_tag"]
        return
    number = first.tag.replace("-", "")
    yield words["tag"].format(tag=first.tag, number=" ".join(number))
    running = 36
    for sign in number[:-1]:
        total = running + int(sign, 36)
        after = (2 * (total - 36 if total > 36 else total)) % 37  # noqa: PLR2004 - the system is named after it
        yield f"     {sign} = {int(sign, 36):>2}    {running:>2} + {int(sign, 36):>2} = {total:>2}    P = {after}"
        running = after
    value = int(check_character(number[:-1]), 36)
    yield words["end"].format(p=running, value=value, total=running + value)


def _seal_worked(first: IssuedTag | None, lang: str) -> str:
    if first is None:
        return ""
    cells = ",".join([first.tag, first.item, str(first.piece), first.issued.isoformat()])
    return _WORDS[lang]["seal"].format(cells=f"{cells},{first.seal}", sealed=f"{FIRST_SEAL},{cells}", seal=first.seal)


# --- the doubts ----------------------------------------------------------------------------------------


def _doubt_list(doubts: Sequence[Problem], lang: str) -> Iterator[str]:
    words = _WORDS[lang]
    if not doubts:
        yield words["none"]
    for doubt in doubts[:MOST_DOUBTS]:
        yield from textwrap.wrap(doubt.message, 90, initial_indent="     - ", subsequent_indent="       ")
    if len(doubts) > MOST_DOUBTS:
        yield words["more"].format(n=len(doubts) - MOST_DOUBTS)
