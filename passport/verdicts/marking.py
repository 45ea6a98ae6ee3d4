"""Which mark stands on a thing (ISO 11469:2016, ISO 1043-1): only for a resin that is established.

Recycled content inside the mark, (REC87), is a minimum and so rounded down. A thing that is not established
gets words instead of a mark, and never a number.
"""

from __future__ import annotations

from fractions import Fraction

from passport.material.marking import mark_for
from passport.verdicts.recycled import Stated
from passport.verdicts.single_stream import Stream, StreamVerdict
from passport.verdicts.verdict import Verdict

SOURCE = "ISO 11469:2016; ISO 1043-1:2011 + Amd 1:2016"


def of_item(stream: StreamVerdict, stated: tuple[Stated, ...]) -> Verdict[tuple[str, ...]]:
    """The marks of a thing: one where it is one resin, one a part where its parts differ, none where unproven."""
    if stream.answer in (Stream.NOT_ESTABLISHED, Stream.MIXED):
        return Verdict(value=(), source=SOURCE)
    percent = next((s.at_least_percent for s in stated if s.kind == "recycled" and s.share_of == "plastic"), 0)
    resins = stream.resins
    # the recycled share is that of the whole plastic: it belongs in a mark only where there is one
    recyclate = percent if len(resins) == 1 and percent > 0 else None
    return Verdict(value=tuple(_mark(resin, recyclate) for resin in resins), source=SOURCE)


def _mark(resin: str, recyclate_percent: int | None) -> str:
    share = None if recyclate_percent is None else Fraction(recyclate_percent, 100)
    mark = mark_for({resin: Fraction(1)}, share)
    return str(mark) if mark else ""
