"""A scale factor from settings beside reference voltages, after the GUM (JCGM 100).

Every setting compares a mean indicated voltage x with a reference voltage y. What acts on all settings alike (most of
the gap's stated uncertainty, a spacing read too large) is fully correlated over them, each with its own sensitivity;
what each setting has of its own (the rest of the gap's uncertainty, the scatter of the sparkovers, the digits that were
read) is not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from service.methods import FloatArray

COVERAGE = 2.0
"""Coverage factor of expanded uncertainties; JCGM 100, about 95 % of a normal distribution."""
CHANCE = 1e-3
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
        return bool(squares > chdtri(n - 1, CHANCE))


def _sum_of_squares(parts: Mapping[str, FloatArray]) -> FloatArray:
    return np.asarray(sum((part**2 for part in parts.values()), start=np.zeros(1)))
