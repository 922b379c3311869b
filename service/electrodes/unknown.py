"""Electrodes of unknown shape: the bracket between what sharp points and what a uniform field would do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from service.electrodes import uniform_field
from service.electrodes._air_forms import air_townsend
from service.electrodes._base import Arrangement, Case, Estimate, FloatArray, Limit, Method, Validity
from service.electrodes._laws import constants
from service.electrodes._points import NeedleTable, lowest_density
from service.physics import townsend
from service.reference import Reference, Table, interpolate

CAP = 0.9
"""Largest share of the uniform-field voltage that the low end reaches; common practice, no source."""
TABLE_PRESSURE = 80e3
"""Pressure that Table A.1 refers to [Pa]."""
BEYOND = 0.45e6
"""Gradient beyond the end of a table, times relative density [V/m]; common practice, no source."""
NEEDLE_SHARE = 0.9
"""Share of the needle table that the low end takes: its stated 10 % band."""
NEEDLE_FREQUENCY = 20e3
"""Highest frequency at which the needle table is used [Hz]."""

WHY = (
    "The shape of the electrodes decides: sharp points break down near the low end, flat or well-rounded electrodes "
    "near the high end. Name the electrodes for a narrower answer."
)
NO_LOW = "No low end: how early sharp electrodes break down is not known here; inception may be breakdown."


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

    def voltage(self, case: Case, uniform: FloatArray) -> FloatArray:
        """Return the low end [V peak]; NaN where there is none.

        Parameters
        ----------
        case : Case
        uniform : ndarray
            Uniform-field voltage of the same case.
        """
        low = self._withstand(case, case.gap)
        first = self.withstand["clearance"][0]
        low = np.where(_scaled(case, case.gap) < first * (1 - 1e-9), np.inf, low)
        by_needles = self._needles_apply(case)
        if by_needles.any():
            low[by_needles] = self._needles(case.select(by_needles))
        fast = case.frequency > self.fast_from
        if fast.any():
            low[fast] = self._fast(case.select(fast))
        return np.asarray(np.minimum(low, CAP * uniform))

    def _withstand(self, case: Case, gap: FloatArray) -> FloatArray:
        column = "voltage_impulse" if case.waveform == "lightning-impulse" else "voltage_peak"
        return _held(self.withstand["clearance"], self.withstand[column], _scaled(case, gap), case, gap)

    def _needles_apply(self, case: Case) -> np.ndarray:
        near = case.gap >= self.needles.spacings[0] * (1 - 1e-9)
        dense = case.relative_density >= self.thinnest * (1 - 1e-9)
        slow = case.frequency <= NEEDLE_FREQUENCY
        return np.asarray(near & dense & slow & (case.waveform == "ac"))

    def _needles(self, case: Case) -> FloatArray:
        end = self.needles.spacings[-1]
        inside = np.clip(case.gap, self.needles.spacings[0], end)
        table = NEEDLE_SHARE * self.needles.voltage(case, inside)[0]
        beyond = np.where(case.gap > end, BEYOND * case.relative_density * case.gap, 0.0)
        meeting = self._withstand(case, np.full(case.size, self.needles.spacings[0]))
        return np.maximum(np.maximum(table, beyond), meeting)

    def _fast(self, case: Case) -> FloatArray:
        # printed for up to 2000 m: thinner air is scaled, denser air is not credited
        gap = case.gap * np.minimum(_scaled(case, case.gap) / case.gap, 1.0)
        clearances, voltages = self.fast["clearance"], self.fast["voltage"]
        inside = (gap >= clearances[0]) & (gap <= clearances[-1])
        low = np.full(case.size, np.nan)
        low[inside] = interpolate(clearances, voltages, gap[inside])
        return low


def _scaled(case: Case, gap: FloatArray) -> FloatArray:
    """Return the gap of the same number of molecules at the pressure of Table A.1 and 20 degC [m]."""
    return np.asarray(gap * case.reduced_pressure / TABLE_PRESSURE)


def _held(x: FloatArray, y: FloatArray, wanted: FloatArray, case: Case, gap: FloatArray) -> FloatArray:
    """Return the table inside its range; beyond it the larger of its last value and a gradient; below, its first."""
    inside = np.asarray(interpolate(x, y, np.clip(wanted, x[0], x[-1])))
    beyond = np.maximum(y[-1], BEYOND * case.relative_density * gap)
    return np.where(wanted > x[-1], beyond, inside)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    low_end = LowEnd.of(reference)
    minimum = townsend.minimum(*air_townsend(reference))[0]
    uniform = uniform_field.arrangement(reference).methods
    own = [method for method in uniform if method.key in ("quadratic-root-kuffel", "townsend-air")]
    others = [m for m in uniform if "air" not in m.validity.gases and not m.key.startswith("measured")]
    methods = (
        *(_in_air(method, low_end, minimum) for method in own),
        *(_in_gas(method) for method in others),
    )
    return Arrangement(
        "unknown",
        "Unknown electrodes",
        "Anything: bare wire ends, solder joints, screw heads, plates; the answer is a bracket.",
        methods,
    )


def _in_air(uniform: Method, low_end: LowEnd, minimum: float) -> Method:
    def function(case: Case) -> Estimate:
        high = uniform.function(case).value
        low = low_end.voltage(case, high)
        notes = (WHY, *((NO_LOW,) if np.isnan(low).any() else ()))
        return Estimate(np.full(case.size, np.nan), low, high, notes=notes, row=_row(case), provenance="memory")

    right = Limit("pd", "pd", low=minimum)
    words = "air right of the Paschen minimum; left of it ask electrodes=uniform-field"
    return _bracket(uniform, function, (right, *uniform.validity.limits), words)


def _row(case: Case) -> str:
    """Return in words what the bracket is made of."""
    if case.frequency[0] > 30e3:
        low = "IEC 60664-4 Table 1"
    elif case.waveform == "ac" and case.gap[0] >= 4.2e-3 and case.frequency[0] <= NEEDLE_FREQUENCY:
        low = "0.9 of the needle-gap table"
    else:
        low = "IEC 60664-1 Table A.1, case A"
    return f"low end: {low}, at most 0.9 of the uniform field; high end: uniform field"


def _in_gas(uniform: Method) -> Method:
    def function(case: Case) -> Estimate:
        nothing = np.full(case.size, np.nan)
        high = uniform.function(case).value
        return Estimate(nothing, nothing, high, notes=(WHY, NO_LOW, *uniform.function(case).notes))

    return _bracket(uniform, function, uniform.validity.limits, uniform.validity.words)


def _bracket(uniform: Method, function: Callable[[Case], Estimate], limits: tuple[Limit, ...], words: str) -> Method:
    return Method(
        f"bracket-{uniform.key}",
        f"Bracket from sharp points to the uniform field ({uniform.title})",
        "bracket",
        function,
        Validity(uniform.validity.gases, limits=limits, words=words),
        None,
        uniform.source,
        uniform.provenance,
    )
