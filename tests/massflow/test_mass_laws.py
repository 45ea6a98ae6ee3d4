"""Laws that hold for every workshop, on random ones."""

import random
from fractions import Fraction

from graphs import grams, workshops
from hypothesis import given, settings
from hypothesis import strategies as st
from shops_in_code import drawing, received, result, run, shop

from passport.massflow import reached_from, settle, shop_balance, shop_balances_by, sources_of

FIELDS = ("origin", "stream", "resin", "weathering", "melts", "lives")
some = settings(max_examples=60, deadline=None)


@some
@given(workshops())
def test_shares_of_every_lot_add_up_to_one(made):
    """Whatever happened, the shares of each dimension are those of the whole lot."""
    lots, runs = made
    ledger = settle(shop(lots=lots, runs=runs), {})
    for mixture in ledger.mixtures.values():
        assert sum(mixture.portions.values()) == 1
        for field in FIELDS:
            assert sum(share.value for share in mixture.shares_by(field).values()) == 1


@some
@given(workshops())
def test_mass_is_conserved_in_total_and_by_class(made):
    """What came in is accounted for but for the residuals and stock differences, which are stated."""
    lots, runs = made
    ledger = settle(shop(lots=lots, runs=runs), {"L-00": "PP"})
    whole = shop_balance(ledger)
    residuals = sum(c.residual_kg for c in ledger.closures.values() if c.residual_kg is not None)
    assert whole.unaccounted_kg == residuals + sum(s.difference_kg for s in ledger.stock.values())
    for dimension in ("origin", "stream", "resin"):
        classes = shop_balances_by(ledger, dimension).values()
        assert sum(c.unaccounted_kg for c in classes) == whole.unaccounted_kg
        assert sum(c.received_kg for c in classes) == whole.received_kg


@some
@given(workshops())
def test_traces_add_up_both_ways(made):
    """Backwards the masses are the lot's own; forwards each lot says the same of the source."""
    lots, runs = made
    ledger = settle(shop(lots=lots, runs=runs), {})
    forward = {name: {r.node: r.share for r in reached_from(ledger, name)} for name in lots if name.startswith("R")}
    for name in ledger.order:
        found = sources_of(ledger, name)
        assert sum(o.mass_kg for o in found) == ledger.masses[name].value
        for origin in found:
            assert name == origin.lot or forward[origin.lot][name] == origin.share


@some
@given(workshops(), st.randoms(use_true_random=False))
def test_the_order_of_records_is_irrelevant(made, chance):
    """The same records in another order give the same books."""
    lots, runs = made
    one = shop(lots=lots, runs=runs)
    other = shop(lots=shuffled(lots, chance), runs=shuffled(runs, chance))
    object.__setattr__(other, "lots", shuffled(one.lots, chance))
    first, second = settle(one, {}), settle(other, {})
    for name in lots:
        assert first.mixtures[name].portions == second.mixtures[name].portions
    assert first.doubts == second.doubts
    assert first.order == second.order


def shuffled(mapping, chance: random.Random):
    """The same mapping in another order."""
    names = list(mapping)
    chance.shuffle(names)
    return {name: mapping[name] for name in names}


@some
@given(workshops(largest=5), st.integers(2, 50))
def test_scaling_all_masses_changes_no_share(made, factor):
    """Grams read as so many times as much give the same shares and bounds."""
    lots, runs = made
    small = settle(shop(lots=lots, runs=runs), {})
    big = settle(shop(lots=scaled(lots, factor), runs=scaled(runs, factor)), {})
    for name in lots:
        one, other = small.mixtures[name].recycled(), big.mixtures[name].recycled()
        assert (one.value, one.low, one.high) == (other.value, other.low, other.high)


def scaled(tree, factor):
    """The tree of records with every mass in grams times a factor."""
    if isinstance(tree, dict):
        return {key: scaled(value, factor) for key, value in tree.items()}
    if isinstance(tree, list):
        return [scaled(value, factor) for value in tree]
    return f"{int(tree[:-2]) * factor} g" if tree.endswith(" g") and tree[:-2].isdigit() else tree


@some
@given(grams, grams, grams, st.integers(1, 9))
def test_split_and_merging_back_restores_every_share(used, virgin, half, rest):
    """A split changes no share, and what was split and merged is what it was."""
    total, other = used + virgin, half + rest
    lots = {
        "A": received(f"{used} g"),
        "V": received(f"{virgin} g", "VIRGIN"),
        "B": drawing(f"{total} g", ("A", f"{used} g"), ("V", f"{virgin} g")),
        "ONE": result("SP", f"{half} g"),
        "TWO": result("SP", f"{rest} g"),
        "BACK": drawing(f"{other} g", ("ONE", f"{half} g"), ("TWO", f"{rest} g"), operation="merge"),
    }
    ledger = settle(shop(lots=lots, runs={"SP": run(("B", f"{total} g"), operation="split")}), {})
    before = ledger.mixtures["B"].portions
    assert all(ledger.mixtures[name].portions == before for name in ("ONE", "TWO", "BACK"))


@some
@given(grams, grams, st.lists(grams, min_size=1, max_size=5))
def test_own_offcuts_fed_back_never_raise_the_recycled_share(used, virgin, rounds):
    """However often and in whatever amount offcuts go back in, the share of each origin stays.

    ISO 14021, exclusion of rework and regrind (rule confirmed).
    """
    lots = {
        "A": received(f"{used} g"),
        "V": received(f"{virgin} g", "VIRGIN"),
        "B-0": drawing("1 kg", ("A", f"{used} g"), ("V", f"{virgin} g")),
    }
    runs = {}
    for i, own in enumerate(rounds):
        runs[f"EX-{i}"] = run((f"B-{i}", "1 kg"), operation="extrude")
        lots[f"OC-{i}"] = result(f"EX-{i}", f"{own} g", form="offcuts")
        lots[f"B-{i + 1}"] = drawing("1 kg", (f"OC-{i}", f"{own} g"), (f"B-{i}", "100 g"))
    ledger = settle(shop(lots=lots, runs=runs), {})
    wanted = Fraction(used, used + virgin)
    assert all(ledger.mixtures[name].recycled().value == wanted for name in lots if name[0] in "BO")


@some
@given(st.lists(st.tuples(grams, st.booleans(), st.booleans()), min_size=2, max_size=12))
def test_the_bounds_of_a_sort_contain_the_truth(pieces):
    """Pieces of known class thrown into two heaps at will: each heap's true share is within its bounds."""
    used = sum(g for g, is_used, _ in pieces if is_used)
    virgin = sum(g for g, is_used, _ in pieces if not is_used)
    lots = {"A": received(f"{used} g"), "V": received(f"{virgin} g", "VIRGIN")}
    draws = [d for d in (("A", f"{used} g"), ("V", f"{virgin} g")) if d[1] != "0 g"]
    heaps = {}
    for name, side in (("LEFT", True), ("RIGHT", False)):
        inside = [(g, is_used) for g, is_used, left in pieces if left is side]
        if inside:
            whole = sum(g for g, _ in inside)
            heaps[name] = Fraction(sum(g for g, is_used in inside if is_used), whole)
            lots[name] = result("SO", f"{whole} g")
    ledger = settle(shop(lots=lots, runs={"SO": run(*draws)}), {})
    for name, truth in heaps.items():
        share = ledger.mixtures[name].recycled()
        assert share.low <= truth <= share.high
