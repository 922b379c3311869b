"""Rows of the gas tables: one row is one method of one gas between parallel plates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service import spoken
from service.methods.method import FloatArray
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
    """Return the closed form that a row names: ``townsend-ab:<source>:<form>[:<printed range>]``.

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


def attaches(reference: Reference, row: GasRow) -> bool:
    """Return whether the computed table of a row's gas has attachment."""
    table = reference.table("ionization-alpha-over-n").where(gas_key=row.gas, cross_sections=row.cross_sections)
    return bool((table["attachment"] > 0).any())


def _coefficients(reference: Reference, row: GasRow) -> tuple[Table, int, str]:
    """Return the table of the coefficients that a row names, the place of its own, and their form."""
    _, source, form, *printed = row.data.split(":")
    table = reference.table("townsend-ab").where(gas_key=row.gas, source_key=source, form=form)
    return table, _place(table, printed[0]) if printed else 0, form


def _place(table: Table, printed: str) -> int:
    ends = (table.text(f"field_over_pressure_{end}") for end in ("from", "to"))
    ranges = [f"{float(first):g}-{float(last):g}" for first, last in zip(*ends, strict=True)]
    return ranges.index(printed)
