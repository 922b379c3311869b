"""What a gap holds: the low end of its band less the scatter of breakdowns, where it is known; never a rating."""

from __future__ import annotations

import numpy as np

from service.methods.laws import constants
from service.methods.method import Case, FloatArray
from service.physics.corrections import below_by_deviations
from service.physics.numbers import Numbers
from service.reference import Reference, Table, once
from service.units import ROUNDING

DEVIATIONS = {"switching-impulse": "deviation-switching"}
"""Scatter in air by waveform, a constant of the correction tables; other waveforms scatter as alternating voltage."""
SHOTS = "norman-2022-points"
"""Table of measured points with the scatter of their shots."""
SLOW = ("ac", "dc")
"""Waveforms to which the scatter of shots at direct voltage applies; impulses add a time lag of their own."""


def withstand(case: Case, low: Numbers, reference: Reference) -> Numbers:
    """Return the low end of a band less three deviations of scatter [V peak]; NaN where no scatter is known.

    Parameters
    ----------
    low : ndarray or float
        Low end of the band of every element [V]; a plain number where the case is in plain numbers.
    """
    deviation, multiple = scatter(case, reference), constants(reference, "correction-constants")["scatter-multiple"]
    held = case.filled(np.nan)
    if case.is_plain:
        return held if case.of.isnan(deviation) else below_by_deviations(low, deviation, multiple)
    known = np.isfinite(deviation)
    held[known] = below_by_deviations(low[known], deviation[known], multiple)
    return held


def scatter(case: Case, reference: Reference) -> Numbers:
    """Return the relative standard deviation of breakdown per element; NaN where none is known.

    In air the conventional deviations of IEC 60060-1. In a gas with measured shots the largest deviation of a gap's
    shots, straight in the logarithm of the gap between measured gaps, never below that of air; absent beyond the
    measured gaps and pressures, at impulses, and in vacuum.

    Parameters
    ----------
    case : Case
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "correction-constants")
    conventional = value[DEVIATIONS.get(case.waveform, "deviation-alternating-and-lightning")]
    if case.in_air:
        return case.filled(conventional)
    known = _shots(reference, case.gas) if case.waveform in SLOW else None
    if known is None:
        return case.filled(np.nan)
    gaps, deviations, pressures = known
    inside = (case.gap >= gaps[0] * (1 - ROUNDING)) & (case.gap <= gaps[-1] * (1 + ROUNDING))
    inside &= (case.reduced_pressure >= pressures[0] * 0.99) & (case.reduced_pressure <= pressures[1] * 1.01)
    between = np.interp(np.log(case.gap), np.log(gaps), deviations)
    found = np.where(inside, np.maximum(between, conventional), np.nan)
    return found.item() if case.is_plain else found


def scatter_note(case: Case, reference: Reference) -> tuple[str, ...]:
    """Return the sentence on the scatter behind a withstand estimate of one element; nothing in air."""
    if case.in_air:
        return ()
    deviation = float(scatter(case, reference)[0])
    if np.isnan(deviation):
        return ("No withstand estimate: the scatter of shots is not known for this gas, gap, pressure and waveform.",)
    source = reference.table(SHOTS).source.citation
    return (f"The withstand estimate takes a scatter of {deviation * 100:.2g} % of the shots ({source}).",)


@once
def _shots(reference: Reference, gas: str) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Return the gaps of a gas [m], the largest relative deviation of each, and the ends of pressure [Pa]."""
    table: Table = reference.table(SHOTS)
    if gas not in table.text("gas_key"):
        return None
    rows = table.where(gas_key=gas)
    gaps = np.unique(rows["gap"])
    deviations = np.array([rows["relative_deviation"][rows["gap"] == gap].max() for gap in gaps])
    return gaps, deviations, np.array([rows["pressure"].min(), rows["pressure"].max()])
