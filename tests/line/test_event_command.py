"""What happened to things and lots, from the command line and from tables: in order, once, all or nothing."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
import yard

from passport.office import asking
from passport.reading.records import Inspected, Reweighed
from passport.verdicts.book import work_out

POT, OTHER = "MY-22222Z", "MY-22223X"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The started yard with two numbered pots, made on 2026-03-05."""
    return yard.yard(tmp_path / "yard", 2)


def event(folder: Path, *args: str) -> str:
    """One order that must be carried out; what it printed."""
    return yard.done("event", *args, "--folder", folder)


def refused(folder: Path, *args: str | Path, code: int = 1) -> str:
    """One order that must be refused with nothing written; what it printed."""
    before = yard.bytes_of(folder)
    result = yard.run("event", *args, "--folder", folder)
    assert result.exit_code == code, result.output
    assert yard.bytes_of(folder) == before
    return result.output


def table(folder: Path, text: str, coding: str = "utf-8") -> Path:
    """A table beside the records."""
    file = folder / "table.csv"
    file.write_bytes(text.encode(coding))
    return file


# --- one by one -----------------------------------------------------------------------------------------


def test_many_things_in_one_go(folder: Path) -> None:
    """One line each at the end of the year's list, as a person would have typed it; numbers in any spelling."""
    said = event(folder, "handed-over", POT.lower(), f"{yard.ADDRESS}/T/{OTHER}", "--place", "allotments",
                 "--on", "2026-04-02")  # fmt: skip
    assert (
        (folder / "content/events/2026.yaml")
        .read_text(encoding="utf-8")
        .endswith(
            f"- {{date: 2026-04-02, tag: {POT}, event: handed-over, place: allotments}}\n"
            f"- {{date: 2026-04-02, tag: {OTHER}, event: handed-over, place: allotments}}\n"
        )
    )
    assert f"{POT}: pot, now in use\n" in said


def test_an_event_is_read_back_as_it_was_given(folder: Path) -> None:
    """Each option is its field."""
    event(
        folder,
        "inspected",
        POT,
        "--condition",
        "one crack",
        "--weathering",
        "Light",
        "--note",
        "seen",
        "--on",
        "2026-04-02",
    )
    (found,) = (e for e in yard.shop_of(folder).events if isinstance(e, Inspected))
    assert (found.condition.texts, found.weathering.value, found.note.texts) == (
        (("", "one crack"),), "light", (("", "seen"),)
    )  # fmt: skip


def test_a_weighing_says_what_it_changes_in_the_books(folder: Path) -> None:
    """A signed difference; the stock is what was weighed."""
    shop = yard.shop_of(folder)
    lot, stock = next((name, stock) for name, stock in work_out(shop).ledger.stock.items() if stock.books_kg)
    said = event(folder, "weighed", lot.lower(), "--mass", "1,5", "--because", "moved", "--on", "2026-04-02")
    assert f"{lot}: {1.5 - float(stock.books_kg):+.3f} kg to what the books held" in said
    assert work_out(yard.shop_of(folder)).ledger.stock[lot].books_kg == Fraction(3, 2)


def test_a_dry_run_and_json_write_nothing(folder: Path) -> None:
    """They show the lines."""
    before = yard.bytes_of(folder)
    result = yard.run("event", "lost", POT, "--on", "2026-04-02", "--dry-run", "--json", "--folder", folder)
    assert json.loads(result.stdout) == {
        "events": [{"date": "2026-04-02", "tag": POT, "event": "lost"}],
        "written": False,
    }
    assert yard.bytes_of(folder) == before


def test_a_person_is_asked_what_the_event_needs(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Day, condition, weathering; a slip is explained and asked again; nobody is asked for a place."""
    answers = iter(["2026-04-02", "", "one crack", "lihgt", "light"])
    asked: list[str] = []

    def prompt(text: str, **_: object) -> str:
        asked.append(text)
        return next(answers)

    monkeypatch.setattr(asking, "at_a_terminal", lambda: True)
    monkeypatch.setattr(asking.click, "prompt", prompt)
    said = event(folder, "inspected", POT, "--yes")
    assert [text.partition(",")[0].partition("?")[0] for text in asked] == [
        "On which day", "How is it", "How is it", *["What have sun and frost done to it"] * 2
    ]  # fmt: skip
    assert 'met "lihgt"; did you mean "light"?' in said
    assert any(isinstance(e, Inspected) for e in yard.shop_of(folder).events)


def test_words_that_lead_to_a_person_are_said_before(folder: Path) -> None:
    """A street address in the new line, not one that stood before; a coarse place is none."""
    first = event(folder, "moved", POT, "--place", "12 Main Street", "--on", "2026-04-02")
    assert 'doubt private-words: met "12 Main Street", which reads like a street address' in first
    assert "private-words" not in event(folder, "moved", POT, "--place", "school garden", "--on", "2026-04-03")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["los", POT], 'met "los"; did you mean "lost"?'),
        (["lost"], "name the tags that it happened to"),
        (["lost", POT, "--place", "quay"], "lost has no --place; it has --because, --note"),
        (["handed-back", POT], "handed-back has a command of its own: passport handback TAG asks what came back"),
        (["replaced", POT], "replaced has a command of its own: passport tag --replaces TAG gives the new number"),
        (["inspected", POT], "--condition is wanted: How is it"),
        (["sent", "A", "B", "--to", "x", "--mass", "1 kg"], "the mass is of one lot: name one, or give a table"),
        (["inspected", POT, "--condition", "x", "--weathering", "lihgt"], '--weathering: met "lihgt"; did you mean'),
    ],
)  # fmt: skip
def test_a_wrong_order_says_what_is_wanted(folder: Path, args: list[str], said: str) -> None:
    """Exit code 2; what has a command of its own is pointed to."""
    assert said in " ".join(refused(folder, *args, code=2).split())


def test_a_number_nobody_issued_gets_the_nearest(folder: Path) -> None:
    """All of them are named at once."""
    said = refused(folder, "lost", "MY-22222X", "MY-22224V", "POT-001")
    assert said == (
        "event: error item-not-tag: met POT-001, which is a batch of things, wanted a tag\n"
        f"    hint: its tags: {POT}, {OTHER}\n"
        'event: error tag-number-check: the check character of "MY-22222X" does not fit: '
        "at least one character is wrong\n"
        f"    hint: the nearest issued: {POT}, {OTHER}\n"
        "event: error unknown-tag: MY-22224V was never issued\n"
        f"    hint: the nearest issued: {POT}, {OTHER}\n"
        "3 errors\n"
    )


def test_a_replaced_number_leads_to_the_new_one(folder: Path) -> None:
    """Also over two replacements."""
    second = yard.done("tag", "--replaces", POT, "--on", "2026-04-01", "--folder", folder).split()[0]
    third = yard.done("tag", "--replaces", second, "--on", "2026-04-02", "--folder", folder).split()[0]
    said = refused(folder, "lost", POT)
    assert f"error tag-replaced: met {POT}, whose tag was replaced on 2026-04-01\n" in said
    assert f"hint: the thing's number is {third} now" in said


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ([], ["handed-over", "2026-01-02"],
         "met {tag} handed-over on 2026-01-02, wanted it after it was made (2026-01-31)"),
        (["destroyed", "2026-04-01"], ["inspected", "2026-04-02", "--condition", "sound"],
         "met {tag} inspected on 2026-04-02, wanted nothing after it was destroyed (2026-04-01)"),
        (["given-on", "2026-04-01", "--stream", "bank"], ["moved", "2026-04-02", "--place", "quay"],
         "met {tag} moved on 2026-04-02, wanted nothing after it was given-on (2026-04-01)"),
        (["moved", "2026-04-02", "--place", "quay"], ["taken-apart", "2026-04-01"],
         "met {tag} moved on 2026-04-02, wanted nothing after it was taken-apart (2026-04-01)"),
    ],
)  # fmt: skip
def test_what_cannot_have_happened_is_not_recorded(
    folder: Path, first: list[str], second: list[str], said: str
) -> None:
    """Before it was made, after it was gone; in whatever order it is told."""
    if first:
        event(folder, first[0], POT, "--on", *first[1:])
    told = refused(folder, second[0], POT, "--on", *second[1:])
    assert told.startswith("nothing written: with this the records would not hold\n")
    assert said.format(tag=POT) in told


def test_the_same_event_twice_is_a_slip(folder: Path) -> None:
    """The second is refused; another day is another event."""
    order = ("handed-over", POT, "--place", "quay", "--on")
    event(folder, *order, "2026-04-02")
    assert f"met {POT} handed-over on 2026-04-02, which is in the records already" in refused(
        folder, *order, "2026-04-02"
    )
    event(folder, *order, "2026-04-03")


# --- from a table ---------------------------------------------------------------------------------------

FAIR = (
    "Date;Tag;Lot;Event;Place;Mass;Because\n"
    "18 July 2026;{pot};;handed-over;café terrace;;\n"
    "25/07/2026;{other};;handed-over;quay;;\n"
    "\n"
    "2026-07-26;;{lot};weighed;;1,5 kg;moved to the dry shelf\n"
)


def fair(folder: Path) -> str:
    """Three events in a table with decimal commas and three forms of days."""
    lot = next(name for name, found in yard.shop_of(folder).lots.items() if found.received)
    return FAIR.format(pot=POT, other=OTHER, lot=lot)


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_a_table_in_any_encoding_is_recorded_whole(folder: Path, coding: str) -> None:
    """The same three events, each as a record writes it; given again, each row is named as recorded."""
    file = table(folder, fair(folder), coding)
    assert "\n3 events\n" in event(folder, "--csv", str(file))
    lines = (folder / "content/events/2026.yaml").read_text(encoding="utf-8").splitlines()[-3:]
    assert lines[0] == f"- {{date: 2026-07-18, tag: {POT}, event: handed-over, place: café terrace}}"
    assert lines[1] == f"- {{date: 2026-07-25, tag: {OTHER}, event: handed-over, place: quay}}"
    assert lines[2].endswith("event: weighed, mass: 1.5 kg, because: moved to the dry shelf}")
    again = refused(folder, "--csv", file)
    assert [line.partition(": ")[0] for line in again.splitlines() if " error " in line] == [
        "table.csv:2:1", "table.csv:3:1", "table.csv:5:1"
    ]  # fmt: skip


def test_options_fill_what_the_table_leaves_open(folder: Path) -> None:
    """One fair, one day, one place: the table is a list of numbers."""
    file = table(folder, f"tag\n{POT}\n{OTHER}\n")
    event(folder, "handed-over", "--csv", str(file), "--on", "2026-07-18", "--place", "summer fair")
    handed = [e for e in yard.shop_of(folder).events if e.event == "handed-over"]
    assert [(e.tag, e.place) for e in handed] == [(POT, "summer fair"), (OTHER, "summer fair")]


def test_every_problem_of_every_row_is_named(folder: Path) -> None:
    """By row and column, with the nearest that would do; not one row is written."""
    rows = (
        f"03/04/2026;{POT};;moved;quay;;",
        "2026-04-03;MY-22222X;;moved;;;",
        "2026-04-03;;NO-1;weighed;;3,4;why",
        f"2026-04-03;{POT};;lost;quay;;",
        f"2026-04-03;{POT};;handed-back;;;",
        f"2026-04-03;{POT};;lsot;;;",
        f"2026-04-03;{OTHER};;lost;;;",
        f"2026-04-03;{OTHER};;lost;;;",
    )
    said = refused(folder, "--csv", table(folder, "Date;Tag;Lot;Event;Place;Mass;Because\n" + "\n".join(rows)))
    assert said.splitlines()[0] == "nothing written: every row must hold"
    assert [line for line in said.splitlines() if " error " in line] == [
        (
            'table.csv:2:1: error bad-date: met "03/04/2026" as date, wanted a day that can be read in one way, '
            "such as 2026-04-11 or 11 April 2026"
        ),
        (
            'table.csv:3:2: error tag-number-check: the check character of "MY-22222X" does not fit: '
            "at least one character is wrong"
        ),
        'table.csv:3:5: error missing-cell: met no place for "moved", wanted one',
        'table.csv:4:3: error unknown-lot: met the lot "NO-1", which has no record',
        (
            'table.csv:4:6: error bad-mass: met "3,4" as mass, wanted a mass with its unit, such as 42.6 kg, '
            "42.6 ± 0.2 kg or 120 g"
        ),
        'table.csv:5:5: error idle-cell: met "quay" as Place, wanted the cell empty: lost has no place',
        'table.csv:6:4: error unknown-event: met "handed-back" as event, wanted one of a table\'s events',
        'table.csv:7:4: error unknown-event: met "lsot" as event, wanted one of a table\'s events',
        "table.csv:9:1: error row-twice: met row 8 again, wanted each event once",
    ]


def test_an_order_that_cannot_be_is_named_by_its_row(folder: Path) -> None:
    """Also where the table makes an older event impossible: that one's place is in the hint."""
    event(folder, "moved", OTHER, "--place", "quay", "--on", "2026-05-01")
    rows = f"{POT},2026-04-03,destroyed,\n{POT},2026-04-04,moved,quay\n{OTHER},2026-04-03,destroyed,\n"
    said = refused(folder, "--csv", table(folder, "tag,date,event,place\n" + rows))
    assert (
        f"table.csv:3:1: error after-the-end: met {POT} moved on 2026-04-04, wanted nothing after it was destroyed"
        in said
    )
    assert f"table.csv:4:1: error after-the-end: met {OTHER} moved on 2026-05-01" in said
    assert "; see content/events/2026.yaml:1:3 too" in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tag;evnt;date\nA;B;C\n", 'table.csv:1:2: error unknown-column: met the column "evnt", wanted one'),
        (
            "event;date\nlost;2026-04-03\n",
            'error missing-column: met neither a column "tag" nor a column "lot", wanted one',
        ),
        ("", "error empty-table: met a table without rows"),
        ('tag;event;date\n"A;lost;2026-04-03\n', "table.csv:2:1: error bad-quote: "),
    ],
)
def test_a_table_that_is_none_of_events_is_refused(folder: Path, text: str, said: str) -> None:
    """Wrong columns, no rows, an open quote."""
    assert said in refused(folder, "--csv", table(folder, text))


def test_a_column_may_say_the_unit(folder: Path) -> None:
    """`mass_g` holds bare numbers, decimal commas and all; two days are told apart by --dates."""
    lot = next(name for name, found in yard.shop_of(folder).lots.items() if found.received)
    file = table(folder, f"date;lot;event;mass_g;because\n03/04/2026;{lot};weighed;1500,5;moved\n")
    event(folder, "--csv", str(file), "--dates", "day-first")
    (found,) = (e for e in yard.shop_of(folder).events if isinstance(e, Reweighed))
    assert (str(found.date), str(found.mass.mass_kg.normalize())) == ("2026-04-03", "1.5005")
