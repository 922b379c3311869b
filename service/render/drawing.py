"""Electrodes to scale: the sketch of an arrangement with its dimensions, and the section of drawn conductors.

Metal is grey. Beside a sketch stands a column of labels; a section has lines of equal potential, the critical line, the
shortest distance and a scale.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from service.answers.figure import Section
from service.methods.drawing import Drawing
from service.render.canvas import LEADING, Canvas, DrawnPath, coordinate, measure, polyline, strokes
from service.render.labels import spread
from service.render.layout import wrap

SKETCH_HEIGHT = 260.0
"""Height of a drawing."""
SKETCH_LETTERS = 12.5
ASIDE, NARROW = 190.0, 120.0
"""Width of the column of labels, and in a narrow picture."""
BETWEEN = 16.0
"""From the drawing to the labels."""
TICK = 4.0
CLOSE = 0.6
"""Points closer together than this are drawn as one."""


def draw_drawing(canvas: Canvas, drawing: Drawing) -> None:
    """Draw electrodes, and move below them."""
    aside = ASIDE if canvas.room > 2.4 * ASIDE else NARROW
    half, low, high = drawing.reach
    scale = min((canvas.room - aside - BETWEEN) / (2 * half), SKETCH_HEIGHT / (high - low))
    wide, tall = 2 * half * scale, (high - low) * scale
    left = canvas.margin + max(0.0, (canvas.room - aside - BETWEEN - wide) / 2)
    room = aside if left + wide + BETWEEN + aside <= canvas.width - canvas.margin else NARROW
    lettered = sum(_height(_lines(label, room)) for label in drawing.labels)
    canvas.y += max(0.0, lettered - tall) / 2
    frame = (left, canvas.y, left + wide, canvas.y + tall)

    def at(places: np.ndarray) -> np.ndarray:
        return np.stack([left + scale * (places.real + half), frame[1] + scale * (high - places.imag)], axis=-1)

    for metal in drawing.metals:
        _sketched_metal(canvas, at(metal.places), frame, solid=metal.solid, vague=metal.vague)
    if drawing.cut:
        framed_by(canvas, frame)
    lines = [at(np.array([one.start, one.end])) for one in drawing.dimensions]
    shown = [clipped(line, frame, closed=False) for line in lines]
    for line, part in zip(lines, shown, strict=True):
        _dimension(canvas, line, part)
    _labels(canvas, list(zip(drawing.labels, shown, strict=True)), frame, aside)
    canvas.y = frame[3] + max(16.0 if drawing.earthed else 4.0, (lettered - tall) / 2)
    if drawing.earthed:
        _earth(canvas, (frame[0] + frame[2]) / 2, frame[3])
    for remark in _remarks(drawing):
        canvas.paragraph(remark, SKETCH_LETTERS - 1, "soft")


def _remarks(drawing: Drawing) -> Iterator[str]:
    if drawing.cut:
        yield "Only what lies near the gap is shown; the frame cuts the electrodes off."
    yield from drawing.remarks


def _sketched_metal(canvas: Canvas, points: np.ndarray, frame: Frame, *, solid: bool, vague: bool) -> None:
    dashes = "5 4" if vague else ""
    if not solid:
        closed = np.vstack([points, points[:1]])
        for piece in _pieces(closed, frame):
            canvas.path(_thinned(piece), "soft" if vague else "ink", 1.0 if vague else 3.0, dashes)
        return
    inner = clipped(points, frame, closed=True)
    if len(inner) > 2:
        canvas.items.append(DrawnPath(f"{polyline(_thinned(inner))}z", "rule", "ink", 1.2, dashes=dashes))


def _pieces(points: np.ndarray, frame: Frame) -> Iterator[np.ndarray]:
    """Yield what of a line lies within the frame, each stretch by itself."""
    stretch: list[np.ndarray] = []
    for pair in (points[k : k + 2] for k in range(len(points) - 1)):
        part = clipped(pair, frame, closed=False)
        if len(part) < 2:
            if stretch:
                yield np.array(stretch)
            stretch = []
            continue
        stretch = stretch or [part[0]]
        stretch.append(part[1])
    if stretch:
        yield np.array(stretch)


def _thinned(points: np.ndarray) -> list[tuple[float, float]]:
    kept: list[tuple[float, float]] = []
    for x, y in points.tolist():
        if not kept or abs(x - kept[-1][0]) + abs(y - kept[-1][1]) >= CLOSE:
            kept.append((x, y))
    return kept


def _dimension(canvas: Canvas, line: np.ndarray, part: np.ndarray) -> None:
    """Draw a dimension line; a tick stands at an end that the frame does not cut off."""
    if len(part) < 2:
        return
    canvas.path([(float(x), float(y)) for x, y in part], "accent", 1.5)
    along = line[1] - line[0]
    across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-9) * TICK
    for end, shown in zip(line, (part[0], part[-1]), strict=True):
        if np.allclose(end, shown, atol=0.5):
            canvas.path([tuple(end - across), tuple(end + across)], "accent", 1.5)


def _labels(canvas: Canvas, wanted: list[tuple[str, np.ndarray]], frame: Frame, aside: float) -> None:
    """Set the labels beside the drawing, each with a thin line to what it names."""
    start = frame[2] + BETWEEN
    texts = [_lines(label, min(aside, canvas.width - canvas.margin - start)) for label, _ in wanted]
    anchors = [_anchor(part, frame) for _, part in wanted]
    highs = [_height(lines) for lines in texts]
    spare = max(0.0, sum(highs) - frame[3] + frame[1]) / 2
    middles = spread([y for _, y in anchors], highs, frame[1] - spare, frame[3] + spare)
    for (x, y), lines, middle, (_, part) in zip(anchors, texts, middles, wanted, strict=True):
        if len(part) >= 2:
            canvas.path([(x, y), (frame[2] + 2, middle), (start - 3, middle)], "accent", 0.7)
        top = middle - len(lines) * SKETCH_LETTERS * LEADING / 2
        for place, words in enumerate(lines):
            canvas.text(
                start,
                top + SKETCH_LETTERS + place * SKETCH_LETTERS * LEADING,
                words,
                SKETCH_LETTERS,
                "accent",
                bold=True,
            )


def _lines(label: str, room: float) -> list[str]:
    return wrap(label, room, measure(SKETCH_LETTERS, bold=True))


def _height(lines: list[str]) -> float:
    return len(lines) * SKETCH_LETTERS * LEADING + 4


def _anchor(part: np.ndarray, frame: Frame) -> tuple[float, float]:
    if len(part) < 2:
        return frame[2], frame[1]
    level = abs(part[0][1] - part[-1][1]) < abs(part[0][0] - part[-1][0])
    share = 0.8 if level else 0.5
    x, y = part[0] + share * (part[-1] - part[0])
    return float(x), float(y)


def _earth(canvas: Canvas, x: float, top: float) -> None:
    """Draw the sign of earth under the lower electrode."""
    canvas.line(x, top, x, top + 5, "ink", 1.2)
    for step, half in enumerate((9, 6, 3)):
        canvas.line(x - half, top + 5 + 3 * step, x + half, top + 5 + 3 * step, "ink", 1.2)


SECTION_HEIGHT = 380.0
"""Height of the drawing."""
SECTION_LETTERS = 12.0


def draw_section(canvas: Canvas, section: Section) -> None:
    """Draw a section, and move below it."""
    low_x, high_x, low_y, high_y = section.window
    scale = min(canvas.room / (high_x - low_x), SECTION_HEIGHT / (high_y - low_y))
    wide, high = scale * (high_x - low_x), scale * (high_y - low_y)
    left, top = (canvas.width - wide) / 2, canvas.y
    frame = (left, top, left + wide, top + high)

    def at(places: np.ndarray) -> np.ndarray:
        return np.stack([left + scale * (places.real - low_x), top + scale * (high_y - places.imag)], axis=-1)

    canvas.box(left, top, wide, high, "paper")
    for level in section.levels:
        path = strokes(at(crossings(section, float(level))))
        if path:
            canvas.items.append(DrawnPath(path, "", "soft", 0.8, opacity=0.75))
    if section.plane and low_y < 0 < high_y:
        ground = top + scale * high_y
        canvas.box(left, ground, wide, top + high - ground, "rule")
        canvas.line(left, ground, left + wide, ground, "ink", 1.5)
    for (solid, places), name in zip(section.metals, section.names, strict=True):
        for side in (places, -np.conj(places)) if section.mirrored else (places,):
            _cut_metal(canvas, at(side), frame, solid=solid)
        _named(canvas, at(places), name, frame)
    if section.mirrored and low_x < 0 < high_x:
        middle = left - scale * low_x
        canvas.line(middle, top, middle, top + high, "soft", 0.7, "8 3 2 3")
    if section.shortest.size:
        _stroke(canvas, at(section.shortest), frame, "ink", 1.2, "4 3")
    _stroke(canvas, at(section.line), frame, "accent", 2.6)
    framed_by(canvas, frame)
    _ruler(canvas, scale, frame)
    canvas.y = top + high + 26


def crossings(section: Section, level: float) -> np.ndarray:
    """Return the ends of the pieces of a line of equal potential, ``(pieces, 2)``, one a triangle of the grid."""
    x, y, value = section.x, section.y, section.potential - level
    a, b, c, d = (
        (slice(None, -1), slice(None, -1)),
        (slice(None, -1), slice(1, None)),
        (slice(1, None), slice(1, None)),
        (slice(1, None), slice(None, -1)),
    )
    below = value < 0
    rows, columns = np.nonzero((below[a] != below[c]) | (below[b] != below[a]) | (below[d] != below[a]))
    corners = {
        one: (x[columns + right] + 1j * y[rows + down], value[rows + down, columns + right])
        for one, down, right in (("a", 0, 0), ("b", 0, 1), ("c", 1, 1), ("d", 1, 0))
    }
    found = [_in_triangles([corners[one] for one in names]) for names in ("abc", "acd")]
    return np.concatenate(found)


def _in_triangles(corners: list[tuple[np.ndarray, np.ndarray]]) -> np.ndarray:
    places, values = zip(*corners, strict=True)
    sides, cut = [], []
    for i, j in ((0, 1), (1, 2), (2, 0)):
        with np.errstate(all="ignore"):
            share = values[i] / (values[i] - values[j])
            sides.append(places[i] + share * (places[j] - places[i]))
        cut.append((values[i] < 0) != (values[j] < 0))
    known = np.all([np.isfinite(one) for one in values], axis=0)
    pieces = []
    for one, other in ((0, 1), (1, 2), (2, 0)):
        both = cut[one] & cut[other] & known
        pieces.append(np.stack([sides[one][both], sides[other][both]], axis=-1))
    return np.concatenate(pieces)


Frame = tuple[float, float, float, float]


def clipped(points: np.ndarray, frame: Frame, *, closed: bool) -> np.ndarray:
    """Return points of a polygon cut to the frame, side by side."""
    left, top, right, bottom = frame
    kept: list[list[float]] = points.tolist()
    for axis, bound, sign in ((0, left, 1), (0, right, -1), (1, top, 1), (1, bottom, -1)):
        inner = [sign * (point[axis] - bound) >= 0 for point in kept]
        if not all(inner):
            kept = list(_kept(kept, inner, axis, bound, closed=closed))
    return np.array(kept).reshape(-1, 2)


def _kept(
    points: list[list[float]], inner: list[bool], axis: int, bound: float, *, closed: bool
) -> Iterator[list[float]]:
    """Yield points of a polygon on one side of a bound."""
    count = len(points)
    for k in range(count if closed else count - 1):
        a, b, following = points[k], points[(k + 1) % count], inner[(k + 1) % count]
        if inner[k]:
            yield a
        if inner[k] != following:
            yield [
                one + (other - one) * (bound - a[axis]) / (b[axis] - a[axis]) for one, other in zip(a, b, strict=True)
            ]
    if not closed and inner[-1]:
        yield points[-1]


def _cut_metal(canvas: Canvas, points: np.ndarray, frame: Frame, *, solid: bool) -> None:
    if not solid:
        _stroke(canvas, points, frame, "ink", 2.2)
        return
    inner = clipped(points, frame, closed=True)
    if len(inner) > 2:
        canvas.items.append(DrawnPath(f"{polyline(inner.tolist())}z", "rule", "ink", 1.2))


def _stroke(canvas: Canvas, points: np.ndarray, frame: Frame, role: str, thickness: float, dashes: str = "") -> None:
    inner = clipped(points, frame, closed=False)
    if len(inner) > 1:
        canvas.path(inner.tolist(), role, thickness, dashes)


def _named(canvas: Canvas, points: np.ndarray, name: str, frame: Frame) -> None:
    inner = clipped(points, frame, closed=True)
    if not len(inner):
        return
    x = float(inner[:, 0].mean())
    y = float(inner[:, 1].mean())
    x, y = min(max(x, frame[0] + 24), frame[2] - 40), min(max(y, frame[1] + 14), frame[3] - 8)
    canvas.text(x, y + SECTION_LETTERS / 3, name[:24], SECTION_LETTERS, "ink", "middle", bold=True)


def framed_by(canvas: Canvas, frame: Frame) -> None:
    """Draw a thin frame."""
    left, top, right, bottom = frame
    path = f"M{coordinate(left)} {coordinate(top)}H{coordinate(right)}V{coordinate(bottom)}H{coordinate(left)}z"
    canvas.items.append(DrawnPath(path, "", "rule", 1.0))


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
    canvas.text(end + 8, y + SECTION_LETTERS / 3, words, SECTION_LETTERS)
