"""The sparkovers at one setting: mean, scatter, outliers, drift; and the 50 % voltage of impulses, some of which jump.

Of every impulse it is known at which voltage it was and whether it jumped. The chance of a jump is a normal
distribution over the voltage; its middle and its width are those that make what was seen most likely (IEC 60060-1,
annex A, from memory). The width alone is known poorly by few impulses, so it is held near one per cent, loosely.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
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


WIDTH, LOOSE = 0.01, 1.2
"""Usual standard deviation of a sphere gap's impulses over the voltage, and how loosely its logarithm is held; ours,
common practice, no source."""
FEWEST_UP_AND_DOWN, FEWEST_LEVELS, FEWEST_AT_A_LEVEL = 20, 3, 10
"""Fewest impulses up and down, fewest levels, fewest impulses at a level; IEC 60060-1, from memory."""
FITTED = 4.0
"""Freedom that fitting the width costs; found by draws, see the tests."""
NONE = np.zeros(0)


@dataclass(frozen=True, eq=False)
class FiftyPercent:
    """Impulses at voltages, and which of them jumped.

    Parameters
    ----------
    voltages : ndarray
        One per level or impulse, peak [V].
    impulses, flashovers : ndarray
        How many there were at each, and how many jumped.
    up_and_down : bool
        Whether the order was up and down; else levels.
    """

    voltages: FloatArray
    impulses: FloatArray
    flashovers: FloatArray
    up_and_down: bool

    low_outliers = high_outliers = NONE
    course: Course | None = None

    @property
    def count(self) -> int:
        """How many impulses there were."""
        return int(self.impulses.sum())

    @cached_property
    def _middle(self) -> float:
        return float(np.average(self.voltages, weights=self.impulses))

    def _unlikely(self, parameters: FloatArray) -> float:
        """Return minus the logarithm of the likelihood, the loosely held width included."""
        from scipy.special import log_ndtr  # loaded where it is needed

        middle, width = 1 + parameters[0] * WIDTH, WIDTH * math.exp(min(max(parameters[1], -8.0), 8.0))
        score = (self.voltages / self._middle - middle) / width
        jumped, held = self.flashovers, self.impulses - self.flashovers
        seen = jumped @ log_ndtr(score) + held @ log_ndtr(-score)
        return float((parameters[1] / LOOSE) ** 2 / 2 - seen)

    @cached_property
    def _fitted(self) -> tuple[float, float, float]:
        """50 % voltage and deviation over the middle of the voltages, and the standard uncertainty of the first."""
        from scipy.optimize import minimize  # loaded where it is needed

        # begun with steps of its own size: from a start near nought scipy's would be too small to ever move
        found = minimize(
            self._unlikely,
            np.zeros(2),
            method="Nelder-Mead",
            options={"xatol": 1e-4, "fatol": 1e-7, "initial_simplex": np.eye(3, 2)},
        )
        best, step = found.x, 1e-2
        hessian = np.empty((2, 2))
        for i, j in ((0, 0), (0, 1), (1, 1)):
            one, other = step * np.eye(2)[i], step * np.eye(2)[j]
            corners = [self._unlikely(best + a * one + b * other) * a * b for a in (1, -1) for b in (1, -1)]
            hessian[i, j] = hessian[j, i] = sum(corners) / (4 * step**2)
        spread = math.sqrt(max(float(np.linalg.pinv(hessian)[0, 0]), 0.0)) * WIDTH
        return 1 + best[0] * WIDTH, WIDTH * math.exp(best[1]), spread

    @property
    def mean(self) -> float:
        """50 % voltage [V]."""
        return self._fitted[0] * self._middle

    @property
    def deviation(self) -> float:
        """Standard deviation of the jumps over the 50 % voltage."""
        return self._fitted[1] / self._fitted[0]

    @property
    def standard(self) -> float:
        """Relative standard uncertainty of the 50 % voltage, wider as the width is from few jumps or few that held."""
        fewer = float(min(self.flashovers.sum(), (self.impulses - self.flashovers).sum()))
        return self._fitted[2] / self._fitted[0] * math.sqrt(fewer / max(fewer - FITTED, 1.0))

    def why_not(self) -> Iterator[str]:
        """Yield why these impulses give no 50 % voltage."""
        jumped, held = self.flashovers.sum(), (self.impulses - self.flashovers).sum()
        if not jumped or not held:
            yield f"{'No' if not jumped else 'Every'} impulse jumped: the 50 % voltage is not between them."
        if self.up_and_down and self.count < FEWEST_UP_AND_DOWN:
            yield f"{self.count} impulses up and down; at least {FEWEST_UP_AND_DOWN} are needed."
        if not self.up_and_down:
            if self.voltages.size < FEWEST_LEVELS:
                yield f"{self.voltages.size} levels; at least {FEWEST_LEVELS} are needed."
            if self.impulses.min() < FEWEST_AT_A_LEVEL:
                yield f"{self.impulses.min():.0f} impulses at a level; at least {FEWEST_AT_A_LEVEL} are needed."
