"""Solid insulation: field in a layer and in film or void, inception there, and the thickness that tables ask for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.lookup import spread, voltage
from service.answers.registry import Registry
from service.answers.situation import one
from service.methods import Case
from service.physics.layers import LayerFields, coaxial_layers, plane_layers
from service.reference import Reference, Table
from service.standards import clearance
from service.standards.clearance import ClearanceTables, covered
from service.standards.ladder import Ladder, ReadValue, origin
from service.standards.requirement import ClearanceQuestion, ReadFor, Requirement, peak, volts
from service.units import Quantity

FILMS = np.geomspace(5e-6, 20e-3, 181)
"""Thicknesses among which the film that breaks down first is sought [m]; thinner and wider ones hold more."""


@dataclass(frozen=True)
class Layer:
    """A solid layer with what is beside it: peak voltage [V], thickness, wire and film [m].

    ``permittivities`` are one relative permittivity, or the two ends of what is published; without a conductor diameter
    the layer is plane, without a film its thickness is not known.
    """

    voltage: float
    thickness: float
    permittivities: tuple[float, ...]
    conductor_diameter: float | None
    film: float | None

    def fields(self, voltage: float) -> LayerFields:
        """Return the fields at a voltage [V], one per permittivity."""
        relative, film = np.array(self.permittivities), self.film or 0.0
        if self.conductor_diameter is None:
            return plane_layers(voltage, self.thickness, relative, film)
        return coaxial_layers(voltage, self.conductor_diameter / 2, self.thickness, relative, film)


def film_breakdown(layer: Layer, air: Case, registry: Registry) -> Evaluation | None:
    """Return the breakdown of the air film: plates, or coaxial cylinders around a wire."""
    if layer.film is None:
        return None
    case = replace(air, gap=one(layer.film), frequency=one(50.0))
    if layer.conductor_diameter is None:
        return evaluate(registry.plates, case)
    inner = layer.conductor_diameter + 2 * layer.thickness
    sizes = {"inner_diameter": one(inner), "outer_diameter": one(inner + 2 * layer.film)}
    around = evaluate(registry.arrangement("coaxial-cylinders"), replace(case, dimensions=sizes))
    return around if np.isfinite(around.inception[0]) else evaluate(registry.plates, case)


def weakest_film(layer: Layer, air: Case, registry: Registry) -> Layer | None:
    """Return the layer with the film that breaks down first, where none was given: sought between plates."""
    if layer.film is not None or not layer.permittivities:
        return None
    case = replace(air, frequency=one(50.0), gap=one(FILMS[0])).with_gap(FILMS)
    plates = evaluate(registry.plates, case)
    films = [replace(layer, film=float(film)) for film in FILMS[plates.answered]]
    if not films:
        return None
    shares = np.array([float(single.fields(1.0).film_voltage.max()) for single in films])
    return films[int(np.argmin(plates.value[plates.answered] / shares))]


@dataclass(frozen=True)
class FilmBreakdown:
    """Breakdown of an air film, alone and across film and layer: a bracket where there is no one value."""

    film: Quantity
    whole: Quantity

    def block(self) -> dict[str, Quantity]:
        """Return it as answers show it."""
        return {"air_film_inception": self.whole, "air_film_breakdown": self.film}


def film_inception(layer: Layer, film: Evaluation) -> FilmBreakdown | None:
    """Return the voltage across layer and film at which the film breaks down, and that of the film alone.

    Nothing where no method answers. Corona at a wire starts before the film breaks down: the earlier of the two counts,
    also as the low end.
    """
    if not film.answered[0]:
        return None
    starts = float(film.inception[0])
    value, low, high = film.numbers()
    value = starts if np.isnan(value) else value
    low = float(np.fmin(low, starts)) if np.isfinite(starts) else low
    shares = layer.fields(1.0).film_voltage
    most, least = float(shares.max()), float(shares.min())
    across = voltage(value / most if most == least else np.nan, low / most, high / least)
    return FilmBreakdown(voltage(value, low, high), across)


def void_fields(layer: Layer) -> dict[str, Quantity]:
    """Return the field in a void of air within the solid: flat across the field, the worst, and round.

    Flat: relative permittivity times the field of the solid; round: 3 e/(1 + 2 e) times it.
    """
    solid, relative = layer.fields(layer.voltage).solid, np.array(layer.permittivities)
    return {
        "flat_void_field": spread(relative * solid, "field"),
        "round_void_field": spread(3 * relative / (1 + 2 * relative) * solid, "field"),
    }


# the thickness that tables ask for


@dataclass(frozen=True, eq=False)
class SolidTables:
    """Tables that give a thickness of solid insulation, and what a protection against pollution counts as."""

    protections: Table
    spacing: Ladder
    """Peak voltage to spacing under type 2 protection (IEC 60664-3 Table 1)."""
    laboratory: Ladder
    """Mains voltage to distance through moulded parts (IEC 61010-1)."""
    equipment: Table
    """Thickness of a single layer by grade (IEC 60950-1)."""

    def counts_as(self, protection: str) -> str:
        """Return the pollution degree under a protection, or ``solid``."""
        return str(self.protections.row(protection)["counts_as"])

    @classmethod
    def of(cls, reference: Reference) -> SolidTables:
        """Return the tables in use."""
        return cls(
            reference.table("iec-60664-3-protections"),
            Ladder.of(reference.table("iec-60664-3-table-1"), "voltage", "spacing", volts),
            Ladder.of(reference.table("iec-61010-1-solid-insulation"), "voltage", "thickness", volts),
            reference.table("iec-60950-solid-thickness"),
        )


LOW_VOLTAGE = 1500.0
"""Peak working voltage to which tables of low-voltage products are taken [V]: where the basic standard ends."""


def highest_peak(asked: ClearanceQuestion, tables: ClearanceTables) -> float:
    """Return the highest peak voltage that a barrier is dimensioned for [V]: impulse, temporary, recurring, steady."""
    found = [one for rule in clearance.RULES for one in rule(replace(asked, frequency=None, altitude=None), tables)]
    peaks = [given.value for one in found for given in one.given.values() if given.dimension == "voltage"]
    return max(peaks, default=0.0)


def thicknesses(
    asked: ClearanceQuestion, solid_between: bool, working_peak: float | None, air: ClearanceTables, tables: SolidTables
) -> list[Requirement]:
    """Return every thickness or spacing of solid insulation that a table gives for a barrier.

    ``solid_between`` says whether the conductors are under a protection that counts as solid insulation.
    """
    found: list[Requirement] = []
    if solid_between:
        found.append(_under_protection(asked, air, tables))
    # beside a spacing that goes on, the tables of low-voltage products still count; alone they end with low voltage
    if solid_between or (working_peak or 0.0) <= LOW_VOLTAGE:
        found += [*_laboratory(asked, tables), *_equipment(asked, working_peak or 0.0, tables)]
    return found


def _under_protection(asked: ClearanceQuestion, air: ClearanceTables, tables: SolidTables) -> Requirement:
    high = highest_peak(asked, air)
    ladder = covered(tables.spacing, high, "recurring_peak_voltage", 1.0)
    found = ladder.interpolated(high)
    rule = "highest of impulse, temporary, recurring and steady peak, with the factor of the grade"
    title = "Between conductors under type 2 protection"
    return Requirement.read("type-2-spacing", title, found, ladder.table, rule, {"peak_voltage": peak(high)})


def _laboratory(asked: ClearanceQuestion, tables: SolidTables) -> Iterator[Requirement]:
    system, ladder = asked.system_voltage, tables.laboratory
    if system is None or asked.insulation == "functional" or not ladder.covers(system):
        return
    title = "Moulded parts and inner layers of laboratory equipment"
    given = {"voltage": ReadFor(system, "voltage", "dc" if asked.direct else "rms")}
    rule = "mains circuits; every grade alike (from memory)"
    yield Requirement.read("laboratory-equipment", title, ladder.step_up(system), ladder.table, rule, given)


def _equipment(asked: ClearanceQuestion, working_peak: float, tables: SolidTables) -> Iterator[Requirement]:
    table = tables.equipment
    for row, grade in enumerate(table.text("insulation")):
        if grade == asked.insulation and working_peak > float(table["voltage_from"][row]):
            words = f"{grade}, working voltage above {volts(float(table['voltage_from'][row]))} peak"
            rule = f"a single layer; {table.text('note')[row]}"
            found = ReadValue(float(table["thickness"][row]), words, rule, origin(table, row))
            given = {"peak_voltage": peak(working_peak)}
            yield Requirement.read("single-layer", "Information technology equipment", found, table, "", given)
