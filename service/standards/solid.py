"""Solid insulation and what a barrier is tested with: field, inception, thickness that tables ask for, test voltages.

IEC 60664-1 (2007): Table F.5 for impulses across clearances below 2000 m, clause 6.1.3 for solid insulation; memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.lookup import spread, voltage
from service.answers.registry import Registry
from service.answers.situation import one
from service.methods import Case
from service.physics import atmosphere
from service.physics.layers import LayerFields, coaxial_layers, plane_layers
from service.reference import Reference, Table
from service.standards import clearance
from service.standards.clearance import ClearanceTables, covered
from service.standards.ladder import Ladder, ReadValue, origin, provenance_block, together
from service.standards.requirement import ClearanceQuestion, ReadFor, Requirement, metres, peak, quantity, volts
from service.units import ROUNDING, Quantity

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
