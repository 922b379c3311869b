"""Effective ionization of a gas: what it is asked, and the answer from a computed table, a closed form or a fit.

Everything is reduced to 20 degC: field over pressure [V/(Pa m)] in, effective ionization over pressure [1/(Pa m)] out.
The closed forms are those that textbooks print, their constants from tables in 1/(cm Torr) and V/(cm Torr), in SI here:
good to 10 to 20 % inside the printed range, outside unusable. A fit with its critical number is what the streamer
criterion takes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike

from service.physics.atmosphere import REFERENCE_TEMPERATURE
from service.physics.domain import Floats, positive, positive_numbers, within
from service.physics.numbers import Numbers

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


@dataclass(frozen=True)
class ExponentialIonization:
    """Closed form of Townsend, ``effective = A exp(-B / field)``, inside its printed range.

    Parameters
    ----------
    coefficient : float
        A [1/(Pa m)]; greater than zero.
    field_scale : float
        B [V/(Pa m)]; greater than zero.
    lowest, highest : float
        Printed range of field over pressure [V/(Pa m)].
    """

    coefficient: float
    field_scale: float
    lowest: float
    highest: float

    @property
    def optimum(self) -> float:
        """Field over pressure of the Paschen minimum, B, or the end of the range next to it [V/(Pa m)]."""
        return min(max(self.field_scale, self.lowest), self.highest)

    def effective(self, field: ArrayLike) -> Floats:
        """Return the ionization over pressure at a field over pressure inside the printed range.

        Parameters
        ----------
        field : array_like
            Field over pressure [V/(Pa m)].

        Examples
        --------
        >>> form = ExponentialIonization(11.2537, 273.84, 40.0, 600.0)
        >>> float(form.effective(9e3 / (101.3e3 * 2e-3)).round(5)) * 101.3e3
        2397...
        """
        X = within("field over pressure", field, self.lowest, self.highest, "V/(Pa m)")
        return np.asarray(self.coefficient * np.exp(-self.field_scale / X))

    def field(self, effective: ArrayLike) -> Floats:
        """Return the field over pressure of an ionization over pressure inside the printed range.

        Parameters
        ----------
        effective : array_like
            Ionization over pressure [1/(Pa m)].
        """
        inside = _inside(self, effective)
        return np.asarray(self.field_scale / np.log(self.coefficient / inside))


@dataclass(frozen=True)
class SquareRootIonization:
    """Closed form of Ward for noble gases, ``effective = C exp(-D / sqrt(field))``, inside its printed range.

    Parameters
    ----------
    coefficient : float
        C [1/(Pa m)]; greater than zero.
    field_scale : float
        D [sqrt(V/(Pa m))]; greater than zero.
    lowest, highest : float
        Printed range of field over pressure [V/(Pa m)].
    """

    coefficient: float
    field_scale: float
    lowest: float
    highest: float

    @property
    def optimum(self) -> float:
        """Field over pressure of the Paschen minimum, D^2 / 4, or the end of the range next to it [V/(Pa m)]."""
        return min(max(self.field_scale**2 / 4, self.lowest), self.highest)

    def effective(self, field: ArrayLike) -> Floats:
        """Return the ionization over pressure at a field over pressure inside the printed range.

        Parameters
        ----------
        field : array_like
            Field over pressure [V/(Pa m)].
        """
        X = within("field over pressure", field, self.lowest, self.highest, "V/(Pa m)")
        with np.errstate(divide="ignore"):
            return np.asarray(self.coefficient * np.exp(-self.field_scale / np.sqrt(X)))

    def field(self, effective: ArrayLike) -> Floats:
        """Return the field over pressure of an ionization over pressure inside the printed range.

        Parameters
        ----------
        effective : array_like
            Ionization over pressure [1/(Pa m)].
        """
        inside = _inside(self, effective)
        return np.asarray((self.field_scale / np.log(self.coefficient / inside)) ** 2)


@dataclass(frozen=True)
class LinearIonization:
    """Straight line of strongly attaching gases, ``effective = slope field - offset``, inside its printed range.

    Parameters
    ----------
    slope : float
        Effective ionization per field [1/V]; greater than zero.
    offset : float
        Effective attachment over pressure without field [1/(Pa m)].
    lowest, highest : float
        Printed range of field over pressure [V/(Pa m)].
    """

    slope: float
    offset: float
    lowest: float
    highest: float

    @property
    def optimum(self) -> float:
        """Field over pressure of the Paschen minimum, the end of the range [V/(Pa m)]."""
        return self.highest

    def effective(self, field: ArrayLike) -> Floats:
        """Return the effective ionization over pressure at a field over pressure inside the printed range.

        Parameters
        ----------
        field : array_like
            Field over pressure [V/(Pa m)].
        """
        X = within("field over pressure", field, self.lowest, self.highest, "V/(Pa m)")
        return np.asarray(self.slope * X - self.offset)

    def field(self, effective: ArrayLike) -> Floats:
        """Return the field over pressure of an effective ionization over pressure inside the printed range.

        Parameters
        ----------
        effective : array_like
            Effective ionization over pressure [1/(Pa m)].

        Examples
        --------
        >>> sulfur_hexafluoride = LinearIonization(0.027, 2.4004, 75.0, 200.0)
        >>> float(sulfur_hexafluoride.field(18.42 / 101.3) * 101.3).__round__()
        9688
        """
        return np.asarray((_inside(self, effective) + self.offset) / self.slope)


def _inside(form: Ionization, effective: ArrayLike) -> Floats:
    low, high = (float(form.effective(end)) for end in (form.lowest, form.highest))
    return within("effective ionization over pressure", effective, low, high, "1/(Pa m)")


CLOSED_FORMS: Mapping[str, Callable[[float, float, float, float], Ionization]] = MappingProxyType(
    {"exp": ExponentialIonization, "sqrt": SquareRootIonization, "linear": LinearIonization}
)
"""Closed forms by the key that data rows use; each takes its two constants and its range."""


@dataclass(frozen=True)
class IonizationFit:
    """Effective ionization coefficient over pressure, and the number K that belongs to it.

    ``alpha_eff / p = curvature (E/p - centre)^2 - offset`` below ``branch``, ``slope E/p - intercept`` from there on.

    Parameters
    ----------
    critical_number : float
        K, the value that the integral of the coefficient reaches at inception.
    curvature : float
        Of the quadratic branch [m Pa/V2].
    centre : float
        Of the quadratic branch [V/(m Pa)].
    offset : float
        Of the quadratic branch [1/(m Pa)].
    branch : float
        Reduced field from which the linear branch holds [V/(m Pa)]; infinite for none, zero for no other.
    slope : float
        Of the linear branch [1/V].
    intercept : float
        Of the linear branch [1/(m Pa)].
    highest : float
        Reduced field to which the source states the fit [V/(m Pa)]; infinite where it states none.

    Notes
    -----
    The pressure is that of the same density at 20 degC. A fit and its K come from one source and are never mixed.
    1 kV/(cm bar) is 1 V/(m Pa).
    """

    critical_number: float
    curvature: float = 0.0
    centre: float = 0.0
    offset: float = 0.0
    branch: float = np.inf
    slope: float = 0.0
    intercept: float = 0.0
    highest: float = np.inf

    @classmethod
    @lru_cache(maxsize=64)
    def stacked(cls, fits: tuple[IonizationFit, ...], size: int) -> IonizationFit:
        """Return fits of plain numbers as one whose numbers are arrays, each fit ``size`` times in a row."""
        numbers: Any = (np.repeat([getattr(fit, one.name) for fit in fits], size) for one in fields(cls))
        return cls(*numbers)

    def select(self, which: Any) -> IonizationFit:
        """Return some of the elements; a fit of plain numbers holds for all."""
        if np.ndim(self.critical_number) == 0:
            return self
        return IonizationFit(*(getattr(self, one.name)[which] for one in fields(self)))

    @cached_property
    def field_at_printed_end(self) -> float:
        """Reduced field of a uniform gap of 10 Pa m, the lower end of the range printed with the quadratic fit."""
        return float(self.uniform_field_voltage(1.0, 10.0)) / 10.0

    @cached_property
    def threshold(self) -> Floats:
        """Reduced field above which ionization wins over attachment [V/(m Pa)]."""
        with np.errstate(divide="ignore", invalid="ignore"):
            quadratic = np.asarray(self.centre + np.sqrt(np.divide(self.offset, self.curvature)))
            return np.where(quadratic < self.branch, quadratic, np.divide(self.intercept, self.slope))

    def coefficient(self, reduced_field: Floats) -> Floats:
        """Return the effective ionization coefficient over pressure, negative where attachment wins.

        Parameters
        ----------
        reduced_field : ndarray
            Field over pressure [V/(m Pa)].

        Returns
        -------
        ndarray
            [1/(m Pa)].

        Notes
        -----
        The sources give the quadratic from the threshold up. Below its centre it is continued as an odd function, our
        choice, so that a zone of weak field costs what an equally strong one would bring; measured attachment in air
        is somewhat stronger. It matters only for the zones of two electrodes that face each other.
        """
        from_centre = reduced_field - self.centre
        quadratic = self.curvature * np.abs(from_centre) * from_centre - self.offset
        strong = reduced_field >= self.branch
        if not strong.any():
            return np.asarray(quadratic)
        return np.where(strong, self.slope * reduced_field - self.intercept, quadratic)

    def coefficient_and_slope(self, reduced_field: Floats) -> tuple[Floats, Floats]:
        """Return `coefficient` and its slope over the reduced field."""
        from_centre = reduced_field - self.centre
        size = np.abs(from_centre)
        value, slope = self.curvature * size * from_centre - self.offset, 2 * self.curvature * size
        strong = reduced_field >= self.branch
        if strong.any():
            value = np.where(strong, self.slope * reduced_field - self.intercept, value)
            slope = np.where(strong, self.slope, slope)
        return value, slope

    def quadratic_voltage(self, zeroth: Numbers, first: Numbers, second: Numbers) -> Numbers:
        """Return the voltage at which ``curvature (E/p - centre)^2 - offset`` integrates to one, from the moments.

        Zero where there is none.
        """
        a = self.curvature * second
        b = self.curvature * self.centre * first
        c = (self.curvature * self.centre**2 - self.offset) * zeroth - 1
        root = b * b - a * c
        if isinstance(root, float):
            return (b + math.sqrt(root)) / a if root >= 0 and a > 0 else 0.0
        with np.errstate(all="ignore"):
            volts = (b + np.sqrt(root)) / a
        return np.where(np.isfinite(volts), volts, 0.0)

    @cached_property
    def column(self) -> IonizationFit:
        """The same for arrays whose rows are the elements."""
        if np.ndim(self.critical_number) == 0:
            return self
        return IonizationFit(*(getattr(self, one.name)[:, None] for one in fields(self)))

    def uniform_field_voltage(self, gap: Numbers, reduced_pressure: Numbers) -> Numbers:
        """Return the voltage at which the criterion holds in a uniform field.

        ``U = gap p E/p`` where ``alpha_eff(E/p) gap p = K``

        Parameters
        ----------
        gap : array_like
            Distance of the plates [m]; greater than zero.
        reduced_pressure : array_like
            Pressure of the same density at 20 degC [Pa]; greater than zero.

        Returns
        -------
        ndarray
            Peak voltage [V], broadcast.

        Raises
        ------
        OutsideValidity
            When an argument is not positive.

        Notes
        -----
        With the quadratic fit of the textbook this is ``24.36 x + 6.72 sqrt(x)`` kV, x in bar cm.

        References
        ----------
        kuffel-zaengl-kuffel-2000, equations 5.103 to 5.107; from memory.

        Examples
        --------
        10 mm at 1 bar: 24.36 + 6.72 = 31.08 kV.

        >>> fit = IonizationFit(critical_number=1.0, curvature=1 / 45160, centre=24.36)
        >>> f"{fit.uniform_field_voltage(0.01, 1e5) / 1e3:.2f}"
        '31.08'
        """
        x = positive_numbers("gap", gap, "m") * positive_numbers("reduced_pressure", reduced_pressure, "Pa")
        wanted = self.critical_number / x
        if isinstance(x, float) and isinstance(self.curvature, float):
            curved = self.curvature > 0
            field = self.centre + math.sqrt((wanted + self.offset) / self.curvature) if curved else math.inf
            return x * ((wanted + self.intercept) / self.slope if field > self.branch else field)
        reduced_field = np.full_like(x, np.inf)
        if np.any(np.asarray(self.curvature) > 0):
            with np.errstate(divide="ignore"):
                reduced_field = self.centre + np.sqrt((wanted + self.offset) / self.curvature)
        beyond = reduced_field > self.branch
        if np.any(beyond):
            with np.errstate(divide="ignore", invalid="ignore"):
                reduced_field = np.where(beyond, (wanted + self.intercept) / self.slope, reduced_field)
        return x * reduced_field
