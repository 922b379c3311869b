"""The avalanche exponent at breakdown, from the secondary electrons that the cathode gives per ion."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive


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


def secondary_coefficient(exponent: ArrayLike) -> Floats:
    """Return the secondary coefficient whose criterion has an avalanche exponent.

    ``secondary = 1 / (exp(exponent) - 1)``

    Parameters
    ----------
    exponent : array_like
        Exponent alpha d at breakdown; greater than zero.

    Returns
    -------
    ndarray
        Secondary electrons per ion, gamma.

    Raises
    ------
    OutsideValidity
        When a value is not greater than zero.

    Notes
    -----
    The inverse of `townsend_exponent`. Textbooks often leave the 1 out, 0.1 % at gamma = 0.001.

    References
    ----------
    naidu-kamaraju, chapter 2, example 2.3.

    Examples
    --------
    >>> float(secondary_coefficient(7.676 * 0.9).round(6))
    0.001
    """
    return np.asarray(1 / np.expm1(positive("exponent", exponent, "")))


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
