"""Rod gaps by tables and laws, carried from their own reference air to that of the question."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.electrodes._base import Case, Estimate, FloatArray, Limit, Method, Validity, banded
from service.electrodes._laws import constants, exponent_law, humidity_laws
from service.electrodes._points import lowest_density
from service.physics.atmosphere import relative_density
from service.physics.atmospheric_correction import Air, HumidityLaw, carried_to
from service.reference import Reference, Table
from service.units import to_si

STANDARD = Air(1.0, to_si(11.0, "g/m3", "humidity"))
"""Reference air of IEC 60060-1: 20 degC, 101.3 kPa, 11 g/m3."""
AMERICAN = Air(
    relative_density(to_si(760.0, "mmHg", "pressure"), to_si(25.0, "degC", "temperature")),
    to_si(15.0, "g/m3", "humidity"),
)
"""Reference air of the rod-gap tables: 25 degC, 760 mmHg, 0.6085 inHg of vapour (ieee-4, memory)."""
HELD_NOTE = "The humidity lies outside the range of the correction, which is held at its end."


@dataclass(frozen=True)
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
    note : str
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
    note: str = ""


def rod_method(reference: Reference, law: RodLaw) -> Method:
    """Return a rod law as a method.

    Parameters
    ----------
    reference : Reference
    law : RodLaw
    """
    humidity_law = humidity_laws(reference)[law.humidity]
    exponents = exponent_law(reference)
    extra = constants(reference, "correction-constants")["beyond-humidity-range-widening"]

    def function(case: Case) -> Estimate:
        here = Air(case.relative_density, _humidity(case, humidity_law))
        found = carried_to(law.volts(case.gap), case.gap, law.air, here, humidity_law, exponents)
        held = found.humidity_held
        notes = (*((law.note,) if law.note else ()), *((HELD_NOTE,) if held.any() else ()))
        band = law.band + np.where(held, extra, 0.0)
        factors: dict[str, Any] = {"atmospheric_correction_factor": found.factor}
        return banded(found.voltage, band, corrections=factors, notes=notes)

    limits = (
        Limit("gap", "length", *law.span),
        Limit("relative_density", "number", lowest_density(reference), 1.3),
        Limit("frequency", "frequency", 0.0, 1e3),
    )
    polarity = f", {' or '.join(sorted(law.polarities))}" if law.polarities else ""
    words = (
        f"air, {', '.join(sorted(law.waveforms))}{polarity}, gap {law.span[0]:g} to {law.span[1]:g} m, "
        "relative density from 0.7"
    )
    return Method(
        law.key,
        law.title,
        law.kind,
        function,
        Validity(frozenset({"air"}), law.waveforms, law.polarities, limits=limits, words=words),
        law.band * 100,
        law.table.source,
        law.table.provenance_words[-1],
    )


def _humidity(case: Case, law: HumidityLaw) -> FloatArray:
    """Return the humidity; where it is not known, the law's reference, so that nothing is corrected."""
    return np.where(np.isnan(case.humidity), law.reference * case.relative_density, case.humidity)
