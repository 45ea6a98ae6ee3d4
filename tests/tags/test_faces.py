"""The typeface: what it covers is known, and what it lacks is an error with a name."""

from __future__ import annotations

import io
from importlib import resources

import pytest
from fontTools.ttLib import TTFont

from passport.problems import in_words
from passport.tags.faces import BOLD, CAP_HEIGHT, REGULAR, X_HEIGHT, covered, glyph_problems, tidy

ALPHABETS = {
    "French": "Àâæçéèêëîïôœùûüÿ « » ’ …",
    "German": "ÄÖÜäöüß „“",
    "Irish": "ÁÉÍÓÚáéíóú",
    "Polish": "ĄĆĘŁŃÓŚŹŻąćęłńóśźż",
    "Turkish": "ĞİıŞğş",
    "Romanian": "ĂÂÎȘȚăâîșț",
    "Vietnamese": "ĐđƠơƯưẠạẢảẤấẦầẨẩẪẫẬậ",
    "Greek": "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩ άέήίόύώϊϋΐΰς",
    "Russian": "АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯ абвгдеёжз",
    "Ukrainian": "ҐЄІЇґєії",
    "Serbian": "ЂЈЉЊЋЏђјљњћџ",
    "signs": "0123456789 ≥ ≤ × · – — € ° ± µ % ½ ² ³ > < + ( ) , .",
}


@pytest.mark.parametrize("name", ALPHABETS)
def test_these_alphabets_print(name: str) -> None:
    """Latin with its accents, Greek and Cyrillic have every glyph."""
    assert glyph_problems([ALPHABETS[name]]) == ()


@pytest.mark.parametrize("weight", [REGULAR, BOLD])
def test_the_list_of_covered_characters_is_that_of_the_fonts(weight: str) -> None:
    """The library fontTools reads the same characters and heights out of each font file."""
    data = resources.files("passport.tags").joinpath(f"fonts/TagSans-{weight}.ttf").read_bytes()
    font = TTFont(io.BytesIO(data))
    assert covered() <= set(map(chr, font.getBestCmap()))
    if weight == REGULAR:  # running text is set in this weight alone
        assert font["OS/2"].sxHeight / font["head"].unitsPerEm == X_HEIGHT
    assert font["OS/2"].sCapHeight / font["head"].unitsPerEm == CAP_HEIGHT


def test_the_licence_travels_with_the_fonts() -> None:
    """SIL Open Font License 1.1, condition 2; a changed font does not bear the reserved name, condition 3."""
    folder = resources.files("passport.tags").joinpath("fonts")
    assert "SIL OPEN FONT LICENSE Version 1.1" in folder.joinpath("OFL.txt").read_text(encoding="utf-8")
    for weight in (REGULAR, BOLD):
        font = TTFont(io.BytesIO(folder.joinpath(f"TagSans-{weight}.ttf").read_bytes()))
        assert "Plex" not in str(font["name"].getBestFamilyName())


def test_a_missing_glyph_is_named() -> None:
    """The character, its code point and its name; each once."""
    (problem,) = glyph_problems(["Wasser 水水"], about="RY-22224M")
    assert in_words(problem) == (
        'error label-glyph: the typeface of labels has no "水" (U+6C34, CJK UNIFIED IDEOGRAPH-6C34), met in '
        '"Wasser 水水"\n'
        "    hint: write it in Latin, Greek or Cyrillic letters"
    )
    assert problem.about == "RY-22224M"


@pytest.mark.parametrize("text", ["♻", "שלום", "سلام", "q\u0301", "a\u200bb", "a\x07b"])
def test_what_cannot_be_set_is_refused(text: str) -> None:
    """Recycling arrows, scripts from the right, loose accents, invisible and control characters."""
    assert {p.code for p in glyph_problems([text])} == {"label-glyph"}


def test_an_accent_typed_apart_is_joined() -> None:
    """An e and U+0301 are é (Unicode NFC), and any white space is one space."""
    assert tidy("e\u0301t e\u0301\n\tici") == "ét é ici"
    assert glyph_problems(["e\u0301te\u0301"]) == ()
