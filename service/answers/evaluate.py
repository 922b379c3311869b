"""The evaluator: which methods are valid at a case and which is preferred; the refusal of what none covers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from service import units
from service.errors import Fault, OutsideValidity
from service.methods import Arrangement, Case, Estimate, FloatArray, Limit, Method
from service.methods.case import VACUUM
from service.methods.method import BoolArray
from service.units import Quantity


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


NEAR_VACUUM = {
    1e-2: " So thin a gas decides nothing any more: ask gas=vacuum.",
    10.0: " Between the left branch of Paschen's curve and vacuum (gas=vacuum, to 10 mPa) nothing is known here.",
}
"""What a refusal says up to a pressure [Pa], the lowest first; common practice, no source."""
WITHOUT = " Without method={} these electrodes are answered: leave it out."
MOST_FAULTS = 6
"""Faults that a refusal names."""


@dataclass(frozen=True)
class Failed:
    """Limits of a method that a case of one element does not keep."""

    arrangement: Arrangement
    method: Method
    limits: tuple[Limit, ...]
    case: Case

    @property
    def limit(self) -> Limit:
        """The one that is told."""
        return self.limits[0]

    @property
    def advice(self) -> str:
        """What to ask instead, with a space before it: of what speaks of it the narrowest, which is the last."""
        said = [advice for limit in self.limits if (advice := limit.advice(self.case))]
        return f" {said[-1]}" if said else ""

    @property
    def parameter(self) -> str:
        """What an asker would change."""
        return self.arrangement.gap_by if self.limit.parameter == "gap" else self.limit.parameter

    @property
    def value(self) -> float:
        """The limited quantity."""
        return float(self.limit.quantity.value(self.case)[0])

    @property
    def ends(self) -> tuple[float, float]:
        """Both bounds."""
        low, high = (float(bound[0]) for bound in self.limit.bounds(self.case))
        return low, high

    @property
    def distance(self) -> float:
        """How far outside the quantity lies, as a logarithm."""
        (low, high), value = self.ends, self.value
        bound = low if value < low else high
        return abs(float(np.log(bound / value))) if value > 0 and bound > 0 and np.isfinite(bound) else FAR

    @property
    def fault(self) -> Fault:
        """What is wrong, with the range that the parameter itself would have."""
        noun, words = self.limit.quantity.noun, self._words()
        return Fault(self.parameter, f"for '{self.method.title}' the {noun} must be {words}.", (), self._valid())

    def _words(self) -> str:
        low, high = self.ends
        said = self.limit.quantity.said
        asked = said(self.value)
        ends = [said(end) for end in dict.fromkeys((low, high)) if np.isfinite(end)]
        shown = self.limit.quantity.between(low, high).replace("from ", "at least ").replace("to ", "at most ")
        if len(ends) == 2:
            shown = f"within {self.limit.quantity.between(low, high)}"
        return f"{shown}; it is {'beyond it by less than a digit' if asked in ends else asked}"

    def _valid(self) -> dict[str, Quantity]:
        own = {name: self._own(end) for name, end in zip(("low", "high"), self.ends, strict=True) if np.isfinite(end)}
        declared = {parameter.name: parameter.dimension for parameter in self.arrangement.parameters}
        own_dimension = {**declared, **DIMENSIONS}.get(self.parameter, "length")
        dimension = self.limit.quantity.dimension if self._is_itself else own_dimension
        return {name: Quantity(end, dimension) for name, end in own.items() if end is not None}

    @property
    def _is_itself(self) -> bool:
        return self.limit.quantity.key == self.limit.parameter == self.parameter

    def _own(self, end: float) -> float | None:
        """Return a bound as one of the parameter, where the quantity is in proportion to it."""
        if self._is_itself:
            return end
        if not (self.value > 0 and end > 0):
            return None
        case, name = self.case, self.limit.parameter
        share = end / self.value
        if name == "gap":
            gap = case.gap * share
            moved = replace(case, gap=gap, dimensions=self.arrangement.dimensions(case, gap))
        elif name in case.dimensions:
            moved = replace(case, dimensions={**case.dimensions, name: case.dimensions[name] * share})
        elif hasattr(case, name):
            moved = replace(case, **{name: getattr(case, name) * share})
        else:
            return None
        with np.errstate(all="ignore"):
            reached = float(self.limit.quantity.value(moved)[0])
        if not abs(reached / end - 1) < PROPORTION:
            return None
        found = moved.dimensions.get(self.parameter, getattr(moved, self.parameter, None))
        return None if found is None else float(found[0])


PROPORTION = 1e-6
"""Relative difference from a bound at which a scaled parameter has reached it."""
FAR = 99.0
"""Distance of what has no measure."""
DIMENSIONS: Mapping[str, str] = {
    "pressure": "pressure",
    "temperature": "temperature",
    "frequency": "frequency",
    "fraction": "fraction",
}
"""Dimensions of what surrounds a gap; everything else is a length."""


def refusal(arrangement: Arrangement, case: Case, only: str | None = None, sought: str = "") -> OutsideValidity:
    """Return the error for a case of one element that no method of the arrangement covers.

    Parameters
    ----------
    only : str, optional
        Key of the one method that was wanted.
    sought : str
        What the question is after, ``gap`` or ``pressure``: no limit on it stands in the way.

    Returns
    -------
    OutsideValidity
        With one fault per limit that stands in the way, nearest range first.
    """
    methods = [method for method in arrangement.methods if only is None or method.key == only]
    applying = [method for method in methods if method.validity.applies(case)]
    others = _without(arrangement, case, only)
    if not applying:
        return _advised(_no_method(arrangement, methods, case, others), others)
    failed = sorted(_failed(arrangement, applying, case, sought), key=lambda one: one[0])
    if not failed and (thin := thin_gas(case)):
        detail = f"No method answers at this pressure.{thin}"
        return _advised(OutsideValidity.about("pressure", detail), thin)
    if not failed:
        return _only_at_points(applying, sought)
    unique: dict[tuple[str, str], Failed] = {}
    for _, one in failed:
        unique.setdefault((one.parameter, one.limit.quantity.between(*one.ends)), one)
    nearest = failed[0][1]
    thin = thin_gas(case) if nearest.limit.parameter in ("gap", "pressure") else ""
    advice = thin or others or nearest.advice
    faults = [one.fault for one in unique.values()][:MOST_FAULTS]
    error = OutsideValidity(f"No method answers here: {nearest.fault.detail}{advice}", faults)
    return _advised(error, advice)


def _advised(error: OutsideValidity, advice: str) -> OutsideValidity:
    """Return an error with the change that its advice speaks of, where it speaks of one."""
    if "gas=vacuum." in advice:
        error.suggestion = {"gas": VACUUM}
    elif "leave it out" in advice:
        error.suggestion = {"method": ""}
    return error


def _without(arrangement: Arrangement, case: Case, only: str | None) -> str:
    """Return that the case is answered without the one method wanted, where it is."""
    return WITHOUT.format(only) if only is not None and evaluate(arrangement, case).answered.all() else ""


def thin_gas(case: Case) -> str:
    """Return what a refusal says of a gas near vacuum, with a space before it; nothing elsewhere."""
    thin = (words for end, words in NEAR_VACUUM.items() if case.pressure[0] <= end)
    return next(thin, "") if not case.in_vacuum else ""


def _only_at_points(methods: list[Method], sought: str) -> OutsideValidity:
    """Return the refusal of a range in which methods answer at single places only."""
    known = tuple(method.validity.words for method in methods)
    detail = f"No method answers over a range here, only at single places: {'; '.join(known)}."
    return OutsideValidity.about("gas" if sought == "gap" else "gap", detail, known[:MOST_FAULTS])


def _no_method(arrangement: Arrangement, methods: list[Method], case: Case, others: str) -> OutsideValidity:
    """Return the refusal of keys that no method takes: the parameter is the one that stands most often alone."""
    nearest = min(methods, key=lambda method: len(method.validity.foreign(case)))
    foreign = nearest.validity.foreign(case)
    parameter = foreign[0] if foreign else "method"
    accepted = {key for method in methods for key in method.validity.keys.get(parameter, ())}
    which = "This method" if len(methods) == 1 else "No method"
    polarity = f", polarity={case.polarity}" if case.polarity else ""
    asked = f"electrodes={arrangement.key}, gas={case.gas}, waveform={case.waveform}{polarity}"
    verb = "does not answer" if len(methods) == 1 else "answers"
    own = arrangement.advice.get(parameter, "")
    advice = others or (f" {own}" if own else "")
    few = ", ".join(sorted(accepted)) if len(accepted) <= MOST_FAULTS else ""
    words = nearest.validity.words if len(methods) == 1 else few
    detail = f"{which} {verb} with {asked}{f', but with: {words}' if words else ''}.{advice}"
    return OutsideValidity.about(parameter, detail, tuple(sorted(accepted)))


def _failed(arrangement: Arrangement, methods: list[Method], case: Case, sought: str) -> Iterator[tuple[float, Failed]]:
    """Yield the nearest failed limit of every method, with how far it is from answering."""
    for method in methods:
        failing = [limit for limit in method.validity.limits if not limit.holds(case).all()]
        # a range that is empty at this density leads nowhere, and what is sought is no obstacle
        told = [
            one for one in failing if one.parameter != sought and np.less_equal(*(end[0] for end in one.bounds(case)))
        ]
        if told:
            one = Failed(arrangement, method, tuple(told), case)
            yield len(failing) - 1 + one.distance, one


def working(arrangement: Arrangement, case: Case, only: str | None = None) -> dict[str, str]:
    """Return the smaller gap, or else the pressure, nearest to the asked one that some method answers, as query text.

    A larger gap is never proposed, since it holds more and a reader may take it for the cure; nor is a pressure more
    than ten times another: near vacuum it is the gas that is changed.

    Parameters
    ----------
    case : Case
        Of one element.
    only : str, optional
        Key of the one method wanted.

    Returns
    -------
    dict
        One parameter, or none where neither helps.
    """
    if not case.in_vacuum and case.pressure[0] <= min(NEAR_VACUUM):
        return {"gas": VACUUM}
    for name, dimension, unit, reach in (
        ("gap", "length", "mm", (1e-6, 1.0)),
        ("pressure", "pressure", "kPa", (0.1, 10.0)),
    ):
        asked = float(getattr(case, name)[0])
        ends = _ends(arrangement, case, name)
        near = ends[(ends >= reach[0] * asked) & (ends <= reach[1] * asked)]
        places = np.concatenate([asked * np.geomspace(*reach, 481), near])
        texts = [f"{place:.3g}" for place in places]
        many = case.repeated(places.size).but({name: np.array(texts, dtype=np.float64)})
        found = evaluate(arrangement, many, only=only)
        if found.answered.any():
            distances = np.where(found.answered, np.abs(np.log(places / asked)), np.inf)
            nearest = float(texts[int(np.argmin(distances))])
            return {name: f"{units.shown(nearest, dimension):.6g}{unit}"}
    return {}


def _ends(arrangement: Arrangement, case: Case, quantity: str) -> FloatArray:
    """Return the finite ends of the ranges of a quantity: places that a grid would miss."""
    applying = [method.validity for method in arrangement.methods if method.validity.applies(case)]
    limits = [limit for validity in applying for limit in validity.limits if limit.quantity.key == quantity]
    ends = np.array([float(end[0]) for limit in limits for end in limit.bounds(case)])
    return np.asarray(ends[np.isfinite(ends) & (ends > 0)])
