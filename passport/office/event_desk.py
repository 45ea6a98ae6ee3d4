"""From what was typed to events: asked for, checked against all records, written all or none."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import click
from pydantic import ValidationError

from passport.massflow.closure import kg
from passport.office import desk
from passport.office.asking import Asked, Question
from passport.office.event_kinds import (
    ASKED_BY_OPTION,
    ELSEWHERE,
    EventKind,
    event_kinds,
    question,
)
from passport.office.event_rows import RowEvent, Table, events_of, placed_in
from passport.office.saving import event_lines, save
from passport.office.typed import issued_tags, known_lots, replaced_problems, today, wrong
from passport.problems import Place, Problem, did_you_mean
from passport.reading.decode import adapter
from passport.reading.fields import read_date
from passport.reading.records import LINEAGE, AnyEvent, LotEvent
from passport.reading.shop import Shop
from passport.reading.spreadsheet import read_rows
from passport.verdicts.book import Book, work_out
from passport.verdicts.life import lives
from passport.writing import AppendLines, as_it_will_be

HERE = Place("event")
ONE_LOT = ("mass",)
"""Fields that differ from lot to lot: one option for several would be a slip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What stands on the command line."""

    folder: Path
    kind: str
    names: tuple[str, ...]
    day: dt.date | None
    given: Mapping[str, str]
    """The text of each field's option that was used."""
    dates: str
    """How a table writes its days."""


Written = dict[str, object]


# --- one by one ---------------------------------------------------------------------------------------


def from_names(order: Order, *, yes: bool, dry_run: bool) -> Written:
    """Record one kind of event of the tags or lots named."""
    kind = _kind(order.kind)
    _refuse_wrong_use(kind, order)
    read = desk.read_records(order.folder)
    shop = read[0]
    names = _named(shop, kind, order.names)
    common = _answered(order, kind, shop)
    events = [{"date": common["date"], kind.subject: name, "event": kind.word} | common for name in names]
    diary = _diary(shop)
    recorded = [_again(event, HERE) for event in events if _recorded(diary, event)]
    if recorded:
        desk.stop(recorded)
    before = work_out(shop) if kind.word == "weighed" else None
    written = save(
        order.folder,
        read,
        event_lines(events, order.folder),
        yes=yes,
        dry_run=dry_run,
        told=lambda book: _tell(book, names, before),
    )
    return {"events": events, "written": written}


def _kind(word: str) -> EventKind:
    known = [name for name in event_kinds() if name not in ELSEWHERE]
    if word in ELSEWHERE:
        raise click.UsageError(f"{word} has a command of its own: {ELSEWHERE[word]}")
    if word not in known:
        hint = did_you_mean(word, known) or f"the kinds are {', '.join(known)}"
        raise click.UsageError(f"name the KIND of event first; {hint}" if not word else f'met "{word}"; {hint}')
    return event_kinds()[word]


def _refuse_wrong_use(kind: EventKind, order: Order) -> None:
    if not order.names:
        raise click.UsageError(f"name the {kind.subject}s that it happened to")
    for name in order.given:
        if name not in kind.fields:
            raise click.UsageError(f"{kind.word} has no --{name}; it has {', '.join(f'--{n}' for n in kind.fields)}")
    for name in ONE_LOT:
        if name in kind.fields and len(order.names) > 1:
            raise click.UsageError(f"the {name} is of one lot: name one, or give a table with --csv")


def _named(shop: Shop, kind: EventKind, typed: Sequence[str]) -> tuple[str, ...]:
    """The tags or lots, or the end of the command with all that is wrong with them."""
    found = known_lots(typed, shop, HERE) if kind.of_lots else issued_tags(typed, shop, HERE)
    names = tuple(name for name in found if isinstance(name, str))
    faults = [*wrong(found), *(() if kind.of_lots else replaced_problems(lives(shop), names, HERE))]
    if faults:
        desk.stop(faults)
    return names


def _answered(order: Order, kind: EventKind, shop: Shop) -> dict[str, str]:
    """Every field of the event in its order; empty where nobody knows it."""
    ask = Asked(given={**order.given, "on": order.day.isoformat() if order.day else None})
    day = ask(Question(name="on", asks="On which day", read=read_date, proposal=today().isoformat()))
    answers = {name: ask(question(kind, name, shop)) for name in kind.fields if _to_ask(order, name)}
    return {"date": day, **{name: text for name, text in answers.items() if text}}


def _to_ask(order: Order, name: str) -> bool:
    return name in order.given or name not in ASKED_BY_OPTION


def _tell(book: Book, names: Iterable[str], before: Book | None) -> None:
    for name in names:
        life = book.lives.get(name)
        if life is not None:
            desk.say(f"{name}: {book.shop.items[life.item].product.lower()}, now {life.stage.value.replace('-', ' ')}")
        elif before is not None:
            now, then = book.ledger.stock[name], before.ledger.stock[name]
            desk.say(f"{name}: {_signed(now.adjusted_kg - then.adjusted_kg)} kg to what the books held")
        else:
            left = book.ledger.stock[name].books_kg
            held = book.ledger.stock[name].state.value
            desk.say(
                f"{name}: {held}, {kg(left)} kg by the books" if left is not None else f"{name}: {held}, not weighed"
            )


def _signed(mass: object) -> str:
    text = kg(mass)  # type: ignore[arg-type]
    return text if text.startswith("-") or text == "0" else f"+{text}"


# --- many at once -------------------------------------------------------------------------------------


def from_table(order: Order, file: Path, *, yes: bool, dry_run: bool) -> Written:
    """Record all events of a table, or none with every problem of every row."""
    if order.names:
        raise click.UsageError("--csv names its tags and lots itself: give no TAG or LOT beside it")
    given = dict(order.given) | ({"event": _kind(order.kind).word} if order.kind else {})
    given |= {"date": order.day.isoformat()} if order.day else {}
    read = desk.read_records(order.folder)
    rows, problems = read_rows(_bytes_of(file), file.name)
    table = Table(shop=read[0], issued=frozenset(entry.tag for entry in read[0].issued), given=given, order=order.dates)
    events, more = events_of(table, rows)
    problems = (*problems, *more, *_row_problems(read[0], events))
    if problems:
        desk.say("nothing written: every row must hold")
        desk.stop(problems)
    changes = event_lines((event.fields for event in events), order.folder)
    lines = _lines(desk.content_of(order.folder), changes, events)
    written = save(order.folder, read, changes, yes=yes, dry_run=dry_run, placed=placed_in(events, lines))
    desk.say(f"{len(events)} event{'' if len(events) == 1 else 's'}")
    return {"events": [dict(event.fields) for event in events], "written": written}


def _bytes_of(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise click.UsageError(f"--csv {file}: {error.strerror}") from None


def _row_problems(shop: Shop, events: Sequence[RowEvent]) -> Iterator[Problem]:
    """Rows that are recorded already, and those of replaced tags."""
    diary, known = _diary(shop), lives(shop)
    for event in events:
        if _recorded(diary, event.fields):
            yield _again(event.fields, event.row.place())
        if tag := event.fields.get("tag"):
            yield from replaced_problems(known, [tag], event.row.place())


def _lines(
    content: Path, changes: Sequence[AppendLines], events: Sequence[RowEvent]
) -> Mapping[tuple[str, int], RowEvent]:
    """The event on each line to be written, by file and line number as problems name them."""
    found: dict[tuple[str, int], RowEvent] = {}
    after = as_it_will_be(content, changes)
    for change in changes:
        year = Path(change.path).stem
        of_year = [event for event in events if event.fields["date"].startswith(year)]
        first = after[change.path].count(b"\n") - len(change.lines) + 1
        name = f"{content.name}/{change.path}"
        found |= {(name, first + i): event for i, event in enumerate(of_year)}
    return found


# --- again --------------------------------------------------------------------------------------------


Diary = Mapping[tuple[str, str, str], Sequence[AnyEvent]]
"""All events by kind, day, and tag or lot."""


def _diary(shop: Shop) -> Diary:
    found: dict[tuple[str, str, str], list[AnyEvent]] = {}
    for event in shop.events:
        about = event.lot if isinstance(event, LotEvent) else event.tag
        found.setdefault((event.event, event.date.isoformat(), about), []).append(event)
    return found


def _recorded(diary: Diary, fields: Mapping[str, str]) -> bool:
    """Whether just this event is in the records: a table given twice is a slip of the hand."""
    same = diary.get((fields["event"], fields["date"], fields.get("tag") or fields.get("lot") or ""), ())
    if not same:
        return False
    try:
        new = adapter(AnyEvent).validate_python({**fields, "file": "", "number": 0})
    except ValidationError:
        return False  # the trial words what is wrong with it
    return any(_said(event) == _said(new) for event in same)


def _said(event: AnyEvent) -> dict[str, object]:
    """All that an event says, without where it stands."""
    return {f.name: getattr(event, f.name) for f in dataclasses.fields(event) if f.name not in LINEAGE}


def _again(fields: Mapping[str, str], place: Place) -> Problem:
    name = fields.get("tag") or fields.get("lot") or ""
    message = f"met {name} {fields['event']} on {fields['date']}, which is in the records already"
    return Problem(code="event-recorded", message=message, place=place, hint="leave it out, or correct its day")
