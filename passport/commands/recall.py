"""`recall`: call material back, from a lot or a stream to the tags, or end a recall by a later record."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from passport.office import desk
from passport.problems import Place, Problem, did_you_mean

if TYPE_CHECKING:
    from passport.reading.shop import Shop
    from passport.reading.yaml_text import Fields, Value
    from passport.verdicts.book import Book
    from passport.verdicts.recalls import CalledBack
    from passport.writing import Change

HERE = Place("recall")
SERIES = "RC"
PLACES = 3


@click.command()
@click.argument("name", required=False, metavar="LOT|STREAM")
@click.option(
    "--reason", "reasons", multiple=True, metavar="TEXT", help='Why, for the owners. "fr=TEXT" in a language.'
)
@click.option("--because-of", metavar="DOCUMENT", help="The paper or test behind it, such as a report's number.")
@click.option(
    "--owners", multiple=True, metavar="TEXT", help="What owners should do. Default: keep it apart, write to you."
)
@click.option("--hold", is_flag=True, help="Hold what is left in stock of every lot that it reaches, too.")
@click.option("--clear", metavar="RECALL", help="Instead: end this recall. Nothing of it is deleted.")
@click.option("--on", "day", type=desk.DAY, help="The day from which it holds. Default: today.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what it reaches and what would be written; write nothing.")
@desk.json_option
@desk.folder_option
def command(
    name: str | None,
    reasons: tuple[str, ...],
    because_of: str | None,
    owners: tuple[str, ...],
    clear: str | None,
    day: dt.date | None,
    folder: Path,
    *,
    hold: bool,
    yes: bool,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Call back a lot, or all lots of a stream, with every thing made of it.

    Says which tags it reaches, how much of it is in each, and where each was last known to be. The record goes into
    content/recalls/; the pages of those tags and lots then show the reason first, the log lists it, the feed
    announces it. It holds until a later record ends it (--clear).

    \b
    Example:
      passport recall IN-014 --reason "Lead in the pigment" --because-of "Report 26-031" --hold
      passport recall harbour-crates --reason "Old crates" --reason "fr=Vieilles caisses" --dry-run
      passport recall --clear RC-001 --reason "The laboratory found none"
    """
    from passport.office.saving import save  # noqa: PLC0415

    _refuse_wrong_use(name, reasons, clear, hold=hold)
    read = desk.read_records(folder)
    shop, _ = read
    on = day or dt.datetime.now(tz=dt.UTC).date()
    of = {"clears": _open_recall(shop, clear)} if clear else _called(shop, name or "")
    fields: dict[str, Value] = {
        "date": on.isoformat(),
        **of,
        "reason": _in_languages(shop, reasons),
        "because_of": because_of or "",
        "owners": _in_languages(shop, owners) if owners else "",
    }
    recall = _next_id(shop)
    changes = _changes(folder, read[0], recall, fields, on, hold=hold)
    told: list[Book] = []
    written = save(folder, read, changes, yes=yes, dry_run=dry_run, told=lambda book: _tell(folder, book, recall, told))
    called = told[0].recalls[of.get("clears", recall)]
    if as_json:
        said = {"recall": recall, "written": written, **_as_data(folder, told[0], called)}
        click.echo(json.dumps(said, ensure_ascii=False, indent=1))
    else:
        for line in _as_table([*_rows(called)]):
            click.echo(line)


def _refuse_wrong_use(name: str | None, reasons: Sequence[str], clear: str | None, *, hold: bool) -> None:
    if bool(name) == bool(clear):
        raise click.UsageError("name what is called back, LOT or STREAM, or --clear RECALL, one of the two")
    if not reasons:
        raise click.UsageError("--reason is wanted: it stands first on the pages of the things")
    if clear and hold:
        raise click.UsageError("--hold goes with a recall; what is held is released with: passport event")


def _called(shop: Shop, name: str) -> dict[str, str]:
    """The lot or stream that is meant, by its field."""
    name = name.strip().upper()
    field = "lot" if name in shop.lots else "stream" if name in shop.streams else ""
    if not field:
        desk.stop([_unknown(shop, name)])
    open_ = [r for r in shop.recalls.values() if getattr(r, field) == name and not _ended(shop, r.id)]
    if open_:
        message = f"met {name}, which {open_[0].id} has called back already ({open_[0].date})"
        hint = f"it still holds; to say more, end it first: passport recall --clear {open_[0].id}"
        desk.stop([Problem(code="recall-open", message=message, place=HERE, hint=hint)])
    return {field: name}


def _unknown(shop: Shop, name: str) -> Problem:
    if any(entry.tag == name for entry in shop.issued):
        message = f"met {name}, which is a tag, wanted a lot or a stream"
        return Problem(code="tag-not-lot", message=message, place=HERE, hint=f"see its lots: passport trace {name}")
    hint = did_you_mean(name, [*shop.lots, *shop.streams]) or "lots are the files in content/lots/"
    return Problem(code="unknown-lot", message=f'met "{name}", which is no lot and no stream', place=HERE, hint=hint)


def _open_recall(shop: Shop, name: str) -> str:
    name = name.strip().upper()
    recall = shop.recalls.get(name)
    if recall is None or recall.clears:
        begun = [r.id for r in shop.recalls.values() if not r.clears]
        hint = did_you_mean(name, begun) or f"there are {', '.join(begun) or 'none'}"
        message = f'met "{name}", which is no recall'
        desk.stop([Problem(code="unknown-recall", message=message, place=HERE, hint=hint)])
    end = _ended(shop, name)
    if end:
        message = f"met {name}, which {end} has ended already"
        desk.stop([Problem(code="recall-ended", message=message, place=HERE, hint="nothing is left to do")])
    return name


def _ended(shop: Shop, recall: str) -> str:
    return next((r.id for r in shop.recalls.values() if r.clears == recall), "")


def _in_languages(shop: Shop, texts: Sequence[str]) -> Value:
    """Text of the first language, or of several: "fr=TEXT" says which."""
    said: dict[str, str] = {}
    languages = shop.workshop.languages
    for text in texts:
        lang, sign, rest = text.partition("=")
        known = bool(sign) and lang in languages
        said[lang if known else languages[0]] = rest.strip() if known else text.strip()
    return said if len(said) > 1 or languages[0] not in said else said[languages[0]]


def _next_id(shop: Shop) -> str:
    from passport.office.saving import next_id  # noqa: PLC0415

    return next_id(shop.recalls, SERIES)


def _changes(folder: Path, shop: Shop, recall: str, fields: Fields, on: dt.date, *, hold: bool) -> list[Change]:
    from passport.office.saving import editors_line, event_lines  # noqa: PLC0415
    from passport.reading.yaml_text import record_text  # noqa: PLC0415
    from passport.writing import NewFile  # noqa: PLC0415

    text = record_text(fields, editors_line(folder, "recall"))
    held = [*_held(shop, recall, fields, on)] if hold else []
    return [NewFile(f"recalls/{recall}.yaml", text), *event_lines(held, folder)]


def _held(shop: Shop, recall: str, fields: Fields, on: dt.date) -> Iterator[Fields]:
    """An event `held` for every lot that it reaches, is free and has something left."""
    from passport.massflow import State  # noqa: PLC0415
    from passport.reading.decode import adapter  # noqa: PLC0415
    from passport.reading.records import Recall  # noqa: PLC0415
    from passport.verdicts.book import work_out  # noqa: PLC0415
    from passport.verdicts.recalls import reach  # noqa: PLC0415

    book = work_out(shop)
    wanted = {key: value for key, value in fields.items() if value}
    for lot in reach(book.ledger, book.lives, adapter(Recall).validate_python({"id": recall, **wanted})).lots:
        stock = book.ledger.stock[lot]
        if stock.state is State.FREE and stock.emptied is None and stock.books_kg != 0:
            yield {"date": on.isoformat(), "lot": lot, "event": "held", "because": f"Recall {recall}"}


# --- what it reaches ----------------------------------------------------------------------------------


def _tell(folder: Path, book: Book, recall: str, told: list[Book]) -> None:
    """Keep the book as it would be, and say how far the recall reaches."""
    told.append(book)
    record = book.shop.recalls[recall]
    called = book.recalls[record.clears or recall]
    things = f"{len(called.things)} things" if len(called.things) != 1 else "1 thing"
    desk.say(f"reaches {things} and {len(called.lots)} lots" if not record.clears else f"ends {called.recall.id}")
    for lang, text in _notices(folder, book, called).items():
        desk.say(f"  {lang}: {text}")


def _notices(folder: Path, book: Book, called: CalledBack) -> dict[str, str]:
    """What the page of the first thing will say first, by language; empty once it has ended."""
    from passport.office.stages import themed  # noqa: PLC0415
    from passport.pages.calling_back import notice  # noqa: PLC0415
    from passport.pages.plan import scribes  # noqa: PLC0415

    if not called.open:
        return {}
    theme, _ = themed(folder, book.shop)
    name = called.things[0].life.tag if called.things else ""
    found = ((scribe.lang, notice(scribe, called, name)) for scribe in scribes(book, theme, {}))
    return {lang: f"{n.title} · {n.text} {n.more}".strip() for lang, n in found}


def _rows(called: CalledBack) -> Iterator[dict[str, str]]:
    for thing in called.things:
        mass = thing.mass_kg
        yield {
            "tag": thing.life.tag,
            "batch": thing.life.item,
            "mass_kg": f"{float(mass):.{PLACES}f}" if mass is not None else "",
            "share": f"{float(thing.share) * 100:.1f} %",
            "stage": thing.life.stage.value,
            "last": str(getattr(thing.last, "event", "")) if thing.last else "",
            "on": thing.last.date.isoformat() if thing.last else "",
            "place": str(getattr(thing.last, "place", "")),
        }


def _as_data(folder: Path, book: Book, called: CalledBack) -> dict[str, object]:
    lots = [{"lot": lot, "share": f"{float(share):.4f}"} for lot, share in called.lots.items()]
    return {"open": called.open, "lots": lots, "things": [*_rows(called)], "notices": _notices(folder, book, called)}


def _as_table(rows: list[dict[str, str]]) -> Iterator[str]:
    if not rows:
        yield "no thing holds any of it"
        return
    columns = list(rows[0])
    width = {c: max(len(c), *(len(row[c]) for row in rows)) for c in columns}
    for row in ({c: c for c in columns}, *rows):
        yield "  ".join(f"{row[c]:<{width[c]}}" for c in columns).rstrip()
