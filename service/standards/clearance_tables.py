"""The clearance tables in use, split once into the columns that questions read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from service.methods import FloatArray
from service.reference import Reference, Table
from service.standards.asking import volts
from service.standards.clearance_asked import CATEGORIES, Asked
from service.standards.reading import Ladder, beyond, numbers

CASES = ("A", "B")
DEGREES = (1, 2, 3)


@dataclass(frozen=True, eq=False)
class ClearanceTables:
    """Tables of IEC 60664-1 and -4 for clearances.

    Parameters
    ----------
    mains : mapping of str to Ladder
        System voltage to impulse voltage, by overvoltage category (F.1).
    impulse : mapping of (str, int) to Ladder
        Impulse voltage to clearance, by case and pollution degree (F.2).
    preferred : ndarray
        The preferred series of impulse voltages [V].
    peak : mapping of str to Ladder
        Recurring peak voltage to clearance, by case (F.7a).
    fast : Ladder
        The same above 30 kHz, inhomogeneous (IEC 60664-4 Table 1).
    altitude : Ladder
        Altitude to factor (A.2).
    rules : mapping of str to float
        Numbers of the rules of IEC 60664-1, as printed.
    fast_rules : Table
        Rules of IEC 60664-4.
    frequency : mapping of str to float
        Constants of the fall of the breakdown voltage with frequency, in SI.
    """

    mains: Mapping[str, Ladder]
    impulse: Mapping[tuple[str, int], Ladder]
    preferred: FloatArray
    peak: Mapping[str, Ladder]
    fast: Ladder
    altitude: Ladder
    rules: Mapping[str, float]
    fast_rules: Table
    frequency: Mapping[str, float]

    @classmethod
    def of(cls, reference: Reference) -> ClearanceTables:
        """Return the tables in use.

        Parameters
        ----------
        reference : Reference
            Loaded tables.
        """
        f1, f2, f7 = (reference.table(f"iec-60664-1-table-{name}") for name in ("f1", "f2", "f7a"))
        constants = reference.table("correction-constants")
        names = ("critical-frequency-times-gap", "frequency-of-minimum", "frequency-slope")
        return cls(
            mains={name: _mains(f1, name) for name in CATEGORIES},
            impulse={(case, degree): _impulse(f2, case, degree) for case in CASES for degree in DEGREES},
            preferred=np.unique(f2.where(preferred="yes")["impulse_voltage"]),
            peak={case: Ladder.of(f7, "voltage", f"case_{case.lower()}", volts) for case in CASES},
            fast=Ladder.of(reference.table("iec-60664-4-table-1"), "voltage", "clearance", volts),
            altitude=Ladder.of(reference.table("iec-60664-1-table-a2"), "altitude", "factor", metres),
            rules=numbers(reference, "iec-60664-1-rules"),
            fast_rules=reference.table("iec-60664-4-rules"),
            frequency={name: constants.constant(name) for name in names},
        )

    def column(self, asked: Asked) -> Ladder:
        """Return the column of Table F.2 for a question.

        On printed wiring the values of pollution degree 1 hold in place of the floor of pollution degree 2; above that
        floor the two columns are equal.
        """
        on_board = asked.printed_wiring and asked.pollution_degree == 2
        return self.impulse[asked.case, 1 if on_board else asked.pollution_degree]


def _mains(table: Table, category: str) -> Ladder:
    return Ladder.of(table.where(overvoltage_category=category), "system_voltage", "impulse_voltage", volts)


def _impulse(table: Table, case: str, degree: int) -> Ladder:
    return Ladder.of(table.where(case=case, pollution_degree=float(degree)), "impulse_voltage", "clearance", volts)


def metres(value: float) -> str:
    """Return an altitude [m] in words."""
    return f"{value:g} m"


def covered(ladder: Ladder, wanted: float, parameter: str, factor: float) -> Ladder:
    """Return the ladder when it covers a voltage.

    Parameters
    ----------
    ladder : Ladder
    wanted : float
        Peak voltage to be read [V].
    parameter : str
        What it was made from.
    factor : float
        The voltage to be read over the parameter.

    Raises
    ------
    OutsideValidity
        Naming the largest value of the parameter.
    """
    if ladder.covers(wanted):
        return ladder
    source = ladder.table.source
    detail = (
        f"{source.key} {source.table} ends at {volts(ladder.last)} peak; {volts(wanted)} peak would be needed here."
    )
    raise beyond(parameter, detail, "voltage", ladder.last / factor)
