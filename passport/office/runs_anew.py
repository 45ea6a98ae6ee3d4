"""The questions about one run: what went in, what came out, what was lost; shared by `run` and `make`."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import click

from passport.amounts import NotAQuantity, read_mass, read_temperature_c
from passport.massflow.closure import Closure, Verdict, kg
from passport.massflow.operation_table import operation_kind, operation_table
from passport.office import desk
from passport.office.asking import Asked, Question, answer, at_a_terminal
from passport.office.desk import exact_kg
from passport.office.saving import next_id
from passport.office.wording import celsius, kilograms, mass_or_pieces, read_drawn, yes_no
from passport.problems import did_you_mean
from passport.reading.fields import NOT_WEIGHED, read_id, read_line, read_yes_no
from passport.reading.yaml_text import Fields, Value
from passport.verdicts.book import Book
from passport.verdicts.in_stock import Remainder

ALL = "all"
"""Instead of a mass: what the books still hold."""
NEARLY = Fraction(98, 100)
"""Whoever draws this share of what is left has most likely emptied the sack."""
MOST_SHOWN = 12
_NAMED = re.compile(r"(.+?)\s+([0-9][^a-z]*\s*[A-Za-z]*)")


@dataclass(slots=True, kw_only=True)
class Floor:
    """What may be drawn from, and the ids that are gone, while a run is typed in."""

    book: Book
    stock: Mapping[str, Remainder]
    taken: list[str]
    """Ids of all records, and of those that this run adds."""


def read_lot_to_draw(floor: Floor) -> Callable[[str], object]:
    """A lot, or the tag of a thing. Raises NotAQuantity with the nearest name."""

    def read(text: str) -> object:
        if text in floor.book.shop.lots or text in floor.book.lives:
            return text
        empty = "nothing is in stock yet: passport receive takes goods in"
        hint = did_you_mean(text, floor.stock) or ("passport stock lists what is there" if floor.stock else empty)
        raise NotAQuantity(text, "a lot that has its record", hint)

    return read


# --- what goes in -----------------------------------------------------------------------------------------


def draws(floor: Floor, given: Sequence[str], what: str = "What goes in") -> list[Fields]:
    """Each lot that the run takes from, with its mass. given: LOT=MASS from options."""
    if given or not at_a_terminal():
        if not given:
            raise click.UsageError('--draw is wanted, such as --draw "SH-001=12.2 kg"')
        return [_given_draw(floor, text) for text in given]
    _show(floor.stock.values())
    found: list[Fields] = []
    while True:
        asks = f"{what}: number of a lot" if not found else "And from which other lot (Enter: that is all)"
        lot = _first_or_more(asks, first=not found, read=read_lot_to_draw(floor))
        if not lot:
            return found
        found.append(_asked_draw(floor, lot))


def _first_or_more(
    asks: str, *, first: bool, read: Callable[[str], object], tidy: Callable[[str], str] = str.upper
) -> str:
    """An answer that is needed once and ends the list afterwards."""
    return answer(Question(name="more", asks=asks, read=read, tidy=tidy, may_end=not first), None)


def _show(stock: Iterable[Remainder]) -> None:
    """What is there to draw from, newest last; a long list is cut."""
    rows = [row for row in stock if row.state.value == "free"]
    for row in rows[-MOST_SHOWN:]:
        about = ", ".join(
            word for word in (row.resin, row.lot.form.value if row.lot.form else "", row.lot.colour) if word
        )
        left = "not weighed" if row.left_kg is None else f"{exact_kg(row.left_kg)} kg"
        desk.say(f"  {row.lot.id:<10} {left:>12}  {about}".rstrip())
    if len(rows) > MOST_SHOWN:
        desk.say(f"  and {len(rows) - MOST_SHOWN} more: passport stock")


def _left(floor: Floor, lot: str) -> Fraction | None:
    row = floor.stock.get(lot)
    return row.left_kg if row else Fraction(0)


def _asked_draw(floor: Floor, lot: str) -> Fields:
    left = _left(floor, lot)
    held = f"{kg(left)} kg" if left is not None and left > 0 else ""
    pieces = floor.book.shop.lots[lot].pieces if lot in floor.book.shop.lots else None
    amount = answer(
        Question(
            name="amount",
            asks=f"  How much of {lot}, in kg{', or pieces such as 4 pcs' if pieces else ''}",
            read=read_drawn,
            tidy=mass_or_pieces,
            cost="the run cannot be balanced, and what follows has no figure",
            proposal=held,
        ),
        None,
    )
    near = _is_nearly_all(amount, left)
    question = Question(
        name="empties", asks=f"  Is {lot} empty now", read=read_yes_no, tidy=yes_no, proposal="yes" if near else "no"
    )
    return _draw(floor, lot, amount, empties=answer(question, None) == "yes")


def _is_nearly_all(amount: str, left: Fraction | None) -> bool:
    if not amount or left is None or amount.endswith("pcs"):
        return False
    return Fraction(read_mass(amount).mass_kg) >= left * NEARLY


def _draw(floor: Floor, lot: str, amount: str, *, empties: bool) -> Fields:
    name = "tag" if lot in floor.book.lives and lot not in floor.book.shop.lots else "lot"
    how = "pieces" if amount.endswith(" pcs") else "mass"
    said = amount.removesuffix(" pcs") if how == "pieces" else amount or NOT_WEIGHED.value
    return {name: lot, how: said, "empties": "yes" if empties else ""}


def _given_draw(floor: Floor, text: str) -> Fields:
    """LOT=MASS, LOT=4 pcs or LOT=all, with ,empties behind it."""
    lot, sign, rest = text.partition("=")
    amount, *flags = (part.strip() for part in rest.split(",")) if sign else ("",)
    lot = lot.strip().upper()
    must_read("--draw", lot, read_lot_to_draw(floor))
    if not sign or set(flags) - {"empties"}:
        raise click.UsageError(f'--draw: met "{text}", wanted LOT=MASS, such as SH-001=12.2 kg or SH-001=all')
    if amount == ALL:
        left = _left(floor, lot)
        if left is None or left <= 0:
            raise click.UsageError(f"--draw: the books hold nothing of {lot}; give its mass")
        return _draw(floor, lot, f"{kg(left)} kg", empties=True)
    if amount != NOT_WEIGHED.value:
        amount = must_read("--draw", mass_or_pieces(amount), read_drawn)
    return _draw(floor, lot, "" if amount == NOT_WEIGHED.value else amount, empties=bool(flags))


def must_read(option: str, text: str, read: Callable[[str], object]) -> str:
    """A text from an option that must read. Raises click.UsageError with what was wanted."""
    try:
        read(text)
    except NotAQuantity as slip:
        hint = f"; {slip.hint}" if slip.hint else ""
        raise click.UsageError(f'{option}: met "{text}", wanted {slip.wanted}{hint}') from None
    return text


# --- what was lost ----------------------------------------------------------------------------------------


def named_masses(given: Sequence[str], option: str, asks: str, *, ask_for: bool = True) -> dict[str, Value]:
    """Losses or gains by name: "dust=0.1 kg" from options, "dust 0.1" from a person."""
    found: dict[str, Value] = {}
    for text in given:
        name, sign, mass = text.partition("=")
        if not sign:
            raise click.UsageError(f'--{option}: met "{text}", wanted NAME=MASS, such as dust=0.1 kg')
        found[name.strip()] = must_read(f"--{option}", kilograms(mass.strip()), read_mass)
    while ask_for and not given and at_a_terminal():
        again = "Anything else" if found else asks
        text = _first_or_more(
            f"{again} (such as: dust 0.1 kg; Enter: nothing)", first=False, read=_read_named, tidy=str
        )
        if not text:
            break
        name, mass = _split(text)
        found[name] = mass
    return found


def _split(text: str) -> tuple[str, str]:
    met = _NAMED.fullmatch(text.strip())
    return (met[1], kilograms(met[2])) if met else ("", text)


def _read_named(text: str) -> object:
    name, mass = _split(text)
    if not name:
        raise NotAQuantity(text, "a name and a mass, such as dust 0.1 kg")
    return read_mass(mass)


# --- how --------------------------------------------------------------------------------------------------


def operation(ask: Asked, asks: str, proposal: str = "") -> str:
    """One of the table of operations."""
    known = tuple(operation_table())
    why = "it decides whether shares may change, whether the plastic was melted, and whether it is wet"
    return ask(Question(name="operation", asks=asks, known=known, why=why, proposal=proposal))


def melt(ask: Asked, name: str) -> Iterator[tuple[str, Value]]:
    """The melt temperature, where the operation melts."""
    if operation_kind(name).melts or ask.given.get("melt"):
        cost = "nobody can say later whether it was too hot for its resin"
        question = Question(
            name="melt", asks="Melt temperature, in °C", read=read_temperature_c, tidy=celsius, cost=cost
        )
        yield "melt", ask(question)


def because(ask: Asked, closure: Closure | None) -> str:
    """Why a run does not close: asked only where it does not."""
    if ask.given.get("because"):
        return str(ask.given["because"])
    if closure is None or closure.verdict in (Verdict.CLOSED, Verdict.NOT_KNOWN) or not at_a_terminal():
        return ""
    cost = "pages show the doubt" + (
        ", and withhold the figures of all that follows" if closure.verdict is Verdict.WITHHELD else ""
    )
    return ask(Question(name="because", asks="Do you know why", read=read_line, cost=cost))


def in_words(closure: Closure) -> str:
    """The balance of a run as one line for the desk."""
    if closure.drawn_kg is None or closure.results_kg is None or closure.losses_kg is None:
        return "something was not weighed: the run cannot be balanced yet"
    went_in = closure.drawn_kg + (closure.gains_kg or 0)
    lost = f", {kg(closure.losses_kg)} kg was lost" if closure.losses_kg else ""
    said = f"{kg(went_in)} kg went in, {kg(closure.results_kg)} kg came out{lost}: "
    residual = closure.residual_kg or Fraction(0)
    if residual == 0:
        return said + "it adds up"
    missing = f"{kg(abs(residual))} kg {'missing' if residual > 0 else 'too much'}"
    return said + missing + _within(closure)


def _within(closure: Closure) -> str:
    if closure.verdict is Verdict.CLOSED:
        return ", within what the scales can tell"
    return ", more than the scales explain" + ("" if closure.verdict is not Verdict.WITHHELD else ", and far more")


# --- numbers ----------------------------------------------------------------------------------------------


def series_for(floor: Floor, name: str) -> str:
    """What the numbers of an operation's results begin with: as the last ones, else its first two letters."""
    ledger, shop = floor.book.ledger, floor.book.shop
    short = (lot for lot, run in ledger.run_of.items() if run == lot and not shop.taken_over(lot))
    made = [lot for lot in short if ledger.operations[lot].run.operation == name]
    return max(made, default=f"{name[:2].upper()}-").rpartition("-")[0] or name[:2].upper()


def new_id(floor: Floor) -> tuple[Callable[[str], str], Callable[[str], object]]:
    """How a new lot's number is read: letters alone mean the next number of their series (RJ: RJ-007)."""

    def tidy(text: str) -> str:
        name = text.strip().upper()
        return next_id(floor.taken, name) if re.fullmatch(r"[A-Z]+", name) else name

    def read(text: str) -> object:
        if read_id(text) in floor.taken:
            raise NotAQuantity(text, "a number that no record has")
        return text

    return tidy, read


def given_id(floor: Floor, option: str, text: str) -> str:
    """The number of a result that an option names."""
    tidy, read = new_id(floor)
    return must_read(option, tidy(text), read)
