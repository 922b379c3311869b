"""A probe beside a sphere gap: reference voltages of its settings, which of them count, and the word for all of them.

What was said is taken with its digits and its stated tolerances; what was not said (weather, irradiation) is taken at
every value that it may have, and a verdict is given only where all of them agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.lookup import voltage
from service.answers.registry import Registry
from service.answers.situation import SINE, Situation, situation
from service.bench.probe_sheet import SettingReadings, diameter_tolerance, read
from service.bench.settings import COVERAGE, Comparison, FiftyPercent, Sparkovers, pooled_deviation, rectangular
from service.bench.spheres import IMPULSES, Practice, why_not
from service.errors import BadQuestion
from service.judgement import (
    CANNOT_TELL,
    WEATHER,
    Agreed,
    Allowances,
    Needs,
    Unsaid,
    agreed,
    combinations,
    needs,
    typed_digits,
    unsaid,
)
from service.methods import Case, FloatArray, Method
from service.methods.method import BoolArray
from service.parameters import Given, Question
from service.units import Quantity

MODEL = "streamer-quadratic"
"""Method that says how the voltage moves with the diameter, between the columns of the table."""
NEAR, NEAR_HUMIDITY = 0.02, 2e-3
"""Steps over which a change is taken: relative, and of the humidity [kg/m3]; beyond them it goes on in proportion."""


@dataclass(frozen=True, eq=False)
class References:
    """The reference voltages of all settings with what moves them, evaluated together.

    Parameters
    ----------
    evaluation : Evaluation
        At what was said, and at the defaults of what was not.
    needs : Needs
        Over every value of the weather that was not said.
    off : mapping of str to ndarray
        How far every input of every setting may be off, to either side [SI]; the density as a pressure.
    common : mapping of str to ndarray
        Relative standard contributions that act on all settings alike, with the sign of the sensitivity.
    wide : tuple of str
        Inputs whose tolerance is wider than the step over which the change of the voltage is taken.
    """

    evaluation: Evaluation
    needs: Needs
    off: Mapping[str, FloatArray]
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
    readings: Sequence[SettingReadings], situations: Sequence[Situation], registry: Registry, allowances: Allowances
) -> References:
    """Return the reference voltages of settings.

    Parameters
    ----------
    situations : sequence of Situation
        Of each.

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
    return References(found, needs(arrangement, case, weather, allowances=allowances), off, common, wide)


def _case(readings: Sequence[SettingReadings], situations: Sequence[Situation], earthing: str) -> Case:
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
    readings: Sequence[SettingReadings], situations: Sequence[Situation], allowances: Allowances
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
    readings: Sequence[SettingReadings], situations: Sequence[Situation], allowances: Allowances
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
        if (missing[name] & np.isfinite(found.value)).any():
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
    """A probe check, worked out."""

    question: Question
    readings: tuple[SettingReadings, ...]
    situations: tuple[Situation, ...]
    references: References
    practice: Practice
    allowances: Allowances

    @classmethod
    def of(cls, given: Given, registry: Registry) -> Check:
        """Return the check of a body.

        Raises
        ------
        BadQuestion
            Naming every member that is missing, contradictory or unreadable.
        """
        found = read(given)
        around = tuple(situation(one.question, registry, registry.plates.key) for one in found)
        allowances = Allowances.of(registry.reference)
        beside = references(found, around, registry, allowances)
        return cls(given.question, found, around, beside, Practice.of(registry.reference), allowances)

    @property
    def tolerances(self) -> Mapping[str, FloatArray]:
        """How far every input of every setting may be off, to either side [SI]; the density as a pressure."""
        return self.references.off

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
        if isinstance(sparkovers, FiftyPercent):
            yield from sparkovers.why_not()
            return
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
        reference, band : ndarray
            Of these settings [V], and relative half width.
        """
        taken = [self.readings[place] for place in places]
        means = np.array([one.sparkovers.mean for one in taken])
        counts = np.array([one.sparkovers.count for one in taken], dtype=np.float64)
        digits = rectangular(np.array([one.half_digit for one in taken]) / means)
        # scatter below the digits is not seen, and is not taken to be nought
        means_of = [one.sparkovers for one in taken if isinstance(one.sparkovers, Sparkovers)]
        pooled = pooled_deviation(means_of) if means_of else 0.0
        scatter = np.maximum(pooled, digits) / np.sqrt(counts)
        fitted = [one.sparkovers.standard if isinstance(one.sparkovers, FiftyPercent) else 0.0 for one in taken]
        scatter = np.where(np.array(fitted) > 0, fitted, scatter)
        common, own = np.array([self.allowances.split(float(one)) for one in band]).T
        common_parts = {"gap": common} | {name: part[places] for name, part in self.references.common.items()}
        read_ = {"repeatability": scatter, "resolution": digits}
        return Comparison(means, reference, read_, {"setting": own}, common_parts)

    def by_itself(self, place: int) -> Comparison | None:
        """Return the comparison of one setting; ``None`` where it has no scatter or no reference."""
        if self.readings[place].sparkovers.count < 2 or not self.references.known[place]:
            return None
        found = self.references.evaluation
        return self.comparison(np.array([place]), found.value[[place]], found.half_widths[[place]])


LARGEST_UNCERTAINTY = 0.10
"""Expanded uncertainty beyond which nothing agrees; ours, common practice, no source."""
NEGLIGIBLE = 1e-6
"""Error that is put into words as none; no check of a probe comes near it."""
NEAR_A_FACTOR = 0.04
"""How near to a well-known factor an error is named by it; common practice, no source."""


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
        return self.check.comparison(places, found.value[places], found.half_widths[places])

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
        word, known = self.agreed.word, share_in_words(self.uncertainty)
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
        limit = share_in_words(LARGEST_UNCERTAINTY)
        return (
            f"{both}{danger} Known to {share_in_words(self.uncertainty)} (k = 2) only; beyond {limit} nothing agrees."
        )

    @property
    def _beside(self) -> str:
        error = self.ratio - 1
        if abs(error) <= NEGLIGIBLE:
            return "just what the gap says"
        if error > 1 or error < -0.5:
            return f"{plainly(self.ratio)} times what the gap says"
        return f"{share_in_words(abs(error))} {'more' if error > 0 else 'less'} than the gap says"

    @property
    def _spread(self) -> str:
        errors = self.comparison.indicated / self.comparison.reference - 1
        return f"{100 * float(errors.min()):+.2g} to {100 * float(errors.max()):+.2g} %"

    @property
    def scale_factor(self) -> float | None:
        """What readings are multiplied by, where one ratio was found."""
        return 1 / self.ratio if self.agreed.word in (AGREES, READS_HIGH, READS_LOW) else None

    def block(self) -> dict[str, object]:
        """Return the result as answers show it."""
        word, scale = self.agreed.word, self.scale_factor
        low, high = self.ends
        fields: dict[str, object] = {"verdict": word, "explanation": self.explanation}
        if scale is not None:
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

    def valid_for(self) -> dict[str, object]:
        """Return the voltages and the waveform that the result holds for."""
        volts, case = self.comparison.reference, self.check.references.evaluation.case
        fields: dict[str, object] = {
            "voltage": voltage(float("nan"), float(volts.min()), float(volts.max())),
            "waveform": case.waveform,
        }
        if case.polarity is not None:
            fields["polarity"] = case.polarity
        frequency = float(case.frequency[0])
        return fields | ({"frequency": Quantity(frequency, "frequency")} if frequency else {})


AGREES, READS_HIGH, READS_LOW = "agrees-within-uncertainty", "reads-high", "reads-low"
NOT_LINEAR = "not-linear"


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


MISTAKES = (
    Mistake(1000.0, "1000: was the attenuation applied twice, or V written as kV?"),
    Mistake(1e-3, "1/1000: was the attenuation not applied, or kV written as V?"),
    Mistake(SINE, "1.414 (square root of 2): were peak readings given as measure=rms?"),
    Mistake(1 / SINE, "0.707 (1 over the square root of 2): does the instrument show rms values (measure=rms)?", True),
    Mistake(2.0, "2: are these peak-to-peak values (measure=peak-to-peak-symmetrical)?", True),
    Mistake(0.5, "0.5: is the cable closed at both ends, or a peak value halved as if it were peak-to-peak?"),
    Mistake(2 * SINE, "2.83 (2 times the square root of 2): were peak-to-peak readings given as measure=rms?"),
    Mistake(0.5 / SINE, "0.354 (1 over 2 times the square root of 2): were rms readings given as peak-to-peak values?"),
)
"""What probes are misread by; common practice, no source."""


def share_in_words(share: float) -> str:
    """Return a share in words.

    Examples
    --------
    >>> share_in_words(0.0314), share_in_words(0.4), share_in_words(12.0)
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
    return f"{share_in_words(abs(error))} {'high' if error > 0 else 'low'}"
