"""A recall: where every kilogram of a lot is, down to the tags."""

from fractions import Fraction

from graphs import workshops
from hypothesis import given, settings
from shops_in_code import drawing, received, shop

from passport.massflow import settle
from passport.massflow.closure import Verdict
from passport.massflow.trace import shares_of_lot
from passport.massflow.whereabouts import whereabouts


@settings(max_examples=60, deadline=None)
@given(workshops())
def test_a_recall_reproduces_the_mass_of_the_lot(made):
    """All places together are the lot's own mass, and what is unaccounted is its share of every open weighing."""
    lots, runs = made
    ledger = settle(shop(lots=lots, runs=runs), {})
    for name in (n for n in lots if n.startswith("R")):
        found = whereabouts(ledger, name)
        assert sum(row.mass_kg for row in found) == ledger.masses[name].value
        shares = shares_of_lot(ledger, name)
        missing = sum((c.residual_kg * shares.get(f"{run}/", 0) for run, c in ledger.closures.items()), Fraction(0))
        missing += sum((s.difference_kg * shares.get(lot, 0) for lot, s in ledger.stock.items()), Fraction(0))
        assert sum(row.mass_kg for row in found if row.kind == "unaccounted") == missing
        assert Verdict.NOT_KNOWN not in {c.verdict for c in ledger.closures.values()}


def test_a_recall_names_the_tags_and_how_much_each_holds():
    """10 kg of used lids, 5 kg in a blend with 5 kg virgin, 8 kg of it in two pots: each holds 2 kg of the lids."""
    lots = {
        "IN-014": received("10 kg"),
        "V": received("5 kg", "VIRGIN"),
        "BL": drawing("10 kg", ("IN-014", "5 kg"), ("V", "5 kg")),
    }
    pot = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "mass": "4 kg each",
        "draws": [{"lot": "BL", "mass": "8 kg"}],
    }
    tags = {"RY-1": "POT", "RY-2": "POT"}
    ledger = settle(shop(lots=lots, items={"POT": pot}, tags=tags), {})
    assert [(r.kind, r.node, r.mass_kg, r.tags, r.each_kg) for r in whereabouts(ledger, "IN-014")] == [
        ("thing", "POT", 4, ("RY-1", "RY-2"), 2),
        ("stock", "IN-014", 5, (), None),
        ("stock", "BL", 1, (), None),
    ]


def test_what_repairs_put_into_things_names_those_things():
    """2 kg of lot B mend RY-1: they are in a thing, and the recall says in which."""
    lots = {
        "A": received("10 kg"),
        "B": received("10 kg"),
        "OLD": {"date": "2026-08-01", "run": "REP", "mass": "2 kg"},
    }
    pot = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "1",
        "mass": "8 kg",
        "draws": [{"lot": "A", "mass": "8 kg"}],
    }
    draws = [{"lot": "B", "mass": "2 kg"}, {"tag": "RY-1", "mass": "2 kg"}]
    repair = {"date": "2026-08-01", "operation": "repair", "draws": draws}
    built = shop(lots=lots, runs={"REP": repair}, items={"POT": pot}, tags={"RY-1": "POT"})
    assert [(r.kind, r.mass_kg, r.tags) for r in whereabouts(settle(built, {}), "B")] == [
        ("thing", 2, ("RY-1",)),
        ("stock", 8, ()),
    ]
