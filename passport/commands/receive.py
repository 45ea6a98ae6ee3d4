"""`receive`: goods in. A sack gets its number, its record, and its weight now or later."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NoReturn

import click

from passport.amounts import read_mass
from passport.office import desk
from passport.office.asking import Asked, Question, at_a_terminal, say_how
from passport.office.goods_in import Sack, Usual, day_question, free_number, proposal_for, sack, scale_used
from passport.office.goods_in import stream_source as source_of
from passport.office.saving import event_lines, save, taken_ids
from passport.office.streams_anew import OPENING, UNTAGGED
from passport.office.typed import known_lot, today
from passport.office.wording import kilograms
from passport.problems import Place, Problem
from passport.reading.fields import NOT_WEIGHED, read_line
from passport.reading.shop import Shop, lot_events
from passport.writing import Change

HERE = Place("receive")


@click.command()
@click.argument("lots", nargs=-1, metavar="[LOT]...")
@click.option("--stream", metavar="NAME", help="The stream it is from; a new name sets one up, with --origin.")
@click.option("--origin", metavar="WORD", help="Of a new stream: used, left over, new, additive or unknown.")
@click.option("--title", metavar="TEXT", help="Of a new stream: what pages call it.")
@click.option("--country", metavar="XX", help="Of a new stream: where it was collected.")
@click.option("--from", "source", metavar="ADDRESS", help="Instead of a stream: another workshop's lot page.")
@click.option("--document", metavar="FILE", help="That workshop's lot.json; copied into content/documents/.")
@click.option("--opening", is_flag=True, help="It was there before you kept records: of unknown history.")
@click.option("--untagged", is_flag=True, help="A thing of yours that came back without its tag.")
@click.option("--on", metavar="DAY", help="The day it came in. Default: today.")
@click.option("--gross", metavar="MASS", help="With its container, kg unless said.")
@click.option("--tare", metavar="MASS", help="The container alone; 0 without one.")
@click.option("--mass", metavar="MASS", help="Instead of both: without its container.")
@click.option("--scale", metavar="NAME", help="Which scale. Default: the first one.")
@click.option("--pieces", metavar="N", help="How many pieces it has.")
@click.option("--form", metavar="WORD", help="pieces, flake, pellets and so on.")
@click.option("--moisture", metavar="SHARE", help='Water in it: "0.5 %".')
@click.option("--scanner", metavar="RESIN", help="What the scanner read; --scanned N pieces, --drawn how.")
@click.option("--scanned", metavar="N", help="How many pieces were scanned.")
@click.option("--drawn", metavar="WORD", help="How those were chosen: random, picked or all.")
@click.option("--mark-number", metavar="N", help="The number moulded into it.")
@click.option("--mark-letters", metavar="TEXT", help="The letters under that number.")
@click.option("--marked", metavar="N", help="On how many pieces the mark was seen.")
@click.option("--floats", metavar="N", help="Of the pieces put into water, how many floated,")
@click.option("--sinks", metavar="N", help="and how many sank.")
@click.option("--weathering", metavar="WORD", help="Sun and frost on it: none, light or heavy.")
@click.option("--colour", metavar="TEXT", help="Its colour.")
@click.option("--kept", metavar="PLACE", help="Where it will stand.")
@click.option("--photo", metavar="FILE", help="A file in content/photos/.")
@click.option("--note", metavar="TEXT", help="Anything worth telling; no names of people.")
@click.option("--quick", is_flag=True, help="Ask only where it is from and what it weighs.")
@click.option("--weigh", metavar="LOT", help="Weigh a lot that was taken in unweighed; its mass is --mass.")
@click.option("--because", metavar="TEXT", help="With --weigh: why. Default: first weighing.")
@click.option(
    "--reserve", type=click.IntRange(1, 200), metavar="N", help="Set N numbers aside; print cards and a sheet."
)
@click.option("--sheet", is_flag=True, help="Print cards and a sheet again for numbers set aside and not filled in.")
@click.option("--language", metavar="XX", help="Of cards and sheet. Default: the workshop's first.")
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), help="Where to print to. Default: labels-out/."
)
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written; write nothing.")
@desk.folder_option
def command(
    lots: tuple[str, ...],
    weigh: str | None,
    reserve: int | None,
    language: str | None,
    out: Path | None,
    folder: Path,
    *,
    opening: bool,
    untagged: bool,
    quick: bool,
    sheet: bool,
    yes: bool,
    dry_run: bool,
    **given: str | None,
) -> None:
    """Take goods in: ask in plain words what came, show the record, write it.

    Every question is an option too; with all of them given, or without a terminal, nothing is asked. At a question,
    "?" says that nobody knows, "why" explains it, an empty line takes what stands in brackets.

    \b
    Number now, weigh later:
      passport receive --reserve 10       ten cards and a sheet to fill in at the gate
      passport receive IN-041 IN-042      type in what the sheet says, all in one go
      passport receive --weigh IN-041     when it has been on the scale

    \b
    Example:
      passport receive
      passport receive --stream harbour-crates --gross 63.9 --tare 1.5 --quick
      passport receive --opening --mass 20 --colour grey
      passport receive --from https://pass.other.example/L/BL-9/ --document BL-9.json --mass 25
    """
    if reserve or sheet:
        from passport.office.sacks import reprint, set_aside  # noqa: PLC0415

        day = dt.date.fromisoformat(given["on"]) if given["on"] else today()
        target = out or folder.resolve() / "labels-out"
        set_aside(folder, target, reserve, day, language) if reserve else reprint(folder, target, language)
        return
    ask = Asked(given=_by_option(given), quick=quick)
    read = desk.read_records(folder)
    say_how()
    if weigh:
        _weigh(ask, folder, read, weigh, yes=yes, dry_run=dry_run)
    else:
        _refuse_wrong_use(given, len(lots), opening=opening, untagged=untagged)
        ready = OPENING if opening else UNTAGGED if untagged else ""
        _take_in(ask, folder, read, lots, ready, yes=yes, dry_run=dry_run)


def _by_option(given: Mapping[str, str | None]) -> dict[str, str | None]:
    """What click calls mark_number is the option --mark-number, and so is the question."""
    names = {"source": "from"}
    return {names.get(name, name.replace("_", "-")): text for name, text in given.items()}


def _refuse_wrong_use(given: Mapping[str, str | None], sacks: int, *, opening: bool, untagged: bool) -> None:
    ways = [bool(given["stream"]), bool(given["source"]), opening, untagged]
    if sum(ways) > 1:
        raise click.UsageError("--stream, --from, --opening and --untagged exclude each other")
    if sacks > 1 and (given["mass"] or given["gross"]):
        raise click.UsageError("a mass is of one sack; name one lot with it")
    if given["mass"] and (given["gross"] or given["tare"]):
        raise click.UsageError("--mass is without the container; give it, or --gross and --tare")
    if given["document"] and not given["source"]:
        raise click.UsageError("--document goes with --from")


# --- goods in ---------------------------------------------------------------------------------------------


def _take_in(
    ask: Asked,
    folder: Path,
    read: tuple[Shop, tuple[Problem, ...]],
    lots: Sequence[str],
    ready: str,
    *,
    yes: bool,
    dry_run: bool,
) -> None:
    """One sack after the other, all written together."""
    shop, _ = read
    sacks: list[Sack] = []
    for number in lots or ("",):
        lot = _number(ask, shop, number, sacks)
        sacks.append(sack(ask, folder, shop, lot, source_of(ask, folder, shop, ready), _usual(sacks)))
    ask.say_what_is_open()
    if save(folder, read, _once(sacks), yes=yes, dry_run=dry_run):
        for taken in sacks:
            click.echo(taken.lot)
        _say_next(sacks)


def _number(ask: Asked, shop: Shop, given: str, sacks: Sequence[Sack]) -> str:
    """The lot's number: as given, else the next free one. Numbers that cards hang for are not proposed."""
    written = {*shop.lots, *shop.runs, *shop.items, *(taken.lot for taken in sacks)}
    proposal = proposal_for(shop, (*taken_ids(shop), *(taken.lot for taken in sacks)))
    name = given.strip().upper()
    if name in shop.lots:
        _refuse_taken(shop, name, proposal)
    ask.given = {**ask.given, "lot": name or None}
    if name and at_a_terminal():
        desk.say(f"-- {name}")
    return ask(free_number(dict.fromkeys(written), name, proposal))


def _refuse_taken(shop: Shop, name: str, proposal: str) -> NoReturn:
    unweighed = shop.lots[name].mass is NOT_WEIGHED
    hint = f"to weigh it: passport receive --weigh {name}" if unweighed else f"the next free number is {proposal}"
    message = f"met {name}, which has its record already, wanted the number of a new lot"
    desk.stop([Problem(code="id-taken", message=message, place=HERE, hint=hint)])


def _usual(sacks: Sequence[Sack]) -> Usual:
    """Sacks that come together are mostly of one stream and one day."""
    last = sacks[-1] if sacks else None
    return Usual(day=last.day, stream=last.stream) if last else Usual(day=today().isoformat())


def _once(sacks: Sequence[Sack]) -> tuple[Change, ...]:
    """All changes, each file once: two sacks may bring one new stream."""
    changes = {change.path: change for taken in sacks for change in taken.changes}
    return tuple(changes.values())


def _say_next(sacks: Sequence[Sack]) -> None:
    names = " ".join(taken.lot for taken in sacks)
    desk.say(f"Next: passport labels {names} --kind card    prints what hangs on the sack")
    for taken in sacks:
        if not taken.weighed:
            desk.say(f"      passport receive --weigh {taken.lot}    once it has been on the scale")


# --- weighing later ---------------------------------------------------------------------------------------


def _weigh(
    ask: Asked,
    folder: Path,
    read: tuple[Shop, tuple[Problem, ...]],
    typed: str,
    *,
    yes: bool,
    dry_run: bool,
) -> None:
    """An event: the record that said "not weighed" stays as it was written."""
    shop, _ = read
    lot = known_lot(typed, shop, HERE)
    if isinstance(lot, Problem):
        desk.stop([lot])
    if shop.lots[lot].mass is not NOT_WEIGHED or _was_weighed(shop, lot):
        _refuse_weighed(lot)
    mass = ask(_Q_MASS)
    fields = {"date": ask(day_question(today().isoformat(), "Which day was it weighed")), "lot": lot}
    fields |= {"event": "weighed", "mass": mass, **{k: str(v) for k, v in scale_used(ask, shop)}}
    why = Question(name="because", asks="Why", proposal="first weighing", read=read_line)
    fields["because"] = ask(why) if ask.given.get("because") else why.proposal
    if save(folder, read, event_lines([fields]), yes=yes, dry_run=dry_run):
        click.echo(lot)


_Q_MASS = Question(
    name="mass", asks="What does it weigh now, without its container, in kg", read=read_mass, tidy=kilograms
)


def _was_weighed(shop: Shop, lot: str) -> bool:
    return any(getattr(event, "event", "") == "weighed" for event in lot_events(shop).get(lot, ()))


def _refuse_weighed(lot: str) -> NoReturn:
    message = f"met {lot}, which was weighed already, wanted a lot that was not"
    hint = f"to weigh it again, for the books: passport event weighed {lot}"
    desk.stop([Problem(code="weighed-already", message=message, place=HERE, hint=hint)])
