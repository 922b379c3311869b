"""/v1/barrier: one barrier at once: clearance, creepage, solid insulation and test voltages, each by its tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from service import units
from service.answers.figure import Bar, Figure, PlotAxis
from service.answers.lookup import Answer, Lead, Lookup, spread
from service.answers.registry import Registry
from service.errors import BadQuestion, Fault, OutsideValidity
from service.lookups.clearance import air_of, breakdown, surroundings
from service.lookups.creepage import PEAK_ASSUMED, SURFACE, WAVEFORMS, cautions_of, path_of, peak_of
from service.lookups.insulation_stress import DIRECT, THICK, VOIDS
from service.parameters import Parameter, Question
from service.standards import clearance, creepage, materials, solid
from service.standards.clearance import ClearanceTables
from service.standards.creepage import CreepageTables, Path
from service.standards.materials import GROUPS, CreepageSurface, Material, as_asked, parameters, surface_of
from service.standards.requirement import (
    NEEDED,
    PLACE,
    VOLTAGES,
    ClearanceQuestion,
    Requirement,
    as_understood,
    asked_of,
    distance,
    doubts,
    echo,
    governing,
    in_words,
    largest,
    measures,
)
from service.standards.solid import Layer, SolidTables, WithstandTables
from service.units import ROUNDING, Quantity

UNPROTECTED = "none"
FIELDS = {"clearance": "clearance", "creepage": "creepage", "solid_insulation": "thickness"}
"""Part to the field of its distance in a row."""
PROTECTIONS = (UNPROTECTED, "type-1", "type-2", "inner-layer", "potted", "cemented-joint")
RESULTS: Mapping[str, str] = {
    "clearance": "The largest of the requirements, each with its table; the one that governs is marked.",
    "creepage": "The largest of the requirements, the clearance among them.",
    "solid_insulation": "Thickness where a table gives one; stress and inception in films and voids of a given one.",
    "tests": "Test voltages: impulse at the altitude of the laboratory, alternating, direct, partial discharge.",
    "protection": "What the protection counts as, and the tests that entitle one to it.",
    "breakdown_at_clearance": "Breakdown voltage at that clearance and altitude, unknown electrodes and plates.",
    "also": "What other tables ask for the same clearance or creepage.",
}
WORKING = (
    Parameter(
        "working_voltage",
        "voltage",
        "Long-term voltage across the barrier, rms or direct; creepage follows it.",
        example="250V",
    ),
    Parameter(
        "waveform",
        "choice",
        "Form of that voltage; without it dc of a dc supply, else ac.",
        choices=WAVEFORMS,
    ),
)
BARRIER = (
    SURFACE,
    Parameter(
        "protection",
        "choice",
        "Protection against pollution: none, a tested coating (type-1, or type-2 as solid insulation), inner-layer, "
        "potted, cemented-joint.",
        default=UNPROTECTED,
        choices=PROTECTIONS,
    ),
    Parameter("solid_thickness", "length", "Thickness of the solid insulation, to see its stress.", example="0.4mm"),
    Parameter("permittivity", "number", "Relative permittivity of the solid.", low=1.0, high=1e4, example="2.3"),
    Parameter(
        "laboratory_altitude",
        "altitude",
        "Altitude of the laboratory that tests the clearance with impulses.",
        default="0m",
        low=-500.0,
        high=5000.0,
        example="500m",
    ),
)
DECIDES = {
    "clearance": "No statement of compliance: the printed text of IEC 60664-1 and of the product standard decides.",
    "creepage": (
        "No statement of compliance: the printed text of IEC 60664-1 (clause on creepage and how to measure it) and of "
        "the product standard decides."
    ),
    "solid_insulation": (
        "No statement of compliance: the printed text of IEC 60664-1, of IEC 60664-3 for coatings and mouldings, and "
        "of the product standard decides; the tests prove the part, not the thickness."
    ),
    "tests": (
        "No statement of compliance: the printed text of IEC 60664-1 and of the product standard decides which of "
        "these are done, how often and on how many samples; the figures here are from memory."
    ),
}
NO_WORKING = (
    "working_voltage was not given: creepage follows the long-term rms or direct voltage across the barrier, which the "
    "voltage of the supply line to neutral need not be."
)
NO_THICKNESS = (
    "No table here gives a thickness for this grade and voltage: IEC 60664-1 leaves it to the tests, and the tables of "
    "products that are stored begin at 71 V peak, for supplementary and reinforced insulation, and end at 1.5 kV peak."
)
NO_PEAK = "The stress needs working_voltage or recurring_peak_voltage."
NO_PERMITTIVITY = (
    "Fields and inception in films and voids need a permittivity: give permittivity, or a material of which one is "
    "published here."
)
NO_CLEARANCE = "no table gives the clearance, below which creepage never is: this is only a lower end"
NO_IMPULSES = (
    "Neither the supply (system_voltage with overvoltage_category) nor impulse_voltage was given: no impulse is in the "
    "clearance, nor in the creepage that is never below it."
)
OUTSIDE = "beside the protection, and under it until its tests as solid insulation are done"
UNDER = "under the protection; where it ends outside_protection stands"
VARNISH = "A varnish that was not tested is no protection here: its distances are those of protection=none."


@dataclass(frozen=True, eq=False)
class Tables:
    """The tables that a barrier is read from."""

    air: ClearanceTables
    surface: CreepageTables
    solid: SolidTables
    tests: WithstandTables


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    reference = registry.reference
    tables = Tables(
        ClearanceTables.of(reference),
        CreepageTables(reference),
        SolidTables.of(reference),
        WithstandTables.of(reference),
    )
    return Lookup(
        "barrier",
        "One barrier: air, surface, solid and tests",
        "Everything that the insulation standards ask of one barrier: clearance, creepage, solid insulation and tests.",
        (*VOLTAGES, *WORKING, *PLACE[:2], *parameters(registry), *PLACE[2:], *BARRIER),
        lambda question: answer(question, registry, tables),
        example="system_voltage=230V&overvoltage_category=II&working_voltage=250V&pollution_degree=2&insulation=reinforced",
        results=RESULTS,
        keeps_question=True,
        one_of=(
            ("system_voltage", "overvoltage_category"),
            ("impulse_voltage",),
            ("recurring_peak_voltage",),
            ("working_voltage",),
        ),
    )


@dataclass(frozen=True, eq=False)
class Barrier:
    """A barrier as asked: through air, along its surface, and the protection over it."""

    asked: ClearanceQuestion
    path: Path | None
    surface: CreepageSurface
    protection: str
    counts_as: str
    no_surface: str = ""
    """Why the surface belongs to no material group."""

    @property
    def is_solid(self) -> bool:
        """Whether the protection counts as solid insulation."""
        return self.counts_as == "solid"

    @property
    def improves(self) -> bool:
        """Whether the protection improves the surroundings under it."""
        return self.counts_as.isdigit()

    @property
    def peak(self) -> float | None:
        """The highest peak that stays or recurs [V], where one is known."""
        recurring, steady = self.asked.recurring_peak_voltage, self.asked.steady_peak
        return steady if recurring is None else recurring

    def under(self) -> Barrier:
        """Return the barrier in the surroundings under its protection, where that improves them."""
        if not self.improves:
            return self
        degree = min(int(self.counts_as), self.asked.pollution_degree)
        path = None if self.path is None else replace(self.path, pollution_degree=degree)
        return replace(self, asked=replace(self.asked, pollution_degree=degree), path=path)


@dataclass(frozen=True)
class BarrierPart:
    """What tables ask for one part of a barrier, or why none answers."""

    name: str
    found: Sequence[Requirement] = ()
    why: str = ""

    @classmethod
    def read(cls, name: str, rule: Callable[[], Sequence[Requirement]]) -> BarrierPart:
        """Return a part as a rule reads it; where its tables end, the part says so."""
        try:
            return cls(name, rule())
        except OutsideValidity as error:
            return cls(name, (), error.detail)

    @property
    def title(self) -> str:
        """The part in words."""
        return self.name.replace("_", " ").capitalize()

    @property
    def distance(self) -> Quantity:
        """The largest distance, as answers show it."""
        return distance(governing(self.found).distance)

    def block(self) -> dict[str, object]:
        """Return the part as answers show it."""
        own = largest(self.found, FIELDS[self.name]) if self.found else {"answered": False, "why": self.why}
        return own | {"decides": DECIDES[self.name]}


def answer(question: Question, registry: Registry, tables: Tables) -> Answer:
    """Return every part of a barrier; a part that no table answers says so, and why.

    Raises
    ------
    BadQuestion
        When no voltage is given, or parameters contradict or need each other.
    OutsideValidity
        When neither air nor surface nor solid is answered.
    """
    barrier, further = _barrier(question, registry, tables)
    under = barrier.under()
    air, along, thick = _air(under, tables), _along(under, tables), _thick(barrier, tables)
    layer = _layer(question, barrier, registry)
    if not (air.found or along.found or thick.found or layer):
        raise OutsideValidity(f"{air.why} {along.why}", [_fault(question, air.why)])
    results: dict[str, object] = {
        "clearance": air.block() | _beside_protection(barrier, _air, tables),
        "creepage": _creepage(along, air, under, registry) | _beside_protection(barrier, _along, tables),
        "solid_insulation": thick.block() | _stress(question, layer, thick, barrier, registry),
        "tests": _tests(question, barrier, tables),
    }
    results |= _protection(barrier, tables)
    notes = doubts([*air.found, *along.found, *thick.found])
    only_working = not asked_of(question).any_voltage
    no_impulses = barrier.asked.system_voltage is None and barrier.asked.impulse_voltage is None
    notes += (
        [NO_IMPULSES] * no_impulses + [PEAK_ASSUMED] * bool(further) + [VARNISH] * (barrier.protection == UNPROTECTED)
    )
    also: list[dict[str, object]] = []
    corrections: dict[str, object] = {}
    if air.found:
        shown, more = breakdown(under.asked, governing(air.found).distance, registry)
        results |= {"breakdown_at_clearance": shown} if shown else {}
        also += _other_clearances(under.asked, air, tables)
        notes += [*clearance.notes_of(under.asked, air.found), *more]
        further |= surroundings(under.asked)
        factor = clearance.altitude_factor(under.asked.altitude, tables.air.altitude).value
        corrections = {"altitude_factor": factor} if factor > 1 else {}
    notes += [THICK, VOIDS, DIRECT] * (layer is not None)
    if along.found and under.path is not None:
        notes += _surface_notes(under, along, registry)
        length = governing(along.found).distance
        also += creepage.rationalized(question, under.path, tables.surface, registry.reference, length)
    chosen = air.found or along.found or thick.found
    return Answer(
        "barrier",
        echo(as_understood(as_asked(question)), measures(question), further),
        results,
        governing(chosen).method() if chosen else None,
        also,
        corrections,
        notes,
        cautions_of(under.path) if under.path else ("not-a-barrier", "insulated-wire", "local-codes"),
        not_alone=dict.fromkeys(("clearance", "creepage"), NO_IMPULSES) if only_working else {},
        figure=partial(ladder, (air, along, thick)) if chosen else None,
        lead=_lead(barrier, (air, along, thick), impulses=not no_impulses),
    )


THROUGH: Mapping[str, str] = {
    "clearance": "through air",
    "creepage": "along the surface",
    "solid_insulation": "of solid",
}
"""Each part in words."""


def _lead(barrier: Barrier, parts: Sequence[BarrierPart], *, impulses: bool) -> Lead:
    """Return what is read first: what is asked of air, surface and solid, and what no table answers."""
    known = [f"{in_words(governing(part.found).distance)} {THROUGH[part.name]}" for part in parts if part.found]
    silent = [part.title.lower() for part in parts if not part.found]
    sentence = (
        f"{barrier.asked.insulation.capitalize()} insulation at pollution degree {barrier.asked.pollution_degree}: "
    )
    sentence += f"at least {', '.join(known)}." if known else "no table gives a distance."
    sentence += f" No table here answers for: {', '.join(silent)}." if silent else ""
    words = ", ".join(known) or "not known"
    if impulses or not known:
        return Lead(sentence, "At least", words, "not-a-barrier")
    sentence += " No impulse is in this: neither the supply nor an impulse was given."
    return Lead(sentence, "At least", f"{words}; more for impulses", "not-a-barrier")


def _other_clearances(asked: ClearanceQuestion, air: BarrierPart, tables: Tables) -> list[dict[str, object]]:
    answered = governing(air.found).distance
    return [one.beside("clearance", answered) for one in clearance.other_tables(asked, air.found, tables.air)]


def _surface_notes(barrier: Barrier, along: BarrierPart, registry: Registry) -> list[str]:
    if barrier.path is None:
        return []
    groove = creepage.groove_of(barrier.path, registry.reference)
    return creepage.notes_of(barrier.path, barrier.surface, along.found, groove)


def _fault(question: Question, why: str) -> Fault:
    return Fault(next(name for name in (*NEEDED, "working_voltage", "temporary_overvoltage") if name in question), why)


def _barrier(question: Question, registry: Registry, tables: Tables) -> tuple[Barrier, dict[str, object]]:
    asked, path, no_surface = asked_of(question), None, ""
    try:
        surface = surface_of(question, registry)
    except OutsideValidity as error:  # the air does not ask for a material
        surface, no_surface = CreepageSurface(GROUPS[-1], error.detail), error.detail
    further: dict[str, object] = {}
    if "working_voltage" in question:
        path, further = path_of(question, surface)
        if asked.recurring_peak_voltage is None:
            peak = peak_of(path)
            asked = replace(asked, steady_peak=peak, recurring_peak_voltage=peak if further else None)
    elif not asked.any_voltage:
        detail = (
            "A voltage is needed: system_voltage with overvoltage_category, or impulse_voltage, and working_voltage "
            "and/or recurring_peak_voltage."
        )
        raise BadQuestion.about((*NEEDED, "working_voltage"), detail)
    elif "waveform" in question:
        raise BadQuestion.about("waveform", "waveform needs working_voltage, the voltage that it belongs to.")
    kind = question.key("protection")
    counts_as = UNPROTECTED if kind == UNPROTECTED else tables.solid.counts_as(kind)
    return Barrier(asked, path, surface, kind, counts_as, no_surface), further


def _air(barrier: Barrier, tables: Tables) -> BarrierPart:
    return BarrierPart.read("clearance", lambda: clearance.requirements(barrier.asked, tables.air))


def _along(barrier: Barrier, tables: Tables) -> BarrierPart:
    path = barrier.path
    if path is None or barrier.no_surface:
        return BarrierPart("creepage", (), barrier.no_surface or NO_WORKING)
    along = BarrierPart.read("creepage", lambda: creepage.requirements(path, tables.surface))
    air = _air(barrier, tables)
    if not along.found or not air.found:
        return along
    return BarrierPart("creepage", creepage.above_the_clearance(along.found, governing(air.found)))


def _creepage(along: BarrierPart, air: BarrierPart, barrier: Barrier, registry: Registry) -> dict[str, object]:
    block = along.block()
    if not along.found or barrier.path is None:
        return block
    if not air.found:
        low = block.pop("value")
        block = {"value": None, "low": low, **block, "why": NO_CLEARANCE}
    block["minimum_groove_width"] = creepage.groove_of(barrier.path, registry.reference).block()
    block["material"] = {"group": barrier.surface.group, "why": barrier.surface.why}
    return block


def _beside_protection(
    barrier: Barrier, part: Callable[[Barrier, Tables], BarrierPart], tables: Tables
) -> dict[str, object]:
    """Return where a distance stands, and what is asked outside the protection."""
    if barrier.is_solid:
        return {"where": OUTSIDE}
    if not barrier.improves:
        return {}
    bare = part(barrier, tables)
    return {"where": UNDER, "outside_protection": bare.distance if bare.found else {"answered": False, "why": bare.why}}


def _protection(barrier: Barrier, tables: Tables) -> dict[str, object]:
    if barrier.protection == UNPROTECTED:
        return {}
    table = tables.solid.protections
    row = table.row(barrier.protection)
    under = "solid insulation" if barrier.is_solid else f"pollution degree {barrier.counts_as}"
    return {
        "protection": {
            "kind": barrier.protection,
            "counts_as": under,
            "meaning": row["meaning"],
            "tests": row["tests"],
            "clause": row["clause"],
            "source": table.source.block(),
            "provenance": row["provenance"],
        }
    }


def _thick(barrier: Barrier, tables: Tables) -> BarrierPart:
    thick = BarrierPart.read(
        "solid_insulation",
        lambda: solid.thicknesses(barrier.asked, barrier.is_solid, barrier.peak, tables.air, tables.solid),
    )
    return thick if thick.found or thick.why else replace(thick, why=NO_THICKNESS)


def _layer(question: Question, barrier: Barrier, registry: Registry) -> Layer | None:
    """Return the solid layer whose stress is asked, where thickness and a voltage that stays are given."""
    if "solid_thickness" not in question or barrier.peak is None:
        return None
    own = (question.number("permittivity"),) if "permittivity" in question else ()
    material = _material(question, registry)
    published = material.ends("relative_permittivity") if material else ()
    return Layer(barrier.peak, question.number("solid_thickness"), own or published, None, None)


def _material(question: Question, registry: Registry) -> Material | None:
    return materials.material_of(registry, question.key("material")) if "material" in question else None


def _stress(
    question: Question, layer: Layer | None, thick: BarrierPart, barrier: Barrier, registry: Registry
) -> dict[str, object]:
    """Return the stress of the solid thickness given, and whether it is below what tables ask."""
    if "solid_thickness" not in question:
        return {}
    thickness = question.number("solid_thickness")
    block: dict[str, object] = {"thickness_given": distance(thickness)}
    if thick.found:
        block["thinner_than_asked"] = thickness < governing(thick.found).distance * (1 - ROUNDING)
    if layer is None:
        return block | {"stress_missing": NO_PEAK}
    block["peak_voltage"] = Quantity(layer.voltage, "voltage")
    block["solid_field"] = spread(
        replace(layer, permittivities=layer.permittivities or (1.0,)).fields(layer.voltage).solid, "field"
    )
    material = _material(question, registry)
    if layer.permittivities:
        block |= solid.void_fields(layer) | _film(layer, barrier, registry)
    else:
        block["stress_missing"] = NO_PERMITTIVITY
    for name in ("strength", "breakdown_voltage"):
        figures = material.blocks(name) if material else []
        block |= {name: figures} if figures else {}
    return block


def _film(layer: Layer, barrier: Barrier, registry: Registry) -> dict[str, object]:
    """Return inception in the film or flat void that breaks down first, at the altitude asked."""
    air = air_of(barrier.asked, layer.thickness)
    weakest = solid.weakest_film(layer, air, registry)
    if weakest is None:
        return {}
    film = solid.film_breakdown(weakest, air, registry)
    found = None if film is None else solid.film_inception(weakest, film)
    if found is None:
        return {}
    # the low end decides: a film that may break down is not known to hold
    below = {"air_film_may_break_down": (found.whole.low or 0.0) < layer.voltage}
    return {**found.block(), "air_film_weakest": distance(float(f"{weakest.film:.3g}")), **below}


def _tests(question: Question, barrier: Barrier, tables: Tables) -> dict[str, object]:
    laboratory = question.number("laboratory_altitude")
    try:
        found, missing = solid.tests(barrier.asked, laboratory, tables.air, tables.tests)
    except OutsideValidity as error:
        found, missing = [], [error.detail]
    block: dict[str, object] = {"voltages": solid.rows(found)} if found else {"answered": False}
    supply = clearance.overvoltages(barrier.asked, tables.air)
    block |= {"temporary_overvoltages": supply} if supply else {}
    return block | ({"why": " ".join(missing)} if missing else {}) | {"decides": DECIDES["tests"]}


def ladder(parts: Sequence[BarrierPart]) -> Figure:
    """Return the picture: every distance that is asked, from its bar on, and what governs each part."""
    bars = [
        Bar(f"{part.title}: {one.title}", units.shown(one.distance, "length"), float("nan"))
        for part in parts
        for one in sorted(part.found, key=lambda each: -each.distance)
    ]
    lines = [(part.title, units.shown(governing(part.found).distance, "length")) for part in parts if part.found]
    return Figure(
        "What is asked of one barrier",
        "Distances that the tables ask for, by part; the largest of each part governs it.",
        PlotAxis("Distance", "mm"),
        PlotAxis("", ""),
        bars=tuple(bars),
        lines=tuple(lines),
    )
