"""From tags to the lot they become: asked, checked for fit, written with its merging or not at all."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, NoReturn

import click

from passport.amounts import NotAQuantity, read_mass, read_share
from passport.massflow import Ledger, State
from passport.massflow.closure import kg
from passport.massflow.weighing import SQRT3, Weighings, total
from passport.office import desk
from passport.office.asking import Asked, Question
from passport.office.goods_in import count_question, day_question, weights
from passport.office.saving import lot_file, next_id, save, taken_ids
from passport.office.things_back import PartOut, Thing, main_resin_of, things
from passport.office.typed import issued_tags, today, wrong
from passport.office.wording import kilograms, percent
from passport.problems import Place, Problem, did_you_mean
from passport.reading.fields import NOT_WEIGHED, read_id, read_line
from passport.reading.records import Form, Weathering
from passport.reading.shop import Shop
from passport.reading.yaml_text import Fields, Value
from passport.verdicts.book import Book, work_out
from passport.writing import NewFile

HERE = Place("handback")
SERIES = "CB"
"""What numbers of lots handed back begin with where none came back yet."""
ALL = "all"
GROUND = frozenset({Form.FLAKE, Form.REGRIND, Form.PELLETS, Form.POWDER})
"""Forms that whole things do not mix with."""
SEVERAL = 2
GRAM = Decimal("0.001")


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What stands on the command line."""

    folder: Path
    typed: Sequence[str]
    parts: Sequence[str]
    not_back: Sequence[str]
    ask: Asked
    yes: bool
    dry_run: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """One thing and the parts of it that came."""

    thing: Thing
    came: tuple[PartOut, ...]
    missing: tuple[PartOut, ...]

    @property
    def resins(self) -> tuple[str, ...]:
        """The main resins of what came, in order of name."""
        return tuple(sorted({resin for part in self.came for resin in part.resins}))

    def record(self) -> dict[str, Value]:
        """As the lot's record says it; parts are named where the thing did not come whole."""
        names = [part.name for part in self.came if part.name]
        whole = not self.missing and len(names) == self.whole
        more = {} if whole else {"parts": names, "not_back": [part.name for part in self.missing]}
        return {"tag": self.thing.tag, **more}

    whole: int = 0
    """How many parts it was made with."""


Done = dict[str, Any]


def take_back(order: Order) -> Done:
    """Ask, show, write; what was done, for another program."""
    read = desk.read_records(order.folder)
    shop, ask = read[0], order.ask
    book = work_out(shop)
    found = _things(book, order.typed)
    day = ask(day_question(today().isoformat(), "Which day did it come back"))
    returns = tuple(_return(order, book, thing) for thing in found)
    into = ask(_into(shop))
    standing = into if into in shop.lots else ""
    lot = next_id(taken_ids(shop), series_of(shop)) if standing else into
    _refuse_unfit_lot(book, standing, ask)
    _refuse_misfit(book, returns, standing, because=ask.given.get("because"))
    for line in _without(returns):
        desk.say(line)
    fields: dict[str, Value] = {"date": day, "received": {"tags": [back.record() for back in returns]}}
    fields |= dict(weights(ask, lot, shop, "")) | dict(_looks(ask))
    changes = [lot_file(order.folder, lot, fields)]
    if standing:
        changes.append(_merged(order, book, fields, lot, standing))
    ask.say_what_is_open()
    told: Done = {"lot": changes[-1].path.removeprefix("lots/").removesuffix(".yaml"), "came_back_as": lot}
    written = save(
        order.folder,
        read,
        changes,
        yes=order.yes,
        dry_run=order.dry_run,
        told=lambda after: told.update(_tell(after, returns, lot)),
    )
    return {**told, "written": written}


def _things(book: Book, typed: Sequence[str]) -> tuple[Thing, ...]:
    """The things, or the end of the command with all that is wrong with the numbers."""
    found = issued_tags(typed, book.shop, HERE)
    known, faults = things(book, [tag for tag in found if isinstance(tag, str)], HERE)
    if problems := (*wrong(found), *faults):
        desk.stop(problems)
    return known


# --- parts --------------------------------------------------------------------------------------------


def _return(order: Order, book: Book, thing: Thing) -> Return:
    """Which parts of one thing came: by option, else asked where it has several."""
    item = book.shop.items[thing.item]
    said, absent = _said_of(order.parts, thing, "parts"), _said_of(order.not_back, thing, "not-back")
    if said and absent:
        raise click.UsageError("--parts and --not-back exclude each other")
    if absent:
        said = ", ".join(name for name in thing.names if name not in _split(absent)) or "none"
    names: tuple[str, ...] = ()
    if len(thing.names) > 1 or said:
        order.ask.given = {**order.ask.given, "parts": said or None}
        names = _split(order.ask(_which(thing)))
    came = thing.of(() if names == (ALL,) else names)
    missing = tuple(part for part in thing.parts if part not in came)
    return Return(thing=thing, came=came, missing=missing, whole=max(len(item.parts), 1) if thing.names else 0)


def _said_of(options: Sequence[str], thing: Thing, name: str) -> str:
    """What an option says of one thing: "TAG=body" goes before "body", which is said of all."""
    general = [text for text in options if "=" not in text]
    own = [text.partition("=")[2] for text in options if text.partition("=")[0].strip().upper() == thing.tag]
    said = ", ".join(own or general)
    for part in _split(said):
        if part not in (ALL, *thing.names):
            near = (
                did_you_mean(part, thing.names)
                or f"its parts still out: {', '.join(thing.names) or 'it is of one piece'}"
            )
            raise click.UsageError(f'--{name}: met "{part}" of {thing.tag}; {near}')
    return said


def _split(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name.strip() for name in text.split(",") if name.strip()))


def _which(thing: Thing) -> Question:
    def read(text: str) -> object:
        unknown = [name for name in _split(text) if name not in (ALL, *thing.names)]
        if unknown or not _split(text):
            raise NotAQuantity(text, f"{ALL}, or some of {', '.join(thing.names)}", did_you_mean(text, thing.names))
        return text

    asks = f"Which parts of {thing.tag} came back ({', '.join(thing.names)}; {ALL})"
    return Question(
        name="parts", asks=asks, read=read, proposal=ALL, why="those that did not come are named in the record"
    )


def _without(returns: Sequence[Return]) -> Iterator[str]:
    """Screws are no plastic: they go back into the drawer before the weighing."""
    for back in returns:
        if back.thing.hardware:
            named = ", ".join(f"{what} {kg(mass)} kg" for what, mass in back.thing.hardware)
            yield f"{back.thing.tag}: weigh it without what is screwed or pressed in ({named})"


# --- the lot ------------------------------------------------------------------------------------------


def series_of(shop: Shop) -> str:
    """What the numbers of lots handed back begin with: that of the latest one."""
    ours = (lot for lot in shop.lots.values() if not shop.taken_over(lot.id))
    back = [lot for lot in ours if lot.received and lot.received.tags and _numbered(lot.id)]
    latest = max(back, key=lambda lot: (lot.date, lot.id), default=None)
    return latest.id.rpartition("-")[0] if latest else SERIES


def _numbered(name: str) -> bool:
    start, _, number = name.rpartition("-")
    return bool(start) and number.isdigit()


def _into(shop: Shop) -> Question:
    proposal = next_id(taken_ids(shop), series_of(shop))

    def read(text: str) -> object:
        name = read_id(text)
        if name in shop.runs or name in shop.items:
            hint = f"{name} is a run or a batch of things; the next free number is {proposal}"
            raise NotAQuantity(text, "a new number, or a lot that stands here", hint)
        return name

    return Question(
        name="into",
        asks="Into which lot: a new number, or one that stands here",
        read=read,
        proposal=proposal,
        tidy=str.upper,
        why="a lot that stands here and what came back are merged into one with a new number",
    )


def _looks(ask: Asked) -> Iterator[tuple[str, Value]]:
    yield "pieces", ask(count_question("pieces", "How many pieces", "nothing can be drawn from it by the piece"))
    forms = tuple(form.value for form in Form)
    if ask.given.get("form"):
        yield "form", ask(Question(name="form", asks="In which form", known=forms))
    yield "moisture", ask(_moisture())
    sun = tuple(state.value for state in Weathering)
    asks = f"Sun and frost on it, by eye ({', '.join(sun)})"
    yield "weathering", ask(Question(name="weathering", asks=asks, known=sun, cost="it counts as weathered as before"))
    yield "colour", ask(Question(name="colour", asks="Its colour now", read=read_line, cost="blends go by it"))
    for name in ("kept", "photo", "because"):
        yield name, ask.given.get(name) or ""
    asks = "How is it, in a few words (no names of people)"
    yield "notes", ask(Question(name="condition", asks=asks, cost="nobody will know how it held up"))


def _moisture() -> Question:
    return Question(
        name="moisture",
        asks="How much water is in it, in % (0: dry)",
        read=read_share,
        tidy=percent,
        cost="all of its mass counts as dry plastic",
    )


# --- does it fit? -------------------------------------------------------------------------------------


def _refuse_unfit_lot(book: Book, standing: str, ask: Asked) -> None:
    """A lot that nothing can be put to: held, empty, or already ground where whole things come back."""
    if not standing:
        return
    stock, form = book.ledger.stock[standing], book.shop.lots[standing].form
    if stock.state is not State.FREE:
        message = f"{standing} is {stock.state.value} since {stock.since}: nothing is put to it"
        hint = f"name another lot, or first: passport event released {standing}"
        _stop("lot-held", message, hint)
    if stock.books_kg is not None and stock.books_kg <= 0:
        message = f"nothing is left of {standing} by the books: what came back cannot be merged with it"
        _stop("lot-empty", message, "name another lot, or leave --into away for a new one")
    if form in GROUND and ask.given.get("form") != form.value and not ask.given.get("because"):
        message = f"{standing} is {form.value}; whole things put to it would have to be picked out again"
        hint = f"shred what came back first; or say --form {form.value} where that is done, or why with --because"
        _stop("forms-differ", message, hint)


def _stop(code: str, message: str, hint: str) -> NoReturn:
    desk.stop([Problem(code=code, message=message, place=HERE, hint=hint)])


def _refuse_misfit(book: Book, returns: Sequence[Return], standing: str, *, because: str | None) -> None:
    """Another resin put together would spoil a stream; a reason makes it a decision."""
    of = {back.thing.tag: back.resins for back in returns}
    if standing:
        of[standing] = (main_resin_of(book.ledger.mixtures[standing]),)
    if len(set(of.values())) == 1:
        return
    said = "; ".join(f"{name} {' and '.join(resins)}" for name, resins in of.items())
    if because:
        desk.say(f"put together all the same: {said}")
        return
    message = f"met different resins for one lot ({said}), wanted one"
    _stop("resins-differ", message, "hand them back one by one, each into its own lot; or say why with --because")


# --- with a lot that stands here ----------------------------------------------------------------------


def _merged(order: Order, book: Book, fields: Fields, lot: str, standing: str) -> NewFile:
    """The lot of both together: a record never grows, so the two become a new one, and both are emptied into it."""
    shop, ask = book.shop, order.ask
    there = book.ledger.stock[standing].books_kg
    came = _net(fields)
    draws = [_emptying(lot, came), _emptying(standing, there)]
    name = next_id((*taken_ids(shop), lot), standing.rpartition("-")[0] if _numbered(standing) else standing)
    mass = ask(_together(came, there))
    old = shop.lots[standing]
    form = old.form.value if old.form else ""
    more = {"form": form if ask.given.get("form") in (None, form) else "", "kept": old.kept}
    return lot_file(
        order.folder,
        name,
        {
            "date": fields["date"],
            "operation": "merge",
            "draws": draws,
            "mass": mass or _sum_of_both(book, fields, standing, came, there),
            "scale": _scale_of_both(ask, shop) if mass else "",
            **more,
            "because": ask.given.get("because") or "",
        },
    )


def _together(came: Fraction | None, there: Fraction | None) -> Question:
    known = f"the books say {kg(came + there)} kg" if came is not None and there is not None else "no figure at all"
    return Question(
        name="together",
        asks="What do both weigh together, in kg",
        read=read_mass,
        tidy=kilograms,
        cost=f"its mass is the sum of both by the books, with the doubt of both: {known}",
    )


def _scale_of_both(ask: Asked, shop: Shop) -> str:
    """A thing may go on the bench and a heap on the floor; "" where there is one scale or none."""
    scales = tuple(shop.workshop.scales)
    if len(scales) < SEVERAL:
        return ""
    return ask(Question(name="together-scale", asks="On which scale", known=scales, proposal=scales[0]))


def _net(fields: Fields) -> Fraction | None:
    """What was weighed of what came back, in kg."""
    if "gross" in fields:
        return Fraction(read_mass(str(fields["gross"])).mass_kg - read_mass(str(fields["tare"])).mass_kg)
    try:
        return Fraction(read_mass(str(fields["mass"])).mass_kg)
    except NotAQuantity:
        return None


def _emptying(lot: str, mass: Fraction | None) -> dict[str, Value]:
    return {"lot": lot, "mass": _kg_text(mass) if mass is not None else NOT_WEIGHED.value, "empties": "yes"}


def _kg_text(mass: Fraction) -> str:
    """Exact to the gram, which is what the books are kept in."""
    text = f"{(Decimal(mass.numerator) / Decimal(mass.denominator)).quantize(GRAM):f}"
    return f"{text.rstrip('0').rstrip('.')} kg"


def _sum_of_both(book: Book, fields: Fields, standing: str, came: Fraction | None, there: Fraction | None) -> str:
    """The mass of both by the books, as unsure as the two weighings behind it; "not weighed" where one was not."""
    if came is None or there is None:
        return NOT_WEIGHED.value
    half = _half_width(book, fields, standing)
    sure = f" ± {_kg_text(half).removesuffix(' kg')}" if half else ""
    return f"{_kg_text(came + there).removesuffix(' kg')}{sure} kg"


def _half_width(book: Book, fields: Fields, standing: str) -> Fraction | None:
    """Half the width of the rectangle that both weighings amount to, in kg; None where a scale is unknown."""
    weighings, scale = Weighings(book.shop.workshop.scales), str(fields.get("scale", ""))
    texts = {name: str(fields[name]) for name in ("mass", "gross", "tare") if fields.get(name)}
    mine = total(weighings.weigh(name, read_mass(text), scale) for name, text in texts.items())
    before = book.ledger.masses[standing]
    u_mine, u_before = weighings.u(mine), book.ledger.book.weighings.u(before) if before else None
    if u_mine is None or u_before is None:
        return None
    return Fraction(f"{math.hypot(u_mine, u_before) * SQRT3:.2g}")


# --- what follows -------------------------------------------------------------------------------------


def _tell(book: Book, returns: Sequence[Return], lot: str) -> Done:
    """Say what the passport knows and what the new lot is; the same as figures."""
    for back in returns:
        desk.say(_of_thing(back))
    left, now = book.ledger.left_as.get(lot), book.ledger.masses.get(lot)
    left_kg, back_kg = (left.value if left else None), (now.value if now else None)
    water = (back_kg or 0) * (book.shop.lots[lot].moisture or 0)
    desk.say(_difference(lot, left_kg, back_kg, Fraction(water)))
    desk.say(_lives(book.ledger, returns, lot))
    if resins := _still_joined(returns):
        desk.say(f"{lot}: {' and '.join(resins)} in one lot until it is taken apart or picked over")
    for called in book.called_back.get(lot, ()):
        if called.open:
            first = book.shop.workshop.languages[0]
            reason, _ = called.recall.reason.said(first, first)
            desk.say(f"{lot}: called back by {called.recall.id} ({reason}); keep it apart: passport event held {lot}")
    return {
        "left_kg": kg(left_kg) if left_kg is not None else None,
        "back_kg": kg(back_kg) if back_kg is not None else None,
        "water_kg": kg(Fraction(water)),
        "tags": [
            {
                "tag": back.thing.tag,
                "parts": [part.name for part in back.came if part.name],
                "not_back": [part.name for part in back.missing],
                "handed_over": back.thing.handed_over.isoformat() if back.thing.handed_over else None,
            }
            for back in returns
        ],
    }


def _of_thing(back: Return) -> str:
    thing = back.thing
    known = [part.mass_kg for part in back.came]
    mass = f"{kg(sum((m for m in known if m is not None), Fraction(0)))} kg" if None not in known else "not weighed"
    out = f"handed over {thing.handed_over}" if thing.handed_over else "never handed over"
    missing = ", ".join(part.name for part in back.missing)
    tail = f"; not back: {missing}" if missing else ""
    return f"{thing.tag}: {thing.product.lower()}, {' and '.join(back.resins)}, {mass} when it left, {out}{tail}"


def _still_joined(returns: Sequence[Return]) -> tuple[str, ...]:
    """The resins of what came, where there are several: each thing is whole, so nobody put them together here."""
    resins = tuple(sorted({resin for back in returns for resin in back.resins}))
    return resins if len(resins) > 1 else ()


def _difference(lot: str, left: Fraction | None, back: Fraction | None, water: Fraction) -> str:
    """What was weighed beside what left; water that somebody measured is no plastic."""
    if left is None or back is None:
        return f"{lot}: {'not weighed' if back is None else kg(back) + ' kg'}; what left is not known by mass"
    came = f"{lot}: {kg(back)} kg back of {kg(left)} kg"
    came += f", {kg(water)} kg of it water" if water else ""
    gap = back - water - left
    if gap < 0:
        return f"{came}: {kg(-gap)} kg less than left (wear, pieces that are missing)"
    return came + (f": {kg(gap)} kg more than left (soil, water, what is not ours)" if gap else "")


def _lives(ledger: Ledger, returns: Sequence[Return], lot: str) -> str:
    out = [back.thing.handed_over is not None for back in returns]
    if not any(out):
        return f"{lot}: never handed over, so it is an own offcut; its recycled share stays as it was"
    lived = sorted(int(number) for number in ledger.mixtures[lot].shares_by("lives"))
    span = str(lived[0]) if len(lived) == 1 else f"{lived[0]} to {lived[-1]}"
    if all(out):
        return f"{lot}: all of it is post-consumer plastic now, with one life more behind it (lives: {span})"
    return f"{lot}: what was handed over is post-consumer now; the rest is an own offcut (lives: {span})"
