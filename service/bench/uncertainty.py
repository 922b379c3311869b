"""Uncertainty of a scale factor after the GUM (JCGM 100): what is common to all settings, and what is not.

Every setting compares a mean indicated voltage x with a reference voltage y. A systematic influence (the gap's stated
uncertainty, a spacing read too large) acts on y at all settings at once, each with its own sensitivity, and is fully
correlated over the settings; the scatter of the sparkovers acts on x and is not correlated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.methods import FloatArray

COVERAGE = 2.0
"""Coverage factor of expanded uncertainties; JCGM 100, about 95 % of a normal distribution."""


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a quantity that lies anywhere within limits; JCGM 100, 4.3.7.

    Examples
    --------
    >>> round(rectangular(0.02), 5)
    0.01155
    """
    return half_width / math.sqrt(3)


@dataclass(frozen=True)
class Influence:
    """A systematic influence on the reference voltages.

    Parameters
    ----------
    key : str
        What it is.
    relative : ndarray
        Relative standard contribution to the reference voltage of every setting, with the sign of the sensitivity.
    """

    key: str
    relative: FloatArray


@dataclass(frozen=True)
class Comparison:
    """Mean indicated and reference voltages of the settings of a check.

    Parameters
    ----------
    indicated, reference : ndarray
        One per setting [V].
    repeatability : ndarray
        Relative standard uncertainty of each mean.
    influences : sequence of Influence
        Systematic ones.
    """

    indicated: FloatArray
    reference: FloatArray
    repeatability: FloatArray
    influences: Sequence[Influence]

    @cached_property
    def setting_uncertainty(self) -> FloatArray:
        """Relative standard uncertainty of indicated over reference at every setting on its own."""
        squares = [influence.relative**2 for influence in self.influences]
        return np.asarray(np.sqrt(self.repeatability**2 + np.sum(squares, axis=0)))

    @cached_property
    def weights(self) -> FloatArray:
        """Weight of every setting: one over the square of its uncorrelated part, equal relative ones where it is zero.

        The correlated part is left out on purpose: put into the weights it would draw the line below all points.
        """
        scatter = self.repeatability if self.repeatability.all() else np.ones_like(self.repeatability)
        return np.asarray(1 / (scatter * self.reference) ** 2)

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
        """Relative standard contributions to the scale factor, by influence; ``repeatability`` is the scatter."""
        scatter = float(np.sqrt(np.sum((self.by_indicated * self.repeatability) ** 2)))
        systematic = {one.key: abs(float(self.by_reference @ one.relative)) for one in self.influences}
        return systematic | {"repeatability": scatter}

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

    @cached_property
    def deviation_uncertainty(self) -> FloatArray:
        """Relative standard uncertainty of every deviation; what acts alike on all settings cancels."""
        own = np.eye(self.indicated.size)
        scatter = (own + self.by_indicated) ** 2 @ self.repeatability**2
        systematic = [((self.by_reference - own) @ one.relative) ** 2 for one in self.influences]
        return np.asarray(np.sqrt(scatter + np.sum(systematic, axis=0)))
