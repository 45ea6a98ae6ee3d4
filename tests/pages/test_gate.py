"""The log's part on what became of things: counts that add up, curves that are their tables, bounds beside figures."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st
from shops_in_code import received, shop

from passport.pages.charts import steps_svg
from passport.pages.gate import gate_part
from passport.pages.pieces import Curves, Line, Table
from passport.pages.scribe import Scribe
from passport.pages.theme import load_theme
from passport.pages.views import GatePart
from passport.reading.folder import read_shop
from passport.verdicts.book import Book, work_out
from passport.verdicts.cohorts import things_out

THEME, _ = load_theme(["en", "fr"])
LANGUAGES = pytest.mark.parametrize("lang", ["en", "fr"])


@pytest.fixture(scope="module")
def book() -> Book:
    """The demo, worked out."""
    read, problems = read_shop(ROOT / "content")
    assert read is not None, problems
    return work_out(read)


def part(book: Book, lang: str = "en") -> GatePart:
    """The part of the log in a language."""
    found = gate_part(Scribe(book=book, words=THEME.words[lang], first="en"))
    assert found is not None
    return found


def table(of: GatePart, key: str, lang: str = "en") -> Table:
    """One of its tables."""
    (found,) = [t for t in of.tables if t.title == THEME.words[lang](f"tell.gate.{key}")]
    return found


def number(text: str) -> Decimal:
    """A printed number."""
    return Decimal(re.sub(r"[^\d.,-]", "", text).replace(",", "."))


def columns_add_up(found: Table) -> None:
    """The last line is the sum of the others in every column of figures, as printed."""
    for i in found.numeric:
        cells = [number(row[i].text) for row in found.rows]
        assert sum(cells[:-1]) == cells[-1], (found.title, i)


@LANGUAGES
@pytest.mark.parametrize("key", ["cohorts_title", "in_use_title", "years_title", "fates_title", "lives_title"])
def test_columns_add_up_as_printed(book: Book, key: str, lang: str) -> None:
    """Counts and kilograms of every table add up to its last line."""
    columns_add_up(table(part(book, lang), key, lang))


@LANGUAGES
def test_each_year_shares_its_things_among_the_ends(book: Book, lang: str) -> None:
    """What went out in a year is come back, lost, destroyed, gone elsewhere or not known to have ended."""
    for row in table(part(book, lang), "cohorts_title", lang).rows:
        out, *ends = (number(cell.text) for cell in row[1:])
        assert out == sum(ends)


def test_the_counts_are_those_of_the_records(book: Book) -> None:
    """By hand from content/events: 11 first went out in 2025 and 6 in 2026; a replaced number counts once."""
    years = Counter(thing.out.year for thing in things_out(book))
    assert years == {2025: 11, 2026: 6}
    rows = {row[0].text: [cell.text for cell in row[1:]] for row in table(part(book), "cohorts_title").rows}
    assert rows["2025"] == ["11", "2", "1", "1", "2", "5"]
    assert rows["2026"] == ["6", "2", "0", "0", "0", "4"]


def test_shares_of_one_line_make_a_whole(book: Book) -> None:
    """At each age, the printed shares of all ends and of what has not ended add up to 100 %."""
    ends, _ = part(book).curves
    assert ends.table.rows
    for row in ends.table.rows:
        assert sum(number(cell.text) for cell in row[1:-1]) == 100


@LANGUAGES
def test_every_figure_has_bounds_and_the_number_watched(book: Book, lang: str) -> None:
    """The table of come back has, beside each share, bounds around it and how many were still watched."""
    to = THEME.words[lang]("tell.gate.between", low="(\\d+)", high="(\\d+)")
    for row in table(part(book, lang), "back_title", lang).rows:
        share, between, watched = (cell.text for cell in row[2:])
        met = re.match(to, between)
        assert met is not None
        assert int(met[1]) <= number(share) <= int(met[2])
        assert int(watched) >= 1


def test_the_recovered_share_says_of_how_many_things(book: Book) -> None:
    """Four of eight things whose end is known came back into their own stream: 15.0 of 32.7 kg.

    The interval is that of Clopper and Pearson for 4 of 8: 15.7 to 84.3 % (tables, from memory), rounded outwards.
    """
    assert part(book).recovered == (
        "Recovered into its own stream: 46\u00a0% of the plastic by mass, 4 of 8 things (15 to 85\u00a0%)."
    )


def test_a_repair_claims_masses_alone(book: Book) -> None:
    """What stayed in use stands beside what a new one takes; energy and carbon are named only as not known."""
    found = part(book)
    rows = {row[0].text: [cell.text for cell in row[2:]] for row in table(found, "repairs_title").rows}
    assert rows["RY-2223C2"] == ["212\u00a0g", "720\u00a0g", "930\u00a0g"]
    assert found.repairs_note.endswith("no basis for a saving of energy or of carbon.")


def test_where_nothing_went_out_there_is_no_part() -> None:
    """A workshop without a single hand-over shows no curve and no empty table."""
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": "1 kg",
        "draws": [{"lot": "A", "mass": "1 kg"}],
    }
    built = work_out(shop(lots={"A": received("5 kg")}, items={"I": item}, tags={"RY-22222Q": "I"}))
    assert gate_part(Scribe(book=built, words=THEME.words["en"], first="en")) is None


def test_things_out_for_a_day_have_counts_and_no_curve() -> None:
    """On the day of the hand-over there is nothing to draw; the sentence says so."""
    item = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": "1 kg",
        "draws": [{"lot": "A", "mass": "1 kg"}],
    }
    out = [{"date": "2026-05-01", "tag": "RY-22222Q", "event": "handed-over"}]
    built = work_out(shop(lots={"A": received("5 kg")}, items={"I": item}, tags={"RY-22222Q": "I"}, events=out))
    found = part(built)
    assert found.curves == ()
    assert [row[1].text for row in table(found, "cohorts_title").rows] == ["1", "1"]
    assert found.recovered == "No thing is known to have ended yet."


# --- the drawing ---------------------------------------------------------------------------------------


def drawn(*lines: Line, until: float = 100) -> ET.Element:
    """The drawing of some lines as an XML parser sees it."""
    plain = Table(title="t", head=(), rows=())
    curves = Curves(title="t", summary="d", lines=lines, until=until, marks=((until, "end"),), table=plain)
    return ET.fromstring(steps_svg(curves, "k"))  # noqa: S314 - our own drawing


def test_lines_differ_by_their_dashes() -> None:
    """Four lines and two bounds: every line has dashes of its own, bounds are thin, and there is no inline style."""
    lines = [Line(name=f"l{i}", points=((0, i / 10),)) for i in range(4)]
    bounds = [Line(name="b", points=((0, 0.5),), bound=True)] * 2
    paths = [p for p in drawn(*lines, *bounds).iter() if p.tag.endswith("path") and p.get("stroke")]
    dashes = Counter(p.get("stroke-dasharray", "") for p in paths)
    # each line is drawn once and once in the legend; the bounds share one entry
    assert dashes == {"": 2, "9 4": 2, "3 3": 2, "9 3 2 3": 2, "1 3": 3}
    assert {p.get("stroke-width") for p in paths if p.get("stroke-dasharray") == "1 3"} == {"1"}


@given(st.lists(st.tuples(st.integers(1, 99), st.floats(0, 1)), min_size=1, max_size=12, unique_by=lambda p: p[0]))
def test_a_line_steps_where_its_points_are(points: list[tuple[int, float]]) -> None:
    """Each point is one step across and one up or down, at the place that its day and share give, to the end."""
    points.sort()
    line = Line(name="l", points=((0.0, 0.0), *((float(day), share) for day, share in points)))
    paths = [p.get("d", "") for p in drawn(line).iter() if p.tag.endswith("path") and p.get("stroke-width") == "2.5"]
    path = next(p for p in paths if "H" in p)
    steps = [(float(x), float(y)) for x, y in re.findall(r"H([\d.]+)V([\d.]+)", path)]
    zero = float(re.match(r"M40 ([\d.]+)", path)[1])  # type: ignore[index]
    assert steps == [
        (pytest.approx(40 + 3.2 * day, abs=0.06), pytest.approx(zero - 170 * share, abs=0.11)) for day, share in points
    ]
    assert path.endswith("H360")
