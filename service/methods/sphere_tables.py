"""The published sphere-gap tables as methods: interpolation between spacings of one diameter only.

What floor, lead and walls do is told beside the voltage, never applied to it: the standard leaves the length of the
lead and the distance of walls open beyond a least clearance, and a table made in halls unknown cannot be carried to
another.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial
from typing import Any

import numpy as np

from service import spoken
from service.methods.bands import FASTEST, WeakField
from service.methods.case import AIR, is_same, once_where_same
from service.methods.laws import constants
from service.methods.method import (
    DENSITY,
    FREQUENCY,
    GAP,
    BoolArray,
    Case,
    Estimate,
    FloatArray,
    Limit,
    LimitedQuantity,
    Method,
    Validity,
    single,
)
from service.parameters import Parameter
from service.physics.corrections import sphere_gap_factor, widening
from service.physics.fields import SPHERES_ONE_EARTHED
from service.physics.numbers import Numbers
from service.reference import GridReader, Reference, Table, TableGrid, Tabulated, weakest
from service.reference.table import straight
from service.units import ROUNDING

NO_STATED_ACCURACY = 0.10
"""Half width of the band where the standard states no accuracy; ours, common practice, no source."""


@dataclass(frozen=True, eq=False)
class SphereColumn:
    """One diameter of a sphere-gap table.

    Parameters
    ----------
    diameter : float
        [m].
    spacings, voltages : ndarray
        [m], [V peak].
    bracketed, doubtful : ndarray of bool
        Flags of the printed cells.
    provenance : tuple of str
    """

    diameter: float
    spacings: FloatArray
    voltages: FloatArray
    bracketed: BoolArray
    doubtful: BoolArray
    provenance: tuple[str, ...]

    @cached_property
    def curve(self) -> Tabulated:
        """Voltages over spacings."""
        return Tabulated(self.spacings, self.voltages)

    @cached_property
    def printed(self) -> list[float]:
        """Spacings as plain numbers [m]."""
        found: list[float] = self.spacings.tolist()
        return found


@dataclass(frozen=True, eq=False)
class SphereTable:
    """A sphere-gap table, looked up vectorized over diameters and spacings.

    Parameters
    ----------
    columns : tuple of SphereColumn
        By rising diameter.
    """

    columns: tuple[SphereColumn, ...]

    @classmethod
    def of(cls, table: Table) -> SphereTable:
        """Return the columns of a reference table."""
        return cls(tuple(_column(table, diameter) for diameter in np.unique(table["sphere_diameter"])))

    @cached_property
    def diameters(self) -> FloatArray:
        """Diameters [m], rising."""
        return np.array([column.diameter for column in self.columns])

    def nearest(self, case: Case) -> np.ndarray:
        """Return the position of the nearest tabulated diameter per element."""
        diameter = case.dimensions["sphere_diameter"]
        place: np.ndarray = case.kept((self, "nearest"), lambda: once_where_same(self._nearest, diameter))
        return place

    def _nearest(self, diameter: Any) -> Any:
        """Return the position of the nearest tabulated diameter by its logarithm."""
        if isinstance(diameter, float):
            return bisect_left(self.middles, diameter)
        return np.searchsorted(self.middles, diameter, side="left")

    @cached_property
    def middles(self) -> list[float]:
        """Geometric means of neighbouring diameters [m]."""
        found: list[float] = np.sqrt(self.diameters[1:] * self.diameters[:-1]).tolist()
        return found

    @cached_property
    def ends(self) -> FloatArray:
        """Smallest and largest spacing of every diameter [m]."""
        return np.array([(column.spacings[0], column.spacings[-1]) for column in self.columns])

    def nearest_diameter(self, case: Case) -> FloatArray:
        """Return the nearest tabulated diameter per element [m]."""
        found: FloatArray = self.diameters[self.nearest(case)]
        return found

    def first_spacing(self, case: Case) -> Numbers:
        """Return the smallest tabulated spacing of the nearest diameter [m]."""
        return self._end(case, 0)

    def last_spacing(self, case: Case) -> Numbers:
        """Return the largest tabulated spacing of the nearest diameter [m]."""
        return self._end(case, 1)

    def _end(self, case: Case, side: int) -> Numbers:
        of_side: Numbers = once_where_same(lambda which: self.ends[which, side], self.nearest(case))
        return of_side

    def voltage(self, case: Case) -> Numbers:
        """Return the tabulated voltage [V peak], straight between spacings; inside the columns only."""
        which = self.nearest(case)
        if case.is_plain:
            column = self.columns[int(which)]
            return column.curve(min(max(case.gap, column.curve.span[0]), column.curve.span[1]))
        if is_same(which):
            column = self.columns[which[0]]
            return np.asarray(np.interp(case.gap, column.spacings, column.voltages))
        volts = np.empty(case.size)
        for place in np.flatnonzero(np.bincount(which, minlength=1)):
            own = which == place
            column = self.columns[place]
            volts[own] = np.interp(case.gap[own], column.spacings, column.voltages)
        return volts

    def rows(self, case: Case) -> tuple[str, str, bool]:
        """Return the printed rows that the first element uses, the least certain provenance, and any doubt."""
        place, gap = (self.nearest(case), case.gap) if case.is_plain else (self.nearest(case)[0], case.gap[0])
        column = self.columns[int(place)]
        after = min(bisect_left(column.printed, gap * (1 - ROUNDING)), len(column.printed) - 1)
        exact = abs(column.printed[after] - gap) <= ROUNDING * gap
        used = [after] if exact or after == 0 else [after - 1, after]
        spacings = " and ".join(f"{column.printed[i] * 100:g} cm" for i in used)
        worst = weakest(column.provenance[i] for i in used)
        row = f"sphere diameter {column.diameter * 100:g} cm, spacing {spacings}"
        return row, worst, any(column.doubtful[i] for i in used)


def _column(table: Table, diameter: float) -> SphereColumn:
    own = table.where(sphere_diameter=float(diameter))
    return SphereColumn(
        float(diameter), own["spacing"], own["voltage"], own.flag("bracketed"), own.doubtful, own.provenance
    )


def table_methods(
    reference: Reference, number: int, waveforms: frozenset[str], polarity: str | None, criterion: Method
) -> tuple[Method, Method, Method]:
    """Return a table of IEC 60052 as a method, and what continues it beyond its last spacing and before its first.

    The tables of the smaller spheres end at 0.75 of the diameter, 5 to 20 % above the streamer criterion; the first
    cells of larger ones lie up to 2 % below it. Outside the column the criterion is scaled to meet the last cell, or
    the first, that scale fading with the gap, so that the voltage always rises with the gap.

    Parameters
    ----------
    reference : Reference
    number : int
        2 for alternating, direct and negative impulse voltage, 3 for positive impulse.
    waveforms : frozenset of str
        Waveforms that this method answers.
    polarity : str or None
        Polarity that it answers; ``None`` for any.
    criterion : Method
        Inception as breakdown of the same spheres.
    """
    printed = reference.table(f"iec-60052-table-{number}")
    table = SphereTable.of(printed)
    impulse = bool(waveforms & {"lightning-impulse", "switching-impulse"})
    practice = constants(reference, "sphere-gap-practice")
    value = constants(reference, "correction-constants")
    weak = WeakField.of(reference)

    def function(case: Case) -> Estimate:
        return weak.corrected(case, _estimate(case, table, value, practice), humid=False)

    limits = [
        Limit(
            "sphere_diameter",
            LimitedQuantity("sphere_diameter", "length", "sphere diameter"),
            table.nearest_diameter,
            table.nearest_diameter,
            usual=(float(table.diameters[0]), float(table.diameters[-1])),
            where=", printed ones only",
        ),
        Limit(
            "gap",
            GAP,
            table.first_spacing,
            table.last_spacing,
            usual=(float(table.ends[:, 0].min()), float(table.ends[:, 1].max())),
            where=" as printed for the diameter",
        ),
        Limit("pressure", DENSITY, value["sphere-gap-lowest-density"], value["sphere-gap-largest-density"]),
        Limit("frequency", FREQUENCY, 0.0, FASTEST),
    ]
    if impulse:
        printed_voltage = LimitedQuantity("table voltage", "voltage", "printed voltage", table.voltage)
        limits.append(Limit("gap", printed_voltage, practice["lowest-impulse-voltage"]))
    suffix = "-impulse" if impulse and number == 2 else ""
    table_itself = Method(
        f"sphere-gap-table-{number}{suffix}",
        f"Sphere-gap table {number} of IEC 60052",
        "table",
        function,
        Validity(
            frozenset({AIR}),
            waveforms,
            frozenset() if polarity is None else frozenset({polarity}),
            {"earthing": frozenset({"one-earthed"})},
            tuple(limits),
        ),
        practice["uncertainty"] * 100,
        printed.source,
        printed.provenance_words[-1],
        by_numbers=True,
    )
    beyond = _Continued(
        table_itself,
        criterion,
        "continued",
        table.last_spacing,
        Limit(
            "gap",
            GAP,
            table.last_spacing,
            usual=(float(table.ends[:, 1].min()), np.inf),
            where=", beyond what is printed for the diameter",
        ),
        "The table ends at a spacing of {:g} cm: beyond it the streamer criterion goes on, scaled to meet the last "
        "printed cell.",
    )
    before = _Continued(
        table_itself,
        criterion,
        "begun",
        table.first_spacing,
        Limit(
            "gap",
            GAP,
            0.0,
            table.first_spacing,
            usual=(0.0, float(table.ends[:, 0].max())),
            where=", before what is printed for the diameter",
        ),
        "The table begins at a spacing of {:g} cm: before it the streamer criterion answers, drawn to meet the first "
        "printed cell.",
    )
    return table_itself, beyond.method(), before.method()


@dataclass(frozen=True, eq=False)
class _Continued:
    """The criterion on one side of a table's column, scaled to meet the last cell of that side.

    Parameters
    ----------
    table, criterion : Method
    suffix : str
        End of the key.
    end : callable
        Spacing of the last cell of that side per element [m].
    limit : Limit
        Of the gap on that side.
    note : str
        With a place for the spacing [cm].
    """

    table: Method
    criterion: Method
    suffix: str
    end: Callable[[Case], FloatArray]
    limit: Limit
    note: str

    def estimate(self, case: Case) -> Estimate:
        """Return the criterion times what it lacks at the cell, to a power that falls to nothing with the gap."""
        end = self.end(case)
        scale = self._lacking(case) ** case.of.minimum(case.gap / end, 1.0)
        found = self.criterion.estimate(case)
        return replace(
            found,
            value=found.value * scale,
            low=found.low * scale,
            high=found.high * scale,
            inception=None,
            notes=(self.note.format(float(np.ravel(end)[0]) * 100), *found.notes),
        )

    def _lacking(self, case: Case) -> FloatArray:
        """Return the table over the criterion at the cell, of many elements in one air once for each diameter."""
        diameter, around = case.dimensions["sphere_diameter"], (case.pressure, case.temperature, case.humidity)
        if case.is_plain or is_same(diameter) or not all(map(is_same, (*around, case.frequency))):
            return self._at_cell(case)
        _, first, which = np.unique(diameter, return_index=True, return_inverse=True)
        return self._at_cell(case.take(first))[which]

    def _at_cell(self, case: Case) -> FloatArray:
        cell = case.but({"gap": self.end(case)}).once
        found: FloatArray = self.table.estimate(cell).value / self.criterion.estimate(cell).value
        return found

    def method(self) -> Method:
        """Return it as a method."""
        own = [limit for limit in self.table.validity.limits if limit.quantity is not GAP]
        return Method(
            f"{self.table.key}-{self.suffix}",
            f"{self.table.title}, {self.suffix} by the streamer criterion",
            "model",
            self.estimate,
            replace(self.table.validity, limits=(*own, self.limit, *self.criterion.validity.limits)),
            self.criterion.uncertainty_percent,
            self.criterion.source,
            "derived",
            by_numbers=True,
            scaled_to=self.table.key,
        )


def _factor(of: Any, value: Mapping[str, float], density: FloatArray, humidity: FloatArray) -> FloatArray:
    reference = value["sphere-gap-reference-humidity"]
    humidity = of.where(of.isnan(humidity), reference * density, humidity)
    found: FloatArray = sphere_gap_factor(density, humidity, value["sphere-gap-humidity-coefficient"], reference)
    return found


def _estimate(case: Case, table: SphereTable, value: Mapping[str, float], practice: Mapping[str, float]) -> Estimate:
    of = case.of
    factor = once_where_same(partial(_factor, of, value), case.relative_density, case.humidity)
    volts = table.voltage(case) * factor
    share = case.gap / case.dimensions["sphere_diameter"]
    kind = "-direct" if case.waveform == "dc" else ""
    stated, to = practice[f"uncertainty{kind}"], practice[f"largest-spacing-over-diameter{kind}"]
    band = of.where(share <= to * (1 + ROUNDING), stated, NO_STATED_ACCURACY)
    wider = partial(widening, reference=1.0, per_unit=value["sphere-gap-density-widening"])
    band = band + once_where_same(wider, case.relative_density)
    low, high = volts * (1 - band), volts * (1 + band)
    if case.bare:
        return Estimate(volts, low, high)
    row, provenance, doubtful = table.rows(case)
    notes = _notes(case, share, to, volts, practice) + (("A printed cell that was used is in doubt.",) * doubtful)
    return Estimate(
        volts,
        low,
        high,
        utilization=case.kept(
            (SPHERES_ONE_EARTHED, "utilization"),
            lambda: SPHERES_ONE_EARTHED.utilization_factor(case.gap, case.dimensions["sphere_diameter"] / 2),
        )
        if case.size == 1
        else None,  # shown of one answer only
        corrections={"density_and_humidity_factor": factor},
        notes=notes,
        provenance=provenance,
        row=row,
    )


def _notes(
    case: Case, share: FloatArray, to: float, volts: FloatArray, practice: Mapping[str, float]
) -> tuple[str, ...]:
    notes = []
    if case.of.any(share > to * (1 + ROUNDING)):
        notes.append(
            f"Beyond {to:g} of the diameter the standard states no accuracy: the band of "
            f"{NO_STATED_ACCURACY * 100:g} % is ours."
        )
    diameter, below = practice["irradiation-to-diameter"], practice["irradiation-below-voltage"]
    small = case.dimensions["sphere_diameter"] <= diameter * (1 + ROUNDING)
    if case.of.any((volts < below) | small):
        notes.append(_irradiate(below, diameter))
    if case.waveform == "dc":
        notes.append("At direct voltage dust and fibres cause low outliers: repeat readings and inspect low ones.")
    return tuple(notes)


@lru_cache(maxsize=64)
def _irradiate(below: float, diameter: float) -> str:
    return (
        f"Below {spoken.said(below, 'voltage')} or with spheres up to {spoken.said(diameter, 'length')}, irradiate "
        "the gap; without it the voltage scatters upward."
    )


HEIGHT = Parameter(
    "height", "length", "Height of the upper sphere's lowest point over the floor of your hall.", low=1e-3, high=100.0
)
LEAD = Parameter("lead", "length", "Length of the vertical lead over the upper shank in your hall.", low=1e-3, high=1e3)
WALL = Parameter("wall", "length", "Distance of the nearest walls of your hall.", low=1e-3, high=1e3)
SIZES = (HEIGHT, LEAD, WALL)
USUAL: Mapping[str, float] = {"height": 5.0, "lead": 10.0}
"""Over the diameter, where the others are given; a wall that is not given is far away; common practice, no source."""

FREE_NOTE = (
    "Tables were made on built gaps, with floor, shanks, lead and walls; the model compares a free pair. What the "
    "standard leaves open moves the voltage by about 3 % at half a diameter and 6 % at 0.8: give height, lead and wall "
    "to see it for a hall."
)
CHANGE_NOTE = (
    "Floor, lead and walls ({}) move the voltage of a free pair by {:+.1f} % by computation; this is told, not "
    "applied: the halls in which the table was made are not known."
)
OUTSIDE_NOTE = "What floor, lead and walls do is computed for {} only; nothing is said of these."


@dataclass(frozen=True, eq=False)
class Hall:
    """The computed change of a sphere gap's voltage.

    Parameters
    ----------
    reference : Reference
    """

    reference: Reference

    def __post_init__(self) -> None:
        _ = self._grid  # a table that is no grid is missed at load

    @cached_property
    def _grid(self) -> TableGrid:
        names = ("spacing_over_diameter", "height_over_diameter", "lead_over_diameter", "diameter_over_wall")
        return TableGrid.of(self.reference.table("sphere-hall"), names, least=2)

    @cached_property
    def _between(self) -> GridReader:
        return self._grid.read_by(straight, self.reference.table("sphere-hall")["change"])

    def notes(self, case: Case) -> tuple[str, ...]:
        """Return what is to be said of a case of one element."""
        sizes = case.dimensions
        given = [one.name for one in SIZES if one.name in sizes]
        if not given or case.size != 1:
            return ()
        diameter = single(sizes["sphere_diameter"])
        over = {name: single(sizes[name]) / diameter for name in given}
        wall = 1 / over["wall"] if "wall" in over else 0.0
        height, lead = (over.get(name, USUAL[name]) for name in ("height", "lead"))
        place = np.array([single(case.gap) / diameter, height, lead, wall])
        axes, table = self._grid.axes, self._between
        least = np.array([0.0, *(axis[0] for axis in axes[1:])])
        most = np.array([axis[-1] for axis in axes])
        if (place < least * (1 - ROUNDING)).any() or (place > most * (1 + ROUNDING)).any():
            ranges = (
                f"spacings to {axes[0][-1]:g}, heights {axes[1][0]:g} to {axes[1][-1]:g}, leads {axes[2][0]:g} to "
                f"{axes[2][-1]:g}, walls from {1 / axes[3][-1]:.3g} diameters"
            )
            return (OUTSIDE_NOTE.format(ranges),)
        change = float(table(np.clip(place, [axis[0] for axis in axes], most)[None])[0])
        assumed = [f"{name} taken as {USUAL[name]:g} diameters" for name in USUAL if name not in over]
        words = ", ".join([*given, *assumed, *([] if "wall" in over else ["no walls"])])
        return (CHANGE_NOTE.format(words, 100 * change),)

    def told(self, method: Method) -> Method:
        """Return a method that says what a hall does."""

        def function(case: Case) -> Estimate:
            found = method.estimate(case)
            notes = () if case.bare else self.notes(case)
            return replace(found, notes=(*found.notes, *notes)) if notes else found

        return replace(method, function=function, by_numbers=True)
