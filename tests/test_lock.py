"""What CI installs is what the project asks for: pinned, hashed, and enough for every import."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

ROOT = Path(__file__).parents[1]
LOCK = (ROOT / "requirements-ci.lock").read_text(encoding="utf-8")
PINS = dict(re.findall(r"^([a-z0-9-]+)==([^ \\]+)", LOCK, re.MULTILINE))


def normal(name: str) -> str:
    """A distribution's name in the normal form (Python packaging specification, name normalization)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_requirement_is_pinned() -> None:
    """Each package that pyproject.toml asks for, to run, test or build, stands in the lock."""
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [
        *asked["project"]["dependencies"],
        *asked["project"]["optional-dependencies"]["test"],
        *asked["build-system"]["requires"],
    ]
    names = {normal(re.split(r"[^A-Za-z0-9._-]", line, maxsplit=1)[0]) for line in wanted}
    assert names - PINS.keys() == set()


def test_every_pin_has_hashes() -> None:
    """No package is installed without the hash of its file having been compared."""
    blocks = re.split(r"^(?=[a-z0-9-]+==)", LOCK, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(PINS)
    assert [block.split("==")[0] for block in blocks if "--hash=sha256:" not in block] == []


def test_the_lock_names_no_registry() -> None:
    """The lock holds wherever packages come from: no address stands in it."""
    assert "://" not in LOCK
    assert not re.search(r"^-", LOCK, re.MULTILINE)


def test_every_import_is_pinned() -> None:
    """Whatever program or tests import is in the lock, so that a fresh machine can run them."""
    files = [*(ROOT / "passport").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    own = {"passport"} | {path.stem for path in files} | {path.parent.name for path in files}
    imported = {name for path in files for name in _imports(path)} - own - set(sys.stdlib_module_names)
    distributions = packages_distributions()
    unpinned = {name for name in imported if not {normal(d) for d in distributions.get(name, ())} & PINS.keys()}
    assert unpinned == set()


def _imports(path: Path) -> set[str]:
    """The first part of the name of each module that a file imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            found.add(str(node.module).split(".")[0])
    return found
