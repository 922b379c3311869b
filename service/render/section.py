"""A section of conductors: metal, lines of equal potential, the critical line, the shortest distance and a scale."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from service.answers.figure import Section
from service.render.canvas import Canvas, Shape, number, polyline

HIGH = 380.0
"""Height of the drawing."""
LABEL = 12.0


def draw_section(canvas: Canvas, section: Section) -> None:
    """Draw a section, and move below it.

    Parameters
    ----------
    canvas : Canvas
    section : Section
    """
    low_x, high_x, low_y, high_y = section.window
    scale = min(canvas.room / (high_x - low_x), HIGH / (high_y - low_y))
    wide, high = scale * (high_x - low_x), scale * (high_y - low_y)
    left, top = (canvas.width - wide) / 2, canvas.y
    frame = (left, top, left + wide, top + high)

    def at(places: np.ndarray) -> np.ndarray:
        return np.stack([left + scale * (places.real - low_x), top + scale * (high_y - places.imag)], axis=-1)

    canvas.box(left, top, wide, high, "paper")
    for level in section.levels:
        path = "".join(
            f"M{number(a[0])} {number(a[1])}L{number(b[0])} {number(b[1])}"
            for a, b in (at(np.array(pair)) for pair in crossings(section, float(level)))
        )
        if path:
            canvas.items.append(Shape(path, "", "soft", 0.8, opacity=0.75))
    if section.plane and low_y < 0 < high_y:
        ground = top + scale * high_y
        canvas.box(left, ground, wide, top + high - ground, "rule")
        canvas.line(left, ground, left + wide, ground, "ink", 1.5)
    for (solid, places), name in zip(section.metals, section.names, strict=True):
        for side in (places, -np.conj(places)) if section.mirrored else (places,):
            _metal(canvas, at(side), frame, solid=solid)
        _name(canvas, at(places), name, frame)
    if section.mirrored and low_x < 0 < high_x:
        middle = left - scale * low_x
        canvas.line(middle, top, middle, top + high, "soft", 0.7, "8 3 2 3")
    if section.shortest.size:
        _stroke(canvas, at(section.shortest), frame, "ink", 1.2, "4 3")
    _stroke(canvas, at(section.line), frame, "accent", 2.6)
    framed_by(canvas, frame)
    _ruler(canvas, scale, frame)
    canvas.y = top + high + 26


def crossings(section: Section, level: float) -> Iterator[tuple[complex, complex]]:
    """Yield the pieces of a line of equal potential, one a triangle of the grid.

    Parameters
    ----------
    section : Section
    level : float
    """
    x, y, value = section.x, section.y, section.potential - level
    places = x[None, :] + 1j * y[:, None]
    a, b, c, d = (
        (places[rows, columns], value[rows, columns])
        for rows, columns in (
            (slice(None, -1), slice(None, -1)),
            (slice(None, -1), slice(1, None)),
            (slice(1, None), slice(1, None)),
            (slice(1, None), slice(None, -1)),
        )
    )
    for corners in ((a, b, c), (a, c, d)):
        yield from _in_triangles([one[0].ravel() for one in corners], [one[1].ravel() for one in corners])


def _in_triangles(places: list[np.ndarray], values: list[np.ndarray]) -> Iterator[tuple[complex, complex]]:
    sides, cut = [], []
    for i, j in ((0, 1), (1, 2), (2, 0)):
        with np.errstate(all="ignore"):
            share = values[i] / (values[i] - values[j])
            sides.append(places[i] + share * (places[j] - places[i]))
        cut.append((values[i] < 0) != (values[j] < 0))
    known = np.all([np.isfinite(one) for one in values], axis=0)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        for k in np.flatnonzero(cut[one] & cut[other] & known):
            yield complex(sides[one][k]), complex(sides[other][k])


Frame = tuple[float, float, float, float]


def clipped(points: np.ndarray, frame: Frame, *, closed: bool) -> np.ndarray:
    """Return points of a polygon cut to the frame, side by side."""
    left, top, right, bottom = frame
    for axis, bound, sign in ((0, left, 1), (0, right, -1), (1, top, 1), (1, bottom, -1)):
        kept: list[np.ndarray] = []
        count = len(points)
        for k in range(count if closed else count - 1):
            a, b = points[k], points[(k + 1) % count]
            inner_a, inner_b = sign * (a[axis] - bound) >= 0, sign * (b[axis] - bound) >= 0
            if inner_a:
                kept.append(a)
            if inner_a != inner_b:
                kept.append(a + (b - a) * (bound - a[axis]) / (b[axis] - a[axis]))
        if not closed and count and sign * (points[-1][axis] - bound) >= 0:
            kept.append(points[-1])
        points = np.array(kept).reshape(-1, 2)
        if not len(points):
            break
    return points


def _metal(canvas: Canvas, points: np.ndarray, frame: Frame, *, solid: bool) -> None:
    if not solid:
        _stroke(canvas, points, frame, "ink", 2.2)
        return
    inner = clipped(points, frame, closed=True)
    if len(inner) > 2:
        canvas.items.append(Shape(f"{polyline([(x, y) for x, y in inner])}z", "rule", "ink", 1.2))


def _stroke(canvas: Canvas, points: np.ndarray, frame: Frame, role: str, thickness: float, dashes: str = "") -> None:
    inner = clipped(points, frame, closed=False)
    if len(inner) > 1:
        canvas.path([(x, y) for x, y in inner], role, thickness, dashes)


def _name(canvas: Canvas, points: np.ndarray, name: str, frame: Frame) -> None:
    inner = clipped(points, frame, closed=True)
    if not len(inner):
        return
    x = float(inner[:, 0].mean())
    y = float(inner[:, 1].mean())
    x, y = min(max(x, frame[0] + 24), frame[2] - 40), min(max(y, frame[1] + 14), frame[3] - 8)
    canvas.text(x, y + LABEL / 3, name[:24], LABEL, "ink", "middle", bold=True)


def framed_by(canvas: Canvas, frame: Frame) -> None:
    """Draw a thin frame."""
    left, top, right, bottom = frame
    path = f"M{number(left)} {number(top)}H{number(right)}V{number(bottom)}H{number(left)}z"
    canvas.items.append(Shape(path, "", "rule", 1.0))


def _ruler(canvas: Canvas, scale: float, frame: Frame) -> None:
    """Draw a bar of a round length under the frame."""
    wanted = (frame[2] - frame[0]) / scale / 4
    power = 10.0 ** math.floor(math.log10(wanted))
    length = max(step * power for step in (1, 2, 5) if step * power <= wanted)
    y = frame[3] + 10
    start = frame[0]
    end = start + scale * length
    for place in (start, end):
        canvas.line(place, y - 3, place, y + 3, "ink")
    canvas.line(start, y, end, y, "ink", 1.5)
    words = f"{length:g} mm" if length < 1000 else f"{length / 1000:g} m"
    canvas.text(end + 8, y + LABEL / 3, words, LABEL)
