"""The two balances as tables that add up as printed: down each column and along each row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from passport.massflow.balances import (
    OutsideBalance,
    ShopBalance,
    outside_balance,
    outside_balances_by,
    shop_balance,
    shop_balances_by,
)
from passport.massflow.ledger import Ledger
from passport.massflow.rounding import account, two_way

SHOP_SIGNS: Mapping[str, int] = {
    "opening_kg": 1,
    "received_kg": 1,
    "came_back_kg": 1,
    "gains_kg": 1,
    "adjusted_kg": 1,
    "renamed_kg": 1,
    "things_out_kg": -1,
    "sent_kg": -1,
    "losses_kg": -1,
    "written_off_kg": -1,
    "stock_kg": -1,
    "unaccounted_kg": -1,
}
"""The shop's terms in the order they are printed; what came counts up, what went counts down."""
OUTSIDE_SIGNS: Mapping[str, int] = {
    "things_out_kg": 1,
    "at_the_shop_kg": -1,
    "in_use_kg": -1,
    "came_back_kg": -1,
    "gone_kg": -1,
}
"""The terms outside. At the shop and in use together are "not known to have ended"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceTable:
    """Rounded masses in kg; each column adds up to `total`, each row closes."""

    terms: tuple[str, ...]
    rows: Mapping[str, tuple[Decimal, ...]]
    total: tuple[Decimal, ...]

    def used(self) -> tuple[int, ...]:
        """The columns in which anything stands."""
        lines = (*self.rows.values(), self.total)
        return tuple(i for i in range(len(self.terms)) if any(line[i] for line in lines))


@lru_cache(maxsize=16)  # each language asks
def shop_table(ledger: Ledger, dimension: str, places: int) -> BalanceTable:
    """The shop's balance by origin, stream, resin or weathering. dimension "" gives the total alone."""
    by = shop_balances_by(ledger, dimension) if dimension else {}
    return _table(SHOP_SIGNS, shop_balance(ledger), by, places)


@lru_cache(maxsize=16)
def outside_table(ledger: Ledger, dimension: str, places: int) -> BalanceTable:
    """The balance outside, by what the things were made of. dimension "" gives the total alone."""
    by = outside_balances_by(ledger, dimension) if dimension else {}
    out = list(SHOP_SIGNS).index("things_out_kg")
    made = {name: row[out] for name, row in shop_table(ledger, dimension, places).rows.items()} if dimension else {}
    return _table(OUTSIDE_SIGNS, outside_balance(ledger), by, places, made)


def _table(
    signs: Mapping[str, int],
    whole: ShopBalance | OutsideBalance,
    by: Mapping[str, ShopBalance] | Mapping[str, OutsideBalance],
    places: int,
    first: Mapping[str, Decimal] | None = None,
) -> BalanceTable:
    """first: what the first column must print, as another table printed the same masses."""
    total = account(_signed(whole, signs), places)
    exact = [_begun(_signed(balance, signs), (first or {}).get(name)) for name, balance in by.items()]
    rows = two_way(exact, total, places)
    return BalanceTable(
        terms=tuple(signs),
        rows={name: _unsigned(row, signs) for name, row in zip(by, rows, strict=True)},
        total=_unsigned(total, signs),
    )


def _signed(balance: ShopBalance | OutsideBalance, signs: Mapping[str, int]) -> list[Fraction]:
    return [sign * Fraction(getattr(balance, term)) for term, sign in signs.items()]


def _begun(row: list[Fraction], first: Decimal | None) -> list[Fraction]:
    """The row with its first term as printed elsewhere; its largest other term takes the difference."""
    if first is None:
        return row
    largest = max(range(1, len(row)), key=lambda i: abs(row[i]))
    row[largest] += row[0] - Fraction(first)
    row[0] = Fraction(first)
    return row


def _unsigned(row: list[Decimal], signs: Mapping[str, int]) -> tuple[Decimal, ...]:
    # adding 0 turns a negative zero into a plain one
    return tuple(value * sign + 0 for value, sign in zip(row, signs.values(), strict=True))
