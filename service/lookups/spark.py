"""/v1/spark: what made this spark, and whether a claimed voltage can be true."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from service import units
from service.answers.document import Echo
from service.answers.evaluate import Evaluation, evaluate, refusal
from service.answers.gap_curves import case_at
from service.answers.lookup import Answer, Lead, Lookup, voltage
from service.answers.registry import Registry
from service.answers.results import point_cautions
from service.answers.situation import (
    ATMOSPHERE,
    MEASURE,
    MIXED,
    POWER_FREQUENCY,
    WAVEFORM,
    Reading,
    Situation,
    electrode_parameters,
    gas_parameter,
    one,
    situation,
)
from service.bench.spark import (
    RUNNING,
    AtLength,
    Claim,
    Judge,
    Judged,
    Needed,
    Verdict,
    example_case,
    figure,
    fitting,
    shapes,
    zones,
)
from service.errors import BadQuestion, OutsideValidity
from service.judgement import CANNOT_TELL, Allowances, Needs, Unsaid, needs, typed_digits, unsaid
from service.methods import Arrangement
from service.parameters import Parameter, Question
from service.spoken import said, span_of
from service.units import Quantity

LENGTH = Parameter(
    "length",
    "length",
    "Length of the spark: the gap that it jumped. Its last digit says how well it was measured.",
    required=True,
    example="9.0mm",
    digits=True,
)
LENGTH_IS = Parameter(
    "length_is",
    "choice",
    "What the length is: of the widest gap that it jumps, or of a gap that was set; unknown counts as set.",
    default="unknown",
    choices=("unknown", "widest", "set"),
)
CLAIM = (
    Parameter(
        "claimed_voltage",
        "voltage",
        "The voltage that is claimed.",
        measured=True,
        example="27.0kV",
        high=1e9,
        digits=True,
    ),
    replace(MEASURE, default="unknown"),
)
SPARK = (
    Parameter(
        "spark",
        "choice",
        "Whether this is the first spark between cold electrodes, or one that is running.",
        default="first",
        choices=("first", "running"),
    ),
    Parameter(
        "path",
        "choice",
        "Whether the spark went through air (or gas), or along a surface.",
        default="air",
        choices=("air", "surface"),
    ),
)
IRRADIATED = Parameter(
    "irradiated",
    "choice",
    "Whether ultraviolet light or corona supplied the first electrons of an impulse; without it a spark comes late.",
    default="unknown",
    choices=("unknown", "yes", "no"),
)
SURROUNDINGS = tuple(replace(parameter, digits=True) for parameter in ATMOSPHERE)
RESULTS: Mapping[str, str] = {
    "voltage_by_electrodes": "What each electrode shape needs for a first spark of this length, by rising voltage; "
    "sizes that were not asked are those of the example.",
    "bracket": "Between sharp points and a uniform field.",
    "claim": "Verdict on the claimed voltage, why, what was not said that it depends on, the shapes that fit it "
    "however it was read, and those that may.",
    "readings": "Where nobody said how the claim was read: the verdict for each way of reading it.",
}
RUNNING_NOTE = "The voltages are those of a first spark between cold electrodes; the running spark tells nothing."
SAID_NOTE = (
    "The voltages by electrodes are at the conditions under asked; the verdict holds for every value of what was not "
    "said, and for the digits of what was."
)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "spark",
        "What made this spark",
        "The voltage that a first spark of a length needs, by electrode shape, and what it says of a claimed voltage.",
        (
            LENGTH,
            LENGTH_IS,
            *CLAIM,
            *SPARK,
            IRRADIATED,
            *electrode_parameters(registry),
            gas_parameter(registry),
            *MIXED,
            *SURROUNDINGS,
            *WAVEFORM,
        ),
        lambda question: answer(question, registry),
        example="length=9.0mm&length_is=widest&claimed_voltage=60.0kV&measure=peak&waveform=dc",
        results=RESULTS,
    )


@dataclass(frozen=True, eq=False)
class Evidence:
    """What the length of a spark says.

    Parameters
    ----------
    main : Evaluation
        Of the asked electrodes, with every method.
    shapes : list of AtLength
        One where the electrodes are told.
    bracket : Evaluation
        Of unknown electrodes; it may have no answer where the electrodes are told.
    """

    main: Evaluation
    shapes: list[AtLength]
    bracket: Evaluation


@dataclass(frozen=True)
class Says:
    """What a spark says of a claim: the verdict, and the electrodes that fit it, or may."""

    verdict: Verdict
    fit: Sequence[str] = ()
    may: Sequence[str] = ()

    def block(self) -> dict[str, object]:
        """Return it as answers show it."""
        fields: dict[str, object] = {"verdict": self.verdict.word, "explanation": self.verdict.explanation}
        if self.verdict.depends_on:
            fields["depends_on"] = list(self.verdict.depends_on)
        return fields | {"electrodes_that_fit": self.fit, "electrodes_that_may_fit": self.may}


@dataclass(frozen=True)
class Told:
    """The answer, what it says of the claim where there is one, and the bracket of any electrodes."""

    answer: Answer
    main: Evaluation
    says: Says | None
    bracket: Quantity | None


def answer(question: Question, registry: Registry) -> Answer:
    """Return what a spark says, as `told` does."""
    return told(question, registry).answer


def told(question: Question, registry: Registry) -> Told:
    """Return what a spark says.

    Raises
    ------
    BadQuestion
        When parameters contradict each other.
    OutsideValidity
        When the spark ran along a surface, or no method answers at its length.
    """
    _refuse_surface(question)
    here = situation(question, registry)
    found = evidence(question, here, registry)
    claim = _claim(question, here)
    judged = _judged(question, here, claim, registry)
    running = question.key("spark") == "running"
    says, bracket = _says(found, claim, judged, running), _bracket(found)
    notes = [RUNNING_NOTE] * running + [SAID_NOTE] * (judged is not None)
    reason = None if says is None else says.verdict.explanation
    length = question.number("length")
    whole = Answer.at(
        "spark",
        here,
        _asked(question, here),
        _results(found, bracket, says, judged),
        [found.main],
        registry,
        notes=notes,
        cautions=("first-spark", *point_cautions(found.main), "ozone", "fire"),
        title=f"A spark of {said(length, 'length')}",
        lead=_lead(says, found.main, _elsewhere(question, here), running=running),
        figure=lambda: figure(found.shapes, found.main, length, claim, reason),
    )
    return Told(whole, found.main, says, bracket)


def _elsewhere(question: Question, here: Situation) -> str:
    """Return what was taken of place and waveform where that was not said, and where a spark takes less."""
    place = not any(question.given(name) for name in ("pressure", "altitude", "sea_level_pressure"))
    fast = not question.given("waveform") and not question.given("frequency") and here.case.waveform == "ac"
    taken = [said(float(here.case.pressure[0]), "pressure")] * place + [said(POWER_FREQUENCY, "frequency")] * fast
    less = ["at a lower pressure"] * place + ["at a higher frequency"] * fast
    return f" That is at {' and '.join(taken)}; {' or '.join(less)} it takes less." if taken else ""


def _lead(says: Says | None, main: Evaluation, elsewhere: str, *, running: bool) -> Lead:
    """Return the verdict as what is read first; without a claim what such a spark takes."""
    if says is not None:
        verdict = says.verdict
        return Lead(verdict.explanation, "Verdict on the claim", verdict.word.replace("-", " "), "first-spark")
    volts = span_of(voltage(*main.numbers()))
    length = said(float(main.case.gap[0]), "length")
    sentence = f"{main.arrangement.title}: a first spark of {length} takes {volts}.{elsewhere}"
    if running:
        sentence += " A spark that is running tells nothing of it."
    return Lead(sentence, "A first spark takes", volts, "first-spark")


def _refuse_surface(question: Question) -> None:
    if question.key("path") == "surface":
        detail = (
            "A spark along a surface is not answered: it flashes over at a fraction of what air holds, and dirt, "
            "moisture and the shape of the surface decide the fraction. Distances along surfaces are at /v1/creepage."
        )
        # no path=air is proposed: what air needs is more than what such a spark took
        raise OutsideValidity.about("path", detail, ("air",))


def evidence(question: Question, here: Situation, registry: Registry) -> Evidence:
    """Return what the length of the spark says.

    Raises
    ------
    OutsideValidity
        When no method answers at this length.
    """
    length = question.number("length")
    if "outer_diameter" in question:
        detail = "The outer diameter follows from the length of the spark; give inner_diameter alone."
        raise BadQuestion.about("outer_diameter", detail)
    if here.arrangement.completes is not None:
        question.number("inner_diameter")
    main = evaluate(here.arrangement, case_at(here.arrangement, here.case, one(length)), every=True)
    if not main.answered[0]:
        error = refusal(here.arrangement, main.case)
        # plates only where the limit that failed advises them; else the bracket of any shape, which holds no more
        instead = registry.plates if f"electrodes={registry.plates.key}" in error.detail else registry.shapeless
        if here.arrangement is not instead:
            error.suggestion = {"length": f"{units.shown(length, 'length'):.6g}mm", "electrodes": instead.key}
        raise error.called({"gap": LENGTH.name})
    case = replace(here.case, gap=one(length), dimensions={}, options={})
    bracket = evaluate(registry.shapeless, case)
    found = shapes(here, length, registry) if here.arrangement.shapeless else [AtLength(main)]
    return Evidence(main, found, bracket)


def _claim(question: Question, here: Situation) -> Claim | None:
    if "claimed_voltage" not in question:
        if question.given("measure"):
            raise BadQuestion.about("measure", "measure says how claimed_voltage was read; give claimed_voltage too.")
        return None
    half = question.half_digit("claimed_voltage")
    claim = Claim(question.number("claimed_voltage"), half, question.key("measure"))
    claim.readings(here.case.waveform)  # refuses the rms value of an impulse
    return claim


def _judged(question: Question, here: Situation, claim: Claim | None, registry: Registry) -> Judged | None:
    """Return what judges the claim; nothing where there is none, or where the spark was running."""
    if claim is None or question.key("spark") == "running":
        return None
    judging = judge(question, here, registry)
    mains = not question.given("frequency") and "ac" in judging.needs.waveforms
    length_is = question.key("length_is")
    return Judged(claim, judging, length_is == "widest", mains, length_is == "set")


def judge(question: Question, here: Situation, registry: Registry) -> Judge:
    """Return what judges a claim on the length: named electrodes by their band, unknown ones by zones."""
    allowances = Allowances.of(registry.reference)
    things = _unsaid(question, here, allowances)
    half = question.half_digit("length")
    off = {"gap": half, **typed_digits(question, here, allowances)}
    length, irradiated = question.number("length"), question.key("irradiated")

    def of(arrangement: Arrangement) -> Needs:
        own = arrangement is here.arrangement
        case = replace(here.case, gap=one(length)) if own else example_case(arrangement, here.case, length)
        return needs(arrangement, case, things, allowances=allowances, off=off, irradiated=irradiated)

    uniform = of(registry.plates)
    if not here.arrangement.shapeless:
        return Needed.of(of(here.arrangement), uniform)
    needles = of(registry.arrangement("needle-gap"))
    return zones(of(here.arrangement), needles, uniform, replace(here.case, gap=one(length)), half)


def _unsaid(question: Question, here: Situation, allowances: Allowances) -> tuple[Unsaid, ...]:
    """Return what was not said; a voltage with an rms value is alternating or direct."""
    found = unsaid(question, here, allowances)
    if question.values.get("measure") != "rms":
        return found
    rms = ("ac", "dc")
    return tuple(replace(thing, values=rms) if thing.name == "waveform" else thing for thing in found)


def _asked(question: Question, here: Situation) -> Echo:
    names = ["length_is", "spark", "path"]
    if here.case.waveform not in ("ac", "dc") or question.given("irradiated"):
        names.append("irradiated")
    if "claimed_voltage" in question:
        names = ["claimed_voltage", "measure", *names]
    return Echo.of(question, ("length", *names)) | here.asked


def _says(found: Evidence, claim: Claim | None, judged: Judged | None, running: bool) -> Says | None:
    if running:
        return Says(Verdict(CANNOT_TELL, RUNNING))
    if claim is None or judged is None:
        return None
    return Says(judged.verdict, *fitting(found.shapes, claim, found.main.case.waveform))


def _bracket(found: Evidence) -> Quantity | None:
    if not found.bracket.answered[0]:
        return None
    return voltage(*found.bracket.numbers())


def _results(found: Evidence, bracket: Quantity | None, says: Says | None, judged: Judged | None) -> dict[str, object]:
    fields: dict[str, object] = {"voltage_by_electrodes": found.shapes}
    fields |= {name: part for name, part in (("bracket", bracket), ("claim", says)) if part is not None}
    given = () if judged is None else judged.claim.readings(found.main.case.waveform)
    if len(given) > 1 and judged is not None:
        fields["readings"] = [_reading(reading, judged) for reading in given]
    return fields


def _reading(reading: Reading, judged: Judged) -> dict[str, object]:
    verdict = judged.of(reading.measure)
    value = reading.high if reading.sharp else float("nan")
    ends = () if reading.sharp else (reading.low, reading.high)
    return {
        "measure": reading.measure,
        "peak_voltage": voltage(value, *ends),
        "verdict": verdict.word,
        "explanation": verdict.explanation,
    }
