"""Creepage: tracking by IEC 60664-1 Table F.4, high frequency by IEC 60664-4 Table 2, outdoor site classes."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from service import units
from service.errors import Fault, OutsideValidity
from service.reference import Table
from service.standards.asking import kilohertz, volts
from service.standards.clearance_peak import is_fast
from service.standards.creepage_tables import FREQUENCIES, PRINTED, CreepageTables, Path
from service.standards.reading import FINEST, SLACK, Found, Ladder, beyond, origin, round_up, together
from service.standards.requirements import Requirement

GRADE = "reinforced_creepage_factor"


def tracking(path: Path, tables: CreepageTables) -> Iterator[Requirement]:
    """Yield the creepage against tracking.

    Parameters
    ----------
    path : Path
    tables : CreepageTables

    Raises
    ------
    OutsideValidity
        When there is no such column, or it ends below the voltage and no outdoor site class was given.
    """
    ladder = _column(path, tables)
    if ladder is None:
        return
    grade = tables.rules[GRADE] if path.insulation == "reinforced" else 1.0
    found, rib = _read(path, ladder, tables)
    factor = f"; x {grade:g} for reinforced insulation" if grade > 1 else ""
    row = f"F.4: {found.row}, {_words(path)}{rib}"
    whole = Found(found.value * grade, row, found.rule + factor, found.provenance)
    given = {"voltage": units.quantity(path.working_voltage, "voltage", measure="rms")}
    yield Requirement.of("tracking", "Tracking along the surface", whole, ladder.table, "", given)


def _column(path: Path, tables: CreepageTables) -> Ladder | None:
    if path.surface == PRINTED:
        _check_board(path, tables)
    ladder = tables.columns[path.column]
    if ladder.covers(path.working_voltage):
        return ladder
    if path.site_class is not None:
        return None
    if path.surface == PRINTED:
        raise _to_general(f"The printed-wiring column ends at {volts(ladder.last)}", path, ladder.last)
    detail = (
        f"Table F.4, {_words(path)}, ends at {volts(ladder.last)}; beyond it only the outdoor site classes remain "
        "(site_class)."
    )
    raise beyond("working_voltage", detail, "voltage", ladder.last, "rms")


def _check_board(path: Path, tables: CreepageTables) -> None:
    if path.column not in tables.columns:
        raise _to_general(f"Printed wiring has no column at pollution degree {path.pollution_degree}", path)
    if path.pollution_degree == 2 and path.group == "IIIb":
        raise _to_general("The printed-wiring column of pollution degree 2 excludes material group IIIb", path)


def _to_general(why: str, path: Path, last: float | None = None) -> OutsideValidity:
    detail = f"{why}; the column of the general surface, {_words(path, 'general')}, applies there."
    limits = {} if last is None else {"high": units.quantity(last, "voltage", measure="rms")}
    name = "surface" if last is None else "working_voltage"
    error = OutsideValidity(detail, [Fault(name, detail, ("general",) if last is None else (), limits)])
    error.suggestion = {"surface": "general"}
    return error


def _read(path: Path, ladder: Ladder, tables: CreepageTables) -> tuple[Found, str]:
    voltage = path.working_voltage
    if path.ribbed and path.surface != PRINTED:
        reduced = tables.ribs[path.family]
        row = float(ladder.arguments[ladder.place(voltage)])
        if path.pollution_degree == 3 and np.isclose(reduced.arguments, row, rtol=SLACK, atol=0.0).any():
            return reduced.step_up(row), ", reduced by a rib"
    if path.insulation == "functional":
        finest = units.to_si(tables.rules["creepage_interpolation_rounding"], "mm", "length")
        return ladder.interpolated(voltage, finest), ""
    return ladder.step_up(voltage), ""


def _words(path: Path, surface: str | None = None) -> str:
    group = "every material group" if path.pollution_degree == 1 else f"group {path.family}"
    kind = "printed wiring, " if (surface or path.surface) == PRINTED else ""
    return f"{kind}pollution degree {path.pollution_degree}, {group}"


def high_frequency(path: Path, tables: CreepageTables) -> Iterator[Requirement]:
    """Yield the creepage for a periodic peak voltage above 30 kHz.

    Parameters
    ----------
    path : Path
        With a peak voltage where the frequency is above 30 kHz.
    tables : CreepageTables

    Raises
    ------
    OutsideValidity
        When frequency or voltage lie beyond Table 2.
    """
    if not is_fast(path.frequency) or path.peak_voltage is None:
        return
    frequency = float(path.frequency or 0)
    table = next(iter(tables.fast.values())).table
    highest = max(FREQUENCIES.values())
    if frequency > highest * (1 + SLACK):
        detail = f"Table 2 of IEC 60664-4 ends at {kilohertz(highest)}."
        raise beyond("frequency", detail, "frequency", highest)
    found = _between_columns(path.peak_voltage, frequency, tables)
    share = {2: "pd2_creepage_factor", 3: "pd3_creepage_factor"}.get(path.pollution_degree)
    pollution = tables.fast_rules[share] if share else 1.0
    grade = tables.rules[GRADE] if path.insulation == "reinforced" else 1.0
    factors = f"; x {pollution:g} for pollution degree {path.pollution_degree}" if share else ""
    factors += f"; x {grade:g} for reinforced insulation" if grade > 1 else ""
    whole = Found(
        round_up(found.value * pollution * grade, FINEST), found.row, f"{found.rule}{factors}", found.provenance
    )
    given = {
        "peak_voltage": units.quantity(path.peak_voltage, "voltage"),
        "frequency": units.quantity(frequency, "frequency"),
    }
    yield Requirement.of("high-frequency", "Surface above 30 kHz", whole, table, "", given)


def _between_columns(peak: float, frequency: float, tables: CreepageTables) -> Found:
    names, tops = list(FREQUENCIES), list(FREQUENCIES.values())
    place = int(np.searchsorted(tops, frequency * (1 - SLACK)))
    used = names[max(place - 1, 0) : place + 1] if frequency < tops[place] * (1 - SLACK) else names[place : place + 1]
    reads = [_fast_column(peak, name, tables) for name in used]
    ends = [FREQUENCIES[name] for name in used]
    value = float(np.interp(frequency, ends, [read.value for read in reads]))
    columns = " and ".join(f"to {kilohertz(end)}" for end in ends)
    row = f"Table 2: {' / '.join(dict.fromkeys(read.row for read in reads))}, column {columns}"
    return Found(value, row, reads[-1].rule, together(read.provenance for read in reads))


def _fast_column(peak: float, name: str, tables: CreepageTables) -> Found:
    ladder = tables.fast[name]
    if not ladder.covers(peak):
        detail = (
            f"Table 2 of IEC 60664-4, column to {kilohertz(FREQUENCIES[name])}, ends at {volts(ladder.last)} peak; the "
            f"peak here is {volts(peak)}."
        )
        raise beyond("peak_voltage", detail, "voltage", ladder.last)
    return ladder.interpolated(peak)


def outdoor(path: Path, tables: CreepageTables) -> Iterator[Requirement]:
    """Yield the creepage of an outdoor site class, where one was given.

    Parameters
    ----------
    path : Path
    tables : CreepageTables
    """
    if path.site_class is None:
        return
    table = tables.outdoor
    row = table.text("site_class").index(path.site_class)
    to_earth = float(table["creepage_per_voltage"][row])
    between = float(table["creepage_per_voltage_phase_to_phase"][row])
    per_volt = between * np.sqrt(3) if np.isnan(to_earth) else to_earth
    kind = "phase to phase, x sqrt 3" if np.isnan(to_earth) else "phase to earth"
    column = "creepage_per_voltage_phase_to_phase" if np.isnan(to_earth) else "creepage_per_voltage"
    rule = f"{volts(path.working_voltage)} x {table.text(column)[row]} mm per kV ({kind})"
    found = Found(
        round_up(path.working_voltage * float(per_volt), FINEST),
        f"class {table.text('site_class_printed')[row]}",
        "outdoor insulators, before profile, altitude and diameter corrections; knows no grade of insulation",
        origin(table, row),
    )
    yield Requirement.of("outdoor-site-class", "Outdoors, rain and pollution", found, table, rule)


RULES: tuple[Callable[[Path, CreepageTables], Iterator[Requirement]], ...] = (tracking, high_frequency, outdoor)


def requirements(path: Path, tables: CreepageTables) -> list[Requirement]:
    """Return every creepage that applies.

    Parameters
    ----------
    path : Path
    tables : CreepageTables

    Raises
    ------
    OutsideValidity
        When a voltage or frequency lies beyond its table.
    """
    return [one for rule in RULES for one in rule(path, tables)]


def groove_width(path: Path, table: Table) -> tuple[float, str]:
    """Return the smallest groove that counts, X [m], and its provenance.

    Parameters
    ----------
    path : Path
    table : Table
        Groove widths by pollution degree.
    """
    row = int(np.flatnonzero(table["pollution_degree"] == path.pollution_degree)[0])
    return float(table["width"][row]), table.provenance[row]
