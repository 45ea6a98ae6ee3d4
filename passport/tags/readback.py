"""Reading finished pictures with a decoder that shares no code with the encoder (zxing-cpp)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import zxingcpp
from PIL import Image

from passport.problems import Problem


def read_symbols(image: Image.Image) -> tuple[str, ...]:
    """The text of every QR symbol in a picture, in no promised order.

    Looking for QR alone is ten times faster than for every kind of symbol (measured).
    """
    grey = image if image.mode == "L" else image.convert("L")
    found = zxingcpp.read_barcodes(grey, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    return tuple(symbol.text for symbol in found)


def unread(image: Image.Image, payloads: Sequence[str]) -> tuple[Problem, ...]:
    """Problems for payloads that the picture does not give back, and for symbols nobody asked for.

    payloads: what each symbol on the picture must say; a payload may stand there twice.
    """
    wanted, met = Counter(payloads), Counter(read_symbols(image))
    lost = [_lost(payload) for payload in (wanted - met).elements()]
    return tuple(lost + [_strange(payload) for payload in (met - wanted).elements()])


def _lost(payload: str) -> Problem:
    return Problem(
        code="label-unread",
        message=f'the symbol of "{payload}" does not read back from the finished picture',
        hint="make the symbol larger or the text shorter; nothing was written",
        about=payload.rpartition("/")[2],
    )


def _strange(payload: str) -> Problem:
    return Problem(
        code="label-strange",
        message=f'the finished picture reads as "{payload}", which was not asked for',
        hint="report this with the records; nothing was written",
        about=payload.rpartition("/")[2],
    )
