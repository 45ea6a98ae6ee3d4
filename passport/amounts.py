"""Quantities as people write them, kept exact: masses, counts, temperatures, shares, melt flow.

Text comes in as it was written; a frozen value with its unit in its field name goes out. Decimals stay
exact, so that 0.1 + 0.2 kg is 0.3 kg. Rounding happens once, where a figure is shown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

MAX_DIGITS = 15
"""Longer numbers are typing slips: no workshop weighs to fifteen digits."""


class NotAQuantity(ValueError):  # noqa: N818 - reads as what it says
    """Text that is not the quantity wanted: what was met, what was wanted, what to do."""

    def __init__(self, met: str, wanted: str, hint: str = "") -> None:
        super().__init__(f'met "{met}", wanted {wanted}')
        self.met, self.wanted, self.hint = met, wanted, hint


@dataclass(frozen=True, slots=True, kw_only=True)
class Mass:
    """A weighed mass. `plus_minus_kg` is the half-width of a rectangle, None where the scale decides."""

    mass_kg: Decimal
    plus_minus_kg: Decimal | None = None
    each: bool = False
    """True where the text said "each": the mass of one piece of several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """A number of pieces; `each` where it is per thing made."""

    pieces: int
    each: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltFlow:
    """Melt mass-flow rate in g/10 min at a temperature and load (ISO 1133-1)."""

    g_per_10_min: Decimal
    temperature_c: Decimal
    load_kg: Decimal

    @property
    def condition(self) -> str:
        """The test condition as material standards write it, such as "230/2.16"."""
        return f"{self.temperature_c}/{self.load_kg}"


_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_PLAIN = re.compile(_NUMBER)
_MASS = re.compile(
    rf"(?P<value>{_NUMBER})(?:\s*(?:±|\+/-)\s*(?P<half>{_NUMBER}))?\s*(?P<unit>kg|g|t)(?P<each> each)?",
)
_KG_PER_UNIT = {"kg": Decimal(1), "g": Decimal("0.001"), "t": Decimal(1000)}
_COUNT = re.compile(r"(?P<value>[0-9]{1,9})(?:\s*(?:pcs|pieces))?(?P<each> each)?")
_TEMPERATURE = re.compile(rf"(?P<value>-?{_NUMBER})\s*°C")
_PERCENT = re.compile(rf"(?P<value>{_NUMBER})\s*%")
_MELT_FLOW = re.compile(
    rf"(?P<flow>{_NUMBER})\s*g/10 ?min at (?P<temperature>{_NUMBER})\s*°C\s*/\s*(?P<load>{_NUMBER})\s*kg",
)

MASS_WANTED = "a mass with its unit, such as 42.6 kg, 42.6 ± 0.2 kg or 120 g"
COUNT_WANTED = "a whole number of pieces, such as 24 or 24 pcs"
TEMPERATURE_WANTED = "a temperature such as 205 °C"
PERCENT_WANTED = "a share such as 0.5 %"
MELT_FLOW_WANTED = "a melt flow with its condition, such as 6.4 g/10 min at 190 °C/2.16 kg"


def read_mass(text: str) -> Mass:
    """A mass from text such as "42.6 ± 0.2 kg" or "32 g each".

    Raises NotAQuantity with a hint for the slips that people make.
    """
    found = _MASS.fullmatch(text)
    if not found:
        raise NotAQuantity(text, MASS_WANTED, _mass_hint(text))
    unit = _KG_PER_UNIT[found["unit"]]
    half = found["half"]
    return Mass(
        mass_kg=_decimal(found["value"], text, MASS_WANTED) * unit,
        plus_minus_kg=None if half is None else _decimal(half, text, MASS_WANTED) * unit,
        each=bool(found["each"]),
    )


def _decimal(digits: str, text: str, wanted: str) -> Decimal:
    if len(digits) > MAX_DIGITS:
        raise NotAQuantity(text, wanted, f"the number has more than {MAX_DIGITS} digits")
    return Decimal(digits)


def _mass_hint(text: str) -> str:
    """The likeliest slip behind a mass that does not read."""
    if _PLAIN.fullmatch(text):
        return f'a number without a unit could be kilograms or grams: write "{text} kg" or "{text} g"'
    if text.startswith("-"):
        return "a mass is never negative; a stock that went down is an event or a loss"
    if re.fullmatch(r"[0-9]+,[0-9]+.*", text):
        return f'write the decimal point: "{text.replace(",", ".", 1)}"'
    if re.search(r"\b(lb|lbs|oz|pound|pounds|stone)\b", text, re.IGNORECASE):
        return "give kilograms or grams; 1 lb is 0.45359237 kg"
    if re.fullmatch(rf"{_NUMBER}\s*(KG|Kg|kgs?|kilos?|G|gr?|grams?|T)\.?", text, re.IGNORECASE):
        return "the units are written kg, g and t"
    return ""


def read_count(text: str) -> Count:
    """A number of pieces from text such as "24", "24 pcs" or "8 each"."""
    found = _COUNT.fullmatch(text)
    if not found:
        raise NotAQuantity(text, COUNT_WANTED)
    return Count(pieces=int(found["value"]), each=bool(found["each"]))


def read_temperature_c(text: str) -> Decimal:
    """Degrees Celsius from text such as "205 °C"."""
    found = _TEMPERATURE.fullmatch(text)
    if not found:
        hint = f'write "{text} °C"' if re.fullmatch(rf"-?{_NUMBER}", text) else ""
        raise NotAQuantity(text, TEMPERATURE_WANTED, hint)
    return _decimal(found["value"], text, TEMPERATURE_WANTED)


def read_share(text: str) -> Fraction:
    """A share between 0 and 1 from text such as "0.5 %"."""
    found = _PERCENT.fullmatch(text)
    if not found:
        hint = f'write "{text} %"' if _PLAIN.fullmatch(text) else ""
        raise NotAQuantity(text, PERCENT_WANTED, hint)
    share = Fraction(_decimal(found["value"], text, PERCENT_WANTED)) / 100
    if share > 1:
        raise NotAQuantity(text, PERCENT_WANTED, "a share of a whole is at most 100 %")
    return share


def read_melt_flow(text: str) -> MeltFlow:
    """A melt flow from text such as "6.4 g/10 min at 190 °C/2.16 kg" (ISO 1133-1 gives the form)."""
    found = _MELT_FLOW.fullmatch(text)
    if not found:
        raise NotAQuantity(text, MELT_FLOW_WANTED, "a melt flow without temperature and load says nothing")
    parts = (_decimal(found[name], text, MELT_FLOW_WANTED) for name in ("flow", "temperature", "load"))
    flow, temperature, load = parts
    return MeltFlow(g_per_10_min=flow, temperature_c=temperature, load_kg=load)


def largest_remainder(values: list[Fraction], places: int) -> list[Decimal]:
    """Round figures so that the printed ones add up to the printed total (largest remainder rule).

    values: non-negative, in any unit; places: digits after the point. The total is rounded half up,
    each value is floored, and the units left over go to the largest remainders, first come first served.
    """
    scale = 10**places
    floors = [v.numerator * scale // v.denominator for v in values]
    wanted = int(sum(values, Fraction(0)) * scale + Fraction(1, 2))
    over = [
        Fraction(n * v.denominator - v.numerator * scale, v.denominator) for n, v in zip(floors, values, strict=True)
    ]
    by_remainder = sorted(range(len(values)), key=lambda i: (over[i], i))
    for i in by_remainder[: wanted - sum(floors)]:
        floors[i] += 1
    return [Decimal(n).scaleb(-places) for n in floors]


def floor_percent(share: Fraction) -> int:
    """Whole percent, never rounded up: 0.2996 is 29 (EN and law texts: "at least" is a minimum)."""
    return int(share * 100 // 1)
