"""A broken theme is named when the records are checked, with its file, and never shows a hole on a page."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from passport.commands.main import passport
from passport.pages.render import template_problems
from passport.pages.theme import base_folder, load_theme

DEMO = Path(__file__).resolve().parents[2] / "content"
LOT = (base_folder() / "templates" / "lot.html").read_text(encoding="utf-8")


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    """A small workshop whose theme may be broken."""
    shutil.copytree(DEMO, tmp_path / "content")
    (tmp_path / "theme" / "templates").mkdir(parents=True)
    return tmp_path


def met(yard: Path, template: str, *command: str) -> tuple[int, list[str]]:
    """Exit code and the lines about the theme that a command prints with this page of a lot."""
    (yard / "theme" / "templates" / "lot.html").write_text(template, encoding="utf-8")
    result = CliRunner().invoke(passport, [*command, "--folder", str(yard)])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    lines = (result.stdout + result.stderr).splitlines()
    return result.exit_code, [line for line in lines if line.startswith("theme/")]


def test_the_built_in_theme_asks_for_nothing_that_is_lacking() -> None:
    """Every word that its templates name is in both catalogues, with all its gaps filled."""
    theme, problems = load_theme(["en", "fr"])
    assert problems == ()
    assert template_problems(theme) == ()


@pytest.mark.parametrize("command", ["check", "publish"])
@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            ('t("lot.kicker")', 't("lot.kickr")'),
            (
                'theme/templates/lot.html:7:1: error word-missing: met the word "lot.kickr", which the catalogue of'
                " en lacks"
            ),
        ),
        (
            ('t("lot.kicker")', 't("common.as_of")'),
            (
                'theme/templates/lot.html:7:1: error word-gap: met the word "common.as_of" without a value for its'
                " gap {day}, wanted day=…"
            ),
        ),
        (
            ("{{ v.what }}", "{{ v.wat }}"),
            (
                "theme/templates/lot.html: error theme-page: the LotView has no 'wat', met while a page was printed"
                " with the template lot.html"
            ),
        ),
        (
            ("{{ v.what }}", '{{ t("lot." ~ v.lot) }}'),
            (
                "theme/templates/lot.html: error theme-page: no word 'lot.BAR-001' in 'en', met while a page was"
                " printed with the template lot.html"
            ),
        ),
        (
            ("{{ v.what }}", "{{ v.what }"),
            (
                "theme/templates/lot.html:9:1: error theme-page: unexpected '}', met while a page was printed with"
                " the template lot.html"
            ),
        ),
    ],
)
def test_a_broken_template_is_an_error(yard: Path, command: str, change: tuple[str, str], said: str) -> None:
    """A missing word, an unfilled gap, a value that is not there and a slip of the pen: exit code 1 and the place."""
    assert change[0] in LOT
    code, lines = met(yard, LOT.replace(*change, 1), command)
    assert code == 1
    assert said in lines
