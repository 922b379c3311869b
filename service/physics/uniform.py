"""Published formulas for the breakdown voltage between plates: in gas, in vacuum, across a few micrometres.

The formulas for air are written in the reduced gap: the gap in air of the reference density that breaks down alike,
gap times relative density, or pd at 20 degC divided by 1 bar. Constants in kV per bar cm go with the latter. In vacuum
and below 10 um in air a range is given, within a factor and not a percentage.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from service.errors import OutsideValidity
from service.physics.domain import Floats, positive, positive_numbers, within
from service.physics.numbers import Numbers, functions_for
from service.physics.root import find_root


def quadratic_root_voltage(reduced_gap: Numbers, linear: float, root: float) -> Numbers:
    """Return the breakdown voltage of a formula with a linear and a root term.

    ``voltage = linear reduced_gap + root sqrt(reduced_gap)``

    Parameters
    ----------
    reduced_gap : array_like
        Gap times density over the reference density of the constants [m]; greater than zero.
    linear : float
        Breakdown field of long gaps at the reference density, A [V/m].
    root : float
        Coefficient of the root, B [V/sqrt(m)].

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V].

    Raises
    ------
    OutsideValidity
        When a reduced gap is not greater than zero.

    Notes
    -----
    It is the streamer criterion with an ionization that grows as the square of the field above ``linear``. It has no
    minimum and must end where it meets Townsend's criterion. Stated uncertainty 3 % in air.

    References
    ----------
    kuffel-zaengl-kuffel-2000, eq. 5.107 (24.36 and 6.72, printed for 1e-2 to 5e2 bar cm); bruce-1947; ritz-1932.

    Examples
    --------
    >>> f"{quadratic_root_voltage(0.01, 2422e3, 60.8e3):.0f}"
    '30300'
    """
    x = positive_numbers("reduced gap", reduced_gap, "m")
    return linear * x + root * functions_for(x).sqrt(x)


def linear_voltage(pd: ArrayLike, offset: float, slope: float) -> Floats:
    """Return the breakdown voltage of a straight line, as strongly attaching gases have it.

    ``voltage = offset + slope pd``

    Parameters
    ----------
    pd : array_like
        Pressure times gap at 20 degC [Pa m]; greater than zero, within the validity of the constants.
    offset : float
        Voltage at vanishing pd [V].
    slope : float
        Limiting field over pressure [V/(Pa m)].

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V].

    Raises
    ------
    OutsideValidity
        When a pd is not greater than zero.

    Notes
    -----
    Sulfur hexafluoride: 0.5 + 88.4 x kV, x in bar cm, from 0.05 bar cm, clean small electrodes, 5 %; above 2 to 5 bar
    or 200 kV/cm real electrodes break down earlier.

    References
    ----------
    kuffel-zaengl-kuffel-2000, eq. 5.113.

    Examples
    --------
    >>> float(linear_voltage(1000.0, 500.0, 88.4))
    88900.0
    """
    return np.asarray(offset + slope * positive("pd", pd, "Pa m"))


def mixture_factor(fraction: ArrayLike, exponent: float) -> Floats:
    """Return the strength of a mixture relative to its strong component.

    ``factor = fraction ^ exponent``

    Parameters
    ----------
    fraction : array_like
        Mole fraction of the strong component; 0.05 to 1.
    exponent : float
        0.18 for sulfur hexafluoride in nitrogen.

    Returns
    -------
    ndarray
        Relative strength; dimensionless.

    Raises
    ------
    OutsideValidity
        When a fraction is outside 0.05 to 1.

    Notes
    -----
    A rule for limiting fields: below 0.5 bar cm the mixture is stronger than it says.

    References
    ----------
    malik-qureshi-1979.

    Examples
    --------
    >>> float(mixture_factor(0.2, 0.18).round(3))
    0.748
    """
    return np.asarray(within("fraction", fraction, 0.05, 1.0, "") ** exponent)


def mixture_voltage(fraction: ArrayLike, fractions: ArrayLike, voltages: ArrayLike) -> Floats:
    """Return the breakdown voltage of a mixture between those of two neighbouring mixtures.

    ``ln voltage`` straight in ``ln fraction``

    Parameters
    ----------
    fraction : array_like
        Mole fraction of the strong component, shape (n,); within the tabulated fractions.
    fractions : array_like
        Tabulated mole fractions, rising, shape (m,).
    voltages : array_like
        Breakdown voltages of the tabulated mixtures at the same pd [V], shape (m, n).

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V], shape (n,).

    Raises
    ------
    OutsideValidity
        When a fraction lies outside the tabulated ones.

    Notes
    -----
    A power law between neighbours, in the spirit of `mixture_factor`.

    References
    ----------
    malik-qureshi-1979.

    Examples
    --------
    >>> mixture_voltage([0.2], [0.1, 0.4], [[100.0], [200.0]]).round(3).tolist()
    [141.421]
    """
    table, logs = np.log(np.asarray(fractions, np.float64)), np.log(np.asarray(voltages, np.float64))
    wanted = np.log(within("fraction", fraction, float(np.exp(table[0])), float(np.exp(table[-1])), ""))
    cell = np.clip(np.searchsorted(table, wanted, side="right") - 1, 0, len(table) - 2)
    share = (wanted - table[cell]) / (table[cell + 1] - table[cell])
    column = np.arange(logs.shape[1])
    return np.asarray(np.exp((1 - share) * logs[cell, column] + share * logs[cell + 1, column]))


def crossing(first: Callable[[float], float], second: Callable[[float], float], low: float, high: float) -> float:
    """Return the pd at which two methods give the same voltage: where one hands over to the other without a step.

    ``first(pd) = second(pd)``

    Parameters
    ----------
    first, second : callable
        Breakdown voltage [V] of a pd [Pa m].
    low, high : float
        pd between which they cross once [Pa m].

    Returns
    -------
    float
        Pressure times gap at 20 degC [Pa m].

    Raises
    ------
    OutsideValidity
        When they do not cross between the ends.

    Notes
    -----
    Air: Townsend's criterion and 24.36 x + 6.72 sqrt(x) cross at 3.588e-3 bar cm, 490 V.

    References
    ----------
    brent-1973, root finding by bracketing.

    Examples
    --------
    >>> round(crossing(lambda x: 2 * x, lambda x: 3 + x, 1.0, 10.0), 9)
    3.0
    """

    def difference(pd: Floats, _: object) -> Floats:
        return np.log([first(float(pd[0])) / second(float(pd[0]))])

    found, enclosed = find_root(difference, np.array([low]), np.array([high]))
    if not enclosed[0]:
        raise OutsideValidity(f"The two methods do not cross between {low:.6g} and {high:.6g} Pa m.")
    return float(found[0])


def vacuum_voltage(gap: ArrayLike, product: float, hand_over: float) -> Floats:
    """Return the breakdown voltage of a vacuum gap between broad electrodes.

    ``voltage = sqrt(product gap)`` from ``hand_over`` on; below it proportional to the gap, joined there

    Parameters
    ----------
    gap : array_like
        Distance [m]; greater than zero.
    product : float
        Voltage times field, the constant of the root law [V2/m].
    hand_over : float
        Gap at which the proportional law ends [m].

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V]; within a factor of 2.

    Raises
    ------
    OutsideValidity
        When a gap is not greater than zero.

    Notes
    -----
    Metal, polish and conditioning decide: 37 kV (copper) to 122 kV (steel) at 1 mm. Independent of pressure below
    10 mPa. X-rays are possible above 5 kV.

    References
    ----------
    cranberg-1952 (0.2 mm to 6 m, its end points imply 2e12 to 8e12 V2/m); latham (proportional below 0.3 to 1 mm).

    Examples
    --------
    >>> float((vacuum_voltage(1e-3, 4e12, 0.76e-3) / 1e3).round())
    63.0
    """
    d = positive("gap", gap, "m")
    return np.asarray(np.sqrt(product * np.maximum(d, hand_over)) * np.minimum(d / hand_over, 1.0))


class Range(NamedTuple):
    """Lowest, likely and highest breakdown voltage, peak [V]."""

    low: Floats
    value: Floats
    high: Floats


def microgap_range(gap: ArrayLike, low_field: float, high_field: float, low_cap: float, high_cap: float) -> Range:
    """Return the range of breakdown voltages of a micrometre gap.

    ``low = min(low_field gap, low_cap)``, ``high = min(high_field gap, high_cap)``, ``value = sqrt(low high)``

    Parameters
    ----------
    gap : array_like
        Distance [m]; greater than zero, up to 10 um.
    low_field : float
        Field at which rough electrodes break down [V/m].
    high_field : float
        Field that smooth electrodes reach [V/m].
    low_cap : float
        Highest value of the lower bound, 0.9 of the Paschen minimum [V].
    high_cap : float
        Plateau of the measured curves [V].

    Returns
    -------
    Range
        The value is the geometric mean of the bounds.

    Raises
    ------
    OutsideValidity
        When a gap is not greater than zero.

    Notes
    -----
    Field emission lets such gaps break down below the Paschen minimum; measured fields run from 65 V/um (rough) to
    350 V/um (smooth). Air and nitrogen, 80 to 110 kPa.

    References
    ----------
    peschot-2014 (350 V/um); torres-dhariwal-1999 and slade-taylor-2002 (65 to 110 V/um); hourdakis-2006 (end at 10 um).

    Examples
    --------
    >>> [round(float(bound)) for bound in microgap_range(1e-6, 65e6, 350e6, 304.0, 360.0)]
    [65, 151, 350]
    """
    d = positive("gap", gap, "m")
    low, high = np.minimum(low_field * d, low_cap), np.minimum(high_field * d, high_cap)
    return Range(low, np.sqrt(low * high), high)
