"""What a curve picture shows, before anybody draws it: axes, curves, marks and sentences, in plotted units."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.methods import FloatArray


@dataclass(frozen=True)
class Axis:
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
    """A horizontal bar of a range, for the claim picture.

    Parameters
    ----------
    label : str
        Written before the bar.
    low, high : float
        Ends, plotted numbers; NaN where open.
    value : float
        Tick inside; NaN where there is none.
    """

    label: str
    low: float
    high: float
    value: float = float("nan")


@dataclass(frozen=True)
class Figure:
    """A picture.

    Parameters
    ----------
    title, description : str
        For heading and screen reader.
    x, y : Axis
        ``y`` is unused with bars.
    curves, marks, bars, lines : tuple
        What is drawn; ``lines`` are labelled verticals (label, x).
    sentences : tuple of str
        Written under the picture: conditions, reason, sources, cautions.
    """

    title: str
    description: str
    x: Axis
    y: Axis
    curves: tuple[Curve, ...] = ()
    marks: tuple[Mark, ...] = ()
    bars: tuple[Bar, ...] = ()
    lines: tuple[tuple[str, float], ...] = field(default=())
    sentences: tuple[str, ...] = ()
