"""Plots: scales, ticks and frame, curves with bands and marks, labelled directly, and ranges as bars over one axis."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from service.answers.figure import Bar, Curve, Figure, Mark, PlotAxis
from service.methods import FloatArray
from service.render.canvas import CURVES, LEADING, Canvas, DrawnPath, Run, Text, coordinate, measure, polyline
from service.render.labels import Label, Placer, dense, spread
from service.render.layout import visible, wrap
from service.render.records import capital, number, trimmed
from service.spoken import in_words, printed, single
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


ROLES = (*CURVES, "ink", "accent", "soft")
"""Colours of curves, and those of letters where the curves are more."""
HEIGHT = 360.0
EDGE = 0.94
"""Part of the horizontal scale beyond which a curve is labelled beside the plot."""

BESIDE = 132.0
"""Most width of the labels beside the plot."""

CROWDED, HAIR = 500, 0.05
"""Points of a line from which on those nearer than this to what is left are left out; coordinates have tenths."""
BAND = 0.16
"""Opacity of a band."""


def draw_curves(canvas: Canvas, figure: Figure) -> None:
    """Draw a figure's curves, bands and marks, and move below them."""
    plot, y = _laid_out(canvas, figure)
    draw_x_axis(canvas, plot, figure.x)
    draw_y_axis(canvas, plot, y, figure.y, plot.top - 10 - _rows(figure, plot.x, canvas) * ROW)
    draw_verticals(canvas, plot, verticals(figure.lines, plot.x, canvas.width - canvas.margin))
    traces = [_trace(curve, role, plot.x, y) for curve, role in zip(figure.curves, _roles(figure.curves), strict=True)]
    for trace in traces:
        _draw_band(canvas, trace, plot.x, y)
    for trace in traces:
        for part in trace.parts:
            canvas.path([(px, py) for px, py in part], trace.role, 2, "6 4" if trace.curve.dashed else "")
    for mark in figure.marks:
        for px, py in _points(mark, plot.x, y):
            MARKS.get(mark.kind, _point)(canvas, px, py)
    _draw_labels(canvas, figure, plot, y, traces)
    if plot.x.logarithmic:
        places = (plot.left, plot.right, plot.top, plot.bottom)
        canvas.plotted = (*map(coordinate, places), f"{plot.x.low:.6g}", f"{plot.x.high:.6g}", figure.x.unit)


def _laid_out(canvas: Canvas, figure: Figure) -> tuple[Plot, Scale]:
    xs, ys = _shown(figure, "x"), _shown(figure, "y")
    rough = scale(ys, 1.0, 0.0, logarithmic=figure.y.logarithmic)
    left = canvas.margin + tick_width(rough) + 9
    beside = [_label_size(curve.label, BESIDE)[0] for curve in figure.curves if _ends_at_edge(curve, xs, figure)]
    right = canvas.width - canvas.margin - (max(beside) + 12 if beside else 4)
    x = scale(xs, left, right, logarithmic=figure.x.logarithmic, pad=0.008)
    top = canvas.y + 24 + _rows(figure, x, canvas) * ROW
    y = scale(ys, top + HEIGHT, top, logarithmic=figure.y.logarithmic)
    return Plot(x, top, top + HEIGHT, y), y


def _rows(figure: Figure, x: Scale, canvas: Canvas) -> int:
    found = verticals(figure.lines, x, canvas.width - canvas.margin)
    return max((one.row + 1 for one in found), default=0)


def _shown(figure: Figure, axis: str) -> FloatArray:
    """Return every number that a scale must hold."""
    found: list[ArrayLike] = []
    for curve in figure.curves:
        heights = [curve.y, *(bound for bound in (curve.low, curve.high) if bound is not None)]
        drawn = np.any([np.isfinite(one) for one in heights], axis=0)
        found += [curve.x[drawn]] if axis == "x" else heights
    found += [getattr(mark, axis) for mark in figure.marks]
    found += [[value for _, value in figure.lines]] if axis == "x" else []
    return np.concatenate([np.empty(0), *(np.ravel(np.asarray(one, dtype=np.float64)) for one in found)])


def _ends_at_edge(curve: Curve, xs: FloatArray, figure: Figure) -> bool:
    x = scale(xs, 0.0, 1.0, logarithmic=figure.x.logarithmic)
    ends = curve.x[np.isfinite(curve.y)]
    return bool(ends.size and np.nanmax(x.places(ends)) > EDGE)


def _roles(curves: Sequence[Curve]) -> list[str]:
    """Return a colour per curve; what shares the name before the first comma shares it."""
    names = list(dict.fromkeys(curve.label.split(",")[0] for curve in curves))
    return [ROLES[names.index(curve.label.split(",")[0]) % len(ROLES)] for curve in curves]


@dataclass(frozen=True)
class Trace:
    """A curve on the sheet: its colour and its unbroken parts, each an array of points."""

    curve: Curve
    role: str
    parts: list[FloatArray]


def _trace(curve: Curve, role: str, x: Scale, y: Scale) -> Trace:
    points = np.stack([x.places(curve.x), y.places(curve.y)], axis=1)
    return Trace(curve, role, [thinned(points[run]) for run in _runs(np.isfinite(points).all(axis=1))])


def thinned(points: FloatArray) -> FloatArray:
    """Return a crowded line without the points that lie within a hair of the line through the others.

    Douglas and Peucker, Algorithms for the reduction of the number of points required to represent a digitized line,
    1973: the point farthest from a chord stays, and both of its sides are looked at again.

    Parameters
    ----------
    points : ndarray
        Places on the sheet, one row each.
    """
    if len(points) <= CROWDED:
        return points
    kept = np.zeros(len(points), dtype=np.bool_)
    kept[[0, -1]] = True
    first, last = np.array([0]), np.array([len(points) - 1])
    while first.size:  # all stretches of one depth at once
        inside = last - first - 1
        begin = np.cumsum(inside) - inside
        of = np.repeat(np.arange(first.size), inside)
        place = np.arange(of.size) - begin[of] + first[of] + 1
        chord, others = points[last] - points[first], points[place] - points[first[of]]
        length = np.hypot(*chord.T)
        across = np.abs(chord[of, 0] * others[:, 1] - chord[of, 1] * others[:, 0])
        far = np.where(length[of] > 0, across / np.where(length > 0, length, 1.0)[of], np.hypot(*others.T))
        most = np.maximum.reduceat(far, begin)
        farthest = np.flatnonzero(far == most[of])
        farthest = place[farthest[np.unique(of[farthest], return_index=True)[1]]]
        parted = most > HAIR
        kept[farthest[parted]] = True
        ends = np.stack([first, farthest, last])[:, parted]
        first, last = ends[:2].ravel(), ends[1:].ravel()
        open_ = last - first > 1
        first, last = first[open_], last[open_]
    return points[kept]


def _runs(kept: ArrayLike) -> list[slice]:
    """Return the stretches over which a condition holds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], np.asarray(kept), [False]]).astype(np.int8)))
    return [slice(int(first), int(last)) for first, last in edges.reshape(-1, 2)]


def _draw_band(canvas: Canvas, trace: Trace, x: Scale, y: Scale) -> None:
    low, high = trace.curve.low, trace.curve.high
    if low is None or high is None:
        return
    across, below, above = x.places(trace.curve.x), y.places(low), y.places(high)
    for run in _runs(np.isfinite([across, below, above]).all(axis=0)):
        there, back = (thinned(np.stack([across[run], end[run]], axis=1)) for end in (above, below))
        canvas.items.append(DrawnPath(polyline(np.concatenate([there, back[::-1]])) + "z", trace.role, opacity=BAND))


def _points(mark: Mark, x: Scale, y: Scale) -> FloatArray:
    points = np.stack([x.places(np.asarray(mark.x)), y.places(np.asarray(mark.y))], axis=1)
    return points[np.isfinite(points).all(axis=1)]


def _point(canvas: Canvas, x: float, y: float) -> None:
    canvas.disc(x, y, 4.5, "ink", "paper")


def _measured(canvas: Canvas, x: float, y: float) -> None:
    canvas.disc(x, y, 3.2, "paper", "ink", 1.2)


def _hand_over(canvas: Canvas, x: float, y: float) -> None:
    path = f"M{coordinate(x)} {coordinate(y - 5.5)}l5.5 5.5l-5.5 5.5l-5.5 -5.5z"
    canvas.items.append(DrawnPath(path, "paper", "ink", 1.4))


Wanted = tuple[str, str, list[tuple[float, float]]]
"""A label, its colour, and points at which it may stand."""

MARKS = {"point": _point, "measured": _measured, "hand-over": _hand_over}


def _label_size(label: str, most: float) -> tuple[float, float, list[str]]:
    lines = wrap(visible(label), most, measure(TICK))
    return max(map(measure(TICK), lines), default=0.0), len(lines) * TICK * 1.25, lines


def _draw_labels(canvas: Canvas, figure: Figure, plot: Plot, y: Scale, traces: list[Trace]) -> None:
    clouds = [_points(mark, plot.x, y) for mark in figure.marks]
    lines = [dense(part) for trace in traces for part in trace.parts]
    drops = [dense(np.array([[plot.x.place(v), plot.top], [plot.x.place(v), plot.bottom]])) for _, v in figure.lines]
    covered = [*lines, *drops, *(np.repeat(cloud, 4, axis=0) for cloud in clouds)]
    points = np.concatenate(covered) if covered else np.empty((0, 2))
    placer = Placer(plot.left + 4, plot.top + 2, plot.right - 2, plot.bottom - 4, points)
    beside = [trace for trace in traces if trace.parts and trace.parts[-1][-1, 0] > _edge(plot)]
    _draw_placed(canvas, placer, list(_mark_labels(figure, clouds)))
    _draw_placed(canvas, placer, [_curve_label(one) for one in traces if one.parts and one not in beside])
    _draw_beside(canvas, plot, beside)


def _edge(plot: Plot) -> float:
    return plot.left + EDGE * (plot.right - plot.left)


def _mark_labels(figure: Figure, clouds: Sequence[FloatArray]) -> Iterator[Wanted]:
    """Yield what is written at marks, each text once, at the middle of its points if it may be."""
    named: set[str] = set()
    for mark, cloud in zip(figure.marks, clouds, strict=True):
        if mark.label and mark.label not in named and len(cloud):
            order = sorted(range(len(cloud)), key=lambda place: abs(place - (len(cloud) - 1) / 2))
            yield mark.label, "ink", [(cloud[n, 0], cloud[n, 1]) for n in order[:6]]
            named.add(mark.label)


def _curve_label(trace: Trace) -> Wanted:
    longest = max(trace.parts, key=len)
    places = [longest[int(part * (len(longest) - 1))] for part in (1.0, 0.6, 0.8, 0.35, 0.1, 0.0)]
    return trace.curve.label, trace.role, [(p[0], p[1]) for p in places]


def _draw_placed(canvas: Canvas, placer: Placer, wanted: Sequence[Wanted]) -> None:
    sizes = [_label_size(label, 170.0) for label, _, _ in wanted]
    asked = [Label(wide, high, anchors) for (wide, high, _), (_, _, anchors) in zip(sizes, wanted, strict=True)]
    for spot, (_, role, _), (wide, high, lines) in zip(placer.place(asked), wanted, sizes, strict=True):
        if spot.far:
            near = min(max(spot.anchor[0], spot.left), spot.left + wide)
            level = min(max(spot.anchor[1], spot.top), spot.top + high)
            canvas.line(near, level, *spot.anchor, role, 0.8)
        for place, line in enumerate(lines):
            canvas.text(spot.left, spot.top + (place + 0.85) * TICK * 1.25 - 0.5, line, TICK, role)


def _draw_beside(canvas: Canvas, plot: Plot, traces: list[Trace]) -> None:
    sizes = [_label_size(trace.curve.label, BESIDE) for trace in traces]
    wanted = [float(trace.parts[-1][-1, 1]) for trace in traces]
    middles = spread(wanted, [high + 3 for _, high, _ in sizes], plot.top, plot.bottom)
    for trace, (_, high, lines), end, middle in zip(traces, sizes, wanted, middles, strict=True):
        if abs(end - middle) > LEADING:
            canvas.line(trace.parts[-1][-1, 0] + 1, end, plot.right + 9, middle, trace.role, 0.8)
        for place, line in enumerate(lines):
            base = middle - high / 2 + (place + 0.82) * TICK * 1.25
            canvas.text(plot.right + 12, base, line, TICK, trace.role)


STEP, THICK = 34.0, 14.0
"""Least height of a row, and height of its bar."""

NAMES = 170.0
"""Most width of the names before the bars."""

LINE = 1.2
"""Distance of two lines of a name in parts of the font size."""

FILL = 0.35
"""Opacity of a bar."""


def draw_bars(canvas: Canvas, figure: Figure) -> None:
    """Draw a figure's bars and verticals, and move below them."""
    names = max((measure(TICK)(visible(bar.label)) for bar in figure.bars), default=0.0)
    texts = max((measure(TICK)(words(bar)) for bar in figure.bars), default=0.0)
    left = canvas.margin + min(names, NAMES) + 14
    right = canvas.width - canvas.margin - texts - 12
    x = scale(_numbers(figure), left, right, logarithmic=figure.x.logarithmic)
    found = verticals(figure.lines, x, canvas.width - canvas.margin)
    rows = max((one.row + 1 for one in found), default=0)
    top = canvas.y + 10 + rows * ROW
    tallest = max(len(_name(bar)) for bar in figure.bars)
    step = max(STEP, (tallest * LINE + 0.5) * TICK)
    plot = Plot(x, top, top + step * len(figure.bars) + 8)
    draw_x_axis(canvas, plot, figure.x)
    canvas.line(plot.left, plot.top, plot.left, plot.bottom, "soft")
    for row, bar in enumerate(figure.bars):
        _draw_bar(canvas, plot, bar, plot.top + 4 + (row + 0.5) * step, right + 12)
    draw_verticals(canvas, plot, found)


def words(bar: Bar) -> str:
    """Return the range of a bar as text.

    Examples
    --------
    >>> words(Bar("rods", 12.0, 17.0, 14.2)), words(Bar("points", float("nan"), 12.5))
    ('14 (12 to 17)', 'at most 12.5')
    """
    low, value, high = (one if math.isfinite(one) else None for one in (bar.low, bar.value, bar.high))
    return in_words(low, value, high, "", single)


def _numbers(figure: Figure) -> Iterator[float]:
    for bar in figure.bars:
        yield from (bar.low, bar.high, bar.value, bar.limit)
    yield from (value for _, value in figure.lines)


def _name(bar: Bar) -> list[str]:
    return wrap(visible(bar.label), NAMES, measure(TICK))


def _draw_bar(canvas: Canvas, plot: Plot, bar: Bar, middle: float, text_at: float) -> None:
    lines = _name(bar)
    for row, line in enumerate(lines):
        base = middle + 0.36 * TICK + (row - (len(lines) - 1) / 2) * TICK * LINE
        canvas.text(plot.left - 10, base, line, TICK, anchor="end")
    canvas.text(text_at, middle + 0.36 * TICK, words(bar), TICK, "soft")
    if math.isfinite(bar.limit):
        place = plot.x.place(bar.limit)
        canvas.line(place, middle - THICK / 2 - 3, place, middle + THICK / 2 + 3, "soft", 1.5, "3 2")
    if not any(math.isfinite(one) for one in (bar.low, bar.high)):
        return
    start, end = _end(bar.low, plot.x, plot.left), _end(bar.high, plot.x, plot.right)
    canvas.box(start, middle - THICK / 2, end - start, THICK, "curve-1", FILL)
    for bound, place in ((bar.low, start), (bar.high, end)):
        dashes = "" if math.isfinite(bound) else "2 2"
        canvas.line(place, middle - THICK / 2, place, middle + THICK / 2, "curve-1", 1.5, dashes)
    if math.isfinite(bar.value):
        place = plot.x.place(bar.value)
        canvas.line(place, middle - THICK / 2 - 3, place, middle + THICK / 2 + 3, "ink", 2)


def _end(bound: float, on: Scale, edge: float) -> float:
    return on.place(bound) if math.isfinite(bound) and on.holds(bound) else edge
