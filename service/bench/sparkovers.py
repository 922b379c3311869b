"""The sparkovers at one setting: mean, scatter, outliers to either side, and whether the series drifts or jumps."""

from __future__ import annotations

import math
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
CHANCE = 0.01
"""How often a steady series may be called drifting or jumping by chance; common practice, no source."""
LEAST_CHANGE = 0.002
"""Least relative change of a series that is told; common practice, no source."""
FEWEST = 6
"""Fewest sparkovers of which the order is looked at, and from which on a step has readings on both sides."""


@dataclass(frozen=True)
class Course:
    """How a series changes with its order.

    Parameters
    ----------
    kind : str
        ``trend``, from first to last, or ``step``, after one reading.
    change : float
        Relative to the mean.
    after : int
        Readings before the step; all of them for a trend.
    """

    kind: str
    change: float
    after: int


@dataclass(frozen=True)
class Sparkovers:
    """Voltages at which one setting sparked over, in order.

    Parameters
    ----------
    voltages : ndarray
        [V].
    digit : float
        Step of the readings [V]; a difference of one step is none.
    """

    voltages: FloatArray
    digit: float = 0.0

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
    def _scores(self) -> FloatArray:
        middle = float(np.median(self.voltages))
        spread = max(float(np.median(np.abs(self.voltages - middle))), LEAST_SPREAD * middle, self.digit)
        return np.asarray(NORMAL * (self.voltages - middle) / spread)

    @property
    def low_outliers(self) -> FloatArray:
        """Voltages far below the others [V], by the median and the median absolute deviation."""
        return np.asarray(self.voltages[self._scores < -OUTLYING])

    @property
    def high_outliers(self) -> FloatArray:
        """Voltages far above the others [V]: sparks that came late."""
        return np.asarray(self.voltages[self._scores > OUTLYING])

    @cached_property
    def course(self) -> Course | None:
        """The trend or the step of the series, whichever leaves less; ``None`` where chance explains both.

        Outliers are left out: one late spark is no step.
        """
        from scipy.special import stdtrit  # loaded where it is needed

        kept = np.abs(self._scores) <= OUTLYING
        values = self.voltages[kept] / self.mean
        n = values.size
        if n < FEWEST:
            return None
        total = float(np.sum((values - values.mean()) ** 2))
        order = np.linspace(-0.5, 0.5, n)
        slope = float(order @ values / (order @ order))
        sums = np.cumsum(values - values.mean())[1 : n - 2]
        before = np.arange(2, n - 1)
        taken = sums**2 * n / (before * (n - before))
        place = int(np.argmax(taken))
        trend, step = slope**2 * float(order @ order), float(taken[place])
        step_size = max(LEAST_SPREAD, self.digit / self.mean)
        floor = n * step_size**2 / 12
        first = Course("trend", slope, self.count)
        jump = float(values[before[place] :].mean() - values[: before[place]].mean())
        second = Course("step", jump, int(np.flatnonzero(kept)[before[place] - 1]) + 1)
        found, explained, tries = (second, step, before.size) if step > STEEPER * trend else (first, trend, 1)
        left = max(total - explained, floor)
        score = math.sqrt(explained / (left / (n - 2)))
        limit = float(stdtrit(n - 2, 1 - CHANCE / (4 * tries)))
        return found if score > limit and abs(found.change) > max(LEAST_CHANGE, step_size) else None


STEEPER = 1.05
"""A step is named where it explains so much more than a trend, since its place was searched for."""


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
