"""Questions at the desk: each one is an option too, so that a script can answer; not knowing is an answer."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import click

from passport.amounts import NotAQuantity
from passport.office import desk
from passport.problems import did_you_mean, plain
from passport.reading.fields import quoted

UNKNOWN = frozenset({"?", "unknown", "not known", "not weighed"})
"""Words for an answer that nobody knows; an empty line says the same."""
EXPLAIN = frozenset({"why", "help"})
MOST_SAID = 2
"""Open answers whose cost is said in full; the others are only named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing to ask.

    name: the option's name without its hyphens, such as "mass".
    asks: the question in plain words, without a question mark.
    read: takes the answer, raises NotAQuantity for what cannot be; its value is not used.
    why: one line on what it is for, shown when somebody asks.
    cost: what a missing answer will cost later; "" where the record cannot be without it.
    proposal: what an empty line means, shown in brackets; "" for no proposal.
    known: names to choose from, in any case of letters; listed when somebody asks and used for "did you mean".
    tidy: brings what was typed into the form of records: "62,4" → "62.4 kg".
    """

    name: str
    asks: str
    read: Callable[[str], object] = str
    why: str = ""
    cost: str = ""
    proposal: str = ""
    known: tuple[str, ...] = ()
    tidy: Callable[[str], str] = str
    vital: bool = False
    """Asked in the quick form too."""
    may_end: bool = False
    """An empty line is an answer, with nothing to say about it: a list ends here."""


@dataclass(slots=True)
class Asked:
    """One sitting of questions: which options were given, and what nobody could answer."""

    given: Mapping[str, str | None] = field(default_factory=dict)
    """Option → what it says; None where it was not used."""
    quick: bool = False
    """Whether questions with a cost are passed over where no option answers them."""
    left_open: list[str] = field(default_factory=list)
    """What the missing answers will cost, a line each."""

    def __call__(self, question: Question) -> str:
        """The text for the record, or "" where nobody knows it."""
        given = self.given.get(question.name)
        passed_over = self.quick and given is None and bool(question.cost) and not question.vital
        text = question.proposal if passed_over else answer(question, given)
        if not text and question.cost and (passed_over or not at_a_terminal()):
            self.left_open += costs([question], [text])
        return text

    def say_what_is_open(self) -> None:
        """What a person at the desk was told with each question, for scripts and the quick form."""
        for line in self.left_open[:MOST_SAID]:
            desk.say(f"left open: {line}")
        if rest := [line.partition(" ")[0] for line in self.left_open[MOST_SAID:]]:
            desk.say(f"left open too: {', '.join(rest)}")


def at_a_terminal() -> bool:
    """Whether somebody is there to read a question and to answer it."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def say_how() -> None:
    """What a person may answer, once before the first question."""
    if at_a_terminal():
        desk.say("Enter takes what stands in brackets; ? says that nobody knows; why explains a question.")


def answer(question: Question, given: str | None) -> str:
    """The text for the record, or "" where nobody knows it.

    given: what the option says, None where it was not used. Without an option a person is asked, again and
    again until the answer can be read; where nobody is there the proposal holds, and a question that the
    record cannot be without ends with exit code 2 and the option's name.
    """
    if given is not None:
        return _from_option(question, given)
    if at_a_terminal():
        return _from_person(question)
    if not question.proposal and not question.cost:
        raise click.UsageError(f"--{question.name} is wanted: {question.asks}")
    return question.proposal


def agreed(asks: str, *, yes: bool) -> bool:
    """Whether to go on: asked of a person, taken for granted with --yes or where nobody is there."""
    return yes or not at_a_terminal() or click.confirm(asks, default=True, err=True)


def costs(questions: Iterable[Question], answers: Iterable[str]) -> tuple[str, ...]:
    """What the answers left open will cost, one line each."""
    pairs = zip(questions, answers, strict=True)
    return tuple(f"{q.name} is not known: {q.cost}" for q, text in pairs if not text and q.cost)


def _from_option(question: Question, given: str) -> str:
    text = given.strip()
    if _unknown(text) and question.cost:
        return ""
    text = _as_meant(question, text)
    fault = _fault(question, text)
    if fault:
        raise click.UsageError(f"--{question.name}: {fault}")
    return text


def _from_person(question: Question) -> str:
    shown = f" [{question.proposal}]" if question.proposal else ""
    while True:
        asks = f"{question.asks}?{shown}"
        text = click.prompt(asks, default="", show_default=False, prompt_suffix=" ", err=True).strip()
        text = text or question.proposal
        if text.lower() in EXPLAIN:
            _explain(question)
        elif not text and question.may_end:
            return ""
        elif _unknown(text) and question.cost:
            desk.say(f"  left open: {question.cost}")
            return ""
        elif fault := _fault(question, _as_meant(question, text)):
            desk.say(f"  {fault}")
        else:
            return _as_meant(question, text)


def _as_meant(question: Question, text: str) -> str:
    """In the form of records; a known name in the letters that it is known by."""
    if _unknown(text):
        return text
    tidied = question.tidy(text)
    return next((name for name in question.known if name.casefold() == tidied.casefold()), tidied)


def _unknown(text: str) -> bool:
    return not text or text.lower() in UNKNOWN


def _fault(question: Question, text: str) -> str:
    """Why a text is no answer, or nothing."""
    if _unknown(text):
        return "this one is needed" + (f"; {question.why}" if question.why else "")
    if question.known and text not in question.known:
        near = did_you_mean(text, question.known) or f"known are {', '.join(question.known)}"
        return plain(f"met {quoted(text)}; {near}")
    try:
        question.read(text)
    except NotAQuantity as slip:
        hint = f"; {slip.hint}" if slip.hint else ""
        return plain(f"met {quoted(text)}, wanted {slip.wanted}{hint}")
    return ""


def _explain(question: Question) -> None:
    for line in (question.why, question.cost and f"without it: {question.cost}"):
        if line:
            desk.say(f"  {line}")
    if question.known:
        desk.say(f"  known are {', '.join(question.known)}")
