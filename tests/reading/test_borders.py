"""The goods-in desk opens plain files of content/ and nothing else."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from unpacking import good_files, unpack, words_of

from passport.reading.folder import MAX_PICTURE_BYTES, read_picture

WATCHING = """
import sys
from pathlib import Path
from passport.reading.folder import read_shop
content = Path(sys.argv[1])
opened = []
sys.addaudithook(lambda event, given: opened.append(str(given[0])) if event == "open" else None)
read_shop(content)
print("\\n".join(sorted(set(opened))))
"""


def test_only_content_is_opened(tmp_path: Path) -> None:
    """Beside content/ lies private/, and beyond that the machine: neither is opened (CPython's audit event `open`)."""
    content = unpack(good_files(), tmp_path)
    (tmp_path / "private").mkdir()
    (tmp_path / "private" / "IN-1.yaml").write_text("telephone: nobody's business\n", encoding="utf-8")
    (content / "streams" / "out.yaml").symlink_to(tmp_path / "private" / "IN-1.yaml")
    (content / "photos").symlink_to(tmp_path / "private")
    done = subprocess.run(
        [sys.executable, "-c", WATCHING, str(content)], capture_output=True, text=True, check=True, timeout=60
    )
    opened = [Path(line) for line in done.stdout.splitlines()]
    # the decoder of YAML and the validator were imported before the watch began, so all opens are the desk's own
    outside = [path for path in opened if not path.is_relative_to(content) and path.suffix not in {".py", ".pyc"}]
    assert outside == []
    assert not any(path.is_symlink() for path in opened)
    assert content / "workshop.yaml" in opened


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_named_pipe_is_refused_without_waiting(tmp_path: Path) -> None:
    """A pipe would be waited on for ever: it is named and left alone."""
    content = unpack(good_files(), tmp_path)
    os.mkfifo(content / "lots" / "IN-2.yaml")
    assert words_of(content) == (
        "content/lots/IN-2.yaml: error not-a-file: met a special file, wanted a plain file\n"
        "    hint: move it elsewhere\n"
    )


def test_a_folder_with_the_name_of_a_record_is_refused(tmp_path: Path) -> None:
    """Records do not lie deeper than one folder."""
    content = unpack(good_files(), tmp_path)
    (content / "lots" / "2026.yaml").mkdir()
    assert words_of(content) == (
        "content/lots/2026.yaml: error not-a-file: met a folder, wanted a plain file\n    hint: move it elsewhere\n"
    )


@pytest.mark.parametrize("name", ["missing.jpg", "link.jpg", "folder.jpg", "vast.jpg"])
def test_a_picture_is_a_plain_file_of_bearable_size(name: str, tmp_path: Path) -> None:
    """What is no plain file, or larger than any photograph, is no picture."""
    photos = tmp_path / "photos"
    photos.mkdir()
    (tmp_path / "elsewhere.jpg").write_bytes(b"x")
    (photos / "link.jpg").symlink_to(tmp_path / "elsewhere.jpg")
    (photos / "folder.jpg").mkdir()
    with (photos / "vast.jpg").open("wb") as vast:
        vast.truncate(MAX_PICTURE_BYTES + 1)
    assert read_picture(tmp_path, name) is None


def test_a_linked_folder_of_pictures_gives_none(tmp_path: Path) -> None:
    """A link in place of the folder leads nowhere either."""
    (tmp_path / "private").mkdir()
    (tmp_path / "private" / "in-1.jpg").write_bytes(b"x")
    (tmp_path / "content").mkdir()
    (tmp_path / "content" / "photos").symlink_to(tmp_path / "private")
    assert read_picture(tmp_path / "content", "in-1.jpg") is None


def test_a_picture_comes_as_its_bytes(tmp_path: Path) -> None:
    """A plain file comes back byte for byte."""
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "in-1.jpg").write_bytes(b"\x00\xff\r\n")
    assert read_picture(tmp_path, "in-1.jpg") == b"\x00\xff\r\n"


def test_no_folder_at_all(tmp_path: Path) -> None:
    """Standing in the wrong place is told with the way out."""
    assert words_of(tmp_path / "content") == (
        "content: error no-content: met no folder of records, wanted content/\n"
        "    hint: stand in the workshop's folder, or make a new one with: passport start NAME\n"
    )
