"""The QR symbol of a payload (ISO/IEC 18004:2024), made with the library `qrcode`.

The library gives tables, patterns and polynomials; here stand the choice of segments, of the
smallest version and of the mask. The library tries eight masks with loops in Python, which costs
most of its time; numpy weighs all eight at once. The modules are those of the library for the
same version, level and mask, and a test holds them to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import groupby

import numpy as np
import numpy.typing as npt
from qrcode import base, constants, util
from qrcode.main import QRCode

from passport.tags.codewords import codewords

QUIET = 4
"""Light modules wanted on all sides: ISO/IEC 18004 5.3.8 (2006 numbering)."""
LARGEST_VERSION = 40
LEVELS = {
    "L": constants.ERROR_CORRECT_L,
    "M": constants.ERROR_CORRECT_M,
    "Q": constants.ERROR_CORRECT_Q,
    "H": constants.ERROR_CORRECT_H,
}
ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""ISO/IEC 18004 table 5."""

Bits = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]
Places = npt.NDArray[np.intp]
Codewords = npt.NDArray[np.uint8] | list[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """One QR symbol without its quiet zone."""

    modules: tuple[bytes, ...]
    """Rows from the top; a byte a module: 1 is dark."""
    version: int
    level: str
    """L, M, Q or H."""
    mask: int
    payload: str

    @property
    def side(self) -> int:
        """Modules along one side: 17 + 4 × version."""
        return len(self.modules)

    def dark(self) -> Bits:
        """The modules as a square array of booleans."""
        flat = np.frombuffer(b"".join(self.modules), dtype=np.bool_)
        return flat.reshape(self.side, self.side)


@lru_cache(maxsize=4096)
def symbol_for(payload: str, level: str = "Q", mask: int | None = None, version: int = 1) -> Symbol:
    """The smallest symbol that holds the payload, from `version` on; the mask by the rule of 7.8.3.

    Raises ValueError if payload is not ASCII, or too long for any version at that level.
    """
    segments = segments_of(payload)
    fitted = smallest_version(segments, level, version)
    words = codewords(fitted, LEVELS[level], segments)
    chosen = mask_of(fitted, words) if mask is None else mask
    return Symbol(
        modules=_modules(fitted, level, chosen, words),
        version=fitted,
        level=level,
        mask=chosen,
        payload=payload,
    )


# --- segments and version -----------------------------------------------------------------------


def segments_of(payload: str) -> list[util.QRData]:
    """The split into byte and alphanumeric segments that needs the fewest bits in versions 1 to 9.

    Readers disagree on what bytes above 127 mean (18004:2024 5.1 b), so the payload is ASCII.
    """
    if not payload or not payload.isascii():
        raise ValueError(f"{payload!r} cannot go into a symbol: wanted ASCII characters")
    modes = _modes(tuple(character in ALPHANUMERIC for character in payload))
    runs = groupby(zip(payload, modes, strict=True), key=lambda pair: pair[1])
    return [util.QRData("".join(c for c, _ in run).encode(), mode=mode) for mode, run in runs]


_HEADER_BITS = {util.MODE_8BIT_BYTE: 4 + 8, util.MODE_ALPHA_NUM: 4 + 9}
"""ISO/IEC 18004 table 3: mode indicator and character count in versions 1 to 9."""
_TWICE_BITS = {util.MODE_8BIT_BYTE: 16, util.MODE_ALPHA_NUM: 11}
"""Twice the bits of a character (18004 7.4.4, 7.4.5), to stay in whole numbers."""


@lru_cache(maxsize=64)
def _modes(alphanumeric: tuple[bool, ...]) -> list[int]:
    """The mode of each character, by dynamic programming over the cheapest way to reach it.

    alphanumeric: which characters have a place in that mode; the same for all tags of a workshop.
    """
    cost: dict[int, int] = {mode: 2 * bits for mode, bits in _HEADER_BITS.items()}
    came_from: list[dict[int, int]] = []
    for either in alphanumeric:
        step: dict[int, int] = {}
        reached: dict[int, int] = {}
        for mode in (util.MODE_8BIT_BYTE, util.MODE_ALPHA_NUM)[: 1 + either]:
            changes = {m: c + (0 if m == mode else _change(c, mode)) for m, c in cost.items()}
            best = min(changes, key=lambda m: (changes[m], m != mode))  # used at once
            step[mode], reached[mode] = best, changes[best] + _TWICE_BITS[mode]
        came_from.append(step)
        cost = reached
    mode = min(cost, key=lambda m: (cost[m] + cost[m] % 2, m))
    modes = []
    for step in reversed(came_from):
        modes.append(mode)
        mode = step[mode]
    return modes[::-1]


def _change(cost: int, mode: int) -> int:
    """Twice the bits of a new segment's header; an odd last alphanumeric character rounds up."""
    return 2 * _HEADER_BITS[mode] + cost % 2


def smallest_version(segments: list[util.QRData], level: str, least: int = 1) -> int:
    """The first version from `least` that holds the segments. Raises ValueError if none does."""
    for version in range(least, LARGEST_VERSION + 1):
        if _bits(segments, version) <= _capacity_bits(version, level):
            return version
    raise ValueError(f"no QR symbol of level {level} holds {sum(len(s) for s in segments)} characters")


def _bits(segments: list[util.QRData], version: int) -> int:
    return sum(4 + util.length_in_bits(s.mode, version) + _data_bits(s) for s in segments)


def _data_bits(segment: util.QRData) -> int:
    """ISO/IEC 18004 7.4: 8 bits a byte; 11 bits a pair of alphanumeric characters, 6 for a last odd one."""
    if segment.mode == util.MODE_8BIT_BYTE:
        return 8 * len(segment)
    return 11 * (len(segment) // 2) + 6 * (len(segment) % 2)


@cache
def _capacity_bits(version: int, level: str) -> int:
    return 8 * sum(int(block.data_count) for block in base.rs_blocks(version, LEVELS[level]))


# --- modules ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """What all symbols of a version share."""

    function: Bits
    """Finder, separator, timing, alignment and version patterns; everything else light. Square."""
    order: Places
    """Flat places of the encoding region in the order in which bits are placed."""
    masks: Bits
    """The eight masks at those places: (8, number of places)."""


@cache
def _frame(version: int) -> _Frame:
    """The patterns are the library's; the order of placement is walked here."""
    blank = _library_blank(version)
    side = len(blank)
    taken = np.array([[module is not None for module in row] for row in blank])
    function = np.array([[bool(module) for module in row] for row in blank])
    order = np.array([row * side + column for row, column in _walk(side) if not taken[row, column]])
    rows, columns = np.divmod(order, side)
    masks = np.array(
        [[util.mask_func(m)(int(r), int(c)) for r, c in zip(rows, columns, strict=True)] for m in range(8)]
    )
    return _Frame(function=function, order=order, masks=masks)


def _library_blank(version: int) -> list[list[bool | None]]:
    """The library's own function patterns; format areas are taken but light; None is free for data."""
    drawing = QRCode(version=version)
    drawing.modules_count = side = 17 + 4 * version
    drawing.modules = [[None] * side for _ in range(side)]
    for row, column in ((0, 0), (side - 7, 0), (0, side - 7)):
        drawing.setup_position_probe_pattern(row, column)
    drawing.setup_position_adjust_pattern()
    drawing.setup_timing_pattern()
    drawing.setup_type_info(True, 0)
    if version >= 7:  # noqa: PLR2004  # 18004 7.10: version information from version 7 on
        drawing.setup_type_number(False)
    modules: list[list[bool | None]] = drawing.modules
    return modules


def _walk(side: int) -> list[tuple[int, int]]:
    """Rows and columns in the order of placement: pairs of columns from the right, up and down in turn.

    ISO/IEC 18004 7.7.3. Column 6 is the timing pattern and is passed over.
    """
    rights = [*range(side - 1, 6, -2), *range(5, 0, -2)]
    walked = []
    for turn, right in enumerate(rights):
        rows = range(side) if turn % 2 else range(side - 1, -1, -1)
        walked += [(row, column) for row in rows for column in (right, right - 1)]
    return walked


def _data_at(frame: _Frame, words: Codewords) -> Bits:
    """The bits of the codewords at the places of the encoding region; remainder bits are 0."""
    bits = np.zeros(len(frame.order), dtype=np.bool_)
    unpacked = np.unpackbits(np.asarray(words, dtype=np.uint8))
    bits[: len(unpacked)] = unpacked
    return bits


def _modules(version: int, level: str, mask: int, words: Codewords) -> tuple[bytes, ...]:
    frame = _frame(version)
    side = len(frame.function)
    flat = frame.function.copy().ravel()
    flat[frame.order] = _data_at(frame, words) ^ frame.masks[mask]
    flat[_format_places(side)] = _format_bits(level, mask)
    rows = flat.reshape(side, side).view(np.uint8)
    return tuple(row.tobytes() for row in rows)


@cache
def _format_places(side: int) -> Places:
    """Flat places of both copies of the 15 format bits, lowest bit first, and of the dark module.

    ISO/IEC 18004 7.9, figure 25 (2015 numbering, from memory).
    """
    down = [*range(6), 7, 8, *range(side - 7, side)]
    across = [*range(side - 1, side - 9, -1), 7, *range(5, -1, -1)]
    first = [row * side + 8 for row in down]
    second = [8 * side + column for column in across]
    return np.array([*first, *second, (side - 8) * side + 8])


@cache
def _format_bits(level: str, mask: int) -> Bits:
    bits = util.BCH_type_info((LEVELS[level] << 3) | mask)
    once = [bool(bits >> place & 1) for place in range(15)]
    return np.array([*once, *once, True])


# --- the mask by the rule ------------------------------------------------------------------------


def mask_of(version: int, words: Codewords) -> int:
    """The mask with the lowest penalty, the lowest number among equals (18004 7.8.3)."""
    return int(np.argmin(sum(penalties(version, words))))


def penalties(version: int, words: Codewords) -> tuple[Counts, Counts, Counts, Counts]:
    """N1 to N4 of the eight masks.

    The text of 7.8.3 leaves open what is weighed. Here it is the symbol before its format bits are
    placed (7.9 comes after 7.8), and the quiet zone counts as light for N3: the reading that gives
    the totals printed in a review of the 2024 edition, and mask 3 for the example of annex I, as in
    that edition's own sentence. Every mask is legal to read.
    """
    tried = _tried(version, words)
    both_ways = np.concatenate([tried, tried.transpose(0, 2, 1)])
    return _runs(both_ways), _blocks(tried), _finder_like(both_ways), _balance(tried)


def _tried(version: int, words: Codewords) -> Bits:
    """The eight masked symbols without format bits: (8, side, side)."""
    frame = _frame(version)
    side = len(frame.function)
    flat = np.repeat(frame.function.reshape(1, -1), 8, axis=0)
    flat[:, frame.order] = _data_at(frame, words) ^ frame.masks
    return flat.reshape(8, side, side)


def _counted(found: Bits) -> Counts:
    counts: Counts = found.reshape(len(found), -1).sum(axis=1, dtype=np.int64)
    return counts


def _both(counts: Counts) -> Counts:
    """Rows and columns of each mask together."""
    return counts[:8] + counts[8:]


def _runs(lines: Bits) -> Counts:
    """N1: 3 + i for each run of 5 + i equal modules.

    A run of length n holds n − 4 windows of five equal modules, so it weighs its windows and 2.
    """
    same = lines[:, :, 1:] == lines[:, :, :-1]
    pairs = same[:, :, 1:] & same[:, :, :-1]
    windows = pairs[:, :, 2:] & pairs[:, :, :-2]
    continued = windows[:, :, 1:] & windows[:, :, :-1]
    return _both(3 * _counted(windows) - 2 * _counted(continued))


def _blocks(tried: Bits) -> Counts:
    """N2: 3 for each 2 × 2 block of one colour."""
    across = tried[:, :, 1:] == tried[:, :, :-1]
    down = tried[:, 1:, :-1] == tried[:, :-1, :-1]
    return 3 * _counted(across[:, 1:] & across[:, :-1] & down)


def _finder_like(lines: Bits) -> Counts:
    """N3: 40 for each dark-light-dark-light-dark run of 1:1:3:1:1 with 4 light modules before or after it."""
    padded = np.pad(lines, ((0, 0), (0, 0), (QUIET, QUIET)))
    light = ~padded
    width = padded.shape[2] - 6
    at = [slice(start, start + width) for start in range(7)]
    core = padded[:, :, at[0]] & light[:, :, at[1]] & padded[:, :, at[2]] & padded[:, :, at[3]]
    core &= padded[:, :, at[4]] & light[:, :, at[5]] & padded[:, :, at[6]]
    two = light[:, :, 1:] & light[:, :, :-1]
    four = two[:, :, 2:] & two[:, :, :-2]
    inner = slice(QUIET, width - QUIET)
    return 40 * _both(_counted(core[:, :, inner] & (four[:, :, : -7 - QUIET] | four[:, :, 7 + QUIET :])))


def _balance(tried: Bits) -> Counts:
    """N4: 10 for each whole 5 % by which the dark share is off 50 %."""
    size = tried.shape[1] ** 2
    off = np.abs(2 * _counted(tried) - size)
    tenfold: Counts = 10 * (off * 10 // size)
    return tenfold


# --- as SVG --------------------------------------------------------------------------------------


def symbol_path(symbol: Symbol, quiet: int = QUIET) -> str:
    """The dark modules as one SVG path in module units; runs in a row are one stroke of height 1."""
    steps = []
    for y, row in enumerate(symbol.modules, start=quiet):
        x = quiet
        for dark, run in groupby(row):
            width = len(list(run))
            if dark:
                steps.append(f"M{x} {y}h{width}v1h-{width}z")
            x += width
    return "".join(steps)


def symbol_svg(symbol: Symbol, quiet: int = QUIET) -> str:
    """One path in a picture of its own; the viewBox counts modules, edges stay crisp.

    The text around it names the symbol, so the picture itself is hidden from screen readers.
    """
    side = symbol.side + 2 * quiet
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" shape-rendering="crispEdges" '
        f'aria-hidden="true"><path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path fill="#000" d="{symbol_path(symbol, quiet)}"/></svg>'
    )
