"""Distances on boards and along surfaces for a voltage that stays, read from their tables for the switch-on sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from service import units
from service.physics import atmosphere
from service.reference import Table

SLACK = 1 + 1e-9
"""Units may round in the last place."""
FINEST = 1e-6
"""Step to which a calculated distance is rounded up [m]."""
HIGH_ALTITUDE = 3050.0
"""Altitude above which bare outer conductors have a column of their own [m]; heading of Table 6-1."""
PLACES: Mapping[str, str] = {
    "internal": "internal",
    "external-uncoated": "external_uncoated",
    "external-coated": "external_coated",
    "assembly-coated": "assembly_coated",
    "lead-uncoated": "lead_uncoated",
    "lead-coated": "lead_coated",
}
"""Place on a board to column of IPC-2221 Table 6-1."""
SURFACES: tuple[tuple[int, str, str], ...] = (
    (1, "any", "pollution_1"),
    (2, "IIIa", "pollution_2_group_iii"),
    (3, "IIIa", "pollution_3_group_iii"),
)
"""Pollution degree, material group and column of IEC 60664-1 Table F.4; functional and basic insulation."""


def in_thin_air(pressure: float) -> bool:
    """Return whether a pressure [Pa] is one of the altitudes that have a column of their own.

    However the thin air comes about: given as an altitude, or as a pressure.
    """
    return pressure < float(atmosphere.standard_pressure(HIGH_ALTITUDE)) / SLACK


def on_boards(table: Table, voltage: float, pressure: float) -> list[dict[str, Any]]:
    """Return the conductor spacing of every place on a board.

    Parameters
    ----------
    table : Table
        IPC-2221 Table 6-1: steps, and a slope above the last of them.
    voltage : float
        Direct or peak [V].
    pressure : float
        Of the air [Pa].
    """
    high = {"external-uncoated": "external_uncoated_high"} if in_thin_air(pressure) else {}
    columns = {**PLACES, **high}
    return [{"place": place} | _spacing(table, column, voltage) for place, column in columns.items()]


def _spacing(table: Table, column: str, voltage: float) -> dict[str, Any]:
    slope = table.flag("per_volt")
    steps = np.flatnonzero(~slope & (table["voltage_to"] * SLACK >= voltage))
    row = int(steps[0]) if steps.size else int(np.flatnonzero(~slope)[-1])
    value, words = float(table[column][row]), f"{table.text('voltage_printed')[row]} V"
    if not steps.size:
        above = int(slope.argmax())
        value += (voltage - float(table["voltage_from"][above])) * float(table[column][above])
        value, words = rounded_up(value), f"{words} and the value per volt above"
    return {
        "spacing": units.quantity(value, "length"),
        "table": table.key,
        "row": words,
        "provenance": table.provenance[row],
    }


def along_surfaces(table: Table, voltage: float) -> list[dict[str, Any]]:
    """Return the creepage of every pollution degree whose column reaches the voltage.

    Parameters
    ----------
    table : Table
        IEC 60664-1 Table F.4, read at the next row up.
    voltage : float
        Long-term rms or direct [V].
    """
    found = []
    for degree, group, column in SURFACES:
        rows = np.flatnonzero(np.isfinite(table[column]) & (table["voltage"] * SLACK >= voltage))
        if rows.size:
            row = int(rows[0])
            found.append(
                {
                    "pollution_degree": degree,
                    "material_group": group,
                    "creepage": units.quantity(float(table[column][row]), "length"),
                    "table": table.key,
                    "row": f"{units.shown(float(table['voltage'][row]), 'voltage'):.6g} kV",
                    "provenance": table.provenance[row] + ("; doubtful" if bool(table.doubtful[row]) else ""),
                }
            )
    return found


def rounded_up(length: float) -> float:
    """Return a length [m] rounded up to a micrometre, a rounding error of binary numbers apart.

    Examples
    --------
    >>> rounded_up(0.0603), rounded_up(0.00231049)
    (0.0603, 0.002311)
    """
    return round(math.ceil(length / FINEST - 1e-6) * FINEST, 12)
