"""Corrections: what a published record said wrongly, set right by a record of its own, beside the old value.

A correction names the record, the field, what it said (`was`) and what is right (`is`). The record's file stays
as it was published; its tree is changed after reading and before the record is built, so that every figure
follows. `was` must be what the record says: a correction is never laid over a value that nobody saw.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator
from pydantic.dataclasses import dataclass

from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import DateField, IdField, LineField, WordsField, quoted, refusal
from passport.reading.marked import Moved, Source, Step, Tree

KINDS = ("lot", "run", "item", "stream", "product", "event")
"""What can be corrected. The workshop's own record holds settings and a recall is public: neither is here."""

Path = tuple[Step, ...]

_STRICT = ConfigDict(extra="forbid", use_attribute_docstrings=True)


def _read_said(value: Any) -> Any:
    if value in ("", [], {}):
        raise refusal("nothing", "what the record said", "leave the field out where it said nothing")
    return value.strip() if isinstance(value, str) else value


SaidField = Annotated[
    Any, BeforeValidator(_read_said), WithJsonSchema({"type": ["string", "number", "object", "array"]})
]
"""A value as a record writes it: text, or what stands in its brackets."""


@dataclass(frozen=True, slots=True, kw_only=True, config=_STRICT)
class Correction:
    """What a record said wrongly and what is right. `content/corrections/YEAR.yaml` is a list of them."""

    file: str
    number: int
    date: DateField
    """The day of the correction."""
    lot: IdField = ""
    """The lot whose record was wrong."""
    run: IdField = ""
    """Instead: the run."""
    item: IdField = ""
    """Instead: the item batch."""
    stream: IdField = ""
    """Instead: the stream."""
    product: IdField = ""
    """Instead: the product."""
    event: LineField = ""
    """Instead: the event, by its date, tag or lot, and word as first written: `2026-09-30 SH-021 weighed`."""
    field: LineField
    """Which field was wrong; inside others with points, counted from 0: `draws.0.mass`."""
    was: SaidField | None = None
    """What the record says; left out where it does not have the field."""
    is_: Annotated[SaidField | None, Field(alias="is")] = None
    """What is right; left out where the field is to go."""
    because: WordsField
    """Why; it stands on the pages beside the old value."""

    @model_validator(mode="after")
    def _of_one_thing(self) -> Self:
        named = [kind for kind in KINDS if getattr(self, kind)]
        if len(named) != 1:
            met = "a correction of nothing" if not named else f"a correction of {' and '.join(named)}"
            raise refusal(met, f"one of {', '.join(f'`{kind}:`' for kind in KINDS)}", code="correction-of")
        if self.was == self.is_:
            raise refusal("a correction that changes nothing", "`was:` and `is:` that differ", code="correction-of")
        return self

    @property
    def kind(self) -> str:
        """The word for the kind of record that it corrects."""
        return next(kind for kind in KINDS if getattr(self, kind))

    @property
    def name(self) -> str:
        """The id of the record; of an event its `event_name`."""
        return str(getattr(self, self.kind))


def steps(field: str) -> Path:
    """`draws.0.mass` as the path that it means."""
    return tuple(int(part) if part.isascii() and part.isdigit() else part for part in field.split("."))


def event_name(tree: Tree) -> str:
    """How a correction names an event: its date, tag or lot, and word ("" for what is no event)."""
    if not isinstance(tree, dict):
        return ""
    said = (tree.get("date"), tree.get("tag") or tree.get("lot"), tree.get("event"))
    date, who, word = (part if isinstance(part, str) else "" for part in said)
    return f"{date} {who.strip().upper()} {word}"


def in_turn(corrections: Iterable[Correction]) -> tuple[Correction, ...]:
    """Corrections in the order in which they hold: by day, then as they were written."""
    return tuple(sorted(corrections, key=lambda c: (c.date, c.file, c.number)))


def value_at(tree: Tree, path: Path) -> Tree | None:
    """What a tree says at a path, None where it has no such field."""
    here: Tree | None = tree
    for step in path:
        if isinstance(here, dict):
            here = here.get(str(step))
        elif isinstance(here, list) and isinstance(step, int) and step < len(here):
            here = here[step]
        else:
            return None
    return here


def corrected(
    source: Source, tree: Tree, corrections: Sequence[Correction], sources: Mapping[str, Source], at: Path = ()
) -> tuple[Source, Tree, tuple[Problem, ...]]:
    """A record's source and tree with the corrections made, and what is wrong with these.

    source: of the record's file; at: the path of the record in it, for lists of records. sources: the files that
    the corrections stand in. The source that comes back places a corrected value where its correction stands.
    A correction that cannot be made is a problem and changes nothing.
    """
    now, here, problems = copy.deepcopy(tree), source, []
    for correction in in_turn(corrections):
        mine = sources[correction.file]
        path = steps(correction.field)
        fault = _fault(correction, now, path, here, mine, at)
        if fault:
            problems.append(fault)
            continue
        _set(now, path, correction.is_)
        moved = Moved((*at, *path), mine, (correction.number, "is"))
        here = replace(here, moved=(*here.moved, moved))
    return here, now, tuple(problems)


def _set(tree: Tree, path: Path, value: Any) -> None:
    """Put a value where the path leads; the way there exists."""
    above: Any = value_at(tree, path[:-1])
    key = path[-1] if isinstance(above, list) else str(path[-1])
    if value is None:
        del above[key]
    else:
        above[key] = copy.deepcopy(value)


def _fault(correction: Correction, tree: Tree, path: Path, record: Source, mine: Source, at: Path) -> Problem | None:
    """Why a correction cannot be made, or None."""
    if path[0] == "id":
        hint = "an id stands on tags and pages: write a new record, and say in its notes what it replaces"
        message = f"met a correction of the id {correction.name}, wanted one of a field"
        return _problem(correction, mine, "field", "correction-of-id", message, hint)
    above, said = value_at(tree, path[:-1]), value_at(tree, path)
    if not isinstance(above, dict | list) or (said is None and correction.was is not None):
        return _unknown_field(correction, tree, mine)
    if isinstance(above, list) and (said is None or correction.is_ is None):
        hint = f"name the field `{'.'.join(map(str, path[:-1]))}`, with the whole list as `was:` and as `is:`"
        message = "met an entry of a list added or taken away, wanted the list corrected as a whole"
        return _problem(correction, mine, "field", "correction-of-entry", message, hint)
    if _bare(said) != correction.was:
        return _edited(correction, said, record.place(*at, *path), mine)
    return None


def _bare(said: Tree | None) -> Tree | None:
    return said.strip() if isinstance(said, str) else said


def _problem(correction: Correction, mine: Source, field: str, code: str, message: str, hint: str) -> Problem:
    place = mine.place(correction.number, field)
    return Problem(code=code, message=message, place=place, hint=hint, about=correction.name)


def _unknown_field(correction: Correction, tree: Tree, mine: Source) -> Problem:
    known = list(_paths(tree))
    message = f'met the field "{correction.field}", which {correction.name} does not have'
    hint = did_you_mean(correction.field, known) or f"it has {', '.join(k for k in known if '.' not in k)}"
    return _problem(correction, mine, "field", "correction-field", message, hint)


def _edited(correction: Correction, said: Tree | None, place: Place, mine: Source) -> Problem:
    """The record says something else than the correction says it did: both places are named."""
    met = "nothing" if correction.was is None else quoted(correction.was)
    wanted = "nothing" if said is None else quoted(said)
    message = f"met {met} as what `{correction.field}` of {correction.name} was, wanted what it says: {wanted}"
    if "/corrections/" in place.file:
        hint = f"the correction at {place} comes before, by its day: begin where it ended"
    elif correction.was is None:
        hint = f"it says so at {place}: add it as `was:`, so that no value is changed unseen"
    else:
        hint = f"it says so at {place}: was the record edited meanwhile? A published value is changed here alone"
    return _problem(correction, mine, "was" if correction.was is not None else "field", "correction-was", message, hint)


def _paths(tree: Tree, above: str = "") -> Iterator[str]:
    """Every field of a tree, as a correction names it."""
    inner: Iterable[tuple[Step, Tree]] = ()
    if isinstance(tree, dict):
        inner = tree.items()
    elif isinstance(tree, list):
        inner = enumerate(tree)
    for step, value in inner:
        yield f"{above}{step}"
        yield from _paths(value, f"{above}{step}.")


def of_unknown(correction: Correction, known: Iterable[str], mine: Source) -> Problem:
    """The problem of a correction whose record does not exist. known: the names of that kind of record."""
    kind = correction.kind
    message = f'met the {kind} "{correction.name}", which has no record'
    example = "name it by date, tag or lot, and word, such as `2026-09-30 SH-021 weighed`"
    hint = did_you_mean(correction.name, known) or (example if kind == "event" else "look for its id in content/")
    return _problem(correction, mine, kind, f"unknown-{kind}", message, hint)


def of_two(correction: Correction, mine: Source) -> Problem:
    """The problem of a correction whose event is there twice."""
    message = f'met the event "{correction.name}", which is there more than once, wanted one event'
    hint = "delete the second one in its list if it is a slip"
    return _problem(correction, mine, "event", "correction-of-two", message, hint)
