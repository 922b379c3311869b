"""A limit beside what was asked: exceeded, not exceeded, or not known; and which of several is the strictest."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from service import units
from service.answers.blocks import source_block
from service.reference import Table
from service.standards.circuit import Circuit
from service.standards.reading import SLACK

STORED = ("charge", "energy", "capacitance")
ORDER: Mapping[str, int] = {"charge": 0, "energy": 0, "capacitance": 0, "voltage": 1, "current": 2, "time": 3}
"""Limits on what is stored come first, then voltage, current and time."""


@dataclass(frozen=True)
class Limit:
    """A published limit and what was asked, in SI.

    Parameters
    ----------
    key, title : str
        The title as printed: ``45 uC``.
    dimension : str
        Of the limit.
    limit : float
        [SI].
    asked : float or None
        The same quantity of the circuit, where it is known.
    exceeded : bool or None
        ``None`` where an input is missing.
    table : Table
        Where it stands.
    provenance : str
        Of its rows.
    measure : str
        Of a voltage or current: ``peak``, ``rms``, ``dc``; empty of others.
    further : mapping
        Clause, condition, rule.
    left : float or None
        Voltage at which a capacitor has come down to the limit [V].
    """

    key: str
    title: str
    dimension: str
    limit: float
    asked: float | None
    exceeded: bool | None
    table: Table
    provenance: str
    measure: str = ""
    further: Mapping[str, Any] = field(default_factory=dict)
    left: float | None = None

    def block(self) -> dict[str, Any]:
        """Return the limit as answers show it."""
        block: dict[str, Any] = {
            "key": self.key,
            "title": self.title,
            "limit": shown(self.limit, self.dimension, self.measure),
        }
        if self.asked is not None:
            block["asked"] = shown(self.asked, self.dimension, self.measure)
        block["exceeded"] = self.exceeded
        return block | {**self.further, "source": source_block(self.table.source), "provenance": self.provenance}

    def strictness(self, circuit: Circuit) -> tuple[float, ...]:
        """Return a key that sorts the strictest first: what is stored by its energy at the circuit's voltage."""
        group = ORDER[self.dimension]
        peak = self.limit * (math.sqrt(2) if self.measure == "rms" else 1.0)
        if self.dimension not in STORED:
            return (group, 0, peak)
        if circuit.voltage is None:
            return (group, STORED.index(self.dimension), self.limit)
        volt = circuit.voltage
        return (group, 0, {"charge": volt / 2, "energy": 1.0, "capacitance": volt**2 / 2}[self.dimension] * self.limit)


def above(asked: float | None, limit: float, reached: bool = False) -> bool | None:
    """Return whether a value exceeds a limit; ``None`` where the value is not known.

    Parameters
    ----------
    asked : float or None
    limit : float
    reached : bool
        Whether the value that equals the limit exceeds it, as where a threshold is printed with ``>=``.

    Examples
    --------
    >>> above(45e-6, 45e-6), above(45e-6, 45e-6, reached=True), above(None, 45e-6)
    (False, True, None)
    """
    if asked is None:
        return None
    return asked >= limit * (1 - SLACK) if reached else asked > limit * (1 + SLACK)


def both(first: bool | None, second: bool | None) -> bool | None:
    """Return whether both are true; ``None`` where that is not known."""
    if first is False or second is False:
        return False
    return None if first is None or second is None else True


def voltage_left(dimension: str, limit: float, circuit: Circuit) -> float | None:
    """Return the voltage at which the circuit's capacitor comes down to a limit [V], where it is known."""
    if dimension == "voltage":
        return limit
    if circuit.capacitance is None or dimension not in ("charge", "energy"):
        return None
    return limit / circuit.capacitance if dimension == "charge" else math.sqrt(2 * limit / circuit.capacitance)


def slug(words: str) -> str:
    """Return words as a key: lower case, with hyphens.

    Examples
    --------
    >>> slug("ES1, 42.4 V peak")
    'es1-42.4-v-peak'
    """
    return re.sub(r"[^a-z0-9.]+", "-", words.lower()).strip("-")


def shown(value: float, dimension: str, measure: str = "") -> dict[str, Any]:
    """Return a value [SI] as answers show it, without the last binary digits of the conversion."""
    block = units.quantity(value, dimension, measure=measure or None)
    block["value"] = float(f"{block['value']:.12g}")
    return block | ({"measure": measure} if measure else {})


def strictest_first(limits: Iterable[Limit], circuit: Circuit) -> list[Limit]:
    """Return limits sorted, the strictest first."""
    return sorted(limits, key=lambda one: one.strictness(circuit))
