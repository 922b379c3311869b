"""What each electrode shape needs for a first spark of one length, and what that says of a claimed voltage."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np

from service import units
from service.answers.evaluate import Evaluation, evaluate
from service.answers.figure import Bar, Figure, PlotAxis
from service.answers.lookup import voltage
from service.answers.registry import Registry
from service.answers.situation import Reading, Situation, one, readings
from service.judgement import CANNOT_TELL, Needs, Unsaid, agreed, listed
from service.methods import Arrangement, Case, FloatArray
from service.physics.atmosphere import relative_density
from service.spoken import said, speak
from service.units import Quantity

WIRE_ENDS = 1.5e6
"""Most that bare wire ends a few millimetres apart need, times relative density [V/m]; common practice, no source."""
WIRE_ENDS_TO = 25e-3
"""Gap up to which that is used [m]: as far as the needle gap keeps its 1.2 kV per mm."""
MEASURES = ("peak", "rms", "peak-to-peak", "peak-to-peak-symmetrical")
"""Ways of reading a claim of which nobody said how it was read."""
RUNNING = "A burning or drawn-out spark tells no voltage: hot gas carries it far beyond what it could jump."
LOWER_BOUND = (
    "A gap that was set, or of which nothing more was said, shows only the least that was there. The widest gap that "
    "it jumps tells more: ask with length_is=widest."
)
WIDEST = "Say too whether it is the widest gap that it jumps: length_is=widest."
HOWEVER = ", however it was read,"
HAZARD = "the source gives more than it says, and is more dangerous than its label"
FAST = "This is for mains frequency: a voltage of more than 20 kHz jumps further, so say the frequency."

ENOUGH, ONE_SIDED, UNTABULATED = "enough", "one-sided", "untabulated"
"""Why it cannot be told: a lower bound that is met; a band with one end; shapes whose voltage is not tabulated."""


def kilovolts(*volts: float) -> str:
    """Return a peak voltage [V], or the range from the least to the most, in words."""
    low, high = (str(speak(one, "voltage", zeros=False)) for one in (np.nanmin(volts), np.nanmax(volts)))
    if low == high:
        return low
    number, unit = low.split(" ")
    return f"{number if high.split(' ')[1] == unit else low} to {high}"


@dataclass(frozen=True)
class Claim:
    """A claimed voltage.

    Parameters
    ----------
    given : float
        As claimed [V].
    half : float
        Half a unit of the last place typed [V].
    measure : str
        How it was read; ``unknown`` where nobody said.
    """

    given: float
    half: float
    measure: str

    @property
    def measures(self) -> tuple[str, ...]:
        """The ways in which it may have been read."""
        return MEASURES if self.measure == "unknown" else (self.measure,)

    @property
    def unsaid(self) -> tuple[Unsaid, ...]:
        """How it was read, where that was not said."""
        return (Unsaid("measure", "the measure (peak, rms or peak-to-peak)", MEASURES),) * (self.measure == "unknown")

    def readings(self, waveform: str) -> tuple[Reading, ...]:
        """Return the readings as peak voltages, without the digits."""
        return readings(self.given, self.measure, waveform)

    def ends(self, measure: str, waveform: str) -> tuple[float, float]:
        """Return the least and the highest peak voltage [V] of one reading, its digits included.

        Of a voltage that has no rms value the peak stands for it: that reading decides nothing there.
        """
        by_measure = {reading.measure: reading for reading in readings(1.0, "unknown", waveform)}
        share = by_measure.get(measure, by_measure["peak"])
        return (self.given - self.half) * share.low, (self.given + self.half) * share.high

    def words(self, waveforms: Iterable[str]) -> str:
        """Return the claim in words, to begin a sentence."""
        if self.measure == "unknown":
            return f"A claim of {kilovolts(self.given)}{HOWEVER}"
        told = f"A claim of {kilovolts(self.given)} {LABELS[self.measure]}"
        exact = replace(self, half=0.0)
        peak = kilovolts(*(end for form in set(waveforms) for end in exact.ends(self.measure, form)))
        return told if self.measure == "peak" else f"{told}, {peak} peak,"


LABELS = {
    "peak": "peak",
    "rms": "rms",
    "peak-to-peak": "peak-to-peak",
    "peak-to-peak-symmetrical": "peak-to-peak",
}
"""Ways of reading a claim, in words."""


class Judge(Protocol):
    """What words a claim by what the electrodes need in every combination of what was not said."""

    @property
    def needs(self) -> Needs:
        """What the electrodes need; its combinations are those of the words."""

    def words(self, low: FloatArray, high: FloatArray, widest: bool) -> np.ndarray:
        """Return a word per combination for the ends of a claim [V], each of shape (m,)."""

    def because(self, word: str) -> str:
        """Return why, to follow the claim."""


@dataclass(frozen=True, eq=False)
class Zones:
    """Peak voltages that divide what a first spark of one length needs, by the shape of the electrodes, shape (m,).

    Parameters
    ----------
    needs : Needs
        Of unknown electrodes; one element.
    points_from, points_to : ndarray
        Least and most that sharp points need [V]; NaN where it is not known.
    uniform_from, uniform_to : ndarray
        Band of a uniform field [V].
    points_by : str
        Where ``points_to`` comes from, in words.
    """

    needs: Needs
    points_from: FloatArray
    points_to: FloatArray
    uniform_from: FloatArray
    uniform_to: FloatArray
    points_by: str = ""

    def words(self, low: FloatArray, high: FloatArray, widest: bool) -> np.ndarray:
        """Return a word per combination; of a range the least demanding end decides."""
        with np.errstate(invalid="ignore"):
            above = np.where(low >= self.uniform_from, "needs-uniform-field", "needs-rounder-electrodes")
            above = np.where(np.isnan(self.points_to) & ~(low >= self.uniform_from), UNTABULATED, above)
            above = np.where(np.isnan(self.uniform_to), UNTABULATED, above)
            above = np.where(low > self.uniform_to, "too-high", above)
            within = np.where(low <= self.points_to, "fits-points", above if widest else ENOUGH)
            return np.where(high < self.points_from, "more-than-claimed", within)

    def because(self, word: str) -> str:
        """Return why, to follow the claim."""
        least = kilovolts(np.nanmin(self.points_from)) if np.isfinite(self.points_from).any() else ""
        points = kilovolts(*self.points_from, *self.points_to) if np.isfinite(self.points_to).any() else ""
        known = np.isfinite(self.uniform_to).any()
        uniform = kilovolts(*self.uniform_from, *self.uniform_to) if known else ""
        most = f"is less than a uniform field needs ({uniform})" if known else "lies where no uniform field is known"
        at_least = f"sharp points need at least {least}" if least else "what sharp points need in this gas is not known"
        sentences = {
            "more-than-claimed": f"is less than the {least} that even sharp points need: {HAZARD}.",
            "fits-points": f"fits sharp points, which need {points} ({self.points_by}).",
            "needs-rounder-electrodes": f"is more than sharp points need ({points}) and less than a uniform field does "
            f"({uniform}): it needs rounder electrodes than points.",
            "needs-uniform-field": f"needs large flat or well-rounded electrodes, {uniform}.",
            "too-high": "would have jumped further: even a uniform field holds no more than "
            f"{kilovolts(np.nanmax(self.uniform_to)) if known else 'is known'}."
            + f" What jumped is {least} or more."
            * bool(least),
            ENOUGH: f"is not less than this length needs ({at_least}). {LOWER_BOUND}",
            UNTABULATED: f"{most}; {at_least}, how much at most is not tabulated here.",
        }
        return sentences[word]


@dataclass(frozen=True, eq=False)
class Needed:
    """What named electrodes need for a first spark of one length, shape (m,).

    Parameters
    ----------
    needs : Needs
        One element.
    low, high : ndarray
        Peak voltages [V]; NaN where there is no bound.
    sharp : bool
        Whether there is a value between them, or only a bracket.
    """

    needs: Needs
    low: FloatArray
    high: FloatArray
    sharp: bool

    @classmethod
    def of(cls, needs: Needs, uniform: Needs) -> Needed:
        """Return the band that judges a claim: where it is only a bracket, its ends get bands of their own.

        Parameters
        ----------
        needs, uniform : Needs
            Of the electrodes and of a uniform field, over the same combinations.
        """
        low, high, sharp = needs.least[:, 0], needs.most[:, 0], np.isfinite(needs.value[:, 0])
        return cls(needs, low, np.where(sharp, high, np.fmax(high, uniform.most[:, 0])), bool(sharp.all()))

    def words(self, low: FloatArray, high: FloatArray, widest: bool) -> np.ndarray:
        """Return a word per combination; of a range the least demanding end decides."""
        with np.errstate(invalid="ignore"):
            known = np.where(np.isnan(self.low) | np.isnan(self.high), ONE_SIDED, "consistent")
            within = np.where(low > self.high, "too-high" if widest else ENOUGH, known)
            return np.where(high < self.low, "more-than-claimed", within)

    def because(self, word: str) -> str:
        """Return why, to follow the claim."""
        kind = "need" if self.sharp else "need by a bracket only"
        both = kilovolts(*self.low, *self.high) if word == "consistent" else ""
        least = kilovolts(np.nanmin(self.low)) if np.isfinite(self.low).any() else "an unknown voltage"
        most = kilovolts(np.nanmax(self.high)) if np.isfinite(self.high).any() else "an unknown voltage"
        sentences = {
            "more-than-claimed": f"is less than the {least} that these electrodes need: {HAZARD}.",
            "consistent": f"is what these electrodes {kind}: {both}.",
            "too-high": f"would have jumped further: these electrodes hold at most {most}."
            + f" What jumped is {least} or more." * bool(np.isfinite(self.low).any()),
            ENOUGH: f"is more than this length needs, which is at most {most}. {LOWER_BOUND}",
            ONE_SIDED: "lies within what is known, but these electrodes are bounded on one side only.",
        }
        return sentences[word]


@dataclass(frozen=True)
class Verdict:
    """A word on a claim, why, and the names of what it depends on that was not said."""

    word: str
    explanation: str
    depends_on: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Judged:
    """A claim and what judges it.

    Parameters
    ----------
    widest : bool
        Whether the length is that of the widest gap that it jumps.
    mains : bool
        Whether mains frequency was assumed of an alternating voltage.
    told_set : bool
        Whether it was said that the gap was set, so that the length can only be a lower bound.
    """

    claim: Claim
    judge: Judge
    widest: bool
    mains: bool = False
    told_set: bool = False

    @cached_property
    def _words(self) -> np.ndarray:
        """Words by measure and by combination of everything else, shape (r, m)."""
        waveforms = self.judge.needs.waveforms
        rows = []
        for measure in self.claim.measures:
            ends = np.array([self.claim.ends(measure, form) for form in waveforms])
            rows.append(self.judge.words(ends[:, 0], ends[:, 1], self.widest))
        return np.array(rows)

    @cached_property
    def verdict(self) -> Verdict:
        """The verdict for every value of everything that was not said."""
        needs = self.judge.needs
        r, m = self._words.shape
        choice = np.concatenate([np.repeat(np.arange(r), m)[None], np.tile(needs.choice, r)])
        things = self.claim.unsaid
        return self._of(self._words.ravel(), choice if things else choice[1:], (*things, *needs.unsaid))

    def of(self, measure: str) -> Verdict:
        """Return the verdict for one way of reading the claim."""
        needs = self.judge.needs
        told = replace(self, claim=replace(self.claim, measure=measure))
        return told._of(self._words[self.claim.measures.index(measure)], needs.choice, needs.unsaid)

    def _of(self, words: np.ndarray, choice: np.ndarray, unsaid: Sequence[Unsaid]) -> Verdict:
        found = agreed(words, choice, unsaid)
        told = self.claim.words(self.judge.needs.waveforms)
        if found.depends_on:
            among = sorted(found.among, key=lambda word: word != "more-than-claimed")  # the danger first
            maybe = listed([PHRASES[word] for word in among], "or")
            told = told.replace(HOWEVER, "")
            open_ended = ENOUGH in found.among and not self.told_set
            names = (*(one.name for one in found.depends_on), *["length_is"] * open_ended)
            more = f" {WIDEST}" * open_ended
            return Verdict(CANNOT_TELL, f"{told} {maybe}. {found.sentence}{more}", names)
        word = CANNOT_TELL if found.word in (ENOUGH, ONE_SIDED, UNTABULATED) else found.word
        fast = f" {FAST}" * (self.mains and word == "more-than-claimed")
        bound = ("length_is",) * (found.word == ENOUGH and not self.told_set)
        return Verdict(word, f"{told} {self.judge.because(found.word)}{fast}", bound)


PHRASES: Mapping[str, str] = {
    "more-than-claimed": "is less than this length needs, so that more is there than claimed,",
    "consistent": "is what these electrodes need",
    "fits-points": "fits sharp points",
    "needs-rounder-electrodes": "needs rounder electrodes than points",
    "needs-uniform-field": "needs a uniform field",
    "too-high": "would have jumped further",
    ENOUGH: "is enough for this length",
    ONE_SIDED: "lies within what is known",
    UNTABULATED: "lies between points and a uniform field",
}
"""Words as they stand where it depends."""


@dataclass(frozen=True, eq=False)
class AtLength:
    """An arrangement at the length of the spark.

    Parameters
    ----------
    evaluation : Evaluation
        Of one element that is answered.
    """

    evaluation: Evaluation

    @property
    def key(self) -> str:
        """Of the arrangement."""
        return self.evaluation.arrangement.key

    @property
    def value(self) -> float:
        """Peak voltage [V]; NaN for a bracket."""
        return float(self.evaluation.value[0])

    @property
    def ends(self) -> tuple[float, float]:
        """Ends of its band [V]; NaN where there is none."""
        return self.evaluation.numbers()[1:]

    @property
    def sharp(self) -> bool:
        """Whether there is a value, not only a bracket."""
        return bool(np.isfinite(self.value))

    def crossed(self, low: float, high: float) -> bool:
        """Return whether a claimed range [V] meets the band, as the picture shows it."""
        ends = self.ends
        return not (low > ends[1] or high < ends[0])

    @property
    def sizes(self) -> dict[str, Quantity | str]:
        """Sizes and options as answers show them."""
        case = self.evaluation.case
        shown = {name: Quantity(float(size[0]), "length") for name, size in case.dimensions.items()}
        return {**shown, **case.options}

    @property
    def label(self) -> str:
        """Title and sizes in words."""
        sizes = self.evaluation.case.dimensions.items()
        words = [
            f"{name.replace('_', ' ')} {said(float(size[0]), 'length', unit='mm', digits=6)}" for name, size in sizes
        ]
        return ", ".join([self.evaluation.arrangement.title, *words])

    def block(self) -> dict[str, object]:
        """Return the shape as answers show it."""
        chosen = self.evaluation.preferred()
        fields: dict[str, object] = {
            "electrodes": self.key,
            **self.sizes,
            "voltage": voltage(*self.evaluation.numbers()),
        }
        fields["method"] = chosen.method.key
        if chosen.estimate.row:
            fields["row"] = chosen.estimate.row
        return fields | {"provenance": chosen.estimate.provenance or chosen.method.provenance}


def shapes(here: Situation, length: float, registry: Registry) -> list[AtLength]:
    """Return every arrangement that answers at a length, with the sizes of its example, by rising voltage.

    Parameters
    ----------
    here : Situation
        Surroundings and waveform.
    length : float
        Of the spark [m].
    """
    found = [AtLength(evaluation) for evaluation in _evaluations(here, length, registry) if evaluation.answered[0]]
    return sorted(found, key=lambda shape: (np.nanmin([shape.value, shape.ends[1], np.inf]), shape.key))


def _evaluations(here: Situation, length: float, registry: Registry) -> Iterator[Evaluation]:
    for arrangement in registry.arrangements.values():
        if arrangement.gap_from is None and not arrangement.shapeless:
            yield evaluate(arrangement, example_case(arrangement, here.case, length))


def example_case(arrangement: Arrangement, case: Case, length: float) -> Case:
    """Return a case at a gap [m] with the example sizes and default options of an arrangement."""
    needed = (p for p in arrangement.parameters if p.dimension != "choice" and p.example is not None)
    sizes = {p.name: one(units.read(p.name, str(p.example), p.dimension)) for p in needed}
    options = {p.name: str(p.default) for p in arrangement.parameters if p.dimension == "choice"}
    return replace(case, gap=one(length), dimensions=sizes, options=options)


def zones(bracket: Needs, needles: Needs, uniform: Needs, case: Case, half: float) -> Zones:
    """Return what divides claims by the shape that they need, over the same combinations.

    Parameters
    ----------
    bracket, needles, uniform : Needs
        Of unknown electrodes, of a needle gap and of a uniform field; one element.
    case : Case
        Of the length.
    half : float
        Half a unit of the last place of the length [m].
    """
    low, high = uniform.low[:, 0], uniform.most[:, 0]
    tabulated = np.where(np.isfinite(needles.value), needles.most, np.nan)  # a bracket is no table of points
    floor = np.where(np.isnan(bracket.least), np.nan, np.fmin(bracket.least, needles.least))[:, 0]
    longest = float(case.gap[0]) + half
    density = relative_density(bracket.pressure(case), bracket.temperature(case))
    wires = WIRE_ENDS * density[:, 0] * longest
    with np.errstate(invalid="ignore"):
        known = case.in_air & (float(case.gap[0]) <= WIRE_ENDS_TO) & (floor < wires) & (wires < low)
    most = np.fmax(tabulated[:, 0], np.where(known, wires, np.nan))
    told = [
        ("needle-gap table", np.isfinite(tabulated).any()),
        ("bare wire ends, common practice, no source", known.any()),
    ]
    return Zones(bracket, floor, most, uniform.least[:, 0], high, listed([words for words, there in told if there]))


def fitting(found: Sequence[AtLength], claim: Claim | None, waveform: str) -> tuple[list[str], list[str]]:
    """Return the keys of the shapes that fit a claim, and of those that may, as the picture shows them.

    A shape fits whose estimate meets every way of reading the claim; it may fit where some way meets it, or where
    there is only a bracket.
    """
    if claim is None:
        return [], []
    ends = [claim.ends(reading.measure, waveform) for reading in claim.readings(waveform)]
    met = {shape.key: [shape.crossed(*pair) for pair in ends] for shape in found}
    fit = [shape.key for shape in found if shape.sharp and all(met[shape.key])]
    return fit, [shape.key for shape in found if shape.key not in fit and any(met[shape.key])]


def figure(
    found: Sequence[AtLength], main: Evaluation, length: float, claim: Claim | None, reason: str | None
) -> Figure:
    """Return the picture of a spark and of the claim on it: bars of what each shape needs, lines of the claim.

    Parameters
    ----------
    main : Evaluation
        Of the asked electrodes.
    length : float
        Of the spark [m].
    reason : str or None
        The explanation of the verdict.
    """
    case = main.case
    return Figure(
        f"What a first spark of {said(length, 'length')} needs",
        "Bars of peak voltage in kV, one per electrode shape, and the claimed voltage as lines, one per reading.",
        PlotAxis("voltage, peak", "kV", logarithmic=False),
        PlotAxis("electrodes", ""),
        bars=tuple(_bar(shape) for shape in found),
        lines=_lines(claim, case.waveform),
        sentences=(
            *([reason] if reason else []),
            f"{case.gas}, relative density {float(case.relative_density[0]):.3f}, {case.waveform}.",
            "Judge only the first jump between cold electrodes.",
        ),
    )


def _bar(shape: AtLength) -> Bar:
    low, high, value = (units.shown(volts, "voltage") for volts in (*shape.ends, shape.value))
    return Bar(shape.label, low, high, value)


def _lines(claim: Claim | None, waveform: str) -> tuple[tuple[str, float], ...]:
    """Return the claim as it was read, and each way of reading it where nobody said which."""
    if claim is None:
        return ()
    given = claim.readings(waveform)
    lines = {(LABELS[reading.measure], peak): None for reading in given for peak in _ends(reading, claim.measure)}
    return tuple((f"claim as {label}", units.shown(volts, "voltage")) for label, volts in lines)


def _ends(reading: Reading, measure: str) -> tuple[float, ...]:
    """Return where a reading is drawn; the upper end of peak-to-peak is the line of the peak, where that is drawn."""
    return (reading.low,) if reading.sharp or measure == "unknown" else (reading.low, reading.high)
