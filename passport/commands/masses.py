"""`masses`: the balances of the shop, of every run and every lot's stock."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import date
from fractions import Fraction
from pathlib import Path

import click

from passport.amounts import largest_remainder
from passport.commands import desk
from passport.commands.stages import worked_out
from passport.massflow import Ledger
from passport.massflow.balances import OutsideBalance, ShopBalance, outside_balance, shop_balance, shop_balances_by
from passport.massflow.reconcile import in_words, reconcile_shop

SHOP_TERMS = {
    "opening_kg": 1, "received_kg": 1, "came_back_kg": 1, "gains_kg": 1, "adjusted_kg": 1, "renamed_kg": 1,
    "things_out_kg": -1, "sent_kg": -1, "losses_kg": -1, "written_off_kg": -1, "stock_kg": -1, "unaccounted_kg": -1,
}  # fmt: skip
OUTSIDE_TERMS = {"things_out_kg": 1, "at_the_shop_kg": -1, "in_use_kg": -1, "came_back_kg": -1, "gone_kg": -1}
"""Each line of a balance with its side: what came in (1) is what it became (-1)."""

GRAMS = 3
"""Places of a kilogram."""


@click.command()
@click.option("--by", type=click.Choice(["resin", "stream", "origin"]), help="The shop's balance by class.")
@click.option("--runs", is_flag=True, help="Every run with its residual.")
@click.option("--stock", is_flag=True, help="What is left of every lot.")
@desk.at_option
@desk.json_option
@desk.folder_option
def command(by: str | None, at: date | None, folder: Path, *, runs: bool, stock: bool, as_json: bool) -> None:
    """Show the balances, exact to the gram, and which weighing is probably wrong.

    \b
    Example:
      passport masses
      passport masses --runs --at 2026-06-30
      passport masses --by resin --json
    """
    book, _ = worked_out(folder, at)
    ledger = book.ledger
    report: dict[str, object] = {
        "day": book.today.isoformat(),
        "shop": _terms(shop_balance(ledger), SHOP_TERMS),
        "outside": _terms(outside_balance(ledger), OUTSIDE_TERMS),
    }
    if by:
        report[f"by_{by}"] = {k: _terms(b, SHOP_TERMS) for k, b in shop_balances_by(ledger, by).items()}
    if runs:
        report["runs"] = dict(_runs(ledger))
    if stock:
        report["stock"] = dict(_stock(ledger))
    report["advice"] = [said for found in reconcile_shop(ledger) if (said := in_words(found))]
    if as_json:
        click.echo(json.dumps(report, ensure_ascii=False, indent=1))
    else:
        for line in _as_lines(report):
            click.echo(line)


def _terms(balance: ShopBalance | OutsideBalance, sides: Mapping[str, int]) -> dict[str, str]:
    """The lines as text; rounded together, so that what is printed balances to the gram."""
    # both sides together are 0, so rounding them as one list keeps them equal
    signed = [getattr(balance, name) * side for name, side in sides.items()]
    printed = zip(sides.items(), largest_remainder(signed, GRAMS), strict=True)
    return {name: exact_kg(Fraction(mass) * side) for (name, side), mass in printed}


def exact_kg(mass: Fraction | None) -> str:
    """Kilograms to the gram, as text; "not weighed" for none."""
    if mass is None:
        return "not weighed"
    grams = round(mass * 1000)
    return f"{'-' if grams < 0 else ''}{abs(grams) // 1000}.{abs(grams) % 1000:03}"


def _runs(ledger: Ledger) -> Iterator[tuple[str, dict[str, str]]]:
    for name, closure in ledger.closures.items():
        yield (
            name,
            {
                "operation": ledger.operations[name].run.operation,
                "drawn_kg": exact_kg(closure.drawn_kg),
                "gains_kg": exact_kg(closure.gains_kg),
                "results_kg": exact_kg(closure.results_kg),
                "losses_kg": exact_kg(closure.losses_kg),
                "residual_kg": exact_kg(closure.residual_kg),
                "u_kg": exact_kg(Fraction(closure.u_kg)) if closure.u_kg is not None else "unknown",
                "verdict": closure.verdict.value,
            },
        )


def _stock(ledger: Ledger) -> Iterator[tuple[str, dict[str, str]]]:
    for name, stock in ledger.stock.items():
        if stock.books_kg is None or stock.books_kg != 0:
            yield name, {"books_kg": exact_kg(stock.books_kg), "state": stock.state.value}


def _as_lines(report: dict[str, object], above: str = "") -> Iterator[str]:
    """A nested report as an indented text with aligned figures."""
    width = max((len(key) for key in report), default=0)
    for key, value in report.items():
        label = key.removesuffix("_kg").replace("_", " ")
        if isinstance(value, dict):
            yield f"{above}{label}"
            yield from _as_lines(value, above + "  ")
        elif isinstance(value, list):
            yield from (f"{above}{label}: {line}" for line in value)
        else:
            unit = " kg" if key.endswith("_kg") and str(value)[-1:].isdigit() else ""
            yield f"{above}{label:<{width}} {value:>12}{unit}"
