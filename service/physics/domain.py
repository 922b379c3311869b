"""Domain of a relation: a value outside it raises, and is never clipped."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.errors import OutsideValidity
from service.physics.numbers import Numbers
from service.units import ROUNDING

Floats = NDArray[np.float64]
"""Array of double precision numbers."""


def within(name: str, values: ArrayLike, low: float, high: float, unit: str) -> Floats:
    """Return the values as an array when all of them lie within closed limits; rounding gets a billionth of slack.

    Parameters
    ----------
    name : str
        What the values are, for the error text.
    values : array_like
        Values in SI.
    low, high : float
        Closed limits; infinite where there is none, but an infinite value is never inside.
    unit : str
        SI unit of the limits, for the error text.

    Returns
    -------
    ndarray
        The values, double precision.

    Raises
    ------
    OutsideValidity
        When a value is not finite or lies outside the limits.

    Examples
    --------
    >>> within("gap", [1e-3, 2e-3], 0.0, 1.0, "m").tolist()
    [0.001, 0.002]
    """
    array = np.asarray(values, dtype=np.float64)
    if array.size == 1 and low <= array.item() <= high and array.item() - array.item() == 0:
        return array
    inside = lies_within(array, low, high)
    if not np.all(inside):
        wrong = float(array[~inside].flat[0])
        detail = f"{name} {wrong:.6g} {unit} is outside {low:.6g} to {high:.6g} {unit}."
        raise OutsideValidity.about(name, detail)
    return array


def lies_within(values: Floats, low: float, high: float) -> NDArray[np.bool_]:
    """Return where `within` takes values.

    Parameters
    ----------
    values : ndarray
        Values in SI.
    low, high : float
        As in `within`.

    Returns
    -------
    ndarray of bool
    """
    slack = ROUNDING * np.abs(values)
    inside: NDArray[np.bool_] = np.isfinite(values) & (values >= low - slack) & (values <= high + slack)
    return inside


def within_numbers(name: str, values: Numbers, low: float, high: float, unit: str) -> Numbers:
    """Return what `within` does, a plain number left plain: for relations that are written for both.

    Parameters
    ----------
    name, low, high, unit
        As in `within`.
    values : float or array_like
        Values in SI.

    Returns
    -------
    float or ndarray
    """
    plain = isinstance(values, float) and low <= values <= high and values < np.inf
    return values if plain else within(name, values, low, high, unit)


def positive_numbers(name: str, values: Numbers, unit: str) -> Numbers:
    """Return what `positive` does, a plain number left plain: for relations that are written for both.

    Parameters
    ----------
    name, unit
        As in `positive`.
    values : float or array_like
        Values in SI.

    Returns
    -------
    float or ndarray
    """
    return values if isinstance(values, float) and 0 < values < np.inf else positive(name, values, unit)


def positive(name: str, values: ArrayLike, unit: str) -> Floats:
    """Return the values as an array when all of them are finite and greater than zero.

    Parameters
    ----------
    name : str
        What the values are, for the error text.
    values : array_like
        Values in SI.
    unit : str
        SI unit, for the error text.

    Returns
    -------
    ndarray
        The values, double precision.

    Raises
    ------
    OutsideValidity
        When a value is not finite, zero or negative.

    Examples
    --------
    >>> positive("pressure", 101300.0, "Pa").tolist()
    101300.0
    """
    array = np.asarray(values, dtype=np.float64)
    if array.size == 1 and 0 < array.item() < np.inf:
        return array
    inside = np.isfinite(array) & (array > 0)
    if not np.all(inside):
        wrong = float(array[~inside].flat[0])
        detail = f"{name} {wrong:.6g} {unit} is not a number greater than zero."
        raise OutsideValidity.about(name, detail)
    return array
