"""What a run keeps for the next one: it saves work, changes no byte, and is never believed when damaged."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import kills
import pytest
from click.testing import CliRunner, Result

from passport.commands.main import passport
from passport.kept import prints
from passport.kept.box import FOLDER, Boxes

ROOT = Path(__file__).resolve().parents[2]
BOXES = ("pages", "pictures", "publication", "records")


def published(folder: Path, *options: str) -> str:
    """The line that a publication ends with."""
    result: Result = CliRunner().invoke(
        passport, ["publish", "--folder", str(folder), *options], catch_exceptions=False
    )
    assert result.exit_code == 0, result.output
    return result.output.strip().splitlines()[-1]


@pytest.fixture(scope="module", autouse=True)
def one_program() -> Iterator[None]:
    """The program counts as the same throughout, even while somebody works on it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("passport.office.unchanged.program_print", lambda: "0123456789abcdef" * 4)
        yield


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A started workshop, published once."""
    folder = tmp_path_factory.mktemp("kept") / "demo"
    made = CliRunner().invoke(passport, ["start", str(folder)], catch_exceptions=False)
    assert made.exit_code == 0, made.output
    published(folder, "--cores", "1")
    return folder


@pytest.fixture
def folder(first: Path, tmp_path: Path) -> Path:
    """A copy of it, site and kept things with it."""
    return Path(shutil.copytree(first, tmp_path / "demo"))


def edit(folder: Path) -> None:
    """Say one thing more about one lot."""
    record = folder / "content" / "lots" / "IN-001.yaml"
    record.write_text(record.read_text(encoding="utf-8") + "kept: bay 7\n", encoding="utf-8")


def test_another_program_is_told_by_any_of_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rule, a table or a template that differs by one sign makes it another program, whatever its version says."""
    (tmp_path / "passport").mkdir()
    (tmp_path / "themes").mkdir()
    monkeypatch.setattr(prints, "_PACKAGE", tmp_path / "passport")
    monkeypatch.setattr(prints, "_THEMES", tmp_path / "themes")
    seen = [prints.program_print()]
    for path, text in (
        ("passport/rule.py", "1"),
        ("passport/rule.py", "2"),
        ("passport/t.yaml", ""),
        ("themes/x.html", ""),
    ):
        (tmp_path / path).write_text(text)
        seen.append(prints.program_print())
    (tmp_path / "passport" / "__pycache__").mkdir()
    (tmp_path / "passport" / "__pycache__" / "rule.pyc").write_bytes(b"compiled")
    assert len(set(seen)) == len(seen)
    assert prints.program_print() == seen[-1]


def test_what_is_kept_is_said_to_be_worth_nothing(folder: Path) -> None:
    """Version control passes it by, and backups know its tag (Cache Directory Tagging Specification)."""
    assert sorted(kills.names(folder / FOLDER)) == sorted([".gitignore", "CACHEDIR.TAG", *BOXES])
    assert (folder / FOLDER / ".gitignore").read_text() == "*\n"
    assert (folder / FOLDER / "CACHEDIR.TAG").read_bytes().startswith(b"Signature: 8a477f597d28d172789f06886806bc55")


def test_nothing_to_do_is_seen_without_making_anything(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same program, records and theme, and the site as it was left: not even a record is parsed."""

    def never(*_: object) -> None:
        raise AssertionError("something was made")

    monkeypatch.setattr("passport.office.stages.work_out", never)
    before = kills.states(folder)
    assert published(folder).startswith("site/: 0 written, 0 removed, ")
    assert kills.states(folder) == before


@pytest.mark.parametrize("harm", ["edited", "deleted", "same size", "list", "foreign time"])
def test_a_site_that_was_touched_is_mended(folder: Path, harm: str) -> None:
    """Nothing to do is believed only where every file of the site holds the bytes that were published."""
    site = folder / "site"
    whole = kills.tree(site)
    page = site / "index.html"
    if harm == "edited":
        page.write_bytes(page.read_bytes() + b"<!-- -->")
    elif harm == "same size":
        page.write_bytes(page.read_bytes()[:-2] + b"x\n")
    elif harm == "deleted":
        page.unlink()
    elif harm == "list":
        (site / "files.sha256").write_bytes((site / "files.sha256").read_bytes()[:-80])
        page.unlink()
        (site / "files.sha256").unlink()
        shutil.rmtree(site)
    else:
        page.touch()
    published(folder, "--cores", "1")
    assert kills.tree(site) == whole


@pytest.mark.parametrize("cores", ["1", "2"])
def test_after_an_edit_the_site_is_the_one_made_afresh(folder: Path, cores: str) -> None:
    """With what was kept, and on any number of cores, the site is byte for byte the one that nothing kept gives."""
    edit(folder)
    said = published(folder, "--cores", cores)
    assert not said.startswith("site/: 0 written")
    quick = kills.tree(folder / "site")
    shutil.rmtree(folder / "site")
    published(folder, "--afresh", "--cores", "1")
    assert kills.tree(folder / "site") == quick


def test_only_pages_whose_view_changed_are_rendered(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page whose view has the print of the last run, and which the site still holds, is not rendered again."""
    rendered: list[str] = []

    def counting(self: object, view: object, page: Callable[..., str]) -> str:
        rendered.append(view.frame.path)  # type: ignore[attr-defined]
        return page(self, view)

    from passport.pages.render import Renderer  # noqa: PLC0415

    plain = Renderer.page
    monkeypatch.setattr(Renderer, "page", lambda self, view: counting(self, view, plain))
    edit(folder)
    (folder / "site" / "method" / "index.html").unlink()
    published(folder, "--cores", "1")
    assert "/method/" in rendered
    assert "/L/IN-001/" in rendered
    assert "/found/" not in rendered


def cut(data: bytes) -> bytes:
    """The first half."""
    return data[: len(data) // 2]


def flipped(data: bytes) -> bytes:
    """One bit in the middle is another one."""
    middle = len(data) // 2
    return data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1 :]


def of_another_program(data: bytes) -> bytes:
    """As if another version had written it."""
    mark, name, program, rest = data.split(b" ", 3)
    return b" ".join([mark, name, program[::-1], rest])


def no_json(_: bytes) -> bytes:
    """Something else altogether."""
    return b"\x00\xff\n" * 9


@pytest.mark.parametrize("harm", [cut, flipped, of_another_program, no_json])
@pytest.mark.parametrize("name", BOXES)
def test_a_damaged_box_counts_as_empty(folder: Path, name: str, harm: Callable[[bytes], bytes]) -> None:
    """Cut short, one bit flipped, of another version, or no such thing at all: it is thrown away, never believed."""
    path = folder / FOLDER / name
    head = path.read_bytes().split(b"\n", 1)[0].split(b" ")
    boxes = Boxes(folder, head[2].decode())
    boxes.save(name, {"a": "thing"})
    assert boxes.load(name) == {"a": "thing"}
    path.write_bytes(harm(path.read_bytes()))
    assert boxes.load(name) == {}


@pytest.mark.parametrize("harm", [cut, flipped])
def test_damaged_boxes_change_no_page(folder: Path, harm: Callable[[bytes], bytes]) -> None:
    """With every box damaged the site is the same, and the next run has nothing to do again."""
    whole = kills.tree(folder / "site")
    for name in BOXES:
        path = folder / FOLDER / name
        path.write_bytes(harm(path.read_bytes()))
    published(folder, "--cores", "1")
    assert kills.tree(folder / "site") == whole
    assert (folder / FOLDER / "publication").read_bytes().startswith(b"passport-kept-1 publication ")


def test_prints_of_another_site_are_not_used(folder: Path) -> None:
    """Prints belong to one list of files: a site that came from elsewhere is compared byte by byte."""
    page = folder / "site" / "index.html"
    other = page.read_bytes() + b"<!-- from elsewhere -->"
    page.write_bytes(other)
    listing = folder / "site" / "files.sha256"
    listing.write_text(listing.read_text().replace(kills.tree(folder / "site")["T/index.html"], "0" * 64))
    published(folder, "--cores", "1")
    assert b"from elsewhere" not in page.read_bytes()


def test_what_is_not_ours_is_not_thrown_away(folder: Path) -> None:
    """A folder of that name without our tag is somebody's: `--afresh` leaves it alone."""
    (folder / FOLDER / "CACHEDIR.TAG").unlink()
    (folder / FOLDER / "mine").write_text("mine")
    published(folder, "--afresh", "--cores", "1")
    assert (folder / FOLDER / "mine").read_text() == "mine"


def test_a_killed_run_leaves_no_litter_for_ever(folder: Path) -> None:
    """What a run that was killed had begun to write is written over by the next one."""
    (folder / FOLDER / "pages.part").write_bytes(b"half")
    edit(folder)
    published(folder, "--cores", "1")
    assert sorted(kills.names(folder / FOLDER)) == sorted([".gitignore", "CACHEDIR.TAG", *BOXES])


def test_a_folder_that_cannot_keep_anything_is_published_all_the_same(folder: Path) -> None:
    """Where `.passport` is a file of somebody's, nothing is kept, nothing is deleted, and the site is made."""
    whole = kills.tree(folder / "site")
    shutil.rmtree(folder / FOLDER)
    (folder / FOLDER).write_text("mine")
    assert published(folder, "--cores", "1").startswith("site/: 0 written, 0 removed, ")
    assert (folder / FOLDER).read_text() == "mine"
    assert kills.tree(folder / "site") == whole
