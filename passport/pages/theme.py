"""A theme: templates, one style sheet, scripts and wording, read from a folder.

The workshop's own theme lies over the one that comes with the program and replaces it file by
file; its catalogues add to or change single words. This is the one module that reads theme files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from hashlib import sha256
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from passport.pages.words import Words, check_catalogue, read_catalogue
from passport.problems import Place, Problem, in_order

BASE = "yard"
REFERENCE = "en"
"""The catalogue that names every word a page may ask for."""
_TEMPLATES, _WORDS, _STATIC = "templates/", "words/", "static/"
_LARGEST = 1_000_000
"""Bytes; a theme file above this is a mistake (a photograph, say)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """Everything a theme holds, as text.

    templates: name → Jinja source; static: path from the root of the site → text.
    words: language → catalogue. version: changes exactly when any of it changes.
    """

    templates: Mapping[str, str]
    static: Mapping[str, str]
    words: Mapping[str, Words]
    version: str


def base_folder() -> Traversable:
    """The theme that comes with the program: inside the wheel, or beside the package in a checkout."""
    packaged = files("passport") / "themes" / BASE
    if packaged.is_dir():
        return packaged
    return Path(__file__).resolve().parents[2] / "themes" / BASE


def catalogues_of_the_program() -> tuple[str, ...]:
    """The languages that the program has words in."""
    return tuple(sorted(entry.name.removesuffix(".yaml") for entry in (base_folder() / "words").iterdir()))


def load_theme(
    languages: Iterable[str], own: Traversable | None = None, base: Traversable | None = None
) -> tuple[Theme, tuple[Problem, ...]]:
    """The base theme with the workshop's own folder laid over it, and all that is wrong with it."""
    layers = [base or base_folder(), *([own] if own is not None and own.is_dir() else [])]
    problems: list[Problem] = []
    texts = [dict(_texts(layer, problems)) for layer in layers]
    merged = {name: text for layer in texts for name, text in layer.items()}
    words = _catalogues(texts, tuple(languages), problems)
    theme = Theme(
        templates=_under(_TEMPLATES, merged),
        static=_under(_STATIC, merged),
        words=words,
        version=_version(merged),
    )
    return theme, in_order(problems)


def _texts(folder: Traversable, problems: list[Problem], above: str = "") -> Iterator[tuple[str, str]]:
    """All files of a folder as (path, text), by name; hidden ones are left out."""
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        name = above + entry.name
        if entry.name.startswith("."):
            continue
        if entry.is_dir():
            yield from _texts(entry, problems, name + "/")
        elif (text := _text(entry, name, problems)) is not None:
            yield name, text


def _text(entry: Traversable, name: str, problems: list[Problem]) -> str | None:
    try:
        raw = entry.read_bytes()
        text = raw.decode("utf-8").replace("\r\n", "\n")
    except OSError as error:
        problems.append(_bad_file(name, f"cannot be read ({error.strerror})"))
        return None
    except UnicodeDecodeError:
        problems.append(_bad_file(name, "is not UTF-8 text"))
        return None
    if len(raw) > _LARGEST:
        problems.append(_bad_file(name, f"is {len(raw)} bytes long"))
        return None
    return text


def _bad_file(name: str, reason: str) -> Problem:
    return Problem(
        code="theme-file",
        message=f"the theme file {reason}; a theme holds UTF-8 text of at most {_LARGEST} bytes a file",
        place=Place(f"theme/{name}"),
    )


def _under(folder: str, texts: Mapping[str, str]) -> dict[str, str]:
    return {name.removeprefix(folder): text for name, text in texts.items() if name.startswith(folder)}


def _catalogues(layers: list[dict[str, str]], languages: tuple[str, ...], problems: list[Problem]) -> dict[str, Words]:
    reference = _merged_words(layers, REFERENCE, problems)
    known = {REFERENCE: reference}
    for lang in languages:
        if not any(f"{_WORDS}{lang}.yaml" in layer for layer in layers):
            problems.append(_no_catalogue(lang, layers))
            known[lang] = reference
        elif lang not in known:
            known[lang] = _merged_words(layers, lang, problems)
            problems += check_catalogue(known[lang], reference, _catalogue_name(lang))
    return {lang: Words(lang=lang, entries=entries) for lang, entries in known.items()}


def _no_catalogue(lang: str, layers: list[dict[str, str]]) -> Problem:
    """One error for a language nobody has written words for, not one a word."""
    there = sorted({name[len(_WORDS) : -len(".yaml")] for layer in layers for name in layer if name.startswith(_WORDS)})
    return Problem(
        code="language-unknown",
        message=f'met the language "{lang}" in `languages:`, wanted one with a catalogue of words',
        place=Place("content/workshop.yaml"),
        hint=f"there are {', '.join(there)}; a catalogue of your own goes into theme/words/{lang}.yaml",
    )


def _merged_words(layers: list[dict[str, str]], lang: str, problems: list[Problem]) -> dict[str, str]:
    entries: dict[str, str] = {}
    for layer in layers:
        text = layer.get(f"{_WORDS}{lang}.yaml", "")
        found, wrong = read_catalogue(text, _catalogue_name(lang))
        problems += wrong
        entries |= found
    return entries


def _catalogue_name(lang: str) -> str:
    return f"theme/words/{lang}.yaml"


def _version(texts: Mapping[str, str]) -> str:
    digest = sha256()
    for name in sorted(texts):
        digest.update(f"{name}\0{texts[name]}\0".encode())
    return digest.hexdigest()[:12]
