"""Segments → the codewords of a QR symbol with their error correction (ISO/IEC 18004, 7.4 and 7.5).

The library `qrcode` writes bit after bit and divides polynomials in Python; error correction is linear, so here the
data are multiplied by a table of what each codeword adds. The table is made with the library's own polynomials, and
a test holds the codewords to the library's.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from qrcode import base, util

Bytes = npt.NDArray[np.uint8]

_PADS = (0xEC, 0x11)
"""ISO/IEC 18004, 7.4.10: what fills the codewords that the data leave."""
_TERMINATOR_BITS = 4


class _Bits:
    """What the library's segments write into, as one long number."""

    def __init__(self) -> None:
        self.value = 0
        self.length = 0

    def put(self, number: int, length: int) -> None:
        """Add so many bits, the highest first."""
        self.value = self.value << length | number
        self.length += length


def codewords(version: int, level: int, segments: list[util.QRData]) -> Bytes:
    """Data and error correction codewords in their final order.

    level: the library's constant. The segments must fit; the library's `create_data` gives the same numbers.
    """
    blocks = base.rs_blocks(version, level)
    data = _padded(version, segments, sum(block.data_count for block in blocks))
    ends = np.cumsum([block.data_count for block in blocks])
    parts = np.split(data, ends[:-1])
    added = [_correction(part, block.total_count - block.data_count) for part, block in zip(parts, blocks, strict=True)]
    return np.concatenate([_in_turn(parts), _in_turn(added)])


def _padded(version: int, segments: list[util.QRData], count: int) -> Bytes:
    bits = _Bits()
    for segment in segments:
        bits.put(segment.mode, 4)
        bits.put(len(segment), util.length_in_bits(segment.mode, version))
        segment.write(bits)
    if bits.length > 8 * count:
        raise ValueError(f"met {bits.length} bits, wanted at most {8 * count}")
    bits.put(0, min(_TERMINATOR_BITS, 8 * count - bits.length))
    bits.put(0, -bits.length % 8)
    written = bits.value.to_bytes(bits.length // 8, "big")
    pads = bytes(_PADS[i % 2] for i in range(count - len(written)))
    return np.frombuffer(written + pads, dtype=np.uint8)


def _in_turn(parts: list[Bytes]) -> Bytes:
    """The first codeword of each block, then the second of each; short blocks are passed over at the end."""
    longest = max(len(part) for part in parts)
    table = np.full((longest, len(parts)), -1, dtype=np.int16)
    for column, part in enumerate(parts):
        table[: len(part), column] = part
    flat = table.ravel()
    return flat[flat >= 0].astype(np.uint8)


def _correction(data: Bytes, count: int) -> Bytes:
    """The error correction codewords of one block: the sum of what each data codeword adds."""
    adds = _added_by(len(data), count)
    summed: Bytes = np.bitwise_xor.reduce(_products()[data[:, None], adds], axis=0)
    return summed


@cache
def _added_by(length: int, count: int) -> Bytes:
    """Row i: the remainder of a block whose codeword i is 1 and whose others are 0."""
    divisor = base.Polynomial([1], 0)
    for power in range(count):
        divisor = divisor * base.Polynomial([1, base.gexp(power)], 0)
    rows = [list(base.Polynomial([1], length - 1 - i + count) % divisor) for i in range(length)]
    return np.array([[0] * (count - len(row)) + row for row in rows], dtype=np.uint8)


@cache
def _products() -> Bytes:
    """All products in the field of 256 elements that QR uses."""
    logs = np.array([0, *(base.glog(n) for n in range(1, 256))])
    powers = np.array([base.gexp(n) for n in range(255)], dtype=np.uint8)
    products: Bytes = powers[(logs[:, None] + logs[None, :]) % 255]
    products[0, :] = products[:, 0] = 0
    return products
