"""What the passport knows of a thing that somebody brings back: its parts still out, and what they weigh."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from passport.massflow import Ledger, Mixture
from passport.massflow.closure import sum_of
from passport.massflow.composition import Component
from passport.massflow.masses import Weighed
from passport.office.numbers import ended
from passport.office.typed import replaced_problems
from passport.problems import Place, Problem
from passport.reading.records import HandedOver, Item
from passport.verdicts.book import Book
from passport.verdicts.life import Stage

NOT_KNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOut:
    """A part that has not come back yet, as it is now (repairs counted)."""

    name: str
    """"" for a thing of one piece."""
    resins: tuple[str, ...]
    """The main resin of each material in it; "unknown" where nobody established one."""
    mass_kg: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One tagged thing."""

    tag: str
    item: str
    product: str
    parts: tuple[PartOut, ...]
    """Those still out."""
    handed_over: date | None
    """The first hand-over, under this number or the one before."""
    hardware: tuple[tuple[str, Fraction], ...] = ()
    """What is on it beside the plastic of lots, with its mass in kg: it is weighed without."""

    @property
    def names(self) -> tuple[str, ...]:
        """The names of its parts, where it has several."""
        return tuple(part.name for part in self.parts if part.name)

    def of(self, names: Iterable[str]) -> tuple[PartOut, ...]:
        """Parts by name; all of them for no name."""
        wanted = set(names)
        return tuple(part for part in self.parts if not wanted or part.name in wanted)


def things(book: Book, tags: Iterable[str], place: Place) -> tuple[tuple[Thing, ...], tuple[Problem, ...]]:
    """The things with these issued numbers, and why some of them cannot come back."""
    found = [_thing(book, tag) for tag in tags]
    wrong = (*replaced_problems(book.lives, tags, place), *_ended(book, found, place))
    return tuple(found), wrong


def _thing(book: Book, tag: str) -> Thing:
    life = book.lives[tag]
    item = book.shop.items[life.item]
    back = _came_back_before(book, tag, item)
    by_name: dict[str, list[Component]] = {}
    for component in book.ledger.components_of(tag):
        by_name.setdefault(component[0], []).append(component)
    if back == {""} or (back and len(by_name) == 1):
        by_name = {}
    return Thing(
        tag=tag,
        item=item.id,
        product=item.product,
        parts=tuple(_part(book.ledger, name, of_part) for name, of_part in by_name.items() if name not in back),
        handed_over=_handed_over(book, tag),
        hardware=tuple(_hardware(book, item)),
    )


def _hardware(book: Book, item: Item) -> Iterator[tuple[str, Fraction]]:
    first = book.shop.workshop.languages[0]
    for piece in item.hardware:
        mass = Fraction(piece.mass.mass_kg)
        yield piece.what.said(first, first)[0], mass if piece.mass.each else mass / item.count.pieces


def _part(ledger: Ledger, name: str, components: list[Component]) -> PartOut:
    mass: Weighed = sum_of(weighed for _, _, weighed in components)
    names = (_main(ledger, node) for _, node, _ in components)
    return PartOut(name=name, resins=tuple(dict.fromkeys(names)), mass_kg=mass.value if mass else None)


def _main(ledger: Ledger, node: str) -> str:
    if node not in ledger.mixing.nodes:
        return NOT_KNOWN
    return main_resin_of(Mixture(name=node, mixing=ledger.mixing))


def main_resin_of(mixture: Mixture) -> str:
    """The resin with the largest share, whatever that share is."""
    return next(iter(mixture.shares_by("resin")), NOT_KNOWN)


def _came_back_before(book: Book, tag: str, item: Item) -> set[str]:
    """The parts that came back earlier; {""} for all of a thing."""
    back: set[str] = set()
    for lot in book.shop.lots.values():
        for came in lot.received.tags if lot.received else ():
            if came.tag == tag:
                all_parts = {part.part for part in item.parts} - set(came.not_back)
                back |= set(came.parts) or (all_parts if came.not_back else {""})
    return {""} if "" in back else back


def _handed_over(book: Book, tag: str) -> date | None:
    life = book.lives[tag]
    same = {other.tag for other in book.lives.values() if (other.item, other.piece) == (life.item, life.piece)}
    days = (event.date for event in book.shop.events if isinstance(event, HandedOver) and event.tag in same)
    return min(days, default=None)


def _ended(book: Book, found: Iterable[Thing], place: Place) -> Iterator[Problem]:
    """A thing that is no more, or of which nothing is out any more."""
    for thing in found:
        life = book.lives[thing.tag]
        if life.stage is Stage.CAME_BACK and not thing.parts:
            message = f"{thing.tag} came back on {life.ended} already and is {life.lot} now"
            hint = "compare the number with the tag; a record that is wrong is set right with: passport correct"
            yield Problem(code="came-back-already", message=message, place=place, hint=hint, about=thing.tag)
        elif life.stage in (Stage.DESTROYED, Stage.GIVEN_ON, Stage.WITHDRAWN):
            message = f"{thing.tag} {ended(life)} on {life.ended}, wanted a thing that is about"
            hint = "if it is there after all, that event is wrong: set it right with: passport correct"
            yield Problem(code="tag-ended", message=message, place=place, hint=hint, about=thing.tag)
