"""One label as a picture: symbol, tag number, marking, and the sentence that helps when the website is gone."""

from __future__ import annotations

import io
import math
import zlib
from functools import lru_cache

import numpy as np
from PIL import Image, ImageDraw

from passport.tags.faces import BOLD, LabelError, face
from passport.tags.geometry import Size
from passport.tags.layout import (
    Column,
    LabelSpec,
    LabelText,
    Layout,
    label_problems,
    layout_of,
    tidy_text,
)
from passport.tags.readback import unread
from passport.tags.symbol import QUIET, Symbol
from passport.tags.typeset import triangle

__all__ = [
    "RESOLUTIONS",
    "LabelError",
    "LabelSpec",
    "LabelText",
    "label_image",
    "label_png",
    "label_problems",
    "png_of",
    "stamp_sample",
    "symbol_image",
    "tidy_text",
]

RESOLUTIONS = (203, 300, 600)
"""Dots an inch of common label printers and of a good office printer."""
SAMPLE = "SAMPLE"


def label_image(text: LabelText, spec: LabelSpec) -> Image.Image:
    """The label in black and white, in true size at spec.dpi, read back. Raises LabelError."""
    image = _drawn(text, layout_of(text, spec))
    lost = unread(image, [text.payload] * spec.symbols)
    if lost:
        raise LabelError(lost)
    return image


def label_png(text: LabelText, spec: LabelSpec) -> bytes:
    """The label as a one-bit PNG that knows its size. Same input, same bytes. Raises LabelError."""
    return png_of(label_image(text, spec), spec.dpi)


def png_of(image: Image.Image, dpi: int) -> bytes:
    """A picture as PNG with its resolution in it."""
    made = io.BytesIO()
    # runs are what black and white dots consist of: quicker than the usual search, and smaller
    image.save(made, "PNG", dpi=(dpi, dpi), compress_type=zlib.Z_RLE)
    return made.getvalue()


def symbol_image(symbol: Symbol, size: Size) -> Image.Image:
    """The symbol with its quiet zone, each module a square of whole dots."""
    light = np.pad(~symbol.dark(), QUIET, constant_values=True)
    dots = np.repeat(np.repeat(light, size.dots, axis=0), size.dots, axis=1)
    return Image.fromarray(dots)


def _drawn(text: LabelText, layout: Layout) -> Image.Image:
    image = Image.new("1", (layout.width, layout.height), 1)
    symbol = symbol_image(layout.plan.symbol, layout.plan.size)
    for place in layout.boxes.symbols:
        image.paste(symbol, place)
    left, top, width, height = layout.boxes.text
    image.paste(_words_image(layout.column, width, height), (left, top))
    layout.number.draw(ImageDraw.Draw(image), left, top + layout.column.number_top)
    if text.sample:
        stamp_sample(image, layout.boxes.text)
    return image


@lru_cache(maxsize=256)
def _words_image(column: Column, width: int, height: int) -> Image.Image:
    """The text's box without the number: the same for all things of a batch, so drawn once."""
    image = Image.new("1", (width, height), 1)
    canvas = ImageDraw.Draw(image)
    canvas.rectangle((0, column.rule_top, width - 1, column.rule_top + column.rule_dots - 1), fill=0)
    if column.triangle:
        image.paste(
            triangle(column.triangle_dots, column.triangle_stroke_dots, column.triangle), (0, column.triangle_top)
        )
    for line, left, top in column.lines:
        line.draw(canvas, left, top)
    return image


def stamp_sample(image: Image.Image, box: tuple[int, int, int, int]) -> None:
    """Print SAMPLE across a box: left, top, width, height in dots."""
    left, top, width, height = box
    ink, halo = _sample_masks(width, height)
    image.paste(1, (left, top), halo)
    image.paste(0, (left, top), ink)


@lru_cache(maxsize=16)
def _sample_masks(width: int, height: int) -> tuple[Image.Image, Image.Image]:
    """The word SAMPLE from corner to corner of the text, and the light rim that keeps it legible."""
    angle = math.degrees(math.atan2(height, width)) * 0.9
    wanted = math.hypot(width, height) * 0.82
    em = round(wanted / (face(BOLD, 100.0).getlength(SAMPLE) / 100.0), 1)
    ink, halo = (_turned(em, rim, angle, (width, height)) for rim in (0, max(round(em * 0.045), 2)))
    return ink, halo


def _turned(em: float, rim: int, angle: float, box: tuple[int, int]) -> Image.Image:
    side = max(box) * 2
    flat = Image.new("L", (side, side), 0)
    middle, font = (side / 2, side / 2), face(BOLD, em)
    ImageDraw.Draw(flat).text(middle, SAMPLE, font=font, fill=255, anchor="mm", stroke_width=rim)
    turned = flat.rotate(angle, resample=Image.Resampling.BICUBIC)
    left, top = (side - box[0]) // 2, (side - box[1]) // 2
    part = turned.crop((left, top, left + box[0], top + box[1]))
    return part.point([0] * 128 + [255] * 128, mode="1")
