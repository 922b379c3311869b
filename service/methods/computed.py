"""Arrangements of the computed tables: the lines of force of a shape at any proportions between the rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from service.errors import BadReferenceData
from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Drawing, Sizes, Sketch
from service.methods.method import Arrangement, Case, Estimate, FloatArray, Limit, LimitedQuantity, Method, single
from service.methods.shapes import LineElectrode, Lines, Radius
from service.parameters import Parameter
from service.physics.boundary import gauss
from service.reference import Reference, interpolate
from service.spoken import said

if TYPE_CHECKING:
    from scipy.interpolate import RegularGridInterpolator

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
    def _rows(self) -> NDArray[np.bool_]:
        return np.array([key == self.key for key in self.reference.table("field-lines").text("key")])

    @cached_property
    def axes(self) -> list[FloatArray]:
        """Proportions of the rows, each in rising order.

        Raises
        ------
        BadReferenceData
            When the rows are no complete grid.
        """
        found = grid_axes(self._columns, least=4)
        if found is None:
            table = self.reference.table("field-lines")
            reason = f"the rows of '{self.key}' are no complete grid of at least four values a proportion"
            raise BadReferenceData(f"{table.package}/{table.stated['path']}", None, reason)
        return found

    @property
    def _columns(self) -> list[FloatArray]:
        table = self.reference.table("field-lines")
        return [table[name][self._rows] for name in ("first", "second", "third")[: len(self.names)]]

    @cached_property
    def _between(self) -> RegularGridInterpolator:
        from scipy.interpolate import RegularGridInterpolator  # loaded where it is needed

        table = self.reference.table("field-lines")
        heads = ["highest", *(f"node_{k:02d}" for k in range(NODES.size))]
        values = np.stack([table[name][self._rows] for name in heads], axis=-1)
        values[:, 0] = np.log(values[:, 0])
        grid = np.full((*(axis.size for axis in self.axes), len(heads)), np.nan)
        pairs = zip(self.axes, self._columns, strict=True)
        grid[tuple(np.searchsorted(axis, column) for axis, column in pairs)] = values
        return RegularGridInterpolator([np.log(axis) for axis in self.axes], grid, method="cubic")

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
        found = self._between(np.stack([np.log(np.clip(one, axis[0], axis[-1])) for one, axis in pairs], axis=-1))
        strength = np.exp(found[:, None, 1:] @ _TO_STEPS.T) / case.gap[:, None, None]
        # the potential along the line is one volt whatever the rounding of the table
        length = _POTENTIAL / strength
        return Lines(strength, length, np.exp(found[:, 0]) / case.gap)


def grid_axes(columns: Sequence[FloatArray], least: int) -> list[FloatArray] | None:
    """Return the axes of a complete grid, each in rising order; ``None`` where rows are missing or given twice.

    Parameters
    ----------
    columns : sequence of ndarray
        Coordinates of the rows.
    least : int
        Fewest values an axis.
    """
    if not columns or not all(np.isfinite(column).all() for column in columns):
        return None
    axes = [np.unique(column) for column in columns]
    places = {tuple(row) for row in zip(*(column.tolist() for column in columns), strict=True)}
    whole = int(np.prod([axis.size for axis in axes]))
    complete = len(places) == columns[0].size == whole and min(axis.size for axis in axes) >= least
    return axes if complete else None


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
