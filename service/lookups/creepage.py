"""/v1/creepage: the distance along a surface that insulation standards ask for; never below the clearance."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from service import units
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.errors import BadQuestion
from service.parameters import Parameter, Question
from service.standards import clearance_rules, creepage_rules
from service.standards.asking import contradiction, distance, echo, needed
from service.standards.clearance_asked import PLACE, VOLTAGES, Asked, asked_of
from service.standards.clearance_peak import is_fast
from service.standards.clearance_tables import ClearanceTables
from service.standards.creepage_beside import flashover, notes_of, rationalized
from service.standards.creepage_rules import groove_width
from service.standards.creepage_tables import PRINTED, CreepageTables, Path
from service.standards.material_group import Surface, as_asked, parameters, surface_of
from service.standards.requirements import Requirement, governing

MEASURES: Mapping[str, str] = {"working_voltage": "rms", "system_voltage": "rms"}
PEAKS = ("peak_voltage", "recurring_peak_voltage")
SITE_CLASSES = ("a", "b", "c", "d", "e", "I", "II", "III", "IV")
RESULTS: Mapping[str, str] = {
    "creepage": "The largest of the requirements.",
    "governed_by": "Key of the requirement that asks for it.",
    "requirements": "Every requirement with table, row, rule and provenance.",
    "minimum_groove_width": "A narrower groove does not count: the path runs straight across it.",
    "material": "Material group taken, and why.",
    "surface_flashover": "Practice figures for flashover along a surface, at the peak voltage; no requirement.",
}
PATH = (
    Parameter(
        "working_voltage",
        "voltage",
        "Long-term rms or direct voltage across the surface.",
        required=True,
        example="250V",
    ),
    Parameter("waveform", "choice", "Form of that voltage.", default="ac", choices=("ac", "dc", "pulse-train")),
    Parameter(
        "peak_voltage",
        "voltage",
        "Highest recurring peak across the surface; needed for pulses, whose peak is far above the rms.",
        example="12kV",
    ),
    Parameter("surface", "choice", "What the path runs along.", default="general", choices=("general", PRINTED)),
    Parameter("ribbed", "boolean", "Whether a rib of the form of the standard stands across.", default="false"),
    Parameter("site_class", "choice", "Outdoor site pollution class, IEC 60815.", choices=SITE_CLASSES),
)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    tables = CreepageTables(registry.reference)
    air = ClearanceTables.of(registry.reference)
    working, *others = PATH
    return Lookup(
        "creepage",
        "Creepage along a surface",
        "The distance along an insulating surface that the insulation standards ask for; never below the clearance.",
        (working, *PLACE[:2], *parameters(registry), *others, *VOLTAGES, *PLACE[2:]),
        lambda question: answer(question, registry, tables, air),
        example="working_voltage=250V&pollution_degree=2&insulation=basic",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry, tables: CreepageTables, air: ClearanceTables) -> Answer:
    """Return the creepage with every requirement.

    Parameters
    ----------
    question : Question
    registry : Registry
    tables : CreepageTables
    air : ClearanceTables

    Raises
    ------
    BadQuestion
        When parameters contradict or need each other.
    OutsideValidity
        When a voltage, frequency or altitude lies beyond its table.
    """
    surface = surface_of(question, registry)
    path, further = path_of(question, surface)
    found = creepage_rules.requirements(path, tables)
    through_air = _clearance(question, path, air)
    if through_air is not None:
        found.append(through_air)
    largest = governing(found)
    width, origin = groove_width(path, registry.reference.table("iec-60664-1-groove-width"))
    also = rationalized(question, path, tables, registry.reference, largest.distance)
    results: dict[str, Any] = {
        "creepage": distance(largest.distance),
        "governed_by": largest.key,
        "requirements": [one.block("creepage") for one in found],
        "minimum_groove_width": {**distance(width), "provenance": origin},
        "material": {"group": surface.group, "why": surface.why},
        "surface_flashover": flashover(_peak(path, question), registry.reference),
    }
    keys = ("not-a-barrier", "insulated-wire", *(("fast-current",) if is_fast(path.frequency) else ()), "local-codes")
    return Answer(
        "creepage",
        echo(as_asked(question), MEASURES, further),
        results,
        largest.method(),
        also,
        {"altitude_factor": clearance_rules.altitude_factor(question.optional("altitude"), air.altitude).value},
        notes_of(question, path, surface, found, width),
        keys,
        title="Creepage along a surface",
    )


def path_of(question: Question, surface: Surface) -> tuple[Path, dict[str, Any]]:
    """Return the creepage part of a question, and what was taken without being given.

    Parameters
    ----------
    question : Question
    surface : Surface

    Raises
    ------
    BadQuestion
        When the peak voltage of pulses is missing, or parameters contradict each other.
    """
    peak = _checked_peak(question)
    frequency, working = question.optional("frequency"), question.number("working_voltage")
    further: dict[str, Any] = {}
    if is_fast(frequency) and peak is None:
        peak = math.sqrt(2) * working
        further["peak_voltage"] = units.quantity(peak, "voltage")
    path = Path(
        working_voltage=working,
        pollution_degree=int(question.number("pollution_degree")),
        insulation=question.key("insulation"),
        group=surface.group,
        surface=question.key("surface"),
        ribbed=bool(question.values["ribbed"]),
        site_class=str(question.values["site_class"]) if "site_class" in question else None,
        frequency=frequency,
        peak_voltage=peak,
    )
    return path, further


def _checked_peak(question: Question) -> float | None:
    given = [name for name in PEAKS if name in question]
    if len(given) == 2:
        raise contradiction(*PEAKS, "Both are the highest peak that recurs.")
    waveform = question.key("waveform")
    if waveform == "pulse-train" and not given:
        detail = (
            "waveform=pulse-train needs peak_voltage: a pulse peaks far above its rms value, and the peak decides "
            "clearance and high-frequency creepage."
        )
        raise needed(("peak_voltage",), detail)
    if waveform == "dc" and "frequency" in question:
        raise BadQuestion.about("frequency", "frequency does not apply to waveform=dc.")
    if not given:
        return None
    peak = question.number(given[0])
    if peak < question.number("working_voltage") * (1 - 1e-9):
        raise BadQuestion.about(given[0], f"{given[0]} is below working_voltage; a peak is never below the rms value.")
    return peak


def _peak(path: Path, question: Question) -> float:
    if path.peak_voltage is not None:
        return path.peak_voltage
    return path.working_voltage * (math.sqrt(2) if question.key("waveform") == "ac" else 1.0)


def _clearance(question: Question, path: Path, air: ClearanceTables) -> Requirement | None:
    given = next((name for name in PEAKS if name in question), PEAKS[0])
    asked = asked_of(question, given)
    if not asked.any_voltage:
        return None
    of = governing(clearance_rules.requirements(_slowed(asked, path), air))
    title = "Clearance, below which creepage never is"
    return replace(of, key="clearance", title=title, given={"of": of.key, **of.given})


def _slowed(asked: Asked, path: Path) -> Asked:
    """Return the clearance question without the frequency where the peak was not given, but taken from the rms."""
    fast_without_peak = is_fast(path.frequency) and asked.recurring_peak_voltage is None
    return replace(asked, frequency=None) if fast_without_peak else asked
