"""The wheel holds all that a site needs: installed into an empty place, it starts a workshop and publishes it."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ("passport", "themes", "pyproject.toml", "README.md", "LICENSE")
REQUIRE = "PASSPORT_REQUIRE_BROWSER"


def done(*args: str | Path, cwd: Path, **env: str) -> subprocess.CompletedProcess[str]:
    """Run the interpreter of these tests; what it printed is in the failure."""
    ran = subprocess.run(
        [sys.executable, *map(str, args)],
        cwd=cwd,
        env=os.environ | env,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built without a network from a copy of what belongs in it."""
    for name in ("hatchling", "pip"):
        if importlib.util.find_spec(name) is None:
            reason = f"{name} is not installed, and without it no wheel is built"
            if os.environ.get(REQUIRE) == "1":
                pytest.fail(reason)
            pytest.skip(reason)
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    source.mkdir()
    for name in SOURCES:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, source / name)
    offline = ("-q", "--no-deps", "--no-build-isolation", "--no-index")
    done("-m", "pip", "wheel", *offline, "-w", folder / "out", source, cwd=folder)
    (built,) = (folder / "out").glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel's content, to be put first on the path; dependencies come from this environment."""
    target = tmp_path_factory.mktemp("installed")
    done("-m", "pip", "install", "-q", "--no-deps", "--no-index", "--target", target, wheel, cwd=target)
    return target


def names_in(wheel: Path) -> set[str]:
    """Paths in the wheel."""
    with zipfile.ZipFile(wheel) as opened:
        return set(opened.namelist())


def of_tree(top: Path, below: str) -> set[str]:
    """Paths of all files of a source folder as they stand in the wheel."""
    files = (p for p in top.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    return {f"{below}/{p.relative_to(top).as_posix()}" for p in files}


def test_the_wheel_holds_the_whole_package(wheel: Path) -> None:
    """Code, tables of facts, fonts with their licences and the starter: every file of the package is in it."""
    assert of_tree(ROOT / "passport", "passport") - names_in(wheel) == set()


def test_the_wheel_holds_the_themes(wheel: Path) -> None:
    """Templates, words and style travel inside the package."""
    themes = of_tree(ROOT / "themes", "passport/themes")
    assert len(themes) > 15
    assert themes - names_in(wheel) == set()


def test_the_wheel_holds_nothing_else(wheel: Path) -> None:
    """No tests, records, built site or leavings of an editor are installed on anybody's machine."""
    strange = [n for n in names_in(wheel) if not n.startswith("passport/") and ".dist-info/" not in n]
    assert strange == []
    assert [n for n in names_in(wheel) if n.endswith((".pyc", ".orig", ".rej", "~"))] == []


def test_the_wheel_runs_from_python_3_11(wheel: Path) -> None:
    """The wheel is for any system, says which Python it wants, and carries its licence."""
    assert wheel.name.endswith("-py3-none-any.whl")
    with zipfile.ZipFile(wheel) as opened:
        (metadata,) = (n for n in opened.namelist() if n.endswith(".dist-info/METADATA"))
        text = opened.read(metadata).decode()
        (entry,) = (n for n in opened.namelist() if n.endswith(".dist-info/entry_points.txt"))
        assert "passport = passport.commands.main:run" in opened.read(entry).decode()
    assert "Requires-Python: >=3.11" in text
    assert "License-File: LICENSE" in text


def test_an_installed_wheel_starts_and_publishes(installed: Path, tmp_path: Path) -> None:
    """In an empty folder, `start demo` and then `publish` give a site with a page and a label a tag."""
    env = {"PYTHONPATH": str(installed)}
    where = done("-c", "import passport; print(passport.__file__)", cwd=tmp_path, **env).stdout.strip()
    assert Path(where).is_relative_to(installed)
    done("-m", "passport", "start", "demo", cwd=tmp_path, **env)
    done("-m", "passport", "publish", cwd=tmp_path / "demo", **env)
    site = tmp_path / "demo" / "site"
    tags = sorted(p.name for p in (site / "T").glob("MY-*"))
    assert len(tags) == 2
    for tag in tags:
        assert (site / "T" / tag / "index.html").read_text(encoding="utf-8").count(tag) > 3
        assert (site / "T" / tag / "label.png").read_bytes().startswith(b"\x89PNG")
    for name in ("index.html", "404.html", "style.css", "data/lots.csv", "labels/sample-sheet.pdf"):
        assert (site / name).stat().st_size > 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["demo"]


def test_the_wheel_builds_the_demo_as_the_source_does(installed: Path, demo: Path, tmp_path: Path) -> None:
    """Installed or run from the source tree, the same records give the same site, byte for byte."""
    shutil.copytree(demo / "content", tmp_path / "content")
    done("-m", "passport", "publish", cwd=tmp_path, PYTHONPATH=str(installed))
    mine, theirs = (
        {p.relative_to(s).as_posix(): p.read_bytes() for p in s.rglob("*") if p.is_file()}
        for s in (tmp_path / "site", demo / "site")
    )
    assert mine == theirs
