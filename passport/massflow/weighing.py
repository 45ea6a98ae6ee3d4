"""A weighing as an exact mass with its first-order uncertainty, as a sparse form over independent sources.

Every half-width `a` in the records is that of a rectangle: its standard uncertainty is a/√3 (JCGM 100:2008,
4.3.7). Sources are independent of each other; what two masses share (the bias of one scale) is one source in
both, so that it cancels or adds up as it does on the floor (JCGM 100:2008, 5.2.2, with correlation through a
common source, F.1.2.3).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from passport.amounts import Mass
from passport.reading.records import Scale

SQRT3 = math.sqrt(3)


@dataclass(frozen=True, slots=True)
class Measured:
    """An exact value (kg unless said otherwise) with its sensitivity to each source of uncertainty."""

    value: Fraction
    sensitivities: Mapping[str, float] = field(default_factory=dict)
    """d(value)/d(source), by the source's key."""
    known: bool = True
    """False where some weighing in it has neither `±` nor a scale: its uncertainty is then unknown."""

    def __add__(self, other: Measured) -> Measured:
        return total((self, other))

    def __sub__(self, other: Measured) -> Measured:
        return total((self, other.times(-1)))

    def times(self, factor: Fraction | int) -> Measured:
        """The value times an exact constant."""
        slope = float(factor)
        scaled = {key: slope * c for key, c in self.sensitivities.items()} if slope else {}
        return Measured(self.value * factor, scaled, self.known or not slope)


NOTHING = Measured(Fraction(0))


def total(terms: Iterable[Measured]) -> Measured:
    """The sum of several measured values."""
    value, known = Fraction(0), True
    slopes: dict[str, float] = {}
    for term in terms:
        value += term.value
        known = known and term.known
        for key, slope in term.sensitivities.items():
            slopes[key] = slopes.get(key, 0.0) + slope
    return Measured(value, slopes, known)


@dataclass(slots=True)
class Weighings:
    """All weighings of a shop, and the standard uncertainty (kg) of every source they name."""

    scales: Mapping[str, Scale]
    spread_kg: dict[str, float] = field(default_factory=dict)
    """Standard uncertainty by source; keys such as "weighing:lot:IN-031" and "bias:floor"."""

    def weigh(self, key: str, mass: Mass, *scale_names: str) -> Measured:
        """One weighing in kg. Its own `±` comes first, then the first named scale, then the workshop's first."""
        value = Fraction(mass.mass_kg)
        source = f"weighing:{key}"
        if mass.plus_minus_kg is not None:
            return self._rectangle(source, value, float(mass.plus_minus_kg))
        name = next((n for n in scale_names if n), "") or next(iter(self.scales), "")
        scale = self.scales.get(name)
        if scale is None:
            return Measured(value, {}, known=False)
        return self._on(name, scale, source, value)

    def net(self, key: str, gross: Mass, tare: Mass, *scale_names: str) -> Measured:
        """Gross less tare: two weighings on one scale, so that its bias cancels."""
        return self.weigh(f"{key}:gross", gross, *scale_names) - self.weigh(f"{key}:tare", tare, *scale_names)

    def of_pieces(self, key: str, drawn: int, counted: int, lot: Measured, spread_kg: float) -> Measured:
        """So many pieces of a weighed lot: n/N of its mass, and how far the n pieces may differ from its mean.

        spread_kg: half-width for a single piece. n pieces of N without replacement vary by n(1 − n/N) single
        variances, nothing where all are taken (Cochran, Sampling Techniques, 3rd ed., theorem 2.2; from memory).
        """
        share = lot.times(Fraction(drawn, counted))
        uneven = max(drawn * (1 - drawn / counted), 0.0)
        if not spread_kg or not uneven:
            return share
        return share + self._rectangle(f"pieces:{key}", Fraction(0), spread_kg * math.sqrt(uneven))

    def finest_scale(self) -> str:
        """The name of the scale with the smallest step, for small things that name none."""
        return min(self.scales, key=lambda name: (self.scales[name].step.mass_kg, name), default="")

    def u(self, measured: Measured) -> float | None:
        """Standard uncertainty of a value: √Σ(c_i u_i)² (JCGM 100:2008, equation 10); None where unknown."""
        if not measured.known:
            return None
        return math.sqrt(sum((c * self.spread_kg[key]) ** 2 for key, c in measured.sensitivities.items()))

    def _rectangle(self, source: str, value: Fraction, half_width_kg: float) -> Measured:
        self.spread_kg[source] = half_width_kg / SQRT3
        return Measured(value, {source: 1.0})

    def _on(self, name: str, scale: Scale, source: str, value: Fraction) -> Measured:
        # a resolution of `step` hides any value within ± half of it (JCGM 100:2008, F.2.2.1)
        step, repeat = float(scale.step.mass_kg) / 2, _half_width(scale.repeat)
        self.spread_kg[source] = math.hypot(step, repeat) / SQRT3
        slopes = {source: 1.0}
        if scale.bias is not None:
            self.spread_kg[f"bias:{name}"] = _half_width(scale.bias) / SQRT3
            slopes[f"bias:{name}"] = 1.0
        return Measured(value, slopes)


def _half_width(mass: Mass | None) -> float:
    return float(mass.mass_kg) if mass is not None else 0.0
