"""The command line as a person meets it: help, exit codes, and the way from an empty folder to a site."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from stdnum.iso7064 import mod_37_36

from passport.commands.main import COMMANDS, passport
from passport.office.stages import pictures_of, themed
from passport.pages.labelling import label_text
from passport.pages.plan import scribes
from passport.reading.folder import read_shop
from passport.verdicts.book import work_out

ROOT = Path(__file__).resolve().parents[2]
DESIGN = ROOT / "tests" / "cases" / "design"
HEAVY = ["PIL", "jinja2", "numpy", "pydantic", "scipy", "yaml", "zxingcpp"]
"""What help can do without; each costs a wait."""


def run(*args: str | Path) -> Result:
    """One command in this process; `output` is all that a terminal would show."""
    return CliRunner().invoke(passport, [str(arg) for arg in args], prog_name="passport")


def tree(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Content and time of change of every file."""
    return {
        str(p.relative_to(folder)): (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.rglob("*") if p.is_file()
    }


@pytest.fixture
def started(tmp_path: Path) -> Path:
    """A folder as `start` makes it."""
    folder = tmp_path / "demo"
    assert run("start", folder).exit_code == 0
    return folder


@pytest.fixture
def four_pots(started: Path) -> Path:
    """The started folder, its batch grown from two things to four."""
    batch = started / "content" / "items" / "POT-001.yaml"
    text = batch.read_text(encoding="utf-8")
    assert "count: 2 " in text
    text = text.replace("count: 2 ", "count: 4 ").replace("mass: 445 g", "mass: 885 g")
    batch.write_text(text, encoding="utf-8")
    return started


# --- help ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_shows_an_example(name: str) -> None:
    """`--help` of each command says what it does and shows how it is called."""
    shown = run(name, "--help")
    assert shown.exit_code == 0, shown.output
    assert "Example:" in shown.output
    assert f"passport {name}" in shown.output.split("Example:")[1]


def test_help_lists_every_command() -> None:
    """The list of commands has each of them with its line."""
    shown = " ".join(run("--help").output.split())
    assert [name for name, line in COMMANDS.items() if f"{name} {line}" not in shown] == []


@pytest.mark.parametrize("args", [["--help"], ["--version"]])
def test_help_answers_at_once(args: list[str]) -> None:
    """Help and version load none of the heavy libraries."""
    script = (
        "import sys\nfrom passport.commands.main import passport\n"
        f"passport({args!r}, standalone_mode=False)\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_an_unknown_command_gets_the_nearest_one() -> None:
    """A slip in a command's name ends with 2 and names the command that was meant."""
    done = run("chek")
    assert done.exit_code == 2
    assert "No such command 'chek'" in done.output
    assert 'did you mean "check" or "schema"?' in done.output


# --- exit codes ----------------------------------------------------------------------------------


def test_sound_records_end_with_0() -> None:
    """`check` on records without an error ends with 0."""
    assert run("check", "--folder", DESIGN).exit_code == 0


def test_problems_in_the_records_end_with_1(started: Path) -> None:
    """An error in a record is shown with file, line and column, and `check` ends with 1."""
    lot = started / "content" / "lots" / "SH-001.yaml"
    lot.write_text(lot.read_text(encoding="utf-8").replace("mass: 12.2 kg", "mass: 12.2"), encoding="utf-8")
    done = run("check", "--folder", started)
    assert done.exit_code == 1
    assert re.search(r"content/lots/SH-001\.yaml:\d+:\d+: error ", done.output)


@pytest.mark.parametrize(
    "args", [["--nonsense"], ["check", "--at", "yesterday"], ["tag"], ["preview", "--port", "0"], ["start"]]
)
def test_wrong_usage_ends_with_2(args: list[str]) -> None:
    """A command that is itself wrong ends with 2 and says how it is used."""
    done = run(*args)
    assert done.exit_code == 2
    assert "Usage: passport" in done.output


@pytest.mark.parametrize("name", ["check", "publish", "preview"])
def test_a_folder_without_records_ends_with_1(name: str, tmp_path: Path) -> None:
    """Where there is nothing to work on, the command says so and does not trip over itself."""
    done = run(name, "--folder", tmp_path)
    assert done.exit_code == 1
    assert isinstance(done.exception, SystemExit)
    assert "1 error" in done.output


def test_the_process_ends_with_the_same_codes(cli, tmp_path: Path) -> None:
    """What a script sees: 0, 1 and 2 as exit codes of the process."""
    codes = [cli(*args).returncode for args in (["--version"], ["check", "--folder", tmp_path], ["chek"])]
    assert codes == [0, 1, 2]


# --- check ---------------------------------------------------------------------------------------


def test_check_speaks_json(cli) -> None:
    """`check --json` prints one JSON list, a problem an entry, and nothing else on standard output."""
    done = cli("check", "--json", "--folder", DESIGN)
    assert done.returncode == 0
    found = json.loads(done.stdout)
    assert [(p["level"], p["code"], p["file"], p["line"]) for p in found] == [
        ("advice", "part-unknown", "content/lots/RT-001.yaml", 2),
        ("advice", "melt-below-window", "content/runs/EX-009.yaml", 4),
        ("advice", "glossary-gap", "content/workshop.yaml", 1),
    ]
    assert set(found[0]) == {"level", "code", "file", "line", "column", "message", "hint", "about"}


def test_check_writes_nothing(started: Path) -> None:
    """`check` leaves the folder as it was, to the time of change."""
    before = tree(started)
    run("check", "--folder", started)
    assert tree(started) == before


# --- tag -----------------------------------------------------------------------------------------


def test_tag_issues_the_next_numbers(four_pots: Path) -> None:
    """The next two numbers after the last issued, each with the check character of ISO/IEC 7064 MOD 37,36.

    Checked with python-stdnum; serials whose check character falls outside the alphabet are passed over.
    """
    done = run("tag", "POT-001", "--on", "2026-02-01", "--folder", four_pots)
    assert done.exit_code == 0, done.output
    numbers = re.findall(r"^MY-\w+$", done.output, flags=re.MULTILINE)
    assert len(numbers) == 2
    assert all(mod_37_36.is_valid(number.replace("-", "")) for number in numbers)
    assert all(set(number[3:]) <= set("23456789ABCDEFGHJKMNPQRSTUVWXYZ") for number in numbers)
    lines = (four_pots / "content" / "tags-issued.csv").read_text(encoding="utf-8").splitlines()[1:]
    issued = [line.split(",")[0] for line in lines]
    assert issued[2:] == numbers
    assert issued == sorted(set(issued))


def test_tag_only_appends(four_pots: Path) -> None:
    """What was issued stays byte for byte; the new lines follow it with their batch, piece and day."""
    issued = four_pots / "content" / "tags-issued.csv"
    before = issued.read_bytes()
    run("tag", "pot-001", "--count", "1", "--on", "2026-02-01", "--folder", four_pots)
    after = issued.read_bytes()
    assert after.startswith(before)
    assert re.fullmatch(rb"MY-\w{6},POT-001,3,2026-02-01,[0-9a-f]{8}\n", after[len(before) :])


def test_tag_goes_on_where_it_stopped(four_pots: Path) -> None:
    """One number, then the other; then every piece has one and nothing more is issued."""
    tag = ("tag", "POT-001", "--on", "2026-02-01", "--folder", four_pots)
    first, rest = run(*tag, "--count", "1"), run(*tag)
    assert [r.exit_code for r in (first, rest)] == [0, 0]
    before = tree(four_pots)
    last = run(*tag)
    assert last.exit_code == 0
    assert "every piece of POT-001 has its number" in last.output
    assert tree(four_pots) == before


def test_tags_of_an_unknown_batch_are_refused(started: Path) -> None:
    """A batch without a record gets no number; the nearest one is offered."""
    before = tree(started / "content")
    done = run("tag", "POT-002", "--folder", started)
    assert done.exit_code == 1
    assert 'met the item "POT-002", which has no record' in done.output
    assert 'did you mean "POT-001"?' in done.output
    assert tree(started / "content") == before


# --- start and publish ---------------------------------------------------------------------------


def test_start_leaves_a_full_folder_alone(tmp_path: Path) -> None:
    """`start` refuses a folder with something in it and writes nothing there."""
    (tmp_path / "mine.txt").write_text("mine")
    done = run("start", tmp_path)
    assert done.exit_code == 1
    assert "which is there already" in done.output
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_start_makes_a_shop_without_a_problem(started: Path) -> None:
    """The example has neither error nor doubt nor advice."""
    assert read_shop(started / "content")[1] == ()
    assert run("check", "--folder", started).output == "nothing to mend\n"


def test_start_explains_its_records(started: Path) -> None:
    """Every record of the example has explanations beside its lines."""
    bare = [p.name for p in (started / "content").rglob("*.yaml") if "# " not in p.read_text(encoding="utf-8")]
    assert bare == []


def test_from_an_empty_folder_to_a_site(four_pots: Path) -> None:
    """start, check, tag, publish: each thing has its page and its label."""
    steps = [["check"], ["tag", "POT-001", "--on", "2026-02-01"], ["publish"]]
    assert [run(*step, "--folder", four_pots).exit_code for step in steps] == [0, 0, 0]
    issued = (four_pots / "content" / "tags-issued.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert len(issued) == 4
    for line in issued:
        there = four_pots / "site" / "T" / line.split(",")[0]
        assert (there / "index.html").is_file()
        assert (there / "label.png").is_file()


def test_a_broken_record_leaves_the_old_site(started: Path) -> None:
    """With an error in the records nothing is published: the old site stays, to the time of change."""
    assert run("publish", "--folder", started).exit_code == 0
    before = tree(started / "site")
    stream = started / "content" / "streams" / "tubs.yaml"
    stream.write_text(stream.read_text(encoding="utf-8") + "coulour: white\n", encoding="utf-8")
    done = run("publish", "--folder", started)
    assert done.exit_code == 1
    assert "content/streams/tubs.yaml" in done.output
    assert '"coulour"' in done.output
    assert tree(started / "site") == before
    assert sorted(p.name for p in started.iterdir() if p.is_dir()) == [".passport", "content", "site"]


def test_publish_takes_no_issued_tag_away(four_pots: Path) -> None:
    """A tag that was published answers for ever: a list without it is refused, the site stays."""
    assert run("tag", "POT-001", "--on", "2026-02-01", "--folder", four_pots).exit_code == 0
    assert run("publish", "--folder", four_pots).exit_code == 0
    before = tree(four_pots / "site")
    issued = four_pots / "content" / "tags-issued.csv"
    issued.write_bytes(b"".join(issued.read_bytes().splitlines(keepends=True)[:-1]))
    assert run("publish", "--folder", four_pots).exit_code == 1
    assert tree(four_pots / "site") == before


def samples_of(folder: Path) -> set[bool]:
    """Whether the labels of a folder's open tags are samples."""
    shop, problems = read_shop(folder / "content")
    assert problems == ()
    assert shop is not None
    book = work_out(shop)
    scribe = scribes(book, themed(folder, shop)[0], pictures_of(folder, shop)[0])[0]
    return {label_text(scribe, life).sample for life in book.lives.values() if life.open}


@pytest.mark.parametrize(
    ("address", "samples"),
    [
        ("", {True}),
        ("address: https://pass.example\n", {True}),
        ("address: http://localhost:8017\n", {True}),
        ("address: http://192.168.1.7\n", {True}),
        ("address: https://pass.reedmouth.ie\n", {False}),
    ],
)
def test_labels_without_a_lasting_address_say_sample(started: Path, address: str, samples: set[bool]) -> None:
    """With an unset, reserved (RFC 6761) or local address every label says SAMPLE; with one's own, none does."""
    workshop = started / "content" / "workshop.yaml"
    text = re.sub(r"^address:.*\n", address, workshop.read_text(encoding="utf-8"), flags=re.MULTILINE)
    workshop.write_text(text, encoding="utf-8")
    assert samples_of(started) == samples


def test_an_unset_address_publishes_all_the_same(started: Path) -> None:
    """A workshop that has no address yet gets its site."""
    workshop = started / "content" / "workshop.yaml"
    text = re.sub(r"^address:.*\n", "", workshop.read_text(encoding="utf-8"), flags=re.MULTILINE)
    workshop.write_text(text, encoding="utf-8")
    assert run("publish", "--folder", started).exit_code == 0
    assert (started / "site" / "index.html").is_file()


def test_publish_at_a_day_knows_nothing_later(demo: Path, tmp_path: Path) -> None:
    """`publish --at` builds the site as of that day: no lot of a later date has a page."""
    shutil.copytree(demo / "content", tmp_path / "content")
    done = run("publish", "--at", "2025-12-31", "--folder", tmp_path)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "site" / "L" / "IN-001" / "index.html").is_file()
    assert not (tmp_path / "site" / "L" / "RT-001").exists()
