"""The example chain of the record format: every run of it closes, and the planter's make-up follows."""

from fractions import Fraction

import pytest
from shops_in_code import received, result, run, shop

from passport.massflow import Verdict, of_item, of_plastic, settle, stated_percent


@pytest.fixture(scope="module")
def ledger():
    """Sort, shred, blend, extrude, assemble: masses as in the description of the records."""
    lots = {
        "IN-031": received("62.4 kg", pieces="44", scale="floor", weathering="light"),
        "HD-031": result("SO-014", "55.2 kg"),
        "PP-031": result("SO-014", "4.1 kg"),
        "RJ-031": result("SO-014", "2.6 kg"),
        "SH-021": {
            "date": "2026-04-22",
            "operation": "shred",
            "draws": [{"lot": "HD-031", "mass": "55.2 kg", "empties": "yes"}],
            "losses": {"dust": "0.2 kg"},
            "mass": "54.9 kg",
            "scale": "floor",
            "moisture": "0.5 %",
        },
        "BL-007": {
            "date": "2026-04-25",
            "operation": "blend",
            "draws": [{"lot": "SH-021", "mass": "52.0 kg"}],
            "mass": "52.0 kg",
        },
        "BAR-009": result("EX-009", "50.0 kg", pieces="40", piece_spread="30 g", date="2026-05-05"),
        "PG-009": result("EX-009", "1.2 kg", form="purge", date="2026-05-05"),
        "HL-009": result("EX-009", "0.7 kg", form="heel", date="2026-05-05"),
        "OC-011": result("PL-2026-05", "1.7 kg", form="offcuts", date="2026-05-20", part="body"),
    }
    runs = {
        "SO-014": run({"lot": "IN-031", "mass": "62.4 kg", "empties": "yes"}, losses={"sand": "0.4 kg"}),
        "EX-009": run(("BL-007", "52.0 kg"), operation="extrude", date="2026-05-05"),
    }
    items = {
        "PL-2026-05": {
            "product": "planter",
            "date": "2026-05-20",
            "count": "2",
            "mass": "16.6 kg each",
            "parts": [{"part": "body", "draws": [{"lot": "BAR-009", "pieces": "28"}]}],
            "losses": {"sawdust": "0.1 kg"},
            "hardware": [{"what": "stainless screws", "material": "steel", "count": "8 each", "mass": "32 g each"}],
        }
    }
    resins = {"IN-031": "", "HD-031": "PE-HD", "PP-031": "PP"}
    return settle(shop(lots=lots, runs=runs, items=items), resins)


def test_every_run_of_the_chain_closes(ledger):
    """Each run of the example closes within twice its weighing uncertainty."""
    assert {name: c.verdict for name, c in ledger.closures.items()} == dict.fromkeys(
        ["BL-007", "EX-009", "PL-2026-05", "SH-021", "SO-014"], Verdict.CLOSED
    )


def test_the_residuals_are_those_written_beside_the_example(ledger):
    """The sort leaves 0.1 kg, the extrusion 0.1 kg, the planters nothing: 35.0 = 33.2 + 1.7 + 0.1."""
    left = {name: c.residual_kg for name, c in ledger.closures.items()}
    assert left["SO-014"] == Fraction("0.1")
    assert left["EX-009"] == Fraction("0.1")
    assert left["PL-2026-05"] == 0
    assert ledger.closures["PL-2026-05"].drawn_kg == 35


def test_the_sorted_resin_reaches_the_planter_melted_once(ledger):
    """What the sort named is the planter's resin, and one extrusion has melted it."""
    planter = ledger.mixtures["PL-2026-05"]
    assert [(k, s.value) for k, s in planter.shares_by("resin").items()] == [("PE-HD", 1)]
    assert list(planter.shares_by("melts")) == ["1"]
    assert list(planter.shares_by("lives")) == ["1"]


def test_one_stream_of_used_things_makes_a_planter_all_recycled_by_record(ledger):
    """A single post-consumer stream gives 100 % of plastic; the steel screws lower the whole item."""
    plastic, whole = of_plastic(ledger, "PL-2026-05"), of_item(ledger, "PL-2026-05")
    assert stated_percent(plastic) == 100
    assert whole is not None
    assert whole.value == Fraction("33.2") / Fraction("33.264")
    assert stated_percent(whole) == 99


def test_stock_is_what_the_draws_left(ledger):
    """BAR-009 keeps 12 of 40 bars, SH-021 keeps 2.9 kg, HD-031 was emptied."""
    assert ledger.stock["BAR-009"].books_kg == 15
    assert ledger.stock["SH-021"].books_kg == Fraction("2.9")
    assert ledger.stock["HD-031"].emptied is not None
    assert ledger.doubts == ()
