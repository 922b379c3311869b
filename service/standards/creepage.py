"""Creepage: every distance along a surface that applies to a question, and what to know beside it.

IEC 60664-1 Table F.4 against tracking, IEC 60664-4 Table 2 above 30 kHz, IEC TS 60815 outdoors; reinforced insulation
twice the distance in all of them. Where one table ends, the next never asks for less than its last row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service import units
from service.errors import BadQuestion, OutsideValidity
from service.parameters import Question
from service.reference import Reference, Table
from service.standards.clearance import is_fast
from service.standards.ladder import (
    FINEST,
    Ladder,
    ReadValue,
    numbers,
    origin,
    provenance_block,
    read,
    round_up,
    table_ends,
    together,
)
from service.standards.materials import CreepageSurface
from service.standards.requirement import ReadFor, Requirement, distance, kilohertz, millimetres, peak, volts
from service.units import ROUNDING, Quantity

PRINTED = "printed-wiring"
FREQUENCIES: Mapping[str, float] = {
    f"creepage_to_{kilo}_khz": kilo * 1e3 for kilo in (100, 200, 400, 700, 1000, 2000, 3000)
}
"""Columns of Table 2 and the frequency that each reaches to [Hz]."""


@dataclass(frozen=True)
class Path:
    """A creepage question in SI: voltages [V], frequency [Hz]; ``direct`` where the working voltage is a direct one."""

    working_voltage: float
    pollution_degree: int
    insulation: str
    group: str
    surface: str = "general"
    ribbed: bool = False
    site_class: str | None = None
    frequency: float | None = None
    peak_voltage: float | None = None
    direct: bool = False

    @property
    def family(self) -> str:
        """Group as the columns of Table F.4 have it: IIIa and IIIb in one."""
        return self.group.rstrip("ab")

    @property
    def column(self) -> str:
        """Column of Table F.4."""
        if self.surface == PRINTED:
            return f"pcb_pollution_{self.pollution_degree}"
        return GENERAL.get(self.pollution_degree, f"pollution_{self.pollution_degree}_group_{self.family.lower()}")


GENERAL: Mapping[int, str] = {1: "pollution_1"}
"""Columns that hold for every material group."""


class CreepageTables:
    """The creepage tables in use."""

    def __init__(self, reference: Reference) -> None:
        f4 = reference.table("iec-60664-1-table-f4")
        ribs = reference.table("iec-60664-1-table-f4-ribs")
        self.table = f4
        names = [field.quantity for field in f4.fields if "pollution" in field.quantity]
        self.columns: Mapping[str, Ladder] = {name: Ladder.of(f4, "voltage", name, volts) for name in names}
        self.ribs: Mapping[str, Ladder] = {
            family: Ladder.of(ribs.where(material_group=family), "voltage", "creepage_with_rib", volts)
            for family in ("I", "II", "III")
        }
        fast = reference.table("iec-60664-4-table-2")
        self.fast: Mapping[str, Ladder] = {name: Ladder.of(fast, "voltage", name, volts) for name in FREQUENCIES}
        self.outdoor = reference.table("iec-60815-specific-creepage")
        self.rules = numbers(reference, "iec-60664-1-rules")
        self.fast_rules = numbers(reference, "iec-60664-4-rules")


GRADE = "reinforced_creepage_factor"
IN_SERIES = (
    "Change the design: part the voltage over several surfaces with conductors at fixed potentials between them, or "
    "take the surface out of the pollution (a sealed housing, potting)."
)
SLOWER = (
    "Change the design: part the voltage over several surfaces in series, or keep the high frequency from the surface "
    "(solid insulation, a screen at a fixed potential)."
)


def requirements(path: Path, tables: CreepageTables) -> list[Requirement]:
    """Return every creepage that applies.

    Raises
    ------
    OutsideValidity
        When a voltage or frequency lies beyond its table.
    """
    return [one for rule in RULES for one in rule(path, tables)]


def tracking(path: Path, tables: CreepageTables) -> Iterator[Requirement]:
    """Yield the creepage against tracking.

    Raises
    ------
    OutsideValidity
        When there is no such column, or it ends below the voltage and no outdoor site class was given.
    """
    ladder = _column(path, tables)
    if ladder is None:
        return
    grade = _grade(path, tables)
    found, rib = _read(path, ladder, tables)
    row = f"F.4: {found.row}, {_words(path)}{rib}"
    whole = ReadValue(found.value * grade, row, found.rule + _graded(grade), found.provenance)
    measure = "dc" if path.direct else "rms"
    given = {"voltage": ReadFor(path.working_voltage, "voltage", measure)}
    yield Requirement.read("tracking", "Tracking along the surface", whole, ladder.table, "", given)


def _grade(path: Path, tables: CreepageTables) -> float:
    return tables.rules[GRADE] if path.insulation == "reinforced" else 1.0


def _graded(grade: float) -> str:
    return f"; x {grade:g} for reinforced insulation" if grade > 1 else ""


def _column(path: Path, tables: CreepageTables) -> Ladder | None:
    if path.surface == PRINTED:
        _check_board(path, tables)
    ladder = tables.columns[path.column]
    if ladder.covers(path.working_voltage):
        return ladder
    if path.surface == PRINTED:
        raise _to_general(f"The printed-wiring column ends at {volts(ladder.last)}", path, ladder.last)
    if path.site_class is not None:
        return None
    detail = f"Table F.4, {_words(path)}, ends at {volts(ladder.last)}"
    others = (
        "; for direct voltage no table here goes on"
        if path.direct
        else ("; for insulators in the open /v1/creepage goes on with site_class")
    )
    measure = "dc" if path.direct else "rms"
    raise table_ends("working_voltage", f"{detail}{others}.", "voltage", ladder.last, measure, IN_SERIES)


def _check_board(path: Path, tables: CreepageTables) -> None:
    if path.column not in tables.columns:
        raise _to_general(f"Printed wiring has no column at pollution degree {path.pollution_degree}", path)
    if path.pollution_degree == 2 and path.group == "III":
        detail = "On printed wiring at pollution degree 2 the groups IIIa and IIIb differ: name one of them."
        raise BadQuestion.about("material_group", detail, ("IIIa", "IIIb"))
    if path.pollution_degree == 2 and path.group == "IIIb":
        raise _to_general("The printed-wiring column of pollution degree 2 excludes material group IIIb", path)


def _to_general(why: str, path: Path, last: float | None = None) -> OutsideValidity:
    detail = f"{why}; the column of the general surface, {_words(path, 'general')}, applies there."
    limits = {} if last is None else {"high": Quantity(last, "voltage", measure="rms")}
    name = "surface" if last is None else "working_voltage"
    error = OutsideValidity.about(name, detail, ("general",) if last is None else (), limits)
    error.suggestion = {"surface": "general"}
    return error


def _read(path: Path, ladder: Ladder, tables: CreepageTables) -> tuple[ReadValue, str]:
    found = _plain(path, ladder, tables)
    if not path.ribbed or path.surface == PRINTED or path.pollution_degree != 3:
        return found, ""
    reduced = tables.ribs[path.family]
    row = read(ladder.arguments, ladder.place(path.working_voltage))
    if not reduced.has_row(row):
        return found, ""
    ribbed = reduced.step_up(row)
    return (ribbed, REDUCED) if ribbed.value < found.value else (found, "")


REDUCED = ", reduced by a rib"


def _plain(path: Path, ladder: Ladder, tables: CreepageTables) -> ReadValue:
    if path.insulation != "functional":
        return ladder.step_up(path.working_voltage)
    finest = units.to_si(tables.rules["creepage_interpolation_rounding"], "mm", "length")
    return ladder.interpolated(path.working_voltage, finest)


def _words(path: Path, surface: str | None = None) -> str:
    group = "every material group" if path.pollution_degree == 1 else f"group {path.family}"
    kind = "printed wiring, " if (surface or path.surface) == PRINTED else ""
    return f"{kind}pollution degree {path.pollution_degree}, {group}"


def high_frequency(path: Path, tables: CreepageTables) -> Iterator[Requirement]:
    """Yield the creepage for a periodic peak voltage above 30 kHz, where a peak is known.

    Raises
    ------
    OutsideValidity
        When frequency or voltage lie beyond Table 2.
    """
    if not is_fast(path.frequency) or path.peak_voltage is None:
        return
    assert path.frequency is not None
    frequency = path.frequency
    table = next(iter(tables.fast.values())).table
    highest = max(FREQUENCIES.values())
    if frequency > highest * (1 + ROUNDING):
        detail = f"Table 2 of IEC 60664-4 ends at {kilohertz(highest)}."
        raise table_ends("frequency", detail, "frequency", highest, None, SLOWER)
    found = _between_columns(path.peak_voltage, frequency, tables)
    share = {2: "pd2_creepage_factor", 3: "pd3_creepage_factor"}.get(path.pollution_degree)
    pollution = tables.fast_rules[share] if share else 1.0
    grade = _grade(path, tables)
    factors = (f"; x {pollution:g} for pollution degree {path.pollution_degree}" if share else "") + _graded(grade)
    value = round_up(found.value * pollution * grade, FINEST)
    whole = ReadValue(value, found.row, f"{found.rule}{factors}", found.provenance)
    given = {"peak_voltage": peak(path.peak_voltage), "frequency": ReadFor(frequency, "frequency")}
    yield Requirement.read("high-frequency", "Surface above 30 kHz", whole, table, "", given)


def _between_columns(peak_voltage: float, frequency: float, tables: CreepageTables) -> ReadValue:
    names, tops = list(FREQUENCIES), list(FREQUENCIES.values())
    place = next(n for n, top in enumerate(tops) if frequency <= top * (1 + ROUNDING))
    exact = frequency >= tops[place] * (1 - ROUNDING)
    used = names[place : place + 1] if exact or not place else names[place - 1 : place + 1]
    found = [_fast_column(peak_voltage, name, tables) for name in used]
    ends = [FREQUENCIES[name] for name in used]
    value = found[-1].value
    if len(used) == 2:
        slope = (found[1].value - found[0].value) / (ends[1] - ends[0])
        value = slope * (frequency - ends[0]) + found[0].value
    columns = " and ".join(f"to {kilohertz(end)}" for end in ends)
    row = f"Table 2: {' / '.join(dict.fromkeys(one.row for one in found))}, column {columns}"
    return ReadValue(value, row, found[-1].rule, together(one.provenance for one in found))


def _fast_column(peak_voltage: float, name: str, tables: CreepageTables) -> ReadValue:
    ladder = tables.fast[name]
    if not ladder.covers(peak_voltage):
        detail = (
            f"Table 2 of IEC 60664-4, column to {kilohertz(FREQUENCIES[name])}, ends at {volts(ladder.last)} peak; the "
            f"peak here is {volts(peak_voltage)}."
        )
        raise table_ends("peak_voltage", detail, "voltage", ladder.last, None, SLOWER)
    return ladder.interpolated(peak_voltage)


def outdoor(path: Path, tables: CreepageTables) -> Iterator[Requirement]:
    """Yield the creepage of an outdoor site class, where one was given: never below the last row of Table F.4.

    Raises
    ------
    OutsideValidity
        For direct voltage, which draws more pollution and has a part of the specification of its own.
    """
    if path.site_class is None:
        return
    if path.direct:
        detail = (
            "The site classes stored are for alternating voltage (IEC TS 60815-2 and -3); direct voltage draws more "
            "pollution and has a part of its own (IEC TS 60815-4), which is not stored."
        )
        raise OutsideValidity.about("site_class", detail)
    table = tables.outdoor
    row = table.text("site_class").index(path.site_class)
    to_earth = float(table["creepage_per_voltage"][row])
    between = float(table["creepage_per_voltage_phase_to_phase"][row])
    per_volt = between * np.sqrt(3) if np.isnan(to_earth) else to_earth
    kind = "phase to phase, x sqrt 3" if np.isnan(to_earth) else "phase to earth"
    column = "creepage_per_voltage_phase_to_phase" if np.isnan(to_earth) else "creepage_per_voltage"
    grade = _grade(path, tables)
    by_class = round_up(path.working_voltage * float(per_volt) * grade, FINEST)
    last, origins = _last_row(path, tables)
    rule = f"{volts(path.working_voltage)} x {table.text(column)[row]} mm per kV ({kind}){_graded(grade)}"
    floor = f"; never below the last row of Table F.4, {millimetres(last)}" if last > by_class else ""
    found = ReadValue(
        max(by_class, last),
        f"class {table.text('site_class_printed')[row]}",
        f"outdoor insulators, before profile, altitude and diameter corrections{floor}",
        together((origin(table, row), *origins)) if floor else origin(table, row),
    )
    yield Requirement.read("outdoor-site-class", "Outdoors, rain and pollution", found, table, rule)


def _last_row(path: Path, tables: CreepageTables) -> tuple[float, tuple[str, ...]]:
    """Return what the last row of Table F.4 asks for [m] where the voltage lies above it, and its provenance."""
    ladder = tables.columns[path.column]
    if ladder.covers(path.working_voltage):
        return 0.0, ()
    last = ladder.step_up(ladder.last)
    return last.value * _grade(path, tables), (last.provenance,)


RULES: tuple[Callable[[Path, CreepageTables], Iterator[Requirement]], ...] = (tracking, high_frequency, outdoor)


def above_the_clearance(found: Sequence[Requirement], clearance: Requirement) -> list[Requirement]:
    """Return creepages with the clearance of the same barrier among them, below which creepage never is."""
    title = "Clearance, below which creepage never is"
    return [*found, replace(clearance, key="clearance", title=title, of=clearance.key)]


@dataclass(frozen=True)
class Groove:
    """The smallest groove that counts, X [m]."""

    width: float
    provenance: str

    def block(self) -> dict[str, object]:
        """Return it as answers show it."""
        return {**distance(self.width).block(), **provenance_block(self.provenance)}


def groove_of(path: Path, reference: Reference) -> Groove:
    """Return the smallest groove that counts at a pollution degree."""
    table = reference.table("iec-60664-1-groove-width")
    row = int(np.flatnonzero(table["pollution_degree"] == path.pollution_degree)[0])
    return Groove(float(table["width"][row]), table.provenance[row])


# beside

SURFACE_FIGURES = ("PCB external track", "dry clean surface", "outdoor minimum creepage")
"""Beginnings of the rows that speak of a surface; the others of that table repeat standards, or speak of air."""
NOT_AT_DEGREE_3 = 630.0
"""Working voltage above which group IIIb is not recommended at pollution degree 3 [V]; from memory."""
REDUCIBLE_BELOW = 3e-3
"""Clearance below which the groove width may shrink to a third of it [m]; read in a reproduction."""
SECTIONS = (
    "In a winding with sections the voltage is that between neighbouring sections, not the whole; steep pulses crowd "
    "into the first ones, so it is not the same for all."
)
FAST_BOARD = "Whether Table 2 of IEC 60664-4 holds for printed wiring is not known here."


def rationalized(
    question: Question, path: Path, tables: CreepageTables, reference: Reference, answered: float
) -> list[dict[str, object]]:
    """Return the creepage by rationalized voltage, where a mains supply has a nominal voltage of the tables.

    ``answered`` is the creepage answered [m].
    """
    if "system_voltage" not in question or path.insulation == "functional" or path.direct:
        return []
    return [one.beside("creepage", answered) for one in _nominal(path, tables, reference)]


def _nominal(path: Path, tables: CreepageTables, reference: Reference) -> Iterator[Requirement]:
    for name, kind in (("f3a", "single-phase"), ("f3b", "three-phase")):
        table = reference.table(f"iec-60664-1-table-{name}")
        for row, printed in enumerate(table.text("nominal_printed")):
            if volts(path.working_voltage) not in _listed(printed):
                continue
            voltage = float(table["line_to_line"][row])
            ladder = tables.columns.get(path.column)
            if ladder is not None and ladder.covers(voltage):
                yield _by_row(path, tables, table, row, voltage, kind)


def _listed(printed: str) -> list[str]:
    """Return the line-to-line voltages of a printed cell, ``220, 230, 240`` or ``110-220, 120-240``, in words."""
    return [volts(float(part.split("-")[-1])) for part in printed.split(", ")]


def _by_row(path: Path, tables: CreepageTables, table: Table, row: int, voltage: float, kind: str) -> Requirement:
    found = tables.columns[path.column].step_up(voltage)
    printed = table.text("nominal_printed")[row]
    return Requirement(
        f"rationalized-{kind}",
        f"Between the lines of a {kind} supply of nominal {printed} V",
        found.value * _grade(path, tables),
        table,
        f"{table.source.table}: {printed} V is {volts(voltage)}; F.4: {found.row}",
        "rationalized voltage, no interpolation",
        together((origin(table, row), found.provenance)),
    )


def flashover(peak_voltage: float, reference: Reference) -> dict[str, object]:
    """Return practice figures for flashover along a surface, as the distance at a peak voltage [V]."""
    table = reference.table("surface-flashover")
    rows = [
        row
        for row, item in enumerate(table.text("item"))
        if item.startswith(SURFACE_FIGURES) and np.isfinite(table["field"][row])
    ]
    return {
        "peak_voltage": Quantity(peak_voltage, "voltage"),
        "figures": [_figure(table, row, peak_voltage) for row in rows],
        "source": table.source.block(),
    }


def _figure(table: Table, row: int, peak_voltage: float) -> dict[str, object]:
    field = float(table["field"][row])
    block: dict[str, object] = {
        "item": table.text("item")[row],
        "field": Quantity(field, "field"),
        "distance": distance(peak_voltage / field),
    }
    note = table.text("note")[row]
    return block | ({"note": note} if note else {}) | provenance_block(origin(table, row))


def notes_of(
    path: Path, surface: CreepageSurface, found: Sequence[Requirement], groove: Groove, *, of_many: bool = False
) -> list[str]:
    """Return the sentences that belong to a creepage, or to many: then without a number that each has of its own."""
    through_air = next((one for one in found if one.key == "clearance"), None)
    ribbed = any(REDUCED in one.row for one in found)
    conditions = {
        FAST_BOARD: is_fast(path.frequency) and path.surface == PRINTED,
        "Group IIIb is not recommended at pollution degree 3 above 630 V (from memory).": path.group in ("IIIb", "III")
        and path.pollution_degree == 3
        and path.working_voltage > NOT_AT_DEGREE_3,
        "No reduced value for a rib is printed here; the full creepage stands.": path.ribbed and not ribbed,
        "The reduced value holds only for a rib of the form that the standard requires.": ribbed,
        "The outdoor site class is for high-voltage insulators in the open, not for equipment; the factor of the "
        "grade is that of Table F.4.": path.site_class is not None,
        "Table F.4 ends below this voltage; only the outdoor site class remains.": path.site_class is not None
        and not any(one.key == "tracking" for one in found),
    }
    notes = [*surface.notes, SECTIONS, *_groove(groove.width, through_air, of_many=of_many)]
    return notes + [sentence for sentence, holds in conditions.items() if holds]


def _groove(width: float, through_air: Requirement | None, *, of_many: bool) -> Iterator[str]:
    yield f"A groove narrower than {millimetres(width)} is measured straight across."
    if through_air is not None and through_air.distance < REDUCIBLE_BELOW and through_air.distance / 3 < width:
        if of_many:
            yield "Where the clearance is below 3 mm, the groove width may be reduced to a third of it."
            return
        reduced = millimetres(round(through_air.distance / 3, 9))
        yield f"The clearance is below 3 mm: the groove width may be reduced to a third of it, {reduced}."
