"""A functional form of breakdown between plates, before it becomes a method."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from service.methods.case import once_where_same
from service.methods.gas_rows import GasRow, gas_rows
from service.methods.laws import constants
from service.methods.method import GAP, PRESSURE, Case, FloatArray, Limit
from service.reference import Reference

SURFACE_NOTE = (
    "From {pressure:g} bar or {field:g} kV/cm on the surface counts beside the gas: rough, dusty or large electrodes "
    "break down earlier, and the low end is widened, at most to {share:g} % below the value."
)
NARROWEST_GAP = 1e-5
"""Gap from which similarity is trusted [m]; below it the micro-gap method answers."""


Band = Callable[[Case, FloatArray], tuple[FloatArray, FloatArray]]
"""From a case and its voltages to the low and high ends."""


@dataclass(frozen=True)
class Form:
    """A functional form: the voltage of a case, its ranges, and its band where it is not the row's own.

    Parameters
    ----------
    voltage : callable
        Case inside the ranges to peak voltage [V].
    limits : tuple of Limit
        Ranges of validity.
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
    heading : str
        What stands in place of the row's title.
    title : str
        What a title adds to the row's: constants, printed range.
    widest : float
        Largest relative half width of a band that is not the row's own.
    place_uncertainty : tuple of float
        Relative half widths, below and above, of a gap or pressure on the left branch.
    widens : bool
        Whether the low end widens at high pressure and field: true of what is not measured there.
    floor : float
        Lowest low end that the widening may reach [V]: that of the minimum, below which nothing breaks down.
    given_secondary : bool
        Whether it answers only where a secondary coefficient is given.
    thin : bool
        Whether electrons cross the gap with few collisions, so that X-rays come with the voltage.
    by_numbers : bool
        Whether voltage, band and remarks take a case in plain numbers too.
    """

    voltage: Callable[[Case], FloatArray]
    limits: tuple[Limit, ...]
    band: Band | None = None
    similarity: bool = True
    kind: str = "model"
    notes: tuple[str, ...] = ()
    remarks: Callable[[Case], tuple[str, ...]] | None = None
    heading: str = ""
    title: str = ""
    widest: float = 0.0
    place_uncertainty: tuple[float, float] = (0.0, 0.0)
    widens: bool = True
    floor: float = 0.0
    given_secondary: bool = False
    thin: bool = False
    by_numbers: bool = False

    def said(self, case: Case) -> tuple[str, ...]:
        """Return every sentence that belongs to the answer to a case."""
        return (*self.notes, *(self.remarks(case) if self.remarks else ()))


@dataclass(frozen=True)
class Surface:
    """How the low end of a band widens at high pressure and field, where the surface counts beside the gas.

    Parameters
    ----------
    pressure : float
        From which it widens [Pa].
    pressure_end : float
        At which it is widest [Pa].
    field : float
        Mean field from which it widens [V/m].
    widest : float
        Relative half width below at the end; a wider band stays as it is.
    """

    pressure: float
    pressure_end: float
    field: float
    widest: float

    @classmethod
    def of(cls, reference: Reference, gas: str, pressure_end: float = np.nan) -> Surface:
        """Return the widening of a gas; at its widest where the methods of the gas end, else at the common end."""
        value = constants(reference, "gas-constants")
        first = value["surface-widens-from-pressure"]
        field = str(reference.table("gases").row(gas)["wide_from"])
        return cls(
            first,
            pressure_end if pressure_end > first else value["surface-widest-at-pressure"],
            value[field],
            value["surface-widest-low"],
        )

    def _by_pressure(self, pressure: FloatArray) -> FloatArray:
        return (pressure - self.pressure) / (self.pressure_end - self.pressure)

    def share(self, case: Case, volts: FloatArray) -> FloatArray:
        """Return 0 where the gas alone counts, rising straight with pressure or mean field to 1."""
        of = case.of
        by_pressure = once_where_same(self._by_pressure, case.pressure)
        by_field = (volts / case.gap / self.field - 1) / (self.pressure_end / self.pressure - 1)
        return of.minimum(of.maximum(of.fmax(by_pressure, by_field), 0.0), 1.0)

    def low(
        self, case: Case, volts: FloatArray, low: FloatArray, floor: float = 0.0
    ) -> tuple[FloatArray, tuple[str, ...]]:
        """Return the low end, from what it is without the surface to the widest, and what is to be said of it.

        Parameters
        ----------
        case : Case
        volts, low : ndarray
            Value, and low end without the surface [V].
        floor : float
            What is not widened [V].
        """
        of, share = case.of, self.share(case, volts)
        if not of.any(share > 0):
            return low, ()
        widened = of.minimum(low, low + (volts * (1 - self.widest) - low) * share)
        return of.maximum(widened, of.minimum(low, floor)) if floor else widened, (self.note,)

    @property
    def note(self) -> str:
        """The sentence that belongs to an answer that is widened."""
        return SURFACE_NOTE.format(pressure=self.pressure / 1e5, field=self.field / 1e5, share=self.widest * 100)


def common_limits(row: GasRow, widest: float) -> tuple[Limit, ...]:
    """Return the limits that every similarity form has: pressure, and the gap from 10 um to a widest [m]."""
    gap = Limit("gap", GAP, NARROWEST_GAP, widest)
    return (Limit("pressure", PRESSURE, high=row.pressure_to), gap) if row.pressure_to > 0 else (gap,)


TAPER = 5.0
"""Factor in pd over which the band of a range's neighbour on its left goes over into its own."""


def own_band(row: GasRow, reference: Reference) -> Band:
    """Return the band of a row: its own, begun with that of the row whose range it goes on from, so without a step."""
    before = next((one for one in gas_rows(reference) if one.gas == row.gas and one.pd_to == row.pd_from), row)

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        if before is row:
            return volts * (1 - row.low), volts * (1 + row.high)
        of = case.of
        share = of.minimum(of.maximum(of.log(case.pd / row.pd_from) / math.log(TAPER), 0.0), 1.0)
        low, high = (first + (last - first) * share for first, last in ((before.low, row.low), (before.high, row.high)))
        return volts * (1 - low), volts * (1 + high)

    return banded
