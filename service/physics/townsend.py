"""The avalanche criterion in a uniform field: exponent, voltage, minimum and ends, and the branch beyond the tables.

``effective ionization times gap = exponent``: with the exponent that the secondary electrons of the cathode ask for it
is Townsend's criterion, with a fixed number K the streamer criterion. pd is pressure times gap, reduced to 20 degC.
Left of the minimum a shorter gap needs more voltage, so the discharge takes the longest path it finds; beyond the end
of the ionization tables that branch is rough, and said to be so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within
from service.physics.ionization import Ionization
from service.physics.root import find_root


def townsend_exponent(secondary: ArrayLike) -> Floats:
    """Return the avalanche exponent at breakdown of a secondary coefficient.

    ``exponent = ln(1 + 1 / secondary)``

    Parameters
    ----------
    secondary : array_like
        Secondary electrons per ion, gamma; greater than zero.

    Returns
    -------
    ndarray
        Exponent alpha d; dimensionless.

    Raises
    ------
    OutsideValidity
        When a value is not greater than zero.

    Notes
    -----
    With attachment the exact criterion is ``alpha/alpha_eff (exp(alpha_eff d) - 1) = 1/gamma``; leaving the ratio out
    changes the voltage of air by less than 0.5 % up to 3 Torr cm, by 1 % at 200 Torr cm. A gamma belongs to the
    ionization coefficients it was found with.

    References
    ----------
    naidu-kamaraju, chapter 2, Townsend's criterion.

    Examples
    --------
    >>> float((townsend_exponent(0.0354) / 39.8).round(4))
    0.0848
    """
    return np.asarray(np.log1p(1 / positive("secondary coefficient", secondary, "")))


def bridged_exponent(pd: ArrayLike, near: tuple[float, float], far: tuple[float, float]) -> Floats:
    """Return an avalanche exponent that changes from one published value to another between two pd.

    ``exponent`` straight in ``ln pd`` from ``near`` to ``far``, constant outside

    Parameters
    ----------
    pd : array_like
        Pressure times gap at 20 degC [Pa m]; greater than zero.
    near, far : tuple of float
        pd [Pa m] and exponent, near the minimum and far from it; ``near`` at the smaller pd.

    Returns
    -------
    ndarray
        Avalanche exponent at breakdown.

    Raises
    ------
    OutsideValidity
        When a pd is not greater than zero.

    Notes
    -----
    Ions release secondaries near the minimum, other processes at high pd; the published exponents differ and the way
    from one to the other is ours: continuous and rising, no source.

    References
    ----------
    none; common practice is a switch.

    Examples
    --------
    >>> float(bridged_exponent(10.0, (1.0, 4.0), (100.0, 7.0)).round(9))
    5.5
    """
    x = positive("pd", pd, "Pa m")
    places, exponents = zip(near, far, strict=True)
    return np.asarray(np.interp(np.log(x), np.log(places), exponents))


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
    >>> from service.physics.ionization import LinearIonization
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


def left_branch_voltage(pd: ArrayLike, minimum_voltage: float, scale: float) -> Floats:
    """Return the breakdown voltage left of the minimum.

    ``voltage = minimum_voltage r / (1 + ln r)`` with ``r = pd / scale``

    Parameters
    ----------
    pd : array_like
        Pressure times gap at 20 degC [Pa m]; above scale/e, up to scale.
    minimum_voltage : float
        Minimum breakdown voltage of the gas [V].
    scale : float
        pd at which this curve has its minimum [Pa m], of `left_branch_scale`.

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V].

    Raises
    ------
    OutsideValidity
        When a pd lies outside its limits.

    Notes
    -----
    The shape of the exponential closed form, 40 %: for orientation, to 5 kV.

    References
    ----------
    naidu-kamaraju, chapter 2, Paschen's law in reduced coordinates.

    Examples
    --------
    >>> float(left_branch_voltage(0.96, 338.0, 0.96))
    338.0
    """
    r = within("pd", pd, np.exp(-1.0) * scale, scale, "Pa m") / scale
    return np.asarray(minimum_voltage * r / positive("distance from the pole", 1 + np.log(r), ""))


def left_branch_pd(voltage: ArrayLike, minimum_voltage: float, scale: float) -> Floats:
    """Return the pd left of the minimum that breaks down at a voltage.

    ``r = exp(u - 1)`` with ``exp(u - 1) / u = voltage / minimum_voltage`` and u from 0 to 1

    Parameters
    ----------
    voltage : array_like
        Voltage, peak [V]; at least the minimum.
    minimum_voltage : float
        Minimum breakdown voltage of the gas [V].
    scale : float
        pd at which this curve has its minimum [Pa m].

    Returns
    -------
    ndarray
        Pressure times gap at 20 degC [Pa m].

    Raises
    ------
    OutsideValidity
        When a voltage is below the minimum.

    Notes
    -----
    The inverse of `left_branch_voltage`, solved by bracketing; in closed form u is minus the principal branch of
    Lambert's function at ``-minimum_voltage / (e voltage)``.

    References
    ----------
    corless-1996, on the Lambert W function.

    Examples
    --------
    >>> float(left_branch_pd(338.0, 338.0, 0.96).round(6))
    0.96
    """
    V = within("voltage", voltage, minimum_voltage, np.inf, "V")
    q = np.maximum(V / minimum_voltage, 1.0)

    flat = np.ravel(q)
    ratio = np.log(flat)
    u, _ = find_root(
        lambda u, which: u - 1 - np.log(u) - ratio[which], np.exp(-1) / flat * (1 - 1e-12), np.ones_like(flat)
    )
    u = u.reshape(q.shape)
    return np.asarray(scale * np.exp(u - 1))


def left_branch_scale(pd: float, voltage: float, minimum_voltage: float) -> float:
    """Return the scale with which the branch begins at the end of another method.

    ``left_branch_voltage(pd, minimum_voltage, scale) = voltage``

    Parameters
    ----------
    pd : float
        End of the other method [Pa m].
    voltage : float
        Its voltage there [V]; at least the minimum.
    minimum_voltage : float
        Minimum breakdown voltage of the gas [V].

    Returns
    -------
    float
        pd at which this curve has its minimum [Pa m].

    Raises
    ------
    OutsideValidity
        When the voltage is below the minimum.

    Notes
    -----
    The computed table of air ends at 0.427 Torr cm with 422 V; the scale is then 0.72 Torr cm.

    References
    ----------
    naidu-kamaraju, chapter 2.

    Examples
    --------
    >>> round(left_branch_scale(0.427, 422.0, 338.0), 2)
    0.72
    """
    return pd / float(left_branch_pd(voltage, minimum_voltage, 1.0))
