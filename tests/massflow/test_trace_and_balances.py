"""Traces reproduce masses, balances add up, a sort's bounds follow its masses."""

from fractions import Fraction

import pytest
from shops_in_code import drawing, received, result, run, shop

from passport.massflow import (
    lineage,
    outside_balance,
    outside_balances_by,
    reached_from,
    settle,
    shop_balance,
    shop_balances_by,
    sources_of,
)


@pytest.fixture(scope="module")
def ledger():
    """Two streams, a sort, a blend, an extrusion, four tubs of which one came back, one was lost."""
    lots = {
        "IN-1": received("60 kg"),
        "IN-2": received("20 kg", "VIRGIN"),
        "S-1": result("SO-1", "40 kg"),
        "S-2": result("SO-1", "19.5 kg"),
        "BL": drawing("50 kg", ("S-1", "40 kg"), ("IN-2", "10 kg")),
        "BAR": result("EX", "48 kg", pieces="32"),
        "PG": result("EX", "1.9 kg", form="purge"),
        "BACK": {"date": "2026-09-01", "received": {"tags": [{"tag": "RY-1"}]}, "mass": "10.2 kg"},
    }
    runs = {
        "SO-1": run({"lot": "IN-1", "mass": "60 kg", "empties": "yes"}, losses={"sand": "0.4 kg"}),
        "EX": run(("BL", "50 kg"), operation="extrude"),
    }
    items = {
        "TUB": {
            "product": "planter",
            "date": "2026-05-20",
            "count": "4",
            "mass": "10 kg each",
            "draws": [{"lot": "BAR", "pieces": "27"}],
            "losses": {"sawdust": "0.4 kg"},
        }
    }
    events = [
        {"date": "2026-06-01", "tag": "RY-1", "event": "handed-over"},
        {"date": "2026-06-01", "tag": "RY-2", "event": "handed-over"},
        {"date": "2026-06-01", "tag": "RY-3", "event": "handed-over"},
        {"date": "2026-07-01", "tag": "RY-2", "event": "lost"},
        {"date": "2026-07-01", "lot": "S-2", "event": "sent", "to": "a sorting plant", "mass": "10 kg"},
        {"date": "2026-07-02", "lot": "S-2", "event": "weighed", "mass": "9.3 kg", "because": "yearly count"},
        {"date": "2026-07-03", "lot": "S-2", "event": "written-off", "mass": "0.3 kg", "because": "mouldy"},
    ]
    tags = {f"RY-{i}": "TUB" for i in range(1, 5)}
    return settle(shop(lots=lots, runs=runs, items=items, events=events, tags=tags), {"S-1": "PP", "S-2": "PE-HD"})


def test_a_trace_backwards_adds_up_to_the_mass(ledger):
    """The tubs' 40 kg are 32 kg of IN-1 and 8 kg of IN-2."""
    found = sources_of(ledger, "TUB")
    assert [(o.lot, o.stream, o.mass_kg) for o in found] == [("IN-1", "POST", 32), ("IN-2", "VIRGIN", 8)]
    assert sum(o.share for o in found) == 1


def test_a_recall_reaches_every_tag_with_its_mass(ledger):
    """Of IN-2, each tub holds 2 kg, and the tub that came back holds it still."""
    found = {r.node: r for r in reached_from(ledger, "IN-2")}
    assert sorted(found) == ["BACK", "BAR", "BL", "PG", "TUB"]
    assert found["TUB"].each_kg == 2
    assert found["TUB"].tags == ("RY-1", "RY-2", "RY-3", "RY-4")
    assert found["BACK"].mass_kg == Fraction("2.04")


def test_a_drawn_family_tree_has_streams_first_and_masses_on_edges(ledger):
    """The lineage of the tubs: streams, lots, item; each node's edges add up to its mass."""
    tree = lineage(ledger, "TUB")
    assert [(n.kind, n.id) for n in tree.nodes[:2]] == [("stream", "POST"), ("stream", "VIRGIN")]
    assert tree.nodes[-1].id == "TUB"
    into = {}
    for edge in tree.edges:
        into[edge.target] = into.get(edge.target, 0) + edge.mass_kg
    assert into == {n.id: n.mass_kg for n in tree.nodes if n.kind != "stream"}


def test_the_shop_balance_is_exact_and_its_rest_is_that_of_runs_and_stocks(ledger):
    """Unaccounted is the sum of all residuals and stock differences, to the last gram."""
    balance = shop_balance(ledger)
    residuals = sum(c.residual_kg for c in ledger.closures.values())
    differences = sum(s.difference_kg for s in ledger.stock.values())
    assert balance.unaccounted_kg == residuals + differences
    assert balance.received_kg == 80
    assert balance.came_back_kg == Fraction("10.2")
    assert balance.things_out_kg == 40
    assert balance.sent_kg == 10
    assert balance.adjusted_kg == Fraction("-0.2")
    assert balance.written_off_kg == Fraction("0.3")
    assert balance.stock_kg == Fraction("10") + Fraction("7.5") + Fraction("1.9") + 9 + Fraction("10.2")


@pytest.mark.parametrize("dimension", ["origin", "stream", "resin", "weathering"])
def test_balances_by_class_add_up_to_the_whole(ledger, dimension):
    """Each term of the whole is the sum of that term over the classes; renaming adds up to nothing."""
    whole, classes = shop_balance(ledger), shop_balances_by(ledger, dimension).values()
    for term in ("received_kg", "gains_kg", "things_out_kg", "sent_kg", "losses_kg", "stock_kg", "unaccounted_kg"):
        assert sum(getattr(c, term) for c in classes) == getattr(whole, term)
    assert sum(c.renamed_kg for c in classes) == 0


def test_the_balance_by_resin_shows_what_sorting_named(ledger):
    """40 kg became PP and 19.5 kg PE-HD by name, taken from what had none."""
    by_resin = shop_balances_by(ledger, "resin")
    assert by_resin["PP"].renamed_kg == 40
    assert by_resin["PE-HD"].renamed_kg == Fraction("19.5")
    assert by_resin["unknown"].renamed_kg == Fraction("-59.5")


def test_things_out_are_in_use_at_the_shop_back_or_gone(ledger):
    """Of four tubs one came back, one was lost, one is in use, one never left."""
    outside = outside_balance(ledger)
    assert outside.things_out_kg == 40
    assert outside.came_back_kg == 10
    assert outside.gone_kg == 10
    assert outside.at_the_shop_kg == 10
    assert outside.in_use_kg == 10
    assert sum(o.in_use_kg for o in outside_balances_by(ledger, "stream").values()) == 10


def test_the_balance_of_a_while_starts_from_the_stock_before_it(ledger):
    """The balance of the summer opens with May's stock and closes like the whole one."""
    earlier = settle(ledger.shop, {"S-1": "PP", "S-2": "PE-HD"}, ledger.shop.items["TUB"].date)
    summer = shop_balance(ledger).since(shop_balance(earlier))
    assert summer.opening_kg == shop_balance(earlier).stock_kg
    assert summer.received_kg == 0
    assert summer.sent_kg == 10
    assert summer.unaccounted_kg == 0


def test_what_was_handed_over_comes_back_as_post_consumer_with_one_more_life(ledger):
    """The tub's virgin fifth is post-consumer after its use; its streams stay as ancestry."""
    back = ledger.mixtures["BACK"]
    assert back.post_consumer().value == 1
    four, one = Fraction(4, 5), Fraction(1, 5)
    assert {k: s.value for k, s in back.shares_by("stream").items()} == {"POST": four, "VIRGIN": one}
    assert {k: s.value for k, s in back.shares_by("lives").items()} == {"2": four, "1": one}


def test_a_sort_of_two_streams_gives_bounds_and_claims_use_the_lower_one():
    """60 kg used and 40 kg virgin sorted into 80 and 20 kg: the 80 kg hold at least 40 kg used, the 20 kg none.

    max(0, (T − (Q − q))/q) … min(1, T/q) with T = 60, Q = 100: q = 80 gives 40/80 … 60/80; q = 20 gives 0 … 1.
    """
    lots = {
        "A": received("60 kg"),
        "V": received("40 kg", "VIRGIN"),
        "BIG": result("SO", "80 kg"),
        "SMALL": result("SO", "20 kg"),
        "NEXT": drawing("100 kg", ("BIG", "80 kg"), ("SMALL", "20 kg"), date="2026-04-21"),
    }
    ledger = settle(shop(lots=lots, runs={"SO": run(("A", "60 kg"), ("V", "40 kg"))}), {})
    big, small = ledger.mixtures["BIG"].recycled(), ledger.mixtures["SMALL"].recycled()
    assert (big.low, big.value, big.high) == (Fraction(1, 2), Fraction(3, 5), Fraction(3, 4))
    assert (small.low, small.high) == (0, 1)
    assert ledger.mixtures["NEXT"].recycled().low == Fraction(2, 5)
