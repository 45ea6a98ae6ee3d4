"""The files of the site beside its pages: style, scripts, icon, manifest and the list that search reads."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
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
    numbered: bool = False
    """Tags and lots: there may be any number of them, and people look for them by their number."""


MOST_TOGETHER = 2_000
"""Things that one list holds, about 100 kB; where there are more, those with numbers stand in lists of their own."""
SHARD_LESS = 3
"""Signs at the end of a number that differ within such a list: at most some thousand things each."""


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


def find_files(lang: str, things: Iterable[Findable]) -> Iterator[tuple[str, str]]:
    """Path and text of the lists behind the search box; none grows with the number of things without end.

    A large workshop's first list holds what has a name, and a line without a name for each further list: the sign
    that its numbers begin with, and its path. A new tag then changes one short list.
    """
    known = list(things)
    if len(known) <= MOST_TOGETHER:
        yield find_file(lang), find_index(known)
        return
    shards: dict[str, list[Findable]] = {}
    for thing in known:
        if thing.numbered:
            shards.setdefault(thing.id[:-SHARD_LESS], []).append(thing)
    lists = {key: f"find/{lang}/{key or '_'}.txt" for key in sorted(shards)}
    yield (
        find_file(lang),
        find_index(t for t in known if not t.numbered) + "".join(f"{key}\t\t{path}\n" for key, path in lists.items()),
    )
    for key, path in lists.items():
        yield path, find_index(shards[key])


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
