"""The sparkovers at one setting: mean, scatter, and low outliers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.methods import FloatArray

NORMAL = 0.6745
"""Median absolute deviation of a normal distribution over its standard deviation."""
OUTLYING = 3.5
"""Modified score beyond which a reading is an outlier; Iglewicz and Hoaglin 1993, from memory."""
LEAST_SPREAD = 0.002
"""Least relative spread that counts: readings come in steps of the instrument; common practice, no source."""


@dataclass(frozen=True)
class Sparkovers:
    """Voltages at which one setting sparked over.

    Parameters
    ----------
    voltages : ndarray
        [V].
    """

    voltages: FloatArray

    @property
    def count(self) -> int:
        """How many there are."""
        return int(self.voltages.size)

    @cached_property
    def mean(self) -> float:
        """Arithmetic mean [V]."""
        return float(self.voltages.mean())

    @cached_property
    def deviation(self) -> float:
        """Standard deviation of the sample over the mean; NaN for one sparkover."""
        return float(self.voltages.std(ddof=1)) / self.mean if self.count > 1 else float("nan")

    @cached_property
    def low_outliers(self) -> FloatArray:
        """Voltages far below the others [V], by the median and the median absolute deviation."""
        middle = float(np.median(self.voltages))
        spread = max(float(np.median(np.abs(self.voltages - middle))), LEAST_SPREAD * middle)
        return np.asarray(self.voltages[NORMAL * (middle - self.voltages) / spread > OUTLYING])


def pooled_deviation(settings: Sequence[Sparkovers]) -> float:
    """Return the relative standard deviation of a sparkover, pooled over settings by degrees of freedom.

    Parameters
    ----------
    settings : sequence of Sparkovers
        Each of two or more.
    """
    freedom = np.array([one.count - 1 for one in settings])
    squares = np.array([one.deviation**2 for one in settings])
    return float(np.sqrt(freedom @ squares / freedom.sum()))


def repeatability(settings: Sequence[Sparkovers]) -> FloatArray:
    """Return the relative standard uncertainty of each mean, from the pooled deviation; JCGM 100, 4.2.3.

    Parameters
    ----------
    settings : sequence of Sparkovers
        Each of two or more.
    """
    counts = np.array([one.count for one in settings], dtype=np.float64)
    return np.asarray(pooled_deviation(settings) / np.sqrt(counts))
