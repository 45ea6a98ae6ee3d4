"""Published cases as data files: what the tests of this folder compare with."""

from __future__ import annotations

from pathlib import Path

import yaml

CASES = Path(__file__).parent / "cases"


def cases(name: str) -> list[dict[str, object]]:
    """The rows of a case file."""
    return yaml.safe_load((CASES / f"{name}.yaml").read_text(encoding="utf-8"))
