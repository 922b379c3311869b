"""Outlines of drawn conductors cut into panels: short where a density varies, the longer the farther from there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from service.physics.contours import Contour, Piece
from service.physics.domain import Floats
from service.physics.rings import Points
from service.units import ROUNDING

ORDER, CHECK_ORDER = 8, 6
"""Nodes of a panel for answers, and for the estimate of their error."""
LARGEST_ARC = np.pi / 3
LONGEST_NEIGHBOUR, CLOSENESS = 4.0, 2.0
"""Longest panel over its neighbour, and over the distance to another conductor."""
GRADING = 3.8
"""Length of a panel over its neighbour where a long one is cut beside a short one."""
EVEN, OUTWARDS, MOST_EVEN, MOST_FAR = 4.0, 0.5, 4.0, 30.0
"""Distance from what bounds a straight face, over that from another conductor, from which its density is even within
3e-6; share of that distance that counts as room there; most room over the distance of the other, within
the drawing and beyond."""
FARTHER = 2.0
"""Share of the distance beyond the drawing that counts as room there."""
LONGEST_BEYOND, FIRST_BEYOND, LEAST_BEYOND = 6.0, 0.4, 2e-3
"""Longest panel over its neighbour towards a far end; the first panel beyond the drawing over its size, and the last
over how far it goes on, at least."""
HALVINGS = {"sharp": 8, "edge": 8, "hollow": 3}
"""How often the panels at a corner are halved towards it."""
MOST_UNKNOWNS = 1600
QUARTERS = np.linspace(0.0, 1.0, 5)
Mask = NDArray[np.bool_]
Index = NDArray[np.intp]


@lru_cache(maxsize=16)
def gauss(count: int) -> tuple[Floats, Floats]:
    """Return Gauss-Legendre nodes and weights on -1 to 1.

    Parameters
    ----------
    count : int
        Nodes.

    Returns
    -------
    tuple of ndarray
        Nodes and weights, ``(count,)``.
    """
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return nodes, weights


class TooManyUnknowns(Exception):
    """More unknowns than are solved.

    Parameters
    ----------
    count : int
    place : complex
        Where the smallest panels lie [m].
    """

    def __init__(self, count: int, place: complex) -> None:
        super().__init__(count, place)
        self.count, self.place = count, place


@dataclass(frozen=True, eq=False)
class Panels:
    """Panels as arrays.

    Parameters
    ----------
    pieces : tuple of Piece
        One a panel, in order along their conductors.
    owner : ndarray of int
        Conductor of each panel.
    """

    pieces: tuple[Piece, ...]
    owner: Index

    def __post_init__(self) -> None:
        turn = np.array([piece.turn for piece in self.pieces])
        start, end = (np.array([getattr(piece, name) for piece in self.pieces]) for name in ("start", "end"))
        line = turn == 0
        half = np.where(line, 1.0, turn) / 2
        middle = (start + end) / 2
        centre = middle + np.where(line, 0j, 0.5j * (end - start) / np.tan(half))
        put = object.__setattr__
        put(self, "line", line)
        put(self, "angle", half)
        put(self, "origin", np.where(line, middle, centre))
        # half of a line, or the spoke to the middle of an arc
        put(self, "arm", np.where(line, (end - start) / 2, (start - centre) * np.exp(1j * half)))
        put(self, "speed", np.where(line, np.abs(end - start) / 2, np.abs(start - centre) * np.abs(half)))

    line: Mask = field(init=False)
    angle: Floats = field(init=False)
    origin: Points = field(init=False)
    arm: Points = field(init=False)
    speed: Floats = field(init=False)

    @property
    def count(self) -> int:
        """Number of panels."""
        return len(self.pieces)

    def at(self, which: Index, t: Floats) -> Points:
        """Return places at parameters from -1 to 1."""
        arm, origin = self.arm[which], self.origin[which]
        return np.asarray(
            np.where(self.line[which], origin + arm * t, origin + arm * np.exp(1j * self.angle[which] * t))
        )

    def tangent(self, which: Index, t: Floats) -> Points:
        """Return the direction in which a panel is passed, of modulus one."""
        arm = self.arm[which] / np.abs(self.arm[which])
        around = 1j * np.sign(self.angle[which]) * np.exp(1j * self.angle[which] * t)
        return np.asarray(arm * np.where(self.line[which], 1.0, around))

    def parameters(self, which: Index, places: Points) -> Points:
        """Return the complex parameter of each place on one panel each."""
        found = (places - self.origin[which]) / self.arm[which]
        arcs = np.flatnonzero(~self.line[which])
        if arcs.size:
            spoke = found[arcs]
            found[arcs] = np.log(np.where(spoke == 0, 1e-300, spoke)) / (1j * self.angle[which[arcs]])
        return np.asarray(found)

    @cached_property
    def surrounded(self) -> tuple[Floats, Floats, Floats]:
        """Both coordinates of the middles [m], and the square of the distance beyond which no place is near [m2].

        Beyond one and a half half-lengths of a line, of an arc of 60 degrees 2.3, the parameter is more than 1.5.
        """
        middle = np.where(self.line, self.origin, self.origin + self.arm)
        reach = self.speed * np.where(self.line, 1.51, np.expm1(1.51 * np.abs(self.angle)) / np.abs(self.angle))
        return middle.real.copy(), middle.imag.copy(), reach * reach

    def offset(self, which: Index, place: Points, t: Floats) -> tuple[Floats, Floats]:
        """Return what leads from parameters to complex ones of places, across and up, without cancellation.

        Parameters
        ----------
        which : ndarray of int
            Panels, ``(places,)``.
        place : ndarray
            Complex parameters of the places on them, ``(places,)``.
        t : ndarray
            Parameters, ``(places, nodes)``.
        """
        arm, along, above = self.arm[which], place.real[:, None] - t, place.imag[:, None]
        arcs = np.flatnonzero(~self.line[which])
        if arcs.size:
            # exp(i angle place) - exp(i angle t) = 2 i exp(i angle real) (sin x cos x + i (rise - sin^2 x)),
            # where x is half of the angle between them, and rise is (1 - exp(-angle imaginary)) / 2
            some, angle = place[arcs], self.angle[which[arcs]]
            arm[arcs] *= 2j * np.exp(1j * angle * some.real)
            x = (0.5 * angle)[:, None] * along[arcs]
            sine = np.sin(x)
            np.cos(x, out=x)
            x *= sine
            along[arcs] = x
            sine *= sine
            above = np.repeat(above, t.shape[1], axis=1)
            above[arcs] = (-0.5 * np.expm1(-angle * some.imag))[:, None] - sine
        real, imaginary = arm.real[:, None], arm.imag[:, None]
        return real * along - imaginary * above, real * above + imaginary * along

    def nearest(self, places: Points, wanted: Mask) -> tuple[Floats, Index, Floats]:
        """Return the distance of places from some of the panels [m], the nearest panel and the parameter there."""
        which = np.flatnonzero(wanted)
        row, panel = np.repeat(np.arange(places.size), which.size), np.tile(which, places.size)
        t = np.clip(self.parameters(panel, places[row]).real.reshape(places.size, -1), -1.0, 1.0)
        away = np.abs(self.at(which, t) - places[:, None])
        best = np.argmin(away, axis=1)
        rows = np.arange(places.size)
        return away[rows, best], which[best], t[rows, best]


def divided(contours: Sequence[Contour], *, plane: bool, extent: float, order: int = ORDER, halve: int = 0) -> Panels:
    """Return the panels of conductors.

    Parameters
    ----------
    contours : sequence of Contour
    plane : bool
        Whether the line where the imaginary part is zero is an earthed plane.
    extent : float
        Size of the drawing [m].
    order : int
        Nodes of a panel, for the limit of unknowns.
    halve : int
        How often every panel is halved in the end, for a reference.

    Returns
    -------
    Panels
        In order along each conductor.

    Raises
    ------
    TooManyUnknowns
    """
    pieces: list[Piece] = []
    owner: list[int] = []
    features = _features(contours)
    for index, contour in enumerate(contours):
        others = [piece for k, one in enumerate(contours) if k != index for piece in one.pieces]
        if plane:
            mirrored = [piece for one in contours if one is not contour or not _on_plane(one) for piece in one.pieces]
            others += [Piece(np.conj(one.start), np.conj(one.end), -one.turn) for one in mirrored]
        found = _divided(contour, others, features, extent)
        for _ in range(halve):
            found = [half for piece in found for half in (piece.part(0.0, 0.5), piece.part(0.5, 1.0))]
        pieces += found
        owner += [index] * len(found)
        if len(pieces) * order > MOST_UNKNOWNS * 2**halve:
            smallest = min(pieces, key=lambda piece: piece.length)
            raise TooManyUnknowns(len(pieces) * order, smallest.start)
    return Panels(tuple(pieces), np.array(owner))


Features = tuple[list[Piece], Points]
"""Drawn arcs and corners, from which a density varies along straight faces."""


def _features(contours: Sequence[Contour]) -> Features:
    arcs = [piece for contour in contours for piece in contour.near if piece.turn]
    corners = [contour.places[list(contour.corners)] for contour in contours if contour.corners]
    return arcs, np.concatenate([*corners, np.empty(0, dtype=np.complex128)])


def _on_plane(contour: Contour) -> bool:
    ends = contour.places[[0, -1]]
    return bool((np.abs(ends.imag) < 1e-12 * (1 + np.abs(ends.real))).any())


MOST_PANELS = 700
"""Panels of one conductor at which dividing stops: far more than are solved."""


def _divided(contour: Contour, others: Sequence[Piece], features: Features, extent: float) -> list[Piece]:
    panels: list[Piece] = []
    for index, piece in enumerate(contour.pieces):
        panels += _cut(contour, index, piece, extent)
    drawn = (
        contour.places
        if not contour.near
        else np.concatenate([piece.at(np.array([0.0, 1.0])) for piece in contour.near])
    )
    middle = complex(drawn.mean())

    def room(some: Sequence[Piece]) -> tuple[Floats, Floats]:
        beyond = _beyond(some, middle, extent)
        return np.maximum(_roominess(some, others, features), beyond), beyond

    near, beyond = room(panels)
    while len(panels) < MOST_PANELS:
        length = np.array([piece.length for piece in panels])
        before, after = np.roll(length, 1), np.roll(length, -1)
        if not contour.closed:
            before[0] = after[-1] = np.inf
        beside = np.minimum(before, after)
        # far away what ends a conductor need not be led up to as gently
        beside = np.maximum(LONGEST_NEIGHBOUR * beside, np.minimum(LONGEST_BEYOND * beside, CLOSENESS * beyond))
        limit = np.minimum(beside, CLOSENESS * near)
        long = length > limit * (1 + ROUNDING)
        if not long.any():
            break
        parts = [
            _parts(piece, size, limits, GRADING * np.minimum(sides, size)) if cut else (piece,)
            for piece, cut, size, limits, sides in zip(
                panels, long, length, CLOSENESS * near, np.stack([before, after], axis=1), strict=True
            )
        ]
        counts = np.array([len(some) for some in parts])
        near, beyond = np.repeat(near, counts), np.repeat(beyond, counts)
        again = np.repeat(long, counts)
        near[again], beyond[again] = room([one for some in parts if len(some) > 1 for one in some])
        panels = [one for some in parts for one in some]
    return panels


def _parts(piece: Piece, length: float, room: float, sides: Floats) -> tuple[Piece, ...]:
    """Return a panel cut beside shorter neighbours, each end as long as its neighbour bears; else halved."""
    first, last = sides
    shares = [0.0, first / length, 1 - last / length, 1.0]
    if length > room or piece.turn:
        return piece.part(0.0, 0.5), piece.part(0.5, 1.0)
    if first < length and last < length and first + last < 0.7 * length:
        return tuple(piece.part(low, high) for low, high in pairwise(shares))
    if first < 0.6 * length and first < last:
        return piece.part(0.0, shares[1]), piece.part(shares[1], 1.0)
    if last < 0.6 * length and last < first:
        return piece.part(0.0, shares[2]), piece.part(shares[2], 1.0)
    return piece.part(0.0, 0.5), piece.part(0.5, 1.0)


def _cut(contour: Contour, index: int, piece: Piece, extent: float) -> list[Piece]:
    """Return the first panels of a piece: arcs of 60 degrees, none beyond half of the drawing, graded to corners."""
    if piece.far and not piece.turn:
        return _cut_outwards(contour, index, piece, extent)
    count = max(int(np.ceil(abs(piece.turn) / LARGEST_ARC - ROUNDING)), 1)
    if not piece.far:
        count = max(count, int(np.ceil(2 * piece.length / extent - ROUNDING)))
    last = len(contour.pieces) - 1
    following = 0 if contour.closed and index == last else index + 1
    levels = [HALVINGS.get(contour.corners.get(corner, ""), 0) for corner in (index, following)]
    if count == 1 and all(levels):
        count = 2
    shares = list(np.linspace(0.0, 1.0, count + 1))
    shares[1:1] = [shares[1] / 2**k for k in range(levels[0], 0, -1)]
    shares[-1:-1] = [1 - (1 - shares[-2]) / 2**k for k in range(1, levels[1] + 1)]
    return [piece.part(float(low), float(high)) for low, high in pairwise(shares)]


def _cut_outwards(contour: Contour, index: int, piece: Piece, extent: float) -> list[Piece]:
    """Return the first panels of a line beyond the drawing: the longer the farther, but for its far end."""
    whole, pieces = piece.length, contour.pieces
    inwards = index > 0 and not pieces[index - 1].far
    beyond = (pieces[index - 1] if index else None) if not inwards else (pieces[index + 1 :] or (None,))[0]
    near, far = [FIRST_BEYOND * extent], [2 * beyond.length if beyond is not None else 0.0]
    far[0] = max(far[0], LEAST_BEYOND * whole)
    while near[-1] * LONGEST_NEIGHBOUR < whole / 2:
        near.append(near[-1] * LONGEST_NEIGHBOUR)
    while far[-1] * LONGEST_BEYOND < whole / 2:
        far.append(far[-1] * LONGEST_BEYOND)
    edges = np.clip(np.array([0.0, *near, *(whole - np.array(far[::-1])), whole]) / whole, 0.0, 1.0)
    if not inwards:
        edges = 1 - edges[::-1]
    return [piece.part(float(low), float(high)) for low, high in pairwise(edges) if high > low]


def _beyond(panels: Sequence[Piece], middle: complex, extent: float) -> Floats:
    """Return a share of how far panels lie beyond the drawing, zero within: there things count less the farther."""
    away = np.array([min(abs(piece.start - middle), abs(piece.end - middle)) - extent for piece in panels])
    far = np.array([piece.far for piece in panels])
    return np.where(far, np.maximum(FARTHER * away, 0.0), 0.0)


def _roominess(panels: Sequence[Piece], others: Sequence[Piece], features: Features) -> Floats:
    """Return the size about panels on which a density may vary [m]: the distance from other conductors.

    Along straight faces it falls to an even one within that distance of what bounds them, and varies no more.
    """
    if not panels:
        return np.empty(0)
    samples = np.concatenate([piece.at(QUARTERS) for piece in panels])
    near = _distances(samples, others)
    bounds = np.minimum(_distances(samples, features[0]), _from_places(samples, features[1]))
    straight = np.array([not piece.turn for piece in panels])
    most = np.where([piece.far for piece in panels], MOST_FAR, MOST_EVEN) * near
    return np.where(straight & (bounds > EVEN * near), np.clip(OUTWARDS * bounds, near, most), near)


def _distances(samples: Points, others: Sequence[Piece]) -> Floats:
    """Return the distance of panels from pieces [m], by five places each."""
    best = np.full(samples.size, np.inf)
    for other in others:
        best = np.minimum(best, np.abs(other.at(other.nearest(samples)) - samples))
    return np.asarray(best.reshape(-1, 5).min(axis=1))


def _from_places(samples: Points, places: Points) -> Floats:
    if not places.size:
        return np.full(samples.size // 5, np.inf)
    return np.asarray(np.abs(samples[:, None] - places).min(axis=1).reshape(-1, 5).min(axis=1))
