"""The refusal of a question that no method covers: which range is nearest, and a request that works."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from service import units
from service.answers.evaluate import evaluate
from service.errors import Fault, OutsideValidity
from service.methods import Arrangement, Case, FloatArray, Limit, Method

WORDS: Mapping[str, str] = {
    "pd": "pressure times gap (at 20 degC)",
    "relative_density": "the relative density",
    "gap": "the gap",
    "pressure": "the pressure",
    "temperature": "the temperature",
    "frequency": "the frequency",
}


def refusal(arrangement: Arrangement, case: Case, only: str | None = None) -> OutsideValidity:
    """Return the error for a case of one element that no method of the arrangement covers.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
    only : str, optional
        Key of the one method that was wanted.

    Returns
    -------
    OutsideValidity
        With one fault per limit that stands in the way, nearest range first.
    """
    methods = [method for method in arrangement.methods if only is None or method.key == only]
    applying = [method for method in methods if method.validity.applies(case)]
    if not applying:
        return _no_method(arrangement, methods, case)
    faults = sorted(_faults(applying, case), key=lambda pair: pair[0])
    unique = {(fault.parameter, str(fault.valid)): fault for _, fault in faults}
    if not unique:
        return _only_at_points(applying)
    nearest = next(iter(unique.values()))
    advice = thin_gas(case) or _advice(arrangement)
    error = OutsideValidity(f"No method answers here: {nearest.detail}{advice}", [*unique.values()][:6])
    error.suggestion = {"gas": "vacuum"} if "gas=vacuum." in advice else {}
    return error


NEAR_VACUUM = {
    1e-2: " So thin a gas decides nothing any more: ask gas=vacuum.",
    10.0: " Between the left branch of Paschen's curve and vacuum (gas=vacuum, to 10 mPa) nothing is known here.",
}
"""What a refusal says up to a pressure [Pa], the lowest first; common practice, no source."""


def thin_gas(case: Case) -> str:
    """Return what a refusal says of a gas near vacuum, with a space before it; nothing elsewhere."""
    thin = (words for end, words in NEAR_VACUUM.items() if case.pressure[0] <= end)
    return next(thin, "") if case.gas != "vacuum" else ""


def _only_at_points(methods: list[Method]) -> OutsideValidity:
    """Return the refusal of a range in which methods answer at single places only."""
    known = tuple(method.validity.words for method in methods)
    detail = f"No method answers over a range here, only at single places: {'; '.join(known)}."
    return OutsideValidity(detail, [Fault("gap", detail, known[:6])])


def _advice(arrangement: Arrangement) -> str:
    """Return what to ask instead, with a space before it."""
    return f" {arrangement.advice}" if arrangement.advice else ""


def _no_method(arrangement: Arrangement, methods: list[Method], case: Case) -> OutsideValidity:
    known = [method.validity.words for method in methods if method.validity.words]
    which = "This method" if len(methods) == 1 else "No method"
    polarity = f", polarity={case.polarity}" if case.polarity else ""
    asked = f"electrodes={arrangement.key}, gas={case.gas}, waveform={case.waveform}{polarity}"
    verb = "does not answer" if len(methods) == 1 else "answers"
    detail = f"{which} {verb} with {asked}.{_advice(arrangement)}"
    return OutsideValidity(detail, [Fault("electrodes", detail, tuple(known[:6]))])


def _faults(methods: list[Method], case: Case) -> Iterator[tuple[float, Fault]]:
    for method in methods:
        failing = [limit for limit in method.validity.limits if not limit.holds(case).all()]
        # a range that is empty at this density leads nowhere
        for limit in (one for one in failing if np.less_equal(*(bound[0] for bound in one.bounds(case)))):
            yield len(failing) - 1 + _distance(limit, case), _fault(method, limit, case)
            break


def _distance(limit: Limit, case: Case) -> float:
    value = float(limit.value(case)[0])
    low, high = (float(bound[0]) for bound in limit.bounds(case))
    bound = low if value < low else high
    if not (value > 0 and bound > 0 and np.isfinite(bound)):
        return 99.0
    return abs(float(np.log(bound / value)))


def _fault(method: Method, limit: Limit, case: Case) -> Fault:
    low, high = (float(bound[0]) for bound in limit.bounds(case))
    valid = {name: _show(limit, bound) for name, bound in (("low", low), ("high", high)) if np.isfinite(bound)}
    subject = WORDS.get(limit.quantity, limit.quantity)
    words = " to ".join(_text(bound) for bound in valid.values())
    kind = "at least" if set(valid) == {"low"} else "at most" if set(valid) == {"high"} else "within"
    if low == high:
        kind, words = "exactly", _text(valid["low"])
    asked = _text(_show(limit, float(limit.value(case)[0])))
    detail = f"for '{method.title}' {subject} must be {kind} {words}; it is {asked}."
    return Fault(limit.quantity, detail, (), valid)


def _show(limit: Limit, value: float) -> Any:
    return units.quantity(value, limit.dimension) if limit.dimension in units.DIMENSIONS else value


def _text(shown: Any) -> str:
    return f"{shown['value']:.6g} {shown['unit']}" if isinstance(shown, dict) else f"{shown:.4g}"


def working(arrangement: Arrangement, case: Case, only: str | None = None) -> dict[str, str]:
    """Return the smaller gap, or else the pressure, nearest to the asked one that some method answers, as query text.

    A larger gap is never proposed, since it holds more and a reader may take it for the cure; nor is a pressure more
    than ten times another: near vacuum it is the gas that is changed.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
        Of one element.
    only : str, optional
        Key of the one method wanted.

    Returns
    -------
    dict
        One parameter, or none where neither helps.
    """
    if case.gas != "vacuum" and case.pressure[0] <= min(NEAR_VACUUM):
        return {"gas": "vacuum"}
    for name, dimension, unit, reach in (
        ("gap", "length", "mm", (1e-6, 1.0)),
        ("pressure", "pressure", "kPa", (0.1, 10.0)),
    ):
        asked = float(getattr(case, name)[0])
        ends = _ends(arrangement, case, name)
        near = ends[(ends >= reach[0] * asked) & (ends <= reach[1] * asked)]
        places = np.concatenate([asked * np.geomspace(*reach, 481), near])
        texts = [f"{place:.3g}" for place in places]
        many = _with(case.repeated(places.size), name, np.array(texts, dtype=np.float64))
        found = evaluate(arrangement, many, only=only)
        if found.answered.any():
            distances = np.where(found.answered, np.abs(np.log(places / asked)), np.inf)
            nearest = float(texts[int(np.argmin(distances))])
            return {name: f"{units.shown(nearest, dimension):.6g}{unit}"}
    return {}


def _with(case: Case, name: str, places: FloatArray) -> Case:
    return replace(case, gap=places) if name == "gap" else replace(case, pressure=places)


def _ends(arrangement: Arrangement, case: Case, quantity: str) -> FloatArray:
    """Return the finite ends of the ranges of a quantity: places that a grid would miss."""
    applying = [method.validity for method in arrangement.methods if method.validity.applies(case)]
    limits = [limit for validity in applying for limit in validity.limits if limit.quantity == quantity]
    ends = np.array([float(end[0]) for limit in limits for end in limit.bounds(case)])
    return np.asarray(ends[np.isfinite(ends) & (ends > 0)])
