"""/v1/divider: a resistive divider before it is built."""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import suppress

import numpy as np

from service import units
from service.answers.document import Echo
from service.answers.figure import Curve, Figure, PlotAxis, plotted
from service.answers.lookup import Answer, Lead, Lookup, spread, voltage
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, measure_of, measure_taken, peaks_of, read_atmosphere
from service.bench.divider import ESTIMATE, SPECTRUM, UPPER, Design, Meter, stray_of_rod
from service.errors import BadQuestion, OutsideValidity
from service.lookups import gap
from service.methods import Case
from service.methods.laws import corona_laws
from service.parameters import Parameter, Question
from service.physics.formulas import onset_field
from service.spoken import said, speak
from service.units import Quantity

VOLTAGE = Parameter("voltage", "voltage", "Highest voltage.", measured=True, required=True, high=1e7, example="30kV")
MEASURE = Parameter(
    "measure",
    "choice",
    "How it was read; where that is not said, an alternating voltage counts as rms, so as the higher peak.",
    default="unknown",
    choices=("peak", "rms", "unknown"),
)
PARAMETERS = (
    VOLTAGE,
    MEASURE,
    Parameter("ratio", "number", "Wanted, with the meter connected.", required=True, low=1.1, high=1e9, example="1000"),
    UPPER[0],
    Parameter("elements", "count", "Equal elements in series in the upper arm.", default="1", low=1, high=1e5),
    Parameter("element_voltage", "voltage", "Rated voltage of one element.", high=1e7, example="3.5kV"),
    Parameter("element_power", "power", "Rated power of one element.", high=1e5, example="0.5W"),
    Parameter("input_resistance", "resistance", "Of the meter.", low=1.0, high=1e15, example="10Mohm"),
    Parameter("input_capacitance", "capacitance", "Of the meter and its cable.", low=0.0, high=1e-3, example="100pF"),
    Parameter("frequency", "frequency", "Of the voltage; direct where none is given.", high=1e7, example="50Hz"),
    Parameter("upper_capacitance", "capacitance", "Across the whole upper arm.", low=0.0, high=1e-6, example="3pF"),
    Parameter(
        "compensation",
        "choice",
        "Whether the lower arm gets the capacitance that makes both time constants equal.",
        default="no",
        choices=("no", "yes"),
    ),
    Parameter("stray_capacitance", "capacitance", "Of the upper arm to earth.", low=0.0, high=1e-6, example="10pF"),
    Parameter("length", "length", "Of the upright upper arm; with diameter its strays are estimated.", high=30.0),
    Parameter("diameter", "length", "Of the upper arm.", high=3.0, example="30mm"),
    Parameter("height", "length", "Of its lower end above earth.", default="0mm", low=0.0, high=30.0),
    Parameter("end_diameter", "length", "Of the ball or ring at the high end, for corona.", high=3.0, example="60mm"),
    Parameter(
        "temperature_coefficient",
        "number",
        "By how many parts in a million per kelvin the arms differ.",
        low=0.0,
        high=1e5,
        example="50",
    ),
    Parameter("temperature_change", "number", "Kelvins by which the arms warm up.", low=0.0, high=500.0, example="20"),
    Parameter(
        "voltage_coefficient",
        "number",
        "By how many parts in a million per volt an element changes.",
        low=0.0,
        high=1e4,
        example="1",
    ),
    *ATMOSPHERE,
)
OWN = tuple(one.name for one in PARAMETERS if one not in ATMOSPHERE)
"""What a divider is described by, beside the air around it."""
RESULTS: Mapping[str, str] = {
    "change": "What to change, one sentence each.",
    "lower_resistance": "Resistor of the lower arm: with the meter across it the ratio is the wanted one.",
    "ratio": "With the meter, and without it.",
    "lower_capacitance": "To put across the lower arm beside the meter's, where compensation is wanted.",
    "stray_capacitance": "As given, or both ends of the estimate.",
    "error_percent": "Of what is indicated at the frequency asked, over all strays that it may have.",
    "flat_to": "Frequency up to which the error stays within 1 %.",
    "element": "Of the most stressed element: voltage, power, resistance, share of its ratings.",
    "power": "That the divider turns into heat.",
    "current": "That it draws from the source.",
    "coefficients_percent": "Changes of the ratio with temperature and voltage.",
    "ends": "How far apart the ends must be so that no spark holds the voltage, and whether corona is likely there.",
}
CORONA_NEAR = 0.7
"""Share of the onset voltage from which corona is likely: dust, edges and leads; ours, common practice, no source."""


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "divider",
        "Divider design",
        "A resistive divider before it is built: loading, error over frequency, stress of its elements, strays, ends.",
        PARAMETERS,
        lambda question: answer(question, registry),
        example="voltage=30kV&ratio=1000&upper_resistance=1Gohm&elements=20&element_voltage=3.5kV&element_power=0.5W"
        "&input_resistance=10Mohm",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return what a divider would be.

    Raises
    ------
    BadQuestion
        When something contradicts itself, or half of what an estimate needs is missing.
    OutsideValidity
        When the meter loads it too much.
    """
    design, estimated = _design(question)
    here = read_atmosphere(question, registry)
    error = design.errors(np.array([design.frequency]))[:, 0] if design.frequency else np.zeros(1)
    changes = list(design.changes(question))
    results: dict[str, object] = {"change": changes} if changes else {}
    results |= {
        "lower_resistance": Quantity(design.lower_resistance, "resistance"),
        "ratio": {"loaded": design.ratio, "unloaded": design.unloaded_ratio},
    }
    if design.compensated:
        own = design.lower_capacitance - design.meter.capacitance
        results["lower_capacitance"] = Quantity(own, "capacitance")
    if design.strays:
        results["stray_capacitance"] = spread(design.strays, "capacitance")
    if design.frequency:
        ends = 100 * error
        results["error_percent"] = {"low": float(ends.min()), "high": float(ends.max())}
    if design.strays:
        results["flat_to"] = Quantity(design.flat_to, "frequency")
    results |= {
        "element": _element(design, question),
        "power": Quantity(design.power, "power"),
        "current": Quantity(design.current, "current"),
    }
    results |= _coefficients(design, question)
    results["ends"] = _ends(design, question, here.case, registry)
    notes = [*here.notes, SHARED if not design.strays else LADDER]
    if estimated:
        notes.append(ESTIMATED)
    if not design.frequency:
        notes.append("Direct voltage: nothing was asked of a frequency.")
    return Answer(
        "divider",
        _asked(question) | here.asked,
        results,
        notes=notes,
        cautions=("divider-earth", "discharge-first", "not-a-barrier", "local-codes"),
        figure=lambda: _figure(design),
        lead=_lead(design, changes, question),
    )


SHARED = "The voltage is taken to be shared evenly by the elements; strays to earth make the top one bear more."
LADDER = "The strays are shared alike by the nodes between the elements, and the ladder is solved."
ESTIMATED = (
    "The stray capacitance is estimated as that of an upright rod over earth, between 0.7 and 1.5 times it: shields, "
    "walls and wires near it move it."
)


def _waveform(question: Question) -> str:
    return "ac" if "frequency" in question else "dc"


def _asked(question: Question) -> Echo:
    waveform = _waveform(question)
    return Echo.of(question, OWN, {"voltage": measure_of(question, waveform)}) | measure_taken(question, waveform)


def _design(question: Question) -> tuple[Design, bool]:
    strays, estimated = _strays(question)
    frequency = question.optional("frequency") or 0.0
    peak = peaks_of(question, _waveform(question)).high
    upper = question.optional("upper_capacitance") or 0.0
    compensated = question.key("compensation") == "yes"
    if compensated and not upper:
        raise BadQuestion.about("upper_capacitance", "upper_capacitance is needed with compensation=yes.")
    meter = Meter(question.optional("input_resistance") or math.inf, question.optional("input_capacitance") or 0.0)
    return Design(
        peak,
        question.number("ratio"),
        question.number("upper_resistance"),
        int(question.number("elements")),
        meter,
        frequency,
        upper,
        compensated,
        strays,
    ), estimated


def _strays(question: Question) -> tuple[tuple[float, ...], bool]:
    if "stray_capacitance" in question:
        return (question.number("stray_capacitance"),), False
    given = [name for name in ("length", "diameter") if name in question]
    if not given:
        return (), False
    if len(given) == 1:
        missing = "diameter" if given[0] == "length" else "length"
        raise BadQuestion.about(missing, f"{missing} is needed with {given[0]}: both estimate the strays.")
    length, diameter = question.number("length"), question.number("diameter")
    if diameter > length / 2:
        raise BadQuestion.about("diameter", "diameter must be at most half of the length: the estimate is of a rod.")
    rod = stray_of_rod(length, diameter, question.number("height"))
    return tuple(factor * rod for factor in ESTIMATE), True


def _element(design: Design, question: Question) -> dict[str, object]:
    fields: dict[str, object] = {
        "voltage": voltage(design.element_voltage),
        "power": Quantity(design.element_power, "power"),
        "resistance": Quantity(design.upper_resistance / design.elements, "resistance"),
        "largest_over_even_share": float(max(one.unevenness(design.frequency) for one in design.possible)),
    }
    for name, value in (("voltage", design.element_voltage), ("power", design.element_power)):
        rating = question.optional(f"element_{name}")
        if rating is not None:
            fields[f"{name}_over_rating_percent"] = 100 * value / rating
    return fields


def _coefficients(design: Design, question: Question) -> dict[str, object]:
    found: dict[str, float] = {}
    kelvins, per_kelvin = question.optional("temperature_change"), question.optional("temperature_coefficient")
    if (kelvins is None) != (per_kelvin is None):
        missing = "temperature_change" if kelvins is None else "temperature_coefficient"
        raise BadQuestion.about(missing, f"{missing} is needed: the two go together.")
    share = 1 - 1 / design.ratio
    if kelvins is not None and per_kelvin is not None:
        found["temperature"] = 1e-4 * kelvins * per_kelvin * share
    per_volt = question.optional("voltage_coefficient")
    if per_volt is not None:
        found["voltage"] = 1e-4 * per_volt * design.element_voltage * share
    return {"coefficients_percent": found} if found else {}


def _ends(design: Design, question: Question, case: Case, registry: Registry) -> dict[str, object]:
    fields: dict[str, object] = {}
    with suppress(OutsideValidity):
        waveform = ("waveform", "ac" if design.frequency else "dc")
        found = gap.for_voltage(design.peak, [*question.typed_of(ATMOSPHERE), waveform], registry)
        held = [one.holds_above for one in found.rising if one.holds_above is not None]
        fields |= {"holds_above": Quantity(held[0], "length")} if held else {}
    size = question.optional("end_diameter")
    if size is None:
        return fields | {"corona": "cannot-tell", "say": "the end_diameter"}
    field = float(onset_field(corona_laws(registry.reference)["spheres"], size / 2, case.relative_density)[0])
    onset = field * size / 2
    word = "likely" if design.peak > onset else "cannot-tell" if design.peak > CORONA_NEAR * onset else "not expected"
    return fields | {"corona_onset": voltage(onset), "corona": word}


def _figure(design: Design) -> Figure:
    kilohertz = plotted(SPECTRUM, "frequency")
    errors = 100 * design.spectrum
    low, high = errors.min(axis=0), errors.max(axis=0)
    middle = errors.mean(axis=0)
    label = "with strays" if design.strays else "without strays"
    curve = (
        Curve(label, kilohertz, middle, low, high) if design.strays else Curve(label, kilohertz, middle, dashed=True)
    )
    return Figure(
        "Error of the divider over frequency",
        "Error in per cent of what is indicated, against frequency in kHz, beside zero at direct voltage.",
        PlotAxis("frequency", "kHz"),
        PlotAxis("error", "%", logarithmic=False),
        curves=(curve,),
        lines=(("asked", units.shown(design.frequency, "frequency")),) if design.frequency else (),
        sentences=(SHARED if not design.strays else LADDER,),
    )


def _unchanged(question: Question, top: str) -> str:
    """Return what is said where nothing is to be changed: a rating that was not said is no rating that is kept."""
    unsaid = [f"element_{name}" for name in ("voltage", "power") if f"element_{name}" not in question]
    if not unsaid:
        return "No element has more than half of its ratings, and nothing else is to be changed."
    return f"What an element bears was not said: give {' and '.join(unsaid)}. The most stressed one gets {top}."


def _loading(design: Design) -> str:
    """Return what another meter would do to the ratio; one that loads more shows less than is there."""
    if design.meter.resistance < math.inf:
        meter = said(design.meter.resistance, "resistance")
        return (
            f"The ratio is {design.ratio:.5g} only with the meter of {meter} on it, and {design.unloaded_ratio:.4g} "
            "without: a meter of less resistance reads low, and more voltage is there than it shows."
        )
    low = 100 * (1 - 1 / (1 + design.below / COMMON_METER))
    return (
        f"No input_resistance was said: a meter of {said(COMMON_METER, 'resistance')} would read {low:.2g} % low, and "
        "more voltage be there than it shows."
    )


COMMON_METER = 10e6
"""Input resistance of an ordinary voltmeter [ohm]; common practice, no source."""


def _lead(design: Design, changes: list[str], question: Question) -> Lead:
    top = f"{speak(design.element_voltage, 'voltage')}, {speak(design.element_power, 'power')}"
    first = " ".join(changes) or _unchanged(question, top)
    lower = speak(design.lower_resistance, "resistance", digits=5)
    sentence = f"{first} The lower arm is {lower}. {_loading(design)}"
    return Lead(sentence, "Most stressed element", top, "divider-earth")
