"""Every clearance that applies to a question, and the altitude on top of the largest."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from service.standards.asking import millimetres
from service.standards.clearance_asked import Asked
from service.standards.clearance_impulse import at_least, column_words, impulse
from service.standards.clearance_peak import high_frequency, recurring_peak
from service.standards.clearance_tables import ClearanceTables
from service.standards.reading import FINEST, Found, Ladder, beyond, round_up, together
from service.standards.requirements import Requirement, governing


def requirements(asked: Asked, tables: ClearanceTables) -> list[Requirement]:
    """Return every clearance that applies.

    Parameters
    ----------
    asked : Asked
        With at least one voltage.
    tables : ClearanceTables

    Raises
    ------
    BadQuestion
        When a high frequency is given without the voltage that it belongs to.
    OutsideValidity
        When a voltage, frequency or altitude lies beyond the last row of its table.
    """
    found = [one for rule in RULES for one in rule(asked, tables)]
    return found + list(_altitude(asked, tables, governing(found)))


def pollution(asked: Asked, tables: ClearanceTables) -> Iterator[Requirement]:
    """Yield the smallest clearance of the pollution degree, where no impulse asks for at least that."""
    if asked.system_voltage is not None or asked.impulse_voltage is not None:
        return
    column = tables.column(asked)
    found = at_least(asked, tables, column.step_up(float(column.arguments[0])))
    whole = Found(found.value, f"F.2: {found.row}, {column_words(asked)}", "first row", found.provenance)
    rule = "the smallest clearance that Table F.2 has for the pollution degree"
    yield Requirement.of("pollution-degree", "Dust and moisture", whole, column.table, rule)


RULES: tuple[Callable[[Asked, ClearanceTables], Iterator[Requirement]], ...] = (
    impulse,
    recurring_peak,
    high_frequency,
    pollution,
)
"""What holds up to 2000 m."""


def altitude_factor(altitude: float | None, ladder: Ladder) -> Found:
    """Return the factor on clearances: 1 up to the first row of Table A.2, linear between its rows above.

    Parameters
    ----------
    altitude : float or None
        [m].
    ladder : Ladder
        Table A.2.

    Raises
    ------
    OutsideValidity
        Above the last row.
    """
    first = float(ladder.arguments[0])
    if altitude is None or altitude <= first:
        return Found(1.0, ladder.words(first), "no correction up to here", ladder.provenances[0])
    if not ladder.covers(altitude):
        raise beyond("altitude", f"Table A.2 ends at {ladder.words(ladder.last)}.", "altitude", ladder.last)
    return ladder.interpolated(altitude)


def _altitude(asked: Asked, tables: ClearanceTables, largest: Requirement) -> Iterator[Requirement]:
    factor = altitude_factor(asked.altitude, tables.altitude)
    if factor.value <= 1.0:
        return
    distance = round_up(largest.distance * factor.value, FINEST)
    origins = together((factor.provenance, largest.provenance))
    whole = Found(distance, f"A.2: {factor.row}; {largest.row}", f"{factor.rule} of the factor", origins)
    rule = f"{millimetres(largest.distance)} of '{largest.key}' x {factor.value:.6g}"
    given = {"of": largest.key, "altitude_factor": factor.value}
    yield Requirement.of("altitude", "Thin air above 2000 m", whole, tables.altitude.table, rule, given)
