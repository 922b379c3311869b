"""Lines of force of a field by boundary elements: traced from a conductor's surface with the potential as the clock.

``dw / du = +-E / |E|^2`` where u is the potential passed through. The potential is known at every step, so that the
clock is set right there; what is left of an error is sideways. The last stretch before a conductor is not stepped,
where a stage might land in the metal: it ends at the nearest place of the surface, whose field is known.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from service.physics.boundary import PotentialField, fields_at
from service.physics.domain import Floats
from service.physics.panels import Index, Mask, gauss
from service.physics.rings import Points
from service.units import ROUNDING

PLANE, AWAY = -1, -2
"""Where a line ends if not at a conductor: at the earthed plane, or far away."""
LAST = 0.015
"""Share of the way to a level that is not stepped."""
ARRIVED = 2.5
"""Distance from a conductor, over that which field and potential left over make, within which a line has arrived."""
NEAR, MOST_TRIES = 0.02, 2
"""Share of the way within which the last stretch is left, and how often it is made shorter."""
MERGED = 1e-3
"""Difference of the far potential from that of a conductor, over the span of all, below which it is no level."""
SWING = 0.7
"""How far the logarithm of the field may lie beyond that of both nodes about it."""
NEVER_BELOW = 1e-9
"""Smallest step over the whole way."""
BEYOND, FADED = 3.0, 1e-3
"""Distance over the size of the drawing, and field over that at the start, with which a line has gone away."""

A = tuple(
    np.array(row, dtype=np.complex128)
    for row in (
        (1 / 5,),
        (3 / 40, 9 / 40),
        (44 / 45, -56 / 15, 32 / 9),
        (19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729),
        (9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656),
        (35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84),
    )
)
B_LOW = np.array((5179 / 57600, 0.0, 7571 / 16695, 393 / 640, -92097 / 339200, 187 / 2100, 1 / 40), dtype=np.complex128)
"""Runge-Kutta pair of Dormand and Prince, Journal of Computational and Applied Mathematics 6 (1980) 19; from memory."""


@dataclass(frozen=True)
class Accuracy:
    """How finely lines are traced.

    Parameters
    ----------
    error : float
        Of a step, over the way.
    longest, apart : float
        Longest step, and longest stretch between two places that are kept, over the whole way.
    steps : int
        Most steps; a line that takes more ends where it is.
    """

    error: float
    longest: float
    apart: float
    steps: int


COARSE, FINE = Accuracy(2e-3, 0.24, 0.12, 40), Accuracy(2e-6, 0.12, 0.06, 160)


@dataclass
class FieldLine:
    """A line of force.

    Parameters
    ----------
    panel : int
        Where it starts.
    t : float
        Parameter there.
    owner : int
        Conductor where it starts.
    places : list of complex
        [m].
    drop : list of float
        Potential passed through up to each place [V].
    strength : list of float
        Field there [V/m].
    end : int
        Conductor where it ends, or `PLANE` or `AWAY`.
    miss : float
        Distance of the last stretch from what field and potential left over make, over the length.
    """

    panel: int
    t: float
    owner: int
    places: list[complex] = field(default_factory=list)
    drop: list[float] = field(default_factory=list)
    strength: list[float] = field(default_factory=list)
    end: int = AWAY
    miss: float = 0.0

    def between(self, count: int) -> tuple[Floats, Floats]:
        """Return the field by its spline at Gauss nodes of each step, and weights of potential, ``(steps, count)``."""
        x, w = gauss(count)
        return np.exp(_interpolated([self], x)), np.diff(self.drop)[:, None] / 2 * w

    def sampled(self, count: int = 12) -> tuple[Floats, Floats]:
        """Return field [V/m] and length [m] of small steps along it."""
        return _sampled([self], count)[0]

    @property
    def length(self) -> float:
        """Length [m]."""
        return float(self.sampled()[1].sum())


def trace(solved: PotentialField, panel: Index, t: Floats, accuracy: Accuracy) -> list[FieldLine]:
    """Return the lines of force from places on solid conductors.

    Parameters
    ----------
    solved : PotentialField
    panel : ndarray of int
        Panels where they start, which are passed with the metal to their left.
    t : ndarray
        Parameters there.
    accuracy : Accuracy

    Returns
    -------
    list of Line
        One a start; of a line that gets lost the part that was traced.
    """
    return trace_each([(solved, panel, t)], accuracy)[0]


def trace_each(asked: Sequence[tuple[PotentialField, Index, Floats]], accuracy: Accuracy) -> list[list[FieldLine]]:
    """Return the lines of force of some fields, in one go.

    Parameters
    ----------
    asked : sequence of tuple
        Field, panels and parameters, as `trace` takes them; all of bodies of revolution, or all of sections.
    accuracy : Accuracy

    Returns
    -------
    list of list of Line
        One for each.
    """
    under_way = [
        _UnderWay(solved, index, np.asarray(panel), np.asarray(t), accuracy)
        for index, (solved, panel, t) in enumerate(asked)
    ]
    return _Tracing(under_way, accuracy).run()


class _UnderWay:
    """Lines of one field at their start; arrays have one element a line."""

    def __init__(self, solved: PotentialField, index: int, panel: Index, t: Floats, accuracy: Accuracy) -> None:
        panels = solved.boundary.panels
        self.field, self.of = solved, np.full(panel.size, index)
        self.w = panels.at(panel, t)
        density = solved.surface(panel, t)
        self.sign = np.sign(density)
        self.E = density * (-1j * panels.tangent(panel, t))
        owner = panels.owner[panel]
        self.start = solved.potentials[owner]
        self.lines = [FieldLine(int(p), float(s), int(o)) for p, s, o in zip(panel, t, owner, strict=True)]
        self.levels = self._levels()
        whole = np.array([levels[-1] if levels.size else 0.0 for levels in self.levels])
        self.whole = np.where(whole > 0, whole, 1.0)
        self.open = (whole > 0) & (self.sign != 0)
        bend = np.where(panels.line[panel], panels.speed[panel], np.abs(panels.arm[panel]))
        self.h = np.minimum(0.3 * bend * np.abs(density), accuracy.longest * self.whole)
        self.reach = np.maximum(0.3 * bend, 1e-12)
        self.slack = np.full(panel.size, 2 * solved.residual)
        drawn = panels.at(np.flatnonzero([not piece.far for piece in panels.pieces]), np.zeros(1))
        heights = np.append(drawn.imag, 0.0) if solved.boundary.plane else drawn.imag
        self.size = np.full(panel.size, max(np.ptp(drawn.real), np.ptp(heights)))

    def _levels(self) -> list[Floats]:
        """Return the potentials ahead of each line, as drops from its start, in order."""
        stops = [*self.field.potentials, *([0.0] if self.field.boundary.plane else [])]
        span = max(np.ptp([*stops, self.field.constant]), 1e-300)
        if min(abs(self.field.constant - stop) for stop in stops) > MERGED * span:
            stops.append(self.field.constant)
        found: dict[tuple[float, float], Floats] = {}
        for start, sign in set(zip(self.start.tolist(), self.sign.tolist(), strict=True)):
            drops = np.unique(sign * (start - np.array(stops)))
            ahead = drops[drops > ROUNDING * span]
            apart = np.concatenate([[True], np.diff(ahead) > ROUNDING * span])
            found[start, sign] = ahead[apart] if ahead.size else ahead
        return [found[one] for one in zip(self.start.tolist(), self.sign.tolist(), strict=True)]


class _Tracing:
    """Lines under way; arrays have one element a line."""

    def __init__(self, parts: Sequence[_UnderWay], accuracy: Accuracy) -> None:
        self.fields, self.accuracy = [part.field for part in parts], accuracy
        self.lines = [line for part in parts for line in part.lines]
        self.levels = [levels for part in parts for levels in part.levels]
        self.of = np.concatenate([part.of for part in parts])
        self.w, self.E = (np.concatenate(one) for one in zip(*((part.w, part.E) for part in parts), strict=True))
        self.sign, self.start, self.whole, self.h, self.reach, self.slack, self.size, self.open = (
            np.concatenate(one)
            for one in zip(
                *((p.sign, p.start, p.whole, p.h, p.reach, p.slack, p.size, p.open) for p in parts), strict=True
            )
        )
        self.u, self.begun, self.first = np.zeros(self.w.size), self.w.copy(), self.E.copy()
        self.level, self.tries = np.zeros(self.w.size, dtype=int), np.zeros(self.w.size, dtype=int)
        self.slopes: list[list[complex]] = [[] for _ in self.lines]

    def run(self) -> list[list[FieldLine]]:
        self._keep(np.flatnonzero(self.sign != 0))
        for _ in range(self.accuracy.steps):
            which = np.flatnonzero(self.open)
            if not which.size:
                break
            self._step(which)
        self._fill()
        return [[self.lines[k] for k in np.flatnonzero(self.of == index)] for index in range(len(self.fields))]

    def _keep(self, which: Index) -> None:
        for k in which:
            line, field = self.lines[k], complex(self.E[k])
            line.places.append(complex(self.w[k]))
            line.drop.append(float(self.u[k]))
            line.strength.append(abs(field))
            self.slopes[k].append(float(self.sign[k]) * field / abs(field) ** 2)

    def _parts(self, which: Index) -> list[tuple[PotentialField, Index]]:
        """Return each field and which of some lines are its own."""
        if len(self.fields) == 1:
            return [(self.fields[0], np.arange(which.size))]
        of = self.of[which]
        parts = [(field, np.flatnonzero(of == index)) for index, field in enumerate(self.fields)]
        return [(field, part) for field, part in parts if part.size]

    @staticmethod
    def _at(parts: Sequence[tuple[PotentialField, Index]], places: Points) -> tuple[Floats, Points]:
        """Return potential and field at places, by the parts of their lines."""
        if len(parts) == 1:
            return fields_at([parts[0][0]], [places])[0]
        found = fields_at([field for field, _ in parts], [places[part] for _, part in parts])
        potential, E = np.empty(places.size), np.empty(places.size, dtype=np.complex128)
        for (_, part), (one, other) in zip(parts, found, strict=True):
            potential[part], E[part] = one, other
        return potential, E

    def _step(self, which: Index) -> None:
        ahead = np.array([self.levels[k][self.level[k]] for k in which])
        before = np.array([self.levels[k][self.level[k] - 1] if self.level[k] else 0.0 for k in which])
        margin = LAST ** (1.0 + self.tries[which]) * (ahead - before)
        stop = ahead - margin
        left = np.maximum(stop - self.u[which], 1e-3 * margin)
        h = np.minimum(self.h[which], left)
        h = np.where((left > h) & (left < 1.5 * h), left / 2, h)
        w, error, potential, E = self._stages(which, h)
        u = self.sign[which] * (self.start[which] - potential)
        # at a surface the potential is right within the residual only: there the clock stays as it was set
        wanted = self.u[which] + h
        u = np.where(np.abs(u - wanted) <= self.slack[which], wanted, u)
        off = np.abs(u - wanted) / wanted
        scale = self.reach[which] + np.abs(w - self.begun[which])
        with np.errstate(all="ignore"):
            ratio = np.maximum(error / scale, off) / self.accuracy.error
            ratio = np.where(np.isfinite(ratio), ratio, 1e6)
        factor = np.clip(0.9 * np.maximum(ratio, 1e-12) ** -0.2, 0.2, 4.0)
        good = (ratio <= 1) & (u > self.u[which]) & (u < ahead)
        self.h[which] = np.minimum(h * factor, self.accuracy.longest * self.whole[which])
        self.open[which[self.h[which] < NEVER_BELOW * self.whole[which]]] = False
        done = which[good]
        self.w[done], self.u[done], self.E[done] = w[good], u[good], E[good]
        self._keep(done)
        # far beyond the drawing and faded: what comes there has no part in a discharge
        gone = np.abs(w[good] - self.begun[done]) > BEYOND * self.size[done]
        gone &= np.abs(E[good]) < FADED * np.abs(self.first[done])
        self.open[done[gone]] = False
        near = good & (u >= stop - 0.1 * margin)
        if near.any():
            self._arrive(which[near], ahead[near])

    def _stages(self, which: Index, h: Floats) -> tuple[Points, Floats, Floats, Points]:
        """Return the place after a step, its error, and potential and field there; NaN where a stage met no field."""
        sign, w, parts = self.sign[which], self.w[which], self._parts(which)
        potential, E, place = np.empty(0), self.E[which], w
        slopes = np.empty((len(A) + 1, w.size), dtype=np.complex128)
        with np.errstate(all="ignore"):
            slopes[0] = sign / np.conj(E)
            for stage, row in enumerate(A, 1):
                place = w + h * (row @ slopes[:stage])
                potential, E = self._at(parts, place)
                slopes[stage] = sign / np.conj(E)
            return place, np.abs(w + h * (B_LOW @ slopes) - place), potential, E

    def _fill(self) -> None:
        """Keep places between those of long steps, on the cubic through both ends; their potential says when."""
        rows, places, most = [], [], self.accuracy.apart
        for k, (line, slopes) in enumerate(zip(self.lines, self.slopes, strict=True)):
            for step in range(len(slopes) - 1):
                h = line.drop[step + 1] - line.drop[step]
                count = math.ceil(h / (most * self.whole[k]) - ROUNDING)
                a, b, one, other = line.places[step], line.places[step + 1], slopes[step], slopes[step + 1]
                for share in (part / count for part in range(1, count)):
                    rest = 1 - share
                    way = rest * rest * ((1 + 2 * share) * a + share * h * one)
                    places.append(way + share * share * ((1 + 2 * rest) * b - rest * h * other))
                    rows.append((k, step))
        if not rows:
            return
        lines = np.array([k for k, _ in rows])
        with np.errstate(all="ignore"):
            potential, E = self._at(self._parts(lines), np.array(places))
        u = self.sign[lines] * (self.start[lines] - potential)
        for place, (k, step), drop, strength in reversed(
            list(zip(places, rows, u.tolist(), np.abs(E).tolist(), strict=True))
        ):
            line = self.lines[k]
            if line.drop[step] < drop < line.drop[step + 1] and math.isfinite(strength):
                line.places.insert(step + 1, place)
                line.drop.insert(step + 1, drop)
                line.strength.insert(step + 1, strength)

    def _arrive(self, which: Index, level: Floats) -> None:
        """End the lines that have come to a conductor, go nearer where it is still far, let others pass its level."""
        for k, drop in zip(which, level, strict=True):
            field = self.fields[self.of[k]]
            way = (drop - self.u[k]) / abs(self.E[k])
            value = self.start[k] - self.sign[k] * drop
            close = 1e-6 * self.whole[k]
            found = self._nearest(field, complex(self.w[k]), np.abs(field.potentials - value) < close)
            if field.boundary.plane and abs(value) < close and self.w[k].imag < found[0]:
                found = (float(self.w[k].imag), PLANE, complex(self.w[k].real), -1, 0.0)
            near = found[0] <= ARRIVED * way
            if near and (found[0] < NEAR * abs(self.w[k] - self.begun[k]) or self.tries[k] == MOST_TRIES):
                self._end(k, drop, found)
            elif self.tries[k] < MOST_TRIES and (near or self.level[k] + 1 == self.levels[k].size):
                self.tries[k] += 1
            elif self.level[k] + 1 < self.levels[k].size:
                self.level[k] += 1
                self.tries[k] = 0
            else:
                self.open[k] = False

    @staticmethod
    def _nearest(field: PotentialField, place: complex, conductors: Mask) -> tuple[float, int, complex, int, float]:
        panels = field.boundary.panels
        wanted = conductors[panels.owner]
        if not wanted.any():
            return np.inf, AWAY, place, -1, 0.0
        away, panel, t = panels.nearest(np.array([place]), wanted)
        end = complex(panels.at(panel, t)[0])
        return float(away[0]), int(panels.owner[panel[0]]), end, int(panel[0]), float(t[0])

    def _end(self, k: int, drop: float, found: tuple[float, int, complex, int, float]) -> None:
        away, conductor, place, panel, t = found
        line, field = self.lines[k], self.fields[self.of[k]]
        if conductor == PLANE:
            strength = abs(field.at(np.array([place]))[1][0])
        else:
            strength = abs(float(field.surface(np.array([panel]), np.array([t]))[0]))
        # a sheet's density is that of both sides, and a corner's has no end: the field goes on as it came
        here = abs(self.E[k])
        if not 0.5 * here < strength < 2 * here:
            strength = here
        line.places.append(place)
        line.drop.append(float(drop))
        line.strength.append(float(strength))
        line.end = conductor
        mean = (here + strength) / 2
        line.miss = abs((drop - self.u[k]) / mean - away) / max(abs(place - self.begun[k]), 1e-300)
        self.open[k] = False


def surface_samples(solved: PotentialField, solid: Mask, count: int = 9) -> tuple[Index, Floats, Floats]:
    """Return panels, parameters and densities evenly on the drawn surfaces of solid conductors.

    Parameters
    ----------
    solved : PotentialField
    solid : ndarray of bool
        Conductors that bound metal.
    count : int
        Places a panel, inside of it.

    Returns
    -------
    tuple of ndarray
        Panel, parameter and density [V/m], one-dimensional.
    """
    panels = solved.boundary.panels
    drawn = np.flatnonzero(solid[panels.owner] & ~np.array([piece.far for piece in panels.pieces]))
    panel = np.repeat(drawn, count)
    t = np.tile((2 * np.arange(count) + 1) / count - 1, drawn.size)
    return panel, t, solved.surface(panel, t)


def joined(lines: Sequence[FieldLine]) -> tuple[Floats, Floats]:
    """Return field and length of small steps of lines as arrays, ``(lines, steps)``, filled with zero length.

    Parameters
    ----------
    lines : sequence of FieldLine
        At least one.

    Returns
    -------
    tuple of ndarray
        Field [V/m] and length [m].
    """
    parts = _sampled(lines, 12)
    most = max(strength.size for strength, _ in parts)
    strength, length = np.ones((len(parts), most)) * 1e-300, np.zeros((len(parts), most))
    for row, (one, step) in enumerate(parts):
        strength[row, : one.size], length[row, : one.size] = one, step
    return strength, length


def _sampled(lines: Sequence[FieldLine], count: int) -> list[tuple[Floats, Floats]]:
    """Return field and length of small steps along each of some lines."""
    x, w = gauss(count)
    logarithm = _interpolated(lines, x)
    # near a saddle of the potential nodes crowd and a spline may swing: it is held to what its nodes say
    known = [np.log(line.strength) for line in lines]
    low = np.concatenate([np.minimum(one[:-1], one[1:]) for one in known]) - SWING
    high = np.concatenate([np.maximum(one[:-1], one[1:]) for one in known]) + SWING
    strength = np.exp(np.clip(logarithm, low[:, None], high[:, None]))
    length = np.concatenate([np.diff(line.drop) for line in lines])[:, None] / 2 * w / strength
    ends = np.cumsum([len(line.drop) - 1 for line in lines])[:-1]
    return [
        (one.ravel(), step.ravel()) for one, step in zip(np.split(strength, ends), np.split(length, ends), strict=True)
    ]


def _interpolated(lines: Sequence[FieldLine], x: Floats) -> Floats:
    """Return the logarithm of the field by cubic splines over the potential, at places of each step from -1 to 1."""
    s = (x + 1) / 2
    shapes = np.stack([(1 + 2 * s) * (1 - s) ** 2, s * (1 - s) ** 2, s * s * (3 - 2 * s), s * s * (s - 1)])
    rows = []
    for line in lines:
        step, value = np.diff(line.drop), np.log(line.strength)
        slope = np.array(_slopes(step.tolist(), value.tolist()))
        rows.append(np.stack([value[:-1], step * slope[:-1], value[1:], step * slope[1:]], axis=1))
    return np.asarray(np.concatenate(rows) @ shapes)


def _slopes(step: list[float], value: list[float]) -> list[float]:
    """Return the slopes of the cubic spline through four values or more, whose outer two steps are one cubic each.

    In plain numbers: of a few tens of values a banded solver of a library is ten times the cost.
    """
    rise = [(after - before) / h for before, after, h in zip(value, value[1:], step, strict=False)]
    last = len(step)
    first, final = step[0] + step[1], step[-1] + step[-2]
    diagonal, above = [step[1]], [first]
    right = [((step[0] + 2 * first) * step[1] * rise[0] + step[0] ** 2 * rise[1]) / first]
    for k in range(1, last):
        share = step[k] / diagonal[-1]
        diagonal.append(2 * (step[k - 1] + step[k]) - share * above[-1])
        right.append(3 * (step[k] * rise[k - 1] + step[k - 1] * rise[k]) - share * right[-1])
        above.append(step[k - 1])
    share = final / diagonal[-1]
    end = (step[-1] ** 2 * rise[-2] + (2 * final + step[-1]) * step[-2] * rise[-1]) / final
    found = [(end - share * right[-1]) / (step[-2] - share * above[-1])]
    for k in range(last - 1, -1, -1):
        found.append((right[k] - above[k] * found[-1]) / diagonal[k])
    return found[::-1]
