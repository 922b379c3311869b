"""A profile solved: field, critical line, how well both are known, and how far a move makes its gap hold a voltage."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any, Generic, TypeVar

import numpy as np

from service.bench.profile_body import Body, place_in_words
from service.errors import BadQuestion, OutsideValidity
from service.physics.boundary import Boundary, PotentialField, Solution
from service.physics.conductors import REACH, SMOOTH
from service.physics.contours import Contour, Piece, angle_between, nearest_places
from service.physics.critical_line import CriticalLine, LineSearch, Start, against, critical_line, line_inception
from service.physics.field_lines import AWAY, COARSE, PLANE, FieldLine, joined, trace_each
from service.physics.ionization import IonizationFit
from service.physics.panels import CHECK_ORDER, MOST_UNKNOWNS, ORDER, Panels, TooManyUnknowns, divided
from service.spoken import between, said
from service.turns import Turns
from service.units import ROUNDING, Quantity

REFUSED, TOLD = 0.01, 0.003
"""Estimate of a relative error from which a profile is refused, and from which it is said."""
LEAST = 1e-4
"""Least error of a field that is stated: below it two resolutions may agree by chance."""
NEARER = 25.0
"""How far what goes on goes on in the check of it, over the size of the drawing."""
EDGES = (0.5, 2.0)
"""Factors of the edge radii whose effect is told."""
SHORTEST, LONGEST = 1e-5, 2.0
"""Gaps that are answered [m]."""
MOST_SLENDER = 1e5
"""Largest length of the drawing over its smallest radius."""
PROFILES = Turns("profiles", at_work=os.cpu_count() or 1, waiting=6, patience=5.0)


@dataclass(frozen=True, eq=False)
class Shortest:
    """The shortest distance of two conductors.

    Parameters
    ----------
    value : float
        [m].
    start, end : complex
        The places [m].
    between : tuple of int
        Conductors, `PLANE` for the plane.
    """

    value: float
    start: complex
    end: complex
    between: tuple[int, int]


T = TypeVar("T")


class Once(Generic[T]):
    """A property that is computed once for all questions about a drawing in the same air."""

    def __init__(self, compute: Callable[[Any], T]) -> None:
        self.compute, self.__doc__ = compute, compute.__doc__

    def __get__(self, solved: Solved, owner: object = None) -> T:
        """Return what is known, or else compute it."""
        name = self.compute.__name__
        if name not in solved.known:
            solved.known[name] = self.compute(solved)
        found: T = solved.known[name]
        return found


@dataclass(frozen=True, eq=False)
class Fields:
    """Conductors and fields of a drawing, which are the same in every air and at every voltage.

    Parameters
    ----------
    coarse, fine : PotentialField
        One volt between the extremes.
    """

    contours: list[Contour]
    solution: Solution
    coarse: PotentialField
    fine: PotentialField
    body: Body

    @cached_property
    def nearer(self) -> PotentialField | None:
        """The field where what goes on goes on a quarter as far; none where nothing does."""
        if not any(one.goes_on for one in self.body.drawing.outlines):
            return None
        return solved_field(self.body, NEARER, CHECK_ORDER)[1]

    @cached_property
    def edges(self) -> dict[float, tuple[list[Contour], PotentialField]]:
        """Conductors and field with all edge radii changed, by the factor; none where there are none or none fit."""
        fields: dict[float, tuple[list[Contour], PotentialField]] = {}
        if any(_has_edges(one.outline.edge_radius, self.body, k) for k, one in enumerate(self.body.electrodes)):
            for factor in EDGES:
                with suppress(OutsideValidity, TooManyUnknowns, ValueError):
                    fields[factor] = solved_field(self.body.with_edges(factor), REACH, CHECK_ORDER)
        return fields


@dataclass(frozen=True, eq=False)
class Solved:
    """A profile solved.

    Parameters
    ----------
    pressure : float
        Reduced pressure [Pa].
    fit : IonizationFit
        By which the critical line was found.
    known : dict
        What follows for the drawing in this air, whoever asks.
    """

    body: Body
    fields: Fields
    found: CriticalLine
    pressure: float
    fit: IonizationFit
    known: dict[str, Any] = field(default_factory=dict)

    @property
    def contours(self) -> list[Contour]:
        """The complete conductors."""
        return self.fields.contours

    @property
    def fine(self) -> PotentialField:
        """The field, one volt between the extremes."""
        return self.fields.fine

    @property
    def line(self) -> FieldLine:
        """The critical line."""
        return self.found.best.line

    @Once
    def shortest(self) -> Shortest:
        """Shortest distance of the two conductors between which the mean field is highest.

        What holds for gaps of any shape is to hold for every pair, so that it is asked of this one.
        """
        pairs = [
            (one, other)
            for one in range(len(self.contours))
            for other in [*range(one + 1, len(self.contours)), *([PLANE] if self.body.drawing.plane else [])]
            if abs(self.potential(one) - self.potential(other)) > ROUNDING
        ]
        if not pairs:
            return Shortest(np.inf, 0j, 0j, (self.line.owner, AWAY))
        return min((self._between(*pair) for pair in pairs), key=lambda one: one.value / self._share(one))

    def potential(self, conductor: int) -> float:
        """Return the potential of a conductor, or of what is not one."""
        if conductor == PLANE:
            return 0.0
        return float(self.fine.constant if conductor == AWAY else self.fine.potentials[conductor])

    def _between(self, one: int, other: int) -> Shortest:
        first = self.contours[one].near
        if other == PLANE:
            places = np.concatenate([piece.at(np.linspace(0, 1, 65)) for piece in first])
            lowest = complex(places[np.argmin(places.imag)])
            return Shortest(lowest.imag, lowest, complex(lowest.real, 0.0), (one, other))
        value, start, end = nearest_places(first, self.contours[other].pieces)
        return Shortest(value, start, end, (one, other))

    @property
    def share(self) -> float:
        """Part of the voltage that lies between the conductors of the shortest distance."""
        return self._share(self.shortest)

    def _share(self, distance: Shortest) -> float:
        one, other = distance.between
        return abs(self.potential(one) - self.potential(other))

    @Once
    def highest(self) -> float:
        """Highest field at a drawn surface per volt [1/m]."""
        panels = self.fine.boundary.panels
        solid = np.array([one.solid for one in self.contours])
        drawn = np.flatnonzero(solid[panels.owner] & ~np.array([piece.far for piece in panels.pieces]))
        t = np.linspace(-0.999, 0.999, 33)
        found = self.fine.surface(np.repeat(drawn, t.size), np.tile(t, drawn.size))
        return float(np.max(np.abs(found)))

    @property
    def radius(self) -> float:
        """Radius of the surface where the critical line starts [m]; the gap where it is flat."""
        piece = self.fine.boundary.panels.pieces[self.line.panel]
        own = piece.radius if piece.turn > 0 else np.inf
        start = self.line.places[0]
        around = abs(start.real / _outwards(piece, self.line.t)) if self.body.drawing.axis else np.inf
        return float(min(own, around if around > 0 else np.inf, self.shortest.value))

    @Once
    def continuation(self) -> float:
        """Relative change of the voltage when what goes on goes on a quarter as far; zero where nothing does."""
        other = self.fields.nearer
        return 0.0 if other is None else abs(_on_line(other, self) / self.found.best.voltage - 1)

    @Once
    def with_edges(self) -> dict[float, float]:
        """Voltages with all edge radii changed [V], by the factor; none where they do not fit or there are none."""
        if not self.fields.edges:
            return {}
        fields = {1.0: (self.contours, self.fields.coarse), **self.fields.edges}
        volts = dict(zip(fields, _near(list(fields.values()), self), strict=True))
        return {
            factor: self.found.best.voltage * volts[factor] / volts[1.0]
            for factor in self.fields.edges
            if np.isfinite(volts[factor] / volts[1.0])
        }


def _outwards(piece: Piece, t: float) -> float:
    """Return the radial part of the normal of a piece at a parameter, of modulus at most one; never quite zero."""
    return float((-1j * piece.tangent((t + 1) / 2)).real) or 1e-12


def _has_edges(radius: float, body: Body, index: int) -> bool:
    pieces = body.electrodes[index].outline.pieces
    around = [*pieces, *(pieces[:1] if pieces[0].start == pieces[-1].end else ())]
    return radius > 0 and any(abs(angle_between(*pair)) > SMOOTH for pair in pairwise(around))


def solved_field(body: Body, reach: float, order: int) -> tuple[list[Contour], PotentialField]:
    """Return conductors and field by so many nodes a panel.

    Parameters
    ----------
    reach : float
        How far what goes on goes on, over the size of the drawing.
    """
    contours = body.contours(reach)
    panels = divided(contours, plane=body.drawing.plane, extent=body.drawing.extent)
    return contours, _solution(body, panels, order)[1]


def _solution(body: Body, panels: Panels, order: int) -> tuple[Solution, PotentialField]:
    """Return the charges by so many nodes a panel, and the field of the potentials of a drawing.

    Raises
    ------
    OutsideValidity
        When they cannot be told from each other: the equations are singular.
    """
    boundary = Boundary(panels, body.drawing.axis, body.drawing.plane, body.neutral, order)
    try:
        solution = boundary.solve()
        return solution, solution.field(body.potentials)
    except np.linalg.LinAlgError as error:
        detail = (
            "The charges on these electrodes cannot be computed: their equations have no single solution. Keep parts "
            "that nearly touch farther apart, and leave out details that are very small."
        )
        raise OutsideValidity.about("electrodes", detail) from error


def fields_of(body: Body) -> Fields:
    """Return the fields of a drawing.

    Raises
    ------
    BadQuestion
        When conductors touch, cross, or a radius does not fit.
    OutsideValidity
        When sizes or unknowns lie beyond what is answered, or the equations are singular.
    """
    contours = body.contours(REACH)
    _check_sizes(body, contours)
    try:
        panels = divided(contours, plane=body.drawing.plane, extent=body.drawing.extent)
    except TooManyUnknowns as error:
        detail = (
            f"More than {MOST_UNKNOWNS} unknowns would be needed; the smallest panels lie at "
            f"{place_in_words(error.place)}: a very small radius or distance there asks for them."
        )
        raise OutsideValidity.about("electrodes", detail) from error
    coarse = _solution(body, panels, CHECK_ORDER)[1]
    solution, fine = _solution(body, panels, ORDER)
    return Fields(contours, solution, coarse, fine, body)


def solve(body: Body, pressure: float, fit: IonizationFit, fields: Fields | None = None) -> Solved:
    """Return a profile solved.

    Parameters
    ----------
    pressure : float
        Reduced pressure [Pa].
    fields : Fields, optional
        Those of the drawing where they are known.

    Raises
    ------
    BadQuestion
        When conductors touch, cross, or a radius does not fit.
    OutsideValidity
        When sizes, unknowns or the estimates of the errors lie beyond what is answered.
    """
    fields = fields or fields_of(body)
    solid = np.array([one.solid for one in fields.contours])
    found = critical_line(fields.coarse, fields.fine, solid, pressure, fit)
    if found is None:
        detail = (
            "No line of force from a solid electrode can be followed: draw one as a closed outline, or one that ends "
            "on the axis, and round a point on the axis."
        )
        raise OutsideValidity.about("electrodes", detail)
    solved = Solved(body, fields, found, pressure, fit)
    _check(solved)
    return solved


def _check_sizes(body: Body, contours: Sequence[Contour]) -> None:
    for index, contour in enumerate(contours):
        radii = [piece for piece in contour.near if piece.turn]
        smallest = min(radii, key=lambda piece: piece.radius, default=None)
        if smallest is not None and body.drawing.extent > MOST_SLENDER * smallest.radius:
            place = place_in_words(smallest.start)
            detail = f"The drawing is more than {MOST_SLENDER:g} times as large as the radius at {place}."
            raise OutsideValidity.about(body.electrodes[index].part(smallest.source), detail)


def _check(solved: Solved) -> None:
    start = solved.line.places[0]
    electrode = solved.body.electrodes[solved.line.owner]
    contour = solved.contours[solved.line.owner]
    places = contour.places
    for index, kind in contour.corners.items():
        near = abs(places[index] - start) < 0.05 * min(
            piece.length for piece in (contour.pieces[index - 1], contour.pieces[index % len(contour.pieces)])
        )
        if kind == "sharp" and near:
            detail = f"A radius is needed at the edge {place_in_words(places[index])}: the critical line starts there."
            raise OutsideValidity.about(f"{electrode.where}edge_radius", detail)
    _check_sheets(solved)
    value = solved.shortest.value
    if not np.isfinite(value):
        detail = "Nothing is drawn that this electrode could break down to: draw the other one, or plane=earthed."
        raise OutsideValidity.about("electrodes", detail)
    if not SHORTEST * (1 - ROUNDING) <= value <= LONGEST:
        answered = between(SHORTEST, LONGEST, "length")
        detail = f"The shortest distance is {said(value, 'length', unit='mm')}; {answered} are answered."
        raise OutsideValidity.about("electrodes", detail)
    errors = numerical_errors(solved)
    worst = max(errors, key=lambda name: errors[name])
    if errors[worst] > REFUSED:
        detail = (
            f"The error of the {worst} is estimated at {100 * errors[worst]:.2g} %, above {100 * REFUSED:g} %: round "
            "sharp edges, or keep very different sizes apart."
        )
        raise OutsideValidity.about("electrodes", detail)


def _check_sheets(solved: Solved) -> None:
    """Refuse a drawing whose free edges of sheets would start first: their field has no end."""
    panels, field = solved.fine.boundary.panels, solved.fine
    for index, contour in enumerate(solved.contours):
        for corner, kind in contour.corners.items():
            piece = contour.pieces[0] if corner == 0 else contour.pieces[-1]
            if kind != "edge" or piece.far:
                continue
            place = piece.start if corner == 0 else piece.end
            own = np.flatnonzero(panels.owner == index)
            which = own[0] if corner == 0 else own[-1]
            t = np.array([0.0])
            away = abs(complex(panels.at(np.array([which]), t)[0]) - place)
            behind = abs(float(field.surface(np.array([which]), t)[0]))
            edge = max(solved.body.electrodes[index].outline.edge_radius, 1e-4)
            # the density of both sides falls with the root of the distance; a rounded edge has the field at half its
            # radius ahead of a thin one
            at_edge = 0.5 * behind * np.sqrt(away / (edge / 2))
            if at_edge * solved.found.best.voltage > float(solved.fit.threshold) * solved.pressure:
                electrode = solved.body.electrodes[index]
                detail = (
                    f"The free edge of the sheet at {place_in_words(place)} stands in the field and would start first: "
                    "draw its thickness and the radius of its edge."
                )
                raise OutsideValidity.about(electrode.part(piece.source), detail)


def numerical_errors(solved: Solved) -> dict[str, float]:
    """Return the estimates of relative errors: twice what two resolutions differ by, and the residual."""
    found = solved.found
    return {
        "field on the critical line": max(2 * found.field_error, LEAST),
        "inception voltage": 2 * found.voltage_error + found.line_error / 2,
        "potential": solved.fine.residual,
    }


def _on_line(field: PotentialField, solved: Solved) -> float:
    """Return the voltage on the critical line with the strength of another field [V]."""
    _, change = against(field, solved.found.best, solved.pressure, solved.fit)
    base = against(solved.fields.coarse, solved.found.best, solved.pressure, solved.fit)[1]
    return solved.found.best.voltage * (1 + max(change - base, 0.0))


def _near(fields: Sequence[tuple[list[Contour], PotentialField]], solved: Solved) -> list[float]:
    """Return the lowest voltage of lines from near the critical start in each of some fields, coarsely traced [V]."""
    asked = []
    for contours, one in fields:
        search = LineSearch(one, one, np.array([each.solid for each in contours]), solved.pressure, solved.fit)
        panels = one.boundary.panels
        _, panel, t = panels.nearest(np.array([solved.line.places[0]]), panels.owner == solved.line.owner)
        middle = _sample(search, int(panel[0]), float(t[0]))
        own = np.flatnonzero(search.conductor == solved.line.owner)
        places = np.clip(middle + np.arange(-14, 15, 4), own[0], own[-1])
        places = np.unique([*places, own[np.argmax(search.strength[own])]])
        asked.append((one, search.panel[places], search.t[places]))
    traced = [[line for line in lines if len(line.drop) > 3] for lines in trace_each(asked, COARSE)]
    return [
        float(line_inception(*joined(lines), solved.pressure, solved.fit).min()) if lines else np.nan
        for lines in traced
    ]


def _sample(search: LineSearch, panel: int, t: float) -> int:
    here = np.flatnonzero(search.panel == panel)
    if not here.size:
        return int(np.argmin(np.abs(search.panel - panel)))
    return int(here[np.argmin(np.abs(search.t[here] - t))])


def lowest(solved: Solved, fit: IonizationFit) -> float:
    """Return the voltage by another fit: on the critical line, or on a competing one where that is lower [V]."""
    starts: list[Start] = [solved.found.best, *solved.found.others]
    return float(line_inception(*joined([one.line for one in starts]), solved.pressure, fit).min())


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
    by : float
        [m], in that direction.
    """

    body: Body
    name: str
    direction: str
    by: float
    solves: int

    def block(self) -> dict[str, object]:
        """Return what was moved, for the answer."""
        return {
            "electrode": self.name,
            "direction": self.direction,
            "distance": Quantity(self.by, "length"),
            "solves": self.solves,
        }


def moved(body: Body, index: int, direction: str, wanted: float, held: Held) -> Moved:
    """Return the drawing in which an electrode stands just so far that the gap holds a voltage.

    Parameters
    ----------
    index : int
        Of the electrode.
    direction : str
        Where a larger distance lies.
    wanted : float
        [V peak].

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
    detail = f"Moving {name} {direction} does not lead to a gap that just holds this voltage."
    return OutsideValidity.about(("move", "direction"), detail)
