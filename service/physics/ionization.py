"""Effective ionization of a gas: what it is asked, and the answer from a computed table.

Everything is reduced to 20 degC: field over pressure [V/(Pa m)] in, effective ionization over pressure [1/(Pa m)] out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from service.physics.atmosphere import REFERENCE_TEMPERATURE
from service.physics.domain import Floats, positive, within

BOLTZMANN = 1.380649e-23
"""[J/K], exact since 2019."""
ENERGY_OF_REFERENCE_TEMPERATURE = BOLTZMANN * REFERENCE_TEMPERATURE
"""Pressure over number density at 20 degC [J]: turns E/N [V m2] into E/p [V/(Pa m)]."""

PARTS = 64
"""Parts into which every step of a computed table is divided along its smooth curve."""


class Ionization(Protocol):
    """Effective ionization over pressure, rising with field over pressure, and its inverse."""

    @property
    def lowest(self) -> float:
        """Lowest field over pressure [V/(Pa m)]."""

    @property
    def highest(self) -> float:
        """Highest field over pressure [V/(Pa m)]."""

    @property
    def optimum(self) -> float:
        """Field over pressure at which field over effective ionization is least: that of the Paschen minimum."""

    def effective(self, field: ArrayLike) -> Floats:
        """Return the effective ionization over pressure [1/(Pa m)] at a field over pressure [V/(Pa m)]."""

    def field(self, effective: ArrayLike) -> Floats:
        """Return the field over pressure [V/(Pa m)] of an effective ionization over pressure [1/(Pa m)]."""


@dataclass(frozen=True, eq=False)
class IonizationTable:
    """Effective ionization by interpolation in a table, inside the table only.

    Parameters
    ----------
    fields : ndarray
        Field over pressure at 20 degC, rising [V/(Pa m)].
    effectives : ndarray
        Effective ionization over pressure, rising [1/(Pa m)]; only the first may be zero or less.

    Notes
    -----
    Made by `from_columns`. Between the nodes the curve is straight.
    """

    fields: Floats
    effectives: Floats

    @classmethod
    def from_columns(cls, reduced_field: ArrayLike, ionization: ArrayLike, attachment: ArrayLike) -> IonizationTable:
        """Return the table of the stretch on which the effective ionization is positive and rises.

        ``effective = ionization - attachment``, each smooth in the logarithms of both axes

        Parameters
        ----------
        reduced_field : array_like
            E/N, rising [V m2].
        ionization : array_like
            alpha/N [m2]; greater than zero.
        attachment : array_like
            eta/N [m2]; greater than zero, or zero throughout.

        Returns
        -------
        IonizationTable
            With 64 nodes per printed step.

        Raises
        ------
        ValueError
            When the columns do not rise, or their breakdown curve would have more than one minimum.

        Notes
        -----
        Interpolated by shape-preserving cubics in the logarithms, attachment apart from ionization, so that the field
        where they balance falls between the printed rows and not on one of them.
        """
        printed = np.log(positive("reduced field", reduced_field, "V m2"))
        steps = np.arange(len(printed) - 1)[:, None] + np.arange(PARTS) / PARTS
        refined = np.interp(np.append(steps, len(printed) - 1), np.arange(len(printed)), printed)
        effective = np.exp(monotone_cubic(printed, np.log(positive("ionization", ionization, "m2")), refined))
        if np.any(np.asarray(attachment) != 0):
            effective -= np.exp(monotone_cubic(printed, np.log(positive("attachment", attachment, "m2")), refined))
        rising = _rising_stretch(effective)
        table = cls(
            np.exp(refined[rising]) / ENERGY_OF_REFERENCE_TEMPERATURE,
            effective[rising] / ENERGY_OF_REFERENCE_TEMPERATURE,
        )
        table.check_single_minimum()
        return table

    @property
    def lowest(self) -> float:
        """Lowest field over pressure; with attachment, that of no net ionization [V/(Pa m)]."""
        return float(np.interp(max(0.0, self.effectives[0]), self.effectives, self.fields))

    @property
    def highest(self) -> float:
        """Highest field over pressure [V/(Pa m)]."""
        return float(self.fields[-1])

    @property
    def optimum(self) -> float:
        """Field over pressure of the Paschen minimum [V/(Pa m)]; a node, since the curve is straight between."""
        ionizing = self.effectives > 0
        fields = self.fields[ionizing]
        return float(fields[np.argmin(fields / self.effectives[ionizing])])

    def effective(self, field: ArrayLike) -> Floats:
        """Return the effective ionization over pressure at a field over pressure.

        Parameters
        ----------
        field : array_like
            Field over pressure [V/(Pa m)]; inside the table.

        Returns
        -------
        ndarray
            Effective ionization over pressure [1/(Pa m)].

        Raises
        ------
        OutsideValidity
            When a field lies beyond an end of the table.
        """
        inside = within("field over pressure", field, self.lowest, self.highest, "V/(Pa m)")
        return np.asarray(np.interp(inside, self.fields, self.effectives))

    def field(self, effective: ArrayLike) -> Floats:
        """Return the field over pressure of an effective ionization over pressure.

        Parameters
        ----------
        effective : array_like
            Effective ionization over pressure [1/(Pa m)]; inside the table.

        Returns
        -------
        ndarray
            Field over pressure [V/(Pa m)].

        Raises
        ------
        OutsideValidity
            When a value lies beyond an end of the table.
        """
        ends = max(0.0, float(self.effectives[0])), float(self.effectives[-1])
        inside = within("effective ionization over pressure", effective, *ends, "1/(Pa m)")
        return np.asarray(np.interp(inside, self.effectives, self.fields))

    def check_single_minimum(self) -> None:
        """Raise when field over effective ionization, the shape of the breakdown curve, has several minima.

        Raises
        ------
        ValueError
            When it falls again after it has risen.
        """
        ionizing = self.effectives > 0
        turns = np.diff(np.sign(np.diff(self.fields[ionizing] / self.effectives[ionizing])))
        if np.count_nonzero(turns) > 1:
            raise ValueError("the breakdown curve of this ionization table has more than one minimum")


def monotone_cubic(x: Floats, y: Floats, at: Floats) -> Floats:
    """Return a cubic interpolation that keeps the rise and fall of the points (Fritsch and Butland 1984).

    Parameters
    ----------
    x, y : ndarray
        Points, x rising.
    at : ndarray
        Where to read; inside the points.

    Returns
    -------
    ndarray
        The interpolation there.
    """
    step, rise = np.diff(x), np.diff(y) / np.diff(x)
    before, after = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (before + after) / (before / rise[:-1] + after / rise[1:])
    inner = np.where(np.sign(rise[:-1]) * np.sign(rise[1:]) > 0, mean, 0.0)
    ends = _end_slope(step[0], step[1], rise[0], rise[1]), _end_slope(step[-1], step[-2], rise[-1], rise[-2])
    slope = np.concatenate([[ends[0]], inner, [ends[1]]])
    cell = np.clip(np.searchsorted(x, at, side="right") - 1, 0, step.size - 1)
    t, h = at - x[cell], step[cell]
    second = (3 * rise[cell] - 2 * slope[cell] - slope[cell + 1]) / h
    third = (slope[cell] + slope[cell + 1] - 2 * rise[cell]) / h**2
    return np.asarray(y[cell] + t * (slope[cell] + t * (second + t * third)))


def _end_slope(h0: float, h1: float, rise0: float, rise1: float) -> float:
    slope = ((2 * h0 + h1) * rise0 - h0 * rise1) / (h0 + h1)
    if np.sign(slope) != np.sign(rise0):
        return 0.0
    return 3 * rise0 if np.sign(rise0) != np.sign(rise1) and abs(slope) > 3 * abs(rise0) else float(slope)


def _rising_stretch(effective: Floats) -> slice:
    peak = int(np.argmax(effective))
    low = np.flatnonzero((np.diff(effective[: peak + 1]) <= 0) | (effective[:peak] <= 0))
    # the last node without net ionization stays, so that the field of balance lies inside the table
    first = 0 if not low.size else int(low[-1])
    if peak - first < PARTS:
        raise ValueError("the effective ionization of this table nowhere rises over a printed step")
    return slice(first, peak + 1)
