"""Clearance for impulses: of the mains by overvoltage category, or as given (IEC 60664-1, Tables F.1 and F.2)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service import units
from service.methods import FloatArray
from service.standards.asking import millimetres, volts
from service.standards.clearance_asked import Asked
from service.standards.clearance_tables import ClearanceTables, covered
from service.standards.reading import SLACK, Found, beyond, together
from service.standards.requirements import Requirement


def impulse(asked: Asked, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for the impulse voltage, where there is one.

    Parameters
    ----------
    asked : Asked
    tables : ClearanceTables

    Raises
    ------
    OutsideValidity
        When a voltage lies beyond the last row of its table.
    """
    if asked.system_voltage is not None:
        yield _of_mains(asked, asked.system_voltage, tables)
    if asked.impulse_voltage is not None:
        yield _as_given(asked, asked.impulse_voltage, tables)


def _of_mains(asked: Asked, system: float, tables: ClearanceTables) -> Requirement:
    ladder, column = tables.mains[str(asked.category)], tables.column(asked)
    if not ladder.covers(system):
        detail = f"Table F.1 ends at {volts(ladder.last)} line to neutral; system_voltage lies above it."
        raise beyond("system_voltage", detail, "voltage", ladder.last, "rms")
    first = ladder.step_up(system)
    wanted, why = _graded(asked, first.value, tables)
    found = at_least(asked, tables, column.step_up(wanted))
    row = f"F.1: {first.row}, category {asked.category}; F.2: {found.row}, {column_words(asked)}"
    whole = Found(found.value, row, found.rule, together((first.provenance, found.provenance)))
    given = {"impulse_voltage": units.quantity(wanted, "voltage")}
    rule = f"Table F.1 asks for {volts(first.value)}{why}"
    return Requirement.of("impulse", "Impulses of the mains", whole, column.table, rule, given)


def _as_given(asked: Asked, voltage: float, tables: ClearanceTables) -> Requirement:
    wanted, why = _graded(asked, voltage, tables)
    column = covered(tables.column(asked), wanted, "impulse_voltage", wanted / voltage)
    found = at_least(asked, tables, column.interpolated(wanted))
    whole = Found(found.value, f"F.2: {found.row}, {column_words(asked)}", found.rule, found.provenance)
    given = {"impulse_voltage": units.quantity(wanted, "voltage")}
    rule = f"{volts(voltage)} as given{why}"
    return Requirement.of("impulse", "Impulses as given", whole, column.table, rule, given)


def _graded(asked: Asked, voltage: float, tables: ClearanceTables) -> tuple[float, str]:
    if not asked.reinforced:
        return voltage, ""
    factor = tables.rules["reinforced_clearance_nonpreferred_impulse_factor"]
    wanted = reinforced_impulse(voltage, tables.preferred, factor)
    return wanted, f"; reinforced: {volts(wanted)}, by the next step of the preferred series or {factor:.0%}"


def reinforced_impulse(voltage: float, preferred: FloatArray, factor: float) -> float:
    """Return the impulse voltage that reinforced insulation is dimensioned for.

    Of a voltage of the preferred series the next step. Of any other voltage, and of the last of the series, the factor
    times the voltage, but not less than the step below it asks for, and not more than the step above it does.

    Parameters
    ----------
    voltage : float
        Required of basic insulation [V].
    preferred : ndarray
        The preferred series [V].
    factor : float
        For voltages outside the series.

    Examples
    --------
    IEC 60664-1: 6 kV stands in the series, and the next step is 8 kV; 5 kV does not.

    >>> series = np.array([330.0, 500.0, 800.0, 1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 12000.0])
    >>> reinforced_impulse(6000.0, series, 1.6), reinforced_impulse(5000.0, series, 1.6)
    (8000.0, 8000.0)
    """
    above = preferred[preferred > voltage * (1 + SLACK)]
    if not above.size:
        return voltage * factor
    if np.isclose(preferred, voltage, rtol=SLACK, atol=0.0).any():
        return float(above[0])
    below_asks = float(above[0]) if above.size < preferred.size else 0.0
    above_asks = float(above[1]) if above.size > 1 else np.inf
    return min(max(voltage * factor, below_asks), above_asks)


def at_least(asked: Asked, tables: ClearanceTables, found: Found) -> Found:
    """Return a clearance of Table F.2; on printed wiring at pollution degree 2 never below its own floor."""
    if not asked.printed_wiring or asked.pollution_degree != 2:
        return found
    lowest = units.to_si(tables.rules["pcb_PD2_clearance_floor"], "mm", "length")
    rule = f"printed wiring: values of pollution degree 1, never below {millimetres(lowest)}; {found.rule}"
    return Found(max(found.value, lowest), found.row, rule, found.provenance)


def column_words(asked: Asked) -> str:
    """Return in words which column of Table F.2 was read."""
    return f"case {asked.case}, pollution degree {asked.pollution_degree}"
