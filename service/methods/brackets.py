"""Brackets between what sharp points and what a uniform field would do, for electrodes of unknown shape."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from service.methods.air_forms import air_townsend
from service.methods.low_end import LowEnd
from service.methods.method import Case, Estimate, Limit, Method, Validity
from service.methods.plates import plates
from service.physics import townsend
from service.reference import Reference
from service.reference.kept import once

AIR_METHODS = ("quadratic-root-kuffel", "townsend-air")
"""Methods of the uniform field that make the high end in air, right of the Paschen minimum."""

WHY = (
    "The shape of the electrodes decides: sharp points break down near the low end, flat or well-rounded electrodes "
    "near the high end. Name the electrodes for a narrower answer."
)
NO_LOW = "No low end: how early sharp electrodes break down is not known here; inception may be breakdown."
LONG_IMPULSE = (
    "Beyond 100 mm the low end at switching impulse is 0.45 kV/mm; from about 1 m on rods over a plane break down at "
    "less."
)


@once
def gas_brackets(reference: Reference) -> tuple[Method, ...]:
    """Return the brackets in other gases than air: bounded from above only.

    Parameters
    ----------
    reference : Reference
    """
    return tuple(_in_gas(method) for method in plates(reference) if "air" not in method.validity.gases)


@once
def air_brackets(reference: Reference) -> tuple[Method, ...]:
    """Return the brackets in air, from a low end by the tables for points to the uniform field.

    Parameters
    ----------
    reference : Reference
    """
    low_end = LowEnd.of(reference)
    minimum = townsend.minimum(*air_townsend(reference))[0]
    uniform = {method.key: method for method in plates(reference)}
    return tuple(_in_air(uniform[key], low_end, minimum) for key in AIR_METHODS)


def _in_air(uniform: Method, low_end: LowEnd, minimum: float) -> Method:
    def function(case: Case) -> Estimate:
        high = uniform.function(case).value
        low = low_end.voltage(case, high)
        notes = (WHY, *((NO_LOW,) if np.isnan(low).any() else ()))
        if case.waveform == "switching-impulse" and (case.gap > low_end.end).any():
            notes = (*notes, LONG_IMPULSE)
        row = f"low end: {low_end.row(case, high)}; high end: uniform field" if case.size == 1 else None
        return Estimate(np.full(case.size, np.nan), low, high, notes=notes, row=row, provenance="memory")

    right = Limit("pd", "pd", low=minimum)
    words = "air right of the Paschen minimum, gap 10 um to 1 m"
    return _bracket(uniform, function, (right, *uniform.validity.limits), words)


def _in_gas(uniform: Method) -> Method:
    def function(case: Case) -> Estimate:
        nothing = np.full(case.size, np.nan)
        found = uniform.function(case)
        return Estimate(nothing, nothing, found.high, notes=(WHY, NO_LOW, *found.notes))

    return _bracket(uniform, function, uniform.validity.limits, uniform.validity.words)


def _bracket(uniform: Method, function: Callable[[Case], Estimate], limits: tuple[Limit, ...], words: str) -> Method:
    return Method(
        f"bracket-{uniform.key}",
        f"Bracket from sharp points to the uniform field ({uniform.title})",
        "bracket",
        function,
        Validity(uniform.validity.gases, limits=limits, words=words),
        None,
        uniform.source,
        uniform.provenance,
    )
