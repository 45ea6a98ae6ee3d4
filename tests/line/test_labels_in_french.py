"""Printed sheets in the language of the yard."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from passport.commands.main import passport
from passport.pages.labelling import sheet_words
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.reading.folder import read_shop
from passport.tags.sheet import SheetWords
from passport.verdicts.book import work_out

DEMO = Path(__file__).resolve().parents[2] / "content"
THEME, _ = load_theme(["en", "fr"])


def words_in(lang: str) -> SheetWords:
    """What a sheet of the example says beside its labels."""
    shop, _ = read_shop(DEMO)
    assert shop is not None
    return sheet_words(Scribe(book=work_out(shop), words=THEME.words[lang], first="en"))


def test_the_english_catalogue_says_what_a_sheet_says_by_itself() -> None:
    """The words of the catalogue and those without a catalogue are the same, so that neither can go stale."""
    assert words_in("en") == SheetWords()


def test_every_word_on_a_sheet_has_its_french() -> None:
    """Nothing but the word that is the same in both languages stays as it was."""
    english, french = SheetWords(), words_in("fr")
    same = {name for name in SheetWords.__slots__ if getattr(english, name) == getattr(french, name)}
    assert same == {"notes"}
    assert french.print_line == "Imprimez à 100 %, sans ajuster à la page : ce trait mesure 100 mm."


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """A copy of the example's records."""
    shutil.copytree(DEMO, tmp_path / "content")
    return tmp_path


def page(yard: Path, *more: str) -> str:
    """The page of labels for a browser of one tag."""
    args = ["labels", "RY-22225K", "--kind", "page", "--out", str(yard / "out"), "--folder", str(yard), *more]
    result = CliRunner().invoke(passport, args)
    assert result.exit_code == 0, result.stderr
    return next((yard / "out").glob("*.html")).read_text(encoding="utf-8")


def test_a_page_of_labels_speaks_the_language_asked_for(yard: Path) -> None:
    """Title, how to print and the sentence on the label; by default the workshop's first language."""
    french = page(yard, "--language", "fr")
    assert '<html lang="fr">' in french
    assert "Imprimez à 100 %, sans ajuster à la page." in french
    assert "rapporter" in french
    shutil.rmtree(yard / "out")
    assert "Print at 100 %, never fitted to the page." in page(yard)


def test_a_workshop_whose_first_language_is_french_prints_in_french(yard: Path) -> None:
    """Nothing needs to be asked for where French comes first."""
    workshop = yard / "content" / "workshop.yaml"
    workshop.write_text(workshop.read_text("utf-8").replace("languages: [en, fr]", "languages: [fr, en]"), "utf-8")
    assert '<html lang="fr">' in page(yard)


def test_a_language_that_the_workshop_has_not_is_refused(yard: Path) -> None:
    """The whole message."""
    result = CliRunner().invoke(passport, ["labels", "--language", "ga", "--folder", str(yard)])
    assert (result.exit_code, result.stderr) == (
        1,
        (
            'error language-unknown: met "ga" for --language, wanted one that the workshop has: en, fr\n'
            "    hint: `languages:` in workshop.yaml names them\n1 error\n"
        ),
    )
