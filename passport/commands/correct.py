"""`correct`: set a published record right by a record of its own, beside the old value."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from passport.office import desk
from passport.problems import Place, Problem, did_you_mean
from passport.reading.corrections import KINDS
from passport.reading.marked import Source, Tree, read_tree
from passport.reading.shop import Shop
from passport.reading.yaml_text import flow_text

HERE = Place("correct")


@click.command()
@click.argument("name")
@click.argument("field")
@click.argument("value", required=False)
@click.option("--because", help="Why; it stands on the pages beside the old value. By language: {en: …, fr: …}.")
@click.option("--gone", is_flag=True, help="Instead of VALUE: the record should not have the field.")
@click.option("--kind", type=click.Choice(KINDS), help="Where two share an id.")
@click.option("--on", "day", type=desk.DAY, help="The day of the correction. Default: today.")
@click.option("--yes", is_flag=True, help="Write without asking.")
@click.option("--dry-run", is_flag=True, help="Show what would be written, and write nothing.")
@desk.folder_option
def command(
    name: str,
    field: str,
    value: str | None,
    because: str | None,
    kind: str | None,
    day: dt.date | None,
    folder: Path,
    *,
    gone: bool,
    yes: bool,
    dry_run: bool,
) -> None:
    """Say that FIELD of the lot, run, item, stream or product NAME is VALUE, and why.

    The record stays as it was published; the correction is a line in content/corrections/. Pages then show what
    is right, with the old value, the day and the reason. A field inside others is named with points, counted from
    0: draws.0.mass. An event is named by its date, its tag or lot, and its word.

    \b
    Example:
      passport correct IN-031 mass "26.4 kg" --because "the figures were swapped"
      passport correct SH-021 draws.0.lot HD-032 --because "the wrong box was written down"
      passport correct "2026-09-30 SH-021 weighed" mass "3.2 kg" --because "read off the wrong line"
    """
    from passport.office.correcting import correction, said  # noqa: PLC0415
    from passport.office.saving import save  # noqa: PLC0415

    read = desk.read_records(folder)
    shop, _ = read
    kind, name = _found(shop, name, kind)
    was = said(shop, kind, name, field)
    desk.say(f"{name} {field}: {_shown(was)}")
    right = "" if gone else _value(value, was)
    if was == (right or None):
        raise click.UsageError(f"{name} says so already")
    reason = _reason(because)
    day = day or dt.datetime.now(tz=dt.UTC).date()
    change = correction(folder, shop, kind, name, field, right, because=reason, day=day)
    desk.say(f"{' ' * len(f'{name} {field}')}→ {_shown(right or None)}")
    save(folder, read, [change], yes=yes, dry_run=dry_run)


def _found(shop: Shop, name: str, kind: str | None) -> tuple[str, str]:
    """The kind of the record that is meant, and its name."""
    from passport.office.correcting import event_names  # noqa: PLC0415

    if " " in name and kind in (None, "event"):
        day, who, *word = name.split()
        known: dict[str, tuple[str, ...]] = {"event": event_names(shop)}
        name = f"{day} {who.upper()} {' '.join(word)}"
    else:
        own = [named for named, file in shop.files.items() if shop.is_own(file)]
        known = {word: tuple(n for k, n in own if k == word) for word in KINDS if kind in (None, word)}
        name = name.upper()
    kinds = [word for word, names in known.items() if name in names]
    if len(kinds) > 1:
        raise click.UsageError(f"{name} is a {' and a '.join(kinds)}: say which with --kind")
    if not kinds:
        desk.stop([_unknown(name, [n for names in known.values() for n in names])])
    return kinds[0], name


def _unknown(name: str, known: list[str]) -> Problem:
    hint = did_you_mean(name, known) or 'an event is named so: "2026-09-30 SH-021 weighed"'
    return Problem(code="unknown-record", message=f'met "{name}", which has no record', place=HERE, hint=hint)


def _value(given: str | None, was: Tree | None) -> Tree:
    """What is right, as the record would say it: text, or what stands in brackets."""
    from passport.office.asking import Question, answer, at_a_terminal  # noqa: PLC0415

    if given is None and not at_a_terminal():
        raise click.UsageError("say what is right as VALUE, or --gone")
    text = answer(Question(name="value", asks="What is right", proposal=was if isinstance(was, str) else ""), given)
    return _in_brackets("VALUE", text)


def _in_brackets(name: str, text: str) -> Tree:
    """A text, or what it says in brackets, as in a record."""
    if not text.startswith(("{", "[")):
        return text
    tree, problems = read_tree(Source(name, text))
    if problems:
        desk.stop(problems)
    return tree or text


def _reason(given: str | None) -> Tree:
    from passport.office.asking import Question, answer  # noqa: PLC0415

    why = "it stands on the pages beside the old value"
    return _in_brackets("--because", answer(Question(name="because", asks="Why was it wrong", why=why), given))


def _shown(tree: Tree | None) -> str:
    return "nothing" if tree is None else flow_text(tree)
