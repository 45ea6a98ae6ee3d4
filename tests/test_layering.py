"""The code flows one way, its core is pure, and dangerous tools stay where they were reviewed.

Everything is read off the syntax trees: nothing is imported, so a lazy import inside a function counts too.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "passport"

STAGES: tuple[tuple[str, ...], ...] = (
    ("problems", "amounts"),
    ("reading",),
    ("material",),
    ("massflow",),
    ("verdicts",),
    ("tags",),
    ("pages",),
    ("disk",),
    ("kept",),
    ("writing", "publish", "preview", "deposit"),
    ("office",),
    ("commands",),
    ("__main__",),
)
"""Each may import those before it, and its own. Tags stand before pages because pages show symbols."""
STAGE = {name: rank for rank, names in enumerate(STAGES) for name in names}
DISK = STAGE["disk"]

READERS = frozenset({"passport.reading.folder", "passport.pages.theme"})
"""The modules of the core that open files: the records, and the theme. Others read package data alone."""
ONLY_IN: dict[str, frozenset[str]] = {
    "jinja2": frozenset({"passport.pages.render"}),
    "nh3": frozenset({"passport.pages.prose"}),
    "markdown": frozenset({"passport.pages.prose"}),
}
"""Libraries with sharp edges → the modules that may import them: rendering and cleaning."""
YAML_READERS = frozenset({"passport.reading.marked", "passport.pages.words"})
"""Read people's YAML (records; a theme's words), node by node. The package's own tables go through the safe loader."""
TRUSTED_HTML = {
    "passport/pages/render.py": "links, cleaned prose, inert JSON and our own drawings, each said beside its line",
}
"""Files in which HTML is declared safe, with the reason. Anything new is reviewed before it is added here."""

IMPURE = frozenset(
    {
        "asyncio",
        "ctypes",
        "fcntl",
        "getpass",
        "http",
        "locale",
        "multiprocessing",
        "os",
        "platform",
        "random",
        "secrets",
        "shutil",
        "signal",
        "socket",
        "subprocess",
        "tempfile",
        "threading",
        "time",
        "urllib.request",
        "uuid",
        "webbrowser",
    }
)
"""Modules of clocks, chance, networks, environments and disks: none of them below the stage of disks."""
CLOCKS = frozenset({"now", "today", "utcnow", "fromtimestamp", "getenv", "environ"})
FILE_CALLS = frozenset(
    {
        "open",
        "read_text",
        "read_bytes",
        "write_text",
        "write_bytes",
        "iterdir",
        "glob",
        "rglob",
        "mkdir",
        "unlink",
        "rmdir",
        "touch",
        "rename",
        "symlink_to",
    }
)


def module_name(path: Path) -> str:
    """passport/reading/marked.py → passport.reading.marked."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


MODULES = {module_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}
TREES = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in MODULES.items()}


def stage_of(module: str) -> int:
    """The rank of a module of ours; the package itself is before everything."""
    _, *inner = module.split(".")
    return STAGE[inner[0]] if inner else -1


def imports_of(module: str) -> Iterator[str]:
    """Every module that a module imports, anywhere in it, by its full name."""
    for node in ast.walk(TREES[module]):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative import"
            whole = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (name if name in MODULES else str(node.module) for name in whole)


def ours(module: str) -> set[str]:
    """The modules of this package that a module imports."""
    return {name for name in imports_of(module) if name.split(".")[0] == "passport"} - {module}


CORE = [name for name in MODULES if stage_of(name) < DISK]


def calls_in(module: str) -> Iterator[tuple[str, str]]:
    """Receiver (where it is a plain name) and name of each function called."""
    for node in ast.walk(TREES[module]):
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name):
                yield "", called.id
            elif isinstance(called, ast.Attribute):
                yield called.value.id if isinstance(called.value, ast.Name) else "", called.attr


def test_every_module_has_a_stage() -> None:
    """A new part of the package must be given its place in the flow before it can be merged."""
    assert {name.split(".")[1] for name in MODULES if "." in name} <= STAGE.keys()


@pytest.mark.parametrize("module", MODULES)
def test_imports_flow_one_way(module: str) -> None:
    """A module imports only from stages before its own, and from its own stage's package."""
    against = {name for name in ours(module) if stage_of(name) > stage_of(module)}
    assert against == set()


def test_no_module_imports_itself_round_a_corner() -> None:
    """There is no circle of imports, not even within one stage."""
    leaves = {name: {other for other in ours(name) if other in MODULES} for name in MODULES if not _is_package(name)}
    try:
        tuple(TopologicalSorter(leaves).static_order())
    except CycleError as circle:
        pytest.fail(" → ".join(circle.args[1]))


def _is_package(module: str) -> bool:
    return MODULES[module].name == "__init__.py"


@pytest.mark.parametrize("module", CORE)
def test_the_core_has_no_clock_chance_network_or_environment(module: str) -> None:
    """Below the stage of disks the same records give the same pages, on any machine, at any time."""
    assert IMPURE & set(imports_of(module)) == set()
    assert [name for _, name in calls_in(module) if name in CLOCKS] == []


@pytest.mark.parametrize("module", sorted(set(CORE) - READERS))
def test_only_the_readers_open_files(module: str) -> None:
    """Of the core only the goods-in desk and the theme open files; tables come from the package itself."""
    touched = {name for receiver, name in calls_in(module) if name in FILE_CALLS and receiver != "Image"}
    if touched:
        assert touched <= {"read_text", "read_bytes"}, touched
        assert any(name.startswith("importlib") for name in imports_of(module))
        assert "pathlib" not in set(imports_of(module))


@pytest.mark.parametrize("library", ONLY_IN)
def test_sharp_libraries_stay_in_their_modules(library: str) -> None:
    """Templates, Markdown and HTML cleaning are each reached through one reviewed module."""
    importing = {module for module in MODULES if library in {name.split(".")[0] for name in imports_of(module)}}
    assert importing <= ONLY_IN[library]


def test_only_the_office_and_the_commands_know_the_terminal() -> None:
    """The rest can be used, and tested, without one."""
    importing = {module for module in MODULES if "click" in {name.split(".")[0] for name in imports_of(module)}}
    assert {stage_of(module) for module in importing} <= {STAGE["office"], STAGE["commands"], STAGE["__main__"]}


def test_yaml_is_never_loaded_at_will() -> None:
    """What people write goes through `compose`, tables of the package through a safe loader: no YAML makes objects."""
    readers = [module for module in MODULES if "yaml" in set(imports_of(module))]
    assert set(readers) >= YAML_READERS
    for module in readers:
        loading = {name for receiver, name in calls_in(module) if receiver == "yaml" and "load" in name}
        if module in YAML_READERS:
            assert loading == set()
        elif loading:
            assert any(name.startswith("importlib") for name in imports_of(module)), module
            assert loading == {"safe_load"} or "SafeLoader" in MODULES[module].read_text(encoding="utf-8"), module


def test_html_is_declared_safe_in_reviewed_files_alone() -> None:
    """`|safe` and `Markup(…)` let text through unescaped: they stand only where somebody has looked."""
    files = [*PACKAGE.rglob("*.py"), *(ROOT / "themes").rglob("*.html"), *(ROOT / "themes").rglob("*.xml")]
    found = {path.relative_to(ROOT).as_posix() for path in files if _declares_safe(path.read_text(encoding="utf-8"))}
    assert found <= TRUSTED_HTML.keys()


def _declares_safe(text: str) -> bool:
    return re.search(r"\|\s*safe\b|\bMarkup\(|autoescape\s+false", text) is not None


@pytest.mark.parametrize("module", MODULES)
def test_nothing_is_evaluated(module: str) -> None:
    """No text becomes code (CWE-95), no object comes out of a byte stream (CWE-502)."""
    assert {"eval", "exec", "compile", "__import__"} & {
        name for receiver, name in calls_in(module) if not receiver
    } == set()
    assert {"pickle", "marshal", "shelve"} & set(imports_of(module)) == set()


def test_commands_do_not_lean_on_each_other() -> None:
    """Each command's module holds that command alone; what several need lies in the office."""
    for module in MODULES:
        if module.startswith("passport.commands."):
            others = {name for name in imports_of(module) if name.startswith("passport.commands.")}
            assert {name.split(".")[2] for name in others} <= {"main"}, module
