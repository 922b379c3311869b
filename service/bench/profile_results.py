"""What a solved profile says: results in answer units, and the section of its conductors, cropped to the gap."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from service.answers.figure import Section
from service.answers.results import Point
from service.bench.profile_field import EDGES, TOLD, Solved, lowest, numerical_errors
from service.methods import Arrangement, Case, Estimate, Method
from service.methods.case import AIR
from service.methods.criterion import criterion_methods
from service.methods.laws import ionization_fits
from service.methods.shapes import LineElectrode, Lines, Radius
from service.physics.contours import Piece, inside
from service.physics.field_lines import AWAY, PLANE, FieldLine, joined
from service.physics.rings import Points
from service.reference import Reference
from service.units import ROUNDING, Quantity, Series

ALWAYS = (
    "Solids are not drawn: an insulator in or near the gap lowers the voltage, by half and more at metal.",
    "What is not drawn is far away; a burr sharper than the edge radius starts earlier.",
)
REVOLUTION = "Every outline is a body of revolution about the axis: real corners of a hexagon start somewhat lower."
SECTION = "Every outline goes on without end across the section: real ends and corners start somewhat lower."
HOLLOW = "The outline of {} lies around another electrode and is taken as the surface of a hollow, the metal outside."
NOTHING_EARTHED = (
    "Nothing earthed is drawn near: what lies beyond the drawing, and how far leads go on, moves the voltage by "
    "several percent."
)
COMPETING = "Another place starts within 5 % of the critical one: look at competing_paths before changing the shape."


def error_of(solved: Solved, reference: Reference) -> float:
    """Return how far the voltages of a drawing may be off, relative: by its numbers, and by the fit of the gas."""
    return math.hypot(_spread(solved, reference), 2 * numerical_errors(solved)["inception voltage"])


def arrangement(solved: Solved, reference: Reference, error: float) -> Arrangement:
    """Return a solved profile as an arrangement: the lines found stand for the law of its field.

    Parameters
    ----------
    error : float
        As `error_of` returns it.
    """
    starts = [solved.found.best, *solved.found.others]
    share = solved.share or 1.0
    strength, length = joined([one.line for one in starts])
    lines = Lines(strength[None] / share, length[None], np.array([solved.highest / share]))
    electrode = LineElectrode.of(
        lambda case: lines, Radius("electrodes", lambda case: np.full(case.size, solved.radius)), "electrodes as drawn"
    )
    methods = tuple(_told(method, share, error) for method in criterion_methods(reference, electrode))
    return Arrangement(
        "profile",
        "Electrodes as drawn",
        "Electrodes of any shape, drawn as bodies of revolution or as a section.",
        methods,
        gap_by="electrodes",
    )


def _spread(solved: Solved, reference: Reference) -> float:
    """Return by how much the fits of air differ on this drawing, relative; nothing in other gases."""
    if solved.body.question.key("gas") != AIR:
        return 0.0
    volts = [lowest(solved, fit) for fit in ionization_fits(reference).values()]
    return max(abs(one / volts[0] - 1) for one in volts)


def _told(method: Method, share: float, extra: float) -> Method:
    """Return a method whose voltages lie between the extremes of the drawing, its band widened in quadrature."""
    function: Callable[[Case], Estimate] = method.function
    widened = method.by_criterion

    def told(case: Case) -> Estimate:
        found = function(case)
        if widened:
            found = widened_by(found, extra)
        inception = None if found.inception is None else found.inception / share
        return replace(
            found, value=found.value / share, low=found.low / share, high=found.high / share, inception=inception
        )

    return replace(method, function=told)


def widened_by(found: Estimate, extra: float) -> Estimate:
    """Return an estimate with the ends of its band further off by a relative error, in quadrature."""
    inception = found.value if found.inception is None else found.inception
    middle = np.where(np.isfinite(found.value), found.value, inception)
    below = 1 - found.low / middle
    low = np.where(below > 0, middle * np.maximum(1 - np.hypot(below, extra), 0.0), found.low)
    above = found.high / found.value - 1
    high = np.where(np.isfinite(found.value), found.value * (1 + np.hypot(above, extra)), found.high)
    return replace(found, low=low, high=high)


def conductor_name(solved: Solved, conductor: int) -> str:
    """Return the name of a conductor, or of what is not one."""
    if conductor == PLANE:
        return "plane"
    return "surroundings" if conductor == AWAY else solved.body.electrodes[conductor].name


def place(where: complex) -> list[Quantity]:
    """Return a place as two quantities."""
    return [Quantity(float(one), "length") for one in (where.real, where.imag)]


def distance_blocks(solved: Solved) -> dict[str, object]:
    """Return the highest field and the shortest distance, which are the same in every gas."""
    shortest = solved.shortest
    return {
        "highest_field_per_kilovolt": Quantity(1e3 * solved.highest, "field"),
        "shortest_distance": {
            **Quantity(shortest.value, "length").block(),
            "from": place(shortest.start),
            "to": place(shortest.end),
            "between": [conductor_name(solved, one) for one in shortest.between],
        },
    }


def field_blocks(solved: Solved, inception: float) -> dict[str, object]:
    """Return the results of the field: distances, lines and strengths; fields at the inception voltage.

    Parameters
    ----------
    inception : float
        [V].
    """
    blocks = distance_blocks(solved)
    blocks["critical_path"] = {
        **path_block(solved, solved.line),
        "along": _along(solved.line, inception),
    }
    others = [
        {
            "inception_voltage": Quantity(inception * one.voltage / solved.found.best.voltage, "voltage"),
            **path_block(solved, one.line),
        }
        for one in solved.found.others
    ]
    if others:
        blocks["competing_paths"] = others
    return blocks


def path_block(solved: Solved, line: FieldLine) -> dict[str, object]:
    """Return ends and length of a line of force."""
    return {
        "between": [conductor_name(solved, line.owner), conductor_name(solved, line.end)],
        "start": place(line.places[0]),
        "end": place(line.places[-1]),
        "length": Quantity(line.length, "length"),
    }


def _along(line: FieldLine, inception: float) -> dict[str, object]:
    distance, strength, places = sampled(line)
    return {
        "distance": _series(distance, "length"),
        "field": _series(inception * strength, "field"),
        "across": _series(places.real, "length"),
        "height": _series(places.imag, "length"),
    }


def sampled(line: FieldLine) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return distance [m], field per volt [1/m] and places at the steps of a line."""
    strength, weight = line.between(6)
    steps = (weight / strength).sum(axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)]), np.asarray(line.strength), np.asarray(line.places)


def _series(values: np.ndarray, dimension: str) -> Series:
    return Series([float(f"{one:.6g}") for one in values], dimension)


def edge_block(solved: Solved, inception: float) -> dict[str, object]:
    """Return the inception voltage at half and at twice the edge radius; empty where there is none."""
    scale = inception / solved.found.best.voltage
    names = dict(zip(EDGES, ("half", "double"), strict=True))
    block = {names[factor]: Quantity(scale * volts, "voltage") for factor, volts in solved.with_edges.items()}
    return {"edge_radius_effect": block} if block else {}


def capacitance_blocks(solved: Solved) -> dict[str, object]:
    """Return the capacitances between the electrodes, and from each to earth; in a section per metre."""
    from scipy.constants import epsilon_0  # loaded where it is needed

    charges = epsilon_0 * solved.fields.solution.charges
    names = [one.name for one in solved.body.electrodes]
    rows = [
        {"between": [names[i], names[j]], "capacitance": Quantity(float(-charges[i, j]), "capacitance")}
        for i in range(len(names))
        for j in range(i + 1, len(names))
        if charges[i, j] < 0
    ]
    if not solved.body.neutral:
        earth = "plane" if solved.body.drawing.plane else "surroundings"
        rows += [
            {"between": [names[i], earth], "capacitance": Quantity(float(charges[i].sum()), "capacitance")}
            for i in range(len(names))
            if charges[i].sum() > 1e-6 * charges[i, i]
        ]
    return {"capacitances": rows} if rows else {}


def numerics_block(solved: Solved) -> dict[str, object]:
    """Return how well the numbers are known, in percent; the physics of the criterion is another matter."""
    errors = numerical_errors(solved)
    return {
        "unknowns": int(solved.fine.boundary.nodes.size),
        "field_error_percent": _percent(errors["field on the critical line"]),
        "voltage_error_percent": _percent(errors["inception voltage"]),
        "potential_residual_percent": _percent(errors["potential"]),
        "continuation_percent": _percent(solved.continuation),
        "line_misses_percent": _percent(solved.line.miss),
    }


def _percent(fraction: float) -> float:
    return float(f"{100 * fraction:.2g}")


def outline_blocks(solved: Solved) -> list[dict[str, object]]:
    """Return the outlines after rounding, so that they can be drawn."""
    found = []
    for electrode, contour, potential in zip(
        solved.body.electrodes, solved.contours, solved.fine.potentials, strict=True
    ):
        places = outline(contour.near)
        found.append(
            {
                "name": electrode.name,
                "share": float(f"{potential:.6g}"),
                "across": _series(places.real, "length"),
                "height": _series(places.imag, "length"),
            }
        )
    return found


def outline(pieces: Sequence[Piece], step: float = 0.175) -> Points:
    """Return places along pieces, arcs in steps of at most an angle [rad]."""
    parts = [piece.at(np.linspace(0, 1, 2 + int(abs(piece.turn) / step))) for piece in pieces]
    joined_places = [parts[0], *(part[1:] for part in parts[1:])]
    return np.asarray(np.concatenate(joined_places), dtype=np.complex128)


def notes(solved: Solved) -> list[str]:
    """Return the sentences that belong to a profile."""
    said = list(ALWAYS)
    said.append(REVOLUTION if solved.body.drawing.axis else SECTION)
    said.extend(
        HOLLOW.format(electrode.name)
        for electrode, contour in zip(solved.body.electrodes, solved.contours, strict=True)
        if electrode.outline.hollow and not contour.solid and "edge" not in contour.corners.values()
    )
    if not solved.body.drawing.plane and not any(not one.solid for one in solved.contours):
        said.append(NOTHING_EARTHED)
    others = solved.found.others
    if others and others[0].voltage < 1.05 * solved.found.best.voltage:
        said.append(COMPETING)
    errors = numerical_errors(solved)
    for name, error in errors.items():
        if error > TOLD:
            said.append(f"The numerical error of the {name} may reach {100 * error:.2g} %; it is part of the band.")
    if solved.continuation > TOLD:
        said.append(
            f"How far conductors go on beyond the drawing moves the voltage by about {100 * solved.continuation:.2g} %."
        )
    if abs(solved.share - 1) > ROUNDING:
        said.append(
            f"Voltages are those between the extremes; between the conductors of the shortest distance lies "
            f"{100 * solved.share:.4g} % of it."
        )
    return said


def margin_block(point: Point, peak: float) -> dict[str, object]:
    """Return how the estimates lie to a voltage [V peak]; below one they lie under it."""
    block: dict[str, object] = {"voltage": Quantity(peak, "voltage")}
    for name, found in (("inception", point.inception_voltage), ("withstand", point.withstand_estimate)):
        value = None if found is None else found.value if found.low is None else found.low
        if value is not None:
            block[f"{name}_over_voltage"] = math.floor(1e3 * value / peak) / 1e3
    return {"margin": block}


AROUND = 0.75
"""Room around the critical line, over its extent."""
GRID = 56
FINE_STEP = 0.03
"""Step of arcs [rad]."""
LEVELS = 9


def section(solved: Solved) -> Section:
    """Return what is drawn of a profile, places in mm."""
    low, high = _window(solved)
    x, y = np.linspace(low.real, high.real, GRID), np.linspace(low.imag, high.imag, GRID)
    mirrored = solved.body.drawing.axis
    both = mirrored and low.real == -high.real
    # a window about the axis shows the same on both sides of it
    potential = _potentials(solved, np.abs(x[GRID // 2 :] if both else x) if mirrored else x, y)
    if both:
        potential = np.concatenate([potential[:, ::-1], potential], axis=1)
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
        potential,
        levels,
        np.asarray(solved.line.places, dtype=np.complex128) * np.complex128(1e3),
        dashed,
        mirrored,
        solved.body.drawing.plane or PLANE in shortest.between,
    )


def _potentials(solved: Solved, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return the potential at the places of a grid, ``(y, x)``; NaN where there is none."""
    places = (x[None, :] + 1j * y[:, None]).ravel()
    found, metal = np.full(places.size, np.nan), np.zeros(places.size, dtype=bool)
    plane = solved.body.drawing.plane
    found[plane & (places.imag <= 0)] = 0.0
    for index, contour in enumerate(solved.contours):
        if contour.solid:
            within = inside(contour.ring, places)
            found[within] = solved.fine.potentials[index]
            metal |= within
    free = ~metal & ~(plane & (places.imag <= 0))
    # what fewer nodes leave off cannot be seen
    found[free] = solved.fields.coarse.shown(places[free])
    return found.reshape(y.size, x.size)


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
