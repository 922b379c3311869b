"""The clearance tables in use, split once into the columns that questions read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from service.methods import FloatArray
from service.reference import Reference, Table
from service.standards.asking import CATEGORIES, DIRECT, SUPPLIES, ClearanceQuestion, metres, volts
from service.standards.ladder import Ladder, numbers, table_ends

CASES = ("A", "B")
DEGREES = (1, 2, 3)
CRITICAL = ("critical-frequency-times-gap", "frequency-of-minimum", "frequency-slope")
ROUNDER = (
    "Change the design: round the electrodes to a radius of at least a fifth of the clearance and prove the field by "
    "an impulse test (field=homogeneous), part the gap by a conductor at a fixed potential, or put solid insulation in."
)
PARTED = "Change the design: part the gap by a conductor at a fixed potential, or put solid insulation in."
LOWER = (
    "Change the design: keep the overvoltage from the barrier (a surge arrester, a filter, a transformer) and ask for "
    "what is left of it, or part the gap by a conductor at a fixed potential."
)


@dataclass(frozen=True, eq=False)
class ClearanceTables:
    """Tables of IEC 60664-1 and -4 for clearances, and those that stand beside them."""

    mains: Mapping[tuple[str, str], Ladder]
    """System voltage to impulse voltage, by supply and overvoltage category (F.1)."""
    impulse: Mapping[tuple[str, int], Ladder]
    """Impulse voltage to clearance, by case and pollution degree (F.2)."""
    preferred: FloatArray
    """The preferred series of impulse voltages [V]."""
    peak: Mapping[str, Ladder]
    """Steady, temporary or recurring peak voltage to clearance, by case (F.7a)."""
    fast: Ladder
    """The same above 30 kHz, inhomogeneous (IEC 60664-4 Table 1)."""
    altitude: Ladder
    """Altitude to factor (A.2)."""
    rules: Mapping[str, float]
    """Numbers of the rules of IEC 60664-1, as printed."""
    rules_table: Table
    fast_rules: Table
    frequency: Mapping[str, float]
    """Constants of the fall of the breakdown voltage with frequency, in SI."""
    withstand_impulse: Ladder
    """Impulse voltage to the gap that reaches it (A.1)."""
    withstand_peak: Ladder
    """Alternating peak or direct voltage to the gap that reaches it (A.1)."""
    quiet: Ladder
    """Peak voltage to the clearance without partial discharge (F.7b)."""
    equipment: Ladder
    """Peak working voltage to clearance of information technology equipment."""
    laboratory: Table
    """Mains circuits of measuring and laboratory equipment."""

    @classmethod
    def of(cls, reference: Reference) -> ClearanceTables:
        """Return the tables in use."""
        f1, f2, f7 = (reference.table(f"iec-60664-1-table-{name}") for name in ("f1", "f2", "f7a"))
        a1 = reference.table("iec-60664-1-table-a1")
        constants = reference.table("correction-constants")
        return cls(
            mains={(supply, name): _mains(f1, supply, name) for supply in SUPPLIES for name in CATEGORIES},
            impulse={(case, degree): _impulse(f2, case, degree) for case in CASES for degree in DEGREES},
            preferred=np.unique(f2.where(preferred="yes")["impulse_voltage"]),
            peak={case: Ladder.of(f7, "voltage", f"case_{case.lower()}", volts) for case in CASES},
            fast=Ladder.of(reference.table("iec-60664-4-table-1"), "voltage", "clearance", volts),
            altitude=Ladder.of(reference.table("iec-60664-1-table-a2"), "altitude", "factor", metres),
            rules=numbers(reference, "iec-60664-1-rules"),
            rules_table=reference.table("iec-60664-1-rules"),
            fast_rules=reference.table("iec-60664-4-rules"),
            frequency={name: constants.constant(name) for name in CRITICAL},
            withstand_impulse=Ladder.of(a1, "voltage_impulse", "clearance", volts),
            withstand_peak=Ladder.of(a1, "voltage_peak", "clearance", volts),
            quiet=Ladder.of(reference.table("iec-60664-1-table-f7b"), "voltage", "case_a", volts),
            equipment=Ladder.of(reference.table("iec-60950-high-voltage-clearance"), "voltage", "clearance", volts),
            laboratory=reference.table("iec-61010-1-mains"),
        )

    def column(self, asked: ClearanceQuestion) -> Ladder:
        """Return the column of Table F.2 for a question.

        On printed wiring the values of pollution degree 1 hold in place of the floor of pollution degree 2; above that
        floor the two columns are equal.
        """
        on_board = asked.printed_wiring and asked.pollution_degree == 2
        return self.impulse[asked.case, 1 if on_board else asked.pollution_degree]


def _mains(table: Table, supply: str, category: str) -> Ladder:
    rows = table.where(overvoltage_category=category)
    if supply != DIRECT:
        rows = rows.where(supply="ac_or_dc")
    return Ladder.of(rows, "system_voltage", "impulse_voltage", volts)


def _impulse(table: Table, case: str, degree: int) -> Ladder:
    return Ladder.of(table.where(case=case, pollution_degree=float(degree)), "impulse_voltage", "clearance", volts)


def covered(
    ladder: Ladder, wanted: float, parameter: str, factor: float, design: str = LOWER, measure: str | None = None
) -> Ladder:
    """Return the ladder when it covers a peak voltage [V] that is ``factor`` times the value of a parameter.

    Raises
    ------
    OutsideValidity
        Naming the largest value of the parameter, and what to change in the design.
    """
    if ladder.covers(wanted):
        return ladder
    source = ladder.table.source
    detail = (
        f"{source.key} {source.table} ends at {volts(ladder.last)} peak; {volts(wanted)} peak would be needed here."
    )
    raise table_ends(parameter, detail, "voltage", ladder.last / factor, measure, design)
