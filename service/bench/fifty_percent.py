"""The 50 % voltage of impulses, by levels or up and down, with its uncertainty.

Of every impulse it is known at which voltage it was and whether it jumped. The chance of a jump is a normal
distribution over the voltage; its middle and its width are those that make what was seen most likely (IEC 60060-1,
annex A, from memory). The width alone is known poorly by few impulses, so it is held near one per cent, loosely.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_ndtr

from service.bench.sparkovers import Course
from service.methods import FloatArray

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
        middle, width = 1 + parameters[0] * WIDTH, WIDTH * math.exp(min(max(parameters[1], -8.0), 8.0))
        score = (self.voltages / self._middle - middle) / width
        jumped, held = self.flashovers, self.impulses - self.flashovers
        seen = jumped @ log_ndtr(score) + held @ log_ndtr(-score)
        return float((parameters[1] / LOOSE) ** 2 / 2 - seen)

    @cached_property
    def _fitted(self) -> tuple[float, float, float]:
        """50 % voltage and deviation over the middle of the voltages, and the standard uncertainty of the first."""
        start = np.array([(self._start / self._middle - 1) / WIDTH, 0.0])
        found = minimize(self._unlikely, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-7})
        best, step = found.x, 1e-2
        hessian = np.empty((2, 2))
        for i, j in ((0, 0), (0, 1), (1, 1)):
            one, other = step * np.eye(2)[i], step * np.eye(2)[j]
            corners = [self._unlikely(best + a * one + b * other) * a * b for a in (1, -1) for b in (1, -1)]
            hessian[i, j] = hessian[j, i] = sum(corners) / (4 * step**2)
        spread = math.sqrt(max(float(np.linalg.pinv(hessian)[0, 0]), 0.0)) * WIDTH
        return 1 + best[0] * WIDTH, WIDTH * math.exp(best[1]), spread

    @property
    def _start(self) -> float:
        """Where half of the impulses jump, roughly."""
        held = self.impulses - self.flashovers
        ends = [np.average(self.voltages, weights=one) for one in (self.flashovers, held) if one.sum()]
        return float(np.mean(ends))

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
