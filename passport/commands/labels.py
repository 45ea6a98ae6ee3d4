"""`labels`: sheets, rolls and plates for the tags that have none yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import click

from passport import disk
from passport.commands import desk
from passport.commands.stages import themed, worked_out
from passport.pages.labelling import label_text, plate_text, resins_of
from passport.pages.plan import scribes
from passport.pages.scribe import Scribe
from passport.problems import Place, Problem, errors_in, in_words
from passport.reading.shop import Shop
from passport.reading.tag_lists import FIRST_SEAL, PRINTED_HEADER, printed_line, seal_in
from passport.reading.tag_numbers import nearest
from passport.tags.address import address_problems, is_sample, moved_problems
from passport.tags.faces import LabelError
from passport.tags.geometry import plan_symbol, reasons
from passport.tags.layout import LabelSpec
from passport.tags.plate import PlateSpec, plate_svg
from passport.tags.roll import roll_pdf
from passport.tags.sheet import SheetSpec, sheet_pdf
from passport.verdicts.life import Life
from passport.writing import AppendLines, sole_writer

LIST = "labels-printed.csv"
OUT = "labels-out"
KINDS = ("sheet", "roll", "twin", "plate")
Files = dict[str, bytes]


@click.command()
@click.argument("wanted", nargs=-1, metavar="[ITEM|TAG]...")
@click.option("--all", "every", is_flag=True, help="Also tags whose label was printed before.")
@click.option("--kind", type=click.Choice(KINDS), default="sheet", show_default=True, help="What to print on.")
@click.option(
    "--dpi", type=click.Choice(["203", "300", "600"]), help="The printer. Default: 600 for sheets, 300 for rolls."
)
@click.option("--start", type=click.IntRange(min=1), default=1, help="First free place on a sheet begun yesterday.")
@click.option("--explain", is_flag=True, help="Say why the symbol is as it is; print nothing.")
@click.option("--on", "day", type=desk.DAY, help="The day of printing. Default: today.")
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), help=f"Where to. Default: {OUT}/ beside content/."
)
@desk.folder_option
def command(
    wanted: tuple[str, ...],
    kind: str,
    dpi: str | None,
    start: int,
    day: dt.date | None,
    out: Path | None,
    folder: Path,
    *,
    every: bool,
    explain: bool,
) -> None:
    """Print labels in true size for the tags that have none yet, or for the batches and tags you name.

    What was printed is remembered in content/labels-printed.csv. While the workshop has no public address,
    every label says SAMPLE and nothing is remembered. Print at 100 %, never "fit to page": a ruler on the
    sheet shows whether the printer kept the size.

    \b
    Example:
      passport labels
      passport labels PL-2026-05 --kind plate
      passport labels --all --start 5
      passport labels --explain
    """
    book, _ = worked_out(folder, None)
    theme, of_theme = themed(folder, book.shop)
    if errors_in(of_theme):
        desk.stop(of_theme)
    scribe = scribes(book, theme, {})[0]
    lives = _chosen(scribe, wanted, every=every or explain)
    if explain:
        _explain(scribe, lives, int(dpi or 300))
        return
    _refuse_moved(book.shop)
    if not lives:
        desk.say("every tag has its label; passport labels --all prints them again")
        return
    try:
        files = _made(scribe, lives, kind, int(dpi) if dpi else None, start)
    except LabelError as slip:
        desk.stop(slip.problems)
    _write(folder, out or folder.resolve() / OUT, files)
    if is_sample(book.shop.workshop.address):
        desk.show(
            address_problems(book.shop.workshop.address, lives[0].tag, book.shop.place("workshop", "", "address"))
        )
        return
    # the clock is asked here and nowhere below: a day of printing is a record, not a figure
    _remember(folder, lives, kind, day or dt.datetime.now(tz=dt.UTC).date(), book.shop.workshop.address)


def _chosen(scribe: Scribe, wanted: Sequence[str], *, every: bool) -> list[Life]:
    """The tags to print: those named, else those without a label; things that are gone get none."""
    book = scribe.book
    printed = {label.tag for label in book.shop.printed}
    names = {name.upper() for name in wanted}
    unknown = names - set(book.lives) - set(book.shop.items)
    if unknown:
        desk.stop(_unknown(name, scribe) for name in sorted(unknown))
    lives = [life for life in book.lives.values() if life.open]
    if names:
        return [life for life in lives if life.tag in names or life.item in names]
    return [life for life in lives if every or life.tag not in printed]


def _unknown(name: str, scribe: Scribe) -> Problem:
    near = nearest(name, scribe.book.lives)
    hint = f"the nearest issued: {', '.join(near)}" if near else "issue numbers with: passport tag ITEM"
    message = f'met "{name}", which is no issued tag and no item batch'
    return Problem(code="unknown-tag", message=message, place=Place("labels"), hint=hint)


def _refuse_moved(shop: Shop) -> None:
    """A new address after tags were printed is refused unless the records say how the old one still answers."""
    place = shop.place("workshop", "", "address")
    answered = [former.address for former in shop.workshop.former_addresses]
    printed = [(label.tag, label.address) for label in shop.printed]
    problems = moved_problems(printed, shop.workshop.address, answered, place)
    if errors_in(problems):
        desk.stop(problems)


def _explain(scribe: Scribe, lives: Sequence[Life], dpi: int) -> None:
    if not lives:
        desk.say("no tag was issued yet: passport tag ITEM")
        return
    spec = LabelSpec(dpi=dpi)
    text = label_text(scribe, lives[0])
    plan = plan_symbol(text.payload, side_mm=spec.symbol_mm, dpi=dpi)
    click.echo(f"{text.tag}: {text.payload}")
    for line in reasons(plan, spec.symbol_mm):
        click.echo(f"  {line}")
    for problem in plan.problems:
        click.echo(in_words(problem))


def _made(scribe: Scribe, lives: Sequence[Life], kind: str, dpi: int | None, start: int) -> Files:
    if kind == "plate":
        return {f"plate-{life.tag}.svg": plate_svg(plate_text(scribe, life), PlateSpec()).encode() for life in lives}
    texts = [label_text(scribe, life) for life in lives]
    name = f"{kind}-{lives[0].tag}-{len(lives)}.pdf"
    if kind == "roll":
        return {name: roll_pdf(texts, LabelSpec(dpi=dpi or 300))}
    twin = LabelSpec(symbols=2, width_mm=100.0, dpi=dpi or 600) if kind == "twin" else LabelSpec(dpi=dpi or 600)
    columns = 1 if kind == "twin" else 2
    sheet = SheetSpec(label=twin, dpi=dpi or 600, columns=columns, start=start)
    return {name: sheet_pdf(texts, sheet, sorted({r for life in lives for r in resins_of(scribe, life)}))}


def _write(folder: Path, out: Path, files: Files) -> None:
    site = folder.resolve() / "site"
    if out.resolve().is_relative_to(site):
        message = f"met {out} for labels, wanted a folder outside site/"
        desk.stop([Problem(code="labels-in-site", message=message, hint="site/ is built anew each time")])
    with desk.refusals(), disk.worded("labels-not-written", out):
        out.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            part = out / f".{name}.part"
            part.unlink(missing_ok=True)
            disk.write_new(part, content, sync=True)
            part.replace(out / name)
            click.echo(str(out / name))


def _remember(folder: Path, lives: Sequence[Life], kind: str, day: dt.date, address: str) -> None:
    """Append what was printed. Killed in between, a label is printed again at worst."""
    from passport.reading.folder import read_shop  # noqa: PLC0415

    content = desk.content_of(folder)
    with desk.refusals(), sole_writer(content, say=desk.say) as writer:
        shop, problems = read_shop(content)
        if shop is None or errors_in(problems):
            desk.stop(problems)
        seal, lines = shop.printed[-1].seal if shop.printed else FIRST_SEAL, []
        for life in lives:
            lines.append(printed_line(seal, tag=life.tag, printed=day, kind=kind, address=address))
            seal = seal_in(lines[-1])
        writer.write([AppendLines(LIST, tuple(lines), PRINTED_HEADER.rstrip("\n"))])
