"""Clearance: every distance through air that applies to a question, what other tables ask, and the altitude on top.

IEC 60664-1, Tables F.1 and F.2 for impulses, F.7a for voltages that stay, recur or last for seconds, A.2 for thin air;
IEC 60664-4 above 30 kHz. Reinforced insulation: the next step of the preferred series, or 160 % of the voltage.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from service import units
from service.answers.situation import SINE
from service.errors import BadQuestion
from service.methods import FloatArray
from service.physics.corrections import HIGHEST_FREQUENCY
from service.physics.numbers import functions_for
from service.reference import Reference, Table
from service.standards.ladder import (
    FINEST,
    Ladder,
    ReadValue,
    chosen,
    first_from,
    numbers,
    origin,
    read,
    round_up,
    table_ends,
    together,
)
from service.standards.requirement import (
    CATEGORIES,
    DIRECT,
    SUPPLIES,
    ClearanceQuestion,
    ReadFor,
    Requirement,
    governing,
    kilohertz,
    metres,
    millimetres,
    peak,
    quantity,
    volts,
)
from service.units import ROUNDING

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


HIGH_FREQUENCY = 30e3
"""Frequency above which IEC 60664-4 applies [Hz]; its scope."""
PEAK = "recurring_peak_voltage"
TEMPORARY = "temporary_overvoltage"
SHORT_TERM, LONG_TERM = "temporary_overvoltage_short_term", "temporary_overvoltage_long_term"
THICKER_AIR = (
    "Change the design: keep the gap at the pressure of a lower place (a sealed housing), or put solid insulation in."
)


def requirements(asked: ClearanceQuestion, tables: ClearanceTables) -> list[Requirement]:
    """Return every clearance that applies to a question with at least one voltage.

    Raises
    ------
    BadQuestion
        When a high frequency is given without the voltage that it belongs to.
    OutsideValidity
        When a voltage, frequency or altitude lies beyond the last row of its table.
    """
    found = [one for rule in RULES for one in rule(asked, tables)]
    return found + list(_altitude(asked, tables, governing(found)))


# impulses


def impulse(asked: ClearanceQuestion, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for the impulse voltage, of the mains or as given, where there is one."""
    if asked.system_voltage is not None:
        yield _of_mains(asked, tables)
    if asked.impulse_voltage is not None:
        yield _as_given(asked, asked.impulse_voltage, tables)


def mains_impulse(asked: ClearanceQuestion, tables: ClearanceTables) -> ReadValue:
    """Return the impulse voltage of the mains [V], of basic insulation.

    Raises
    ------
    OutsideValidity
        When Table F.1 ends below the system voltage, for that kind of supply.
    """
    assert asked.system_voltage is not None
    system = asked.system_voltage
    ladder = tables.mains[asked.supply, str(asked.category)]
    if not ladder.covers(system):
        kind = "direct supplies" if asked.direct else "alternating supplies (the rows above are for direct ones)"
        detail = f"Table F.1 ends at {volts(ladder.last)} for {kind}; system_voltage lies above it."
        raise table_ends("system_voltage", detail, "voltage", ladder.last, "dc" if asked.direct else "rms", LOWER)
    return ladder.step_up(system)


def _of_mains(asked: ClearanceQuestion, tables: ClearanceTables) -> Requirement:
    column, first = tables.column(asked), mains_impulse(asked, tables)
    wanted, why = graded_impulse(asked, first.value, tables)
    found = at_least(asked, tables, column.step_up(wanted))
    row = f"F.1: {first.row}, category {asked.category}; F.2: {found.row}, {column_words(asked)}"
    rule = f"{found.rule}; rows are not interpolated for the mains" if "next row" in found.rule else found.rule
    whole = ReadValue(found.value, row, rule, together((first.provenance, found.provenance)))
    why = f"Table F.1 asks for {volts(first.value)}{why}"
    return Requirement.read(
        "impulse", "Impulses of the mains", whole, column.table, why, {"impulse_voltage": peak(wanted)}
    )


def _as_given(asked: ClearanceQuestion, voltage: float, tables: ClearanceTables) -> Requirement:
    wanted, why = graded_impulse(asked, voltage, tables)
    column = covered(tables.column(asked), wanted, "impulse_voltage", wanted / voltage)
    found = at_least(asked, tables, column.interpolated(wanted))
    whole = ReadValue(found.value, f"F.2: {found.row}, {column_words(asked)}", found.rule, found.provenance)
    why = f"{volts(voltage)} as given{why}"
    return Requirement.read("impulse", "Impulses as given", whole, column.table, why, {"impulse_voltage": peak(wanted)})


def graded_impulse(asked: ClearanceQuestion, voltage: float, tables: ClearanceTables) -> tuple[float, str]:
    """Return the impulse voltage [V] that a grade is dimensioned for, and why in words."""
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
    of, steps = functions_for(voltage), np.array([0.0, *preferred, np.inf])
    place = first_from(preferred, voltage * (1 + ROUNDING), "right")
    if place == preferred.size:
        return voltage * factor
    following, above_asks = read(steps, place + 1), read(steps, place + 2)
    below_asks = chosen(place > 0, following, 0.0)
    between = of.minimum(of.maximum(voltage * factor, below_asks), above_asks)
    reinforced: float = chosen(read(steps, place) >= voltage * (1 - ROUNDING), following, between)
    return reinforced


def at_least(asked: ClearanceQuestion, tables: ClearanceTables, found: ReadValue) -> ReadValue:
    """Return a clearance of Table F.2; on printed wiring at pollution degree 2 never below its own floor."""
    if not asked.printed_wiring or asked.pollution_degree != 2:
        return found
    lowest = units.to_si(tables.rules["pcb_PD2_clearance_floor"], "mm", "length")
    rule = f"printed wiring: values of pollution degree 1, never below {millimetres(lowest)}; {found.rule}"
    return ReadValue(max(found.value, lowest), found.row, rule, found.provenance)


def column_words(asked: ClearanceQuestion) -> str:
    """Return in words which column of Table F.2 was read."""
    return f"case {asked.case}, pollution degree {asked.pollution_degree}"


# voltages that stay, recur or last for seconds


def is_fast(frequency: float | None) -> bool:
    """Return whether IEC 60664-4 applies at a frequency [Hz]."""
    return frequency is not None and frequency > HIGH_FREQUENCY * (1 + ROUNDING)


def recurring_peak(asked: ClearanceQuestion, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for the peak voltage that recurs, up to 30 kHz; else for that of the working voltage."""
    if asked.recurring_peak_voltage is not None and not is_fast(asked.frequency):
        title = "Voltage that stays or recurs"
        yield _lasting("recurring-peak", title, asked, asked.recurring_peak_voltage, tables, PEAK)
    elif asked.recurring_peak_voltage is None and asked.steady_peak is not None:
        title = "Peak of the working voltage"
        yield _lasting("working-voltage", title, asked, asked.steady_peak, tables, "working_voltage")


def temporary(asked: ClearanceQuestion, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for the temporary overvoltage: 160 % of it where reinforced, which is not doubled besides."""
    overvoltage = temporary_of(asked, tables)
    if overvoltage is None:
        return
    high = overvoltage.value * (1.0 if asked.direct else SINE)
    read = _lasting("temporary-overvoltage", "Overvoltage of seconds to hours", asked, high, tables, TEMPORARY)
    rule = f"{volts(overvoltage.value)} {'dc' if asked.direct else 'rms'} ({overvoltage.row}); {read.rule}"
    yield replace(read, rule=rule, provenance=together(one for one in (overvoltage.provenance, read.provenance) if one))


def temporary_of(asked: ClearanceQuestion, tables: ClearanceTables) -> ReadValue | None:
    """Return the temporary overvoltage across basic insulation [V], rms or direct: as given, or listed for the supply.

    The basic standard lists it for the alternating mains: the voltage of the system and 1200 V; of an unearthed system
    the voltage line to line is taken for it. Nothing is listed for direct supplies.
    """
    if asked.temporary_overvoltage is not None:
        return ReadValue(asked.temporary_overvoltage, "as given", "", "")
    if not asked.listed or asked.system_voltage is None or asked.direct:
        return None
    row = tables.rules_table.text("rule").index(SHORT_TERM)
    value = asked.system_voltage + float(tables.rules_table["number"][row])
    of = f"listed: {tables.rules_table.text('value_printed')[row]}"
    return ReadValue(value, of, "", tables.rules_table.provenance[row])


def _lasting(
    key: str, title: str, asked: ClearanceQuestion, voltage: float, tables: ClearanceTables, parameter: str
) -> Requirement:
    wanted, rule, factor = graded_peak(asked, voltage, tables)
    sine = SINE if parameter != PEAK and not asked.direct else 1.0
    measure = None if parameter == PEAK else "dc" if asked.direct else "rms"
    ladder = covered(tables.peak[asked.case], wanted, parameter, factor * sine, _design(asked), measure)
    found = ladder.interpolated(wanted)
    whole = ReadValue(found.value, f"F.7a: {found.row}, case {asked.case}", found.rule, found.provenance)
    return Requirement.read(key, title, whole, ladder.table, rule, {"peak_voltage": peak(wanted)})


def _design(asked: ClearanceQuestion) -> str:
    return PARTED if asked.homogeneous else ROUNDER


def graded_peak(asked: ClearanceQuestion, voltage: float, tables: ClearanceTables) -> tuple[float, str, float]:
    """Return the peak voltage to dimension for [V], the rule in words, and the factor of the grade."""
    if not asked.reinforced:
        return voltage, "", 1.0
    factor = tables.rules["reinforced_clearance_steady_state_factor"]
    return voltage * factor, f"reinforced: {factor:.0%} of {volts(voltage)}", factor


def high_frequency(asked: ClearanceQuestion, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for a recurring peak voltage above 30 kHz.

    Raises
    ------
    BadQuestion
        When the frequency has no voltage.
    OutsideValidity
        When frequency or voltage lie beyond the tables.
    """
    if not is_fast(asked.frequency):
        return
    if asked.recurring_peak_voltage is None:
        raise BadQuestion.about((PEAK,), f"A frequency above 30 kHz needs {PEAK}, the voltage that it belongs to.")
    assert asked.frequency is not None
    if asked.frequency > HIGHEST_FREQUENCY * (1 + ROUNDING):
        detail = f"IEC 60664-4 ends at {kilohertz(HIGHEST_FREQUENCY)}."
        raise table_ends("frequency", detail, "frequency", HIGHEST_FREQUENCY)
    yield (_fast_homogeneous if asked.homogeneous else _fast_inhomogeneous)(asked, tables)


def _fast_inhomogeneous(asked: ClearanceQuestion, tables: ClearanceTables) -> Requirement:
    assert asked.recurring_peak_voltage is not None
    wanted, rule, factor = graded_peak(asked, asked.recurring_peak_voltage, tables)
    ladder = covered(tables.fast, wanted, PEAK, factor, ROUNDER)
    found = ladder.interpolated(wanted)
    slow = tables.peak["A"].interpolated(wanted)
    above = kilohertz(tables.frequency["critical-frequency-times-gap"] / slow.value, digits=2)
    words = (
        f"Table 1 is for frequencies above the critical one, here about {above}; it is "
        f"taken from {kilohertz(HIGH_FREQUENCY)} on, where the scope of IEC 60664-4 begins: a step up from "
        f"{millimetres(slow.value)} there, then no further growth with frequency"
    )
    whole = ReadValue(max(found.value, slow.value), f"Table 1: {found.row}", found.rule, found.provenance)
    rules = "; ".join(part for part in (rule, words) if part)
    return Requirement.read("high-frequency", "Voltage above 30 kHz", whole, ladder.table, rules, _fast(asked, wanted))


def _fast_homogeneous(asked: ClearanceQuestion, tables: ClearanceTables) -> Requirement:
    assert asked.recurring_peak_voltage is not None
    assert asked.frequency is not None
    wanted, rule, factor = graded_peak(asked, asked.recurring_peak_voltage, tables)
    ladder = covered(tables.peak["B"], wanted, PEAK, factor, PARTED)
    slow = ladder.interpolated(wanted)
    share = homogeneous_factor(slow.value, asked.frequency, tables.frequency)
    given = {**_fast(asked, wanted), "frequency_factor": ReadFor(round(share, 6))}
    grown = (
        f"{millimetres(slow.value)} x {share:.5g}, 100 % + 25 % (f - f_crit)/(f_min - f_crit), f_crit = 0.2 MHz mm/d"
    )
    words = "; ".join(part for part in (rule, grown) if part)
    origins = together((slow.provenance, *tables.fast_rules.where(rule="clearance_factor_between").provenance))
    whole = ReadValue(round_up(slow.value * share, FINEST), f"F.7a: {slow.row}, case B", slow.rule, origins)
    return Requirement.read("high-frequency", "Voltage above 30 kHz", whole, tables.fast_rules, words, given)


def _fast(asked: ClearanceQuestion, wanted: float) -> dict[str, ReadFor]:
    assert asked.frequency is not None
    return {"peak_voltage": peak(wanted), "frequency": ReadFor(asked.frequency, "frequency")}


def homogeneous_factor(clearance: float, frequency: float, constants: Mapping[str, float]) -> float:
    """Return the factor on a case B clearance above the critical frequency, taken at the enlarged clearance.

    ``factor = 1 + slope (f - f_crit)/(f_min - f_crit)``, from 1 to 1 + slope, ``f_crit = constant / clearance``

    Parameters
    ----------
    clearance : float
        Of case B at low frequency [m].
    frequency : float
        [Hz].
    constants : mapping of str to float
        ``critical-frequency-times-gap`` [Hz m], ``frequency-of-minimum`` [Hz], ``frequency-slope``.

    Examples
    --------
    IEC 60664-4, from memory: at 1 mm the critical frequency is 0.2 MHz; from 3 MHz on a quarter is added.

    >>> known = {"critical-frequency-times-gap": 200.0, "frequency-of-minimum": 3e6, "frequency-slope": 0.25}
    >>> homogeneous_factor(1e-3, 0.2e6, known), homogeneous_factor(1e-3, 3e6, known)
    (1.0, 1.25)
    """
    minimum, slope = constants["frequency-of-minimum"], constants["frequency-slope"]
    factor = 1.0
    for _ in range(60):  # each round enlarges the clearance, which lowers the critical frequency; it settles fast
        critical = constants["critical-frequency-times-gap"] / (clearance * factor)
        if frequency <= critical * (1 + ROUNDING):
            return factor
        rise = 1.0 if minimum <= critical else (frequency - critical) / (minimum - critical)
        of, settled = functions_for(rise), factor
        factor = cast("float", 1 + slope * of.minimum(rise, 1.0))
        if of.all(factor == settled):
            break
    return factor


# pollution and altitude


def pollution(asked: ClearanceQuestion, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the smallest clearance of the pollution degree, where no impulse asks for at least that."""
    if asked.system_voltage is not None or asked.impulse_voltage is not None:
        return
    column = tables.column(asked)
    found = at_least(asked, tables, column.step_up(float(column.arguments[0])))
    whole = ReadValue(found.value, f"F.2: {found.row}, {column_words(asked)}", "first row", found.provenance)
    rule = "the smallest clearance that Table F.2 has for the pollution degree"
    yield Requirement.read("pollution-degree", "Dust and moisture", whole, column.table, rule)


RULES: tuple[Callable[[ClearanceQuestion, ClearanceTables], Iterator[Requirement]], ...] = (
    impulse,
    recurring_peak,
    high_frequency,
    temporary,
    pollution,
)
"""What holds up to 2000 m."""


def altitude_factor(altitude: float | None, ladder: Ladder) -> ReadValue:
    """Return the factor on clearances: 1 up to the first row of Table A.2, linear between its rows above.

    Raises
    ------
    OutsideValidity
        Above the last row.
    """
    first = float(ladder.arguments[0])
    if altitude is None or altitude <= first:
        return ReadValue(1.0, ladder.words(first), "no correction up to here", ladder.provenances[0])
    if not ladder.covers(altitude):
        detail = f"Table A.2 ends at {ladder.words(ladder.last)}."
        raise table_ends("altitude", detail, "altitude", ladder.last, None, THICKER_AIR)
    return ladder.interpolated(altitude)


def _altitude(asked: ClearanceQuestion, tables: ClearanceTables, largest: Requirement) -> Iterator[Requirement]:
    factor = altitude_factor(asked.altitude, tables.altitude)
    if factor.value <= 1.0:
        return
    distance = round_up(largest.distance * factor.value, FINEST)
    origins = together((factor.provenance, largest.provenance))
    whole = ReadValue(distance, f"A.2: {factor.row}; {largest.row}", f"{factor.rule} of the factor", origins)
    rule = f"{millimetres(largest.distance)} of '{largest.key}' x {factor.value:.6g}"
    given = {"altitude_factor": ReadFor(factor.value)}
    read = Requirement.read("altitude", "Thin air above 2000 m", whole, tables.altitude.table, rule, given)
    yield replace(read, of=largest.key)


# beside


def other_tables(asked: ClearanceQuestion, found: Sequence[Requirement], tables: ClearanceTables) -> list[Requirement]:
    """Return what other tables ask for the same question, at the altitude asked; information, it does not govern."""
    factor = altitude_factor(asked.altitude, tables.altitude).value
    return [_at_altitude(one, factor) for part in BESIDE for one in part(asked, found, tables)]


def _at_altitude(one: Requirement, factor: float) -> Requirement:
    if factor <= 1.0:
        return one
    return replace(
        one, distance=round_up(one.distance * factor, FINEST), rule=f"{one.rule}; x {factor:.6g} for altitude"
    )


def _withstand_table(
    asked: ClearanceQuestion, found: Sequence[Requirement], tables: ClearanceTables
) -> Iterator[Requirement]:
    """Yield the gap at which Table A.1 reaches the voltage: it differs from F.7a, and neither is corrected."""
    ladders = {
        "impulse": ("impulse_voltage", tables.withstand_impulse),
        "recurring-peak": ("peak_voltage", tables.withstand_peak),
    }
    for of in [] if asked.homogeneous else [one for one in found if one.key in ladders]:
        name, ladder = ladders[of.key]
        wanted = of.given[name].value
        if ladder.arguments[0] <= wanted <= ladder.last:
            title = f"Table A.1 reaches the voltage of '{of.key}' here"
            yield Requirement.read("withstand-table", title, ladder.interpolated(wanted), ladder.table)


def _recurs(asked: ClearanceQuestion) -> float | None:
    """Return the peak that recurs at low frequency [V], where there is one."""
    return None if is_fast(asked.frequency) else asked.recurring_peak_voltage


def _case_a(asked: ClearanceQuestion, found: Sequence[Requirement], tables: ClearanceTables) -> Iterator[Requirement]:
    del found
    voltage = _recurs(asked)
    if not asked.homogeneous or voltage is None:
        return
    wanted, rule, _ = graded_peak(asked, voltage, tables)
    ladder = tables.peak["A"]
    if ladder.covers(wanted):
        yield Requirement.read("case-a", "Without a test: case A", ladder.interpolated(wanted), ladder.table, rule)


def _without_discharge(
    asked: ClearanceQuestion, found: Sequence[Requirement], tables: ClearanceTables
) -> Iterator[Requirement]:
    del found
    voltage = _recurs(asked)
    if asked.homogeneous or voltage is None:
        return
    wanted, rule, _ = graded_peak(asked, voltage, tables)
    if tables.quiet.arguments[0] <= wanted <= tables.quiet.last:
        read = tables.quiet.interpolated(wanted)
        yield Requirement.read("no-partial-discharge", "Without partial discharge", read, tables.quiet.table, rule)


def _information_technology(
    asked: ClearanceQuestion, found: Sequence[Requirement], tables: ClearanceTables
) -> Iterator[Requirement]:
    del found
    wanted = _recurs(asked)
    if wanted is not None and tables.equipment.arguments[0] <= wanted <= tables.equipment.last:
        read = tables.equipment.interpolated(wanted, units.to_si(0.1, "mm", "length"))
        title = "Information technology equipment, every grade alike"
        yield Requirement.read("information-technology", title, read, tables.equipment.table)


def _laboratory(
    asked: ClearanceQuestion, found: Sequence[Requirement], tables: ClearanceTables
) -> Iterator[Requirement]:
    del found
    table = tables.laboratory
    if asked.system_voltage is None or asked.insulation == "functional":
        return
    fits = (table["voltage_from"] < asked.system_voltage) & (asked.system_voltage <= table["voltage_to"])
    fits &= np.array([category == asked.category for category in table.text("overvoltage_category")])
    for row in np.flatnonzero(fits)[:1]:
        grade = 2 if asked.reinforced else 1
        words = f"category {asked.category}, {table.text('voltage_printed')[row]} V"
        rule = (
            f"{'doubled for reinforced insulation' if asked.reinforced else 'as printed'}; mains circuits: the "
            "terminals of meters have requirements of their own in IEC 61010-2-030, which are not stored here"
        )
        read = ReadValue(grade * float(table["clearance"][row]), words, rule, origin(table, int(row)))
        yield Requirement.read("laboratory-equipment", "Measuring and laboratory equipment", read, table)


BESIDE: tuple[Callable[[ClearanceQuestion, Sequence[Requirement], ClearanceTables], Iterator[Requirement]], ...] = (
    _withstand_table,
    _case_a,
    _without_discharge,
    _information_technology,
    _laboratory,
)


def overvoltages(asked: ClearanceQuestion, tables: ClearanceTables) -> list[dict[str, object]]:
    """Return the temporary overvoltages listed for the supply, across solid insulation: doubled where reinforced."""
    if asked.system_voltage is None or asked.direct or not asked.listed:
        return []
    table, grade = tables.rules_table, 2 if asked.reinforced else 1
    rows = [table.text("rule").index(name) for name in (SHORT_TERM, LONG_TERM)]
    doubled = ", doubled for solid insulation that is reinforced" if grade == 2 else ""
    return [
        {
            "voltage": quantity(grade * (asked.system_voltage + float(table["number"][row])), "voltage", "rms"),
            "duration": table.text("unit")[row].removeprefix("V rms, "),
            "rule": table.text("value_printed")[row] + doubled,
            "source": table.source.block(),
            "provenance": table.provenance[row],
        }
        for row in rows
    ]


IMPULSE_TEST = (
    "Homogeneous field (case B): a clearance below that of case A must be verified by an impulse voltage test on the "
    "finished article; it asks for rounded electrodes, their radius at least a fifth of the clearance."
)
GIVEN_IMPULSE = (
    "impulse_voltage is taken as the impulse of a circuit that no mains category fixes, so rows may be interpolated; "
    "for the mains give system_voltage and overvoltage_category."
)
NO_ALTITUDE = "No altitude was given: the clearance holds up to 2000 m; what the air would hold is shown at 101.3 kPa."
NOT_LISTED = (
    "The basic standard lists temporary overvoltages for alternating mains (from memory); for this direct supply none "
    "is taken: give temporary_overvoltage where the source can rise above its voltage for seconds."
)
LEFT_OUT = (
    "temporary_overvoltage=none: no overvoltage of seconds or hours is in the clearance; only a product standard that "
    "does not ask for it allows that."
)
UNEARTHED_TAKEN = (
    "Unearthed supply: system_voltage is line to line; the rule of the temporary overvoltage is printed for systems "
    "with earthed neutral, and is taken here with the voltage line to line."
)
DIRECT_ROWS = "Above 1 kV the rows of Table F.1 are for direct voltage only (edition of 2020, from memory, doubtful)."


def notes_of(asked: ClearanceQuestion, found: Sequence[Requirement]) -> list[str]:
    """Return the sentences that belong to a clearance."""
    mains = asked.system_voltage is not None
    governed = governing([one for one in found if one.key != "altitude"]).key
    conditions = {
        IMPULSE_TEST: asked.homogeneous,
        GIVEN_IMPULSE: asked.impulse_voltage is not None,
        NOT_LISTED: mains and asked.direct and asked.listed and asked.temporary_overvoltage is None,
        LEFT_OUT: not asked.listed and asked.temporary_overvoltage is None,
        UNEARTHED_TAKEN: asked.supply == "unearthed" and mains,
        "The temporary overvoltage governs; where a product standard does not ask for it, temporary_overvoltage=none "
        "leaves it out.": governed == "temporary-overvoltage",
        DIRECT_ROWS: asked.system_voltage is not None and asked.direct and asked.system_voltage > 1000.0,
        NO_ALTITUDE: asked.altitude is None,
    }
    return [sentence for sentence, holds in conditions.items() if holds]
