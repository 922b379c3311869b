"""A probe beside a sphere gap: the reference voltages of all settings as one array, and which settings count."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.registry import Registry
from service.answers.situation import Situation, situation
from service.bench.comparison import Comparison, rectangular
from service.bench.probe_body import SettingReadings, diameter_tolerance, read
from service.bench.sparkovers import FiftyPercent, Sparkovers, pooled_deviation
from service.bench.sphere_practice import Practice
from service.bench.spheres import why_not
from service.errors import BadQuestion
from service.judgement import WEATHER, Allowances, Needs, Unsaid, needs, typed_digits, unsaid
from service.methods import Case, FloatArray, Method
from service.methods.method import BoolArray
from service.parameters import Given, Question

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
