"""A small yard with a public address, for tests of labels and numbers."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from passport.commands.main import passport
from passport.reading.folder import read_shop
from passport.reading.shop import Shop

ADDRESS = "https://pass.reedmouth-yard.ie"
"""Invented; no reserved name, since such a one prints samples only."""
ON = ("--on", "2026-02-01")


def run(*args: str | Path) -> Result:
    """One command in this process; `output` is all that a terminal would show."""
    return CliRunner().invoke(passport, [str(arg) for arg in args], prog_name="passport")


def done(*args: str | Path) -> str:
    """One command that must end well; what it printed."""
    result = run(*args)
    assert result.exit_code == 0, result.output
    return result.output


def yard(folder: Path, things: int) -> Path:
    """A started folder with a public address and one batch of things, numbered."""
    done("start", folder)
    move(folder, ADDRESS)
    batch = folder / "content" / "items" / "POT-001.yaml"
    text = batch.read_text(encoding="utf-8")
    text = text.replace("count: 2 ", f"count: {things} ").replace("mass: 445 g", f"mass: {220 * things + 5} g")
    batch.write_text(text, encoding="utf-8")
    done("tag", "POT-001", *ON, "--folder", folder)
    return folder


def move(folder: Path, address: str, more: str = "") -> None:
    """Give the workshop another address, and its record more lines."""
    record = folder / "content" / "workshop.yaml"
    lines = record.read_text(encoding="utf-8").splitlines(keepends=True)
    moved = [f"address: {address}\n" if line.startswith("address:") else line for line in lines]
    record.write_text("".join(moved) + more, encoding="utf-8")


def shop_of(folder: Path) -> Shop:
    """The records as they stand."""
    shop, problems = read_shop(folder / "content")
    assert shop is not None, problems
    return shop


def tags_of(folder: Path) -> list[str]:
    """Every number ever issued."""
    return [entry.tag for entry in shop_of(folder).issued]


def printed_of(folder: Path) -> list[tuple[str, str]]:
    """Tag and kind of every remembered label."""
    return [(label.tag, label.kind) for label in shop_of(folder).printed]


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Every record."""
    content = folder / "content"
    return {str(path.relative_to(content)): path.read_bytes() for path in content.rglob("*") if path.is_file()}
