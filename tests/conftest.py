"""Settings and helpers shared by all tests."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NoReturn

import pytest
from hypothesis import settings

settings.register_profile("patient", deadline=None, derandomize=True)
"""No deadlines, since machines are busy; the same examples everywhere, so that a failure is everybody's."""
settings.load_profile("patient")

ROOT = Path(__file__).resolve().parent.parent
REQUIRE = "PASSPORT_REQUIRE_BROWSER"
"""Set to 1 where nothing may be skipped: a missing chromium, pdftoppm or build backend then fails the test."""
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
"""Switches with which chromium starts without a screen and asks nobody anything."""

Cli = Callable[..., subprocess.CompletedProcess[str]]


def missing(what: str) -> NoReturn:
    """Skip for want of a tool of this machine, or fail where nothing may be skipped."""
    if os.environ.get(REQUIRE) == "1":
        pytest.fail(f"{what}, and {REQUIRE} is 1")
    pytest.skip(what)


@pytest.fixture(scope="session")
def cli() -> Cli:
    """Run `python -m passport …` of this source tree in a process of its own; its output as text."""

    def run(*args: str | Path, cwd: Path = ROOT, **env: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "passport", *map(str, args)],
            cwd=cwd,
            env=os.environ | {"PYTHONPATH": str(ROOT)} | env,
            capture_output=True,
            encoding="utf-8",
            check=False,
        )

    return run


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory, cli: Cli) -> Path:
    """A folder with a copy of the demo's records and the site built from them. Read it, do not change it."""
    folder = tmp_path_factory.mktemp("demo")
    shutil.copytree(ROOT / "content", folder / "content")
    done = cli("publish", "--folder", folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="session")
def deposit(tmp_path_factory: pytest.TempPathFactory, cli: Cli) -> Path:
    """The deposit of a copy of the demo's records with one private one. Read them, do not change them."""
    folder = tmp_path_factory.mktemp("yard")
    shutil.copytree(ROOT / "content", folder / "content")
    (folder / "private").mkdir()
    (folder / "private" / "IN-001.yaml").write_text("giver: Wrenna Quillfeather\n", encoding="utf-8")
    done = cli("deposit", "--folder", folder)
    assert done.returncode == 0, done.stderr
    (packed,) = (folder / "deposits").iterdir()
    return packed


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where this machine's chromium is."""
    found = shutil.which("/usr/bin/chromium") or shutil.which("chromium") or shutil.which("chromium-browser")
    return found or missing("there is no chromium on this machine")


@pytest.fixture(scope="module")
def chrome(chromium: str) -> Iterator[object]:
    """One headless chromium for the tests of a module (two at once cannot share a thread)."""
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - a machine without it runs the rest
    except ImportError:
        missing("playwright is not installed")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=chromium, args=QUIET)
        yield started
        started.close()
