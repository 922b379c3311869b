"""Ranges as horizontal bars over one axis, with labelled verticals across them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from service.answers.figure import Bar, Figure
from service.render.axes import Scale, scale
from service.render.canvas import Canvas, measure
from service.render.clean import visible
from service.render.layout import wrap
from service.render.numbers import bracket, span
from service.render.plot import ROW, TICK, Plot, draw_verticals, draw_x_axis, verticals
from service.render.words import ABSENT
from service.spoken import single

STEP, THICK = 34.0, 14.0
"""Least height of a row, and height of its bar."""

NAMES = 170.0
"""Most width of the names before the bars."""

LINE = 1.2
"""Distance of two lines of a name in parts of the font size."""

FILL = 0.35
"""Opacity of a bar."""


def draw_bars(canvas: Canvas, figure: Figure) -> None:
    """Draw a figure's bars and verticals, and move below them.

    Parameters
    ----------
    canvas : Canvas
    figure : Figure
    """
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

    Parameters
    ----------
    bar : Bar

    Examples
    --------
    >>> words(Bar("rods", 12.0, 17.0, 14.2)), words(Bar("points", float("nan"), 12.5))
    ('14 (12 to 17)', 'at most 12.5')
    """
    low, high, value = (math.isfinite(one) for one in (bar.low, bar.high, bar.value))
    if low and high and value:
        middle, first, last = span(bar.value, bar.low, bar.high)
        return f"{middle} ({first} to {last})" if first != last else middle
    if low and high:
        return " to ".join(dict.fromkeys(bracket(bar.low, bar.high)))
    bound = f"at least {single(bar.low, 'down')}" if low else f"at most {single(bar.high, 'up')}" if high else ""
    if value:
        return single(bar.value) + (f" ({bound})" if bound else "")
    return bound or ABSENT


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
