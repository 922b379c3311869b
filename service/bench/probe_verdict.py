"""What a probe check says: one word for every value that was not said, its ends, and the sentence.

What was said is taken with its digits and its stated tolerances; what was not said (weather, irradiation) is taken at
every value that it may have, and a verdict is given only where all of them agree.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.blocks import voltage
from service.answers.waveform import SINE
from service.bench.comparison import COVERAGE, Comparison, rectangular
from service.bench.probe import Check
from service.bench.sphere_practice import IMPULSES
from service.judgement import CANNOT_TELL, Agreed, Unsaid, agreed, combinations
from service.methods import FloatArray
from service.units import Quantity

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
