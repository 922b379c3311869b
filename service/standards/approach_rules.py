"""Rules that keep people at a distance from live parts: overhead lines, boundaries, minimum approach distances."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.reference import Reference, Table
from service.standards.requirement import distance, volts
from service.units import ROUNDING

UNQUALIFIED, QUALIFIED = "unqualified", "qualified"
WHOM: Mapping[str, str] = {
    UNQUALIFIED: "anyone without training for exactly this work, and everything that they hold or drive",
    QUALIFIED: "people trained and equipped for exactly this work, under their employer's rules",
}
TEXTS: Mapping[str, str] = {"avoid contact": "avoid contact", "n/s": "not specified"}
"""Printed cells without a distance, in words."""
BOUNDARIES: Sequence[tuple[str, str, str]] = (
    ("limited_movable", "limited approach boundary, exposed movable conductor", UNQUALIFIED),
    ("limited_fixed", "limited approach boundary, exposed fixed circuit part", UNQUALIFIED),
    ("restricted", "restricted approach boundary", QUALIFIED),
    ("prohibited", "prohibited approach boundary (withdrawn in 2015)", QUALIFIED),
)
"""Columns of the boundary tables, with whom each concerns."""
WITHDRAWN = "withdrawn"
"""Printed in place of a boundary that an edition no longer has."""
BOUNDARY_TABLES: Mapping[str, str] = {"ac": "nfpa-70e-ac", "dc": "nfpa-70e-dc"}
"""Kind of supply to the table of its boundaries."""
LINES_TABLE, WORKING_TABLE = "osha-1910-333-table-s5", "osha-1910-269-table-r6-r7"
"""Tables for qualified persons, for alternating voltage only."""


@dataclass(frozen=True)
class Entry:
    """A distance or text of a rule.

    Parameters
    ----------
    regulation, boundary : str
        Which rule, and what it is called there.
    person : str
        Whom it concerns.
    distance : float or None
        [m].
    printed : str
        As it stands in the table.
    """

    regulation: str
    boundary: str
    person: str
    distance: float | None
    printed: str
    table: Table
    row: str
    rule: str
    provenance: str
    edition: str

    def block(self) -> dict[str, object]:
        """Return the entry as answers show it."""
        shown: dict[str, object] = (
            {"text": TEXTS.get(self.printed, self.printed)}
            if self.distance is None
            else {"distance": distance(self.distance), "printed": self.printed}
        )
        return shown | {
            "regulation": self.regulation,
            "boundary": self.boundary,
            "for_whom": WHOM[self.person],
            "person": self.person,
            "table": self.table.key,
            "row": self.row,
            "rule": self.rule,
            "edition": self.edition,
            "source": self.table.source.block(),
            "provenance": self.provenance,
        }


def overhead_lines(voltage: float, supply: str, reference: Reference, year: int | None = None) -> Iterator[Entry]:
    """Yield the distance for unqualified persons at overhead lines: a step for each started step of voltage above.

    Parameters
    ----------
    voltage : float
        Nominal [V], taken as the voltage to ground.
    supply : str
        The rule does not tell the kinds apart.
    year : int, optional
        Of the edition that is asked; the newest otherwise.
    """
    del supply
    table = reference.table("osha-1910-333-unqualified").as_of(year)
    if not len(table):
        return
    base, limit = table.constant("distance"), table.constant("voltage")
    step, per = table.constant("step-distance"), table.constant("step-voltage")
    steps = max(0, math.ceil((voltage - limit) / per - ROUNDING))
    cells = {name: f"{table.row(name)['value']} {table.row(name)['unit']}" for name in ("distance", "step-distance")}
    printed = cells["distance"] + (f" + {steps} x {cells['step-distance']}" if steps else "")
    rule = (
        f"{cells['distance']} up to {volts(limit)} to ground, {cells['step-distance']} more for each started "
        f"{volts(per)} above; the nominal voltage is taken as that to ground"
    )
    yield Entry(
        "29 CFR 1910.333(c)(3)(i)",
        "distance to overhead lines",
        UNQUALIFIED,
        base + steps * step,
        printed,
        table,
        f"up to {volts(limit)}" if not steps else f"{steps} steps above {volts(limit)}",
        rule,
        table.provenance[0],
        table.text("edition")[0],
    )


def boundaries(voltage: float, supply: str, reference: Reference, year: int | None = None) -> Iterator[Entry]:
    """Yield the boundaries of NFPA 70E for the kind of supply.

    Parameters
    ----------
    voltage : float
        Nominal [V].
    supply : str
        ``ac`` or ``dc``.
    """
    table = reference.table(BOUNDARY_TABLES[supply]).as_of(year)
    row = _row(voltage, table)
    if row is None:
        return
    for column, boundary, person in BOUNDARIES:
        printed = f"{column}_printed"
        if table.text(printed)[row] != WITHDRAWN:
            yield _entry(table, row, column, printed, "NFPA 70E, 130.4", boundary, person)


def qualified_lines(voltage: float, supply: str, reference: Reference, year: int | None = None) -> Iterator[Entry]:
    """Yield the distance of Table S-5, alternating voltage, qualified persons.

    Parameters
    ----------
    voltage : float
        Nominal [V].
    supply : str
        Nothing for ``dc``.
    """
    table = reference.table(LINES_TABLE).as_of(year)
    row = _row(voltage, table)
    if supply != "ac" or row is None:
        return
    regulation, boundary = "29 CFR 1910.333(c)(3)(ii), Table S-5", "approach distance, overhead lines"
    yield _entry(table, row, "distance", "distance_printed", regulation, boundary, QUALIFIED)


def minimum_distances(voltage: float, supply: str, reference: Reference, year: int | None = None) -> Iterator[Entry]:
    """Yield the distances of Tables R-6 and R-7, alternating voltage, qualified persons.

    Parameters
    ----------
    voltage : float
        Nominal [V].
    supply : str
        Nothing for ``dc``.
    """
    table = reference.table(WORKING_TABLE).as_of(year)
    row = _row(voltage, table)
    if supply != "ac" or row is None:
        return
    regulation = f"29 CFR 1910.269, Table {table.text('table')[row]}"
    for column, words in (("phase_to_ground", "phase to ground"), ("phase_to_phase", "phase to phase")):
        yield _entry(table, row, column, column, regulation, f"minimum approach distance, {words}", QUALIFIED)


RULES: tuple[Callable[[float, str, Reference, int | None], Iterator[Entry]], ...] = (
    overhead_lines,
    boundaries,
    qualified_lines,
    minimum_distances,
)


def _row(voltage: float, table: Table) -> int | None:
    """Return the first row that reaches the voltage; between printed rows the next one, below the first none."""
    if not len(table):
        return None
    for row, (last, printed) in enumerate(zip(table["voltage_to"], table.text("voltage_printed"), strict=True)):
        open_end = printed.startswith("<")
        if voltage < last * (1 - ROUNDING) or (not open_end and voltage <= last * (1 + ROUNDING)):
            return row if row or voltage >= table["voltage_from"][0] * (1 - ROUNDING) else None
    return None


def _entry(table: Table, row: int, column: str, printed: str, regulation: str, boundary: str, person: str) -> Entry:
    value = float(table[column][row])
    text = table.text(printed)[row]
    metric = printed == column
    return Entry(
        regulation,
        boundary,
        person,
        None if np.isnan(value) else value,
        f"{text} m" if metric and not np.isnan(value) else text,
        table,
        _with_unit(table.text("voltage_printed")[row], metric=metric),
        "row as printed; between rows the next one",
        table.provenance[row],
        table.text("edition")[row],
    )


def _with_unit(printed: str, *, metric: bool) -> str:
    if metric:
        return f"{printed} kV"
    return printed if printed.endswith("V") else f"{printed} V"
