"""Electrodes known by the field along lines of force, in place of a law: drawn ones, and those of computed tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from service.methods.method import Case, FloatArray
from service.methods.shapes import Electrode, Radius
from service.physics.criterion import Inception
from service.physics.critical_line import line_inception
from service.physics.fields import Shape
from service.physics.ionization import IonizationFit


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

    def maximum_field(self, case: Case) -> FloatArray:
        """Return the highest field per volt [1/m]."""
        highest = self.lines_of(case.in_arrays).highest
        return highest.item() if case.is_plain else highest  # type: ignore[return-value]  # a plain number in its place

    def inceptions(self, case: Case, fits: Sequence[IonizationFit]) -> list[Inception]:
        """Return the inception of a case by several fits."""
        return [self.inception(case, fit) for fit in fits]

    def inception(self, case: Case, fit: IonizationFit) -> Inception:
        """Return the inception of a case by one fit."""
        arrays = case.in_arrays
        found = self.lines_of(arrays).inception(arrays.reduced_pressure, fit)
        return found.plain if case.is_plain else found
