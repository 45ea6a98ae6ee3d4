"""From a problem of a record to come to the cell that it came from."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path

from passport.office.named_in import which
from passport.office.taking import Taken
from passport.problems import Place, Problem
from passport.reading.marked import Source
from passport.reading.sheets import SheetRecord, cell_of, in_cell
from passport.writing import AppendLines, Change, as_it_will_be


class RowPlaces:
    """Gives a problem of a record to come the place of the cell that it came from."""

    def __init__(self, content: Path, taken: Sequence[Taken], changes: Sequence[Change]) -> None:
        self.rows: dict[tuple[str, int], tuple[Taken, SheetRecord]] = {}
        self.sources: dict[str, Source] = {}
        before = as_it_will_be(content, changes)
        for change in changes:
            file = f"{content.name}/{change.path}"
            self.sources[file] = Source(file, before[change.path].decode())
        for one in taken:
            if one.kind == "events":
                self._events(content, one, changes)
            else:
                for record in one.records:
                    self.rows[f"{content.name}/{one.kind}/{record.name}.yaml", 0] = one, record

    def _events(self, content: Path, one: Taken, changes: Sequence[Change]) -> None:
        """An event's line in its list, from the list's end."""
        for change in changes:
            if isinstance(change, AppendLines) and change.path.startswith("events/"):
                year = change.path.removeprefix("events/").removesuffix(".yaml")
                records = [record for record in one.records if str(record.fields["date"]).startswith(year)]
                file = f"{content.name}/{change.path}"
                last = self.sources[file].text.count("\n")
                for number, record in enumerate(records, start=last - len(records) + 1):
                    self.rows[file, number] = one, record

    def __call__(self, problem: Problem) -> Problem:
        """The same problem with its row and column in the table; one of another record as it is."""
        place = problem.place
        found = self.rows.get((place.file, 0)) or self.rows.get((place.file, place.line))
        if found is None:
            return problem
        one, record = found
        columns = {name: number for number, name in one.columns.items()}
        at = "" if one.kind != "events" else f"{self._entry(place)}."
        names = [f"{at}{name}" for name in columns if name != "id"]
        field = cell_of(self.sources[place.file], names, place.line, place.column).removeprefix(at)
        number = columns.get(field, 0)
        moved = dataclasses.replace(problem, place=one.table.place(record.entry.number, number))
        if problem.code == "unknown-stream" and number:
            near = problem.hint if problem.hint.startswith("did you mean") else ""
            text = record.entry.cells.get(number, "")
            moved = dataclasses.replace(moved, hint=near or which(text, "stream"))
        return in_cell(one.table, moved)

    def _entry(self, place: Place) -> int:
        """The number of the entry that stands on a line of a list."""
        lines = self.sources[place.file].text.split("\n")[: place.line]
        return sum(line.startswith("- ") for line in lines) - 1
