"""Effective ionization of a gas as a fit with its critical number: the two halves of the streamer criterion."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

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

    @cached_property
    def threshold(self) -> float:
        """Reduced field above which ionization wins over attachment [V/(m Pa)]."""
        if self.curvature > 0:
            quadratic = self.centre + float(np.sqrt(self.offset / self.curvature))
            if quadratic < self.branch:
                return quadratic
        return self.intercept / self.slope

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
        linear = self.slope * reduced_field - self.intercept
        return np.where(reduced_field >= self.branch, linear, quadratic)

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
        if self.curvature > 0:
            reduced_field = self.centre + np.sqrt((wanted + self.offset) / self.curvature)
        beyond = reduced_field > self.branch
        if np.any(beyond):
            reduced_field = np.where(beyond, (wanted + self.intercept) / self.slope, reduced_field)
        return x * reduced_field
