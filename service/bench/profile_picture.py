"""The picture of a profile: conductors, lines of equal potential and the critical line, cropped to the gap."""

from __future__ import annotations

import numpy as np

from service.answers.figure import Section
from service.bench.profile_field import Solved
from service.bench.profile_results import outline
from service.physics.contours import inside
from service.physics.field_lines import PLANE

AROUND = 0.75
"""Room around the critical line, over its extent."""
GRID = 56
FINE_STEP = 0.03
"""Step of arcs [rad]."""
LEVELS = 9


def section(solved: Solved) -> Section:
    """Return what is drawn of a profile, places in mm.

    Parameters
    ----------
    solved : Solved
    """
    low, high = _window(solved)
    x, y = np.linspace(low.real, high.real, GRID), np.linspace(low.imag, high.imag, GRID)
    places = (x[None, :] + 1j * y[:, None]).ravel()
    mirrored = solved.body.drawing.axis
    asked = np.abs(places.real) + 1j * places.imag if mirrored else places
    potential = np.full(places.size, np.nan)
    free = ~_metal(solved, asked)
    if solved.body.drawing.plane:
        free &= asked.imag > 0
    potential[free] = solved.fine.potential(asked[free])
    if solved.body.drawing.plane:
        potential[asked.imag <= 0] = 0.0
    for index, contour in enumerate(solved.contours):
        if contour.solid:
            potential[_within(solved, index, asked)] = solved.fine.potentials[index]
    ends = sorted({*solved.fine.potentials, *([0.0] if not solved.body.neutral else [])})
    levels = ends[0] + (ends[-1] - ends[0]) * np.arange(1, LEVELS + 1) / (LEVELS + 1)
    metals = [
        (contour.solid, outline(contour.ring if contour.solid else contour.pieces, FINE_STEP) * np.complex128(1e3))
        for contour in solved.contours
    ]
    shortest = solved.shortest
    ends_of_it = [shortest.start, shortest.end] if np.isfinite(shortest.value) else []
    dashed = np.array(ends_of_it, dtype=np.complex128) * np.complex128(1e3)
    return Section(
        (1e3 * low.real, 1e3 * high.real, 1e3 * low.imag, 1e3 * high.imag),
        tuple(metals),
        tuple(one.name for one in solved.body.electrodes),
        1e3 * x,
        1e3 * y,
        potential.reshape(GRID, GRID),
        levels,
        np.asarray(solved.line.places, dtype=np.complex128) * np.complex128(1e3),
        dashed,
        mirrored,
        solved.body.drawing.plane or PLANE in shortest.between,
    )


def _window(solved: Solved) -> tuple[complex, complex]:
    """Return the corners of what is shown: a square about the critical line and the shortest distance."""
    places = solved.line.places
    if np.isfinite(solved.shortest.value):
        near = 2.5 * solved.shortest.value
        places = [place for place in places if abs(place - places[0]) <= near]
        places += [solved.shortest.start, solved.shortest.end]
    kept = np.array(places)
    reach = max(float(np.ptp(kept.real)), float(np.ptp(kept.imag)))
    middle = complex((kept.real.min() + kept.real.max()) / 2, (kept.imag.min() + kept.imag.max()) / 2)
    half = (0.5 + AROUND) * reach
    if solved.body.drawing.axis and middle.real < 1.6 * half:
        # the axis is near: both sides of it are shown
        half = max(half, float(np.abs(kept.real).max()) + 0.4 * reach)
        middle = complex(0.0, middle.imag)
    corner = complex(half, half)
    low, high = middle - corner, middle + corner
    if solved.body.drawing.plane:
        low = complex(low.real, max(low.imag, -0.2 * reach))
    return low, high


def _metal(solved: Solved, places: np.ndarray) -> np.ndarray:
    found = np.zeros(places.size, dtype=bool)
    for index, contour in enumerate(solved.contours):
        if contour.solid:
            found |= _within(solved, index, places)
    return found


def _within(solved: Solved, index: int, places: np.ndarray) -> np.ndarray:
    return inside(solved.contours[index].ring, places)
