"""What a gap holds: the low end of its band less the scatter of single sparkovers; never a rating."""

from __future__ import annotations

import numpy as np

from service.methods import Case
from service.methods.laws import constants
from service.methods.scatter import scatter
from service.physics.corrections import below_by_deviations
from service.physics.numbers import Numbers
from service.reference import Reference


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
