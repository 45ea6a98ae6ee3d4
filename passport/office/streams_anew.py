"""A stream on the fly: whoever brings the first sack of a kind sets its stream up with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from passport.office import desk
from passport.office.asking import Asked, Question, agreed, at_a_terminal
from passport.office.saving import stream_file
from passport.office.wording import slug
from passport.problems import did_you_mean
from passport.reading.fields import read_country
from passport.reading.shop import Shop
from passport.reading.yaml_text import Fields
from passport.writing import Change

ORIGINS = {
    "used": "post-consumer",
    "left over": "pre-consumer",
    "new": "virgin",
    "additive": "additive",
    "unknown": "unknown",
}
"""Origin in plain words → the class of ISO 14021:2016, 7.8.1.1, and EN 45557:2020."""

OPENING = "opening-stock"
UNTAGGED = "came-back-untagged"
READY_MADE: dict[str, Fields] = {
    OPENING: {
        "title": {"en": "There before we kept records", "fr": "Là avant la tenue de nos registres"},
        "origin": "unknown",
        "collected": {
            "en": "Found on the floor on the first day; nobody wrote down where it came from.",
            "fr": "Trouvé sur place le premier jour\u00a0; personne n'avait noté d'où cela venait.",
        },
    },
    UNTAGGED: {
        "title": {"en": "Things of ours that came back without a tag", "fr": "Nos objets revenus sans étiquette"},
        "origin": "post-consumer",
        "collected": {
            "en": "Handed back after use; which batch they were of cannot be told any more.",
            "fr": "Rapportés après usage\u00a0; on ne sait plus de quel lot ils venaient.",
        },
    },
}
"""Streams that the program words itself, in its two languages."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The stream of a lot."""

    name: str
    """As its file writes it."""
    changes: tuple[Change, ...] = ()
    """Its record, where it is new."""


def names_of(shop: Shop) -> dict[str, str]:
    """Each stream's id → its name as its file writes it."""
    return {name: Path(shop.files.get(("stream", name), name)).stem for name in shop.streams}


def ready_made(folder: Path, shop: Shop, name: str) -> Chosen:
    """A stream that the program words itself, set up where it is not there yet."""
    if name.upper() in shop.streams:
        return Chosen(name=names_of(shop)[name.upper()])
    languages = shop.workshop.languages
    fields = {key: _in(text, languages) for key, text in READY_MADE[name].items()}
    return Chosen(name=name, changes=(stream_file(folder, name, fields),))


def _in(text: object, languages: tuple[str, ...]) -> str | dict[str, str]:
    """The text in the workshop's languages; in English where it has none of ours."""
    if not isinstance(text, dict):
        return str(text)
    said = {language: text[language] for language in languages if language in text}
    return said if len(said) > 1 else next(iter(said.values()), text["en"])


def chosen(ask: Asked, folder: Path, shop: Shop, usual: str = "") -> Chosen:
    """The stream that is named, or a new one of that name. usual: what an empty line means."""
    known = names_of(shop)
    question = Question(
        name="stream",
        asks=f"Where is it from ({', '.join(known.values())}, or a new name)" if known else "Where is it from",
        why="a stream is one kind of material from one kind of giver; pages say where things come from by it",
        proposal=usual or (next(iter(known.values())) if len(known) == 1 else ""),
    )
    while True:
        name = ask(question)
        if name.upper() in known:
            return Chosen(name=known[name.upper()])
        if slug(name).upper() in known:
            return Chosen(name=known[slug(name).upper()])
        if _wanted_new(ask, name, tuple(known.values())):
            return new_stream(ask, folder, shop, name)


def _wanted_new(ask: Asked, name: str, known: tuple[str, ...]) -> bool:
    """Whether a name that no stream has is meant as a new one, and no slip."""
    near = did_you_mean(name, known)
    if ask.given.get("origin") is not None:
        return True
    if at_a_terminal() and agreed(f"  There is no stream {name} yet. {near}{' ' if near else ''}Set it up", yes=False):
        return True
    if not at_a_terminal() or ask.given.get("stream") is not None:
        hint = near or f"known are {', '.join(known) or 'none yet'}"
        raise click.UsageError(f'--stream: met "{name}"; {hint}; a new one wants --origin too')
    return False


def new_stream(ask: Asked, folder: Path, shop: Shop, name: str) -> Chosen:
    """A stream's record from three questions."""
    origin = ask(
        Question(
            name="origin",
            asks=f"  Was it {', '.join(list(ORIGINS)[:-1])} or unknown",
            why="used: somebody had it · left over: in making something · new: bought · additive: colour and the like",
            cost="it counts as unknown and never as recycled",
            known=(*ORIGINS, *(kind for kind in ORIGINS.values() if kind not in ORIGINS)),
        )
    )
    title = ask(Question(name="title", asks="  What shall pages call it", proposal=name))
    country = ask(
        Question(
            name="country",
            asks="  In which country was it collected (two letters)",
            cost="pages cannot say where it was collected",
            proposal=shop.workshop.country,
            read=read_country,
            tidy=str.upper,
        )
    )
    file = _free_name(shop, slug(name) or "stream")
    fields = {"title": title, "origin": ORIGINS.get(origin, origin) or "unknown", "country": country}
    desk.say(f"  new stream: {file}")
    return Chosen(name=file, changes=(stream_file(folder, file, fields),))


def _free_name(shop: Shop, wanted: str) -> str:
    number = 1
    while (name := wanted if number == 1 else f"{wanted}-{number}").upper() in shop.streams:
        number += 1
    return name
