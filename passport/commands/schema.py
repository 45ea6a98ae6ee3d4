"""`schema`: what each kind of record may say, in the form that editors complete and check by."""

from __future__ import annotations

import json
from pathlib import Path

import click

from passport.office import desk


@click.command()
@click.argument("kind", required=False)
@click.option("--write", "writing", is_flag=True, help="Write all of them to schemas/ beside content/, for editors.")
@click.option("--json", "as_json", is_flag=True, help="For another program; KIND is printed as JSON in any case.")
@desk.folder_option
def command(kind: str | None, folder: Path, *, writing: bool, as_json: bool) -> None:
    """Print the JSON Schema of one KIND of record, or write those of all kinds for editors.

    An editor that knows YAML then completes and checks records while you type. Records that the tool makes carry
    the line by which it finds them; put the line on top of your own. Without KIND the kinds are listed.

    \b
    Example:
      passport schema --write
      passport schema lot
    """
    from passport.reading.schemas import KINDS, schema_of  # noqa: PLC0415

    if kind and writing:
        raise click.UsageError("either one KIND to print, or --write for all of them")
    if kind:
        if kind not in KINDS:
            raise click.UsageError(_unknown(kind, list(KINDS)))
        click.echo(_text(schema_of(kind)), nl=False)
    elif writing:
        _write_all(folder)
    else:
        click.echo(json.dumps(list(KINDS)) if as_json else "\n".join(KINDS))


def _unknown(kind: str, kinds: list[str]) -> str:
    from passport.problems import did_you_mean, plain  # noqa: PLC0415

    return plain(f'met "{kind}"; {did_you_mean(kind, kinds) or "the kinds are " + ", ".join(kinds)}')


def _text(schema: dict[str, object]) -> str:
    return json.dumps(schema, ensure_ascii=False, indent=1) + "\n"


def _write_all(folder: Path) -> None:
    """Each schema takes its name in one step, so that an editor never meets half of one."""
    from passport.disk import replace_file, worded  # noqa: PLC0415
    from passport.office.saving import SCHEMAS, editors_line  # noqa: PLC0415
    from passport.reading.schemas import KINDS, schema_of  # noqa: PLC0415

    if not desk.content_of(folder).is_dir():
        raise click.UsageError("there is no content/ here: stand in the workshop's folder, or name it with --folder")
    place = folder.resolve() / SCHEMAS
    with desk.refusals(), worded("schemas-not-written", place):
        place.mkdir(exist_ok=True)
        for kind in KINDS:
            replace_file(place / f"{kind}.json", _text(schema_of(kind)).encode())
    desk.say(f"{SCHEMAS}/ holds {len(KINDS)} schemas. The first line of a lot's record, for its editor:")
    desk.say(f"  # {editors_line(folder, 'lot')}")
