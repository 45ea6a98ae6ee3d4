"""Where all things are, piece by piece: the outside balance against a sum made one thing at a time."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st
from shops_in_code import received, result, run, shop

from passport.massflow import outside_balance, settle, shop_balance
from passport.massflow.balances import outside_balances_by

BODY, LID, NEW = 800, 200, 230
"""Grams of a box's two parts, and of the lid that a repair puts in its place."""
FATES = ("at the shop", "in use", "lost", "back", "body back", "cut up")
BOX = {
    "product": "planter",
    "date": "2026-05-01",
    "parts": [
        {"part": "body", "mass": f"{BODY} g", "draws": [{"lot": "A", "mass": "1 kg"}]},
        {"part": "lid", "mass": f"{LID} g", "draws": [{"lot": "V", "mass": "1 kg"}]},
    ],
}


def world(things):
    """The books of boxes of which each was mended or not, and met its fate."""
    lots = {"A": received("90 kg", moisture="1 %"), "V": received("90 kg", "VIRGIN")}
    runs, events = {}, []
    for number, (mended, fate) in enumerate(things):
        tag = f"RY-{number}"
        if mended:
            draws = ({"lot": "A", "mass": f"{NEW} g"}, {"tag": tag, "part": "lid", "mass": f"{LID} g"})
            runs[f"REP{number}"] = run(*draws, operation="repair", date="2026-06-01")
            lots[f"OLD{number}"] = result(f"REP{number}", f"{LID} g", date="2026-06-01")
        if fate not in ("at the shop", "cut up"):
            events.append({"date": "2026-07-01", "tag": tag, "event": "handed-over", "place": "quay"})
        if fate == "lost":
            events.append({"date": "2026-08-01", "tag": tag, "event": "lost"})
        if fate in ("back", "body back"):
            parts = {"parts": ["body"], "not_back": ["lid"]} if fate == "body back" else {}
            came = {"tags": [{"tag": tag, **parts}]}
            lots[f"BACK{number}"] = {"date": "2026-08-01", "received": came, "mass": "1 kg"}
        if fate == "cut up":
            draws = [{"tag": tag, "mass": "1 kg"}]
            lots[f"CUT{number}"] = {"date": "2026-08-01", "operation": "shred", "draws": draws, "mass": "1 kg"}
    item = {**BOX, "count": str(len(things))}
    tags = {f"RY-{number}": "I" for number in range(len(things))}
    return settle(shop(lots=lots, runs=runs, items={"I": item}, tags=tags, events=events), {})


def by_hand(things):
    """Grams out, at the shop, in use, back and gone: one box after the other."""
    sums = dict.fromkeys(("out", "shop", "use", "back", "gone"), 0)
    for mended, fate in things:
        lid = NEW if mended else LID
        sums["out"] += BODY + LID + (NEW if mended else 0)
        sums["back"] += LID if mended else 0
        where = {"at the shop": "shop", "in use": "use", "lost": "gone"}.get(fate, "back")
        sums[where] += BODY
        sums["use" if fate == "body back" else where] += lid
    return sums


@settings(max_examples=40)
@given(st.lists(st.tuples(st.booleans(), st.sampled_from(FATES)), min_size=1, max_size=5))
def test_every_gram_is_where_its_thing_is(things):
    """At the shop, in use, back or gone; and in every class nothing is less than none."""
    ledger = world(things)
    found, wanted = outside_balance(ledger), by_hand(things)
    assert {
        "out": found.things_out_kg * 1000,
        "shop": found.at_the_shop_kg * 1000,
        "use": found.in_use_kg * 1000,
        "back": found.came_back_kg * 1000,
        "gone": found.gone_kg * 1000,
    } == wanted
    assert shop_balance(ledger).things_out_kg == found.things_out_kg
    for balance in outside_balances_by(ledger, "origin").values():
        assert min(balance.at_the_shop_kg, balance.in_use_kg, balance.came_back_kg, balance.gone_kg) >= Fraction(0)
