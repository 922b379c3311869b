"""Thresholds of laboratory practice: stored energy and source current by the kind of source."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import numpy as np

from service.reference import Reference, Table
from service.standards.circuit import Circuit
from service.standards.limits import Limit, above, both, slug, voltage_left
from service.standards.product_limits import asked_value

KINDS: Mapping[str, tuple[str, float]] = {
    "capacitors": ("stored", np.inf),
    "capacitor stored energy": ("stored", np.inf),
    "dc": ("dc", np.inf),
    "50/60 Hz ac": ("ac", 60.0),
    "sub-RF 1 Hz-3 kHz": ("ac", 3e3),
    "sub-RF": ("ac", 3e3),
}
"""Kind of source to what it is compared with, and the highest frequency of the class [Hz]."""
COLUMNS: Mapping[str, str] = {"energy": "energy_above", "current": "current_above"}

PRINTED: Mapping[str, re.Pattern[str]] = {
    "energy": re.compile(r"[\d.]+ k?J"),
    "current": re.compile(r"[\d.]+ m?A"),
}
"""How a threshold stands in its row."""


def practice_limits(circuit: Circuit, reference: Reference) -> Iterator[Limit]:
    """Yield the thresholds that apply; where a row has a voltage too, both must be exceeded.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("energy-source-practice")
    for row, source in enumerate(table.text("source_kind")):
        kind, highest = KINDS.get(source, ("", 0.0))
        if not kind or (circuit.frequency or 0.0) > highest or not (kind == "stored" or kind in circuit.kinds):
            continue
        for dimension, column in COLUMNS.items():
            if np.isfinite(table[column][row]):
                yield _limit(circuit, table, row, dimension, float(table[column][row]))


def _limit(circuit: Circuit, table: Table, row: int, dimension: str, value: float) -> Limit:
    words = table.text("threshold_printed")[row]
    reached = ">=" in words
    measure = {"energy": ""}.get(dimension, "dc" if table.text("source_kind")[row] == "dc" else "rms")
    asked = asked_value(circuit, dimension, measure)
    exceeded = both(above(asked, value, reached), _voltage_condition(circuit, table, row, reached))
    scheme = f"{table.text('scheme')[row]}, {table.text('source_kind')[row]}"
    title = PRINTED[dimension].findall(words)[-1]
    key = slug(f"{scheme} {title}")
    left = voltage_left(dimension, value, circuit)
    further = {"conditions": [f"{scheme}: {words}"]}
    return Limit(key, title, dimension, value, asked, exceeded, table, table.provenance[row], measure, further, left)


def _voltage_condition(circuit: Circuit, table: Table, row: int, reached: bool) -> bool | None:
    lowest, highest = float(table["voltage_above"][row]), float(table["voltage_below"][row])
    if np.isfinite(lowest):
        return above(circuit.voltage, lowest, reached)
    if np.isfinite(highest):
        return None if circuit.voltage is None else circuit.voltage < highest
    return True
