"""A workshop's own theme lies over the base theme."""

from __future__ import annotations

from pathlib import Path

from page_samples import Sample

from passport.pages.extras import Findable, find_index, static_files
from passport.pages.render import Renderer
from passport.pages.theme import base_folder, load_theme


def own(folder: Path, **files: str) -> Path:
    """A theme folder with the given files; `__` stands for a slash and `_dot_` for a dot."""
    for name, text in files.items():
        path = folder / name.replace("__", "/").replace("_dot_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def test_a_file_replaces_its_namesake(tmp_path: Path) -> None:
    """One own template is used; all other files stay the base theme's."""
    folder = own(tmp_path, templates__found_dot_html="<!doctype html><title>own</title>{{ v.example }}")
    theme, problems = load_theme(["en", "fr"], folder)
    assert problems == ()
    assert Renderer(theme).page(Sample().found()) == "<!doctype html><title>own</title>RY-22224M"
    assert "Planter" in Renderer(theme).page(Sample().planter())


def test_a_single_word_may_be_changed(tmp_path: Path) -> None:
    """An own catalogue of one line changes one word."""
    theme, problems = load_theme(["en"], own(tmp_path, words__en_dot_yaml="passport: {now: And now}"))
    assert problems == ()
    assert theme.words["en"]("passport.now") == "And now"
    assert theme.words["en"]("passport.made_of") == "Made of"


def test_version_follows_the_theme_alone(tmp_path: Path) -> None:
    """The version changes with any file of the theme and with nothing else."""
    first, _ = load_theme(["en"])
    again, _ = load_theme(["en", "fr"])
    changed, _ = load_theme(["en"], own(tmp_path, static__style_dot_css="p{}"))
    assert first.version == again.version != changed.version
    assert first.version in static_files(first, "Reedmouth Yard", "en")["sw.js"]


def test_files_that_are_no_text(tmp_path: Path) -> None:
    """A picture among the templates is an error that names it."""
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "log.html").write_bytes(b"\xff\xfe\x00")
    _, problems = load_theme(["en"], tmp_path)
    assert [(str(p.place), p.message) for p in problems] == [
        (
            "theme/templates/log.html",
            "the theme file is not UTF-8 text; a theme holds UTF-8 text of at most 1000000 bytes a file",
        )
    ]


def test_no_own_theme(tmp_path: Path) -> None:
    """A workshop without a theme folder has the base theme."""
    assert load_theme(["en"], tmp_path / "none") == load_theme(["en"])


def test_find_index_is_sorted_and_flat() -> None:
    """Names cannot break the lines of the search list."""
    things = [
        Findable(id="RY-2", name="a\tb\nc", path="/T/RY-2/"),
        Findable(id="RY-1", name="x", path="/T/RY-1/FR/"),
    ]
    assert find_index(things) == "RY-1\tx\tT/RY-1/FR/index.html\nRY-2\ta b c\tT/RY-2/index.html\n"


def test_base_theme_is_found() -> None:
    """The base theme is there, in a checkout as in a wheel."""
    assert (base_folder() / "templates" / "passport.html").is_file()
