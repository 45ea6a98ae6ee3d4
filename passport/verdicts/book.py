"""The whole working-out, from records to verdicts, once for every page: the stages in their order.

records → identity of each lot → mass balance → verdicts
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from passport.massflow import Ledger, settle
from passport.massflow.custody import Custody, custody
from passport.problems import Problem, in_order
from passport.reading.shop import Shop
from passport.verdicts import marking, melting, recycled, single_stream
from passport.verdicts.identity import Standing, own_identities, resin_names, standing
from passport.verdicts.life import Life, lives
from passport.verdicts.life_order import order_problems
from passport.verdicts.mending import Mending, mendings
from passport.verdicts.papers import papers
from passport.verdicts.recalls import CalledBack, by_name, recall_doubts, recalled
from passport.verdicts.recycled import Stated
from passport.verdicts.release import FREE, Released, release_problems, releases
from passport.verdicts.single_stream import StreamVerdict
from passport.verdicts.special_uses import material_doubts
from passport.verdicts.substances import unknown_substances
from passport.verdicts.verdict import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemVerdicts:
    """What is said about the things of one batch."""

    stream: Verdict[StreamVerdict]
    recycled: Verdict[tuple[Stated, ...]]
    whole: Verdict[tuple[Stated, ...]]
    marks: tuple[str, ...]
    """The marks of its parts; none where nothing is established."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Book:
    """Everything that pages, labels and commands print. Equal to itself alone, as its ledger is."""

    shop: Shop
    today: date
    """The ledger's day: the latest date in the records, or the one asked for."""
    standing: Standing
    ledger: Ledger
    items: Mapping[str, ItemVerdicts]
    custody: Mapping[str, Custody]
    """The chain-of-custody model of every lot and item (ISO 22095:2020, the weakest input deciding)."""
    lives: Mapping[str, Life]
    repaired: Mapping[str, ItemVerdicts]
    """What is said about things that a repair changed, by tag."""
    mendings: Mapping[str, tuple[Mending, ...]]
    """The repairs of each repaired thing."""
    recalls: Mapping[str, CalledBack]
    """Every recall with what it reaches, ended or not."""
    called_back: Mapping[str, tuple[CalledBack, ...]]
    """The recalls that reach each lot and tag, those still open first, then the latest."""
    releases: Mapping[str, Released]
    """Whether lots and batches may be handed on; those without a word on it are left out (`released`)."""
    use_doubts: Mapping[str, tuple[Problem, ...]]
    """Batches whose material does not suit what their product is for."""
    problems: tuple[Problem, ...]
    """All that the stages found, in order of place."""

    def of_thing(self, life: Life) -> ItemVerdicts:
        """What is said about one thing: that of its batch, or its own where it was repaired."""
        return self.repaired.get(life.tag) or self.items[life.item]

    def released(self, node: str) -> Released:
        """Whether a lot or batch may be handed on."""
        return self.releases.get(node, FREE)

    def released_thing(self, life: Life) -> Released:
        """Whether one thing may be handed on: the gravest of its batch and of what repairs put in."""
        put_in = [lot for mending in self.mendings.get(life.tag, ()) for lot in mending.sources]
        return max((self.released(node) for node in (life.item, *put_in)), key=lambda found: found.state)


def work_out(shop: Shop, at: date | None = None) -> Book:
    """Run all stages. Raises nothing: what is wrong is in `problems`."""
    own = own_identities(shop)
    stated, unread = papers(shop)
    ledger = settle(shop, resin_names(own), at, stated)
    known = standing(ledger, own)
    now = ledger.shop
    found = [p for identity in own.values() for p in identity.doubts]
    of_tags = lives(now)
    recalls = recalled(ledger, of_tags)
    released = releases(ledger, known)
    of_uses = material_doubts(ledger)
    own_release = [*release_problems(ledger, released), *unknown_substances(ledger)]
    return Book(
        shop=now,
        today=ledger.at or date.min,
        standing=known,
        ledger=ledger,
        items={name: _of_item(now, ledger, known, name) for name in now.items},
        custody=custody(ledger),
        lives=of_tags,
        repaired={tag: _of_repaired(now, ledger, known, tag) for tag in ledger.repaired},
        mendings=mendings(ledger),
        recalls=recalls,
        called_back=by_name(recalls.values()),
        releases=released,
        use_doubts=of_uses,
        problems=in_order(
            [
                *unread,
                *ledger.doubts,
                *found,
                *melting.doubts(now, ledger),
                *order_problems(now, of_tags),
                *recall_doubts(ledger, recalls.values()),
                *own_release,
                *(problem for doubts in of_uses.values() for problem in doubts),
            ]
        ),
    )


def _of_item(shop: Shop, ledger: Ledger, known: Standing, name: str) -> ItemVerdicts:
    item = shop.items[name]
    stream = single_stream.of_item(shop, ledger, item, proven=known.proven(name))
    stated = recycled.of_node(ledger, name)
    marks = marking.of_item(stream.value, stated.value or ()) if stream.value else None
    return ItemVerdicts(
        stream=stream,
        recycled=stated,
        whole=recycled.of_whole_item(ledger, item),
        marks=(marks.value or ()) if marks else (),
    )


def _of_repaired(shop: Shop, ledger: Ledger, known: Standing, tag: str) -> ItemVerdicts:
    item = shop.items[ledger.item_of_tag[tag]]
    proven = all(known.proven(node) for node in (item.id, *recycled.sources_of_repairs(ledger, tag)))
    stream = single_stream.of_repaired(shop, ledger, item, tag, proven=proven)
    stated = recycled.of_thing(ledger, tag)
    marks = marking.of_item(stream.value, stated.value or ()) if stream.value else None
    return ItemVerdicts(
        stream=stream,
        recycled=stated,
        whole=recycled.of_thing(ledger, tag, whole=True),
        marks=(marks.value or ()) if marks else (),
    )
