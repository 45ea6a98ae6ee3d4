"""Every figure has its way back: formulas, records and rules, sources first."""

import pytest
from shops_in_code import drawing, received, shop

from passport.massflow import settle
from passport.massflow.explain import explain


@pytest.fixture(scope="module")
def ledger():
    """6 kg used and 4 kg virgin, blended, then moulded into two pots with a steel hook each."""
    lots = {
        "A": received("6 kg"),
        "V": received("4 kg", "VIRGIN"),
        "B": drawing("10 kg", ("A", "6 ± 0.02 kg"), ("V", "4 ± 0.02 kg")),
    }
    pot = {
        "product": "planter",
        "date": "2026-05-01",
        "count": "2",
        "mass": "4.5 kg each",
        "draws": [{"lot": "B", "mass": "9 kg"}],
        "operation": "mould",
        "hardware": [{"what": "hook", "material": "steel", "mass": "0.5 kg each"}],
    }
    return settle(shop(lots=lots, items={"POT": pot}), {})


def test_recycled_content_is_explained_as_a_person_checks_it(ledger):
    """Received, blended, moulded, with hardware, stated: each line with its formula and value."""
    said = [(step.about, step.formula, step.value) for step in explain(ledger, "POT")]
    assert said == [
        ("A", "received from POST: post-consumer 100 %", "100 %"),
        ("V", "received from VIRGIN: virgin 100 %", "0 %"),
        ("B, all it drew", "(6 kg × 100 % + 4 kg × 0 %) / 10 kg", "60 %"),
        ("B", "as B, all it drew", "60 %"),
        ("POT", "as B", "60 %"),
        ("POT", "9 kg × 60 % / (9 kg + 1 kg hardware)", "54 % of the whole item"),
        ("POT", "60 % − 1.645 × 0.083 %", "at least 59 %"),
    ]


def test_other_figures_are_explained_too(ledger):
    """Mass, stock and closure name what they rest on; an unknown figure is refused."""
    assert explain(ledger, "B", "stock")[0].formula == "10 kg − 9 kg drawn"
    assert explain(ledger, "POT", "mass")[0].value == "9 kg, u 0.17 kg"
    assert explain(ledger, "B", "closure")[0].formula == "10 kg drawn + 0 kg gains − 10 kg results − 0 kg losses"
    assert explain(ledger, "POT", "melts:1")[-1].value == "100 %"
    with pytest.raises(ValueError, match='met the figure "weight", wanted one of recycled, post-consumer'):
        explain(ledger, "POT", "weight")


def test_what_is_withheld_says_so():
    """An open run above gives no figure, and the explanation says why."""
    lots = {"A": received("60 kg"), "B": drawing("50 kg", ("A", "60 kg"))}
    last = explain(settle(shop(lots=lots), {}), "B")[-1]
    assert (last.formula, last.value) == ("withheld: a balance above is open", "no figure")
