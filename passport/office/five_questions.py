"""The five questions of `start`, and the workshop's record from their answers."""

from __future__ import annotations

import re
from collections.abc import Mapping

from passport.amounts import NotAQuantity, read_mass
from passport.office import desk
from passport.office.asking import Asked, Question, at_a_terminal
from passport.office.wording import any_mass
from passport.pages.theme import catalogues_of_the_program
from passport.problems import Problem
from passport.reading.fields import read_language, read_line, read_prefix
from passport.reading.yaml_text import Fields, Value, record_text
from passport.tags.address import is_sample, read_address

NAME, PREFIX = "My workshop", "MY"
_FIELD = re.compile(r"(?P<field>[a-z_]+):(?P<rest>.*)")
_SCALE = re.compile(r"(?P<name>[A-Za-z][\w-]*)\s+(?P<step>.+)")


def workshop_record(ask: Asked, example: str) -> str:
    """The text of workshop.yaml: the example's explanations, with the answers in their places."""
    name = _asked(ask, _name())
    address = _asked(ask, _address())
    prefix = _asked(ask, _prefix(name))
    languages = _asked(ask, _languages())
    scales = _asked(ask, _scales())
    said: dict[str, Value] = {
        "name": name,
        "address": address,
        "prefix": prefix,
        "languages": re.split(r"[\s,]+", languages.strip(" ,")),
        "scales": {scale: _steps(step) for scale, step in _parted(scales)},
    }
    return "\n".join(_lines(example, said)) + "\n"


def _asked(ask: Asked, question: Question) -> str:
    """With the reason first: who starts does not know yet what to ask back."""
    if at_a_terminal() and ask.given.get(question.name) is None:
        desk.say(f"\n{question.why}")
    return ask(question)


# --- the questions ----------------------------------------------------------------------------------------


def _name() -> Question:
    why = "The name stands over every page and on every label."
    return Question(name="name", asks="What is your workshop called", why=why, proposal=NAME, read=read_line)


def _address() -> Question:
    why = (
        "The web address goes into every QR symbol and cannot be changed on a thing that has left: choose one that\n"
        "will be yours for decades, or leave it open today."
    )
    cost = "every label says SAMPLE until content/workshop.yaml has it"
    return Question(
        name="address", asks="Where will its pages be found", why=why, cost=cost, read=_read_site, tidy=_with_scheme
    )


def _with_scheme(text: str) -> str:
    return text if "://" in text else f"https://{text}"


def _read_site(text: str) -> object:
    found = read_address(text)
    if isinstance(found, Problem):
        raise NotAQuantity(text, "a web address such as https://pass.your-domain.ie", found.message)
    if is_sample(text):
        desk.say("  this is no public address: labels will say SAMPLE")
    return text


def _prefix(name: str) -> Question:
    why = "The prefix begins each tag number: one to four of the letters A to Z (without I and O) and digits 2 to 9."
    return Question(
        name="prefix",
        asks="Which prefix",
        why=why,
        proposal=prefix_of(name),
        read=read_prefix,
        tidy=str.upper,
    )


def prefix_of(name: str) -> str:
    """The initials of a name, as far as tag numbers may have them; of one word its first two letters."""
    words = re.findall(r"[A-Z2-9]+", name.upper())
    letters = "".join(word[0] for word in words) if len(words) > 1 else "".join(words)
    allowed = re.sub(r"[^A-HJ-NP-Z2-9]", "", letters)
    return allowed[: 4 if len(words) > 1 else 2] or PREFIX


def _languages() -> Question:
    why = "Each page is written in each language; the first one has the shortest addresses."
    return Question(
        name="languages",
        asks="Which languages, such as en or en, fr",
        why=why,
        proposal="en",
        read=_read_languages,
        tidy=str.lower,
    )


def _read_languages(text: str) -> object:
    known = catalogues_of_the_program()
    for language in re.split(r"[\s,]+", text.strip(" ,")):
        read_language(language)
        if language not in known:
            hint = f"for another one write theme/words/{language}.yaml first, then add it in workshop.yaml"
            raise NotAQuantity(text, f"some of {', '.join(known)}, parted by commas", hint)
    return text


def _scales() -> Question:
    why = 'How far a scale may be off decides what can be stated as "at least"; its smallest step is a good start.'
    cost = "nobody can say how far a figure may be off"
    return Question(
        name="scales",
        asks="Which scales, each with its smallest step",
        why=why,
        cost=cost,
        proposal="floor 0.1 kg, bench 1 g",
        read=_read_scales,
    )


def _read_scales(text: str) -> object:
    for name, step in _parted(text):
        if not name:
            raise NotAQuantity(text, "names with their smallest steps, such as floor 0.1 kg, bench 1 g")
        read_mass(any_mass(step))
    return text


def _parted(text: str) -> list[tuple[str, str]]:
    """Names and steps: "floor 0.1 kg, bench 1 g"."""
    met = [_SCALE.fullmatch(part.strip()) for part in re.split(r",\s*(?=[A-Za-z])", text)] if text else []
    return [(found["name"], found["step"]) if found else ("", text) for found in met]


def _steps(step: str) -> Fields:
    """A scale repeats and errs by no less than its step, as far as nobody has tried it (common practice, no source)."""
    return dict.fromkeys(("step", "repeat", "bias"), any_mass(step))


# --- the record -------------------------------------------------------------------------------------------


def _lines(example: str, said: dict[str, Value]) -> list[str]:
    """The example line by line: answers replace its values, what was not asked stands as a comment to fill in."""
    lines: list[str] = []
    of_scales = False
    for line in example.splitlines():
        met = _FIELD.match(line)
        if met:
            of_scales = met["field"] == "scales"
            lines += _field(line, met["field"], said)
        elif not (of_scales and line.startswith("  ") and not line.lstrip().startswith("#")):
            lines.append(line)
    return lines


def _field(line: str, field: str, said: dict[str, Value]) -> list[str]:
    before, mark, comment = line.partition(" #")
    if field == "rules":
        return [line]
    if not said.get(field):
        return [f"# {line}"]
    first, *more = _text(field, said[field])
    return [f"{first:<{len(before)}}{mark}{comment}", *more]


def _text(field: str, value: Value) -> list[str]:
    """A field in the lines that the example has for it."""
    if field == "languages" and not isinstance(value, Mapping):
        return [f"languages: [{', '.join(map(str, value))}]"]
    if isinstance(value, Mapping):
        return [f"{field}:", *(f"  {record_text({name: steps}).rstrip()}" for name, steps in value.items())]
    return record_text({field: value}).rstrip("\n").split("\n")
