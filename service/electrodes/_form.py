"""A functional form of breakdown between plates, before it becomes a method."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from service.electrodes._base import Case, FloatArray, Limit
from service.electrodes._gas_rows import GasRow

NARROWEST_GAP = 1e-5
"""Gap from which similarity is trusted [m]; below it the micro-gap method answers."""


@dataclass(frozen=True)
class Form:
    """A functional form: the voltage of a case, its ranges, and its band where it is not the row's own.

    Parameters
    ----------
    voltage : callable
        Case inside the ranges to peak voltage [V].
    limits : tuple of Limit
        Ranges of validity.
    words : str
        The same in words.
    band : callable, optional
        Case and voltage to low and high; the row's own band where there is none.
    similarity : bool
        Whether the voltage depends on pressure and gap through their product only.
    kind : str
        Kind of the method.
    notes : tuple of str
        Sentences that belong to the answer.
    """

    voltage: Callable[[Case], FloatArray]
    limits: tuple[Limit, ...]
    words: str
    band: Callable[[Case, FloatArray], tuple[FloatArray, FloatArray]] | None = None
    similarity: bool = True
    kind: str = "model"
    notes: tuple[str, ...] = ()


def common_limits(row: GasRow, widest: float) -> tuple[Limit, ...]:
    """Return the limits that every similarity form has: pressure, and the gap from 10 um to a widest [m]."""
    gap = Limit("gap", "length", NARROWEST_GAP, widest)
    return (Limit("pressure", "pressure", high=row.pressure_to), gap) if row.pressure_to > 0 else (gap,)


def in_words(pd: float) -> str:
    """Return a pd in words."""
    return f"{pd:.4g} Pa m"
