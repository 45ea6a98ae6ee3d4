"""Prints how long the mass balance takes and whether it grows linearly: `python tests/bench/mass_balance.py`.

Shops of received lots and blends of two, at most 200 weighings above a lot; the time holds the books, the
recycled share of every lot with its uncertainty, and the balances by stream. The best of three rounds counts.
"""

import platform
import random
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1] / "massflow")]

from shops_in_code import drawing, received, shop  # noqa: E402

from passport.massflow import settle, shop_balances_by  # noqa: E402
from passport.massflow.ingredients import RECYCLED, selecting  # noqa: E402

BLOCK = 160
"""Lots that hang together; it bounds how many weighings lie above a lot."""
SIZES = (2_500, 5_000, 10_000)
ROUNDS = 3
LIMIT_S = 3.0
"""What 10,000 lots may take (the project's own promise)."""


def made(lots: int):
    """A shop of so many lots, a fifth of them received."""
    chance = random.Random(1)  # noqa: S311 - a made-up shop
    trees = {}
    for i in range(lots):
        k = i % BLOCK
        if k < BLOCK // 5:
            stream = chance.choice(["POST", "PRE", "VIRGIN"])
            trees[f"L-{i:05}"] = received(f"{chance.randint(50, 90)} kg", stream)
        else:
            a, b = chance.sample(range(i - k + max(0, k - 25), i), 2)
            draws = [(f"L-{n:05}", f"{chance.randint(1, 3)} kg") for n in (a, b)]
            trees[f"L-{i:05}"] = drawing(f"{chance.randint(3, 5)} kg", *draws)
    return shop(lots=trees)


def timed(records) -> tuple[float, int]:
    """Seconds for everything, and the most weighings that lie above a lot."""
    start = time.perf_counter()
    ledger = settle(records, {})
    for mixture in ledger.mixtures.values():
        mixture.recycled()
    shop_balances_by(ledger, "stream")
    seconds = time.perf_counter() - start
    wanted = selecting("origin", RECYCLED)
    return seconds, max(len(ledger.mixing.contributions(name, wanted)) for name in ledger.mixtures)


def main() -> None:
    """Time shops of growing size; the time a draw takes should stay the same."""
    # a script for people: it prints
    print(f"{platform.machine()}, Python {platform.python_version()}, best of {ROUNDS} rounds")  # noqa: T201
    by_draw = []
    for lots in SIZES:
        records = made(lots)
        draws = sum(len(lot.draws) for lot in records.lots.values())
        rounds = [timed(records) for _ in range(ROUNDS)]
        seconds, most = min(rounds)
        by_draw.append(seconds / draws)
        print(f"{lots:6} lots  {draws:6} draws  {seconds:5.2f} s  {seconds / draws * 1e6:5.0f} µs a draw  {most} above")  # noqa: T201
    print(f"of {LIMIT_S:.0f} s for {SIZES[-1]} lots: {seconds / LIMIT_S:.2f}")  # noqa: T201
    print(f"time a draw, {SIZES[-1]} lots over {SIZES[0]}: {by_draw[-1] / by_draw[0]:.2f}")  # noqa: T201


if __name__ == "__main__":
    main()
