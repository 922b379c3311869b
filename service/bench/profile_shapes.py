"""Ready shapes of drawn electrodes: users know diameters and gaps, not coordinates."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sin, sqrt, tan

import numpy as np

from service.parameters import Parameter
from service.physics.conductors import Outline
from service.physics.contours import Piece
from service.reference import Reference

DEFAULT_EDGE = 1e-4
"""Radius of edges where none is given [m]: half and twice of it move inception by a few percent."""
CHAMFER = radians(30)
"""Chamfer of a hexagon head; its face is about 0.9 of the width across flats; common practice, no source."""
FACE = 0.9

ReadySizes = Mapping[str, float | str | complex]
"""SI sizes, keys, and places as ``r + i z`` or ``x + i y`` [m]."""


class Unfit(Exception):
    """Sizes of a shape that do not go together.

    Parameters
    ----------
    member : str
        The size at fault.
    detail : str
        One sentence that follows its name.
    """

    def __init__(self, member: str, detail: str) -> None:
        super().__init__(member, detail)
        self.member, self.detail = member, detail


@dataclass(frozen=True)
class Ready:
    """A ready shape.

    Parameters
    ----------
    sentence : str
        What it is on a bench.
    draw : callable
        From sizes to the outline.
    needed, others : tuple of str
        Sizes that are needed, and that may be given; keys of `SIZES` and `PLACES`.
    symmetries : tuple of str
        ``axis``, ``section``.
    edges : bool
        Whether it has edges, so that `edge_radius` applies.
    """

    key: str
    title: str
    sentence: str
    draw: Callable[[ReadySizes, Reference], Outline]
    needed: tuple[str, ...]
    others: tuple[str, ...] = ()
    symmetries: tuple[str, ...] = ("axis",)
    edges: bool = False

    @property
    def sizes(self) -> tuple[str, ...]:
        """Everything that may be given with it."""
        return (*self.needed, *self.others, *(("edge_radius",) if self.edges else ()))


def _coordinate(name: str, meaning: str) -> Parameter:
    return Parameter(name, "coordinate", meaning, low=-100.0, high=100.0)


SIZES: tuple[Parameter, ...] = (
    Parameter("diameter", "length", "Diameter.", high=100.0, example="20mm"),
    Parameter("inside_diameter", "length", "Inside diameter of a tube.", high=100.0, example="40mm"),
    Parameter("shank", "length", "Diameter of the shank of a ball; without it the ball is free.", high=100.0),
    _coordinate("tip", "Height of the end that faces the gap, on the axis."),
    Parameter("towards", "choice", "Where it goes on from there.", choices=("up", "down", "left", "right")),
    Parameter("end", "choice", "End of a rod.", choices=("round", "flat", "cone")),
    Parameter("tip_radius", "length", "Radius of the tip of a cone; there is no default, it decides.", high=10.0),
    Parameter("half_angle", "angle", "Half of the angle of a cone.", low=radians(2), high=radians(85), example="15deg"),
    _coordinate("face", "Height of the outer face of a head."),
    Parameter("size", "text", "Thread of a hexagon head.", example="M6"),
    Parameter("width", "length", "Width of a bar, across.", high=100.0, example="30mm"),
    Parameter("thickness", "length", "Thickness of a bar or plate, in height.", high=100.0, example="5mm"),
)
PLACES: Mapping[str, str] = {
    "at": "Middle: of a wire, of a bar, of the tube of a ring.",
    "from": "Middle of the edge of a plate, from which it goes on; first end of a sheet.",
    "to": "Last end of a sheet.",
}
"""Sizes that are places, two coordinates each."""


def _number(sizes: ReadySizes, name: str) -> float:
    return float(np.real(sizes[name]))


def _place(sizes: ReadySizes, name: str) -> complex:
    return complex(sizes[name])


def _up(sizes: ReadySizes) -> float:
    towards = str(sizes.get("towards", "up"))
    if towards not in ("up", "down"):
        raise Unfit("towards", "must be up or down here.")
    return 1.0 if towards == "up" else -1.0


def _standing(pieces: Sequence[Piece], tip: float, up: float, *, goes_on: bool, edge: float = 0.0) -> Outline:
    """Return pieces drawn upwards from zero, put at a height, upwards or downwards."""
    turned = [
        Piece(_stood(one.start, tip, up), _stood(one.end, tip, up), up * one.turn, source=one.source) for one in pieces
    ]
    return Outline(tuple(turned), frozenset({"end"} if goes_on else ()), edge)


def _stood(place: complex, tip: float, up: float) -> complex:
    return complex(place.real, tip + up * place.imag)


def _lines(*places: complex) -> list[Piece]:
    return [Piece(complex(a), complex(b)) for a, b in pairwise(places)]


def _edge(sizes: ReadySizes) -> float:
    return _number(sizes, "edge_radius") if "edge_radius" in sizes else DEFAULT_EDGE


def _ball(sizes: ReadySizes, _: Reference) -> Outline:
    radius, tip, up = _number(sizes, "diameter") / 2, _number(sizes, "tip"), _up(sizes)
    if "shank" not in sizes:
        return _standing([Piece(0j, 2j * radius, np.pi)], tip, up, goes_on=False)
    shank = _number(sizes, "shank") / 2
    if shank >= radius:
        raise Unfit("shank", "must be thinner than the ball.")
    top = radius + sqrt(radius**2 - shank**2)
    end = complex(shank, top)
    turn = float(np.pi - np.arcsin(shank / radius))
    return _standing([Piece(0j, end, turn), Piece(end, end + 2j * radius)], tip, up, goes_on=True)


def _rod(sizes: ReadySizes, _: Reference) -> Outline:
    radius, tip, up = _number(sizes, "diameter") / 2, _number(sizes, "tip"), _up(sizes)
    end = str(sizes.get("end", "round"))
    foreign = [name for name in ("tip_radius", "half_angle") if name in sizes and end != "cone"]
    if foreign:
        raise Unfit(foreign[0], f"does not apply to a rod whose end is {end}.")
    if "edge_radius" in sizes and end != "flat":
        raise Unfit("edge_radius", f"does not apply to a rod whose end is {end}.")
    if end == "round":
        pieces = [Piece(0j, complex(radius, radius), np.pi / 2)]
    elif end == "flat":
        pieces = _lines(0j, complex(radius, 0))
    else:
        pieces = _cone(sizes, radius)
    last = pieces[-1].end
    edge = _edge(sizes) if end == "flat" else 0.0
    return _standing([*pieces, Piece(last, last + 4j * radius)], tip, up, goes_on=True, edge=edge)


def _cone(sizes: ReadySizes, radius: float) -> list[Piece]:
    """Return a rounded tip, the cone tangent to it, and a smooth shoulder to the rod."""
    for name in ("tip_radius", "half_angle"):
        if name not in sizes:
            raise Unfit(name, "is needed for a cone.")
    tip, angle = _number(sizes, "tip_radius"), _number(sizes, "half_angle")
    off = complex(tip * cos(angle), tip * (1 - sin(angle)))
    if off.real >= radius:
        raise Unfit("tip_radius", "is too large for this diameter: the cone has no room.")
    height = off.imag + (radius - off.real) / tan(angle)
    # the shoulder is rounded as far as half of the cone, so that it is never the sharpest place
    away = min(radius, (radius - off.real) / sin(angle)) / 2
    below = complex(radius - away * sin(angle), height - away * cos(angle))
    above = complex(radius, height + away)
    return [
        Piece(0j, off, np.pi / 2 - angle),
        Piece(off, below),
        Piece(below, above, angle),
    ]


def _hex_head(sizes: ReadySizes, reference: Reference) -> Outline:
    table = reference.table("hexagon-heads")
    names = list(table.text("size"))
    if sizes["size"] not in names:
        raise Unfit("size", f"must be one of {', '.join(names)}.")
    row = names.index(str(sizes["size"]))
    radius, head, shank = (float(table[name][row]) for name in ("across_flats", "head_height", "thread"))
    radius, shank = radius / 2, shank / 2
    face = FACE * radius
    rise = (radius - face) * tan(CHAMFER)
    pieces = _lines(
        0j,
        complex(face, 0),
        complex(radius, rise),
        complex(radius, head),
        complex(shank, head),
        complex(shank, head + 4 * shank),
    )
    return _standing(pieces, _number(sizes, "face"), _up(sizes), goes_on=True, edge=_edge(sizes))


def _circle(centre: complex, radius: float) -> Outline:
    left, right = centre - radius, centre + radius
    return Outline((Piece(left, right, np.pi), Piece(right, left, np.pi)))


def _ring(sizes: ReadySizes, _: Reference) -> Outline:
    centre, radius = _place(sizes, "at"), _number(sizes, "diameter") / 2
    if centre.real <= radius:
        raise Unfit("at", "must be farther from the axis than half of the ring's thickness.")
    return _circle(centre, radius)


def _tube(sizes: ReadySizes, _: Reference) -> Outline:
    radius = _number(sizes, "inside_diameter") / 2
    middle = _number(sizes, "tip") if "tip" in sizes else 0.0
    pieces = _lines(complex(radius, middle - 2 * radius), complex(radius, middle + 2 * radius))
    return Outline(tuple(pieces), frozenset({"start", "end"}), sheet=True)


def _wire(sizes: ReadySizes, _: Reference) -> Outline:
    radius = _number(sizes, "diameter") / 2
    if "at" in sizes:
        return _circle(_place(sizes, "at"), radius)
    middle = _number(sizes, "tip") if "tip" in sizes else 0.0
    pieces = _lines(complex(radius, middle - 4 * radius), complex(radius, middle + 4 * radius))
    return Outline(tuple(pieces), frozenset({"start", "end"}))


def _bar(sizes: ReadySizes, _: Reference) -> Outline:
    centre = _place(sizes, "at")
    x, y = _number(sizes, "width") / 2, _number(sizes, "thickness") / 2
    corners = [centre + complex(a * x, b * y) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))]
    return Outline(tuple(_lines(*corners)), edge_radius=_edge(sizes))


def _plate(sizes: ReadySizes, _: Reference) -> Outline:
    edge, half = _place(sizes, "from"), _number(sizes, "thickness") / 2
    towards = str(sizes.get("towards", "right"))
    if towards not in ("left", "right"):
        raise Unfit("towards", "must be left or right here.")
    side = 1.0 if towards == "right" else -1.0
    away = side * max(8 * half, abs(edge.real))
    pieces = _lines(edge + away + 1j * half, edge + 1j * half, edge - 1j * half, edge + away - 1j * half)
    return Outline(tuple(pieces), frozenset({"start", "end"}), _edge(sizes))


def _sheet(sizes: ReadySizes, _: Reference) -> Outline:
    return Outline(tuple(_lines(_place(sizes, "from"), _place(sizes, "to"))), sheet=True)


SHAPES: Mapping[str, Ready] = {
    shape.key: shape
    for shape in (
        Ready("ball", "Ball", "A polished ball, free or on a shank that goes on.", _ball, ("diameter", "tip"),
              ("towards", "shank")),
        Ready("rod", "Rod", "A round rod along the axis with a round, flat or conical end.", _rod,
              ("diameter", "tip"), ("towards", "end", "tip_radius", "half_angle"), edges=True),
        Ready("hex-head", "Hexagon head", "The head of a screw on its shank, as a body of revolution across the flats.",
              _hex_head, ("size", "face"), ("towards",), edges=True),
        Ready("ring", "Ring", "A ring of round wire or tube about the axis.", _ring, ("diameter", "at")),
        Ready("tube", "Tube", "The inside of a tube about the axis that goes on both ways.", _tube,
              ("inside_diameter",), ("tip",)),
        Ready("wire", "Wire", "A round wire: along the axis, or across the section at a place.", _wire, ("diameter",),
              ("at", "tip"), ("axis", "section")),
        Ready("bar", "Bar", "A bar of rectangular section without end: a busbar, a track of a board.", _bar,
              ("width", "thickness", "at"), (), ("section",), edges=True),
        Ready("plate", "Plate", "A plate that goes on from its edge; about the axis, one with a round hole.", _plate,
              ("from", "thickness"), ("towards",), ("axis", "section"), edges=True),
        Ready("sheet", "Sheet", "A thin sheet between two places, its free edges where the field is weak.", _sheet,
              ("from", "to"), (), ("axis", "section")),
    )
}  # fmt: skip
