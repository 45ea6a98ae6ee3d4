"""Uncertainty of shares and balances against a second opinion, a general library for error propagation."""

import math
import random

import pytest
from graphs import STREAMS
from hypothesis import given, settings
from hypothesis import strategies as st
from shops_in_code import SCALES, drawing, received, result, run, shop
from uncertainties import UFloat, nominal_value, std_dev, ufloat

from passport.massflow import settle, stated_percent

ROOT3 = math.sqrt(3)


@st.composite
def chains(draw):
    """Received lots and blends of two earlier lots: (streams, [(a, grams of a, b, grams of b)])."""
    streams = draw(st.lists(st.sampled_from(STREAMS), min_size=2, max_size=4))
    blends = []
    for i in range(draw(st.integers(1, 6))):
        pair = draw(st.lists(st.integers(0, len(streams) + i - 1), min_size=2, max_size=2, unique=True))
        blends.append((pair[0], draw(st.integers(500, 9000)), pair[1], draw(st.integers(500, 9000))))
    return streams, blends


@settings(max_examples=60, deadline=None)
@given(chains())
def test_shares_of_random_graphs_agree_with_the_library(made):
    """First order, correlated through shared lots and the scale's bias, as the library computes it."""
    streams, blends = made
    lots = {f"L-{i}": received("90 kg", stream) for i, stream in enumerate(streams)}
    shares = [float(stream in ("POST", "PRE")) for stream in streams]
    bias = ufloat(0, 0.1 / ROOT3)
    for a, grams_a, b, grams_b in blends:
        mass_a, mass_b = on_the_floor_scale(grams_a, bias), on_the_floor_scale(grams_b, bias)
        shares.append((mass_a * shares[a] + mass_b * shares[b]) / (mass_a + mass_b))
        name = f"L-{len(lots)}"
        lots[name] = drawing("1 kg", (f"L-{a}", f"{grams_a} g"), (f"L-{b}", f"{grams_b} g"), scale="floor")
    ledger = settle(shop(lots=lots), {})
    for i, wanted in enumerate(shares):
        got = ledger.mixtures[f"L-{i}"].recycled()
        assert float(got.value) == pytest.approx(nominal_value(wanted), abs=1e-12)
        assert got.u == pytest.approx(std_dev(wanted), rel=1e-9, abs=1e-12)


def on_the_floor_scale(grams: int, bias: UFloat) -> UFloat:
    """One weighing: half a step of 0.1 kg and a repeat of ± 0.1 kg, new each time, beside the shared bias."""
    return ufloat(grams / 1000, math.hypot(0.05, 0.1) / ROOT3) + bias


def test_bias_adds_up_over_results_on_one_scale_and_cancels_between_in_and_out():
    """A sort into three on the scale it was drawn on: residual of 1 draw and 3 results, bias counted −2 times."""
    lots = {"A": received("60 kg"), "X": result("S", "30 kg"), "Y": result("S", "20 kg"), "Z": result("S", "10 kg")}
    closure = settle(shop(lots=lots, runs={"S": run(("A", "60 kg"))}), {}).closures["S"]
    single = math.hypot(0.05, 0.1) / ROOT3
    assert closure.u_kg == pytest.approx(math.hypot(2 * single, 2 * 0.1 / ROOT3))


def test_the_bias_cancels_in_gross_less_tare():
    """Gross and tare on one scale share its bias: what is left is two fresh weighings."""
    lot = {"date": "2026-04-11", "received": {"stream": "POST"}, "gross": "42 kg", "tare": "2 kg"}
    ledger = settle(shop(lots={"A": lot}), {})
    weighed = ledger.masses["A"]
    assert weighed.value == 40
    assert ledger.book.weighings.u(weighed) == pytest.approx(math.hypot(0.05, 0.1) / ROOT3 * math.sqrt(2))


def test_a_values_own_half_width_comes_before_its_scale():
    """42.6 ± 0.3 kg has u = 0.3/√3 whatever the scale (JCGM 100:2008, 4.3.7)."""
    ledger = settle(shop(lots={"A": received("42.6 ± 0.3 kg", scale="floor")}), {})
    assert ledger.book.weighings.u(ledger.masses["A"]) == pytest.approx(0.3 / ROOT3)


def test_without_scales_the_uncertainty_is_unknown_and_shares_still_come():
    """A workshop that states no scales gets shares without u, and no "at least" figure."""
    lots = {
        "A": received("6 kg"),
        "V": received("4 kg", "VIRGIN"),
        "B": drawing("10 kg", ("A", "6 kg"), ("V", "4 kg")),
    }
    ledger = settle(shop(lots=lots, scales={}), {})
    assert ledger.mixtures["B"].recycled().u is None
    assert ledger.mixtures["A"].recycled().u == 0.0
    assert ledger.closures["B"].u_kg is None


def test_all_pieces_of_a_lot_weigh_what_the_lot_weighs():
    """Drawing every piece adds no uncertainty of its own; drawing some adds how far pieces differ."""
    lots = {"BAR": received("60 kg", pieces="40", piece_spread="30 g", scale="bench")}
    runs = {"X": run({"lot": "BAR", "pieces": "40"}), "Y": run({"lot": "BAR", "pieces": "10"})}
    ledger = settle(shop(lots=lots, runs=runs), {})
    u = ledger.book.weighings.u
    assert u(ledger.book.draws["X"][0]) == pytest.approx(u(ledger.masses["BAR"]))
    uneven = 0.030 * math.sqrt(10 * (1 - 10 / 40)) / ROOT3
    assert u(ledger.book.draws["Y"][0]) == pytest.approx(math.hypot(u(ledger.masses["BAR"]) / 4, uneven))


def test_the_scales_of_these_tests_are_those_of_the_record_format():
    """The figures above rest on the scales as they stand in the shop of these tests."""
    assert SCALES["floor"] == {"step": "0.1 kg", "repeat": "0.1 kg", "bias": "0.1 kg"}


def test_the_uncertainty_of_a_sorts_lower_bound_agrees_with_the_library():
    """1 − Q(1 − x)/q with Q, x and q from three weighings on one scale, as the library propagates it."""
    lots = {"A": received("60 kg"), "V": received("40 kg", "VIRGIN"), "X": result("S", "80 kg", scale="floor")}
    runs = {"S": run(("A", "60 kg"), ("V", "40 kg"), scale="floor")}
    got = settle(shop(lots=lots, runs=runs), {}).mixtures["X"].recycled()
    bias = ufloat(0, 0.1 / ROOT3)
    used, virgin, heap = (on_the_floor_scale(grams, bias) for grams in (60_000, 40_000, 80_000))
    wanted = (used - (used + virgin - heap)) / heap
    assert float(got.low) == pytest.approx(nominal_value(wanted))
    assert got.u == pytest.approx(std_dev(wanted), rel=1e-9)


def test_stated_floors_hold_in_at_least_95_percent_of_simulated_weighings():
    """A blend of truly 30 % weighed 2,000 times with random errors: the stated figure is at most the truth.

    One-sided 95 % by JCGM 106:2012, clause 8. Seed fixed; three standard deviations of counting are allowed.
    """
    chance, rounds, truth = random.Random(20260520), 2000, 0.30  # noqa: S311 - a simulation
    held = 0
    for _ in range(rounds):
        bias = chance.uniform(-0.1, 0.1)
        used, virgin = (round((mass + chance.uniform(-0.1, 0.1) + bias) * 10) / 10 for mass in (0.9, 2.1))
        lots = {
            "A": received("9 kg"),
            "V": received("9 kg", "VIRGIN"),
            "B": drawing("3 kg", ("A", f"{used:.1f} kg"), ("V", f"{virgin:.1f} kg"), scale="floor"),
        }
        share = settle(shop(lots=lots), {}).mixtures["B"].recycled()
        held += float(share.low) - 1.645 * share.u <= truth
    assert held / rounds >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / rounds)


def weighed_chain(chance, bias, stages):
    """Lots of blends on blends as the floor scale shows them: each blend takes the one before and virgin."""
    lots = {"A": received("99 kg"), "V": received("999 kg", "VIRGIN")}
    last = "A"
    for i, (of_last, of_virgin) in enumerate(stages):
        shown = [round((mass + chance.uniform(-0.1, 0.1) + bias) * 10) / 10 for mass in (of_last, of_virgin)]
        draws = [(name, f"{mass:.1f} kg") for name, mass in zip((last, "V"), shown, strict=True)]
        lots[f"B-{i}"] = drawing(f"{of_last + of_virgin:.1f} kg", *draws, scale="floor")
        last = f"B-{i}"
    return settle(shop(lots=lots), {}).mixtures[last].recycled()


def test_stated_figures_of_chains_hold_in_at_least_95_percent_of_simulated_weighings():
    """Twelve random chains of one to four blends, each weighed 100 times: what is stated is at most the truth.

    One-sided 95 % by JCGM 106:2012, clause 8; the floor to a whole percent only adds to it. Seed fixed.
    """
    chance, held, rounds = random.Random(20260521), 0, 0  # noqa: S311 - a simulation
    for _ in range(12):
        stages = [(chance.uniform(1, 5), chance.uniform(0.5, 3)) for _ in range(chance.randint(1, 4))]
        truth = math.prod(a / (a + b) for a, b in stages)
        for _ in range(100):
            share = weighed_chain(chance, chance.uniform(-0.1, 0.1), stages)
            held += stated_percent(share) <= truth * 100
            rounds += 1
    assert held / rounds >= 0.95
