"""Whatever stands where a value was wanted, the reader answers in words for people."""

from __future__ import annotations

import copy
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from test_broken_records import PROGRAMMERS_WORDS
from test_schemas import kind_of
from unpacking import good_files

from passport.reading.decode import record_from
from passport.reading.marked import Source, read_tree
from passport.reading.schemas import KINDS

RICH = {
    "lot": """\
date: 2026-04-11
received: {tags: [{tag: RY-22224M, parts: [body], not_back: [lid]}]}
gross: 62.4 kg
tare: 2 kg
pieces: 44
losses: {dust: 0.2 kg}
evidence:
  - {test: nir, reads: PE-HD, pieces: 20, drawn: random, others: {PP: 1}}
  - {test: density, in_air: 41.52 g, in_liquid: 7.24 g, liquid: water, temperature: 21 °C}
  - {test: dsc, peaks: [131 °C]}
melt_flow: 6.4 g/10 min at 190 °C/2.16 kg
notes: {en: A note, fr: Une note}
""",
    "item": """\
product: planter
date: 2026-05-20
count: 2
mass: 16.6 kg each
parts:
  - {part: body, draws: [{lot: BAR-009, pieces: 28}]}
hardware:
  - {what: stainless screws, material: steel, count: 8 each, mass: 32 g each}
""",
    "event": "- {date: 2026-06-02, tag: RY-22224M, event: handed-over}\n- {date: 2026-06-02, lot: A, event: held}\n",
}
TEXTS = [*RICH.items(), *((kind, body) for name, (_, body) in good_files().items() if (kind := kind_of(name)))]

words = st.sampled_from(
    ["", "x", "NaN", "1", "42 kg", "yes", "[key]", "nir", "held", "2026-02-30", "en", "ß" * 80, "\u202e"]
)
junk: st.SearchStrategy[Any] = st.recursive(
    words, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3), max_leaves=6
)


def _spots(tree: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    return [path, *(spot for step, value in inner for spot in _spots(value, (*path, step)))]


def _replaced(tree: Any, path: tuple[Any, ...], value: Any) -> Any:
    if not path:
        return value
    changed = copy.copy(tree)
    changed[path[0]] = _replaced(tree[path[0]], path[1:], value)
    return changed


def _messages(kind: str, tree: Any, source: Source) -> list[str]:
    """The messages of a record whose tree was changed after it was read (its places may lead astray, not its words)."""
    if kind == "event":
        entries = tree if isinstance(tree, list) else [tree]
        read = [
            record_from(KINDS["event"], entry, source, at=(number,), lineage={"file": "f", "number": number})
            for number, entry in enumerate(entries)
        ]
    else:
        read = [record_from(KINDS[kind], tree, source, lineage={} if kind == "workshop" else {"id": "X"})]
    assert all((record is None) == bool(problems) for record, problems in read)
    return [f"{problem.message} {problem.hint}" for _, problems in read for problem in problems]


@given(st.sampled_from(TEXTS), st.data())
@settings(max_examples=400)
def test_junk_anywhere_is_answered_in_words(case: tuple[str, str], data: st.DataObject) -> None:
    """One value of a good record replaced by junk gives a record or problems, never an exception or jargon."""
    kind, text = case
    source = Source("x.yaml", text)
    tree, _ = read_tree(source)
    spot = data.draw(st.sampled_from(_spots(tree)))
    value = data.draw(junk)
    for message in _messages(kind, _replaced(tree, spot, value), source):
        assert not PROGRAMMERS_WORDS.search(message), message


@given(st.sampled_from(sorted(KINDS)), junk)
@settings(max_examples=200)
def test_junk_alone_is_answered_in_words(kind: str, tree: Any) -> None:
    """A file that is no record at all is answered likewise."""
    for message in _messages(kind, tree, Source("x.yaml", "a: b\n")):
        assert not PROGRAMMERS_WORDS.search(message), message
