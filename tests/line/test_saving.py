"""What every command that writes records shares: nothing that would not hold is written, nothing is written by half."""

from __future__ import annotations

import io
from pathlib import Path

import click
import pytest
from yard import shop_of, yard

from passport.office import desk, saving
from passport.office.asking import Question, answer, costs
from passport.reading.fields import read_id
from passport.writing import Change, NewFile

SACK = {"date": "2026-02-20", "received": {"stream": "TUBS"}, "mass": "4.0 kg", "scale": "floor"}


def saved(folder: Path, *changes: Change, dry_run: bool = False) -> bool:
    """Save as a script would: nobody is asked."""
    return saving.save(folder, desk.read_records(folder), changes, yes=True, dry_run=dry_run)


@pytest.mark.parametrize(
    ("taken", "start", "wanted"),
    [
        ((), "IN", "IN-001"),
        (("IN-009", "IN-031", "SH-040"), "IN", "IN-032"),
        (("IN-99",), "IN", "IN-100"),
        (("IN-2026-07", "IN-2026-08"), "IN-2026", "IN-2026-09"),
        (("IN-031-A",), "IN", "IN-001"),
    ],
)
def test_a_series_goes_on_after_its_highest_number(taken: tuple[str, ...], start: str, wanted: str) -> None:
    """Gaps are left alone: a number that was once somewhere is not given to another sack."""
    assert saving.next_id(taken, start) == wanted


def test_a_new_lot_is_read_back_as_it_was_answered(tmp_path: Path) -> None:
    """The record lies where a person would have put it."""
    folder = yard(tmp_path / "yard", 2)
    assert saved(folder, saving.lot_file(folder, "IN-040", SACK))
    assert (folder / "content/lots/IN-040.yaml").read_text(encoding="utf-8") == (
        "date: 2026-02-20\nreceived: {stream: TUBS}\nmass: 4.0 kg\nscale: floor\n"
    )
    assert str(shop_of(folder).lots["IN-040"].received) != "None"


def test_what_would_not_hold_is_never_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With one record of two in error both stay away, and the error has its place in the record to come."""
    folder = yard(tmp_path / "yard", 2)
    lost = saving.lot_file(folder, "IN-041", {**SACK, "received": {"stream": "TUBES"}})
    with pytest.raises(SystemExit) as ended:
        saved(folder, saving.lot_file(folder, "IN-040", SACK), lost)
    assert ended.value.code == 1
    assert not list((folder / "content/lots").glob("IN-04*"))
    said = capsys.readouterr().err
    assert said.endswith(
        "nothing written: with this the records would not hold\n"
        'content/lots/IN-041.yaml:2:20: error unknown-stream: met the stream "TUBES", which has no record\n'
        "    received: {stream: TUBES}\n"
        "                       ^\n"
        '    hint: did you mean "tubs"?\n'
        "1 error\n"
    )


def test_what_becomes_doubtful_is_said_before(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only what the new record adds: doubts that stood before are not repeated."""
    folder = yard(tmp_path / "yard", 2)
    made = {
        "date": "2026-02-21",
        "operation": "shred",
        "draws": [{"lot": "IN-040", "mass": "4.0 kg"}],
        "mass": "3.0 kg",
    }
    changes = (saving.lot_file(folder, "IN-040", SACK), saving.lot_file(folder, "SH-040", made))
    assert saved(folder, *changes)
    assert "doubt does-not-close-withheld: met 1 kg missing in SH-040" in capsys.readouterr().err
    assert saved(folder, saving.lot_file(folder, "IN-041", SACK))
    assert "does-not-close" not in capsys.readouterr().err


def test_a_dry_run_shows_and_leaves_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The record as it would be, and no file."""
    folder = yard(tmp_path / "yard", 2)
    assert not saved(folder, saving.lot_file(folder, "IN-040", SACK), dry_run=True)
    assert capsys.readouterr().err == (
        "content/lots/IN-040.yaml\n"
        "  date: 2026-02-20\n"
        "  received: {stream: TUBS}\n"
        "  mass: 4.0 kg\n"
        "  scale: floor\n"
        "nothing written: a dry run\n"
    )
    assert not (folder / "content/lots/IN-040.yaml").exists()


def test_events_go_to_the_list_of_their_year() -> None:
    """One line each, in the order given."""
    lines = saving.event_lines(
        [
            {"date": "2026-12-31", "tag": "RY-22224M", "event": "lost"},
            {"date": "2027-01-02", "tag": "RY-22225K", "event": "put-up", "place": "harbour"},
        ]
    )
    assert [(change.path, change.lines) for change in lines] == [
        ("events/2026.yaml", ("- {date: 2026-12-31, tag: RY-22224M, event: lost}",)),
        ("events/2027.yaml", ("- {date: 2027-01-02, tag: RY-22225K, event: put-up, place: harbour}",)),
    ]


def test_editors_get_their_line_where_schemas_lie(tmp_path: Path) -> None:
    """Without the folder of schemas the line would lead nowhere."""
    assert saving.lot_file(tmp_path, "IN-040", SACK).text.startswith("date: ")
    (tmp_path / "schemas").mkdir()
    (tmp_path / "schemas/lot.json").write_text("{}", encoding="utf-8")
    first = saving.lot_file(tmp_path, "IN-040", SACK).text.splitlines()[0]
    assert first == "# yaml-language-server: $schema=../../schemas/lot.json"
    assert isinstance(saving.lot_file(tmp_path, "IN-040", SACK), NewFile)


# --- questions ----------------------------------------------------------------------------------------

LOT = Question(name="lot", asks="Its number", read=read_id, proposal="IN-040", why="each sack has one of its own")
PIECES = Question(name="pieces", asks="How many pieces", cost="no bound on purity")
STREAM = Question(name="stream", asks="From where", known=("TUBS", "CRATES"))


def test_an_option_answers_a_question() -> None:
    """What the option says goes into the record as it stands."""
    assert answer(LOT, "IN-077") == "IN-077"


def test_not_knowing_is_an_answer_where_the_record_can_do_without() -> None:
    """The cost is said, the field left out."""
    assert answer(PIECES, "unknown") == ""
    assert costs([LOT, PIECES], ["IN-040", ""]) == ("pieces is not known: no bound on purity",)


@pytest.mark.parametrize(
    ("question", "given", "words"),
    [
        (LOT, "in 40", '--lot: met "in 40", wanted an id of letters A to Z, digits and single hyphens, such as IN-031'),
        (LOT, "unknown", "--lot: this one is needed; each sack has one of its own"),
        (STREAM, "TUB", '--stream: met "TUB"; did you mean "TUBS"?'),
        (STREAM, "\x1b[2J", '--stream: met "\\x1b[2J"; known are TUBS, CRATES'),
    ],
)
def test_an_option_that_is_no_answer_is_wrong_usage(question: Question, given: str, words: str) -> None:
    """Exit code 2, what was met and what was wanted; nothing steers the terminal."""
    with pytest.raises(click.UsageError) as slip:
        answer(question, given)
    assert slip.value.message == words


def test_where_nobody_can_be_asked_the_proposal_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """A script that leaves an option out gets what an empty line would have meant."""
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert answer(LOT, None) == "IN-040"
    assert answer(PIECES, None) == ""
    with pytest.raises(click.UsageError) as slip:
        answer(STREAM, None)
    assert slip.value.message == "--stream is wanted: From where"


@pytest.mark.parametrize("meanwhile", [True, False], ids=["changed", "as it stood"])
def test_what_somebody_wrote_meanwhile_counts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], *, meanwhile: bool
) -> None:
    """The stream is renamed while the question stands: the sack is tried again and refused, and only then."""
    folder = yard(tmp_path / "yard", 2)
    read = desk.read_records(folder)

    def told(_: object) -> None:
        if meanwhile:
            stream = folder / "content/streams/tubs.yaml"
            stream.rename(stream.with_name("pots.yaml"))

    change = saving.lot_file(folder, "IN-040", SACK)
    if not meanwhile:
        assert saving.save(folder, read, [change], yes=True, told=told)
        return
    with pytest.raises(SystemExit):
        saving.save(folder, read, [change], yes=True, told=told)
    assert 'error unknown-stream: met the stream "TUBS", which has no record' in capsys.readouterr().err
    assert not (folder / "content/lots/IN-040.yaml").exists()


def test_a_long_list_is_cut_before_somebody_agrees(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A dry run shows every line."""
    folder = yard(tmp_path / "yard", 2)
    events = [{"date": "2026-02-20", "lot": "SH-001", "event": "held", "note": f"no. {i}"} for i in range(100)]
    assert saved(folder, *saving.event_lines(events))
    said = capsys.readouterr().err
    assert "note: no. 59}\n  … and 40 more lines; --dry-run shows all of them\n" in said
    saved(folder, *saving.event_lines(events), dry_run=True)
    assert "note: no. 99}" in capsys.readouterr().err
