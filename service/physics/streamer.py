"""Effective ionization of a gas as a fit with its critical number: the two halves of the streamer criterion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive


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
    def stacked(cls, fits: Sequence[IonizationFit], size: int) -> IonizationFit:
        """Return fits as one whose numbers are arrays, each fit ``size`` times in a row."""
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

    def quadratic_voltage(self, zeroth: Floats, first: Floats, second: Floats) -> Floats:
        """Return the voltage at which ``curvature (E/p - centre)^2 - offset`` integrates to one, from the moments."""
        with np.errstate(all="ignore"):
            a = self.curvature * second
            b = self.curvature * self.centre * first
            c = (self.curvature * self.centre**2 - self.offset) * zeroth - 1
            return np.nan_to_num((b + np.sqrt(b * b - a * c)) / a, nan=0.0, posinf=0.0)

    @cached_property
    def column(self) -> IonizationFit:
        """The same for arrays whose rows are the elements."""
        if np.ndim(self.critical_number) == 0:
            return self
        return IonizationFit(*(getattr(self, one.name)[:, None] for one in fields(self)))

    def uniform_field_voltage(self, gap: ArrayLike, reduced_pressure: ArrayLike) -> Floats:
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
        x = np.asarray(positive("gap", gap, "m") * positive("reduced_pressure", reduced_pressure, "Pa"))
        wanted = self.critical_number / x
        reduced_field = np.full_like(x, np.inf)
        if np.any(np.asarray(self.curvature) > 0):
            with np.errstate(divide="ignore"):
                reduced_field = self.centre + np.sqrt((wanted + self.offset) / self.curvature)
        beyond = reduced_field > self.branch
        if np.any(beyond):
            with np.errstate(divide="ignore", invalid="ignore"):
                reduced_field = np.where(beyond, (wanted + self.intercept) / self.slope, reduced_field)
        return x * reduced_field
