"""`masses`: the balances of the shop, of every run and every lot's stock."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from pathlib import Path

import click

from passport.massflow import Ledger
from passport.massflow.reconcile import in_words, reconcile_shop
from passport.massflow.tables import BalanceTable, outside_table, shop_table
from passport.office import desk
from passport.office.desk import exact_kg
from passport.office.stages import worked_out
from passport.office.wording import GRAMS


@click.command()
@click.option(
    "--by", type=click.Choice(["resin", "stream", "origin"]), help="Both balances by class, as tables that add up."
)
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
        "shop": _whole(shop_table(ledger, "", GRAMS)),
        "outside": _whole(outside_table(ledger, "", GRAMS)),
    }
    if by:
        inside, outside = shop_table(ledger, by, GRAMS), outside_table(ledger, by, GRAMS)
        report[f"by_{by}"] = _by_class(inside) if as_json else inside
        report[f"outside_by_{by}"] = _by_class(outside) if as_json else outside
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


def _whole(table: BalanceTable) -> dict[str, str]:
    return {term: f"{mass:.{GRAMS}f}" for term, mass in zip(table.terms, table.total, strict=True)}


def _by_class(table: BalanceTable) -> dict[str, dict[str, str]]:
    return {
        name: {term: f"{mass:.{GRAMS}f}" for term, mass in zip(table.terms, row, strict=True)}
        for name, row in table.rows.items()
    }


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
        if isinstance(value, BalanceTable):
            yield f"{above}{label}, kg"
            yield from _as_grid(value, above + "  ")
        elif isinstance(value, dict):
            yield f"{above}{label}"
            yield from _as_lines(value, above + "  ")
        elif isinstance(value, list):
            yield from (f"{above}{label}: {line}" for line in value)
        else:
            unit = " kg" if key.endswith("_kg") and str(value)[-1:].isdigit() else ""
            yield f"{above}{label:<{width}} {value:>12}{unit}"


def _as_grid(table: BalanceTable, above: str) -> Iterator[str]:
    """A row a class and one for the whole: columns and rows add up as printed; columns of nothing are left out."""
    used = table.used()
    heads = [table.terms[i].removesuffix("_kg").replace("_", " ") for i in used]
    lines = [["", *heads]]
    for name, row in (*table.rows.items(), ("together", table.total)):
        lines.append([name, *(f"{row[i]:.{GRAMS}f}" for i in used)])
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    for first, *rest in lines:
        figures = (f"{text:>{width}}" for text, width in zip(rest, widths[1:], strict=True))
        yield f"{above}{first:<{widths[0]}}  " + "  ".join(figures)
