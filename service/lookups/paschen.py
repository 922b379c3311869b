"""/v1/paschen: breakdown voltage over pressure times gap between plates, with its minimum and the published ones."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from service.answers.echo import Echo
from service.answers.evaluate import Evaluation
from service.answers.lookup import Answer, Lead, Lookup
from service.answers.point import X_RAY_VOLTAGE
from service.answers.registry import Registry
from service.answers.situation import FRACTION, gas_parameter
from service.errors import BadQuestion, Fault, OutsideValidity
from service.lookups.gases import measured_points
from service.lookups.paschen_blocks import known_minimum, method_at, several, single
from service.lookups.paschen_figure import draw
from service.lookups.paschen_secondary import GAMMA, cathode_parameter, given_secondary
from service.lookups.paschen_sweep import Sweep, places
from service.methods import FloatArray
from service.parameters import Parameter, Question
from service.spoken import between, span, span_of, told
from service.units import Quantity

NOTES = (
    "pd is absolute pressure times gap at 20 degC; else multiply the pressure by 293.15 K over the temperature.",
    "Between plates only the product counts; below 10 µm it does not, and there the curve does not hold.",
)
GAP_NOTE = "No method answers in part of this range: null there, and the curve is broken."
PUBLISHED_NOTE = (
    "The minimum is a published point; no method reaches it, and between it and the curve nothing is known here."
)
ONLY_POINTS = "Only measured points are known of this gas: there is no curve, since across gaps similarity fails."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    gas = gas_parameter(registry)
    parameters = (
        Parameter(
            gas.name,
            gas.dimension,
            "The gas between the plates, or a comma list of gases to compare.",
            default=gas.default,
            choices=gas.choices,
            many=True,
            example="air",
            aliases=gas.aliases,
        ),
        FRACTION,
        Parameter("pd_from", "pd", "First pressure times gap; where the gas's methods begin.", example="0.5Torr_cm"),
        Parameter("pd_to", "pd", "Last pressure times gap; where the gas's methods end.", example="1bar_cm"),
        Parameter("points", "count", "Number of points of the curve.", low=2, high=5000, default="200"),
        cathode_parameter(registry),
        GAMMA,
    )
    return Lookup(
        "paschen",
        "Paschen curve",
        "Breakdown voltage between plates over pressure times gap, with the minimum.",
        parameters,
        lambda question: answer(question, registry),
        example="gas=air",
        results={
            "curve": "pd and voltage, with the band and the key of the method per point; null where none answers.",
            "curves": "The same for each of several gases.",
            "minimum": "Lowest point of the curve, pd and voltage; absent where no minimum is published.",
            "minima": "Every published minimum with its cathode and source.",
            "measured_points": "Measured points of the gas, of which no curve goes through all.",
        },
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the Paschen curve of one gas or of several.

    Raises
    ------
    BadQuestion
        When the range is not in order, or gamma or cathode do not belong to the gas.
    OutsideValidity
        When no method answers in the range.
    """
    gases = [str(gas) for gas in question.listed("gas")]
    given = [given_secondary(question, registry, gas) for gas in gases]
    sweeps = [
        Sweep.of(registry, gas, _fraction(question, registry, gas), one.value)
        for gas, one in zip(gases, given, strict=True)
    ]
    pds = _places(question, sweeps, registry)
    found = [sweep.curves.at(pds) if sweep.answered else None for sweep in sweeps]
    _require_some(question, sweeps, found)
    always = NOTES if pds.size else ()
    notes = [*always, *registry.plates.notes, *(one.note for one in given if one.note)]
    results = single(registry, sweeps[0], found[0], pds) if len(sweeps) == 1 else several(registry, sweeps, found, pds)
    method, also, where = method_at(sweeps, found)
    return Answer(
        "paschen",
        _asked(question, gases, pds),
        results,
        method,
        also,
        {},
        [*notes, *where, *_notes(registry, sweeps, found)],
        ("estimate", *(("x-rays",) if any(_hard(one) for one in found) else ())),
        tuple(dict.fromkeys(key for sweep in sweeps for key in registry.gas_cautions(sweep.curves.case.gas))),
        title="Paschen curve" if len(gases) == 1 else "Paschen curves",
        figure=partial(draw, registry, sweeps, found, pds),
        lead=_lead(registry, sweeps, found),
    )


def _lead(registry: Registry, sweeps: list[Sweep], found: list[Evaluation | None]) -> Lead:
    """Return what is read first: the lowest voltage that breaks down between plates, of the lowest of the gases."""
    titles = registry.gas_column("title")
    least = {sweep.gas: known_minimum(registry, sweep) for sweep in sweeps}
    lowest = {gas: one for gas, one in least.items() if one is not None}
    if lowest:
        words = [f"{titles[gas]} {span_of(one.voltage)} at {told(one.pd)}" for gas, one in lowest.items()]
        none = [titles[gas] for gas in least if gas not in lowest]
        open_ = f" No minimum is known here of {', '.join(none)}." if none else ""
        gas = min(lowest, key=lambda one: lowest[one].voltage.value or 0.0)
        sentence = (
            f"The least voltage that breaks down between plates, over pressure times gap: {'; '.join(words)}.{open_}"
        )
        return Lead(sentence, f"Minimum, {titles[gas]}", span_of(lowest[gas].voltage), "estimate")
    ends = [array[np.isfinite(array)] for one in found if one is not None for array in (one.low, one.high)]
    volts = np.concatenate([*ends, np.empty(0)])
    if not volts.size:
        return Lead(ONLY_POINTS, "Curve", "none, only measured points", "estimate")
    low, high = float(volts.min()), float(volts.max())
    names = ", ".join(titles[sweep.gas] for sweep in sweeps)
    whole = span(low, None, high, "voltage", measure="peak")
    sentence = f"Between plates in {names} over this range: {whole}; no minimum is known here."
    return Lead(sentence, "Breaks down, over the range", whole, "estimate")


def _fraction(question: Question, registry: Registry, gas: str) -> float | None:
    table = registry.reference.table("gases")
    kinds = dict(zip(table.text("key"), table.text("kind"), strict=True))
    if kinds[gas] == "mixture":
        return question.number("fraction")
    if "fraction" in question and not any(kinds[str(one)] == "mixture" for one in question.listed("gas")):
        raise BadQuestion.about("fraction", "fraction belongs to a mixture of two gases.")
    return None


def _places(question: Question, sweeps: list[Sweep], registry: Registry) -> FloatArray:
    first, last = question.optional("pd_from"), question.optional("pd_to")
    if first is not None and last is not None and not first < last:
        raise BadQuestion.about("pd_to", "pd_to must be greater than pd_from.")
    if not any(sweep.answered for sweep in sweeps):
        if all(measured_points(registry, sweep.gas) for sweep in sweeps):
            return np.empty(0)
        raise _no_curve(sweeps, registry)
    pds = places(question, sweeps)
    if not pds[0] < pds[-1]:
        name = "pd_to" if last is not None else "pd_from"
        ends = next(one for one in sweeps if one.answered).curves.covered
        raise _outside(name, f"{name} lies outside what the methods cover, {between(*ends, 'pd')}.", ends)
    return pds


def _outside(name: str, detail: str, ends: tuple[float, float]) -> OutsideValidity:
    valid = {side: Quantity(end, "pd") for side, end in zip(("low", "high"), ends, strict=True)}
    return OutsideValidity(detail, [Fault(name, detail, (), valid)])


def _no_curve(sweeps: list[Sweep], registry: Registry) -> OutsideValidity:
    methods = registry.plates.methods
    known = tuple(dict.fromkeys(gas for m in methods if m.similarity for gas in sorted(m.validity.gases)))
    detail = f"In {sweeps[0].gas} the breakdown voltage is no function of pressure times gap: there is no such curve."
    return OutsideValidity(detail, [Fault("gas", detail, known)])


def _require_some(question: Question, sweeps: list[Sweep], found: list[Evaluation | None]) -> None:
    if any(one is not None and one.answered.any() for one in found) or not any(one is not None for one in found):
        return
    ends = [sweep.covered for sweep in sweeps if sweep.answered]
    low, high = min(one[0] for one in ends), max(one[1] for one in ends)
    detail = f"No method answers in this range of pd; they cover {between(low, high, 'pd')}."
    error = _outside("pd_from" if question.given("pd_from") else "pd_to", detail, (low, high))
    error.suggestion = {"pd_from": f"{low:.4g}Pa_m", "pd_to": f"{high:.4g}Pa_m"}
    raise error


def _asked(question: Question, gases: list[str], pds: FloatArray) -> Echo:
    swept: dict[str, object] = {"gas": gases[0] if len(gases) == 1 else gases}
    if pds.size:
        swept |= {"pd_from": Quantity(float(pds[0]), "pd"), "pd_to": Quantity(float(pds[-1]), "pd")}
        swept["points"] = pds.size
    asked = Echo(swept, tuple(name for name in swept if not question.given(name)))
    return asked | Echo.of(question, ("fraction", "cathode", "gamma"))


def _notes(registry: Registry, sweeps: list[Sweep], found: list[Evaluation | None]) -> Iterator[str]:
    for sweep, one in zip(sweeps, found, strict=True):
        name = f"{sweep.gas.replace('-', ' ')}: " if len(sweeps) > 1 else ""
        if one is None:
            yield name + ONLY_POINTS
            continue
        yield from (name + note for part in one.methods for note in part.estimate.notes)
        if len(sweeps) > 1:
            continue
        if not one.answered.all():
            yield name + GAP_NOTE
        if sweep.minimum is None and known_minimum(registry, sweep) is not None:
            yield name + PUBLISHED_NOTE


def _hard(found: Evaluation | None) -> bool:
    """Return whether a rough left branch of a curve reaches voltages at which X-rays are possible."""
    if found is None:
        return False
    few = [i for i, one in enumerate(found.methods) if one.method.thin]
    return bool((found.high[np.isin(found.choice, few)] > X_RAY_VOLTAGE).any())
