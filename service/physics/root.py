"""A bracketing root finder for arrays: every element by itself, all at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from service.physics.domain import Floats

STEPS = 240
"""Every fourth step halves the bracket or the step, so that this is enough for double precision from any bracket."""
CLOSE = 1e-9
"""Relative step, and residual, at which a secant has converged: the next error is about its power 1.6."""
NARROWEST = 4e-16
"""Relative width of a bracket that double precision does not divide any more."""

Indices = NDArray[np.intp]
Function = Callable[[Floats, Indices], Floats]
"""Places and the elements that they belong to, to the function there; of the order of one away from its root."""


def find_root(
    function: Function,
    low: Floats,
    high: Floats,
    *,
    least: float = 1e-300,
    at: tuple[Floats, Floats] | None = None,
    start: Floats | None = None,
    slope: Floats | None = None,
    enough: float = 0.0,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where a function of each element changes its sign, and whether the ends enclosed a change.

    Parameters
    ----------
    function : callable
        See `Function`; asked only for the elements that have not converged.
    low, high : ndarray
        Ends of the bracket, one-dimensional, in any order.
    least : float
        Absolute step at which it has converged.
    at : tuple of ndarray, optional
        The function at both ends, where it is known.
    start : ndarray, optional
        A good guess; one outside the bracket is not followed.
    slope : ndarray, optional
        Of the function at the guess, about: the second place is then Newton's.
    enough : float
        Residual at which a place is taken, where the function is known not to be level.

    Returns
    -------
    tuple of ndarray
        Places, and a mask: false where the ends enclosed no change of sign, so that the place says nothing.

    Notes
    -----
    Secant through the last two places, kept inside the bracket, which every fourth step halves unless the secant's
    steps do so themselves. Where the function jumps over zero the place is the jump.
    """
    at_low, at_high = at or (function(low, np.arange(low.size)), function(high, np.arange(low.size)))
    turned = low > high
    low, high = np.where(turned, high, low), np.where(turned, low, high)
    at_low, at_high = np.where(turned, at_high, at_low), np.where(turned, at_low, at_high)
    rises = at_low < 0
    enclosed = (rises & (at_high >= 0)) | ((at_low >= 0) & (at_high < 0)) | (at_low == 0)
    nearer = np.abs(at_low) < np.abs(at_high)
    a, fa = np.where(nearer, high, low), np.where(nearer, at_high, at_low)
    b, fb = np.where(nearer, low, high), np.where(nearer, at_low, at_high)
    found, every = b.copy(), np.flatnonzero(enclosed & (fb != 0))
    low, high, a, fa, b, fb = (one[every] for one in (low, high, a, fa, b, fb))
    rises = rises[every]
    guess = _secant(a, fa, b, fb) if start is None else start[every]
    for step in range(1, STEPS):
        if not every.size:
            break
        with np.errstate(all="ignore"):
            trusted = (guess > low) & (guess < high) & (step % 4 > 0 or np.abs(guess - b) < np.abs(b - a) / 2)
            c = np.where(trusted, guess, (low + high) / 2)
            fc = function(c, every)
            before = (fc < 0) == rises
            low, high = np.where(before, c, low), np.where(before, high, c)
            close = trusted & (np.abs(c - b) <= CLOSE * np.abs(c) + least) & (np.abs(fc) < CLOSE)
            found[every] = c
            open_ = ~close & (np.abs(fc) > enough) & (high - low > NARROWEST * np.abs(c))
            a, fa, b, fb = b, fb, c, fc
            guess = _secant(a, fa, b, fb) if slope is None or step > 1 else c - fc / slope[every]
        if not open_.all():
            every, rises = every[open_], rises[open_]
            low, high, a, fa, b, fb, guess = (one[open_] for one in (low, high, a, fa, b, fb, guess))
    return found, enclosed


def find_root_of_one(
    function: Callable[[float], float],
    ends: tuple[float, float],
    at: tuple[float, float],
    start: float,
    *,
    least: float = 1e-300,
    enough: float = 0.0,
) -> float | None:
    """Return what `find_root` does, for one element in plain numbers, which for one is ten times faster.

    Parameters
    ----------
    function : callable
        Of a plain number.
    ends, at : tuple of float
        Of the bracket, rising, and the function there.
    start, least, enough : float
        As in `find_root`.

    Returns
    -------
    float or None
        Nothing where the ends enclose no change of sign.
    """
    (low, high), rises = ends, at[0] < 0
    if rises == (at[1] < 0) and at[0] != 0:
        return None
    (fb, b), (fa, a) = sorted(zip(at, ends, strict=True), key=lambda one: abs(one[0]))
    if fb == 0:
        return b
    guess = start
    for step in range(1, STEPS):
        trusted = low < guess < high and (step % 4 > 0 or abs(guess - b) < abs(b - a) / 2)
        c = guess if trusted else (low + high) / 2
        fc = function(c)
        low, high = (c, high) if (fc < 0) == rises else (low, c)
        close = trusted and abs(c - b) <= CLOSE * abs(c) + least and abs(fc) < CLOSE
        a, fa, b, fb = b, fb, c, fc
        if close or not abs(fc) > enough or not high - low > NARROWEST * abs(c):
            break
        guess = b - fb * (b - a) / (fb - fa) if fb != fa else b
    return b


def _secant(a: Floats, fa: Floats, b: Floats, fb: Floats) -> Floats:
    with np.errstate(all="ignore"):
        return b - fb * (b - a) / (fb - fa)
