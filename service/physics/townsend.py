"""The avalanche criterion in a uniform field: voltage, minimum, ends and inverse on each branch.

``effective ionization times gap = exponent``: with the exponent of `service.physics.secondary` Townsend's criterion,
with a fixed number K the streamer criterion. pd is pressure times gap, reduced to 20 degC.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within
from service.physics.ionization import Ionization
from service.physics.root import find_root
from service.physics.secondary import secondary_coefficient


def breakdown_voltage(pd: ArrayLike, ionization: Ionization, exponent: ArrayLike) -> Floats:
    """Return the voltage at which avalanches across a uniform field reach an exponent.

    ``effective(voltage / pd) pd = exponent``

    Parameters
    ----------
    pd : array_like
        Pressure times gap at 20 degC [Pa m]; within `pd_limits`.
    ionization : Ionization
        Effective ionization of the gas.
    exponent : array_like
        Avalanche exponent at breakdown, of `townsend_exponent` or a streamer constant; not negative.

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V].

    Raises
    ------
    OutsideValidity
        When the field that this needs lies outside the range of the ionization coefficients.

    Notes
    -----
    With the exponential form this is ``V = B pd / (ln(A pd) - ln ln(1 + 1/gamma))``. Cold gas between plates, not
    long narrow tubes. Similarity: only the product pd counts.

    References
    ----------
    naidu-kamaraju, chapter 2, example 2.4 (with B = 360 V/(cm Torr); the field of that example is below the printed
    range of its constants).

    Examples
    --------
    >>> from service.physics.closed_forms import LinearIonization
    >>> sulfur_hexafluoride = LinearIonization(0.027, 2.4004, 75.0, 200.0)
    >>> breakdown_voltage(101.3e3 * 1e-3, sulfur_hexafluoride, [0.0, 18.42]).round().tolist()
    [9006.0, 9688.0]
    """
    x = positive("pd", pd, "Pa m")
    K = within("exponent", exponent, 0.0, np.inf, "")
    return np.asarray(ionization.field(K / x) * x)


def pd_limits(ionization: Ionization, exponent: float) -> tuple[float, float]:
    """Return the ends of pd between which the range of the ionization coefficients gives a breakdown voltage.

    ``pd = exponent / effective(field at an end of the range)``

    Parameters
    ----------
    ionization : Ionization
        Effective ionization of the gas.
    exponent : float
        Avalanche exponent at breakdown.

    Returns
    -------
    tuple of float
        Lowest and highest pd at 20 degC [Pa m]; the highest infinite where the range begins without net ionization.

    Notes
    -----
    High fields belong to small pd.

    References
    ----------
    naidu-kamaraju, chapter 2.
    """
    low = float(ionization.effective(ionization.lowest))
    high = float(ionization.effective(ionization.highest))
    # where ionization and attachment balance, rounding leaves a remnant that is no ionization
    return exponent / high, exponent / low if low > 1e-12 * high else np.inf


def minimum(ionization: Ionization, exponent: float) -> tuple[float, float]:
    """Return where the breakdown voltage is least.

    ``voltage = exponent min(field / effective(field))``

    Parameters
    ----------
    ionization : Ionization
        Effective ionization of the gas.
    exponent : float
        Avalanche exponent at breakdown.

    Returns
    -------
    tuple of float
        pd at 20 degC [Pa m] and breakdown voltage [V] of the minimum, or of the end of the range nearest to it.

    Notes
    -----
    Voltages of published minima are met by fitting gamma; positions of computed minima are off by 10 to 130 %.

    References
    ----------
    naidu-kamaraju, chapter 2, minimum sparking potential.
    """
    field = ionization.optimum
    effective = float(ionization.effective(field))
    return exponent / effective, exponent * field / effective


def fit_secondary(ionization: Ionization, minimum_voltage: float) -> float:
    """Return the secondary coefficient with which the minimum breakdown voltage is a published one.

    ``exponent = minimum_voltage / min(field / effective(field))``

    Parameters
    ----------
    ionization : Ionization
        Effective ionization of the gas.
    minimum_voltage : float
        Published minimum breakdown voltage [V].

    Returns
    -------
    float
        Secondary electrons per ion, gamma; it belongs to these ionization coefficients alone.

    Notes
    -----
    One number fits one voltage: the position of the minimum is not fitted.

    References
    ----------
    naidu-kamaraju, table 2.1.
    """
    field = ionization.optimum
    exponent = minimum_voltage * float(ionization.effective(field)) / field
    return float(secondary_coefficient(exponent))


def pd_at_voltage(voltage: ArrayLike, ionization: Ionization, exponent: float, branch: str) -> Floats:
    """Return the pd that breaks down at a voltage, left or right of the minimum.

    ``breakdown_voltage(pd) = voltage``

    Parameters
    ----------
    voltage : array_like
        Voltage, peak [V]; at least the minimum.
    ionization : Ionization
        Effective ionization of the gas.
    exponent : float
        Avalanche exponent at breakdown.
    branch : str
        ``left`` or ``right``.

    Returns
    -------
    ndarray
        Pressure times gap at 20 degC [Pa m].

    Raises
    ------
    OutsideValidity
        When that branch does not reach the voltage inside the range of the ionization coefficients.

    Notes
    -----
    Solved for the field by bracketing between the field of the minimum and the end of the range.

    References
    ----------
    naidu-kamaraju, chapter 2.
    """
    optimum = ionization.optimum
    end = {"left": ionization.highest, "right": max(ionization.lowest * (1 + 1e-12), 1e-3 * optimum)}[branch]

    def log_ratio(log_field: Floats) -> Floats:
        return np.asarray(log_field - np.log(ionization.effective(np.exp(log_field))))

    bracket = np.log(end), np.log(optimum)
    most, least = (float(log_ratio(side)) for side in bracket)
    V = within("voltage", voltage, exponent * np.exp(least), exponent * np.exp(most), "V")
    target = np.clip(np.log(V / exponent), least, most)  # inside already, up to rounding
    flat = np.ravel(target)
    ends = (np.full(flat.size, end) for end in sorted(bracket))
    solved, _ = find_root(lambda field, which: log_ratio(field) - flat[which], *ends, least=1e-14)
    return np.asarray(exponent / ionization.effective(np.exp(solved))).reshape(np.shape(target))
