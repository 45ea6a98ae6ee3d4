"""Of what a tag is best made, by the resin of the thing: the table `labels_advice.yaml` in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import yaml

SOURCES = {
    "recyclers": "recyclers' design guidelines for PE-HD and PP containers, 2021-2023",
    "ul-969": "UL 969, 5th edition, 2017",
    "bs-5609": "BS 5609:1986",
    "practice": "common practice, no source",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to make a tag of and how to fix it, for one group of resins."""

    plate: str
    fix: str
    sticker: str
    source: str
    """In words."""


@cache
def _table() -> Mapping[str, Mapping[str, Mapping[str, str]]]:
    text = files(__package__).joinpath("labels_advice.yaml").read_text(encoding="utf-8")
    loaded: Mapping[str, Mapping[str, Mapping[str, str]]] = yaml.safe_load(text)
    return loaded


def advice_for(resin: str) -> Advice:
    """The advice for a resin by its symbol, such as PE-HD; the general row for one without its own.

    >>> advice_for("PE-HD").plate
    'a plate cut from PE of the same symbol'
    """
    rows = _table()["resins"]
    row = rows.get(resin.partition("-")[0], rows["other"])
    return Advice(plate=row["plate"], fix=row["fix"], sticker=row["sticker"], source=SOURCES[row["from"]])


def general_advice() -> tuple[str, ...]:
    """What holds for every resin, each sentence with its source."""
    return tuple(f"{row['says']} ({SOURCES[row['from']]})." for row in _rows())


def _rows() -> Iterable[Mapping[str, str]]:
    rows: object = _table()["general"]
    return rows if isinstance(rows, list) else []


def advice_lines(resins: Iterable[str]) -> tuple[str, ...]:
    """One paragraph a resin, in the order of their symbols."""
    return tuple(_line(resin, advice_for(resin)) for resin in sorted(set(resins)))


def _line(resin: str, advice: Advice) -> str:
    return f"On {resin}: {advice.plate}; {advice.fix}. Sticker: {advice.sticker} ({advice.source})."
