"""What bounds a breakdown voltage whatever the shape: the sharpest electrode from below, plates from above."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service import spoken
from service.methods.air_forms import OF_THE_MINIMUM, air_townsend
from service.methods.case import AIR
from service.methods.form import NARROWEST_GAP
from service.methods.method import (
    DENSITY,
    FREQUENCY,
    GAP,
    PRODUCT,
    Case,
    Estimate,
    FloatArray,
    Limit,
    Method,
    Validity,
)
from service.methods.plates import plates
from service.methods.sharpest import Sharpest, sharpest
from service.physics import townsend
from service.reference import Reference, Source, once

LONGEST, DENSEST = 10.0, 10.0
"""Longest gap [m] and highest relative density of the sharpest electrode."""
LOWER = 0.9
"""Share of an inception voltage from which a bracket begins: a model's own uncertainty; common practice, no source."""

WHY = (
    "The shape of the electrodes decides: sharp points break down near the low end, flat or well-rounded electrodes "
    "near the high end. Name the electrodes for a narrower answer."
)
NO_LOW = "No low end: how early sharp electrodes break down is not known here; inception may be breakdown."
NO_HIGH = "No high end: no formula of a uniform field reaches so far, so what even plates hold is not known here."
LEFT_NOTE = (
    "Gaps shorter than about {} lie left of the Paschen minimum at this density and hold more than longer ones, "
    "until they are far shorter: ask electrodes=uniform-field."
)
MICRO_ADVICE = (
    f"Below {GAP.said(NARROWEST_GAP)} the surface decides: electrodes=uniform-field ranges from rough electrodes to "
    "smooth ones."
)
OTHER_GAS: Mapping[str, str] = {
    "gas": "Where no method of a shape takes the gas, electrodes=unknown is bounded from above only."
}
LEFT_ADVICE = (
    "Left of the Paschen minimum a longer path breaks down first, from about {} on: a short gap does not protect there."
)
THIN_FROM = 2e4
"""Reduced pressure below which the Paschen minimum lies at a gap of 50 um and more [Pa]."""


@dataclass(frozen=True, eq=False)
class Bounds:
    """The ends that hold for every shape.

    Parameters
    ----------
    plates : tuple of Method
        Methods of the uniform field, in order of trust.
    sharpest : Sharpest
        In air.
    """

    plates: tuple[Method, ...]
    sharpest: Sharpest

    def uniform(self, case: Case) -> tuple[FloatArray, FloatArray]:
        """Return both ends of the uniform field's band [V]; NaN where plates do not answer."""
        found: tuple[FloatArray, FloatArray] = case.kept("uniform-band", lambda: self._uniform(case))
        return found

    @cached_property
    def _in_gas(self) -> Mapping[str, tuple[Method, ...]]:
        gases = {gas for method in self.plates for gas in method.validity.gases}
        return {gas: tuple(method for method in self.plates if gas in method.validity.gases) for gas in gases}

    def _uniform(self, case: Case) -> tuple[FloatArray, FloatArray]:
        if case.is_plain:
            first = next((one for one in self._in_gas[case.gas] if one.validity.holds_at_one(case)), None)
            found = None if first is None else first.estimate(case)
            return (case.filled(np.nan), case.filled(np.nan)) if found is None else (found.low, found.high)
        low, high = np.full((2, case.size), np.nan)
        wanted = np.ones(case.size, dtype=np.bool_)
        for method in self._in_gas[case.gas]:
            mask = method.validity.mask(case) & wanted
            if mask.any():
                estimate = method.estimate(case.select(mask))
                low[mask], high[mask] = estimate.low, estimate.high
                wanted &= ~mask
            if not wanted.any():
                break
        return low, high

    def floor(self, case: Case) -> FloatArray:
        """Return what any electrode in air holds at least [V]."""
        return self.sharpest.floor(case, self.uniform(case)[0])

    def within(self, case: Case, estimate: Estimate) -> Estimate:
        """Return an estimate in air whose ends are no wider than those of electrodes of unknown shape.

        Parameters
        ----------
        case : Case
        estimate : Estimate
            Of any arrangement.
        """
        of, (uniform_low, uniform_high) = case.of, self.uniform(case)
        low = of.fmin(self.sharpest.raised(case, estimate.low, uniform_low), estimate.value)
        high = of.fmin(estimate.high, uniform_high)
        return estimate.between(low, _above(case, high, of.fmax(low, estimate.value)))

    def bracket(self, case: Case, inception: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the ends of a bracket in air over the low end of an inception voltage [V]: breakdown comes later."""
        low = case.of.fmax(inception, self.floor(case))
        return low, _above(case, self.uniform(case)[1], low)


def _above(case: Case, high: FloatArray, least: FloatArray) -> FloatArray:
    """Return high ends raised to what they cannot be below; none where there is none."""
    return case.of.where(case.of.isnan(high), np.nan, case.of.fmax(high, least))


@once
def bounds(reference: Reference) -> Bounds:
    """Return the ends that hold for every shape.

    Parameters
    ----------
    reference : Reference
    """
    return Bounds(plates(reference), sharpest(reference))


def bounded(reference: Reference, method: Method) -> Method:
    """Return a method in air with its ends no wider than those of electrodes of unknown shape.

    Parameters
    ----------
    reference : Reference
    method : Method
    """
    ends = bounds(reference)
    return replace(method, function=lambda case: ends.within(case, method.estimate(case)), by_numbers=True)


@once
def gas_brackets(reference: Reference) -> tuple[Method, ...]:
    """Return the brackets in other gases than air: bounded from above only.

    Parameters
    ----------
    reference : Reference
    """
    return tuple(_in_gas(method) for method in plates(reference) if AIR not in method.validity.gases)


@once
def air_brackets(reference: Reference) -> tuple[Method, ...]:
    """Return the brackets in air: from the sharpest electrode to the uniform field, beyond it the low end alone.

    Parameters
    ----------
    reference : Reference
    """
    ends = bounds(reference)
    minimum = MinimumOfAir(*townsend.minimum(*air_townsend(reference)))
    return (*(_in_air(one, ends, minimum) for one in _covering(ends.plates, minimum)), _alone(reference, ends, minimum))


@dataclass(frozen=True)
class MinimumOfAir:
    """The Paschen minimum of air.

    Parameters
    ----------
    pd, voltage : float
        [Pa m], [V].
    """

    pd: float
    voltage: float

    @property
    def right(self) -> Limit:
        """The limit to the right branch, with what is true left of it."""
        least = spoken.speak(self.voltage * (1 - OF_THE_MINIMUM), "voltage", toward="down")
        return Limit("gap", PRODUCT, low=self.pd, below=LEFT_ADVICE.format(least))


def _covering(methods: tuple[Method, ...], minimum: MinimumOfAir) -> Iterator[Method]:
    """Yield the most trusted methods of air that reach further than those before them, right of the minimum."""
    ends: list[tuple[float, float]] = []
    for method in methods:
        ranges = [limit.plain for limit in method.validity.limits if limit.quantity is PRODUCT and limit.plain]
        if AIR not in method.validity.gases or method.thin or not ranges:
            continue
        first, last = ranges[0]
        if all(not low <= max(first, minimum.pd) or not last <= high for low, high in ends):
            ends.append((first, last))
            yield method


def _in_air(uniform: Method, ends: Bounds, minimum: MinimumOfAir) -> Method:
    def function(case: Case) -> Estimate:
        low_end, high = ends.uniform(case)
        low = ends.sharpest.voltage(case, low_end)
        absent = case.of.any(case.of.isnan(low))
        notes = (WHY, *((NO_LOW,) if absent else ()), *ends.sharpest.notes(case), *_left(case, minimum.pd))
        row = None
        if case.size == 1:
            below = "none" if absent else ends.sharpest.row(case, low_end)
            row = f"low end: {below}; high end: uniform field"
        return Estimate(case.filled(np.nan), low, high, notes=notes, row=row, provenance="memory")

    advised = (
        replace(limit, below=MICRO_ADVICE) if limit.quantity is GAP else limit for limit in uniform.validity.limits
    )
    return _bracket(uniform, function, (minimum.right, *advised))


def _left(case: Case, minimum: float) -> tuple[str, ...]:
    least = float(np.min(case.reduced_pressure)) if not case.is_plain else float(case.reduced_pressure)
    return (LEFT_NOTE.format(spoken.said(minimum / least, "length", unit="mm", digits=3)),) if least < THIN_FROM else ()


def _alone(reference: Reference, ends: Bounds, minimum: MinimumOfAir) -> Method:
    def function(case: Case) -> Estimate:
        nothing = case.filled(np.nan)
        row = f"low end: {ends.sharpest.row(case, nothing)}; high end: none" if case.size == 1 else None
        notes = (NO_HIGH, *ends.sharpest.notes(case))
        return Estimate(nothing, ends.floor(case), nothing, notes=notes, row=row, provenance="memory")

    limits = (
        minimum.right,
        Limit("gap", GAP, NARROWEST_GAP, LONGEST, below=MICRO_ADVICE),
        Limit("pressure", DENSITY, high=DENSEST),
        Limit("frequency", FREQUENCY, 0.0, ends.sharpest.value["falls-to"]),
    )
    table = reference.table("sharpest-electrode")
    return Method(
        "bracket-sharpest-electrode",
        "What the sharpest electrode holds",
        "bracket",
        function,
        Validity(frozenset({AIR}), limits=limits),
        None,
        Source(table.source.key, table.source.citation),
        "memory",
        by_numbers=True,
    )


def _in_gas(uniform: Method) -> Method:
    def function(case: Case) -> Estimate:
        nothing = case.filled(np.nan)
        found = uniform.estimate(case)
        return Estimate(nothing, nothing, found.high, notes=(WHY, NO_LOW, *found.notes))

    return _bracket(uniform, function, uniform.validity.limits)


def _bracket(uniform: Method, function: Callable[[Case], Estimate], limits: tuple[Limit, ...]) -> Method:
    return Method(
        f"bracket-{uniform.key}",
        f"Bracket from sharp points to the uniform field ({uniform.title})",
        "bracket",
        function,
        Validity(uniform.validity.gases, limits=limits),
        None,
        uniform.source,
        uniform.provenance,
        by_numbers=True,
    )
