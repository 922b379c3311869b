"""Breakdown and corona in the forms in which they are published: plates, vacuum, rods, long gaps, measured points.

The formulas for air are written in the reduced gap: the gap in air of the reference density that breaks down alike,
gap times relative density, or pd at 20 degC divided by 1 bar. Constants in kV per bar cm go with the latter. In vacuum
and below 10 um in air a range is given, within a factor and not a percentage.

All hold in the reference atmosphere of their source, 20 degC, 101.3 kPa and 11 g/m3; to other air by
`service.physics.corrections`. The ranges of the gap stand with the constants.

Across gaps the same pd gives voltages that differ by 15 to 29 %, so nothing is carried from one gap to another.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from service.errors import OutsideValidity
from service.physics.domain import Floats, positive, positive_numbers, within, within_numbers
from service.physics.numbers import Numbers, functions_for
from service.physics.root import find_root
from service.units import ROUNDING


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


def straight_line(gap: ArrayLike, gradient: float, constant: float = 0.0) -> Floats:
    """Return the breakdown voltage by a straight line.

    ``voltage = constant + gradient gap``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    gradient : float
        [V/m].
    constant : float
        [V].

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-rod, direct voltage of either polarity: 2 kV + 534 kV/m, 0.25 to 2.5 m, 3 %. Rod-plane, positive lightning
    impulse: about 530 kV/m.

    References
    ----------
    iec-60052-2002; iec-60071-2; from memory.

    Examples
    --------
    Rod-rod, direct, 500 mm: 269 kV.

    >>> f"{straight_line(0.5, 534e3, 2e3) / 1e3:.0f}"
    '269'
    """
    return np.asarray(constant + gradient * positive("gap", gap, "m"))


def power_law(gap: ArrayLike, coefficient: float, exponent: float) -> Floats:
    """Return the 50 % breakdown voltage by a power law.

    ``voltage = coefficient gap^exponent``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    coefficient : float
        Voltage at 1 m [V/m^exponent].
    exponent : float
        Dimensionless.

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-plane, positive switching impulse, lowest over the time to crest: 500 kV, 0.6, for 2 to 5 m. Negative: 1180 kV,
    0.45, from 2 m on; negative lightning impulse: 950 kV, 0.8, to 10 m.

    References
    ----------
    iec-60071-2; from memory.

    Examples
    --------
    3 m: 967 kV.

    >>> f"{power_law(3.0, 500e3, 0.6) / 1e3:.0f}"
    '967'
    """
    return np.asarray(coefficient * positive("gap", gap, "m") ** exponent)


def saturating_quotient(gap: ArrayLike, numerator: float, length: float) -> Floats:
    """Return the 50 % breakdown voltage by a quotient that tends to a limit.

    ``voltage = numerator / (1 + length / gap)``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    numerator : float
        Limit [V].
    length : float
        Gap at which half of it is reached [m].

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-plane, positive switching impulse, lowest over the time to crest: 3400 kV, 8 m, for 1 to 30 m.

    References
    ----------
    iec-60071-2; from memory.

    Examples
    --------
    3 m: 927 kV.

    >>> f"{saturating_quotient(3.0, 3400e3, 8.0) / 1e3:.0f}"
    '927'
    """
    return np.asarray(numerator / (1 + length / positive("gap", gap, "m")))


def logarithmic_law(gap: ArrayLike, coefficient: float, slope: float, exponent: float = 1.0) -> Floats:
    """Return the 50 % breakdown voltage by a logarithm.

    ``voltage = coefficient ln(1 + slope gap^exponent)``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    coefficient : float
        [V].
    slope : float
        [1/m^exponent].
    exponent : float
        Of the gap; dimensionless.

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-plane, positive switching impulse, lowest over the time to crest: 1080 kV, 0.46 per metre, to 25 m. Rod-plane,
    power frequency: 750 sqrt(2) kV, 0.55 per m^1.2, 1.2.

    References
    ----------
    iec-60071-2; from memory.

    Examples
    --------
    3 m: 936 kV; at power frequency 1185 kV.

    >>> f"{logarithmic_law(3.0, 1080e3, 0.46) / 1e3:.0f}"
    '936'
    >>> f"{logarithmic_law(3.0, 750e3 * 2**0.5, 0.55, 1.2) / 1e3:.0f}"
    '1185'
    """
    return np.asarray(coefficient * np.log1p(slope * positive("gap", gap, "m") ** exponent))


def with_gap_factor(rod_plane_voltage: ArrayLike, gap_factor: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of another electrode arrangement.

    ``voltage = gap_factor rod_plane_voltage``

    Parameters
    ----------
    rod_plane_voltage : array_like
        Voltage of a rod-plane gap of the same length [V]; greater than zero.
    gap_factor : array_like
        Gap factor of the arrangement; 1 (rod-plane) to 2 (1.8 is the highest of the table).

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap factor leaves the range or the voltage is not positive.

    Notes
    -----
    A gap factor K is for slow-front voltages; it is a typical value with a range of its own. At power frequency the
    factor is 1.35 K - 0.35 K^2, at positive lightning impulse 0.74 + 0.26 K.

    References
    ----------
    iec-60071-2, table of gap factors; from memory.
    """
    factor = within("gap_factor", gap_factor, 1.0, 2.0, "")
    return np.asarray(factor * positive("rod_plane_voltage", rod_plane_voltage, "V"))


@dataclass(frozen=True)
class CoronaLaw:
    """Constants of the corona onset field of one shape.

    Parameters
    ----------
    field : float
        Peak field of a large conductor at the law's own reference density [V/m].
    root : float
        Weight of the curvature [m^0.5].
    reference_density : float
        Density at which delta of the law is one, relative to 20 degC and 101.3 kPa.
    """

    field: float
    root: float
    reference_density: float = 1.0


def onset_field(law: CoronaLaw, radius: Numbers, relative_density: Numbers, surface_factor: Numbers = 1.0) -> Numbers:
    """Return the field at the surface at which corona starts.

    ``field = g0 delta m (1 + c / sqrt(delta radius))``, delta referred to the reference density of the law

    Parameters
    ----------
    law : CoronaLaw
        Constants g0 and c of the shape: parallel wires, coaxial cylinders or spheres.
    radius : array_like
        Radius of the conductor [m]; greater than zero.
    relative_density : array_like
        Air density relative to 20 degC and 101.3 kPa, as everywhere here; greater than zero.
    surface_factor : array_like
        Factor m: 1 for polished, about 0.93 to 0.98 for weathered, 0.80 to 0.87 for stranded wire; above 0, to 1.

    Returns
    -------
    ndarray
        Peak field [V/m]; over the highest field per volt of the shape it is the onset voltage.

    Raises
    ------
    OutsideValidity
        When an argument is not positive, or the surface factor exceeds one.

    Notes
    -----
    Alternating voltage, isolated conductors, dry weather. The formula was written for 25 degC and 76 cm of mercury.

    References
    ----------
    peek-1929; from memory.

    Examples
    --------
    Parallel wires of 1 cm radius at the reference density: 39.0 kV/cm.

    >>> f"{onset_field(CoronaLaw(field=30e5, root=0.0301), 0.01, 1.0) / 1e5:.1f}"
    '39.0'
    """
    r = positive_numbers("radius", radius, "m")
    delta = positive_numbers("relative_density", relative_density, "") / law.reference_density
    m = within_numbers("surface_factor", positive_numbers("surface_factor", surface_factor, ""), 0.0, 1.0, "")
    return law.field * delta * m * (1 + law.root / functions_for(delta * r).sqrt(delta * r))


@dataclass(frozen=True, eq=False)
class MeasuredSeries:
    """Measured points of one gap, in the order of pressure.

    Parameters
    ----------
    gap : float
        Distance [m].
    pressures : ndarray
        Rising [Pa].
    voltages : ndarray
        Breakdown voltages, peak [V].
    """

    gap: float
    pressures: Floats
    voltages: Floats


def series_of(gaps: ArrayLike, pressures: ArrayLike, voltages: ArrayLike) -> tuple[MeasuredSeries, ...]:
    """Return the points of a campaign in one gas, sorted into one series per gap.

    Parameters
    ----------
    gaps : array_like
        Distance of each point [m].
    pressures : array_like
        Pressure of each point [Pa]; no pressure twice in one gap.
    voltages : array_like
        Breakdown voltage of each point, peak [V].

    Returns
    -------
    tuple of Series
        In the order of gap; gaps with a single point are left out, since nothing lies between.

    Raises
    ------
    ValueError
        When one gap has a pressure twice.

    Examples
    --------
    >>> [series.gap for series in series_of([1.0, 1.0, 2.0], [1.0, 2.0, 1.0], [3.0, 4.0, 5.0])]
    [1.0]
    """
    d, p, V = (np.asarray(column, dtype=np.float64) for column in (gaps, pressures, voltages))
    found = []
    for gap in np.unique(d):
        order = np.flatnonzero(d == gap)[np.argsort(p[d == gap])]
        if np.any(np.diff(p[order]) == 0):
            raise ValueError(f"gap {gap:.6g} m has one pressure twice")
        if order.size > 1:
            found.append(MeasuredSeries(float(gap), p[order], V[order]))
    return tuple(found)


def measured_voltage(gap: ArrayLike, pressure: ArrayLike, campaign: tuple[MeasuredSeries, ...]) -> Floats:
    """Return the breakdown voltage between two measured points of the same gap.

    ``ln voltage`` straight in ``ln pressure``

    Parameters
    ----------
    gap : array_like
        Distance [m]; one of the measured gaps.
    pressure : array_like
        Pressure reduced to 20 degC [Pa]; within the measured pressures of that gap.
    campaign : tuple of MeasuredSeries
        Of `series_of`.

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V].

    Raises
    ------
    OutsideValidity
        When a gap was not measured, or a pressure lies beyond its measured ends.

    Notes
    -----
    Leaving out every inner point of the four gases in turn, gaps from 1 mm, gives it back within 2.3 % in the median
    and 8.4 % for 95 % of them. Stated uncertainty 15 %.

    References
    ----------
    norman-2022.

    Examples
    --------
    >>> campaign = series_of([1e-3, 1e-3], [101325.0, 202650.0], [1200.0, 2144.0])
    >>> float(measured_voltage(1e-3, 101325.0, campaign).round(6))
    1200.0
    """
    d, p = np.broadcast_arrays(np.asarray(gap, np.float64), np.asarray(pressure, np.float64))
    voltage = np.full(d.shape, np.nan)
    for series in campaign:
        here = np.isclose(d, series.gap, rtol=ROUNDING, atol=0.0)
        inside = within("pressure", p[here], series.pressures[0], series.pressures[-1], "Pa")
        voltage[here] = np.exp(np.interp(np.log(inside), np.log(series.pressures), np.log(series.voltages)))
    if np.any(np.isnan(voltage)):
        known = ", ".join(f"{series.gap:.6g}" for series in campaign)
        detail = f"Measured gaps are {known} m; nothing is interpolated between gaps."
        raise OutsideValidity.about("gap", detail)
    return voltage
