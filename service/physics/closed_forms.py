"""Closed forms of the ionization coefficient that textbooks print, each inside its printed range only.

Constants from tables in 1/(cm Torr) and V/(cm Torr) at 20 degC, in SI here. Inside the range they are good to 10 to
20 %, outside unusable.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, within
from service.physics.ionization import Ionization


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
