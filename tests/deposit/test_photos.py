"""Pictures in a deposit keep every pixel and say nothing of place, time, camera or person."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageOps, PngImagePlugin

from passport.deposit.photos import bare_picture
from passport.problems import Problem

NEEDLE = "53.3498 N 6.2603 W by Nobody"
KINDS = ("JPEG", "PNG", "WEBP")


def picture() -> Image.Image:
    """Something with a top, a bottom and a left side."""
    made = Image.new("RGB", (48, 32), "navy")
    made.putdata([(x * 5, y * 7, (x * 37 + y * 91 + x * y * 13) % 256) for y in range(32) for x in range(48)])
    return made


def taken(kind: str, turned: int = 1, **more: object) -> bytes:
    """A picture as a telephone saves it: with place, time, words and a profile."""
    exif = Image.Exif()
    exif[0x0112] = turned
    exif[0x010E] = NEEDLE
    exif.get_ifd(0x8825)[1] = "N"
    notes = PngImagePlugin.PngInfo()
    notes.add_text("Author", NEEDLE)
    notes.add_itxt("XML:com.adobe.xmp", NEEDLE)
    own = {
        "JPEG": {"comment": NEEDLE, "xmp": NEEDLE.encode()},
        "PNG": {"pnginfo": notes},
        "WEBP": {"xmp": NEEDLE.encode()},
    }
    out = io.BytesIO()
    picture().save(out, kind, exif=exif, icc_profile=NEEDLE.encode() * 8, **own[kind], **more)
    return out.getvalue()


def seen(data: bytes) -> Image.Image:
    """The picture as somebody sees it: the right way up."""
    with Image.open(io.BytesIO(data)) as opened:
        return ImageOps.exif_transpose(opened).convert("RGB")


@pytest.mark.parametrize("turned", [1, 3, 6, 8])
@pytest.mark.parametrize("kind", KINDS)
def test_every_pixel_stays_and_every_word_goes(kind: str, turned: int) -> None:
    """Another decoder (Pillow) sees the same picture the same way up; the words are nowhere in the file."""
    data = taken(kind, turned)
    assert NEEDLE.encode() in data
    bare = bare_picture("in-031.jpg", data)
    assert isinstance(bare, bytes)
    assert NEEDLE.encode() not in bare
    assert ImageChops.difference(seen(data), seen(bare)).getbbox() is None
    with Image.open(io.BytesIO(bare)) as opened:
        assert opened.format == kind
        assert dict(opened.getexif()) in ({}, {0x0112: turned})
        assert {"comment", "icc_profile", "xmp", "Author"} & opened.info.keys() == set()


def test_scans_that_follow_each_other_stay() -> None:
    """A progressive JPEG has several, with tables in between."""
    data = taken("JPEG", progressive=True)
    bare = bare_picture("a.jpg", data)
    assert isinstance(bare, bytes)
    assert ImageChops.difference(seen(data), seen(bare)).getbbox() is None


@pytest.mark.parametrize("kind", KINDS)
def test_what_hangs_behind_the_picture_goes(kind: str) -> None:
    """Some cameras append a second file, with its own notes."""
    bare = bare_picture("a.jpg", taken(kind) + taken("JPEG") + NEEDLE.encode())
    assert isinstance(bare, bytes)
    assert NEEDLE.encode() not in bare


@pytest.mark.parametrize("kind", KINDS)
def test_a_bare_picture_is_left_as_it_is(kind: str) -> None:
    """Clearing twice changes nothing, so a deposit of a deposit holds the same bytes."""
    once = bare_picture("a.jpg", taken(kind, 6))
    assert isinstance(once, bytes)
    assert bare_picture("a.jpg", once) == once


def test_what_is_no_picture_is_left_out_by_name() -> None:
    """A kind that cannot be cleared would carry its notes along."""
    found = bare_picture("in-031.heic", b"\0\0\0\x18ftypheic" + NEEDLE.encode())
    assert isinstance(found, Problem)
    assert (found.code, found.place.file) == ("deposit-picture-left-out", "content/photos/in-031.heic")
    assert found.message == (
        "met a picture that cannot be cleared of where and when it was taken, and left it out: in-031.heic"
    )


@given(st.sampled_from(KINDS), st.integers(0, 4000), st.binary(max_size=6))
def test_a_damaged_picture_is_no_crash(kind: str, at: int, noise: bytes) -> None:
    """Cut or overwritten anywhere, it is cleared, made anew or left out, and never carries its words along."""
    data = taken(kind)
    at %= len(data)
    for damaged in (data[:at], data[:at] + noise + data[at + len(noise) :]):
        bare = bare_picture("a.jpg", damaged)
        assert isinstance(bare, Problem) or NEEDLE.encode() not in bare
