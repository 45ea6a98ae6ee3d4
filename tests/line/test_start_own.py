"""A folder for one's own workshop: from options as from questions, and the example where nobody says otherwise."""

from __future__ import annotations

from pathlib import Path

import pytest
from yard import done, run, shop_of


def names(folder: Path) -> list[str]:
    """All files of a folder."""
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def test_options_make_ones_own_workshop(tmp_path: Path) -> None:
    """What was said stands in the record with the example's explanations, what was not is a comment to fill in."""
    said = done(
        "start", tmp_path / "yard", "--name", "Reedmouth: Yard", "--address", "pass.reedmouth-yard.ie",
        "--languages", "en fr", "--scales", "floor 0.1 kg, post 1g",
    )  # fmt: skip
    folder = tmp_path / "yard"
    assert names(folder) == [".gitattributes", ".gitignore", "README.md", "content/workshop.yaml"]
    workshop = shop_of(folder).workshop
    assert (workshop.name, workshop.prefix, workshop.languages) == ("Reedmouth: Yard", "RY", ("en", "fr"))
    assert workshop.address == "https://pass.reedmouth-yard.ie"
    assert {name: scale.step.mass_kg * 1000 for name, scale in workshop.scales.items()} == {"floor": 100, "post": 1}
    text = (folder / "content/workshop.yaml").read_text(encoding="utf-8")
    assert "prefix: RY                         # first part of each tag number" in text
    assert "\n# country: IE" in text
    assert "\n# bring_back: " in text
    assert said.endswith("yard/ is ready. Next:\n" + f"  cd {folder}\n  passport receive\n  passport check\n")


def test_an_empty_workshop_works(tmp_path: Path) -> None:
    """With no record yet, every command that a newcomer tries ends well."""
    done("start", tmp_path / "yard", "--name", "Yard")
    for command in ("check", "stock", "masses", "labels", "publish"):
        assert run(command, "--folder", tmp_path / "yard").exit_code == 0, command


def test_open_answers_say_what_they_cost(tmp_path: Path) -> None:
    """Without an address labels are samples; that is said at once."""
    said = done("start", tmp_path / "yard", "--name", "Yard", "--scales", "?")
    assert "address is not known: every label says SAMPLE until content/workshop.yaml has it\n" in said
    assert "scales is not known: nobody can say how far a figure may be off\n" in said
    assert shop_of(tmp_path / "yard").workshop.scales == {}


def test_without_a_word_it_is_the_example(tmp_path: Path) -> None:
    """Where nobody is there to be asked, and with --example, the folder holds the example, the same each time."""
    done("start", tmp_path / "one")
    done("start", tmp_path / "two", "--example")
    assert names(tmp_path / "one") == names(tmp_path / "two")
    assert len(shop_of(tmp_path / "one").issued) == 2


def test_an_empty_folder_is_filled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that was made before, and the one in which somebody stands."""
    (tmp_path / "made").mkdir()
    (tmp_path / "here").mkdir()
    done("start", tmp_path / "made", "--name", "Yard")
    monkeypatch.chdir(tmp_path / "here")
    done("start", ".", "--name", "Yard")
    assert names(tmp_path / "made") == names(tmp_path / "here")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["here", "made"]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--prefix", "O1"), 'Error: --prefix: met "O1", wanted one to four of the letters A to Z (without I and O) '),
        (("--languages", "en, de"), "for another one write theme/words/de.yaml first, then add it in workshop.yaml\n"),
        (("--scales", "0.1 kg"), "wanted names with their smallest steps, such as floor 0.1 kg, bench 1 g\n"),
        (("--address", "ftp://x"), "its scheme is neither https nor http\n"),
        (("--example", "--name", "Yard"), "Error: --example brings its own workshop; "),
    ],
)
def test_wrong_answers_make_no_folder(tmp_path: Path, options: tuple[str, ...], said: str) -> None:
    """They end with 2, and the next try begins from nothing."""
    result = run("start", tmp_path / "yard", *options)
    assert result.exit_code == 2
    assert said in result.output
    assert list(tmp_path.iterdir()) == []
