"""Judgement: from an estimate, what was said and what was assumed, to an interval and a word.

The rule: **a verdict holds for every value that was not said; if it does not, the word is** ``cannot-tell`` **and the
sentence names what to say.** What was said is never widened beyond its digits and its stated uncertainties.

In three steps, on arrays, without a question where there is none:

1. `Allowances.of(reference)`: how far things may differ from what was said, each number once, from the table
   ``judgement-allowances``. `Allowances.split(band)` parts a method's band into what is common to all settings and
   what each has of its own (standard uncertainties); `Allowances.lag(irradiated)` is the one-sided factor upward for
   first electrons that come late, `Allowances.weather(pressure)` and `Allowances.anywhere` are ranges of pressure.
2. `unsaid(question, situation, allowances)`: the things that were not said, each an `Unsaid` with its values (of a
   number the two ends). A lookup adds its own: ``Unsaid("measure", "the measure", (...))``. Half a digit of the last
   place typed is ``question.half_digit(name)``; `typed_digits` is that of pressure and temperature.
3. `needs(arrangement, case, unsaid, allowances=..., off=...)`: what n gaps need over all m combinations, evaluated as
   one array per waveform and polarity. ``off`` holds how far *said* values may be off (digits, stated
   uncertainties), by name, SI, one number or one per element: they go into the band. The `Needs` have

   * ``value``, ``low``, ``high``: shape (m, n), the method's estimate and its band;
   * ``least``, ``most``: the same with the scatter of impulses, and the lag upward;
   * ``range``: least and most over all combinations, shape (n,).

   `agreed(words, needs.choice, needs.unsaid)` makes one word of the words of all combinations, or ``cannot-tell``
   with what it depends on.

A distance that must hold in any weather is sought over ``in_all_weather(case, unsaid)``: one element a combination.
A check with many settings asks once: ``case`` has one element per setting, ``off={"gap": tolerance, "sphere_diameter":
tolerance}``; the half width of an input that was not said is that of ``value`` over the combinations.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np

from service.answers.evaluate import evaluate
from service.answers.gap_curves import case_at
from service.answers.situation import PERIODIC, WAVEFORMS, Situation
from service.methods import Arrangement, Case, FloatArray
from service.methods.laws import constants
from service.parameters import Question
from service.physics import atmosphere
from service.reference import Reference

TABLE = "judgement-allowances"
"""Key of the table of allowances."""
LATE_WAVEFORMS = frozenset({"lightning-impulse", "switching-impulse", "pulse-train"})
"""Voltages that are over before the first electron may have come, and whose single sparkovers scatter."""


@dataclass(frozen=True)
class Allowances:
    """The allowances in use, SI.

    Parameters
    ----------
    pressure : tuple of float
        Lowest and highest of ordinary weather at sea level [Pa].
    standard_pressure : float
        What the weather moves about [Pa].
    temperature : tuple of float
        Lowest and highest of a workshop [K].
    humidity : tuple of float
        Driest and muggiest air [kg/m3].
    highest_place : float
        Altitude up to which a place is looked for where none was said [m].
    late : float
        How much higher a gap may fire that nothing irradiates, as a share of the voltage; upward only.
    own_part : float
        Relative standard uncertainty of a band that is not common to all settings.
    label : float
        Share by which a printed rating may be rounded.
    spacing : float
        Half width of the spacing of a protective gap [m].
    deviation, deviation_switching, multiple : float
        Relative standard deviation of single sparkovers, and how many of them count.
    """

    pressure: tuple[float, float]
    standard_pressure: float
    temperature: tuple[float, float]
    humidity: tuple[float, float]
    highest_place: float
    late: float
    own_part: float
    label: float
    spacing: float
    deviation: float
    deviation_switching: float
    multiple: float

    @classmethod
    def of(cls, reference: Reference) -> Allowances:
        """Return the allowances of the tables in use."""
        value, scatter = constants(reference, TABLE), constants(reference, "correction-constants")

        def ends(name: str) -> tuple[float, float]:
            return value[f"{name}-lowest"], value[f"{name}-highest"]

        return cls(
            ends("weather-pressure"),
            value["weather-pressure-standard"],
            ends("weather-temperature"),
            ends("weather-humidity"),
            value["highest-place"],
            value["late-sparkover"],
            value["own-part-of-band"],
            value["label-rounding"],
            value["spacing-of-a-protective-gap"],
            scatter["deviation-alternating-and-lightning"],
            scatter["deviation-switching"],
            scatter["scatter-multiple"],
        )

    def scatter(self, waveform: str) -> float:
        """Return how far single sparkovers scatter to either side, as a share of the voltage."""
        deviation = self.deviation_switching if waveform == "switching-impulse" else self.deviation
        return self.multiple * deviation

    def lag(self, irradiated: str) -> float:
        """Return the factor on the upper end of a band for first electrons that come late.

        Parameters
        ----------
        irradiated : str
            ``yes``, ``no`` or ``unknown``; only ``yes`` takes the allowance away.
        """
        return 1.0 if irradiated == "yes" else 1.0 + self.late

    def weather(self, pressure: float) -> tuple[float, float]:
        """Return the lowest and highest pressure [Pa] that the weather makes of a mean pressure [Pa]."""
        low, high = (end / self.standard_pressure for end in self.pressure)
        return pressure * low, pressure * high

    @property
    def anywhere(self) -> tuple[float, float]:
        """Lowest and highest pressure [Pa] of any place from sea level up, in its weather."""
        top = float(atmosphere.standard_pressure(self.highest_place))
        return self.weather(top)[0], self.pressure[1]

    def split(self, band: float, coverage: float = 2.0) -> tuple[float, float]:
        """Return the standard uncertainties of a band: common to all settings, and of each on its own.

        Parameters
        ----------
        band : float
            Relative half width, an expanded uncertainty.
        coverage : float
            Its coverage factor.

        Examples
        --------
        Of 3 % (k = 2), with an own part of 1 %, 1.1 % are common.
        """
        whole = band / coverage
        own = min(self.own_part, whole)
        return math.sqrt(whole**2 - own**2), own


KEYS = ("waveform", "polarity")
"""Of a case these are keys, not numbers: combinations of them are evaluated apart."""


@dataclass(frozen=True)
class Unsaid:
    """One thing that was not said.

    Parameters
    ----------
    name : str
        Of a case: ``pressure``, ``temperature``, ``humidity``, ``frequency``, ``waveform`` or ``polarity``; or of
        something else that multiplies the combinations, such as ``measure``.
    say : str
        What to say, to follow "say".
    values : tuple
        The values it may have: of a number its ends, since what is between lies between; of a key all.
    """

    name: str
    say: str
    values: tuple[object, ...]


def unsaid(question: Question, here: Situation, allowances: Allowances) -> tuple[Unsaid, ...]:
    """Return what a question does not say of weather and waveform.

    Parameters
    ----------
    here : Situation
        As it was understood.
    """
    return (*_weather(question, here, allowances), *_waveform(question, here))


def _weather(question: Question, here: Situation, allowances: Allowances) -> Iterator[Unsaid]:
    if here.case.in_vacuum:
        return
    reduced = question.given("sea_level_pressure")  # with its altitude it says the pressure
    if question.given("altitude") and not reduced:
        altitude, half = question.number("altitude"), question.half_digit("altitude")
        ends = (float(atmosphere.standard_pressure(altitude + step)) for step in (half, -half))
        low, high = (allowances.weather(end)[place] for place, end in enumerate(ends))
        yield Unsaid("pressure", "the pressure", (low, high))
    elif not question.given("pressure") and not reduced:
        yield Unsaid("pressure", "the pressure or the altitude", allowances.anywhere)
    if not question.given("temperature"):
        yield Unsaid("temperature", "the temperature", allowances.temperature)
    water = ("relative_humidity", "absolute_humidity", "dew_point")
    if here.case.in_air and not any(question.given(name) for name in water):
        yield Unsaid("humidity", "the humidity", allowances.humidity)


def _waveform(question: Question, here: Situation) -> Iterator[Unsaid]:
    said = question.given("waveform")
    if not said:
        periodic = PERIODIC if question.given("frequency") else WAVEFORMS
        yield Unsaid("waveform", "the waveform", periodic)
    one_sided = not said or here.case.waveform != "ac"
    if one_sided and question.values.get("polarity", "weaker") == "weaker":
        yield Unsaid("polarity", "the polarity", ("positive", "negative"))


def typed_digits(question: Question, here: Situation, allowances: Allowances) -> dict[str, float]:
    """Return how far pressure and temperature may be off by the digits that were typed, SI; never more than weather."""
    pressure = float(here.case.pressure[0])
    most = {"pressure": np.ptp(allowances.weather(pressure)) / 2, "temperature": np.ptp(allowances.temperature) / 2}
    half = {name: question.half_digit(name) for name in most if question.given(name)}
    if question.given("sea_level_pressure"):
        over_sea = pressure / question.number("sea_level_pressure")
        per_metre = pressure * atmosphere.GRAVITY / (atmosphere.AIR_GAS_CONSTANT * float(here.case.temperature[0]))
        half["pressure"] = question.half_digit("sea_level_pressure") * over_sea
        half["pressure"] += question.half_digit("altitude") * per_metre
    return {name: min(off, float(most[name])) for name, off in half.items()}


@dataclass(frozen=True, eq=False)
class Needs:
    """What gaps need to break down, over every combination of what was not said.

    Parameters
    ----------
    choice : ndarray of int, shape (len(unsaid), m)
        Which value of each a combination takes; all combinations, so m is the product of their numbers.
    value, low, high : ndarray, shape (m, n)
        Peak voltage and its band [V], the digits of what was said included in the band; NaN where nothing bounds it.
    scatter, lag : ndarray, shape (m, 1)
        Share by which single sparkovers scatter to either side; factor upward for first electrons that come late.
        0 and 1 where the voltage rises slowly.
    waveforms : tuple of str
        Waveform of every combination.
    """

    unsaid: tuple[Unsaid, ...]
    choice: np.ndarray
    value: FloatArray
    low: FloatArray
    high: FloatArray
    scatter: FloatArray
    lag: FloatArray
    waveforms: tuple[str, ...] = ()

    @cached_property
    def least(self) -> FloatArray:
        """Least peak voltage [V] at which a first spark jumps, shape (m, n): the low end, less scatter."""
        return np.asarray(self.low * (1 - self.scatter))

    @cached_property
    def most(self) -> FloatArray:
        """Highest peak voltage [V] that is held off, shape (m, n): the high end, and scatter and lag on it."""
        return np.asarray(self.high * (1 + self.scatter) * self.lag)

    @property
    def range(self) -> tuple[FloatArray, FloatArray]:
        """Least and most over all combinations, shape (n,); NaN where some combination has no bound."""
        return np.asarray(self.least.min(axis=0)), np.asarray(self.most.max(axis=0))

    def pressure(self, case: Case) -> FloatArray:
        """Return the pressure of every combination [Pa], shape (m, n) or (m, 1); of the case where it was said."""
        return self._number("pressure", case.pressure)

    def temperature(self, case: Case) -> FloatArray:
        """Return the temperature of every combination [K], shape (m, n) or (m, 1); of the case where it was said."""
        return self._number("temperature", case.temperature)

    def _number(self, name: str, said: FloatArray) -> FloatArray:
        rows = [(one, row) for one, row in zip(self.unsaid, self.choice, strict=True) if one.name == name]
        if not rows:
            return np.broadcast_to(said, (self.choice.shape[1], said.size))
        [(one, row)] = rows
        return np.array([np.atleast_1d(one.values[i]) for i in row], dtype=np.float64)


def combinations(unsaid: Sequence[Unsaid]) -> np.ndarray:
    """Return which value each thing takes in every combination, shape (len(unsaid), m)."""
    sizes = [len(one.values) for one in unsaid]
    return np.indices(sizes).reshape(len(sizes), -1) if sizes else np.zeros((0, 1), dtype=np.intp)


def needs(
    arrangement: Arrangement,
    case: Case,
    unsaid: Sequence[Unsaid] = (),
    *,
    allowances: Allowances,
    off: Mapping[str, float | FloatArray] | None = None,
    irradiated: str = "unknown",
    only: str | None = None,
) -> Needs:
    """Return what gaps need over every combination of what was not said, all of them evaluated together.

    Parameters
    ----------
    case : Case
        Of n elements, each with its gap.
    unsaid : sequence of Unsaid
        Those whose name is no part of a case only multiply the combinations.
    off : mapping, optional
        How far said values may be off, to either side, by name (``gap``, ``pressure``, ``temperature``, a dimension);
        SI, one number or one per element. The band takes in every corner of them.
    irradiated : str
        ``yes``, ``no`` or ``unknown``.
    only : str, optional
        Key of the one method wanted.

    Returns
    -------
    Needs
    """
    corners = _corners({name: half for name, half in (off or {}).items() if np.any(half)})
    choice = combinations(unsaid)
    keys = _keys(case, unsaid, choice)
    shape = (choice.shape[1], case.size)
    value, low, high = (np.full(shape, np.nan) for _ in range(3))
    for key in dict.fromkeys(keys):
        rows = np.flatnonzero([one == key for one in keys])
        numbers = _numbers(case, unsaid, choice[:, rows], key[0])
        found = _evaluated(arrangement, replace(case, waveform=key[0], polarity=key[1]), numbers, corners, only)
        value[rows], low[rows], high[rows] = found
    scatter = np.array([allowances.scatter(key[0]) if key[0] in LATE_WAVEFORMS else 0.0 for key in keys])
    lag = np.array([allowances.lag(irradiated) if key[0] in LATE_WAVEFORMS else 1.0 for key in keys])
    waveforms = tuple(key[0] for key in keys)
    return Needs(tuple(unsaid), choice, value, low, high, scatter[:, None], lag[:, None], waveforms)


WEATHER = ("pressure", "temperature", "humidity")
"""Names of what the weather makes of the air."""


def in_all_weather(case: Case, unsaid: Sequence[Unsaid]) -> Case:
    """Return a case of one element as one of many: as it is, and in every combination of the weather not said.

    Parameters
    ----------
    unsaid : sequence of Unsaid
        What is no weather is left as it is.
    """
    weather = [one for one in unsaid if one.name in WEATHER]
    numbers = _numbers(case, weather, combinations(weather), case.waveform)
    varied: dict[str, Any] = {
        name: np.concatenate([getattr(case, name), numbers[name][:, 0]]) for name in WEATHER if name in numbers
    }
    size = 1 + combinations(weather).shape[1]
    return _held(replace(case.repeated(size), **varied))


def _held(case: Case) -> Case:
    """Return a case with no more water than its air can hold."""
    if not case.in_air:
        return case
    return replace(
        case, humidity=np.minimum(case.humidity, atmosphere.largest_humidity(case.temperature, case.pressure))
    )


def _corners(off: Mapping[str, float | FloatArray]) -> list[dict[str, Any]]:
    """Return the steps by which said values are off: none, and every corner."""
    corners = product((-1, 1), repeat=len(off)) if off else ()
    return [{}, *({name: off[name] * sign for name, sign in zip(off, signs, strict=True)} for signs in corners)]


def _keys(case: Case, unsaid: Sequence[Unsaid], choice: np.ndarray) -> list[tuple[str, str | None]]:
    """Return waveform and polarity of every combination; an alternating voltage has both polarities."""
    columns = {one.name: [one.values[i] for i in row] for one, row in zip(unsaid, choice, strict=True)}
    count = choice.shape[1]
    waveforms = columns.get("waveform", [case.waveform] * count)
    polarities = columns.get("polarity", [case.polarity] * count)
    return [(form, None if form == "ac" else side) for form, side in zip(waveforms, polarities, strict=True)]


def _numbers(case: Case, unsaid: Sequence[Unsaid], choice: np.ndarray, waveform: str) -> dict[str, FloatArray]:
    """Return the numbers of a case that differ from combination to combination, shape (m, n) or (m, 1)."""
    named = [(one, row) for one, row in zip(unsaid, choice, strict=True) if one.name not in KEYS]
    found = {
        one.name: np.stack([np.atleast_1d(np.asarray(one.values[i], dtype=np.float64)) for i in row])
        for one, row in named
        if hasattr(case, one.name)
    }
    if waveform not in PERIODIC:
        found["frequency"] = np.zeros((choice.shape[1], 1))
    return found


def _evaluated(
    arrangement: Arrangement,
    case: Case,
    numbers: Mapping[str, FloatArray],
    corners: Iterable[Mapping[str, object]],
    only: str | None,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return value, low and high, shape (m, n), with the corners of said values taken into the band."""
    steps = list(corners)
    m = next((array.shape[0] for array in numbers.values()), 1)  # all have as many
    n, count = case.size, len(steps)
    many = case.take(np.tile(np.arange(n), count * m))
    varied: dict[str, FloatArray] = {
        name: np.tile(np.broadcast_to(array, (m, n)).ravel(), count) for name, array in numbers.items()
    }
    for name in {name for step in steps for name in step}:
        shifts = [np.tile(np.broadcast_to(np.asarray(step.get(name, 0.0)), (n,)), m) for step in steps]
        base = varied.get(name, many.dimensions[name] if name in many.dimensions else getattr(many, name))
        varied[name] = np.maximum(base + np.concatenate(shifts), 1e-3 * base)
    found = evaluate(arrangement, _laid(arrangement, many, varied), only=only)
    value, low, high = (array.reshape(count, m, n) for array in (found.value, found.low, found.high))
    return value[0], _bound(low, np.fmin), _bound(high, np.fmax)


def _bound(ends: FloatArray, take: np.ufunc) -> FloatArray:
    """Return the farthest end over the corners; none where the very values that were said have none."""
    return np.where(np.isnan(ends[0]), np.nan, take.reduce(ends, axis=0))


def _laid(arrangement: Arrangement, case: Case, varied: Mapping[str, FloatArray]) -> Case:
    sizes = {name: varied.get(name, array) for name, array in case.dimensions.items()}
    own: dict[str, Any] = {name: array for name, array in varied.items() if name not in sizes}
    many = _held(replace(case, dimensions=sizes, **own))
    return case_at(arrangement, many, many.gap)


CANNOT_TELL = "cannot-tell"


@dataclass(frozen=True)
class Agreed:
    """What the words of all combinations agree on.

    Parameters
    ----------
    word : str
        Their one word, or ``cannot-tell``.
    among : tuple of str
        The words that there are, each once.
    depends_on : tuple of Unsaid
        What to say so that fewer words are left; empty where all agree.
    """

    word: str
    among: tuple[str, ...]
    depends_on: tuple[Unsaid, ...] = ()

    @property
    def sentence(self) -> str:
        """What to say, as a sentence; empty where all agree."""
        if not self.depends_on:
            return ""
        return f"It depends on what was not said: say {listed([one.say for one in self.depends_on])}."


def agreed(words: np.ndarray, choice: np.ndarray, unsaid: Sequence[Unsaid]) -> Agreed:
    """Return the one word of all combinations, or ``cannot-tell`` and what it depends on.

    Parameters
    ----------
    words : ndarray of str, shape (m,)
        One per combination.
    choice : ndarray of int, shape (len(unsaid), m)
        As in `Needs`: all combinations.
    """
    among = tuple(dict.fromkeys(words.tolist()))
    if len(among) == 1:
        return Agreed(among[0], among)
    grid = np.empty([len(one.values) for one in unsaid], dtype=object)
    grid[tuple(choice)] = words
    alike = [bool((grid == np.roll(grid, 1, axis=axis)).all()) for axis in range(grid.ndim)]
    return Agreed(CANNOT_TELL, among, tuple(one for one, same in zip(unsaid, alike, strict=True) if not same))


def listed(names: Sequence[str], joint: str = "and") -> str:
    """Return names as a list in words; nothing where there are none.

    Examples
    --------
    >>> listed(["the pressure", "the waveform", "the polarity"])
    'the pressure, the waveform and the polarity'
    """
    first, last = names[:-1], "".join(names[-1:])
    return f"{', '.join(first)} {joint} {last}" if first else last
