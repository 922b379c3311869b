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
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from service.physics import rings
from service.physics.domain import Floats
from service.physics.panels import ORDER, Index, Mask, Panels, gauss
from service.physics.rings import Points

FAR = 3.0
"""Sum of the distances of a complex parameter from -1 and 1 from which a panel's own nodes suffice."""
NEAR_NODES, NEAREST_NODES, OWN_NODES, OWN_POWER = 24, 40, 16, 5
NEAREST = 0.05
"""Imaginary part of a complex parameter below which the rule near a panel takes more nodes."""
ENDS = np.array([[-1.0], [1.0]])
BLOCK, PART = 16_000, 3_000
"""Elements of a matrix, and of fields, that are made at a time: what stays in the cache."""


@lru_cache(maxsize=16)
def _from_values(count: int) -> Floats:
    """Return the matrix from values at Gauss nodes to Legendre coefficients, ``(count, count)``."""
    nodes, weights = gauss(count)
    orders = np.arange(count)
    return np.asarray((orders[:, None] + 0.5) * weights * np.polynomial.legendre.legvander(nodes, count - 1).T)


@lru_cache(maxsize=16)
def _powers(count: int) -> Floats:
    """Return the powers that each of the first Legendre polynomials is made of, ``(count, count)``."""
    found = np.zeros((count, count))
    for k in range(count):
        found[k, : k + 1] = np.polynomial.legendre.leg2poly(np.eye(count)[k, : k + 1])
    return found


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
    def coordinates(self) -> tuple[Floats, Floats]:
        """Both coordinates of the nodes [m]."""
        return self.nodes.real.copy(), self.nodes.imag.copy()

    @cached_property
    def weights(self) -> Floats:
        """Length that belongs to each node [m]."""
        return (self.panels.speed[:, None] * gauss(self.order)[1]).ravel()

    @cached_property
    def owner(self) -> Index:
        """Conductor of each node."""
        return np.repeat(self.panels.owner, self.order)

    @cached_property
    def strips(self) -> Floats:
        """What a density at each node is multiplied with for the kernels: the length, of rings times their radius."""
        return self.weights * (self.nodes.real if self.axis else 1.0)

    @cached_property
    def charge_weights(self) -> Floats:
        """Charge over permittivity that a density of one at each node makes [m2], or [m] per length."""
        return self.strips * (2 * np.pi if self.axis else 1.0)

    def matrix(self, targets: Points, own: tuple[Index, Floats] | None = None) -> Floats:
        """Return the potential at places from a density of one at each node, ``(places, nodes)``.

        Parameters
        ----------
        targets : ndarray
            [m].
        own : tuple of ndarray, optional
            Panel on which each place lies, and its parameter there.
        """
        found = self._far(targets) * self.strips
        self._near(found, targets, own)
        if self.plane:
            image = self._far(np.conj(targets)) * self.strips
            self._near(image, np.conj(targets), None)
            found -= image
        return found

    def _far(self, targets: Points) -> Floats:
        """Return the kernel between places and nodes, as if all were far from each other."""
        found = np.empty((targets.size, self.nodes.size))
        rows = max(BLOCK // self.nodes.size, 1)
        for start in range(0, targets.size, rows):
            found[start : start + rows] = self._kernel(targets[start : start + rows], self.nodes)
        return found

    def _between_nodes(self, *, mirrored: bool) -> Floats:
        """Return the kernel between all nodes, or their images and them, which is the same both ways."""
        nodes = self.nodes
        targets = np.conj(nodes) if mirrored else nodes
        found = np.empty((nodes.size, nodes.size))
        start = 0
        while start < nodes.size:
            stop = start + max(BLOCK // (nodes.size - start), 8)
            found[start:stop, start:] = self._kernel(targets[start:stop], nodes[start:])
            found[stop:, start:stop] = found[start:stop, stop:].T
            start = stop
        return found

    def _kernel(self, targets: Points, nodes: Points) -> Floats:
        potential = rings.ring_potential if self.axis else rings.line_potential
        radius = targets.real[:, None]
        with np.errstate(all="ignore"):
            return potential(radius, radius - nodes.real, targets.imag[:, None] - nodes.imag)

    def _near(self, found: Floats, targets: Points, own: tuple[Index, Floats] | None) -> None:
        """Put the potential of near panels by rules of their own into a matrix."""
        blocks = found.reshape(targets.size, self.panels.count, self.order)
        row, panel, place = _near_pairs(self.panels, targets)
        if own is not None:
            every = np.arange(targets.size)
            others = panel != own[0][row]
            row, panel, place = row[others], panel[others], place[others]
            t, rule = _own_rule(own[1])
            blocks[every, own[0]] = self._by_rule(targets, own[0], own[1].astype(complex), t, rule)
        nearest = np.abs(place.imag) < NEAREST
        for some, count in ((~nearest, NEAR_NODES), (nearest, NEAREST_NODES)):
            if some.any():
                t, rule = _near_rule(place[some], count)
                blocks[row[some], panel[some]] = self._by_rule(targets[row[some]], panel[some], place[some], t, rule)

    def _by_rule(self, targets: Points, panel: Index, place: Points, t: Floats, rule: Floats) -> Floats:
        """Return the potential of each node's density by a rule of its own for each pair of place and panel."""
        potential = rings.ring_potential if self.axis else rings.line_potential
        radius, (across, height) = targets.real[:, None], self.panels.offset(panel, place, t)
        with np.errstate(all="ignore"):
            value = potential(radius, across, height)
            if self.axis:
                value *= radius - across
        value = np.nan_to_num(value, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
        value *= rule
        shapes = np.einsum("kpq,pq->pk", _legendre(t, self.order), value)
        shapes *= self.panels.speed[panel, None]
        return np.asarray(shapes @ _from_values(self.order))

    def solve(self) -> Solution:
        """Return the densities for a potential of one volt on each conductor in turn.

        Raises
        ------
        LinAlgError
            When the equations have no single solution that is finite.
        """
        from scipy.linalg import lapack  # loaded where it is needed

        count, conductors = self.nodes.size, int(self.panels.owner.max()) + 1
        wanted = (self.owner[:, None] == np.arange(conductors)).astype(float)
        size = count + 1 if self.neutral else count
        whole = np.empty((size, size))
        matrix = self._square()
        matrix /= self.weights
        scale = 0.0
        if self.neutral:
            scale = float(np.abs(matrix).mean())
            charge = self.charge_weights / self.weights
            whole[:count, count] = scale
            whole[count, :count], whole[count, count] = scale * charge / np.abs(charge).max(), 0.0
            wanted = np.vstack([wanted, np.zeros(conductors)])
        whole[:count, :count] = matrix
        # rows of ours are columns of the library
        factors, pivots, singular = lapack.dgetrf(whole.T, overwrite_a=True)
        found, _ = lapack.dgetrs(factors, pivots, wanted, trans=1)
        if singular or not np.isfinite(found).all():
            raise np.linalg.LinAlgError("the equations of the charges have no single solution")
        constants = found[count] * scale if self.neutral else np.zeros(conductors)
        return Solution(self, found[:count] / self.weights[:, None], constants)

    def _square(self) -> Floats:
        """Return the potential at each node from a density of one at each."""
        own = np.repeat(np.arange(self.panels.count), self.order), np.tile(gauss(self.order)[0], self.panels.count)
        found = self._between_nodes(mirrored=False)
        found *= self.strips
        self._near(found, self.nodes, own)
        if self.plane:
            image = self._between_nodes(mirrored=True)
            image *= self.strips
            self._near(image, np.conj(self.nodes), None)
            found -= image
        return found


def _is_near(place: Points) -> Mask:
    """Return whether the distances of parameters from -1 and 1 sum to less than `FAR`: an ellipse."""
    x, y = place.real * (2 / FAR), place.imag * (1 / np.sqrt(FAR**2 / 4 - 1))
    x *= x
    y *= y
    x += y
    return np.asarray(x < 1)


def _near_pairs(panels: Panels, places: Points) -> tuple[Index, Index, Points]:
    """Return places, their near panels, and their parameters there."""
    across, up, reach = panels.surrounded
    aside, above = places.real[:, None] - across, places.imag[:, None] - up
    aside *= aside
    above *= above
    aside += above
    row, panel = np.nonzero(aside < reach)
    if not row.size:
        return row, panel, np.empty(0, dtype=np.complex128)
    place = panels.parameters(panel, places[row])
    near = _is_near(place)
    return row[near], panel[near], place[near]


def _legendre(t: Floats, count: int) -> Floats:
    """Return the first Legendre polynomials, ``(count, ...)``."""
    found = np.empty((count, *t.shape))
    found[0] = 1.0
    if count > 1:
        found[1] = t
    for k in range(2, count):
        np.multiply(found[k - 1], t, out=found[k])
        found[k] *= (2 * k - 1) / k
        found[k] -= (k - 1) / k * found[k - 2]
    return found


def _near_rule(place: Points, count: int) -> tuple[Floats, Floats]:
    """Return nodes and weights of the sinh rule about complex parameters, ``(places, nodes)``."""
    x, w = gauss(count)
    a, b = place.real, np.abs(place.imag)
    b = np.maximum(np.maximum(b, 1e-3 * (np.abs(a) - 1)), 1e-14)
    ends = np.arcsinh((ENDS - a) / b)
    half = 0.5 * (ends[1] - ends[0])
    u = half[:, None] * x
    u += (ends[0] + half)[:, None]
    # hyperbolic sine and cosine by the exponential, a tenth of their cost
    rising = np.exp(u, out=u)
    falling = 1 / rising
    b *= 0.5
    t = rising - falling
    t *= b[:, None]
    t += a[:, None]
    rising += falling
    rising *= (half * b)[:, None]
    rising *= w
    np.maximum(t, -1.0, out=t)
    return np.minimum(t, 1.0, out=t), rising


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

    @cached_property
    def powers(self) -> Floats:
        """Coefficients of even and odd powers of the parameter in density times speed, ``(2, order / 2, panels)``."""
        order = self.boundary.order
        found = (self.coefficients @ _powers(order)).T * self.boundary.panels.speed
        return np.stack([found[0::2], found[1::2]])

    def along(self, panel: Index, t: Floats) -> Floats:
        """Return density times speed at parameters of each of some panels, ``(panels, parameters)`` [V]."""
        even, odd = self.powers[..., panel, None]
        pairs = odd * t
        pairs += even
        square, found = t * t, np.asarray(pairs[-1])
        for pair in pairs[-2::-1]:
            found *= square
            found += pair
        return found

    @cached_property
    def strength(self) -> Floats:
        """What the kernels of the nodes are multiplied with."""
        return self.boundary.strips * self.density

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
        with np.errstate(all="ignore"):
            return fields_at([self], [places])[0]

    def shown(self, places: Points) -> Floats:
        """Return the potential alone for a picture, in single precision: within a thousandth of a volt [V]."""
        kernel = rings.ring_potential if self.boundary.axis else rings.line_potential
        rows = max(BLOCK // self.boundary.nodes.size, 1)
        parts = []
        for start in range(0, places.size, rows):
            asked = _Asked(self, places[start : start + rows], np.float32)
            with np.errstate(all="ignore"):
                parts.append(asked.sums(kernel(asked.radius, asked.across, asked.height)[None])[0])
        return np.concatenate(parts) + self.constant

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


def fields_at(fields: Sequence[PotentialField], places: Sequence[Points]) -> list[tuple[Floats, Points]]:
    """Return potential [V] and field [V/m] of some fields at places of each, as `PotentialField.at`, in one go.

    It is asked very often, so that who asks says once that what is not finite in a conductor is no error.

    Parameters
    ----------
    fields : sequence of PotentialField
        All of bodies of revolution, or all of sections.
    places : sequence of ndarray
        One-dimensional, one for each [m].

    Returns
    -------
    list of tuple
        Potential and field of each, one a place.
    """
    kernel = rings.ring_field if fields[0].boundary.axis else rings.line_field
    asked = [_Asked(field, some, np.float64) for field, some in zip(fields, places, strict=True)]
    given = [asked[0].radius, asked[0].across, asked[0].height]
    if len(asked) > 1:
        given = [np.concatenate(one) for one in zip(*((o.radius, o.across, o.height) for o in asked), strict=True)]
    size = given[0].size
    values = np.empty((3, size))
    for start in range(0, size, PART):
        part = slice(start, start + PART)
        values[0, part], values[1, part], values[2, part] = kernel(*(one[part] for one in given))
    found, start = [], 0
    for field, one in zip(fields, asked, strict=True):
        potential, radial, axial = one.sums(values[:, start : start + one.radius.size])
        start += one.radius.size
        E = np.empty(potential.size, dtype=np.complex128)
        E.real, E.imag = radial, axial
        found.append((potential + field.constant, E))
    return found


class _Asked:
    """Places at which a field is asked: what leads to them from all nodes, and from nodes of their own on near panels.

    Both go through a kernel together, since most arrays here are short.
    """

    def __init__(self, field: PotentialField, places: Points, precision: type) -> None:
        boundary, panels = field.boundary, field.boundary.panels
        self.field, self.count = field, places.size
        if boundary.plane:
            places = np.concatenate([places, np.conj(places)])
        self.shape = places.size, boundary.nodes.size
        far = places.size * boundary.nodes.size
        self.row, panel, place = _near_pairs(panels, places)
        t, strength = np.empty((0, NEAR_NODES)), np.empty((0, NEAR_NODES))
        if self.row.size:
            nearest = bool(np.abs(place.imag).min() < NEAREST)
            t, strength = _near_rule(place, NEAREST_NODES if nearest else NEAR_NODES)
        self.radius: Floats = np.empty(far + t.size, dtype=precision)
        self.across: Floats = np.empty(far + t.size, dtype=precision)
        self.height: Floats = np.empty(far + t.size, dtype=precision)
        radius, heights = boundary.coordinates
        self.radius[:far].reshape(self.shape)[:] = places.real[:, None]
        np.subtract(places.real[:, None], radius, out=self.across[:far].reshape(self.shape))
        np.subtract(places.imag[:, None], heights, out=self.height[:far].reshape(self.shape))
        if not self.row.size:
            return
        self.radius[far:].reshape(t.shape)[:] = places.real[self.row, None]
        self.across[far:], self.height[far:] = (one.ravel() for one in panels.offset(panel, place, t))
        strength *= field.along(panel, t)
        if boundary.axis:
            strength *= (self.radius[far:] - self.across[far:]).reshape(t.shape)
        self.strength = strength
        beside = (self.row * boundary.nodes.size + panel * boundary.order)[:, None] + np.arange(boundary.order)
        self.beside = beside.ravel()

    def sums(self, values: Floats) -> Floats:
        """Return what values sum to at the places, ``(values, places)``; an image has the other charge."""
        charges: Floats = self.field.strength.astype(values.dtype, copy=False)
        far = self.shape[0] * self.shape[1]
        if self.row.size:
            values[:, self.beside] = 0.0
        total: Floats = values[:, :far].reshape(-1, *self.shape) @ charges
        if self.row.size:
            near = np.einsum("kpq,pq->kp", values[:, far:].reshape(-1, *self.strength.shape), self.strength)
            first = np.flatnonzero(np.diff(self.row, prepend=-1))
            total[:, self.row[first]] += np.add.reduceat(near, first, axis=1)
        if self.field.boundary.plane:
            image = total[:, self.count :]
            # the axial field of the image, asked at the mirrored place, points the other way again
            image[2:] *= -1
            total = total[:, : self.count] - image
        return total
