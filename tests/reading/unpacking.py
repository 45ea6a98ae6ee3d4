"""Compact case files: one text per case, headed sections that become the files of a workshop's folder.

A heading is `--- content/lots/IN-1.yaml`, optionally followed by `in latin-1`, `with a byte order mark`,
`absent`, or `-> TARGET` for a link. A case's section replaces the one of `good.txt` that has the same name.
"""

from __future__ import annotations

import re
from pathlib import Path

from passport.problems import in_words
from passport.reading.folder import read_shop

CASES = Path(__file__).parent / "cases"
_HOW = r"in latin-1|with a byte order mark|absent|-> \S+"
_HEADING = re.compile(rf"^--- (content/\S(?:[^\n]*?\S)??)(?: ({_HOW}))?\r?\n", re.MULTILINE)


def sections(text: str) -> dict[str, tuple[str, str]]:
    """File name → (what the heading says beside it, body)."""
    _, *parts = _HEADING.split(text)
    return {parts[i]: (parts[i + 1] or "", parts[i + 2]) for i in range(0, len(parts), 3)}


def case_text(path: Path) -> str:
    """The text of a case, with its line ends as they are."""
    return path.read_bytes().decode("utf-8")


def good_files() -> dict[str, tuple[str, str]]:
    """The sections of the folder that has nothing wrong."""
    return sections(case_text(CASES / "good.txt"))


def unpack(files: dict[str, tuple[str, str]], folder: Path) -> Path:
    """Write the files below `folder`; returns its content folder."""
    for name, (how, body) in files.items():
        path = folder / name
        if how == "absent":
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        if how.startswith("-> "):
            path.symlink_to(how.removeprefix("-> "))
        else:
            encoding = {"in latin-1": "latin-1", "with a byte order mark": "utf-8-sig"}.get(how, "utf-8")
            path.write_bytes(body.encode(encoding))
    return folder / "content"


def words_of(content: Path) -> str:
    """What the terminal shows of all problems of a folder."""
    _, problems = read_shop(content)
    return "".join(in_words(problem) + "\n" for problem in problems)
