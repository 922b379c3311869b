"""A probe beside a sphere gap: the readings as understood, the reference voltages as one array, the words.

What was said is taken with its digits and its stated tolerances; what was not said (weather, irradiation) is taken at
every value that it may have, and a verdict is given only where all of them agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import voltage
from service.answers.evaluate import Evaluation, evaluate
from service.answers.measure import readings as peak_readings
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, Situation, situation
from service.answers.waveform import WAVEFORM
from service.bench.comparison import COVERAGE, Comparison, rectangular
from service.bench.divider import NETWORK
from service.bench.sparkovers import Sparkovers, pooled_deviation
from service.bench.sphere_practice import IMPULSES, Practice
from service.bench.sphere_setting import why_not
from service.errors import BadQuestion, Fault
from service.judgement import Agreed, Allowances, Needs, Unsaid, agreed, combinations, needs, typed_digits, unsaid
from service.methods import Case, FloatArray, Method
from service.methods.method import BoolArray
from service.parameters import Given, Listed, Members, Parameter, Part, Question

MOST_SETTINGS = 200
"""Most settings of a check."""
VOLTAGES = ("indicated_voltages", "instrument_voltages")
VOLTAGE = Parameter("voltage", "voltage", "A reading of the instrument.", high=1e8)
LARGEST_UNCERTAINTY = 0.10
"""Expanded uncertainty beyond which nothing agrees; ours, common practice, no source."""
DIAMETER_SHARE = 1e-3
"""Tolerance of a sphere diameter over the diameter, where none is given."""
MODEL = "streamer-quadratic"
"""Method that says how the voltage moves with the diameter, between the columns of the table."""
NEAR, NEAR_HUMIDITY = 0.02, 2e-3
"""Steps over which a change is taken: relative, and of the humidity [kg/m3]; beyond them it goes on in proportion."""
NEGLIGIBLE = 1e-6
"""Error that is put into words as none; no check of a probe comes near it."""
NEAR_A_FACTOR = 0.04
"""How near to a well-known factor an error is named by it; common practice, no source."""
ONE_SIDED = ("lightning-impulse", "switching-impulse", "pulse-train")

FLAT = (
    Parameter(
        "sphere_diameter",
        "length",
        "Diameter of the spheres; a reading may give its own.",
        low=1e-4,
        high=10.0,
        example="20mm",
    ),
    Parameter(
        "earthing",
        "choice",
        "Whether one sphere is earthed, or both are at half the voltage.",
        default="one-earthed",
        choices=("one-earthed", "symmetrical"),
    ),
    *ATMOSPHERE,
    replace(WAVEFORM[0], default=None, required=True, example="dc"),
    replace(WAVEFORM[1], meaning="Polarity of the un-earthed sphere; needed for one-sided impulses."),
    *WAVEFORM[2:],
    Parameter("attenuation", "number", "Nominal ratio of the divider.", low=1e-3, high=1e9, example="1000"),
    Parameter(
        "measure",
        "choice",
        "How the instrument was read.",
        default="peak",
        choices=("peak", "rms", "peak-to-peak-symmetrical"),
    ),
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
    Parameter("unfilled_rows", "count", "Rows of the sheet that were left empty."),
)
READING = Members(
    (
        Parameter("spacing", "length", "Spacing of the spheres.", required=True, low=1e-6, high=10.0),
        Parameter("sphere_diameter", "length", "Diameter of the spheres, where it is another.", low=1e-4, high=10.0),
    ),
    (
        Part("indicated_voltages", "One voltage per sparkover, attenuation applied.", Listed(VOLTAGE)),
        Part("instrument_voltages", "One voltage per sparkover, attenuation not applied.", Listed(VOLTAGE)),
    ),
)
BODY = Members(
    FLAT,
    (
        Part(
            "readings",
            "One entry per setting: spacing, and one voltage per sparkover.",
            Listed(READING, most=MOST_SETTINGS),
            required=True,
        ),
        Part("network", "The divider, and the frequency that it is wanted for.", NETWORK),
    ),
)


@dataclass(frozen=True, eq=False)
class Reading:
    """The readings at one setting.

    Parameters
    ----------
    question : Question
        What was said of the setting, its own weather over that of the whole check.
    spacing, diameter : float
        [m].
    sparkovers : Sparkovers
        Indicated voltages, peak, attenuation applied.
    half_digit : float
        How far each may be off by its digits [V].
    """

    question: Question
    spacing: float
    diameter: float
    sparkovers: Sparkovers
    half_digit: float


def read(given: Given) -> tuple[Reading, ...]:
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


def _reading(given: Given, question: Question, faults: list[Fault]) -> Reading | None:
    own = given.question
    sized = own if "sphere_diameter" in own else question
    if "sphere_diameter" not in sized:
        faults.append(Fault("sphere_diameter", "sphere_diameter is needed, for all readings or for each."))
    names = [name for name in VOLTAGES if name in given.parts]
    if len(names) != 1:
        why = "is needed" if not names else "and the other contradict each other; give one"
        faults.append(given.fault(VOLTAGES[0], f"{VOLTAGES[0]} {why}: {VOLTAGES[0]} or {VOLTAGES[1]}."))
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
    read_ = given.parts[names[0]]
    half = question.optional("resolution")
    if half is None:
        # a spreadsheet drops trailing noughts: the finest reading says how the instrument was read
        half = min(units.half_digit(text, "voltage") for text in set(read_.texts))
    volts = factor * np.array(read_.values, dtype=np.float64)
    return Reading(_merged(question, own), spacing, diameter, Sparkovers(volts), factor * half)


def diameter_tolerance(question: Question, diameter: float) -> float:
    """Return how far a sphere diameter [m] may be off [m]."""
    given = question.optional("diameter_uncertainty")
    return DIAMETER_SHARE * diameter if given is None else given


GROUPS = (("pressure", "altitude"), ("temperature",), ("relative_humidity", "absolute_humidity", "dew_point"))
"""What of the weather replaces each other."""


def _merged(question: Question, own: Question) -> Question:
    """Return the question of one setting: its own weather in place of that of the whole check."""
    taken = [group for group in GROUPS if any(own.given(name) for name in group)]
    if not taken:
        return question
    gone = {name for group in taken for name in group}
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


@dataclass(frozen=True, eq=False)
class References:
    """The reference voltages of all settings with what moves them, evaluated together.

    Parameters
    ----------
    evaluation : Evaluation
        At what was said, and at the defaults of what was not.
    needs : Needs
        Over every value of the weather that was not said.
    common : mapping of str to ndarray
        Relative standard contributions that act on all settings alike, with the sign of the sensitivity.
    wide : tuple of str
        Inputs whose tolerance is wider than the step over which the change of the voltage is taken.
    """

    evaluation: Evaluation
    needs: Needs
    common: Mapping[str, FloatArray]
    wide: tuple[str, ...]

    @property
    def value(self) -> FloatArray:
        """Peak voltages at which the settings spark over [V]; NaN where no method gives one."""
        return self.evaluation.value

    @property
    def known(self) -> BoolArray:
        """Settings that have a voltage, whatever the weather."""
        return np.asarray(np.isfinite(self.value) & np.isfinite(self.needs.value).all(axis=0))

    def method(self, place: int) -> Method | None:
        """Return the method that answers at a setting."""
        return self.evaluation.preferred(place).method if self.evaluation.answered[place] else None

    @cached_property
    def bands(self) -> FloatArray:
        """Relative half widths of the bands over all weather, shape (m, n)."""
        found = self.needs
        return np.asarray(np.fmax(found.high - found.value, found.value - found.low) / found.value)


def references(
    readings: Sequence[Reading], situations: Sequence[Situation], registry: Registry, allowances: Allowances
) -> References:
    """Return the reference voltages of settings.

    Parameters
    ----------
    readings : sequence of Reading
    situations : sequence of Situation
        Of each.
    registry : Registry
    allowances : Allowances

    Raises
    ------
    BadQuestion
        When a voltage has no neighbours to tell a change from.
    """
    question, arrangement = readings[0].question, registry.arrangement("sphere-gap")
    case = _case(readings, situations, question.key("earthing"))
    found = evaluate(arrangement, case)
    off = _tolerances(readings, situations, allowances)
    steps = {
        "spacing": NEAR * case.gap,
        "diameter": NEAR * case.dimensions["sphere_diameter"],
        "density": NEAR * case.pressure,
        "humidity": np.full(case.size, NEAR_HUMIDITY),
    }
    wide = tuple(name for name, step in steps.items() if (off[name] > step).any())
    common = _influences(found, off, steps)
    weather = _weather(readings, situations, allowances)
    return References(found, needs(arrangement, case, weather, allowances=allowances), common, wide)


def _case(readings: Sequence[Reading], situations: Sequence[Situation], earthing: str) -> Case:
    def each(name: str) -> FloatArray:
        return np.array([getattr(one.case, name)[0] for one in situations])

    return replace(
        situations[0].case,
        gap=np.array([one.spacing for one in readings]),
        pressure=each("pressure"),
        temperature=each("temperature"),
        humidity=each("humidity"),
        frequency=each("frequency"),
        dimensions={"sphere_diameter": np.array([one.diameter for one in readings])},
        options={"earthing": earthing},
    )


def _tolerances(
    readings: Sequence[Reading], situations: Sequence[Situation], allowances: Allowances
) -> dict[str, FloatArray]:
    """Return how far every input of every setting may be off, to either side [SI]; the density as a pressure."""
    question = readings[0].question
    density = []
    for one, here in zip(readings, situations, strict=True):
        pressure, kelvin = float(here.case.pressure[0]), float(here.case.temperature[0])
        digits = typed_digits(one.question, here, allowances)
        typed = math.hypot(digits.get("pressure", 0.0) / pressure, digits.get("temperature", 0.0) / kelvin)
        density.append(pressure * max(question.number("density_uncertainty"), typed))
    return {
        "spacing": np.full(len(readings), question.number("spacing_uncertainty")),
        "diameter": np.array([diameter_tolerance(question, one.diameter) for one in readings]),
        "density": np.array(density),
        "humidity": np.full(len(readings), question.number("humidity_uncertainty")),
    }


def _weather(
    readings: Sequence[Reading], situations: Sequence[Situation], allowances: Allowances
) -> tuple[Unsaid, ...]:
    """Return what was not said of the weather of any setting, with the ends for each; said ones keep what was said."""
    each = [
        {one.name: one for one in unsaid(reading.question, here, allowances) if one.name in WEATHER}
        for reading, here in zip(readings, situations, strict=True)
    ]
    found = []
    for name in WEATHER:
        named = next((one[name] for one in each if name in one), None)
        if named is None:
            continue
        ends = [
            one[name].values if name in one else (getattr(here.case, name)[0],) * 2
            for one, here in zip(each, situations, strict=True)
        ]
        low, high = np.array(ends, dtype=np.float64).T
        found.append(Unsaid(name, named.say, (low, high)))
    return tuple(found)


WEATHER = ("pressure", "temperature", "humidity")
VARIED = {"spacing": "gap", "diameter": "sphere_diameter", "density": "pressure", "humidity": "humidity"}
"""Input to what of a case moves with it; density by the pressure."""


def _influences(
    found: Evaluation, off: Mapping[str, FloatArray], steps: Mapping[str, FloatArray]
) -> dict[str, FloatArray]:
    """Return half of the change of the voltage between the ends of every input, as relative standard uncertainty.

    JCGM 100, 5.1.3, first order; every setting, input and end is evaluated in one array per method.
    """
    n = found.case.size
    step = {name: np.minimum(off[name], steps[name]) for name in VARIED}
    moved = [(name, sign) for name in VARIED for sign in (-1.0, 0.0, 1.0)]
    many = found.case.take(np.tile(np.arange(n), len(moved)))
    shift = {
        name: np.concatenate([sign * step[one] if one == name else np.zeros(n) for one, sign in moved])
        for name in VARIED
    }
    many = replace(
        many,
        gap=many.gap + shift["spacing"],
        pressure=many.pressure + shift["density"],
        humidity=np.maximum(many.humidity + shift["humidity"], 0.0),
        dimensions={"sphere_diameter": many.dimensions["sphere_diameter"] + shift["diameter"]},
    )
    volts = _by_own_methods(found, many, len(moved)).reshape(len(VARIED), 3, n)
    below, middle, above = np.log(volts).transpose(1, 0, 2)
    # at an end of the table only one side is tabulated
    ends = np.stack([above - middle, middle - below])
    some = np.isfinite(ends)
    half = np.where(some, ends, 0.0).sum(axis=0) / np.maximum(some.sum(axis=0), 1)
    changes = dict(zip(VARIED, half, strict=True))
    missing = {name: ~row for name, row in zip(VARIED, some.any(axis=0), strict=True)}
    # by similarity a gap of k times the size at a k-th of the density has the same voltage
    slope = {name: changes[name] / np.where(step[name] > 0, step[name], np.inf) for name in VARIED}
    size = found.case.dimensions["sphere_diameter"]
    similar = (slope["density"] * found.case.pressure - slope["spacing"] * found.case.gap) * step["diameter"] / size
    changes["diameter"] = np.where(missing["diameter"], similar, changes["diameter"])
    for name in ("spacing", "density"):
        if (missing[name] & (step[name] > 0) & np.isfinite(found.value)).any():
            raise BadQuestion.about(f"{name}_uncertainty", f"How the voltage moves with the {name} is not known here.")
    return {
        name: rectangular(changes[name] * off[name] / np.where(step[name] > 0, step[name], np.inf)) for name in VARIED
    }


def _by_own_methods(found: Evaluation, many: Case, times: int) -> FloatArray:
    """Return the voltages of a case that repeats another some times, each setting by its own method.

    The diameter is not tabulated in between: a model says how the voltage moves with it.
    """
    n = found.case.size
    choice = np.tile(found.choice, times)
    place = np.arange(choice.size) // n
    diameter = (place >= 3) & (place < 6)
    volts = np.full(choice.size, np.nan)
    for own, used in enumerate(found.methods):
        mask = (choice == own) & ~diameter
        if mask.any():
            volts[mask] = evaluate(found.arrangement, many.select(mask), only=used.method.key).value
    mask = diameter & (choice >= 0)
    if mask.any():
        volts[mask] = evaluate(found.arrangement, many.select(mask), only=MODEL).value
    return volts


@dataclass(frozen=True, eq=False)
class Check:
    """A probe check, worked out.

    Parameters
    ----------
    question : Question
    readings : tuple of Reading
    situations : tuple of Situation
    references : References
    practice : Practice
    allowances : Allowances
    """

    question: Question
    readings: tuple[Reading, ...]
    situations: tuple[Situation, ...]
    references: References
    practice: Practice
    allowances: Allowances

    @classmethod
    def of(cls, given: Given, registry: Registry) -> Check:
        """Return the check of a body.

        Parameters
        ----------
        given : Given
        registry : Registry

        Raises
        ------
        BadQuestion
            Naming every member that is missing, contradictory or unreadable.
        """
        found = read(given)
        around = tuple(situation(one.question, registry, "uniform-field") for one in found)
        allowances = Allowances.of(registry.reference)
        beside = references(found, around, registry, allowances)
        return cls(given.question, found, around, beside, Practice.of(registry.reference), allowances)

    @property
    def waveform(self) -> str:
        """Of the check."""
        return self.question.key("waveform")

    @cached_property
    def why_not(self) -> tuple[tuple[str, ...], ...]:
        """Why each setting is not accepted; empty where it is."""
        return tuple((*self._of_readings(place), *self._of_setting(place)) for place in range(len(self.readings)))

    def _of_readings(self, place: int) -> Iterator[str]:
        sparkovers = self.readings[place].sparkovers
        fewest, largest = self.practice.sparkovers, self.practice.value["largest-standard-deviation"]
        if sparkovers.count < fewest:
            counted = f"{sparkovers.count} sparkover" + "s" * (sparkovers.count != 1)
            yield f"{counted}; at least {fewest} are needed."
        if sparkovers.deviation >= largest:
            percent = 100 * sparkovers.deviation
            yield f"The standard deviation is {percent:.2g} %; it must be below {100 * largest:g} %."

    def _of_setting(self, place: int) -> Iterator[str]:
        method = self.references.method(place)
        if method is None or not self.references.known[place]:
            yield "No method gives a voltage for this setting."
            return
        reading, frequency = self.readings[place], float(self.references.evaluation.case.frequency[place])
        yield from why_not(self.practice, reading.spacing, reading.diameter, self.waveform, frequency)

    @cached_property
    def accepted(self) -> np.ndarray:
        """Places of the settings that count."""
        return np.flatnonzero([not reasons for reasons in self.why_not])

    @cached_property
    def late(self) -> BoolArray:
        """Settings whose sparks may be late: they need irradiation, and had none or nothing was said of it."""
        if self.question.key("irradiated") == "yes":
            return np.zeros(len(self.readings), dtype=bool)
        pairs = zip(self.references.value, self.readings, strict=True)
        return np.array([self.practice.irradiation_needed(float(volts), one.diameter) for volts, one in pairs])

    @property
    def highest(self) -> float:
        """Highest voltage of the check [V peak]."""
        means = np.array([one.sparkovers.mean for one in self.readings])
        return float(np.where(np.isfinite(self.references.value), self.references.value, means).max())

    def comparison(self, places: np.ndarray, reference: FloatArray, band: FloatArray) -> Comparison:
        """Return the comparison of some settings, of two sparkovers or more each, with given reference voltages.

        Parameters
        ----------
        places : ndarray of int
        reference, band : ndarray
            Of these settings [V], and relative half width.
        """
        taken = [self.readings[place] for place in places]
        means = np.array([one.sparkovers.mean for one in taken])
        counts = np.array([one.sparkovers.count for one in taken], dtype=np.float64)
        digits = rectangular(np.array([one.half_digit for one in taken]) / means)
        # scatter below the digits is not seen, and is not taken to be nought
        scatter = np.maximum(pooled_deviation([one.sparkovers for one in taken]), digits) / np.sqrt(counts)
        common, own = np.array([self.allowances.split(float(one)) for one in band]).T
        common_parts = {"gap": common} | {name: part[places] for name, part in self.references.common.items()}
        read_ = {"repeatability": scatter, "resolution": digits}
        return Comparison(means, reference, read_, {"setting": own}, common_parts)

    def by_itself(self, place: int) -> Comparison | None:
        """Return the comparison of one setting; ``None`` where it has no scatter or no reference."""
        if self.readings[place].sparkovers.count < 2 or not self.references.known[place]:
            return None
        found = self.references.evaluation
        band = np.fmax(found.high - found.value, found.value - found.low) / found.value
        return self.comparison(np.array([place]), found.value[[place]], band[[place]])


@dataclass(frozen=True)
class Word:
    """What the accepted settings say at one value of everything that was not said."""

    word: str
    ratio: float
    uncertainty: float
    bent: bool
    comparison: Comparison

    @property
    def ends(self) -> tuple[float, float]:
        """Ends of the possible ratio of indicated over true voltage."""
        return possible(self.ratio, self.uncertainty)


@dataclass(frozen=True, eq=False)
class Overall:
    """What the accepted settings say of the probe.

    Parameters
    ----------
    check : Check
        With at least one accepted setting.
    """

    check: Check

    @cached_property
    def unsaid(self) -> tuple[Unsaid, ...]:
        """What was not said, the irradiation of settings that need it included."""
        weather = self.check.references.needs.unsaid
        if not self.check.late[self.check.accepted].any():
            return weather
        return (*weather, Unsaid("irradiated", self._irradiate, (1.0, 1 + self.check.allowances.late)))

    @property
    def _irradiate(self) -> str:
        if self.check.question.key("irradiated") == "no":
            return "that the gap was irradiated, and irradiate it (sparks without are late)"
        return "whether the gap was irradiated (irradiated=yes; sparks without are late)"

    @cached_property
    def words(self) -> list[Word]:
        """The words of all combinations of what was not said, in the order of `judgement.combinations`."""
        return [self._word(row) for row in combinations(self.unsaid).T]

    def _word(self, row: np.ndarray) -> Word:
        check, places = self.check, self.check.accepted
        needs_, weather = check.references.needs, len(check.references.needs.unsaid)
        at = int(np.flatnonzero((row[:weather] == needs_.choice.T).all(axis=1))[0])
        lag = np.ones(places.size)
        if row.size > weather:
            lag[check.late[places]] = self.unsaid[-1].values[row[-1]]
        found = check.comparison(places, needs_.value[at, places] * lag, check.references.bands[at, places])
        bent = found.bent(self._apart)
        ratio, uncertainty = 1 / found.scale_factor, found.expanded_uncertainty
        return Word(_word_of(ratio, uncertainty, bent=bent), ratio, uncertainty, bent, found)

    @cached_property
    def _apart(self) -> Mapping[str, FloatArray]:
        """What each setting may have of its own beside: a spacing set anew every time, a lag of its own."""
        check, places = self.check, self.check.accepted
        lag = np.where(check.late[places], check.allowances.late / 2, 0.0)
        return {"spacing": check.references.common["spacing"][places], "lag": rectangular(lag)}

    @cached_property
    def comparison(self) -> Comparison:
        """The comparison at what was said, and at the defaults of what was not."""
        found, places = self.check.references.evaluation, self.check.accepted
        band = np.fmax(found.high - found.value, found.value - found.low) / found.value
        return self.check.comparison(places, found.value[places], band[places])

    @cached_property
    def ends(self) -> tuple[float, float]:
        """Ends of the possible ratio of indicated over true voltage, over everything that was not said."""
        low, high = zip(*(one.ends for one in self.words), strict=True)
        return min(low), max(high)

    @property
    def ratio(self) -> float:
        """Indicated over true voltage: the middle of the possible ones."""
        ratios = [one.ratio for one in self.words]
        return math.sqrt(min(ratios) * max(ratios))

    @cached_property
    def uncertainty(self) -> float:
        """Relative half width of the possible ratios about the middle one."""
        if len(self.words) == 1:
            return self.words[0].uncertainty
        return 1 - self.ends[0] / self.ratio

    @cached_property
    def agreed(self) -> Agreed:
        """The one word of all combinations, or ``cannot-tell`` with what it depends on."""
        found = agreed(np.array([one.word for one in self.words]), combinations(self.unsaid), self.unsaid)
        if found.word == AGREES and self.uncertainty > LARGEST_UNCERTAINTY:
            return replace(found, word=CANNOT_TELL)
        if self._maybe_another_measure and found.word in (READS_HIGH, READS_LOW):
            return Agreed(CANNOT_TELL, found.among, (Unsaid("measure", "the measure (peak, rms, ...)", ()),))
        return found

    @property
    def _maybe_another_measure(self) -> bool:
        """Whether the error is what another way of reading the instrument would make, and none was said."""
        if self.check.question.given("measure") or self.mistake is None:
            return False
        return self.mistake.measure and self.check.waveform not in IMPULSES and self.check.waveform != "dc"

    @cached_property
    def mistake(self) -> Mistake | None:
        """The common mistake whose factor the error is near to."""
        distances = [(abs(math.log(self.ratio / one.factor)), one) for one in MISTAKES]
        distance, found = min(distances, key=lambda pair: pair[0])
        return found if distance <= NEAR_A_FACTOR else None

    @property
    def explanation(self) -> str:
        """The verdict in sentences."""
        word, known = self.agreed.word, percent(self.uncertainty)
        said = {
            AGREES: f"The probe indicates {self._beside}; the check is known to {known} (k = 2), so no error is shown.",
            READS_HIGH: f"The probe indicates {self._beside}; the check is known to {known} (k = 2).",
            READS_LOW: f"More voltage is present than the probe shows: it indicates {self._beside}; the check is known "
            f"to {known} (k = 2).",
            NOT_LINEAR: "The ratio changes with the voltage beyond what chance and the gap explain, so there is no one "
            f"scale factor: setting by setting it is off by {self._spread}.",
        }.get(word) or self._undecided
        named = "" if self.mistake is None or word == NOT_LINEAR else f" {self.mistake.sentence}"
        return said + named

    @property
    def _undecided(self) -> str:
        low, high = (side(end - 1) for end in self.ends)
        both = f"The probe may read anything from {low} to {high}."
        if any(one.bent for one in self.words):
            both = f"{both} Its ratio may change with the voltage."
        danger = " If it reads low, more voltage is present than it shows." if self.ends[0] < 1 else ""
        if self.agreed.depends_on:
            return f"{both}{danger} {self.agreed.sentence}"
        limit = percent(LARGEST_UNCERTAINTY)
        return f"{both}{danger} Known to {percent(self.uncertainty)} (k = 2) only; beyond {limit} nothing agrees."

    @property
    def _beside(self) -> str:
        error = self.ratio - 1
        if abs(error) <= NEGLIGIBLE:
            return "just what the gap says"
        if error > 1 or error < -0.5:
            return f"{plainly(self.ratio)} times what the gap says"
        return f"{percent(abs(error))} {'more' if error > 0 else 'less'} than the gap says"

    @property
    def _spread(self) -> str:
        errors = self.comparison.indicated / self.comparison.reference - 1
        return f"{100 * float(errors.min()):+.2g} to {100 * float(errors.max()):+.2g} %"

    def block(self) -> dict[str, Any]:
        """Return the result as answers show it."""
        word = self.agreed.word
        low, high = self.ends
        fields: dict[str, Any] = {"verdict": word, "explanation": self.explanation}
        if word in (AGREES, READS_HIGH, READS_LOW):
            scale = 1 / self.ratio
            fields |= {
                "scale_factor": scale,
                "expanded_uncertainty": self.uncertainty,
                "expanded_uncertainty_percent": 100 * self.uncertainty,
            }
            if self.check.question.optional("attenuation") is not None:
                fields["corrected_attenuation"] = self.check.question.number("attenuation") * scale
        if word == CANNOT_TELL:
            fields |= {
                "expanded_uncertainty": self.uncertainty,
                "expanded_uncertainty_percent": 100 * self.uncertainty,
                "say": [one.say for one in self.agreed.depends_on],
            }
        if word != NOT_LINEAR:
            ends = {"low": low, "high": high}
            fields["possible_error_percent"] = {name: 100 * (end - 1) for name, end in ends.items() if end < math.inf}
        if self.mistake is not None and word != NOT_LINEAR:
            fields["likely_cause"] = self.mistake.sentence
        if self.check.accepted.size > 1:
            fields["linearity_percent"] = 100 * float(np.abs(self.comparison.deviations).max())
        parts = {name: 100 * COVERAGE * part for name, part in self.comparison.parts.items()}
        fields["expanded_uncertainty_parts_percent"] = parts
        return fields | ({"valid_for": self.valid_for()} if word != NOT_LINEAR else {})

    def valid_for(self) -> dict[str, Any]:
        """Return the voltages and the waveform that the result holds for."""
        volts, case = self.comparison.reference, self.check.references.evaluation.case
        fields: dict[str, Any] = {
            "voltage": voltage(float("nan"), float(volts.min()), float(volts.max())),
            "waveform": case.waveform,
        }
        if case.polarity is not None:
            fields["polarity"] = case.polarity
        frequency = float(case.frequency[0])
        return fields | ({"frequency": units.quantity(frequency, "frequency")} if frequency else {})


AGREES, READS_HIGH, READS_LOW = "agrees-within-uncertainty", "reads-high", "reads-low"
NOT_LINEAR, CANNOT_TELL = "not-linear", "cannot-tell"


def possible(ratio: float, uncertainty: float) -> tuple[float, float]:
    """Return the ends of a ratio whose numerator or denominator may be off by a share, whichever end lies farther.

    Examples
    --------
    >>> possible(1.0, 0.2)
    (0.8, 1.25)
    """
    left = max(1 - uncertainty, 0.0)
    return ratio * left, ratio / left if left else math.inf


def _word_of(ratio: float, uncertainty: float, *, bent: bool) -> str:
    if bent:
        return NOT_LINEAR
    low, high = possible(ratio, uncertainty)
    if low <= 1 <= high:
        return AGREES if uncertainty <= LARGEST_UNCERTAINTY else CANNOT_TELL
    return READS_HIGH if ratio > 1 else READS_LOW


@dataclass(frozen=True)
class Mistake:
    """A common mistake: the factor by which it makes a probe read, and what it likely is.

    Parameters
    ----------
    factor : float
        Indicated over true voltage.
    words : str
    measure : bool
        Whether it is another way of reading the instrument.
    """

    factor: float
    words: str
    measure: bool = False

    @property
    def sentence(self) -> str:
        """What it is, as a sentence."""
        return f"The error is near a factor of {self.words}"


ROOT = math.sqrt(2)
MISTAKES = (
    Mistake(1000.0, "1000: was the attenuation applied twice, or V written as kV?"),
    Mistake(1e-3, "1/1000: was the attenuation not applied, or kV written as V?"),
    Mistake(ROOT, "1.414 (square root of 2): were peak readings given as measure=rms?"),
    Mistake(1 / ROOT, "0.707 (1 over the square root of 2): does the instrument show rms values (measure=rms)?", True),
    Mistake(2.0, "2: are these peak-to-peak values (measure=peak-to-peak-symmetrical)?", True),
    Mistake(0.5, "0.5: is the cable closed at both ends, or a peak value halved as if it were peak-to-peak?"),
    Mistake(2 * ROOT, "2.83 (2 times the square root of 2): were peak-to-peak readings given as measure=rms?"),
    Mistake(0.5 / ROOT, "0.354 (1 over 2 times the square root of 2): were rms readings given as peak-to-peak values?"),
)
"""What probes are misread by; common practice, no source."""


def percent(share: float) -> str:
    """Return a share in words.

    Examples
    --------
    >>> percent(0.0314), percent(0.4), percent(12.0)
    ('3.1 %', '40 %', '1200 %')
    """
    return f"{100 * share:.2g} %" if share < 0.995 else f"{100 * share:.0f} %"


def plainly(number: float) -> str:
    """Return a number with three digits, and never as a power of ten.

    Examples
    --------
    >>> plainly(1000.4), plainly(1.234), plainly(0.000998)
    ('1000', '1.23', '0.000998')
    """
    return f"{number:.0f}" if number >= 100 else f"{number:.3g}"


def side(error: float) -> str:
    """Return an error with its side in words; beyond twice or half as a factor.

    Examples
    --------
    >>> side(-0.75), side(0.031), side(999.0), side(0.0)
    ('75 % low', '3.1 % high', '1000 times too high', 'right')
    """
    if abs(error) < 5e-4:
        return "right"
    if error == math.inf:
        return "any number of times too high"
    if error >= 1:
        return f"{plainly(1 + error)} times too high"
    return f"{percent(abs(error))} {'high' if error > 0 else 'low'}"
