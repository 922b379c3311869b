"""Colours: contrast after WCAG 2.2, and curves that stay apart for every eye."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from service.render.canvas import CURVES, DARK, LIGHT

EYES = {
    "all three": np.eye(3),
    "no red": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
"""Linear RGB as eyes without one receptor see it: Machado, Oliveira and Fernandes, IEEE TVCG 15 (2009) 1291, table of
severity 1.0; the matrices are from memory."""

XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""IEC 61966-2-1 (sRGB), linear RGB to CIE XYZ."""

WHITE = np.array([0.9505, 1.0, 1.089])


def linear(colour: str) -> np.ndarray:
    parts = np.array([int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((float(XYZ[1] @ linear(colour)) for colour in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b*, from ISO/CIE 11664-4."""
    scaled = XYZ @ np.clip(rgb, 0, 1) / WHITE
    x, y, z = np.where(scaled > (6 / 29) ** 3, np.cbrt(scaled), scaled / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def test_black_on_white_has_the_largest_contrast():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "soft", "accent", *CURVES])  # what letters are set in
def test_letters_have_a_contrast_of_at_least_four_and_a_half(palette, role):
    assert contrast(palette[role], palette["paper"]) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("eye", EYES)
def test_curves_stay_apart_for_every_eye(palette, eye):
    seen = {role: lab(EYES[eye] @ linear(palette[role])) for role in CURVES}
    nearest = min(np.linalg.norm(seen[one] - seen[other]) for one, other in itertools.combinations(CURVES, 2))
    # ten times the difference that is just noticed (2.3, Mahy, Van Eycken and Oosterlinck 1994)
    assert nearest >= 23


def test_both_palettes_have_the_same_roles():
    assert list(LIGHT) == list(DARK)
