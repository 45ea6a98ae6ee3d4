"""Makes the messy table of 200 old lots that the tests import, and what its rows were meant to say.

    python3 tests/line/make_messy_sheet.py

Writes tests/line/cases/old-lots.csv as a spreadsheet of years ago would have saved it (Windows-1252, semicolons,
decimal commas, a title, a heading merged over two columns, headings again on each page, blank rows, sums at the
end), and old-lots-meant.csv beside it: number, day and net mass of each lot, worked out here and nowhere else.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

CASES = Path(__file__).parent / "cases"
LOTS = 200
PAGE = 60
FIRST_DAY = date(2022, 1, 10)
TITLE = ["Lagerliste alter Bestand, Stand 30.11.2023", *[""] * 8]
UPPER = ["Nr", "Eingang", "Gewicht", "", "Herkunft", "Stück", "Farbe", "Feuchte (%)", "Bemerkung"]
LOWER = ["", "", "brutto (kg)", "tara (kg)", "", "", "", "", ""]
STREAMS = ("quay-crates", "Kaikisten", "Parkstühle", "gate", "Strand")
COLOURS = ("blau", "grün", "weiß", "gemischt")
GERMAN = [
    "Januar",
    "Februar",
    "März",
    "April",
    "Mai",
    "Juni",
    "Juli",
    "August",
    "September",
    "Oktober",
    "November",
    "Dezember",
]
ENGLISH = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]

SLIPS: dict[int, dict[str, str]] = {
    17: {"nr": "16"},
    23: {"date": "31.02.2022"},
    38: {"gross": "ca. 60"},
    44: {"tare": "99,9"},
    58: {"gross": "-31,5"},
    71: {"date": "44811"},
    83: {"pieces": "zwölf"},
    90: {"stream": "quai-crates"},
    102: {"nr": ""},
    111: {"gross": "1.034"},
    119: {"date": "gestern"},
    126: {"tare": ""},
    133: {"moisture": "120"},
    140: {"nr": "41"},
    155: {"gross": "=B9*2"},
    162: {"nr": "1#62"},
    170: {"date": "2/13/2023"},
    177: {"gross": "12 lbs"},
    188: {"pieces": "12,5"},
    195: {"nr": "16"},
}
"""What went wrong in which lot, by what it was meant to be."""


def meant(number: int) -> tuple[date, Decimal, Decimal]:
    """Day, gross and tare of a lot."""
    day = FIRST_DAY + timedelta(days=(number * 37) % 650)
    return day, Decimal(200 + (number * 73) % 900) / 10, Decimal(10 + number % 7) / 10


def day_as_written(number: int, day: date) -> str:
    """Each hand of the yard had its own way."""
    ways = (
        f"{day.day:02}.{day.month:02}.{day.year}",
        day.isoformat(),
        f"{day.day}. {GERMAN[day.month - 1]} {day.year}",
        f"{day.day:02}/{day.month:02}/{day.year}",
        f"{ENGLISH[day.month - 1]} {day.day}, {day.year}",
        f"{day.day}.{day.month}.{day.year % 100}",
    )
    return ways[number % len(ways)]


def mass_as_written(number: int, mass: Decimal) -> str:
    """With a comma, a point, its own unit, or in grams with marks between thousands."""
    ways = (f"{mass}".replace(".", ","), f"{mass}", f"{mass} kg".replace(".", ","), f"{mass * 1000:,.0f} g")
    return ways[number % len(ways)].replace(",", "." if ways[number % len(ways)].endswith(" g") else ",")


def row(number: int) -> list[str]:
    """One lot as somebody typed it."""
    day, gross, tare = meant(number)
    cells = {
        "nr": str(number),
        "date": day_as_written(number, day),
        "gross": mass_as_written(number, gross),
        "tare": f"{tare}".replace(".", ","),
        "stream": STREAMS[number % len(STREAMS)],
        "pieces": ("", f"{number % 40 + 1}", f"{number % 40 + 1} Stk.")[number % 3],
        "colour": COLOURS[number % len(COLOURS)],
        "moisture": ("", "0,5", "1")[number % 3],
        "note": ("", "", "nass; stand im Regen", 'Aufkleber "Mole 3"', "–")[number % 5],
    }
    return list({**cells, **SLIPS.get(number, {})}.values())


def rows() -> Iterator[list[str]]:
    """The whole table, page by page."""
    blank = [""] * len(UPPER)
    yield from (TITLE, blank, UPPER, LOWER)
    for number in range(1, LOTS + 1):
        if number > 1 and number % PAGE == 1:
            yield from (blank, UPPER, LOWER)
        yield row(number)
        if number % 45 == 0:
            yield blank
    grosses = [meant(number)[1] for number in range(1, LOTS + 1)]
    tares = [meant(number)[2] for number in range(1, LOTS + 1)]
    yield ["Summe", "", f"{sum(grosses)}".replace(".", ","), f"{sum(tares)}".replace(".", ","), *[""] * 5]


def main() -> None:
    """Write both files."""
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\r\n").writerows(rows())
    (CASES / "old-lots.csv").write_bytes(out.getvalue().encode("cp1252"))
    truth = io.StringIO()
    writer = csv.writer(truth, lineterminator="\n")
    writer.writerow(["number", "day", "net_kg"])
    for number in range(1, LOTS + 1):
        day, gross, tare = meant(number)
        writer.writerow([number, day.isoformat(), gross - tare])
    (CASES / "old-lots-meant.csv").write_text(truth.getvalue(), encoding="utf-8")


if __name__ == "__main__":
    main()
