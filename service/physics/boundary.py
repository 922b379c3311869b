"""Fields of drawn conductors by boundary elements: a layer of charge on their surfaces that makes every potential.

Each outline is cut into panels; on each the charge density is a polynomial, and the potential is right at its Gauss
nodes. The density of a solid conductor is the field at its surface. A plane acts by images. Three quadratures: the
panel's own nodes far away, a sinh rule about the complex parameter of a near point, and a rule graded to the point on
its own panel; near ones take distances from differences of the parameter, so that tiny panels lose no digits.

References
----------
Atkinson, The Numerical Solution of Integral Equations of the Second Kind, chapter 7; Johnston and Elliott,
International Journal for Numerical Methods in Engineering 62 (2005) 564 (sinh rule); from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from service.physics import rings
from service.physics.contours import Contour, Piece
from service.physics.domain import Floats
from service.physics.rings import Points
from service.units import ROUNDING

ORDER, CHECK_ORDER = 8, 6
"""Nodes of a panel for answers, and for the estimate of their error."""
LARGEST_ARC = np.pi / 3
LONGEST_NEIGHBOUR, CLOSENESS = 2.5, 2.0
"""Longest panel over its neighbour, and over the distance to another conductor."""
HALVINGS = {"sharp": 8, "edge": 8, "hollow": 3}
"""How often the panels at a corner are halved towards it."""
FAR = 3.0
"""Sum of the distances of a complex parameter from -1 and 1 from which a panel's own nodes suffice."""
NEAR_NODES, OWN_NODES, OWN_POWER = 24, 16, 5
MOST_UNKNOWNS = 1600
BLOCK = 40_000
"""Elements of a matrix that are made at a time: what stays in the cache."""

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


@lru_cache(maxsize=16)
def _from_values(count: int) -> Floats:
    """Return the matrix from values at Gauss nodes to Legendre coefficients, ``(count, count)``."""
    nodes, weights = gauss(count)
    orders = np.arange(count)
    return np.asarray((orders[:, None] + 0.5) * weights * np.polynomial.legendre.legvander(nodes, count - 1).T)


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

    def parameter(self, places: Points) -> Points:
        """Return the complex parameters of places on every panel, ``(places, panels)``."""
        from_origin = (places[:, None] - self.origin) / self.arm
        arcs = ~self.line
        if arcs.any():
            spoke = from_origin[:, arcs]
            from_origin[:, arcs] = np.log(np.where(spoke == 0, 1e-300, spoke)) / (1j * self.angle[arcs])
        return np.asarray(from_origin)

    def offset(self, which: Index, place: Points, t: Floats) -> Points:
        """Return what leads from the parameter t to the complex parameter of a place, without cancellation."""
        apart = place - t
        arm, angle = self.arm[which], self.angle[which]
        curved = arm * np.exp(1j * angle * t) * np.expm1(1j * angle * apart)
        return np.asarray(np.where(self.line[which], arm * apart, curved))

    def nearest(self, places: Points, wanted: Mask) -> tuple[Floats, Index, Floats]:
        """Return the distance of places from some of the panels [m], the nearest panel and the parameter there."""
        which = np.flatnonzero(wanted)
        t = np.clip(self.parameter(places)[:, which].real, -1.0, 1.0)
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
    for index, contour in enumerate(contours):
        others = [piece for k, one in enumerate(contours) if k != index for piece in one.pieces]
        if plane:
            mirrored = [piece for one in contours if one is not contour or not _on_plane(one) for piece in one.pieces]
            others += [Piece(np.conj(one.start), np.conj(one.end), -one.turn) for one in mirrored]
        found = _divided(contour, others, extent)
        for _ in range(halve):
            found = [half for piece in found for half in (piece.part(0.0, 0.5), piece.part(0.5, 1.0))]
        pieces += found
        owner += [index] * len(found)
        if len(pieces) * order > MOST_UNKNOWNS * 2**halve:
            smallest = min(pieces, key=lambda piece: piece.length)
            raise TooManyUnknowns(len(pieces) * order, smallest.start)
    return Panels(tuple(pieces), np.array(owner))


def _on_plane(contour: Contour) -> bool:
    ends = contour.places[[0, -1]]
    return bool((np.abs(ends.imag) < 1e-12 * (1 + np.abs(ends.real))).any())


MOST_PANELS = 700
"""Panels of one conductor at which dividing stops: far more than are solved."""


def _divided(contour: Contour, others: Sequence[Piece], extent: float) -> list[Piece]:
    panels: list[Piece] = []
    for index, piece in enumerate(contour.pieces):
        panels += _cut(contour, index, piece, extent)
    drawn = (
        contour.places
        if not contour.near
        else np.concatenate([piece.at(np.array([0.0, 1.0])) for piece in contour.near])
    )
    middle = complex(drawn.mean())
    near = _relaxed(panels, _distances(panels, others), middle, extent)
    while len(panels) < MOST_PANELS:
        length = np.array([piece.length for piece in panels])
        before, after = np.roll(length, 1), np.roll(length, -1)
        if not contour.closed:
            before[0] = after[-1] = np.inf
        limit = np.minimum(LONGEST_NEIGHBOUR * np.minimum(before, after), CLOSENESS * near)
        long = length > limit * (1 + ROUNDING)
        if not long.any():
            break
        halves = [
            (piece.part(0.0, 0.5), piece.part(0.5, 1.0)) if cut else (piece,)
            for piece, cut in zip(panels, long, strict=True)
        ]
        new = [half for pair in halves if len(pair) == 2 for half in pair]
        again = _relaxed(new, _distances(new, others), middle, extent)
        counts = np.array([len(pair) for pair in halves])
        near = np.repeat(near, counts)
        near[np.repeat(long, counts)] = again
        panels = [half for pair in halves for half in pair]
    return panels


def _cut(contour: Contour, index: int, piece: Piece, extent: float) -> list[Piece]:
    """Return the first panels of a piece: arcs of 60 degrees, none beyond half of the drawing, graded to corners."""
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


def _relaxed(panels: Sequence[Piece], near: Floats, middle: complex, extent: float) -> Floats:
    """Return distances of panels from other conductors; beyond the drawing they count less the farther away."""
    away = np.array([min(abs(piece.start - middle), abs(piece.end - middle)) - extent for piece in panels])
    far = np.array([piece.far for piece in panels])
    return np.where(far, np.maximum(near, 0.3 * away), near)


def _distances(panels: Sequence[Piece], others: Sequence[Piece]) -> Floats:
    """Return the distance of panels from other pieces [m], by five places each."""
    if not others or not panels:
        return np.full(len(panels), np.inf)
    samples = np.concatenate([piece.at(np.linspace(0.0, 1.0, 5)) for piece in panels])
    best = np.full(samples.size, np.inf)
    for other in others:
        best = np.minimum(best, np.abs(other.at(other.nearest(samples)) - samples))
    return np.asarray(best.reshape(-1, 5).min(axis=1))


@dataclass(frozen=True, eq=False)
class Boundary:
    """Conductors as a system of equations.

    Parameters
    ----------
    panels : Panels
    axis : bool
        Whether they are bodies of revolution; else sections without end.
    plane : bool
        Whether there is an earthed plane.
    neutral : bool
        Whether the charges sum to zero and the far potential is free; else it is zero.
    order : int
        Nodes of a panel.
    """

    panels: Panels
    axis: bool
    plane: bool
    neutral: bool
    order: int = ORDER

    @cached_property
    def nodes(self) -> Points:
        """Nodes of all panels, one-dimensional [m]."""
        which = np.arange(self.panels.count)[:, None]
        return self.panels.at(which, gauss(self.order)[0]).ravel()

    @cached_property
    def weights(self) -> Floats:
        """Length that belongs to each node [m]."""
        return (self.panels.speed[:, None] * gauss(self.order)[1]).ravel()

    @cached_property
    def owner(self) -> Index:
        """Conductor of each node."""
        return np.repeat(self.panels.owner, self.order)

    @cached_property
    def charge_weights(self) -> Floats:
        """Charge over permittivity that a density of one at each node makes [m2], or [m] per length."""
        return self.weights * (2 * np.pi * self.nodes.real if self.axis else 1.0)

    def matrix(self, targets: Points, own: tuple[Index, Floats] | None = None) -> Floats:
        """Return the potential at places from a density of one at each node, ``(places, nodes)``.

        Parameters
        ----------
        targets : ndarray
            [m].
        own : tuple of ndarray, optional
            Panel on which each place lies, and its parameter there.
        """
        found = np.empty((targets.size, self.nodes.size))
        rows = max(BLOCK // self.nodes.size, 1)
        for start in range(0, targets.size, rows):
            part = slice(start, start + rows)
            here = None if own is None else (own[0][part], own[1][part])
            found[part] = self._rows(targets[part], here)
            if self.plane:
                found[part] -= self._rows(np.conj(targets[part]), None)
        return found

    def _rows(self, targets: Points, own: tuple[Index, Floats] | None) -> Floats:
        potential = rings.ring_potential if self.axis else rings.line_potential
        with np.errstate(all="ignore"):
            found = potential(targets[:, None], targets[:, None] - self.nodes) * self.weights
        blocks = found.reshape(targets.size, self.panels.count, self.order)
        places = self.panels.parameter(targets)
        near = _is_near(places)
        if own is not None:
            near[np.arange(targets.size), own[0]] = False
            t, rule = _own_rule(own[1])
            blocks[np.arange(targets.size), own[0]] = self._by_rule(targets, own[0], own[1].astype(complex), t, rule)
        row, panel = np.nonzero(near)
        if row.size:
            place = places[row, panel]
            t, rule = _near_rule(place)
            blocks[row, panel] = self._by_rule(targets[row], panel, place, t, rule)
        return found

    def _by_rule(self, targets: Points, panel: Index, place: Points, t: Floats, rule: Floats) -> Floats:
        """Return the potential of each node's density by a rule of its own for each pair of place and panel."""
        potential = rings.ring_potential if self.axis else rings.line_potential
        offset = self.panels.offset(panel[:, None], place[:, None], t)
        with np.errstate(all="ignore"):
            value = np.nan_to_num(potential(targets[:, None], offset), nan=0.0, posinf=0.0, neginf=0.0)
        value *= rule * self.panels.speed[panel, None]
        shapes = np.polynomial.legendre.legvander(t, self.order - 1)
        return np.asarray(np.matmul(value[:, None, :], shapes)[:, 0] @ _from_values(self.order))

    def solve(self) -> Solution:
        """Return the densities for a potential of one volt on each conductor in turn."""
        from scipy import linalg  # loaded where it is needed

        own = np.repeat(np.arange(self.panels.count), self.order), np.tile(gauss(self.order)[0], self.panels.count)
        matrix = self.matrix(self.nodes, own) / self.weights
        count, conductors = self.nodes.size, int(self.panels.owner.max()) + 1
        wanted = (self.owner[:, None] == np.arange(conductors)).astype(float)
        if not self.neutral:
            found = linalg.solve(matrix, wanted, overwrite_a=True, check_finite=False)
            return Solution(self, found / self.weights[:, None], np.zeros(conductors))
        whole = np.empty((count + 1, count + 1))
        scale = float(np.abs(matrix).mean())
        charge = self.charge_weights / self.weights
        whole[:count, :count], whole[:count, count] = matrix, scale
        whole[count, :count], whole[count, count] = scale * charge / np.abs(charge).max(), 0.0
        found = linalg.solve(whole, np.vstack([wanted, np.zeros(conductors)]), overwrite_a=True, check_finite=False)
        return Solution(self, found[:count] / self.weights[:, None], found[count] * scale)


def _is_near(place: Points) -> Mask:
    return np.asarray(np.abs(place - 1) + np.abs(place + 1) < FAR)


def _near_rule(place: Points) -> tuple[Floats, Floats]:
    """Return nodes and weights of the sinh rule about complex parameters, ``(places, nodes)``."""
    x, w = gauss(NEAR_NODES)
    beyond = np.maximum(np.abs(place.real) - 1, 0.0)
    b = np.maximum(np.abs(place.imag), 1e-3 * beyond + 1e-14)
    a = place.real
    low, high = np.arcsinh((-1 - a) / b), np.arcsinh((1 - a) / b)
    half = (high - low) / 2
    u = (high + low)[:, None] / 2 + half[:, None] * x
    t = a[:, None] + b[:, None] * np.sinh(u)
    return np.clip(t, -1.0, 1.0), half[:, None] * w * b[:, None] * np.cosh(u)


def _own_rule(own: Floats) -> tuple[Floats, Floats]:
    """Return nodes and weights graded to parameters on the panel itself, ``(places, nodes)``."""
    x, w = gauss(OWN_NODES)
    v, w = (x + 1) / 2, w / 2
    left, right = (1 + own)[:, None], (1 - own)[:, None]
    t = np.concatenate([own[:, None] - left * v**OWN_POWER, own[:, None] + right * v**OWN_POWER], axis=1)
    slope = OWN_POWER * v ** (OWN_POWER - 1) * w
    return t, np.concatenate([left * slope, right * slope], axis=1)


@dataclass(frozen=True, eq=False)
class Solution:
    """Charge densities for a volt on each conductor.

    Parameters
    ----------
    boundary : Boundary
    densities : ndarray
        ``(nodes, conductors)``, over permittivity [1/m].
    constants : ndarray
        Potential far away for each.
    """

    boundary: Boundary
    densities: Floats
    constants: Floats

    @cached_property
    def charges(self) -> Floats:
        """Charges over permittivity, ``(conductors, conductors)``: of the first when the second has a volt [m]."""
        boundary = self.boundary
        weighed = boundary.charge_weights[:, None] * self.densities
        return np.array([weighed[boundary.owner == k].sum(axis=0) for k in range(self.constants.size)])

    def potentials(self, given: Floats) -> Floats:
        """Return the potentials of all conductors; those given as NaN float without charge."""
        floating = np.isnan(given)
        if not floating.any():
            return given
        found = given.copy()
        charges = self.charges
        inner = charges[np.ix_(floating, floating)]
        outer = charges[np.ix_(floating, ~floating)]
        found[floating] = np.linalg.solve(inner, -outer @ given[~floating])
        return found

    def field(self, given: Floats) -> PotentialField:
        """Return the field for potentials; NaN floats."""
        potentials = self.potentials(np.asarray(given, dtype=np.float64))
        return PotentialField(
            self.boundary, potentials, self.densities @ potentials, float(self.constants @ potentials)
        )


@dataclass(frozen=True, eq=False)
class PotentialField:
    """Field and potential anywhere.

    Parameters
    ----------
    boundary : Boundary
    potentials : ndarray
        Of the conductors [V].
    density : ndarray
        At the nodes: the field that leaves a solid conductor [V/m].
    constant : float
        Potential far away [V].
    """

    boundary: Boundary
    potentials: Floats
    density: Floats
    constant: float

    @cached_property
    def coefficients(self) -> Floats:
        """Legendre coefficients of the density, ``(panels, order)``."""
        order = self.boundary.order
        return np.asarray(self.density.reshape(-1, order) @ _from_values(order).T)

    def surface(self, panel: Index, t: Floats) -> Floats:
        """Return the density at parameters of panels: the field that leaves a solid conductor [V/m]."""
        shapes = np.polynomial.legendre.legvander(t, self.boundary.order - 1)
        return np.asarray(np.einsum("...k,...k->...", shapes, self.coefficients[panel]))

    def at(self, places: Points) -> tuple[Floats, Points]:
        """Return potential [V] and field [V/m] at places outside the conductors.

        Parameters
        ----------
        places : ndarray
            One-dimensional [m].
        """
        potential, field = np.empty(places.size), np.empty(places.size, dtype=np.complex128)
        rows = max(BLOCK // self.boundary.nodes.size, 1)
        for start in range(0, places.size, rows):
            part = slice(start, start + rows)
            potential[part], field[part] = self._part(places[part])
        return potential + self.constant, field

    def potential(self, places: Points) -> Floats:
        """Return the potential alone, in half of the time [V]."""
        return np.asarray(self.boundary.matrix(places) @ self.density + self.constant)

    def _part(self, places: Points) -> tuple[Floats, Points]:
        if not self.boundary.plane:
            return self._layer(places)
        potential, field = self._layer(np.concatenate([places, np.conj(places)]))
        count = places.size
        return potential[:count] - potential[count:], field[:count] - np.conj(field[count:])

    def _layer(self, places: Points) -> tuple[Floats, Points]:
        boundary, panels = self.boundary, self.boundary.panels
        kernel = rings.ring_field if boundary.axis else rings.line_field
        with np.errstate(all="ignore"):
            value, slope = kernel(places[:, None], places[:, None] - boundary.nodes)
        place = panels.parameter(places)
        near = _is_near(place)
        row, panel = np.nonzero(near)
        blocks = (places.size, panels.count, boundary.order)
        value.reshape(blocks)[row, panel] = 0.0
        slope.reshape(blocks)[row, panel] = 0.0
        strength = boundary.weights * self.density
        potential, field = value @ strength, slope @ strength
        if row.size:
            t, rule = _near_rule(place[row, panel])
            offset = panels.offset(panel[:, None], place[row, panel][:, None], t)
            with np.errstate(all="ignore"):
                value, slope = kernel(places[row, None], offset)
            shapes = np.polynomial.legendre.legvander(t, boundary.order - 1)
            density = np.matmul(shapes, self.coefficients[panel][:, :, None])[..., 0]
            strength = rule * panels.speed[panel, None] * density
            potential += np.bincount(row, (value * strength).sum(axis=1), places.size)
            found = (slope * strength).sum(axis=1)
            field += np.bincount(row, found.real, places.size) + 1j * np.bincount(row, found.imag, places.size)
        return potential, field

    @cached_property
    def residual(self) -> float:
        """Largest error of the potential on the surfaces between the nodes [V].

        Notes
        -----
        By the maximum principle it bounds the error of the potential everywhere, but for what errors far beyond the
        drawing, which are left out, let through.
        """
        boundary, panels = self.boundary, self.boundary.panels
        between = np.array([-0.985, 0.0, 0.985])
        drawn = np.array([k for k, piece in enumerate(panels.pieces) if not piece.far])
        panel = np.repeat(drawn, between.size)
        t = np.tile(between, drawn.size)
        found = boundary.matrix(panels.at(panel, t), (panel, t)) @ self.density + self.constant
        return float(np.max(np.abs(found - self.potentials[panels.owner[panel]])))
