"""How a table is set where room is short: whole, turned, or with its longest columns as running text under each row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from service.render.grids import Grid
from service.render.layout import Measure, fit, wrap

TALLEST = 4
"""Most lines of a row."""


@dataclass(frozen=True)
class Shape:
    """A table that fits.

    Parameters
    ----------
    grid : Grid
        The columns that are set as columns.
    widths : list of float
        Theirs.
    details : tuple of str
        Running text under each row; empty where there is none.
    """

    grid: Grid
    widths: list[float]
    details: tuple[str, ...]


def shaped(grid: Grid, room: float, gap: float, measure: Measure = len) -> Shape:
    """Return a table as it fits.

    Parameters
    ----------
    grid : Grid
    room, gap : float
        Width to be shared, and between two columns.
    measure : callable
        Width of a text.
    """
    for one, details in _candidates(grid):
        widths = fit(one.columns, room, gap, measure)
        if widths is not None and _tallest(one, widths, measure) <= TALLEST:
            return Shape(one, widths, details)
    rest = range(1, len(grid.heads))
    return Shape(grid.without(rest), [room], grid.details(rest))


def _candidates(grid: Grid) -> Iterator[tuple[Grid, tuple[str, ...]]]:
    yield grid, ()
    turned = grid.turned()
    if turned is not None:
        yield turned, ()
    out: list[int] = []
    while (longest := grid.longest(out)) is not None:
        out.append(longest)
        yield grid.without(out), grid.details(out)


def _tallest(grid: Grid, widths: list[float], measure: Measure) -> int:
    cells = (len(wrap(cell, width, measure)) for row in grid.rows for cell, width in zip(row, widths, strict=True))
    return max(cells, default=0)
