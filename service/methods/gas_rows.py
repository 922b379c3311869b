"""Rows of the gas tables: one row is one functional form, and one method, of one gas between parallel plates."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from service import spoken
from service.errors import BadReferenceData
from service.methods.case import once_where_same
from service.methods.laws import constants
from service.methods.method import GAP, PRESSURE, Case, FloatArray, Limit
from service.physics.ionization import CLOSED_FORMS, Ionization, IonizationTable
from service.reference import Reference, Source, Table, once

LARGEST_DISPLACEMENT = 2.3
"""Largest factor by which computed positions of the minimum were seen to be off; beside paschen-minima, derived."""

TOLERATED = 1.25
"""Factor by which a minimum voltage may lie beyond the published ones and still not contradict them; no source."""


@dataclass(frozen=True)
class GasRow:
    """One row of the table ``gas-methods``; numbers in SI, NaN where the cell is empty.

    Parameters
    ----------
    gas, key, title, form, data, cross_sections : str
        As printed.
    secondary, far_exponent, far_pd : float
        Secondary coefficient, and the exponent that replaces it from a pd on.
    pd_from, pd_to, pressure_to : float
        Range.
    low, high : float
        Relative half widths of the band below and above.
    source : Source
    provenance, note, secondary_source : str
    file : str
        The file in which it stands, as a fault names it.
    line : int
        Its line there.
    """

    gas: str
    key: str
    title: str
    form: str
    data: str
    cross_sections: str
    secondary: float
    far_exponent: float
    far_pd: float
    pd_from: float
    pd_to: float
    pressure_to: float
    low: float
    high: float
    source: Source
    provenance: str
    note: str
    secondary_source: str
    file: str
    line: int

    def fault(self, column: str, reason: str) -> BadReferenceData:
        """Return the refusal of this row for what stands in one of its columns."""
        return BadReferenceData(self.file, self.line, f"{column} is '{getattr(self, column)}': {reason}", column)

    def of_gas(self, table: Table, column: str = "data") -> Table:
        """Return the rows of a table that belong to its gas.

        Parameters
        ----------
        table : Table
            Those of its rows that a column of this row names.
        column : str
            That column.

        Raises
        ------
        BadReferenceData
            When there is none.
        """
        own = table.where(gas_key=self.gas)
        if not len(own):
            raise self.fault(column, f"{table.file} has no such row of {self.gas}")
        return own


@once
def gas_rows(reference: Reference) -> list[GasRow]:
    """Return the methods of every gas, in order of trust within each gas.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    table = reference.table("gas-methods")
    cited = sources(reference)
    rows = [_row(table, i, cited[table.text("source_key")[i]]) for i in range(len(table))]
    ranks = dict(zip((row.key for row in rows), table["rank"], strict=True))
    return sorted(rows, key=lambda row: (row.gas, ranks[row.key]))


def _row(table: Table, i: int, source: Source) -> GasRow:
    def number(name: str) -> float:
        return float(table[name][i])

    def text(name: str) -> str:
        return table.text(name)[i]

    return GasRow(
        gas=text("gas_key"),
        key=text("key"),
        title=text("title"),
        form=text("form"),
        data=text("data"),
        cross_sections=text("cross_sections"),
        secondary=number("secondary"),
        far_exponent=number("far_exponent"),
        far_pd=number("far_pd"),
        pd_from=number("pd_from"),
        pd_to=number("pd_to"),
        pressure_to=number("pressure_to"),
        low=number("low"),
        high=number("high"),
        source=source,
        provenance=text("provenance"),
        note=text("note"),
        secondary_source=text("secondary_source"),
        file=table.file,
        line=i + 2,
    )


@once
def sources(reference: Reference) -> dict[str, Source]:
    """Return the citations that gas methods name, by source key."""
    table = reference.table("source-citations")
    columns = (table.text("key"), table.text("citation"), table.text("edition"))
    return {key: Source(key, citation, edition) for key, citation, edition in zip(*columns, strict=True)}


@dataclass(frozen=True)
class PublishedMinima:
    """Published minima of a gas; empty where there is none.

    Parameters
    ----------
    pds : ndarray
        Positions at 20 degC [Pa m].
    voltages : ndarray
        Voltages [V].
    """

    pds: FloatArray
    voltages: FloatArray

    @classmethod
    def of(cls, reference: Reference, gas: str) -> PublishedMinima:
        """Return the minima of a gas by its key."""
        table = reference.table("paschen-minima").where(gas_key=gas)
        return cls(table["pd"], table["voltage"])

    def place_uncertainty(self, pd: float) -> tuple[float, float]:
        """Return the shares below and above by which a computed position [Pa m] may be off.

        Where nothing is published, the most that was seen in other gases.
        """
        factor = LARGEST_DISPLACEMENT
        if self.pds.size:
            factor = float(np.max(np.maximum(pd / self.pds, self.pds / pd)))
        return 1 - 1 / factor, factor - 1

    def contradict(self, voltage: float) -> bool:
        """Return whether a computed minimum voltage [V] lies more than a quarter beyond all published ones."""
        if not self.voltages.size:
            return False
        return not self.voltages.min() / TOLERATED <= voltage <= self.voltages.max() * TOLERATED

    def beside(self, pd: float, voltage: float) -> tuple[str, ...]:
        """Return how the minimum of a method, pd [Pa m] and voltage [V], lies to the published ones."""
        if not self.pds.size:
            return ()
        places = spoken.between(float(self.pds.min()), float(self.pds.max()), "pd", digits=3)
        volts = spoken.between(float(self.voltages.min()), float(self.voltages.max()), "voltage", unit="V", digits=3)
        computed = f"{spoken.said(voltage, 'voltage', unit='V')} at {spoken.said(pd, 'pd', digits=3)}"
        return (f"The minimum of this method is {computed}, published ones {volts} at {places}.",)


@once
def computed_ionization(reference: Reference, gas: str, cross_sections: str, fraction: float = np.nan) -> Ionization:
    """Return the computed ionization of a gas.

    Parameters
    ----------
    reference : Reference
    gas : str
        Gas key.
    cross_sections : str
        Set of cross sections, as printed.
    fraction : float
        Mole fraction of a mixture; NaN for a pure gas.
    """
    table = reference.table("ionization-alpha-over-n").where(gas_key=gas, cross_sections=cross_sections)
    if np.isfinite(fraction):
        table = table.where(fraction=fraction)
    return IonizationTable.from_columns(table["reduced_field"], table["ionization"], table["attachment"])


def closed_form(reference: Reference, row: GasRow) -> Ionization:
    """Return the closed form that a row names: ``townsend-ab:SOURCE:FORM[:RANGE]``.

    Parameters
    ----------
    reference : Reference
    row : GasRow
    """
    table, place, form = _coefficients(reference, row)
    bounds = [float(table[f"field_over_pressure_{end}"][place]) for end in ("from", "to")]
    # a printed lower end of zero means no lower end; the forms need one greater than zero
    lowest = bounds[0] if bounds[0] > 0 else 1e-3 * bounds[1]
    made: Ionization = CLOSED_FORMS[form](
        float(table["coefficient"][place]), float(table["exponent"][place]), lowest, bounds[1]
    )
    return made


def printed_form(reference: Reference, row: GasRow) -> tuple[str, str]:
    """Return the constants of a row's closed form and its range of field over pressure, as printed."""
    table, place, form = _coefficients(reference, row)
    letters = {"exp": ("A", "B"), "sqrt": ("C", "D")}[form]
    numbers = (table.text("coefficient")[place], table.text("exponent")[place])
    first, last = (table.text(f"field_over_pressure_{end}")[place] for end in ("from", "to"))
    constants = ", ".join(f"{letter} = {number}" for letter, number in zip(letters, numbers, strict=True))
    return f"{constants} per cm Torr", f"{first} to {last} V/(cm Torr)"


def computed_rows(reference: Reference, row: GasRow) -> Table:
    """Return the computed ionization of a row's gas, by its set of cross sections."""
    table = reference.table("ionization-alpha-over-n")
    return row.of_gas(table.where(cross_sections=row.cross_sections), "cross_sections")


def row_ionization(reference: Reference, row: GasRow) -> Ionization:
    """Return the computed ionization of a row's gas."""
    computed_rows(reference, row)  # refused with the row where there is none
    return computed_ionization(reference, row.gas, row.cross_sections)


def attaches(reference: Reference, row: GasRow) -> bool:
    """Return whether the computed table of a row's gas has attachment."""
    return bool((computed_rows(reference, row)["attachment"] > 0).any())


def _coefficients(reference: Reference, row: GasRow) -> tuple[Table, int, str]:
    """Return the table of the coefficients that a row names, the place of its own, and their form."""
    _, source, form, *printed = row.data.split(":")
    table = row.of_gas(reference.table("townsend-ab").where(source_key=source, form=form))
    ends = (table.text(f"field_over_pressure_{end}") for end in ("from", "to"))
    ranges = [f"{float(first):g}-{float(last):g}" for first, last in zip(*ends, strict=True)]
    if printed and printed[0] not in ranges:
        raise row.fault("data", f"its range is none of {', '.join(ranges)}")
    return table, ranges.index(printed[0]) if printed else 0, form


SURFACE_NOTE = (
    "From {pressure:g} bar or {field:g} kV/cm on the surface counts beside the gas: rough, dusty or large electrodes "
    "break down earlier, and the low end is widened, at most to {share:g} % below the value."
)
NARROWEST_GAP = 1e-5
"""Gap from which similarity is trusted [m]; below it the micro-gap method answers."""


Band = Callable[[Case, FloatArray], tuple[FloatArray, FloatArray]]
"""From a case and its voltages to the low and high ends."""


@dataclass(frozen=True)
class Form:
    """A functional form: the voltage of a case, its ranges, and its band where it is not the row's own.

    Parameters
    ----------
    voltage : callable
        Case inside the ranges to peak voltage [V].
    limits : tuple of Limit
        Ranges of validity.
    band : callable, optional
        Case and voltage to low and high; the row's own band where there is none.
    similarity : bool
        Whether the voltage depends on pressure and gap through their product only.
    kind : str
        Kind of the method.
    notes : tuple of str
        Sentences that belong to every answer.
    remarks : callable, optional
        Case to the sentences that belong to it alone.
    heading : str
        What stands in place of the row's title.
    title : str
        What a title adds to the row's: constants, printed range.
    widest : float
        Largest relative half width of a band that is not the row's own.
    place_uncertainty : tuple of float
        Relative half widths, below and above, of a gap or pressure on the left branch.
    widens : bool
        Whether the low end widens at high pressure and field: true of what is not measured there.
    floor : float
        Lowest low end that the widening may reach [V]: that of the minimum, below which nothing breaks down.
    given_secondary : bool
        Whether it answers only where a secondary coefficient is given.
    thin : bool
        Whether electrons cross the gap with few collisions, so that X-rays come with the voltage.
    by_numbers : bool
        Whether voltage, band and remarks take a case in plain numbers too.
    """

    voltage: Callable[[Case], FloatArray]
    limits: tuple[Limit, ...]
    band: Band | None = None
    similarity: bool = True
    kind: str = "model"
    notes: tuple[str, ...] = ()
    remarks: Callable[[Case], tuple[str, ...]] | None = None
    heading: str = ""
    title: str = ""
    widest: float = 0.0
    place_uncertainty: tuple[float, float] = (0.0, 0.0)
    widens: bool = True
    floor: float = 0.0
    given_secondary: bool = False
    thin: bool = False
    by_numbers: bool = False

    def said(self, case: Case) -> tuple[str, ...]:
        """Return every sentence that belongs to the answer to a case."""
        return (*self.notes, *(self.remarks(case) if self.remarks else ()))


@dataclass(frozen=True)
class Surface:
    """How the low end of a band widens at high pressure and field, where the surface counts beside the gas.

    Parameters
    ----------
    pressure : float
        From which it widens [Pa].
    pressure_end : float
        At which it is widest [Pa].
    field : float
        Mean field from which it widens [V/m].
    widest : float
        Relative half width below at the end; a wider band stays as it is.
    """

    pressure: float
    pressure_end: float
    field: float
    widest: float

    @classmethod
    def of(cls, reference: Reference, gas: str, pressure_end: float = np.nan) -> Surface:
        """Return the widening of a gas; at its widest where the methods of the gas end, else at the common end."""
        value = constants(reference, "gas-constants")
        first = value["surface-widens-from-pressure"]
        field = str(reference.table("gases").row(gas)["wide_from"])
        return cls(
            first,
            pressure_end if pressure_end > first else value["surface-widest-at-pressure"],
            value[field],
            value["surface-widest-low"],
        )

    def _by_pressure(self, pressure: FloatArray) -> FloatArray:
        return (pressure - self.pressure) / (self.pressure_end - self.pressure)

    def share(self, case: Case, volts: FloatArray) -> FloatArray:
        """Return 0 where the gas alone counts, rising straight with pressure or mean field to 1."""
        of = case.of
        by_pressure = once_where_same(self._by_pressure, case.pressure)
        by_field = (volts / case.gap / self.field - 1) / (self.pressure_end / self.pressure - 1)
        return of.minimum(of.maximum(of.fmax(by_pressure, by_field), 0.0), 1.0)

    def low(
        self, case: Case, volts: FloatArray, low: FloatArray, floor: float = 0.0
    ) -> tuple[FloatArray, tuple[str, ...]]:
        """Return the low end, from what it is without the surface to the widest, and what is to be said of it.

        Parameters
        ----------
        case : Case
        volts, low : ndarray
            Value, and low end without the surface [V].
        floor : float
            What is not widened [V].
        """
        of, share = case.of, self.share(case, volts)
        if not of.any(share > 0):
            return low, ()
        widened = of.minimum(low, low + (volts * (1 - self.widest) - low) * share)
        return of.maximum(widened, of.minimum(low, floor)) if floor else widened, (self.note,)

    @property
    def note(self) -> str:
        """The sentence that belongs to an answer that is widened."""
        return SURFACE_NOTE.format(pressure=self.pressure / 1e5, field=self.field / 1e5, share=self.widest * 100)


def common_limits(row: GasRow, widest: float) -> tuple[Limit, ...]:
    """Return the limits that every similarity form has: pressure, and the gap from 10 um to a widest [m]."""
    gap = Limit("gap", GAP, NARROWEST_GAP, widest)
    return (Limit("pressure", PRESSURE, high=row.pressure_to), gap) if row.pressure_to > 0 else (gap,)


TAPER = 5.0
"""Factor in pd over which the band of a range's neighbour on its left goes over into its own."""


def own_band(row: GasRow, reference: Reference) -> Band:
    """Return the band of a row: its own, begun with that of the row whose range it goes on from, so without a step."""
    before = next((one for one in gas_rows(reference) if one.gas == row.gas and one.pd_to == row.pd_from), row)

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        if before is row:
            return volts * (1 - row.low), volts * (1 + row.high)
        of = case.of
        share = of.minimum(of.maximum(of.log(case.pd / row.pd_from) / math.log(TAPER), 0.0), 1.0)
        low, high = (first + (last - first) * share for first, last in ((before.low, row.low), (before.high, row.high)))
        return volts * (1 - low), volts * (1 + high)

    return banded
