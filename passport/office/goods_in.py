"""The questions about one sack that comes in, and its record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from passport.amounts import NotAQuantity, read_count, read_mass
from passport.office.asking import Asked, Question
from passport.office.saving import lot_file, next_id
from passport.office.streams_anew import Chosen, chosen, ready_made
from passport.office.wording import kilograms, read_resin, resin
from passport.problems import did_you_mean
from passport.reading.fields import NOT_WEIGHED, read_date, read_id, read_line
from passport.reading.records import Drawn, Form, Weathering
from passport.reading.shop import Shop
from passport.reading.yaml_text import Value
from passport.writing import Change, NewFile

SERIES = "IN"
"""What numbers of goods in begin with where no lot was received yet."""
WITHOUT = "no test says what it is: pages state no resin and no mark"
ADDRESS = ("http://", "https://")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sack:
    """What was answered about one sack."""

    lot: str
    changes: tuple[Change, ...]
    """Its record, and that of its stream where it is new."""
    stream: str
    day: str
    weighed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What an empty line means: today, and what the sack before had."""

    day: str
    stream: str = ""
    scale: str = ""


def series_of(shop: Shop) -> str:
    """What the numbers of received lots begin with: that of the latest one."""
    ours = (lot for lot in shop.lots.values() if not shop.taken_over(lot.id))
    received = [lot for lot in ours if lot.received and lot.received.stream]
    numbered = [lot for lot in received if lot.id.rpartition("-")[2].isdigit() and "-" in lot.id]
    latest = max(numbered, key=lambda lot: (lot.date, lot.id), default=None)
    return latest.id.rpartition("-")[0] if latest else SERIES


def waiting(shop: Shop) -> tuple[str, ...]:
    """Numbers set aside whose goods have no record yet."""
    written = {*shop.lots, *shop.runs, *shop.items}
    return tuple(lot for lot in shop.set_aside if lot not in written)


def free_number(taken: Mapping[str, object], given: str, proposal: str) -> Question:
    """The number of a new lot. taken: the ids that a record has."""

    def read(text: str) -> str:
        name = read_id(text)
        if name in taken:
            raise NotAQuantity(text, "a number that no record has", f"the next free one is {proposal}")
        return name

    return Question(
        name="lot",
        asks="The number on its card" if given else "Its number",
        why="it is written on the card that hangs on the sack; the next free one is proposed",
        proposal=proposal,
        read=read,
        tidy=str.upper,
    )


def sack(ask: Asked, folder: Path, shop: Shop, lot: str, source: Callable[[Usual], Chosen], usual: Usual) -> Sack:
    """Ask all there is to ask about one sack. source: asks for its stream, or knows it already."""
    came_from = source(usual)
    day = ask(day_question(usual.day, "Which day did it come in"))
    weighed = dict(weights(ask, lot, shop, usual.scale))
    fields: dict[str, Value] = {"date": day, "received": _received(ask, came_from), **weighed}
    fields |= dict(_looks(ask, shop))
    papers = _papers(ask)
    record = lot_file(folder, lot, fields)
    return Sack(
        lot=lot,
        changes=(*came_from.changes, *papers, record),
        stream=came_from.name,
        day=day,
        weighed="mass" not in weighed or weighed["mass"] != NOT_WEIGHED.value,
    )


def stream_source(ask: Asked, folder: Path, shop: Shop, ready: str) -> Callable[[Usual], Chosen]:
    """Where the stream comes from: a ready-made one, another workshop, or the question."""

    def source(usual: Usual) -> Chosen:
        if ask.given.get("from"):
            return Chosen(name="")
        return ready_made(folder, shop, ready) if ready else chosen(ask, folder, shop, usual.stream)

    return source


def day_question(usual: str, asks: str) -> Question:
    """A day, with the usual one as proposal."""
    return Question(name="on", asks=asks, proposal=usual, read=read_date)


def weights(ask: Asked, lot: str, shop: Shop, usual_scale: str) -> Iterator[tuple[str, Value]]:
    """Gross and tare, or net, or not weighed; then the scale, where there are several."""
    cost = f"figures are withheld until it is weighed: passport receive --weigh {lot}"
    by_mass = bool(ask.given.get("mass"))
    asks = (
        "What does it weigh, without its container, in kg"
        if by_mass
        else "What does it weigh with its container, in kg"
    )
    weighed = ask(_mass_question("mass" if by_mass else "gross", asks, cost))
    if not weighed:
        yield "mass", NOT_WEIGHED.value
        return
    if by_mass:
        yield "mass", weighed
    else:
        yield from _less_tare(ask, weighed)
    yield from scale_used(ask, shop, usual_scale)


def _mass_question(name: str, asks: str, cost: str = "", proposal: str = "") -> Question:
    return Question(name=name, asks=asks, read=read_mass, tidy=kilograms, cost=cost, proposal=proposal, vital=True)


def _less_tare(ask: Asked, gross: str) -> Iterator[tuple[str, Value]]:
    question = Question(
        name="tare",
        asks="And the container alone, in kg (0: weighed without one)",
        why="the plastic is the difference; a sack of 100 g counts as well",
        read=_below(gross),
        tidy=kilograms,
    )
    tare = ask(question)
    if read_mass(tare).mass_kg == 0:
        yield "mass", gross
    else:
        yield from (("gross", gross), ("tare", tare))


def _below(gross: str) -> Callable[[str], object]:
    def read(text: str) -> object:
        if read_mass(text).mass_kg >= read_mass(gross).mass_kg:
            raise NotAQuantity(text, f"less than the {gross} of both together")
        return text

    return read


def scale_used(ask: Asked, shop: Shop, usual: str = "") -> Iterator[tuple[str, Value]]:
    """Which scale, where the workshop has several."""
    scales = tuple(shop.workshop.scales)
    if len(scales) > 1:
        question = Question(name="scale", asks="On which scale", proposal=usual or scales[0], known=scales)
        yield "scale", ask(question)


def _received(ask: Asked, came_from: Chosen) -> dict[str, Value]:
    if came_from.name:
        return {"stream": came_from.name}
    document = ask.given.get("document") or ""
    return {"from": ask.given.get("from") or "", "document": Path(document).name}


def _papers(ask: Asked) -> tuple[Change, ...]:
    """Another workshop's data file, copied into the records where it lies elsewhere."""
    path = Path(ask.given.get("document") or "")
    if not path.suffix or not path.is_file():
        return ()
    return (NewFile(f"documents/{path.name}", path.read_text(encoding="utf-8")),)


# --- what it looks like, and what tests said --------------------------------------------------------------


def _looks(ask: Asked, shop: Shop) -> Iterator[tuple[str, Value]]:
    yield "pieces", ask(count_question("pieces", "How many pieces", "nothing can be drawn from it by the piece"))
    yield "form", ask(_choice("form", "In which form", tuple(form.value for form in Form), "blend will leave it out"))
    if ask.given.get("moisture"):
        yield "moisture", str(ask.given["moisture"])
    yield "evidence", [*_scanned(ask), *_marked(ask), *_floated(ask)]
    sun = tuple(state.value for state in Weathering)
    yield "weathering", ask(_choice("weathering", "Sun and frost on it", sun, "pages cannot say how sun-worn it is"))
    yield "colour", ask(Question(name="colour", asks="Which colour", read=read_line, cost="blends go by it"))
    yield "kept", ask(Question(name="kept", asks="Where will it stand", read=read_line, cost="stock cannot say where"))
    yield "photo", ask(_photo(shop))
    yield "notes", ask.given.get("note") or ""


def _choice(name: str, asks: str, known: tuple[str, ...], cost: str) -> Question:
    return Question(name=name, asks=f"{asks} ({', '.join(known)})", known=known, cost=cost)


def count_question(name: str, asks: str, cost: str = "", proposal: str = "") -> Question:
    """A whole number of pieces."""
    return Question(name=name, asks=asks, read=read_count, cost=cost, proposal=proposal)


def _scanned(ask: Asked) -> Iterator[Value]:
    asks = "What did the scanner read, such as PE-HD"
    reads = ask(Question(name="scanner", asks=asks, read=read_resin, tidy=resin, cost=WITHOUT))
    if reads:
        pieces = ask(count_question("scanned", "  How many pieces were scanned", "it says nothing about the rest"))
        ways = tuple(way.value for way in Drawn)
        how = "only random and all say something about the rest of the sack"
        drawn = Question(
            name="drawn", asks=f"  How were they chosen ({', '.join(ways)})", known=ways, why=how, cost=how
        )
        yield {"test": "nir", "reads": reads, "pieces": pieces, "drawn": ask(drawn) if pieces else ""}


def _marked(ask: Asked) -> Iterator[Value]:
    number = ask(Question(name="mark-number", asks="The number moulded into it", read=_digits, cost="no mark backs it"))
    letters = ask(
        Question(name="mark-letters", asks="The letters under the number", read=read_line, cost="no mark backs it")
    )
    if number or letters:
        pieces = ask(count_question("marked", "  On how many pieces", "it counts as seen on one piece"))
        yield {"test": "moulded-mark", "number": number, "letters": letters, "pieces": pieces, "drawn": "picked"}


def _digits(text: str) -> object:
    if not text.isdigit():
        raise NotAQuantity(text, "the number in the triangle, 1 to 7; its letters are asked next")
    return text


def _floated(ask: Asked) -> Iterator[Value]:
    asks = "Pieces put into water: how many floated"
    floats = ask(count_question("floats", asks, "nobody can tell it from heavier plastics"))
    if floats:
        sinks = ask(count_question("sinks", "  And how many sank", proposal="0"))
        counts = {"floats": floats, "sinks": sinks}
        yield {"test": "float", "liquid": "water", **{way: n for way, n in counts.items() if n != "0"}}


def _photo(shop: Shop) -> Question:
    def read(text: str) -> object:
        if text not in shop.photos:
            hint = did_you_mean(text, sorted(shop.photos)) or "put the file there first, and name it"
            raise NotAQuantity(text, "the name of a file in content/photos/", hint)
        return text

    return Question(name="photo", asks="Its photo, a file in content/photos", read=read, cost="no picture on its page")


def proposal_for(shop: Shop, taken: tuple[str, ...]) -> str:
    """The next free number for goods in."""
    return next_id(taken, series_of(shop))
