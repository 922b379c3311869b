"""A bracketing root finder for arrays: every element by itself, all at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from service.physics.domain import Floats

STEPS = 240
"""Every fourth step halves the bracket, so that this is enough for double precision from any bracket."""
CLOSE = 1e-9
"""Relative step, and residual, at which a secant has converged: the next error is about its power 1.6."""

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
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where a function of each element changes its sign, and whether the ends enclosed a change.

    Parameters
    ----------
    function : callable
        See `Function`; asked only for the elements that have not converged.
    low, high : ndarray
        Ends of the bracket, one-dimensional.
    least : float
        Absolute step at which it has converged.
    at : tuple of ndarray, optional
        The function at both ends, where it is known.
    start : ndarray, optional
        A good guess inside the bracket.

    Notes
    -----
    Secant through the last two places, kept inside the bracket, which every fourth step halves.
    """
    every = np.arange(np.size(low))
    low, high = (np.array(end, dtype=np.float64) for end in (np.minimum(low, high), np.maximum(low, high)))
    at_low, at_high = at or (function(low, every), function(high, every))
    rises = at_low < 0
    enclosed = (rises & (at_high >= 0)) | ((at_low >= 0) & (at_high < 0)) | (at_low == 0)
    nearer = np.abs(at_low) < np.abs(at_high)
    a, fa = np.where(nearer, high, low), np.where(nearer, at_high, at_low)
    b, fb = np.where(nearer, low, high), np.where(nearer, at_low, at_high)
    found, todo = b.copy(), np.flatnonzero(enclosed & (fb != 0))
    guess = start
    for step in range(1, STEPS):
        if not todo.size:
            break
        if todo.size < b.size:
            low, high, rises, a, fa, b, fb = (one[todo] for one in (low, high, rises, a, fa, b, fb))
            guess = guess[todo] if guess is not None else None
        every = every[todo]
        with np.errstate(all="ignore"):
            c = b - fb * (b - a) / (fb - fa) if guess is None else guess
            inside = (c > low) & (c < high) & (step % 4 > 0)
            c = np.where(inside, c, (low + high) / 2)
            fc = function(c, every)
            left = (fc < 0) == rises
            low, high = np.where(left, c, low), np.where(left, high, c)
            near = inside & (np.abs(c - b) <= CLOSE * np.abs(c) + least) & (np.abs(fc) < CLOSE)
            found[every] = c
            todo = np.flatnonzero(~near & (fc != 0) & (high - low > 4e-16 * np.abs(c)))
        a, fa, b, fb, guess = b, fb, c, fc, None
    return found, enclosed
