"""One label: true size, read back, letters of legal height, and no text that overflows."""

from __future__ import annotations

import dataclasses
import io

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from passport.problems import in_words
from passport.tags import label, layout
from passport.tags.faces import CAP_HEIGHT, X_HEIGHT, LabelError
from passport.tags.label import LabelSpec, LabelText, label_image, label_png, label_problems
from passport.tags.readback import read_symbols, unread
from passport.tags.typeset import Grid, capitals, paragraph

TEXT = LabelText(
    tag="RY-22224M",
    payload="https://PASS.REEDMOUTH.EXAMPLE/T/RY-22224M",
    marking=">PE-HD<",
    triangle="2",
    sentence="One plastic: high-density polyethylene. Take out the screws, then bring it to any PE-HD collection.",
    headline="Reedmouth Yard · pass.reedmouth.example",
)
FRENCH = dataclasses.replace(
    TEXT, sentence="Un seul plastique : polyéthylène haute densité. Ôtez les vis en acier, puis déposez-le au tri."
)
SIZES = {
    "beside": LabelSpec(),
    "below": LabelSpec(width_mm=36, height_mm=72),
    "twin": LabelSpec(width_mm=100, symbols=2),
    "203 dpi": LabelSpec(dpi=203),
    "600 dpi": LabelSpec(dpi=600),
}


@pytest.mark.parametrize("name", SIZES)
@pytest.mark.parametrize("sample", [False, True])
def test_a_label_reads_back_and_has_its_true_size(name: str, *, sample: bool) -> None:
    """Each symbol says the payload; the PNG is 1-bit and as large in millimetres as was asked."""
    spec = SIZES[name]
    with Image.open(io.BytesIO(label_png(dataclasses.replace(TEXT, sample=sample), spec))) as image:
        assert image.mode == "1"
        assert read_symbols(image) == (TEXT.payload,) * spec.symbols
        dpi = image.info["dpi"]
        assert image.width / dpi[0] * 25.4 == pytest.approx(spec.width_mm, abs=0.1)
        assert image.height / dpi[1] * 25.4 == pytest.approx(spec.height_mm, abs=0.1)
        assert dpi[0] == pytest.approx(spec.dpi, abs=0.01)


def test_a_second_decoder_reads_the_label() -> None:
    """OpenCV's detector shares no code with zxing-cpp."""
    grey = np.asarray(label_image(TEXT, LabelSpec()).convert("L"))
    assert cv2.QRCodeDetector().detectAndDecode(grey)[0] == TEXT.payload


def test_modules_are_whole_dots() -> None:
    """In the symbol's area every run of equal dots is a multiple of the dots a module."""
    spec = LabelSpec()
    plan = layout._plan(TEXT, spec)
    boxes = layout.boxes_of(spec, plan.size)
    assert boxes is not None
    left, top = boxes.symbols[0]
    side = plan.size.whole_dots
    part = np.asarray(label_image(TEXT, spec))[top : top + side, left : left + side]
    edges = np.flatnonzero(np.diff(part.astype(int), axis=1).any(axis=0)) + 1
    assert (edges % plan.size.dots == 0).all()
    inner = part[:: plan.size.dots, :: plan.size.dots][4:-4, 4:-4]
    assert (~inner == plan.symbol.dark()).all()


def test_the_quiet_zone_is_light() -> None:
    """Four modules of paper on all sides, whatever stands beside them (ISO/IEC 18004, "quiet zone")."""
    for spec in SIZES.values():
        plan = layout._plan(TEXT, spec)
        boxes = layout.boxes_of(spec, plan.size)
        assert boxes is not None
        whole = np.asarray(label_image(dataclasses.replace(TEXT, sample=True), spec))
        for left, top in boxes.symbols:
            side, quiet = plan.size.whole_dots, 4 * plan.size.dots
            part = whole[top : top + side, left : left + side].copy()
            part[quiet:-quiet, quiet:-quiet] = True
            assert part.shape == (side, side)
            assert part.all()


def test_the_same_label_is_the_same_bytes() -> None:
    """Also after other labels were drawn in between."""
    first = label_png(TEXT, LabelSpec())
    label_png(FRENCH, LabelSpec(dpi=203))
    label._words_image.cache_clear()
    layout.column_of.cache_clear()
    assert label_png(TEXT, LabelSpec()) == first


def test_the_number_is_at_least_3_mm_high() -> None:
    """Measured on the picture: the rows of ink of the number, above the rule."""
    spec = LabelSpec(dpi=600)
    plan = layout._plan(TEXT, spec)
    boxes = layout.boxes_of(spec, plan.size)
    assert boxes is not None
    left, top, width, height = boxes.text
    column = ~np.asarray(label_image(TEXT, spec))[top : top + height, left : left + width]
    inked = column.any(axis=1)
    start = int(np.argmax(inked))
    tall = int(np.argmin(inked[start:]))
    assert tall * 25.4 / 600 >= 3.0


def test_running_text_keeps_to_the_legal_height() -> None:
    """1.2 mm for a small x (Regulation (EU) 1169/2011 art. 13(2)); TXT1: 27.5 dots an em at 300 dpi."""
    least = Grid(dpi=300).exact(1.2) / X_HEIGHT
    assert least == pytest.approx(27.5, abs=0.5)
    for height in range(40, 400, 20):
        found = paragraph(TEXT.sentence, dpi=300, width_dots=400, height_dots=height)
        assert found is None or (found.em_dots >= least - 1e-6 and found.height_dots <= height)


def test_text_grows_as_far_as_there_is_room() -> None:
    """A short sentence is set larger than a long one, up to its most."""
    short = paragraph("Bring it back.", dpi=300, width_dots=430, height_dots=200)
    long = paragraph(TEXT.sentence, dpi=300, width_dots=430, height_dots=200)
    assert short is not None
    assert long is not None
    assert short.em_dots > long.em_dots


@settings(max_examples=60, deadline=None)
@given(
    st.text("abcdefghij éèÀЖω-", max_size=160),
    st.sampled_from(["", ">PP<", ">PE-HD+PP(FD20)<"]),
    st.sampled_from(["", "Reedmouth Yard"]),
    st.sampled_from([LabelSpec(), LabelSpec(width_mm=36, height_mm=72), LabelSpec(width_mm=56, symbol_mm=28)]),
)
def test_text_never_leaves_its_box(sentence: str, marking: str, headline: str, spec: LabelSpec) -> None:
    """Whatever the words: all ink of the text is inside its box, or it is an error."""
    text = dataclasses.replace(TEXT, sentence=sentence, marking=marking, headline=headline)
    try:
        picture = ~np.asarray(label_image(text, spec))
    except LabelError:
        return
    plan = layout._plan(text, spec)
    boxes = layout.boxes_of(spec, plan.size)
    assert boxes is not None
    left, top, width, height = boxes.text
    picture[top : top + height, left : left + width] = False
    for x, y in boxes.symbols:
        picture[y : y + plan.size.whole_dots, x : x + plan.size.whole_dots] = False
    assert not picture.any()


def test_too_many_words_are_a_clear_error() -> None:
    """Never smaller than the legal least, never past the edge."""
    wordy = dataclasses.replace(TEXT, sentence="Bring it back to us, please. " * 12)
    with pytest.raises(LabelError) as refused:
        label_png(wordy, LabelSpec())
    assert in_words(refused.value.problems[0]) == (
        f'error label-no-room: the sentence "{wordy.sentence}" does not fit a label of 70 × 37 mm with a symbol '
        "of 30 mm, even at the least height of letters\n"
        "    hint: shorten the words or take a larger label"
    )


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"marking": ">PE-HD+PP+PS+ABS+PC+PET(GF30+MD20+FR17)<"}, "the marking"),
        ({"tag": "RY-22224M" * 4}, "the tag number"),
        ({"headline": "x" * 60}, "the line"),
        ({"sentence": "Donaudampfschifffahrtsgesellschaftskapitän" * 2}, "the sentence"),
    ],
)
def test_what_does_not_fit_is_named(change: dict[str, str], what: str) -> None:
    """Each part of the text has its own words in the error."""
    (problem,) = label_problems(dataclasses.replace(TEXT, **change), LabelSpec())
    assert problem.message.startswith(what)


def test_a_symbol_larger_than_the_label_is_an_error() -> None:
    """The paper must hold the symbol with its quiet zone."""
    (problem,) = label_problems(TEXT, LabelSpec(height_mm=20))
    assert problem.message.startswith("the symbol of 28.2 mm does not fit a label of 70 × 20 mm")


def test_a_missing_glyph_prints_nothing() -> None:
    """The error names the character; no box is drawn in its place."""
    with pytest.raises(LabelError, match="CJK UNIFIED IDEOGRAPH-6C34"):
        label_png(dataclasses.replace(TEXT, sentence="水"), LabelSpec())


def test_a_module_too_small_prints_nothing() -> None:
    """A label below the measured limits is refused, not merely warned about."""
    with pytest.raises(LabelError, match=r"wanted at least 0\.5 mm"):
        label_png(TEXT, LabelSpec(symbol_mm=14))


def test_sample_is_printed_large_across_the_text() -> None:
    """A tenth of the column at least changes when a label becomes a sample, and the symbol does not."""
    plain = np.asarray(label_image(TEXT, LabelSpec()))
    sample = np.asarray(label_image(dataclasses.replace(TEXT, sample=True), LabelSpec()))
    boxes = layout.boxes_of(LabelSpec(), layout._plan(TEXT, LabelSpec()).size)
    assert boxes is not None
    left, top, width, height = boxes.text
    changed = plain != sample
    assert changed[top : top + height, left : left + width].mean() > 0.1
    changed[top : top + height, left : left + width] = False
    assert not changed.any()


def test_the_marking_has_capitals_above_the_legal_least() -> None:
    """A long marking shrinks, but a small x of its size still has 1.2 mm."""
    least_mm = 1.2 / X_HEIGHT * CAP_HEIGHT
    set_line = capitals(">PE-HD+PP(FD20)<", dpi=300, width_dots=300, most_mm=2.6, least_mm=least_mm)
    assert set_line is not None
    assert set_line.first_dots * 25.4 / 300 >= least_mm - 0.02


def test_a_picture_that_does_not_read_back_is_named() -> None:
    """A symbol painted over, and one that was not asked for."""
    image = label_image(TEXT, LabelSpec())
    image.paste(1, (0, 0, image.width // 3, image.height))
    (lost,) = unread(image, [TEXT.payload])
    assert in_words(lost) == (
        f'error label-unread: the symbol of "{TEXT.payload}" does not read back from the finished picture\n'
        "    hint: make the symbol larger or the text shorter; nothing was written"
    )
    other = label_image(TEXT, LabelSpec())
    assert [p.code for p in unread(other, [])] == ["label-strange"]
