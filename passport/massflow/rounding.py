"""Figures that add up as printed: accounts and two-way tables rounded so that no printed sum is off by one.

A two-way table is rounded by shifting fractions around rings of cells until none is left (controlled rounding,
L. H. Cox, J. Am. Stat. Assoc. 82 (1987) 520-524; from memory): each cell becomes its floor or its ceiling.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from passport.amounts import largest_remainder

Cell = tuple[int, int]


def account(values: Sequence[Fraction], places: int) -> list[Decimal]:
    """Signed terms that add up to nothing, rounded so that they still do; largest remainder on either side.

    places: digits after the point. Raises ValueError where the terms do not add up to nothing.
    """
    if sum(values, Fraction(0)):
        raise ValueError(f"met terms that add up to {float(sum(values, Fraction(0)))}, wanted 0")
    up = iter(largest_remainder([v for v in values if v > 0], places))
    down = iter(largest_remainder([-v for v in values if v < 0], places))
    nothing = Decimal(0).scaleb(-places)
    return [next(up) if v > 0 else -next(down) if v < 0 else nothing for v in values]


def two_way(rows: Sequence[Sequence[Fraction]], total: Sequence[Decimal], places: int) -> list[list[Decimal]]:
    """Rows that each add up to nothing and that together make `total`, rounded so that both still hold.

    total: the rounded sum of each column, itself adding up to nothing. What its rounding added or took away is
    carried by the row that moves most, so that every other cell is within one unit of its exact value.
    """
    if not rows:
        return []
    unit = 10**places
    exact = [[value * unit for value in row] for row in rows]
    largest = max(range(len(exact)), key=lambda r: (sum(abs(v) for v in exact[r]), -r))
    for c, wanted in enumerate(total):
        exact[largest][c] += Fraction(wanted) * unit - sum((row[c] for row in exact), Fraction(0))
    return [[Decimal(n).scaleb(-places) for n in row] for row in _whole(exact)]


def _whole(exact: list[list[Fraction]]) -> list[list[int]]:
    whole = [[int(v // 1) for v in row] for row in exact]
    open_cells = {(r, c): v % 1 for r, row in enumerate(exact) for c, v in enumerate(row) if v % 1}
    while open_cells:
        ring = _ring(open_cells)
        step = min(*(1 - open_cells[cell] for cell in ring[::2]), *(open_cells[cell] for cell in ring[1::2]))
        for i, cell in enumerate(ring):
            open_cells[cell] += step if i % 2 == 0 else -step
            if open_cells[cell] in (0, 1):
                whole[cell[0]][cell[1]] += int(open_cells.pop(cell))
    return whole


def _ring(open_cells: dict[Cell, Fraction]) -> list[Cell]:
    """A closed walk along rows and columns by turns. Every line with an open cell has two: its sum is whole."""
    by_row: dict[int, list[Cell]] = {}
    by_column: dict[int, list[Cell]] = {}
    for cell in open_cells:
        by_row.setdefault(cell[0], []).append(cell)
        by_column.setdefault(cell[1], []).append(cell)
    lines = (by_row, by_column)
    cell = next(iter(open_cells))
    path, met = [cell], {(0, cell[0]): 0}
    axis = 0
    while True:
        line = lines[axis][cell[axis]]
        cell = line[0] if line[0] != cell else line[1]
        path.append(cell)
        axis = 1 - axis
        here = (axis, cell[axis])
        if here in met:
            return path[met[here] + 1 :]
        met[here] = len(path) - 1
