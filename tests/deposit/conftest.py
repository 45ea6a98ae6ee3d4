"""The tracer that kills programs stands beside the tests of publishing; these tests use it too."""

import shutil
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "publish"))

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def deposit(tmp_path_factory, cli):
    """The demo's records with one private record, and the deposit made of them. Read them, do not change them."""
    folder = tmp_path_factory.mktemp("yard")
    shutil.copytree(ROOT / "content", folder / "content")
    (folder / "private").mkdir()
    (folder / "private" / "IN-001.yaml").write_text("giver: Wrenna Quillfeather\n", encoding="utf-8")
    done = cli("deposit", "--folder", folder)
    assert done.returncode == 0, done.stderr
    (packed,) = (folder / "deposits").iterdir()
    return packed
