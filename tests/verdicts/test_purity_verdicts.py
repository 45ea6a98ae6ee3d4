"""Purity of lots and blends: from their own samples, through runs that leave a material what it is."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import pytest
from scipy import stats
from shops_in_code import drawing, received, result, run, shop

from passport.massflow import Ledger, settle
from passport.material.purity import CONFIDENCE
from passport.verdicts import purity

READ = {"test": "nir", "reads": "PP", "drawn": "random"}


def sampled(mass: str, pieces: str, **more: object) -> dict[str, object]:
    """A received lot with a random sample of PP."""
    return received(mass, evidence=[{**READ, "pieces": pieces, **more}], moisture="0 %")


def ledger(lots: Mapping[str, object], **more: object) -> Ledger:
    """A shop settled with every lot as PP."""
    return settle(shop(lots=lots, **more), dict.fromkeys(lots, "PP"), None)


def clopper(good: int, read: int, confidence: float) -> float:
    """The bound as scipy has it, by another road than ours (beta quantile)."""
    return float(stats.beta.ppf(1 - confidence, good, read - good + 1))


def test_a_lot_answers_by_its_own_sample() -> None:
    """30 of 30 read as PP: 0.05 ** (1/30) = 0.9050 (Clopper and Pearson 1934)."""
    verdict = purity.of_node(ledger({"A-1": sampled("10 kg", "30")}), "A-1", "PP")
    assert verdict.value is not None
    assert float(verdict.value.bound.at_least) == pytest.approx(0.05 ** (1 / 30), abs=1e-6)
    assert (verdict.value.read, verdict.value.own, verdict.value.all_read) == (30, True, False)
    assert verdict.basis == ("A-1",)


def test_picked_pieces_give_none() -> None:
    """Pieces that somebody chose say nothing about the rest."""
    lots = {"A-1": received("10 kg", evidence=[{**READ, "pieces": "30", "drawn": "picked"}])}
    assert purity.of_node(ledger(lots), "A-1", "PP").value is None


def test_dark_pieces_count_as_something_else() -> None:
    """20 read, 6 of them without a reading: 14 of 20 count (scipy's beta quantile)."""
    lots = {"A-1": sampled("10 kg", "20", others={"no reading": "6"})}
    found = purity.of_node(ledger(lots), "A-1", "PP").value
    assert found is not None
    assert float(found.bound.at_least) == pytest.approx(clopper(14, 20, 0.95), abs=1e-6)


def test_shredding_and_blending_carry_it() -> None:
    """A blend of 10 and 20 kg is bounded by w L at the confidence shared between two samples (Bonferroni)."""
    lots = {
        "A-1": sampled("10 kg", "30"),
        "B-1": sampled("20 kg", "60"),
        "SH-1": drawing("10 kg", ("A-1", "10 kg"), operation="shred", moisture="0 %"),
        "BL-1": drawing("30 kg", ("SH-1", "10 kg"), ("B-1", "20 kg"), moisture="0 %"),
    }
    found = purity.of_node(ledger(lots), "BL-1", "PP")
    assert found.value is not None
    assert found.value.bound.confidence == CONFIDENCE
    wanted = clopper(30, 30, 0.975) / 3 + clopper(60, 60, 0.975) * 2 / 3
    assert float(found.value.bound.at_least) == pytest.approx(wanted, abs=2e-6)
    assert set(found.basis) == {"A-1", "B-1"}
    assert not found.value.own


def test_a_sample_met_twice_is_one() -> None:
    """Two blends of one sampled lot put together still rest on one sample, and keep its full confidence."""
    lots = {
        "A-1": sampled("20 kg", "30"),
        "SH-1": drawing("10 kg", ("A-1", "10 kg"), operation="shred", moisture="0 %"),
        "SH-2": drawing("10 kg", ("A-1", "10 kg"), operation="shred", moisture="0 %"),
        "BL-1": drawing("20 kg", ("SH-1", "10 kg"), ("SH-2", "10 kg"), moisture="0 %"),
    }
    found = purity.of_node(ledger(lots), "BL-1", "PP").value
    assert found is not None
    assert float(found.bound.at_least) == pytest.approx(0.05 ** (1 / 30), abs=1e-6)
    assert found.read == 30


def test_a_lot_nobody_sampled_counts_as_something_else() -> None:
    """Half of a blend without a sample halves the bound, and the half is named."""
    lots = {
        "A-1": sampled("10 kg", "30"),
        "B-1": received("10 kg", moisture="0 %"),
        "BL-1": drawing("20 kg", ("A-1", "10 kg"), ("B-1", "10 kg"), moisture="0 %"),
    }
    found = purity.of_node(ledger(lots), "BL-1", "PP").value
    assert found is not None
    assert float(found.bound.at_least) == pytest.approx(0.05 ** (1 / 30) / 2, abs=1e-6)
    assert found.unsampled == Fraction(1, 2)


def test_a_sort_ends_the_search() -> None:
    """What was read before a sort says nothing about one of its heaps."""
    lots = {"A-1": sampled("10 kg", "30"), "PP-1": result("SO-1", "9 kg"), "RJ-1": result("SO-1", "1 kg")}
    settled = ledger(lots, runs={"SO-1": run(("A-1", "10 kg"))})
    assert purity.of_node(settled, "RJ-1", "PP").value is None
    assert purity.of_node(settled, "PP-1", "PP").value is None


def test_an_unweighed_draw_ends_the_search() -> None:
    """Where a draw was not weighed no share is known, so nothing is said."""
    lots = {
        "A-1": sampled("10 kg", "30"),
        "B-1": received("10 kg"),
        "BL-1": drawing("20 kg", ("A-1", "10 kg"), ("B-1", "not weighed")),
    }
    assert purity.of_node(ledger(lots), "BL-1", "PP").value is None


def test_a_whole_lot_read_is_counted() -> None:
    """Where every piece was read there is no chance in it: the share is the count."""
    lots = {"A-1": {**sampled("10 kg", "17", others={"PS": "1"}, drawn="all"), "pieces": "17"}}
    found = purity.of_node(ledger(lots), "A-1", "PP").value
    assert found is not None
    assert (found.all_read, found.bound.at_least) == (True, Fraction(16, 17))
