"""Every doubt has words for the next owner, in both languages."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from passport.pages.theme import load_theme
from passport.problems import Level
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out

ROOT = Path(__file__).resolve().parents[2]
WORDS = load_theme(["en", "fr"])[0].words
SPEAKERS = ("material", "massflow", "verdicts")

NEVER_ON_A_PAGE = {
    "cycle": "an error: nothing is published",
    "drawn-before-made": "an error: nothing is published",
    "drawn-twice": "an error: nothing is published",
    "pieces-without-count": "an error: nothing is published",
    "unknown-operation": "an error: nothing is published",
    "lot-not-weighed": "advice for the desk",
    "part-unknown": "advice for the desk",
    "melt-below-window": "advice for the desk",
    "flow-unknown": "advice for the desk: no figure is printed",
    "flow-families": "no figure is printed",
    "flow-conditions": "no figure is printed",
    "route-too-stiff": "worded beside its route",
    "route-too-runny": "worded beside its route",
    "route-weathered": "worded beside its route",
    "route-flow-unknown": "advice: the route is left out",
    "route-condition": "advice: the route is left out",
    "handed-back-twice": "an error: nothing is published",
    "before-made": "an error: nothing is published",
    "after-the-end": "an error: nothing is published",
    "wrong-repair": "an error: nothing is published",
    "claim-exception-unused": "advice for the desk",
    "claim-figure": "for the desk: nothing is published",
    "private-words": "for the desk: it is mended, not shown",
    "use-unproven": "for the desk: nothing is published",
    "substance-unknown": "advice for the desk",
    "blend-infeasible": "an answer at the bench",
    "blend-left-out": "an answer at the bench",
    "blend-shares": "an answer at the bench",
    "blend-too-little": "an answer at the bench",
    "blend-wanted": "an answer at the bench",
}
"""Codes of problems that no page shows as a doubt, with the reason."""


def spoken() -> Iterator[str]:
    """Every code that the stages of the core may give a problem, read off the source."""
    for stage in SPEAKERS:
        for path in sorted((ROOT / "passport" / stage).glob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("Problem", "_flow_doubt", "_doubt"):
                    yield from _codes(node)


def _codes(call: ast.Call) -> Iterator[str]:
    given = [keyword.value for keyword in call.keywords if keyword.arg == "code"]
    for value in given or call.args[:3]:
        for part in ast.walk(value):
            if isinstance(part, ast.Constant) and isinstance(part.value, str) and _is_code(part.value):
                yield part.value


def _is_code(text: str) -> bool:
    return "-" in text.strip("-") and text.replace("-", "").isalpha() and text.islower() and not text.endswith("-")


COMPUTED = (
    "overdrawn",
    "does-not-close",
    "does-not-close-withheld",
    "drawn-while-held",
    "drawn-while-refused",
    "made-of-held",
    "made-of-refused",
)
"""Codes that the source puts together, or that are one word."""
CODES = sorted({*spoken(), *COMPUTED} - set(NEVER_ON_A_PAGE))


def test_the_codes_are_found() -> None:
    """The search sees plain codes and those of helpers, and nothing is excused that is no longer there."""
    assert {"nir-dark", "mark-contradicts", "melt-refused", "mark-filler", "no-results"} <= set(CODES)
    assert {code for code in NEVER_ON_A_PAGE if "-" in code} <= set(spoken())


@pytest.mark.parametrize("lang", ["en", "fr"])
@pytest.mark.parametrize("code", CODES)
def test_every_doubt_is_worded(code: str, lang: str) -> None:
    """What it is and what it means to the next owner stand in both languages."""
    assert WORDS[lang].has(f"doubt.{code}.text")
    assert WORDS[lang].has(f"doubt.{code}.why")


def test_no_doubt_of_the_example_falls_back_to_english() -> None:
    """Each doubt of the example finds its words, gaps filled, in French."""
    shop, _ = read_shop(ROOT / "content")
    assert shop is not None
    doubts = [p for p in work_out(shop).problems if p.level is Level.DOUBT]
    assert doubts
    assert [p.code for p in doubts if WORDS["fr"].doubt(p).lang] == []
