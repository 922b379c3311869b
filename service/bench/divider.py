"""The divider as a network with strays, and before it is built: lower arm, error over frequency, what elements bear.

The upper arm is a chain of equal elements, each a resistance with a capacitance across it; its stray capacitance to
earth is shared alike by the nodes between the elements. The lower arm closes the chain. Its sections are alike, so that
the voltages of all nodes are in closed form; without strays it is the plain ratio of two impedances.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.lookup import ends_of, spread, voltage
from service.answers.situation import SINE
from service.errors import OutsideValidity
from service.methods import Case, FloatArray
from service.parameters import Members, Parameter, Question
from service.spoken import said, speak
from service.units import ROUNDING, Quantity

ALIKE = 0.01
"""Relative difference up to which two ratios count as one; common practice, no source."""
SLICES = 40
"""Sections that a single long element is cut into, so that its strays are spread over it."""
FINEST = 1000
"""Most sections of a ladder; a longer chain is cut into so many."""
STRAY_PER_METRE = (10e-12, 20e-12)
"""Stray capacitance of an upright divider to earth, over its height [F/m]; common practice, no source."""
FAST = {"lightning-impulse", "switching-impulse", "pulse-train"}
"""Waveforms at which the capacitances divide; their ratio is taken at the frequency below where none is given."""
NOTHING_LEFT = 1e-18
"""Share of the input below which no ratio is told: a nanovolt of a gigavolt."""
LEAST = 1e-4
"""Least relative difference of two ratios that is put into words as a number."""
IMPULSE_FREQUENCY = 250e3
"""Frequency that stands for the front of an impulse [Hz]; common practice, no source."""
HIGHEST = 10e6
"""Frequency [Hz] to which a result is carried where none is named."""

UPPER = (
    Parameter("upper_resistance", "resistance", "Resistance of the upper arm.", required=True, low=1.0, high=1e15),
    Parameter("lower_resistance", "resistance", "Resistance of the lower arm.", required=True, low=1e-3, high=1e12),
)
STRAYS = (
    Parameter(
        "stray_capacitance",
        "capacitance",
        "Stray capacitance of the whole upper arm to earth.",
        low=0.0,
        high=1e-6,
        example="5pF",
    ),
    Parameter("height", "length", "Height of the upright upper arm; its strays are then estimated.", high=30.0),
)
NETWORK = Members(
    (
        *UPPER,
        Parameter("upper_capacitance", "capacitance", "Capacitance across the upper arm.", low=1e-16, high=1e-3),
        Parameter("lower_capacitance", "capacitance", "Capacitance across the lower arm.", low=1e-16, high=1e-3),
        Parameter("elements", "count", "Equal elements in series in the upper arm.", low=1, high=1e5, default="1"),
        *STRAYS,
        Parameter("frequency", "frequency", "Frequency for which the divider is wanted.", high=1e10),
    )
)


@dataclass(frozen=True)
class Divider:
    """A divider whose arms are a resistance and, where known, a capacitance in parallel.

    Parameters
    ----------
    upper_resistance, lower_resistance : float
        [ohm].
    upper_capacitance, lower_capacitance : float or None
        [F]; both or neither.
    elements : int
        Equal elements in series that make the upper arm.
    stray_capacitance : float
        Of the whole upper arm to earth [F].
    """

    upper_resistance: float
    lower_resistance: float
    upper_capacitance: float | None = None
    lower_capacitance: float | None = None
    elements: int = 1
    stray_capacitance: float = 0.0

    @classmethod
    def of(cls, network: Question) -> Divider:
        """Return the divider of a question, without strays."""
        return cls(
            network.number("upper_resistance"),
            network.number("lower_resistance"),
            network.optional("upper_capacitance"),
            network.optional("lower_capacitance"),
            int(network.number("elements")),
        )

    @property
    def direct_ratio(self) -> float:
        """Input over output voltage at direct voltage."""
        return (self.upper_resistance + self.lower_resistance) / self.lower_resistance

    @property
    def fast_ratio(self) -> float | None:
        """Input over output voltage where the capacitances alone divide, strays left out."""
        if self.upper_capacitance is None or self.lower_capacitance is None:
            return None
        return (self.upper_capacitance + self.lower_capacitance) / self.upper_capacitance

    @property
    def sections(self) -> int:
        """Sections of the ladder: the elements, slices of a single one, and one where there are no strays."""
        if not self.stray_capacitance:
            return 1
        return SLICES if self.elements == 1 else min(self.elements, FINEST)

    def nodes(self, frequency: float) -> np.ndarray:
        """Return the complex voltages of the nodes over that of the input, the input first and the tap last.

        Parameters
        ----------
        frequency : float
            [Hz].
        """
        return np.asarray(self._voltages(np.array([frequency]), np.arange(self.sections + 1))[0])

    def _voltages(self, frequencies: FloatArray, places: np.ndarray) -> np.ndarray:
        """Return the complex voltages of nodes over that of the input; shape (frequencies, places).

        All sections of the ladder are alike, so that along it ``V[k - 1] - (2 + y) V[k] + V[k + 1] = 0`` with the
        admittance y of a node to earth over that of a section. From the tap up that is solved by
        ``l sinh(g j) / sinh(g) + cosh(g (j - 1/2)) / cosh(g / 2)`` with ``2 cosh(g) = 2 + y`` and the admittance l of
        the lower arm over that of a section. Both are written as multiples of ``exp(g j)``, which else overflows.

        Parameters
        ----------
        frequencies : ndarray
            [Hz].
        places : ndarray of int
            Of the nodes, the input being nought.
        """
        n = self.sections
        turn = 2j * math.pi * frequencies[:, None]
        along = n * (1 / self.upper_resistance + turn * (self.upper_capacitance or 0.0))
        aside = turn * (self.stray_capacitance / (n - 1) if n > 1 else 0.0) / along
        lower = (1 / self.lower_resistance + turn * (self.lower_capacitance or 0.0)) / along
        growth = 2 * np.arcsinh(np.sqrt(aside) / 2)

        def over_growth(sections: np.ndarray) -> np.ndarray:
            level = (growth != 0) & (sections > 0)
            reached = np.broadcast_to(sections + 0j, level.shape).copy()  # what it is without strays
            np.divide(-np.expm1(-2 * growth * sections), 2 * np.sinh(growth), out=reached, where=level)
            even = 1 / (1 + np.exp(growth)) + np.exp(-2 * growth * sections) / (1 + np.exp(-growth))
            return np.asarray(lower * reached + even)

        return np.asarray(np.exp(-growth * places) * over_growth(n - places) / over_growth(np.array([n])))

    def impedance(self, frequency: float) -> complex:
        """Return the impedance between input and earth [ohm] at a frequency [Hz]."""
        along = self.sections * (1 / self.upper_resistance + 2j * math.pi * frequency * (self.upper_capacitance or 0.0))
        return complex(1 / (along * (1 - self.nodes(frequency)[1])))

    def shares(self, frequencies: FloatArray) -> FloatArray:
        """Return the magnitudes of output over input voltage at frequencies [Hz]."""
        at_the_tap = np.abs(self._voltages(frequencies, np.array([self.sections]))[:, 0])
        return np.where(frequencies == 0, 1 / self.direct_ratio, at_the_tap)

    def ratio(self, frequency: float) -> float:
        """Return the magnitude of input over output voltage at a frequency [Hz], as `ratios` does."""
        return float(self.ratios(np.array([frequency]))[0])

    def ratios(self, frequencies: FloatArray) -> FloatArray:
        """Return the magnitudes of input over output voltage at frequencies [Hz].

        Raises
        ------
        OutsideValidity
            Where the strays leave nothing at the tap.
        """
        shares = self.shares(frequencies)
        nothing = frequencies[shares < NOTHING_LEFT]
        if nothing.size:
            detail = f"At {said(nothing[0], 'frequency')} strays so large leave nothing of the voltage at the tap."
            raise OutsideValidity.about("stray_capacitance", detail)
        return 1 / shares

    def difference(self, frequency: float, base: float) -> float:
        """Return how much the ratio at a frequency [Hz] differs from that at another, relatively."""
        return self.ratio(frequency) / self.ratio(base) - 1

    @property
    def time_constants(self) -> float | None:
        """Time constant of the upper arm over that of the lower; one where compensated."""
        if self.upper_capacitance is None or self.lower_capacitance is None:
            return None
        lower = self.lower_resistance * self.lower_capacitance
        return self.upper_resistance * self.upper_capacitance / lower

    @property
    def compensated(self) -> bool | None:
        """Whether direct and fast ratio are one within a percent; ``None`` where the capacitances are not known."""
        if self.fast_ratio is None:
            return None
        return math.isclose(self.fast_ratio, self.direct_ratio, rel_tol=ALIKE)

    def element_voltages(self, frequency: float) -> FloatArray:
        """Return the voltage across every element over that of the input, the top one first.

        Parameters
        ----------
        frequency : float
            [Hz].
        """
        nodes = self.nodes(frequency)
        if self.elements == 1:
            return np.array([abs(nodes[0] - nodes[-1])])
        if self.sections == 1:
            return np.full(self.elements, abs(nodes[0] - nodes[-1]) / self.elements)
        return np.asarray(np.abs(np.diff(nodes))) * self.sections / self.elements

    def unevenness(self, frequency: float) -> float:
        """Return the highest stress along the upper arm over the mean stress, at a frequency [Hz]."""
        nodes = self.nodes(frequency)
        return float(np.abs(np.diff(nodes)).max() * self.sections / abs(nodes[0] - nodes[-1]))


def strays(network: Question) -> tuple[float, ...]:
    """Return the stray capacitances [F] that a network may have: the given one, both ends of an estimate, or none."""
    if "stray_capacitance" in network:
        return (network.number("stray_capacitance"),)
    if "height" in network:
        return tuple(per * network.number("height") for per in STRAY_PER_METRE)
    return ()


def network_block(network: Question, case: Case, highest: float) -> dict[str, object]:
    """Return the network of a check as answers show it.

    Parameters
    ----------
    case : Case
        Waveform of the check.
    highest : float
        Highest voltage of the check [V peak].
    """
    plain, base, wanted = Divider.of(network), checked_frequency(case), network.optional("frequency")
    fields: dict[str, object] = {"dc_ratio": plain.direct_ratio}
    if plain.fast_ratio is not None:
        fields |= {
            "high_frequency_ratio": plain.fast_ratio,
            "time_constant_ratio": plain.time_constants,
            "compensated": plain.compensated,
        }
    possible = [replace(plain, stray_capacitance=one) for one in strays(network)]
    if "stray_capacitance" not in network and possible:
        fields["stray_capacitance"] = spread([one.stray_capacitance for one in possible], "capacitance")
    fields |= _ratios(possible or [plain], wanted, base)
    carries, why = carried(plain, possible, wanted, base)
    worst = max((one.element_voltages(base).max() for one in possible or [plain]), default=0.0)
    fields |= {
        "element_voltage": voltage(highest * float(worst)),
        "load": loading(plain, base, highest, case.waveform),
    }
    if wanted is not None and possible:
        fields["largest_stress_over_mean"] = ends_of([one.unevenness(wanted) for one in possible])
    return fields | {"carries": carries, "explanation": why}


def _ratios(possible: Sequence[Divider], wanted: float | None, base: float) -> dict[str, object]:
    fields: dict[str, object] = {"ratio_at_check": ends_of([one.ratio(base) for one in possible])}
    if wanted is not None:
        fields["ratio_at_frequency"] = ends_of([one.ratio(wanted) for one in possible])
        fields["ratio_difference_percent"] = ends_of([100 * one.difference(wanted, base) for one in possible])
    return fields


def checked_frequency(case: Case) -> float:
    """Return the frequency that stands for the waveform of a check [Hz]; zero for direct voltage."""
    given = float(case.frequency[0])
    return given or (IMPULSE_FREQUENCY if case.waveform in FAST else 0.0)


def carried(plain: Divider, possible: Sequence[Divider], wanted: float | None, base: float) -> tuple[str, str]:
    """Return whether the gap's result carries to the wanted frequency, and why.

    Parameters
    ----------
    plain : Divider
        Without strays.
    possible : sequence of Divider
        With every stray capacitance that it may have; empty where nothing was said of it.
    wanted : float or None
        Frequency [Hz]; up to 10 MHz where none is named.
    base : float
        Frequency of the check [Hz].
    """
    if plain.fast_ratio is None:
        why = "Without the capacitances of both arms the ratio at any other frequency is not known"
        return "cannot-tell", f"{why}; stray capacitance governs it."
    if not possible:
        return "cannot-tell", (
            "The stray capacitance of the upper arm to earth decides, and was not said: give stray_capacitance, or the "
            "height of the upper arm. As drawn, without strays, the ratio differs by "
            f"{difference_in_words(_largest(plain, wanted, base))}; a few picofarads can make that tens of percent."
        )
    found = [_largest(one, wanted, base) for one in possible]
    words = {"yes" if abs(one) <= ALIKE else "no" for one in found}
    where = f"at {said(wanted, 'frequency', unit='kHz')}" if wanted is not None else "somewhere up to 10 MHz"
    by = " to ".join(dict.fromkeys(difference_in_words(one) for one in found))
    if len(words) > 1:
        return "cannot-tell", f"The ratio {where} differs from that of the check by {by}: give stray_capacitance."
    word = words.pop()
    if word == "yes":
        return word, f"The ratio {where} differs from that of the check by {by}; leads are not in it."
    return word, f"The ratio {where} differs from that of the check by {by}: the result of the gap does not carry."


def _largest(divider: Divider, wanted: float | None, base: float) -> float:
    """Return the difference of the ratio at the wanted frequency, or the largest one up to the highest."""
    asked = np.geomspace(10.0, HIGHEST, 61) if wanted is None else np.array([wanted])
    differences = divider.ratios(asked) / divider.ratio(base) - 1
    return float(differences[np.argmax(np.abs(differences))])


def difference_in_words(difference: float) -> str:
    """Return a relative difference in words; what is far below any measurement is not spelled out.

    Examples
    --------
    >>> difference_in_words(-0.123), difference_in_words(1e-17), difference_in_words(25.0)
    ('-12 %', 'less than 0.01 %', '+2500 %')
    """
    if abs(difference) < LEAST:
        return "less than 0.01 %"
    return f"{100 * difference:+.2g} %" if abs(difference) < 0.995 else f"{100 * difference:+.0f} %"


def loading(divider: Divider, base: float, highest: float, waveform: str) -> dict[str, object]:
    """Return what the divider takes from the source.

    Parameters
    ----------
    base : float
        Frequency of the check [Hz].
    highest : float
        Highest voltage of the check [V peak].
    waveform : str
        A mean power belongs to alternating and direct voltage only.
    """
    impedance = divider.impedance(base)
    fields: dict[str, object] = {
        "resistance": Quantity(divider.upper_resistance + divider.lower_resistance, "resistance"),
        "current": Quantity(highest / abs(impedance), "current"),
    }
    if waveform not in FAST:
        # of a sine the mean power is that of its rms values
        squared = highest**2 / (2 if base else 1)
        fields["power"] = Quantity(squared * (1 / impedance).real, "power")
    if divider.upper_capacitance is None or divider.lower_capacitance is None:
        return fields
    series = 1 / math.fsum([1 / divider.upper_capacitance, 1 / divider.lower_capacitance])
    return fields | {"capacitance": Quantity(series, "capacitance")}


VACUUM_PERMITTIVITY = 8.8541878128e-12
"""Permittivity of vacuum [F/m]; CODATA 2018."""
ESTIMATE = (0.7, 1.5)
"""Factors on an estimated stray capacitance: shields, walls and wires near it; ours, common practice, no source."""
SPECTRUM = np.geomspace(1.0, 1e7, 141)
"""Frequencies of the error curve [Hz]."""
DERATED = 0.5
"""Share of a rating that is used at most, so that parts live; common practice, no source."""


def stray_of_rod(length: float, diameter: float, height: float) -> float:
    """Return the capacitance to earth of an upright rod [F].

    ``C = 2 pi e0 L / ln((2 L / d) sqrt((4 s + L) / (4 s + 3 L)))`` with length L, diameter d, lower end s above earth.

    Parameters
    ----------
    length, diameter, height : float
        [m].

    References
    ----------
    kuffel-zaengl-kuffel-2000, from memory.

    Examples
    --------
    A rod of 1 m and 50 mm on the ground: 18 pF.

    >>> round(stray_of_rod(1.0, 0.05, 0.0) * 1e12, 1)
    17.7
    """
    shape = 2 * length / diameter * math.sqrt((4 * height + length) / (4 * height + 3 * length))
    return 2 * math.pi * VACUUM_PERMITTIVITY * length / math.log(shape)


@dataclass(frozen=True)
class Meter:
    """What the lower arm is read with.

    Parameters
    ----------
    resistance : float
        Of its input [ohm]; infinite where it draws nothing.
    capacitance : float
        Of its input and its cable [F].
    """

    resistance: float = math.inf
    capacitance: float = 0.0


@dataclass(frozen=True, eq=False)
class Design:
    """A divider as asked for.

    Parameters
    ----------
    peak : float
        Highest voltage [V peak].
    ratio : float
        Wanted, with the meter.
    upper_resistance : float
        [ohm].
    frequency : float
        Of the voltage [Hz]; zero for direct voltage.
    upper_capacitance : float
        Across the whole upper arm [F].
    compensated : bool
        Whether the lower arm gets the capacitance that makes the time constants equal.
    strays : tuple of float
        Stray capacitance of the upper arm to earth [F], or both ends of an estimate; empty where it was not said.
    """

    peak: float
    ratio: float
    upper_resistance: float
    elements: int
    meter: Meter
    frequency: float
    upper_capacitance: float
    compensated: bool
    strays: tuple[float, ...]

    @cached_property
    def below(self) -> float:
        """Resistance of the lower arm with the meter across it [ohm]."""
        return self.upper_resistance / (self.ratio - 1)

    @cached_property
    def lower_resistance(self) -> float:
        """Resistor of the lower arm [ohm], so that with the meter across it the ratio is the wanted one.

        Raises
        ------
        OutsideValidity
            When the meter alone has less resistance than that.
        """
        conductance = 1 / self.below - 1 / self.meter.resistance
        if conductance <= ROUNDING / self.below:
            raise OutsideValidity.about(
                "input_resistance",
                f"The meter's input of {said(self.meter.resistance, 'resistance')} is not above the lower arm of "
                f"{speak(self.below, 'resistance', digits=4)} that this ratio asks for: take a "
                "smaller upper_resistance, or a meter that loads less.",
            )
        return 1 / conductance

    @property
    def unloaded_ratio(self) -> float:
        """Ratio of the same resistors without the meter."""
        return 1 + self.upper_resistance / self.lower_resistance

    @cached_property
    def lower_capacitance(self) -> float:
        """Capacitance across the lower arm, the meter's included [F]."""
        wanted = self.upper_capacitance * (self.ratio - 1)
        return max(wanted, self.meter.capacitance) if self.compensated else self.meter.capacitance

    @property
    def overloaded(self) -> bool:
        """Whether the meter's capacitance alone is more than a compensated lower arm may have."""
        return self.compensated and self.meter.capacitance > self.upper_capacitance * (self.ratio - 1) * (1 + ALIKE)

    @cached_property
    def possible(self) -> tuple[Divider, ...]:
        """The loaded divider with every stray capacitance that it may have; one without where none was said."""
        plain = Divider(
            self.upper_resistance,
            self.below,
            self.upper_capacitance or None,
            self.lower_capacitance or None,
            self.elements,
        )
        return tuple(replace(plain, stray_capacitance=one) for one in self.strays or (0.0,))

    def errors(self, frequencies: FloatArray) -> FloatArray:
        """Return the relative error of what is indicated, at direct voltage none; shape (possible, frequencies)."""
        shares = [one.shares(frequencies) for one in self.possible]
        direct = np.array([[one.direct_ratio] for one in self.possible])
        return np.asarray(direct * np.array(shares) - 1)

    @cached_property
    def spectrum(self) -> FloatArray:
        """Errors over `SPECTRUM`."""
        return self.errors(SPECTRUM)

    @cached_property
    def flat_to(self) -> float:
        """Frequency up to which the error stays within one percent [Hz], whatever the strays; zero where nowhere."""
        within = np.logical_and.accumulate(np.abs(self.spectrum).max(axis=0) <= ALIKE)
        return float(SPECTRUM[within].max(initial=0.0))

    @property
    def effective(self) -> float:
        """Voltage that heats [V]: rms of a sine, direct voltage itself."""
        return self.peak / SINE if self.frequency else self.peak

    @cached_property
    def shares(self) -> FloatArray:
        """Highest share of the input voltage across any element, of every possible divider."""
        return np.array([one.element_voltages(self.frequency).max() for one in self.possible])

    @property
    def element_voltage(self) -> float:
        """Highest peak voltage across an element [V]."""
        return self.peak * float(self.shares.max())

    @property
    def element_power(self) -> float:
        """Most that an element turns into heat [W]."""
        return (self.effective * float(self.shares.max())) ** 2 / (self.upper_resistance / self.elements)

    @property
    def power(self) -> float:
        """That the whole divider turns into heat, evenly shared [W]."""
        return self.effective**2 / (self.upper_resistance + self.below)

    @property
    def current(self) -> float:
        """Highest current that the divider draws [A peak], its strays included."""
        return max(self.peak / abs(one.impedance(self.frequency)) for one in self.possible)

    def changes(self, question: Question) -> Iterator[str]:
        """Yield what to change, as sentences."""
        volts, watts = question.optional("element_voltage"), question.optional("element_power")
        if volts is not None and self.element_voltage > DERATED * volts:
            wanted = math.ceil(self.elements * self.element_voltage / (DERATED * volts))
            yield (
                f"The most stressed element has {speak(self.element_voltage, 'voltage')}, more than half of its "
                f"{said(volts, 'voltage')}: "
                f"take {wanted} elements or more."
            )
        if watts is not None and self.element_power > DERATED * watts:
            yield (
                f"The most stressed element turns {speak(self.element_power, 'power')} into heat, more than half of "
                f"its {said(watts, 'power')}: take more elements, or a larger upper_resistance."
            )
        if self.frequency and not self.strays:
            yield "The strays to earth were not said: give stray_capacitance, or length and diameter; they decide here."
        elif self.frequency and float(np.abs(self.errors(np.array([self.frequency]))).max()) > ALIKE:
            yield self._against_strays
        if self.overloaded:
            yield (
                "The meter and its cable have more capacitance than a compensated lower arm may have: put more "
                "capacitance across the upper arm, or shorten the cable."
            )

    @property
    def _against_strays(self) -> str:
        if self.upper_capacitance and not self.compensated:
            return "At this frequency the ratio is off by more than 1 %: compensate the lower arm (compensation=yes)."
        largest = max(self.strays)
        # the error of a compensated chain is about a sixth of the stray over the series capacitance
        wanted = said(largest / (6 * ALIKE), "capacitance", unit="pF", digits=3)
        return (
            "At this frequency the strays shift the ratio by more than 1 %: put capacitance across the elements, in "
            f"series about {wanted} or more, with compensation=yes, shield the arm, or take a smaller "
            "upper_resistance."
        )
