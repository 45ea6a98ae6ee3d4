"""`correct`: a published record set right beside its old value, tried against all records first."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from conftest import ROOT

from passport.amounts import Mass
from passport.commands.main import passport
from passport.reading.folder import read_shop

LIST = "content/corrections/2026.yaml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A workshop of its own to write in: the demo's records."""
    shutil.copytree(ROOT / "content", tmp_path / "content")
    return tmp_path


def run(*args: str | Path) -> Result:
    """A command of this program, where nobody is there to ask."""
    return CliRunner().invoke(passport, [*map(str, args)])


def corrections(folder: Path) -> str:
    """The lines that the command put under the demo's own."""
    before = (ROOT / LIST).read_text(encoding="utf-8")
    after = (folder / LIST).read_text(encoding="utf-8")
    assert after.startswith(before)
    return after.removeprefix(before)


def test_a_mass_is_set_right_and_the_record_stays_as_it_was_published(folder: Path) -> None:
    """The correction is a line of its own; the record that is read says what is right."""
    before = (folder / "content/lots/IN-013.yaml").read_bytes()
    said = ("--because", "Two figures were swapped", "--on", "2026-11-02")
    done = run("correct", "in-013", "mass", "92.6 kg", *said, "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert corrections(folder) == (
        "- {date: 2026-11-02, lot: IN-013, field: mass, was: 96.2 kg, is: 92.6 kg, because: Two figures were swapped}\n"
    )
    assert (folder / "content/lots/IN-013.yaml").read_bytes() == before
    shop, _ = read_shop(folder / "content")
    assert shop is not None
    assert isinstance(shop.lots["IN-013"].mass, Mass)
    assert str(shop.lots["IN-013"].mass.mass_kg) == "92.6"


def test_later_corrections_begin_where_earlier_ones_ended(folder: Path) -> None:
    """The second correction of a field says as its old value what the first made of it."""
    for value, day in (("18.2 kg", "2026-11-02"), ("17.9 kg", "2026-11-03")):
        done = run("correct", "IN-012", "mass", value, "--because", "Weighed", "--on", day, "--folder", folder)
        assert done.exit_code == 0, done.stderr
    assert corrections(folder) == (
        "- {date: 2026-11-02, lot: IN-012, field: mass, was: not weighed, is: 18.2 kg, because: Weighed}\n"
        "- {date: 2026-11-03, lot: IN-012, field: mass, was: 18.2 kg, is: 17.9 kg, because: Weighed}\n"
    )


def test_the_reason_may_be_said_in_several_languages(folder: Path) -> None:
    """Each page then says it in its own."""
    said = ("--because", "{en: Read wrongly, fr: Mal lu}", "--on", "2026-11-02", "--folder", folder)
    done = run("correct", "IN-013", "mass", "92.6 kg", *said)
    assert done.exit_code == 0, done.stderr
    assert "because: {en: Read wrongly, fr: Mal lu}}" in corrections(folder).splitlines()[-1]


def test_an_event_is_named_by_what_it_said(folder: Path) -> None:
    """An event has no id: its day, tag and word name it, in whatever letters they are typed."""
    named = "2026-08-22 ry-22227g lost"
    value = "{en: Taken by the sea, fr: Pris par la mer}"
    because = ("--because", "Somebody saw it", "--on", "2026-11-02")
    done = run("correct", named, "because", value, *because, "--folder", folder)
    assert done.exit_code == 0, done.stderr
    assert "event: 2026-08-22 RY-22227G lost, field: because" in corrections(folder)
    shop, _ = read_shop(folder / "content")
    assert shop is not None
    lost = next(event for event in shop.events if event.event == "lost" and event.tag == "RY-22227G")
    assert lost.because.said("fr", "en") == ("Pris par la mer", "fr")


@pytest.mark.parametrize(
    ("args", "code", "words"),
    [
        (("IN-13", "mass", "92.6 kg"), 1, 'met "IN-13", which has no record\n    hint: did you mean "IN-013"'),
        (("IN-013", "masse", "92.6 kg"), 1, 'met the field "masse", wanted one that this record can have'),
        (("IN-013", "mass", "92.6"), 1, 'met "92.6", wanted a mass with its unit'),
        (("IN-013", "received.stream", "quay"), 1, 'met the stream "QUAY", which has no record'),
        (("IN-013", "mass", "96.2 kg"), 2, "IN-013 says so already"),
        (("IN-013", "id", "IN-113"), 1, "met a correction of the id IN-013, wanted one of a field"),
        (("PL-2026-06", "count", "1"), 1, "met piece 2 of PL-2026-06, which has 1"),
        (("IN-013", "evidence.0", "--gone"), 1, "met an entry of a list added or taken away"),
        (("IN-013", "mass"), 2, "say what is right as VALUE, or --gone"),
    ],
)
def test_what_would_not_hold_is_not_written(folder: Path, args: tuple[str, ...], code: int, words: str) -> None:
    """A correction that makes the records worse, or means nothing, leaves the disk as it was."""
    done = run("correct", *args, "--because", "A slip", "--on", "2026-11-02", "--folder", folder)
    assert done.exit_code == code
    assert words in done.stderr
    assert corrections(folder) == ""


def test_a_reason_is_wanted(folder: Path) -> None:
    """Nothing is set right without a word why; where nobody is there to ask, the option is named."""
    done = run("correct", "IN-013", "mass", "92.6 kg", "--folder", folder)
    assert done.exit_code == 2
    assert "--because is wanted: Why was it wrong" in done.stderr


def test_a_field_goes_where_the_record_should_not_have_it(folder: Path) -> None:
    """`--gone` takes a field away, and what it said stays in the list of corrections."""
    said = ("--because", "Nobody measured it", "--on", "2026-11-02", "--folder", folder)
    done = run("correct", "IN-014", "moisture", "--gone", *said)
    assert done.exit_code == 0, done.stderr
    assert "field: moisture, was: 0.3 %, because: Nobody measured it}" in corrections(folder)
    shop, _ = read_shop(folder / "content")
    assert shop is not None
    assert shop.lots["IN-014"].moisture is None


def test_a_dry_run_writes_nothing(folder: Path) -> None:
    """What would be written is shown, and the folder of records stays as it was."""
    said = ("--because", "Weighed", "--on", "2026-11-02", "--dry-run", "--folder", folder)
    done = run("correct", "IN-012", "mass", "18.2 kg", *said)
    assert done.exit_code == 0
    assert "is: 18.2 kg, because: Weighed}" in done.stderr
    assert done.stderr.endswith("nothing written: a dry run\n")
    assert corrections(folder) == ""
