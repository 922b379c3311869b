"""Conductors on a board: IPC-2221 Table 6-1 by place, and the distances of IEC 60664-1 for the same voltage."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace

from service.errors import OutsideValidity
from service.physics import atmosphere
from service.reference import Reference, Table
from service.standards import clearance, creepage
from service.standards.clearance import ClearanceTables
from service.standards.creepage import PRINTED, CreepageTables, Path
from service.standards.ladder import FINEST, ReadValue, origin, round_up, together
from service.standards.requirement import ClearanceQuestion, Requirement, governing, millimetres, volts
from service.units import ROUNDING

HIGH_ALTITUDE = 3050.0
"""Altitude above which bare outer conductors have a column of their own [m]; heading of Table 6-1."""
BARE = {"external-uncoated": "printed-wiring", "lead-uncoated": "general"}
"""Places where air lies between the conductors, and what their creepage path runs along."""
PLACES: Mapping[str, tuple[str, str]] = {
    "internal": ("internal", "B1, inside the board"),
    "external-uncoated": ("external_uncoated", "B2, outside, bare, up to 3050 m"),
    "external-coated": ("external_coated", "B4, outside, permanent polymer coating"),
    "assembly-coated": ("assembly_coated", "A5, outside, conformal coating over the assembly"),
    "lead-uncoated": ("lead_uncoated", "A6, component lead, bare"),
    "lead-coated": ("lead_coated", "A7, component lead, conformal coating"),
}
"""Place to column of Table 6-1 and its heading."""
ABOVE = ("external_uncoated_high", "B3, outside, bare, above 3050 m")
NEIGHBOUR = (
    "The column for bare leads is for sea level to 3050 m (from memory) and has no counterpart above: the larger of it "
    "and of B3, the column of bare tracks above 3050 m, is taken."
)
DEGREES = (1, 2, 3)
GROUP = "IIIa"
"""Material group of plain laminates, with which distances along boards are read."""


@dataclass(frozen=True, eq=False)
class BoardTables:
    """The tables that distances on a board are read from."""

    spacing: Table
    air: ClearanceTables
    surface: CreepageTables

    @classmethod
    def of(cls, reference: Reference) -> BoardTables:
        """Return the tables in use."""
        return cls(reference.table("ipc-2221-table-6-1"), ClearanceTables.of(reference), CreepageTables(reference))


def is_high(altitude: float | None) -> bool:
    """Return whether an altitude [m] is one of those that have a column of their own."""
    return altitude is not None and altitude > HIGH_ALTITUDE


def in_thin_air(pressure: float) -> bool:
    """Return whether a pressure [Pa] is that of such an altitude, however the thin air comes about."""
    return pressure < float(atmosphere.standard_pressure(HIGH_ALTITUDE)) / (1 + ROUNDING)


def spacings(voltage: float, place: str, thin: bool, table: Table) -> list[Requirement]:
    """Return the spacing of a place by Table 6-1; of bare leads in thin air that of bare tracks beside it.

    ``voltage`` is direct or peak [V].
    """
    own = _spacing(voltage, PLACES[place], table)
    high = _spacing(voltage, ABOVE, table)
    if not thin or place not in BARE:
        return [own]
    return [high] if place == "external-uncoated" else [own, replace(high, key="bare-track-in-thin-air")]


def _spacing(voltage: float, column: tuple[str, str], table: Table) -> Requirement:
    steps = [row for row, slope in enumerate(table.flag("per_volt")) if not slope]
    row = next((row for row in steps if voltage <= table["voltage_to"][row] * (1 + ROUNDING)), steps[-1])
    found = _step(table, column[0], row)
    if voltage > table["voltage_to"][row] * (1 + ROUNDING):
        found = _slope(table, column[0], row, voltage)
    return Requirement.read("board", f"Column {column[1]}", found, table)


def _step(table: Table, column: str, row: int) -> ReadValue:
    words = f"{table.text('voltage_printed')[row]} V"
    return ReadValue(float(table[column][row]), words, "steps, no interpolation", origin(table, row))


def _slope(table: Table, column: str, row: int, voltage: float) -> ReadValue:
    slope = int(table.flag("per_volt").argmax())
    base, per_volt = float(table[column][row]), float(table[column][slope])
    above = voltage - float(table["voltage_from"][slope])
    rule = f"{millimetres(base)} + {volts(above, 'V')} x {table.text(column)[slope]} mm per V"
    value = round_up(base + above * per_volt, FINEST)
    words = f"{table.text('voltage_printed')[row]} V and the value per volt above"
    return ReadValue(value, words, rule, together((origin(table, row), origin(table, slope))))


def other_distances(
    voltage: float, place: str, altitude: float | None, tables: BoardTables
) -> tuple[list[Requirement], list[str]]:
    """Return what the clearance and creepage tables ask for the same voltage, functional insulation, in every place.

    Bare: at pollution degree 2. Coated or inside: at pollution degree 1, as under a coating that was tested (type 1),
    and at pollution degree 2, as where it was not. Also why one is missing, where a table ends: of one that ends below
    the voltage the last row stands, since a higher voltage is asked no less.
    """
    asked = ClearanceQuestion(2, "functional", altitude=altitude, recurring_peak_voltage=voltage)
    path = Path(voltage, 2, "functional", GROUP, BARE.get(place, PRINTED if place != "lead-coated" else "general"))
    parts = [*_pair("", "unprotected, pollution degree 2", asked, path, tables)]
    if place not in BARE:
        under = replace(asked, pollution_degree=1), replace(path, pollution_degree=1)
        parts = [
            *_pair("-type-1", "under a tested coating (type 1), pollution degree 1", *under, tables),
            *parts,
        ]
    found: list[Requirement] = []
    silent: list[str] = []
    for name, title, end, read in parts:
        try:
            found.append(replace(read(voltage), key=name, title=title))
        except OutsideValidity as error:
            silent.append(f"No {name} beside it: {error.detail}")
            if voltage > end:
                with suppress(OutsideValidity):  # the altitude may be refused too
                    words = f"{title}; this table ends at {volts(end)}"
                    found.append(replace(read(end), key=name, title=words, ended=True))
    return found, silent


Read = Callable[[float], Requirement]
"""From a voltage [V] to what a table asks for."""


def _pair(
    suffix: str, words: str, asked: ClearanceQuestion, path: Path, tables: BoardTables
) -> Iterator[tuple[str, str, float, Read]]:
    """Yield key and title of a clearance and a creepage, the last voltage of its table [V], and how it is read."""
    on_board = path.surface == PRINTED and tables.surface.columns[path.column].covers(path.working_voltage)
    along = path if on_board else replace(path, surface="general")
    yield (
        f"clearance{suffix}",
        f"Clearance for a voltage that stays or recurs, {words}",
        tables.air.peak[asked.case].last,
        lambda voltage: governing(clearance.requirements(replace(asked, recurring_peak_voltage=voltage), tables.air)),
    )
    yield (
        f"creepage{suffix}",
        f"Creepage if that voltage stays as rms or direct voltage, {words}, group {GROUP}",
        tables.surface.columns[along.column].last,
        lambda voltage: next(creepage.tracking(replace(along, working_voltage=voltage), tables.surface)),
    )


def along_surfaces(voltage: float, tables: CreepageTables) -> list[tuple[int, str, Requirement]]:
    """Return pollution degree, material group and creepage for a long-term rms or direct voltage [V].

    Functional or basic insulation, next row up; a degree whose column ends below the voltage is left out.
    """
    found = []
    for degree in DEGREES:
        path = Path(voltage, degree, "basic", GROUP)
        if tables.columns[path.column].covers(voltage):
            found.append((degree, "any" if degree == 1 else GROUP, next(creepage.tracking(path, tables))))
    return found
