"""Pictures from the records, made fit to publish: turned upright, small, without a word about who took them."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

from PIL import Image, ImageOps, UnidentifiedImageError

from passport.problems import Place, Problem

MAX_PIXELS = 60_000_000
"""A larger picture is a slip or a bomb: a telephone takes fifty million pixels at most."""
WIDEST_PX = 960
"""Twice the widest column of a phone page, so that it stays sharp on a fine screen."""
DRAWN_COLOURS = 64
"""Up to so many colours it is a drawing and stays a PNG; more make a photograph."""
JPEG_QUALITY = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """A picture ready for the site."""

    name: str
    content: bytes
    width_px: int
    height_px: int


def ready_picture(name: str, data: bytes) -> Ready | Problem:
    """The picture `name`, upright, at most WIDEST_PX wide, stripped of all metadata; or why it cannot be used.

    Only pixels are taken over: position, camera, time, comments and colour profile stay behind. What is clear
    becomes white, as the paper of a page.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return _ready(name, data)
    except UnidentifiedImageError:  # its own words name an object in memory, another one in each run
        return _refused(name, "it is of another kind")
    except (OSError, ValueError, SyntaxError, Warning, EOFError, MemoryError, Image.DecompressionBombError) as slip:
        return _refused(name, str(slip))


def _ready(name: str, data: bytes) -> Ready | Problem:
    with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
        if opened.width * opened.height > MAX_PIXELS:
            return _refused(name, f"{opened.width} × {opened.height} pixels")
        upright = _bare(ImageOps.exif_transpose(opened))
    if upright.width > WIDEST_PX:
        height = max(1, round(upright.height * WIDEST_PX / upright.width))
        upright = upright.resize((WIDEST_PX, height), Image.Resampling.LANCZOS)
    return _encoded(name, upright)


def _bare(picture: Image.Image) -> Image.Image:
    """Nothing but pixels, in eight bits for each of red, green and blue."""
    if picture.mode.startswith("I"):  # a plain conversion would cut 16 bits of grey off at 255
        picture = picture.convert("I").point(lambda tone: tone * (1 / 257)).convert("L")
    if picture.has_transparency_data:
        clear = picture.convert("RGBA")
        picture = Image.alpha_composite(Image.new("RGBA", clear.size, "white"), clear)
    bare = picture.convert("RGB")
    bare.info = {}  # a profile or comment in there would be saved again
    return bare


def _encoded(name: str, picture: Image.Image) -> Ready:
    out = io.BytesIO()
    if picture.getcolors(DRAWN_COLOURS) is not None:
        picture.quantize(DRAWN_COLOURS).save(out, "PNG", optimize=True)
        ending = ".png"
    else:
        picture.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, progressive=True)
        ending = ".jpg"
    # with its whole old name, so that in-031.jpg and in-031.png stay two pictures
    named = name if name.endswith(ending) else name + ending
    return Ready(name=named, content=out.getvalue(), width_px=picture.width, height_px=picture.height)


def _refused(name: str, why: str) -> Problem:
    message = f"met a picture that cannot be shown ({why}), wanted a JPEG, PNG or WebP of at most 60 million pixels"
    place = Place(f"content/photos/{name}")
    return Problem(
        code="bad-picture", message=message, place=place, hint="open it in a picture program and save it anew"
    )
