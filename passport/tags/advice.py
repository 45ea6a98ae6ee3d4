"""Of what a tag is best made, by the resin of the thing: the table `labels_advice.yaml` in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

SOURCES = {
    "recyclers": {
        "en": "recyclers' design guidelines for PE-HD and PP containers, 2021-2023",
        "fr": "guides de conception des recycleurs pour emballages en PE-HD et PP, 2021-2023",
    },
    "ul-969": {"en": "UL 969, 5th edition, 2017", "fr": "UL 969, 5e édition, 2017"},
    "bs-5609": {"en": "BS 5609:1986", "fr": "BS 5609:1986"},
    "practice": {"en": "common practice, no source", "fr": "pratique courante, sans source"},
}
SENTENCE = {
    "en": "On {resin}: {plate}; {fix}. Sticker: {sticker} ({source}).",
    "fr": "Sur du {resin} : {plate} ; {fix}. Autocollant : {sticker} ({source}).",
}
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to make a tag of and how to fix it, for one group of resins."""

    plate: str
    fix: str
    sticker: str
    source: str
    """In words."""


@cache
def _table() -> Row:
    text = files(__package__).joinpath("labels_advice.yaml").read_text(encoding="utf-8")
    loaded: Row = yaml.safe_load(text)
    return loaded


def _said(words: Mapping[str, str], lang: str) -> str:
    return words.get(lang) or words["en"]


def advice_for(resin: str, lang: str = "en") -> Advice:
    """The advice for a resin by its symbol, such as PE-HD; the general row for one without its own.

    >>> advice_for("PE-HD").plate
    'a plate cut from PE of the same symbol'
    """
    rows = _table()["resins"]
    row = rows.get(resin.partition("-")[0], rows["other"])
    plate, fix, sticker = (_said(row[key], lang) for key in ("plate", "fix", "sticker"))
    return Advice(plate=plate, fix=fix, sticker=sticker, source=_said(SOURCES[row["from"]], lang))


def general_advice(lang: str = "en") -> tuple[str, ...]:
    """What holds for every resin, each sentence with its source; in English where a language is lacking."""
    return tuple(f"{_said(row['says'], lang)} ({_said(SOURCES[row['from']], lang)})." for row in _table()["general"])


def advice_lines(resins: Iterable[str], lang: str = "en") -> tuple[str, ...]:
    """One paragraph a resin, in the order of their symbols."""
    return tuple(_line(resin, advice_for(resin, lang), lang) for resin in sorted(set(resins)))


def _line(resin: str, advice: Advice, lang: str) -> str:
    return _said(SENTENCE, lang).format(
        resin=resin, plate=advice.plate, fix=advice.fix, sticker=advice.sticker, source=advice.source
    )
