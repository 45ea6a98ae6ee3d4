"""Every text that people write into records and that pages print is walked, with its place."""

import dataclasses
import typing
from pathlib import Path

import pytest

from passport.reading import records
from passport.reading.fields import LineField, WordsField
from passport.reading.folder import read_shop
from passport.verdicts.free_texts import CODES, _plan, free_texts, place_of

DEMO = Path(__file__).resolve().parents[2] / "content"
CLASSES = [
    found
    for name in dir(records)
    if isinstance(found := getattr(records, name), type)
    and dataclasses.is_dataclass(found)
    and found.__module__ == records.__name__
]


def holds_words(hint: object) -> bool:
    """Whether an annotation has free words in it, at any depth."""
    return hint in (WordsField, LineField) or any(holds_words(part) for part in typing.get_args(hint))


@pytest.mark.parametrize("cls", CLASSES, ids=lambda cls: cls.__name__)
def test_no_field_of_words_is_left_out(cls: type) -> None:
    """Fields of words are walked by their kind; those that are codes of the trade are named one by one."""
    hints = typing.get_type_hints(cls, include_extras=True)
    wordy = {name for name, hint in hints.items() if holds_words(hint)}
    assert wordy - CODES <= {name for name, _ in _plan(cls)}


def test_every_text_of_the_demo_is_found_again_at_its_place() -> None:
    """The place of a text's last word is in a file, at a line that holds that word."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    said = list(free_texts(shop))
    assert len(said) > 400
    for text in said[::7]:
        word = text.text.split()[-1]
        place = place_of(shop, text, word)
        assert place.line, text
        assert word in place.source_line or text.path[0] in ("losses", "gains", "glossary"), (text, place)


def test_both_languages_of_a_text_are_walked() -> None:
    """A product's care is two texts, each in its language."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    care = [text for text in free_texts(shop) if text.id == "PLANTER" and text.path[0] == "care"]
    assert [text.lang for text in care] == ["en", "fr"]
