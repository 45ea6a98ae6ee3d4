"""Drawings: well-formed, inert, the same every time, and true to their figures."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_samples import Sample

from passport.pages.charts import letter, lying_svg, round_step, share_svg, upright_svg
from passport.pages.pieces import Bars, Flow, FlowLink, FlowNode, Link, Series, Share
from passport.pages.tributaries import flow_svg


def read(svg: str) -> ET.Element:
    """The drawing as an XML parser sees it."""
    return ET.fromstring(svg)  # noqa: S314 - our own drawing


def bars(*series: tuple[float, ...], below: int = 0) -> Bars:
    """A chart of the given series."""
    places = tuple(Link(text=str(i)) for i in range(len(series[0])))
    rows = tuple(Series(name=f"s{i}", values=v, texts=tuple(map(str, v))) for i, v in enumerate(series))
    return Bars(title="t", summary="d", unit="kg", place_name="p", places=places, series=rows, below=below)


def rects(svg: str, inside: str) -> list[dict[str, float]]:
    """Ground rectangles of the groups of a class."""
    tree = read(svg)
    found = [r for g in tree.iter("g") if g.get("class") == inside for r in g.iter("rect")]
    grounds = [r for r in found if not str(r.get("fill", "")).startswith("url")]
    return [{k: float(str(r.get(k))) for k in ("x", "y", "width", "height")} for r in grounds]


DRAWN = [
    flow_svg(Sample().planter_flow()),
    upright_svg(Sample().months(), "m"),
    lying_svg(bars((1, 2)), "l"),
    share_svg((Share(label="a", figure="1", part=1.0),), "t", "d", "s"),
]


@pytest.mark.parametrize("svg", DRAWN)
def test_named_and_described(svg: str) -> None:
    """Each drawing is one image with a title and a description, and no inline style."""
    tree = read(svg)
    ids = {e.get("id"): e.tag for e in tree.iter() if e.get("id")}
    assert tree.get("role") == "img"
    assert [ids[name] for name in str(tree.get("aria-labelledby")).split()] == ["title", "desc"]
    assert "style=" not in svg


def test_same_view_same_drawing() -> None:
    """Two drawings of one view are alike to the byte."""
    assert flow_svg(Sample().planter_flow()) == flow_svg(Sample().planter_flow())


HOSTILE = '"><script>alert(1)</script>\x00&'


def test_hostile_names_are_text() -> None:
    """Names that look like tags stay letters."""
    flow = Sample().planter_flow()
    nodes = tuple(replace(node, label=HOSTILE, note=HOSTILE) for node in flow.nodes)
    svg = flow_svg(replace(flow, nodes=nodes, title=HOSTILE, summary=HOSTILE))
    assert not list(read(svg).iter("script"))


def test_bars_are_as_tall_as_their_values() -> None:
    """Heights stand to each other as the figures do."""
    heights = [r["height"] for r in rects(upright_svg(bars((10, 20, 40)), "k"), "s0")]
    # the legend's sample comes first
    assert heights[1:] == [pytest.approx(h, abs=0.1) for h in (42.5 * 10 / 10, 85, 170)]


def test_stacks_touch_and_do_not_overlap() -> None:
    """The second series stands on the first; what left hangs from the line."""
    svg = upright_svg(bars((10,), (20,), (15,), below=1), "k")
    first, second, third = (rects(svg, f"s{i}")[1] for i in range(3))
    assert second["y"] + second["height"] == pytest.approx(first["y"], abs=0.11)
    assert third["y"] == pytest.approx(first["y"] + first["height"], abs=0.11)


@given(st.lists(st.floats(0, 1e7), min_size=1, max_size=30))
def test_bars_stay_on_the_paper(values: list[float]) -> None:
    """No value, however large, leaves the drawing."""
    svg = upright_svg(bars(tuple(values)), "k")
    box = [float(x) for x in str(read(svg).get("viewBox")).split()]
    assert all(r["y"] >= 0 and r["y"] + r["height"] <= box[3] for r in rects(svg, "s0"))


@given(st.floats(1e-6, 1e12))
def test_round_step_is_round(least: float) -> None:
    """A tick step is 1, 2 or 5 times a power of ten, and not needlessly large."""
    step = round_step(least)
    assert least * (1 - 1e-9) <= step <= least * 10 / 4 * 1.0001
    assert f"{step:e}"[0] in "125"


def test_letters() -> None:
    """Cuts are lettered like the columns of a sheet."""
    assert [letter(i) for i in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


def flow(nodes: list[tuple[str, float]], links: list[tuple[str, str, float]]) -> Flow:
    """A genealogy from bare names and masses."""
    return Flow(
        nodes=tuple(FlowNode(id=n, label=n, mass=f"{m} g", mass_g=m) for n, m in nodes),
        links=tuple(FlowLink(source=a, target=b, mass_g=m) for a, b, m in links),
        title="t",
        summary="d",
    )


def test_widths_follow_masses() -> None:
    """A knot of three times the mass is drawn three times as wide."""
    svg = flow_svg(flow([("a", 300), ("b", 100), ("c", 400)], [("a", "c", 300), ("b", "c", 100)]))
    a, b, c = (r["width"] for r in rects(svg, "n-lot"))
    assert a == pytest.approx(3 * b, abs=0.3)
    assert c == pytest.approx(a + b, abs=0.2)


@st.composite
def trees(draw: st.DrawFn) -> Flow:
    """Acyclic genealogies of up to a dozen knots, some with two ways."""
    count = draw(st.integers(1, 12))
    masses = draw(st.lists(st.floats(0, 1e6), min_size=count, max_size=count))
    links = []
    for target in range(1, count):
        sources = draw(st.sets(st.integers(0, target - 1), max_size=3))
        links += [(str(source), str(target), draw(st.floats(0, 1e6))) for source in sources]
    return flow([(str(i), m) for i, m in enumerate(masses)], links)


@given(trees())
def test_every_knot_has_its_row_on_the_paper(made: Flow) -> None:
    """Whatever the graph, each knot has one row of its own, inside the drawing, left of its words."""
    svg = flow_svg(made)
    found = rects(svg, "n-lot")
    assert len(found) == len(made.nodes)
    assert all(b["y"] - a["y"] > 20 for a, b in pairwise(found))
    assert all(r["x"] >= 0 and r["x"] + r["width"] <= 119 for r in found)


def test_a_link_to_nowhere_is_left_out() -> None:
    """A link whose end was folded away does not stop the page."""
    assert "svg" in flow_svg(flow([("a", 1)], [("a", "z", 1), ("y", "a", 1)]))
