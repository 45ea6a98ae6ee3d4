"""The package's own tables of facts, read once: plain YAML files that lie beside this module."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@cache
def table(name: str) -> Mapping[str, Any]:
    """One table of the package by its name without ".yaml". Raises FileNotFoundError for another name."""
    text = files(__package__).joinpath(f"{name}.yaml").read_text(encoding="utf-8")
    loaded: dict[str, Any] = yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader
    return loaded


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a figure comes from."""

    key: str
    says: str
    """In words, with edition or clause."""
    status: str
    """seen, second-hand, practice or memory."""
    fr: str = ""
    """The same in French, for the sources that pages of things name; a title of a work stays as it is."""

    def said(self, language: str) -> str:
        """The source in a language, else in English."""
        return self.fr if language == "fr" and self.fr else self.says


@cache
def sources() -> Mapping[str, Source]:
    """Every source that a table of this package may name, by its key."""
    return {key: Source(key=key, **row) for key, row in table("sources").items()}


def cited(keys: tuple[str, ...], language: str = "en") -> str:
    """Sources in words, for a page or a docstring: "ASTM D7611/D7611M-21; from memory, not confirmed"."""
    return "; ".join(sources()[key].said(language) for key in keys)
