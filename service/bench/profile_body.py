"""The body of a profile: electrodes drawn or chosen, what is around them, and the conditions; read strictly."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, FRACTION, MEASURE, WAVEFORM
from service.bench.profile_shapes import DEFAULT_EDGE, PLACES, SHAPES, SIZES, Ready, Unfit
from service.errors import BadQuestion, Fault, quoted
from service.methods.case import AIR
from service.parameters import Given, Listed, Members, Parameter, Part, Question, Values
from service.physics.conductors import AXIS, Clash, Conductors, Outline, clash
from service.physics.contours import TOUCH, Contour, DoesNotFit, Piece, biarcs
from service.spoken import said
from service.units import Quantity

MOST_ELECTRODES, MOST_PIECES, MOST_IN_ALL = 8, 60, 200
ROUND = 1e-3
"""Difference of the two radii of an arc, over the radius, up to which its centre is only rounded."""
STRAIGHT = 1e-6
"""Sine of an angle from which a curve is said to turn straight back."""
COORDINATE = Parameter("coordinate", "coordinate", "A coordinate.", low=-100.0, high=100.0, example="5mm")
PLACE = Listed(COORDINATE, 2, 2)
PIECE = Members(
    (Parameter("turn", "choice", "The side to which an arc turns on its way.", choices=("left", "right")),),
    (
        Part("line", "The end of a straight piece.", PLACE),
        Part("arc", "The end of an arc.", PLACE),
        Part("centre", "The centre of an arc.", PLACE),
        Part("curve", "Places of a smooth curve.", Listed(PLACE, 1, MOST_PIECES)),
    ),
)
GOES_ON = Parameter("goes_on", "choice", "Where an outline goes on straight.", choices=("start", "end"))
ELECTRODE = Members(
    (
        Parameter("name", "text", "Name of the electrode.", example="bolt"),
        Parameter("potential", "text", "Share of the voltage, -1 to 1, or floating.", required=True, example="1"),
        Parameter("shape", "choice", "A ready shape, in place of start and path.", choices=tuple(SHAPES)),
        Parameter(
            "edge_radius",
            "coordinate",
            "Radius of edges that point outwards; 0.1 mm where it is not given, zero leaves them sharp.",
            low=0.0,
            high=10.0,
            example="0.2mm",
        ),
        *SIZES,
    ),
    (
        *(Part(name, meaning, PLACE) for name, meaning in PLACES.items()),
        Part("start", "Where a free outline begins.", PLACE),
        Part("path", "Its pieces, in order: line, arc or curve.", Listed(PIECE, 1, MOST_PIECES)),
        Part("goes_on", "Ends at which it goes on straight beyond the drawing.", Listed(GOES_ON, 1, 2)),
    ),
)
FLAT = (
    Parameter(
        "symmetry",
        "choice",
        "Whether the outlines are turned about an axis (places are r, z) or are a section of what goes on without end "
        "(x, y).",
        default="axis",
        choices=("axis", "section"),
    ),
    Parameter("plane", "choice", "An earthed plane at height zero.", default="none", choices=("none", "earthed")),
    Parameter(
        "surroundings",
        "choice",
        "What is far away: earth, or nothing, so that the charges sum to zero.",
        default="earthed-far",
        choices=("earthed-far", "floating"),
    ),
    Parameter("gas", "text", "The gas between the electrodes.", default=AIR),
    FRACTION,
    *ATMOSPHERE,
    *WAVEFORM,
    Parameter("voltage", "voltage", "Voltage between the extremes, for a margin.", example="12kV", measured=True),
    replace(MEASURE, default="unknown"),
    Parameter("move", "text", "Electrode to be moved until the voltage is held, by its name.", example="bolt"),
    Parameter("direction", "choice", "Where it is moved.", choices=("up", "down", "left", "right")),
)
BODY = Members(FLAT, (Part("electrodes", "The electrodes.", Listed(ELECTRODE, 1, MOST_ELECTRODES), required=True),))


@dataclass(frozen=True, eq=False)
class DrawnElectrode:
    """An electrode as understood.

    Parameters
    ----------
    where : str
        Path in the body, with its dot.
    potential : float
        NaN where it floats.
    drawn : bool
        Whether it was drawn freely.
    assumed : tuple of str
        Members that were defaults.
    echo : mapping
        For the answer.
    """

    name: str
    where: str
    potential: float
    outline: Outline
    drawn: bool
    assumed: tuple[str, ...]
    echo: Mapping[str, object]

    def part(self, source: int) -> str:
        """Return the path of a part of the drawing."""
        at = self.where.rstrip(".")
        return f"{self.where}path[{max(source, 0)}]" if self.drawn else f"{at}.shape"


@dataclass(frozen=True, eq=False)
class Body:
    """A profile as understood.

    Parameters
    ----------
    question : Question
        The flat members.
    """

    question: Question
    electrodes: tuple[DrawnElectrode, ...]
    drawing: Conductors

    @property
    def neutral(self) -> bool:
        """Whether the charges sum to zero."""
        floating = self.question.key("surroundings") == "floating"
        return not self.drawing.plane and (floating or not self.drawing.axis)

    @property
    def potentials(self) -> np.ndarray:
        """Potentials of the electrodes, one between the extremes; NaN where one floats."""
        given = np.array([one.potential for one in self.electrodes])
        fixed = [*given[~np.isnan(given)], *([] if self.neutral else [0.0])]
        return np.asarray(given / (max(fixed) - min(fixed)))

    @property
    def key(self) -> Hashable:
        """What its field depends on: outlines, what is around them, and potentials."""
        return self.drawing, self.neutral, tuple(str(one) for one in self.potentials)

    def moved(self, index: int, by: complex) -> Body:
        """Return the body with an electrode moved [m]."""
        outline = self.electrodes[index].outline
        pieces = tuple(replace(one, start=one.start + by, end=one.end + by) for one in outline.pieces)
        changed = replace(self.electrodes[index], outline=replace(outline, pieces=pieces))
        electrodes = (*self.electrodes[:index], changed, *self.electrodes[index + 1 :])
        return replace(
            self,
            electrodes=electrodes,
            drawing=replace(self.drawing, outlines=tuple(one.outline for one in electrodes)),
        )

    def contours(self, reach: float) -> list[Contour]:
        """Return the complete conductors.

        Raises
        ------
        BadQuestion
            When a radius does not fit, or conductors touch or cross.
        """
        try:
            contours = self.drawing.contours(reach)
        except DoesNotFit as error:
            raise self._unfit(error) from error
        found = clash(contours, self.drawing)
        if found is not None:
            raise self._clashing(found)
        return contours

    def with_edges(self, factor: float) -> Body:
        """Return it with all edge radii changed."""
        outlines = [replace(one, edge_radius=factor * one.edge_radius) for one in self.drawing.outlines]
        electrodes = tuple(
            replace(one, outline=outline) for one, outline in zip(self.electrodes, outlines, strict=True)
        )
        return replace(self, electrodes=electrodes, drawing=replace(self.drawing, outlines=tuple(outlines)))

    def _unfit(self, error: DoesNotFit) -> BadQuestion:
        electrode = self.electrodes[error.conductor]
        radius, place = electrode.outline.edge_radius, place_in_words(error.piece.start)
        detail = f"{electrode.where}edge_radius: {said(radius, 'length', unit='mm')} does not fit the corner at {place}"
        most = f"; at most {said(error.most, 'length', unit='mm', digits=3)} does." if error.most > 1e-9 else "."
        where = electrode.part(error.piece.source) if electrode.drawn else f"{electrode.where}edge_radius"
        return BadQuestion.about(where, detail + most)

    def _clashing(self, found: Clash) -> BadQuestion:
        one = self.electrodes[found.first[0]]
        first = one.part(found.first[1])
        if found.second[0] < 0:
            what = ON_THE_AXIS if found.second[0] == AXIS else "reaches below the plane"
        elif found.second[0] == found.first[0]:
            what = f"touches or crosses {one.part(found.second[1])}"
        else:
            what = f"touches or crosses {self.electrodes[found.second[0]].part(found.second[1])}"
        detail = f"{first} {what} at {place_in_words(found.place)}."
        return BadQuestion.about(first, detail)


ON_THE_AXIS = (
    "runs along the axis or beyond it (of a body around another electrode draw the surface of the hollow alone)"
)


def place_in_words(place: complex) -> str:
    """Return a place in words."""
    return f"({', '.join(said(end, 'coordinate', unit='mm') for end in (place.real, place.imag))})"


def read(given: Given, registry: Registry) -> Body:
    """Return a body as understood.

    Raises
    ------
    BadQuestion
        Naming every member that is missing, contradictory, or does not apply.
    """
    faults: list[Fault] = []
    question = given.question
    axis, plane = question.key("symmetry") == "axis", question.key("plane") == "earthed"
    electrodes = []
    for index, one in enumerate(given.parts["electrodes"]):
        electrode = _electrode(one, index, question.key("symmetry"), registry, faults)
        if electrode is not None:
            electrodes.append(electrode)
    _names(electrodes, faults)
    if sum(len(one.outline.pieces) for one in electrodes) > MOST_IN_ALL and not faults:
        faults.append(Fault("electrodes", f"electrodes have more than {MOST_IN_ALL} pieces in all."))
    if faults:
        raise BadQuestion(" ".join(one.detail for one in faults[:20]), faults[:20])
    drawing = Conductors(tuple(one.outline for one in electrodes), axis, plane)
    body = Body(question, tuple(electrodes), drawing)
    _check_potentials(body)
    _check_ends(body)
    return body


def _names(electrodes: list[DrawnElectrode], faults: list[Fault]) -> None:
    names = [one.name for one in electrodes]
    for one in electrodes:
        if names.count(one.name) > 1:
            faults.append(Fault(f"{one.where}name", f"{one.where}name is given to two electrodes."))
            return


def _check_potentials(body: Body) -> None:
    given = [one.potential for one in body.electrodes if not np.isnan(one.potential)]
    fixed = {*given, *([] if body.neutral else [0.0])}
    if len(fixed) < 2:
        detail = "electrodes: all potentials are equal, so that there is no field; give one of them another."
        raise BadQuestion.about("electrodes[0].potential", detail)


def _check_ends(body: Body) -> None:
    """Refuse outlines that end in the open without being a sheet, and live ones that stand on the plane."""
    extent = body.drawing.extent
    for one in body.electrodes:
        ends = (("start", one.outline.pieces[0].start), ("end", one.outline.pieces[-1].end))
        first, last = ends[0][1], ends[1][1]
        closed = abs(first - last) < TOUCH * extent
        for name, place in ends:
            on_plane = body.drawing.plane and abs(place.imag) < TOUCH * extent and name not in one.outline.goes_on
            if on_plane and one.potential != 0 and not closed:
                detail = (
                    f"{one.where}potential must be 0: its outline ends on the earthed plane at {place_in_words(place)}."
                )
                raise BadQuestion.about(f"{one.where}potential", detail)


def _electrode(
    given: Given, index: int, symmetry: str, registry: Registry, faults: list[Fault]
) -> DrawnElectrode | None:
    question, where = given.question, given.where
    before = len(faults)
    potential = _potential(given, faults)
    shape = question.key("shape") if "shape" in question else None
    own = ("name", "potential", "shape")
    given_names = [name for name in (*question.values, *given.parts) if name not in own]
    try:
        if shape is not None:
            outline: Outline | None = _ready(given, SHAPES[shape], given_names, symmetry, registry)
        else:
            outline = _free(given, given_names, faults)
    except BadQuestion as error:
        faults.extend(error.faults)
        return None
    if outline is None or len(faults) > before:
        return None
    edged = shape is None or SHAPES[shape].edges
    assumed = ("edge_radius",) if edged and "edge_radius" not in question and outline.edge_radius else ()
    name = question.key("name") if "name" in question else f"electrode {index + 1}"
    return DrawnElectrode(name, where, potential, outline, shape is None, assumed, _echo(given, name, assumed))


def _potential(given: Given, faults: list[Fault]) -> float:
    text = given.question.key("potential")
    if text == "floating":
        return float("nan")
    try:
        value = float(text)
    except ValueError:
        value = float("inf")
    if not abs(value) <= 1:
        detail = f"potential must be a number from -1 to 1, or floating; '{quoted(text)}' is not."
        faults.append(given.fault("potential", detail, ("-1 to 1", "floating")))
    return value


def _ready(given: Given, shape: Ready, names: list[str], symmetry: str, registry: Registry) -> Outline:
    if symmetry not in shape.symmetries:
        detail = f"shape={shape.key} is not drawn with symmetry={symmetry}."
        raise BadQuestion(given.where + detail, [given.fault("shape", detail, _drawn_with(symmetry))])
    foreign = [name for name in names if name not in shape.sizes]
    missing = [name for name in shape.needed if name not in names]
    if symmetry == "section" and shape.key == "wire":
        missing += ["at"] if "at" not in names else []
    if symmetry == "axis" and shape.key == "wire" and "at" in names:
        foreign.append("at")
    found = [given.fault(name, f"{name} does not apply to shape={shape.key}.", shape.sizes) for name in foreign]
    found += [given.fault(name, f"{name} is needed for shape={shape.key}.") for name in missing]
    if found:
        raise BadQuestion(" ".join(one.detail for one in found), found)
    sizes: dict[str, Any] = {name: given.question.values[name] for name in names if name in given.question.values}
    sizes |= {name: _complex(given.parts[name]) for name in names if name in given.parts}
    try:
        return shape.draw(sizes, registry.reference)
    except Unfit as error:
        fault = given.fault(error.member, f"{error.member} {error.detail}")
        raise BadQuestion(fault.detail, [fault]) from error


def _drawn_with(symmetry: str) -> tuple[str, ...]:
    return tuple(key for key, shape in SHAPES.items() if symmetry in shape.symmetries)


def _complex(values: Values) -> complex:
    return complex(*values.values)


FREE = ("edge_radius", "start", "path", "goes_on")


def _free(given: Given, names: list[str], faults: list[Fault]) -> Outline | None:
    before = len(faults)
    for name in names:
        if name not in FREE:
            faults.append(given.fault(name, f"{name} belongs to a ready shape: give shape with it.", FREE))
    missing = [name for name in ("start", "path") if name not in names]
    faults.extend(given.fault(name, f"{name} is needed where no shape is given.") for name in missing)
    if len(faults) > before:
        return None
    edge = given.question.optional("edge_radius")
    goes_on = given.parts["goes_on"].values if "goes_on" in given.parts else ()
    pieces = list(_pieces(given, faults))
    if len(faults) > before:
        return None
    return Outline(tuple(pieces), frozenset(goes_on), DEFAULT_EDGE if edge is None else edge, hollow=True)


def _pieces(given: Given, faults: list[Fault]) -> Iterator[Piece]:
    here = _complex(given.parts["start"])
    for index, one in enumerate(given.parts["path"]):
        kinds = [name for name in ("line", "arc", "curve") if name in one.parts]
        if len(kinds) != 1:
            detail = f"{one.where.rstrip('.')} must have one of line, arc and curve; it has {len(kinds)}."
            faults.append(Fault(one.where.rstrip("."), detail, ("line", "arc", "curve")))
            return
        foreign = [name for name in ("centre", "turn") if (name in one.parts or name in one.question)]
        if kinds[0] != "arc" and foreign:
            faults.append(one.fault(foreign[0], f"{foreign[0]} belongs to an arc."))
            return
        made = _piece(one, kinds[0], here, faults)
        if not made:
            return
        yield from (replace(piece, source=index) for piece in made)
        here = made[-1].end


def _piece(one: Given, kind: str, here: complex, faults: list[Fault]) -> list[Piece]:
    if kind == "curve":
        places = [here, *(_complex(values) for values in one.parts["curve"])]
        if any(a == b for a, b in pairwise(places)):
            faults.append(one.fault("curve", "curve names a place twice in a row."))
            return []
        back = _turning_back(places)
        if back is not None:
            faults.append(one.fault("curve", f"curve turns straight back at {place_in_words(back)}."))
            return []
        return biarcs(places) if len(places) > 2 else [Piece(places[0], places[1])]
    end = _complex(one.parts[kind])
    if end == here:
        faults.append(one.fault(kind, f"{kind} has no length: it ends where it begins."))
        return []
    return [Piece(here, end)] if kind == "line" else _arc(one, here, end, faults)


def _turning_back(places: Sequence[complex]) -> complex | None:
    """Return the first place from which the next lies straight behind: no arc leads there."""
    ring = [*places, places[1]] if places[0] == places[-1] else places
    for a, b, c in zip(ring, ring[1:], ring[2:], strict=False):
        turn = (c - b) / (b - a)
        if turn.real < 0 and abs(turn.imag) < STRAIGHT * abs(turn):
            return b
    return None


def _arc(one: Given, here: complex, end: complex, faults: list[Fault]) -> list[Piece]:
    for name in ("centre", "turn"):
        if name not in one.parts and name not in one.question:
            faults.append(one.fault(name, f"{name} is needed for an arc."))
            return []
    centre = _complex(one.parts["centre"])
    radii = abs(here - centre), abs(end - centre)
    if abs(radii[0] - radii[1]) > ROUND * max(radii) or min(radii) == 0:
        words = " and ".join(said(radius, "length", unit="mm", digits=5) for radius in radii)
        faults.append(one.fault("arc", f"arc has unequal radii about its centre: {words}."))
        return []
    turn = float(np.angle((end - centre) / (here - centre)))
    side = 1 if one.question.key("turn") == "left" else -1
    turn = turn % (2 * np.pi) if side > 0 else -((-turn) % (2 * np.pi))
    if abs(turn) < 1e-6:
        faults.append(one.fault("arc", "arc has no length, or is a whole circle: divide it."))
        return []
    if abs(turn) > np.pi:
        middle = centre + (here - centre) * np.exp(0.5j * turn)
        return [Piece(here, complex(middle), turn / 2), Piece(complex(middle), end, turn / 2)]
    return [Piece(here, end, turn)]


def _echo(given: Given, name: str, assumed: tuple[str, ...]) -> dict[str, object]:
    question = given.question
    shown: dict[str, object] = {"name": name}
    shown |= {
        key: question.parameters[key].show(value) for key, value in question.values.items() if key not in ("name",)
    }
    if assumed:
        shown["edge_radius"] = Quantity(DEFAULT_EDGE, "length")
    for key in PLACES:
        if key in given.parts:
            shown[key] = [COORDINATE.show(value) for value in given.parts[key].values]
    return shown
