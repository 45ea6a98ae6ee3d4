"""Schemas and term lists of others that tests read from beside the source tree; they are not ours to copy."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

STANDARDS = Path(__file__).resolve().parents[3] / "shared" / "standards"


def standard(name: str) -> Any:
    """One of these files as JSON; the test is skipped where this machine has not got it."""
    file = STANDARDS / name
    if not file.is_file():
        pytest.skip(f"shared/standards/{name} is not beside the source tree: it is not ours to ship")
    return json.loads(file.read_text(encoding="utf-8"))
