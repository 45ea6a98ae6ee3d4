"""The order in which the books are settled, against a general graph library, and long chains."""

import networkx as nx
from graphs import workshops
from hypothesis import given, settings
from shops_in_code import drawing, received, shop

from passport.massflow import settle, sources_of


@settings(max_examples=60, deadline=None)
@given(workshops())
def test_everything_comes_after_what_it_was_made_of(made):
    """The order is a topological one of the graph that the library builds, with the same ancestors."""
    lots, runs = made
    ledger = settle(shop(lots=lots, runs=runs), {})
    graph = nx.DiGraph([(above, name) for name, parents in ledger.made_of.items() for above in parents])
    graph.add_nodes_from(ledger.made_of)
    place = {name: i for i, name in enumerate(ledger.order)}
    assert all(place[above] < place[name] for above, name in graph.edges)
    for name in lots:
        assert set(ledger.upstream(name)) == nx.ancestors(graph, name) | {name}


def test_a_chain_of_two_thousand_lots_is_settled():
    """No recursion: a long chain of runs finishes, and its trace ends at the one lot it began with."""
    lots = {"L-0000": received("1 kg")}
    for i in range(1, 2000):
        lots[f"L-{i:04}"] = drawing("1 kg", (f"L-{i - 1:04}", "1 kg"), operation="mould")
    ledger = settle(shop(lots=lots), {})
    last = ledger.mixtures["L-1999"]
    assert list(last.shares_by("melts")) == ["1999"]
    assert [origin.lot for origin in sources_of(ledger, "L-1999")] == ["L-0000"]
