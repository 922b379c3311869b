"""What bounds a breakdown voltage whatever the shape: the sharpest electrode from below, plates from above.

It bounds every arrangement in air from below, so it is the low end wherever nothing better is known. Of electrodes
that are not described either may be the sharp one, so the polarity is not credited.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, reduce

import numpy as np

from service import spoken
from service.errors import BadReferenceData
from service.methods.case import AIR
from service.methods.forms import OF_THE_MINIMUM, air_townsend
from service.methods.gas_rows import NARROWEST_GAP
from service.methods.laws import constants, exponent_law, humidity_laws, long_gap_laws
from service.methods.method import (
    DENSITY,
    FREQUENCY,
    GAP,
    PRODUCT,
    Case,
    Estimate,
    FloatArray,
    Limit,
    Method,
    Validity,
    single,
)
from service.methods.plates import plates
from service.physics import townsend
from service.physics.atmosphere import relative_density
from service.physics.corrections import Air, ExponentLaw, HumidityLaw, carried_to
from service.physics.numbers import Numbers
from service.reference import Reference, Source, Table, Tabulated, once
from service.units import ROUNDING, to_si

NEEDLE_AIR = Air(
    float(relative_density(to_si(760.0, "mmHg", "pressure"), to_si(25.0, "degC", "temperature"))),
    to_si(18.4, "g/m3", "humidity"),
)
"""Reference air of the needle table: 25 degC, 760 mmHg, 80 % relative humidity (aiee-1914, memory)."""
STANDARD = Air(1.0, to_si(11.0, "g/m3", "humidity"))
"""Reference air of IEC 60060-1: 20 degC, 101.3 kPa, 11 g/m3."""
LAWS: Mapping[str, tuple[str, str]] = {
    "ac": ("alternating", "alternating"),
    "dc": ("direct-weakest", "direct"),
    "lightning-impulse": ("lightning-positive", "impulse"),
    "switching-impulse": ("switching-fraction", "impulse"),
    "pulse-train": ("switching-fraction", "impulse"),
}
"""Long-gap law and humidity law by waveform; a pulse train takes the lowest, that of slow fronts."""
NEEDLES_MATTER, LAWS_MATTER = 1e-3, 0.1
"""Gaps of the reference density below which needle table and long-gap laws lie above Table A.1 whatever the air [m]."""

THIN_NOTE = "The low end is printed for air near atmospheric density; here it is scaled by density."
DENSE_NOTE = (
    "Points in air denser than twice atmospheric are credited with no more than at that density: in compressed air "
    "they may break down at inception."
)
FAST_NOTE = (
    "From 10 to 30 kHz what sharp points hold falls steeply, at long gaps to the 2 kV at which their corona may grow "
    "into a spark."
)


@dataclass(frozen=True, eq=False)
class CarriedLaw:
    """A voltage over the gap in its own air, carried to any air.

    Parameters
    ----------
    volts : callable
        Gap [m] to peak voltage [V].
    span : tuple of float
        Gap from which it falls no further, and gap beyond which a gradient is added [m].
    air : Air
        Its own.
    humidity : HumidityLaw
    exponents : ExponentLaw
    densities : tuple of float
        Relative densities between which the correction of IEC 60060-1 carries it.
    denser : bool
        Whether in denser air the gap of the same number of molecules is read.
    gradient : float
        Beyond the span, times relative density [V/m].
    """

    volts: Callable[[FloatArray], FloatArray]
    span: tuple[float, float]
    air: Air
    humidity: HumidityLaw
    exponents: ExponentLaw
    densities: tuple[float, float]
    denser: bool
    gradient: float

    def gap(self, case: Case, densest: float) -> FloatArray:
        """Return the gap of the same number of molecules at a density that the correction reaches [m]."""
        share = case.of.minimum(case.relative_density, densest) / self._density(case)
        return case.gap * (share if self.denser else case.of.minimum(share, 1.0))

    def voltage(self, case: Case, gap: FloatArray) -> FloatArray:
        """Return peak voltages [V], rising with gap and density.

        Parameters
        ----------
        case : Case
        gap : ndarray
            As `gap` returns it [m].
        """
        of, density = case.of, self._density(case)
        inside = of.minimum(of.maximum(gap, self.span[0]), self.span[1])
        # no more humid than its own air: what water adds is not credited
        here = Air(density, of.fmin(case.humidity, self._water * density))
        found = carried_to(self.volts(inside), inside, self.air, here, self.humidity, self.exponents).voltage
        volts: FloatArray = found + self.gradient * density * of.maximum(gap - self.span[1], 0.0)
        return volts

    @cached_property
    def _water(self) -> float:
        return _water_of(self.air)

    def _density(self, case: Case) -> FloatArray:
        of, (thinnest, densest) = case.of, self.densities
        return of.minimum(of.maximum(case.relative_density, thinnest), densest)


@dataclass(frozen=True, eq=False)
class Sharpest:
    """The curve, with the tables and constants in use.

    Parameters
    ----------
    withstand : Table
        IEC 60664-1 Table A.1, a point of 30 um over a plane.
    fast : Table
        IEC 60664-4 Table 1.
    needles : CarriedLaw
        The needle table.
    laws : mapping of str to CarriedLaw
        Long-gap laws by waveform.
    value : mapping of str to float
        Constants that join them.
    """

    withstand: Table
    fast: Table
    needles: CarriedLaw
    laws: Mapping[str, CarriedLaw]
    value: Mapping[str, float]

    @cached_property
    def _curves(self) -> Mapping[str, Tabulated]:
        columns = ("voltage_peak", "voltage_impulse")
        return {column: Tabulated(self.withstand["clearance"], self.withstand[column]) for column in columns}

    @cached_property
    def _fast_curve(self) -> Tabulated:
        return Tabulated(self.fast["clearance"], self.fast["voltage"])

    def voltage(self, case: Case, uniform_low: FloatArray) -> FloatArray:
        """Return the low end of electrodes of any shape [V peak]; NaN where inception may be breakdown.

        Parameters
        ----------
        case : Case
            In air.
        uniform_low : ndarray
            Low end of the uniform field of the same case [V]; NaN where there is none.
        """
        beyond = self._fast_gap(case) > self._fast_curve.span[1] * (1 + ROUNDING)
        absent = beyond & (case.frequency > self.value["falls-to"])
        return case.of.where(absent, np.nan, self.floor(case, uniform_low))

    def floor(self, case: Case, uniform_low: FloatArray) -> FloatArray:
        """Return what any electrode in air holds at least [V peak]: the same, held where its high frequency ends.

        Parameters
        ----------
        case, uniform_low
            As in `voltage`.
        """
        parts = (volts for _, volts in self._parts(case, uniform_low))
        return case.kept("sharpest-floor", lambda: reduce(case.of.fmin, parts))

    def raised(self, case: Case, low: FloatArray, uniform_low: FloatArray) -> FloatArray:
        """Return low ends raised to the floor [V peak]; worked out only where it does not surely lie below them.

        Parameters
        ----------
        low : ndarray
            [V]; NaN where there is none.
        case, uniform_low
            As in `voltage`.
        """
        of = case.of
        above = of.fmin(self.value["share"] * uniform_low, self._withstand(case))  # of its parts the quick ones
        if of.all(above <= low):
            return low
        return of.fmax(low, self.floor(case, uniform_low))

    def row(self, case: Case, uniform_low: FloatArray) -> str:
        """Return in words what the curve of a case of one element is taken from.

        Parameters
        ----------
        case, uniform_low
            As in `voltage`.
        """
        parts = {words: single(volts) for words, volts in self._parts(case, uniform_low)}
        return min(parts, key=lambda words: (math.isnan(parts[words]), parts[words]))

    def notes(self, case: Case) -> tuple[str, ...]:
        """Return what the air and the frequency of a case ask to be said."""
        density, frequency, some = case.relative_density, case.frequency, case.of.any
        said = {
            THIN_NOTE: some(density < 0.5),
            DENSE_NOTE: some(density > self.value["densest"]),
            FAST_NOTE: some((frequency > self.value["falls-from"]) & (frequency <= self.value["falls-to"])),
        }
        return tuple(note for note, applies in said.items() if applies)

    def _parts(self, case: Case, uniform_low: FloatArray) -> Iterator[tuple[str, FloatArray]]:
        of, slow = case.of, case.kept("sharpest-slow", lambda: list(self._slow(case)))
        yield "0.9 of the low end of the uniform field", self.value["share"] * uniform_low
        if not of.any(case.frequency > self.value["falls-from"]):
            yield from slow
            return
        least = reduce(of.minimum, [volts for _, volts in slow])
        ends = self.value["falls-from"], self.value["falls-to"]
        fall = of.log(of.minimum(of.maximum(case.frequency, ends[0]), ends[1]) / ends[0]) / math.log(ends[1] / ends[0])
        fast = of.minimum(self._fast(case), least)
        full = of.all(case.frequency >= self.value["falls-to"])
        words = "IEC 60664-4 Table 1" if full else "falling in log frequency to IEC 60664-4 Table 1"
        yield words, least + (fast - least) * fall

    def _slow(self, case: Case) -> Iterator[tuple[str, FloatArray]]:
        yield "IEC 60664-1 Table A.1, case A", self._withstand(case)
        share, densest = self.value["share"], self.value["densest"]
        if case.waveform == "ac":
            factor = share / self.value["needles-over-plane"]
            words = f"{share:g} of the needle-gap table over {self.value['needles-over-plane']:g}"
            yield words, factor * _where(self.needles, NEEDLES_MATTER, case, densest)
        law = self.laws[case.waveform]
        yield f"{share:g} of the long-gap law of a rod over a plane", share * _where(law, LAWS_MATTER, case, densest)

    def _withstand(self, case: Case) -> FloatArray:
        """Return Table A.1 at the density-scaled gap; beyond its end the larger of its last value and a gradient."""
        of, curve = case.of, self._curves["voltage_impulse" if case.waveform == "lightning-impulse" else "voltage_peak"]
        first, last = curve.span
        scaled, density = self._scaled(case), of.minimum(case.relative_density, self.value["densest"])
        inside = curve(of.minimum(of.maximum(scaled, first), last))
        beyond = of.maximum(curve.last, self.value["gradient-beyond"] * density * case.gap)
        table = of.where(scaled > last, beyond, inside)
        return of.where(scaled < first * (1 - ROUNDING), np.inf, table)

    def _fast(self, case: Case) -> FloatArray:
        first, last = self._fast_curve.span
        volts: FloatArray = self._fast_curve(case.of.minimum(case.of.maximum(self._fast_gap(case), first), last))
        return volts

    def _fast_gap(self, case: Case) -> FloatArray:
        # printed for up to 2000 m: thinner air is scaled, denser air is not credited
        return case.of.minimum(case.gap, self._scaled(case))

    def _scaled(self, case: Case) -> FloatArray:
        """Return the gap of the same number of molecules at the pressure of Table A.1 and 20 degC [m]."""
        pressure = case.reduced_pressure
        densest = self.value["densest"] * pressure / case.relative_density
        return case.gap * case.of.minimum(pressure, densest) / self.value["table-pressure"]


def _where(law: CarriedLaw, longer: float, case: Case, densest: float) -> Numbers:
    """Return a law where the gap is long enough for it to matter, and infinity elsewhere [V]."""
    gap = law.gap(case, densest)
    matters = gap > longer
    if case.of.all(matters):
        return law.voltage(case, gap)
    found = case.filled(np.inf)
    if case.of.any(matters):
        found[matters] = law.voltage(case.select(matters), gap[matters])
    return found


def air_at(density: FloatArray, humidity: FloatArray, origin: Air) -> Air:
    """Return air of a density; where its humidity is not known, that of another air over density: no correction."""
    return Air(density, np.where(np.isnan(humidity), _water_of(origin) * density, humidity))


def _water_of(air: Air) -> float:
    """Return the humidity of one state of the air over its density."""
    return single(np.asarray(air.humidity)) / single(np.asarray(air.relative_density))


@once
def sharpest(reference: Reference) -> Sharpest:
    """Return the curve with the tables in use.

    Parameters
    ----------
    reference : Reference
    """
    value, own = constants(reference, "sharpest-electrode"), reference.table("sharpest-electrode")
    if not value["share"] <= 1 <= value["needles-over-plane"]:
        reason = "share must be at most 1, and needles-over-plane at least 1: they take from what is held"
        raise BadReferenceData(f"{own.package}/{own.stated['path']}", None, reason)
    exponents, humidity = exponent_law(reference), humidity_laws(reference)
    thinnest = constants(reference, "correction-constants")["lowest-density-needle-and-rod"]
    table, laws = reference.table("needle-gap"), long_gap_laws(reference)
    spacings, voltages = table["spacing"], table["voltage"]
    needles = CarriedLaw(
        Tabulated(spacings, voltages),
        (float(spacings[0]), float(spacings[-1])),
        NEEDLE_AIR,
        humidity["alternating"],
        exponents,
        (thinnest, value["needle-densest"]),
        True,
        value["gradient-beyond"] * value["needles-over-plane"] / value["share"],  # of what they hold over a plane
    )
    span, densities = (value["long-from"], np.inf), (thinnest, value["laws-densest"])
    long_gaps = {
        waveform: CarriedLaw(
            laws[key].volts, span, STANDARD, humidity[kind], exponents, densities, denser=False, gradient=0.0
        )
        for waveform, (key, kind) in LAWS.items()
    }
    return Sharpest(
        reference.table("iec-60664-1-table-a1"), reference.table("iec-60664-4-table-1"), needles, long_gaps, value
    )


LONGEST, DENSEST = 10.0, 10.0
"""Longest gap [m] and highest relative density of the sharpest electrode."""
LOWER = 0.9
"""Share of an inception voltage from which a bracket begins: a model's own uncertainty; common practice, no source."""

WHY = (
    "The shape of the electrodes decides: sharp points break down near the low end, flat or well-rounded electrodes "
    "near the high end. Name the electrodes for a narrower answer."
)
NO_LOW = "No low end: how early sharp electrodes break down is not known here; inception may be breakdown."
NO_HIGH = "No high end: no formula of a uniform field reaches so far, so what even plates hold is not known here."
LEFT_NOTE = (
    "Gaps shorter than about {} lie left of the Paschen minimum at this density and hold more than longer ones, "
    "until they are far shorter: ask electrodes=uniform-field."
)
MICRO_ADVICE = (
    f"Below {GAP.said(NARROWEST_GAP)} the surface decides: electrodes=uniform-field ranges from rough electrodes to "
    "smooth ones."
)
OTHER_GAS: Mapping[str, str] = {
    "gas": "Where no method of a shape takes the gas, electrodes=unknown is bounded from above only."
}
LEFT_ADVICE = (
    "Left of the Paschen minimum a longer path breaks down first, from about {} on: a short gap does not protect there."
)
THIN_FROM = 2e4
"""Reduced pressure below which the Paschen minimum lies at a gap of 50 um and more [Pa]."""


@dataclass(frozen=True, eq=False)
class Bounds:
    """The ends that hold for every shape.

    Parameters
    ----------
    plates : tuple of Method
        Methods of the uniform field, in order of trust.
    sharpest : Sharpest
        In air.
    """

    plates: tuple[Method, ...]
    sharpest: Sharpest

    def uniform(self, case: Case) -> tuple[FloatArray, FloatArray]:
        """Return both ends of the uniform field's band [V]; NaN where plates do not answer."""
        found: tuple[FloatArray, FloatArray] = case.kept("uniform-band", lambda: self._uniform(case))
        return found

    @cached_property
    def _in_gas(self) -> Mapping[str, tuple[Method, ...]]:
        gases = {gas for method in self.plates for gas in method.validity.gases}
        return {gas: tuple(method for method in self.plates if gas in method.validity.gases) for gas in gases}

    def _uniform(self, case: Case) -> tuple[FloatArray, FloatArray]:
        if case.is_plain:
            first = next((one for one in self._in_gas[case.gas] if one.validity.holds_at_one(case)), None)
            found = None if first is None else first.estimate(case)
            return (case.filled(np.nan), case.filled(np.nan)) if found is None else (found.low, found.high)
        low, high = np.full((2, case.size), np.nan)
        wanted = np.ones(case.size, dtype=np.bool_)
        for method in self._in_gas[case.gas]:
            mask = method.validity.mask(case) & wanted
            if mask.any():
                estimate = method.estimate(case.select(mask))
                low[mask], high[mask] = estimate.low, estimate.high
                wanted &= ~mask
            if not wanted.any():
                break
        return low, high

    def floor(self, case: Case) -> FloatArray:
        """Return what any electrode in air holds at least [V]."""
        return self.sharpest.floor(case, self.uniform(case)[0])

    def within(self, case: Case, estimate: Estimate) -> Estimate:
        """Return an estimate in air whose ends are no wider than those of electrodes of unknown shape.

        Parameters
        ----------
        case : Case
        estimate : Estimate
            Of any arrangement.
        """
        of, (uniform_low, uniform_high) = case.of, self.uniform(case)
        low = of.fmin(self.sharpest.raised(case, estimate.low, uniform_low), estimate.value)
        high = of.fmin(estimate.high, uniform_high)
        return estimate.between(low, _above(case, high, of.fmax(low, estimate.value)))

    def bracket(self, case: Case, inception: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the ends of a bracket in air over the low end of an inception voltage [V]: breakdown comes later."""
        low = case.of.fmax(inception, self.floor(case))
        return low, _above(case, self.uniform(case)[1], low)


def _above(case: Case, high: FloatArray, least: FloatArray) -> FloatArray:
    """Return high ends raised to what they cannot be below; none where there is none."""
    return case.of.where(case.of.isnan(high), np.nan, case.of.fmax(high, least))


@once
def bounds(reference: Reference) -> Bounds:
    """Return the ends that hold for every shape.

    Parameters
    ----------
    reference : Reference
    """
    return Bounds(plates(reference), sharpest(reference))


def bounded(reference: Reference, method: Method) -> Method:
    """Return a method in air with its ends no wider than those of electrodes of unknown shape.

    Parameters
    ----------
    reference : Reference
    method : Method
    """
    ends = bounds(reference)
    return replace(method, function=lambda case: ends.within(case, method.estimate(case)), by_numbers=True)


@once
def gas_brackets(reference: Reference) -> tuple[Method, ...]:
    """Return the brackets in other gases than air: bounded from above only.

    Parameters
    ----------
    reference : Reference
    """
    return tuple(_in_gas(method) for method in plates(reference) if AIR not in method.validity.gases)


@once
def air_brackets(reference: Reference) -> tuple[Method, ...]:
    """Return the brackets in air: from the sharpest electrode to the uniform field, beyond it the low end alone.

    Parameters
    ----------
    reference : Reference
    """
    ends = bounds(reference)
    minimum = MinimumOfAir(*townsend.minimum(*air_townsend(reference)))
    return (*(_in_air(one, ends, minimum) for one in _covering(ends.plates, minimum)), _alone(reference, ends, minimum))


@dataclass(frozen=True)
class MinimumOfAir:
    """The Paschen minimum of air.

    Parameters
    ----------
    pd, voltage : float
        [Pa m], [V].
    """

    pd: float
    voltage: float

    @property
    def right(self) -> Limit:
        """The limit to the right branch, with what is true left of it."""
        least = spoken.speak(self.voltage * (1 - OF_THE_MINIMUM), "voltage", toward="down")
        return Limit("gap", PRODUCT, low=self.pd, below=LEFT_ADVICE.format(least))


def _covering(methods: tuple[Method, ...], minimum: MinimumOfAir) -> Iterator[Method]:
    """Yield the most trusted methods of air that reach further than those before them, right of the minimum."""
    ends: list[tuple[float, float]] = []
    for method in methods:
        ranges = [limit.plain for limit in method.validity.limits if limit.quantity is PRODUCT and limit.plain]
        if AIR not in method.validity.gases or method.thin or not ranges:
            continue
        first, last = ranges[0]
        if all(not low <= max(first, minimum.pd) or not last <= high for low, high in ends):
            ends.append((first, last))
            yield method


def _in_air(uniform: Method, ends: Bounds, minimum: MinimumOfAir) -> Method:
    def function(case: Case) -> Estimate:
        low_end, high = ends.uniform(case)
        low = ends.sharpest.voltage(case, low_end)
        absent = case.of.any(case.of.isnan(low))
        notes = (WHY, *((NO_LOW,) if absent else ()), *ends.sharpest.notes(case), *_left(case, minimum.pd))
        row = None
        if case.size == 1:
            below = "none" if absent else ends.sharpest.row(case, low_end)
            row = f"low end: {below}; high end: uniform field"
        return Estimate(case.filled(np.nan), low, high, notes=notes, row=row, provenance="memory")

    advised = (
        replace(limit, below=MICRO_ADVICE) if limit.quantity is GAP else limit for limit in uniform.validity.limits
    )
    return _bracket(uniform, function, (minimum.right, *advised))


def _left(case: Case, minimum: float) -> tuple[str, ...]:
    least = float(np.min(case.reduced_pressure)) if not case.is_plain else float(case.reduced_pressure)
    return (LEFT_NOTE.format(spoken.said(minimum / least, "length", unit="mm", digits=3)),) if least < THIN_FROM else ()


def _alone(reference: Reference, ends: Bounds, minimum: MinimumOfAir) -> Method:
    def function(case: Case) -> Estimate:
        nothing = case.filled(np.nan)
        row = f"low end: {ends.sharpest.row(case, nothing)}; high end: none" if case.size == 1 else None
        notes = (NO_HIGH, *ends.sharpest.notes(case))
        return Estimate(nothing, ends.floor(case), nothing, notes=notes, row=row, provenance="memory")

    limits = (
        minimum.right,
        Limit("gap", GAP, NARROWEST_GAP, LONGEST, below=MICRO_ADVICE),
        Limit("pressure", DENSITY, high=DENSEST),
        Limit("frequency", FREQUENCY, 0.0, ends.sharpest.value["falls-to"]),
    )
    table = reference.table("sharpest-electrode")
    return Method(
        "bracket-sharpest-electrode",
        "What the sharpest electrode holds",
        "bracket",
        function,
        Validity(frozenset({AIR}), limits=limits),
        None,
        Source(table.source.key, table.source.citation),
        "memory",
        by_numbers=True,
    )


def _in_gas(uniform: Method) -> Method:
    def function(case: Case) -> Estimate:
        nothing = case.filled(np.nan)
        found = uniform.estimate(case)
        return Estimate(nothing, nothing, found.high, notes=(WHY, NO_LOW, *found.notes))

    return _bracket(uniform, function, uniform.validity.limits)


def _bracket(uniform: Method, function: Callable[[Case], Estimate], limits: tuple[Limit, ...]) -> Method:
    return Method(
        f"bracket-{uniform.key}",
        f"Bracket from sharp points to the uniform field ({uniform.title})",
        "bracket",
        function,
        Validity(uniform.validity.gases, limits=limits),
        None,
        uniform.source,
        uniform.provenance,
        by_numbers=True,
    )
