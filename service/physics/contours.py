"""Outlines of conductors in a section: lines and arcs, rounded corners, smooth curves, where they meet and how near.

A place is a complex number, ``r + i z`` of a body of revolution or ``x + i y`` of a section without end [m]. Lines and
arcs are passed at constant speed and know the complex parameter of any place, which quadrature near them needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from service.physics.domain import Floats
from service.physics.rings import Points
from service.units import ROUNDING

TOUCH = 1e-9
"""Distance, over the size of a drawing, at which two places are one."""


@dataclass(frozen=True)
class Piece:
    """A line, or an arc where ``turn`` is not zero.

    Parameters
    ----------
    start, end : complex
        [m].
    turn : float
        Angle of the arc, positive to the left [rad]; zero for a line.
    far : bool
        Whether it lies beyond the drawing, where a conductor goes on.
    source : int
        Which part of what was drawn it comes from.
    """

    start: complex
    end: complex
    turn: float = 0.0
    far: bool = False
    source: int = 0

    @property
    def chord(self) -> complex:
        """From start to end."""
        return self.end - self.start

    @cached_property
    def centre(self) -> complex:
        """Centre of an arc."""
        return complex((self.start + self.end) / 2 + 0.5j * self.chord / np.tan(self.turn / 2))

    @cached_property
    def radius(self) -> float:
        """Radius of an arc; infinite for a line."""
        return abs(self.chord) / (2 * abs(np.sin(self.turn / 2))) if self.turn else np.inf

    @cached_property
    def length(self) -> float:
        """Length along it."""
        return self.radius * abs(self.turn) if self.turn else abs(self.chord)

    def tangent(self, share: float) -> complex:
        """Return the direction at a share of its length, of modulus one."""
        return complex(self.chord / abs(self.chord) * np.exp(1j * self.turn * (share - 0.5)))

    def at(self, share: Floats) -> Points:
        """Return places at shares of the length."""
        if not self.turn:
            return np.asarray(self.start + self.chord * share)
        centre = self.centre
        return np.asarray(centre + (self.start - centre) * np.exp(1j * self.turn * share))

    def nearest(self, places: Points) -> Floats:
        """Return the shares of the length that lie nearest to places."""
        if not self.turn:
            along = ((places - self.start) * np.conj(self.chord)).real / abs(self.chord) ** 2
            return np.asarray(np.clip(along, 0.0, 1.0))
        centre = self.centre
        spoke = (places - centre) / (self.start - centre) * np.exp(-0.5j * self.turn)
        angle = np.where(spoke == 0, 0.0, np.angle(np.where(spoke == 0, 1.0, spoke)))
        return np.asarray(np.clip(angle / self.turn + 0.5, 0.0, 1.0))

    def part(self, low: float, high: float) -> Piece:
        """Return the stretch between two shares of the length."""
        ends = self.at(np.array([low, high]))
        start = self.start if low == 0 else complex(ends[0])
        end = self.end if high == 1 else complex(ends[1])
        return replace(self, start=start, end=end, turn=self.turn * (high - low))

    def reversed(self) -> Piece:
        """Return it the other way round."""
        return replace(self, start=self.end, end=self.start, turn=-self.turn)


@dataclass(frozen=True)
class Contour:
    """The outline of one conductor.

    Parameters
    ----------
    pieces : tuple of Piece
        In order, each beginning where the one before ends.
    closed : bool
        Whether it ends where it begins.
    solid : bool
        Whether it bounds metal: closed, or closed by the axis or the plane. A sheet does not.
    corners : mapping of int to str
        Corner at the beginning of a piece: ``sharp`` or ``hollow``; ``edge`` at the free ends of a sheet (the number
        of pieces stands for the last end).
    """

    pieces: tuple[Piece, ...]
    closed: bool = False
    solid: bool = True
    corners: dict[int, str] = field(default_factory=dict)

    @property
    def near(self) -> tuple[Piece, ...]:
        """Pieces of the drawing, without those where it goes on."""
        return tuple(piece for piece in self.pieces if not piece.far)

    @property
    def ring(self) -> tuple[Piece, ...]:
        """The outline closed: straight along the axis, or by way of where axis and plane meet."""
        first, last = self.pieces[0].start, self.pieces[-1].end
        if self.closed or first == last:
            return self.pieces
        if (first.real == 0) != (last.real == 0):
            corner = complex(0.0, last.imag if first.real == 0 else first.imag)
            return (*self.pieces, *(Piece(a, b) for a, b in ((last, corner), (corner, first)) if a != b))
        return (*self.pieces, Piece(last, first))

    @property
    def places(self) -> Points:
        """Beginnings of all pieces, and the last end."""
        return np.array([*(piece.start for piece in self.pieces), self.pieces[-1].end])


def area(pieces: Sequence[Piece]) -> float:
    """Return the area that pieces enclose, closed by a straight line, positive when passed to the left [m2].

    Parameters
    ----------
    pieces : sequence of Piece
        In order.

    Returns
    -------
    float
        [m2].
    """
    total = 0.0
    for piece in pieces:
        total += (np.conj(piece.start) * piece.end).imag / 2
        if piece.turn:
            total += piece.radius**2 * (piece.turn - np.sin(piece.turn)) / 2
    first, last = pieces[0].start, pieces[-1].end
    return float(total + (np.conj(last) * first).imag / 2)


def angle_between(before: Piece, after: Piece) -> float:
    """Return the turn from one piece to the next, positive to the left [rad].

    Parameters
    ----------
    before, after : Piece
        Meeting at a corner.

    Returns
    -------
    float
        -pi to pi [rad].
    """
    return float(np.angle(after.tangent(0.0) / before.tangent(1.0)))


class DoesNotFit(Exception):
    """A radius that does not fit a corner.

    Parameters
    ----------
    piece : Piece
        The piece that begins there.
    most : float
        The largest radius that fits [m].
    """

    def __init__(self, piece: Piece, most: float) -> None:
        super().__init__(piece, most)
        self.piece, self.most, self.conductor = piece, most, 0


def fillet(before: Piece, after: Piece, radius: float) -> tuple[float, float, Piece] | None:
    """Return the shares of two pieces that an arc takes, tangent to both, and the arc; ``None`` where it does not fit.

    Parameters
    ----------
    before, after : Piece
        Meeting at a corner.
    radius : float
        Of the arc [m].

    Returns
    -------
    tuple or None
        Shares of the first piece at its end and of the second at its start, and the arc.

    Notes
    -----
    The centre lies on the two lines or circles moved by the radius to the side of the turn.
    """
    side = np.sign(angle_between(before, after))
    corner = before.end
    centre = _meeting(_moved(before, side * radius), _moved(after, side * radius), corner)
    if centre is None:
        return None
    shares = float(before.nearest(np.array([centre]))[0]), float(after.nearest(np.array([centre]))[0])
    start, end = complex(before.at(np.array([shares[0]]))[0]), complex(after.at(np.array([shares[1]]))[0])
    off = max(abs(abs(start - centre) - radius), abs(abs(end - centre) - radius))
    if off > 1e-6 * radius:
        return None
    turn = float(np.angle((end - centre) / (start - centre)))
    if turn * side <= 0:
        turn += side * 2 * np.pi
    return 1 - shares[0], shares[1], Piece(start, end, turn)


def _moved(piece: Piece, by: float) -> tuple[complex, complex | float]:
    """Return a parallel line as place and direction, or a parallel circle as centre and radius."""
    if not piece.turn:
        direction = piece.tangent(0.5)
        return piece.start + 1j * by * direction, direction
    return piece.centre, float(piece.radius - by * np.sign(piece.turn))


def _meeting(
    first: tuple[complex, complex | float], second: tuple[complex, complex | float], near: complex
) -> complex | None:
    """Return where two lines or circles meet, nearest to a place."""
    lines = [isinstance(one[1], complex) for one in (first, second)]
    found: Sequence[complex]
    if all(lines):
        across = (np.conj(first[1]) * second[1]).imag
        if abs(across) < 1e-12:
            return None
        step = (np.conj(second[0] - first[0]) * second[1]).imag / across
        return complex(first[0] + step * first[1])
    if any(lines):
        line, circle = (first, second) if lines[0] else (second, first)
        found = _line_and_circle(line[0], complex(line[1]), circle[0], abs(circle[1]))
    else:
        found = _two_circles(first[0], abs(first[1]), second[0], abs(second[1]))
    return min(found, key=lambda one: abs(one - near), default=None)


def _line_and_circle(place: complex, direction: complex, centre: complex, radius: float) -> list[complex]:
    along = ((centre - place) * np.conj(direction)).real
    foot = place + along * direction
    under = radius**2 - abs(foot - centre) ** 2
    if under < -TOUCH * radius**2:
        return []
    half = np.sqrt(max(under, 0.0))
    return [foot - half * direction, foot + half * direction]


def _two_circles(first: complex, a: float, second: complex, b: float) -> list[complex]:
    apart = abs(second - first)
    if apart == 0 or apart > (a + b) * (1 + TOUCH) or apart < abs(a - b) * (1 - TOUCH):
        return []
    along = (apart**2 + a**2 - b**2) / (2 * apart)
    half = np.sqrt(max(a**2 - along**2, 0.0))
    direction = (second - first) / apart
    foot = first + along * direction
    return [foot + 1j * half * direction, foot - 1j * half * direction]


def with_rounded_corners(pieces: Sequence[Piece], radii: Sequence[float], *, closed: bool) -> list[Piece]:
    """Return pieces with their corners rounded.

    Parameters
    ----------
    pieces : sequence of Piece
    radii : sequence of float
        Radius at the beginning of every piece [m]; zero for none.
    closed : bool
        Whether the first piece follows the last.

    Returns
    -------
    list of Piece
        With the arcs between them.

    Raises
    ------
    DoesNotFit
        Naming the corner and the largest radius that fits.
    """
    count = len(pieces)
    taken = np.zeros((count, 2))
    arcs: dict[int, Piece] = {}
    for corner in range(0 if closed else 1, count):
        if radii[corner] <= 0:
            continue
        found = fillet(pieces[corner - 1], pieces[corner], radii[corner])
        if found is None:
            raise DoesNotFit(pieces[corner], _most(pieces, radii, corner, taken))
        taken[corner - 1, 1], taken[corner, 0], arcs[corner] = found
    over = taken.sum(axis=1) > 1 + ROUNDING
    if over.any():
        piece = int(np.argmax(over))
        corner = piece if taken[piece, 0] >= taken[piece, 1] else (piece + 1) % count
        raise DoesNotFit(pieces[corner], _most(pieces, radii, corner, taken))
    result = []
    for place, one in enumerate(pieces):
        if place in arcs:
            result.append(replace(arcs[place], far=one.far, source=one.source))
        low, high = float(taken[place, 0]), float(1 - taken[place, 1])
        if high - low > 1e-12:
            result.append(one.part(low, high) if low > 0 or high < 1 else one)
    return result


def _most(pieces: Sequence[Piece], radii: Sequence[float], corner: int, taken: Floats) -> float:
    """Return the largest radius that fits a corner beside what its neighbours take, by halving."""
    low, high = 0.0, float(radii[corner])
    room_before, room_after = 1 - taken[corner - 1, 0], 1 - taken[corner, 1]
    for _ in range(40):
        middle = (low + high) / 2
        found = fillet(pieces[corner - 1], pieces[corner], middle) if middle > 0 else (0.0, 0.0, None)
        fits = found is not None and found[0] <= room_before and found[1] <= room_after
        low, high = (middle, high) if fits else (low, middle)
    return low


def biarcs(places: Sequence[complex], tangents: Sequence[complex] | None = None) -> list[Piece]:
    """Return a smooth chain of arcs through places: two arcs of common tangent between neighbours.

    Parameters
    ----------
    places : sequence of complex
        At least three, or two with tangents; a curve that returns to its first place is smooth there too.
    tangents : sequence of complex, optional
        Directions at the places; by default those of the circle through three neighbours.

    Returns
    -------
    list of Piece
        Two arcs a stretch; lines where it is straight.

    Notes
    -----
    Both arcs of a pair are given equal lengths of tangent. The error of a smooth curve falls with the third power of
    the distance of the places, that of its field with about the fourth power of their number.
    """
    points = np.asarray(places, dtype=np.complex128)
    directions = _directions(points) if tangents is None else np.asarray(tangents) / np.abs(tangents)
    return [
        arc
        for a, b, one, other in zip(points[:-1], points[1:], directions[:-1], directions[1:], strict=True)
        for arc in _biarc(complex(a), complex(b), complex(one), complex(other))
    ]


def _directions(points: Points) -> Points:
    closed = abs(points[0] - points[-1]) < TOUCH * float(np.ptp(points.real) + np.ptp(points.imag))
    if closed:
        ring = np.concatenate([points[-2:-1], points, points[1:2]])
        return _circle_tangents(ring)
    inner = _circle_tangents(points)
    first, last = points[1] - points[0], points[-1] - points[-2]
    ends = first / abs(first), last / abs(last)
    # of the circle through the first three places: the chord halves the angle of the tangents
    return np.concatenate([[ends[0] ** 2 / inner[0]], inner, [ends[1] ** 2 / inner[-1]]])


def _circle_tangents(points: Points) -> Points:
    """Return the tangents at the inner places of the circles through each three neighbours."""
    before, after = points[1:-1] - points[:-2], points[2:] - points[1:-1]
    across = points[2:] - points[:-2]
    found = before * after / across
    return np.asarray(found / np.abs(found))


def _biarc(a: complex, b: complex, one: complex, other: complex) -> Iterator[Piece]:
    across, both = b - a, one + other
    cross = (np.conj(across) * both).real
    square = 2 * (1 - (np.conj(one) * other).real)
    if square < 1e-12:
        reach = abs(across) ** 2 / (2 * cross) if abs(cross) > 0 else abs(across) / 2
    else:
        reach = (-cross + np.sqrt(cross**2 + square * abs(across) ** 2)) / square
    middle = (a + reach * one + b - reach * other) / 2
    for start, end, turn in (
        (a, middle, 2 * np.angle((middle - a) / one)),
        (middle, b, 2 * np.angle(other / (b - middle))),
    ):
        yield Piece(start, end, 0.0 if abs(turn) < TOUCH else float(turn))


def meetings(first: Piece, second: Piece) -> list[complex]:
    """Return the places that two pieces have in common; overlapping ones are not told.

    Parameters
    ----------
    first, second : Piece
        Lines or arcs.

    Returns
    -------
    list of complex
        [m].
    """
    one, other = _moved(first, 0.0), _moved(second, 0.0)
    lines = isinstance(one[1], complex), isinstance(other[1], complex)
    size = max(first.length, second.length)
    if all(lines):
        met = _meeting(one, other, first.start)
        found = [] if met is None else [met]
    elif any(lines):
        line, circle = (one, other) if lines[0] else (other, one)
        found = _line_and_circle(line[0], complex(line[1]), circle[0], abs(circle[1]))
    else:
        found = _two_circles(one[0], abs(one[1]), other[0], abs(other[1]))
    return [place for place in found if all(distance_to(p, place) < TOUCH * size for p in (first, second))]


def distance_to(piece: Piece, place: complex) -> float:
    """Return the distance of a place from a piece [m].

    Parameters
    ----------
    piece : Piece
    place : complex
        [m].

    Returns
    -------
    float
        [m].
    """
    return float(abs(piece.at(piece.nearest(np.array([place])))[0] - place))


def boxes(pieces: Sequence[Piece]) -> Floats:
    """Return the boxes that hold pieces, ``(n, 4)``: least and greatest of both coordinates.

    Parameters
    ----------
    pieces : sequence of Piece
        Lines or arcs.

    Returns
    -------
    ndarray
        [m].
    """
    rows = []
    for piece in pieces:
        places = [piece.start, piece.end]
        if piece.turn:
            centre, spoke = piece.centre, piece.start - piece.centre
            low, high = sorted((float(np.angle(spoke)), float(np.angle(spoke)) + piece.turn))
            quarters = range(int(np.ceil(low / (np.pi / 2))), int(np.floor(high / (np.pi / 2))) + 1)
            places += [centre + piece.radius * 1j**quarter for quarter in quarters]
        x, y = [place.real for place in places], [place.imag for place in places]
        rows.append((min(x), max(x), min(y), max(y)))
    return np.array(rows)


def nearest_places(first: Sequence[Piece], second: Sequence[Piece]) -> tuple[float, complex, complex]:
    """Return the shortest distance of two chains of pieces [m] and the two places, by a grid that narrows.

    Parameters
    ----------
    first, second : sequence of Piece
        Two chains.

    Returns
    -------
    tuple
        Distance and places [m].
    """
    best = (np.inf, 0j, 0j)
    shares = np.linspace(0.0, 1.0, 33)
    for one in first:
        samples = one.at(shares)
        for other in second:
            away = np.abs(samples - other.at(other.nearest(samples)))
            if away.min() - one.length / 64 < best[0]:
                best = min(best, _settle(one, other), key=lambda found: found[0])
    return best


def _settle(first: Piece, second: Piece) -> tuple[float, complex, complex]:
    low, high = 0.0, 1.0
    for _ in range(12):
        shares = np.linspace(low, high, 33)
        places = first.at(shares)
        others = second.at(second.nearest(places))
        away = np.abs(places - others)
        index = int(np.argmin(away))
        low, high = shares[max(index - 1, 0)], shares[min(index + 1, 32)]
    return float(away[index]), complex(places[index]), complex(others[index])


def inside(pieces: Sequence[Piece], places: Points) -> np.ndarray:
    """Return whether places lie inside the area that closed pieces enclose, by how often a ray from them is passed.

    Parameters
    ----------
    pieces : sequence of Piece
        Closed.
    places : ndarray
        One-dimensional [m].

    Returns
    -------
    ndarray of bool
        One a place.
    """
    around = [piece.at(np.linspace(0.0, 1.0, 2 + int(abs(piece.turn) / 0.05)))[:-1] for piece in pieces]
    ring = np.concatenate([*around, around[0][:1]])[:, None]
    # how often the outline passes a place to the right on its way up, less on its way down
    x, y, above = places.real, places.imag, ring.imag > places.imag
    passed, place = np.nonzero(above[1:] != above[:-1])
    start = ring[passed, 0]
    step = ring[passed + 1, 0] - start
    left = (x[place] - start.real) * step.imag < step.real * (y[place] - start.imag)
    passes = np.bincount(place[left == above[passed + 1, place]], minlength=places.size)
    return np.asarray(passes % 2 == 1)
