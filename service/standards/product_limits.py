"""Limits of product standards: accessible parts, stored charge and energy, energy sources of IEC 62368-1."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import numpy as np

from service import units
from service.reference import Reference, Table
from service.standards.asking import volts
from service.standards.circuit import Circuit, as_measured
from service.standards.limits import Limit, above, slug, voltage_left
from service.standards.reading import together

DIMENSION_OF_UNIT: Mapping[str, str] = {
    "V": "voltage",
    "mA": "current",
    "uC": "charge",
    "mJ": "energy",
    "uF": "capacitance",
    "s": "time",
}
RANGE = re.compile(r"(?:([\d.]+)(?: (k?V))?-)?([\d.]+) (k?V)")
UPWARD = re.compile(r"(?:above|>) ?[\d.]+ k?V")
LEVELS: Mapping[str, str] = {"ES1": "es1", "ES2": "es2"}


def asked_value(circuit: Circuit, dimension: str, measure: str) -> float | None:
    """Return what a circuit has of a dimension [SI], in a measure.

    Parameters
    ----------
    circuit : Circuit
    dimension : str
    measure : str
        ``peak``, ``rms``, ``dc``, or empty.
    """
    values: Mapping[str, float | None] = {
        "voltage": as_measured(circuit.voltage, measure, "peak"),
        "current": as_measured(circuit.current, measure, "rms"),
        "charge": circuit.charge,
        "energy": circuit.energy,
        "capacitance": circuit.capacitance,
        "time": circuit.time_constant,
    }
    return values[dimension]


def product_limits(circuit: Circuit, reference: Reference) -> Iterator[Limit]:
    """Yield the limits for accessible parts; rows of one value in several standards are joined.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("shock-limits")
    groups: dict[tuple[str, str, str, float], list[int]] = {}
    for row in range(len(table)):
        dimension = DIMENSION_OF_UNIT[table.text("unit")[row]]
        kinds, measure = _kinds(table.text("limited_quantity")[row], dimension)
        if _applies(circuit, dimension, kinds) and _within(circuit, table, row, dimension):
            place = (dimension, measure, " or ".join(sorted(kinds)), float(table["value"][row]))
            groups.setdefault(place, []).append(row)
    for (dimension, measure, kinds_printed, value), rows in groups.items():
        yield _product_limit(circuit, table, rows, dimension, measure, kinds_printed, value)


def _kinds(quantity: str, dimension: str) -> tuple[frozenset[str], str]:
    if dimension not in ("voltage", "current"):
        return frozenset(), ""
    if "100 kHz" in quantity:
        return frozenset({"fast"}), "rms"
    kinds = {kind for kind in ("dc", "ac") if re.search(rf"\b{kind}\b", quantity)} or {"ac"}
    measure = "rms" if "rms" in quantity else "peak" if "peak" in quantity else "dc"
    return frozenset(kinds), measure


def _applies(circuit: Circuit, dimension: str, kinds: frozenset[str]) -> bool:
    if dimension == "time":
        return circuit.bleed_resistance is not None
    # the voltage limits of these standards name no frequency above which they end
    wanted = {"ac"} if dimension == "voltage" and circuit.kinds == {"fast"} else circuit.kinds
    return not kinds or bool(kinds & wanted)


def _within(circuit: Circuit, table: Table, row: int, dimension: str) -> bool:
    """Return whether a limit on capacitance holds at the circuit's voltage; the others are shown at any voltage."""
    inside = in_range(circuit.voltage, _condition(table, row))
    return not (dimension == "capacitance" and inside is False)


def _condition(table: Table, row: int) -> str:
    return f"{table.text('condition')[row]}, {table.text('limited_quantity')[row]}"


def in_range(voltage: float | None, words: str) -> bool | None:
    """Return whether a voltage [V] lies in the range that a condition names; ``None`` where either is not known.

    Examples
    --------
    >>> in_range(12e3, "450 V-15 kV"), in_range(12e3, "above 15 kV peak"), in_range(12e3, "normal")
    (True, False, None)
    """
    match = RANGE.search(words)
    if match is None or voltage is None:
        return None
    low_number, low_unit, number, unit = match.groups()
    end = units.to_si(float(number), unit, "voltage")
    if low_number is not None:
        return units.to_si(float(low_number), low_unit or unit, "voltage") < voltage <= end
    return voltage > end if UPWARD.search(words) else voltage <= end


def _product_limit(
    circuit: Circuit, table: Table, rows: list[int], dimension: str, measure: str, kinds: str, value: float
) -> Limit:
    printed = f"{table.text('value')[rows[0]]} {table.text('unit')[rows[0]]}"
    title = printed + "".join(f" {word}" for word in dict.fromkeys((kinds, measure)) if word)
    conditions = dict.fromkeys(_condition(table, row) for row in rows)
    ranges = [inside for one in conditions if (inside := in_range(circuit.voltage, one)) is not None]
    further = {
        "clauses": list(dict.fromkeys(table.text("standard_clause")[row] for row in rows)),
        "conditions": list(conditions),
        **({"in_its_voltage_range": any(ranges)} if ranges else {}),
    }
    asked = asked_value(circuit, dimension, measure)
    left = voltage_left(dimension, value, circuit) if measure in ("", "dc") else None
    origin = together(table.provenance[row] for row in rows)
    key = f"{dimension}-{slug(title)}"
    return Limit(key, title, dimension, value, asked, above(asked, value), table, origin, measure, further, left)


def capacitor_limits(circuit: Circuit, reference: Reference) -> Iterator[Limit]:
    """Yield the limits of IEC 62368-1 for a charged capacitor, ES1 and ES2, linear between rows.

    At the circuit's voltage they are a charge; up to the first row, or where only the capacitance is known, a voltage.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("iec-62368-1-charged-capacitor")
    for level, column in LEVELS.items():
        voltages, capacitances = table[f"{column}_voltage"], table["capacitance"]
        left = _voltage_of(circuit.capacitance, capacitances, voltages)
        title = f"{level}, charged capacitor"
        origin = together(table.provenance)
        first, last = float(voltages[0]), float(voltages[-1])
        volt = circuit.voltage
        if volt is not None and first < volt <= last:
            limit = volt * float(np.interp(volt, voltages, capacitances))
            words = {"rule": f"Table 5 at {volts(volt)}, linear between rows"}
            exceeded = above(circuit.charge, limit)
            yield Limit(
                f"{column}-charge", title, "charge", limit, circuit.charge, exceeded, table, origin, "", words, left
            )
            continue
        limit_voltage = first if volt is not None and volt <= first else left
        if limit_voltage is not None:
            words = {"rule": "Table 5 at this capacitance, linear between rows" if left else "Table 5, first row"}
            exceeded = above(volt, limit_voltage)
            yield Limit(
                f"{column}-voltage", title, "voltage", limit_voltage, volt, exceeded, table, origin, "dc", words, left
            )


def _voltage_of(capacitance: float | None, capacitances: np.ndarray, voltages: np.ndarray) -> float | None:
    """Return the voltage limit of a capacitance [V]; of a larger one than the first row the first row's."""
    if capacitance is None or capacitance < capacitances.min() * (1 - 1e-9):
        return None
    order = np.argsort(capacitances)
    return float(np.interp(capacitance, capacitances[order], voltages[order]))


def steady_limits(circuit: Circuit, reference: Reference) -> Iterator[Limit]:
    """Yield the steady-state limits of IEC 62368-1 that belong to the circuit's frequency.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    table = reference.table("iec-62368-1-limits")
    for row, key in enumerate(table.text("key")):
        kind = STEADY.get(key)
        if kind is None or not _steady_applies(circuit, kind):
            continue
        dimension, measure = kind[:2]
        for level, column in LEVELS.items():
            slope = np.nan_to_num(table[f"{column}_slope"][row])
            value = float(table[f"{column}_value"][row] + slope * (circuit.frequency or 0.0))
            if np.isnan(value):
                continue
            asked = asked_value(circuit, dimension, measure)
            further = {"conditions": [table.text("limited_quantity")[row]]}
            title = f"{level}, {_printed(table, row, column, value, dimension)} {measure}"
            left = value if key == "dc" else None
            origin = table.provenance[row]
            yield Limit(
                f"{column}-{key}",
                title,
                dimension,
                value,
                asked,
                above(asked, value),
                table,
                origin,
                measure,
                further,
                left,
            )


def _printed(table: Table, row: int, column: str, value: float, dimension: str) -> str:
    words = table.text(f"{column}_limit_printed")[row]
    unit = table.text(f"{column}_unit")[row]
    if np.isfinite(table[f"{column}_slope"][row]):
        return f"{words} = {units.shown(value, dimension, unit):.4g} {unit}"
    return f"{words} {unit}"


STEADY: Mapping[str, tuple[str, str, float, float]] = {
    "dc": ("voltage", "dc", -1.0, -1.0),
    "ac-0-1-khz-rms": ("voltage", "rms", 0.0, 1e3),
    "ac-0-1-khz-peak": ("voltage", "peak", 0.0, 1e3),
    "ac-1-100-khz-rms-f-in-khz": ("voltage", "rms", 1e3, 100e3),
    "ac-above-100-khz-rms": ("voltage", "rms", 100e3, np.inf),
    "current-dc": ("current", "dc", -1.0, -1.0),
    "current-ac-rms-up-to-1-khz": ("current", "rms", 0.0, 1e3),
    "current-ac-peak-up-to-1-khz": ("current", "peak", 0.0, 1e3),
    "current-ac-above-100-khz-rms-es2": ("current", "rms", 100e3, np.inf),
}
"""Row to dimension, measure, and the frequencies above and up to which it holds [Hz]; -1 for direct."""


def _steady_applies(circuit: Circuit, kind: tuple[str, str, float, float]) -> bool:
    _, _, low, high = kind
    if circuit.frequency is None:
        return high in (-1.0, 1e3)
    return low < circuit.frequency <= high
