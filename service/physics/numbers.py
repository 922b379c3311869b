"""One relation for a plain number and for an array of them: the functions that go with either.

NumPy at one element costs a microsecond a step, a plain number a fiftieth of it. So that nothing is spelt twice, what
is asked of single questions takes its functions from `functions_for` and keeps to operators otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

Numbers = Any
"""A plain number, or an array of them; of plain numbers all stays plain."""
OfOne = Callable[[Numbers], NDArray[np.float64]]
OfTwo = Callable[[Numbers, Numbers], NDArray[np.float64]]


class Functions(Protocol):
    """Functions of numbers, typed as they are of arrays."""

    sqrt: OfOne
    exp: OfOne
    expm1: OfOne
    log: OfOne
    log1p: OfOne
    atan: OfOne
    atanh: OfOne
    asinh: OfOne
    ceil: OfOne
    rint: OfOne
    maximum: OfTwo
    minimum: OfTwo
    fmin: OfTwo
    fmax: OfTwo
    where: Callable[[Numbers, Numbers, Numbers], NDArray[np.float64]]
    isnan: Callable[[Numbers], NDArray[np.bool_]]
    all: Callable[[Numbers], bool]
    any: Callable[[Numbers], bool]


def _where(condition: bool, yes: float, no: float) -> float:
    return yes if condition else no


def _fmin(a: float, b: float) -> float:
    return a if a <= b or math.isnan(b) else b


def _fmax(a: float, b: float) -> float:
    return a if a >= b or math.isnan(b) else b


PLAIN: Any = SimpleNamespace(
    sqrt=math.sqrt,
    exp=math.exp,
    expm1=math.expm1,
    log=math.log,
    log1p=math.log1p,
    atan=math.atan,
    atanh=math.atanh,
    asinh=math.asinh,
    ceil=math.ceil,
    rint=round,
    maximum=max,
    minimum=min,
    fmin=_fmin,
    fmax=_fmax,
    where=_where,
    isnan=math.isnan,
    all=bool,
    any=bool,
)
"""Functions for plain numbers; ``maximum`` and ``minimum`` are for what is a number."""
ARRAYS: Any = SimpleNamespace(
    sqrt=np.sqrt,
    exp=np.exp,
    expm1=np.expm1,
    log=np.log,
    log1p=np.log1p,
    atan=np.arctan,
    atanh=np.arctanh,
    asinh=np.arcsinh,
    ceil=np.ceil,
    rint=np.rint,
    maximum=np.maximum,
    minimum=np.minimum,
    fmin=np.fmin,
    fmax=np.fmax,
    where=np.where,
    isnan=np.isnan,
    all=np.all,
    any=np.any,
)
"""The same functions for arrays, element by element."""


def functions_for(value: Numbers) -> Functions:
    """Return the functions that go with a number or an array.

    Parameters
    ----------
    value : float or ndarray

    Returns
    -------
    Functions
        `PLAIN` or `ARRAYS`.
    """
    found: Functions = PLAIN if isinstance(value, float) else ARRAYS
    return found
