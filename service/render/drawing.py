"""Electrodes to scale with their dimension lines: metal in grey, labels in a column beside it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service.methods.drawing import Drawing
from service.render.canvas import LEADING, Canvas, Shape, measure, polyline
from service.render.labels import spread
from service.render.layout import wrap
from service.render.section import Frame, clipped, framed_by

HIGH = 260.0
"""Height of a drawing."""
LABEL = 12.5
ASIDE, NARROW = 190.0, 120.0
"""Width of the column of labels, and in a narrow picture."""
BETWEEN = 16.0
"""From the drawing to the labels."""
TICK = 4.0
CLOSE = 0.6
"""Points closer together than this are drawn as one."""


def draw_drawing(canvas: Canvas, drawing: Drawing) -> None:
    """Draw electrodes, and move below them.

    Parameters
    ----------
    canvas : Canvas
    drawing : Drawing
    """
    aside = ASIDE if canvas.room > 2.4 * ASIDE else NARROW
    half, low, high = drawing.reach
    scale = min((canvas.room - aside - BETWEEN) / (2 * half), HIGH / (high - low))
    wide, tall = 2 * half * scale, (high - low) * scale
    left = canvas.margin + max(0.0, (canvas.room - aside - BETWEEN - wide) / 2)
    room = aside if left + wide + BETWEEN + aside <= canvas.width - canvas.margin else NARROW
    lettered = sum(_height(_lines(label, room)) for label in drawing.labels)
    canvas.y += max(0.0, lettered - tall) / 2
    frame = (left, canvas.y, left + wide, canvas.y + tall)

    def at(places: np.ndarray) -> np.ndarray:
        return np.stack([left + scale * (places.real + half), frame[1] + scale * (high - places.imag)], axis=-1)

    for metal in drawing.metals:
        _metal(canvas, at(metal.places), frame, solid=metal.solid, vague=metal.vague)
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
        canvas.paragraph(remark, LABEL - 1, "soft")


def _remarks(drawing: Drawing) -> Iterator[str]:
    if drawing.cut:
        yield "Only what lies near the gap is shown; the frame cuts the electrodes off."
    yield from drawing.remarks


def _metal(canvas: Canvas, points: np.ndarray, frame: Frame, *, solid: bool, vague: bool) -> None:
    dashes = "5 4" if vague else ""
    if not solid:
        closed = np.vstack([points, points[:1]])
        for piece in _pieces(closed, frame):
            canvas.path(_thinned(piece), "soft" if vague else "ink", 1.0 if vague else 3.0, dashes)
        return
    inner = clipped(points, frame, closed=True)
    if len(inner) > 2:
        canvas.items.append(Shape(f"{polyline(_thinned(inner))}z", "rule", "ink", 1.2, dashes=dashes))


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
        top = middle - len(lines) * LABEL * LEADING / 2
        for place, words in enumerate(lines):
            canvas.text(start, top + LABEL + place * LABEL * LEADING, words, LABEL, "accent", bold=True)


def _lines(label: str, room: float) -> list[str]:
    return wrap(label, room, measure(LABEL, bold=True))


def _height(lines: list[str]) -> float:
    return len(lines) * LABEL * LEADING + 4


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
