"""The frame of a plot: scales, their ticks in decades or equal steps, grid, axis labels and labelled verticals."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from service.answers.figure import PlotAxis
from service.methods import FloatArray
from service.render.canvas import Canvas, Run, Text, measure
from service.render.clean import visible
from service.render.quantities import capital, number, trimmed
from service.spoken import printed
from service.units import ROUNDING

PAD = 0.03
"""Room beyond the outermost value, in parts of the scale."""

STEPS = 6
"""Wanted number of equal steps."""

PLAIN = (1e-3, 1e5)
"""Range of tick labels that are written without a power of ten."""


@dataclass(frozen=True)
class Scale:
    """From plotted numbers to places on the sheet.

    Parameters
    ----------
    low, high : float
        Ends of the scale, plotted numbers.
    start, end : float
        Their places.
    """

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool

    def place(self, value: float) -> float:
        """Return the place of a number."""
        low, high, at = (self._measure(one) for one in (self.low, self.high, value))
        return self.start + (at - low) / (high - low) * (self.end - self.start)

    def places(self, values: FloatArray) -> FloatArray:
        """Return the places of many numbers; what a logarithm cannot show is NaN."""
        with np.errstate(invalid="ignore", divide="ignore"):
            shown = np.log10(np.where(values > 0, values, np.nan)) if self.logarithmic else values
        low, high = self._measure(self.low), self._measure(self.high)
        return np.asarray(self.start + (shown - low) / (high - low) * (self.end - self.start))

    def _measure(self, value: float) -> float:
        return math.log10(value) if self.logarithmic else value

    def holds(self, value: float) -> bool:
        """Return whether a number lies on the scale."""
        slack = ROUNDING * (self.high - self.low)
        return self.low - slack <= value <= self.high + slack


@dataclass(frozen=True)
class Tick:
    """A tick, with its label or none."""

    value: float
    runs: tuple[Run, ...] = ()


def scale(
    values: Iterable[float] | FloatArray, start: float, end: float, *, logarithmic: bool, pad: float = PAD
) -> Scale:
    """Return a scale that holds every finite number, with a little room.

    Parameters
    ----------
    values : iterable of float or ndarray
        Everything that is drawn; on a logarithmic scale what is not positive is left out.
    start, end : float
        Places of its ends.
    pad : float
        Room beyond the outermost number, in parts of the scale.
    """
    given = np.fromiter(values, np.float64) if not isinstance(values, np.ndarray) else values
    shown = given[np.isfinite(given) & ((given > 0) | (not logarithmic))]
    low, high = (float(shown.min()), float(shown.max())) if shown.size else (1.0, 10.0)
    if logarithmic:
        room = max((high / low) ** pad, 1.001)
        low, high = low / room, high * room
        # a scale needs two labels to be read
        while len([tick for tick in _decade_ticks(low, high) if tick.runs]) < 2:
            low, high = low / 1.1, high * 1.1
    else:
        low = 0.0 if 0 <= low < 0.5 * high else low
        room = pad * ((high - low) or abs(high) or 1.0)
        low, high = low - (room if low else 0.0), high + room
    return Scale(low, high, start, end, logarithmic)


def ticks(on: Scale) -> Sequence[Tick]:
    """Return the ticks of a scale in rising order, the labelled ones among them.

    Examples
    --------
    >>> [tick.runs[0].text for tick in ticks(Scale(0.8, 120.0, 0.0, 1.0, True)) if tick.runs]
    ['1', '2', '5', '10', '20', '50', '100']
    """
    return _decade_ticks(on.low, on.high) if on.logarithmic else _equal_ticks(on.low, on.high)


def _decade_ticks(low: float, high: float) -> list[Tick]:
    decades = math.log10(high / low)
    labelled = (
        {1}
        if decades > 3.2
        else {1, 2, 5}
        if decades > 1.6
        else {1, 2, 3, 5}
        if decades > 0.9
        else {1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9}
    )
    if decades < 0.35:
        return _equal_ticks(low, high)
    steps = sorted({1, 2, 3, 4, 5, 6, 7, 8, 9} | labelled)
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    pairs = [(step, power) for power in powers for step in steps if low <= step * 10.0**power <= high]
    written = [step * 10.0**power for step, power in pairs if step in labelled]
    plain = all(PLAIN[0] * 0.999 <= value <= PLAIN[1] * 1.001 for value in written)
    return [
        Tick(step * 10.0**power, _decade_label(step, power, plain) if step in labelled else ()) for step, power in pairs
    ]


def _decade_label(step: float, power: int, plain: bool) -> tuple[Run, ...]:
    if plain:
        return (Run(number(float(f"{step}e{power}"))),)
    head = "10" if step == 1 else f"{step:g}·10"
    return (Run(head), _exponent(power))


def _equal_ticks(low: float, high: float) -> list[Tick]:
    raw = (high - low) / STEPS
    power = math.floor(math.log10(raw))
    step = next(one for one in (1, 2, 2.5, 5, 10) if one * 10.0**power >= raw * 0.999) * 10.0**power
    first, last = math.ceil(low / step - ROUNDING), math.floor(high / step + ROUNDING)
    return [Tick(place * step, _equal_label(place * step, power)) for place in range(first, last + 1)]


def _equal_label(value: float, power: int) -> tuple[Run, ...]:
    """Return a label with as many digits as a step of a power of ten needs, and one more for halves."""
    if PLAIN[0] <= 10.0**power and abs(value) <= 10 * PLAIN[1]:
        return (Run(trimmed(f"{value:.{max(1 - power, 0)}f}")),)
    digits = max(math.floor(math.log10(abs(value))) - power, 0) + 1 if value else 0
    mantissa, exponent = f"{value:.{digits}e}".split("e")
    return (Run(f"{trimmed(mantissa)}·10"), _exponent(int(exponent))) if value else (Run("0"),)


def _exponent(power: int) -> Run:
    return Run(str(power).replace("-", "−"), raised=True)


def axis_label(axis: PlotAxis) -> str:
    """Return an axis' quantity with its unit: ``Gap (mm)``."""
    name = capital(visible(axis.label))
    return f"{name} ({printed(visible(axis.unit))})" if axis.unit else name


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


def draw_x_axis(canvas: Canvas, plot: Plot, axis: PlotAxis) -> None:
    """Draw the horizontal axis, its grid, ticks and label, and move below them."""
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


def draw_y_axis(canvas: Canvas, plot: Plot, on: Scale, axis: PlotAxis, label_at: float) -> None:
    """Draw the vertical axis, its grid and ticks, and its label above it.

    Parameters
    ----------
    on : Scale
        The vertical scale.
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
    """Draw labelled verticals from their labels down to the axis."""
    for one in found:
        base = plot.top - 6 - one.row * ROW
        canvas.line(one.place, base + 3, one.place, plot.bottom, "accent", 1.5, "2 3")
    for one in found:
        base = plot.top - 6 - one.row * ROW
        wide = measure(TICK)(one.label)
        canvas.box(one.left - 2, base - TICK, wide + 4, TICK + 3, "paper")
        canvas.text(one.left, base, one.label, TICK, "accent")
