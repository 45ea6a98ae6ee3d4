"""What rows with another fault name besides: so that one look at the list of problems is enough.

Rows that are whole are tried beside all other records; a row that is no record yet cannot be. What its cells name is
looked up here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from passport.amounts import NotAQuantity
from passport.problems import Problem, did_you_mean
from passport.reading.cells import Ways, said
from passport.reading.sheet_table import Entry, Table
from passport.reading.sheets import Plan, in_cell
from passport.reading.shop import Shop

FIELDS = {"received.stream": "stream", "product": "product", "run": "run", "lot": "lot"}
"""Field → the kind of record that it names."""


def known_names(shop: Shop) -> dict[str, set[str]]:
    """The ids there are, by kind, as references are looked up."""
    return {
        "stream": set(shop.streams),
        "product": set(shop.products),
        "run": {*shop.runs, *shop.items},
        "lot": set(shop.lots),
    }


def unknown_names(
    table: Table, plan: Plan, columns: Mapping[int, str], entry: Entry, known: Mapping[str, set[str]]
) -> Iterator[Problem]:
    """Every name in a row that no record has.

    columns: number → field; known: ids by kind;
    kinds that are not in it are not looked up.
    """
    words = {text.casefold(): meant for text, meant in plan.words.items()}
    for number, field in columns.items():
        kind, text = FIELDS.get(field, ""), entry.cells.get(number, "")
        if kind not in known or not text:
            continue
        try:
            name = str(said("id", text, "", Ways(words=words))).upper()
        except NotAQuantity:
            continue  # its form is a problem of its own
        if name and name not in known[kind]:
            lower = kind in ("stream", "product")
            near = did_you_mean(name, sorted(other.lower() if lower else other for other in known[kind]))
            message = f'met the {kind} "{name}", which has no record'
            place, hint = table.place(entry.number, number), near or which(text, kind)
            yield in_cell(table, Problem(code=f"unknown-{kind}", message=message, place=place, hint=hint))


def which(text: str, kind: str) -> str:
    """What to say of a name that the records do not know."""
    more = ", or set new ones up with --new-streams" if kind == "stream" else ""
    return f'say which it is with --word "{text}={kind.upper()}"{more}'
