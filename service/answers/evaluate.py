"""The evaluator: which methods are valid at a case, what each answers, and which is preferred."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from service.methods import Arrangement, Case, Estimate, FloatArray, Method
from service.methods.method import BoolArray


@dataclass(frozen=True)
class Evaluated:
    """What one method says where it is valid.

    Parameters
    ----------
    mask : ndarray of bool
        Elements of the case where it is valid.
    estimate : Estimate
        For the elements of the mask only, in order.
    """

    method: Method
    mask: BoolArray
    estimate: Estimate

    def at(self, index: int) -> int:
        """Return the position of a case element within the estimate."""
        return int(np.count_nonzero(self.mask[:index]))


@dataclass(frozen=True)
class Evaluation:
    """The preferred estimate per element of a case.

    Parameters
    ----------
    value, low, high, inception, utilization : ndarray
        Peak voltages [V] and mean over greatest field; NaN where there is none.
    choice : ndarray of int
        Position in ``methods`` of the preferred one; -1 where no method is valid.
    methods : list of Evaluated
        Those evaluated, in order of trust.
    """

    arrangement: Arrangement
    case: Case
    value: FloatArray
    low: FloatArray
    high: FloatArray
    inception: FloatArray
    utilization: FloatArray
    choice: np.ndarray
    methods: list[Evaluated] = field(default_factory=list)

    @property
    def answered(self) -> BoolArray:
        """Elements for which some method is valid."""
        return self.choice >= 0

    def numbers(self, index: int = 0) -> tuple[float, float, float]:
        """Return value, low and high end at an element [V]; NaN where there is none."""
        return float(self.value[index]), float(self.low[index]), float(self.high[index])

    @property
    def half_widths(self) -> FloatArray:
        """Relative half width of every element's band, of its wider side; NaN where there is no value."""
        return np.asarray(np.fmax(self.high - self.value, self.value - self.low) / self.value)

    def preferred(self, index: int = 0) -> Evaluated:
        """Return the preferred method at an element.

        Raises
        ------
        LookupError
            When no method answers there: the last of all methods is not its method.
        """
        if self.choice[index] < 0:
            raise LookupError(f"no method answers at element {index}")
        return self.methods[int(self.choice[index])]

    def others(self, index: int = 0) -> Iterator[Evaluated]:
        """Yield the other methods that are valid at an element."""
        chosen = self.preferred(index)
        return (one for one in self.methods if one is not chosen and one.mask[index])


def evaluate(
    arrangement: Arrangement,
    case: Case,
    *,
    every: bool = False,
    only: str | None = None,
    choice: np.ndarray | None = None,
) -> Evaluation:
    """Return what an arrangement's methods say of a case.

    Parameters
    ----------
    every : bool
        Evaluate all valid methods, not only the preferred one of each element.
    only : str, optional
        Key of the one method wanted.
    choice : ndarray of int, optional
        Where it is known which method is preferred: its position among those that apply, -1 where none is.

    Returns
    -------
    Evaluation
        Elements outside every method's validity have ``choice`` -1 and NaN everywhere; nothing is clipped.
    """
    if case.size == 1:
        return _evaluate_one(arrangement, case, every, only)
    n = case.size
    value, low, high, inception, utilization = (np.full(n, np.nan) for _ in range(5))
    chosen = np.full(n, -1)
    found: list[Evaluated] = []
    open_ = np.ones(n, dtype=bool)
    methods = (method for method in arrangement.applying(case) if only in (None, method.key))
    for position, method in enumerate(methods):
        mask = _valid(method, case, None if every else open_) if choice is None else choice == position
        if not mask.any():
            continue
        estimate = method.estimate(case.select(mask))
        new = mask & open_
        inside = new[mask]
        value[new], low[new], high[new] = estimate.value[inside], estimate.low[inside], estimate.high[inside]
        if estimate.inception is not None:
            inception[new] = estimate.inception[inside]
        if estimate.utilization is not None:
            utilization[new] = estimate.utilization[inside]
        chosen[new] = len(found)
        found.append(Evaluated(method, mask, estimate))
        open_ &= ~new
        if not every and not open_.any():
            break
    return Evaluation(arrangement, case, value, low, high, inception, utilization, chosen, found)


def answered(arrangement: Arrangement, case: Case) -> BoolArray:
    """Return the elements of a case for which some method of an arrangement is valid."""
    found = np.zeros(case.size, dtype=bool)
    for method in arrangement.applying(case):
        found |= _valid(method, case, ~found)
        if found.all():
            break
    return found


def preferred(arrangement: Arrangement, case: Case, only: str | None = None) -> Estimate | None:
    """Return what the most trusted valid method says of a case of one element, in plain numbers; nothing without one.

    Parameters
    ----------
    only : str, optional
        Key of the one method wanted.
    """
    plain = case.plain
    methods = (one for one in arrangement.applying(plain) if only in (None, one.key))
    first = next((one for one in methods if one.validity.reaches(plain)), None)
    return None if first is None else first.estimate(plain)


def _evaluate_one(arrangement: Arrangement, case: Case, every: bool, only: str | None) -> Evaluation:
    found: list[Evaluated] = []
    plain = case.plain
    for method in arrangement.applying(case):
        if only in (None, method.key) and method.validity.reaches(plain):
            found.append(Evaluated(method, HERE, method.estimate(plain).in_arrays))
            if not every:
                break
    if not found:
        return Evaluation(arrangement, case, ABSENT, ABSENT, ABSENT, ABSENT, ABSENT, NOWHERE)
    first = found[0].estimate
    inception, eta = (ABSENT if one is None else one for one in (first.inception, first.utilization))
    return Evaluation(arrangement, case, first.value, first.low, first.high, inception, eta, FIRST, found)


HERE, ABSENT, FIRST, NOWHERE = np.array([True]), np.array([np.nan]), np.array([0]), np.array([-1])
"""Of a case of one element: it is valid, has no number, its first method is preferred, none is."""


def _valid(method: Method, case: Case, wanted: BoolArray | None) -> BoolArray:
    if wanted is None or wanted.all():
        return method.validity.mask(case)
    mask = np.zeros(case.size, dtype=bool)
    mask[wanted] = method.validity.mask(case.select(wanted))
    return mask
