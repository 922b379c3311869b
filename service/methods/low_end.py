"""The low end of the bracket of unknown electrodes in air: what sharp points hold, by the tables made for them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.methods.laws import constants
from service.methods.method import BoolArray, Case, FloatArray
from service.methods.points import NeedleTable, lowest_density
from service.physics.atmospheric_correction import HIGHEST_DENSITY
from service.reference import Reference, Table, interpolate

CAP = 0.9
"""Largest share of the uniform-field voltage that the low end reaches; common practice, no source."""
TABLE_PRESSURE = 80e3
"""Pressure that Table A.1 refers to [Pa], that of 2000 m; iec-60664-1, memory."""
BEYOND = 0.45e6
"""Gradient beyond the end of a table, times relative density [V/m]; common practice, no source."""
NEEDLE_SHARE = 0.9
"""Share of the needle table that the low end takes: its stated 10 % band."""
NEEDLE_FREQUENCY = 20e3
"""Highest frequency at which the needle table is used [Hz]: spheres were measured to change above it."""


@dataclass(frozen=True, eq=False)
class LowEnd:
    """The low end of the bracket in air.

    Parameters
    ----------
    withstand : Table
        IEC 60664-1 Table A.1.
    fast : Table
        IEC 60664-4 Table 1.
    needles : NeedleTable
    thinnest : float
        Relative density below which the needle table is not used.
    fast_from : float
        Frequency above which Table 1 of IEC 60664-4 holds [Hz].
    """

    withstand: Table
    fast: Table
    needles: NeedleTable
    thinnest: float
    fast_from: float

    @classmethod
    def of(cls, reference: Reference) -> LowEnd:
        """Return the low end with the tables in use."""
        return cls(
            reference.table("iec-60664-1-table-a1"),
            reference.table("iec-60664-4-table-1"),
            NeedleTable.of(reference),
            lowest_density(reference),
            constants(reference, "correction-constants")["non-uniform-frequency-limit"],
        )

    @cached_property
    def end(self) -> float:
        """Last clearance of Table A.1 [m]."""
        return float(self.withstand["clearance"][-1])

    def voltage(self, case: Case, uniform: FloatArray) -> FloatArray:
        """Return the low end [V peak]; NaN where there is none.

        Parameters
        ----------
        case : Case
        uniform : ndarray
            Uniform-field voltage of the same case.
        """
        low = np.where(self._before_the_table(case), np.inf, self._withstand(case, case.gap))
        by_needles = self._needles_apply(case)
        if by_needles.any():
            low[by_needles] = self._needles(case.select(by_needles))
        fast = case.frequency > self.fast_from
        if fast.any():
            low[fast] = self._fast(case.select(fast))
        return np.asarray(np.minimum(low, CAP * uniform))

    def row(self, case: Case, uniform: FloatArray) -> str:
        """Return in words what the low end of the first element is taken from.

        Parameters
        ----------
        case, uniform
            As in `voltage`.
        """
        first = np.arange(case.size) == 0
        one = case.select(first)
        low = self.voltage(one, uniform[first])[0]
        if np.isnan(low):
            return "none, beyond IEC 60664-4 Table 1"
        if low >= CAP * uniform[0]:
            return "0.9 of the uniform field"
        if one.frequency[0] > self.fast_from:
            return "IEC 60664-4 Table 1"
        if self._needles_apply(one)[0] and low > self._withstand(one, self.needles.spacings[:1])[0]:
            beyond = one.gap[0] > self.needles.spacings[-1]
            return "0.45 kV/mm times density" if beyond else "0.9 of the needle-gap table"
        table = low <= self.withstand[self._column(one)][-1]
        return "IEC 60664-1 Table A.1, case A" if table else "0.45 kV/mm times density"

    @staticmethod
    def _column(case: Case) -> str:
        return "voltage_impulse" if case.waveform == "lightning-impulse" else "voltage_peak"

    def _before_the_table(self, case: Case) -> BoolArray:
        return np.asarray(_scaled(case, case.gap) < self.withstand["clearance"][0] * (1 - 1e-9))

    def _withstand(self, case: Case, gap: FloatArray) -> FloatArray:
        """Return Table A.1 at the density-scaled gap; beyond its end the larger of its last value and a gradient."""
        clearances, voltages = self.withstand["clearance"], self.withstand[self._column(case)]
        scaled = _scaled(case, gap)
        inside = np.asarray(interpolate(clearances, voltages, np.clip(scaled, clearances[0], clearances[-1])))
        beyond = np.maximum(voltages[-1], BEYOND * case.relative_density * gap)
        return np.where(scaled > clearances[-1], beyond, inside)

    def _needles_apply(self, case: Case) -> BoolArray:
        near = case.gap >= self.needles.spacings[0] * (1 - 1e-9)
        density = case.relative_density
        dense = (density >= self.thinnest * (1 - 1e-9)) & (density <= HIGHEST_DENSITY)
        slow = case.frequency <= NEEDLE_FREQUENCY
        return np.asarray(near & dense & slow & (case.waveform == "ac"))

    def _needles(self, case: Case) -> FloatArray:
        first, end = self.needles.spacings[0], self.needles.spacings[-1]
        table = NEEDLE_SHARE * self.needles.voltage(case, np.clip(case.gap, first, end))[0]
        beyond = np.where(case.gap > end, BEYOND * case.relative_density * case.gap, 0.0)
        meeting = self._withstand(case, np.full(case.size, first))
        return np.maximum(np.maximum(table, beyond), meeting)

    def _fast(self, case: Case) -> FloatArray:
        # printed for up to 2000 m: thinner air is scaled, denser air is not credited
        gap = np.minimum(case.gap, _scaled(case, case.gap))
        clearances, voltages = self.fast["clearance"], self.fast["voltage"]
        inside = (gap >= clearances[0] * (1 - 1e-9)) & (gap <= clearances[-1] * (1 + 1e-9))
        low = np.full(case.size, np.nan)
        low[inside] = interpolate(clearances, voltages, np.clip(gap[inside], clearances[0], clearances[-1]))
        return low


def _scaled(case: Case, gap: FloatArray) -> FloatArray:
    """Return the gap of the same number of molecules at the pressure of Table A.1 and 20 degC [m]."""
    return np.asarray(gap * case.reduced_pressure / TABLE_PRESSURE)
