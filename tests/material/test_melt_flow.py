"""Melt flow of blends, dosing of regrind, melt temperatures."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.amounts import read_melt_flow
from passport.material.dosing import dose
from passport.material.flow import BlendFlow, FlowPart, as_measured, blend_flow, log_rule, routes_for
from passport.material.melting import melt_problems
from passport.problems import Level, Problem

PP_AT, PE_AT = "230 °C/2.16 kg", "190 °C/2.16 kg"


def part(share, flow, symbol="PP", at=PP_AT):
    """One lot of a blend."""
    measured = read_melt_flow(f"{flow} g/10 min at {at}") if flow else None
    return FlowPart(share=Fraction(share), symbol=symbol, flow=measured)


@pytest.mark.parametrize(
    ("parts", "wanted", "within"),
    [
        # M1: rheology text 1977 prints 1.4145 with four-digit logarithms; secondary
        ([("0.5", "1.0"), ("0.5", "2.0")], 1.4142, 5e-4),
        # M2: medians of Recycling 2021, 6(4), 76; computed
        ([("0.7", "6.3"), ("0.3", "11")], 7.447, 1e-3),
        # M3: logarithmic rule; computed
        ([("0.5", "4"), ("0.5", "25")], 10.000, 1e-3),
        # M4: three lots; computed
        ([("0.5", "4"), ("0.3", "11"), ("0.2", "27")], 7.938, 1e-3),
    ],
)
def test_the_logarithmic_rule(parts, wanted, within):
    """M1 to M4: ln M = sum w ln M, shown with 12 % to either side (Polymers 2023, 15, 1717)."""
    found = blend_flow([part(share, flow) for share, flow in parts])
    assert isinstance(found, BlendFlow)
    assert found.g_per_10_min == pytest.approx(wanted, abs=within)
    assert found.low == pytest.approx(0.88 * found.g_per_10_min)
    assert found.high == pytest.approx(1.12 * found.g_per_10_min)
    assert not found.measured


@pytest.mark.parametrize(
    ("parts", "code", "message"),
    [
        (
            [part("0.5", "4"), part("0.5", "4", at=PE_AT)],
            "flow-conditions",
            "met melt flows at 190/2.16 and 230/2.16, wanted one test condition",
        ),
        ([part("0.5", "4"), part("0.4", "4")], "blend-shares", "met shares that sum to 90 %, wanted 100 %"),
        (
            [part("0.5", "4"), part("0.5", "4", symbol="PE-HD", at=PE_AT)],
            "flow-families",
            "met PE and PP in one blend, wanted melt flows of one group of resins",
        ),
        (
            [part("0.5", "4"), part("0.5", None)],
            "flow-unknown",
            "met 1 of 2 lots without a melt flow, wanted one for each",
        ),
    ],
)
def test_what_must_not_be_mixed_is_refused(parts, code, message):
    """M5, M6 and others: two conditions, shares that are no whole, two groups, a lot not measured (ISO 1133)."""
    problem = blend_flow(parts)
    assert isinstance(problem, Problem)
    assert (problem.code, problem.message) == (code, message)


def test_a_measured_flow_beats_the_estimate():
    """Whatever the lots say, the flow measured on the blend stands."""
    measured = read_melt_flow(f"5 g/10 min at {PP_AT}")
    found = blend_flow([part("0.5", None), part("0.4", "40")], measured)
    assert found == as_measured(measured)


def test_a_wide_ratio_is_said():
    """Beyond 3.28 a trade note does not trust the rule: a doubt, no refusal."""
    found = blend_flow([part("0.5", "4"), part("0.5", "25")])
    assert [d.message for d in found.doubts] == ["met flows in a ratio of 6.2, wanted at most 3.28 for a sure estimate"]


@given(st.lists(st.tuples(st.integers(1, 50), st.floats(0.1, 100)), min_size=1, max_size=6))
def test_a_blend_flows_between_its_lots(weights):
    """The estimate never leaves the range of what goes in."""
    total = sum(w for w, _ in weights)
    found = log_rule([(w / total, flow) for w, flow in weights])
    flows = [flow for _, flow in weights]
    assert min(flows) * (1 - 1e-9) <= found <= max(flows) * (1 + 1e-9)


def suits(flow, heavy="0", symbol="PP", at=PP_AT):
    """Which routes suit a flow."""
    measured = as_measured(read_melt_flow(f"{flow} g/10 min at {at}"))
    return {route.key: route.suits for route in routes_for(symbol, measured, Fraction(heavy))}


def test_sun_worn_pp_alone_fills_no_injection_mould_but_diluted_it_makes_a_bar():
    """Common practice, no source: alone it fails, diluted with sounder PP it extrudes into a bar."""
    assert suits("25", heavy="1")["injection"] is False
    assert suits("25", heavy="1")["bar"] is False
    assert suits("10", heavy="0.35")["bar"] is True


def test_injection_needs_more_flow_than_a_bar():
    """Common practice, no source: at 1 g/10 min a bar goes, a thin wall does not."""
    found = suits("1")
    assert (found["injection"], found["bar"]) == (False, True)


def test_without_a_comparable_flow_a_route_is_open():
    """No flow, or one at another condition, is no answer."""
    assert {r.suits for r in routes_for("PP", None)} == {None}
    assert set(suits("5", at="190 °C/5 kg", symbol="PE-HD").values()) == {None}


def test_weathering_blocks_even_where_the_flow_is_right():
    """Cut chains raise the flow: a good figure does not speak for chalked material."""
    routes = routes_for("PP", as_measured(read_melt_flow(f"12 g/10 min at {PP_AT}")), Fraction(3, 10))
    injection = next(r for r in routes if r.key == "injection")
    assert [p.message for p in injection.reasons] == ["met 30 % heavily weathered, wanted at most 20 % for injection"]


RECIPE = {"A": Fraction(9, 100), "B": Fraction(10, 100)}


def test_closed_loop_regrind_brings_its_additives():
    """MB-01, MB-02: A 6.75 %, B 7.50 %, main 60.75 % beside 25 % regrind (OPC 40082-4, 13.2; B and main computed)."""
    found = dose(RECIPE, Fraction(1, 4), closed_loop=True)
    assert found.additives == {"A": Fraction(675, 10000), "B": Fraction(750, 10000)}
    assert found.by_regrind["A"] == Fraction(225, 10000)
    assert found.main == Fraction(6075, 10000)
    assert found.main + sum(found.additives.values()) + found.regrind == 1


def test_open_loop_regrind_is_one_more_component():
    """MB-03: A 9 %, B 10 %, regrind 25 %, main 56 % (same rule, constructed)."""
    found = dose(RECIPE, Fraction(1, 4), closed_loop=False)
    assert found.additives == RECIPE
    assert found.main == Fraction(56, 100)
    assert found.by_regrind == {}


@given(st.fractions(0, Fraction(9, 10)))
def test_closed_loop_regrind_keeps_the_recipe(regrind):
    """MB-05: whatever the share of own regrind, each additive is what the recipe says (constructed)."""
    found = dose(RECIPE, regrind, closed_loop=True)
    assert {name: found.additives[name] + found.by_regrind[name] for name in RECIPE} == RECIPE


def test_a_recipe_above_the_whole_is_refused():
    """Additives and regrind leave room for the main material."""
    with pytest.raises(
        ValueError,
        match=r"^met 19 % additives and 90 % regrind, wanted shares of at least 0 % that fit into 100 %$",
    ):
        dose(RECIPE, Fraction(9, 10), closed_loop=False)


def test_pp_at_290_is_stopped():
    """P1: the limit is 280 °C (moulders' table, secondary)."""
    (problem,) = melt_problems(["PP"], 290)
    assert problem.level is Level.ERROR
    assert problem.message == "met a melt of 290 °C with PP in it, wanted at most 280 °C"
    assert melt_problems(["PP"], 280) == ()


@pytest.mark.parametrize(("symbol", "fume"), [("POM", "formaldehyde"), ("PVC-U", "hydrogen chloride")])
@pytest.mark.parametrize("melt", [None, 20, 190, 400])
def test_pvc_and_pom_are_never_melted(symbol, fume, melt):
    """P2: at any temperature, with the fume named (safety authority's sheet 13, confirmed)."""
    (problem,) = melt_problems([symbol, "PP"], melt)
    assert problem.message == (f"met {symbol} in a melt, wanted a resin that may be melted in an open workshop")
    assert problem.hint == f"hand it on unmelted: overheating sets free {fume}"


def test_the_lowest_limit_of_a_mixture_counts():
    """PS-HI bears 246 °C, PP 280 °C: together 246 °C."""
    assert [p.facts[0][1] for p in melt_problems(["PP", "PS-HI"], 260)] == ["PS-HI"]


def test_pet_in_a_polyolefin_melt_stays_lumps():
    """Below the melting point of PET its pieces stay solid (melting ranges of the table)."""
    problems = melt_problems(["PP", "PET"], 210)
    assert [(p.code, p.level) for p in problems] == [("melt-too-cold", Level.DOUBT)]


def test_foam_is_not_melted_as_it_is():
    """PS-E is pressed or densified first."""
    (problem,) = melt_problems(["PS-E"], 200)
    assert problem.message == "met PS-E in a melt, wanted it densified first"
