"""The refusal of a question that no method covers: which range is nearest, and a request that works."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from service import units
from service.answers.evaluate import evaluate
from service.errors import Fault, OutsideValidity
from service.methods import Arrangement, Case, FloatArray, Limit, Method
from service.methods.case import VACUUM
from service.units import Quantity

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
