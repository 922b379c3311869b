"""A shape on a bench: its radius, the field on its axis, and where inception may be breakdown.

The field is a law of the axis, or for drawn electrodes and those of computed tables that along lines of force.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from service.methods.method import Case, FloatArray, Limit, LimitedQuantity, single
from service.physics.criterion import Inception, inception, inceptions, inceptions_of_one
from service.physics.critical_line import line_inception
from service.physics.fields import Shape
from service.physics.ionization import IonizationFit
from service.physics.numbers import Numbers
from service.units import ROUNDING

WEAKLY_NON_UNIFORM = 0.5
"""Utilization factor from which inception is breakdown within 10 %; below it corona comes first."""
ATMOSPHERIC = (0.9, 1.1)
"""Relative densities that the sphere-gap table is used in; it was made at 1."""


@dataclass(frozen=True)
class Radius:
    """How the radius of an electrode is found.

    Parameters
    ----------
    parameter : str
        What changes it.
    of : callable
        Case to radius [m].
    """

    parameter: str
    of: Callable[[Case], FloatArray]

    def __call__(self, case: Case) -> FloatArray:
        """Return the radius of a case [m]."""
        return self.of(case)


def half(name: str) -> Radius:
    """Return half of a dimension as radius."""
    return Radius(name, lambda case: case.dimensions[name] / 2)


def whole(name: str) -> Radius:
    """Return a dimension that is a radius."""
    return Radius(name, lambda case: case.dimensions[name])


@dataclass(frozen=True)
class Electrode:
    """A shape and how its radius is found.

    Parameters
    ----------
    shape : Shape
        With the field on its axis.
    radius : Radius
        Of the electrode of highest field.
    options : tuple of (str, str)
        Options that choose this shape.
    corona : str, optional
        Key of the classical corona law.
    corona_first : float
        Gap over radius beyond which corona comes before breakdown whatever the utilization factor.
    remark : tuple of (float, str), optional
        Gap over radius beyond which a sentence belongs to the answer.
    checked_radii : tuple of float
        Radii [m] on which the criterion was checked; empty where it was not.
    """

    shape: Shape
    radius: Radius
    options: tuple[tuple[str, str], ...] = ()
    corona: str | None = None
    corona_first: float = np.inf
    remark: tuple[float, str] | None = None
    checked_radii: tuple[float, float] | None = None

    @property
    def chosen(self) -> Mapping[str, frozenset[str]]:
        """Options that choose this shape, as a validity takes them."""
        return {name: frozenset({key}) for name, key in self.options}

    def utilization(self, case: Case) -> FloatArray:
        """Return mean over greatest field."""
        return case.kept((self.shape, "utilization"), lambda: 1 / (case.gap * self.maximum_field(case)))

    def maximum_field(self, case: Case) -> FloatArray:
        """Return the highest field per volt [1/m]."""
        return case.kept((self.shape, "maximum"), lambda: self.shape.maximum_field(case.gap, self.radius(case)))

    def inceptions(self, case: Case, fits: Sequence[IonizationFit]) -> list[Inception]:
        """Return the inception of a case by several fits."""
        if case.is_plain:
            gap, radius, pressure = map(single, (case.gap, self.radius(case), case.reduced_pressure))
            return inceptions_of_one(self.shape, gap, radius, pressure, fits)
        return inceptions(self.shape, case.gap, self.radius(case), case.reduced_pressure, fits)

    def inception(self, case: Case, fit: IonizationFit) -> Inception:
        """Return the inception of a case by one fit."""
        if case.is_plain:
            return self.inceptions(case, [fit])[0]
        return inception(self.shape, case.gap, self.radius(case), case.reduced_pressure, fit)

    def weakness(self, case: Case) -> FloatArray:
        """Return the utilization factor where inception may be breakdown, and zero where corona comes first anyway."""
        slender = case.gap / self.radius(case) > self.corona_first * (1 + ROUNDING)
        return case.of.where(slender, 0.0, self.utilization(case))

    def remarks(self, case: Case) -> tuple[str, ...]:
        """Return the sentence that the proportions ask for."""
        if self.remark is None or not case.of.any(case.gap / self.radius(case) > self.remark[0] * (1 + ROUNDING)):
            return ()
        return (self.remark[1],)

    def checked(self, case: Case) -> bool:
        """Return whether sizes and densities are those on which the criterion was checked."""
        if self.checked_radii is None:
            return False
        smallest, largest = self.checked_radii
        radius, density = self.radius(case), case.relative_density
        sizes = (
            (radius >= smallest * (1 - ROUNDING)) & (radius <= largest * (1 + ROUNDING)) & (case.gap <= 1.6 * radius)
        )
        return bool(case.of.all(sizes & (density >= ATMOSPHERIC[0]) & (density <= ATMOSPHERIC[1])))


@lru_cache(maxsize=256)
def fineness(electrode: Electrode, finest: float) -> Limit:
    """Return the limit on pressure times radius, from a finest [Pa m]."""
    quantity = LimitedQuantity(
        "reduced pressure times radius",
        "pd",
        "pressure times radius (at 20 °C)",
        lambda case: case.reduced_pressure * electrode.radius(case),
    )
    return Limit(electrode.radius.parameter, quantity, finest)


def strength(electrode: Electrode, highest: float, field: Callable[[Case], FloatArray]) -> Limit:
    """Return the limit on the highest field over pressure [V/(Pa m)], up to where a fit ends."""
    quantity = LimitedQuantity("field over pressure", "number", "highest field over pressure", field, "kV/(cm bar)")
    return Limit(electrode.radius.parameter, quantity, high=highest)


@lru_cache(maxsize=256)
def utilization_limits(electrode: Electrode) -> tuple[Limit, Limit]:
    """Return the ranges of the utilization factor where inception may be breakdown, and where corona comes first."""
    factor = LimitedQuantity("field utilization factor", "number", "field utilization factor", electrode.weakness)
    weakly = Limit("gap", factor, WEAKLY_NON_UNIFORM)
    slender = Limit("gap", factor, high=WEAKLY_NON_UNIFORM * (1 - 2 * ROUNDING))
    return weakly, slender


@dataclass(frozen=True)
class Lines:
    """Lines of force of a case, any of which may be the one where a discharge starts first.

    Parameters
    ----------
    strength : ndarray
        Field per volt in small steps, ``(cases, lines, steps)`` [1/m].
    length : ndarray
        Length of the steps [m].
    highest : ndarray
        Highest field per volt at the surface, ``(cases,)`` [1/m].
    """

    strength: FloatArray
    length: FloatArray
    highest: FloatArray

    def voltages(self, pressure: FloatArray, fit: IonizationFit) -> FloatArray:
        """Return the voltage at which the criterion holds on each line, ``(cases, lines)`` [V]."""
        cases, lines, steps = self.strength.shape
        strength, length = (array.reshape(cases * lines, steps) for array in (self.strength, self.length))
        return line_inception(strength, length, np.repeat(pressure, lines), fit).reshape(cases, lines)

    def inception(self, pressure: FloatArray, fit: IonizationFit) -> Inception:
        """Return the lowest of all lines.

        Parameters
        ----------
        pressure : ndarray
            Reduced pressure, ``(cases,)`` [Pa].
        fit : IonizationFit
        """
        voltages = self.voltages(pressure, fit)
        best = np.argmin(voltages, axis=1)
        rows = np.arange(best.size)
        lowest, reduced = voltages[rows, best], self.strength[rows, best] / pressure[:, None]
        zone = (self.length[rows, best] * (lowest[:, None] * reduced > fit.threshold)).sum(axis=1)
        top = np.where(self.length[rows, best] > 0, reduced, 0.0).max(axis=1)
        return Inception(lowest, zone, lowest * top)


def _nothing(distance: FloatArray, gap: FloatArray, radius: FloatArray) -> FloatArray:
    raise TypeError("the field of these electrodes is known on lines, not by a law")


@dataclass(frozen=True)
class LineElectrode(Electrode):
    """An electrode whose lines of force are known.

    Parameters
    ----------
    lines : callable
        From a case to its `Lines`.
    """

    lines: Callable[[Case], Lines] = field(kw_only=True)

    @classmethod
    def of(
        cls,
        lines: Callable[[Case], Lines],
        radius: Radius,
        title: str,
    ) -> LineElectrode:
        """Return an electrode.

        Parameters
        ----------
        lines : callable
            From a case to its lines.
        radius : Radius
            Where they start.
        title : str
            For a person.
        """
        return cls(Shape(title, _nothing), radius, lines=lines)

    def lines_of(self, case: Case) -> Lines:
        """Return the lines of a case, made once."""
        return case.kept((self.shape, "lines"), lambda: self.lines(case))

    def maximum_field(self, case: Case) -> Numbers:
        """Return the highest field per volt [1/m]."""
        highest = self.lines_of(case.in_arrays).highest
        return highest.item() if case.is_plain else highest

    def inceptions(self, case: Case, fits: Sequence[IonizationFit]) -> list[Inception]:
        """Return the inception of a case by several fits."""
        return [self.inception(case, fit) for fit in fits]

    def inception(self, case: Case, fit: IonizationFit) -> Inception:
        """Return the inception of a case by one fit."""
        arrays = case.in_arrays
        found = self.lines_of(arrays).inception(arrays.reduced_pressure, fit)
        return found.plain if case.is_plain else found
