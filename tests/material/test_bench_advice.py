"""What to mind at the bench, against the moulders' tables, the fume sheet and the resins not to be melted."""

import pytest

from passport.material.bench import bench_lines, closing, melt_range, not_melted
from passport.material.melting import melt_problems
from passport.material.resins import resins
from passport.material.tables import sources, table
from passport.problems import Level


def keys(symbols, *doing):
    """The lines said, by key."""
    return [line.key for line in bench_lines(symbols, *doing)]


def said(symbols, *doing):
    """The same in English words."""
    return " ".join(line.words["en"] for line in bench_lines(symbols, *doing))


def test_melt_limits_hold_for_all_resins_together() -> None:
    """PP ends at 280 °C and PE-HD at 290 °C (moulders' tables): a melt of both ends at 280 °C."""
    found = melt_range(["PP", "PE-HD"])
    assert found is not None
    assert (found.low_c, found.never_above_c) == (210, 280)
    assert "never above 280 °C" in said(["PP", "PE-HD"], "melt")


@pytest.mark.parametrize(("symbol", "fume"), [("PVC-U", "hydrogen chloride"), ("POM", "formaldehyde")])
def test_two_resins_are_never_melted(symbol: str, fume: str) -> None:
    """P2: PVC and POM (safety authority's sheet 13): the line says why, and no temperature is named."""
    assert not_melted([symbol, "PP"]) == (symbol,)
    assert melt_range([symbol]) is None
    assert keys([symbol, "PP"], "melt")[0] == "no-melt"
    assert f"overheated it gives off {fume}" in said([symbol], "melt")
    assert "°C" not in said([symbol], "melt")


@pytest.mark.parametrize("symbol", [s for s, r in resins().items() if melt_range([s]) is not None])
def test_the_range_named_is_one_that_the_melt_check_takes(symbol: str) -> None:
    """Nothing is advised that the check of a run would then doubt."""
    found = melt_range([symbol])
    assert found is not None
    assert found.fits
    for melt_c in (found.low_c, min(found.high_c, found.never_above_c)):
        assert [p for p in melt_problems([symbol], melt_c) if p.level is not Level.ADVICE] == []


def test_resins_without_a_common_temperature_are_said_to_have_none() -> None:
    """PP breaks down where PC only begins to flow."""
    assert "apart" in keys(["PP", "PC"], "melt")
    assert "melt" not in keys(["PP", "PC"], "melt")


def test_fume_is_named_where_the_sheet_names_it() -> None:
    """The sheet has a row for PP and none for PE-HD: of that, surprise is said."""
    assert "formaldehyde, acrolein and acetone" in said(["PP"], "melt")
    assert keys(["PE-HD"], "melt") == ["melt", "surprise"]
    assert keys(["PP"], "melt") == ["melt", "fume"]


def test_drying_only_where_a_resin_takes_up_water() -> None:
    """PET is dried before it is melted, PP is not."""
    assert "dry" in keys(["PET"], "melt")
    assert "dry" not in keys(["PP"], "melt")


def test_foam_is_densified_first() -> None:
    """Foam has no window of its own."""
    assert keys(["PS-E"], "melt") == ["foam", "surprise"]


@pytest.mark.parametrize(
    ("doing", "key"), [("flake", "spill"), ("shred", "dust"), ("store", "store"), ("identify", "no-burn")]
)
def test_each_occasion_has_its_line_and_no_other_has_it(doing: str, key: str) -> None:
    """Dust at the shredder, spills with flake, fire in the store, no flame to identify."""
    assert key in keys(["PP"], doing)
    assert key not in keys(["PP"], "melt")


def test_advice_is_brief() -> None:
    """Never more than four lines for an occasion."""
    for symbol in resins():
        for doing in ("melt", "flake", "shred", "store", "identify"):
            assert len(keys([symbol], doing)) <= 4


def test_every_line_has_its_source_and_both_languages() -> None:
    """Sources are rows of the table of sources; the closing line puts local rules first."""
    for row in (*table("bench")["rows"].values(), *table("bench")["fumes"].values()):
        assert set(row["from"]) <= sources().keys()
        assert row["en"]
        assert row["fr"]
    assert closing()["en"] == "Local rules and licensed professionals come first."
