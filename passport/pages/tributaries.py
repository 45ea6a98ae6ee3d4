"""The genealogy as a river map: one row a knot, streams falling into lots, lots into the thing itself.

One row a knot leaves the whole right half of a narrow phone to its name, in letters of full size.
Knots stand in the order of a post-order walk, so the way of a stream lies left of all that
joins below it, and a tree is drawn without a crossing.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import accumulate
from textwrap import wrap

from passport.pages import drawing
from passport.pages.pieces import Flow, FlowLink, FlowNode

FILLS = {
    "post-consumer": "solid",
    "pre-consumer": "stripe",
    "virgin": "empty",
    "additive": "dot",
    "unknown": "cross",
    "lot": "solid",
    "item": "solid",
    "folded": "rung",
}
RIVER = 118
"""Pixels for the bands; the rest is for words."""
LABEL_X = RIVER + 18
GAP = 8
BAR = 10
LETTERS = 30
"""About as many letters of 14 pixels as fit beside the bands."""
LABEL_LINES = 2
LINE = 17
ROW_AIR = 20
THINNEST = 2.5
BEND = 44
"""Pixels over which a band that has to move sideways does so."""


@dataclass(slots=True)
class _Map:
    """Where each knot lies, filled in from the first row down."""

    scale: float
    gap: float
    x: dict[str, float] = field(default_factory=dict)
    width: dict[str, float] = field(default_factory=dict)
    cursor: float = 0.0


def flow_svg(flow: Flow, key: str = "flow") -> str:
    """The drawing of a genealogy as inline SVG. Knots must form no cycle; unknown ends are left out."""
    nodes = {node.id: node for node in flow.nodes}
    links = [link for link in flow.links if link.source in nodes and link.target in nodes]
    rows = _rows(flow.nodes, links)
    laid = _laid(rows, links)
    tops = _tops(rows)
    bands = _bands(links, nodes, laid, tops)
    knots = "".join(_knot(node, laid, tops[node.id], key) for node in rows)
    fills = [FILLS[node.kind] for node in rows]
    return drawing.picture(key, flow.title, flow.summary, _height(rows), bands + knots, fills)


def _rows(nodes: tuple[FlowNode, ...], links: list[FlowLink]) -> list[FlowNode]:
    """Post-order from the last things back to their sources; each knot once."""
    inputs: dict[str, list[str]] = defaultdict(list)
    for link in links:
        inputs[link.target].append(link.source)
    sources = {link.source for link in links}
    by_id = {node.id: node for node in nodes}
    done: dict[str, None] = {}

    def visit(knot: str, above: frozenset[str]) -> None:
        for source in inputs[knot]:
            if source not in done and source not in above:
                visit(source, above | {knot})
        done.setdefault(knot)

    for node in nodes:
        if node.id not in sources:
            visit(node.id, frozenset())
    return [by_id[knot] for knot in done]


def _laid(rows: list[FlowNode], links: list[FlowLink]) -> _Map:
    inputs: dict[str, list[str]] = defaultdict(list)
    for link in links:
        inputs[link.target].append(link.source)
    heads = [node for node in rows if not inputs[node.id]]
    gaps = max(len(heads) - 1, 1)
    gap = min(GAP, RIVER / 2 / gaps)
    room = max(RIVER - gap * gaps - THINNEST * len(heads), RIVER / 4)
    widest = max([sum(node.mass_g for node in heads), *(node.mass_g for node in rows), 1e-9])
    laid = _Map(scale=room / widest, gap=gap)
    for node in rows:
        _place(node, inputs[node.id], laid)
    return laid


def _place(node: FlowNode, sources: list[str], laid: _Map) -> None:
    width = max(node.mass_g * laid.scale, THINNEST)
    laid.width[node.id] = width
    above = [laid.x[source] for source in sources if source in laid.x]
    if above:
        laid.x[node.id] = min(*above, RIVER - width)
        return
    laid.x[node.id] = min(laid.cursor, RIVER - width)
    laid.cursor += width + laid.gap


def _lines(node: FlowNode) -> list[str]:
    made = wrap(node.label, LETTERS, max_lines=LABEL_LINES, placeholder=" …") or [node.id]
    return [line if len(line) <= LETTERS else line[: LETTERS - 1] + "…" for line in made]


def _row_height(node: FlowNode) -> float:
    return LINE * (len(_lines(node)) + 1) + ROW_AIR


def _tops(rows: list[FlowNode]) -> dict[str, float]:
    heights = [_row_height(node) for node in rows]
    return dict(zip((node.id for node in rows), [4.0, *(4 + h for h in accumulate(heights))], strict=False))


def _height(rows: list[FlowNode]) -> float:
    return sum(_row_height(node) for node in rows) + 4 - ROW_AIR / 2


def _bands(links: list[FlowLink], nodes: dict[str, FlowNode], laid: _Map, tops: dict[str, float]) -> str:
    """A band for each link; those that together are wider than their knot are squeezed to fit it."""
    order = sorted(links, key=lambda link: (tops[link.target], laid.x[link.source], tops[link.source]))
    into: dict[str, float] = defaultdict(float)
    outof: dict[str, float] = defaultdict(float)
    made = []
    for link in order:
        top, foot = _ends(link, links, laid)
        x0 = laid.x[link.source] + outof[link.source]
        x1 = laid.x[link.target] + into[link.target]
        outof[link.source] += top
        into[link.target] += foot
        y0, y1 = tops[link.source] + BAR, tops[link.target]
        made.append(_band(x0, y0, top, x1, y1, foot, nodes[link.source].kind))
    return "".join(made)


def _ends(link: FlowLink, links: list[FlowLink], laid: _Map) -> tuple[float, float]:
    """Width of a band where it leaves and where it arrives."""
    leaving = sum(other.mass_g for other in links if other.source == link.source)
    arriving = sum(other.mass_g for other in links if other.target == link.target)
    return (
        _fitted(link.mass_g, leaving, laid.width[link.source], laid.scale),
        _fitted(link.mass_g, arriving, laid.width[link.target], laid.scale),
    )


def _fitted(mass: float, together: float, room: float, scale: float) -> float:
    if together * scale <= room or together <= 0:
        return min(max(mass * scale, THINNEST), room)
    return mass / together * room


def _band(x0: float, y0: float, top: float, x1: float, y1: float, foot: float, kind: str) -> str:
    n = drawing.number
    bend = max(y1 - BEND, y0) if x0 != x1 else y0
    middle = (bend + y1) / 2
    path = (
        f"M{n(x0)} {n(y0)}V{n(bend)}C{n(x0)} {n(middle)} {n(x1)} {n(middle)} {n(x1)} {n(y1)}"
        f"H{n(x1 + foot)}C{n(x1 + foot)} {n(middle)} {n(x0 + top)} {n(middle)} {n(x0 + top)} {n(bend)}"
        f"V{n(y0)}z"
    )
    return f'<path d="{path}" class="b b-{kind}"/>'


def _knot(node: FlowNode, laid: _Map, top: float, key: str) -> str:
    x, width = laid.x[node.id], laid.width[node.id]
    y = top + BAR / 2
    lines = _lines(node)
    said = "".join(
        drawing.words(LABEL_X, top + 11 + LINE * i, line, "k-item" if node.kind == "item" else "k")
        for i, line in enumerate(lines)
    )
    detail = " · ".join(part for part in (node.mass, node.note) if part)
    return (
        f'<path d="M{drawing.number(x + width)} {drawing.number(y)}H{LABEL_X - 5}" class="lead"/>'
        f'<g class="n-{node.kind}">'
        + drawing.bar(x, top, width, BAR, FILLS[node.kind], key)
        + "</g>"
        + said
        + drawing.words(LABEL_X, top + 11 + LINE * len(lines), detail, "m")
    )
