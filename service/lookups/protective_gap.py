"""/v1/protective-gap: a spacing that holds one voltage and fires below another in all weather, or the window needed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

import numpy as np

from service import units
from service.answers.document import Echo
from service.answers.evaluate import Evaluation, evaluate
from service.answers.gap_curves import GapCurves, case_at, check_sizes, holding_known, kept_curves
from service.answers.lookup import Answer, Lead, Lookup, voltage
from service.answers.registry import Registry
from service.answers.results import point_cautions
from service.answers.situation import (
    ATMOSPHERE,
    MIXED,
    WAVEFORM,
    Situation,
    electrode_parameters,
    gas_parameter,
    one,
    situation,
)
from service.errors import BadQuestion, OutsideValidity
from service.judgement import Allowances
from service.methods import Arrangement, Case, FloatArray
from service.methods.bands import withstand
from service.methods.case import AIR, VACUUM
from service.parameters import Parameter, Question
from service.physics import atmosphere
from service.reference import Reference
from service.spoken import between, said, speak
from service.units import ROUNDING, Quantity

HOLD = Parameter(
    "hold", "voltage", "Peak voltage that the gap must hold.", required=True, high=1e8, example="12kV", low=1.0
)
FIRE = Parameter(
    "fire_below",
    "voltage",
    "Peak voltage below which the gap must fire.",
    required=True,
    high=1e8,
    example="30kV",
    low=1.0,
)
IRRADIATED = Parameter(
    "irradiated",
    "choice",
    "Whether ultraviolet light or corona supplies the first electrons; without it the first spark comes late.",
    default="no",
    choices=("yes", "no"),
)
SPACING = Parameter(
    "spacing_uncertainty",
    "length",
    "How far the spacing may be off, to either side, by setting and by wear; 0.05 mm where it is not given.",
    example="0.1mm",
    high=1.0,
)
RANGES = (
    Parameter("pressure_from", "pressure", "Lowest pressure in which the gap must do both.", example="97kPa", high=1e8),
    Parameter("pressure_to", "pressure", "Highest pressure in which the gap must do both.", example="104kPa", high=1e8),
    Parameter(
        "temperature_from",
        "temperature",
        "Lowest temperature in which the gap must do both.",
        example="5degC",
        low=150.0,
        high=1300.0,
    ),
    Parameter(
        "temperature_to",
        "temperature",
        "Highest temperature in which the gap must do both.",
        example="32degC",
        low=150.0,
        high=1300.0,
    ),
)
HOT = "After the first spark the gas is hot: the gap fires again at a lower voltage, and a source may keep it burning."
WORN = "Sparks wear the electrodes and dust settles on them: inspect the spacing, and test it again after it has fired."
LATE = "Without irradiation the first spark may come up to a fifth above the band: allowed for."
NO_SCATTER = "How single sparks scatter is not known here: nothing is allowed for it."
NONE = "Move the two voltages apart, name electrodes that are known better, or keep the gap at a steadier temperature."
RESULTS: Mapping[str, str] = {
    "spacing": "Every setting from low to high holds the one voltage and fires below the other, in all the weather and "
    "with everything else that is allowed for.",
    "window_needed": "Where no setting does: the pairs of voltages that leave one, by the setting that holds, and by "
    "the one that fires early enough.",
    "explanation": "The same in a sentence.",
    "allowed_for": "Scatter and time lag as factors on the voltage, weather as ranges, and the spacing to either side.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "protective-gap",
        "Protective gap",
        "The spacing that holds one voltage and fires below another, time lag, weather and wear included.",
        (
            HOLD,
            FIRE,
            IRRADIATED,
            SPACING,
            *RANGES,
            *electrode_parameters(registry),
            gas_parameter(registry),
            *MIXED,
            *ATMOSPHERE,
            *WAVEFORM,
        ),
        lambda question: answer(question, registry),
        example="hold=12kV&fire_below=30kV&electrodes=sphere-gap&sphere_diameter=2cm&waveform=dc",
        results=RESULTS,
    )


@dataclass(frozen=True)
class Weather:
    """The air, or gas, in which a gap must hold and fire: a range of each, SI.

    Parameters
    ----------
    pressure, temperature, humidity : tuple of float
        Lowest and highest; humidity NaN in other gases than air.
    given : frozenset of str
        Names of the parameters that gave them; the others are ordinary weather.
    """

    pressure: tuple[float, float]
    temperature: tuple[float, float]
    humidity: tuple[float, float]
    given: frozenset[str]

    @classmethod
    def of(cls, question: Question, here: Situation, allowances: Allowances) -> Weather:
        """Return the weather of a question: what was given, else ordinary weather about the given or assumed pressure.

        Raises
        ------
        BadQuestion
            When a range is empty, or leaves out what was given beside it.
        """
        gas, pressure = here.case.gas, float(here.case.pressure[0])
        assumed = not (question.given("pressure") or question.given("altitude"))
        around = allowances.pressure if assumed else allowances.weather(pressure)
        around = (pressure, pressure) if gas == VACUUM else around
        temperature, water = float(here.case.temperature[0]), float(here.case.humidity[0])
        warm = allowances.temperature
        if question.given("temperature"):
            warm = min(warm[0], temperature), max(warm[1], temperature)
        told = any(question.given(name) for name in ("relative_humidity", "absolute_humidity", "dew_point"))
        moist = (water, water) if told or gas != AIR else allowances.humidity
        names = [f"{name}_{end}" for name in ("pressure", "temperature") for end in ("from", "to")]
        given = frozenset(name for name in names if question.given(name))
        return cls(_range(question, "pressure", around), _range(question, "temperature", warm), moist, given)

    def cases(self, case: Case) -> list[Case]:
        """Return the corners: thinnest and densest, driest and wettest."""
        thin, dense = (self.pressure[0], self.temperature[1]), (self.pressure[1], self.temperature[0])
        corners = [(*air, water) for air in (thin, dense) for water in dict.fromkeys(self.humidity)]
        return [_in_air(case, *corner) for corner in dict.fromkeys(corners)]

    def block(self) -> dict[str, Quantity]:
        """Return the ranges as the answer shows them."""
        pairs = {"pressure": (self.pressure, "pressure"), "temperature": (self.temperature, "temperature")}
        if np.isfinite(self.humidity).all():
            pairs["absolute_humidity"] = (self.humidity, "humidity")
        return {name: Quantity(None, kind, low=ends[0], high=ends[1]) for name, (ends, kind) in pairs.items()}

    @property
    def words(self) -> str:
        """The ranges in words."""
        return f"at {between(*self.pressure, 'pressure')} and {between(*self.temperature, 'temperature')}"


def _range(question: Question, name: str, usual: tuple[float, float]) -> tuple[float, float]:
    names = [f"{name}_{end}" for end in ("from", "to")]
    low, high = (question.number(one) if question.given(one) else end for one, end in zip(names, usual, strict=True))
    told = float(question.number(name)) if question.given(name) else None
    if low > high or (told is not None and not low <= told <= high):
        detail = f"{names[0]} to {names[1]} is no range, or leaves out the {name} that was given."
        raise BadQuestion.about(names, detail)
    return low, high


def _in_air(case: Case, pressure: float, temperature: float, water: float) -> Case:
    if case.in_air:
        water = min(water, float(atmosphere.largest_humidity(temperature, pressure)))
    return replace(case, pressure=one(pressure), temperature=one(temperature), humidity=one(water))


def _together(cases: Sequence[Case]) -> Case:
    """Return cases of one element that differ in their air alone as one case."""
    airs = {name: np.concatenate([getattr(case, name) for case in cases]) for name in AIRS}
    return cases[0].take(np.zeros(len(cases), dtype=np.intp)).but(airs)


AIRS = ("pressure", "temperature", "humidity")
"""What differs between the corners of the weather."""


@dataclass(frozen=True, eq=False)
class Window:
    """Which settings hold and which fire, in all weather.

    Parameters
    ----------
    asked : GapCurves
        Of what was asked; its places are searched.
    cases : list of Case
        Of one element: every corner of the weather, in each polarity where that was not said.
    lag : float
        Factor upward for first electrons that come late.
    off : float
        How far a spacing may be off its setting [m].
    reference : Reference
        For the scatter.
    """

    asked: GapCurves
    cases: list[Case]
    lag: float
    off: float
    reference: Reference

    def held_and_fired(self, gaps: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what gaps [m] hold, and below what they fire, in every case [V]; NaN where some case has no answer."""
        arrangement = self.asked.arrangement
        held, fired = [], []
        for side in self._sides:
            each = np.repeat(np.arange(side.size), gaps.size)
            found = evaluate(arrangement, case_at(arrangement, side.take(each), np.tile(gaps, side.size)))
            share = self.scatter(found)
            held.append((found.low * (1 - share)).reshape(side.size, -1))
            fired.append((found.high * (1 + share) * self.lag).reshape(side.size, -1))
        return np.min(np.concatenate(held), axis=0), np.max(np.concatenate(fired), axis=0)

    @cached_property
    def _sides(self) -> list[Case]:
        """Every corner of the weather in one case, for each polarity."""
        sides = dict.fromkeys(case.polarity for case in self.cases)
        return [_together([case for case in self.cases if case.polarity == side]) for side in sides]

    def scatter(self, found: Evaluation) -> FloatArray:
        """Return how far single sparks scatter to either side; 0 in a gas of which that is not known at any gap.

        NaN in a vacuum, of which nothing is said to hold.
        """
        if not holding_known(self.asked) and not found.case.in_vacuum:
            return np.zeros(found.case.size)
        return np.asarray(1 - withstand(found.case, found.low, self.reference) / found.low)

    @cached_property
    def _places(self) -> FloatArray:
        """Places from the smallest breakdown voltage on at which some method answers."""
        places, [answered] = self.asked.grid, self.asked.on_grid.answered
        return np.asarray(places[answered & (places >= places[self.asked.lowest])])

    def _near(self, hold: float, below: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the places that may hold the one voltage and fire below the other [V], what they hold and fire below.

        The voltages of one day and of another differ by no more than the densities and a fifth.
        """
        grid, case = self.asked.on_grid, self.asked.case
        density = np.array([float(one.relative_density[0]) for one in (*self.cases, case)])
        apart = GENEROUSLY * float(density.max() / density.min())
        held = np.where(np.isnan(grid.withstand[0]), grid.low[0], grid.withstand[0])
        with np.errstate(invalid="ignore"):
            without = (grid.high[0] * apart < hold) | (held / apart > below)
        places = self._places[~np.isin(self._places, grid.places[0][without])]
        if places.size == self._places.size:
            return (places, *self._everywhere)
        return (places, *self.held_and_fired(places))

    @cached_property
    def _everywhere(self) -> tuple[FloatArray, FloatArray]:
        """What the places hold, and below what they fire [V]."""
        return self.held_and_fired(self._places)

    def settings(self, hold: float, below: float) -> tuple[float | None, float | None]:
        """Return the setting [m] from which on gaps hold a peak voltage, and up to which they fire below another [V].

        Each is ``None`` where no gap does.
        """
        places, held, fired = self._near(hold, below)
        holding, firing = self._narrowed(
            [_rise_to_holding(places, held, hold), _rise_beyond_firing(places, fired, below)], (hold, below)
        )
        low = None if holding is None else holding[1] + self.off
        high = None if firing is None or firing[0] <= self.off else firing[0] - self.off
        return low, high

    def _narrowed(self, rises: Sequence[Rise | None], volts: Sequence[float]) -> list[Rise | None]:
        """Return a place before and one after each curve rises through its voltage, a ten-millionth apart.

        Both are searched at once: an evaluation of twice the places takes little longer.
        """
        found = list(rises)
        for _ in range(ROUNDS):
            left = {which: ends for which, ends in enumerate(found) if ends is not None and ends[0] < ends[1]}
            if not left:
                break
            places = np.array([np.geomspace(*ends, PARTS) for ends in left.values()])
            curves = [curve.reshape(places.shape) for curve in self.held_and_fired(places.ravel())]
            for row, which in enumerate(left):
                with np.errstate(invalid="ignore"):
                    above = curves[which][row] >= volts[which]
                above[0], above[-1] = False, True
                step = int(np.argmax(above))
                found[which] = float(places[row, step - 1]), float(places[row, step])
        return found

    def at(self, setting: float) -> tuple[float, float]:
        """Return the peak voltage [V] that a setting [m] holds, and that below which it fires."""
        held, fired = self.held_and_fired(np.array([max(setting - self.off, 1e-9), setting + self.off]))
        return float(held[0]), float(fired[1])

    def is_covered(self, setting: float) -> bool:
        """Return whether some method answers at a setting [m]."""
        return bool(self.asked.at(np.array([setting])).answered[0])

    def highest(self, off: float) -> float:
        """Return the peak voltage [V] that every setting from some one on holds, off by so much [m]; else NaN."""
        places = self._places[np.isfinite(self._everywhere[0])]
        if not places.size or places[-1] <= off:
            return float("nan")
        return float(np.nanmin(self.held_and_fired(np.array([places[-1] - off, places[-1]]))[0]))


Rise = tuple[float, float]
"""Two places [m], before and after a curve rises through a voltage; twice the one where it does so at none."""


def _rise_to_holding(places: FloatArray, held: FloatArray, hold: float) -> Rise | None:
    """Return where gaps begin to hold a voltage [V] for good; ``None`` where none does."""
    with np.errstate(invalid="ignore"):
        short = np.flatnonzero(held < hold)
        enough = np.flatnonzero(held >= hold)
    if not enough.size or (short.size and short[-1] > enough[-1]):
        return None
    after = float(places[enough[enough > short[-1]][0] if short.size else enough[0]])
    return (float(places[short[-1]]) if short.size else after), after


def _rise_beyond_firing(places: FloatArray, fired: FloatArray, below: float) -> Rise | None:
    """Return where gaps cease for the first time to fire below a voltage [V]; ``None`` where none does."""
    with np.errstate(invalid="ignore"):
        early = np.flatnonzero(fired <= below)
        late = np.flatnonzero(fired > below)
    if not early.size or (late.size and late[0] < early[0]):
        return None
    before = float(places[early[early < late[0]][-1] if late.size else early[-1]])
    return before, (float(places[late[0]]) if late.size else before)


GENEROUSLY = 1.2
"""What humidity and a curve that is not quite in proportion to the density add, generously."""
PARTS, ROUNDS = 24, 5
"""Places of a search in one step of the grid, and how often it is narrowed."""


def answer(question: Question, registry: Registry) -> Answer:
    """Return the spacing of a protective gap.

    Raises
    ------
    BadQuestion
        When the gap must fire below what it must hold, dimensions fix the gap, or a range is empty.
    OutsideValidity
        When no method reaches the voltages.
    """
    hold, below = question.number("hold"), question.number("fire_below")
    if not hold < below:
        detail = "hold must be below fire_below: no gap fires below what it holds."
        raise BadQuestion.about(("hold", "fire_below"), detail)
    here = situation(question, registry)
    check_sizes(question, here)
    allowances = Allowances.of(registry.reference)
    weather = Weather.of(question, here, allowances)
    off = question.optional("spacing_uncertainty") or allowances.spacing
    cases = [sided for case in weather.cases(here.case) for sided in _polarities(here.arrangement, case)]
    curves = kept_curves(here, None, registry)
    window = Window(curves, cases, allowances.lag(question.key("irradiated")), off, registry.reference)
    found = _set(window, hold, below, weather)
    return _answer(question, here, window, weather, found, curves.at(np.array([found.at]), every=True), registry)


def _polarities(arrangement: Arrangement, case: Case) -> list[Case]:
    """Return the case in both polarities where either may come, and some method tells them apart."""
    told = any(method.validity.polarities for method in arrangement.applying(case)) or "impulse" in case.waveform
    if case.waveform == "ac" or case.polarity is not None or not told:
        return [case]
    return [replace(case, polarity=side) for side in ("positive", "negative")]


@dataclass(frozen=True)
class Set:
    """How a gap is set: between two spacings [m], or what one would have to hold or fire below instead; and why."""

    explanation: str
    at: float
    spacing: tuple[float, float] | None = None
    needed: Mapping[str, object] | None = None

    def fields(self) -> dict[str, object]:
        """Return the result fields of the answer."""
        if self.spacing is None:
            return {"window_needed": self.needed, "explanation": self.explanation}
        low, high = self.spacing
        return {"spacing": Quantity(None, "length", low=low, high=high), "explanation": self.explanation}


def _set(window: Window, hold: float, below: float, weather: Weather) -> Set:
    low, high = window.settings(hold, below)
    if low is None or not window.is_covered(low):
        raise beyond(window, "hold")
    volts = said(hold, "voltage"), said(below, "voltage")
    ends = (math.inf, 0.0) if high is None else _cut_inward(low, high)
    if high is not None and ends[0] <= ends[1]:
        words = between(*ends, "length")
        why = f"Set to {words}, the gap holds {volts[0]} and fires below {volts[1]}, {weather.words}."
        between_both = math.sqrt(low * high)
        return Set(why, between_both if window.is_covered(between_both) else low, ends)
    fired = window.at(low)[1]
    needed: dict[str, object] = {"holding": _needed(low, hold, fired)} if math.isfinite(fired) else {}
    pairs = [f"holds {volts[0]} fires below {_volts(fired, 'up')} only"] if math.isfinite(fired) else []
    held = window.at(high)[0] if high is not None else math.nan
    if high is not None and math.isfinite(held):
        needed["firing"] = _needed(high, held, below)
        pairs.append(f"fires below {volts[1]} holds no more than {_volts(held, 'down')}")
    found = f": one that {', and one that '.join(pairs)}" if pairs else ""
    why = f"No setting does both, {weather.words}{found}."
    return Set(why, low, needed=needed)


def _cut_inward(low: float, high: float) -> tuple[float, float]:
    """Return a window [m] rounded inward to three digits, as it can be set; to four where three leave too little."""
    for digits in (3, 4):
        ends = _cut(low, math.ceil, digits), _cut(high, math.floor, digits)
        if ends[1] - ends[0] >= KEPT * (high - low):
            break
    return ends


KEPT = 0.9
"""Share of a window that rounding must leave."""


def _cut(length: float, towards: Callable[[Decimal], int], digits: int) -> float:
    return units.cut_si(length, "length", towards, digits)


def _volts(volts: float, toward: str) -> str:
    return str(speak(volts, "voltage", digits=4, toward=toward, unit="kV", zeros=False))


def _needed(setting: float, hold: float, fire_below: float) -> dict[str, Quantity]:
    ends = {"hold": (hold, math.floor), "fire_below": (fire_below, math.ceil)}
    cut = {name: voltage(units.cut_si(volts, "voltage", towards)) for name, (volts, towards) in ends.items()}
    return {"spacing": Quantity(setting, "length"), **cut}


def beyond(window: Window, name: str) -> OutsideValidity:
    """Return the error that no gap of this arrangement is known to hold a voltage.

    Parameters
    ----------
    name : str
        Parameter at fault.
    """
    key, highest = window.asked.arrangement.key, window.highest(window.off)
    if np.isnan(highest) and np.isfinite(window.highest(0.0)):
        detail = f"No setting of electrodes={key} that is off by {said(window.off, 'length')} is covered by a method."
        return OutsideValidity.about("spacing_uncertainty", detail)
    if np.isnan(highest):
        detail = f"What electrodes={key} hold in this gas is not known."
        detail += " Name the electrodes." * window.asked.arrangement.shapeless
        return OutsideValidity.about("electrodes", detail)
    # told a little inside, so that it is held when it is asked
    limit = Quantity(units.cut_si(highest * (1 - ROUNDING), "voltage", math.floor), "voltage")
    detail = f"No gap of electrodes={key} is known to hold this; the highest is {_volts(highest, 'down')}."
    # no lower voltage is proposed: a gap that holds less is a weaker one
    return OutsideValidity.about(name, detail, valid={"high": limit})


def _answer(
    question: Question,
    here: Situation,
    window: Window,
    weather: Weather,
    found: Set,
    evaluation: Evaluation,
    registry: Registry,
) -> Answer:
    keys = ("discharge-first", "estimate", "ozone", "fire", *point_cautions(evaluation))
    notes = [HOT, WORN]
    scatter = float(window.scatter(evaluation)[0])
    notes = [LATE] * (question.key("irradiated") == "no") + [NO_SCATTER] * (scatter == 0) + notes
    notes = [NONE] * (found.spacing is None) + notes
    return Answer.at(
        "protective-gap",
        here,
        _asked(question, here, window, weather),
        found.fields() | {"allowed_for": _allowed(window, weather, scatter)},
        [evaluation],
        registry,
        notes=notes,
        cautions=keys,
        title=f"Protective gap, {here.arrangement.title.lower()}",
        lead=_lead(found),
    )


def _lead(found: Set) -> Lead:
    """Return the settings as what is read first, or that there is none."""
    words = "none" if found.spacing is None else between(*found.spacing, "length")
    return Lead(found.explanation, "Set to", words, "discharge-first")


def _allowed(window: Window, weather: Weather, scatter: float) -> dict[str, object]:
    factors = {"scatter_below": 1 - scatter, "scatter_above": 1 + scatter, "time_lag": window.lag}
    shown: dict[str, object] = {name: round(factor, 6) for name, factor in factors.items()}
    return shown | {"spacing_uncertainty": Quantity(window.off, "length")} | weather.block()


def _asked(question: Question, here: Situation, window: Window, weather: Weather) -> Echo:
    taken: dict[str, object] = {"spacing_uncertainty": Quantity(window.off, "length")}
    ends = {"pressure": weather.pressure, "temperature": weather.temperature}
    for name, pair in ends.items():
        taken |= {f"{name}_{end}": Quantity(one, name) for end, one in zip(("from", "to"), pair, strict=True)}
    around = Echo(taken, tuple(name for name in taken if not question.given(name)))
    return Echo.of(question, ("hold", "fire_below", "irradiated")) | around | here.asked
