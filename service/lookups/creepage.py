"""/v1/creepage: the distance along a surface that insulation standards ask for; never below the clearance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

from service.answers.lookup import Answer, Lead, Least, Lookup
from service.answers.registry import Registry
from service.answers.situation import SINE
from service.errors import BadQuestion
from service.lookups.batch_distances import Distances
from service.parameters import Parameter, Question
from service.standards import clearance as air_rules
from service.standards import creepage as rules
from service.standards.clearance import ClearanceTables, is_fast
from service.standards.creepage import PRINTED, CreepageTables, Path
from service.standards.materials import CreepageSurface, as_asked, parameters, surface_of
from service.standards.requirement import (
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
    measures,
)
from service.units import ROUNDING, Quantity

PEAKS = ("peak_voltage", "recurring_peak_voltage")
SITE_CLASSES = ("a", "b", "c", "d", "e", "I", "II", "III", "IV")
WAVEFORMS = ("ac", "dc", "pulse-train")
RESULTS: Mapping[str, str] = {
    "creepage": "The largest of the requirements.",
    "governed_by": "Key of the requirement that asks for it.",
    "requirements": "Every requirement with table, row, rule and provenance.",
    "clearance_asked": "Whether a voltage of the clearance was given; without one the creepage may still be too short.",
    "minimum_groove_width": "A narrower groove does not count: the path runs straight across it.",
    "material": "Material group taken, and why.",
    "surface_flashover": "Practice figures for flashover along a surface, at the peak voltage; no requirement.",
}
WORKING = Parameter(
    "working_voltage",
    "voltage",
    "Long-term rms or direct voltage across the surface.",
    required=True,
    example="250V",
)
WAVEFORM = Parameter("waveform", "choice", "Form of that voltage.", default="ac", choices=WAVEFORMS)
SURFACE = Parameter("surface", "choice", "What the path runs along.", default="general", choices=("general", PRINTED))
PATH = (
    WAVEFORM,
    Parameter(
        "peak_voltage",
        "voltage",
        "Highest recurring peak across the surface; needed for pulses, whose peak is far above the rms.",
        example="12kV",
        excludes=("recurring_peak_voltage",),
    ),
    SURFACE,
    Parameter("ribbed", "boolean", "Whether a rib of the form of the standard stands across.", default="false"),
    Parameter("site_class", "choice", "Outdoor site pollution class, IEC 60815.", choices=SITE_CLASSES),
)
NOT_ASKED = (
    "Creepage is never below the clearance, and no voltage of the clearance was given: only that of the working "
    "voltage is in this list, and impulses of the mains may ask for more. Give system_voltage with "
    "overvoltage_category, impulse_voltage or peak_voltage; or ask /v1/barrier."
)
BEYOND_AIR = "The clearance tables end below the peak of the working voltage: no clearance is in this list."
PEAK_ASSUMED = "No peak was given: the voltage above 30 kHz is taken as sinusoidal, its peak as sqrt 2 x rms."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    tables = CreepageTables(registry.reference)
    air = ClearanceTables.of(registry.reference)
    return Lookup(
        "creepage",
        "Creepage along a surface",
        "The distance along an insulating surface that the insulation standards ask for; never below the clearance.",
        (WORKING, *PLACE[:2], *parameters(registry), *PATH, *VOLTAGES, *PLACE[2:]),
        lambda question: answer(question, registry, tables, air),
        example="working_voltage=250V&pollution_degree=2&insulation=basic",
        results=RESULTS,
        keeps_question=True,
        many=partial(Distances, partial(least, registry=registry, tables=tables, air=air), ("creepage",)),
    )


@dataclass(frozen=True)
class Required:
    """What is asked for along a surface.

    Parameters
    ----------
    further : mapping
        What was taken without being given.
    asked : ClearanceQuestion
        The clearance part of the question.
    altitude_factor : float
        On clearances; an altitude that has none is refused whether or not a clearance is asked.
    clearance : Requirement or None
        That of the same barrier, where the tables reach so far.
    found : list of Requirement
        Every one that applies; the largest governs.
    groove : Groove
        Narrowest groove that counts.
    """

    surface: CreepageSurface
    path: Path
    further: dict[str, object]
    asked: ClearanceQuestion
    altitude_factor: float
    clearance: Requirement | None
    found: list[Requirement]
    groove: rules.Groove

    @classmethod
    def of(cls, question: Question, registry: Registry, tables: CreepageTables, air: ClearanceTables) -> Required:
        """Return the requirements of a question."""
        surface = surface_of(question, registry)
        path, further = path_of(question, surface)
        asked = _asked(question, path)
        factor = air_rules.altitude_factor(asked.altitude, air.altitude).value
        alone = rules.requirements(path, tables)
        clearance = _clearance(asked, path, air)
        found = rules.above_the_clearance(alone, clearance) if clearance is not None else alone
        return cls(surface, path, further, asked, factor, clearance, found, rules.groove_of(path, registry.reference))

    @property
    def largest(self) -> Requirement:
        """The requirement that governs."""
        return governing(self.found)

    def notes(self, *, of_many: bool = False) -> list[str]:
        """Return the sentences that belong to it, or to many questions."""
        silent = {
            NOT_ASKED: not self.asked.any_voltage,
            BEYOND_AIR: self.clearance is None,
            PEAK_ASSUMED: bool(self.further),
        }
        return [
            *(sentence for sentence, holds in silent.items() if holds),
            *doubts(self.found),
            *rules.notes_of(self.path, self.surface, self.found, self.groove, of_many=of_many),
        ]


def least(question: Question, registry: Registry, tables: CreepageTables, air: ClearanceTables) -> Least:
    """Return what an answer says of the distance, without the rest of it."""
    required = Required.of(question, registry, tables, air)
    largest = required.largest
    return Least((largest.distance,), largest.key, required.notes(of_many=True), cautions_of(required.path))


def answer(question: Question, registry: Registry, tables: CreepageTables, air: ClearanceTables) -> Answer:
    """Return the creepage with every requirement."""
    required = Required.of(question, registry, tables, air)
    path, asked, found, groove = required.path, required.asked, required.found, required.groove
    largest = required.largest
    factor = required.altitude_factor
    results: dict[str, object] = {
        "creepage": distance(largest.distance),
        "governed_by": largest.key,
        "requirements": [one.block("creepage") for one in found],
        "clearance_asked": asked.any_voltage,
        "minimum_groove_width": groove.block(),
        "material": {"group": required.surface.group, "why": required.surface.why},
        "surface_flashover": rules.flashover(peak_of(path), registry.reference),
    }
    return Answer(
        "creepage",
        echo(as_understood(as_asked(question)), measures(question), required.further),
        results,
        largest.method(),
        rules.rationalized(question, path, tables, registry.reference, largest.distance),
        {"altitude_factor": factor} if largest.key == "clearance" and factor > 1 else {},
        required.notes(),
        cautions_of(path),
        not_alone={} if asked.any_voltage else {"creepage": NOT_ASKED},
        lead=_lead(path, largest, whole=asked.any_voltage and required.clearance is not None),
    )


def _lead(path: Path, largest: Requirement, *, whole: bool) -> Lead:
    """Return what is read first: the creepage, what asks for it, and whether the clearance may ask for more."""
    far = in_words(largest.distance)
    sentence = (
        f"{path.insulation.capitalize()} insulation at pollution degree {path.pollution_degree}, material group "
        f"{path.group}: at least {far} along the surface, asked for by: {largest.title[:1].lower()}{largest.title[1:]}."
    )
    if whole:
        return Lead(sentence, "Creepage, at least", far, "not-a-barrier")
    more = " The clearance may ask for more: not every voltage of it is known here."
    return Lead(sentence + more, "Creepage, at least", f"{far}, or more for the clearance", "not-a-barrier")


def cautions_of(path: Path) -> tuple[str, ...]:
    """Return the cautions that belong to a surface."""
    return ("not-a-barrier", "insulated-wire", *(("fast-current",) if is_fast(path.frequency) else ()), "local-codes")


def path_of(question: Question, surface: CreepageSurface) -> tuple[Path, dict[str, object]]:
    """Return the creepage part of a question, and what was taken without being given.

    Raises
    ------
    BadQuestion
        When the peak voltage of pulses or of a fast ripple is missing, or parameters contradict each other.
    """
    direct = measures(question)["working_voltage"] == "dc"
    peak = _checked_peak(question, direct)
    frequency, working = question.optional("frequency"), question.number("working_voltage")
    further: dict[str, object] = {}
    if is_fast(frequency) and peak is None:
        peak = SINE * working
        further[_peak_name(question)] = Quantity(peak, "voltage")
    path = Path(
        working_voltage=working,
        pollution_degree=int(question.number("pollution_degree")),
        insulation=question.key("insulation"),
        group=surface.group,
        surface=question.key("surface"),
        ribbed=bool(question.values.get("ribbed", False)),
        site_class=str(question.values["site_class"]) if "site_class" in question else None,
        frequency=frequency,
        peak_voltage=peak,
        direct=direct,
    )
    return path, further


def _checked_peak(question: Question, direct: bool) -> float | None:
    given = [name for name in PEAKS if name in question]
    if len(given) == 2:
        raise BadQuestion.contradiction(*PEAKS, "Both are the highest peak that recurs.")
    accepted = (_peak_name(question),)
    if question.values.get("waveform") == "pulse-train" and not given:
        detail = (
            f"waveform=pulse-train needs {accepted[0]}: a pulse peaks far above its rms value, and the peak decides "
            "clearance and high-frequency creepage."
        )
        raise BadQuestion.about(accepted, detail)
    if direct and is_fast(question.optional("frequency")) and not given:
        detail = (
            f"A direct voltage with a ripple above 30 kHz needs {accepted[0]}, the highest peak of voltage and ripple "
            "together."
        )
        raise BadQuestion.about(accepted, detail)
    if not given:
        return None
    peak = question.number(given[0])
    if peak < question.number("working_voltage") * (1 - ROUNDING):
        raise BadQuestion.about(given[0], f"{given[0]} is below working_voltage; a peak is never below the rms value.")
    return peak


def _peak_name(question: Question) -> str:
    """Return the name under which a lookup asks for the peak across a surface."""
    return next(name for name in PEAKS if name in question.parameters)


def peak_of(path: Path) -> float:
    """Return the peak of the voltage along a surface [V]; of a sine where none was given."""
    if path.peak_voltage is not None:
        return path.peak_voltage
    return path.working_voltage * (1.0 if path.direct else SINE)


def _asked(question: Question, path: Path) -> ClearanceQuestion:
    given = next((name for name in PEAKS if name in question), PEAKS[0])
    asked = asked_of(question, given)
    if asked.recurring_peak_voltage is not None:
        return asked
    # without a peak of its own, that of the working voltage counts as it would at low frequency
    return replace(asked, frequency=None, steady_peak=peak_of(path))


def _clearance(asked: ClearanceQuestion, path: Path, air: ClearanceTables) -> Requirement | None:
    """Return the clearance of the same barrier; none where the tables end below a working voltage that asks alone."""
    if not asked.any_voltage:
        wanted, _, _ = air_rules.graded_peak(asked, peak_of(path), air)
        if not air.peak[asked.case].covers(wanted):
            return None
    return governing(air_rules.requirements(asked, air))
