"""Marks on plastic parts, `>PP-TD20<` (ISO 11469:2016 with the symbols of ISO 1043, parts 1 to 4).

    mark   = ">" body "<"
    body   = resin [ "(" plasticiser ")" ] [ "(REC" [percent] ")" ] [ "-" filler ] [ "-FR(" number ")" ]
    resin  = symbol { "+" symbol }        the larger part first; "," instead of "+" for layers, visible one first
    filler = CODE percent | "(" CODE percent { "+" CODE percent } ")"

The order of (REC) beside filler and flame retardant was not confirmed; it stays directly after the resin, as in
the published examples. A resin that is unknown or not established gets no mark and no number, but words.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import product

from passport.amounts import floor_percent
from passport.material.resins import OTHER, hint_for, resins
from passport.material.tables import table
from passport.problems import Level, Problem, did_you_mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Filler:
    """A filler by its code (ISO 1043-2), such as TD for talc powder, in per cent by mass."""

    code: str
    percent: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What a mark says."""

    symbols: tuple[str, ...]
    """Resins, the one with the largest mass first."""
    layered: bool = False
    """Parts that are hard to separate, joined by commas, rather than a blend."""
    plasticisers: tuple[str, ...] = ()
    recyclate: bool = False
    recyclate_percent: int | None = None
    """At least so much recyclate by mass: a minimum, so it is rounded down."""
    fillers: tuple[Filler, ...] = ()
    flame_retardants: tuple[int, ...] = ()

    def __str__(self) -> str:
        return emit(self)


def emit(mark: Mark) -> str:
    """The mark as it is moulded or printed."""
    body = (",", "+")[not mark.layered].join(mark.symbols)
    body += "".join(f"({name})" for name in mark.plasticisers)
    if mark.recyclate:
        body += f"(REC{'' if mark.recyclate_percent is None else mark.recyclate_percent})"
    fillers = "+".join(f"{f.code}{'' if f.percent is None else f.percent}" for f in mark.fillers)
    if fillers:
        body += f"-({fillers})" if len(mark.fillers) > 1 else f"-{fillers}"
    if mark.flame_retardants:
        body += f"-FR({'+'.join(f'{n:02}' for n in mark.flame_retardants)})"
    return f">{body}<"


# --- reading ------------------------------------------------------------------------------------------

_BODY = re.compile(
    r"(?P<car>P-)?(?P<resin>[A-Z0-9]+(?:-(?:HD|LD|LLD|HI|E|U|P|X))?(?:[+,][A-Z0-9]+(?:-(?:HD|LD|LLD|HI|E|U|P|X))?)*)"
    r"(?:\((?!REC\))(?P<soft>[A-Z]{3,4})\))?"
    r"(?P<rec>\(REC(?P<percent>[0-9]{0,3})\))?"
    r"(?:-(?P<filler>[A-Z]{1,2}[0-9]{0,2}|\([A-Z]{1,2}[0-9]{0,2}(?:\+[A-Z]{1,2}[0-9]{0,2})+\)))?"
    r"(?:[- ]FR\((?P<fr>[0-9]{2}(?:\+[0-9]{2})*)\))?",
)
_FILLER = re.compile(r"(?P<code>[A-Z]{1,2})(?P<percent>[0-9]{0,2})")

MARK_WANTED = "a mark such as >PP<, >PP+PE-HD< or >PP-TD20<"


def read_mark(text: str) -> tuple[Mark | None, tuple[Problem, ...]]:
    """What a mark says, with what is doubtful about it; None with the error where it does not read.

    Reads also the form of vehicle makers with P- before the resin, which is never written.
    """
    found = _BODY.fullmatch(text[1:-1]) if text[:1] == ">" and text[-1:] == "<" else None
    if found is None:
        return None, (_unread(text),)
    symbols = tuple(re.split(r"[+,]", found["resin"]))
    unknown = [s for s in symbols if s not in known_symbols()]
    if unknown:
        return None, (_unknown_symbol(text, unknown[0]),)
    mark = Mark(
        symbols=symbols,
        layered="," in found["resin"],
        plasticisers=(found["soft"],) if found["soft"] else (),
        recyclate=bool(found["rec"]),
        recyclate_percent=int(found["percent"]) if found["percent"] else None,
        fillers=_fillers(found["filler"] or ""),
        flame_retardants=tuple(int(n) for n in (found["fr"] or "").split("+") if n),
    )
    problems = _mark_problems(text, mark)
    if any(p.level is Level.ERROR and p.code == "mark-percent" for p in problems):
        return None, problems
    return mark, problems


@cache
def known_symbols() -> frozenset[str]:
    """Symbols of ISO 1043-1 that a mark may name."""
    return frozenset(table("marks")["symbols"]["known"])


def _fillers(text: str) -> tuple[Filler, ...]:
    return tuple(
        Filler(code=f["code"], percent=int(f["percent"]) if f["percent"] else None) for f in _FILLER.finditer(text)
    )


def _unread(text: str) -> Problem:
    return Problem(code="mark-unread", message=f'met "{text}", wanted {MARK_WANTED}', hint=_mark_hint(text))


def _mark_hint(text: str) -> str:
    """The slip behind a mark that does not read."""
    if text != "".join(text.split()):
        return "a mark has no spaces"
    if not (text.startswith(">") and text.endswith("<")):
        return (
            f"a mark stands between > and <: >{text}<"
            if text in known_symbols()
            else "a mark opens with > and closes with <"
        )
    if text != text.upper():
        return "a mark is written in capitals"
    return hint_for(text.strip("><"))


def _unknown_symbol(text: str, symbol: str) -> Problem:
    hint = hint_for(symbol) or did_you_mean(symbol, known_symbols())
    return Problem(code="mark-symbol", message=f'met "{symbol}" in "{text}", wanted a symbol of ISO 1043-1', hint=hint)


def _mark_problems(text: str, mark: Mark) -> tuple[Problem, ...]:
    problems = [p for f in mark.fillers if (p := _filler_problem(text, f)) is not None]
    problems += [
        Problem(
            code="mark-plasticiser",
            message=f'met plasticiser "{name}" in "{text}", wanted one of ISO 1043-3',
            level=Level.DOUBT,
        )
        for name in mark.plasticisers
        if name not in table("marks")["plasticisers"]["known"]
    ]
    if mark.recyclate_percent is not None and not 0 < mark.recyclate_percent <= 100:  # noqa: PLR2004
        said = f'met REC{mark.recyclate_percent} in "{text}", wanted 1 to 100 per cent'
        problems.append(Problem(code="mark-percent", message=said))
    problems += [p for n in mark.flame_retardants if (p := flame_retardant_problem(n)) is not None]
    return tuple(problems)


@cache
def _filler_codes() -> frozenset[str]:
    fillers = table("marks")["fillers"]
    return frozenset("".join(pair) for pair in product(fillers["materials"], fillers["forms"]))


def _filler_problem(text: str, filler: Filler) -> Problem | None:
    """A filler that is accepted on a piece but never written by us."""
    if filler.code not in _filler_codes():
        missing = filler.code in table("marks")["fillers"]["materials"]
        return Problem(
            code="mark-filler-form" if missing else "mark-filler",
            message=f'met filler "{filler.code}" in "{text}", wanted its material and form such as TD',
            hint="T says talc but not its form: powder is TD" if filler.code == "T" else "",
            level=Level.DOUBT,
        )
    if filler.percent is None:
        return Problem(
            code="mark-filler-share",
            message=f'met filler "{filler.code}" without a share in "{text}", wanted one such as {filler.code}20',
            level=Level.DOUBT,
        )
    return None


def flame_retardant_problem(number: int) -> Problem | None:
    """What to do with a flame retardant by its number (ISO 1043-4): reject, stop and ask, or nothing.

    18 to 21, 23 and 24 are restricted substances (Regulation (EU) 2019/1021, Directive 2011/65/EU); 10 to 29 are
    halogenated and stop the work until somebody has asked.
    """
    row = table("marks")["flame_retardants"]
    facts = (("number", str(number)),)
    if number in row["reject"]:
        said = f"met FR({number}), a restricted flame retardant, wanted none"
        return Problem(
            code="flame-retardant-reject", message=said, hint="reject the piece and set it aside", facts=facts
        )
    if row["stop_and_ask"]["low"] <= number <= row["stop_and_ask"]["high"]:
        said = f"met FR({number}), a halogenated flame retardant, wanted none"
        return Problem(code="flame-retardant-ask", message=said, hint="stop, set the piece aside and ask", facts=facts)
    return None


# --- writing ------------------------------------------------------------------------------------------


def mark_for(shares: Mapping[str, Fraction], recyclate_at_least: Fraction | None = None) -> Mark | None:
    """The mark of a material from the shares by mass of its established resins; None where one is not known.

    shares: symbol to share, the larger part comes first (ISO 1043-1); ties keep the order of the alphabet.
    recyclate_at_least: share of recyclate, a minimum and so rounded down; None to leave it out.
    """
    if not shares or any(symbol not in resins() for symbol in shares):
        return None
    percent = None if recyclate_at_least is None else floor_percent(recyclate_at_least)
    return Mark(
        symbols=tuple(sorted(shares, key=lambda s: (-shares[s], s))),
        recyclate=bool(percent),
        recyclate_percent=percent or None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PackagingCode:
    """A number with its terms. `d7611_term` is the letters under the triangle."""

    number: int
    d7611_term: str
    eu_term: str


def code_for(symbols: tuple[str, ...]) -> PackagingCode | None:
    """Number and terms of a material (ASTM D7611/D7611M-21, Decision 97/129/EC); None where one is not known.

    Several resins are the class of combinations, 7. A number never stands beside a claim (D7611, 4.2).
    """
    known = [resins()[s] for s in symbols if s in resins()]
    if not symbols or len(known) != len(symbols):
        return None
    if len(known) > 1:
        return PackagingCode(number=OTHER, d7611_term="OTHER", eu_term="+".join(symbols))
    resin = known[0]
    return PackagingCode(number=resin.d7611.number, d7611_term=resin.d7611.term, eu_term=resin.eu.term)


FIRST_ARROW_GLYPH = 0x2673
"""U+2673 to U+2679 are 1 to 7 inside arrows, the look withdrawn in 2013 (Unicode table, ASTM D7611)."""


def number_of_glyph(glyph: str) -> int | None:
    """The number that a character of the arrow form shows, None for any other character."""
    number = ord(glyph) - FIRST_ARROW_GLYPH + 1 if len(glyph) == 1 else 0
    return number if 1 <= number <= OTHER else None
