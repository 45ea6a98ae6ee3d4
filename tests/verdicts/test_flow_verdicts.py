"""How a lot flows: measured, estimated from the lots behind it, or not told; and what it suits."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest
from shops_in_code import drawing, received, result, run, shop

from passport.massflow import Ledger, settle
from passport.verdicts import flow


def flowing(rate: str, condition: str = "230 °C/2.16 kg", **more: object) -> dict[str, object]:
    """A received lot with a measured flow."""
    return received("10 kg", melt_flow=f"{rate} g/10 min at {condition}", moisture="0 %", **more)


def ledger(lots: Mapping[str, object], **more: object) -> Ledger:
    """A shop settled with every lot as PP."""
    return settle(shop(lots=lots, **more), dict.fromkeys(lots, "PP"), None)


def blend(**more: object) -> dict[str, object]:
    """4 kg of A-1 with 6 kg of B-1."""
    return drawing("10 kg", ("A-1", "4 kg"), ("B-1", "6 kg"), moisture="0 %", **more)


def test_a_blend_follows_the_log_rule() -> None:
    """exp(0.4 ln 4 + 0.6 ln 9) = 6.5, within 12 % (logarithmic rule; constructed figures)."""
    found = flow.of_lot(ledger({"A-1": flowing("4"), "B-1": flowing("9"), "BL-1": blend()}), "BL-1", "PP")
    assert found.value is not None
    wanted = math.exp(0.4 * math.log(4) + 0.6 * math.log(9))
    assert found.value.flow.g_per_10_min == pytest.approx(wanted)
    assert (found.value.flow.low, found.value.flow.high) == pytest.approx((wanted * 0.88, wanted * 1.12))
    assert not found.value.flow.measured
    assert set(found.basis) == {"A-1", "B-1"}


def test_a_measured_flow_beats_the_estimate() -> None:
    """What was measured on the blend stands by itself."""
    lots = {
        "A-1": flowing("4"),
        "B-1": flowing("9"),
        "BL-1": blend(melt_flow="7.1 g/10 min at 230 °C/2.16 kg"),
    }
    found = flow.of_lot(ledger(lots), "BL-1", "PP")
    assert found.value is not None
    assert (found.value.flow.g_per_10_min, found.value.flow.measured, found.basis) == (7.1, True, ("BL-1",))


def test_flows_far_apart_are_a_doubt() -> None:
    """Beyond a ratio of 3.28 the rule is not trusted (trade note): the estimate stands, with its doubt."""
    found = flow.of_lot(ledger({"A-1": flowing("2"), "B-1": flowing("20"), "BL-1": blend()}), "BL-1", "PP")
    assert [doubt.message for doubt in found.doubts] == [
        "met flows in a ratio of 10.0, wanted at most 3.28 for a sure estimate"
    ]


def test_two_conditions_are_not_mixed() -> None:
    """230/2.16 beside 190/2.16 gives no figure, and says why."""
    lots = {"A-1": flowing("4"), "B-1": flowing("9", "190 °C/2.16 kg"), "BL-1": blend()}
    found = flow.of_lot(ledger(lots), "BL-1", "PP")
    assert found.value is None
    assert [doubt.message for doubt in found.doubts] == [
        "met melt flows at 190/2.16 and 230/2.16, wanted one test condition"
    ]


def test_melting_and_sorting_end_the_search() -> None:
    """An extruder changes the flow and a sort the material: neither result inherits a figure."""
    lots = {
        "A-1": flowing("4"),
        "B-1": flowing("9"),
        "BAR-1": drawing("10 kg", ("A-1", "10 kg"), operation="extrude", melt="230 °C"),
        "PP-1": result("SO-1", "9 kg"),
        "RJ-1": result("SO-1", "1 kg"),
    }
    settled = ledger(lots, runs={"SO-1": run(("B-1", "10 kg"))})
    assert flow.of_lot(settled, "BAR-1", "PP").value is None
    assert flow.of_lot(settled, "PP-1", "PP").value is None


def test_sun_worn_material_is_kept_out_of_thin_walls() -> None:
    """The flow alone would suit a mould, but cut chains raise it: more than 20 % heavily sun-worn is refused.

    The limit is that of our table of routes (common practice, no source).
    """
    lots = {"A-1": flowing("20", weathering="heavy"), "B-1": flowing("12", weathering="none"), "BL-1": blend()}
    found = flow.of_lot(ledger(lots), "BL-1", "PP").value
    assert found is not None
    assert {route.key: route.suits for route in found.routes} == {
        "injection": False,
        "extrusion": False,
        "bar": True,
        "compression": True,
    }
    injection = next(route for route in found.routes if route.key == "injection")
    assert [reason.message for reason in injection.reasons] == [
        "met 40 % heavily weathered, wanted at most 20 % for injection"
    ]
