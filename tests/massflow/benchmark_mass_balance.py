"""Prints how long the mass balance takes: run it as a script, `python tests/massflow/benchmark_mass_balance.py`.

Shops of received lots and blends of two, at most about 200 weighings above a lot; the time holds the books, the
recycled share of every lot with its uncertainty, and the balances by stream.
"""

import random
import time

from shops_in_code import drawing, received, shop

from passport.massflow import settle, shop_balances_by

BLOCK = 100
"""Lots that hang together; it bounds how many weighings lie above a lot."""


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


def main() -> None:
    """Time shops of growing size; the time per lot should stay the same."""
    for lots in (2_500, 5_000, 10_000):
        records = made(lots)
        start = time.perf_counter()
        ledger = settle(records, {})
        for mixture in ledger.mixtures.values():
            mixture.recycled()
        shop_balances_by(ledger, "stream")
        seconds = time.perf_counter() - start
        print(f"{lots:6} lots  {seconds:5.2f} s  {seconds / lots * 1e6:5.0f} µs a lot")  # noqa: T201


if __name__ == "__main__":
    main()
