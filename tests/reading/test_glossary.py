"""A workshop's own words in its other languages."""

from __future__ import annotations

import shutil
from pathlib import Path

from passport.problems import Level
from passport.reading.folder import read_shop
from passport.reading.glossary import glossary_gaps, one_line_words
from passport.reading.shop import Shop

DEMO = Path(__file__).resolve().parents[2] / "content"


def demo() -> Shop:
    """The example's records."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    return shop


def test_the_example_says_all_its_words_in_french() -> None:
    """Colours, places, parts, tools, takers and losses of the example are in its glossary."""
    assert list(glossary_gaps(demo())) == []
    assert {"green", "allotments", "dust", "body", "brass", "the tray pool"} <= set(one_line_words(demo()))


def test_a_word_that_is_lacking_is_advice(tmp_path: Path) -> None:
    """Nothing stops for it: pages print what was written, and the desk is told which words those are."""
    shutil.copytree(DEMO, tmp_path / "content")
    workshop = tmp_path / "content" / "workshop.yaml"
    text = workshop.read_text("utf-8").replace("  dust: {fr: poussière}\n", "").replace("  green: {fr: vert}\n", "")
    workshop.write_text(text, "utf-8")
    shop, _ = read_shop(tmp_path / "content")
    assert shop is not None
    (gap,) = glossary_gaps(shop)
    assert (gap.level, gap.code) == (Level.ADVICE, "glossary-gap")
    assert gap.message == 'met "dust", "green" without words in fr, wanted them in the glossary'
    assert gap.hint == "glossary: {dust: {fr: …}} in workshop.yaml; until then pages print what was written"
