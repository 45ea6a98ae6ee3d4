"""`make`: a batch of things that will get a tag each, from what it was made of to the screws."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

import click

from passport.amounts import NotAQuantity, read_count, read_mass
from passport.office import desk, runs_anew
from passport.office.asking import Asked, Question, agreed, answer, at_a_terminal, say_how
from passport.office.goods_in import count_question, day_question, scale_used
from passport.office.runs_anew import Floor, must_read
from passport.office.saving import item_file, lot_file, next_id, product_file, save, taken_ids, tried
from passport.office.streams_anew import OPENING, ready_made
from passport.office.typed import today
from passport.office.wording import any_mass, slug
from passport.problems import did_you_mean
from passport.reading.fields import NOT_WEIGHED, read_id, read_line
from passport.reading.shop import Shop
from passport.reading.yaml_text import Fields, Value
from passport.verdicts.book import work_out
from passport.verdicts.in_stock import in_stock
from passport.writing import Change

USUAL = "assemble"
HARDWARE = ("what", "material", "count", "mass", "joined", "tool")
"""What --hardware says, parted by commas, in this order; the last two may be left out."""
LEAST_HARDWARE = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Product:
    """Which product, and its record where it is new."""

    name: str
    changes: tuple[Change, ...] = ()


@click.command()
@click.argument("batch", required=False)
@click.option("--product", metavar="NAME", help="Which product; a new name sets one up, with --made-for.")
@click.option("--title", metavar="TEXT", help="Of a new product: what pages and labels call it.")
@click.option("--made-for", metavar="TEXT", help="Of a new product: what it is made for,")
@click.option("--not-for", metavar="TEXT", help="and what it must not be used for.")
@click.option("--count", metavar="N", help="How many things.")
@click.option("--each", metavar="MASS", help="The plastic of one thing, before the screws go in.")
@click.option("--mass", metavar="MASS", help="Instead: of all of them together.")
@click.option(
    "--draw", "draws", multiple=True, metavar="LOT=MASS", help="What they were made of; PART/LOT=MASS for a part."
)
@click.option("--part-mass", "masses", multiple=True, metavar="PART=MASS", help="Of one part in one thing.")
@click.option("--operation", metavar="WORD", help="How: mould, press, compression, weld, cut, assemble.")
@click.option("--melt", metavar="TEMPERATURE", help="Melt temperature, °C.")
@click.option("--loss", "losses", multiple=True, metavar="NAME=MASS", help="What was lost on the way.")
@click.option(
    "--hardware", multiple=True, metavar="TEXT", help='"steel screws, steel, 8, 32 g, screwed, TX20", for one thing.'
)
@click.option("--colour", metavar="TEXT", help="Their colour.")
@click.option("--photo", metavar="FILE", help="A file in content/photos/.")
@click.option("--machine", metavar="NAME", help="Which machine.")
@click.option("--scale", metavar="NAME", help="Which scale. Default: the first one.")
@click.option("--on", metavar="DAY", help="The day they were made. Default: today.")
@click.option("--because", metavar="TEXT", help="Why it does not add up.")
@click.option("--note", metavar="TEXT", help="Anything worth telling; no names of people.")
@click.option("--already-out", is_flag=True, help="Made before you kept records: of unknown history.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written; write nothing.")
@desk.folder_option
def command(
    batch: str | None,
    draws: tuple[str, ...],
    masses: tuple[str, ...],
    losses: tuple[str, ...],
    hardware: tuple[str, ...],
    folder: Path,
    *,
    already_out: bool,
    yes: bool,
    dry_run: bool,
    **given: str | None,
) -> None:
    """Record a batch of things: how many, what one weighs, what they were made of, what holds them together.

    Things sold before you kept records get a batch too, with --already-out: its page says that nobody knows what
    they were made of, and they can have a tag all the same.

    \b
    Example:
      passport make
      passport make --product pot --count 3 --each 221g --draw "SH-001=668 g" --operation mould --loss "sprues=5 g"
      passport make --product bench --count 1 --draw seat/SHT-001=all --draw legs/BAR-009=8pcs --part-mass ...
      passport make --already-out --product pot --count 12 --each 220g --on 2024-06-01
    """
    read = desk.read_records(folder)
    say_how()
    shop, _ = read
    book = work_out(shop)
    floor = Floor(book=book, stock={row.lot.id: row for row in in_stock(book)}, taken=list(taken_ids(shop)))
    ask = Asked(given={name.replace("_", "-"): text for name, text in given.items()})
    scripted = bool(draws)
    product = _product(ask, folder, shop)
    fields: dict[str, Value] = {"product": product.name, "date": ask(_day())}
    name = _batch(ask, floor, product.name, batch, str(fields["date"]))
    fields |= dict(_masses(ask, shop, by_part=bool(masses), already_out=already_out))
    changes: list[Change] = list(product.changes)
    if already_out:
        changes += _unknown_past(folder, floor, fields)
    else:
        fields |= dict(_made_of(ask, floor, product.name, draws, masses))
        if fields.get("mass") == NOT_WEIGHED.value and _all_weighed(fields.get("parts")):
            del fields["mass"]  # the masses of its parts say it
        fields["losses"] = runs_anew.named_masses(losses, "loss", "What was lost on the way", ask_for=not scripted)
    fields["hardware"] = _hardware(hardware, ask_for=not scripted and not already_out)
    fields |= {"machine": ask.given.get("machine") or "", "colour": ask(_COLOUR), "photo": ask.given.get("photo") or ""}
    fields["notes"] = ask.given.get("note") or ""
    closure = tried(desk.content_of(folder), [*changes, item_file(folder, name, fields)])[0].ledger.closures[name]
    if not already_out:
        desk.say(runs_anew.in_words(closure))
    fields["because"] = runs_anew.because(ask, closure)
    ask.say_what_is_open()
    if save(folder, read, [*changes, item_file(folder, name, fields)], yes=yes, dry_run=dry_run):
        click.echo(name)
        desk.say(f"Next: passport tag {name}       gives each its number\n      passport labels {name}    prints them")


_COLOUR = Question(name="colour", asks="Which colour", read=read_line, cost="pages cannot say it")


def _day() -> Question:
    return day_question(today().isoformat(), "Which day were they made")


# --- which product ----------------------------------------------------------------------------------------


def _product(ask: Asked, folder: Path, shop: Shop) -> _Product:
    known = {name: Path(shop.files.get(("product", name), name)).stem for name in shop.products}
    listed = f": {', '.join(known.values())}" if known else ""
    question = Question(
        name="product",
        asks=f"What was made (a product{listed}, or a new name)",
        why="a product is a kind of thing you make: its page, its care and its cautions are shared by all batches",
        proposal=next(iter(known.values())) if len(known) == 1 else "",
    )
    while True:
        name = ask(question)
        for typed in (name.upper(), slug(name).upper()):
            if typed in known:
                return _Product(name=known[typed])
        if _wanted_new(ask, name, tuple(known.values())):
            return _new_product(ask, folder, name)


def _wanted_new(ask: Asked, name: str, known: Sequence[str]) -> bool:
    near = did_you_mean(name, known)
    if ask.given.get("made-for") is not None:
        return True
    if at_a_terminal() and agreed(f"  There is no product {name} yet. {near}{' ' if near else ''}Set it up", yes=False):
        return True
    if not at_a_terminal() or ask.given.get("product") is not None:
        hint = near or f"known are {', '.join(known) or 'none yet'}"
        raise click.UsageError(f'--product: met "{name}"; {hint}; a new one wants --made-for too')
    return False


def _new_product(ask: Asked, folder: Path, name: str) -> _Product:
    title = ask(
        Question(name="title", asks="  What shall pages and labels call it", proposal=name[:1].upper() + name[1:])
    )
    made_for = ask(Question(name="made-for", asks="  What is it made for", why="it stands on every page of it"))
    cost = "nobody is warned of a use that it is not fit for"
    not_for = ask(Question(name="not-for", asks="  What must it not be used for", cost=cost))
    file = slug(name) or "product"
    fields = {"title": title, "made_for": made_for, "not_for": not_for}
    return _Product(name=file, changes=(product_file(folder, file, fields),))


# --- which batch ------------------------------------------------------------------------------------------


def _batch(ask: Asked, floor: Floor, product: str, given: str | None, day: str) -> str:
    def read(text: str) -> object:
        if read_id(text) in floor.taken:
            raise NotAQuantity(text, "a name that no record has")
        return text

    proposal = _next_batch(floor, product, date.fromisoformat(day))
    ask.given = {**ask.given, "batch": given}
    return ask(Question(name="batch", asks="The batch's name", proposal=proposal, read=read, tidy=str.upper))


def _next_batch(floor: Floor, product: str, day: date) -> str:
    """As the product's batches are named so far: by month (PL-2026-05) or one after the other (POT-001)."""
    mine = [item for item in floor.book.shop.items.values() if item.product == product.upper()]
    latest = max(mine, key=lambda item: (item.date, item.id)).id if mine else ""
    by_month = re.fullmatch(r"(.*)-\d{4}-\d{2}", latest)
    if by_month:
        name = f"{by_month[1]}-{day:%Y-%m}"
        return name if name not in floor.taken else next_id(floor.taken, name)
    return next_id(floor.taken, latest.rpartition("-")[0] or product.replace("-", "")[:3].upper())


# --- how many, how heavy ----------------------------------------------------------------------------------


def _masses(ask: Asked, shop: Shop, *, by_part: bool, already_out: bool) -> Iterator[tuple[str, Value]]:
    number = ask(count_question("count", "How many"))
    yield "count", number
    together = ask.given.get("mass")
    if together:
        yield "mass", must_read("--mass", any_mass(together), read_mass)
    elif not by_part:
        cost = "its page states no mass" if already_out else "no share and no figure can be stated of it"
        asks = "What does one weigh, before screws go in, such as 220 g or 16.6 kg"
        one = ask(Question(name="each", asks=asks, read=read_mass, tidy=any_mass, cost=cost))
        yield "mass", NOT_WEIGHED.value if not one else one if one.endswith(" each") else f"{one} each"
        if not one:
            return
    yield from scale_used(ask, shop)


# --- what it is made of -----------------------------------------------------------------------------------


def _made_of(
    ask: Asked, floor: Floor, product: str, draws: Sequence[str], masses: Sequence[str]
) -> Iterator[tuple[str, Value]]:
    mine = [item for item in floor.book.shop.items.values() if item.product == product.upper()]
    usual = mine[-1].operation if mine else USUAL
    operation = runs_anew.operation(ask, "How were they made (mould, press, compression, weld, cut, assemble)", usual)
    yield "operation", operation if operation != USUAL else ""
    if any("/" in text.partition("=")[0] for text in draws):
        yield "parts", _given_parts(floor, draws, masses)
    elif draws or not _parts_asked():
        yield "draws", runs_anew.draws(floor, draws, "What were they made of")
    else:
        yield "parts", list(_asked_parts(floor))
    yield from runs_anew.melt(ask, operation)


def _all_weighed(parts: Value | None) -> bool:
    return bool(parts) and all(isinstance(part, Mapping) and part.get("mass") for part in parts or ())


def _parts_asked() -> bool:
    """Whether a person says that it has parts of their own material."""
    asks = "Is each of several parts of different material, to be told apart"
    return at_a_terminal() and click.confirm(f"{asks}?", default=False, err=True)


def _given_parts(floor: Floor, draws: Sequence[str], masses: Sequence[str]) -> list[Value]:
    of_part: dict[str, list[str]] = {}
    for text in draws:
        part, sign, draw = text.partition("/")
        if not sign:
            raise click.UsageError(f'--draw: met "{text}", wanted PART/LOT=MASS, since other draws name their part')
        of_part.setdefault(part.strip(), []).append(draw)
    weighed = {name.strip(): any_mass(mass.strip()) for name, _, mass in (text.partition("=") for text in masses)}
    if unknown := [name for name in weighed if name not in of_part]:
        raise click.UsageError(f'--part-mass: met "{unknown[0]}", wanted one of {", ".join(of_part)}')
    return [
        {"part": part, "draws": runs_anew.draws(floor, texts), "mass": weighed.get(part, "")}
        for part, texts in of_part.items()
    ]


def _asked_parts(floor: Floor) -> Iterator[Fields]:
    first = True
    while True:
        asks = "Name of the first part" if first else "Name of the next part (Enter: that is all)"
        part = answer(Question(name="part", asks=asks, read=read_line, may_end=not first), None)
        if not part:
            return
        draws = runs_anew.draws(floor, (), f"Material of {part}")
        asks = f"  Mass of {part} in one thing"
        mass = answer(Question(name="part-mass", asks=asks, read=read_mass, tidy=any_mass), None)
        cost = "taking it apart is not described"
        joined = answer(Question(name="joined", asks="  How is it held (screwed, welded, loose)", cost=cost), None)
        yield {"part": part, "draws": draws, "mass": mass, "joined": joined}
        first = False


def _unknown_past(folder: Path, floor: Floor, fields: dict[str, Value]) -> list[Change]:
    """The material of things made before the records: one lot of unknown history, used up by this batch."""
    stream = ready_made(folder, floor.book.shop, OPENING)
    lot = next_id(floor.taken, "OLD")
    mass = _whole(str(fields["mass"]), str(fields["count"]))
    fields["draws"] = [{"lot": lot, "mass": mass, "empties": "yes"}]
    received: dict[str, Value] = {"date": fields["date"], "received": {"stream": stream.name}, "mass": mass}
    return [*stream.changes, lot_file(folder, lot, {**received, "scale": fields.get("scale") or ""})]


def _whole(mass: str, count: str) -> str:
    """The mass of all things together, exact."""
    if mass == NOT_WEIGHED.value or not mass.endswith(" each"):
        return mass
    whole: Decimal = read_mass(mass).mass_kg * read_count(count).pieces
    return f"{whole.normalize():f} kg"


# --- hardware ---------------------------------------------------------------------------------------------


def _hardware(given: Sequence[str], *, ask_for: bool) -> list[Value]:
    found: list[Value] = [_fitting(text) for text in given]
    while ask_for and not given and at_a_terminal():
        asks = "Any more" if found else "Screws and the like in one thing"
        like = "such as: steel screws, steel, 8, 32 g, screwed, TX20; Enter: none"
        text = answer(Question(name="hardware", asks=f"{asks} ({like})", read=_read_fitting, may_end=True), None)
        if not text:
            break
        found.append(_fitting(text))
    return found


def _read_fitting(text: str) -> object:
    parts = [part.strip() for part in text.split(",")]
    if not LEAST_HARDWARE <= len(parts) <= len(HARDWARE):
        raise NotAQuantity(text, "what, material, how many, mass of all in one thing, how joined, tool")
    read_count(parts[2])
    return read_mass(any_mass(parts[3]))


def _fitting(text: str) -> Fields:
    must_read("--hardware", text, _read_fitting)
    facts = dict(zip(HARDWARE, (part.strip() for part in text.split(",")), strict=False))
    return {**facts, "count": f"{facts['count']} each", "mass": f"{any_mass(facts['mass'])} each"}
