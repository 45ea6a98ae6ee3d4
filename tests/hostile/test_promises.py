"""The list of promises in tests/README.md names tests that are there."""

import ast
import re
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]


def named() -> list[tuple[str, str]]:
    """File and test of every row."""
    found: list[tuple[str, str]] = []
    for line in (TESTS / "README.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("| ") and "`: test_" in line:
            for file, tests in re.findall(r"`([\w/]+\.py)`: ((?:test_\w+(?:, )?)+)", line):
                found += [(file, test) for test in re.findall(r"test_\w+", tests)]
    return found


def test_every_test_of_the_list_is_there() -> None:
    """A promise whose test was renamed or dropped shows here."""
    missing = []
    for file, test in named():
        tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
        names = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
        missing += [] if test in names else [(file, test)]
    assert missing == []
    assert len(named()) > 90


def test_every_row_has_a_test() -> None:
    """No promise stands there by itself."""
    rows = [line for line in (TESTS / "README.md").read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    assert [row for row in rows if "test_" not in row and row != "| promise | tests |"] == []
