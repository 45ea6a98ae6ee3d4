"""The one test that would tell the remaining candidates apart: the cheapest first, and never a flame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from passport.material.resins import Figure, resins
from passport.material.seen import Ground, Seen, Support
from passport.material.separating_liquid import SAFE_MARGIN_G_CM3, Recipe, separating

MANY = 6
"""With more candidates than this a reading says more than one float does (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTest:
    """What to do next. Themes word it by `key`, `in_words` says it in English.

    key: float, dsc, ftir, ftir-one, filler, press, nir or mark.
    """

    key: str
    between: tuple[str, str] | tuple[()] = ()
    """The two resins it tells apart."""
    floats: tuple[str, ...] = ()
    sinks: tuple[str, ...] = ()
    """Candidates by what a float would show."""
    recipe: Recipe | None = None

    def in_words(self) -> str:
        """The advice as a technician would give it."""
        if self.recipe is not None:
            return _float_in_words(self.recipe, self.floats, self.sinks)
        return _WORDS[self.key].format(*self.between)


_WORDS = {
    "dsc": "have the melting peak measured (DSC): {0} and {1} melt at different temperatures",
    "ftir": "have an infrared spectrum taken (FTIR): nothing at the bench tells {0} from {1}",
    "ftir-one": "have an infrared spectrum taken (FTIR) of a few pieces",
    "filler": "look for a mark that names a filler, or have the ash weighed in a laboratory",
    "press": "press a piece solid and float it again: solid polystyrene sinks in water",
    "nir": "read clean, light pieces with the scanner",
    "mark": "look for a moulded mark on the dark pieces, then float one in water",
}


def _float_in_words(recipe: Recipe, floats: Sequence[str], sinks: Sequence[str]) -> str:
    up = f"{_list(floats)} float{'s' if len(floats) == 1 else ''}"
    down = f"{_list(sinks)} sink{'s' if len(sinks) == 1 else ''}"
    said = f"float a piece in {_liquid_in_words(recipe)}: {up}, {down}"
    return said + ("; the vapour is flammable" if recipe.flammable else "")


def _liquid_in_words(recipe: Recipe) -> str:
    percent = f"{recipe.liquid.percent_by_mass:.0f} %"
    if recipe.liquid.kind == "ethanol":
        return f"{percent} alcohol by mass"
    if recipe.liquid.kind == "brine":
        return f"salt water of {recipe.salt_g_per_100_g_water:.0f} g salt in 100 g water"
    return "water with a drop of soap"


def _list(symbols: Sequence[str]) -> str:
    return " and ".join([", ".join(symbols[:-1]), symbols[-1]] if len(symbols) > 1 else symbols)


def next_test_for(candidates: Sequence[str], seen: Sequence[Seen]) -> NextTest | None:
    """The test that splits the candidates best; None where the table holds no second candidate to rule out."""
    if len(candidates) > MANY:
        # a piece too dark for the scanner needs an eye and a bucket
        return NextTest(key="mark" if any(s.code == "nir-none" for s in seen) else "nir")
    if len(candidates) == 1:
        return _confirming(candidates[0], seen)
    if not candidates:
        return NextTest(key="nir")
    return (
        _best_float(candidates, seen)
        or _by_scanner(candidates, seen)
        or _by_heat(candidates)
        or _by_spectrum(candidates)
    )


def _best_float(candidates: Sequence[str], seen: Sequence[Seen]) -> NextTest | None:
    """The liquid that splits the candidates most evenly, the safest liquid and the widest margin first."""
    pairs = [pair for a, b in combinations(candidates, 2) for pair in ((a, b), (b, a))]
    recipes = [r for a, b in pairs if (r := separating(a, b)) is not None and not _done(r, seen)]
    splits = [_split(candidates, recipe) for recipe in recipes]
    return min((s for s in splits if s.floats and s.sinks), key=_order, default=None)


def _done(recipe: Recipe, seen: Sequence[Seen]) -> bool:
    """Whether pieces were floated in about this liquid already."""
    floated = [d for s in seen for d in (s.floats_below_g_cm3, s.sinks_above_g_cm3) if d is not None]
    return any(abs(recipe.density_g_cm3 - density) < SAFE_MARGIN_G_CM3 for density in floated)


def _order(test: NextTest) -> tuple[int, bool, float]:
    recipe = test.recipe
    undecided_last = -min(len(test.floats), len(test.sinks))
    return undecided_last, recipe is not None and recipe.flammable, -(recipe.margin_g_cm3 if recipe else 0.0)


def _split(candidates: Sequence[str], recipe: Recipe) -> NextTest:
    density = {s: resins()[s].density_g_cm3 for s in candidates}
    return NextTest(
        key="float",
        floats=tuple(s for s in candidates if density[s].high < recipe.density_g_cm3),
        sinks=tuple(s for s in candidates if density[s].low > recipe.density_g_cm3),
        recipe=recipe,
    )


def _by_scanner(candidates: Sequence[str], seen: Sequence[Seen]) -> NextTest | None:
    """A scanner tells groups apart, where no light has been on the pieces yet."""
    scanned = any(s.ground is Ground.SPECTRUM for s in seen)
    several = len({resins()[s].group for s in candidates}) > 1
    return NextTest(key="nir") if several and not scanned else None


def _by_heat(candidates: Sequence[str]) -> NextTest | None:
    for one, other in combinations(candidates, 2):
        if _melt_apart(resins()[one].melts_c, resins()[other].melts_c):
            return NextTest(key="dsc", between=(one, other))
    return None


def _melt_apart(one: Sequence[Figure], other: Sequence[Figure]) -> bool:
    """Melting ranges that do not touch, or a resin that melts beside one that only softens."""
    if bool(one) != bool(other):
        return True
    return bool(one) and all(a.gap_to(b) > 0 for a in one for b in other)


def _by_spectrum(candidates: Sequence[str]) -> NextTest:
    one, other = candidates[:2]
    return NextTest(key="ftir", between=(one, other))


def _confirming(symbol: str, seen: Sequence[Seen]) -> NextTest | None:
    """For one likely name: what is odd about it first, then a float, then a spectrum."""
    if resins()[symbol].float_note:
        return NextTest(key="press")
    if any(symbol in s.only_if_filled for s in seen):
        return NextTest(key="filler")
    neighbour = _TAKEN_FOR.get(symbol)
    floated = any(s.code in ("floats", "sinks", "float-bracket", "density") for s in seen)
    if neighbour is not None and not floated:
        return _best_float((symbol, neighbour), seen)
    read = any(s.support is Support.STRONG or s.code == "nir-none" for s in seen)
    return NextTest(key="ftir-one" if read else "nir")


def taken_for(symbol: str) -> str:
    """The resin that a float should rule out first; "" for one that no other is taken for."""
    return _TAKEN_FOR.get(symbol, "")


_TAKEN_FOR = {
    "PP": "PE-HD",
    "PE-HD": "PP",
    "PE-LD": "PS",
    "PE-LLD": "PS",
    "PS": "PP",
    "PS-HI": "PP",
    "ABS": "PP",
    "PET": "PS",
    "PVC-U": "PS",
    "PA6": "PS",
    "PC": "PS",
    "PMMA": "PS",
    "POM": "PS",
}
"""The resin that a float should rule out first (common practice, no source)."""
