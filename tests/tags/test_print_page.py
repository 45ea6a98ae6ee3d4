"""The page for printing from a browser: vectors in true size that ask no other host for anything."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib
import numpy as np
import pytest
from PIL import Image

from passport.tags.faces import LabelError
from passport.tags.label import LabelSpec, LabelText
from passport.tags.print_page import PageWords, label_svg, print_page
from passport.tags.readback import read_symbols

TEXT = LabelText(
    tag="RY-22224M",
    payload="https://PASS.REEDMOUTH.EXAMPLE/T/RY-22224M",
    marking=">PE-HD<",
    triangle="2",
    sentence='Vis inox & "un seul plastique" <sans colle>.',
    headline="Reedmouth Yard",
)
SVG = "{http://www.w3.org/2000/svg}"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def test_a_label_is_one_true_size_picture() -> None:
    """Well-formed XML; millimetres outside, whole printer dots inside; words as text and nothing else active."""
    root = ET.fromstring(label_svg(TEXT, LabelSpec(dpi=600)))  # noqa: S314  # our own
    assert (root.get("width"), root.get("height")) == ("70mm", "37mm")
    assert root.get("viewBox") == "0 0 1654 874"
    assert {element.tag.removeprefix(SVG) for element in root.iter()} == {"svg", "path", "g", "text"}
    assert "".join(root.itertext()).replace(" ", "").startswith("RY-22224M2>PE-HD<Visinox&")


def test_the_drawn_modules_read_back() -> None:
    """The path alone, painted square by square, says the payload."""
    svg = label_svg(TEXT, LabelSpec(dpi=300))
    path = re.search(r'crispEdges" transform="[^"]+" d="([^"]+)"', svg)
    assert path is not None
    canvas = np.full((37, 37), 255, dtype=np.uint8)
    for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)v1", path.group(1)):
        canvas[int(y), int(x) : int(x) + int(width)] = 0
    assert read_symbols(Image.fromarray(canvas).resize((370, 370), Image.Resampling.NEAREST)) == (TEXT.payload,)


def test_the_page_is_valid_and_asks_no_other_host() -> None:
    """An HTML parser has no complaint, and no address but that of the SVG name space stands in it."""
    page = print_page(
        [TEXT, TEXT], LabelSpec(dpi=600), PageWords(language="fr", title="Étiquettes <2>", how="À 100 %.")
    )
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(page)
    assert [error[1] for error in parser.errors] == []
    links = set(re.findall(r"https?://[^\"'\s)<]+", page.replace(TEXT.payload, "")))
    assert links == {"http://www.w3.org/2000/svg"}
    assert "<title>Étiquettes &lt;2&gt;</title>" in page
    assert page.count("<svg ") == 2


def test_a_sample_says_so() -> None:
    """The word stands across the label."""
    assert "SAMPLE" not in label_svg(TEXT, LabelSpec())
    assert ">SAMPLE</text>" in label_svg(dataclasses.replace(TEXT, sample=True), LabelSpec())


def test_what_does_not_fit_is_an_error_here_too() -> None:
    """The same layout, the same refusal."""
    with pytest.raises(LabelError, match="does not fit a label"):
        print_page([dataclasses.replace(TEXT, sentence="Bring it back. " * 40)], LabelSpec())


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
def test_a_browser_draws_what_a_phone_reads(tmp_path: Path) -> None:
    """Chromium's picture of the page has both symbols in it, the sample's too."""
    other = dataclasses.replace(
        TEXT, tag="RY-22225K", payload="https://PASS.REEDMOUTH.EXAMPLE/T/RY-22225K", sample=True
    )
    (tmp_path / "page.html").write_text(print_page([TEXT, other], LabelSpec(dpi=600)), encoding="utf-8")
    command = [
        str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--window-size=800,400",
        "--force-device-scale-factor=3", f"--user-data-dir={tmp_path / 'profile'}",
        f"--screenshot={tmp_path / 'page.png'}", (tmp_path / "page.html").as_uri(),
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    with Image.open(tmp_path / "page.png") as image:
        assert sorted(read_symbols(image)) == [TEXT.payload, other.payload]


@pytest.mark.browser
def test_every_printed_page_keeps_its_margins(tmp_path: Path, chromium: str) -> None:
    """Chromium's paper of 14 labels: 12 on the first page, 2 on the next, and 5 mm white all round on both."""
    if not shutil.which("pdftoppm"):
        pytest.skip("needs pdftoppm of poppler-utils")
    texts = [dataclasses.replace(TEXT, payload=f"{TEXT.payload}{number}") for number in range(10, 24)]
    (tmp_path / "page.html").write_text(print_page(texts, LabelSpec(dpi=600)), encoding="utf-8")
    command = [
        chromium, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'profile'}",
        "--no-pdf-header-footer", f"--print-to-pdf={tmp_path / 'page.pdf'}", (tmp_path / "page.html").as_uri(),
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    subprocess.run(["pdftoppm", "-r", "150", "-gray", "page.pdf", "page"], cwd=tmp_path, check=True)
    read, edge = [], round(5 * 150 / 25.4)
    for path in sorted(tmp_path.glob("page-*.pgm")):
        with Image.open(path) as image:
            read.append(len(read_symbols(image)))
            paper = np.asarray(image) > 200
        assert paper[:edge].all()
        assert paper[-edge:].all()
        assert paper[:, :edge].all()
        assert paper[:, -edge:].all()
    assert read == [12, 2]
