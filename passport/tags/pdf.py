"""Pages of black and white dots as a PDF (ISO 32000-1), compressed by CCITT group 4, in true size.

Written here because Pillow holds all pages in memory until it saves and stamps them with the time.
Nothing in the file depends on the clock: no dates, no file identifier.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction

from PIL import Image

POINTS_PER_INCH = 72
_OFFSETS, _COUNTS = 273, 279  # TIFF 6.0: StripOffsets, StripByteCounts


def pdf_of(pages: Iterable[Image.Image], dpi: int, width_mm: float, height_mm: float, title: str = "") -> bytes:
    """One PDF of one-bit pages, each drawn from the top left corner with dpi dots an inch.

    The pages may come from a generator: only their compressed bytes are kept. title: ASCII.
    """
    box = f"[0 0 {_points(width_mm)} {_points(height_mm)}]"
    objects: list[bytes] = [b"", b"", f"<< /Title ({_escaped(title)}) >>".encode("ascii")]
    kids = []
    for page in pages:
        kids.append(len(objects) + 1)
        objects += _page_objects(page, dpi, box, height_mm, len(objects) + 1)
    objects[0] = b"<< /Type /Catalog /Pages 2 0 R >>"
    listed = " ".join(f"{kid} 0 R" for kid in kids)
    objects[1] = f"<< /Type /Pages /Count {len(kids)} /Kids [{listed}] >>".encode("ascii")
    return _file_of(objects)


def _points(length_mm: float) -> str:
    return _decimal(Fraction(length_mm) * 10 / 254 * POINTS_PER_INCH)


def _decimal(number: Fraction) -> str:
    return f"{float(number):.4f}"


def _escaped(text: str) -> str:
    return text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")


def _page_objects(page: Image.Image, dpi: int, box: str, height_mm: float, number: int) -> list[bytes]:
    """Page, content stream and image, with object numbers from `number` on."""
    wide, high = (Fraction(side * POINTS_PER_INCH, dpi) for side in page.size)
    down = Fraction(height_mm) * 10 / 254 * POINTS_PER_INCH - high
    drawing = f"q {_decimal(wide)} 0 0 {_decimal(high)} 0 {_decimal(down)} cm /I Do Q".encode("ascii")
    head = (
        f"<< /Type /Page /Parent 2 0 R /MediaBox {box} /Contents {number + 1} 0 R "
        f"/Resources << /XObject << /I {number + 2} 0 R >> >> >>"
    )
    picture = (
        f"/Type /XObject /Subtype /Image /Width {page.width} /Height {page.height} /ColorSpace /DeviceGray "
        f"/BitsPerComponent 1 /Filter /CCITTFaxDecode "
        f"/DecodeParms << /K -1 /BlackIs1 true /Columns {page.width} /Rows {page.height} >>"
    )
    return [head.encode("ascii"), _stream("", drawing), _stream(picture, group4(page))]


def _stream(entries: str, data: bytes) -> bytes:
    return f"<< {entries} /Length {len(data)} >>\nstream\n".encode("ascii") + data + b"\nendstream"


def group4(page: Image.Image) -> bytes:
    """A one-bit picture as ITU-T T.6 data: the one strip of a TIFF, taken out of it.

    Pillow's 1 is white and goes in as T.6's black, so the reader is told BlackIs1 and shows the picture as it was.
    """
    tiff = io.BytesIO()
    strip = -(-page.width // 8) * page.height
    page.save(tiff, "TIFF", compression="group4", strip_size=strip)
    with Image.open(tiff) as read:
        tags = dict(read.tag_v2)  # type: ignore[attr-defined]
    ((offset,), (count,)) = tags[_OFFSETS], tags[_COUNTS]
    return tiff.getvalue()[offset : offset + count]


def _file_of(objects: list[bytes]) -> bytes:
    """Header, objects, cross-reference table and trailer (ISO 32000-1 7.5)."""
    made = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(len(made))
        made += f"{number} 0 obj\n".encode("ascii") + body + b"\nendobj\n"
    start = len(made)
    made += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode("ascii")
    made += b"".join(f"{place:010d} 00000 n \n".encode("ascii") for place in places)
    trailer = f"trailer\n<< /Size {len(objects) + 1} /Root 1 0 R /Info 3 0 R >>\nstartxref\n{start}\n%%EOF\n"
    return bytes(made + trailer.encode("ascii"))
