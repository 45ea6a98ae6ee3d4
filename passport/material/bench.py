"""What to mind at the bench: melt temperatures against limits, resins not to be melted, fume, dust, spills, stores.

Brief on purpose: a line a danger, with its source. Local rules and licensed professionals come first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from passport.material.melting import NO_MELT
from passport.material.resins import Resin, resins
from passport.material.tables import table

Doing = Literal["melt", "flake", "shred", "store", "identify"]
LANGUAGES = ("en", "fr")


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchLine:
    """One thing to mind, in words by language."""

    key: str
    sign: str
    words: Mapping[str, str]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltRange:
    """Where resins can be melted together, in degrees Celsius."""

    low_c: float
    """The highest of the lower ends of the moulders' windows."""
    high_c: float
    """The lowest of their upper ends."""
    never_above_c: float

    @property
    def fits(self) -> bool:
        """Whether any temperature suits all of them."""
        return self.low_c <= min(self.high_c, self.never_above_c)


def bench_lines(symbols: Sequence[str], *doing: Doing) -> tuple[BenchLine, ...]:
    """What to mind with these resins, in the order of the table. Unknown symbols are left out."""
    known = [resins()[symbol] for symbol in symbols if symbol in resins()]
    return tuple(line for key, row in table("bench")["rows"].items() for line in _line(key, row, known, doing))


def closing() -> Mapping[str, str]:
    """The line under every such list, by language."""
    words: Mapping[str, str] = table("bench")["closing"]
    return words


def not_melted(symbols: Sequence[str]) -> tuple[str, ...]:
    """Those resins that are handed on and never melted here."""
    return tuple(s for s in symbols if s in resins() and NO_MELT in resins()[s].cautions)


def melt_range(symbols: Sequence[str]) -> MeltRange | None:
    """Where these resins melt together; None where one is not melted here or its figures are not known."""
    known = [resins()[symbol] for symbol in symbols if symbol in resins()]
    windows = [resin.process_c for resin in known if resin.process_c is not None]
    limits = [resin.never_above_c for resin in known if resin.never_above_c is not None]
    if not known or not_melted(symbols) or len(windows) < len(known) or len(limits) < len(known):
        return None
    return MeltRange(
        low_c=max(window.low for window in windows),
        high_c=min(window.high for window in windows),
        never_above_c=min(limit.low for limit in limits),
    )


def _line(key: str, row: Mapping[str, Any], known: Sequence[Resin], doing: Sequence[Doing]) -> Iterator[BenchLine]:
    if not set(row["when"]) & set(doing) or not _speaks(key, row, known):
        return
    about = _about(key, known)
    words = {lang: row[lang].format(**_gaps(about, lang)) for lang in LANGUAGES}
    yield BenchLine(key=key, sign=row["sign"], words=words, sources=tuple(row["from"]))


def _about(key: str, known: Sequence[Resin]) -> Sequence[Resin]:
    """The resins that a line names."""
    if key == NO_MELT:
        return [resin for resin in known if NO_MELT in resin.cautions]
    if key == "foam":
        return [resin for resin in known if _is_foam(resin)]
    return known


def _is_foam(resin: Resin) -> bool:
    return resin.process_c is None and NO_MELT not in resin.cautions


def _speaks(key: str, row: Mapping[str, Any], known: Sequence[Resin]) -> bool:
    """Whether a row has anything to say about these resins."""
    if "caution" in row:
        return any(row["caution"] in resin.cautions for resin in known)
    together = melt_range([resin.symbol for resin in known])
    refused = any(NO_MELT in resin.cautions for resin in known)
    rules = {
        NO_MELT: refused,
        "foam": any(_is_foam(resin) for resin in known),
        "melt": together is not None and together.fits,
        "apart": together is not None and not together.fits,
        "fume": not refused and _fumes(known, "en") != "",
        "surprise": not refused and _fumes(known, "en") == "",
    }
    return rules.get(key, True)


def _gaps(known: Sequence[Resin], lang: str) -> dict[str, str]:
    together = melt_range([resin.symbol for resin in known])
    figures = {"low": "", "high": "", "limit": ""}
    if together is not None:
        high = min(together.high_c, together.never_above_c)
        figures = {"low": f"{together.low_c:g}", "high": f"{high:g}", "limit": f"{together.never_above_c:g}"}
    return {"resin": ", ".join(resin.symbol for resin in known), "fume": _fumes(known, lang), **figures}


def _fumes(known: Sequence[Resin], lang: str) -> str:
    found = (table("bench")["fumes"].get(resin.symbol, {}).get(lang, "") for resin in known)
    return "; ".join(dict.fromkeys(fume for fume in found if fume))
