"""The chain-of-custody model of lots, in the order of ISO 22095:2020, the weakest input deciding."""

from shops_in_code import drawing, received, result, run, shop

from passport.massflow import settle
from passport.massflow.custody import Custody, custody


def test_each_model_follows_from_what_was_pooled():
    """One lot: identity preserved; like lots: segregated; with virgin: controlled blending (3.3.1 to 3.3.3).

    The rule for pools is constructed, consistent with the definitions.
    """
    lots = {
        "A": received("10 kg"),
        "B": received("10 kg"),
        "V": received("10 kg", "VIRGIN"),
        "U": received("10 kg", "UNKNOWN"),
        "ONE": drawing("5 kg", ("A", "5 kg"), operation="shred"),
        "LIKE": drawing("2 kg", ("A", "1 kg"), ("B", "1 kg")),
        "BLEND": drawing("2 kg", ("LIKE", "1 kg"), ("V", "1 kg"), date="2026-04-21"),
        "AFTER": drawing("1 kg", ("BLEND", "1 kg"), date="2026-04-22", operation="mould"),
        "DARK": drawing("2 kg", ("A", "1 kg"), ("U", "1 kg")),
    }
    found = custody(settle(shop(lots=lots), {"A": "PP", "B": "PP", "V": "PP", "U": "PP"}))
    assert found["ONE"] is Custody.IDENTITY_PRESERVED
    assert found["LIKE"] is Custody.SEGREGATED
    assert found["BLEND"] is found["AFTER"] is Custody.CONTROLLED_BLENDING
    assert found["DARK"] is Custody.NOT_KNOWN
    assert found["LIKE"].words == "segregated"


def test_a_sort_of_two_origins_leaves_no_model():
    """Where a sort leaves the share of an origin open, no proportion is known and no model holds."""
    lots = {"A": received("60 kg"), "V": received("40 kg", "VIRGIN")}
    lots |= {name: result("S", "50 kg") for name in ("X", "Y")}
    ledger = settle(shop(lots=lots, runs={"S": run(("A", "60 kg"), ("V", "40 kg"))}), {})
    assert custody(ledger)["X"] is Custody.NOT_KNOWN
