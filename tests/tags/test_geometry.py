"""Sizes of symbols, against worked arithmetic and measured limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.problems import Level, in_words
from passport.tags.geometry import least_side_mm, plan_symbol, reasons, size_of

PAYLOAD = "https://PASS.REEDMOUTH.IE/T/RY-22224M"
LONG = "https://PASS.REEDMOUTH-WORKSHOP.EXAMPLE/T/RY-22224M"


def test_30_mm_at_300_dpi() -> None:
    """Worked by hand (GEO1): 9 dots, X 0.7620 mm, symbol 22.098 mm, with quiet zone 28.194 mm."""
    size = size_of(30, 300, 29)
    assert size.dots == 9
    assert size.module_mm == pytest.approx(0.7620, abs=0.001)
    assert size.symbol_mm == pytest.approx(22.098, abs=0.001)
    assert size.whole_mm == pytest.approx(28.194, abs=0.001)


def test_25_mm_at_203_dpi() -> None:
    """Worked by hand (GEO2): 6 dots, X 0.7507 mm, 24.77 mm."""
    size = size_of(25, 203, 25)
    assert size.dots == 6
    assert size.module_mm == pytest.approx(0.7507, abs=0.001)
    assert size.whole_mm == pytest.approx(24.77, abs=0.01)


def test_the_retail_range_of_modules() -> None:
    """GS1 General Specifications 5.12.3.1 (GEO3): 29 modules of 0.396 mm are 14.652 mm, of 0.990 mm 36.63 mm."""
    assert least_side_mm(0.396, 100_000, 29) == pytest.approx(14.652, abs=0.01)
    assert least_side_mm(0.990, 100_000, 29) == pytest.approx(36.63, abs=0.01)


@given(st.floats(10, 120), st.sampled_from([203, 300, 600]), st.integers(21, 57))
def test_the_quiet_zone_never_leaves_the_side(side_mm: float, dpi: int, modules: int) -> None:
    """The whole symbol fits, and one dot more a module would not."""
    size = size_of(side_mm, dpi, modules)
    assert size.whole_mm <= side_mm + 1e-6
    assert (modules + 8) * (size.dots + 1) * 25.4 / dpi > side_mm - 1e-6


@given(st.floats(0.3, 1.2), st.sampled_from([203, 300, 600]), st.integers(21, 57))
def test_the_least_side_is_enough(module_mm: float, dpi: int, modules: int) -> None:
    """A side that a hint advises gives the module that was wanted."""
    assert size_of(least_side_mm(module_mm, dpi, modules), dpi, modules).module_mm >= module_mm - 1e-9


def test_the_default_label_has_nothing_to_say() -> None:
    """30 mm at any of the three resolutions: level Q, version 3, module at least 0.75 mm."""
    for dpi in (203, 300, 600):
        plan = plan_symbol(PAYLOAD, side_mm=30, dpi=dpi)
        assert (plan.symbol.level, plan.symbol.version, plan.problems) == ("Q", 3, ())


def test_a_small_label_takes_level_m() -> None:
    """Under 25 mm the larger modules of M are read more often (measured)."""
    assert plan_symbol(PAYLOAD, side_mm=20, dpi=300).symbol.level == "M"


def test_a_module_under_half_a_millimetre_is_refused() -> None:
    """DMG2: a 14 mm label at level H failed every trial with a blur of 0.2 mm."""
    error = plan_symbol(PAYLOAD, side_mm=14, dpi=300, level="H").problems[0]
    assert in_words(error) == (
        "error label-module-small: on 14 mm at 300 dpi a module has 4 dots, 0.339 mm; wanted at least 0.5 mm\n"
        "    hint: give the symbol a side of at least 20.9 mm, shorten the address, or print with more dots an inch"
    )


def test_a_printer_too_coarse_for_the_symbol_is_refused() -> None:
    """Where not even a dot a module fits, the size is 0 dots and an error."""
    (error, *_) = plan_symbol(PAYLOAD, side_mm=4, dpi=203).problems
    assert error.level is Level.ERROR
    assert error.message == "on 4 mm at 203 dpi a module has 0 dots, 0.000 mm; wanted at least 0.5 mm"


def test_a_fine_module_is_advised_against() -> None:
    """Between 0.5 and 0.75 mm a label prints, and the desk is told what would be better."""
    (advice,) = plan_symbol(PAYLOAD, side_mm=25, dpi=300).problems
    assert (advice.code, advice.level) == ("label-module-fine", Level.ADVICE)
    assert advice.hint.startswith("give the symbol a side of at least 28.2 mm")


@pytest.mark.parametrize(
    ("side_mm", "level", "message"),
    [
        (40, "L", "level L on 40 mm stands fewer stains than Q; wanted Q"),
        (40, "M", "level M on 40 mm stands fewer stains than Q; wanted Q"),
        (40, "H", "level H gains little against stains over Q and loses on blur and distance; wanted Q"),
        (24, "Q", "level Q on 24 mm has smaller modules than M, which is read more often there; wanted M"),
    ],
)
def test_an_unwise_level_is_advised_against(side_mm: float, level: str, message: str) -> None:
    """The measured figures speak for Q from 25 mm on and for M below."""
    problems = plan_symbol(PAYLOAD, side_mm=side_mm, dpi=600, level=level).problems
    assert [p.message for p in problems if p.code == "label-level"] == [message]


def test_a_wish_to_read_from_far_is_a_doubt() -> None:
    """X 0.762 mm is resolved from 0.58 m by the pixel rule; 1 m asks for a larger symbol."""
    (doubt,) = plan_symbol(PAYLOAD, side_mm=30, dpi=300, distance_mm=1000).problems
    assert in_words(doubt) == (
        "doubt label-too-far: modules of 0.762 mm are read from 0.58 m at most; wanted 1.00 m\n"
        "    hint: give the symbol a side of at least 51 mm"
    )
    assert plan_symbol(PAYLOAD, side_mm=51, dpi=300, distance_mm=1000).problems == ()


def test_the_reasons_name_every_choice() -> None:
    """What labels --explain prints: version, level, dots, distance and mask."""
    plan = plan_symbol(PAYLOAD, side_mm=30, dpi=300)
    version, level, size, distance, mask = reasons(plan, 30)
    assert version == (
        "The address has 37 characters; at level Q version 3 is the smallest symbol that holds it: 29 modules, "
        "and 4 light ones on each side."
    )
    assert level == (
        "Level Q: with 6 to 10 % of its data stained, 13 to 24 points more labels were read than at M (measured)."
    )
    assert size == (
        "On 30 mm at 300 dpi a module has 9 whole dots, 0.762 mm; the symbol is 22.1 mm, with its quiet zone 28.2 mm."
    )
    assert distance == (
        "A phone resolves it from 0.58 m at most (2.2 pixels a module, 1920 pixels over 60°); easy reading is within "
        "0.22 m (ten times its side, a rule of thumb)."
    )
    assert mask == f"Mask {plan.symbol.mask} has the lowest penalty by ISO/IEC 18004 7.8.3."
