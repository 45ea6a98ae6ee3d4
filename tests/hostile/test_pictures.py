"""Whatever is offered as a photograph ends as a fresh picture of bare pixels, or as a message that names it.

Sources: Pillow handbook, "Security" and "Image file formats"; OWASP File Upload Cheat Sheet; CWE-409, CWE-434; the Exif
orientation of CIPA DC-008 (from memory).
"""

import io
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable

import kills
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, PngImagePlugin

from passport.pages.pictures import WIDEST_PX, Ready, ready_picture
from passport.problems import Problem, in_words

MARKER = "Quillfeather-53.35N-6.26W"
"""Stands in every kind of metadata below; no byte of it may come out."""
RED, BLUE = (200, 30, 30), (30, 30, 200)


def two_halves(mode: str = "RGB", size: tuple[int, int] = (64, 32)) -> Image.Image:
    """Left half red, right half blue, in a mode of Pillow's."""
    picture = Image.new("RGB", size, BLUE)
    picture.paste(RED, (0, 0, size[0] // 2, size[1]))
    return picture.convert(mode) if mode != "RGBA" else picture.convert("RGBA")


def saved(picture: Image.Image, kind: str, **options: object) -> bytes:
    """The bytes of a picture file."""
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def ready(data: bytes, name: str = "in-031.jpg") -> Ready:
    """The picture made ready; it is one."""
    made = ready_picture(name, data)
    assert isinstance(made, Ready), made
    return made


def pixels(made: Ready) -> Image.Image:
    """What a browser would show."""
    return Image.open(io.BytesIO(made.content)).convert("RGB")


def near(met: object, wanted: tuple[int, int, int], by: int = 12) -> bool:
    """JPEG and palettes change colours a little."""
    assert isinstance(met, tuple)
    return all(abs(a - b) <= by for a, b in zip(met, wanted, strict=True))


def exif() -> bytes:
    """A camera's words: where, who, which device, and how it was held (upright)."""
    tags = Image.Exif()
    tags[0x010E] = tags[0x013B] = tags[0x8298] = tags[0x0131] = MARKER
    tags[0x0112] = 1
    place = tags.get_ifd(0x8825)
    place[1], place[2] = "N", (53.0, 21.0, 0.0)
    place[29] = MARKER
    return tags.tobytes()


def text_chunks() -> PngImagePlugin.PngInfo:
    """PNG's own places for words."""
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", MARKER)
    info.add_itxt("Comment", MARKER)
    info.add_text("Packed", MARKER, zip=True)
    return info


def profile() -> bytes:
    """A colour profile with words in it."""
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes() + MARKER.encode()


WITH_WORDS: dict[str, Callable[[], bytes]] = {
    "exif": lambda: saved(two_halves(), "JPEG", exif=exif()),
    "jpeg-comment": lambda: saved(two_halves(), "JPEG", comment=MARKER.encode()),
    "jpeg-profile": lambda: saved(two_halves(), "JPEG", icc_profile=profile()),
    "xmp": lambda: saved(two_halves(), "JPEG", xmp=f"<x:xmpmeta>{MARKER}</x:xmpmeta>".encode()),
    "iptc": lambda: _with_app13(saved(two_halves(), "JPEG")),
    "png-texts": lambda: saved(two_halves(), "PNG", pnginfo=text_chunks(), exif=exif()),
    "png-profile": lambda: saved(two_halves(), "PNG", icc_profile=profile()),
    "webp": lambda: saved(two_halves(), "WEBP", lossless=True, exif=exif(), xmp=MARKER.encode()),
    "tail": lambda: saved(two_halves(), "JPEG") + b"<script>" + MARKER.encode() + b"</script>",
    "png-tail": lambda: saved(two_halves(), "PNG") + MARKER.encode(),
    "thumbnail": lambda: saved(two_halves(), "JPEG", exif=exif() + MARKER.encode()),
}


def _with_app13(jpeg: bytes) -> bytes:
    """A block of IPTC words after the start of the picture."""
    words = b"Photoshop 3.0\0" + MARKER.encode()
    return jpeg[:2] + b"\xff\xed" + struct.pack(">H", len(words) + 2) + words + jpeg[2:]


def everything_in(content: bytes) -> bytes:
    """A picture's bytes, and what is packed within a PNG's chunks."""
    whole, at = content, 8
    while content.startswith(b"\x89PNG") and at + 12 <= len(content):
        (length,) = struct.unpack_from(">I", content, at)
        body = content[at + 8 : at + 8 + length]
        for start in range(min(len(body), 90)):
            try:
                whole += zlib.decompress(body[start:])
            except zlib.error:
                continue
        at += 12 + length
    return whole


@pytest.mark.parametrize("where", WITH_WORDS)
def test_no_word_about_the_photographer_is_published(where: str) -> None:
    """Position, names, comments, profiles and tails stay behind, in any encoding; the picture itself comes through."""
    data = WITH_WORDS[where]()
    assert MARKER.encode() in everything_in(data)
    made = ready(data)
    shown = everything_in(made.content)
    for encoding in ("ascii", "utf-16-le", "utf-16-be"):
        assert MARKER.encode(encoding) not in shown
    opened = Image.open(io.BytesIO(made.content))
    assert not opened.getexif()
    assert set(opened.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "progressive", "progression"}
    assert near(pixels(made).getpixel((5, 5)), RED)
    assert near(pixels(made).getpixel((60, 5)), BLUE)


@pytest.mark.parametrize("turn", range(1, 9))
def test_it_stands_upright(turn: int) -> None:
    """All eight ways to hold a camera give the picture as it was seen, though the mark for it is dropped."""
    seen = two_halves()
    seen.paste((250, 250, 250), (0, 0, 8, 8))  # the corner at the top left
    back = {
        2: [Image.Transpose.FLIP_LEFT_RIGHT],
        3: [Image.Transpose.ROTATE_180],
        4: [Image.Transpose.FLIP_TOP_BOTTOM],
        5: [Image.Transpose.TRANSPOSE],
        6: [Image.Transpose.ROTATE_90],
        7: [Image.Transpose.TRANSVERSE],
        8: [Image.Transpose.ROTATE_270],
    }
    held = seen
    for step in back.get(turn, []):
        held = held.transpose(step)
    tags = Image.Exif()
    tags[0x0112] = turn
    shown = pixels(ready(saved(held, "PNG", exif=tags.tobytes())))
    assert shown.size == (64, 32)
    assert near(shown.getpixel((3, 3)), (250, 250, 250))
    assert near(shown.getpixel((20, 20)), RED)
    assert near(shown.getpixel((50, 20)), BLUE)


MODES: dict[str, tuple[str, str]] = {
    "cmyk": ("CMYK", "JPEG"),
    "grey-jpeg": ("L", "JPEG"),
    "ycc": ("YCbCr", "JPEG"),
    "grey": ("L", "PNG"),
    "black-and-white": ("1", "PNG"),
    "palette": ("P", "PNG"),
    "with-alpha": ("RGBA", "PNG"),
    "grey-with-alpha": ("LA", "PNG"),
    "webp": ("RGB", "WEBP"),
}


@pytest.mark.parametrize("case", MODES)
def test_any_kind_of_pixels(case: str) -> None:
    """Print colours, greys, palettes and alpha come out as the colours they stand for."""
    mode, kind = MODES[case]
    source = two_halves(mode)
    shown = pixels(ready(saved(source, kind)))
    wanted = source.convert("RGB")
    assert shown.size == wanted.size
    for spot in ((5, 5), (58, 25)):
        assert near(shown.getpixel(spot), wanted.getpixel(spot), by=30)  # type: ignore[arg-type]


def test_sixteen_bits_of_grey() -> None:
    """A grey of 16 bits keeps its tones: dark stays dark, middle stays middle (a plain conversion turns all white)."""
    picture = Image.new("I;16", (60, 20))
    for x in range(60):
        for y in range(20):
            picture.putpixel((x, y), (0, 32768, 65535)[x // 20])
    shown = pixels(ready(saved(picture, "PNG")))
    assert [near(shown.getpixel((x, 10)), (tone,) * 3) for x, tone in ((10, 0), (30, 128), (50, 255))] == [True] * 3


def test_what_is_clear_is_white() -> None:
    """Where a drawing is transparent, a page's paper shows, not black."""
    picture = Image.new("RGBA", (40, 20), (0, 0, 0, 0))
    picture.paste((200, 30, 30, 255), (0, 0, 20, 20))
    shown = pixels(ready(saved(picture, "PNG")))
    assert near(shown.getpixel((5, 5)), RED)
    assert near(shown.getpixel((35, 5)), (255, 255, 255))


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_of_a_moving_picture_the_first(kind: str) -> None:
    """An animation becomes its first frame, however many it has."""
    frames = [Image.new("RGB", (32, 32), (200, 30, 30 + n)) for n in range(120)]
    options = {"lossless": True} if kind == "WEBP" else {}
    data = saved(frames[0], kind, save_all=True, append_images=frames[1:], duration=10, **options)
    made = ready(data)
    opened = Image.open(io.BytesIO(made.content))
    assert getattr(opened, "n_frames", 1) == 1
    assert near(pixels(made).getpixel((5, 5)), RED)


@pytest.mark.parametrize("size", [(1, 1), (1, 5000), (5000, 1), (3000, 2000)])
def test_odd_sizes(size: tuple[int, int]) -> None:
    """No picture ends without a pixel, none is wider than a page."""
    made = ready(saved(Image.new("RGB", size, RED), "PNG"))
    assert (made.width_px, made.height_px) == pixels(made).size
    assert 1 <= made.width_px <= WIDEST_PX
    assert made.height_px >= 1


def refused(data: bytes, name: str = "in-031.jpg") -> str:
    """What is said of a picture that is refused."""
    made = ready_picture(name, data)
    assert isinstance(made, Problem), made
    said = in_words(made)
    assert said.startswith("content/photos/in-031.jpg: error bad-picture: met a picture that cannot be shown (")
    assert said.endswith(
        "), wanted a JPEG, PNG or WebP of at most 60 million pixels\n"
        "    hint: open it in a picture program and save it anew"
    )
    assert "0x" not in said
    return said


OTHERS: dict[str, Callable[[], bytes]] = {
    "empty": lambda: b"",
    "text": lambda: b"no picture\n",
    "postscript": lambda: b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n(/etc/passwd) run\n",
    "svg": lambda: b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    "html": lambda: b"<!doctype html><script>alert(1)</script>",
    "gif": lambda: saved(two_halves(), "GIF"),
    "bmp": lambda: saved(two_halves(), "BMP"),
    "tiff": lambda: saved(two_halves(), "TIFF"),
    "ico": lambda: saved(two_halves(size=(32, 32)), "ICO"),
    "pdf": lambda: saved(two_halves(), "PDF"),
    "elf": lambda: b"\x7fELF" + bytes(60),
}


@pytest.mark.parametrize("what", OTHERS)
def test_what_is_no_photograph(what: str) -> None:
    """Whatever its name says, its content decides, and only three kinds are opened at all."""
    refused(OTHERS[what]())


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.95])
def test_half_a_photograph(kind: str, share: float) -> None:
    """A file that was cut off is refused, not shown with a grey half."""
    noisy = Image.effect_noise((256, 256), 90).convert("RGB")
    whole = saved(noisy, kind)
    refused(whole[: int(len(whole) * share)])


def chunk(kind: bytes, body: bytes) -> bytes:
    """One chunk of a PNG (its specification, 5.3)."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_of(width: int, height: int, rows: bytes, *more: bytes) -> bytes:
    """A PNG of grey pixels that says what we like."""
    head = struct.pack(">2I5B", width, height, 8, 0, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(rows, 9))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + b"".join(more) + body + chunk(b"IEND", b"")


BOMBS: dict[str, Callable[[], bytes]] = {
    "pixels": lambda: png_of(13_000, 13_000, bytes(13_001 * 13_000)),
    "just-too-many": lambda: png_of(10_001, 6_000, b""),
    "claimed": lambda: png_of(0x7FFFFFFF, 0x7FFFFFFF, b""),
    "one-line": lambda: png_of(0x7FFFFFFF, 1, b""),
    "no-pixels": lambda: png_of(0, 5, b""),
    "words": lambda: png_of(8, 8, bytes(72), *[chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(60_000_000), 9))] * 3),
    "profile": lambda: png_of(8, 8, bytes(72), chunk(b"iCCP", b"a\0\0" + zlib.compress(bytes(90_000_000), 9))),
    "frames-claimed": lambda: png_of(8, 8, bytes(72), chunk(b"acTL", struct.pack(">2I", 0x7FFFFFFF, 0))),
    "rows-too-many": lambda: png_of(8, 8, bytes(200_000_000)),
}
LIMITED = """
import resource, sys, time
resource.setrlimit(resource.RLIMIT_AS, (1_100_000_000, 1_100_000_000))
resource.setrlimit(resource.RLIMIT_CPU, (20, 20))
sys.path.insert(0, sys.argv[1])
from passport.pages.pictures import ready_picture
made = ready_picture("in-031.jpg", sys.stdin.buffer.read())
print(type(made).__name__)
"""


@pytest.mark.parametrize("bomb", BOMBS)
def test_bombs(bomb: str) -> None:
    """CWE-409: a small file that would become a huge one is refused, or read for what it is, in bounded memory."""
    data = BOMBS[bomb]()
    assert len(data) < 1_000_000
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(kills.REPOSITORY)], input=data, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    harmless = {"frames-claimed", "rows-too-many"}
    assert done.stdout.decode().strip() in ({"Problem", "Ready"} if bomb in harmless else {"Problem"})


def test_two_pictures_stay_two() -> None:
    """Two files whose names differ in their ending alone have two names on the site, whatever they become."""
    drawing, photograph = two_halves(), Image.effect_noise((64, 64), 90).convert("RGB")
    names = {
        ready(saved(picture, "PNG"), f"in-031.{ending}").name
        for picture in (drawing, photograph)
        for ending in ("jpg", "png", "jpeg", "JPG", "webp")
    }
    assert len(names) == 10
    assert ready(saved(drawing, "PNG"), "in-031.png").name == "in-031.png"
    assert ready(saved(photograph, "PNG"), "in-031.jpg").name == "in-031.jpg"


@given(data=st.binary(max_size=200), kind=st.sampled_from(["JPEG", "PNG", "WEBP"]), at=st.floats(0, 1))
def test_damaged_files(data: bytes, kind: str, at: float) -> None:
    """A good picture with bytes overwritten gives a picture or a problem, never an exception."""
    good = saved(two_halves(), kind)
    place = int(at * len(good))
    made = ready_picture("in-031.jpg", good[:place] + data + good[place + len(data) :])
    assert isinstance(made, Ready | Problem)


@given(st.binary(max_size=400))
def test_any_bytes(data: bytes) -> None:
    """So do bytes of no kind at all, behind the first signs of a picture."""
    for start in (b"", b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"RIFF\x40\0\0\0WEBPVP8 "):
        assert isinstance(ready_picture("in-031.jpg", start + data), Ready | Problem)
