"""What people see or read: marks, looks, the heap it was sorted into, papers."""

from __future__ import annotations

from passport.material.marking import read_mark
from passport.material.resins import OTHER, by_number, by_term, resins
from passport.material.seen import Ground, Seen, Support, named, unknown_word
from passport.problems import Level, Problem
from passport.reading.records import Appearance, MouldedMark, SupplierPaper


def moulded_mark(test: MouldedMark) -> Seen:
    """Medium with letters, weak with a number alone; moulds are reused, imports and caps differ."""
    by_letters, doubts = _lettered(test.letters or "")
    number = (test.number or "").strip().lstrip("0")
    by_digit = by_number(int(number)) if number.isdigit() else frozenset()
    if number and not by_digit and number != str(OTHER):
        doubts = (*doubts, _number_doubt(test.number or ""))
    both = by_letters & by_digit
    contradicts = bool(by_letters and (by_digit or number == str(OTHER)) and not both) and not _other(
        number, by_letters
    )
    said = "a mark " + " ".join(word for word in (test.number, test.letters) if word)
    return Seen(
        ground=Ground.SIGHT,
        said=said,
        code="moulded-mark",
        support=_mark_support(by_letters, by_digit, contradicts=contradicts),
        names=both or (by_letters | by_digit),
        doubts=(*doubts, *(_contradicts(test, by_digit, by_letters) if contradicts else ())),
        sources=("astm-d7611", "eu-97-129", "iso-1043-1"),
        facts=(("number", test.number or ""), ("letters", test.letters or "")),
    )


def _other(number: str, by_letters: frozenset[str]) -> bool:
    """Number 7 beside the letters of a resin without a number of its own: they agree."""
    return number == str(OTHER) and all(resins()[s].d7611.number == OTHER for s in by_letters)


def _mark_support(by_letters: frozenset[str], by_digit: frozenset[str], *, contradicts: bool) -> Support:
    if contradicts or not (by_letters or by_digit):
        return Support.WEAK if contradicts else Support.NONE
    return Support.MEDIUM if by_letters else Support.WEAK


def _lettered(letters: str) -> tuple[frozenset[str], tuple[Problem, ...]]:
    """Resins that letters mean: a mark such as >PP-TD20<, a term, a symbol, or a class that names none."""
    if not letters or letters.upper() in ("OTHER", "O"):
        return frozenset(), ()
    if ">" in letters or "<" in letters:
        mark, problems = read_mark(letters)
        single = mark is not None and len(mark.symbols) == 1
        return by_term(mark.symbols[0]) if mark is not None and single else frozenset(), problems
    names = by_term(letters.upper())
    return names, () if names else (unknown_word(letters, "letters of a mark"),)


def _number_doubt(number: str) -> Problem:
    said = f'met number "{number}" in a mark, wanted 1 to 7'
    hint = "lists with longer numbers exist elsewhere; keep the letters"
    return Problem(code="mark-number", message=said, hint=hint, level=Level.DOUBT, facts=(("number", number),))


def _contradicts(test: MouldedMark, by_digit: frozenset[str], by_letters: frozenset[str]) -> tuple[Problem, ...]:
    digit = "/".join(sorted(by_digit)) or "another resin"
    said = (
        f"met number {test.number} with letters {test.letters}, wanted both to name one resin: "
        f"{test.number} is {digit}, {test.letters} is {'/'.join(sorted(by_letters))}"
    )
    facts = (
        ("number", test.number or ""),
        ("letters", test.letters or ""),
        ("by_number", digit),
        ("by_letters", "/".join(sorted(by_letters))),
    )
    return (Problem(code="mark-contradicts", message=said, level=Level.DOUBT, facts=facts),)


def appearance(test: Appearance) -> Seen:
    """A hint: the fingernail, the sound and the feel name a kind of plastic, not a resin (conservation handbook)."""
    names, doubts = named(test.looks, "an appearance")
    return Seen(
        ground=Ground.SIGHT,
        said=f"an appearance of {test.looks}",
        code="appearance",
        support=Support.WEAK if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("conservation",),
        facts=(("looks", test.looks),),
    )


def sorted_heap(sorted_as: str) -> Seen:
    """The heap it was sorted into: as good as the eye that sorted, and one with the mark that the eye read."""
    names, doubts = named(sorted_as, "the name of a heap")
    return Seen(
        ground=Ground.SIGHT,
        said=f"sorted as {sorted_as}",
        code="sorted",
        support=Support.MEDIUM if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("practice",),
        facts=(("sorted_as", sorted_as),),
    )


def supplier_paper(test: SupplierPaper) -> Seen:
    """Medium: it speaks of what was sent, by somebody who knows, but nobody looked at the pieces."""
    names, doubts = named(test.says, "a paper's word")
    return Seen(
        ground=Ground.PAPER,
        said=f"a paper that says {test.says}",
        code="paper",
        support=Support.MEDIUM if names else Support.NONE,
        names=names,
        doubts=doubts,
        sources=("practice",),
        facts=(("says", test.says), ("document", test.document)),
    )
