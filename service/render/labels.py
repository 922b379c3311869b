"""Direct labels: where a text stands so that it covers neither another label nor a curve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from service.electrodes import FloatArray

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
"""Cost of a line that leads through another label."""

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


@dataclass
class Placer:
    """Places labels one after the other.

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
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)

    def place(self, wide: float, high: float, anchors: Sequence[tuple[float, float]]) -> Spot:
        """Return the best spot for a box and keep it free from then on.

        Parameters
        ----------
        wide, high : float
            Of the box.
        anchors : sequence of (x, y)
            Points at which it may stand, the best first.
        """
        spots = [
            (x, y, distance, x + across, y + down, rank)
            for rank, (x, y) in enumerate(anchors)
            for distance in DISTANCES
            for across, down in _offsets(wide, high, distance)
        ]
        table = np.array(spots)
        boxes = np.stack([table[:, 3], table[:, 4], table[:, 3] + wide, table[:, 4] + high], axis=1)
        starts = np.clip(table[:, :2], boxes[:, :2], boxes[:, 2:])
        led = table[:, 2] > NEAR
        cost = FAR * table[:, 2] + LATER * table[:, 5] + self._cost(boxes)
        cost += LED_THROUGH * led * self._led_through(starts, table[:, :2])
        best = int(np.argmin(cost))
        self.boxes.append((boxes[best, 0], boxes[best, 1], boxes[best, 2], boxes[best, 3]))
        x, y, _, left, top, _ = spots[best]
        if led[best]:
            line = dense(np.stack([starts[best], table[best, :2]]))
            self.points = np.concatenate([self.points.reshape(-1, 2), np.repeat(line, LINE_WEIGHT, axis=0)])
        return Spot(left, top, (x, y), bool(led[best]))

    def _led_through(self, starts: FloatArray, ends: FloatArray) -> FloatArray:
        """Return through how many labels the straight lines between points lead."""
        if not self.boxes:
            return np.zeros(len(starts))
        along = starts[:, None] + SAMPLES[None, :, None] * (ends - starts)[:, None]
        a, b, c, d = np.array(self.boxes).T
        x, y = along[:, :, :1], along[:, :, 1:]
        inside = (x > a - 2) & (x < c + 2) & (y > b) & (y < d)
        return np.asarray(inside.any(axis=1).sum(axis=1), dtype=np.float64)

    def _cost(self, boxes: FloatArray) -> FloatArray:
        out = (boxes[:, 0] < self.left) | (boxes[:, 1] < self.top)
        out |= (boxes[:, 2] > self.right) | (boxes[:, 3] > self.bottom)
        cost = OUTSIDE * out.astype(np.float64)
        if self.points.size:
            x, y = self.points[:, 0], self.points[:, 1]
            inside = (x > boxes[:, :1] - 2) & (x < boxes[:, 2:3] + 2) & (y > boxes[:, 1:2]) & (y < boxes[:, 3:4])
            cost += CROSSED * inside.sum(axis=1)
        if self.boxes:
            a, b, c, d = np.array(self.boxes).T
            clear = (a > boxes[:, 2:3] + 3) | (c < boxes[:, :1] - 3) | (b > boxes[:, 3:4]) | (d < boxes[:, 1:2])
            cost += COVERED * (~clear).sum(axis=1)
        return cost


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
