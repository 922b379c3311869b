"""/v1/probe-check: is a probe right? Its readings at sparkover beside the voltage of the gap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service import units
from service.answers.blocks import also_block, chosen_method, corrections_block
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.answers.situation import Situation, situation
from service.bench import probe_network
from service.bench.probe_body import Body, read
from service.bench.probe_members import BODY
from service.bench.probe_reference import DIAMETER_SHARE, Reference, Tolerances
from service.bench.probe_results import Checked, Overall
from service.bench.probe_sheet import body_from_csv
from service.bench.sparkovers import Sparkovers
from service.bench.sphere_setting import Setting, Spheres
from service.errors import BadQuestion
from service.parameters import Given, Question

__all__ = ["BODY", "answer", "body_from_csv", "lookup"]

FORMATS = ("json", "txt", "csv", "md", "html")
RESULTS: Mapping[str, str] = {
    "settings": "Per setting: reference voltage of the gap, mean and scatter of the readings, error of the ratio with "
    "its uncertainty (k = 2), whether it is accepted and why not.",
    "overall": "From the accepted settings: scale factor (multiply readings by it), expanded uncertainty (a fraction, "
    "k = 2), corrected attenuation, linearity, verdict, and what it is valid for.",
    "network": "Ratios of the divider, compensated or not, voltage per element, load, and whether the result carries.",
}
BASIS = (
    "Expanded uncertainties have k = 2. The uncertainty of the gap is the band of its table (3 %, direct voltage 5 %, "
    "wider away from normal density), taken as expanded; spacing, diameter, density and humidity are half widths of "
    "rectangular distributions. All of these act alike on every setting and do not average out; the scatter of the "
    "sparkovers does."
)
DUST = (
    "At direct voltage dust and fibres cause low readings: inspect the low ones, clean the spheres, repeat the setting."
)
UNLIT = "Whether the gap was irradiated is not known: below 50 kV, or with spheres up to 12.5 cm, it is needed."
LOW = "Readings far below the others are listed as low outliers; they are not removed."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup; its question comes in a body.

    Parameters
    ----------
    registry : Registry
    """
    return Lookup(
        "probe-check",
        "Probe check",
        "Whether a probe or divider is right: its readings at sparkover beside the voltage of a sphere gap.",
        BODY.parameters,
        _asked_without_readings,
        example="",
        formats=FORMATS,
        single_values=False,
        results=RESULTS,
        body=BODY,
        answer_given=lambda given: answer(given, registry),
        from_sheet=body_from_csv,
    )


def _asked_without_readings(question: Question) -> Answer:
    raise BadQuestion.about("readings", "A probe check takes its readings in a body: POST it.", ("POST",))


@dataclass(frozen=True, eq=False)
class Check:
    """A probe check, worked out.

    Parameters
    ----------
    body : Body
    here : Situation
    settings : tuple of Checked
    """

    body: Body
    here: Situation
    settings: tuple[Checked, ...]

    @property
    def accepted(self) -> list[Checked]:
        """Settings that count."""
        return [one for one in self.settings if one.accepted]

    @property
    def highest(self) -> float:
        """Highest voltage of the check [V peak]."""
        return max(one.reference.setting.value if one.reference else one.sparkovers.mean for one in self.settings)


def answer(given: Given, registry: Registry) -> Answer:
    """Return the result of a probe check.

    Parameters
    ----------
    given : Given
    registry : Registry

    Raises
    ------
    BadQuestion
        Naming every member that is unknown, missing, contradictory or unreadable.
    """
    understood = read(given)
    here = situation(understood.question, registry, "uniform-field")
    check = Check(understood, here, tuple(_settings(understood, here, registry)))
    results: dict[str, Any] = {"settings": [one.block() for one in check.settings], "overall": _overall(check)}
    if understood.divider is not None and understood.network is not None:
        wanted = understood.network.optional("frequency")
        results["network"] = probe_network.block(understood.divider, wanted, here.case, check.highest)
    shown = _shown(check)
    return Answer(
        "probe-check",
        _asked(understood, here),
        results,
        None if shown is None else chosen_method(shown.evaluation),
        [] if shown is None else also_block(shown.evaluation),
        {} if shown is None else corrections_block(shown.evaluation),
        _notes(check),
        ("discharge-first", "divider-earth", "ratio-only", "ultraviolet"),
        title="Probe check",
    )


def _settings(body: Body, here: Situation, registry: Registry) -> list[Checked]:
    question = body.question
    tolerances = Tolerances(
        question.number("spacing_uncertainty"),
        question.optional("diameter_uncertainty"),
        question.number("density_uncertainty"),
        question.number("humidity_uncertainty"),
    )
    found = []
    for reading in body.readings:
        if tolerances.spacing >= reading.spacing or tolerances.of_diameter(reading.diameter) >= reading.diameter:
            detail = "spacing_uncertainty and diameter_uncertainty must be smaller than every spacing and diameter."
            raise BadQuestion.about("spacing_uncertainty", detail)
        spheres = Spheres.of(registry, here.case, reading.diameter, question.key("earthing"))
        setting = spheres.at(reading.spacing, every=True)
        reference = None if setting is None else Reference(spheres, setting, tolerances)
        sparkovers, irradiated = Sparkovers(reading.voltages), question.key("irradiated")
        found.append(Checked(reading.spacing, reading.diameter, sparkovers, reference, spheres.practice, irradiated))
    return found


def _overall(check: Check) -> dict[str, Any]:
    if not check.accepted:
        why = "No setting is accepted, so nothing is said of the probe: see why_not of each setting."
        return {"verdict": "not-accepted", "explanation": why}
    return Overall(check.accepted, check.here.case, check.body.question.optional("attenuation")).block()


def _shown(check: Check) -> Setting | None:
    """Return the setting whose method the answer shows: the first accepted one, else the first with a voltage."""
    known = [one.reference.setting for one in [*check.accepted, *check.settings] if one.reference is not None]
    return next(iter(known), None)


def _notes(check: Check) -> list[str]:
    question = check.body.question
    notes = [BASIS, *check.here.notes]
    if question.key("irradiated") == "unknown":
        notes.append(UNLIT)
    if question.key("waveform") == "dc":
        notes.append(DUST)
    if any(one.sparkovers.low_outliers.size for one in check.settings):
        notes.append(LOW)
    notes += [f"{WIDE} {name}." for name in wide(check)]
    refused = len(check.settings) - len(check.accepted)
    if refused and check.accepted:
        notes.append(f"{refused} of {len(check.settings)} settings are not accepted and do not count.")
    if "unfilled_rows" in question:
        notes.append(f"{int(question.number('unfilled_rows'))} rows of the sheet have no reading and were left out.")
    return notes + _attenuation_notes(check)


WIDE = "A wide tolerance is taken to act in proportion (first order); the voltage may move further:"


def wide(check: Check) -> list[str]:
    """Return the inputs whose tolerance is so wide that its effect is known to first order only, each once."""
    names = [name for one in check.settings if one.reference is not None for name in one.reference.wide]
    return list(dict.fromkeys(names))


def _attenuation_notes(check: Check) -> list[str]:
    divider, nominal = check.body.divider, check.body.question.optional("attenuation")
    if divider is None or nominal is None:
        return []
    ratio = divider.ratio(probe_network.checked_frequency(check.here.case))
    off = 100 * (ratio / nominal - 1)
    return (
        [f"The network as given has a ratio of {ratio:.6g}, {off:+.2g} % from the attenuation."] if abs(off) > 1 else []
    )


def _asked(body: Body, here: Situation) -> dict[str, Any]:
    question = body.question
    own = ("sphere_diameter", "earthing", "attenuation", "measure", "irradiated", *OFF, "unfilled_rows")
    first = {name: question.parameters[name].show(question.values[name]) for name in own if name in question}
    assumed = [name for name in first if name in question.assumed]
    if "diameter_uncertainty" not in first:
        sizes: Sequence[float] = sorted({reading.diameter for reading in body.readings})
        shown = [units.quantity(DIAMETER_SHARE * size, "length") for size in sizes]
        first["diameter_uncertainty"] = shown[0] if len(shown) == 1 else shown
        assumed.append("diameter_uncertainty")
    if body.network is not None:
        first["network"] = {
            name: body.network.parameters[name].show(value) for name, value in body.network.values.items()
        }
    block = here.echo(first)
    return block | {"assumed": [*assumed, *block["assumed"]]}


OFF = ("spacing_uncertainty", "diameter_uncertainty", "density_uncertainty", "humidity_uncertainty")
