"""Worn labels and photographs of them: seeded, the same on every run.

Synthetic wear, no weathering trial. Lengths are in millimetres; pictures are grey, 0 is black.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np
import numpy.typing as npt
import zxingcpp

Grey = npt.NDArray[np.uint8]
Random = np.random.Generator

WORN_DPI = 300
DOTS_A_MM = WORN_DPI / 25.4
LENS_PX, NOISE = 0.6, 4.0
"""Blur of the lens in pixels and noise in grey levels, both standard deviations."""


def faded(label: Grey, random: Random, left_percent: float) -> Grey:
    """Only so many per cent of the contrast are left."""
    return (255 - (255 - label.astype(float)) * left_percent / 100).astype(np.uint8)


def blurred(label: Grey, random: Random, sigma_mm: float) -> Grey:
    """Ink that ran."""
    return cv2.GaussianBlur(label, (0, 0), sigma_mm * DOTS_A_MM)


def stained(label: Grey, random: Random, percent: float) -> Grey:
    """Round stains of 2 to 5 mm, of any tone between dark mud and dry lime, until they cover so many per cent."""
    worn, cover = label.copy(), np.zeros_like(label)
    high, wide = label.shape
    while cover.mean() < percent / 100:
        at = (int(random.integers(wide)), int(random.integers(high)))
        radius = int(random.uniform(1, 2.5) * DOTS_A_MM)
        cv2.circle(worn, at, radius, int(random.uniform(60, 200)), -1)
        cv2.circle(cover, at, radius, 1, -1)
    return worn


def broken(label: Grey, random: Random, leg_percent: float) -> Grey:
    """The bottom right corner is off, a triangle with legs of so many per cent of the side."""
    leg = round(len(label) * leg_percent / 100)
    side = len(label)
    worn = label.copy()
    cv2.fillPoly(worn, [np.array([[side, side - leg], [side, side], [side - leg, side]])], 128)
    return worn


def headless(label: Grey, random: Random, leg_percent: float) -> Grey:
    """The top left corner with its finder pattern is off."""
    return broken(label[::-1, ::-1], random, leg_percent)[::-1, ::-1].copy()


def photographed(label: Grey, random: Random, lean: float = 15.0, px_a_mm: float = 6.0, turn: float = 15.0) -> Grey:
    """A photograph: turned, leaning by up to so many degrees, with blur of the lens and noise."""
    scale = px_a_mm * random.uniform(0.9, 1.1) / DOTS_A_MM
    half = len(label) * scale / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)
    seen = _seen(corners * half, math.radians(random.uniform(-turn, turn)), math.radians(lean), random, half)
    flat = (corners + 1) * len(label) / 2
    move = cv2.getPerspectiveTransform(flat.astype(np.float32), (seen + 1.6 * half).astype(np.float32))
    side = round(3.2 * half)
    # the lens blurs before the sensor samples: once, so that sampling adds no second blur
    sharp = cv2.GaussianBlur(label, (0, 0), LENS_PX / scale)
    picture = cv2.warpPerspective(sharp, move, (side, side), flags=cv2.INTER_LINEAR, borderValue=200)
    noisy = picture + random.normal(0, NOISE, picture.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def _seen(corners: npt.NDArray[np.float64], turn: float, lean: float, random: Random, half: float) -> npt.NDArray:
    """Corners turned in the plane, then leant about a random axis, seen from 10 sides away."""
    axis = random.uniform(0, 2 * math.pi)
    turned = corners @ _rotation(turn - axis)
    depth = turned[:, 1] * math.sin(lean)
    away = 20 * half
    leant = np.stack([turned[:, 0], turned[:, 1] * math.cos(lean)], axis=1) * (away / (away + depth))[:, None]
    return leant @ _rotation(axis)


def _rotation(angle: float) -> npt.NDArray[np.float64]:
    return np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])


def by_zxing(picture: Grey) -> str:
    """What the decoder of the proof reads."""
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return found[0].text if found else ""


def by_opencv(picture: Grey) -> str:
    """What the second, independent decoder reads."""
    return str(cv2.QRCodeDetector().detectAndDecode(picture)[0])


def share_read(
    label: Grey,
    payload: str,
    wear: Callable[[Grey, Random], Grey],
    decode: Callable[[Grey], str],
    seeds: int,
    **photo: float,
) -> float:
    """Per cent of worn labels read exactly in one of three photographs, over seeds 0, 1, 2 and so on."""
    read = 0
    for seed in range(seeds):
        random = np.random.default_rng(seed)
        worn = wear(label, random)
        read += any(decode(photographed(worn, random, **photo)) == payload for _ in range(3))
    return 100 * read / seeds
