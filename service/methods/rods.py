"""Rod gaps by tables and laws, carried from their own reference air to that of the question."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from service.methods.brackets import air_brackets
from service.methods.laws import constants, exponent_law, humidity_laws
from service.methods.method import Case, Estimate, FloatArray, Limit, Method, Validity, banded
from service.methods.points import (
    HELD_NOTE,
    POWER_FREQUENCY,
    air_of,
    lowest_density,
    other_humidity,
    spacing_row,
)
from service.physics.atmosphere import relative_density
from service.physics.atmospheric_correction import HIGHEST_DENSITY, Air, carried_to
from service.physics.long_gaps import with_gap_factor
from service.reference import Reference, Table
from service.units import to_si

STANDARD = Air(1.0, to_si(11.0, "g/m3", "humidity"))
"""Reference air of IEC 60060-1: 20 degC, 101.3 kPa, 11 g/m3."""
AMERICAN = Air(
    relative_density(to_si(760.0, "mmHg", "pressure"), to_si(25.0, "degC", "temperature")),
    to_si(15.0, "g/m3", "humidity"),
)
"""Reference air of the rod-gap tables: 25 degC, 760 mmHg, 0.6085 inHg of vapour (ieee-4, memory)."""
NO_LAW_NOTE = (
    "No table or law covers rods here: they break down between sharp points, the low end, and a uniform field or the "
    "shortest rod gap that a law covers, the high end."
)
ADVICE = "Below a relative density of 0.7 ask electrodes=unknown."


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

    @property
    def validity(self) -> Validity:
        """Where the law holds, the density left out."""
        polarity = f", {' or '.join(sorted(self.polarities))}" if self.polarities else ""
        alternating = self.waveforms == {"ac"}
        words = (
            f"air, {', '.join(sorted(self.waveforms))}{' of 50 or 60 Hz' if alternating else ''}{polarity}, "
            f"gap {self.span[0]:g} to {self.span[1]:g} m, relative density from 0.7"
        )
        limits = (Limit("gap", "length", *self.span), *((POWER_FREQUENCY,) if alternating else ()))
        options = {"configuration": self.configurations} if self.configurations else {}
        return Validity(frozenset({"air"}), self.waveforms, self.polarities, options, limits, words)


def rod_methods(reference: Reference, laws: tuple[RodLaw, ...]) -> tuple[Method, ...]:
    """Return rod laws as methods, and after them the brackets that answer where none of them does.

    Parameters
    ----------
    reference : Reference
    laws : tuple of RodLaw
        In order of trust.
    """
    dense = Limit("relative_density", "number", lowest_density(reference), HIGHEST_DENSITY)
    methods = tuple(_method(reference, law, dense) for law in laws)
    shortest = tuple((law.span[0], method) for law, method in zip(laws, methods, strict=True))
    brackets = (_between(method, shortest, dense) for method in air_brackets(reference))
    return (*methods, *brackets)


def _method(reference: Reference, law: RodLaw, dense: Limit) -> Method:
    humidity_law = humidity_laws(reference)[law.humidity]
    exponents = exponent_law(reference)
    beyond = constants(reference, "correction-constants")["beyond-humidity-range-widening"]

    def function(case: Case) -> Estimate:
        here, gap_factor = air_of(case, law.air), law.gap_factor(case)
        volts = with_gap_factor(law.volts(case.gap), gap_factor.value)
        found = carried_to(volts, case.gap, law.air, here, humidity_law, exponents)
        held = found.humidity_held & other_humidity(law.air, here)
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
        replace(law.validity, limits=(*law.validity.limits, dense)),
        law.band * 100,
        law.table.source,
        law.table.provenance_words[-1],
    )


def _between(method: Method, shortest: tuple[tuple[float, Method], ...], dense: Limit) -> Method:
    """Return a bracket of unknown electrodes as one of rods, which hold no more than in a longer gap."""

    def function(case: Case) -> Estimate:
        found = method.function(case)
        low, high = found.low.copy(), found.high.copy()
        for gap, law in shortest:
            longer = replace(case, gap=np.full(case.size, gap))
            below = law.validity.mask(longer) & (case.gap < gap)
            if below.any():
                ends = law.function(longer.select(below))
                low[below], high[below] = np.minimum(low[below], ends.low), np.minimum(high[below], ends.high)
        row = (found.row or "").split(";")[0]
        return replace(found, low=low, high=high, notes=(NO_LAW_NOTE,), row=row)

    validity = replace(
        method.validity,
        limits=(dense, *method.validity.limits),
        words=f"rods where no table or law answers; {method.validity.words}, relative density from 0.7",
    )
    return replace(method, function=function, validity=validity)
