"""`labels`: every kind in true size, only what is new, remembered, and nothing half done."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yard
from PIL import Image

from passport.reading.tag_lists import FIRST_SEAL, PRINTED_HEADER, printed_line, seal_in
from passport.tags.readback import read_symbols

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A yard with three pots."""
    return yard.yard(tmp_path / "yard", 3)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A yard with three pots whose records no test changes."""
    return yard.yard(tmp_path_factory.mktemp("kept") / "yard", 3)


def labels(folder: Path, *args: str) -> str:
    """Print labels; what was said."""
    return yard.done("labels", *args, *yard.ON, "--folder", folder)


def refused(folder: Path, *args: str) -> str:
    """What is said when printing is refused; the records are as they were."""
    before = yard.bytes_of(folder)
    result = yard.run("labels", *args, "--folder", folder)
    assert result.exit_code == 1, result.output
    assert yard.bytes_of(folder) == before
    assert not (folder / "labels-out").exists()
    return result.output


def out(folder: Path, name: str) -> Path:
    """A file that was made."""
    return folder / "labels-out" / name


def payload(tag: str) -> str:
    """What the symbol of a tag says: small scheme, capital host, the folder as it is (RFC 3986 6.2.2.1)."""
    return f"https://PASS.REEDMOUTH-YARD.IE/T/{tag}"


def page_pictures(pdf: Path) -> list[Image.Image]:
    """The pages as another program draws them."""
    if not shutil.which("pdftoppm"):
        pytest.skip("needs pdftoppm of poppler-utils")
    subprocess.run(["pdftoppm", "-r", "300", "-gray", pdf, pdf.with_suffix("")], check=True)
    pages = []
    for path in sorted(pdf.parent.glob(f"{pdf.stem}-*.pgm")):
        with Image.open(path) as page:
            pages.append(page.copy())
    return pages


# --- kinds ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["sheet", "roll", "twin"])
def test_the_pages_read_back_from_another_programs_drawing(folder: Path, kind: str) -> None:
    """Poppler's drawing of the file gives each symbol: once, on a twin twice."""
    tags = yard.tags_of(folder)
    labels(folder, "--kind", kind)
    read = [text for page in page_pictures(out(folder, f"{kind}-{tags[0]}-3.pdf")) for text in read_symbols(page)]
    assert sorted(read) == sorted(payload(tag) for tag in tags for _ in range(2 if kind == "twin" else 1))


@pytest.mark.parametrize(("dpi", "wide"), [("203", 560), ("300", 827), ("600", 1654)])
def test_a_single_tag_is_a_picture_in_true_size(folder: Path, dpi: str, wide: int) -> None:
    """70 mm are 70 / 25.4 · dpi dots (arithmetic; an inch is 25.4 mm, agreement of 1959)."""
    tag = yard.tags_of(folder)[0]
    labels(folder, tag, "--kind", "tag", "--dpi", dpi)
    with Image.open(out(folder, f"tag-{tag}.png")) as image:
        assert image.width == pytest.approx(wide, abs=1)
        assert image.info["dpi"][0] == pytest.approx(int(dpi), abs=0.1)
        assert read_symbols(image) == (payload(tag),)


def test_a_page_for_screen_printing_is_vectors_in_millimetres(folder: Path) -> None:
    """One picture a label, in millimetres, and no other host is asked."""
    labels(folder, "--kind", "page")
    text = out(folder, f"page-{yard.tags_of(folder)[0]}-3.html").read_text(encoding="utf-8")
    assert text.count('<svg xmlns="http://www.w3.org/2000/svg" width="70mm" height="37mm"') == 3
    assert not re.findall(r'(?:src|href)="http', text)


def test_a_plate_is_one_file_a_tag(folder: Path) -> None:
    """Paths only; without holes none is cut."""
    tags = yard.tags_of(folder)
    labels(folder, "--kind", "plate")
    labels(folder, tags[0], "--kind", "plate", "--no-holes", "--out", str(folder / "solid"))
    with_holes = out(folder, f"plate-{tags[0]}.svg").read_text(encoding="utf-8")
    solid = (folder / "solid" / f"plate-{tags[0]}.svg").read_text(encoding="utf-8")
    assert {path.name for path in (folder / "labels-out").iterdir()} == {f"plate-{tag}.svg" for tag in tags}
    assert "<text" not in with_holes
    assert len(solid) < len(with_holes)


def test_a_card_says_what_a_sack_holds(folder: Path) -> None:
    """A picture a lot and all of them in one file; A6 lying is 148 × 105 mm (ISO 216); no tag, so not remembered."""
    labels(folder, "sh-001", "IN-001", "--kind", "card")
    with Image.open(out(folder, "card-SH-001.png")) as image:
        assert read_symbols(image) == ("https://PASS.REEDMOUTH-YARD.IE/L/SH-001",)
        assert image.width / image.info["dpi"][0] * 25.4 == pytest.approx(148, abs=0.1)
    assert b"/Count 2" in out(folder, "cards-SH-001-2.pdf").read_bytes()
    assert yard.printed_of(folder) == []


def test_every_lot_of_the_demo_has_a_card(tmp_path: Path) -> None:
    """However long its stream's name or its list of doubts is."""
    shutil.copytree(ROOT / "content", tmp_path / "content")
    lots = sorted(path.stem for path in (tmp_path / "content" / "lots").glob("*.yaml"))
    said = yard.done("labels", *lots[::6], "--kind", "card", "--dpi", "203", "--folder", tmp_path)
    assert said.count("card-") == len(lots[::6])


def test_a_bought_sheet_is_met_by_its_measures(folder: Path) -> None:
    """Three by eight labels of 70 × 37 mm from the edge, begun at place 5: second row, second place."""
    grid = ["--size", "70x37", "--grid", "3x8", "--margins", "0x0.5", "--gaps", "0x0", "--bare", "--start", "5"]
    labels(folder, *grid, "--dpi", "300")
    page = page_pictures(out(folder, f"sheet-{yard.tags_of(folder)[0]}-3.pdf"))[-1]
    dots = 300 / 25.4
    place = page.crop(tuple(round(mm * dots) for mm in (70, 37.5, 140, 74.5)))
    assert read_symbols(place) == (payload(yard.tags_of(folder)[0]),)
    assert len(read_symbols(page)) == 3


def test_a_smaller_label_takes_a_smaller_symbol(folder: Path) -> None:
    """And the doubt about its modules is said, though the label is printed."""
    said = labels(folder, "--kind", "tag", "--size", "62x26")
    assert (
        "advice label-module-fine: on 26 mm at 300 dpi a module has 8 dots, 0.677 mm; wanted at least 0.75 mm\n"
        "    hint: give the symbol a side of at least 28.2 mm, shorten the address, or print with more dots an inch\n"
    ) in said


@pytest.mark.parametrize(
    ("args", "what"),
    [
        (["--kind", "roll", "--grid", "2x3"], "--kind roll has no use for --grid"),
        (["--kind", "plate", "--dpi", "600"], "--kind plate has no use for --dpi"),
        (["--kind", "tag", "--tool", "1", "--bare"], "--kind tag has no use for --bare, --tool"),
        (["--kind", "card"], "--kind card wants the lots named: passport labels SH-021 --kind card"),
        (["--size", "70"], 'met "70", wanted two numbers such as 70x37'),
        (["--size", "0x0", "--gaps", "0x0"], 'met "0x0", wanted numbers from 5 to 500'),
        (["--grid", "2.5x3"], 'met "2.5x3", wanted two whole numbers such as 2x6'),
        (["--grid", "0x3"], 'met "0x3", wanted numbers from 1 to 99'),
        (["--symbol", "nan"], 'met "nan", wanted a number'),
        (["--distance", "nan"], 'met "nan", wanted a number'),
        (["--kind", "plate", "--tool", "nan"], 'met "nan", wanted a number'),
    ],
)
def test_an_option_without_sense_is_wrong_usage(kept: Path, args: list[str], what: str) -> None:
    """One that the kind has no use for is not silently dropped; numbers have limits."""
    result = yard.run("labels", *args, "--folder", kept)
    assert result.exit_code == 2
    assert what in result.output


# --- why ------------------------------------------------------------------------------------------------


def test_explain_says_why_and_prints_nothing(folder: Path) -> None:
    """30 mm, 300 dpi, version 3: 9 dots, 0.762 mm, 22.1 mm without and 28.2 mm with its rim (29 + 8 modules)."""
    before = yard.bytes_of(folder)
    said = labels(folder, "--explain", "--kind", "roll")
    assert (
        "at level Q version 3 is the smallest symbol that holds it: 29 modules, and 4 light ones on each side." in said
    )
    assert (
        "On 30 mm at 300 dpi a module has 9 whole dots, 0.762 mm; the symbol is 22.1 mm, "
        "with its quiet zone 28.2 mm." in said
    )
    assert "nothing here is below what was measured to last outdoors" in said
    assert yard.bytes_of(folder) == before
    assert not (folder / "labels-out").exists()


@pytest.mark.parametrize(
    ("args", "code"),
    [
        (["--level", "M"], "advice label-level: level M on 30 mm stands fewer stains than Q; wanted Q"),
        (["--distance", "2"], "doubt label-too-far: modules of 0.804 mm are read from 0.61 m at most; wanted 2.00 m"),
        (["--symbol", "24"], "advice label-module-fine: on 24 mm at 600 dpi a module has 15 dots, 0.635 mm"),
        (["--kind", "plate", "--tool", "0.5"], "advice plate-tool: a tool of 0.5 mm is wide for modules of 0.97 mm"),
    ],
)
def test_explain_warns_of_what_is_below_the_measured(kept: Path, args: list[str], code: str) -> None:
    """Level, size, distance and tool; each still prints."""
    said = labels(kept, "--explain", *args)
    assert code in said
    assert "nothing here is below" not in said


def test_a_sub_path_grows_the_symbol_and_is_said(folder: Path) -> None:
    """A host that serves many sites under paths works; the symbol is larger and the tool says so."""
    yard.move(folder, "https://things.reedmouth-yard.ie/tags")
    said = labels(folder, "--explain", "--kind", "roll")
    assert f"https://THINGS.REEDMOUTH-YARD.IE/tags/T/{yard.tags_of(folder)[0]}" in said
    assert "advice address-long: " in said
    assert "at level Q version 4 is the smallest" in said
    labels(folder, "--kind", "tag")


# --- bad input ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (
            ["--symbol", "14", "--level", "H"],
            (
                "error label-module-small: on 14 mm at 600 dpi a module has 8 dots, 0.339 mm; wanted at least 0.5 mm\n"
                "    hint: give the symbol a side of at least 20.9 mm, shorten the address, or print with more dots an "
                "inch\n1 error\n"
            ),
        ),
        (
            ["--kind", "tag", "--dpi", "203", "--symbol", "6", "--size", "40x30"],
            (
                "error label-module-small: on 6 mm at 203 dpi a module has 1 dots, 0.125 mm; wanted at least 0.5 mm\n"
                "    hint: give the symbol a side of at least 18.6 mm, shorten the address, or print with more dots an "
                "inch\n1 error\n"
            ),
        ),
        (
            ["--kind", "twin", "--size", "70x37"],
            (
                "error label-no-room: the symbol of 29.8 mm does not fit a label of 70 × 37 mm with 2 symbols of 30 "
                "mm, even at the least height of letters\n    hint: shorten the words or take a larger label\n1 error\n"
            ),
        ),
    ],
)
def test_a_label_that_cannot_last_is_refused(kept: Path, args: list[str], said: str) -> None:
    """Too small for its payload at the level wanted, or a printer too coarse for the module."""
    assert refused(kept, *args) == said


def test_a_letter_the_font_lacks_is_refused(folder: Path) -> None:
    """Rather than printed as a box; the letter is named."""
    record = folder / "content" / "workshop.yaml"
    record.write_text(record.read_text(encoding="utf-8").replace("My workshop", "再生"), encoding="utf-8")
    said = refused(folder)
    assert "error label-glyph" in said or "error glyph" in said
    assert "再" in said


def test_a_mistyped_tag_gets_the_nearest_ones(kept: Path) -> None:
    """Its check character does not fit (ISO/IEC 7064 MOD 37,36)."""
    tag = yard.tags_of(kept)[1]
    wrong = tag[:-1] + ("A" if tag[-1] != "A" else "B")
    said = refused(kept, wrong)
    assert said.startswith(f'labels: error tag-number-check: the check character of "{wrong}" does not fit')
    assert f"hint: the nearest issued: {tag}" in said


def test_a_lot_is_pointed_to_its_card(kept: Path) -> None:
    """Lots have no tag."""
    assert refused(kept, "SH-001") == (
        'labels: error unknown-tag: met "SH-001", which is no issued tag and no item batch\n'
        "    hint: SH-001 is a lot; its card: passport labels SH-001 --kind card\n1 error\n"
    )


@pytest.mark.parametrize("name", ["site", "content", "site/labels"])
def test_labels_stay_out_of_site_and_records(kept: Path, name: str) -> None:
    """site/ is built anew each time, and content/ holds records only."""
    top = name.partition("/")[0]
    said = refused(kept, "--out", str(kept / name))
    assert f"error labels-in-{top}: met {(kept / name).resolve()} for labels, wanted a folder outside {top}/" in said


# --- what is remembered ---------------------------------------------------------------------------------


def test_only_what_is_new_is_printed(folder: Path) -> None:
    """Each label once, until it is asked for by tag, by batch or by --all; the list only grows."""
    first, second, third = yard.tags_of(folder)
    labels(folder, first)
    labels(folder)
    remembered = [(first, "sheet"), (second, "sheet"), (third, "sheet")]
    assert yard.printed_of(folder) == remembered
    assert labels(folder) == "every tag has its label; passport labels --all prints them again\n"
    for again in (["--all"], ["POT-001"], [first, second, third]):
        before = (folder / "content" / "labels-printed.csv").read_bytes()
        labels(folder, *again, "--kind", "roll")
        remembered += [(first, "roll"), (second, "roll"), (third, "roll")]
        assert yard.printed_of(folder) == remembered
        assert (folder / "content" / "labels-printed.csv").read_bytes().startswith(before)


def test_samples_are_not_remembered(folder: Path) -> None:
    """A reserved address (RFC 6761 6.5) prints SAMPLE, so nothing was put on a thing."""
    yard.move(folder, "https://pass.reedmouth.example")
    said = labels(folder, "--kind", "tag")
    assert "advice address-sample: " in said
    assert yard.printed_of(folder) == []


def test_a_moved_address_is_refused_until_the_old_one_leads_on(folder: Path) -> None:
    """Printed tags outlive the host: the record must say where the old address now leads."""
    labels(folder, "--kind", "tag")
    yard.move(folder, "https://tags.reedmouth-yard.ie")
    result = yard.run("labels", "--all", "--kind", "tag", "--folder", folder)
    assert result.exit_code == 1
    assert (
        f"3 printed tags lead to {yard.ADDRESS} (the first is {yard.tags_of(folder)[0]}), and the site's address is "
        "now https://tags.reedmouth-yard.ie"
    ) in result.output
    leads = (
        "former_addresses:\n"
        f"  - {{address: {yard.ADDRESS}, since: 2026-02-02, leads_to: redirected for ever by the host}}\n"
    )
    yard.move(folder, "https://tags.reedmouth-yard.ie", leads)
    labels(folder, "--all", "--kind", "tag")
    assert [label.address for label in yard.shop_of(folder).printed][3:] == ["https://tags.reedmouth-yard.ie"] * 3


FULL = """
import resource, sys
from passport.commands.main import run
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv.pop(1)),) * 2)
run()
"""


def full_disk(room: int, *args: str | Path) -> subprocess.CompletedProcess[str]:
    """A command that may write no file longer than `room` bytes (RLIMIT_FSIZE, setrlimit(2))."""
    return subprocess.run(
        [sys.executable, "-c", FULL, str(room), *map(str, args)],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )


def test_a_full_disk_leaves_labels_and_list_as_they_were(folder: Path) -> None:
    """No half file, no line in the list, and the way out in words."""
    labels(folder, "--kind", "tag")
    before = yard.bytes_of(folder)
    old = {path.name: path.read_bytes() for path in (folder / "labels-out").iterdir()}
    result = full_disk(1000, "labels", "--all", "--kind", "tag", "--folder", folder)
    assert result.returncode == 1
    assert "error labels-not-written: File too large\n" in result.stderr
    assert "hint: make room on the disk and run again; what was there before is untouched\n" in result.stderr
    assert yard.bytes_of(folder) == before
    assert {path.name: path.read_bytes() for path in (folder / "labels-out").iterdir()} == old


def test_a_disk_that_fills_at_the_list_keeps_every_line(folder: Path) -> None:
    """The labels are there, the list is whole and as it was: at worst a label is printed again."""
    tag, seal, lines = yard.tags_of(folder)[0], FIRST_SEAL, []
    for _ in range(400):
        lines.append(printed_line(seal, tag=tag, printed=dt.date(2026, 2, 1), kind="tag", address=yard.ADDRESS))
        seal = seal_in(lines[-1])
    listed = folder / "content" / "labels-printed.csv"
    listed.write_bytes((PRINTED_HEADER + "".join(lines)).encode())
    before = yard.bytes_of(folder)
    result = full_disk(len(before["labels-printed.csv"]), "labels", "--kind", "tag", "--folder", folder)
    assert result.returncode == 1, result.stderr
    assert "File too large" in result.stderr
    assert "Traceback" not in result.stderr
    assert yard.bytes_of(folder) == before
    assert len(yard.printed_of(folder)) == 400


def test_two_who_print_at_once_lose_no_line(folder: Path) -> None:
    """Three at a time, all labels each: the list has nine whole lines."""
    command = [sys.executable, "-m", "passport", "labels", "--all", "--kind", "tag", "--folder", str(folder)]
    runs = [
        subprocess.Popen([*command, "--out", str(folder / f"out-{n}")], cwd=ROOT, stdout=subprocess.DEVNULL)
        for n in range(3)
    ]
    assert [each.wait(timeout=60) for each in runs] == [0, 0, 0]
    assert sorted(yard.printed_of(folder)) == sorted((tag, "tag") for tag in yard.tags_of(folder) for _ in range(3))
