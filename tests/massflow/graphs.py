"""Random workshops for the laws of the mass balance."""

from hypothesis import strategies as st
from shops_in_code import drawing, received, result, run

STREAMS = ("POST", "PRE", "VIRGIN", "UNKNOWN", "MASTERBATCH")


@st.composite
def workshops(draw, *, largest=8):
    """Lots and runs by id: some received, then blends, sorts and extrusions on random masses in grams."""
    heads = range(draw(st.integers(1, 3)))
    lots = {f"R-{i}": received(f"{draw(grams)} g", draw(st.sampled_from(STREAMS))) for i in heads}
    runs = {}
    for i in range(draw(st.integers(1, largest))):
        names = draw(st.lists(st.sampled_from(sorted(lots)), min_size=1, max_size=3, unique=True))
        draws = [(name, f"{draw(grams)} g") for name in names]
        operation = draw(st.sampled_from(["blend", "extrude", "sort", "split"]))
        if draw(st.booleans()):
            lots[f"S-{i}"] = drawing(f"{draw(grams)} g", *draws, operation=operation)
            continue
        runs[f"RUN-{i}"] = run(*draws, operation=operation, losses={"dust": f"{draw(grams)} g"})
        for k in range(draw(st.integers(1, 2))):
            lots[f"L-{i}{k}"] = result(f"RUN-{i}", f"{draw(grams)} g")
    return lots, runs


grams = st.integers(1, 99_999)
