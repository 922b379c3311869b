"""What the body of a probe check may hold, and its settings as understood."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from service import units
from service.answers.situation import ATMOSPHERE
from service.answers.waveform import WAVEFORM
from service.answers.waveform import readings as peak_readings
from service.bench.divider import NETWORK
from service.bench.sparkovers import FiftyPercent, Sparkovers
from service.bench.sphere_practice import IMPULSES
from service.electrodes.sphere_gap import EARTHING
from service.errors import BadQuestion, Fault
from service.parameters import Given, Listed, Members, Parameter, Part, Question

MOST_SETTINGS = 200
"""Most settings of a check."""
VOLTAGES = ("indicated_voltages", "instrument_voltages")
FIFTY = ("levels", "up_and_down")
"""Ways to give the 50 % voltage of impulses."""
VOLTAGE = Parameter("voltage", "voltage", "A reading of the instrument.", high=1e8)
DIAMETER_SHARE = 1e-3
"""Tolerance of a sphere diameter over the diameter, where none is given."""
ONE_SIDED = ("lightning-impulse", "switching-impulse", "pulse-train")

INDICATED_AS = Parameter(
    "measure",
    "choice",
    "How the instrument was read.",
    default="peak",
    choices=("peak", "rms", "peak-to-peak-symmetrical"),
)
FLAT = (
    Parameter(
        "sphere_diameter",
        "length",
        "Diameter of the spheres; a reading may give its own.",
        low=1e-4,
        high=10.0,
        example="20mm",
    ),
    EARTHING,
    *ATMOSPHERE,
    replace(WAVEFORM[0], default=None, required=True, example="dc"),
    replace(WAVEFORM[1], meaning="Polarity of the un-earthed sphere; needed for one-sided impulses."),
    *WAVEFORM[2:],
    Parameter("attenuation", "number", "Nominal ratio of the divider.", low=1e-3, high=1e9, example="1000"),
    INDICATED_AS,
    Parameter(
        "spacing_uncertainty",
        "length",
        "How far the spacing may be off, to either side; half width of a rectangular distribution.",
        default="0.02mm",
        low=0.0,
        high=0.1,
    ),
    Parameter(
        "diameter_uncertainty",
        "length",
        "How far the sphere diameter may be off, to either side; 0.1 percent of the diameter where it is not given.",
        low=0.0,
        high=1.0,
        example="0.05mm",
    ),
    Parameter(
        "density_uncertainty",
        "fraction",
        "How far the air density may be off, to either side, from barometer and thermometer.",
        default="0.5percent",
        low=0.0,
        high=0.2,
    ),
    Parameter(
        "humidity_uncertainty",
        "humidity",
        "How far the absolute humidity may be off, to either side.",
        default="1g/m3",
        low=0.0,
        high=0.05,
    ),
    Parameter(
        "resolution",
        "voltage",
        "How far a reading may be off by its digits, to either side; half the last digit of the readings where it is "
        "not given.",
        low=0.0,
        high=1e8,
        example="0.05kV",
    ),
    Parameter(
        "irradiated",
        "choice",
        "Whether the gap was irradiated; where it needs to be and was not, or nothing is said, sparks may be late.",
        default="unknown",
        choices=("unknown", "yes", "no"),
    ),
    Parameter("device", "text", "What is checked.", example="divider 1000:1"),
    Parameter("serial", "text", "Its serial number or mark."),
    Parameter("operator", "text", "Who reads."),
    Parameter("date", "text", "Day of the check.", example="2026-11-02"),
    Parameter("unfilled_rows", "count", "Rows of the sheet that were left empty."),
)
_INDICATED = Parameter(
    "indicated", "voltage", "Peak voltage of the impulses, attenuation applied.", required=True, high=1e8
)
LEVEL = Members(
    (
        _INDICATED,
        Parameter("impulses", "count", "How many there were.", required=True, low=1, high=10_000),
        Parameter("flashovers", "count", "How many of them jumped.", required=True, high=10_000),
    )
)
SHOT = Members((_INDICATED, Parameter("flashover", "boolean", "Whether it jumped.", required=True)))
READING = Members(
    (
        Parameter("spacing", "length", "Spacing of the spheres.", required=True, low=1e-6, high=10.0),
        Parameter("sphere_diameter", "length", "Diameter of the spheres, where it is another.", low=1e-4, high=10.0),
        *(replace(one, default=None) for one in ATMOSPHERE),
        Parameter("time", "text", "When this setting was read.", example="2026-11-02 14:05"),
        Parameter("remark", "text", "What is to be said of it."),
    ),
    (
        Part("indicated_voltages", "One voltage per sparkover, attenuation applied.", Listed(VOLTAGE)),
        Part("instrument_voltages", "One voltage per sparkover, attenuation not applied.", Listed(VOLTAGE)),
        Part("levels", "Impulses by levels: indicated voltage, and how many of them jumped.", Listed(LEVEL, most=20)),
        Part(
            "up_and_down",
            "Impulses up and down, in order: indicated voltage, and whether it jumped.",
            Listed(SHOT, most=100),
        ),
    ),
)
_PARTS = (
    Part(
        "readings",
        "One entry per setting: spacing, and one voltage per sparkover.",
        Listed(READING, most=MOST_SETTINGS),
        required=True,
    ),
    Part("network", "The divider, and the frequency that it is wanted for.", NETWORK),
)
RECORD = Members(
    (), (Part("given", "The body of the check as given.", Members(FLAT, _PARTS), required=True),), open=True
)
"""A record as it is posted back: what was given is read again, the rest is kept as it is."""
BODY = Members(FLAT, (*_PARTS, Part("earlier", "The record of an earlier check, to tell the drift since.", RECORD)))


@dataclass(frozen=True, eq=False)
class SettingReadings:
    """The readings at one setting.

    Parameters
    ----------
    question : Question
        What was said of the setting, its own weather over that of the whole check.
    own : Question
        What was said of this setting alone.
    spacing, diameter : float
        [m].
    sparkovers : Sparkovers or FiftyPercent
        Indicated voltages, peak, attenuation applied.
    half_digit : float
        How far each may be off by its digits [V].
    """

    question: Question
    own: Question
    spacing: float
    diameter: float
    sparkovers: Sparkovers | FiftyPercent
    half_digit: float


def read(given: Given) -> tuple[SettingReadings, ...]:
    """Return the settings of a check as understood.

    Raises
    ------
    BadQuestion
        Naming every member that is missing or contradicts another.
    """
    faults = list(_contradictions(given))
    found = [_reading(one, given.question, faults) for one in given.parts["readings"]]
    if faults:
        unique = list(dict.fromkeys((one.parameter, one.detail) for one in faults))
        raise BadQuestion(" ".join(detail for _, detail in unique), [Fault(*one) for one in unique])
    return tuple(one for one in found if one is not None)


def _contradictions(given: Given) -> Iterator[Fault]:
    question, network = given.question, given.parts.get("network")
    if question.key("waveform") in ONE_SIDED and question.values.get("polarity", "weaker") == "weaker":
        yield Fault("polarity", f"polarity is needed for waveform={question.key('waveform')}: positive or negative.")
    if network is not None and ("upper_capacitance" in network.question) != ("lower_capacitance" in network.question):
        yield network.fault("upper_capacitance", "upper_capacitance and lower_capacitance go together.")


def _reading(given: Given, question: Question, faults: list[Fault]) -> SettingReadings | None:
    own = given.question
    sized = own if "sphere_diameter" in own else question
    if "sphere_diameter" not in sized:
        faults.append(Fault("sphere_diameter", "sphere_diameter is needed, for all readings or for each."))
    names = [name for name in (*VOLTAGES, *FIFTY) if name in given.parts]
    if len(names) != 1:
        why = "is needed" if not names else "and another contradict each other; give one"
        which = ", ".join((*VOLTAGES, *FIFTY[:1])) + f" or {FIFTY[1]}"
        faults.append(given.fault(VOLTAGES[0], f"{VOLTAGES[0]} {why}: {which}."))
        return None
    if names[0] in FIFTY and question.key("waveform") not in IMPULSES:
        faults.append(given.fault(names[0], f"{names[0]} belongs to impulses."))
        return None
    factor = _factor(names[0], question, faults)
    if factor is None or "sphere_diameter" not in sized:
        return None
    spacing, diameter = own.number("spacing"), sized.number("sphere_diameter")
    off = question.number("spacing_uncertainty"), diameter_tolerance(question, diameter)
    if off[0] >= spacing or off[1] >= diameter:
        detail = "spacing_uncertainty and diameter_uncertainty must be smaller than every spacing and diameter."
        faults.append(Fault("spacing_uncertainty", detail))
        return None
    half = question.optional("resolution")
    if half is None:
        # a spreadsheet drops trailing noughts: the finest reading says how the instrument was read
        half = min(units.half_digit(text, "voltage") for text in _texts(given, names[0]))
    found = _found(given, names[0], factor, half, faults)
    if found is None:
        return None
    return SettingReadings(_merged(question, own), own, spacing, diameter, found, factor * half)


def _texts(given: Given, name: str) -> set[str]:
    if name in VOLTAGES:
        return set(given.parts[name].texts)
    return {one.question.typed["indicated"] for one in given.parts[name]}


def _found(
    given: Given, name: str, factor: float, half: float, faults: list[Fault]
) -> Sparkovers | FiftyPercent | None:
    """Return the sparkovers, or the impulses of which some jumped."""
    part = given.parts[name]
    if name in VOLTAGES:
        return Sparkovers(factor * np.array(part.values, dtype=np.float64), 2 * factor * half)
    volts = factor * np.array([one.question.number("indicated") for one in part])
    if name == "up_and_down":
        jumped = np.array([float(bool(one.question.values["flashover"])) for one in part])
        return FiftyPercent(volts, np.ones(volts.size), jumped, up_and_down=True)
    impulses, jumped = (np.array([one.question.number(key) for one in part]) for key in ("impulses", "flashovers"))
    for one, too_many in zip(part, jumped > impulses, strict=True):
        if too_many:
            faults.append(one.fault("flashovers", "flashovers must be at most the number of impulses."))
    return FiftyPercent(volts, impulses, jumped, up_and_down=False)


def diameter_tolerance(question: Question, diameter: float) -> float:
    """Return how far a sphere diameter [m] may be off [m]."""
    given = question.optional("diameter_uncertainty")
    return DIAMETER_SHARE * diameter if given is None else given


GROUPS = (
    ("pressure", "altitude", "sea_level_pressure"),
    ("temperature",),
    ("relative_humidity", "absolute_humidity", "dew_point"),
)
"""What of the weather replaces each other."""


def _merged(question: Question, own: Question) -> Question:
    """Return the question of one setting: its own weather in place of that of the whole check."""
    taken = [group for group in GROUPS if any(own.given(name) for name in group)]
    if not taken:
        return question
    gone = {name for group in taken for name in group}
    if own.given("sea_level_pressure") and not own.given("altitude"):
        gone.discard("altitude")  # one place, many weathers
    defaults = {name: question.parameters[name] for name in gone if question.parameters[name].default is not None}
    values = {name: value for name, value in question.values.items() if name not in gone}
    values |= {name: one.read(str(one.default)) for name, one in defaults.items()}
    values |= {name: own.values[name] for name in gone if own.given(name)}
    assumed = (question.assumed - gone) | {name for name in defaults if not own.given(name)}
    typed = {name: text for name, text in question.typed.items() if name not in gone}
    typed |= {name: own.typed[name] for name in gone if own.given(name)}
    return replace(question, values=values, assumed=assumed, typed=typed)


def _factor(name: str, question: Question, faults: list[Fault]) -> float | None:
    """Return what turns a reading into an indicated peak voltage."""
    attenuation = 1.0
    if name == VOLTAGES[1]:
        if "attenuation" not in question:
            faults.append(Fault("attenuation", f"attenuation is needed with {VOLTAGES[1]}."))
            return None
        attenuation = question.number("attenuation")
    try:
        return attenuation * peak_readings(1.0, question.key("measure"), question.key("waveform"))[0].high
    except BadQuestion as error:
        faults.extend(error.faults)
        return None
