"""What the search of the built demo can find: the list that it reads, in both languages."""

from __future__ import annotations

from pathlib import Path

import pytest


def listed(demo: Path, lang: str) -> dict[str, tuple[str, str]]:
    """Name and path by id, of the list behind the search box."""
    lines = (demo / "site" / f"find.{lang}.txt").read_text(encoding="utf-8").splitlines()
    return {cells[0]: (cells[1], cells[2]) for cells in (line.split("\t") for line in lines)}


@pytest.mark.parametrize(
    ("lang", "wanted"),
    [
        (
            "en",
            {
                "RY-22224M": ("Planter", "T/RY-22224M/index.html"),
                "BL-001": ("Lot PP polypropylene", "L/BL-001/index.html"),
                "PLANTER": ("Planter", "P/PLANTER/index.html"),
                "QUAY-CRATES": ("Broken crates from the quay", "S/QUAY-CRATES/index.html"),
                "PE-HD": ("high density polyethylene", "R/PE-HD/index.html"),
            },
        ),
        (
            "fr",
            {
                "BL-001": ("Lot PP polypropylène", "L/BL-001/FR/index.html"),
                "PE-HD": ("polyéthylène haute densité", "R/PE-HD/FR/index.html"),
            },
        ),
    ],
)
def test_tags_lots_products_streams_and_resins_are_found(
    demo: Path, lang: str, wanted: dict[str, tuple[str, str]]
) -> None:
    """Each by its id and by its name, leading to its page in that language."""
    found = listed(demo, lang)
    assert {name: found[name] for name in wanted} == wanted
    assert all((demo / "site" / path).is_file() for _, path in found.values())
