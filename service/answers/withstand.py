"""What a gap holds: the low end of its band less the scatter of single sparkovers; never a rating."""

from __future__ import annotations

import numpy as np

from service.methods import Case, FloatArray
from service.methods.laws import constants
from service.physics.corrections import below_by_deviations
from service.reference import Reference

DEVIATIONS = {"switching-impulse": "deviation-switching"}
"""Scatter by waveform, a constant of the correction tables; every other waveform scatters as alternating voltage."""


def withstand(case: Case, low: FloatArray, reference: Reference) -> FloatArray:
    """Return the low end of a band less three deviations of scatter [V peak]; NaN where no scatter is known.

    Parameters
    ----------
    case : Case
    low : ndarray
        Low end of the band of every element [V].
    reference : Reference
    """
    if case.gas == "vacuum":
        return np.full(case.size, np.nan)
    value = constants(reference, "correction-constants")
    deviation = value[DEVIATIONS.get(case.waveform, "deviation-alternating-and-lightning")]
    return below_by_deviations(low, deviation, value["scatter-multiple"])
