"""From a tag to its repair: asked, checked for fit, then run, old part and event written together."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from passport.amounts import NotAQuantity, read_mass
from passport.massflow.closure import kg
from passport.massflow.operation_table import operation_kind
from passport.office import desk
from passport.office.asking import Asked, Question
from passport.office.goods_in import day_question, free_number, scale_used
from passport.office.saving import event_lines, lot_file, next_id, run_file, save, taken_ids
from passport.office.things_back import PartOut, Thing, main_resin_of, things
from passport.office.typed import issued_tags, known_lot, today, wrong
from passport.office.wording import kilograms, mass_or_pieces, read_drawn
from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import NOT_WEIGHED
from passport.reading.records import Weathering
from passport.reading.shop import Shop, operations
from passport.reading.yaml_text import Fields, Value
from passport.verdicts.book import Book, work_out

HERE = Place("mend")
RUNS, OLD = "RP", "OP"
"""What numbers of repairs, and of the parts they take out, begin with where there were none yet."""
Done = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What stands on the command line."""

    folder: Path
    typed: str
    ask: Asked
    yes: bool
    dry_run: bool


def mend(order: Order) -> Done:
    """Ask, show, write; what was done, for another program."""
    read = desk.read_records(order.folder)
    shop, ask = read[0], order.ask
    book = work_out(shop)
    thing = _thing(book, order.typed)
    day = ask(day_question(today().isoformat(), "Which day was it mended"))
    part = _part(ask, thing)
    source = ask(_source(shop, thing))
    _refuse_misfit(book, part, source, because=ask.given.get("because"))
    new = ask(_amount(source))
    old_mass = ask(_old(part)) or NOT_WEIGHED.value
    scale = dict(scale_used(ask, shop))
    run, old = _numbers(ask, shop)
    said = {name: ask.given.get(name) or "" for name in ("note", "because")}
    amount = {"pieces": new.removesuffix(" pcs")} if new.endswith("pcs") else {"mass": new}
    draws: list[Value] = [{"lot": source, **amount}, {"tag": thing.tag, "part": part.name, "mass": old_mass}]
    repair: Fields = {"date": day, "operation": "repair", "draws": draws, **scale, "notes": said["because"]}
    old_part: Fields = {"date": day, "run": run, "mass": old_mass, **scale, "form": "pieces", **_seen(ask)}
    event: Fields = {"date": day, "tag": thing.tag, "event": "repaired", "run": run, "note": said["note"]}
    ask.say_what_is_open()
    written = save(
        order.folder,
        read,
        (
            run_file(order.folder, run, repair),
            lot_file(order.folder, old, old_part),
            *event_lines([event], order.folder),
        ),
        yes=order.yes,
        dry_run=order.dry_run,
        told=lambda after: _tell(book, after, thing, old),
    )
    return {"tag": thing.tag, "run": run, "old_part": old, "written": written}


def _thing(book: Book, typed: str) -> Thing:
    """The thing, or the end of the command."""
    found = issued_tags([typed], book.shop, HERE)
    known, faults = things(book, [tag for tag in found if isinstance(tag, str)], HERE)
    if problems := (*wrong(found), *faults):
        desk.stop(problems)
    return known[0]


def _part(ask: Asked, thing: Thing) -> PartOut:
    """The part that is new; a thing of one piece gets new material into the whole of it."""
    names = thing.names
    if len(names) <= 1 and not ask.given.get("part"):
        return thing.parts[0]

    def read(text: str) -> object:
        if text not in names:
            raise NotAQuantity(
                text, f"one of its parts: {', '.join(names) or 'it is of one piece'}", did_you_mean(text, names)
            )
        return text

    name = ask(Question(name="part", asks=f"Which part is new ({', '.join(names)})", read=read))
    return thing.of([name])[0]


def _source(shop: Shop, thing: Thing) -> Question:
    def read(text: str) -> object:
        lot = known_lot(text, shop)
        if isinstance(lot, Problem):
            raise NotAQuantity(text, "a lot", lot.hint)
        return lot

    asks = f"From which lot is the new part of {thing.tag}"
    return Question(name="from", asks=asks, read=read, tidy=str.upper, why="passport stock lists what there is")


def _amount(source: str) -> Question:
    asks = f"How much of {source} went in, in kg, or pieces such as 2 pcs"
    return Question(
        name="mass", asks=asks, read=read_drawn, tidy=mass_or_pieces, why="weigh the part, not what it was cut from"
    )


def _old(part: PartOut) -> Question:
    left = f" (it weighed {kg(part.mass_kg)} kg)" if part.name and part.mass_kg is not None else ""
    return Question(
        name="old-mass",
        asks=f"What does the old {part.name or 'part'} weigh, in kg{left}",
        read=read_mass,
        tidy=kilograms,
        cost="the repair cannot be balanced",
    )


def _refuse_misfit(book: Book, part: PartOut, source: str, *, because: str | None) -> None:
    """Another resin makes two streams of one."""
    new = main_resin_of(book.ledger.mixtures[source])
    if part.resins == (new,) or because:
        return
    old = " and ".join(part.resins)
    message = f"met {source} of {new} for a part of {old}, wanted the same resin: the thing would be two streams"
    hint = "take the part from another lot, or say why with --because"
    desk.stop([Problem(code="resins-differ", message=message, place=HERE, hint=hint)])


def _numbers(ask: Asked, shop: Shop) -> tuple[str, str]:
    """The next numbers of the run and of the old part, each after those of the repair before."""
    ours = (op for op in operations(shop).values() if not shop.taken_over(op.run.id))
    repairs = [op for op in ours if operation_kind(op.run.operation).into_tag and op.results]
    last = max(repairs, key=lambda op: (op.run.date, op.run.id), default=None)
    run = next_id(taken_ids(shop), _series(last.run.id) if last else RUNS)
    taken = (*taken_ids(shop), run)
    proposal = next_id(taken, _series(last.results[0].id) if last else OLD)
    return run, ask(_renamed(free_number(dict.fromkeys(taken), "", proposal)))


def _renamed(question: Question) -> Question:
    asks = "The number of the lot that the old part is now"
    return Question(
        name="old-lot", asks=asks, read=question.read, proposal=question.proposal, tidy=question.tidy, why=question.why
    )


def _series(name: str) -> str:
    return name.rpartition("-")[0] or name


def _seen(ask: Asked) -> dict[str, Value]:
    sun = tuple(state.value for state in Weathering)
    asks = f"Sun and frost on the old part ({', '.join(sun)})"
    return {
        "weathering": ask(Question(name="weathering", asks=asks, known=sun, cost="it counts as weathered as before"))
    }


def _tell(before: Book, after: Book, thing: Thing, old: str) -> None:
    """What the thing weighs and is made of now, beside what it was."""
    was, now = before.ledger.tag_mass(thing.tag), after.ledger.tag_mass(thing.tag)
    masses = [f"{kg(mass.value)} kg" if mass is not None else "not known" for mass in (was, now)]
    desk.say(f"{thing.tag}: {thing.product.lower()}, {masses[0]} before, {masses[1]} now")
    mixture = after.ledger.tag_mixture(thing.tag)
    if mixture is not None:
        resins = ", ".join(f"{name} {_percent(share.value)}" for name, share in mixture.shares_by("resin").items())
        desk.say(f"{thing.tag}: {resins}; recycled {_percent(mixture.recycled().value)} by the books")
    back = after.ledger.mixtures[old]
    kind = "post-consumer" if back.post_consumer().value == 1 else "an own offcut, its shares as they were"
    desk.say(f"{old}: the old part, {kind}")


def _percent(share: Fraction) -> str:
    return f"{float(share) * 100:.1f} %"
