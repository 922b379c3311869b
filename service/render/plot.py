"""The frame of a plot: grid, ticks, axis labels, labelled verticals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.answers.figure import Axis
from service.render.axes import Scale, axis_label, ticks
from service.render.canvas import Canvas, Text, measure
from service.render.clean import visible

LABEL, TICK = 13.0, 12.0
"""Font sizes of axis labels and of tick labels."""

ROW = 16.0
"""Height of a row of labels above the plot."""

CLEAR = 8.0
"""Least room between two labels in a row."""


@dataclass(frozen=True)
class Plot:
    """Where a plot stands.

    Parameters
    ----------
    x : Scale
    top, bottom : float
    y : Scale, optional
        Bars have none.
    """

    x: Scale
    top: float
    bottom: float
    y: Scale | None = None

    @property
    def left(self) -> float:
        """Left end."""
        return self.x.start

    @property
    def right(self) -> float:
        """Right end."""
        return self.x.end


def tick_width(on: Scale) -> float:
    """Return the width of the widest tick label of a scale."""
    return max(Text(0, 0, tick.runs, TICK).width for tick in ticks(on))


def draw_x_axis(canvas: Canvas, plot: Plot, axis: Axis) -> None:
    """Draw the horizontal axis, its grid, ticks and label, and move below them.

    Parameters
    ----------
    canvas : Canvas
    plot : Plot
    axis : Axis
    """
    free = float("-inf")
    for tick in ticks(plot.x):
        place = plot.x.place(tick.value)
        if tick.runs:
            canvas.line(place, plot.top, place, plot.bottom, "grid")
        canvas.line(place, plot.bottom, place, plot.bottom + (5 if tick.runs else 3), "soft")
        label = Text(place, plot.bottom + 7 + TICK, tick.runs, TICK, "soft", "middle")
        if tick.runs and label.left > free + CLEAR and label.left + label.width < canvas.width - 4:
            canvas.items.append(label)
            free = label.left + label.width
    canvas.line(plot.left, plot.bottom, plot.right, plot.bottom, "soft")
    words = axis_label(axis)
    canvas.text((plot.left + plot.right) / 2, plot.bottom + 12 + TICK + LABEL, words, LABEL, anchor="middle")
    canvas.y = plot.bottom + 22 + TICK + LABEL


def draw_y_axis(canvas: Canvas, plot: Plot, on: Scale, axis: Axis, label_at: float) -> None:
    """Draw the vertical axis, its grid and ticks, and its label above it.

    Parameters
    ----------
    canvas : Canvas
    plot : Plot
    on : Scale
        The vertical scale.
    axis : Axis
    label_at : float
        Base line of the label.
    """
    free = float("inf")
    for tick in ticks(on):
        place = on.place(tick.value)
        if tick.runs:
            canvas.line(plot.left, place, plot.right, place, "grid")
        canvas.line(plot.left - (5 if tick.runs else 3), place, plot.left, place, "soft")
        if tick.runs and place + TICK < free:
            canvas.items.append(Text(plot.left - 8, place + 0.36 * TICK, tick.runs, TICK, "soft", "end"))
            free = place
    canvas.line(plot.left, plot.top, plot.left, plot.bottom, "soft")
    canvas.text(canvas.margin, label_at, axis_label(axis), LABEL)


@dataclass(frozen=True)
class Vertical:
    """A labelled vertical: its label, place, label's left end and row (0 is next to the plot)."""

    label: str
    place: float
    left: float
    row: int


def verticals(lines: Sequence[tuple[str, float]], on: Scale, right: float) -> list[Vertical]:
    """Return labelled verticals with their labels in as few rows as do not overlap.

    Parameters
    ----------
    lines : sequence of (label, number)
    on : Scale
    right : float
        Where labels end at the latest.
    """
    rows: list[list[tuple[float, float]]] = []
    found = []
    for label, value in sorted(lines, key=lambda line: line[1]):
        text, place = visible(label), on.place(value)
        wide = measure(TICK)(text)
        left = max(min(place - wide / 2, right - wide), on.start)
        row = next((n for n, taken in enumerate(rows) if _free(taken, left, left + wide)), len(rows))
        if row == len(rows):
            rows.append([])
        rows[row].append((left, left + wide))
        found.append(Vertical(text, place, left, row))
    return found


def _free(taken: list[tuple[float, float]], left: float, right: float) -> bool:
    return all(right + CLEAR < start or left - CLEAR > end for start, end in taken)


def draw_verticals(canvas: Canvas, plot: Plot, found: Sequence[Vertical]) -> None:
    """Draw labelled verticals from their labels down to the axis.

    Parameters
    ----------
    canvas : Canvas
    plot : Plot
    found : sequence of Vertical
    """
    for one in found:
        base = plot.top - 6 - one.row * ROW
        canvas.line(one.place, base + 3, one.place, plot.bottom, "accent", 1.5, "2 3")
    for one in found:
        base = plot.top - 6 - one.row * ROW
        wide = measure(TICK)(one.label)
        canvas.box(one.left - 2, base - TICK, wide + 4, TICK + 3, "paper")
        canvas.text(one.left, base, one.label, TICK, "accent")
