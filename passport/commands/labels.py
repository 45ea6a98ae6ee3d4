"""`labels`: sheets, rolls, plates and cards in true size, for what has no label yet."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import click

from passport.office import desk
from passport.office.label_files import in_language, write_files
from passport.office.label_kinds import (
    KINDS,
    Pair,
    Wish,
    explained,
    files_of_lots,
    files_of_tags,
    reasons_of_card,
    remarks,
    unused_options,
)
from passport.office.numbers import ended
from passport.office.stages import themed, worded, worked_out
from passport.pages.labelling import card_text
from passport.pages.plan import scribes
from passport.pages.scribe import Scribe
from passport.problems import Level, Place, Problem, did_you_mean, errors_in
from passport.reading.records import Lot
from passport.reading.shop import Shop
from passport.reading.tag_lists import FIRST_SEAL, PRINTED_HEADER, own_lines, printed_line, seal_in
from passport.reading.tag_numbers import TagNumber, nearest, read_tag_number
from passport.tags.address import address_problems, is_sample, moved_problems
from passport.tags.faces import LabelError
from passport.verdicts.life import Life
from passport.writing import AppendLines, sole_writer

LIST = "labels-printed.csv"
OUT = "labels-out"
HERE = Place("labels")


class _Two(click.ParamType):  # type: ignore[type-arg]  # generic only in newer versions
    """Two numbers within limits: 70x37, 70 × 37 mm, 2x6."""

    name = "NxN"
    _shape = re.compile(r"(\d{1,3}(?:\.\d{1,3})?) *[x×X] *(\d{1,3}(?:\.\d{1,3})?) *(?:mm)?")

    def __init__(self, least: float, most: float, *, whole: bool = False) -> None:
        self.least, self.most, self.whole = least, most, whole

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Pair:
        if isinstance(value, tuple):
            return value
        met = self._shape.fullmatch(str(value).strip())
        if not met:
            self.fail(f'met "{value}", wanted two numbers such as 70x37', param, ctx)
        pair = float(met[1]), float(met[2])
        if self.whole and any(number % 1 for number in pair):
            self.fail(f'met "{value}", wanted two whole numbers such as 2x6', param, ctx)
        if not all(self.least <= number <= self.most for number in pair):
            self.fail(f'met "{value}", wanted numbers from {self.least:g} to {self.most:g}', param, ctx)
        return pair


class _Within(click.FloatRange):
    """A number within limits; "nan" compares with nothing and would pass the limits."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        number = float(super().convert(value, param, ctx))
        if math.isnan(number):
            self.fail(f'met "{value}", wanted a number', param, ctx)
        return number


SIDES, COUNTS, SPACES = _Two(5, 500), _Two(1, 99, whole=True), _Two(0, 300)


@click.command()
@click.argument("wanted", nargs=-1, metavar="[ITEM|TAG|LOT]...")
@click.option("--all", "every", is_flag=True, help="Also tags whose label was printed before.")
@click.option(
    "--kind",
    type=click.Choice(list(KINDS)),
    default="sheet",
    show_default=True,
    help="; ".join(f"{kind}: {what}" for kind, what in KINDS.items()) + ".",
)
@click.option(
    "--dpi",
    type=click.Choice(["203", "300", "600"]),
    help="The printer. Default: 600 for sheet, twin and page, else 300.",
)
@click.option("--size", type=SIDES, help="Label, plate or card in mm. Default: 70x37, 100x37, 80x40, 148x105.")
@click.option("--symbol", type=_Within(5, 200), help="Symbol with its white rim in mm. Default: 30, 36, 48.")
@click.option("--level", type=click.Choice(["L", "M", "Q", "H"]), help="Recovery. Default: Q; M where it is small.")
@click.option("--distance", type=_Within(0, 20), default=0.0, help="Metres from which it must be read.")
@click.option("--start", type=click.IntRange(min=1), default=1, help="First free place on a sheet begun yesterday.")
@click.option("--grid", type=COUNTS, help="Columns and rows of a sheet. Default: as many as fit.")
@click.option("--margins", type=SPACES, help="Left and top to the first label, mm. Default: centred, 12.")
@click.option("--gaps", type=SPACES, help="Between labels across and down, mm. Default: 4x4.")
@click.option("--bare", is_flag=True, help="No cut marks, ruler or page number: bought stickers.")
@click.option("--tool", type=_Within(0.01, 10), help="Width of the engraver's finest cut, mm. Default: 0.2.")
@click.option("--no-holes", "solid", is_flag=True, help="A plate without screw holes, to be welded on.")
@click.option("--explain", is_flag=True, help="Say why the symbol is as it is; print nothing.")
@click.option("--language", help="Of labels, notes and cards, such as fr. Default: the workshop's first.")
@click.option("--on", "day", type=desk.DAY, help="The day of printing. Default: today.")
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), help=f"Where to. Default: {OUT}/ beside content/."
)
@desk.folder_option
def command(
    wanted: tuple[str, ...],
    kind: str,
    dpi: str | None,
    size: Pair | None,
    symbol: float | None,
    level: str | None,
    distance: float,
    start: int,
    grid: Pair | None,
    margins: Pair | None,
    gaps: Pair | None,
    tool: float | None,
    language: str | None,
    day: dt.date | None,
    out: Path | None,
    folder: Path,
    *,
    every: bool,
    bare: bool,
    solid: bool,
    explain: bool,
) -> None:
    """Print labels in true size for the tags that have none yet, or for the batches and tags you name.

    What was printed is remembered in content/labels-printed.csv. While the workshop has no public address,
    every label says SAMPLE and nothing is remembered. Cards are for the lots you name, and are not remembered
    either. Every symbol is read back from the finished page before a file is written.

    Print at 100 %, never "fit to page": a ruler on the sheet shows whether the printer kept the size.

    After tags were printed the workshop's address may change only where `former_addresses:` in workshop.yaml
    says how the old one still leads to the new one.

    \b
    Example:
      passport labels
      passport labels PL-2026-05 --kind plate --tool 0.3
      passport labels --all --start 5
      passport labels RY-22224M --kind tag --dpi 203 --size 60x30 --symbol 25
      passport labels --size 70x37 --grid 3x8 --margins 0x0.5 --gaps 0x0 --bare
      passport labels SH-021 BL-007 --kind card --language fr
      passport labels --explain --distance 1.5
    """
    wish = Wish(
        kind=kind, dpi=int(dpi) if dpi else None, size_mm=size, symbol_mm=symbol, level=level or "",
        distance_mm=distance * 1000, start=start, grid=grid, margins_mm=margins, gaps_mm=gaps, bare=bare,
        tool_mm=tool, holes=not solid,
    )  # fmt: skip
    if useless := list(unused_options(wish)):
        raise click.UsageError(f"--kind {kind} has no use for {', '.join(useless)}")
    book, _ = worked_out(folder, None)
    theme, of_theme = themed(folder, book.shop)
    of_words = worded(book, theme)
    if errors_in((*of_theme, *of_words)):
        desk.stop((*of_theme, *errors_in(of_words)))
    scribe = in_language(scribes(book, theme, {}), language)
    target = out or folder.resolve() / OUT
    if kind == "card":
        _cards(scribe, wanted, wish, folder, target, explain=explain)
        return
    lives = _chosen(scribe, wanted, every=every or explain)
    if explain:
        _explain(scribe, lives, wish)
        return
    _refuse_moved(book.shop)
    if not lives:
        desk.say(_nothing_to_print(scribe, wanted))
        return
    try:
        files = files_of_tags(scribe, lives, wish)
    except LabelError as slip:
        desk.stop(slip.problems)
    write_files(folder, target, files)
    desk.show((*remarks(scribe, lives[0], wish), *_of_address(book.shop, lives[0].tag)))
    if not is_sample(book.shop.workshop.address):
        # the clock is asked here and nowhere below: a day of printing is a record, not a figure
        _remember(folder, lives, kind, day or dt.datetime.now(tz=dt.UTC).date(), book.shop.workshop.address)


# --- what to print --------------------------------------------------------------------------------------


def _chosen(scribe: Scribe, wanted: Sequence[str], *, every: bool) -> list[Life]:
    """The tags to print: those named, else those without a label; things that are gone get none."""
    book = scribe.book
    names = [_name(word, scribe) for word in wanted]
    if wrong := [name for name in names if isinstance(name, Problem)]:
        desk.stop(wrong)
    lives = [life for life in book.lives.values() if life.open]
    if names:
        return [life for life in lives if life.tag in names or life.item in names]
    printed = {label.tag for label in book.shop.printed}
    return [life for life in lives if every or life.tag not in printed]


def _name(word: str, scribe: Scribe) -> str | Problem:
    """The item batch or the tag that a word names, typed in any case and with or without hyphen."""
    book = scribe.book
    if word.upper() in book.shop.items:
        return word.upper()
    number = read_tag_number(word, book.shop.workshop.prefix)
    tag = str(number) if isinstance(number, TagNumber) else word.upper()
    life = book.lives.get(tag)
    if life is None:
        return _unknown(word, number, scribe)
    return tag if life.open else _ended(life)


def _unknown(word: str, number: TagNumber | Problem, scribe: Scribe) -> Problem:
    """What a word that names nothing may have been meant for."""
    book = scribe.book
    if isinstance(number, Problem) and number.code != "tag-number-shape":
        code, message = number.code, number.message
    else:
        code, message = "unknown-tag", f'met "{word}", which is no issued tag and no item batch'
    near = nearest(word, book.lives)
    if near:
        hint = f"the nearest issued: {', '.join(near)}"
    elif word.upper() in book.shop.lots:
        hint = f"{word.upper()} is a lot; its card: passport labels {word.upper()} --kind card"
    else:
        hint = did_you_mean(word, book.shop.items) or "issue numbers with: passport tag ITEM"
    return Problem(code=code, message=message, place=HERE, hint=hint)


def _ended(life: Life) -> Problem:
    return Problem(
        code="tag-ended",
        message=f"{life.tag} {ended(life)}: its number keeps its page for ever and gets no new label",
        place=HERE,
        hint=f"passport labels {life.replaced_by}" if life.replaced_by else "name other tags",
    )


def _nothing_to_print(scribe: Scribe, wanted: Sequence[str]) -> str:
    if not scribe.book.lives:
        return "no tag was issued yet: passport tag ITEM"
    if wanted:
        return f"nothing of {', '.join(wanted)} has a tag and is still about: passport tag ITEM issues numbers"
    return "every tag has its label; passport labels --all prints them again"


def _refuse_moved(shop: Shop) -> None:
    """A new address after tags were printed is refused unless the records say how the old one still answers."""
    place = shop.place("workshop", "", "address")
    answered = [former.address for former in shop.workshop.former_addresses]
    printed = [(label.tag, label.address) for label in shop.printed]
    problems = moved_problems(printed, shop.workshop.address, answered, place)
    if errors_in(problems):
        desk.stop(problems)


def _of_address(shop: Shop, tag: str) -> tuple[Problem, ...]:
    return address_problems(shop.workshop.address, tag, shop.place("workshop", "", "address"))


def _explain(scribe: Scribe, lives: Sequence[Life], wish: Wish) -> None:
    if not lives:
        desk.say("no tag was issued yet: passport tag ITEM")
        return
    lines, problems = explained(scribe, lives[0], wish)
    _tell(lines, (*problems, *_of_address(scribe.book.shop, lives[0].tag)))


def _tell(lines: Sequence[str], problems: Iterable[Problem]) -> None:
    click.echo("\n  ".join(lines))
    found = tuple(problems)
    if errors_in(found):
        desk.stop(found)
    desk.show(found)
    if not any(problem.level is Level.DOUBT or problem.code.startswith(("label", "plate")) for problem in found):
        desk.say("nothing here is below what was measured to last outdoors")


# --- cards ----------------------------------------------------------------------------------------------


def _cards(scribe: Scribe, wanted: Sequence[str], wish: Wish, folder: Path, target: Path, *, explain: bool) -> None:
    lots = _lots(scribe.book.shop, wanted)
    try:
        if explain:
            _tell(tuple(reasons_of_card(card_text(scribe, lots[0]), wish)), ())
            return
        files = files_of_lots(scribe, lots, wish)
    except LabelError as slip:
        desk.stop(slip.problems)
    write_files(folder, target, files)


def _lots(shop: Shop, wanted: Sequence[str]) -> list[Lot]:
    if not wanted:
        raise click.UsageError("--kind card wants the lots named: passport labels SH-021 --kind card")
    names = dict.fromkeys(word.upper() for word in wanted)
    wrong = [
        Problem(
            code="unknown-lot",
            message=f'met the lot "{name}", which has no record',
            place=HERE,
            hint=did_you_mean(name, shop.lots) or "lots are the files in content/lots/",
        )
        for name in names
        if name not in shop.lots
    ]
    if wrong:
        desk.stop(wrong)
    return [shop.lots[name] for name in names]


# --- what to write --------------------------------------------------------------------------------------


def _remember(folder: Path, lives: Sequence[Life], kind: str, day: dt.date, address: str) -> None:
    """Append what was printed. Killed in between, a label is printed again at worst."""
    from passport.reading.folder import read_shop  # noqa: PLC0415

    content = desk.content_of(folder)
    with desk.refusals(), sole_writer(content, say=desk.say) as writer:
        shop, problems = read_shop(content)
        if shop is None or errors_in(problems):
            desk.stop(problems)
        own = own_lines(shop.printed)
        seal, lines = own[-1].seal if own else FIRST_SEAL, []
        for life in lives:
            lines.append(printed_line(seal, tag=life.tag, printed=day, kind=kind, address=address))
            seal = seal_in(lines[-1])
        writer.write([AppendLines(LIST, tuple(lines), PRINTED_HEADER.rstrip("\n"))])
