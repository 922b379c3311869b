"""Published limits beside a circuit: whether a row applies, whether it is exceeded, and which is the strictest.

A row is judged only where its own condition holds. What was not said leaves it unknown, unless every value that agrees
with what was said gives the same answer.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from service.answers.situation import SINE
from service.reference import Reference, Table, weakest
from service.spoken import said
from service.standards.circuit import FAST, Circuit, Span
from service.standards.requirement import quantity, volts
from service.units import ROUNDING, Quantity

EXCEEDED, NOT_EXCEEDED, DOES_NOT_APPLY, UNKNOWN = ("exceeded", "not-exceeded", "does-not-apply", "unknown")
"""The words of a limit; none of them says that something may be done."""

STORED = ("charge", "energy", "capacitance")
ORDER: Mapping[str, int] = {
    "charge": 0,
    "energy": 0,
    "capacitance": 0,
    "voltage": 1,
    "current": 2,
    "power": 3,
    "time": 4,
}
"""Limits on what is stored come first, then voltage, current, power and time."""
DIMENSION_OF_UNIT: Mapping[str, str] = {
    "V": "voltage",
    "mA": "current",
    "uC": "charge",
    "mJ": "energy",
    "uF": "capacitance",
    "s": "time",
}
LEVELS: Mapping[str, str] = {"ES1": "es1", "ES2": "es2"}


@dataclass(frozen=True)
class PublishedLimit:
    """A published limit and what was asked, in SI.

    Parameters
    ----------
    key, title : str
        The title as printed: ``45 uC``.
    dimension : str
        Of the limit.
    limit : float
        [SI].
    asked : Span or None
        The same quantity of the circuit, where it is known.
    state : str
        One of `STATES`.
    table : Table
        Where it stands.
    provenance : str
        Of its rows.
    measure : str
        Of a voltage or current: ``peak``, ``rms``, ``dc``; empty of others.
    clauses : tuple of str
        Standards or schemes with their clauses.
    further : mapping
        Editions, conditions, rule.
    left : float or None
        Voltage at which a capacitor has come down to the limit [V].
    level : str
        The class of IEC 62368-1 that it bounds, in lower case; empty of others.
    stored : bool
        Whether it is about what a capacitor has stored, in whatever dimension.
    """

    key: str
    title: str
    dimension: str
    limit: float
    asked: Span | None
    state: str
    table: Table
    provenance: str
    measure: str = ""
    clauses: tuple[str, ...] = ()
    further: Mapping[str, object] = field(default_factory=dict)
    left: float | None = None
    level: str = ""
    stored: bool = False

    def block(self) -> dict[str, object]:
        """Return the limit as answers show it."""
        block: dict[str, object] = {
            "key": self.key,
            "title": self.title,
            "limit": shown_limit(self.limit, self.dimension, self.measure),
        }
        if self.asked is not None:
            block["asked"] = spanned(self.asked, self.dimension, self.measure)
        block |= {"state": self.state, "clauses": list(self.clauses), **self.further}
        return block | {"source": self.table.source.block(), "provenance": self.provenance}

    def strictness(self, circuit: Circuit) -> tuple[float, ...]:
        """Return a key that sorts the strictest first: peak with peak, what is stored by its energy at the voltage."""
        group = ORDER[self.dimension]
        peak = self.limit * (SINE if self.measure == "rms" else 1.0)
        if self.dimension not in STORED:
            return (group, 0, peak)
        if circuit.voltage is None:
            return (group, STORED.index(self.dimension), self.limit)
        volt = circuit.voltage.high
        return (group, 0, {"charge": volt / 2, "energy": 1.0, "capacitance": volt**2 / 2}[self.dimension] * self.limit)


def above(asked: Span | None, limit: float, *, reached: bool = False) -> bool | None:
    """Return whether a value exceeds a limit; ``None`` where it is not known, or not for all that it may be.

    Parameters
    ----------
    reached : bool
        Whether the value that equals the limit exceeds it, as where a threshold is printed with ``>=``.

    Examples
    --------
    >>> charge = Span(45e-6, 45e-6)
    >>> above(charge, 45e-6), above(charge, 45e-6, reached=True), above(Span(30.0, 42.4), 35.0)
    (False, True, None)
    """
    if asked is None:
        return None
    low, high = (one >= limit * (1 - ROUNDING) if reached else one > limit * (1 + ROUNDING) for one in asked)
    return low if low == high else None


def all_hold(conditions: Iterable[bool | None]) -> bool | None:
    """Return whether all hold; ``None`` where that is not known."""
    known = list(conditions)
    return False if False in known else None if None in known else True


def state_of(applies: bool | None, exceeds: bool | None) -> str:
    """Return the state of a limit from whether its condition holds and whether its value is exceeded.

    Examples
    --------
    >>> state_of(False, True), state_of(True, False), state_of(None, False), state_of(True, None)
    ('does-not-apply', 'not-exceeded', 'unknown', 'unknown')
    """
    if applies is False:
        return DOES_NOT_APPLY
    if applies is None or exceeds is None:
        return UNKNOWN
    return EXCEEDED if exceeds else NOT_EXCEEDED


def strictest_first(limits: Iterable[PublishedLimit], circuit: Circuit) -> list[PublishedLimit]:
    """Return limits sorted, the strictest first."""
    return sorted(limits, key=lambda one: one.strictness(circuit))


def slug(words: str) -> str:
    """Return words as a key: lower case, with hyphens.

    Examples
    --------
    >>> slug("ES1, 42.4 V peak")
    'es1-42.4-v-peak'
    """
    return re.sub(r"[^a-z0-9.]+", "-", words.lower()).strip("-")


def shown_limit(value: float, dimension: str, measure: str = "") -> Quantity:
    """Return a value [SI], which is shown without the last binary digits of the conversion."""
    return quantity(value, dimension, measure or None)


@dataclass(frozen=True)
class Between:
    """The two ends of what a circuit has; it has no value of its own."""

    ends: Quantity

    def block(self) -> dict[str, object]:
        """Return the ends as answers show them."""
        return {name: part for name, part in self.ends.block().items() if name != "value"}


def spanned(span: Span, dimension: str, measure: str = "") -> Quantity | Between:
    """Return a span as answers show it: one value, or its two ends."""
    high = shown_limit(span.high, dimension, measure)
    if math.isclose(*span, rel_tol=1e-12):
        return high
    return Between(replace(high, value=None, low=span.low, high=span.high))


def asked_value(circuit: Circuit, dimension: str, kinds: frozenset[str], measure: str) -> Span | None:
    """Return what a circuit has of a dimension [SI], under the kinds of a limit and in its measure."""
    current = None if circuit.current is None else Span(circuit.current, circuit.current)
    constant = circuit.time_constant
    values: Mapping[str, Span | None] = {
        "voltage": circuit.volts(kinds, "rms" if measure == "rms" else "peak"),
        "current": current and current.times(SINE if measure == "peak" else 1.0),
        "charge": circuit.charge,
        "energy": circuit.energy,
        "capacitance": None if circuit.capacitance is None else Span(circuit.capacitance, circuit.capacitance),
        "power": circuit.power(kinds),
        "time": None if constant is None else Span(constant, constant),
    }
    return values[dimension]


def voltage_left(dimension: str, limit: float, circuit: Circuit) -> float | None:
    """Return the voltage at which the circuit's capacitor comes down to a limit [V], where it is known."""
    if dimension == "voltage":
        return limit
    if circuit.capacitance is None or dimension not in ("charge", "energy"):
        return None
    return limit / circuit.capacitance if dimension == "charge" else math.sqrt(2 * limit / circuit.capacitance)


def every_limit(circuit: Circuit, reference: Reference, year: int | None = None) -> Iterator[PublishedLimit]:
    """Yield every limit that could concern a circuit.

    Parameters
    ----------
    year : int, optional
        Of the editions that are asked; the newest otherwise.
    """
    yield from product_limits(circuit, reference, year)
    for part in (capacitor_limits, steady_limits, practice_limits):
        yield from part(circuit, reference)


# Accessible parts: product standards


def product_limits(circuit: Circuit, reference: Reference, year: int | None = None) -> Iterator[PublishedLimit]:
    """Yield the limits for accessible parts; rows of one value in several standards are joined."""
    table = reference.table("shock-limits").as_of(year)
    groups: dict[tuple[str, str, str, float], list[int]] = {}
    for row in range(len(table)):
        dimension = DIMENSION_OF_UNIT[table.text("unit")[row]]
        kind, measure = table.text("kind")[row], table.text("measure")[row]
        if _concerns(circuit, dimension, kind):
            groups.setdefault((dimension, measure, kind, float(table["value"][row])), []).append(row)
    for (dimension, measure, kind, value), rows in groups.items():
        yield _product_limit(circuit, table, rows, dimension, measure, kind, value)


def _kinds(kind: str) -> frozenset[str]:
    return frozenset(kind.split(" or ")) if kind else frozenset()


def _concerns(circuit: Circuit, dimension: str, kind: str) -> bool:
    # the voltage limits of these standards name no frequency above which they end
    wanted = frozenset({"ac"}) if dimension == "voltage" and circuit.kinds == {"fast"} else circuit.kinds
    return not kind or bool(_kinds(kind) & wanted)


def _product_limit(
    circuit: Circuit, table: Table, rows: list[int], dimension: str, measure: str, kind: str, value: float
) -> PublishedLimit:
    applies = {row: _product_row_applies(circuit, table, row, dimension, kind) for row in rows}
    chosen = [row for row in rows if applies[row] is not False] or rows
    asked = asked_value(circuit, dimension, _kinds(kind), measure)
    exceeds = above(asked, value)
    states = {state_of(applies[row], exceeds) for row in chosen}
    title = f"{table.text('value')[rows[0]]} {table.text('unit')[rows[0]]}"
    title += "".join(f" {word}" for word in dict.fromkeys((kind, measure)) if word)
    conditions = [f"{table.text('condition')[row]}, {table.text('limited_quantity')[row]}" for row in chosen]
    clauses = _once(table, "standard_clause", chosen)
    further = {"editions": list(_once(table, "edition", chosen)), "conditions": list(dict.fromkeys(conditions))}
    left = voltage_left(dimension, value, circuit) if measure in ("", "dc") else None
    origin = weakest(table.provenance[row] for row in chosen)
    state = next(one for one in STATE_OF_SEVERAL if one in states)
    key = f"{dimension}-{slug(title)}"
    return PublishedLimit(key, title, dimension, value, asked, state, table, origin, measure, clauses, further, left)


STATE_OF_SEVERAL = (EXCEEDED, UNKNOWN, NOT_EXCEEDED, DOES_NOT_APPLY)
"""Which state several rows of one value have together: the most cautious that one of them has."""


def _once(table: Table, name: str, rows: list[int]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(table.text(name)[row] for row in rows))


def _product_row_applies(circuit: Circuit, table: Table, row: int, dimension: str, kind: str) -> bool | None:
    if dimension == "time" and circuit.bleed_resistance is None:
        return False
    return all_hold(
        (
            _in_range(circuit.volts(_kinds(kind)) if kind else circuit.voltage, table, row),
            _large_enough(circuit, table, row),
        )
    )


def _in_range(asked: Span | None, table: Table, row: int, *, reached: bool = False) -> bool | None:
    """Return whether a voltage lies above and up to what a row states."""
    lowest, highest = float(table["voltage_above"][row]), float(table["voltage_below"][row])
    conditions = [above(asked, lowest, reached=reached)] if np.isfinite(lowest) else []
    if np.isfinite(highest):
        beyond = above(asked, highest)
        conditions.append(None if beyond is None else not beyond)
    return all_hold(conditions)


def _large_enough(circuit: Circuit, table: Table, row: int) -> bool | None:
    least = float(table["capacitance_above"][row])
    if not np.isfinite(least):
        return True
    return above(None if circuit.capacitance is None else Span(circuit.capacitance, circuit.capacitance), least)


# Energy sources of IEC 62368-1


FOURTH, FIFTH = ("IEC 62368-1 Table 4",), ("IEC 62368-1 Table 5",)


def capacitor_limits(circuit: Circuit, reference: Reference) -> Iterator[PublishedLimit]:
    """Yield the limits of IEC 62368-1 for a charged capacitor, ES1 and ES2, linear between rows.

    At the circuit's voltage they are a charge; up to the first row, or where only the capacitance is known, a voltage.
    """
    table = reference.table("iec-62368-1-charged-capacitor")
    at = circuit.voltage
    for level, column in LEVELS.items():
        voltages, capacitances = table[f"{column}_voltage"], table["capacitance"]
        left = _voltage_of(circuit.capacitance, capacitances, voltages)
        title, origin = f"{level}, charged capacitor", weakest(table.provenance)
        first, last = float(voltages[0]), float(voltages[-1])
        volt = None if at is None else at.high
        if volt is not None and first < volt <= last:
            limit = volt * float(np.interp(volt, voltages, capacitances))
            rule = {"rule": f"Table 5 at {volts(volt)}, linear between rows"}
            state = state_of(True, above(circuit.charge, limit))
            key = f"{column}-charge"
            yield PublishedLimit(
                key,
                title,
                "charge",
                limit,
                circuit.charge,
                state,
                table,
                origin,
                clauses=FIFTH,
                further=rule,
                left=left,
                level=column,
                stored=True,
            )
            continue
        limit_voltage = first if volt is not None and volt <= first else left
        if limit_voltage is not None:
            rule = {"rule": "Table 5 at this capacitance, linear between rows" if left else "Table 5, first row"}
            state = state_of(True, above(at, limit_voltage))
            key = f"{column}-voltage"
            yield PublishedLimit(
                key,
                title,
                "voltage",
                limit_voltage,
                at,
                state,
                table,
                origin,
                "dc",
                FIFTH,
                rule,
                left,
                level=column,
                stored=True,
            )


def _voltage_of(capacitance: float | None, capacitances: np.ndarray, voltages: np.ndarray) -> float | None:
    """Return the voltage limit of a capacitance [V]; of a larger one than the first row the first row's."""
    if capacitance is None or capacitance < capacitances.min() * (1 - ROUNDING):
        return None
    order = np.argsort(capacitances)
    return float(np.interp(capacitance, capacitances[order], voltages[order]))


STEADY: Mapping[str, tuple[str, str, float, float]] = {
    "dc": ("voltage", "dc", -1.0, -1.0),
    "ac-0-1-khz-rms": ("voltage", "rms", 0.0, 1e3),
    "ac-0-1-khz-peak": ("voltage", "peak", 0.0, 1e3),
    "ac-1-100-khz-rms-f-in-khz": ("voltage", "rms", 1e3, FAST),
    "ac-above-100-khz-rms": ("voltage", "rms", FAST, np.inf),
    "current-dc": ("current", "dc", -1.0, -1.0),
    "current-ac-rms-up-to-1-khz": ("current", "rms", 0.0, 1e3),
    "current-ac-peak-up-to-1-khz": ("current", "peak", 0.0, 1e3),
    "current-ac-above-100-khz-rms-es2": ("current", "rms", FAST, np.inf),
}
"""Row to dimension, measure, and the frequencies above and up to which it holds [Hz]; -1 for direct."""


def steady_limits(circuit: Circuit, reference: Reference) -> Iterator[PublishedLimit]:
    """Yield the steady-state limits of IEC 62368-1 that belong to the circuit's frequency.

    A class is left only where voltage and current both exceed it: a limit on current applies above that on voltage.
    """
    table = reference.table("iec-62368-1-limits")
    for level, column in LEVELS.items():
        rows = dict(_steady_rows(circuit, table, column))
        allowed = {
            kind: min(
                value * (SINE if measure == "rms" else 1.0)
                for _, (dimension, measure, value) in rows.items()
                if dimension == "voltage" and (measure == "dc") == (kind == "dc")
            )
            for kind in {"dc" if measure == "dc" else "ac" for dimension, measure, _ in rows.values()}
        }
        for row, (dimension, measure, value) in rows.items():
            kind = "dc" if measure == "dc" else "ac"
            asked = asked_value(circuit, dimension, frozenset({kind}), measure)
            beyond = above(circuit.volts(frozenset({kind})), allowed[kind])
            state = state_of(beyond if dimension == "current" else True, above(asked, value))
            key, origin = table.text("key")[row], table.provenance[row]
            title = f"{level}, {_printed(table, row, column, value, dimension)} {measure}"
            further = {"conditions": [table.text("limited_quantity")[row]]}
            left = value if key == "dc" else None
            name = f"{column}-{key}"
            yield PublishedLimit(
                name, title, dimension, value, asked, state, table, origin, measure, FOURTH, further, left, level=column
            )


def _steady_rows(circuit: Circuit, table: Table, column: str) -> Iterator[tuple[int, tuple[str, str, float]]]:
    for row, key in enumerate(table.text("key")):
        dimension, measure, low, high = STEADY.get(key, ("", "", np.inf, np.inf))
        slope = np.nan_to_num(table[f"{column}_slope"][row])
        value = float(table[f"{column}_value"][row] + slope * (circuit.frequency or 0.0))
        fits = low < circuit.frequency <= high if circuit.frequency is not None else high in (-1.0, 1e3)
        if dimension and fits and ("dc" if measure == "dc" else "ac") in _seen(circuit) and not np.isnan(value):
            yield row, (dimension, measure, value)


def _seen(circuit: Circuit) -> frozenset[str]:
    return frozenset({"ac"}) if circuit.kinds == {"fast"} else circuit.kinds


def _printed(table: Table, row: int, column: str, value: float, dimension: str) -> str:
    words = table.text(f"{column}_limit_printed")[row]
    unit = table.text(f"{column}_unit")[row]
    if np.isfinite(table[f"{column}_slope"][row]):
        return f"{words} = {said(value, dimension, unit=unit)}"
    return f"{words} {unit}"


def classes(circuit: Circuit, limits: Iterable[PublishedLimit]) -> list[dict[str, str]]:
    """Return whether each class of IEC 62368-1 is exceeded: by voltage and current together, or by what is stored.

    Parameters
    ----------
    limits : iterable of PublishedLimit
        All of them.
    """
    every = list(limits)
    return [
        {"key": column, "title": f"{level} of IEC 62368-1", "state": _class_state(circuit, every, column)}
        for level, column in LEVELS.items()
    ]


def _class_state(circuit: Circuit, limits: list[PublishedLimit], column: str) -> str:
    own = [one for one in limits if one.level == column]
    stored = [one.state for one in own if one.stored]
    if EXCEEDED in stored:
        return EXCEEDED
    steady = [one for one in own if not one.stored]
    found = {_steady_state(steady, circuit.charge is None, direct=kind == "dc") for kind in _seen(circuit)}
    # above some 30 kHz a voltage within its limit may still leave a capacitor charged beyond the class
    return UNKNOWN if len(found) > 1 or (found == {NOT_EXCEEDED} and UNKNOWN in stored) else found.pop()


def _steady_state(limits: list[PublishedLimit], charged: bool, *, direct: bool) -> str:
    """Return the state of a class for one kind of supply; a source too weak for it may still have stored a charge."""
    own = [one for one in limits if (one.measure == "dc") == direct]
    voltages, currents = ({one.state for one in own if one.dimension == name} for name in ("voltage", "current"))
    if voltages == {NOT_EXCEEDED}:
        return NOT_EXCEEDED
    if EXCEEDED in voltages and EXCEEDED in currents:
        return EXCEEDED
    return NOT_EXCEEDED if currents == {NOT_EXCEEDED} and not charged else UNKNOWN


# Laboratory practice

COLUMNS: Mapping[str, str] = {
    "energy": "energy_above",
    "current": "current_above",
    "power": "power_above",
    "time": "time_within",
}
PRINTED: Mapping[str, str] = {
    "energy": r"[\d.]+ k?J",
    "current": r"[\d.]+ m?A",
    "power": r"[\d.]+ (?:VA|W)",
    "voltage": r"[\d.]+ k?V",
    "time": r"[\d.]+ min",
}
"""How a threshold stands in its row."""


def practice_limits(circuit: Circuit, reference: Reference) -> Iterator[PublishedLimit]:
    """Yield the thresholds of laboratory practice; where a row has a voltage too, both must be exceeded."""
    table = reference.table("energy-source-practice")
    for row, kind in enumerate(table.text("kind")):
        highest = float(table["frequency_below"][row])
        if not kind or (circuit.frequency or 0.0) > highest or (kind in ("dc", "ac") and kind not in circuit.kinds):
            continue
        columns = {name: float(table[column][row]) for name, column in COLUMNS.items()}
        filled = {name: value for name, value in columns.items() if np.isfinite(value)}
        if filled:
            yield from (_practice_limit(circuit, table, row, *pair) for pair in filled.items())
        else:
            yield _practice_limit(circuit, table, row, "voltage", float(table["voltage_above"][row]))


def _practice_limit(circuit: Circuit, table: Table, row: int, dimension: str, value: float) -> PublishedLimit:
    words, kind, source = (table.text(name)[row] for name in ("threshold_printed", "kind", "source_kind"))
    reached = ">=" in words
    kinds = frozenset({kind}) & {"dc", "ac"}
    measure = {"dc": "dc", "ac": "rms"}.get(kind, "") if dimension in ("voltage", "current") else ""
    asked = asked_value(circuit, dimension, kinds, measure)
    volts_asked = circuit.voltage if kind == "stored" else circuit.volts(kinds, "rms")
    applies = True if dimension == "voltage" else _in_range(volts_asked, table, row, reached=reached)
    down_to = float(table["down_to"][row])
    if dimension == "time":
        time = circuit.time_to(down_to)
        asked = None if time is None else Span(time[1], time[1])
        applies = False if circuit.bleed_resistance is None else applies
    scheme = f"{table.text('scheme')[row]}, {source}"
    printed = re.findall(PRINTED[dimension], words) or [said(value, dimension)]
    title = printed[-1] + (f" to {volts(down_to)}" if np.isfinite(down_to) else "")
    left = down_to if np.isfinite(down_to) else voltage_left(dimension, value, circuit)
    return PublishedLimit(
        slug(f"{scheme} {title}"),
        title,
        dimension,
        value,
        asked,
        state_of(applies, above(asked, value, reached=reached)),
        table,
        table.provenance[row],
        measure,
        (scheme,),
        {"conditions": [f"{scheme}: {words}"]},
        left if kind == "stored" or dimension == "voltage" else None,
    )
