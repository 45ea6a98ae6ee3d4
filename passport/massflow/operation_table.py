"""What each operation does to material, from the table beside this module."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

import yaml

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationKind:
    """One row of the table."""

    name: str
    melts: bool = False
    """Adds one to the times that the material was melted here."""
    separates: bool = False
    """Its results may hold other shares than its inputs."""
    wets: bool = False
    """Its results may be wet: unknown moisture is a doubt."""
    into_tag: bool = False
    """What it draws from lots goes into a tagged thing; its results come out of that thing."""
    words: Mapping[str, str] = field(default_factory=dict)
    """Past participle by language."""


@cache
def operation_table() -> Mapping[str, OperationKind]:
    """Every known operation by its name."""
    text = files(__package__).joinpath("operations.yaml").read_text(encoding="utf-8")
    rows = yaml.load(text, Loader=_LOADER)  # noqa: S506 - our own file, safe loader
    return {name: OperationKind(name=name, **row) for name, row in rows.items()}


def operation_kind(name: str) -> OperationKind:
    """The row of an operation; one that the table lacks neither melts nor separates."""
    return operation_table().get(name) or OperationKind(name=name)
