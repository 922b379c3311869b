"""Direct labels: where a text stands so that it covers neither another label nor a curve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from service.methods import FloatArray

SIDES = (0.5, 0.0, 1.0)
"""Which part of a label's side stands at its point, left or right of it."""

ENDS = (0.5, 0.0, 1.0, 0.25, 0.75)
"""Which part of its length stands above or below its point."""

SLANTS = (0.4, 1.0, 2.0)
"""How far aside of its point a label that is led to may stand, in parts of its distance."""

DISTANCES = (7.0, 14.0, 24.0, 38.0, 60.0, 90.0, 130.0)
NEAR = 10.0
"""From this distance a line leads from the label to its point."""

COVERED, FAR, LATER, OUTSIDE, CROSSED = 1e4, 0.3, 4.0, 1e6, 10.0
"""Cost of covering a label, per unit of distance, per further anchor, of leaving the picture, per covered point."""

LED_THROUGH = 1e3
"""Cost of a line that leads through another label or another's mark."""

MARK = 7.0
"""How near a line may not come to another's mark."""

MANY = 8
"""Labels of which all orders are tried."""

FEW = 40
"""Of the spots of a label, the cheapest that are tried first."""

SAMPLES = np.linspace(0.0, 1.0, 25)
"""Where on such a line it is looked."""

LINE_WEIGHT = 4
"""How often a line to a label counts among what should not be covered."""

STEP = 3.0
"""Distance of the points that stand for a curve."""


@dataclass(frozen=True)
class Spot:
    """Where a label stands.

    Parameters
    ----------
    left, top : float
        Of its box.
    anchor : tuple of float
        The point it belongs to.
    far : bool
        Whether a line has to lead there.
    """

    left: float
    top: float
    anchor: tuple[float, float]
    far: bool


@dataclass(frozen=True)
class Label:
    """A box that wants a place.

    Parameters
    ----------
    wide, high : float
        Its size.
    anchors : sequence of (x, y)
        Points at which it may stand, the best first.
    """

    wide: float
    high: float
    anchors: Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Candidates:
    """Where a label may stand, one spot per row.

    Parameters
    ----------
    boxes : ndarray, shape (n, 4)
        Left, top, right and bottom.
    anchors, starts : ndarray, shape (n, 2)
        The point that the label belongs to, and where a line to it would begin.
    led : ndarray, shape (n,)
        Whether there is such a line.
    near, out : ndarray, shape (n,)
        What each costs by its distance and its anchor, and for leaving the picture.
    crowd : Crowd
        What should not be covered.
    marks : ndarray, shape (n, 2)
        Points that a line should not touch.
    """

    boxes: FloatArray
    anchors: FloatArray
    starts: FloatArray
    led: NDArray[np.bool_]
    near: FloatArray
    out: FloatArray
    crowd: Crowd
    marks: FloatArray

    @cached_property
    def _known(self) -> FloatArray:
        """What each costs whatever the other labels do, as far as it was asked; else NaN."""
        return np.full(len(self.near), np.nan)

    def _alone(self, some: NDArray[np.intp]) -> FloatArray:
        """Return what some of the spots cost whatever the other labels do."""
        new = some[np.isnan(self._known[some])]
        if new.size:
            led = self.led[new]
            touched = _where(led, _marks_met(self.starts[new[led]], self.anchors[new[led]], self.marks))
            covering = self.near[new] + CROSSED * self.crowd.covered(self.boxes[new])
            self._known[new] = covering + (self.out[new] + LED_THROUGH * touched)
        return self._known[some]

    def best(self, standing: FloatArray, lines: Crowd) -> tuple[int, float]:
        """Return the spot that costs least beside boxes that stand already and the lines to them, and what it costs.

        What those cost is added where a spot may still be the best: the cheapest are tried first.
        """
        over = COVERED * _overlapping(self.boxes, standing) if len(standing) else np.zeros(len(self.boxes))
        least = self.near + self.out + over
        order, found = np.argsort(least), np.full(len(least), np.inf)
        begin, count = 0, FEW
        while begin < len(order) and least[order[begin]] <= found.min():
            some = order[begin : begin + count]
            found[some] = self._alone(some) + over[some] + self._crossed(some, standing, lines)
            begin, count = begin + count, 2 * count
        best = int(np.argmin(found))
        return best, float(found[best])

    def _crossed(self, some: NDArray[np.intp], standing: FloatArray, lines: Crowd) -> FloatArray:
        """Return what it costs that some of the spots cover lines, and that lines to them cross boxes."""
        cost = CROSSED * LINE_WEIGHT * lines.covered(self.boxes[some]) if lines.x.size else np.zeros(len(some))
        led = self.led[some]
        if len(standing) and led.any():
            through = _labels_met(self.starts[some[led]], self.anchors[some[led]], standing)
            cost = cost + LED_THROUGH * _where(led, through)
        return cost


@dataclass(frozen=True)
class Crowd:
    """What should not be covered.

    Parameters
    ----------
    x, y : ndarray
        Different points, from above.
    times : ndarray
        How often each counts.
    """

    x: FloatArray
    y: FloatArray
    times: FloatArray

    @classmethod
    def of(cls, points: FloatArray) -> Crowd:
        """Return the crowd of points, some of which may stand at one place; shape (n, 2)."""
        ordered = points[np.lexsort(points.T)]
        first = np.flatnonzero(np.concatenate([[True], (ordered[1:] != ordered[:-1]).any(axis=1)])[: len(ordered)])
        times = np.diff(first, append=len(ordered)).astype(np.float64)
        return cls(ordered[first, 0], ordered[first, 1], times)

    def covered(self, boxes: FloatArray) -> FloatArray:
        """Return how many points each box covers; only those of its height are looked at, which are few."""
        first = np.searchsorted(self.y, boxes[:, 1], side="right")
        count = np.maximum(np.searchsorted(self.y, boxes[:, 3], side="left") - first, 0)
        box = np.repeat(np.arange(len(boxes)), count)
        point = np.arange(box.size) + np.repeat(first - (np.cumsum(count) - count), count)
        across = self.x[point]
        inside = (across > np.repeat(boxes[:, 0] - 2, count)) & (across < np.repeat(boxes[:, 2] + 2, count))
        return np.asarray(np.bincount(box[inside], self.times[point[inside]], len(boxes)), dtype=np.float64)


@dataclass(frozen=True)
class Placer:
    """Places labels that know of each other.

    Parameters
    ----------
    left, top, right, bottom : float
        Where labels may stand.
    points : ndarray, shape (n, 2)
        What should not be covered.
    boxes : list
        Left, top, right and bottom of what stands already.
    """

    left: float
    top: float
    right: float
    bottom: float
    points: FloatArray
    boxes: list[FloatArray] = field(default_factory=list)

    def place(self, labels: Sequence[Label]) -> list[Spot]:
        """Return the spots of labels, in whichever of a few orders of placing suits them best together.

        Notes
        -----
        The spots are kept free from then on.
        """
        marks = np.array([anchor for label in labels for anchor in label.anchors[:1]]).reshape(-1, 2)
        each = [self._candidates(label, marks) for label in labels]
        least, spots = np.inf, [0] * len(each)
        for order in _orders(labels):
            cost, found = self._trial(each, order, least)
            if cost < least:
                least, spots = cost, found
        chosen = [each[n] for n in range(len(labels))]
        self.boxes.extend(one.boxes[spot] for one, spot in zip(chosen, spots, strict=True))
        return [
            Spot(one.boxes[n, 0], one.boxes[n, 1], (one.anchors[n, 0], one.anchors[n, 1]), bool(one.led[n]))
            for one, n in zip(chosen, spots, strict=True)
        ]

    @cached_property
    def _crowd(self) -> Crowd:
        return Crowd.of(self.points)

    def _candidates(self, label: Label, marks: FloatArray) -> Candidates:
        each = [np.array(list(_offsets(label.wide, label.high, distance))) for distance in DISTANCES]
        around, far = np.concatenate(each), np.repeat(np.array(DISTANCES) > NEAR, [len(one) for one in each])
        asked, size = np.array(label.anchors).reshape(-1, 2), np.array([label.wide, label.high])
        anchors, rank = (np.repeat(one, len(around), axis=0) for one in (asked, np.arange(len(asked))))
        corners = (asked[:, None] + around).reshape(-1, 2)
        boxes = np.concatenate([corners, corners + size], axis=1)
        led = np.tile(far, len(asked))
        starts = np.clip(anchors, boxes[:, :2], boxes[:, 2:])
        near = FAR * np.hypot(*(anchors - starts).T) + LATER * rank
        out = (boxes[:, :2] < [self.left, self.top]) | (boxes[:, 2:] > [self.right, self.bottom])
        return Candidates(
            boxes, anchors, starts, led, near, np.where(out.any(axis=1), OUTSIDE, 0.0), self._crowd, marks
        )

    def _trial(self, each: Sequence[Candidates], order: Sequence[int], most: float) -> tuple[float, list[int]]:
        """Return what it costs to place labels in an order, and the spot of each; not all where it costs too much."""
        boxes, lines, whole, spots = list(self.boxes), np.empty((0, 2)), 0.0, [0] * len(each)
        for n in order:
            one = each[n]
            best, cost = one.best(np.array(boxes), Crowd.of(lines))
            spots[n] = best
            whole += cost
            if whole >= most:
                break
            boxes.append(one.boxes[best])
            if one.led[best]:
                lines = np.concatenate([lines, dense(np.stack([one.starts[best], one.anchors[best]]))])
        return whole, spots


def _where(some: NDArray[np.bool_], counts: FloatArray) -> FloatArray:
    """Return the counts of some rows, with nought for the others."""
    every = np.zeros(some.shape)
    every[some] = counts
    return every


def _overlapping(boxes: FloatArray, standing: FloatArray) -> FloatArray:
    """Return how many standing boxes each box overlaps."""
    a, b, c, d = standing.T
    clear = (a > boxes[:, 2:3] + 3) | (c < boxes[:, :1] - 3) | (b > boxes[:, 3:4]) | (d < boxes[:, 1:2])
    return np.asarray((~clear).sum(axis=1), dtype=np.float64)


def _along(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Return points along straight lines, shape (lines, points, 1, 2)."""
    return np.asarray(starts[:, None, None] + SAMPLES[:, None, None] * (ends - starts)[:, None, None])


def _labels_met(starts: FloatArray, ends: FloatArray, standing: FloatArray) -> FloatArray:
    """Return through how many standing boxes each line leads."""
    a, b, c, d = standing.T
    x, y = np.moveaxis(_along(starts, ends), -1, 0)
    inside = (x > a - 2) & (x < c + 2) & (y > b) & (y < d)
    return np.asarray(inside.any(axis=1).sum(axis=1), dtype=np.float64)


def _marks_met(starts: FloatArray, ends: FloatArray, marks: FloatArray) -> FloatArray:
    """Return how many marks other than its own each line touches; only those beside it are looked at closely."""
    low, high = np.minimum(starts, ends)[:, None] - MARK, np.maximum(starts, ends)[:, None] + MARK
    other = np.hypot(*np.moveaxis(ends[:, None] - marks, -1, 0)) > MARK
    line, mark = np.nonzero(other & ((marks > low) & (marks < high)).all(axis=2))
    along = _along(starts[line], ends[line])[:, :, 0] - marks[mark, None]
    touched = np.hypot(*np.moveaxis(along, -1, 0)).min(axis=1) < MARK
    return np.bincount(line[touched], minlength=len(starts)).astype(np.float64)


def _orders(labels: Sequence[Label]) -> list[list[int]]:
    """Return orders to try: as given, by the first anchor from left and from above, and all of these backwards.

    Many labels are tried as given and backwards only.
    """
    given = list(range(len(labels)))
    across = sorted(given, key=lambda n: labels[n].anchors[0][0])
    down = sorted(given, key=lambda n: labels[n].anchors[0][1])
    tried = (given, across, down) if len(labels) <= MANY else (given,)
    orders = {tuple(order) for one in tried for order in (one, one[::-1])}
    return sorted(map(list, orders))


def _offsets(wide: float, high: float, distance: float) -> Iterator[tuple[float, float]]:
    """Yield places of a box' corner about its point."""
    for part in SIDES:
        yield distance, -part * high
        yield -distance - wide, -part * high
    for part in ENDS:
        yield -part * wide, -distance - high
        yield -part * wide, distance
    for slant in SLANTS if distance > NEAR else ():
        for down in (-distance - high, distance):
            yield slant * distance, down
            yield -slant * distance - wide, down


def dense(points: FloatArray) -> FloatArray:
    """Return points along a line, close enough together that no label falls between them.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Corners of the line.
    """
    if len(points) < 2:
        return points
    lengths = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    at = np.arange(0.0, along[-1] + STEP, STEP)
    return np.stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])], axis=1)


def spread(wanted: Sequence[float], heights: Sequence[float], top: float, bottom: float) -> list[float]:
    """Return middles of boxes in one column that do not overlap, each as near as may be to where it is wanted.

    Parameters
    ----------
    wanted : sequence of float
        Wanted middles.
    heights : sequence of float
        Of the boxes.
    top, bottom : float
        Of the column.
    """
    order = sorted(range(len(wanted)), key=lambda place: wanted[place])
    found = list(wanted)
    edge = top
    for place in order:
        found[place] = max(found[place], edge + heights[place] / 2)
        edge = found[place] + heights[place] / 2
    edge = bottom
    for place in reversed(order):
        found[place] = min(found[place], edge - heights[place] / 2)
        edge = found[place] - heights[place] / 2
    return found
