"""What a curve picture shows, before anybody draws it: axes, curves, marks and sentences, in plotted units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service import units
from service.methods import Arrangement, Case, FloatArray
from service.methods.drawing import Drawing, Sizes, described, drawn

MOST_CURVES = 8
"""Most things that are compared by curves: more are not told apart, and would take more than a tenth of a second."""


def plotted(values: Iterable[float], dimension: str) -> FloatArray:
    """Return SI values in the unit of answers, in which they are plotted."""
    return np.array([units.shown(value, dimension) for value in values])


@dataclass(frozen=True)
class PlotAxis:
    """An axis.

    Parameters
    ----------
    label : str
        Quantity, without the unit.
    unit : str
        Unit of the plotted numbers.
    logarithmic : bool
        Decades instead of equal steps.
    """

    label: str
    unit: str
    logarithmic: bool = True


@dataclass(frozen=True)
class Curve:
    """A curve with an optional band; NaN breaks it.

    Parameters
    ----------
    label : str
        Written at the curve.
    x, y : ndarray
        Plotted numbers.
    low, high : ndarray, optional
        Band.
    dashed : bool
        For what is only a bound.
    """

    label: str
    x: FloatArray
    y: FloatArray
    low: FloatArray | None = None
    high: FloatArray | None = None
    dashed: bool = False


@dataclass(frozen=True)
class Mark:
    """A point with a label, or a cloud of points under one label.

    Parameters
    ----------
    label : str
        Written at the first point.
    x, y : ndarray
        Plotted numbers.
    kind : str
        ``point`` (asked or minimum), ``measured`` (data), ``hand-over`` (where methods meet).
    """

    label: str
    x: FloatArray
    y: FloatArray
    kind: str = "point"


@dataclass(frozen=True)
class Bar:
    """A horizontal bar of a range.

    Parameters
    ----------
    label : str
        Written before the bar.
    low, high : float
        Ends, plotted numbers; NaN where open.
    value : float
        Tick inside; NaN where there is none.
    limit : float
        A dashed tick, of what the bar is held against; NaN where there is none.
    """

    label: str
    low: float
    high: float
    value: float = float("nan")
    limit: float = float("nan")


@dataclass(frozen=True, eq=False)
class Section:
    """A section of conductors with lines of equal potential and a line of force, in plotted units.

    Parameters
    ----------
    window : tuple of float
        Least and greatest of both coordinates that are shown.
    metals : tuple of (bool, ndarray)
        Whether it bounds metal, and the complex places of each outline.
    names : tuple of str
        Of the outlines.
    x, y : ndarray
        Coordinates of the grid.
    potential : ndarray
        On the grid, ``(y, x)``.
    levels : ndarray
        Potentials of the lines.
    line, shortest : ndarray
        Complex places of the critical line, and of the shortest distance.
    mirrored : bool
        Whether the left half is the mirror image of the right one about an axis.
    plane : bool
        Whether the coordinate zero of ``y`` is an earthed plane.
    """

    window: tuple[float, float, float, float]
    metals: tuple[tuple[bool, NDArray[np.complex128]], ...]
    names: tuple[str, ...]
    x: FloatArray
    y: FloatArray
    potential: FloatArray
    levels: FloatArray
    line: NDArray[np.complex128]
    shortest: NDArray[np.complex128]
    mirrored: bool = False
    plane: bool = False


@dataclass(frozen=True)
class Figure:
    """A picture.

    Parameters
    ----------
    title, description : str
        For heading and screen reader.
    x, y : PlotAxis
        ``y`` is unused with bars.
    curves, marks, bars, lines : tuple
        What is drawn; ``lines`` are labelled verticals (label, x).
    sentences : tuple of str
        Written under the picture: conditions, reason, sources, cautions.
    section : Section, optional
        Drawn above the plot.
    drawing : Drawing, optional
        Of the electrodes; it may stand alone.
    """

    title: str
    description: str
    x: PlotAxis = PlotAxis("", "")
    y: PlotAxis = PlotAxis("", "")
    curves: tuple[Curve, ...] = ()
    marks: tuple[Mark, ...] = ()
    bars: tuple[Bar, ...] = ()
    lines: tuple[tuple[str, float], ...] = field(default=())
    sentences: tuple[str, ...] = ()
    section: Section | None = None
    drawing: Drawing | None = None

    @property
    def plotted(self) -> bool:
        """Whether there is a plot, and not the drawing alone."""
        return self.drawing is None or bool(self.curves or self.bars)


def electrodes_figure(arrangement: Arrangement, sizes: Sizes, gap: float) -> Figure | None:
    """Return the picture of electrodes and their gap; nothing of an arrangement that is not drawn.

    Parameters
    ----------
    sizes : mapping
        Lengths [m] and options by parameter name.
    gap : float
        In metres.
    """
    if arrangement.sketch is None:
        return None
    found = drawn(arrangement.sketch, sizes, gap)
    title = f"{arrangement.title}, {found.scaled}"
    return Figure(title, described(arrangement.title, found), drawing=found)


def case_figure(arrangement: Arrangement, case: Case) -> Figure | None:
    """Return the picture of the electrodes of a case of one element."""
    sizes: dict[str, float | str] = {name: float(size[0]) for name, size in case.dimensions.items()}
    return electrodes_figure(arrangement, {**case.options, **sizes}, float(case.gap[0]))
