"""Drawn conductors made complete: corners rounded, what goes on continued and closed far away, metal to the left.

What a conductor does beyond the drawing matters little if it is far enough: a rod is closed by a hemisphere, two
surfaces that go on together by a half circle, a hundred drawings away. Pieces beyond the drawing carry a mark, since
the cap of a thin shank would else be its sharpest place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.physics.contours import (
    TOUCH,
    Contour,
    DoesNotFit,
    Piece,
    angle_between,
    area,
    boxes,
    inside,
    meetings,
    with_rounded_corners,
)

REACH = 100.0
"""How far a conductor goes on, over the size of the drawing."""
AXIS, PLANE = -1, -2
"""What a conductor clashes with if not with one."""
SMOOTH = 1e-3
"""Turn of a corner below which it is smooth [rad]."""


@dataclass(frozen=True)
class Outline:
    """The outline of a conductor as drawn.

    Parameters
    ----------
    pieces : tuple of Piece
        In order.
    goes_on : frozenset of str
        ``start``, ``end``: where it goes on straight beyond the drawing.
    edge_radius : float
        Radius of every corner that points outwards [m]; zero leaves them sharp.
    sheet : bool
        Whether it is thin in any case, as the inside of a tube is, which goes on at both ends without being a rod.
    hollow : bool
        Whether it may be the hollow that other conductors are in; a ready shape of metal may not.
    """

    pieces: tuple[Piece, ...]
    goes_on: frozenset[str] = frozenset()
    edge_radius: float = 0.0
    sheet: bool = False
    hollow: bool = False

    @property
    def places(self) -> np.ndarray:
        """Ends of all pieces and middles of arcs [m]."""
        return np.concatenate([piece.at(np.linspace(0, 1, 9 if piece.turn else 2)) for piece in self.pieces])


@dataclass(frozen=True)
class Conductors:
    """Outlines of conductors, and what is around them.

    Parameters
    ----------
    outlines : tuple of Outline
    axis : bool
        Whether they are bodies of revolution.
    plane : bool
        Whether the line of imaginary part zero is an earthed plane.
    """

    outlines: tuple[Outline, ...]
    axis: bool
    plane: bool

    @property
    def extent(self) -> float:
        """Size of the drawing, its distance from the plane included [m]."""
        places = np.concatenate([outline.places for outline in self.outlines])
        heights = np.append(places.imag, 0.0) if self.plane else places.imag
        widths = np.append(places.real, 0.0) if self.axis else places.real
        return float(max(np.ptp(heights), np.ptp(widths)))

    def contours(self, reach: float = REACH) -> list[Contour]:
        """Return the complete conductors.

        Parameters
        ----------
        reach : float
            How far what goes on goes on, over the size of the drawing.

        Raises
        ------
        DoesNotFit
            When an edge radius does not fit; its ``conductor`` says which.
        """
        extent, found = self.extent, []
        for index, outline in enumerate(self.outlines):
            try:
                found.append(_complete(outline, self, reach * extent, extent))
            except DoesNotFit as error:
                error.conductor = index
                raise
        return [
            _complete(replace(outline, sheet=True), self, reach * extent, extent)
            if outline.hollow and contour.solid and _surrounds(contour, [one for one in found if one is not contour])
            else contour
            for outline, contour in zip(self.outlines, found, strict=True)
        ]


def _surrounds(contour: Contour, others: Sequence[Contour]) -> bool:
    """Return whether the outline of a conductor lies around another one: then it is the hollow that it is in."""
    ring = contour.ring
    return any(
        bool(inside(ring, piece.at(np.array([0.25, 0.5, 0.75]))).all()) for one in others for piece in one.near[:1]
    )


def _off_axis(outline: Outline, tiny: float) -> Outline:
    """Return the outline of a body of revolution without the lines that close it along its axis, where no surface is.

    One that is left between two others stays: a body with a hollow of its own.
    """
    pieces = list(outline.pieces)
    along = [not one.turn and abs(one.start.real) <= tiny and abs(one.end.real) <= tiny for one in pieces]
    if not any(along) or all(along):
        return outline
    if abs(pieces[0].start - pieces[-1].end) <= tiny and not outline.goes_on:
        first = next(i for i in range(len(along)) if along[i - 1] and not along[i])
        pieces, along = pieces[first:] + pieces[:first], along[first:] + along[:first]
    start, end = along.index(False), len(along) - along[::-1].index(False)
    return replace(outline, pieces=tuple(pieces[start:end]))


def _complete(outline: Outline, drawing: Conductors, reach: float, extent: float) -> Contour:
    if drawing.axis:
        outline = _off_axis(outline, TOUCH * extent)
    pieces = list(outline.pieces)
    ends = _ends(outline, drawing, extent)
    if "start" in outline.goes_on:
        first = pieces[0]
        pieces.insert(0, Piece(first.start - reach * first.tangent(0.0), first.start, far=True, source=-1))
    if "end" in outline.goes_on:
        last = pieces[-1]
        pieces.append(Piece(last.end, last.end + reach * last.tangent(1.0), far=True, source=-1))
    closed = ends == ("closed", "closed")
    solid = not outline.sheet and "free" not in ends
    if solid and ends == ("on", "on"):
        through = abs(pieces[-1].tangent(1.0) - pieces[0].tangent(0.0)) < SMOOTH
        solid = not through or (drawing.axis and _capped(pieces, (False, True), TOUCH * extent, 1.0))
        if not through:
            pieces.append(_joined(pieces))
            closed = True
    elif solid and "on" in ends:
        # a face that goes on from the axis has its metal to the left of who walks along it outwards, or above the plane
        side = 1.0 if drawing.plane or ends[1] == "on" else -1.0
        solid = "axis" in ends and _capped(pieces, (ends[1] == "on",), TOUCH * extent, side)
    if solid and area([*pieces, *_by_way(pieces, ends)]) < 0:
        pieces = [piece.reversed() for piece in reversed(pieces)]
    pieces, corners = _with_corners(pieces, outline.edge_radius, closed=closed, solid=solid)
    if not solid and not closed:
        corners |= {index: "edge" for index in (0, len(pieces)) if not _bound(pieces, index, drawing, extent)}
    elif solid and drawing.axis and not closed:
        corners |= _tips(pieces, TOUCH * extent)
    return Contour(tuple(pieces), closed, solid, corners)


def _ends(outline: Outline, drawing: Conductors, extent: float) -> tuple[str, str]:
    """Return what both ends are: on the axis or plane, going on, closed, or free."""
    tiny = TOUCH * extent
    first, last = outline.pieces[0].start, outline.pieces[-1].end
    if abs(first - last) <= tiny and not outline.goes_on:
        return "closed", "closed"
    found = []
    for name, place in (("start", first), ("end", last)):
        if name in outline.goes_on:
            found.append("on")
        elif drawing.axis and abs(place.real) <= tiny:
            found.append("axis")
        elif drawing.plane and abs(place.imag) <= tiny:
            found.append("plane")
        else:
            found.append("free")
    return found[0], found[1]


def _joined(pieces: Sequence[Piece]) -> Piece:
    """Return what closes two surfaces that go on: a half circle where they are parallel, else a line."""
    start, end = pieces[-1].end, pieces[0].start
    leaving, coming = pieces[-1].tangent(1.0), pieces[0].tangent(0.0)
    parallel = abs(leaving + coming) < 1e-6 and abs(((end - start) * np.conj(leaving)).real) < 0.2 * abs(end - start)
    turn = np.pi * np.sign((np.conj(leaving) * (end - start)).imag) if parallel else 0.0
    return Piece(start, end, float(turn), far=True, source=-1)


def _capped(pieces: list[Piece], ends: Sequence[bool], tiny: float, side: float) -> bool:
    """Close what goes on from the axis, far away: a rod by a hemisphere, a face by a dome; return whether it is solid.

    Parameters
    ----------
    pieces : list of Piece
        Changed in place.
    ends : sequence of bool
        Which ends: true for the last, false for the first.
    tiny : float
    side : float
        Where the metal behind a face lies, 1 up and -1 down.
    """
    leaving = [(pieces[-1] if at_end else pieces[0].reversed()) for at_end in ends]
    if any(one.end.real <= tiny for one in leaving):
        return False
    for at_end, last in zip(ends, leaving, strict=True):
        end, direction = last.end, last.tangent(1.0)
        up = float(np.sign(direction.imag)) if abs(direction.imag) > 0.5 else side
        cap = Piece(end, complex(0.0, end.imag + up * end.real), up * np.pi / 2, far=True, source=-1)
        if at_end:
            pieces.append(cap)
        else:
            pieces.insert(0, cap.reversed())
    return True


def _by_way(pieces: Sequence[Piece], ends: tuple[str, str]) -> list[Piece]:
    """Return what closes an outline between axis and plane: by way of where they meet."""
    if set(ends) != {"axis", "plane"}:
        return []
    return [Piece(pieces[-1].end, 0j), Piece(0j, pieces[0].start)]


def _with_corners(
    pieces: list[Piece], radius: float, *, closed: bool, solid: bool
) -> tuple[list[Piece], dict[int, str]]:
    """Return pieces with rounded corners, and the corners that are left."""
    turns = [0.0] * len(pieces)
    for index in range(0 if closed else 1, len(pieces)):
        if not (pieces[index - 1].far and pieces[index].far):
            turns[index] = angle_between(pieces[index - 1], pieces[index])
    outward = [abs(turn) > SMOOTH and (turn > 0 or not solid) for turn in turns]
    radii = [radius if is_outward else 0.0 for is_outward in outward]
    kinds = {
        pieces[index].start: "sharp" if is_outward else "hollow"
        for index, is_outward in enumerate(outward)
        if abs(turns[index]) > SMOOTH and not (is_outward and radius > 0)
    }
    made = with_rounded_corners(pieces, radii, closed=closed)
    return made, {index: kinds[piece.start] for index, piece in enumerate(made) if piece.start in kinds}


def _bound(pieces: Sequence[Piece], index: int, drawing: Conductors, extent: float) -> bool:
    """Return whether an end of a sheet lies on the axis or plane, where nothing ends."""
    place = pieces[0].start if index == 0 else pieces[-1].end
    tiny = TOUCH * extent
    return (drawing.axis and abs(place.real) <= tiny) or (drawing.plane and abs(place.imag) <= tiny)


def _tips(pieces: Sequence[Piece], tiny: float) -> dict[int, str]:
    """Return the ends on the axis where a body comes to a point."""
    found = {}
    for index, piece, share in ((0, pieces[0], 0.0), (len(pieces), pieces[-1], 1.0)):
        place = piece.start if share == 0 else piece.end
        direction = piece.tangent(share) if share == 0 else -piece.tangent(share)
        if abs(place.real) <= tiny and abs(direction.imag) > SMOOTH:
            outward = direction.imag > 0 if share == 0 else direction.imag < 0
            found[index] = "sharp" if outward else "hollow"
    return found


@dataclass(frozen=True)
class Clash:
    """Two outlines that touch or cross, or one with itself or with the axis or plane.

    Parameters
    ----------
    first, second : tuple of (int, int)
        Conductor and part of what was drawn; the second may be `AXIS` or `PLANE`. A piece along the axis clashes too.
    place : complex
        [m].
    """

    first: tuple[int, int]
    second: tuple[int, int]
    place: complex


def clash(contours: Sequence[Contour], drawing: Conductors) -> Clash | None:
    """Return the first clash of complete conductors, or ``None``.

    Parameters
    ----------
    contours : sequence of Contour
    drawing : Conductors

    Returns
    -------
    Clash or None
        The first that is found.
    """
    flat = [(index, place, piece) for index, one in enumerate(contours) for place, piece in enumerate(one.pieces)]
    around = boxes([piece for _, _, piece in flat])
    tiny = TOUCH * drawing.extent
    for (index, _, piece), box in zip(flat, around, strict=True):
        if drawing.axis and (box[0] < -tiny or box[1] <= tiny):
            places = piece.at(np.linspace(0, 1, 33))
            return Clash((index, piece.source), (AXIS, 0), complex(places[np.argmin(places.real)]))
        if drawing.plane and box[2] < -tiny:
            places = piece.at(np.linspace(0, 1, 33))
            return Clash((index, piece.source), (PLANE, 0), complex(places[np.argmin(places.imag)]))
    return _pairs(contours, flat, around, tiny) or _nested(contours)


def _pairs(
    contours: Sequence[Contour], flat: Sequence[tuple[int, int, Piece]], around: np.ndarray, tiny: float
) -> Clash | None:
    low, high = around[:, [0, 2]] - tiny, around[:, [1, 3]] + tiny
    touching = (low[:, None] <= high[None]).all(axis=2) & (low[None] <= high[:, None]).all(axis=2)
    for a, b in zip(*np.nonzero(np.triu(touching, 1)), strict=True):
        (one, i, first), (other, j, second) = flat[a], flat[b]
        joints = _joints(contours[one], i, j) if one == other else []
        for place in meetings(first, second):
            if all(abs(place - joint) > 10 * tiny for joint in joints):
                return Clash((one, first.source), (other, second.source), place)
        if not joints and one != other and abs(first.start - second.start) <= tiny:
            return Clash((one, first.source), (other, second.source), first.start)
        if joints and _turns_back(first, second):
            return Clash((one, first.source), (other, second.source), first.end)
    return None


def _joints(contour: Contour, i: int, j: int) -> list[complex]:
    """Return where two pieces of a contour are meant to meet."""
    pieces, found = contour.pieces, []
    if j == i + 1:
        found.append(pieces[j].start)
    if contour.closed and i == 0 and j == len(pieces) - 1:
        found.append(pieces[0].start)
    return found


def _turns_back(first: Piece, second: Piece) -> bool:
    """Return whether a piece goes back on the one before."""
    if first.end != second.start:
        first, second = second, first
    if first.end != second.start or first.turn or second.turn:
        return False
    return abs(first.tangent(1.0) + second.tangent(0.0)) < SMOOTH


def _nested(contours: Sequence[Contour]) -> Clash | None:
    """Return a conductor that lies in the metal of another."""
    for index, one in enumerate(contours):
        if not one.solid:
            continue
        ring = one.ring
        for other, two in enumerate(contours):
            if other != index:
                place = two.near[0].at(np.array([0.5]))
                if inside(ring, place)[0]:
                    return Clash((other, two.near[0].source), (index, one.near[0].source), complex(place[0]))
    return None
