"""No text makes the converter of Markdown wait or fail: what would is shown as it was typed (CWE-1333, CWE-674)."""

import datetime as dt
import time

import pytest

from passport.pages import prose
from passport.pages.prose import MOST_SIGNS, to_prose
from passport.verdicts.claims import claims_in
from passport.verdicts.privacy import contacts_in

N = MOST_SIGNS - 10
TEXTS = {
    "brackets": "[" * N,
    "pictures": "![" * (N // 2),
    "nested-brackets": "[" * (N // 2) + "]" * (N // 2),
    "links": "[a](b)" * (N // 6),
    "a-few-brackets-and-much-behind": "[" * 99 + "a" * (N - 99),
    "ordered-lists": "1. " * (N // 3),
    "lists": "* " * (N // 2),
    "ordered-by-brackets": "9. * " * (N // 5),
    "deeper-and-deeper": "".join(" " * 4 * depth + "* a\n" for depth in range(90)),
    "twelve-a-line-and-deeper": "".join(" " * 4 * depth + "* " * 11 + "a\n" for depth in range(80)),
    "quotes": ">" * N,
    "quotes-with-blanks": "> " * (N // 2),
    "emphasis": "*a_" * (N // 3),
    "strong": "**a " * (N // 4),
    "backticks": "".join("`" * n + "a" for n in range(int((2 * N) ** 0.5))),
    "escapes": "\\a" * (N // 2),
    "entities": "&#x" * (N // 3),
    "addresses": "<http://a" * (N // 9),
    "blanks": " " * N + "x",
    "rules": "- " * (N // 2),
    "table": "a|b\n-|-\n" + "|" * N,
    "table-of-many-rows": "a|b\n-|-\n" + "a|b\n" * (N // 5),
    "definitions": "[x]: a\n" * (N // 7),
    "megabyte": "[*_`> 1. " * 110_000,
}


@pytest.mark.parametrize("name", TEXTS)
def test_in_seconds(name: str) -> None:
    """The worst that fits into a record's text takes seconds at most, also on a busy machine."""
    began = time.process_time()
    made = to_prose(TEXTS[name]).html
    assert time.process_time() - began < 6
    assert "<script" not in made


def test_time_grows_with_the_text_alone() -> None:
    """Beyond the limit nothing is looked at twice: ten times the text takes about ten times as long."""
    took = []
    for size in (200_000, 2_000_000):
        began = time.process_time()
        to_prose("[*_`> 1. a\n\n" * (size // 12))
        took.append(time.process_time() - began)
    assert took[1] < 40 * max(took[0], 0.01)


LARGE = 400_000
SEARCHED = {
    "a-claim-a-paragraph": "recycled\n\n" * (LARGE // 10),
    "claims-in-a-row": "100 % recyclable biodegradable " * (LARGE // 31),
    "addresses": "a@" * (LARGE // 2),
    "an-address-without-end": "a" * LARGE + "@" + "b." * 1000,
    "figures": "1 " * (LARGE // 2),
    "places": "53.35,-6.26 " * (LARGE // 12),
    "dots": "." * LARGE,
    "nots": "not " * (LARGE // 4) + "recycled",
}


@pytest.mark.parametrize("name", SEARCHED)
def test_search_for_claims_and_contacts(name: str) -> None:
    """What looks through texts for claims and for contacts of people is done with the longest in seconds."""
    began = time.process_time()
    claims_in(SEARCHED[name], frozenset({"EU", "FR"}), dt.date(2026, 1, 1))
    contacts_in(SEARCHED[name])
    assert time.process_time() - began < 8


def test_it_is_shown_as_it_was_typed() -> None:
    """Each sign stands for itself, in paragraphs."""
    text = "[" * 101 + " <b>&\n\nsecond"
    assert to_prose(text).html == f"<p>{'[' * 101} &lt;b&gt;&amp;</p>\n<p>second</p>"


def test_a_failure_leaves_no_trace() -> None:
    """A text that the converter gives up on does not change how the next one reads."""
    prose._converter.cache_clear()
    honest = "1. one\n2. two\n\n> said\n\n* a\n    * b"
    before = to_prose(honest).html
    to_prose.cache_clear()
    for _ in range(3):
        assert prose._converted("1. " * 5000).startswith("<p>1. 1. ")
    assert to_prose(honest).html == before
