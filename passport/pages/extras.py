"""The files of the site beside its pages: style, scripts, icon, manifest and the list that search reads."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from passport.pages.render import compact_json, file_of
from passport.pages.theme import Theme

VERSION_MARK = "@VERSION@"
SHORT_NAME = 12
"""Letters of a name that fit under an icon on a telephone: common practice, no source."""
PAPER = "#efe8d8"
SEA = "#0f5c55"


@dataclass(frozen=True, slots=True, kw_only=True)
class Findable:
    """One thing that search may find: its id, its name in words, its path."""

    id: str
    name: str
    path: str


def static_files(theme: Theme, workshop: str, lang: str) -> dict[str, str]:
    """Path from the root of the site → text. The worker's cache is named by the theme's version alone."""
    made = {name: _lean(name, text).replace(VERSION_MARK, theme.version) for name, text in theme.static.items()}
    return made | {"manifest.webmanifest": _manifest(workshop, lang)}


_REMARK = re.compile(r"/\*.*?\*/\n?", re.DOTALL)


def _lean(name: str, text: str) -> str:
    """A style sheet without its remarks, which are for those who edit the theme."""
    return _REMARK.sub("", text) if name.endswith(".css") else text


def find_index(things: Iterable[Findable]) -> str:
    """The list behind the search box: a line a thing, its three cells parted by tabs."""
    rows = sorted((thing.id, _cell(thing.name), file_of(thing.path)) for thing in things)
    return "".join("\t".join(row) + "\n" for row in rows)


def find_file(lang: str) -> str:
    """Name of the search list of a language."""
    return f"find.{lang}.txt"


def _cell(text: str) -> str:
    return " ".join(text.split())


def _manifest(workshop: str, lang: str) -> str:
    return compact_json(
        {
            "name": workshop,
            "short_name": workshop if len(workshop) <= SHORT_NAME else workshop.split(maxsplit=1)[0][:SHORT_NAME],
            "lang": lang,
            "start_url": "./",
            "scope": "./",
            "display": "browser",
            "background_color": PAPER,
            "theme_color": SEA,
            "icons": [
                {"src": "icon.svg", "type": "image/svg+xml", "sizes": "any", "purpose": "any maskable"},
            ],
        }
    )
