"""Quantities are read exactly, and figures that were rounded still add up."""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passport.amounts import (
    Count,
    Mass,
    NotAQuantity,
    floor_percent,
    largest_remainder,
    read_count,
    read_mass,
    read_melt_flow,
    read_share,
    read_temperature_c,
)

decimals = st.decimals(min_value=0, max_value=10**6, places=3, allow_nan=False, allow_infinity=False)


@given(decimals, st.none() | decimals, st.sampled_from(["kg", "g", "t"]), st.booleans())
def test_a_mass_comes_back_exactly(value: Decimal, half: Decimal | None, unit: str, each: bool) -> None:  # noqa: FBT001
    """A written mass is read to the very decimal, in kilograms (SI: 1 t = 1000 kg = 10⁶ g)."""
    factor = {"kg": Decimal(1), "g": Decimal("0.001"), "t": Decimal(1000)}[unit]
    text = f"{value:f}" + (f" ± {half:f}" if half is not None else "") + f" {unit}" + (" each" if each else "")
    assert read_mass(text) == Mass(
        mass_kg=value * factor, plus_minus_kg=None if half is None else half * factor, each=each
    )


def test_tenths_add_up() -> None:
    """0.1 kg + 0.2 kg is 0.3 kg, which binary fractions would miss (IEEE 754)."""
    assert read_mass("0.1 kg").mass_kg + read_mass("0.2 kg").mass_kg == read_mass("0.3 kg").mass_kg


@pytest.mark.parametrize(
    "text",
    ["nan kg", "Infinity kg", ".inf", "1e3 kg", "1_000 kg", "+1 kg", "-1 kg", "١ kg", " 1 kg", "1 kg\n", "1. kg"],
)
def test_only_plain_digits_are_a_mass(text: str) -> None:
    """What a programming language would take for a number, a scale does not show."""
    with pytest.raises(NotAQuantity):
        read_mass(text)


@given(st.text(max_size=30))
def test_any_text_is_a_quantity_or_refused(text: str) -> None:
    """Whatever is typed, a reader returns a value or raises NotAQuantity, nothing else."""
    for read in (read_mass, read_count, read_temperature_c, read_share, read_melt_flow):
        with suppress(NotAQuantity):
            read(text)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("42.6", 'a number without a unit could be kilograms or grams: write "42.6 kg" or "42.6 g"'),
        ("-3 kg", "a mass is never negative; a stock that went down is an event or a loss"),
        ("42,6 kg", 'write the decimal point: "42.6 kg"'),
        # the international avoirdupois pound, 1959: exactly 0.45359237 kg
        ("94 lb", "give kilograms or grams; 1 lb is 0.45359237 kg"),
        ("42.6 KG", "the units are written kg, g and t"),
        ("1234567890.123456 kg", "the number has more than 15 digits"),
    ],
)
def test_the_usual_slips_get_a_hint(text: str, hint: str) -> None:
    """The slips that people make with masses are told from each other."""
    with pytest.raises(NotAQuantity) as slip:
        read_mass(text)
    assert slip.value.hint == hint


@given(st.integers(0, 999_999_999), st.sampled_from(["", " pcs", " pieces", "pcs"]), st.booleans())
def test_a_count_comes_back(pieces: int, unit: str, each: bool) -> None:  # noqa: FBT001
    """A number of pieces is read as written, with or without its unit."""
    assert read_count(f"{pieces}{unit}{' each' if each else ''}") == Count(pieces=pieces, each=each)


@given(st.decimals(min_value=0, max_value=100, places=4))
def test_a_share_is_an_exact_fraction(percent: Decimal) -> None:
    """A percentage is a hundredth, exactly."""
    assert read_share(f"{percent:f} %") * 100 == Fraction(percent)


def test_a_melt_flow_keeps_its_condition() -> None:
    """A melt flow has its condition as ISO 1133-1 writes it: temperature in °C, load in kg."""
    flow = read_melt_flow("6.4 g/10 min at 190 °C/2.16 kg")
    assert (flow.g_per_10_min, flow.condition) == (Decimal("6.4"), "190/2.16")


shares = st.lists(st.fractions(min_value=0, max_value=1000, max_denominator=997), max_size=12)


@given(shares, st.integers(0, 3))
def test_rounded_figures_add_up_to_the_rounded_total(values: list[Fraction], places: int) -> None:
    """Printed parts add up to the printed total, and none is off by a whole unit of the last place."""
    printed = largest_remainder(values, places)
    unit = Fraction(1, 10**places)
    total = sum(values, Fraction(0))
    assert sum(printed, Decimal(0)) == Decimal(int(total / unit + Fraction(1, 2))).scaleb(-places)
    assert all(abs(Fraction(figure) - value) < unit for figure, value in zip(printed, values, strict=True))


def test_the_largest_remainder_gets_the_seat() -> None:
    """The textbook case of the method (Hamilton's): 10 seats by 47, 16, 15.8, 12, 6.1 and 3.1 % go 5, 2, 1, 1, 1, 0."""
    votes = [Fraction(v) / 10000 for v in (47000, 16000, 15800, 12000, 6100, 3100)]
    assert [int(v) for v in largest_remainder(votes, 0)] == [5, 2, 1, 1, 1, 0]


def test_at_least_is_never_rounded_up() -> None:
    """29.96 % is "at least 29 %"."""
    assert floor_percent(Fraction(2996, 10000)) == 29
