"""Needles and rods by tables and laws, carried from their own reference air to that of the question."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from service.methods.brackets import STANDARD, WHY, air_at, air_brackets, bounded
from service.methods.case import AIR
from service.methods.laws import constants, exponent_law, humidity_laws
from service.methods.method import (
    DENSITY,
    FREQUENCY,
    GAP,
    BoolArray,
    Case,
    Estimate,
    FloatArray,
    Limit,
    Method,
    Validity,
    banded,
)
from service.physics.atmosphere import relative_density
from service.physics.corrections import HIGHEST_DENSITY, Air, carried_to
from service.physics.formulas import with_gap_factor
from service.reference import Reference, Table
from service.units import ROUNDING, to_si

__all__ = ["AMERICAN", "STANDARD", "GapFactor", "RodLaw", "rod_methods"]

AMERICAN = Air(
    relative_density(to_si(760.0, "mmHg", "pressure"), to_si(25.0, "degC", "temperature")),
    to_si(15.0, "g/m3", "humidity"),
)
"""Reference air of the rod-gap tables: 25 degC, 760 mmHg, 0.6085 inHg of vapour (ieee-4, memory)."""
POWER = 45.0, 65.0
POWER_FREQUENCY = Limit("frequency", FREQUENCY, *POWER)
"""Frequency of the alternating voltages that the tables were made with; the range is that of IEC 60060-1, memory."""
BOUNDED_TO = 20e3
"""Frequency up to which a table of power frequency bounds from above [Hz]: spheres were measured to change above it."""
HELD_NOTE = "The humidity lies outside the range of the correction, which is held at its end."
NO_LAW_NOTE = (
    "No table or law covers these electrodes here: they break down between what the sharpest electrode holds, the low "
    "end, and the least that bounds them from above: a uniform field, the shortest longer gap that a law covers, or "
    "their own table at power frequency."
)


@dataclass(frozen=True)
class GapFactor:
    """What an arrangement holds more than rod and plane.

    Parameters
    ----------
    value : float
        Factor on the voltage.
    extra_band : float
        What it adds to the relative half width.
    row : str
        Row of the table of factors.
    notes : tuple of str
    """

    value: float = 1.0
    extra_band: float = 0.0
    row: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class RodLaw:
    """A voltage over the gap in its reference air.

    Parameters
    ----------
    key, title, kind : str
    table : Table
        Whose source and provenance it has.
    volts : callable
        Gap [m] to peak voltage [V].
    span : tuple of float
        Gaps [m].
    air : Air
        Reference air.
    humidity : str
        Key of the humidity law.
    band : float
        Relative half width.
    waveforms, polarities : frozenset of str
    notes : tuple of str
    spacings : ndarray, optional
        Rows of the table [m], where there are any.
    gap_factor : callable
        Case to its gap factor.
    configurations : frozenset of str
        Configurations that the law answers; empty for all.
    ceiling_of : frozenset of str
        Waveforms that it bounds from above within its own gaps, alternating voltage to 20 kHz.
    """

    key: str
    title: str
    kind: str
    table: Table
    volts: Callable[[FloatArray], FloatArray]
    span: tuple[float, float]
    air: Air
    humidity: str
    band: float
    waveforms: frozenset[str]
    polarities: frozenset[str] = frozenset()
    notes: tuple[str, ...] = ()
    spacings: FloatArray | None = None
    gap_factor: Callable[[Case], GapFactor] = lambda _: GapFactor()
    configurations: frozenset[str] = frozenset()
    ceiling_of: frozenset[str] = frozenset()

    def validity(self, dense: Limit) -> Validity:
        """Return where the law holds, with a limit on the relative density."""
        alternating = self.waveforms == {"ac"}
        limits = (Limit("gap", GAP, *self.span), *((POWER_FREQUENCY,) if alternating else ()), dense)
        options = {"configuration": self.configurations} if self.configurations else {}
        return Validity(frozenset({AIR}), self.waveforms, self.polarities, options, limits)


@dataclass(frozen=True, eq=False)
class Ceiling:
    """A law as the upper end of gaps that it does not answer: none holds more than a longer one.

    Parameters
    ----------
    law : RodLaw
    method : Method
        Made of it.
    dense : Limit
        Relative densities in which it is used.
    """

    law: RodLaw
    method: Method
    dense: Limit

    def high(self, case: Case) -> FloatArray:
        """Return the upper ends [V]; NaN where the law bounds nothing."""
        first, last = self.law.span
        high = np.full(case.size, np.nan)
        for waveforms, to, fastest in (
            (self.law.waveforms, first, POWER[1]),
            (self.law.ceiling_of, last, BOUNDED_TO),
        ):
            if case.waveform not in waveforms:
                continue
            if not replace(self.method.validity, waveforms=frozenset()).applies(case):
                continue
            below = self.dense.holds(case) & (case.gap <= to * (1 + ROUNDING)) & (case.frequency <= fastest)
            if below.any():
                longer = replace(case.select(below), gap=np.clip(case.gap[below], first, last))
                high[below] = self.method.estimate(longer).high
        return high


def rod_methods(reference: Reference, laws: tuple[RodLaw, ...]) -> tuple[Method, ...]:
    """Return laws as methods, and after them the brackets that answer where none of them does.

    Parameters
    ----------
    reference : Reference
    laws : tuple of RodLaw
        In order of trust.
    """
    dense = Limit("pressure", DENSITY, lowest_density(reference), HIGHEST_DENSITY)
    methods = [_method(reference, law, dense) for law in laws]
    ceilings = [Ceiling(law, method, dense) for law, method in zip(laws, methods, strict=True)]
    brackets = (_between(method, ceilings) for method in air_brackets(reference))
    return (*(bounded(reference, method) for method in methods), *brackets)


def lowest_density(reference: Reference) -> float:
    """Return the relative density below which needle and rod tables are not used."""
    return constants(reference, "correction-constants")["lowest-density-needle-and-rod"]


def _method(reference: Reference, law: RodLaw, dense: Limit) -> Method:
    humidity_law = humidity_laws(reference)[law.humidity]
    exponents = exponent_law(reference)
    beyond = constants(reference, "correction-constants")["beyond-humidity-range-widening"]

    def function(case: Case) -> Estimate:
        here, gap_factor = air_at(case.relative_density, case.humidity, law.air), law.gap_factor(case)
        gap = np.clip(case.gap, *law.span)  # a limit holds to a billionth
        volts = with_gap_factor(law.volts(gap), gap_factor.value)
        found = carried_to(volts, gap, law.air, here, humidity_law, exponents)
        held = found.humidity_held & _other_humidity(law.air, here)
        row = gap_factor.row
        if law.spacings is not None:
            row = spacing_row(law.spacings, float(case.gap[0]))
        corrections = {"atmospheric_correction_factor": found.factor}
        if gap_factor.value != 1:
            corrections["gap_factor"] = np.full(case.size, gap_factor.value)
        return banded(
            found.voltage,
            law.band + gap_factor.extra_band + np.where(held, beyond, 0.0),
            corrections=corrections,
            notes=(*law.notes, *gap_factor.notes, *((HELD_NOTE,) if held.any() else ())),
            row=row,
        )

    return Method(
        law.key,
        law.title,
        law.kind,
        function,
        law.validity(dense),
        law.band * 100,
        law.table.source,
        law.table.provenance[0],
    )


def spacing_row(spacings: FloatArray, gap: float) -> str:
    """Return in words which spacings of a table a gap [m] lies on or between."""
    after = int(np.clip(np.searchsorted(spacings, gap * (1 - ROUNDING)), 0, spacings.size - 1))
    exact = bool(np.isclose(spacings[after], gap, rtol=ROUNDING))
    used = spacings[[after]] if exact or after == 0 else spacings[after - 1 : after + 1]
    words = " and ".join(f"{spacing * 100:g} cm" for spacing in used)
    return f"spacing {words}"


def _other_humidity(origin: Air, here: Air) -> BoolArray:
    """Return where humidity over density differs from that of the table, so that its humidity law matters."""
    ratios = [np.asarray(air.humidity) / np.asarray(air.relative_density) for air in (origin, here)]
    return np.asarray(np.abs(ratios[1] / ratios[0] - 1) > 1e-3)


def _between(method: Method, ceilings: list[Ceiling]) -> Method:
    """Return a bracket of unknown electrodes as one of rods, below what bounds them from above."""

    def function(case: Case) -> Estimate:
        found = method.estimate(case)
        high = np.fmin.reduce([found.high, *(ceiling.high(case) for ceiling in ceilings)])
        high = np.where(np.isnan(high), np.nan, np.fmax(high, found.low))
        row = (found.row or "").split(";")[0]
        notes = (NO_LAW_NOTE, *(note for note in found.notes if note != WHY))
        return replace(found, high=high, notes=notes, row=row or None)

    return replace(method, function=function, by_numbers=False)
