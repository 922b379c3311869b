"""Clearance for a peak that stays or recurs: up to 30 kHz by IEC 60664-1 Table F.7a, above by IEC 60664-4."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from service import units
from service.standards.asking import kilohertz, millimetres, needed, volts
from service.standards.clearance_asked import Asked
from service.standards.clearance_tables import ClearanceTables, covered
from service.standards.reading import FINEST, SLACK, Found, beyond, round_up, together
from service.standards.requirements import Requirement

HIGH_FREQUENCY = 30e3
"""Frequency above which IEC 60664-4 applies [Hz]; its scope."""
HIGHEST_FREQUENCY = 10e6
"""End of the scope of IEC 60664-4 [Hz]."""
PEAK = "recurring_peak_voltage"


def is_fast(frequency: float | None) -> bool:
    """Return whether IEC 60664-4 applies at a frequency [Hz]."""
    return frequency is not None and frequency > HIGH_FREQUENCY * (1 + SLACK)


def recurring_peak(asked: Asked, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for the peak voltage that stays or recurs, up to 30 kHz.

    Parameters
    ----------
    asked : Asked
    tables : ClearanceTables

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond the last row.
    """
    if asked.recurring_peak_voltage is None or is_fast(asked.frequency):
        return
    wanted, rule, factor = graded_peak(asked, tables)
    ladder = covered(tables.peak[asked.case], wanted, PEAK, factor)
    found = ladder.interpolated(wanted)
    whole = Found(found.value, f"F.7a: {found.row}, case {asked.case}", found.rule, found.provenance)
    given = {"peak_voltage": units.quantity(wanted, "voltage")}
    yield Requirement.of("recurring-peak", "Voltage that stays or recurs", whole, ladder.table, rule, given)


def high_frequency(asked: Asked, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the clearance for a recurring peak voltage above 30 kHz.

    Parameters
    ----------
    asked : Asked
    tables : ClearanceTables

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
        raise needed((PEAK,), f"A frequency above 30 kHz needs {PEAK}, the voltage that it belongs to.")
    if float(asked.frequency or 0) > HIGHEST_FREQUENCY * (1 + SLACK):
        detail = f"IEC 60664-4 ends at {kilohertz(HIGHEST_FREQUENCY)}."
        raise beyond("frequency", detail, "frequency", HIGHEST_FREQUENCY)
    yield (_fast_homogeneous if asked.homogeneous else _fast_inhomogeneous)(asked, tables)


def _fast_inhomogeneous(asked: Asked, tables: ClearanceTables) -> Requirement:
    wanted, rule, factor = graded_peak(asked, tables)
    ladder = covered(tables.fast, wanted, PEAK, factor)
    found = ladder.interpolated(wanted)
    whole = Found(found.value, f"Table 1: {found.row}", found.rule, found.provenance)
    return Requirement.of("high-frequency", "Voltage above 30 kHz", whole, ladder.table, rule, _given(asked, wanted))


def _fast_homogeneous(asked: Asked, tables: ClearanceTables) -> Requirement:
    wanted, rule, factor = graded_peak(asked, tables)
    ladder = covered(tables.peak["B"], wanted, PEAK, factor)
    slow = ladder.interpolated(wanted)
    share = homogeneous_factor(slow.value, float(asked.frequency or 0), tables.frequency)
    given = {**_given(asked, wanted), "frequency_factor": round(share, 6)}
    grown = (
        f"{millimetres(slow.value)} x {share:.5g}, 100 % + 25 % (f - f_crit)/(f_min - f_crit), f_crit = 0.2 MHz mm/d"
    )
    words = "; ".join(part for part in (rule, grown) if part)
    origins = together((slow.provenance, *tables.fast_rules.where(rule="clearance_factor_between").provenance))
    whole = Found(round_up(slow.value * share, FINEST), f"F.7a: {slow.row}, case B", slow.rule, origins)
    return Requirement.of("high-frequency", "Voltage above 30 kHz", whole, tables.fast_rules, words, given)


def _given(asked: Asked, wanted: float) -> dict[str, Any]:
    frequency = units.quantity(float(asked.frequency or 0), "frequency")
    return {"peak_voltage": units.quantity(wanted, "voltage"), "frequency": frequency}


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
        if frequency <= critical * (1 + SLACK):
            return factor
        rise = 1.0 if minimum <= critical else (frequency - critical) / (minimum - critical)
        factor = 1 + slope * min(rise, 1.0)
    return factor


def graded_peak(asked: Asked, tables: ClearanceTables) -> tuple[float, str, float]:
    """Return the peak voltage to dimension for [V], the rule in words, and the factor of the grade."""
    voltage = float(asked.recurring_peak_voltage or 0)
    if not asked.reinforced:
        return voltage, "", 1.0
    factor = tables.rules["reinforced_clearance_steady_state_factor"]
    return voltage * factor, f"reinforced: {factor:.0%} of {volts(voltage)}", factor
