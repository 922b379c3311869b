"""The divider as a network: two arms, and the stray capacitance of the upper one to earth as a ladder.

The upper arm is a chain of equal elements, each a resistance with a capacitance across it; its stray capacitance to
earth is shared alike by the nodes between the elements. The lower arm closes the chain. Its sections are alike, so that
the voltages of all nodes are in closed form; without strays it is the plain ratio of two impedances.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.answers.lookup import ends_of, spread, voltage
from service.errors import OutsideValidity
from service.methods import Case, FloatArray
from service.parameters import Members, Parameter, Question
from service.spoken import said
from service.units import Quantity

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
