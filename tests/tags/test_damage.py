"""The default label survives what it was measured to survive, by two decoders that share no code."""

from __future__ import annotations

import csv
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import wear

from passport.tags.geometry import plan_symbol
from passport.tags.label import LabelSpec, symbol_image

ADDRESS = "https://PASS.REEDMOUTH.EXAMPLE/T/RY-22224M"
ALLOWED_POINTS = 10
"""The half-width of the measured figures."""
SEEDS = 100


def cases() -> list[dict[str, str]]:
    """Rows of damage.csv."""
    lines = (Path(__file__).parent / "cases" / "damage.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@cache
def worn_label(side_mm: float, level: str) -> wear.Grey:
    """The part of a label that carries the symbol: a white square of side_mm at 300 dpi."""
    plan = plan_symbol(ADDRESS, side_mm=side_mm, dpi=wear.WORN_DPI, level=level)
    symbol = np.asarray(symbol_image(plan.symbol, plan.size).convert("L"))
    side = round(side_mm * wear.DOTS_A_MM)
    label = np.full((side, side), 255, dtype=np.uint8)
    start = (side - len(symbol)) // 2
    label[start : start + len(symbol), start : start + len(symbol)] = symbol
    return label


def share(case: dict[str, str], decode: Callable[[wear.Grey], str]) -> float:
    """Per cent of default labels read under a row's wear."""
    damage = getattr(wear, case["wear"])
    photo = {name: float(case[name]) for name in ("lean", "px_a_mm", "turn")}
    label = worn_label(LabelSpec().symbol_mm, LabelSpec().level)
    level = float(case["level"])
    return wear.share_read(label, ADDRESS, lambda label, random: damage(label, random, level), decode, SEEDS, **photo)


@pytest.mark.parametrize("case", cases(), ids=lambda c: f"{c['wear']}-{c['level']}-{c['lean']}-{c['px_a_mm']}")
def test_the_default_label_survives_as_measured(case: dict[str, str]) -> None:
    """No decoder reads fewer labels than the measured figure less ten points."""
    assert share(case, wear.by_zxing) >= float(case["zxing"]) - ALLOWED_POINTS
    assert share(case, wear.by_opencv) >= float(case["opencv"]) - ALLOWED_POINTS


def test_the_trial_can_fail() -> None:
    """A label of 14 mm at level H is lost with ink run by 0.2 mm (measured: none read)."""
    label = worn_label(14, "H")

    def ran(new: wear.Grey, random: wear.Random) -> wear.Grey:
        return wear.blurred(new, random, 0.2)

    for decode in (wear.by_zxing, wear.by_opencv):
        assert wear.share_read(label, ADDRESS, ran, decode, 20) <= ALLOWED_POINTS


def test_the_trial_is_the_same_on_every_run() -> None:
    """A seed gives the same stains and the same photograph."""
    label = worn_label(30, "Q")
    randoms = [np.random.default_rng(3) for _ in range(2)]
    twice = [wear.photographed(wear.stained(label, random, 4), random) for random in randoms]
    assert (twice[0] == twice[1]).all()
