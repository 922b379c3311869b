"""The inverse of a profile: how far an electrode must be moved so that the gap holds a voltage."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from service import units
from service.bench.profile_body import Body
from service.errors import BadQuestion, OutsideValidity

MOST_SOLVES = 10
CLOSE = 2e-3
"""Relative difference of the voltage within which a place is found; the answer is on its side that holds more."""
DIRECTIONS = {"up": 1j, "down": -1j, "left": -1.0 + 0j, "right": 1.0 + 0j}
USUAL = 0.85
"""Power of the gap with which what it holds rises, for the first guess."""

Held = Callable[[Body], tuple[float, float]]
"""From a drawing to the voltage that it holds [V peak] and its shortest distance [m]."""


@dataclass(frozen=True, eq=False)
class Moved:
    """A drawing with an electrode moved.

    Parameters
    ----------
    body : Body
    name, direction : str
    by : float
        [m], in that direction.
    solves : int
    """

    body: Body
    name: str
    direction: str
    by: float
    solves: int

    def block(self) -> dict[str, Any]:
        """Return what was moved, for the answer."""
        return {
            "electrode": self.name,
            "direction": self.direction,
            "distance": units.quantity(self.by, "length"),
            "solves": self.solves,
        }


def moved(body: Body, index: int, direction: str, wanted: float, held: Held) -> Moved:
    """Return the drawing in which an electrode stands just so far that the gap holds a voltage.

    Parameters
    ----------
    body : Body
    index : int
        Of the electrode.
    direction : str
        Where a larger distance lies.
    wanted : float
        [V peak].
    held : callable

    Raises
    ------
    BadQuestion
        When the electrode stays on its axis.
    OutsideValidity
        When moving it that way does not find such a gap in ten solves.

    Notes
    -----
    A secant in the logarithms of voltage and distance, kept between places that hold less and more.
    """
    electrode, step = body.electrodes[index], DIRECTIONS[direction]
    if body.drawing.axis and step.imag == 0:
        raise BadQuestion.about("direction", "direction must be up or down: a body of revolution stays on its axis.")
    volts, distance = held(body)
    tried = [(math.log(distance), math.log(volts / wanted))]
    x = tried[0][0] - tried[0][1] / USUAL
    for solves in range(2, MOST_SOLVES + 1):
        by = math.exp(x) - distance
        place = body.moved(index, by * step)
        try:
            y = math.log(held(place)[0] / wanted)
        except (BadQuestion, OutsideValidity):
            # it touches something, or lies outside what is answered: half as far
            x = (x + tried[-1][0]) / 2
            continue
        if 0 <= y <= CLOSE:
            return Moved(place, electrode.name, direction, by, solves)
        tried.append((x, y))
        x = _next(tried, electrode.name, direction)
    raise _lost(electrode.name, direction)


def _next(tried: list[tuple[float, float]], name: str, direction: str) -> float:
    """Return the next place, aimed a little to the side that holds more."""
    aim = CLOSE / 2
    below = max((one for one in tried if one[1] < aim), key=lambda one: one[1], default=None)
    above = min((one for one in tried if one[1] > aim), key=lambda one: one[1], default=None)
    first, second = (below, above) if below is not None and above is not None else tried[-2:]
    slope = (second[1] - first[1]) / (second[0] - first[0]) if second[0] != first[0] else 0.0
    if slope <= 0:
        raise _lost(name, direction)
    return min(max(first[0] + (aim - first[1]) / slope, tried[-1][0] - 2), tried[-1][0] + 2)


def _lost(name: str, direction: str) -> OutsideValidity:
    return OutsideValidity(f"Moving {name} {direction} does not lead to a gap that just holds this voltage.")
