"""What a workshop's own trials say of a way of forming comes before the table."""

from __future__ import annotations

from fractions import Fraction

import pytest
from pydantic import ValidationError

from passport.amounts import read_melt_flow
from passport.material.flow import WORKSHOP, as_measured, route_needs, routes_for
from passport.material.tables import table
from passport.reading.records import RouteLimit

AT = "g/10 min at 230 °C/2.16 kg"


def limit(**more: str) -> RouteLimit:
    """The workshop's own limits for bars of PP."""
    return RouteLimit(**({"route": "bar", "because": "trial of May"} | more))


def suits(flow: str, heavy: str, *own: RouteLimit) -> bool | None:
    """Whether PP of a flow suits a bar."""
    routes = routes_for("PP", as_measured(read_melt_flow(f"{flow} {AT}")), Fraction(heavy), own)
    return next(route.suits for route in routes if route.key == "bar")


def test_own_limits_take_the_place_of_the_defaults() -> None:
    """40 g/10 min and 60 % sun-worn are too much by the table (common practice), not by a trial that says so."""
    own = limit(resin="PP", flow_to=f"45 {AT}", most_weathered="70 %")
    assert suits("40", "0.6") is False
    assert suits("40", "0.6", own) is True
    assert suits("50", "0.6", own) is False


def test_limits_of_another_resin_or_route_change_nothing() -> None:
    """A trial with PE says nothing of PP, one in a mould nothing of bars."""
    pe = limit(resin="PE", flow_to="45 g/10 min at 190 °C/2.16 kg")
    assert suits("40", "0", pe) is False
    assert suits("40", "0", limit(route="injection", most_weathered="90 %")) is False


def test_own_limits_bring_their_condition_and_reason() -> None:
    """A flow limit at 190 °C/5 kg is compared with flows at that condition; the reason is the workshop's."""
    own = limit(resin="PP", flow_from="1 g/10 min at 190 °C/5 kg")
    needs = route_needs("bar", "PP", [own])
    assert (float(needs.condition[0]), float(needs.condition[1])) == (190.0, 5.0)
    assert needs.reason.said("en", "en")[0] == "trial of May"
    assert needs.flow is not None
    assert needs.flow.sources == (WORKSHOP,)
    assert needs.own


def test_every_default_has_a_reason_in_both_languages() -> None:
    """No limit of the table stands without why, and without where it comes from."""
    for row in table("routes")["routes"].values():
        assert set(row["reason"]) == {"en", "fr"}
        assert row["from"] == ["practice"]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "a route without a limit"),
        ({"flow_to": f"45 {AT}"}, "a flow limit without a resin"),
        (
            {"resin": "PP", "flow_from": f"4 {AT}", "flow_to": "9 g/10 min at 190 °C/2.16 kg"},
            "flow limits at 230/2.16 and 190/2.16",
        ),
        ({"resin": "PP", "flow_from": f"9 {AT}", "flow_to": f"4 {AT}"}, "a `flow_from:` above `flow_to:`"),
    ],
)
def test_limits_that_cannot_be(fields: dict[str, str], said: str) -> None:
    """A limit without a figure, a resin or one condition, and one upside down, are refused."""
    with pytest.raises(ValidationError) as met:
        limit(**fields)
    assert said in str(met.value)
