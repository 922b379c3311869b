"""Arrangements of the computed tables: the lines of force of a shape at any proportions between the rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Drawing, Sizes, Sketch
from service.methods.method import Arrangement, Case, Estimate, FloatArray, Limit, LimitedQuantity, Method, single
from service.methods.shapes import LineElectrode, Lines, Radius
from service.parameters import Parameter
from service.physics.boundary import gauss
from service.reference import GridReader, Reference, Table, TableGrid, interpolate
from service.reference.interpolation import cubic
from service.spoken import said

NODES = ((1 - np.cos(np.pi * np.arange(25) / 24)) / 2) ** 2
"""Potential passed through, over the whole, at which the tables hold the field; close together at the start."""
_ROOTS = np.sqrt(NODES)
STEPS = 12
"""Steps between two nodes."""


def _steps() -> tuple[FloatArray, FloatArray]:
    """Return the matrix from values at the nodes to values at the steps, and the potential of each step."""
    x, w = gauss(STEPS)
    edges = np.linspace(0.0, 1.0, 13)
    half = np.diff(edges) / 2
    v = ((edges[:-1] + half)[:, None] + half[:, None] * x).ravel()
    weights = (half[:, None] * w).ravel() * 2 * v
    signs = (-1.0) ** np.arange(_ROOTS.size)
    signs[[0, -1]] /= 2
    apart = signs / (v[:, None] - _ROOTS)
    return apart / apart.sum(axis=1, keepdims=True), weights


_TO_STEPS, _POTENTIAL = _steps()

Proportions = Callable[[Case], tuple[FloatArray, ...]]
"""From a case to the proportions of its shape, in the order of the table."""


@dataclass(frozen=True, eq=False)
class Computed:
    """The rows of one shape.

    Parameters
    ----------
    reference : Reference
    key : str
        Of the rows.
    proportions : callable
        See `Proportions`.
    names : mapping of str to str
        Of the proportions to the parameter that changes them, for refusals.
    """

    reference: Reference
    key: str
    proportions: Proportions
    names: Mapping[str, str]

    @cached_property
    def _table(self) -> Table:
        return self.reference.table("field-lines").where(key=self.key)

    @cached_property
    def _grid(self) -> TableGrid:
        return TableGrid.of(self._table, ("first", "second", "third")[: len(self.names)], least=4)

    @property
    def axes(self) -> list[FloatArray]:
        """Proportions of the rows, each in rising order."""
        return self._grid.axes

    @cached_property
    def _between(self) -> GridReader:
        heads = ["highest", *(f"node_{k:02d}" for k in range(NODES.size))]
        values = np.stack([self._table[name] for name in heads], axis=-1)
        values[:, 0] = np.log(values[:, 0])
        return self._grid.read_by(lambda axis: cubic(np.log(axis)), values)

    def limits(self) -> tuple[Limit, ...]:
        """Return the ranges of the proportions."""
        return tuple(
            Limit(
                parameter,
                LimitedQuantity(name, "number", name, partial(self._proportion, k)),
                float(axis[0]),
                float(axis[-1]),
            )
            for k, ((name, parameter), axis) in enumerate(zip(self.names.items(), self.axes, strict=True))
        )

    def _proportion(self, place: int, case: Case) -> FloatArray:
        return np.asarray(self.proportions(case)[place])

    def lines(self, case: Case) -> Lines:
        """Return the lines of a case."""
        pairs = zip(self.proportions(case), self.axes, strict=True)
        found = self._between(
            np.stack([np.log(np.minimum(np.maximum(one, axis[0]), axis[-1])) for one, axis in pairs], axis=-1)
        )
        strength = np.exp(found[:, None, 1:] @ _TO_STEPS.T) / case.gap[:, None, None]
        # the potential along the line is one volt whatever the rounding of the table
        length = _POTENTIAL / strength
        return Lines(strength, length, np.exp(found[:, 0]) / case.gap)


RODS_NOTE = (
    "Half-inch square rods end to end break down at {} peak at this distance and 60 Hz (table, 25 degC): a "
    "hint of the size, no floor for other shapes."
)
SOURCE_NOTE = (
    "The field along the critical line is computed by boundary elements and read between rows of a table; it adds up "
    "to 2 % to the band of the criterion."
)
BETWEEN_ROWS = 0.02
"""Largest deviation between rows that tests allow, relative."""


def rods_note(reference: Reference, case: Case) -> tuple[str, ...]:
    """Return what the table of rods says of the distance of a case of one element at 50 or 60 Hz, if it does."""
    table = reference.table("rod-gap-60hz")
    spacing, voltage = table["spacing"], table["voltage"]
    slow = case.waveform == "ac" and case.size == 1 and single(case.frequency) <= SLOW
    if not case.in_air or not slow or not spacing[0] <= (gap := single(case.gap)) <= spacing[-1]:
        return ()
    return (RODS_NOTE.format(said(float(interpolate(spacing, voltage, gap)), "voltage", unit="kV", digits=3)),)


SLOW = 400.0
"""Frequency up to which the table of rods is quoted [Hz]; common practice, no source."""


def computed_arrangement(
    computed: Computed,
    title: str,
    on_the_bench: str,
    radius: Radius,
    parameters: tuple[Parameter, ...],
    drawing: Callable[[Sizes, float], Drawing],
    *notes: str,
) -> Arrangement:
    """Return the arrangement of a computed shape: the methods of the criterion, within the rows of its table.

    Parameters
    ----------
    computed : Computed
        The rows; the arrangement has their key.
    title, on_the_bench, parameters
        As in `Arrangement`.
    radius : Radius
        Where the critical line starts.
    drawing : callable
        Sizes and gap to a drawing.
    *notes : str
        Beside the one about the source of the rows.
    """
    shape = LineElectrode.of(computed.lines, radius, title)
    return Arrangement(
        computed.key,
        title,
        on_the_bench,
        tuple(_within(computed, method) for method in criterion_methods(computed.reference, shape)),
        parameters,
        notes=(SOURCE_NOTE, *notes),
        advice=OTHER_GAS,
        sketch=Sketch(drawing),
    )


def _within(computed: Computed, method: Method) -> Method:
    def function(case: Case) -> Estimate:
        found = method.estimate(case)
        bracket = bool(case.of.any(case.of.isnan(found.value)))
        if method.by_criterion:
            found = replace(found, low=found.low * (1 - BETWEEN_ROWS), high=found.high * (1 + BETWEEN_ROWS))
        return replace(found, notes=(*found.notes, *(rods_note(computed.reference, case) if bracket else ())))

    validity = method.validity
    limits = (*computed.limits(), *validity.limits)
    return replace(method, function=function, by_numbers=True, validity=replace(validity, limits=limits))
