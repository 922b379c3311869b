"""A functional form of breakdown between plates, before it becomes a method."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from service.methods.gas_rows import GasRow
from service.methods.method import Case, FloatArray, Limit

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
        Sentences that belong to every answer.
    remarks : callable, optional
        Case to the sentences that belong to it alone.
    title : str
        What a title adds to the row's: constants, printed range.
    widest : float
        Largest relative half width of a band that is not the row's own.
    place_uncertainty : tuple of float
        Relative half widths, below and above, of a gap or pressure on the left branch.
    """

    voltage: Callable[[Case], FloatArray]
    limits: tuple[Limit, ...]
    words: str
    band: Callable[[Case, FloatArray], tuple[FloatArray, FloatArray]] | None = None
    similarity: bool = True
    kind: str = "model"
    notes: tuple[str, ...] = ()
    remarks: Callable[[Case], tuple[str, ...]] | None = None
    title: str = ""
    widest: float = 0.0
    place_uncertainty: tuple[float, float] = (0.0, 0.0)

    def said(self, case: Case) -> tuple[str, ...]:
        """Return every sentence that belongs to the answer to a case."""
        return (*self.notes, *(self.remarks(case) if self.remarks else ()))


def common_limits(row: GasRow, widest: float) -> tuple[Limit, ...]:
    """Return the limits that every similarity form has: pressure, and the gap from 10 um to a widest [m]."""
    gap = Limit("gap", "length", NARROWEST_GAP, widest)
    return (Limit("pressure", "pressure", high=row.pressure_to), gap) if row.pressure_to > 0 else (gap,)


def reach(row: GasRow) -> str:
    """Return gap and pressure of a similarity form in words."""
    return "gap from 10 um" + (f", to {row.pressure_to / 1e5:.3g} bar" if row.pressure_to > 0 else "")


def in_words(pd: float) -> str:
    """Return a pd in words."""
    return f"{float(f'{pd:.4g}'):g} Pa m"
