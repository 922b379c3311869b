"""/v1/paschen: breakdown voltage over pressure times gap between plates, with its minimum and the published ones."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from math import isclose

import numpy as np

from service import units
from service.answers import inverse
from service.answers.document import Echo, Shown
from service.answers.evaluate import Evaluation
from service.answers.figure import MOST_CURVES, Curve, Figure, Mark, PlotAxis
from service.answers.lookup import Answer, Lead, Lookup, also_block, chosen_method, voltage
from service.answers.registry import Registry
from service.answers.results import X_RAY_VOLTAGE
from service.answers.situation import FRACTION, gas_parameter
from service.errors import BadQuestion, OutsideValidity
from service.lookups.catalogues import PublishedMinimum, measured, measured_points, minima
from service.methods import Arrangement, Case, FloatArray, Method
from service.methods.method import PRODUCT
from service.parameters import Parameter, Question
from service.physics.atmosphere import REFERENCE_TEMPERATURE
from service.spoken import between, said, span, span_of, told
from service.units import ROUNDING, Quantity, Series

ENDS = (1e-2, 1e7)
"""Range of pd that is searched [Pa m]; methods end well within it."""
PARTS, ROUNDS = 65, 4
"""Places at which a minimum is looked for at a time, and how often: to a ten-millionth."""
SAME = 1e-6
"""Relative difference up to which the last place that is answered is the limit that a method states."""
PRESSURE_PER_ROOT = 800.0
"""Pressure over the root of pd at which a curve is computed [sqrt(Pa/m)].

Only the product counts; this keeps pressure and gap inside every method's own limits over its whole range of pd.
"""


def case_over(arrangement: Arrangement, case: Case, pds: FloatArray) -> Case:
    """Return a case of one element at many pd [Pa m].

    Parameters
    ----------
    arrangement : Arrangement
        Of similarity methods, so that pressure and gap may be chosen.
    """
    limits = [limit for method in arrangement.methods for limit in method.validity.limits]
    tops = [float(limit.bounds(case)[1][0]) for limit in limits if limit.quantity.key == "pressure"]
    # a vapour condenses above its own pressure: there the gap is widened in its place
    pressure = np.minimum(PRESSURE_PER_ROOT * np.sqrt(pds), min(tops, default=np.inf))
    return replace(case.repeated(pds.size), pressure=pressure, gap=pds / pressure)


@dataclass(frozen=True)
class Minimum:
    """The lowest point of a curve.

    Parameters
    ----------
    pd : float
        [Pa m]
    evaluation : Evaluation
        There, by every method.
    """

    pd: float
    evaluation: Evaluation


@dataclass(frozen=True)
class Sweep:
    """The Paschen curve of one gas.

    Parameters
    ----------
    curves : inverse.Curves
        Over pd [Pa m].
    """

    gas: str
    curves: inverse.Curves

    @classmethod
    def of(cls, registry: Registry, gas: str, fraction: float | None, secondary: float | None) -> Sweep:
        """Return the curve of a gas, which no atmosphere changes: it is kept for the next question.

        Parameters
        ----------
        fraction : float or None
            Mole fraction of a mixture.
        secondary : float or None
            A given secondary coefficient: closed forms only.
        """
        plates = registry.plates
        key = (plates, ("paschen", gas, fraction, secondary))
        return registry.kept_curves(key, lambda: cls._made(registry, gas, fraction, secondary))

    @classmethod
    def _made(cls, registry: Registry, gas: str, fraction: float | None, secondary: float | None) -> Sweep:
        plates = registry.plates
        chosen = [method for method in plates.methods if _wanted(registry, method, gas, secondary)]
        case = Case(
            gap=np.ones(1),
            pressure=np.ones(1),
            temperature=np.full(1, REFERENCE_TEMPERATURE),
            humidity=np.full(1, np.nan),
            frequency=np.zeros(1),
            gas=gas,
            fraction=None if fraction is None else np.full(1, fraction),
            waveform="dc",
            secondary=secondary,
        )
        arrangement = replace(plates, methods=tuple(chosen))
        return cls(gas, inverse.Curves(arrangement, case, None, case_over, ENDS))

    @property
    def answered(self) -> bool:
        """Whether some method answers at some pd."""
        return bool(self.curves.arrangement.methods) and bool(self.curves.on_grid.answered.any())

    @cached_property
    def covered(self) -> tuple[float, float]:
        """First and last pd at which some method answers [Pa m]: the limit that a method states, where that ends it."""
        limits = [limit for m in self.curves.arrangement.methods for limit in m.validity.limits]
        stated = [bound for limit in limits if limit.quantity is PRODUCT for bound in limit.bounds(self.curves.case)]
        ends = [float(bound[0]) for bound in stated]
        first, last = (
            next((end for end in ends if isclose(end, found, rel_tol=SAME)), found) for found in self.curves.covered
        )
        return first, last

    @cached_property
    def minimum(self) -> Minimum | None:
        """The minimum of the curve, or ``None`` where the methods end before it."""
        if not (self.answered and self.curves.turns):
            return None
        grid, i = self.curves.grid, self.curves.lowest

        low, high = np.log(grid[[i - 1, i + 1]])
        for _ in range(ROUNDS):
            places = np.linspace(low, high, PARTS)
            least = int(np.nanargmin(self.curves.at(np.exp(places)).value))
            low, high = places[max(least - 1, 0)], places[min(least + 1, PARTS - 1)]
        pd = float(np.exp((low + high) / 2))
        return Minimum(pd, self.curves.at(np.array([pd]), every=True))


def _wanted(registry: Registry, method: Method, gas: str, secondary: float | None) -> bool:
    closed = secondary is None or method.key in closed_forms(registry)
    return gas in method.validity.gases and method.similarity and closed


def closed_forms(registry: Registry) -> frozenset[str]:
    """Return the keys of the methods that take a given secondary coefficient."""
    table = registry.reference.table("gas-methods")
    pairs = zip(table.text("key"), table.text("form"), strict=True)
    return frozenset(key for key, form in pairs if form == "closed-form")


def places(question: Question, sweeps: list[Sweep]) -> FloatArray:
    """Return the pd [Pa m] of the points of a curve: the asked range, or all that the gases' methods cover.

    Parameters
    ----------
    question : Question
        With ``points``, and maybe ``pd_from`` and ``pd_to``.
    sweeps : list of Sweep
        Of which some are answered.
    """
    covered = [sweep.covered for sweep in sweeps if sweep.answered]
    first = question.optional("pd_from") or min(one[0] for one in covered)
    last = question.optional("pd_to") or max(one[1] for one in covered)
    inside = np.geomspace(first, last, int(question.number("points")))
    inside[[0, -1]] = first, last  # as given, not a rounding beside it
    return inside


NOTES = (
    "pd is absolute pressure times gap at 20 degC; else multiply the pressure by 293.15 K over the temperature.",
    "Between plates only the product counts; below 10 µm it does not, and there the curve does not hold.",
)
GAP_NOTE = "No method answers in part of this range: null there, and the curve is broken."
PUBLISHED_NOTE = (
    "The minimum is a published point; no method reaches it, and between it and the curve nothing is known here."
)
MOST_POINTS = 20_000
"""Most points of all curves of an answer."""
ONLY_POINTS = "Only measured points are known of this gas: there is no curve, since across gaps similarity fails."


@dataclass(frozen=True, eq=False)
class AskedGas:
    """A gas that is asked.

    Parameters
    ----------
    sweep : Sweep
        Its curve.
    found : Evaluation or None
        What the curve says at the places asked; ``None`` where only measured points are known of the gas.
    """

    registry: Registry
    sweep: Sweep
    found: Evaluation | None

    @property
    def gas(self) -> str:
        """Its key."""
        return self.sweep.gas

    @property
    def words(self) -> str:
        """Its key as a sentence says it."""
        return self.gas.replace("-", " ")

    @property
    def name(self) -> str:
        """What a picture calls its curve."""
        case = self.sweep.curves.case
        share = "" if case.fraction is None else f", {said(float(case.fraction[0]), 'fraction')}"
        return self.words.capitalize() + share + ("" if case.secondary is None else f", gamma {case.secondary:g}")

    @cached_property
    def minimum(self) -> KnownMinimum | PublishedMinimum | None:
        """The minimum of its curve, else the published point; nothing where neither is known."""
        published = minima(self.registry, self.gas)
        if not published:
            return None
        least = self.sweep.minimum
        if least is None:
            return published[0] if self.sweep.answered and self.sweep.curves.case.secondary is None else None
        volts = voltage(*least.evaluation.numbers(), UNIT)
        return KnownMinimum(Quantity(least.pd, "pd"), volts, least.evaluation.preferred().method.key)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    gas = gas_parameter(registry)
    parameters = (
        Parameter(
            gas.name,
            gas.dimension,
            f"The gas between the plates, or a comma list of at most {MOST_CURVES} gases to compare.",
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
    if len(gases) > MOST_CURVES:
        most = f"{len(gases)} gases are listed; at most {MOST_CURVES} are compared in one answer."
        raise BadQuestion.about("gas", most)
    if len(gases) * question.number("points") > MOST_POINTS:
        most = (
            f"{len(gases)} gases are compared at {MOST_POINTS // len(gases)} points at most; ask one by one for more."
        )
        raise BadQuestion.about("points", most)
    given = [given_secondary(question, registry, gas) for gas in gases]
    sweeps = [
        Sweep.of(registry, gas, _fraction(question, registry, gas), one.value)
        for gas, one in zip(gases, given, strict=True)
    ]
    pds = _places(question, sweeps, registry)
    asked = [AskedGas(registry, sweep, sweep.curves.at(pds) if sweep.answered else None) for sweep in sweeps]
    _require_some(question, asked)
    always = NOTES if pds.size else ()
    notes = [*always, *registry.plates.notes, *(one.note for one in given if one.note)]
    results = single(asked[0], pds) if len(asked) == 1 else several(asked, pds)
    method, also, where = method_at(asked)
    return Answer(
        "paschen",
        _asked(question, gases, pds),
        results,
        method,
        also,
        {},
        [*notes, *where, *_notes(asked)],
        ("estimate", *(("x-rays",) if any(_hard(one.found) for one in asked) else ())),
        tuple(dict.fromkeys(key for sweep in sweeps for key in registry.gas_cautions(sweep.curves.case.gas))),
        title="Paschen curve" if len(gases) == 1 else "Paschen curves",
        figure=partial(draw, asked, pds),
        lead=_lead(registry, asked),
    )


def _lead(registry: Registry, asked: Sequence[AskedGas]) -> Lead:
    """Return what is read first: the lowest voltage that breaks down between plates, of the lowest of the gases."""
    titles = registry.gas_column("title")
    least = {one.gas: one.minimum for one in asked}
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
    found = [one.found for one in asked if one.found is not None]
    ends = [array[np.isfinite(array)] for each in found for array in (each.low, each.high)]
    volts = np.concatenate([*ends, np.empty(0)])
    if not volts.size:
        return Lead(ONLY_POINTS, "Curve", "none, only measured points", "estimate")
    low, high = float(volts.min()), float(volts.max())
    names = ", ".join(titles[one.gas] for one in asked)
    whole = span(low, None, high, "voltage", measure="peak")
    sentence = f"Between plates in {names} over this range: {whole}; no minimum is known here."
    return Lead(sentence, "Breaks down, over the range", whole, "estimate")


def _fraction(question: Question, registry: Registry, gas: str) -> float | None:
    kinds = registry.gas_column("kind")
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
    # told a little inside, so that a range is left that begins or ends there
    low = units.cut_si(ends[0] * (1 + ROUNDING), "pd", math.ceil)
    high = units.cut_si(ends[1] * (1 - ROUNDING), "pd", math.floor)
    valid = {"low": Quantity(low, "pd"), "high": Quantity(high, "pd")}
    return OutsideValidity.about(name, detail, valid=valid)


def _no_curve(sweeps: list[Sweep], registry: Registry) -> OutsideValidity:
    methods = registry.plates.methods
    known = tuple(dict.fromkeys(gas for m in methods if m.similarity for gas in sorted(m.validity.gases)))
    detail = f"In {sweeps[0].gas} the breakdown voltage is no function of pressure times gap: there is no such curve."
    return OutsideValidity.about("gas", detail, known)


def _require_some(question: Question, asked: Sequence[AskedGas]) -> None:
    found = [one.found for one in asked if one.found is not None]
    if not found or any(each.answered.any() for each in found):
        return
    ends = [one.sweep.covered for one in asked if one.found is not None]
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


def _notes(asked: Sequence[AskedGas]) -> Iterator[str]:
    for one in asked:
        name = f"{one.words}: " if len(asked) > 1 else ""
        if one.found is None:
            yield name + ONLY_POINTS
            continue
        yield from (name + note for part in one.found.methods for note in part.estimate.notes)
        if len(asked) > 1:
            continue
        if not one.found.answered.all():
            yield GAP_NOTE
        if one.sweep.minimum is None and one.minimum is not None:
            yield PUBLISHED_NOTE


def _hard(found: Evaluation | None) -> bool:
    """Return whether a rough left branch of a curve reaches voltages at which X-rays are possible."""
    if found is None:
        return False
    few = [i for i, one in enumerate(found.methods) if one.method.thin]
    return bool((found.high[np.isin(found.choice, few)] > X_RAY_VOLTAGE).any())


UNIT = "V"
"""Unit of voltage of this lookup."""
METHOD_NOTE = "method and also are those at {}."


def _curve(found: Evaluation, pds: FloatArray) -> dict[str, object]:
    return {
        "pd": Series(pds, "pd"),
        "voltage": Series(found.value, "voltage", found.low, found.high, UNIT),
        "method": [found.methods[i].method.key if i >= 0 else None for i in found.choice],
    }


def single(one: AskedGas, pds: FloatArray) -> dict[str, object]:
    """Return the result fields of one gas over places [Pa m]."""
    results: dict[str, object] = {} if one.found is None else {"curve": _curve(one.found, pds)}
    if one.minimum is not None:
        results["minimum"] = one.minimum
    results["minima"] = minima(one.registry, one.gas)
    points = measured_points(one.registry, one.gas)
    return results | ({"measured_points": points} if points else {})


def several(asked: Sequence[AskedGas], pds: FloatArray) -> dict[str, object]:
    """Return the result fields of several gases over places [Pa m]."""
    return {
        "curves": [{"gas": one.gas, **_curve(one.found, pds)} for one in asked if one.found is not None],
        "minima": [{"gas": one.gas, **row.block()} for one in asked for row in minima(one.registry, one.gas)],
    }


@dataclass(frozen=True)
class KnownMinimum(Shown):
    """The minimum of a curve that a method reaches."""

    pd: Quantity
    voltage: Quantity
    method: str


def method_at(
    asked: Sequence[AskedGas],
) -> tuple[dict[str, object] | None, list[dict[str, object]], tuple[str, ...]]:
    """Return method, other methods, and where they are those of: the minimum of the first curve, else its middle."""
    pairs = ((one, one.found) for one in asked if one.found is not None)
    one, found = next((pair for pair in pairs if pair[1].answered.any()), (asked[0], None))
    if found is None:
        return None, [], ()
    if one.sweep.minimum is not None:
        at, where = one.sweep.minimum.evaluation, f"the minimum of {one.words}"
    else:
        pds = found.case.pd[found.answered]
        middle = float(pds[pds.size // 2])
        at, where = one.sweep.curves.at(np.array([middle]), every=True), f"{said(middle, 'pd')} in {one.words}"
    also = also_block(at, unit=UNIT)
    return chosen_method(at), also, (METHOD_NOTE.format(where),)


GAMMA = Parameter(
    "gamma",
    "number",
    "Secondary coefficient of the cathode; for closed forms only.",
    low=1e-8,
    high=0.5,
    example="0.02",
)
UNNAMED = ("unspecified", "any-metal")
"""Cathodes of the table that name no material."""


def cathode_parameter(registry: Registry) -> Parameter:
    """Return the cathode parameter with every material of the table of secondary coefficients."""
    table = registry.reference.table("gamma-secondary")
    keys = tuple(key for key in dict.fromkeys(table.text("cathode_key")) if key not in UNNAMED)
    meaning = "Material of the cathode, whose secondary coefficient closed forms then use."
    return Parameter("cathode", "choice", meaning, choices=keys, example="cu", excludes=("gamma",))


@dataclass(frozen=True)
class GivenSecondary:
    """A given secondary coefficient.

    Parameters
    ----------
    value : float or None
        ``None`` where nothing was given: every method uses its own.
    note : str
        Which row of the table of cathodes it is; empty where it is not taken from there.
    """

    value: float | None = None
    note: str = ""


def given_secondary(question: Question, registry: Registry, gas: str) -> GivenSecondary:
    """Return the secondary coefficient that a question gives for a gas.

    Raises
    ------
    BadQuestion
        When both gamma and cathode are given, the cathode is not tabulated for the gas, or the gas has no closed form.
    """
    asked = [name for name in ("gamma", "cathode") if name in question]
    if not asked:
        return GivenSecondary()
    if len(asked) == 2:
        raise BadQuestion.contradiction(*asked)
    forms = closed_forms(registry)
    if not any(gas in m.validity.gases and key in forms for key, m in registry.methods.items()):
        raise BadQuestion.about(asked[0], f"{asked[0]} is for closed forms, and gas={gas} has none.")
    if asked == ["gamma"]:
        return GivenSecondary(question.number("gamma"))
    return _of_cathode(question.key("cathode"), registry, gas)


def _of_cathode(cathode: str, registry: Registry, gas: str) -> GivenSecondary:
    table = registry.reference.table("gamma-secondary").where(gas_key=gas)
    numbers, keys = table["gamma"], table.text("cathode_key")
    rows = [i for i, key in enumerate(keys) if key == cathode and np.isfinite(numbers[i])]
    if not rows:
        known = tuple(key for key in dict.fromkeys(keys) if key not in UNNAMED)
        raise BadQuestion.about("cathode", f"No secondary coefficient of {cathode} in {gas} is tabulated.", known)
    first, *others = (
        f"{numbers[i]:g} ({table.text('conditions')[i]}; {table.text('row_source')[i]}; {table.provenance[i]})"
        for i in rows
    )
    note = f"Secondary coefficient of the cathode: {first}; it depends on the surface, 50 % or worse."
    return GivenSecondary(float(numbers[rows[0]]), " ".join([note, *(f"Another print: {other}." for other in others)]))


DESCRIPTION = (
    "Peak breakdown voltage between plates over pressure times gap, both logarithmic, with bands, for {}; minima, "
    "hand-overs between methods and measured points are marked."
)
SENTENCES = (
    "Between plates at 20 degC; bands are stated uncertainties. Left of the minimum longer paths break first.",
    "Estimates for clean electrodes; never the only protection of a person.",
)


def draw(asked: Sequence[AskedGas], pds: FloatArray) -> Figure:
    """Return the picture of the curves of one gas or of several over places [Pa m]."""
    pairs = [(one.name, one.found) for one in asked if one.found is not None]
    curves = [Curve(name, pds, found.value, found.low, found.high) for name, found in pairs]
    marks = [mark for one in asked for mark in _marks(one, pds, alone=len(asked) == 1)]
    return Figure(
        "Paschen curve" if len(asked) == 1 else "Paschen curves",
        DESCRIPTION.format(", ".join(one.name for one in asked).lower()),
        PlotAxis("Pressure times gap at 20 degC", "Pa m"),
        PlotAxis("Breakdown voltage, peak", "V"),
        tuple(curves),
        tuple(marks),
        sentences=(*(_covered(one) for one in asked), *SENTENCES),
    )


def _marks(one: AskedGas, pds: FloatArray, *, alone: bool) -> Iterator[Mark]:
    sweep, found = one.sweep, one.found
    least = sweep.minimum
    if least is not None and found is not None:
        volts = float(least.evaluation.value[0])
        label = "minimum" if alone else f"{one.name} minimum"
        if pds[0] <= least.pd <= pds[-1]:
            yield Mark(f"{label} {volts:.0f} V", np.array([least.pd]), np.array([volts]))
    elif alone and found is not None and sweep.curves.case.secondary is None:
        for row in minima(one.registry, one.gas):
            at, there = (np.array([each.value], dtype=np.float64) for each in (row.pd, row.voltage))
            yield Mark(f"published minimum {there[0]:.0f} V", at, there, "measured")
    if alone and found is not None:
        change = np.flatnonzero((np.diff(found.choice) != 0) & (found.choice[1:] >= 0) & (found.choice[:-1] >= 0)) + 1
        if change.size:
            yield Mark("methods hand over", pds[change], found.value[change], "hand-over")
    points = measured(one.registry, one.gas)
    if len(points):
        x, y = points["gap"] * points["pressure"], points["voltage"]
        inside = (x >= pds[0]) & (x <= pds[-1]) if pds.size else np.ones(x.size, dtype=np.bool_)
        if inside.any():
            yield Mark("measured" if alone else f"{one.name}, measured", x[inside], y[inside], "measured")


def _covered(one: AskedGas) -> str:
    if one.found is None:
        return f"{one.name}: measured points only, no curve."
    return f"{one.name}: methods answer from {between(*one.sweep.covered, 'pd', digits=3)}."
