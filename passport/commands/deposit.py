"""`deposit`: the whole record in one file for the decades; is it whole; take over another workshop's."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from passport.deposit.packing import Packed
from passport.disk import Refused
from passport.office import desk
from passport.problems import Level, Place, Problem, errors_in, in_order, in_words, plain
from passport.reading.shop import Shop, latest_date

if TYPE_CHECKING:
    from passport.pages.pictures import Ready
    from passport.pages.theme import Theme
    from passport.verdicts.book import Book

FOLDER = "deposits"
FAT32_LIMIT = (1 << 32) - 1
"""Largest file on a memory stick formatted as FAT32 (from memory)."""
LARGE = 700_000_000
"""A recordable CD (from memory); beyond it, people ask what makes the file so large."""


@click.command()
@click.option(
    "--verify", type=click.Path(path_type=Path), metavar="FILE", help="Say whether the deposit FILE is whole."
)
@click.option(
    "--take-over",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Take the records and tags of another workshop from its deposit FILE.",
)
@click.option(
    "--to",
    type=click.Path(file_okay=False, path_type=Path),
    help=f"The folder for the new file. Default: {FOLDER}/ in the workshop's folder.",
)
@click.option(
    "--private",
    multiple=True,
    metavar="ID",
    help="Put private/ID.yaml in too; may stand several times. Without it nothing of private/ is opened.",
)
@desk.at_option
@desk.json_option
@desk.folder_option
def command(
    verify: Path | None,
    take_over: Path | None,
    to: Path | None,
    private: tuple[str, ...],
    at: date | None,
    folder: Path,
    *,
    as_json: bool,
) -> None:
    """Pack records, tag lists, built site and a reading guide into one dated file for the decades.

    The file is a plain ZIP in which nothing is compressed, laid out as a bag (RFC 8493, BagIt 1.0): any unpacker
    opens it, any text editor reads it, and READ-ME-FIRST.txt in it says how. The same records give the same file.
    A file that is there already is never overwritten.

    --verify reads a deposit from the first byte to the last: each file's SHA-256, nothing too much, nothing missing.

    --take-over brings the records of a workshop that closed into content/from/PREFIX/, as they are. Their tags go
    on answering on your site, their lots can be drawn from under the name PREFIX-ID, their history stays behind them.

    \b
    Example:
      passport deposit
      passport deposit --to /media/stick --at 2026-06-30
      passport deposit --verify deposits/RY-deposit-2026-06-30.zip
      passport deposit --take-over RY-deposit-2026-06-30.zip
    """
    _refuse_wrong_use(verify, take_over, packing=bool(to or private or at))
    if verify:
        _verify(verify, as_json=as_json)
    elif take_over:
        from passport.office.taking_over import take  # noqa: PLC0415

        take(take_over, folder, as_json=as_json)
    else:
        _pack(folder, to, private, at, as_json=as_json)


def _refuse_wrong_use(verify: Path | None, take_over: Path | None, *, packing: bool) -> None:
    if verify and take_over:
        raise click.UsageError("--verify and --take-over exclude each other; a take-over verifies by itself")
    if (verify or take_over) and packing:
        raise click.UsageError(
            "--to, --private and --at are for packing alone; --verify and --take-over take none of them"
        )


# --- is it whole? --------------------------------------------------------------------------------------


def _verify(path: Path, *, as_json: bool) -> None:
    from passport.deposit.verifying import opened  # noqa: PLC0415

    with desk.refusals(), opened(path) as deposit:
        said = {
            "file": str(path),
            "sha256": deposit.sha256,
            "bytes": deposit.size,
            "files": len(deposit.members),
            "workshop": deposit.info["Source-Organization"],
            "prefix": deposit.prefix,
            "day": deposit.day.isoformat(),
        }
    if as_json:
        click.echo(json.dumps(said, ensure_ascii=False, indent=1))
    else:
        click.echo(f"{said['sha256']}  {plain(path.name)}")
        desk.say(
            f"whole: {said['files']} files, {_size(deposit.size)}, {plain(deposit.info['Source-Organization'])} up to"
            f" {said['day']}; compare the checksum above with the one that was written down"
        )


# --- packing -------------------------------------------------------------------------------------------


def _pack(folder: Path, to: Path | None, private: Sequence[str], at: date | None, *, as_json: bool) -> None:
    from passport.deposit import bag, guide  # noqa: PLC0415
    from passport.deposit.field_list import field_list  # noqa: PLC0415
    from passport.deposit.packing import pack  # noqa: PLC0415
    from passport.deposit.private import private_records  # noqa: PLC0415
    from passport.office.stages import address_errors, pictures_of, themed  # noqa: PLC0415
    from passport.verdicts.book import work_out  # noqa: PLC0415
    from passport.writing import steady  # noqa: PLC0415

    top = folder.resolve()
    target = (to or top / FOLDER).resolve()
    with desk.refusals():
        _refuse_inside(target, top)
        asked = tuple(private_records(top, private))
    if not (top / "content").is_dir():
        desk.read_records(folder)  # ends with the one wording for it
    with desk.refusals(), steady(top / "content", say=desk.say):
        shop, read = desk.read_records(folder)
        book = work_out(shop, at)
        theme, of_theme = themed(folder, book.shop)
        pictures, of_pictures = pictures_of(folder, book.shop)
        problems = (*read, *_too_early(at, shop), *address_errors(shop), *book.problems)
        found = in_order([*problems, *of_theme, *of_pictures])
        if errors_in(found):
            desk.stop(found)
        names = tuple(path.rpartition("/")[2].removesuffix(".yaml") for path, _ in asked)
        about = bag.About(
            workshop=book.shop.workshop.name, prefix=book.shop.workshop.prefix, day=book.today, private=names
        )
        beside = guide.guides(book, found, bag.base_name(about), names) | {guide.FIELDS: field_list()}
        site = ((f"site/{path}", data) for path, data in _site(book, theme, pictures))
        left_out: list[Problem] = []
        packed = pack(target, about, beside, _payload(top, site, asked, left_out), say=desk.say)
    _say_packed(packed, as_json=as_json)
    desk.show(left_out)


def _too_early(at: date | None, shop: Shop) -> Iterator[Problem]:
    """A deposit holds all records, so its day cannot lie before some of them."""
    latest = latest_date(shop)
    if at and latest and at < latest:
        message = f"met records up to {latest.isoformat()}, wanted none after {at.isoformat()}"
        hint = "a deposit holds all records: leave --at out, or name a day that is not before them"
        yield Problem(code="deposit-too-early", message=message, place=Place("content"), hint=hint)


def _refuse_inside(target: Path, top: Path) -> None:
    for name in ("content", "site", "private", "theme"):
        if target.is_relative_to(top / name):
            message = f"met a folder in {name}/, wanted one outside it"
            hint = "the next deposit would hold this one; choose another folder with --to"
            raise Refused(Problem(code="deposit-inside", message=message, place=Place(str(target)), hint=hint))


def _payload(
    top: Path, site: Iterator[tuple[str, bytes]], private: Sequence[tuple[str, bytes]], left_out: list[Problem]
) -> Iterator[tuple[str, bytes]]:
    """Everything below data/, in a fixed order; pictures that cannot be cleared are noted and left out."""
    from passport.reading.folder import kept_files  # noqa: PLC0415
    from passport.reading.schemas import KINDS, schema_of  # noqa: PLC0415

    yield from ((f"content/{path}", data) for path, data in _cleared(kept_files(top / "content"), left_out))
    for kind in KINDS:
        schema = json.dumps(schema_of(kind), ensure_ascii=False, indent=1) + "\n"
        yield f"schemas/{kind}.json", schema.encode()
    if (top / "theme").is_dir():
        yield from ((f"theme/{path}", data) for path, data in kept_files(top / "theme"))
    yield from private
    yield from site


def _cleared(files: Iterable[tuple[str, bytes]], left_out: list[Problem]) -> Iterator[tuple[str, bytes]]:
    """Pictures without where and when they were taken: a deposit is made to be given away."""
    from passport.deposit.photos import bare_picture  # noqa: PLC0415

    for path, data in files:
        *folders, name = path.split("/")
        bare = bare_picture(name, data) if "photos" in folders else data
        if isinstance(bare, Problem):
            left_out.append(bare)
        else:
            yield path, bare


def _site(book: Book, theme: Theme, pictures: Mapping[str, Ready]) -> Iterator[tuple[str, bytes]]:
    """The site as `publish` makes it of the same records."""
    from passport.pages.plan import site_files  # noqa: PLC0415
    from passport.pages.render import ThemeError  # noqa: PLC0415
    from passport.tags.faces import LabelError  # noqa: PLC0415

    try:
        for leaf in site_files(book, theme, pictures):
            yield leaf.path, leaf.content() if callable(leaf.content) else leaf.content
    except LabelError as slip:
        desk.stop(slip.problems)
    except ThemeError as slip:
        desk.stop([slip.problem])


def _say_packed(packed: Packed, *, as_json: bool) -> None:
    if as_json:
        said = {
            "file": str(packed.path),
            "sha256": packed.sha256,
            "bytes": packed.size,
            "files": len(packed.members),
            "new": packed.new,
        }
        click.echo(json.dumps(said, ensure_ascii=False, indent=1))
    else:
        click.echo(f"{packed.sha256}  {packed.path.name}")
        there = "" if packed.new else " (the same file was there already)"
        desk.say(f"{packed.path}: {len(packed.members)} files, {_size(packed.size)}{there}")
        desk.say("write the checksum above down in another place; passport deposit --verify FILE shows it again")
    for advice in advice_on(packed):
        desk.say(in_words(advice))


def advice_on(packed: Packed) -> Iterator[Problem]:
    """What to know before the file is copied or given away: its size."""
    place = Place(packed.path.name)
    photos = [member for member in packed.members if "/data/content/photos/" in member.name]
    if packed.size > LARGE:
        share = f"{_size(sum(photo.size for photo in photos))} of it are photographs"
        fat = "; a stick formatted as FAT32 holds no file of this size" if packed.size > FAT32_LIMIT else ""
        message = f"met a file of {_size(packed.size)}, wanted one that is easily copied: {share}{fat}"
        hint = "keep two copies on different kinds of storage, and verify each once a year"
        yield Problem(code="deposit-large", message=message, place=place, hint=hint, level=Level.ADVICE)


def _size(count: int) -> str:
    """Bytes to be read: "8.9 MB" (SI prefixes: IEC 80000-13)."""
    for unit, name in ((10**9, "GB"), (10**6, "MB"), (10**3, "kB")):
        if count >= unit:
            return f"{count / unit:.1f} {name}"
    return f"{count} bytes"
