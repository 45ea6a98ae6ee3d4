"""Lot cards: large enough for the aisle, read back, doubts never dropped."""

from __future__ import annotations

import dataclasses
import io

import numpy as np
import pytest
from PIL import Image

from passport.problems import in_words
from passport.tags.card import CardSpec, CardText, card_image, card_png
from passport.tags.faces import LabelError
from passport.tags.readback import read_symbols

CARD = CardText(
    lot="SH-021",
    payload="https://PASS.REEDMOUTH.EXAMPLE/L/SH-021",
    facts=(("Resin", "PE-HD"), ("Mass on 20 April 2026", "54.9 kg ± 0.3 kg"), ("Made by", "shredding HD-031")),
    doubts_title="Doubtful",
    doubts=("Moisture was not measured.", "Nine pieces bear a number that does not agree with their letters."),
    headline="Reedmouth Yard · pass.reedmouth.example",
)


@pytest.mark.parametrize("sample", [False, True])
@pytest.mark.parametrize("dpi", [203, 300])
def test_a_card_reads_back_in_true_size(dpi: int, *, sample: bool) -> None:
    """The symbol says the lot's address; the PNG is 148 × 105 mm."""
    with Image.open(io.BytesIO(card_png(dataclasses.replace(CARD, sample=sample), CardSpec(dpi=dpi)))) as image:
        assert image.mode == "1"
        assert read_symbols(image) == (CARD.payload,)
        assert image.width / image.info["dpi"][0] * 25.4 == pytest.approx(148, abs=0.1)


def test_the_same_card_is_the_same_bytes() -> None:
    """Drawn twice."""
    assert card_png(CARD, CardSpec()) == card_png(CARD, CardSpec())


def test_the_id_is_read_from_across_the_aisle() -> None:
    """13 mm capitals: by the rule of 150 (ANSI Z535.2) legible from 1.9 m."""
    ink = ~np.asarray(card_image(CARD, CardSpec()))[:, 560:]
    rows = ink.any(axis=1)
    start = int(np.argmax(rows))
    assert int(np.argmin(rows[start:])) * 25.4 / 300 >= 12.5


def test_a_card_without_doubts_has_no_bar() -> None:
    """Nothing stands between facts and foot."""
    image = np.asarray(card_image(dataclasses.replace(CARD, doubts=()), CardSpec()))
    assert image[700:1100].all()


def test_more_doubts_shrink_and_then_fail() -> None:
    """All of them or an error: a doubt is never left out."""
    many = dataclasses.replace(CARD, doubts=CARD.doubts * 3)
    assert read_symbols(card_image(many, CardSpec())) == (CARD.payload,)
    with pytest.raises(LabelError) as refused:
        card_image(dataclasses.replace(CARD, doubts=CARD.doubts * 12), CardSpec())
    assert in_words(refused.value.problems[0]) == (
        "error card-no-room: a list of 24 doubts does not fit a card of 148 × 105 mm, even at the least height "
        "of letters\n    hint: shorten the words or take a larger card"
    )


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"lot": "LOT-" + "M" * 30}, 'the id "LOT-MMM'),
        ({"facts": (("Resin", "W" * 60),)}, '"Resin: WWW'),
        ({"facts": CARD.facts * 6}, "a list of 18 facts"),
        ({"doubts": ("W" * 200,)}, "a word of the doubts"),
        ({"headline": "W" * 200}, "the line"),
    ],
)
def test_what_does_not_fit_is_named(change: dict[str, object], what: str) -> None:
    """Each part of a card has its own words in the error."""
    with pytest.raises(LabelError) as refused:
        card_image(dataclasses.replace(CARD, **change), CardSpec())  # type: ignore[arg-type]
    assert refused.value.problems[0].message.startswith(what)
    assert refused.value.problems[0].about == change.get("lot", "SH-021")


def test_a_missing_glyph_prints_nothing() -> None:
    """The error names it."""
    with pytest.raises(LabelError, match="CJK UNIFIED IDEOGRAPH-6C34"):
        card_image(dataclasses.replace(CARD, facts=(("Resin", "水"),)), CardSpec())
