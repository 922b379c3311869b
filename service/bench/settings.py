"""What settings say: sparkovers at one, their scatter, outliers and drift, and a scale factor from several.

Every setting compares a mean indicated voltage x with a reference voltage y. What acts on all settings alike (most of
the gap's stated uncertainty, a spacing read too large) is fully correlated over them, each with its own sensitivity;
what each setting has of its own (the rest of the gap's uncertainty, the scatter of the sparkovers, the digits that were
read) is not.

Of every impulse it is known at which voltage it was and whether it jumped. The chance of a jump is a normal
distribution over the voltage; its middle and its width are those that make what was seen most likely (IEC 60060-1,
annex A, from memory). The width alone is known poorly by few impulses, so it is held near one per cent, loosely.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from service.methods import FloatArray

COVERAGE = 2.0
"""Coverage factor of expanded uncertainties; JCGM 100, about 95 % of a normal distribution."""
CHANCE_OF_BENT = 1e-3
"""How often a true probe may be called bent by chance, all its settings together; ours, common practice, no source."""


def rectangular(half_width: float | FloatArray) -> FloatArray:
    """Return the standard uncertainty of a quantity that lies anywhere within limits; JCGM 100, 4.3.7.

    Examples
    --------
    >>> round(float(rectangular(0.02)), 5)
    0.01155
    """
    return np.asarray(half_width, dtype=np.float64) / math.sqrt(3)


@dataclass(frozen=True)
class Comparison:
    """Mean indicated and reference voltages of the settings of a check.

    Parameters
    ----------
    indicated, reference : ndarray
        One per setting [V].
    of_indicated, of_reference : mapping of str to ndarray
        Relative standard uncertainties that every setting has of its own, of one voltage or of the other, by name.
    common : mapping of str to ndarray
        Relative standard contributions to the reference voltages that are correlated over all settings, with the sign
        of the sensitivity, by name.
    """

    indicated: FloatArray
    reference: FloatArray
    of_indicated: Mapping[str, FloatArray]
    of_reference: Mapping[str, FloatArray] = field(default_factory=dict)
    common: Mapping[str, FloatArray] = field(default_factory=dict)

    @cached_property
    def own(self) -> FloatArray:
        """Relative standard uncertainty of indicated over reference that every setting has of its own."""
        return np.asarray(np.sqrt(_sum_of_squares(self.of_indicated) + _sum_of_squares(self.of_reference)))

    @cached_property
    def setting_uncertainty(self) -> FloatArray:
        """Relative standard uncertainty of indicated over reference at every setting by itself."""
        return np.asarray(np.sqrt(self.own**2 + _sum_of_squares(self.common)))

    @cached_property
    def weights(self) -> FloatArray:
        """Weight of every setting: one over the square of its own part, equal relative ones where it is zero.

        The correlated part is left out on purpose: put into the weights it would draw the line below all points.
        """
        own = self.own if self.own.all() else np.ones_like(self.reference)
        return np.asarray(1 / (own * self.reference) ** 2)

    @cached_property
    def scale_factor(self) -> float:
        """Slope of the weighted least-squares line through the origin, reference over indicated."""
        x, y, w = self.indicated, self.reference, self.weights
        return float(np.sum(w * x * y) / np.sum(w * x**2))

    @cached_property
    def by_reference(self) -> FloatArray:
        """Relative change of the scale factor per relative change of each reference voltage."""
        x, y, w = self.indicated, self.reference, self.weights
        return np.asarray(w * x * y / np.sum(w * x * y))

    @cached_property
    def by_indicated(self) -> FloatArray:
        """Relative change of the scale factor per relative change of each mean indicated voltage."""
        x, w = self.indicated, self.weights
        return np.asarray(self.by_reference - 2 * w * x**2 / np.sum(w * x**2))

    @cached_property
    def parts(self) -> dict[str, float]:
        """Relative standard contributions to the scale factor by name."""
        common = {name: abs(float(self.by_reference @ part)) for name, part in self.common.items()}
        return (
            common
            | self._own_parts(self.by_reference, self.of_reference)
            | self._own_parts(self.by_indicated, self.of_indicated)
        )

    @staticmethod
    def _own_parts(sensitivity: FloatArray, parts: Mapping[str, FloatArray]) -> dict[str, float]:
        return {name: float(np.sqrt(np.sum((sensitivity * part) ** 2))) for name, part in parts.items()}

    @cached_property
    def standard_uncertainty(self) -> float:
        """Relative standard uncertainty of the scale factor."""
        return math.hypot(*self.parts.values())

    @property
    def expanded_uncertainty(self) -> float:
        """Relative expanded uncertainty of the scale factor, k = 2."""
        return COVERAGE * self.standard_uncertainty

    @cached_property
    def deviations(self) -> FloatArray:
        """Relative deviation of every setting from the line: corrected indicated over reference, minus one."""
        return np.asarray(self.scale_factor * self.indicated / self.reference - 1)

    def deviation_uncertainty(self, apart: Mapping[str, FloatArray]) -> FloatArray:
        """Return the relative standard uncertainty of every deviation; what acts alike on all settings cancels.

        Parameters
        ----------
        apart : mapping of str to ndarray
            Further parts that each setting may have of its own; one that is common too counts as the larger.
        """
        own = np.eye(self.indicated.size)
        read = (own + self.by_indicated) ** 2 @ np.asarray(_sum_of_squares(self.of_indicated) * np.ones(own.shape[0]))
        to_reference = self.by_reference - own
        total = read + to_reference**2 @ (_sum_of_squares(self.of_reference) * np.ones(own.shape[0]))
        for name in {**self.common, **apart}:
            zero = np.zeros(own.shape[0])
            alike = (to_reference @ self.common.get(name, zero)) ** 2
            total = total + np.maximum(alike, to_reference**2 @ apart.get(name, zero) ** 2)
        return np.asarray(np.sqrt(total))

    def bent(self, apart: Mapping[str, FloatArray]) -> bool:
        """Return whether the settings leave the line by more than chance explains: chi square of their deviations.

        Parameters
        ----------
        apart : mapping of str to ndarray
            As `deviation_uncertainty` takes it.
        """
        from scipy.special import chdtri  # loaded where it is needed

        if self.indicated.size < 2:
            return False
        n = self.indicated.size
        # the line was drawn through these very settings: each deviation is smaller by the share of one in all
        squares = (1 - 1 / n) * np.sum((self.deviations / self.deviation_uncertainty(apart)) ** 2)
        return bool(squares > chdtri(n - 1, CHANCE_OF_BENT))


def _sum_of_squares(parts: Mapping[str, FloatArray]) -> FloatArray:
    return np.asarray(sum((part**2 for part in parts.values()), start=np.zeros(1)))


NORMAL = 0.6745
"""Median absolute deviation of a normal distribution over its standard deviation."""
OUTLYING = 3.5
"""Modified score beyond which a reading is an outlier; Iglewicz and Hoaglin 1993, from memory."""
LEAST_SPREAD = 0.002
"""Least relative spread that counts: readings come in steps of the instrument; common practice, no source."""
CHANCE_OF_CHANGE = 0.01
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
        limit = float(stdtrit(n - 2, 1 - CHANCE_OF_CHANGE / (4 * tries)))
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
