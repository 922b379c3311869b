"""Test voltages of a barrier: impulse at the altitude of the laboratory, alternating, direct, partial discharge.

IEC 60664-1 (2007): Table F.5 for impulses across clearances below 2000 m, clause 6.1.3 for solid insulation; memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from service.physics import atmosphere
from service.reference import Reference, Table
from service.standards import clearance
from service.standards.clearance import ClearanceTables
from service.standards.ladder import ReadValue, provenance_block, together
from service.standards.requirement import ClearanceQuestion, metres, quantity, volts
from service.units import ROUNDING

REFERENCE_ALTITUDE = 2000.0
"""Altitude up to which clearances are dimensioned without a correction [m]."""
PRINTED = {0.0: "test_at_0_m", 200.0: "test_at_200_m", 500.0: "test_at_500_m"}
"""Altitude to column of Table F.5 [m]."""


@dataclass(frozen=True)
class WithstandTest:
    """A test voltage [V] of a barrier: what is applied, how, and where it is printed."""

    key: str
    title: str
    voltage: float
    measure: str
    applied: str
    rule: str
    table: Table
    provenance: str

    def block(self) -> dict[str, object]:
        """Return the test as answers show it."""
        return {
            "key": self.key,
            "title": self.title,
            "voltage": quantity(float(f"{self.voltage:.6g}"), "voltage", self.measure),
            "applied": self.applied,
            "rule": self.rule,
            "table": self.table.key,
            "source": self.table.source.block(),
            **provenance_block(self.provenance),
        }


@dataclass(frozen=True, eq=False)
class WithstandTables:
    """Tables of the test voltages."""

    rules: Table
    factors: Table
    """Table F.5."""
    altitudes: Table
    exponents: Table

    @classmethod
    def of(cls, reference: Reference) -> WithstandTables:
        """Return the tables in use."""
        names = ("rules", "table-f5", "laboratory-altitudes", "impulse-exponents")
        return cls(*(reference.table(f"iec-60664-1-{name}") for name in names))

    def number(self, rule: str) -> tuple[float, str]:
        """Return the number of a rule and its provenance."""
        row = self.rules.text("rule").index(rule)
        return float(self.rules["number"][row]), self.rules.provenance[row]

    def words(self, rule: str) -> str:
        """Return the printed value of a rule."""
        return str(self.rules.row(rule)["value"])


def impulse_at(voltage: float, laboratory: float, tables: WithstandTables) -> ReadValue:
    """Return the test voltage [V] at a laboratory altitude [m] of a clearance that is dimensioned for 2000 m.

    A voltage of Table F.5 as printed, straight between its altitudes and 2000 m; another, and above 2000 m, by the
    relation of the table, ``U (1/k)^m``: ``k`` from below 2000 m, above it the pressure over that at 2000 m.
    """
    exponent = _exponent(voltage, tables)
    if laboratory >= REFERENCE_ALTITUDE:
        thin = float(atmosphere.standard_pressure(laboratory) / atmosphere.standard_pressure(REFERENCE_ALTITUDE))
        rule = f"{volts(voltage)} x (p/p of 2000 m)^{exponent:g}"
        return ReadValue(voltage * thin**exponent, metres(laboratory), rule, tables.exponents.provenance[0])
    table = tables.factors
    same = np.flatnonzero(np.isclose(table["impulse_voltage"], voltage, rtol=ROUNDING))
    if same.size:
        row = int(same[0])
        heights = [*PRINTED, REFERENCE_ALTITUDE]
        ends = [*(float(table[column][row]) for column in PRINTED.values()), voltage]
        rule = "as printed" if min(abs(laboratory - height) for height in PRINTED) < 1 else "straight between altitudes"
        value = float(np.interp(laboratory, heights, ends))
        return ReadValue(value, f"F.5: {volts(voltage)} at {metres(max(laboratory, 0.0))}", rule, table.provenance[row])
    factors = tables.altitudes["factor"] ** -exponent
    value = voltage * float(np.interp(laboratory, tables.altitudes["altitude"], factors))
    rule = f"{volts(voltage)} x (1/k)^{exponent:g}, straight between the altitudes of k"
    return ReadValue(value, f"k at {metres(max(laboratory, 0.0))}", rule, tables.altitudes.provenance[0])


def _exponent(voltage: float, tables: WithstandTables) -> float:
    tops = tables.exponents["impulse_voltage"]
    place = min(int(np.searchsorted(tops, voltage * (1 - ROUNDING))), len(tops) - 1)
    return float(tables.exponents["exponent"][place])


def tests(
    asked: ClearanceQuestion, laboratory: float, air: ClearanceTables, tables: WithstandTables
) -> tuple[list[WithstandTest], list[str]]:
    """Return the test voltages of a barrier, and why some are missing.

    ``laboratory`` is its altitude [m].
    """
    found = [*_impulses(asked, laboratory, air, tables), *_withstand(asked, air, tables)]
    found += _partial_discharge(asked, tables)
    keys = {one.key for one in found}
    conditions = {
        "No impulse test voltage: neither system_voltage nor impulse_voltage was given.": "impulse-clearance",
        "No alternating or direct test voltage: it follows the temporary overvoltage, of which none is given or listed "
        "here.": "alternating",
        "No partial discharge test voltage: neither recurring_peak_voltage nor working_voltage was given.": (
            "partial-discharge"
        ),
    }
    return found, [sentence for sentence, key in conditions.items() if key not in keys]


def _impulses(
    asked: ClearanceQuestion, laboratory: float, air: ClearanceTables, tables: WithstandTables
) -> Iterator[WithstandTest]:
    if asked.system_voltage is not None:
        first = clearance.mains_impulse(asked, air)
    elif asked.impulse_voltage is not None:
        first = ReadValue(asked.impulse_voltage, "as given", "", "")
    else:
        return
    wanted, why = clearance.graded_impulse(asked, first.value, air)
    found = impulse_at(wanted, laboratory, tables)
    thin, grown = _thinner(asked, wanted, air, tables)
    origins = together(part for part in (first.provenance, found.provenance) if part)
    of = f"{volts(first.value)} ({first.row}){why}"
    yield WithstandTest(
        "impulse-clearance",
        f"Impulse across the clearance, laboratory at {metres(laboratory)}",
        found.value * thin,
        "peak",
        f"{tables.words('impulse_test_clearance')}, 1.2/50 us",
        f"{of}; {found.row}, {found.rule}{grown}",
        tables.factors,
        origins,
    )
    yield WithstandTest(
        "impulse-solid",
        "Impulse across solid insulation, at any altitude",
        wanted,
        "peak",
        f"{tables.words('impulse_test_solid')}, 1.2/50 us",
        f"{of}; not corrected for altitude",
        tables.rules,
        origins,
    )


def _thinner(
    asked: ClearanceQuestion, wanted: float, air: ClearanceTables, tables: WithstandTables
) -> tuple[float, str]:
    """Return the factor on the test voltage of a clearance that is meant for more than 2000 m."""
    factor = clearance.altitude_factor(asked.altitude, air.altitude).value
    if factor <= 1.0:
        return 1.0, ""
    exponent = _exponent(wanted, tables)
    return (
        factor**exponent,
        f"; x {factor:.6g}^{exponent:g} since the clearance is meant for {metres(asked.altitude or 0)}",
    )


def _withstand(asked: ClearanceQuestion, air: ClearanceTables, tables: WithstandTables) -> Iterator[WithstandTest]:
    overvoltage = clearance.temporary_of(asked, air)
    if overvoltage is None:
        return
    grade = 2.0 if asked.reinforced else 1.0
    seconds, memory = tables.number("alternating_test_time")
    root, _ = tables.number("direct_test")
    doubled = ", doubled for reinforced insulation" if asked.reinforced else ""
    of = f"{volts(overvoltage.value)} {'dc' if asked.direct else 'rms'} ({overvoltage.row}){doubled}"
    origins = together((*(overvoltage.provenance,) * bool(overvoltage.provenance), memory))
    direct = overvoltage.value * grade * (1.0 if asked.direct else root)
    applied = f"{seconds:g} s, raised from zero within 5 s"
    yield WithstandTest(
        "alternating",
        "Alternating voltage across solid insulation, 50 or 60 Hz",
        direct / root,
        "rms",
        applied,
        of,
        tables.rules,
        origins,
    )
    yield WithstandTest(
        "direct", "Direct voltage in its place", direct, "dc", applied, f"{of}; peak of it", tables.rules, origins
    )


def _partial_discharge(asked: ClearanceQuestion, tables: WithstandTables) -> Iterator[WithstandTest]:
    basic, memory = tables.number("partial_discharge_basic_factor")
    more, _ = tables.number("partial_discharge_reinforced_factor")
    hysteresis, _ = tables.number("partial_discharge_hysteresis_factor")
    mains, _ = tables.number("partial_discharge_mains_factor")
    if asked.recurring_peak_voltage is not None:
        high, of = asked.recurring_peak_voltage, f"recurring peak {volts(asked.recurring_peak_voltage)}"
    elif asked.steady_peak is not None:
        share = mains if asked.system_voltage is not None and not asked.direct else 1.0
        high = asked.steady_peak * share
        swing = f" x F4 {mains:g} for the swing of the mains" if share > 1 else ""
        of = f"peak of the working voltage {volts(asked.steady_peak)}{swing}"
    else:
        return
    factor = basic * (more if asked.reinforced else 1.0)
    words = f"F1 F3 = {factor:g}" if asked.reinforced else f"F1 = {factor:g}"
    needed, _ = tables.number("partial_discharge_needed_above")
    asks = (
        "asked of solid insulation where the peak is 700 V or more and the mean field above 1 kV/mm"
        if high >= needed * (1 - ROUNDING)
        else "below 700 V peak: not asked of solid insulation"
    )
    yield WithstandTest(
        "partial-discharge",
        "Partial discharge: the voltage at which none may be left",
        high * factor,
        "peak",
        "alternating; lowered from the initial voltage until the discharge ends, then held",
        f"{words} x {of}; {asks}",
        tables.rules,
        memory,
    )
    yield WithstandTest(
        "partial-discharge-initial",
        "Partial discharge: the voltage from which it is lowered",
        high * factor * hysteresis,
        "peak",
        "for at most 5 s",
        f"F2 = {hysteresis:g} x the test voltage",
        tables.rules,
        memory,
    )


def rows(found: Sequence[WithstandTest]) -> list[dict[str, object]]:
    """Return tests as answers show them."""
    return [one.block() for one in found]
