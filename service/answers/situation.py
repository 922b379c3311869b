"""From a question to a case: atmosphere, electrodes and what was said of the voltage, as understood and echoed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from service import spoken
from service.answers.document import Echo
from service.answers.registry import Registry
from service.errors import BadQuestion, OutsideValidity
from service.methods import Arrangement, Case, FloatArray
from service.methods.case import AIR
from service.parameters import Parameter, Question
from service.physics import atmosphere
from service.spoken import between, said, speak
from service.units import ROUNDING, Quantity

WAVEFORMS = ("ac", "dc", "lightning-impulse", "switching-impulse", "pulse-train")
PERIODIC = ("ac", "pulse-train")
SINE = math.sqrt(2)
"""Peak of a sine over its root mean square."""
POWER_FREQUENCY = 50.0
"""Frequency of an alternating voltage of which none is given [Hz]."""

WAVEFORM = (
    Parameter("waveform", "choice", "Form of the voltage.", default="ac", choices=WAVEFORMS),
    Parameter(
        "polarity",
        "choice",
        "Polarity of the smaller or un-earthed electrode, for one-sided voltages; weaker takes the lower voltage.",
        choices=("weaker", "positive", "negative"),
    ),
    Parameter(
        "frequency",
        "frequency",
        "Frequency of an alternating voltage (50 Hz where none is given), or of the oscillation of a pulse.",
        example="40kHz",
    ),
    Parameter(
        "repetition_frequency",
        "frequency",
        "Pulses per second of a pulse train; it counts as a frequency.",
        example="1kHz",
    ),
)
REPETITION_NOTE = "The repetition frequency counts as a frequency: what one pulse leaves behind meets the next."


@dataclass(frozen=True)
class Waveform:
    """Waveform, polarity and frequency as understood."""

    waveform: str
    polarity: str | None
    frequency: float
    asked: Echo
    notes: tuple[str, ...]


def read_waveform(question: Question) -> Waveform:
    """Return waveform, polarity and frequency of a question.

    Raises
    ------
    BadQuestion
        When polarity or frequency does not apply to the waveform.
    """
    waveform = question.key("waveform")
    asked: dict[str, object] = {"waveform": waveform}
    assumed = ["waveform"] if "waveform" in question.assumed else []
    polarity = _polarity(question, waveform, asked, assumed)
    frequency = _frequency(question, waveform, asked, assumed)
    notes: tuple[str, ...] = ()
    if waveform == "pulse-train":
        notes = (REPETITION_NOTE,) if "repetition_frequency" in asked else ()
        if not frequency:
            notes = ("No frequency of the pulses or of their oscillation was given: no frequency correction is made.",)
    return Waveform(waveform, polarity, frequency, Echo(asked, tuple(assumed)), notes)


def _polarity(question: Question, waveform: str, asked: dict[str, object], assumed: list[str]) -> str | None:
    if waveform == "ac":
        if "polarity" in question:
            raise BadQuestion.about("polarity", "polarity does not apply to an alternating voltage, which has both.")
        return None
    polarity = str(question.values.get("polarity", "weaker"))
    asked["polarity"] = polarity
    if "polarity" not in question:
        assumed.append("polarity")
    return None if polarity == "weaker" else polarity


def _frequency(question: Question, waveform: str, asked: dict[str, object], assumed: list[str]) -> float:
    frequency = question.optional("frequency")
    repetition = question.optional("repetition_frequency")
    if repetition is not None:
        if waveform != "pulse-train":
            raise BadQuestion.about("repetition_frequency", "repetition_frequency belongs to waveform=pulse-train.")
        asked["repetition_frequency"] = Quantity(repetition, "frequency")
    if waveform not in PERIODIC:
        if frequency is not None:
            raise BadQuestion.about("frequency", f"frequency does not apply to waveform={waveform}.", PERIODIC)
        return 0.0
    if frequency is None and waveform == "ac":
        frequency = POWER_FREQUENCY
        assumed.append("frequency")
    if frequency is not None:
        asked["frequency"] = Quantity(frequency, "frequency")
    return max(frequency or 0.0, repetition or 0.0)


MEASURE = Parameter(
    "measure",
    "choice",
    "How the given voltage was read; peak-to-peak means half of it to all of it, since a one-sided pulse peaks at all.",
    default="peak",
    choices=("peak", "rms", "peak-to-peak", "peak-to-peak-symmetrical", "unknown"),
)


@dataclass(frozen=True)
class Reading:
    """One reading of a given voltage as peak voltage [V].

    Parameters
    ----------
    measure : str
        How it was read.
    low, high : float
        Peak voltage; they differ for ``peak-to-peak``.
    """

    measure: str
    low: float
    high: float

    @property
    def sharp(self) -> bool:
        """Whether it is one voltage."""
        return self.low == self.high


def readings(given: float, measure: str, waveform: str) -> tuple[Reading, ...]:
    """Return the readings of a given voltage; one, but for ``unknown``.

    Parameters
    ----------
    given : float
        Voltage as given [V].
    measure : str
        Key of `MEASURE`.
    waveform : str
        Of the voltage; rms belongs to ac and dc only.

    Raises
    ------
    BadQuestion
        For the rms value of an impulse or pulse train.
    """
    possible = {
        "peak": (given, given),
        "rms": {"ac": (SINE * given,) * 2, "dc": (given, given)}.get(waveform),
        "peak-to-peak": (given / 2, given),
        "peak-to-peak-symmetrical": (given / 2, given / 2),
    }
    if measure == "unknown":
        return tuple(Reading(name, *pair) for name, pair in possible.items() if pair)
    pair = possible[measure]
    if pair is None:
        raise BadQuestion.about("measure", f"The rms value of waveform={waveform} says nothing of its peak.", ("peak",))
    return (Reading(measure, *pair),)


def measure_of(question: Question, waveform: str) -> str:
    """Return how a voltage was read; where nobody said it, any way at which it alternates, else as its peak."""
    if "measure" not in question.assumed:
        return question.key("measure")
    return "unknown" if waveform == "ac" else "peak"


def peaks_of(question: Question, waveform: str, name: str = "voltage") -> Reading:
    """Return the lowest and the highest peak that a voltage may have at a waveform, by `measure_of`."""
    measure = measure_of(question, waveform)
    given = readings(question.number(name), measure, waveform)
    return Reading(measure, min(one.low for one in given), max(one.high for one in given))


def measure_taken(question: Question, waveform: str) -> Echo:
    """Return the echo of how a voltage was read where nobody said it."""
    return Echo.taken({"measure": measure_of(question, waveform)}) if "measure" in question.assumed else Echo()


def as_read(question: Question) -> str:
    """Return the voltage of a question in words, with how it was read."""
    measure = question.key("measure")
    read = ", however it was read" if measure == "unknown" else f" {measure}"
    return f"{spoken.said(question.number('voltage'), 'voltage')}{read}"


def taken_as_peak(question: Question, waveform: str) -> str:
    """Return what a voltage would be were it an rms value, to follow a sentence; nothing where that was said."""
    if "measure" not in question.assumed or waveform != "ac":
        return ""
    given = question.number("voltage")
    peak = speak(SINE * given, "voltage")
    return f" Taken as a peak value: {spoken.said(given, 'voltage')} rms would be {peak} peak."


REFERENCE_HUMIDITY = 8.5e-3
"""Absolute humidity that the sphere-gap tables refer to, and the default [kg/m3]."""

VACUUM_PRESSURE = 1e-3
"""Default pressure of ``gas=vacuum`` [Pa]."""

ATMOSPHERE = (
    Parameter("pressure", "pressure", "Absolute pressure.", default="101.3kPa", example="101.3kPa", high=1e8),
    Parameter(
        "altitude",
        "altitude",
        "Altitude above sea level; sets the pressure only.",
        example="1500m",
        excludes=("pressure",),
    ),
    Parameter(
        "sea_level_pressure",
        "pressure",
        "Pressure as weather reports tell it, reduced to sea level; with the altitude it makes the pressure there.",
        example="1013hPa",
        low=8e4,
        high=1.1e5,
        excludes=("pressure",),
        needs=("altitude",),
    ),
    Parameter(
        "temperature", "temperature", "Gas temperature.", default="20degC", example="20degC", low=150.0, high=1300.0
    ),
    Parameter("relative_humidity", "fraction", "Relative humidity of air.", high=1.0, example="50percent"),
    Parameter(
        "absolute_humidity",
        "humidity",
        "Absolute humidity of air.",
        low=0.0,
        default="8.5g/m3",
        example="11g/m3",
        excludes=("relative_humidity",),
    ),
    Parameter(
        "dew_point",
        "temperature",
        "Dew point of air.",
        example="12degC",
        excludes=("relative_humidity", "absolute_humidity"),
    ),
)
FRACTION = Parameter(
    "fraction", "fraction", "Mole fraction of the first gas of a mixture.", high=1.0, example="20percent"
)
CONDITIONED = Parameter(
    "conditioned",
    "choice",
    "Whether the electrodes were conditioned by sparks in this very vacuum; gas=vacuum only.",
    default="unknown",
    choices=("unknown", "yes", "no"),
)
MIXED = (FRACTION, CONDITIONED)
"""What belongs to some gases only."""


def gas_parameter(registry: Registry) -> Parameter:
    """Return the gas parameter with every gas of the reference data."""
    table = registry.reference.table("gases")
    keys = table.text("key")
    formulas = {formula.casefold(): key for key, formula in zip(keys, table.text("formula"), strict=True) if formula}
    meaning = "The gas between the electrodes, by its key or its chemical formula."
    return Parameter("gas", "choice", meaning, default=AIR, choices=keys, aliases=formulas)


def electrode_parameters(registry: Registry, default: str | None = "unknown") -> tuple[Parameter, ...]:
    """Return the electrodes parameter and the sizes and options of every arrangement, each once.

    Parameters
    ----------
    default : str, optional
        Arrangement where none is given; ``None`` to require one.
    """
    keys = tuple(key for key, one in registry.arrangements.items() if default is not None or not one.shapeless)
    meaning = "Electrode arrangement, as /v1/electrodes describes them."
    first = Parameter(
        "electrodes",
        "choice",
        meaning,
        default=default,
        choices=keys,
        required=default is None,
        example="uniform-field",
    )
    sizes = {item.name: item for arrangement in registry.arrangements.values() for item in arrangement.parameters}
    return (first, *(replace(item, required=False, default=None) for item in sizes.values()))


@dataclass(frozen=True)
class Situation:
    """What surrounds a gap, as understood.

    Parameters
    ----------
    case : Case
        Of one element; its gap is NaN until one is known.
    notes : tuple of str
        Sentences that belong to the answer.
    """

    arrangement: Arrangement
    case: Case
    asked: Echo
    notes: tuple[str, ...] = ()


def situation(question: Question, registry: Registry, electrodes: str | None = None) -> Situation:
    """Return the situation that a question describes.

    Parameters
    ----------
    electrodes : str, optional
        Arrangement to take in place of the question's.

    Raises
    ------
    BadQuestion
        When parameters contradict each other, do not apply, or are missing.
    """
    values = question.values
    key = (electrodes, *((name, values[name], name in question.assumed) for name in values if name in registry.around))
    return registry.kept("situations", key, lambda: _situation(question, registry, electrodes))


def _situation(question: Question, registry: Registry, electrodes: str | None) -> Situation:
    arrangement = registry.arrangement(electrodes or _single(question))
    named = Echo()
    if electrodes is None:
        named = Echo({"electrodes": arrangement.key}, ("electrodes",) if "electrodes" in question.assumed else ())
        refuse_foreign(question, [arrangement], registry)
    sizes, options = _sizes(question, arrangement)
    air = read_atmosphere(question, registry)
    wave = read_waveform(question)
    declared = {one.name: one for one in arrangement.parameters}
    shown = {name: declared[name].show(value) for name, value in sizes.items()} | options
    case = replace(
        air.case,
        dimensions={name: one(value) for name, value in sizes.items()},
        options={**air.case.options, **options},
        waveform=wave.waveform,
        polarity=wave.polarity,
        frequency=one(wave.frequency),
    )
    own = Echo(shown, tuple(name for name in options if not question.given(name)))
    return Situation(arrangement, case, named | own | air.asked | wave.asked, air.notes + wave.notes)


def _single(question: Question) -> str:
    keys = question.listed("electrodes")
    if len(keys) != 1:
        detail = "Several electrodes are compared over a range of gaps: give gap_from and gap_to, or name one."
        raise BadQuestion.about("electrodes", detail)
    return str(keys[0])


def one(value: float) -> FloatArray:
    """Return an array of one element."""
    return np.array([value], dtype=np.float64)


@dataclass(frozen=True)
class Atmosphere:
    """Gas, pressure, temperature and humidity as understood."""

    case: Case
    asked: Echo
    notes: tuple[str, ...]


def read_atmosphere(question: Question, registry: Registry) -> Atmosphere:
    """Return the atmosphere of a question; lookups without a gas parameter are in air.

    Raises
    ------
    BadQuestion
        When pressure and altitude, or several humidities, are given, or a humidity in another gas than air.
    """
    values = question.values
    key = tuple((name, values[name], name in question.assumed) for name in ATMOSPHERIC if name in values)
    return registry.kept("atmospheres", key, lambda: _atmosphere(question, registry))


ATMOSPHERIC = ("gas", "fraction", "conditioned", *(parameter.name for parameter in ATMOSPHERE))
"""Names of the parameters that make an atmosphere."""


def _atmosphere(question: Question, registry: Registry) -> Atmosphere:
    gas = question.key("gas") if "gas" in question else AIR
    kind = registry.gas_column("kind")[gas]
    asked: dict[str, object] = {"gas": gas} if "gas" in question else {}
    fraction = _fraction(question, kind)
    if fraction is not None:
        asked["fraction"] = Quantity(fraction, "fraction")
    conditioned = _conditioned(question, kind)
    asked |= conditioned
    pressure, beside = _pressure(question, kind, asked)
    temperature = question.number("temperature")
    asked["temperature"] = Quantity(temperature, "temperature")
    water, notes = _humidity(question, kind, temperature, pressure, asked)
    case = Case(
        gap=one(np.nan),
        pressure=one(pressure),
        temperature=one(temperature),
        humidity=one(water),
        frequency=one(0.0),
        gas=gas,
        fraction=None if fraction is None else one(fraction),
        options=conditioned,
    )
    assumed = [
        name
        for name in ("gas", "pressure", "temperature", "absolute_humidity", *conditioned)
        if name in question.assumed and name in asked
    ]
    if question.given("altitude"):
        assumed.remove("pressure")
    if question.given("relative_humidity") or question.given("dew_point"):
        assumed.remove("absolute_humidity")
    # a given altitude or relative humidity took the place of a default
    return Atmosphere(case, Echo(asked, tuple(assumed)), beside + notes)


def _fraction(question: Question, kind: str) -> float | None:
    if kind == "mixture":
        return question.number("fraction")
    if "fraction" in question:
        raise BadQuestion.about("fraction", "fraction belongs to a mixture of two gases.")
    return None


def _conditioned(question: Question, kind: str) -> dict[str, str]:
    if kind == "vacuum":
        return {"conditioned": str(question.values.get("conditioned", "unknown"))}
    if question.given("conditioned"):
        raise BadQuestion.about("conditioned", "conditioned belongs to gas=vacuum.")
    return {}


ORDINARY = (97e3, 104e3)
"""Pressures that the weather makes at sea level [Pa]; common practice, no source."""


def _pressure(question: Question, kind: str, asked: dict[str, object]) -> tuple[float, tuple[str, ...]]:
    pressure = question.number("pressure")
    notes: tuple[str, ...] = ()
    if question.given("sea_level_pressure"):
        pressure, notes = _reduced(question, asked)
    elif question.given("altitude"):
        if question.given("pressure"):
            raise _beside_altitude(question)
        altitude = question.number("altitude")
        pressure = float(atmosphere.standard_pressure(altitude))
        asked["altitude"] = Quantity(altitude, "altitude")
    elif kind == "vacuum" and not question.given("pressure"):
        pressure = VACUUM_PRESSURE
    asked["pressure"] = Quantity(pressure, "pressure")
    return pressure, notes


def _reduced(question: Question, asked: dict[str, object]) -> tuple[float, tuple[str, ...]]:
    """Return the pressure at an altitude from one that was reduced to sea level, and what is to be said of it."""
    if question.given("pressure"):
        raise BadQuestion.contradiction("pressure", "sea_level_pressure")
    if not question.given("altitude"):
        raise BadQuestion.about("altitude", "altitude is needed with sea_level_pressure.")
    given, altitude = question.number("sea_level_pressure"), question.number("altitude")
    temperature = question.number("temperature") if question.given("temperature") else None
    pressure = float(atmosphere.station_pressure(given, altitude, temperature))
    asked["sea_level_pressure"] = Quantity(given, "pressure")
    asked["altitude"] = Quantity(altitude, "altitude")
    profile = "the given temperature" if temperature is not None else "the standard atmosphere"
    follows = (
        f"The pressure at {_place(altitude)}, {_kilopascals(pressure)}, follows from that at sea level by {profile}."
    )
    if ORDINARY[0] <= given <= ORDINARY[1]:
        return pressure, (follows,)
    weather = between(*ORDINARY, "pressure")
    doubt = (
        f"A sea_level_pressure of {_kilopascals(given)} does not fit: the weather makes {weather}. If it was read on a "
        "barometer at the place, give it as pressure, without altitude."
    )
    return pressure, (follows, doubt)


def _kilopascals(pressure: float) -> str:
    return said(pressure, "pressure", unit="kPa")


def _place(altitude: float) -> str:
    return said(altitude, "altitude", unit="m", digits=6)


def _beside_altitude(question: Question) -> BadQuestion:
    """Return the refusal of a pressure with an altitude, with what it likely is where the two do not fit."""
    pressure, altitude = question.number("pressure"), question.number("altitude")
    standard = float(atmosphere.standard_pressure(altitude))
    detail = "pressure and altitude contradict each other; give one of them."
    low, high = (standard * end / atmosphere.SEA_LEVEL_PRESSURE for end in ORDINARY)
    if not low <= pressure <= high:
        makes = f"where the weather makes {between(low, high, 'pressure', unit='kPa')}"
        detail = (
            f"{detail} {_kilopascals(pressure)} does not fit {_place(altitude)}, {makes}: if it comes from a weather "
            "report, give it as sea_level_pressure, with the altitude."
        )
    return BadQuestion.about(("pressure", "altitude"), detail)


def _humidity(
    question: Question, kind: str, temperature: float, pressure: float, asked: dict[str, object]
) -> tuple[float, tuple[str, ...]]:
    names = ("relative_humidity", "absolute_humidity", "dew_point")
    given = [name for name in names if question.given(name)]
    if kind != "air":
        if given:
            raise BadQuestion.about(given[0], f"{given[0]} belongs to air; in another gas it is not accepted.")
        return np.nan, ()
    if len(given) > 1:
        raise BadQuestion.contradiction(*given[:2])
    held = float(atmosphere.largest_humidity(temperature, pressure))
    name = given[0] if given else ""
    value = _absolute(question, name, temperature)
    if name:
        asked[name] = question.parameters[name].show(question.values[name])
    asked["absolute_humidity"] = Quantity(value, "humidity")
    if value <= held * (1 + ROUNDING):
        return value, _near_dew(value / held, temperature)
    holds = f"Air of this temperature and pressure holds at most {said(held, 'humidity', digits=3)} of water"
    if name:
        detail = f"{holds}."
        raise BadQuestion.about(name, detail, valid=_most(name, held, temperature))
    return np.nan, (f"{holds}, less than the default: no humidity correction is made.",)


def _most(name: str, held: float, temperature: float) -> dict[str, Quantity]:
    """Return the bound of a humidity [kg/m3] as one of the parameter that was given."""
    if name == "relative_humidity":
        return {"high": Quantity(float(atmosphere.relative_humidity(held, temperature)), "fraction")}
    if name == "absolute_humidity":
        return {"high": Quantity(held, "humidity")}
    with suppress(OutsideValidity):  # so little that no dew point is known
        return {"high": Quantity(float(atmosphere.dew_point(held, temperature)), "temperature")}
    return {}


def _absolute(question: Question, name: str, temperature: float) -> float:
    if name == "relative_humidity":
        return float(atmosphere.absolute_humidity(question.number(name), temperature))
    if name == "dew_point":
        dew = question.number(name)
        if dew > temperature:
            raise BadQuestion.about(name, "The dew point is above the air temperature.")
        return float(atmosphere.absolute_humidity_at_dew_point(dew, temperature))
    return question.number("absolute_humidity")


def _near_dew(share: float, temperature: float) -> tuple[str, ...]:
    near = share > 0.9 and temperature < 373.15
    return ("The air is near its dew point: moisture on a surface lowers the voltage by an unknown amount.",) * near


def _sizes(question: Question, arrangement: Arrangement) -> tuple[dict[str, float], dict[str, str]]:
    sizes: dict[str, float] = {}
    options: dict[str, str] = {}
    for parameter in arrangement.parameters:
        if parameter.dimension == "choice":
            options[parameter.name] = str(question.values.get(parameter.name, parameter.default))
        elif parameter.name in question:
            sizes[parameter.name] = question.number(parameter.name)
        elif parameter.required:
            raise question.missing(parameter.name)
    return sizes, options


def refuse_foreign(question: Question, arrangements: Sequence[Arrangement], registry: Registry) -> None:
    """Refuse sizes that belong to none of the arrangements that are asked.

    Raises
    ------
    BadQuestion
        At the first such size.
    """
    own = {parameter.name for one in arrangements for parameter in one.parameters}
    foreign = sorted(name for name in registry.size_names - own if question.given(name))
    if foreign:
        assumed = " (the default)" if "electrodes" in question.assumed else ""
        detail = f"{foreign[0]} does not apply to electrodes={','.join(one.key for one in arrangements)}{assumed}."
        raise BadQuestion.about(foreign[0], detail, sorted(own))
