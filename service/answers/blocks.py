"""Blocks of an answer: estimates, methods, the other methods, corrections."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from service.answers.evaluate import Evaluated, Evaluation
from service.methods import Method
from service.units import Quantity


def finite_or_none(value: float | np.floating[Any]) -> float | None:
    """Return a float, or ``None`` for NaN."""
    plain = float(value)
    return None if math.isnan(plain) else plain


def voltage(value: float, low: float = np.nan, high: float = np.nan, unit: str | None = None) -> Quantity:
    """Return a peak voltage [V]; a NaN value makes a bracket, a NaN bound is absent."""
    return Quantity(finite_or_none(value), "voltage", finite_or_none(low), finite_or_none(high), unit)


def spread(values: ArrayLike, dimension: str) -> Quantity:
    """Return the two ends of some values as one quantity; one value where they are equal."""
    low, high = float(np.min(values)), float(np.max(values))
    if math.isclose(low, high, rel_tol=SAME):
        return Quantity(low, dimension)
    return Quantity(None, dimension, low=low, high=high)


def ends_of(values: ArrayLike) -> float | dict[str, float]:
    """Return the two ends of numbers without a unit; one number where they are equal."""
    low, high = float(np.min(values)), float(np.max(values))
    return low if math.isclose(low, high, rel_tol=SAME) else {"low": low, "high": high}


SAME = 1e-12
"""Relative difference of two ends that is only rounding."""


def method_block(method: Method, provenance: str | None = None, row: str | None = None) -> dict[str, object]:
    """Return the method block of an answer.

    Parameters
    ----------
    provenance : str, optional
        Of the rows used, where it differs from row to row.
    row : str, optional
        Which rows were used.
    """
    block = dict(_said_of(method))
    if row:
        block["row"] = row
    block["provenance"] = provenance or method.provenance
    return block


@lru_cache(maxsize=2048)
def _said_of(method: Method) -> dict[str, object]:
    block: dict[str, object] = {
        "key": method.key,
        "title": method.title,
        "kind": method.kind,
        "validity": method.validity.words,
    }
    if method.uncertainty_percent is not None:
        block["uncertainty_percent"] = method.uncertainty_percent
    return block | {"source": method.source.block()}


def chosen_method(evaluation: Evaluation) -> dict[str, object]:
    """Return the method block of the preferred method, with the uncertainty that its band shows."""
    chosen = evaluation.preferred()
    block = method_block(chosen.method, chosen.estimate.provenance, chosen.estimate.row)
    return _with_band(block, *evaluation.numbers())


def _with_band(block: dict[str, object], value: float, low: float, high: float) -> dict[str, object]:
    """Return a method block with the uncertainty that a band shows, the wider half where they differ."""
    if not (math.isfinite(value) and math.isfinite(low) and math.isfinite(high) and value > 0):
        return block
    return block | {"uncertainty_percent": round(float(max(value - low, high - value) / value * 100), 2)}


def also_block(evaluation: Evaluation, unit: str | None = None) -> list[dict[str, object]]:
    """Return every other valid method with its own value and its difference from the answer.

    The difference is of the values; of a bracket there is none.
    """
    return [_other(one, evaluation, unit) for one in evaluation.others()]


def _other(one: Evaluated, evaluation: Evaluation, unit: str | None) -> dict[str, object]:
    place, estimate = one.at(0), one.estimate
    value, low, high = (float(array[place]) for array in (estimate.value, estimate.low, estimate.high))
    block = _with_band(method_block(one.method, estimate.provenance, estimate.row), value, low, high)
    if any(map(math.isfinite, (value, low, high))):
        block["breakdown_voltage"] = voltage(value, low, high, unit)
    answer = float(evaluation.value[0])
    if math.isfinite(value) and math.isfinite(answer):
        block["difference_percent"] = round((value / answer - 1) * 100, 2)
    if estimate.inception is not None and np.isfinite(estimate.inception[place]):
        block["inception_voltage"] = voltage(float(estimate.inception[place]), unit=unit)
    return block


def corrections_block(evaluation: Evaluation) -> dict[str, float]:
    """Return the factors that the preferred method applied, and the relative density."""
    chosen = evaluation.preferred()
    place = chosen.at(0)
    case = evaluation.case
    factors = {"relative_air_density" if case.in_air else "relative_density": float(case.relative_density[0])}
    return factors | {name: float(values[place]) for name, values in chosen.estimate.corrections.items()}
