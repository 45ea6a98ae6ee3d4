"""The committed site is what the records of the demo give, here and on any other machine."""

from __future__ import annotations

import os
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageChops

ROOT = Path(__file__).resolve().parents[2]
SITE = ROOT / "site"
LIST = "files.sha256"
PICTURES = {".png", ".jpg", ".webp"}
DPI = 72
"""Enough to see a shifted label on an A4 sheet; the symbols themselves are read back elsewhere."""


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder by its path."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.fixture(scope="module")
def committed() -> dict[str, bytes]:
    """The site as it lies in the source tree."""
    assert SITE.is_dir(), "met no site/, wanted the built demo; run: python -m passport publish"
    return tree(SITE)


@pytest.fixture(scope="module")
def rebuilt(demo: Path) -> dict[str, bytes]:
    """The site as built just now."""
    return tree(demo / "site")


def is_text(name: str) -> bool:
    """Whether a file of the site is compared byte for byte; the list of hashes is compared on its own."""
    return Path(name).suffix not in {*PICTURES, ".pdf"} and name != LIST


def test_the_site_has_the_same_files(committed: dict[str, bytes], rebuilt: dict[str, bytes]) -> None:
    """A rebuilt demo has exactly the files of the committed site."""
    assert sorted(rebuilt) == sorted(committed)


def test_all_text_is_the_same_byte_for_byte(committed: dict[str, bytes], rebuilt: dict[str, bytes]) -> None:
    """Pages, data, style and scripts of a rebuilt demo are those of the committed site, to the byte."""
    assert [name for name in rebuilt if is_text(name) and rebuilt[name] != committed.get(name)] == []


def test_all_pictures_show_the_same(committed: dict[str, bytes], rebuilt: dict[str, bytes]) -> None:
    """Labels and pictures decode to the same pixels: another version of a packer may pack them otherwise."""
    names = [name for name in rebuilt if Path(name).suffix in PICTURES]
    assert len(names) > 30
    assert [name for name in names if not same_pixels(rebuilt[name], committed[name])] == []


def same_pixels(one: bytes, other: bytes) -> bool:
    """Whether two pictures decode to the same."""
    if one == other:
        return True
    left, right = (Image.open(BytesIO(data)).convert("RGBA") for data in (one, other))
    return left.size == right.size and ImageChops.difference(left, right).getbbox(alpha_only=False) is None


def test_the_sample_sheet_prints_the_same(
    committed: dict[str, bytes], rebuilt: dict[str, bytes], tmp_path: Path
) -> None:
    """Each page of each PDF is drawn to the same pixels by a program that is not ours (poppler's pdftoppm)."""
    sheets = [name for name in rebuilt if name.endswith(".pdf")]
    assert sheets
    for name in sheets:
        if rebuilt[name] == committed[name]:
            continue
        mine, theirs = (drawn(data, tmp_path / side) for data, side in ((rebuilt[name], "a"), (committed[name], "b")))
        assert len(mine) == len(theirs)
        assert all(same_pixels(a, b) for a, b in zip(mine, theirs, strict=True))


def drawn(pdf: bytes, folder: Path) -> list[bytes]:
    """The pages of a PDF as pictures."""
    program = shutil.which("pdftoppm")
    if program is None:
        reason = "the PDF differs in its bytes and there is no pdftoppm on this machine to draw its pages"
        if os.environ.get("PASSPORT_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    folder.mkdir()
    (folder / "in.pdf").write_bytes(pdf)
    subprocess.run([program, "-r", str(DPI), "-png", "in.pdf", "page"], cwd=folder, check=True)
    return [page.read_bytes() for page in sorted(folder.glob("page*.png"))]


def test_the_list_of_files_names_what_is_there(rebuilt: dict[str, bytes]) -> None:
    """`files.sha256` names every other file of the site, in the form that `sha256sum -c` reads."""
    lines = [line for line in rebuilt[LIST].decode().splitlines() if not line.startswith("#")]
    assert sorted(line.split("  ", 1)[1] for line in lines) == sorted(set(rebuilt) - {LIST})


def test_the_committed_list_holds(committed: dict[str, bytes], tmp_path: Path) -> None:
    """The committed site passes its own list of hashes, by a program that is not ours."""
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("there is no sha256sum on this machine")
    done = subprocess.run([program, "--check", "--quiet", LIST], cwd=SITE, capture_output=True, check=False)
    assert (done.returncode, done.stdout) == (0, b"")


def test_a_second_publish_writes_nothing(demo: Path, cli, tmp_path: Path) -> None:
    """From the same records, publishing again leaves every file as it was: same inode, same time."""
    shutil.copytree(demo, tmp_path / "again")
    site = tmp_path / "again" / "site"
    before = stamps(site)
    done = cli("publish", "--folder", tmp_path / "again")
    assert done.returncode == 0, done.stderr
    assert "site/: 0 written, 0 removed, " in done.stderr
    assert stamps(site) == before


def stamps(site: Path) -> dict[str, tuple[int, int]]:
    """Inode and time of change of every file."""
    return {str(p.relative_to(site)): (p.stat().st_ino, p.stat().st_mtime_ns) for p in site.rglob("*") if p.is_file()}


ELSEWHERE = {"PYTHONHASHSEED": "4242", "TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONUTF8": "0"}
"""Another hash order, a day ahead, a poor alphabet."""


@pytest.mark.skipif(os.name != "posix", reason="umask is a thing of POSIX systems")
def test_another_machine_builds_the_same_tree(demo: Path, cli, tmp_path: Path) -> None:
    """Hash order, time zone, locale, umask and working folder leave no trace in the site, not even in modes."""
    there = tmp_path / "deeply" / "elsewhere"
    shutil.copytree(demo / "content", there / "content")
    before = os.umask(0o077)
    try:
        done = cli("publish", cwd=there, **ELSEWHERE)
    finally:
        os.umask(before)
    assert done.returncode == 0, done.stderr
    assert tree(there / "site") == tree(demo / "site")
    assert modes(there / "site") == modes(demo / "site")


def modes(site: Path) -> dict[str, int]:
    """Permissions of every file and folder."""
    return {str(p.relative_to(site)): p.stat().st_mode & 0o777 for p in [site, *site.rglob("*")]}


def test_nothing_of_this_machine_is_in_the_site(demo: Path) -> None:
    """No file of the site holds the folder it was built in."""
    assert [name for name, data in tree(demo / "site").items() if str(demo).encode() in data] == []
