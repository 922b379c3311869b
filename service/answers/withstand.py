"""What a gap holds: the low end of its band less the scatter of single sparkovers; never a rating."""

from __future__ import annotations

import numpy as np

from service.methods import Case, FloatArray
from service.methods.laws import constants
from service.methods.scatter import scatter
from service.physics.corrections import below_by_deviations
from service.reference import Reference


def withstand(case: Case, low: FloatArray, reference: Reference) -> FloatArray:
    """Return the low end of a band less three deviations of scatter [V peak]; NaN where no scatter is known.

    Parameters
    ----------
    case : Case
    low : ndarray
        Low end of the band of every element [V].
    reference : Reference
    """
    deviation = scatter(case, reference)
    known = np.isfinite(deviation)
    held = np.full(case.size, np.nan)
    multiple = constants(reference, "correction-constants")["scatter-multiple"]
    held[known] = below_by_deviations(low[known], deviation[known], multiple)
    return held
